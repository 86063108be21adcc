"""Observed, forecast and usual weather in one piece: no jump, members stay who they are, windows do not matter."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from rickyard.errors import InputError
from rickyard.weather import (
    HourlyAir,
    Issue,
    Offsets,
    Sky,
    WeatherRecord,
    air_for,
    as_year,
    find_place,
    generate_air,
    merged,
    normals_at,
    offsets_of,
    psat_water_pa,
    read_weather,
    sky_notes,
)
from rickyard.weather.bridge import FADE_DAYS, bridged, weights

FILES = Path(__file__).parent / "data" / "files"
KAMLOOPS = find_place("50.7,-120.45,345")
FIELDS = ("air_c", "vapour_pa", "wind_m_s", "sun_w_m2", "rain_mm")
SEED, MEMBERS = 5, 6


@pytest.fixture(scope="module")
def station() -> WeatherRecord:
    name = "ECCC_hourly_Kamloops_A_BC_2016.csv.gz"
    return read_weather((FILES / name).read_bytes(), name, place=KAMLOOPS)


@pytest.fixture(scope="module")
def seen(station: WeatherRecord) -> WeatherRecord:
    """Observed until the end of 29 February."""
    cut = station.between(date(2016, 1, 1), 60)
    assert cut is not None
    return cut


def forecast_from(station: WeatherRecord, first: date, days: int, members: int = 0) -> WeatherRecord:
    cut = station.between(first, days)
    assert cut is not None
    cut = replace(cut, kind="forecast", format="open_meteo")
    if members:
        cut = replace(
            cut,
            air_c=cut.air_c[:, None] + np.arange(members, dtype=np.float32),
            rh_pct=np.repeat(cut.rh_pct[:, None], members, 1),
        )
    return cut


def joined(sky: Sky, first: date = date(2016, 2, 1), days: int = 60, members: int = MEMBERS) -> HourlyAir:
    return air_for(sky, first, days, members=members, seed=SEED)


def generated(first: date = date(2016, 2, 1), days: int = 60) -> HourlyAir:
    return generate_air(KAMLOOPS, first, days, members=MEMBERS, seed=SEED)


def test_without_anything_known_it_is_the_generator() -> None:
    for name in FIELDS:
        np.testing.assert_array_equal(getattr(joined(Sky(KAMLOOPS)), name), getattr(generated(), name))


def test_observed_hours_are_the_same_for_all_members(seen: WeatherRecord) -> None:
    air = joined(Sky(KAMLOOPS, observed=(seen,)))
    hours = slice(0, 24 * 29)
    own = seen.air_c[24 * 31 :][: 24 * 29]
    have = np.isfinite(own)

    for j in range(MEMBERS):
        np.testing.assert_array_equal(air.air_c[hours, j][have], own[have])
    rh = 100 * air.vapour_pa / psat_water_pa(air.air_c)
    np.testing.assert_allclose(rh[hours, 0][have], seen.rh_pct[24 * 31 :][: 24 * 29][have], rtol=2e-4)
    np.testing.assert_allclose(
        air.wind_m_s[hours, 0][have], seen.wind_m_s[24 * 31 :][: 24 * 29][have], rtol=1e-6
    )


def test_beyond_the_fade_a_member_is_the_generators_own(seen: WeatherRecord) -> None:
    air, alone = joined(Sky(KAMLOOPS, observed=(seen,))), generated()
    beyond = 24 * (29 + int(FADE_DAYS[1]))

    for name in FIELDS:
        np.testing.assert_array_equal(getattr(air, name)[beyond:], getattr(alone, name)[beyond:])
    # And before it is not: the anomaly of late February is carried into March.
    assert (air.air_c[24 * 29 : 24 * 31] != alone.air_c[24 * 29 : 24 * 31]).any(axis=1).all()


def test_there_is_no_jump_where_the_observations_end(seen: WeatherRecord) -> None:
    """The step over the seam is a step like others; without the bridge it is the whole anomaly."""
    air, alone = joined(Sky(KAMLOOPS, observed=(seen,))), generated()
    seam = 24 * 29
    step = np.abs(air.air_c[seam] - air.air_c[seam - 1])
    raw = np.abs(alone.air_c[seam] - air.air_c[seam - 1])
    rh = 100 * air.vapour_pa / psat_water_pa(air.air_c)

    assert step.max() < 2.5
    assert raw.max() > 2 * step.max()
    assert np.abs(rh[seam] - rh[seam - 1]).max() < 15


def test_members_spread_out_as_the_weather_forgets(seen: WeatherRecord) -> None:
    air, alone = joined(Sky(KAMLOOPS, observed=(seen,)), members=MEMBERS), generated()

    def spread(days: float) -> float:
        hours = slice(int(24 * (29 + days)), int(24 * (30 + days)))
        return float(air.air_c[hours].std(axis=1).mean() / alone.air_c[hours].std(axis=1).mean())

    # An autoregression of 3.2 days' memory has 0.52 of its spread back after half a day.
    assert spread(0.0) < 0.7
    assert spread(4.0) > spread(0.0)
    assert spread(12.0) == 1.0


@pytest.mark.parametrize("first", [date(2016, 2, 20), date(2016, 3, 4)])
def test_the_window_does_not_matter(station: WeatherRecord, seen: WeatherRecord, first: date) -> None:
    """Also one that begins after the last observation, or lies in a gap; and fewer members are the first of many."""
    holes = replace(seen, air_c=seen.air_c.copy(), rh_pct=seen.rh_pct.copy())
    holes.air_c[24 * 45 : 24 * 52] = np.nan
    issue = Issue(forecast_from(station, date(2016, 2, 28), 12), datetime(2016, 2, 28, 6, tzinfo=UTC))
    sky = Sky(KAMLOOPS, observed=(holes,), issue=issue)
    whole, part = joined(sky), joined(sky, first, 15, members=3)
    at = 24 * (first - date(2016, 2, 1)).days

    for name in FIELDS:
        np.testing.assert_array_equal(getattr(whole, name)[at : at + 360, :3], getattr(part, name))


def test_a_gap_is_bridged_from_both_sides(seen: WeatherRecord) -> None:
    """Short ones straight, the same for all; long ones by members that meet both ends."""
    holes = replace(seen, air_c=seen.air_c.copy(), rh_pct=seen.rh_pct.copy())
    short, long = 24 * 40, 24 * 45
    holes.air_c[short : short + 3] = holes.rh_pct[short : short + 3] = np.nan
    holes.air_c[long : long + 96] = holes.rh_pct[long : long + 96] = np.nan
    air = joined(Sky(KAMLOOPS, observed=(holes,))).air_c
    short, long = short - 24 * 31, long - 24 * 31

    assert np.ptp(air[short : short + 3], axis=1).max() == 0
    np.testing.assert_allclose(air[short + 1], 0.5 * (air[short - 1] + air[short + 3]), atol=1e-4)
    inside = air[long : long + 96]
    assert np.ptp(inside[48]) > 0.5
    for one, other in ((long - 1, long), (long + 95, long + 96)):
        assert np.abs(air[other] - air[one]).max() < 3.0


def test_a_forecast_leads_on_and_fades(station: WeatherRecord, seen: WeatherRecord) -> None:
    first = date(2016, 3, 1)
    sky = Sky(
        KAMLOOPS,
        observed=(seen,),
        issue=Issue(forecast_from(station, first, 14), datetime(2016, 3, 1, tzinfo=UTC)),
    )
    air, alone = joined(sky), generated()
    day = 24 * 29
    theirs = station.air_c[24 * 60 :]

    # The third day: the forecast, all but what it was off by where it took over.
    np.testing.assert_allclose(air.air_c[day + 60 : day + 84, 0], theirs[60:84], atol=0.2)
    assert np.ptp(air.air_c[day + 60], axis=0) == 0
    # The tenth: between forecast and member. From the twelfth on: the member.
    at = day + 24 * 9 + 12
    between = (air.air_c[at] - alone.air_c[at]) / (theirs[24 * 9 + 12] - alone.air_c[at])
    np.testing.assert_allclose(between, (12 - 9.5) / 5, atol=0.02)
    np.testing.assert_array_equal(air.air_c[day + 24 * 12 :], alone.air_c[day + 24 * 12 :])
    steps = np.abs(np.diff(air.air_c[day - 24 : day + 24 * 13], axis=0))
    assert steps.max() < 6.0


def test_members_of_a_forecast_stay_members(station: WeatherRecord, seen: WeatherRecord) -> None:
    several = forecast_from(station, date(2016, 3, 1), 10, members=4)
    air = joined(
        Sky(KAMLOOPS, observed=(seen,), issue=Issue(several, datetime(2016, 3, 1, tzinfo=UTC)))
    ).air_c
    late = air[24 * 33]

    np.testing.assert_allclose(late[1] - late[0], 1.0, atol=0.05)
    assert late[4] == late[0]


def test_a_second_station_is_put_right_by_the_first(station: WeatherRecord, seen: WeatherRecord) -> None:
    """Where both have hours they differ by 3 K; where the first ends the second goes on at the first's level."""
    warmer = replace(station, air_c=station.air_c + np.float32(3.0), station="another")
    air = joined(Sky(KAMLOOPS, observed=(seen, warmer))).air_c
    after = slice(24 * 29, 24 * 40)

    theirs = station.air_c[24 * 60 : 24 * 71]
    have = np.isfinite(theirs)
    np.testing.assert_allclose(air[after, 0][have], theirs[have], atol=0.01)


