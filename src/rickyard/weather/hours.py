"""From days to hours: temperature, dew point, wind, sun and rain within a day.

Temperature follows a cosine from its minimum half an hour after sunrise to its maximum at 15 h and on to the next
minimum (Parton & Logan 1981 and Ephrath et al. 1996, from memory).
The dew point runs straight between noons and swings with temperature; its noon values are solved so that the day's
mean relative humidity comes out.
Every step looks only a few days to either side, so hours do not depend on the window asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rickyard.weather.humidity import ICE_A, ICE_B_C, WATER_A, WATER_B_C, dew_point_c, psat_water_pa
from rickyard.weather.year import sun_by_hour, sunrise_hour

Floats = npt.NDArray[np.floating[Any]]
Singles = npt.NDArray[np.float32]

WARMEST_H = 15.0
"""Local standard time of the day's highest temperature [h]."""
COLDEST_AFTER_SUNRISE_H = 0.5
WIND_SWING = 0.28
"""Amplitude of the wind's day over its mean [fraction], highest at `WINDIEST_H`."""
WINDIEST_H = 14.5
RAIN_HOURS = 5.3
"""Mean length of a wet day's rain [h] (seen: 4.0 to 7.0)."""
DRY_RH_PCT = 55.0
"""Days drier than this have a dew point that falls as temperature rises."""
DRY_DEW_SWING = -0.12
_MEAN_STEPS = 4
_DEW_STEPS = 4
MARGIN_DAYS = 2 + _MEAN_STEPS + _DEW_STEPS
"""Days needed on either side of a window."""
_BLOCK_DAYS = 48
_HOURS = np.arange(24) + 0.5


@dataclass(frozen=True)
class Days:
    """Daily weather [days, members], a margin on either side included.

    Attributes
    ----------
    year_day
        Place of each day in the year of 366 days [days].
    temp_c, range_k
        Mean temperature [°C] and daily range [K].
    rh_pct
        Mean relative humidity over water [%].
    wind_m_s, sun_mj_m2, rain_mm
        Mean wind [m/s], radiation [MJ/m²] and precipitation [mm] of the day.
    rain_begin_h, rain_hours
        First hour and hours of the day's rain [h].
    """

    year_day: npt.NDArray[np.intp]
    temp_c: Floats
    range_k: Floats
    rh_pct: Floats
    wind_m_s: Floats
    sun_mj_m2: Floats
    rain_mm: Floats
    rain_begin_h: Floats
    rain_hours: Floats


def hours_of_days(days: Days, lat: float) -> tuple[Singles, Singles, Singles, Singles, Singles]:
    """Hourly air_c, vapour_pa, wind_m_s, sun_w_m2 and rain_mm [hours, members] of the days inside the margins."""
    count = len(days.year_day) - 2 * MARGIN_DAYS
    members = days.temp_c.shape[1]
    out = tuple(np.empty((count, 24, members), dtype=np.float32) for _ in range(5))
    curves = _temperature_curves(lat)[days.year_day]
    shares = sun_by_hour(lat)[days.year_day]
    middle = _centre_of_extremes(days, curves)
    for first in range(0, count, _BLOCK_DAYS):
        last = min(first + _BLOCK_DAYS, count)
        core = slice(MARGIN_DAYS + first, MARGIN_DAYS + last)
        _fill(days, curves, shares, middle, core, [array[first:last] for array in out])
    air, vapour, wind, sun, rain = (array.reshape(count * 24, members) for array in out)
    return air, vapour, wind, sun, rain


def _temperature_curves(lat: float) -> Floats:
    """Weights [366, 24, 4] of yesterday's maximum, today's minimum and maximum, and tomorrow's minimum, by hour."""
    coldest = np.clip(sunrise_hour(lat) + COLDEST_AFTER_SUNRISE_H, 2.0, 10.0)[:, None]
    weights = np.zeros((len(coldest), 24, 4))

    def warm_share(since_min: Floats) -> Floats:
        return np.asarray(0.5 * (1.0 - np.cos(np.pi * since_min)))

    night = coldest > _HOURS
    morning = ~night & (_HOURS < WARMEST_H)
    evening = ~night & ~morning
    old = warm_share((coldest - _HOURS) / (coldest - WARMEST_H + 24.0))
    weights[..., 0] = np.where(night, old, 0.0)
    rising = warm_share((_HOURS - coldest) / (WARMEST_H - coldest))
    weights[..., 1] = np.where(night, 1.0 - old, np.where(morning, 1.0 - rising, 0.0))
    falling = warm_share((coldest + 24.0 - _HOURS) / (coldest + 24.0 - WARMEST_H))
    weights[..., 2] = np.where(morning, rising, np.where(evening, falling, 0.0))
    weights[..., 3] = np.where(evening, 1.0 - falling, 0.0)
    return weights


def _centre_of_extremes(days: Days, curves: Floats) -> Floats:
    """Middle between each day's extremes [°C] such that the mean over its hours is the day's mean temperature."""
    share = curves.mean(axis=1)[:, :, None]
    half = 0.5 * days.range_k
    middle = days.temp_c.copy()
    for _ in range(_MEAN_STEPS):
        highest, lowest = middle + half, middle - half
        mean = share[:, 1] * lowest + share[:, 2] * highest
        mean += share[:, 0] * _day_before(highest) + share[:, 3] * _day_after(lowest)
        middle += days.temp_c - mean
    return middle


