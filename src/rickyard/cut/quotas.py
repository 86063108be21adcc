"""Many logs and wanted amounts: one sequence of pieces for each log, chosen by a mixed-integer programme.

Three ways, by size:

- *every sequence*: all sequences of every log, dominated ones dropped; the programme's answer is the best there is, to
  within `EXACT`;
- *columns*: sequences made as they are needed, each the best of its log at prices that fall as amounts fill
  (column generation, Gilmore and Gomory 1961, Operations Research 9(6):849); the linear programme's prices give a
  bound that no plan can pass, the mixed-integer programme over the sequences a plan;
- *prices*: for more logs than that, prices are sought by cutting planes (Kelley 1960, J. SIAM 8(4):703) on a part of
  the logs; all are dealt to the few prices that bear on the best mix, then changed one by one. A heuristic; the bound
  is that of the best prices.

At any prices of at most the wares' own, the sum over the logs of each one's best value at them, and of what the
wanted amounts are worth beyond them, is a bound (Lagrange). The two papers are cited from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_array, hstack, vstack

from rickyard.cut.logs import Cut, Ware
from rickyard.cut.reach import Track, best_cuts, every_sequence

Floats = NDArray[np.float64]
Method = Literal["single", "every_sequence", "columns", "prices"]

MOST_SEQUENCES = 20_000
"""Sequences of one log that are tried out one by one."""

MOST_SEQUENCES_IN_ALL = 60_000
"""And of all logs together."""

MOST_LOGS_BY_SEQUENCES = 40
"""Logs of which all sequences are tried; of more the columns are as good, and sooner found."""

MOST_LOGS_BY_COLUMNS = 500
"""Logs for which the programme is solved; more go by prices alone."""

ROUNDS = 40
"""Rounds of making columns at most."""

PRICE_ROUNDS = 30
"""Rounds of seeking prices at most."""

SAMPLED_LOGS = 600
"""Logs on which prices are sought first, where there are more."""

LEAST_SHARE, MOST_MIXED = 0.03, 5
"""Prices are left out of the mix that bear less on it, or that would be one too many."""

ENOUGH = 3e-4
"""Gap at which the search stops when sequences cannot all be tried [share]."""

PERTURBED = 1_200
"""Columns made at prices near the last ones, so that the programme has something to choose from: in all."""

EXACT = 1e-5
"""Gap at which the search stops when all sequences are tried [share]: a cent in a thousand of money."""

MOST_NODES = 3_000
"""Nodes of the programme's search over all sequences."""

NODES = 150
"""Nodes of the programme's search over columns. A count, not a clock, so that the answer is the same everywhere."""

SMALL = 40
"""Logs of a small list: one log more or less for a ware counts for most there, so the search is wider."""

SMALL_NEAR = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
"""How near the last prices those are at which a small list's other columns are made [log sd]."""

SMALL_PERTURBED = 2_400
"""Columns made so for a small list: in all."""

SMALL_NODES = 1_500
"""Nodes of the programme's search over the columns of a small list."""

LONGEST_S = 60.0
"""But no search goes on for longer than this [s]; only a search cut short by it may differ between machines."""


_Sequence = tuple[tuple[int, float, float], ...]
"""Pieces by ware, start and end [m, rounded]: what tells sequences of a log apart."""


@dataclass(frozen=True)
class Chosen:
    """A sequence for each log, the bound on any plan's value, and how they were found."""

    sequences: tuple[tuple[Cut, ...], ...]
    bound: float
    method: Method


@dataclass
class _Pool:
    """Sequences of each log met so far; none twice."""

    count: int
    wares: int
    cuts: list[tuple[Cut, ...]] = field(default_factory=list)
    log: list[int] = field(default_factory=list)
    volumes: list[Floats] = field(default_factory=list)
    _seen: set[tuple[int, _Sequence]] = field(default_factory=set)

    def add(self, log: int, cuts: tuple[Cut, ...]) -> bool:
        key = (log, _key(cuts))
        if not cuts or key in self._seen:
            return False
        self._seen.add(key)
        self.cuts.append(cuts)
        self.log.append(log)
        self.volumes.append(volumes_of(cuts, self.wares))
        return True