def test_days_lead_members_through_their_extremes() -> None:
    name = "ECCC_daily_Kamloops_A_BC_2016.csv.gz"
    record = read_weather((FILES / name).read_bytes(), name, place=KAMLOOPS)
    sky = Sky(KAMLOOPS, observed=(record,))
    air = joined(sky, date(2016, 6, 1), 60)
    alone = generated(date(2016, 6, 1), 60)
    hours = air.air_c[: 24 * 30].reshape(30, 24, MEMBERS)
    at = (date(2016, 6, 1) - record.start).days

    # Extremes are met at noon nodes, not day by day: within a degree or two in the mean.
    assert np.abs(hours.max(axis=1) - record.high_c[at : at + 30, None]).mean() < 1.5
    assert np.abs(hours.min(axis=1) - record.low_c[at : at + 30, None]).mean() < 2.5
    rain = air.rain_mm[: 24 * 30].reshape(30, 24, MEMBERS).sum(axis=1)
    np.testing.assert_allclose(rain, np.repeat(record.day_rain_mm[at : at + 30, None], MEMBERS, 1), atol=0.01)
    np.testing.assert_array_equal(air.air_c[24 * 42 :], alone.air_c[24 * 42 :])
    assert np.abs(np.diff(air.air_c, axis=0)).max() < 8


