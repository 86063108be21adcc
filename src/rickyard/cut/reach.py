"""One log: the best sequence of pieces at given prices, by dynamic programming over the places where a piece may end.

Why it is exact: take any plan and move each piece, from the thick end on, to the least place still allowed. Its
volume does not fall, its thin end gets no thinner, and more room is left behind it. So some best plan has every
piece at its least place, and only the places where pieces then end need be looked at. A state is such an end with
the value so far. One that ends no sooner and is worth no more than another is dropped; so is one that could not
pass the best known plan even if all wood behind it went at the dearest price.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, cast

import numba
import numpy as np
from numpy.typing import NDArray

from rickyard.cut.logs import TOLERANCE_M, Cut, CutLog, Saw, Ware, sound_stretches

Floats = NDArray[np.float64]

TIE_SHARE = 1e-9
"""Value of the whole log, as a share, that one piece more must bring: of equal plans the one with fewer pieces."""

SAME_M = 1e-9
"""Ends of pieces that differ by less are one place [m]: what sums of floats leave over."""

EPS_M = TOLERANCE_M / 10.0
"""Rounding allowed where a piece just fits [m]: a tenth of what counts as the same length."""


def _compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compiled by numba, kept on disk where that is possible; exact arithmetic, since fits are to the millimetre."""
    try:
        made = numba.njit(cache=True, nogil=True)(function)
    except RuntimeError:  # numba: "cannot cache function: no locator available"
        made = numba.njit(nogil=True)(function)
    return cast(Callable[..., Any], made)


@dataclass(frozen=True)
class Track:
    """A log made ready for the search.

    Attributes
    ----------
    starts, ends
        Sound stretches [m].
    lengths, of
        Kinds of pieces: their lengths [m], and the ware of each. First every ware at its full length, in their order,
        then their shortest and longest; a kind is one ware for the search, its wood counts for the ware.
    first
        For each kind the first place where the log is thin enough for it [m].
    last
        For each kind the last place where a piece may end for the log to be thick enough [m].
    """

    log: CutLog
    starts: Floats
    ends: Floats
    lengths: Floats
    of: NDArray[np.int64]
    first: Floats
    last: Floats
    kerf_m: float


def track(log: CutLog, wares: Sequence[Ware], saw: Saw) -> Track:
    """The log with its stretches and the bounds that diameters set."""
    stretches = sound_stretches(log, saw.trim_m)
    slope = (log.large_d_m - log.small_d_m) / log.length_m  # fall of the diameter per metre, never negative
    first, last = [], []
    for ware in wares:
        begin, end = 0.0, log.length_m
        # A diameter that is right within the rounding of lengths is right: a log without taper must not be lost.
        if ware.max_d_m is not None and log.large_d_m > ware.max_d_m:
            over = log.large_d_m - ware.max_d_m
            begin = over / slope if slope > 0.0 else math.inf
        if ware.min_d_m is not None and log.small_d_m < ware.min_d_m:
            under = ware.min_d_m - log.small_d_m
            end = log.length_m - under / slope if slope > 0.0 else -math.inf
        first.append(begin)
        last.append(end)
    others = [(ware.lengths_m[1:], place) for place, ware in enumerate(wares)]
    of = [*range(len(wares)), *(place for lengths, place in others for _ in lengths)]
    return Track(
        log=log,
        starts=np.array([start for start, _ in stretches], dtype=np.float64),
        ends=np.array([end for _, end in stretches], dtype=np.float64),
        lengths=np.array(
            [*(ware.length_m for ware in wares), *(length for lengths, _ in others for length in lengths)],
            dtype=np.float64,
        ),
        of=np.array(of, dtype=np.int64),
        first=np.array(first, dtype=np.float64)[of],
        last=np.array(last, dtype=np.float64)[of],
        kerf_m=saw.kerf_m,
    )


