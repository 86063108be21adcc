"""Backwards: to be dry by a day with given odds, how thick at most, begun when at the latest.

With the same members, thicker wood is never dry sooner and wood begun later never either, so each limit is
found by halving, to a stated tolerance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Literal

import numpy as np

from rickyard.errors import InputError
from rickyard.season.forecast import forecast
from rickyard.season.pieces import Pieces
from rickyard.season.screening import MEMBERS, screening_model
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.season.models import DryingModel
    from rickyard.weather import HourlyAir

#: Thicknesses looked at [m]; finer than anybody splits, thicker than any stove takes.
THINNEST_M, THICKEST_M = 0.03, 0.30
TOLERANCE_M = 0.002
#: How long before the day starts are looked at, and how closely [d].
EARLIEST_DAYS = 720
TOLERANCE_DAYS = 3
ODDS = (0.05, 0.99)

State = Literal["found", "always", "never"]


@dataclass(frozen=True)
class ThicknessLimit:
    """`found`: dry in time up to `thickness_m`; `always`: even at the thickest looked at, which it then is;
    `never`: not even at the thinnest, which it then is. `odds` are those at `thickness_m`.
    """

    state: State
    thickness_m: float
    odds: float
    tolerance_m: float = TOLERANCE_M


@dataclass(frozen=True)
class StartLimit:
    """`found`: dry in time if begun by `start`; `always`: even the day before; `never`: not even at the earliest."""

    state: State
    start: date
    odds: float
    tolerance_days: int = TOLERANCE_DAYS


@dataclass(frozen=True)
class Backwards:
    """Both limits, each with everything else as given."""

    by: date
    odds: float
    target_mc_wet: float
    thickness: ThicknessLimit
    start: StartLimit
    model: str
    members: int


def backwards(
    pieces: Pieces,
    air: HourlyAir,
    *,
    by: date,
    odds: float = 0.90,
    target_mc_wet: float = 0.20,
    members: int = MEMBERS,
    seed: int = 0,
    model: DryingModel | None = None,
) -> Backwards:
    """How thick these pieces may be, and how late they may be stacked, to be dry by a day.

    Parameters
    ----------
    pieces
        What dries; its thickness holds for the start limit, its day of stacking for the thickness limit.
    air
        Hours of the sky until `by`, from `pieces.stacked_on` or earlier; starts are looked at from its first
        day on, at most `EARLIEST_DAYS` before `by`.
    by, odds
        The day, and the share of members that must have been at or below the target by then.
    target_mc_wet
        What counts as dry [water / total mass].
    members, seed, model
        As in `forecast`; no model: the quick one.

    Raises
    ------
    InputError
        If `by` does not come after the stacking or the odds make no sense.
    """
    model = screening_model() if model is None else model
    if not ODDS[0] <= odds <= ODDS[1]:
        raise InputError(
            "odds",
            wanted=T_("from {low:g} to {high:g}", low=ODDS[0], high=ODDS[1]),
            got=f"{odds:g}",
            next_move=T_("0.9 is nine chances in ten."),
        )
    if by <= pieces.stacked_on:
        raise InputError(
            "by",
            wanted=T_("a day after {day}, when the wood was stacked", day=pieces.stacked_on.isoformat()),
            got=by.isoformat(),
            next_move=T_("Give a later day."),
        )

    def reached(what: Pieces) -> float:
        made = forecast(what, air, members=members, seed=seed, until=by, model=model, layers=False)
        return float(np.mean(made.ready_day(target_mc_wet) >= 0))

    def enough(share: float) -> bool:
        return share >= odds - 1e-9

    def thick(thickness_m: float) -> float:
        # Each thickness with the pace of its own class: what is found must be what its own forecast will say.
        width = pieces.width_m
        wider = None if width is None else width * thickness_m / pieces.thickness_m
        return reached(replace(pieces, thickness_m=thickness_m, width_m=wider))

    def late(days_before: float) -> float:
        return reached(replace(pieces, stacked_on=by - timedelta(days=round(days_before))))

    state, thickness_m, share = _last_good(thick, enough, THINNEST_M, THICKEST_M, TOLERANCE_M)
    earliest = min(EARLIEST_DAYS, (by - air.start).days)
    # Days before `by` fall as the start gets later: they are bisected with their sign turned.
    begun, minus_days, begun_share = _last_good(
        lambda minus: late(-minus), enough, -float(earliest), -1.0, float(TOLERANCE_DAYS)
    )
    return Backwards(
        by=by,
        odds=odds,
        target_mc_wet=target_mc_wet,
        thickness=ThicknessLimit(state, thickness_m, share),
        start=StartLimit(begun, by + timedelta(days=round(minus_days)), begun_share),
        model=model.name,
        members=members,
    )


def _last_good(
    share_at: Callable[[float], float],
    enough: Callable[[float], bool],
    low: float,
    high: float,
    tolerance: float,
) -> tuple[State, float, float]:
    """The largest value that is good enough, the good ones all lying below the bad ones."""
    at_low = share_at(low)
    if not enough(at_low):
        return "never", low, at_low
    at_high = share_at(high)
    if enough(at_high):
        return "always", high, at_high
    good = at_low
    while high - low > tolerance:
        middle = 0.5 * (low + high)
        share = share_at(middle)
        if enough(share):
            low, good = middle, share
        else:
            high = middle
    return "found", low, good
