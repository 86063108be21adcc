"""Hourly weather made from monthly normals.

Days: a first-order wet/dry chain (Richardson 1981; Chen, Brissette & Leconte 2012), gamma rain, autocorrelated
residuals of temperature, humidity, wind and daily range, and slow components of 60 days' memory, without which
seasons come out too alike.
Monthly means hold in expectation over members and years; a single year keeps its own.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import gammaincinv, ndtr

from rickyard.weather.air import HourlyAir, check_window
from rickyard.weather.degree_days import daily_temp_sd_k
from rickyard.weather.draws import SLOW, YearDraws, normals_draws, year_draws
from rickyard.weather.hours import MARGIN_DAYS, RAIN_HOURS, Days, hours_of_days
from rickyard.weather.humidity import ice_share
from rickyard.weather.normals import DAYS_IN_MONTH, Normals, NormalsError, normals_at
from rickyard.weather.places import Place
from rickyard.weather.residuals import SERIES, residuals
from rickyard.weather.year import daily_from_monthly, sky_radiation_mj_m2_d, variance_within_months, year_days

Floats = npt.NDArray[np.floating[Any]]
Flags = npt.NDArray[np.bool_]

RH_LOWEST_PCT, RH_HIGHEST_PCT = 10.0, 98.5
"""Bounds of a day's mean relative humidity [%]; in frost the upper one falls with saturation over ice."""
RH_WET_STEP = 1.15
"""How much damper a wet day is than a dry one [SD of daily humidity]."""
WIND_LOG_SD = 0.36
"""SD of ln of a day's mean wind."""
WINDIEST_M_S = 25.0
"""Bound of a day's mean wind [m/s]; the lognormal tail would go beyond what stations see."""
RANGE_LOG_SD = 0.38
"""SD of ln of the daily temperature range among wet or among dry days."""
RANGE_WET_LOG = -0.30
"""ln of the range of wet days over that of dry ones."""
RAIN_SHAPES = (0.25, 3.0)
"""Bounds of the shape of the gamma distribution of a wet day's rain."""
CLEAREST = 0.78
"""Largest share of the sky's radiation that reaches the ground in a day (clear, high and dry)."""
DULLEST = 0.12
"""Least radiation of a day over its normal."""


def generate_air(
    place: Place,
    start: date,
    days: int,
    *,
    members: int,
    seed: int,
    normals_error: bool | NormalsError = True,
    normals: Normals | None = None,
) -> HourlyAir:
    """Hourly weather of members that could each be the real one.

    The hour at calendar time t of member j depends on (place, seed, j, t) only: another window or another number of
    members gives the same numbers where they overlap.

    Parameters
    ----------
    place
        From `find_place`.
    start, days
        First day, and days to make.
    members
        Members 0 to members - 1; member 0 is one like the others.
    seed
        Not negative.
    normals_error
        Whether each member draws its own error of the normals (as wide as `Normals.error`), which stays all the
        time; or the width to draw with. Without it the band is far too narrow: see `normals.HONEST_ERROR`.
    normals
        Instead of `normals_at(place)`, for instance moved by a yard's own readings.

    Raises
    ------
    InputError
        Days, members, start or seed out of range.
    """
    check_window(start, days, members)
    usual = normals_at(place) if normals is None else normals
    if normals_error is False:
        width = NormalsError(0.0, 0.0, 0.0)
    elif normals_error is True:
        width = usual.error
    else:
        width = normals_error
    made = _days(usual, start - timedelta(days=MARGIN_DAYS), days + 2 * MARGIN_DAYS, members, seed, width)
    return HourlyAir(start, *hours_of_days(made, usual.lat))


def mean_air(place: Place, start: date, days: int, *, normals: Normals | None = None) -> HourlyAir:
    """One member without any chance: every day is the usual one of its date, with a little rain.

    For pictures and for tests.
    Drying driven by it comes out wrong (too fast), because wood answers to damp and dry days unequally.
    """
    check_window(start, days, 1)
    usual = normals_at(place) if normals is None else normals
    _, at = year_days(start - timedelta(days=MARGIN_DAYS), days + 2 * MARGIN_DAYS)

    def column(monthly: Floats) -> Floats:
        return daily_from_monthly(monthly)[at][:, None]

    made = Days(
        year_day=at,
        temp_c=column(usual.temp_c),
        range_k=np.maximum(column(usual.tmax_c - usual.tmin_c), 0.5),
        rh_pct=np.clip(column(usual.rh_pct), RH_LOWEST_PCT, RH_HIGHEST_PCT * ice_share(column(usual.temp_c))),
        wind_m_s=np.maximum(column(usual.wind_m_s), 0.0),
        sun_mj_m2=np.maximum(column(usual.sun_mj_m2_d), 0.0),
        rain_mm=np.maximum(column(usual.precip_mm / DAYS_IN_MONTH), 0.0),
        rain_begin_h=np.zeros((len(at), 1)),
        rain_hours=np.full((len(at), 1), 24.0),
    )
    return HourlyAir(start, *hours_of_days(made, usual.lat))