def _fill(
    days: Days, curves: Floats, shares: Floats, middle: Floats, core: slice, out: list[Singles]
) -> None:
    """Hours of the days `core` into `out`; for the dew point some days on either side are looked at."""
    reach = _DEW_STEPS + 1
    near = slice(core.start - reach, core.stop + reach)
    inner = slice(reach, -reach)
    temp = _temperature(curves[near], middle[near], days.range_k[near])
    log_rh = _log_humidity(temp, days.temp_c[near], days.rh_pct[near])
    out[0][:] = temp[inner]
    np.multiply(psat_water_pa(temp[inner]), np.exp(log_rh[inner]), out=out[1])

    swing = 1.0 + WIND_SWING * np.cos(2.0 * np.pi * (_HOURS - WINDIEST_H) / 24.0)
    np.multiply(_single(days.wind_m_s[core])[:, None, :], _single(swing)[:, None], out=out[2])
    watts = _single(days.sun_mj_m2[core] * (1e6 / 3600.0))
    np.multiply(watts[:, None, :], _single(shares[core])[:, :, None], out=out[3])
    begin = days.rain_begin_h[core][:, None, :].astype(np.int8)
    end = begin + days.rain_hours[core][:, None, :].astype(np.int8)
    hour = np.arange(24, dtype=np.int8)[:, None]
    per_hour = _single(days.rain_mm[core] / days.rain_hours[core])
    np.multiply(per_hour[:, None, :], (hour >= begin) & (hour < end), out=out[4])


def _temperature(curves: Floats, middle: Floats, range_k: Floats) -> Singles:
    highest, lowest = _single(middle + 0.5 * range_k), _single(middle - 0.5 * range_k)
    weights = _single(curves)
    temp = weights[:, :, 1, None] * lowest[:, None, :]
    for k, node in ((2, highest), (0, _day_before(highest)), (3, _day_after(lowest))):
        temp += weights[:, :, k, None] * node[:, None, :]
    return temp


def _log_humidity(temp: Singles, temp_c: Floats, rh_pct: Floats) -> Singles:
    """ln of relative humidity over water by hour, whose mean over each day is the day's humidity.

    0 at saturation; in frost the air holds no more than ice does.
    """
    target = _single(np.log(rh_pct / 100.0))
    node = dew_point_c(psat_water_pa(temp_c) * (rh_pct / 100.0))
    slope = _single((WATER_B_C + node) ** 2 / (WATER_A * WATER_B_C))
    node = _single(node)
    follow = np.where(rh_pct < DRY_RH_PCT, DRY_DEW_SWING, np.clip(0.28 - 0.012 * temp_c, 0.04, 0.45))
    swing = temp - _between_noons(_single(temp_c))
    swing *= _between_noons(_single(follow))
    saturation = _magnus(temp, WATER_A, WATER_B_C)
    highest = _magnus(temp, ICE_A, ICE_B_C)
    highest -= saturation
    np.minimum(highest, 0.0, out=highest)
    for step in range(_DEW_STEPS + 1):
        dew = _between_noons(node)
        dew += swing
        log_rh = _magnus(dew, WATER_A, WATER_B_C)
        log_rh -= saturation
        np.minimum(log_rh, highest, out=log_rh)
        if step < _DEW_STEPS:
            mean = np.log(_mean_of_hours(np.exp(log_rh)))
            node = node + np.clip(slope * (target - mean), -4.0, 4.0)
    return log_rh


def _magnus(temp: Singles, a: float, b_c: float) -> Singles:
    """ln of saturation pressure over its value at 0 °C."""
    bottom = temp + np.float32(b_c)
    top = temp * np.float32(a)
    top /= bottom
    return top


_NOON_BEFORE = np.maximum(0.5 - _HOURS / 24.0, 0.0).astype(np.float32)[:, None]
_NOON_AFTER = np.maximum(_HOURS / 24.0 - 0.5, 0.0).astype(np.float32)[:, None]
_NOON_TODAY = (1.0 - _NOON_BEFORE - _NOON_AFTER).astype(np.float32)


def _between_noons(noon: Singles) -> Singles:
    """Hours [days, 24, members] on straight lines between noon values [days, members]."""
    line = _NOON_TODAY * noon[:, None, :]
    line[:, :12] += _NOON_BEFORE[:12] * _day_before(noon)[:, None, :]
    line[:, 12:] += _NOON_AFTER[12:] * _day_after(noon)[:, None, :]
    return np.asarray(line, dtype=np.float32)


def _mean_of_hours(hours: Singles) -> Singles:
    """Mean over the 24 hours, added one by one so that rounding does not depend on the shape."""
    total = hours[:, 0].copy()
    for hour in range(1, 24):
        total += hours[:, hour]
    return np.asarray(total / np.float32(24.0))


def _day_before(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return np.concatenate([values[:1], values[:-1]])


def _day_after(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return np.concatenate([values[1:], values[-1:]])


def _single(values: Floats) -> Singles:
    return np.asarray(values, dtype=np.float32)