@_compiled
def _start(
    free: float, length: float, first: float, last: float, starts: Floats, ends: Floats, eps: float
) -> float:  # pragma: no cover - compiled
    """Least place at or after `free` where a piece may start; -1 if there is none."""
    for place in range(starts.size):
        if ends[place] < free:
            continue
        start = max(free, first, starts[place])
        end = start + length
        if end <= ends[place] + eps:
            return start if end <= last + eps else -1.0
    return -1.0


@_compiled
def _volume(start: float, length: float, large: float, slope: float) -> float:  # pragma: no cover - compiled
    thick = large - slope * start
    thin = thick - slope * length
    return math.pi * length / 12.0 * (thick * thick + thick * thin + thin * thin)


@_compiled
def _search(
    prices: Floats,
    order: NDArray[np.int64],
    starts: Floats,
    ends: Floats,
    lengths: Floats,
    first: Floats,
    last: Floats,
    kerf: float,
    log_length: float,
    large: float,
    slope: float,
    eps: float,
    ties: Floats,
    most: int,
) -> tuple[float, NDArray[np.int64], Floats, bool]:  # pragma: no cover - compiled
    """Best value (less `ties` for its pieces), the kinds of its pieces from the thick end, their starts, and whether
    it is proven. States come off a heap in the order of their ends.
    """
    # Wood that could still be used behind each stretch's start, for the bound.
    count = starts.size
    behind = np.zeros(count + 1)
    for place in range(count - 1, -1, -1):
        behind[place] = behind[place + 1] + _volume(starts[place], ends[place] - starts[place], large, slope)
    dearest = prices[order[0]] if order.size else 0.0

    size = 1024
    end_of = np.empty(size)
    value_of = np.empty(size)
    start_of = np.empty(size)
    ware_of = np.empty(size, dtype=np.int64)
    before = np.empty(size, dtype=np.int64)
    end_of[0] = -1.0
    value_of[0] = 0.0
    start_of[0] = 0.0
    ware_of[0] = -1
    before[0] = -1
    made = 1
    heap = [(-1.0, 0)]
    best, best_at = 0.0, 0
    known = 0.0
    # A plan to beat: the dearest ware that fits, again and again.
    free = 0.0
    while True:
        found = False
        for ware in order:
            start = _start(free, lengths[ware], first[ware], last[ware], starts, ends, eps)
            if start >= 0.0:
                known += prices[ware] * _volume(start, lengths[ware], large, slope) - ties[ware]
                free = start + lengths[ware] + kerf
                found = True
                break
        if not found:
            break
    if known < 0.0:
        known = 0.0
    front = -1.0
    proven = True
    while len(heap) > 0:
        end, at = heapq.heappop(heap)
        value = value_of[at]
        # The same pieces in another order end at the same place: of all that do, only the best goes on.
        while len(heap) > 0 and heap[0][0] <= end + SAME_M:
            _, other = heapq.heappop(heap)
            if value_of[other] > value:
                at = other
                value = value_of[other]
        end = end_of[at]
        if value <= front:
            continue
        front = value
        if value > best:
            best, best_at = value, at
            known = max(known, best)
        free = end + kerf if at > 0 else 0.0
        left = 0.0
        for place in range(count):
            if ends[place] > free:
                begin = max(free, starts[place])
                left = behind[place + 1] + _volume(begin, ends[place] - begin, large, slope)
                break
        if value + dearest * left < known:
            continue
        for ware in order:
            start = _start(free, lengths[ware], first[ware], last[ware], starts, ends, eps)
            if start < 0.0:
                continue
            worth = value + prices[ware] * _volume(start, lengths[ware], large, slope) - ties[ware]
            if worth <= value:
                continue
            if made == size:
                if made >= most:
                    proven = False
                    continue
                grown = 2 * size
                end_of = np.concatenate((end_of, np.empty(grown - size)))
                value_of = np.concatenate((value_of, np.empty(grown - size)))
                start_of = np.concatenate((start_of, np.empty(grown - size)))
                ware_of = np.concatenate((ware_of, np.empty(grown - size, dtype=np.int64)))
                before = np.concatenate((before, np.empty(grown - size, dtype=np.int64)))
                size = grown
            end_of[made] = start + lengths[ware]
            value_of[made] = worth
            start_of[made] = start
            ware_of[made] = ware
            before[made] = at
            heapq.heappush(heap, (end_of[made], made))
            made += 1
    pieces = 0
    at = best_at
    while at > 0:
        pieces += 1
        at = before[at]
    wares = np.empty(pieces, dtype=np.int64)
    begins = np.empty(pieces)
    at = best_at
    for place in range(pieces - 1, -1, -1):
        wares[place] = ware_of[at]
        begins[place] = start_of[at]
        at = before[at]
    return best, wares, begins, proven


