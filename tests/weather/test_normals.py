"""Monthly normals and their errors."""

from __future__ import annotations

from dataclasses import fields
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rickyard.weather import HONEST_ERROR, find_place, interpolate_normals, normals_at, place_at
from rickyard.weather.normals import DAYS_IN_MONTH, US_RH_CORRECTION_PCT
from rickyard.weather.tables import monthly_tables


def test_a_listed_place_has_its_own_row() -> None:
    """January to March of the reference table's row of Annette, AK (USDA-CLIGEN-2015)."""
    normals = normals_at(find_place("us-ak500352"), us_rh_correction=False)

    assert normals.temp_c[:3] == pytest.approx([2.3, 3.0, 4.1])
    assert normals.tmax_c[:3] == pytest.approx([4.9, 5.7, 7.0])
    assert normals.rh_pct[:3] == pytest.approx([82.0, 78.0, 76.0])
    assert normals.precip_mm[:3] == pytest.approx([262.3, 201.5, 199.1])
    assert normals.sun_mj_m2_d[:3] == pytest.approx([3.43, 6.44, 9.33])
    assert normals.p_ww[0] == pytest.approx(0.85)


def test_humidity_is_raised_in_the_united_states_only_and_can_be_left() -> None:
    """2 points: US rows run low by 1.7 on average against 13 hourly files (notes of the reference tables)."""
    madison, fredericton = find_place("Madison, WI"), find_place("Fredericton, NB")

    raised = normals_at(madison).rh_pct - normals_at(madison, us_rh_correction=False).rh_pct

    assert US_RH_CORRECTION_PCT == 2.0
    assert raised == pytest.approx(np.full(12, 2.0))
    assert np.array_equal(
        normals_at(fredericton).rh_pct, normals_at(fredericton, us_rh_correction=False).rh_pct
    )


def test_the_tables_agree_with_themselves() -> None:
    """Wet days follow from the chain, precipitation from wet days: rounding of the tables (0.1 d, 0.01 mm) allowed."""
    tables = monthly_tables()
    chance = tables["p_wd"] / (1.0 - tables["p_ww"] + tables["p_wd"])

    assert np.abs(chance * DAYS_IN_MONTH - tables["wetdays"]).max() < 0.06
    assert np.abs(tables["wetdays"] * tables["wetday_mean_mm"] - tables["precip_mm"]).max() < 4.0


def test_a_point_at_a_station_has_the_stations_normals() -> None:
    station = find_place("Madison, WI")
    point = normals_at(place_at(station.lat, station.lon, station.elev_m))

    assert point.temp_c == pytest.approx(normals_at(station).temp_c, abs=0.01)
    assert point.rh_pct == pytest.approx(normals_at(station).rh_pct, abs=0.05)


def test_higher_points_are_colder_by_the_lapse_rates() -> None:
    """-6.5 K/km for temperature and -2.5 K/km for dew point, so that higher air is also damper.

    Between two heights the weights of the four donors change as well, hence the tolerance.
    """
    low, high = (normals_at(place_at(43.07, -89.40, height)) for height in (260.0, 660.0))

    assert low.temp_c - high.temp_c == pytest.approx(np.full(12, 2.6), abs=0.4)
    assert low.tdew_c - high.tdew_c == pytest.approx(np.full(12, 1.0), abs=0.4)
    assert np.all(high.rh_pct > low.rh_pct)


@settings(deadline=None)
@given(lat=st.floats(min_value=30.0, max_value=60.0), lon=st.floats(min_value=-120.0, max_value=-70.0))
def test_normals_between_places_make_sense(lat: float, lon: float) -> None:
    normals = normals_at(place_at(lat, lon))

    assert np.all(normals.tmin_c <= normals.temp_c)
    assert np.all(normals.temp_c <= normals.tmax_c)
    assert np.all((normals.rh_pct > 0.0) & (normals.rh_pct < 100.0))
    assert np.all((normals.p_ww >= 0.0) & (normals.p_ww < 1.0) & (normals.p_wd >= 0.0) & (normals.p_wd < 1.0))
    assert all(
        np.all(np.isfinite(getattr(normals, f.name))) for f in fields(normals) if f.name in ("sun_mj_m2_d",)
    )


def test_the_error_is_never_less_than_the_honest_width_and_grows_with_distance() -> None:
    """1.0 K, 5 points, 25 %: with these the band held the result in 77 % of trials (notes on the climate tables)."""
    listed = normals_at(find_place("Madison, WI")).error
    near = normals_at(place_at(43.07, -89.40)).error
    far = normals_at(place_at(55.0, -85.0)).error

    assert listed == HONEST_ERROR
    assert (HONEST_ERROR.temp_k, HONEST_ERROR.rh_points, HONEST_ERROR.wind_share) == (1.0, 5.0, 0.25)
    for name in ("temp_k", "rh_points", "wind_share"):
        assert getattr(listed, name) < getattr(near, name) < getattr(far, name)


def test_poor_quality_widens_the_error() -> None:
    poor = normals_at(find_place("Yellowknife, NT"))

    assert poor.quality == "D"
    assert poor.error.temp_k > 1.3
    assert poor.error.wind_share > 0.4


def test_a_yards_own_offsets_move_the_normals() -> None:
    normals = normals_at(find_place("Fredericton, NB"))
    moved = normals.shifted(temp_k=1.5, rh_points=-4.0, wind_factor=0.5)

    assert moved.temp_c - normals.temp_c == pytest.approx(np.full(12, 1.5))
    assert moved.rh_pct - normals.rh_pct == pytest.approx(np.full(12, -4.0))
    assert moved.wind_m_s == pytest.approx(normals.wind_m_s / 2.0)


def test_leaving_a_place_out_leaves_it_out() -> None:
    place = find_place("Madison, WI")
    without = interpolate_normals(place, leave_out=frozenset({place.id}))

    assert without.distance_km > 5.0
    assert "Madison, WI" not in without.source


# Mean absolute errors stated in the notes on the climate tables for points between places, by distance of the
# nearest donor, with how many places stood behind ours. A fifth more is allowed for another choice of places: every
# third place is left out here. Rain beyond 100 km is not compared: what is left there lies in Hawaii and Alaska.
STATED = {
    (0, 30): {"temp_k": 0.5, "rain_share": 0.11, "wet_days": 0.9},
    (30, 60): {"temp_k": 0.6, "rain_share": 0.12, "wet_days": 0.9},
    (60, 100): {"temp_k": 0.7, "rain_share": 0.23, "rh_points": 2.5, "wind_share": 0.12},
    (100, 200): {"rh_points": 3.3, "wind_share": 0.14},
    (200, 400): {"rh_points": 5.6, "wind_share": 0.16},
}


def test_interpolation_errs_as_stated(accuracy: ModuleType) -> None:
    errors = accuracy.leave_one_out(every=3)

    for band, stated in STATED.items():
        for name, value in stated.items():
            assert errors[band][name] < 1.2 * value + 0.005, (band, name)
