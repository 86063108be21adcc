"""What a plan comes to: saw cuts, sawdust, short ends for kindling, bark, and the same logs cut as a person does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from rickyard.cut.logs import TOLERANCE_M, Cut, CutLog, Saw, Ware, sound_stretches
from rickyard.cut.plan import CutPlan, LogPlan, plan_value
from rickyard.cut.reach import least_start, made_cut, track
from rickyard.errors import UnknownNameError
from rickyard.wood import find_species

KINDLING_LENGTH_M = 0.10
"""Sound wood left over is worth splitting to kindling from this length on [m]: a judgement."""


@dataclass(frozen=True)
class Mark:
    """A saw cut on a log.

    Attributes
    ----------
    at_m
        Where the tape is marked, from the thick end [m]: an end of a piece.
    side
        On which side of the mark the saw takes its wood: `far` (away from the thick end) or `near`.
    """

    at_m: float
    side: str


@dataclass(frozen=True)
class Sums:
    """Where the wood of logs goes [m³]; together with the wares' pieces it is the whole of the logs.

    Attributes
    ----------
    cuts
        Saw cuts.
    sawdust_m3
        Kerf times the area at each cut.
    kindling_m3
        Sound wood left over in lengths of at least `KINDLING_LENGTH_M`.
    scrap_m3
        Defects, trimmed-off ends and what is shorter.
    bark_m3
        Bark on the pieces, beside the wood; of the logs whose species is known.
    bark_unknown
        Logs whose species is not known.
    """

    cuts: int
    sawdust_m3: float
    kindling_m3: float
    scrap_m3: float
    bark_m3: float
    bark_unknown: int


def marks_of(plan: LogPlan, saw: Saw) -> tuple[Mark, ...]:
    """Saw cuts of a log from the thick end on: at both ends of every piece, one where two follow a kerf apart."""
    found: list[Mark] = []
    cuts = plan.cuts
    for place, cut in enumerate(cuts):
        before = cuts[place - 1].to_m if place else None
        shared = before is not None and cut.from_m - before <= saw.kerf_m + TOLERANCE_M
        if not shared and cut.from_m > TOLERANCE_M:
            found.append(Mark(cut.from_m, "near"))
        if cut.to_m < plan.log.length_m - TOLERANCE_M:
            found.append(Mark(cut.to_m, "far"))
    return tuple(found)


def sums_of(plan: CutPlan) -> Sums:
    """Sums of a whole plan."""
    parts = [_sums(one, plan.saw) for one in plan.logs]
    return Sums(
        cuts=sum(part.cuts for part in parts),
        sawdust_m3=sum(part.sawdust_m3 for part in parts),
        kindling_m3=sum(part.kindling_m3 for part in parts),
        scrap_m3=sum(part.scrap_m3 for part in parts),
        bark_m3=sum(part.bark_m3 for part in parts),
        bark_unknown=sum(part.bark_unknown for part in parts),
    )


def _sums(plan: LogPlan, saw: Saw) -> Sums:
    log, marks = plan.log, marks_of(plan, saw)
    sawn: list[tuple[float, float]] = []
    for mark in marks:
        start = mark.at_m if mark.side == "far" else mark.at_m - saw.kerf_m
        # Two cuts in a gap narrower than two kerfs take the gap, not more.
        start = max(start, sawn[-1][1] if sawn else 0.0)
        end = min(mark.at_m + saw.kerf_m if mark.side == "far" else mark.at_m, log.length_m)
        if end > start:
            sawn.append((start, end))
    sawdust = sum(log.volume_m3(start, end) for start, end in sawn)
    taken = sorted([(cut.from_m, cut.to_m) for cut in plan.cuts] + sawn)
    kindling = 0.0
    for start, end in sound_stretches(log, saw.trim_m):
        at = start
        # A saw cut may begin in sound wood and end in the defect behind it: of each only what lies in this stretch.
        inside = [
            (max(begin, start), min(stop, end)) for begin, stop in taken if begin < end and stop > start
        ]
        for begin, stop in [*inside, (end, end)]:
            if begin - at >= KINDLING_LENGTH_M:
                kindling += log.volume_m3(at, begin)
            at = max(at, stop)
    ratio = bark_ratio(log.species)
    solid = sum(cut.solid_m3 for cut in plan.cuts)
    return Sums(
        cuts=len(marks),
        sawdust_m3=sawdust,
        kindling_m3=kindling,
        scrap_m3=max(0.0, plan.waste_m3 - sawdust - kindling),
        bark_m3=solid * (ratio or 0.0),
        bark_unknown=int(ratio is None),
    )


@lru_cache(maxsize=4096)
def bark_ratio(species: str) -> float | None:
    """Bark over wood by volume; None where the species is not known."""
    if not species:
        return None
    try:
        return find_species(species).bark_volume_ratio
    except UnknownNameError:
        # A list of logs to cut may call wood what it likes; only the bark hangs on it, and the sums say so.
        return None


def one_length(
    logs: Sequence[CutLog], wares: Sequence[Ware], saw: Saw, ware: int
) -> tuple[tuple[Cut, ...], ...]:
    """What a person does without a plan: one length from the butt on, past defects, until no piece fits."""
    made = []
    for log in logs:
        ready, cuts, free = track(log, wares, saw), [], 0.0
        while (start := least_start(ready, free, ware)) is not None:
            cuts.append(made_cut(log, start, wares[ware].length_m, ware))
            free = cuts[-1].to_m + saw.kerf_m
        made.append(tuple(cuts))
    return tuple(made)


@dataclass(frozen=True)
class ByHand:
    """Logs cut without a plan, and the plan beside them: value, and solid volume of the pieces [m³].

    Attributes
    ----------
    ware, value, solid_m3
        All logs at one length, that of this ware, the one then worth most.
    each_value, each_solid_m3
        Each log at one length, the one worth most for it, given what is still wanted when its turn comes.
    """

    ware: int
    value: float
    solid_m3: float
    each_value: float
    each_solid_m3: float
    plan_value: float
    plan_solid_m3: float

    @property
    def value_gain(self) -> float | None:
        """By how much the plan is worth more than all at one length [share]; None where that gives nothing."""
        return self.plan_value / self.value - 1.0 if self.value > 0.0 else None

    @property
    def each_value_gain(self) -> float | None:
        """By how much the plan is worth more than each log at its best length [share]."""
        return self.plan_value / self.each_value - 1.0 if self.each_value > 0.0 else None

    @property
    def solid_gain(self) -> float | None:
        """By how much the plan's pieces hold more wood than all at one length [share]; below zero: less."""
        return self.plan_solid_m3 / self.solid_m3 - 1.0 if self.solid_m3 > 0.0 else None

    @property
    def each_solid_gain(self) -> float | None:
        """By how much they hold more than each log at its best length [share]."""
        return self.plan_solid_m3 / self.each_solid_m3 - 1.0 if self.each_solid_m3 > 0.0 else None


def by_hand(plan: CutPlan) -> ByHand:
    """The plan beside what a person does: one length from the butt on."""
    logs, wares = [one.log for one in plan.logs], plan.wares
    made = [
        [sum(cut.solid_m3 for cut in cuts) for cuts in one_length(logs, wares, plan.saw, ware)]
        for ware in range(len(wares))
    ]
    values = [
        plan_value(wares, [sum(volumes) if place == ware else 0.0 for place in range(len(wares))])
        for ware, volumes in enumerate(made)
    ]
    best = max(range(len(wares)), key=lambda ware: values[ware])
    total = [0.0] * len(wares)
    for log in range(len(logs)):
        gains = []
        for ware, volumes in enumerate(made):
            more = [*total]
            more[ware] += volumes[log]
            gains.append(plan_value(wares, more))
        chosen = max(range(len(wares)), key=lambda ware: gains[ware])
        total[chosen] += made[chosen][log]
    return ByHand(
        ware=best,
        value=values[best],
        solid_m3=sum(made[best]),
        each_value=plan_value(wares, total),
        each_solid_m3=sum(total),
        plan_value=plan.value,
        plan_solid_m3=sum(plan.solid_m3),
    )
