"""How much of a pile is wood, by what the pieces are like: length, thickness, round or split, straightness, bark.

`rickyard.measure.solid` gives the share for a usual piece of its form and length; here it is moved from there. No
table by thickness or straightness was reached, so the way it moves is a model, tied to what was found:

- **Crook and length.** A piece that sags k s L over its length holds its neighbours off by as much, so that a piece
  d thick takes the room of one d + k s L thick: share = densest / (1 + k s L / d)². The statute of Minnesota
  (128 ft³ of 4 ft rounds are 110 sawed to stove length) gives k for rounds of usual straightness (s = 1), taken as
  15 cm thick: 15 mm a metre. Nothing else was fitted. Splits and kindling are taken to sag in proportion to their
  usual thickness. Below stove length and above 4 ft nothing moves, as in the base.
- **Checks of that**: the densest share it leaves, with bark, is 0.90, where the densest packing of cylinders
  is π/(2√3) = 0.907; and rounds 10 to 30 cm thick, straight to crooked, in 4 ft cords hold 54 to 95 ft³,
  where the Lake States have 65 to 95.
- **Splitting** stays as the statute has it (110 to 120 ft³ of stack).
- **Bark** takes room and is no wood: the share without bark falls as 1 / (1 + bark volume / wood volume). The base
  holds the mean bark of the species table's hardwoods. Peeled, its 79 ft³ a cord become 92, as the composite
  function of Beers 1964 has it with bark counted as wood (92 ft³).
- **Thrown** wood lies by chance: thickness and crook count at half strength, a judgement.

The spread stays that of the base: what is said of the pieces is a glance at a heap.

A logger's cord is 128 ft³ of 4 ft or longer roundwood in the bark, 79 ft³ of wood; a sold cord is 128 ft³ of
stove-length wood as the law of the place has it. They hold different amounts of wood: `two_cords` shows both.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from statistics import fmean

from rickyard.errors import InputError
from rickyard.measure.limits import PIECE_LENGTH_M, SOLID_M3, within
from rickyard.measure.solid import (
    CORDWOOD_LENGTH_M,
    SAWED_FT3,
    STOVE_LENGTH_M,
    solid_share,
)
from rickyard.measure.spread import Spread
from rickyard.measure.units import CORD_FT3, FT3_M3
from rickyard.text import T_
from rickyard.wood import Species, all_species

USUAL_THICKNESS_M = {"round": 0.15, "log": 0.15, "split": 0.12, "kindling": 0.03}
"""Thickness of the pieces behind the published figures [m]: a judgement (6 in pulpwood; splits of 3 to 6 in)."""

STRAIGHTNESS = {"straight": 0.5, "usual": 1.0, "crooked": 2.0}
"""How much wood sags against the usual: a judgement."""

THICKNESS_M = (0.005, 2.0)
CROOK = (0.0, 5.0)

DENSEST = math.pi / (2.0 * math.sqrt(3.0))
"""Cylinders of one size, each among six others: never passed."""

MOST_SPLIT = 0.95
"""No stack of splits holds more."""

LOGGERS_CORD_FT3 = Spread(75.0, 79.0, 82.0)
"""Wood without bark in a cord of roundwood, mean of a load [ft³]: 79 of Woodland Stewardship, Minnesota, and of
Minn. Stat. 239.33 by weight; 75 and 82 the least and the most of the regional means of Southern Regional Extension
Forestry. Single cords hold 65 to 95."""


def _crook_m_per_m() -> float:
    """Sag of usual rounds [m per m] that makes the statute's 110/128 of the step from 4 ft to stove length."""
    step = math.sqrt(CORD_FT3 / SAWED_FT3)
    return USUAL_THICKNESS_M["round"] * (step - 1.0) / (CORDWOOD_LENGTH_M - step * STOVE_LENGTH_M)


CROOK_M_PER_M = _crook_m_per_m()


@dataclass(frozen=True)
class Stowing:
    """Solid wood without bark / outside volume, and what moved it off the usual.

    Attributes
    ----------
    share
        10th percentile, middle, 90th percentile [fraction].
    usual
        The same for a usual piece of its form and length.
    factors
        By name (thickness and straightness, bark): what the usual was multiplied by.
    """

    share: Spread
    usual: Spread
    factors: Mapping[str, float]


@cache
def usual_bark_ratio() -> float:
    """Bark volume / wood volume behind the published figures: the mean of the species table's hardwoods."""
    return fmean(species.bark_volume_ratio for species in all_species() if species.group == "hardwood")