def test_a_typical_year_is_put_on_the_years_asked_for() -> None:
    """The file's own hours, each member off by its error of the climate and slowly; leap days too."""
    name = "USA_PA_Pittsburgh-Allegheny.County.AP.725205_TMY3.epw.gz"
    year = read_weather((FILES / name).read_bytes(), name)
    place = find_place("40.35,-79.92,380")
    air = air_for(Sky(place, climate=year), date(2024, 2, 27), 400, members=40, seed=1)

    same_day = year.air_c[24 * 57 : 24 * 59]
    np.testing.assert_allclose(air.air_c[:48].mean(axis=1), same_day, atol=0.8)
    # The 29th of February is the 28th again.
    np.testing.assert_allclose(air.air_c[48:72].mean(axis=1), same_day[24:], atol=0.8)
    off = air.air_c[:8760].mean(axis=0) - np.float32(year.air_c.mean())
    assert abs(off.mean()) < 0.6
    assert 0.6 < off.std() < 2.0
    assert (air.vapour_pa <= psat_water_pa(air.air_c) * 1.0001).all()
    assert "typical year" in " ".join(
        str(text) for text in sky_notes(Sky(place, climate=year), date(2024, 2, 27), 100)
    )


def test_an_observed_year_can_stand_for_another(station: WeatherRecord) -> None:
    assert as_year(station) is None
    days = 366 + 365
    long = replace(
        station, start=date(2015, 6, 1), air_c=np.arange(24 * days, dtype=np.float32),
        rh_pct=np.full(24 * days, 50, np.float32), wind_m_s=np.full(24 * days, 2, np.float32),
        sun_w_m2=np.full(24 * days, np.nan, np.float32), rain_mm=np.full(24 * days, np.nan, np.float32),
    )  # fmt: skip
    year = as_year(long)
    assert year is not None
    assert (year.kind, year.days) == ("typical", 365)
    # 1 June 2015 is the first of its days, on the 152nd day of the year.
    assert float(year.air_c[24 * 151]) == 0.0


