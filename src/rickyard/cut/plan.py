"""The cutting plan: logs and wares in, a sequence of pieces for each log out, with a bound on any plan's value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rickyard.cut.logs import TOLERANCE_M, Cut, CutLog, Saw, Ware, counted_m3
from rickyard.cut.quotas import Method, choose, volumes_of
from rickyard.cut.reach import Track, best_cuts, track
from rickyard.errors import InputError
from rickyard.text import T_

MOST_WARES = 40

OFF_LENGTH_SHARE = 0.01
"""Of a log's value, what may be given up for pieces at their full length where a ware has a tolerance. A customer who
asks for 16 in wants 16 in, and every piece more is a cut more. Judgement, no source."""


@dataclass(frozen=True)
class LogPlan:
    """A log, its pieces from the thick end on, and the rest of its volume [m³]."""

    log: CutLog
    cuts: tuple[Cut, ...]

    @property
    def waste_m3(self) -> float:
        return self.log.volume_m3() - sum(cut.solid_m3 for cut in self.cuts)


@dataclass(frozen=True)
class CutPlan:
    """Attributes
    ----------
    logs
        In the order given.
    wares, saw
        As given.
    bound
        No plan can be worth more. Where a ware has a tolerance, the plan itself may be worth up to `OFF_LENGTH_SHARE`
        less than the best, for the sake of pieces at full length.
    method
        `single`, `every_sequence`, `columns` or `prices`; the last is a heuristic with a bound. See `cut.quotas`.
    """

    logs: tuple[LogPlan, ...]
    wares: tuple[Ware, ...]
    saw: Saw
    bound: float
    method: Method

    @property
    def solid_m3(self) -> list[float]:
        """Volume of each ware [m³]."""
        found = [0.0] * len(self.wares)
        for one in self.logs:
            for cut in one.cuts:
                found[cut.ware] += cut.solid_m3
        return found

    @property
    def counted_m3(self) -> list[float]:
        """Of that, what counts [m³]."""
        return counted_m3(self.wares, self.solid_m3)

    @property
    def value(self) -> float:
        return plan_value(self.wares, self.solid_m3)

    @property
    def gap(self) -> float:
        """How much better another plan could be at most [share of the bound]."""
        return 0.0 if self.bound <= 0.0 else max(0.0, self.bound - self.value) / self.bound

    def pieces(self, ware: int) -> int:
        return sum(cut.ware == ware for one in self.logs for cut in one.cuts)


def plan_value(wares: Sequence[Ware], solid_m3: Sequence[float]) -> float:
    """Worth of so much of each ware: what counts of it, times its value."""
    return sum(
        ware.value_per_m3 * counted for ware, counted in zip(wares, counted_m3(wares, solid_m3), strict=True)
    )


def plan_cuts(logs: Sequence[CutLog], wares: Sequence[Ware], saw: Saw | None = None) -> CutPlan:
    """Where to cut each log so that all together are worth most.

    Raises
    ------
    InputError
        For the field logs or wares: none, or more than can be planned.
    """
    if not logs:
        raise InputError(
            "logs", wanted=T_("at least one log"), got=T_("none"), next_move=T_("Give the list of logs.")
        )
    if not 0 < len(wares) <= MOST_WARES:
        raise InputError(
            "wares",
            wanted=T_("from 1 to {most} wares", most=MOST_WARES),
            got=str(len(wares)),
            next_move=T_("Give the lengths that are sold, each with its value."),
        )
    saw = saw or Saw()
    tracks = [track(log, wares, saw) for log in logs]
    chosen = choose(tracks, wares)
    sequences = without_surplus(_fuller(tracks, chosen.sequences, wares), wares)
    made = CutPlan(
        tuple(LogPlan(log, cuts) for log, cuts in zip(logs, sequences, strict=True)),
        tuple(wares),
        saw,
        chosen.bound,
        chosen.method,
    )
    # Rounding in the solver or the tie-break may leave the bound a hair under a plan that is the best.
    return made if made.bound >= made.value else _with_bound(made, made.value)


def _fuller(
    tracks: Sequence[Track], sequences: Sequence[tuple[Cut, ...]], wares: Sequence[Ware]
) -> tuple[tuple[Cut, ...], ...]:
    """Log by log, for its own wares: pieces at full length where that gives up little of the log's value.

    The tolerance is there to use up a log's end, not to cut all of it short for the sake of a finger's breadth.
    """
    if not any(ware.tolerance_m for ware in wares):
        return tuple(sequences)
    total = np.sum([volumes_of(cuts, len(wares)) for cuts in sequences], axis=0)
    kept: list[tuple[Cut, ...]] = []
    for ready, cuts in zip(tracks, sequences, strict=True):
        kept.append(cuts)
        if not _off_length(cuts, wares):
            continue
        own = {cut.ware for cut in cuts}
        prices = np.array([ware.value_per_m3 if place in own else 0.0 for place, ware in enumerate(wares)])
        other = best_cuts(ready, prices, OFF_LENGTH_SHARE)[1]
        volumes = volumes_of(cuts, len(wares))
        after = total - volumes + volumes_of(other, len(wares))
        given_up = plan_value(wares, total.tolist()) - plan_value(wares, after.tolist())
        if _off_length(other, wares) < _off_length(cuts, wares) and given_up <= OFF_LENGTH_SHARE * float(
            prices @ volumes
        ):
            kept[-1], total = other, after
    return tuple(kept)


def _off_length(cuts: Sequence[Cut], wares: Sequence[Ware]) -> int:
    """Pieces that are not as long as their ware."""
    return sum(abs(cut.to_m - cut.from_m - wares[cut.ware].length_m) > TOLERANCE_M for cut in cuts)


def _with_bound(plan: CutPlan, bound: float) -> CutPlan:
    return CutPlan(plan.logs, plan.wares, plan.saw, bound, plan.method)


def without_surplus(
    sequences: Sequence[tuple[Cut, ...]], wares: Sequence[Ware]
) -> tuple[tuple[Cut, ...], ...]:
    """Leaves out pieces that nobody wants: the wood stays in the log. The value stays the same.

    From the last log on and from the thin end on, so that what is left of a log lies in one length.
    """
    volume = [0.0] * len(wares)
    for cuts in sequences:
        for cut in cuts:
            volume[cut.ware] += cut.solid_m3
    kept: list[tuple[Cut, ...]] = []
    for cuts in reversed(sequences):
        stay: list[Cut] = []
        for cut in reversed(cuts):
            wanted = wares[cut.ware].wanted_m3
            if wanted is not None and volume[cut.ware] - cut.solid_m3 >= wanted:
                volume[cut.ware] -= cut.solid_m3
            else:
                stay.append(cut)
        kept.append(tuple(reversed(stay)))
    return tuple(reversed(kept))