def volumes_of(cuts: Sequence[Cut], wares: int) -> Floats:
    """Solid volume of each ware in a sequence [m³]."""
    found = np.zeros(wares)
    for cut in cuts:
        found[cut.ware] += cut.solid_m3
    return found


def choose(tracks: Sequence[Track], wares: Sequence[Ware], *, seed: int = 0) -> Chosen:
    """A sequence for each log, with a bound. The same input gives the same answer."""
    prices = np.array([0.0 if ware.wanted_m3 == 0.0 else ware.value_per_m3 for ware in wares])
    wanted = np.array([np.inf if ware.wanted_m3 is None else ware.wanted_m3 for ware in wares])
    if np.isinf(wanted[prices > 0.0]).all():
        found = [best_cuts(ready, prices) for ready in tracks]
        return Chosen(tuple(cuts for _, cuts in found), sum(value for value, _ in found), "single")
    useful = [int(ware) for ware in np.argsort(-prices, kind="stable") if prices[ware] > 0.0]
    pool = _every(tracks, useful, len(wares)) if len(tracks) <= MOST_LOGS_BY_SEQUENCES else None
    if pool is not None:
        made = _programme(pool, prices, wanted, gap=EXACT, nodes=MOST_NODES)
        # No plan at all in the longest time, on a slow machine: the columns are fewer.
        if made is not None:
            return Chosen(*made, "every_sequence")
    if len(tracks) <= MOST_LOGS_BY_COLUMNS:
        return by_columns(tracks, prices, wanted, seed)
    return _by_prices(tracks, prices, wanted)


def _every(tracks: Sequence[Track], useful: Sequence[int], wares: int) -> _Pool | None:
    pool = _Pool(len(tracks), wares)
    left = MOST_SEQUENCES_IN_ALL
    for place, ready in enumerate(tracks):
        # Refused at once where it must be too much: half the pieces that fit, in every order.
        kinds = ready.lengths[np.isin(ready.of, useful)]
        shortest = float(kinds.min(initial=np.inf)) if kinds.size else 1.0
        room = sum(float(end - start) for start, end in zip(ready.starts, ready.ends, strict=True))
        if kinds.size > 1 and kinds.size ** (room / (shortest + ready.kerf_m) / 2.0) > 4 * MOST_SEQUENCES:
            return None
        found = every_sequence(ready, useful, min(MOST_SEQUENCES, left))
        if found is None:
            return None
        left -= len(found)
        for cuts in _undominated(found, wares):
            pool.add(place, cuts)
    return pool


def _undominated(found: list[tuple[Cut, ...]], wares: int) -> list[tuple[Cut, ...]]:
    """Sequences of which no other has as much of every ware; of two alike the one with fewer pieces."""
    order = sorted(found, key=len)
    volumes = np.array([volumes_of(cuts, wares) for cuts in order])
    by_volume = np.argsort(-volumes.sum(axis=1), kind="stable")
    kept: list[int] = []
    front = np.empty((len(order), wares))
    for place in by_volume:
        if kept and (front[: len(kept)] >= volumes[place] - 1e-12).all(axis=1).any():
            continue
        front[len(kept)] = volumes[place]
        kept.append(int(place))
    return [order[place] for place in kept]


def _matrix(pool: _Pool) -> tuple[csr_array, csr_array]:
    """Volumes (ware by column), and which log a column is of."""
    columns = len(pool.cuts)
    volumes = csr_array(np.array(pool.volumes).reshape(columns, pool.wares).T)
    of_log = csr_array(
        (np.ones(columns), (np.array(pool.log, dtype=np.int64), np.arange(columns))),
        shape=(pool.count, columns),
    )
    return volumes, of_log