def _days(usual: Normals, start: date, days: int, members: int, seed: int, width: NormalsError) -> Days:
    """Daily weather of every member."""
    years, at = year_days(start, days)
    first_year, last_year = int(years[0]), int(years[-1])
    p_ww = np.clip(daily_from_monthly(usual.p_ww), 0.0, 0.995)
    p_wd = np.clip(daily_from_monthly(usual.p_wd), 0.0, 0.995)
    draws = year_draws(seed, members, first_year, last_year - first_year + 1, p_ww, p_wd)
    when = (at, years - first_year)
    wrong = normals_draws(seed, members)
    temp_off_k = width.temp_k * wrong[0]
    rh_off = width.rh_points * wrong[1]
    wind_factor = np.exp(width.wind_share * wrong[2] - 0.5 * width.wind_share**2)

    wet = draws.wet[when]
    p_wet = (p_wd / (1.0 - p_ww + p_wd))[at][:, None]
    temp_z = _mixed(draws, "temp", when)
    temp = _daily(usual.temp_c, at) + temp_off_k + _temp_sd(usual)[at][:, None] * temp_z
    rh, rh_z = _humidity(usual, rh_off, draws, when, wet, p_wet, temp)

    dry_log, expected_log = _range_logs(p_wet)
    log_range = dry_log + RANGE_WET_LOG * wet + RANGE_LOG_SD * draws.fast[SERIES.index("ln_range")][when]
    range_k = np.maximum(_daily(usual.tmax_c - usual.tmin_c, at), 0.5) * np.exp(log_range)

    wind_z = draws.fast[SERIES.index("ln_wind")][when]
    wind = np.maximum(_daily(usual.wind_m_s, at), 0.0) * np.exp(WIND_LOG_SD * wind_z - 0.5 * WIND_LOG_SD**2)
    wind = np.minimum(wind * wind_factor, WINDIEST_M_S)

    fitted = residuals()
    usual_sun = np.maximum(_daily(usual.sun_mj_m2_d, at), 0.0)
    clear = 1.0 + fitted.clearness_rh * rh_z + fitted.clearness_range * (log_range - expected_log)
    sun = np.minimum(
        usual_sun * np.maximum(clear, DULLEST), CLEAREST * sky_radiation_mj_m2_d(usual.lat)[at][:, None]
    )

    rain, rain_hours, rain_begin = _rain(usual, at, wet, draws, when)
    return Days(
        year_day=at,
        temp_c=temp,
        range_k=np.clip(range_k, 0.3, 35.0),
        rh_pct=rh,
        wind_m_s=wind,
        sun_mj_m2=sun,
        rain_mm=rain,
        rain_begin_h=rain_begin,
        rain_hours=rain_hours,
    )


def _daily(monthly: Floats, at: npt.NDArray[np.intp]) -> Floats:
    """A column [days, 1] of daily values."""
    return daily_from_monthly(monthly)[at][:, None]


def _temp_sd(usual: Normals) -> Floats:
    """SD of a day's mean temperature about the course of the year [366]: the month's SD less what the course makes."""
    whole = daily_temp_sd_k(usual)
    rest = np.sqrt(np.maximum(whole**2 - variance_within_months(usual.temp_c), (0.5 * whole) ** 2))
    return np.maximum(daily_from_monthly(rest), 0.1)


def _mixed(draws: YearDraws, name: str, when: tuple[Any, ...]) -> Floats:
    """Fast and slow residual together, a standard normal."""
    share = residuals().slow_share
    fast = draws.fast[SERIES.index(name)][when]
    return np.asarray(np.sqrt(1.0 - share) * fast + np.sqrt(share) * draws.slow[SLOW.index(name)][when])


