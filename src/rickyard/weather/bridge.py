"""Between what is known and what is generated: how far an anomaly is remembered.

A day's departure is taken to be a process that forgets exponentially (lag 1 of daily temperature 0.73: 3.2 days).
The mean of such a process between known ends is a sum of two hyperbolic sines, beyond a known end an exponential.
Laid on a member's own weather this is a draw of the process given what is known (conditional simulation).
Between the 7th and the 12th day from a known end the rest is faded out, so that beyond a member is the generator's own.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.floating[Any]]
Flags = npt.NDArray[np.bool_]

MEMORY_DAYS = 3.2
HOUR_MEMORY_H = 8.0
"""Memory of what an hour departs beyond its day's departure [h]."""
FADE_DAYS = (7.0, 12.0)
MOST_GAP_DAYS = 2.0 * FADE_DAYS[1]
"""In a longer gap the two ends know nothing of each other."""


def fade(days: Floats) -> Floats:
    """1 up to the 7th day, 0 from the 12th on, straight between."""
    return np.asarray(np.clip((FADE_DAYS[1] - days) / (FADE_DAYS[1] - FADE_DAYS[0]), 0.0, 1.0))


def edges(known: Flags) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """For each step the last known one at or before it (-1: none), and the next at or after it (the length: none)."""
    count = len(known)
    at = np.arange(count)
    before = np.maximum.accumulate(np.where(known, at, -1))
    after = np.minimum.accumulate(np.where(known, at, count)[::-1])[::-1]
    return before, after


def weights(known: Flags, per_day: float, memory_days: float) -> tuple[Floats, Floats]:
    """Weights [steps] of the anomaly at the last known step before and at the next one after; 0 on known steps.

    Parameters
    ----------
    known
        Which steps are known.
    per_day
        Steps per day.
    memory_days
        Of the process.
    """
    before, after = edges(known)
    count = len(known)
    at = np.arange(count)
    left_days = np.where(before >= 0, (at - before) / per_day, np.inf)
    right_days = np.where(after < count, (after - at) / per_day, np.inf)
    with np.errstate(over="ignore", invalid="ignore"):
        left = np.exp(-left_days / memory_days)
        right = np.exp(-right_days / memory_days)
        whole = left_days + right_days
        between = whole <= MOST_GAP_DAYS
        # Ratios of hyperbolic sines, written with exponentials that cannot overflow.
        bottom = -np.expm1(-2.0 * whole / memory_days)
        left = np.where(between, left * -np.expm1(-2.0 * right_days / memory_days) / bottom, left)
        right = np.where(between, right * -np.expm1(-2.0 * left_days / memory_days) / bottom, right)
    left *= fade(left_days)
    right *= fade(right_days)
    left[known] = right[known] = 0.0
    return np.nan_to_num(left, nan=0.0), np.nan_to_num(right, nan=0.0)


def bridged(anomaly: Floats, known: Flags) -> tuple[Floats, Flags]:
    """Hourly anomalies [hours, members] carried into what is not known, and the hours that are touched.

    The day's part (mean of the last or next 24 known hours) is remembered for days, what the hour at the edge departs
    beyond it for hours, so that there is no jump.
    """
    before, after = edges(known)
    day_left, day_right = weights(known, 24.0, MEMORY_DAYS)
    hour_left, hour_right = weights(known, 24.0, HOUR_MEMORY_H / 24.0)
    touched = (day_left > 0.0) | (day_right > 0.0)
    out = np.zeros_like(anomaly)
    rows = np.flatnonzero(touched)
    if not len(rows):
        return out, touched
    for at, day_weight, hour_weight, back in (
        (before, day_left, hour_left, True),
        (after, day_right, hour_right, False),
    ):
        use = rows[(day_weight[rows] > 0.0)]
        if not len(use):
            continue
        ends, which = np.unique(at[use], return_inverse=True)
        edge = anomaly[ends]
        means = np.stack([_day_mean(anomaly, known, int(end), back) for end in ends])
        out[use] += day_weight[use, None] * means[which] + hour_weight[use, None] * (edge - means)[which]
    return out, touched


def _day_mean(anomaly: Floats, known: Flags, end: int, back: bool) -> Floats:
    hours = slice(max(end - 23, 0), end + 1) if back else slice(end, end + 24)
    return np.asarray(anomaly[hours][known[hours]].mean(axis=0))