def _programme(
    pool: _Pool, prices: Floats, wanted: Floats, *, gap: float, nodes: int
) -> tuple[tuple[tuple[Cut, ...], ...], float] | None:
    """The best choice among the sequences of the pool, and the solver's bound on it; None if time ran out before any
    was found."""
    empty: list[tuple[Cut, ...]] = [()] * pool.count
    if not pool.cuts:
        return tuple(empty), 0.0
    volumes, of_log = _matrix(pool)
    columns, wares = len(pool.cuts), pool.wares
    pieces = np.array([len(cuts) for cuts in pool.cuts], dtype=np.float64)
    # Of plans worth the same the one with fewer pieces, as for one log.
    most = np.zeros(pool.count)
    np.maximum.at(most, pool.log, pieces)
    worth = float(prices @ np.minimum(wanted, np.array(pool.volumes).sum(axis=0)))
    slack = 1e-7 * worth
    tie = slack / max(1.0, float(most.sum()))
    made = milp(
        np.concatenate([tie * pieces, -prices]),
        constraints=[
            LinearConstraint(hstack([-volumes, csr_array(np.eye(wares))]).tocsr(), -np.inf, 0.0),
            LinearConstraint(hstack([of_log, csr_array((pool.count, wares))]).tocsr(), -np.inf, 1.0),
        ],
        integrality=np.concatenate([np.ones(columns), np.zeros(wares)]),
        bounds=Bounds(0.0, np.concatenate([np.ones(columns), np.where(np.isinf(wanted), 1e9, wanted)])),
        options={"mip_rel_gap": gap, "node_limit": nodes, "time_limit": LONGEST_S, "presolve": True},
    )
    if made.x is None:
        return None
    for column in np.flatnonzero(made.x[:columns] > 0.5):
        empty[pool.log[int(column)]] = pool.cuts[int(column)]
    return tuple(empty), -float(made.mip_dual_bound) + slack


def _lagrange(
    tracks: Sequence[Track], at: Floats, prices: Floats, wanted: Floats
) -> tuple[float, list[tuple[Cut, ...]], Floats]:
    """Bound at prices `at`, each log's best sequence at them, and what they make of each ware in all."""
    bound, best, volumes = 0.0, [], np.zeros(len(prices))
    # What is wanted without limit is worth its price to the last; a price below it would make no bound.
    at = np.where(np.isinf(wanted), prices, at)
    for ready in tracks:
        value, cuts = best_cuts(ready, at)
        bound += value
        best.append(cuts)
        volumes += volumes_of(cuts, len(prices))
    limited = np.isfinite(wanted)
    bound += float(((prices - at)[limited] * wanted[limited]).sum())
    return bound, best, volumes


