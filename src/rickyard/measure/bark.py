"""Diameter inside bark from that over bark, by species.

In this order: the line of Clark, Souter and Schlaegel 1991 (southern trees, d.i.b. = a + b d.o.b. in inches at breast
height, the ratio held within 0.80 and 0.99); the constant ratio of the Northeast variant of the Forest Vegetation
Simulator; else the species' bark volume / wood volume, which gives 1/√(1 + ratio).
A group's line (elms, ashes) stands in for a species only after the species' own ratio.
All hold at breast height; bark is thinner further up, so a top log loses less than this.

The tables part: over 130 species that stand in two or more, the farthest table is off the figure used by 0.37 of the
bark (root mean square, logs of 30 cm), black locust's by half and white spruce's by more than all of it. None is
better founded than another for logs, so the doubt is as wide as they part; see `bark_volume_sd`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from rickyard.measure.limits import DIAMETER_M, within
from rickyard.measure.tree_equations import read_table
from rickyard.measure.units import IN_M
from rickyard.wood import Species

BARK_RATIO_BOUNDS = (0.80, 0.99)
"""Bounds of d.i.b. / d.o.b.; those of the code the lines were read in."""

BARK_VOLUME_SD = 0.25
"""How far the bark of logs is off a figure that all tables share, or off a thickness taken at one place of a log, one
standard deviation [fraction of the bark]: a judgement. Bark is furrowed, and thinner up the stem."""

ONE_TABLE_SD = 0.37
"""The same where only one table knows the species: how far the farthest table is off for the species that stand in
more than one (root mean square at 30 cm)."""

USUAL_LOG_M = 0.30
"""Diameter over bark at which tables by diameter are held against the bark volume of a species [m]."""

Rule = Literal["clark", "northeast", "volume ratio"]

SOURCES: dict[Rule, str] = {
    "clark": "Clark, Souter and Schlaegel 1991, USDA FS Res. Pap. SE-282",
    "northeast": "USDA FS Forest Vegetation Simulator, Northeast variant",
    "volume ratio": "bark volume / wood volume of the species table",
}


@dataclass(frozen=True)
class InsideBark:
    """Diameter inside bark [m], thickness of the bark on one side [m], which rule, whose figures."""

    diameter_m: float
    bark_thickness_m: float
    rule: Rule
    source: str


@cache
def _lines() -> dict[str, tuple[Rule, float, float]]:
    """The best line of each species: rule, a [in], b."""
    order: list[tuple[Rule, str]] = [("clark", "own"), ("northeast", "own"), ("clark", "genus")]
    rows = read_table("bark.csv")
    best: dict[str, tuple[Rule, float, float]] = {}
    for rule, how in order:
        for row in rows:
            if (row["table"], row["how"]) == (rule, how):
                best.setdefault(row["id"], (rule, float(row["a_in"]), float(row["b"])))
    return best


@cache
def _all_lines() -> dict[str, tuple[tuple[float, float], ...]]:
    """Every line of each species: a [in], b."""
    found: dict[str, list[tuple[float, float]]] = {}
    for row in read_table("bark.csv"):
        found.setdefault(row["id"], []).append((float(row["a_in"]), float(row["b"])))
    return {name: tuple(lines) for name, lines in found.items()}


def inside_bark(species: Species, over_bark_m: float) -> InsideBark:
    """Diameter inside bark of a stem so thick over bark [m]. Raises InputError for diameter."""
    over = within("diameter", over_bark_m, DIAMETER_M)
    rule: Rule = "volume ratio"
    ratio = 1.0 / math.sqrt(1.0 + species.bark_volume_ratio)
    if species.id in _lines():
        rule, a_in, b = _lines()[species.id]
        ratio = _held(a_in, b, over)
    inside = ratio * over
    return InsideBark(inside, (over - inside) / 2.0, rule, SOURCES[rule])


def bark_share(species: Species, over_bark_m: float) -> float:
    """Share of a log's volume over bark that is bark, by its diameter [fraction]."""
    return 1.0 - (inside_bark(species, over_bark_m).diameter_m / over_bark_m) ** 2


def bark_shares(species: Species, over_bark_m: float) -> tuple[float, ...]:
    """The share of a log's volume over bark that is bark, by every table that knows the species [fraction]."""
    ratio = species.bark_volume_ratio
    by_line = [1.0 - _held(a_in, b, over_bark_m) ** 2 for a_in, b in _all_lines().get(species.id, ())]
    return (*by_line, ratio / (1.0 + ratio))


def bark_volume_sd(species: Species, over_bark_m: float) -> float:
    """How far the bark taken off logs so thick is off, one standard deviation [fraction of that bark].

    It reaches the table that is farthest from the one used, and is never less than `BARK_VOLUME_SD`.
    """
    used = bark_share(species, over_bark_m)
    return _doubt(species, used, bark_shares(species, over_bark_m))


def bark_ratio_sd(species: Species) -> float:
    """The same for the bark volume / wood volume of the species table, which weights are turned into volume with."""
    shares = bark_shares(species, USUAL_LOG_M)
    return _doubt(species, species.bark_volume_ratio, [share / (1.0 - share) for share in shares])


def _doubt(species: Species, used: float, by_table: Sequence[float]) -> float:
    farthest = max(abs(one / used - 1.0) for one in by_table)
    among = species.bark_volume_ratio_sd / species.bark_volume_ratio if species.members else 0.0
    least = BARK_VOLUME_SD if len(by_table) > 1 else ONE_TABLE_SD
    return max(least, farthest, among)


def _held(a_in: float, b: float, over_bark_m: float) -> float:
    """Diameter inside / over bark by a line, within its bounds."""
    return min(BARK_RATIO_BOUNDS[1], max(BARK_RATIO_BOUNDS[0], a_in * IN_M / over_bark_m + b))
