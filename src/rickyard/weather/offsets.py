"""What a yard's own logger says of the place: offsets from the normals, shrunk by how long it ran.

An offset of n days is taken by n/(n + 30).
That is the best guess where the normals' error has variance s² and a day's departure counts with variance 30 s², and
the error that is left then has variance s² · 30/(n + 30): the band narrows by as much as was learnt.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.weather.normals import Normals, NormalsError, normals_at
from rickyard.weather.places import Place
from rickyard.weather.record import WeatherRecord
from rickyard.weather.year import daily_from_monthly, year_day

SHRINK_DAYS = 30.0
FEWEST_DAYS = 5
WHOLE_DAY_HOURS = 20
OVERLAP_HOURS = 72
MOST_TEMP_K, MOST_RH = 8.0, 30.0
"""Larger offsets are no climate: the logger hangs in the sun, in a house, or in a bag."""


@dataclass(frozen=True)
class Offsets:
    """How a yard departs from the normals of its place.

    Attributes
    ----------
    temp_k, rh_points
        As applied, shrunk.
    days
        Days they rest on.
    seen_temp_k, seen_rh_points
        As seen, before shrinking.
    """

    temp_k: float
    rh_points: float
    days: int
    seen_temp_k: float
    seen_rh_points: float

    @property
    def error_left(self) -> float:
        """Factor on the SD of the normals' error."""
        return float(np.sqrt(SHRINK_DAYS / (self.days + SHRINK_DAYS)))

    def on(self, usual: Normals) -> Normals:
        """The normals moved by the offsets, their error of temperature and humidity narrowed."""
        error = NormalsError(
            usual.error.temp_k * self.error_left,
            usual.error.rh_points * self.error_left,
            usual.error.wind_share,
        )
        return replace(usual.shifted(temp_k=self.temp_k, rh_points=self.rh_points), error=error)


def offsets_of(record: WeatherRecord, place: Place, *, reference: WeatherRecord | None = None) -> Offsets:
    """Offsets of a logger from the normals of its place.

    Parameters
    ----------
    record
        Hours of the logger.
    place
        The yard's place.
    reference
        A station of the place for the same time, if there is one with at least 72 hours in common: the month's own
        weather then drops out.

    Raises
    ------
    InputError
        If there are fewer than five whole days, or the logger is so far off that it cannot hang in the open.
    """
    if not record.hourly or record.kind != "observed":
        raise _too_short(0)
    air = record.air_c.astype(float).reshape(-1, 24)
    rh = record.rh_pct.astype(float).reshape(-1, 24)
    whole = (np.isfinite(air) & np.isfinite(rh)).sum(axis=1) >= WHOLE_DAY_HOURS
    days = int(whole.sum())
    if days < FEWEST_DAYS:
        raise _too_short(days)
    apart = None if reference is None else difference(record, reference)
    if apart is None:
        at = np.array([year_day(record.start + timedelta(days=i)) for i in range(len(air))])[whole]
        usual = normals_at(place)
        seen_temp = float(np.mean(np.nanmean(air[whole], axis=1) - daily_from_monthly(usual.temp_c)[at]))
        seen_rh = float(np.mean(np.nanmean(rh[whole], axis=1) - daily_from_monthly(usual.rh_pct)[at]))
    else:
        seen_temp, seen_rh = apart
    if abs(seen_temp) > MOST_TEMP_K or abs(seen_rh) > MOST_RH:
        raise InputError(
            "logger",
            wanted=T_(
                "a logger within {kelvin:.0f} K and {points:.0f} points of humidity of its place",
                kelvin=MOST_TEMP_K,
                points=MOST_RH,
            ),
            got=T_("{temp:+.1f} K and {rh:+.0f} points", temp=seen_temp, rh=seen_rh),
            next_move=T_(
                "Hang it in the open, in the shade, away from walls and wet wood; or check the place."
            ),
        )
    share = days / (days + SHRINK_DAYS)
    return Offsets(share * seen_temp, share * seen_rh, days, seen_temp, seen_rh)


def difference(one: WeatherRecord, other: WeatherRecord) -> tuple[float, float] | None:
    """Mean of one record less the other, temperature [K] and humidity [points], over the hours they have in common."""
    if not one.hourly or not other.hourly or one.air_c.ndim > 1 or other.air_c.ndim > 1:
        return None
    shift = 24 * (other.start - one.start).days
    first, last = max(0, shift), min(len(one.air_c), shift + len(other.air_c))
    if last - first < OVERLAP_HOURS:
        return None
    a, b = slice(first, last), slice(first - shift, last - shift)
    temp = (one.air_c[a] - other.air_c[b]).astype(float)
    rh = (one.rh_pct[a] - other.rh_pct[b]).astype(float)
    both = np.isfinite(temp) & np.isfinite(rh)
    if both.sum() < OVERLAP_HOURS:
        return None
    return float(temp[both].mean()), float(rh[both].mean())


def _too_short(days: int) -> InputError:
    return InputError(
        "logger",
        wanted=T_("at least {days} whole days of hourly temperature and humidity", days=FEWEST_DAYS),
        got=T_("{days} days", days=days),
        next_move=T_("Let the logger run on; a month is good."),
    )
