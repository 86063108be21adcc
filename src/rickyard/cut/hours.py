"""Hours and pieces a cord: published figures until the yard has timed its own, then more and more its own.

The logarithm of the hours a cord has a normal prior about the published figure; each timed session tells it
with an error of its own, less for a large session. The published figures are of one book's test, second-hand, and
of single practitioners: the prior is wide.

Two things are asked. `hours_per_cord` is for wood of which no thickness is known, as on an offer: the yard's
sessions count as the pieces they were of, whatever their size. `learn_splitting` is for pieces of a known size: of
each session it takes out how many pieces a cord its own size says, and learns the hours of a cord of one size, and
beside them how many pieces are counted for each that the size says. A count so never changes hours twice: where the
size of a session is known, its count teaches pieces alone; where it is not, the count tells the size.
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

SIZE_SD = 0.5
"""Of the logarithm of pieces a cord in a session of which nobody said how thick they were; they are then taken to
be as thick as those of the published cords, a quarter more or less: a judgement."""

TIMED_LENGTH_M, TIMED_THICKNESS_M = 0.41, 0.12
"""The pieces that the published cords are taken to be of [m]; the tests do not say."""

SPLITTING = "splitting"
BY_PIECES = ("sawing", SPLITTING)
"""Steps whose hours go with the number of pieces."""

HOURS = (0.01, 1000.0)
CORDS = (0.01, 1000.0)
PIECES = (1.0, 1e6)


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

    `step` is what was done with it; `method` is how it was split, and empty for the other steps. `by_size`: pieces
    in a cord of it as their own size says (`expected_pieces`, `cut.cord`); None: nobody said how thick they were.
    """

    method: str
    cords: float
    hours: float
    pieces: int | None = None
    step: str = SPLITTING
    piece_length_m: float = TIMED_LENGTH_M
    by_size: float | None = None

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


@dataclass(frozen=True)
class Learnt:
    """What is known of one way of splitting.

    Attributes
    ----------
    hours
        Of one person, for a cord of pieces of the published size, `TIMED_THICKNESS_M` by `TIMED_LENGTH_M`.
    counted
        Pieces counted over those that their size says.
    """

    hours: Rate
    counted: Rate

    def hours_for(self, by_size: float) -> Spread:
        """Hours a cord of pieces of which so many make one by their size: each has to be set, split and thrown once,
        which is an assumption."""
        return self.hours.per_cord.scaled(by_size / expected_pieces(TIMED_THICKNESS_M, TIMED_LENGTH_M))

    def pieces_for(self, by_size: float) -> Spread:
        """Pieces a cord, as this yard would count them."""
        return self.counted.per_cord.scaled(by_size)


def hours_per_cord(method: str, sessions: Sequence[Session] = ()) -> Rate:
    """Hours of one person for splitting a cord of pieces of 41 cm as thick as they are usually made, by the yard's
    records of that method on the published figure."""
    prior = find_method(method)
    return learnt_hours(prior.hours_per_cord, PRIOR_SD, _of_method(prior.id, sessions))


def learnt_hours(prior: float, sd: float, sessions: Sequence[Session]) -> Rate:
    """Hours a cord by these sessions on a figure that stands without them; `sd` is how far that may be off [log]."""
    _check(sessions)
    told = [
        (math.log(one.hours_of_timed_length / one.cords), SESSION_SD**2 * (1.0 + 1.0 / one.cords))
        for one in sessions
    ]
    return _posterior(math.log(prior), sd, told)


def learn_splitting(method: str, sessions: Sequence[Session] = ()) -> Learnt:
    """Hours and pieces of one way of splitting, for pieces of any size, by the yard's records of it.

    Both logarithms are normal and learnt together: of a session whose size nobody said, that size moves the hours
    and the count alike, so that the count tells the size as far as the yard's counts can be told beforehand.
    """
    prior = find_method(method)
    own = _of_method(prior.id, sessions)
    _check(own)
    published = math.log(expected_pieces(TIMED_THICKNESS_M, TIMED_LENGTH_M))
    # Precisions of the hours, of the counts and across, and what they weigh.
    of_hours, across, of_counts = 1.0 / PRIOR_SD**2, 0.0, 1.0 / PIECES_PRIOR_SD**2
    hours_told, counts_told = of_hours * math.log(prior.hours_per_cord), 0.0
    for one in own:
        unsure = SIZE_SD**2 if one.by_size is None else 0.0
        size = math.log(one.by_size or expected_pieces(TIMED_THICKNESS_M, one.piece_length_m))
        hours = math.log(one.hours / one.cords) - (size - published)
        hours_off = SESSION_SD**2 * (1.0 + 1.0 / one.cords) + unsure
        if one.pieces is None:
            of_hours += 1.0 / hours_off
            hours_told += hours / hours_off
            continue
        more = math.log(one.pieces / one.cords) - size
        counts_off = SESSION_SD**2 * (0.25 + 0.25 / one.cords) + unsure
        whole = hours_off * counts_off - unsure * unsure
        of_hours += counts_off / whole
        of_counts += hours_off / whole
        across -= unsure / whole
        hours_told += (counts_off * hours - unsure * more) / whole
        counts_told += (hours_off * more - unsure * hours) / whole
    whole = of_hours * of_counts - across * across
    counted = sum(one.pieces is not None for one in own)
    return Learnt(
        _rate((of_counts * hours_told - across * counts_told) / whole, of_counts / whole, PRIOR_SD, len(own)),
        _rate(
            (of_hours * counts_told - across * hours_told) / whole, of_hours / whole, PIECES_PRIOR_SD, counted
        ),
    )


def expected_pieces(thickness_m: float, length_m: float) -> float:
    """Pieces in a ranked cord of splits as thick as broad, from their size and the published solid share alone."""
    share = solid_share("ranked", "split", length_m)
    return CORD_M3 * share.mid / (thickness_m * thickness_m * length_m)


def _of_method(method: str, sessions: Sequence[Session]) -> list[Session]:
    return [one for one in sessions if one.step == SPLITTING and find_method(one.method).id == method]


def _check(sessions: Sequence[Session]) -> None:
    for one in sessions:
        within("hours", one.hours, HOURS, "h")
        within("cords", one.cords, CORDS, "cords")
        if one.pieces is not None:
            within("pieces", float(one.pieces), PIECES, "")


def _posterior(prior: float, sd: float, told: Sequence[tuple[float, float]]) -> Rate:
    weight = 1.0 / sd**2
    total = weight + sum(1.0 / variance for _, variance in told)
    mean = (weight * prior + sum(value / variance for value, variance in told)) / total
    return _rate(mean, 1.0 / total, sd, len(told))


def _rate(mean: float, variance: float, prior_sd: float, sessions: int) -> Rate:
    """Of a normal logarithm; the yard's own say is what it took of the variance that stood without it."""
    reach = TO_10_90 * math.sqrt(variance)
    spread = Spread(math.exp(mean - reach), math.exp(mean), math.exp(mean + reach))
    return Rate(spread, sessions, 1.0 - variance / prior_sd**2 if sessions else 0.0)
