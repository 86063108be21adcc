"""The weather beyond what is known: members generated from normals, or laid about a typical year's own hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from rickyard.text import T_
from rickyard.weather.air import HourlyAir
from rickyard.weather.draws import SLOW, normals_draws, year_draws
from rickyard.weather.generator import _temp_sd, generate_air
from rickyard.weather.hours import _between_noons
from rickyard.weather.humidity import ice_share, psat_water_pa
from rickyard.weather.normals import Normals, _error, normals_at
from rickyard.weather.offsets import Offsets
from rickyard.weather.places import Place
from rickyard.weather.record import HOURLY, Note, WeatherRecord
from rickyard.weather.residuals import residuals
from rickyard.weather.screen import distance_km
from rickyard.weather.typical import NOMINAL_YEAR
from rickyard.weather.year import daily_from_monthly, year_days

Singles = npt.NDArray[np.float32]

RH_LOWEST_PCT = 5.0


def members_about(
    place: Place,
    offsets: Offsets | None,
    year: WeatherRecord | None,
    start: date,
    days: int,
    *,
    members: int,
    seed: int,
) -> HourlyAir:
    """Weather that could each be the real one: generated from the place's normals, or about a typical year."""
    usual = normals_at(place)
    if offsets is not None:
        usual = offsets.on(usual)
    made = generate_air(place, start, days, members=members, seed=seed, normals=usual)
    return made if year is None else _about_year(place, usual, offsets, year, made, seed)


def as_year(record: WeatherRecord) -> WeatherRecord | None:
    """An observed record of a year or more as a year of climate, from its first 365 days; None if it is shorter."""
    if record.kind == "typical":
        return record
    if not record.hourly or record.air_c.ndim > 1 or record.days < 365:
        return None
    days = [record.start + timedelta(days=i) for i in range(record.days)]
    rows = [i for i, day in enumerate(days) if (day.month, day.day) != (2, 29)][:365]
    if len(rows) < 365:
        return None
    nominal = [date(NOMINAL_YEAR, days[i].month, days[i].day) for i in rows]
    order = np.argsort([day.toordinal() for day in nominal], kind="stable")
    if len(set(nominal)) < 365:
        return None
    hours = (np.array(rows)[order][:, None] * 24 + np.arange(24)).ravel()
    note = Note(
        "other_years",
        T_(
            "Observed from {first}, which is not the time asked for: used as a year of climate.",
            first=record.start.isoformat(),
        ),
    )
    return replace(
        record,
        kind="typical",
        start=date(NOMINAL_YEAR, 1, 1),
        notes=(*record.notes, note),
        **{name: getattr(record, name)[hours] for name in HOURLY},
    )


def _about_year(
    place: Place, usual: Normals, offsets: Offsets | None, year: WeatherRecord, made: HourlyAir, seed: int
) -> HourlyAir:
    """The year's hours on the calendar asked for; each member departs by its error of the climate and slowly.

    The fast weather is the file's, the same for all members; rain is generated, because the files' is unusable.
    """
    _, at = year_days(made.start, made.days)
    # The 366-day year's days to the file's 365: the 29th of February (59) is the 28th again.
    row = np.where(at >= 59, at - 1, at)
    hour = (row[:, None] * 24 + np.arange(24)).ravel()
    temp_k, rh_points, wind = _slow_parts(place, usual, year, made, seed)

    def of_file(name: str) -> Singles:
        return getattr(year, name)[hour][:, None].astype(np.float32)  # type: ignore[no-any-return]

    off_k, off_rh = (offsets.temp_k, offsets.rh_points) if offsets is not None else (0.0, 0.0)
    air = of_file("air_c") + np.float32(off_k) + temp_k
    rh = of_file("rh_pct") + np.float32(off_rh) + rh_points
    have = np.isfinite(air) & np.isfinite(rh)
    air = np.where(have, air, made.air_c)
    highest = 100.0 * ice_share(air)
    vapour = np.where(have, psat_water_pa(air) * np.clip(rh, RH_LOWEST_PCT, highest) / 100.0, made.vapour_pa)
    blown = of_file("wind_m_s") * wind
    sun = np.broadcast_to(of_file("sun_w_m2"), made.sun_w_m2.shape)
    return HourlyAir(
        made.start,
        np.ascontiguousarray(air, dtype=np.float32),
        np.ascontiguousarray(vapour, dtype=np.float32),
        np.where(np.isfinite(blown), blown, made.wind_m_s).astype(np.float32),
        np.where(np.isfinite(sun), sun, made.sun_w_m2).astype(np.float32),
        made.rain_mm,
    )


def _slow_parts(
    place: Place, usual: Normals, year: WeatherRecord, made: HourlyAir, seed: int
) -> tuple[Singles, Singles, Singles]:
    """What each member departs by: temperature [K] and humidity [points] by hour, and a factor on wind [1, members]."""
    members = made.members
    first = made.start - timedelta(days=1)
    years, at = year_days(first, made.days + 2)
    p_ww = np.clip(daily_from_monthly(usual.p_ww), 0.0, 0.995)
    p_wd = np.clip(daily_from_monthly(usual.p_wd), 0.0, 0.995)
    begin = int(years[0])
    draws = year_draws(seed, members, begin, int(years[-1]) - begin + 1, p_ww, p_wd)
    far = 0.0 if year.lat is None or year.lon is None else distance_km(place, year.lat, year.lon)
    width = _error(far, "A")
    narrower = usual.error.temp_k / normals_at(place).error.temp_k
    wrong = normals_draws(seed, members)
    share = np.sqrt(residuals().slow_share)
    rh = np.clip(usual.rh_pct, 12.0, 96.0)
    spread = daily_from_monthly(usual.rh_spread * np.sqrt(rh * (100.0 - rh)))[at][:, None]
    when = (at, years - begin)
    temp_day = (
        width.temp_k * narrower * wrong[0]
        + share * _temp_sd(usual)[at][:, None] * draws.slow[SLOW.index("temp")][when]
    )
    rh_day = width.rh_points * narrower * wrong[1] + share * spread * draws.slow[SLOW.index("rh")][when]
    factor = np.exp(width.wind_share * wrong[2] - 0.5 * width.wind_share**2)

    def hours(daily: npt.NDArray[np.float64]) -> Singles:
        return np.asarray(
            _between_noons(daily.astype(np.float32))[1:-1].reshape(-1, members), dtype=np.float32
        )

    return hours(temp_day), hours(rh_day), factor.astype(np.float32)[None, :]
