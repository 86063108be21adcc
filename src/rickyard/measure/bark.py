"""Diameter inside bark from that over bark, by species.

In this order: the line of Clark, Souter and Schlaegel 1991 (southern trees, d.i.b. = a + b d.o.b. in inches at breast
height, the ratio held within 0.80 and 0.99); the constant ratio of the Northeast variant of the Forest Vegetation
Simulator; else the species' bark volume / wood volume, which gives 1/√(1 + ratio).
A group's line (elms, ashes) stands in for a species only after the species' own ratio.
All hold at breast height; bark is thinner further up, so a top log loses less than this.
"""

from __future__ import annotations

import math
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
"""How far the bark volume of a load is off its species' figure, one standard deviation [fraction]: a judgement;
Clark's and the Northeast's ratios of the same species differ by 0.02 to 0.05 of the diameter."""

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


def inside_bark(species: Species, over_bark_m: float) -> InsideBark:
    """Diameter inside bark of a stem so thick over bark [m]. Raises InputError for diameter."""
    over = within("diameter", over_bark_m, DIAMETER_M)
    rule: Rule = "volume ratio"
    ratio = 1.0 / math.sqrt(1.0 + species.bark_volume_ratio)
    if species.id in _lines():
        rule, a_in, b = _lines()[species.id]
        ratio = min(BARK_RATIO_BOUNDS[1], max(BARK_RATIO_BOUNDS[0], a_in * IN_M / over + b))
    inside = ratio * over
    return InsideBark(inside, (over - inside) / 2.0, rule, SOURCES[rule])


def bark_share(species: Species, over_bark_m: float) -> float:
    """Share of a log's volume over bark that is bark, by its diameter [fraction]."""
    return 1.0 - (inside_bark(species, over_bark_m).diameter_m / over_bark_m) ** 2
