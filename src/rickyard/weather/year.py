"""The course of a usual year by day: monthly means made daily, and the sun.

A year here always has 366 days; the 29th of February is left out where the calendar has none.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.floating[Any]]

YEAR_DAYS = 366
MONTH_LENGTHS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
"""FAO Irrigation and Drainage Paper 56, eq. 21 (from memory) [MJ/m² per minute]."""
SUBDIVISIONS = 6
"""Points in each hour at which the sun's height is taken."""


def year_day(day: date) -> int:
    """Place of a calendar day in the year of 366 days, from 0."""
    return sum(MONTH_LENGTHS[: day.month - 1]) + day.day - 1


def year_days(start: date, days: int) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Calendar year and place in the year of 366 days, for each of `days` days from `start`."""
    calendar = [start + timedelta(days=i) for i in range(days)]
    return (
        np.array([day.year for day in calendar], dtype=np.intp),
        np.array([year_day(day) for day in calendar], dtype=np.intp),
    )


@cache
def _months_to_days() -> Floats:
    """The matrix [366, 12] that makes daily values of monthly means.

    Values run straight between nodes at mid-month, and the nodes are solved so that the mean of every month comes
    out as given (the idea is of Rymes & Myers 2001, from memory; they smooth instead).
    """
    ends = np.concatenate([[0], np.cumsum(MONTH_LENGTHS)]).astype(float)
    middles = (ends[:-1] + ends[1:]) / 2.0
    days = np.arange(YEAR_DAYS) + 0.5
    line = np.zeros((YEAR_DAYS, 12))
    for i, day in enumerate(days):
        right = int(np.searchsorted(middles, day)) % 12
        left = (right - 1) % 12
        width = (middles[right] - middles[left]) % YEAR_DAYS
        share = ((day - middles[left]) % YEAR_DAYS) / width
        line[i, left] += 1.0 - share
        line[i, right] += share
    means = np.stack([line[int(ends[m]) : int(ends[m + 1])].mean(axis=0) for m in range(12)])
    return np.asarray(line @ np.linalg.inv(means))


def daily_from_monthly(monthly: npt.ArrayLike) -> Floats:
    """Daily values [366, ...] running straight between mid-months, each month's mean kept.

    Parameters
    ----------
    monthly
        Means by month [12, ...].
    """
    values = np.asarray(monthly, dtype=np.float64)
    matrix = _months_to_days()
    days = np.zeros((YEAR_DAYS, *values.shape[1:]))
    # Month by month rather than as a matrix product, whose rounding depends on how many columns there are.
    for month in range(12):
        days += matrix[:, month].reshape(-1, *[1] * (values.ndim - 1)) * values[month]
    return days


def variance_within_months(monthly: npt.ArrayLike) -> Floats:
    """Variance [12] that the course of the year alone makes within each month, from monthly means [12]."""
    days = daily_from_monthly(monthly)
    ends = np.concatenate([[0], np.cumsum(MONTH_LENGTHS)])
    return np.array([days[ends[m] : ends[m + 1]].var() for m in range(12)])


def _day_number() -> Floats:
    """Number of each day [366] in a year of 365; the 29th of February stands between its neighbours."""
    return np.concatenate([np.arange(1.0, 60.0), [59.5], np.arange(60.0, 366.0)])


def declination_rad() -> Floats:
    """Solar declination [rad] by day [366]; FAO-56 eq. 24 (from memory)."""
    return np.asarray(0.409 * np.sin(2.0 * np.pi * _day_number() / 365.0 - 1.39))


def sunset_angle_rad(lat: float) -> Floats:
    """Hour angle of sunset [rad] by day [366], 0 in polar night and π under the midnight sun; FAO-56 eq. 25."""
    phi = np.radians(np.clip(lat, -89.9, 89.9))
    return np.asarray(np.arccos(np.clip(-np.tan(phi) * np.tan(declination_rad()), -1.0, 1.0)))


def sunrise_hour(lat: float) -> Floats:
    """Solar time of sunrise [h] by day [366]."""
    return np.asarray(12.0 - sunset_angle_rad(lat) * 12.0 / np.pi)


def sky_radiation_mj_m2_d(lat: float) -> Floats:
    """Radiation outside the atmosphere on the horizontal [MJ/m² per day] by day [366]; FAO-56 eq. 21 and 23."""
    phi = np.radians(np.clip(lat, -89.9, 89.9))
    delta = declination_rad()
    sunset = sunset_angle_rad(lat)
    distance = 1.0 + 0.033 * np.cos(2.0 * np.pi * _day_number() / 365.0)
    height = sunset * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(sunset)
    return np.asarray(24.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * distance * np.maximum(height, 0.0))


def sun_by_hour(lat: float) -> Floats:
    """Share of the day's radiation in each hour [366, 24], after the sine of the sun's height; 0 in polar night."""
    phi = np.radians(np.clip(lat, -89.9, 89.9))
    delta = declination_rad()[:, None]
    hours = (np.arange(24 * SUBDIVISIONS) + 0.5) / SUBDIVISIONS
    angle = (hours - 12.0) * np.pi / 12.0
    height = np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.cos(angle)
    shares = np.maximum(height, 0.0).reshape(YEAR_DAYS, 24, SUBDIVISIONS).sum(axis=2)
    total = shares.sum(axis=1, keepdims=True)
    return np.where(total > 1e-3, shares / np.maximum(total, 1e-3), 0.0)