def by_columns(tracks: Sequence[Track], prices: Floats, wanted: Floats, seed: int = 0) -> Chosen:
    """By sequences that are made as they are needed; the bound is that of the linear programme."""
    small = len(tracks) <= SMALL
    enough = EXACT if small else ENOUGH
    pool = _Pool(len(tracks), len(prices))
    bound = np.inf
    at = prices
    for _ in range(ROUNDS):
        found, best, _ = _lagrange(tracks, at, prices, wanted)
        bound = min(bound, found)
        fresh = [pool.add(place, cuts) for place, cuts in enumerate(best)]
        value, at = _relaxed(pool, prices, wanted)
        if not any(fresh) or bound - value <= 0.5 * enough * bound:
            break
    # Sequences that are nearly as good: the linear programme mixes two for a log, a plan may not.
    rng = np.random.default_rng(seed)
    usual = min(12, 1 + PERTURBED // len(tracks))
    first = None
    for turn in range(min(400, usual + SMALL_PERTURBED // len(tracks)) if small else usual):
        if small and turn == usual:
            # Among more columns the search may end sooner than it finds as good a plan.
            first = _programme(pool, prices, wanted, gap=ENOUGH, nodes=NODES)
        sd = 0.05 if turn < usual else SMALL_NEAR[turn % len(SMALL_NEAR)]
        near = at * np.exp(sd * rng.standard_normal(len(at)))
        if turn >= usual:
            # A ware whose price fell to nothing in the linear programme would be in no sequence.
            near += sd * prices * rng.random(len(at))
        near = np.minimum(near, prices)
        for place, ready in enumerate(tracks):
            pool.add(place, best_cuts(ready, near)[1])
    made = _programme(pool, prices, wanted, gap=enough, nodes=SMALL_NODES if small else NODES)
    plans = [plan[0] for plan in (made, first) if plan is not None]
    if not plans:
        return _by_prices(tracks, prices, wanted)
    return Chosen(max(plans, key=lambda plan: _worth(plan, prices, wanted)), bound, "columns")


def _worth(plan: Sequence[tuple[Cut, ...]], prices: Floats, wanted: Floats) -> float:
    """Value of a sequence for each log."""
    volumes = np.sum([volumes_of(cuts, len(prices)) for cuts in plan], axis=0)
    return float(prices @ np.minimum(volumes, wanted))


def _relaxed(pool: _Pool, prices: Floats, wanted: Floats) -> tuple[float, Floats]:
    """The linear programme over the pool: its value, and what a cubic metre more of each ware would be worth."""
    volumes, of_log = _matrix(pool)
    columns, wares = len(pool.cuts), pool.wares
    # The solver takes sparse tables; its published types know only full ones.
    table: Any = vstack(
        [hstack([-volumes, csr_array(np.eye(wares))]), hstack([of_log, csr_array((pool.count, wares))])]
    ).tocsr()
    made = linprog(
        np.concatenate([np.zeros(columns), -prices]),
        A_ub=table,
        b_ub=np.concatenate([np.zeros(wares), np.ones(pool.count)]),
        bounds=[(0.0, None)] * columns + [(0.0, None if np.isinf(most) else most) for most in wanted],
        method="highs",
    )
    if made.status != 0 or made.fun is None:
        raise RuntimeError(f"the linear programme was not solved: {made.message}")
    return -float(made.fun), np.clip(-np.asarray(made.ineqlin.marginals)[:wares], 0.0, prices)


_Known = dict[_Sequence, tuple[Cut, ...]]


def _by_prices(tracks: Sequence[Track], prices: Floats, wanted: Floats) -> Chosen:
    """Prices are sought on a part of the logs; then all are cut at each of the few prices that bear on the best mix.

    The parts of the mix say how many logs go by which prices; single logs are changed after that.
    """
    every = -(-len(tracks) // SAMPLED_LOGS)
    part = tracks[::every]
    mix = _seek(part, prices, wanted * len(part) / len(tracks))
    pools: list[_Known] = [{} for _ in tracks]
    bound = np.inf
    rounds: list[list[tuple[Cut, ...]]] = []
    for _, at in mix:
        found, best, _ = _lagrange(tracks, at, prices, wanted)
        bound = min(bound, found)
        rounds.append(best)
        for pool, cuts in zip(pools, best, strict=True):
            pool[_key(cuts)] = cuts
    # A part of the logs is given sequences that are nearly as good: enough to fill what the others leave open.
    rng = np.random.default_rng(len(tracks))
    for _ in range(12):
        near = np.minimum(mix[0][1] * np.exp(0.05 * rng.standard_normal(len(prices))), prices)
        for ready, pool in zip(part, pools[::every], strict=True):
            cuts = best_cuts(ready, near)[1]
            pool[_key(cuts)] = cuts
    # Logs are dealt to the prices evenly along the list (multiples of the golden section), in shares of the mix.
    ends = np.cumsum([weight for weight, _ in mix])
    dealt = np.searchsorted(
        ends[:-1] / ends[-1], (np.arange(len(tracks)) * 0.6180339887498949) % 1.0, side="right"
    )
    start = [rounds[int(place)][log] for log, place in enumerate(dealt)]
    return Chosen(_log_by_log(pools, start, prices, wanted), float(bound), "prices")


def _key(cuts: tuple[Cut, ...]) -> _Sequence:
    return tuple((cut.ware, round(cut.from_m, 7), round(cut.to_m, 7)) for cut in cuts)


def _seek(tracks: Sequence[Track], prices: Floats, wanted: Floats) -> list[tuple[float, Floats]]:
    """The prices at which the bound is lowest, first, and those that bear on it, each with its share of the mix."""
    limited = np.flatnonzero(np.isfinite(wanted) & (prices > 0.0))
    bound, at, best_at = np.inf, prices, prices
    tried: list[Floats] = []
    heights: list[float] = []
    slopes: list[Floats] = []
    shares: Floats = np.ones(1)
    for _ in range(PRICE_ROUNDS):
        found, _, volumes = _lagrange(tracks, at, prices, wanted)
        tried.append(at)
        if found < bound:
            bound, best_at = found, at
        slope = (volumes - wanted)[limited]
        slopes.append(slope)
        heights.append(found - float(slope @ at[limited]))
        # The lowest point of the planes met so far, but not far from the best prices: planes far off mislead.
        step = 0.5 * prices[limited] / (1.0 + 0.3 * len(slopes))
        low = np.maximum(0.0, best_at[limited] - step)
        high = np.minimum(prices[limited], best_at[limited] + step)
        made = linprog(
            np.concatenate([np.zeros(len(limited)), [1.0]]),
            A_ub=np.column_stack([np.array(slopes), -np.ones(len(slopes))]),
            b_ub=-np.array(heights),
            bounds=[*zip(low, high, strict=True), (None, None)],
            method="highs",
        )
        if made.status != 0 or made.fun is None or made.x is None:
            raise RuntimeError(f"the linear programme was not solved: {made.message}")
        shares = -np.asarray(made.ineqlin.marginals)
        if 0.0 <= bound - float(made.fun) <= ENOUGH * bound:
            break
        at = prices.copy()
        at[limited] = np.clip(made.x[:-1], 0.0, prices[limited])
    bearing = [place for place in np.argsort(-shares) if shares[place] > LEAST_SHARE][:MOST_MIXED]
    mix = [(float(shares[place]), tried[place]) for place in bearing if tried[place] is not best_at]
    own = next((float(shares[place]) for place in bearing if tried[place] is best_at), 1e-9)
    return [(own, best_at), *mix]


def _log_by_log(
    pools: Sequence[_Known],
    start: Sequence[tuple[Cut, ...]],
    prices: Floats,
    wanted: Floats,
) -> tuple[tuple[Cut, ...], ...]:
    """From a sequence for each log on, each log is given the one of its pool that is worth most beside the others,
    round after round until nothing gains."""
    wares = len(prices)
    choices = [list(pool.values()) for pool in pools]
    volumes = [np.array([volumes_of(cuts, wares) for cuts in known]) for known in choices]
    picked = [known.index(cuts) for known, cuts in zip(choices, start, strict=True)]
    total = np.zeros(wares)
    for table, place in zip(volumes, picked, strict=True):
        total += table[place]
    for _ in range(20):
        gained = False
        for log, table in enumerate(volumes):
            others = total - table[picked[log]]
            worth = np.minimum(others + table, wanted) @ prices
            best = int(np.argmax(worth))
            if worth[best] > worth[picked[log]] + 1e-9 * (1.0 + abs(worth[best])):
                picked[log], gained = best, True
                total = others + table[best]
        if not gained:
            break
    return tuple(known[place] for known, place in zip(choices, picked, strict=True))