# -- offsets --------------------------------------------------------------------------------------


def logger(days: int, off_k: float, off_rh: float) -> WeatherRecord:
    usual = normals_at(KAMLOOPS)
    first = date(2026, 7, 1)
    # In the middle of July the daily course of the normals is nearly the month's mean.
    air = np.full(24 * days, usual.temp_c[6] + off_k, dtype=np.float32)
    rh = np.full(24 * days, usual.rh_pct[6] + off_rh, dtype=np.float32)
    return WeatherRecord("logger", "observed", "", None, None, None, first, air_c=air, rh_pct=rh)


def test_a_loggers_month_is_shrunk_and_narrows_the_error() -> None:
    offsets = offsets_of(logger(30, 2.0, -6.0), KAMLOOPS)

    assert offsets.seen_temp_k == pytest.approx(2.0, abs=0.4)
    assert offsets.temp_k == pytest.approx(0.5 * offsets.seen_temp_k)
    assert offsets.rh_points == pytest.approx(0.5 * offsets.seen_rh_points)
    usual = normals_at(KAMLOOPS)
    moved = offsets.on(usual)
    np.testing.assert_allclose(moved.temp_c - usual.temp_c, offsets.temp_k)
    assert moved.error.temp_k == pytest.approx(usual.error.temp_k * np.sqrt(0.5))
    assert moved.error.wind_share == usual.error.wind_share


def test_offsets_against_a_station_leave_the_months_weather_out(station: WeatherRecord) -> None:
    yard = replace(station, format="logger", air_c=station.air_c - np.float32(1.5))
    alone, beside = offsets_of(yard, KAMLOOPS), offsets_of(yard, KAMLOOPS, reference=station)

    assert beside.seen_temp_k == pytest.approx(-1.5, abs=1e-4)
    assert alone.seen_temp_k != pytest.approx(-1.5, abs=0.2)


def test_offsets_that_are_no_climate_are_refused() -> None:
    with pytest.raises(InputError, match="5 whole days"):
        offsets_of(logger(4, 0, 0), KAMLOOPS)
    with pytest.raises(InputError, match="within"):
        offsets_of(logger(30, 12.0, 0), KAMLOOPS)


# -- small parts ----------------------------------------------------------------------------------


def test_bridge_weights() -> None:
    """On both ends of a gap the near end counts whole; in the middle of a long one neither counts much."""
    known = np.ones(24 * 30, dtype=bool)
    known[100:148] = False
    left, right = weights(known, 24.0, 3.2)

    assert left[100] > 0.97
    assert right[147] > 0.97
    assert left[100] + right[100] < 1.0
    np.testing.assert_allclose(left[100:148], right[100:148][::-1])
    assert not left[known].any()
    far = np.zeros(24 * 60, dtype=bool)
    far[0] = True
    left, _ = weights(far, 24.0, 3.2)
    np.testing.assert_allclose(left[24], np.exp(-1 / 3.2))
    assert left[24 * 12 :].max() == 0.0