def _humidity(
    usual: Normals,
    off: Floats,
    draws: YearDraws,
    when: tuple[Any, ...],
    wet: Flags,
    p_wet: Floats,
    temp: Floats,
) -> tuple[Floats, Floats]:
    """A day's mean relative humidity [%] and its departure in SDs; the monthly mean holds in expectation."""
    at = when[0]
    highest = RH_HIGHEST_PCT * ice_share(usual.temp_c)[:, None]
    wanted = np.clip(usual.rh_pct[:, None] + off, RH_LOWEST_PCT + 2.0, highest - 2.0)
    spread = usual.rh_spread * np.sqrt(wanted * (100.0 - wanted))
    chance = np.clip(usual.wet_days / DAYS_IN_MONTH, 0.0, 1.0)[:, None]
    centre = _centre_before_clipping(wanted, spread, chance, highest)

    fitted = residuals()
    plain = fitted.lag0[SERIES.index("rh"), SERIES.index("temp")]
    tie = _daily(np.clip(-0.19 - 0.018 * usual.temp_c + 0.0065 * usual.rh_pct, -0.6, 0.5), at)
    # The fitted series are tied as the six stations were on average; retie them as this month's climate has it.
    temp_z = draws.fast[SERIES.index("temp")][when]
    rh_fast = draws.fast[SERIES.index("rh")][when]
    free = (rh_fast - plain * temp_z) / np.sqrt(1.0 - plain**2)
    retied = tie * temp_z + np.sqrt(1.0 - tie**2) * free
    share = fitted.slow_share
    noise = np.sqrt(1.0 - share) * retied + np.sqrt(share) * draws.slow[SLOW.index("rh")][when]

    rest = np.sqrt(1.0 - RH_WET_STEP**2 * p_wet * (1.0 - p_wet))
    z = RH_WET_STEP * (wet - p_wet) + rest * noise
    rh = daily_from_monthly(centre)[at] + np.maximum(daily_from_monthly(spread)[at], 0.5) * z
    return np.clip(rh, RH_LOWEST_PCT, RH_HIGHEST_PCT * ice_share(temp)), z


def _centre_before_clipping(wanted: Floats, spread: Floats, chance: Floats, highest: Floats) -> Floats:
    """Where to centre daily humidity so that its mean after clipping is the wanted one [12, members].

    Daily humidity is a mixture of two normals, wet and dry days; Newton's method on the mean of the clipped mixture.
    """
    rest = spread * np.sqrt(1.0 - RH_WET_STEP**2 * chance * (1.0 - chance))
    centre = wanted.copy()
    for _ in range(8):
        mean = np.zeros_like(wanted)
        slope = np.zeros_like(wanted)
        for step, share in ((1.0 - chance, chance), (-chance, 1.0 - chance)):
            at = centre + RH_WET_STEP * step * spread
            below = (RH_LOWEST_PCT - at) / rest
            above = (highest - at) / rest
            within = ndtr(above) - ndtr(below)
            density = (np.exp(-0.5 * below**2) - np.exp(-0.5 * above**2)) / np.sqrt(2.0 * np.pi)
            clipped = at * within + rest * density
            mean += share * (clipped + RH_LOWEST_PCT * ndtr(below) + highest * ndtr(-above))
            slope += share * within
        centre = centre + np.clip((wanted - mean) / np.maximum(slope, 0.05), -10.0, 10.0)
    return centre


def _range_logs(p_wet: Floats) -> tuple[Floats, Floats]:
    """ln of a dry day's median range over the month's mean range, and the expected ln over all days."""
    lift = np.exp(0.5 * RANGE_LOG_SD**2)
    dry = -np.log(lift * (1.0 - p_wet + p_wet * np.exp(RANGE_WET_LOG)))
    return dry, dry + p_wet * RANGE_WET_LOG


def _rain(
    usual: Normals, at: npt.NDArray[np.intp], wet: Flags, draws: YearDraws, when: tuple[Any, ...]
) -> tuple[Floats, Floats, Floats]:
    """Precipitation [mm], its hours and its first hour, all [days, members]; dry days have none."""
    mean = np.maximum(daily_from_monthly(usual.wetday_mean_mm), 0.1)
    sd = np.maximum(daily_from_monthly(usual.wetday_sd_mm), 0.05)
    shape = np.clip((mean / sd) ** 2, *RAIN_SHAPES)
    rain = np.zeros(wet.shape)
    day, member = np.nonzero(wet)
    year = when[1][day]
    k = shape[at[day]]
    rain[day, member] = mean[at[day]] / k * gammaincinv(k, draws.rain_u[at[day], year, member])
    hours = 1.0 + np.floor(np.log1p(-draws.hours_u[when]) / np.log1p(-1.0 / RAIN_HOURS))
    hours = np.clip(hours, 1.0, 24.0)
    begin = np.floor(draws.begin_u[when] * (25.0 - hours))
    return rain, hours, begin
