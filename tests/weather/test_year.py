"""The course of the year and the sun."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from rickyard.weather.year import (
    MONTH_LENGTHS,
    daily_from_monthly,
    declination_rad,
    sky_radiation_mj_m2_d,
    sun_by_hour,
    sunrise_hour,
    sunset_angle_rad,
    variance_within_months,
    year_day,
    year_days,
)

ENDS = np.concatenate([[0], np.cumsum(MONTH_LENGTHS)])


@given(arrays(np.float64, 12, elements=st.floats(min_value=-50.0, max_value=50.0)))
def test_daily_values_keep_the_monthly_means(monthly: np.ndarray) -> None:
    days = daily_from_monthly(monthly)

    assert [days[ENDS[m] : ENDS[m + 1]].mean() for m in range(12)] == pytest.approx(monthly, abs=1e-9)


def test_daily_values_run_on_over_new_year() -> None:
    """A smooth course has no step between 31 December and 1 January beyond a day's change."""
    days = daily_from_monthly(np.cos(2.0 * np.pi * np.arange(12) / 12.0))

    assert abs(days[0] - days[-1]) < 0.02
    assert np.abs(np.diff(days)).max() < 0.03


def test_many_columns_are_made_as_one_is() -> None:
    """Bit for bit: members must not depend on how many there are."""
    table = np.random.default_rng(1).normal(size=(12, 7))

    assert np.array_equal(daily_from_monthly(table)[:, 3], daily_from_monthly(table[:, 3]))


def test_the_course_makes_variance_where_it_is_steep() -> None:
    """June: 30 days, the middles of the months around 30.5 days apart; variance slope² (n² - 1) / 12."""
    variance = variance_within_months(6.0 * np.arange(12))

    assert variance[5] == pytest.approx((6.0 / 30.5) ** 2 * (30**2 - 1) / 12.0, rel=0.01)
    assert variance_within_months(np.ones(12)) == pytest.approx(np.zeros(12), abs=1e-12)


def test_days_of_the_calendar() -> None:
    assert year_day(date(2026, 1, 1)) == 0
    assert year_day(date(2024, 2, 29)) == 59
    assert year_day(date(2026, 3, 1)) == year_day(date(2024, 3, 1)) == 60
    assert year_day(date(2026, 12, 31)) == 365
    years, days = year_days(date(2025, 12, 31), 2)
    assert (years.tolist(), days.tolist()) == ([2025, 2026], [365, 0])


def test_radiation_outside_the_atmosphere_step_by_step() -> None:
    """FAO Irrigation and Drainage Paper 56, example 8: 3 September at 20° S (from memory).

    Printed there: declination 0.120 rad, sunset angle 1.527 rad, 32.2 MJ/m² per day; example 9: 11.7 hours of day.
    Half a unit of the last printed digit is allowed.
    """
    day = year_day(date(2026, 9, 3))

    assert declination_rad()[day] == pytest.approx(0.120, abs=0.0005)
    assert sunset_angle_rad(-20.0)[day] == pytest.approx(1.527, abs=0.0005)
    assert sky_radiation_mj_m2_d(-20.0)[day] == pytest.approx(32.2, abs=0.05)
    assert 24.0 - 2.0 * sunrise_hour(-20.0)[day] == pytest.approx(11.7, abs=0.05)


@given(st.floats(min_value=-90.0, max_value=90.0))
def test_the_hours_share_the_days_radiation(lat: float) -> None:
    shares = sun_by_hour(lat)
    total = shares.sum(axis=1)

    assert np.all(shares >= 0.0)
    assert np.all((np.abs(total - 1.0) < 1e-9) | (total == 0.0))
    assert np.all(sky_radiation_mj_m2_d(lat)[total == 0.0] < 0.1)
    assert shares == pytest.approx(shares[:, ::-1], abs=1e-12)  # symmetric about noon


def test_polar_night_is_dark_and_the_midnight_sun_shines() -> None:
    shares = sun_by_hour(75.0)

    assert shares[year_day(date(2026, 12, 21))].sum() == 0.0
    assert np.all(shares[year_day(date(2026, 6, 21))] > 0.0)