MOST_STATES = 4_000_000
"""States of one log at most; none met so far came near."""


def best_cuts(ready: Track, prices: Floats, off_share: float = 0.0) -> tuple[float, tuple[Cut, ...]]:
    """The best plan of one log at these prices [money/m³, by ware]: its value, less the tie-break, and its pieces.

    The value is an upper bound on that of any other plan of the log, within the tie-break. With an `off_share` the wood
    of pieces that are not full counts so much less [share], and the value is of what counts.
    """
    log = ready.log
    each = prices[ready.of]
    each[prices.size :] *= 1.0 - off_share
    order = np.argsort(-each, kind="stable")
    order = order[each[order] > 0.0].astype(np.int64)
    if not order.size or not ready.starts.size:
        return 0.0, ()
    slope = (log.large_d_m - log.small_d_m) / log.length_m
    tie = TIE_SHARE * float(prices.max()) * log.volume_m3()
    # Of plans worth the same the one with fewer pieces, then the one with more of them full.
    ties = np.where(np.arange(each.size) < prices.size, tie, 1.5 * tie)
    value, kinds, begins, proven = _search(
        each,
        order,
        ready.starts,
        ready.ends,
        ready.lengths,
        ready.first,
        ready.last,
        ready.kerf_m,
        log.length_m,
        log.large_d_m,
        slope,
        EPS_M,
        ties,
        MOST_STATES,
    )
    if not proven:
        raise RuntimeError(f"log {log.log_id}: more than {MOST_STATES} states")
    cuts = tuple(
        made_cut(log, float(begin), float(ready.lengths[kind]), int(ready.of[kind]))
        for kind, begin in zip(kinds, begins, strict=True)
    )
    return float(value) + float(ties[kinds].sum()), cuts


def made_cut(log: CutLog, start_m: float, length_m: float, ware: int) -> Cut:
    """A piece from its start; its end is not pushed past the log's by rounding."""
    end = min(start_m + length_m, log.length_m)
    return Cut(start_m, end, ware, log.volume_m3(start_m, end))


def least_start(ready: Track, free_m: float, kind: int) -> float | None:
    """The least place at or after `free_m` where a piece of this kind may start [m]. A ware's own number is that of its
    full pieces."""
    found = float(
        _start(
            free_m,
            float(ready.lengths[kind]),
            float(ready.first[kind]),
            float(ready.last[kind]),
            ready.starts,
            ready.ends,
            EPS_M,
        )
    )
    return None if found < 0.0 else found


def every_sequence(ready: Track, wares: Sequence[int], most: int) -> list[tuple[Cut, ...]] | None:
    """All sequences of pieces, each at its least place, that cannot be made longer; None if more than `most`.

    A sequence that can be lengthened gives no more of any ware than the longer one.
    """
    log = ready.log
    kinds = [kind for ware in wares for kind in np.flatnonzero(ready.of == ware).tolist()]
    found: list[tuple[Cut, ...]] = []
    todo: list[tuple[Cut, ...]] = [()]
    seen = 0
    while todo:
        cuts = todo.pop()
        seen += 1
        if seen > most:
            return None
        free = cuts[-1].to_m + ready.kerf_m if cuts else 0.0
        longer = False
        for kind in kinds:
            start = least_start(ready, free, kind)
            if start is not None:
                piece = made_cut(log, start, float(ready.lengths[kind]), int(ready.of[kind]))
                todo.append((*cuts, piece))
                longer = True
        if not longer:
            found.append(cuts)
    return found
