"""Hours and pieces a cord: published figures until the yard has timed its own, then more and more its own.

The logarithm of the hours a cord has a normal prior about the published figure; each timed session tells it
with an error of its own, less for a large session. The published figures are of one book's test, second-hand, and
of single practitioners: the prior is wide.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

from rickyard.errors import InputError
from rickyard.measure import CORD_M3, Spread, solid_share
from rickyard.measure.limits import within
from rickyard.measure.spread import TO_10_90
from rickyard.text import T_

PRIOR_SD = 0.5
"""Standard deviation of the logarithm of a yard's hours about the published figure: a judgement. Operators differ
widely (Lindroos 2008, Silva Fennica 42(5) article 227, abstract); a beginner reports tenfold."""

SESSION_SD = 0.30
"""Of one session about the yard's mean, and of a cord about its session's: a judgement."""

PIECES_PRIOR_SD = 0.35
"""Of the logarithm of pieces a cord about what the sizes say: a judgement."""

TIMED_LENGTH_M, TIMED_THICKNESS_M = 0.41, 0.12
"""The pieces that the published cords are taken to be of [m]; the tests do not say."""

SPLITTING = "splitting"
BY_PIECES = ("sawing", SPLITTING)
"""Steps whose hours go with the number of pieces."""

HOURS = (0.01, 1000.0)
CORDS = (0.01, 1000.0)


@dataclass(frozen=True)
class Method:
    """A way of splitting with its published hours a cord; what was read, and where."""

    id: str
    hours_per_cord: float
    basis: str
    source: str


@cache
def methods() -> dict[str, Method]:
    """All ways of splitting that were found timed."""
    text = resources.files("rickyard.cut").joinpath("data", "splitting_hours.csv").read_text(encoding="utf-8")
    return {
        row["method"]: Method(row["method"], float(row["hours_per_cord"]), row["basis"], row["source"])
        for row in csv.DictReader(text.splitlines())
    }


def find_method(name: str) -> Method:
    """Raises InputError for the field method, with all that are known."""
    known = methods()
    key = name.strip().casefold().replace(" ", "_").replace("-", "_")
    if key not in known:
        raise InputError(
            "method",
            wanted=T_("one of {names}", names=", ".join(known)),
            got=name,
            next_move=T_("Choose the nearest; the yard's own hours take over once it has timed some."),
        )
    return known[key]


@dataclass(frozen=True)
class Session:
    """Work that was timed: outside volume of ranked wood [cords], hours of one person, pieces if counted.

    `step` is what was done with it; `method` is how it was split, and empty for the other steps.
    """

    method: str
    cords: float
    hours: float
    pieces: int | None = None
    step: str = SPLITTING
    piece_length_m: float = TIMED_LENGTH_M

    @property
    def hours_of_timed_length(self) -> float:
        """Hours that pieces of the length of the published figures would have taken: a cut and a split for each
        piece, which is an assumption. Other steps go by the wood alone."""
        return self.hours * self.piece_length_m / TIMED_LENGTH_M if self.step in BY_PIECES else self.hours


@dataclass(frozen=True)
class Rate:
    """Hours (or pieces) a cord: 10th percentile, middle, 90th; sessions behind it; share of the yard's own say."""

    per_cord: Spread
    sessions: int
    own_share: float


def hours_per_cord(method: str, sessions: Sequence[Session] = ()) -> Rate:
    """Hours of one person for splitting a cord of pieces of 41 cm, by the yard's records of that method on the
    published figure."""
    prior = find_method(method)
    own = [one for one in sessions if one.step == SPLITTING and find_method(one.method).id == prior.id]
    return learnt_hours(prior.hours_per_cord, PRIOR_SD, own)


def learnt_hours(prior: float, sd: float, sessions: Sequence[Session]) -> Rate:
    """Hours a cord by these sessions on a figure that stands without them; `sd` is how far that may be off [log]."""
    for one in sessions:
        within("hours", one.hours, HOURS, "h")
        within("cords", one.cords, CORDS, "cords")
    told = [
        (math.log(one.hours_of_timed_length / one.cords), SESSION_SD**2 * (1.0 + 1.0 / one.cords))
        for one in sessions
    ]
    return _posterior(math.log(prior), sd, told)


def pieces_per_cord(thickness_m: float, length_m: float, sessions: Sequence[Session] = ()) -> Rate:
    """Pieces in a ranked cord of splits as thick as broad, by the yard's counts on what the sizes say."""
    counted = [one for one in sessions if one.step == SPLITTING and one.pieces is not None]
    told = [
        (
            math.log(within("pieces", float(one.pieces or 0), (1.0, 1e6), "") / one.cords),
            SESSION_SD**2 * (0.25 + 0.25 / one.cords),
        )
        for one in counted
    ]
    return _posterior(math.log(expected_pieces(thickness_m, length_m)), PIECES_PRIOR_SD, told)


def expected_pieces(thickness_m: float, length_m: float) -> float:
    """Pieces in a ranked cord from their size and the published solid share alone."""
    share = solid_share("ranked", "split", length_m)
    return CORD_M3 * share.mid / (thickness_m * thickness_m * length_m)


def hours_for(rate: Rate, pieces_per_cord_: float) -> Spread:
    """Hours a cord for pieces of another size: each has to be set, split and thrown once, which is an assumption."""
    return rate.per_cord.scaled(pieces_per_cord_ / expected_pieces(TIMED_THICKNESS_M, TIMED_LENGTH_M))


def _posterior(prior: float, sd: float, told: Sequence[tuple[float, float]]) -> Rate:
    weight = 1.0 / sd**2
    total = weight + sum(1.0 / variance for _, variance in told)
    mean = (weight * prior + sum(value / variance for value, variance in told)) / total
    reach = TO_10_90 / math.sqrt(total)
    spread = Spread(math.exp(mean - reach), math.exp(mean), math.exp(mean + reach))
    return Rate(spread, len(told), 1.0 - weight / total)