def test_the_bridge_is_the_mean_of_an_autoregression() -> None:
    """Against regression on simulated series: an anomaly known on both sides of ten steps, lag 1 of exp(-1/76.8)."""
    chance = np.random.default_rng(3)
    memory = np.exp(-1 / (3.2 * 24))
    series = np.zeros((20_000, 50))
    series[:, 0] = chance.standard_normal(20_000)
    for i in range(1, 50):
        series[:, i] = memory * series[:, i - 1] + np.sqrt(1 - memory**2) * chance.standard_normal(20_000)
    ends = series[:, [0, 49]]
    fitted = np.linalg.lstsq(ends, series[:, 12], rcond=None)[0]
    known = np.zeros(50, dtype=bool)
    known[[0, 49]] = True
    left, right = weights(known, 24.0, 3.2)

    np.testing.assert_allclose([left[12], right[12]], fitted, atol=0.02)


def test_bridged_touches_nothing_beyond() -> None:
    known = np.zeros(24 * 40, dtype=bool)
    known[:24] = True
    anomaly = np.where(known[:, None], 4.0, 0.0)
    carried, touched = bridged(anomaly, known)

    assert touched[24 : 24 * 13].all() or touched[24 : 24 * 12].all()
    assert not touched[24 * 13 :].any()
    assert float(carried[24, 0]) == pytest.approx(4.0, abs=0.1)


def test_fingerprints_follow_what_matters(station: WeatherRecord, seen: WeatherRecord) -> None:
    one, more = Sky(KAMLOOPS, observed=(seen,)), Sky(KAMLOOPS, observed=(station,))
    march = (date(2016, 3, 10), 30)

    assert one.fingerprint(date(2017, 1, 1), 30) == more.fingerprint(date(2017, 1, 1), 30)
    assert one.fingerprint(*march) != more.fingerprint(*march)
    moved = replace(one, offsets=Offsets(0.5, 1.0, 30, 1.0, 2.0))
    assert moved.fingerprint(*march) != one.fingerprint(*march)


def test_notes_say_what_is_observed_forecast_old() -> None:
    record = logger(20, 0.0, 0.0)
    ahead = replace(record, kind="forecast", format="open_meteo", start=date(2026, 7, 21))
    sky = Sky(KAMLOOPS, observed=(record,), issue=Issue(ahead, datetime(2026, 7, 21, tzinfo=UTC)))
    said = " ".join(str(text) for text in sky_notes(sky, date(2026, 7, 1), 90, as_of=date(2026, 7, 26)))

    assert "Observed from 2026-07-01 to 2026-07-20" in said
    assert "Forecast of 2026-07-21" in said
    assert "5 days old" in said
    alone = " ".join(
        str(t) for t in sky_notes(replace(sky, issue=None), date(2026, 7, 1), 90, as_of=date(2026, 9, 1))
    )
    assert "Nothing was observed after 2026-07-20" in alone


def test_merging_keeps_what_only_one_has(seen: WeatherRecord, station: WeatherRecord) -> None:
    old = seen.between(date(2016, 1, 1), 20)
    new = station.between(date(2016, 1, 15), 20)
    assert old is not None
    assert new is not None
    both = merged(old, replace(new, air_c=new.air_c + 1))

    assert (both.start, both.last) == (date(2016, 1, 1), date(2016, 2, 3))
    assert float(both.air_c[0]) == float(old.air_c[0])
    assert float(both.air_c[24 * 16]) == pytest.approx(float(station.air_c[24 * 16]) + 1)
    assert both.days * 24 == len(both.air_c)
    assert (both.start + timedelta(days=both.days - 1)) == both.last
