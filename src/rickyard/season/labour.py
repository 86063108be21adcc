"""What finer wood costs in hours: priors, each with its source, until the yard has timed its own.

Only splitting was found timed, and by the cord, not by the size of the pieces.
Hours are taken to go with the number of pieces: each has to be set, split and thrown once.
Restacking, sawing shorter, roofing and moving were not found timed for a small yard: they are not known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from rickyard.measure import solid_share
from rickyard.measure.units import CORD_M3
from rickyard.season.pieces import Pieces
from rickyard.text import T_, Text

#: Hours to split a cord [h/cord]: low, middle, high.
SPLIT_HOURS_PER_CORD = (1.0, 2.5, 4.1)
#: The pieces those cords are taken to be of [m]; the tests do not say.
TIMED_LENGTH_M, TIMED_THICKNESS_M = 0.41, 0.12
SOURCE = T_(
    "Splitting takes 2.5 hours a cord by hydraulic splitter, 4.1 by sledge and wedges "
    "(Tresemer, Splitting Firewood, as a reader of it reported), 1 hour by an athlete in straight oak (one report). "
    "Hours are taken to go with the number of pieces, which is an assumption; restacking is not counted."
)


@dataclass(frozen=True)
class Labour:
    """Hours a cord [h/cord], 10th, 50th and 90th percentile; `source` says where from."""

    low_h: float
    mid_h: float
    high_h: float
    source: Text


def pieces_per_cord(pieces: Pieces) -> float:
    """How many pieces of this size a ranked cord holds [1/cord]."""
    whole = math.pi / 4 * pieces.thickness_m**2
    piled: Literal["round", "log", "split"] = "split"
    if pieces.form == "round":
        piled, section = "round", whole
    elif pieces.form == "log":
        piled, section = "log", whole
    elif pieces.form == "half":
        section = whole / 2
    else:
        section = pieces.shape.thickness_m * pieces.shape.width_m
    share = solid_share("ranked", piled, pieces.length_m)
    return CORD_M3 * share.mid / (section * pieces.length_m)


def splitting(before: Pieces, after: Pieces) -> Labour | None:
    """Hours a cord for splitting `before` into `after`; None where nobody timed what it takes.

    Known only for making pieces finer at the same length.
    """
    if after.length_m != before.length_m or after.form != "split":
        return None
    # A round or log is no piece yet: each split costs its own cut.
    uncut = before.form in ("round", "log")
    more = pieces_per_cord(after) - (0.0 if uncut else pieces_per_cord(before))
    if more <= 0.0:
        return None
    timed = pieces_per_cord(
        Pieces(
            species_id=after.species_id,
            form="split",
            length_m=TIMED_LENGTH_M,
            thickness_m=TIMED_THICKNESS_M,
        )
    )
    low, mid, high = (hours / timed * more for hours in SPLIT_HOURS_PER_CORD)
    return Labour(low, mid, high, SOURCE)