def stowing(
    piled: str,
    form: str,
    piece_length_m: float,
    *,
    thickness_m: float | None = None,
    straightness: str | float = "usual",
    species: Species | None = None,
    bark_left: float = 1.0,
) -> Stowing:
    """Share of solid wood in a pile by what its pieces are like; see the module.

    Parameters
    ----------
    piled, form, piece_length_m
        As of `solid_share`.
    thickness_m
        Mean thickness of the pieces [m]; usual for the form if None.
    straightness
        straight, usual or crooked; or how much the wood sags against the usual, 0 to 5.
    species
        For its bark; the mean of hardwoods if None.
    bark_left
        Share of the bark that is still on, 0 peeled to 1.

    Raises InputError for piled, form, piece_length, thickness, straightness or bark_left.
    """
    usual = solid_share(piled, form, piece_length_m)
    length = within("piece_length", piece_length_m, PIECE_LENGTH_M)
    usual_d = USUAL_THICKNESS_M[form]
    thick = usual_d if thickness_m is None else within("thickness", thickness_m, THICKNESS_M)
    crook = _straightness(straightness)
    left = within("bark_left", bark_left, (0.0, 1.0), "")
    span = min(max(length, STOVE_LENGTH_M), CORDWOOD_LENGTH_M)
    sag = CROOK_M_PER_M / USUAL_THICKNESS_M["round"] * span
    moved = (1.0 + sag) ** 2 / (1.0 + sag * crook * usual_d / thick) ** 2
    if piled == "loose":
        moved = math.sqrt(moved)
    own = usual_bark_ratio() if species is None else species.bark_volume_ratio
    bark = (1.0 + usual_bark_ratio()) / (1.0 + own * left)
    # Wedges fit closer than cylinders can; that bound is for rounds.
    most = DENSEST / (1.0 + own * left) if form in ("round", "log") else MOST_SPLIT
    share = usual.scaled(moved * bark)
    share = Spread(min(share.low, most), min(share.mid, most), min(share.high, most))
    return Stowing(share, usual, {"thickness and straightness": moved, "bark": bark})


def _straightness(told: str | float) -> float:
    if isinstance(told, str):
        if told in STRAIGHTNESS:
            return STRAIGHTNESS[told]
        raise InputError(
            "straightness",
            wanted=T_("one of: {names}", names=", ".join(STRAIGHTNESS)),
            got=told,
            next_move=T_("Look along a few pieces."),
        )
    return within("straightness", told, CROOK, "")


@dataclass(frozen=True)
class TwoCords:
    """The same wood in a logger's cords and in sold cords, and what one of the first makes of the second."""

    logger: Spread
    sold: Spread
    sold_per_logger: Spread


def two_cords(
    solid_m3: float,
    *,
    form: str = "split",
    piece_length_m: float = STOVE_LENGTH_M,
    lost_share: float = 0.0,
    sold_cord_ft3: float = CORD_FT3,
) -> TwoCords:
    """So much solid wood without bark in the cords of who brings it and in those of who buys it stacked.

    Parameters
    ----------
    solid_m3
        Solid wood without bark [m³].
    form, piece_length_m
        What it is sold as.
    lost_share
        What kerf and waste take on the way [fraction].
    sold_cord_ft3
        Outside volume of a sold cord by the law of the place: 128, in Minnesota 120 sawed and split [ft³].

    Raises InputError for solid_m3, form, piece_length, lost_share or sold_cord_ft3.
    """
    solid = within("solid_m3", solid_m3, SOLID_M3, "m³")
    lost = within("lost_share", lost_share, (0.0, 0.9), "")
    size = within("sold_cord_ft3", sold_cord_ft3, (50.0, 300.0), "ft³")
    stacked = solid_share("ranked", form, piece_length_m).scaled(size * FT3_M3)
    logger = LOGGERS_CORD_FT3.scaled(FT3_M3)
    # Low and high are not of the same cords: a full logger's cord makes many loose sold ones.
    ratio = LOGGERS_CORD_FT3.mid * FT3_M3 * (1.0 - lost) / stacked.mid
    below = math.hypot(math.log(logger.mid / logger.low), math.log(stacked.high / stacked.mid))
    above = math.hypot(math.log(logger.high / logger.mid), math.log(stacked.mid / stacked.low))
    return TwoCords(
        logger.into(solid),
        stacked.into(solid * (1.0 - lost)),
        Spread(ratio / math.exp(below), ratio, ratio * math.exp(above)),
    )
