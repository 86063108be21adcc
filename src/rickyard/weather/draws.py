"""What chance gives each member: daily states by calendar year, and the error of the normals.

The random numbers of a member and a calendar year come from a stream of their own, seeded by (seed, member, year),
so that a day of a member is the same whatever window, and however many members, were asked for.
States that remember are run from nothing at the beginning of the year before; a year's states depend on those two
years' numbers only.
After a year the slow component remembers 0.2 % of where it began, so the seam at New Year cannot be seen.
The place is not in the seed: neighbouring places have nearly the same weather, as they should.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.weather.residuals import SERIES, residuals
from rickyard.weather.year import YEAR_DAYS

Floats = npt.NDArray[np.floating[Any]]

_DAYS_STREAM, _NORMALS_STREAM = 1, 2
_NORMAL_DRAWS, _UNIFORM_DRAWS = 8, 3
SLOW_DAYS = 60.0
"""Memory of the slow components [d]."""
SLOW = ("temp", "rh", "wet")
"""Order of the slow components."""


@dataclass(frozen=True)
class YearDraws:
    """Daily states of one or more calendar years; arrays [366, years, members] behind a first axis where named.

    Attributes
    ----------
    fast
        Standard normal residuals [4, ...] in the order of `residuals.SERIES`, autocorrelated and correlated.
    slow
        Standard normal slow components [3, ...] in the order of `SLOW`.
    wet
        Whether there is measurable precipitation.
    rain_u, hours_u, begin_u
        Uniform numbers for a wet day's amount, length and beginning.
    """

    fast: Floats
    slow: Floats
    wet: npt.NDArray[np.bool_]
    rain_u: Floats
    hours_u: Floats
    begin_u: Floats


def year_draws(seed: int, members: int, first_year: int, years: int, p_ww: Floats, p_wd: Floats) -> YearDraws:
    """The states of `years` calendar years from `first_year` on.

    Parameters
    ----------
    seed
        Not negative.
    members
        Members 0 to members - 1.
    first_year, years
        Calendar years.
    p_ww, p_wd
        Chance of a wet day after a wet and after a dry one, by day [366].
    """
    check_seed(seed)
    normals = np.empty((_NORMAL_DRAWS, YEAR_DAYS, years + 1, members))
    uniforms = np.empty((_UNIFORM_DRAWS, YEAR_DAYS, years, members))
    for member in range(members):
        for i in range(years + 1):
            stream = _stream(_DAYS_STREAM, seed, member, first_year - 1 + i)
            normals[:, :, i, member] = stream.standard_normal((_NORMAL_DRAWS, YEAR_DAYS))
            if i:
                uniforms[:, :, i - 1, member] = stream.random((_UNIFORM_DRAWS, YEAR_DAYS))
    slow = _slow(normals[4:7])
    return YearDraws(
        fast=_fast(normals[:4]),
        slow=slow[:, YEAR_DAYS:],
        wet=wet_days(_two_years(normals[7]), slow[SLOW.index("wet")], p_ww, p_wd, residuals().wet_slow),
        rain_u=uniforms[0],
        hours_u=uniforms[1],
        begin_u=uniforms[2],
    )


def normals_draws(seed: int, members: int) -> Floats:
    """Standard normal numbers [3, members] for the error of temperature, humidity and wind normals."""
    check_seed(seed)
    draws = [_stream(_NORMALS_STREAM, seed, member, 0).standard_normal(3) for member in range(members)]
    return np.stack(draws, axis=1)


def check_seed(seed: int) -> None:
    """Refuses a negative seed."""
    if seed < 0:
        raise InputError(
            "seed",
            wanted=T_("a whole number, zero or more"),
            got=seed,
            next_move=T_("Leave it out to use 0."),
        )


def _stream(kind: int, seed: int, member: int, year: int) -> np.random.Generator:
    return np.random.Generator(np.random.Philox(np.random.SeedSequence([kind, seed, member, year])))


def _two_years(numbers: Floats) -> Floats:
    """Each year behind the year before: [..., 366, years + 1, members] to [..., 732, years, members]."""
    return np.concatenate([numbers[..., :-1, :], numbers[..., 1:, :]], axis=-3)


def _fast(numbers: Floats) -> Floats:
    """Residuals [4, 366, years, members] of innovations [4, 366, years + 1, members]."""
    v, growth, c = _modes()
    # Sums are written out, not left to a matrix product, whose rounding depends on the number of columns.
    drive = _two_years(np.stack([_weighted(c[k], numbers) for k in range(len(SERIES))]))
    modes = np.empty((YEAR_DAYS, *drive[:, 0].shape), dtype=drive.dtype)
    state = np.zeros_like(drive[:, 0])
    for day in range(2 * YEAR_DAYS):
        state = growth[:, None, None] * state + drive[:, day]
        if day >= YEAR_DAYS:
            modes[day - YEAR_DAYS] = state
    return np.stack([_weighted(v[k], modes.swapaxes(0, 1)).real for k in range(len(SERIES))])


def _modes() -> tuple[Any, Any, Any]:
    """`Residuals.modes`, as real arrays where they are real."""
    v, growth, c = residuals().modes()
    return (v, growth, c) if growth.imag.any() else (v.real, growth.real, c.real)


def _weighted(weights: Any, series: Any) -> npt.NDArray[Any]:
    total = weights[0] * series[0]
    for i in range(1, len(weights)):
        total = total + weights[i] * series[i]
    return np.asarray(total)


def _slow(numbers: Floats) -> Floats:
    """Slow components [3, 732, years, members], the year before first."""
    memory = np.exp(-1.0 / SLOW_DAYS)
    drive = np.sqrt(1.0 - memory**2) * _two_years(numbers)
    for day in range(1, 2 * YEAR_DAYS):
        drive[:, day] += memory * drive[:, day - 1]
    return np.asarray(drive)


def wet_days(
    numbers: Floats, slow: Floats, p_ww: Floats, p_wd: Floats, strength: float
) -> npt.NDArray[np.bool_]:
    """The wet-day chain of the second of two years.

    Parameters
    ----------
    numbers, slow
        Standard normal numbers and the slow component [732, years, members].
    p_ww, p_wd
        Chance of a wet day after a wet and after a dry one, by day [366].
    strength
        How far the slow component moves the thresholds [probits]; the mean chances stay as given.
    """
    stretch = np.sqrt(1.0 + strength**2)
    after_dry = stretch * ndtri(np.clip(p_wd, 1e-6, 0.999))
    after_wet = stretch * ndtri(np.clip(p_ww, 1e-6, 0.999))
    level = numbers - strength * slow
    wet = np.empty((YEAR_DAYS, *numbers.shape[1:]), dtype=bool)
    state = np.zeros(numbers.shape[1:], dtype=bool)
    for day in range(2 * YEAR_DAYS):
        i = day % YEAR_DAYS
        state = level[day] < np.where(state, after_wet[i], after_dry[i])
        if day >= YEAR_DAYS:
            wet[i] = state
    return wet
