"""How much of a pile is wood: the share of solid wood without bark in the outside volume, and back.

Convention: numerator solid wood without bark, at the moisture it has; denominator the outside volume, with wood,
bark and air. Published figures, and whose they are, stand in `data/solid_content.csv`.

How the figures are joined:

1. A cord of ranked stove-length splits holds 85 ft³ of wood, the middle of the 80 to 90 that the Maine Forest
   Service gives for firewood; 75 to 95 for the 10th and 90th percentile is a judgement.
2. Steps between forms are those of the Minnesota statute, the one source found that parts shortening from
   splitting: the wood of 128 ranked ft³ in 4 ft rounds fills 110 when sawed and 120 when sawed and split.
3. Between stove length (16 in, taken by us for the statute's "sawed") and 4 ft the step is in proportion to
   length; shorter and longer pieces are held at the ends.
4. Loose against ranked: the mean of 128/180 (Maine, 12 and 16 in), 120/175 (Minnesota), 128/192 (Everett,
   Washington) and 0.60 (Finland), for stove length; in Maine longer pieces (24 in) lie looser by 180/195.
   The spread is that of the published loose shares, 0.38 to 0.50.

No figure by diameter, straightness or bark was found; those move the share most.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from statistics import fmean
from typing import Literal

from rickyard.errors import InputError
from rickyard.measure.limits import PIECE_LENGTH_M, SOLID_M3, within
from rickyard.measure.spread import Spread
from rickyard.measure.stacks import piled_from
from rickyard.measure.units import CORD_FT3, CORD_M3, FT_M, IN_M
from rickyard.text import T_

Form = Literal["split", "round", "log", "kindling"]

FORMS: tuple[Form, ...] = ("split", "round", "log", "kindling")

SPLIT_CORD_SOLID_FT3 = Spread(75.0, 85.0, 95.0)
"""Solid wood without bark in a cord of ranked stove-length splits [ft³]; see the module."""

STOVE_LENGTH_M = 16.0 * IN_M
CORDWOOD_LENGTH_M = 4.0 * FT_M

SAWED_FT3, SPLIT_FT3 = 110.0, 120.0
"""What the wood of a 128 ft³ cord of 4 ft rounds fills when sawed, and when sawed and split; Minn. Stat. 239.33."""

LOOSE_PER_RANKED = fmean((128.0 / 180.0, 120.0 / 175.0, 128.0 / 192.0, 0.60))
"""Ranked volume / loose volume of the same stove-length wood."""

LOOSE_PER_RANKED_24IN = 180.0 / 195.0
"""How much looser 24 in pieces lie than stove-length ones."""

LOOSE_PUBLISHED = (0.38, 0.50)
"""Least and most published share of solid wood in loose stove wood, single high figures left aside."""

DENSEST_ROUNDS = math.pi / 4.0
"""Rounds of one size in square order: more than careless rounds reach."""

KINDLING_WIDER = 2.0
"""No figure was found for kindling: that of splits, with a spread so many times wider."""


@dataclass(frozen=True)
class ExpectedVolumes:
    """What an amount of solid wood will fill.

    Attributes
    ----------
    ranked_m3, loose_m3
        Outside volume in rows and as thrown [m³], each with its 10th and 90th percentile.
    cords
        The ranked volume / 128 ft³.
    """

    ranked_m3: Spread
    loose_m3: Spread
    cords: Spread


def solid_share(piled: str, form: str, piece_length_m: float) -> Spread:
    """Solid wood without bark / outside volume [fraction], with 10th and 90th percentile; see the module.

    Parameters
    ----------
    piled
        ranked or loose.
    form
        split, round, log (as a round of its length) or kindling.
    piece_length_m
        Length of the pieces [m].

    Raises InputError for piled, form or piece_length.
    """
    how = piled_from(piled)
    shape = _form(form)
    length = within("piece_length", piece_length_m, PIECE_LENGTH_M)
    ranked = _ranked(shape, length)
    if how == "ranked":
        return ranked
    share = ranked.mid * LOOSE_PER_RANKED * _looser(length)
    usual = SPLIT_CORD_SOLID_FT3.mid / CORD_FT3 * LOOSE_PER_RANKED
    loose = Spread(share * LOOSE_PUBLISHED[0] / usual, share, share * LOOSE_PUBLISHED[1] / usual)
    return _widened(loose) if shape == "kindling" else loose


def expect_from_solid(solid_m3: float, form: str, piece_length_m: float) -> ExpectedVolumes:
    """What so much solid wood without bark [m³] will fill in pieces of a form and length [m].

    Kerf and waste are to be taken off before.
    Raises InputError for solid_m3, form or piece_length.
    """
    solid = within("solid_m3", solid_m3, SOLID_M3, "m³")
    ranked = solid_share("ranked", form, piece_length_m).into(solid)
    return ExpectedVolumes(
        ranked_m3=ranked,
        loose_m3=solid_share("loose", form, piece_length_m).into(solid),
        cords=ranked.scaled(1.0 / CORD_M3),
    )


@cache
def published_shares() -> tuple[Mapping[str, str], ...]:
    """The published figures, row by row as text: what, region_or_case, value, unit, source, note."""
    text = (
        resources.files("rickyard.measure").joinpath("data", "solid_content.csv").read_text(encoding="utf-8")
    )
    return tuple(csv.DictReader(text.splitlines()))


def _form(form: str) -> Form:
    for name in FORMS:
        if name == form:
            return name
    raise InputError(
        "form",
        wanted=T_("one of: {names}", names=", ".join(FORMS)),
        got=form,
        next_move=T_("Say what shape the pieces have."),
    )


def _ranked(form: Form, length_m: float) -> Spread:
    base = SPLIT_CORD_SOLID_FT3.scaled(1.0 / CORD_FT3)
    reach = (length_m - STOVE_LENGTH_M) / (CORDWOOD_LENGTH_M - STOVE_LENGTH_M)
    longer = min(1.0, max(0.0, reach))
    fuller = 1.0 + longer * (SAWED_FT3 / 128.0 - 1.0)
    if form == "split":
        return base.scaled(fuller)
    if form == "kindling":
        return _widened(base.scaled(fuller))
    rounds = base.scaled(fuller * SPLIT_FT3 / SAWED_FT3)
    return Spread(rounds.low, rounds.mid, min(rounds.high, DENSEST_ROUNDS))


def _looser(length_m: float) -> float:
    """How much looser than stove-length wood pieces of this length lie when thrown."""
    reach = (length_m - STOVE_LENGTH_M) / (24.0 * IN_M - STOVE_LENGTH_M)
    return 1.0 + min(1.0, max(0.0, reach)) * (LOOSE_PER_RANKED_24IN - 1.0)


def _widened(share: Spread) -> Spread:
    return Spread(
        share.mid - KINDLING_WIDER * (share.mid - share.low),
        share.mid,
        min(0.95, share.mid + KINDLING_WIDER * (share.high - share.mid)),
    )
