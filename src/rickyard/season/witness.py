"""Marked pieces of a stack, weighed now and then: what their weights come to, and which do not fit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median, stdev

#: A piece heavier than this share of its first weight is another piece, or misread: rain does not do it.
HEAVIEST = 1.15
#: Heavier than when it was marked, beyond the scale: wet from rain, or marked dry.
HEAVIER = 1.02
#: Lighter than this no green wood can become: oven-dry from 2.8 kg of water per kg of wood.
LIGHTEST = 1.0 / 3.8
# A piece whose share differs from the middle one by more than this (or by so many times the usual difference)
# is not like the others.
STANDS_OUT, STANDS_OUT_TIMES = 0.10, 6.0


@dataclass(frozen=True)
class Weighed:
    """What one weighing comes to.

    `ratio` is the mass now over that when marked, of the `pieces` that count (0: none does, and `ratio` is 0);
    `scatter` the standard deviation of their single ratios; `odd` says of those left out why, by name:
    `heavy`, `light`, `stands_out` or `missing`.
    """

    ratio: float
    pieces: int
    scatter: float | None
    total_kg: float
    odd: Mapping[str, str]


def weighed(start_kg: Mapping[str, float], now_kg: Mapping[str, float | None]) -> Weighed:
    """The ratio of the pieces that are there and fit; `now_kg` None for a piece that was not found."""
    odd = {name: "missing" for name, mass in now_kg.items() if mass is None and name in start_kg}
    share = {
        name: mass / start_kg[name]
        for name, mass in now_kg.items()
        if mass is not None and name in start_kg and start_kg[name] > 0.0
    }
    for name, ratio in share.items():
        if ratio > HEAVIEST:
            odd[name] = "heavy"
        elif ratio < LIGHTEST:
            odd[name] = "light"
    fitting = {name: ratio for name, ratio in share.items() if name not in odd}
    if len(fitting) >= 3:
        middle = median(fitting.values())
        usual = median(abs(ratio - middle) for ratio in fitting.values())
        for name, ratio in fitting.items():
            if abs(ratio - middle) > max(STANDS_OUT, STANDS_OUT_TIMES * usual):
                odd[name] = "stands_out"
    counted = {name: ratio for name, ratio in fitting.items() if name not in odd}
    if not counted:
        return Weighed(0.0, 0, None, 0.0, odd)
    total = math.fsum(now_kg[name] or 0.0 for name in counted)
    return Weighed(
        ratio=total / math.fsum(start_kg[name] for name in counted),
        pieces=len(counted),
        scatter=stdev(counted.values()) if len(counted) > 1 else None,
        total_kg=total,
        odd=odd,
    )


def step_share(step_kg: float | None, pieces: int, total_kg: float) -> float | None:
    """The scale's step over the mass of all pieces: each is rounded by itself, and the roundings partly cancel."""
    if step_kg is None or not pieces or total_kg <= 0.0:
        return None
    return step_kg * math.sqrt(pieces) / total_kg
