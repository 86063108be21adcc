"""The yard's own factor from log to stack, learnt from loads measured both as logs and as stacks.

Published shares differ by a tenth and more, for wood, pieces and hands differ. Each load that was measured as logs
and again as a stack says how this yard's stacks differ from `solid_share`:

    log(wood put in / outside volume) - log(solid_share) = yard + kind of wood + load + errors of measuring

The yard's difference is drawn towards none (standard deviation 0.065), that of a kind towards the yard's, and a load
strays about its kind; how far kinds and loads stray is learnt too, on a grid. With the figures taken before any
load (kinds 0.03, loads 0.05) the three make 0.087, near the 0.092 that 75 to 95 ft³ a cord stand for. A load more than
three standard deviations off what the others expect is set aside and named: it teaches nothing until looked at.

Everything is a logarithm; see Gelman et al., Bayesian Data Analysis, ch. 5 (from memory), for the model's kind.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from rickyard.errors import InputError
from rickyard.measure.limits import within
from rickyard.measure.solid import solid_share
from rickyard.measure.spread import TO_10_90, Spread
from rickyard.text import T_, Text
from rickyard.wood import Species

YARD_SD = 0.065
"""How far a yard's stacks may differ from the published share, one standard deviation of the logarithm."""

KIND_SDS = (0.005, 0.015, 0.03, 0.05, 0.08)
KIND_USUAL = 0.03
LOAD_SDS = (0.02, 0.035, 0.05, 0.07, 0.10, 0.15, 0.20)
LOAD_USUAL = 0.05
"""Grids of how far kinds and loads stray, and the scale of their half-normal priors: judgements."""

SET_ASIDE = 3.0
"""Standard deviations off what the other loads expect at which a load is set aside."""

LOOKED_AT = 1.2
"""Standard deviations off the fit with all loads from which a load is looked at without itself."""

LEAST_TO_JUDGE = 4
"""Loads needed before one can be called odd."""

LOST_SD_SHARE = 0.3
"""How far the share lost between log and stack is off, one standard deviation [of itself]: a judgement."""


@dataclass(frozen=True)
class LoadPair:
    """A load measured twice.

    Attributes
    ----------
    solid_m3
        Wood inside bark in the logs, after deductions [m³].
    outside_m3
        Outside volume of what was stacked from it [m³].
    piled, form, piece_length_m
        What the stack is.
    lost_share
        What kerf and waste took between [fraction].
    kind
        Kind of wood, such as a group of species; empty if not told apart.
    name
        How the load is called in what is said of it.
    """

    solid_m3: Spread
    outside_m3: Spread
    piled: str
    form: str
    piece_length_m: float
    lost_share: float = 0.0
    kind: str = ""
    name: str = ""


@dataclass(frozen=True)
class YardFactor:
    """What the yard's loads have taught.

    Attributes
    ----------
    factor
        Wood in this yard's stacks / wood by the published share, for a new kind of wood and a new load.
    mean
        The same for the mean of many loads of many kinds.
    kinds
        `factor` for each kind that was seen.
    load_log_sd
        How far single loads stray [logarithm].
    loads
        How many taught it.
    set_aside
        Names, or places from 1, of the loads that were not believed.
    notes
        What to say of it.
    """

    factor: Spread
    mean: Spread
    kinds: Mapping[str, Spread]
    load_log_sd: float
    loads: int
    set_aside: tuple[str, ...] = ()
    notes: tuple[Text, ...] = field(default=())

    def share(self, piled: str, form: str, piece_length_m: float, kind: str = "") -> Spread:
        """The yard's own share of solid wood for a new load. Raises InputError as `solid_share` does."""
        usual = solid_share(piled, form, piece_length_m)
        if not self.loads:
            return usual
        own = self.kinds.get(kind, self.factor)
        return Spread(
            min(0.95, usual.mid * own.low), min(0.95, usual.mid * own.mid), min(0.95, usual.mid * own.high)
        )


def kind_of(wood: Species) -> str:
    """The kind of wood by which stacking is learnt apart: its genus, or the wider name itself."""
    return wood.scientific.split()[0].casefold() if wood.rank in ("species", "genus") else wood.id


def learn_yard_factor(pairs: Sequence[LoadPair]) -> YardFactor:
    """The yard's factor from its loads; the published share, wide as it is, if there are none.

    Raises InputError for a pair whose figures are not above zero, or as `solid_share` does.
    """
    rows = [_row(place, pair) for place, pair in enumerate(pairs, start=1)]
    kept = list(range(len(rows)))
    aside: list[int] = []
    while len(kept) >= LEAST_TO_JUDGE:
        # Looking at a load without itself is dear: only those that stray from the fit with all are looked at.
        belief = _believe([rows[i] for i in kept])
        stray = [i for i in kept if _off(rows[i], belief) > LOOKED_AT]
        odd, worst = max(((_oddness(rows, kept, i), i) for i in stray), default=(0.0, 0))
        if odd <= SET_ASIDE:
            break
        kept.remove(worst)
        aside.append(worst)
    return _said([rows[i] for i in kept], [rows[i].name for i in sorted(aside)])


@dataclass(frozen=True)
class _Row:
    """A load as the model sees it: difference of logarithms, its error, its kind, its name."""

    y: float
    sd: float
    kind: str
    name: str


def _row(place: int, pair: LoadPair) -> _Row:
    if pair.solid_m3.low <= 0.0 or pair.outside_m3.low <= 0.0:
        raise InputError(
            "pairs",
            wanted=T_("both measures of load {place} above zero", place=place),
            got=f"{pair.solid_m3.low:g}, {pair.outside_m3.low:g}",
            next_move=T_("Leave out a load that was measured once."),
        )
    lost = within("lost_share", pair.lost_share, (0.0, 0.9), "")
    solid, solid_sd = _log(pair.solid_m3)
    outside, outside_sd = _log(pair.outside_m3)
    usual = solid_share(pair.piled, pair.form, pair.piece_length_m).mid
    return _Row(
        solid + math.log(1.0 - lost) - outside - math.log(usual),
        math.hypot(solid_sd, outside_sd, LOST_SD_SHARE * lost / (1.0 - lost), 0.005),
        pair.kind,
        pair.name or str(place),
    )


def _log(figure: Spread) -> tuple[float, float]:
    """Middle and standard deviation of a figure's logarithm."""
    low, high = math.log(figure.low), math.log(figure.high)
    return (low + high) / 2.0, (high - low) / (2.0 * TO_10_90)


@dataclass(frozen=True)
class _Belief:
    """Mean and covariance of (yard, kinds...), and the variances of kinds and loads, after the loads."""

    mean: np.ndarray
    covariance: np.ndarray
    kinds: tuple[str, ...]
    kind_variance: float
    load_variance: float

    def of(self, kind: str | None) -> tuple[float, float]:
        """Mean and variance for a new load of a kind; None for a kind not seen."""
        pick = np.zeros(len(self.mean))
        pick[0] = 1.0
        more = self.load_variance
        if kind in self.kinds:
            pick[1 + self.kinds.index(kind)] = 1.0
        else:
            more += self.kind_variance
        return float(pick @ self.mean), float(pick @ self.covariance @ pick) + more


def _believe(rows: Sequence[_Row]) -> _Belief:
    """Normal beliefs for each pair of the grid, weighed by how well it foretold the loads, made one."""
    kinds = tuple(sorted({row.kind for row in rows}))
    size = 1 + len(kinds)
    design = np.zeros((len(rows), size))
    design[:, 0] = 1.0
    for i, row in enumerate(rows):
        design[i, 1 + kinds.index(row.kind)] = 1.0
    y = np.array([row.y for row in rows])
    noise = np.array([row.sd**2 for row in rows])
    weights, means, covariances, spreads = [], [], [], []
    for kind_sd in KIND_SDS:
        for load_sd in LOAD_SDS:
            prior = np.diag([1.0 / YARD_SD**2] + [1.0 / kind_sd**2] * len(kinds))
            variance = noise + load_sd**2
            precision = prior + design.T @ (design / variance[:, None])
            covariance = np.linalg.inv(precision)
            mean = covariance @ (design.T @ (y / variance))
            off = y - design @ mean
            fit = -0.5 * float(np.sum(off**2 / variance) + mean @ prior @ mean + np.sum(np.log(variance)))
            fit += 0.5 * float(np.linalg.slogdet(prior)[1] - np.linalg.slogdet(precision)[1])
            fit -= 0.5 * ((kind_sd / KIND_USUAL) ** 2 + (load_sd / LOAD_USUAL) ** 2)
            # The grid is about even in the logarithm; a half-normal prior is not.
            fit += math.log(kind_sd) + math.log(load_sd)
            weights.append(fit)
            means.append(mean)
            covariances.append(covariance)
            spreads.append((kind_sd**2, load_sd**2))
    share = np.exp(np.array(weights) - max(weights))
    share /= share.sum()
    mean = np.einsum("g,gi->i", share, np.array(means))
    between = np.array(means) - mean
    covariance = np.einsum("g,gij->ij", share, np.array(covariances))
    covariance += np.einsum("g,gi,gj->ij", share, between, between)
    kind_variance, load_variance = share @ np.array(spreads)
    return _Belief(mean, covariance, kinds, float(kind_variance), float(load_variance))


def _oddness(rows: Sequence[_Row], kept: Sequence[int], i: int) -> float:
    """How many standard deviations a load lies off what the other loads expect."""
    return _off(rows[i], _believe([rows[j] for j in kept if j != i]))


def _off(row: _Row, belief: _Belief) -> float:
    mean, variance = belief.of(row.kind)
    return abs(row.y - mean) / math.sqrt(variance + row.sd**2)


def _said(rows: Sequence[_Row], aside: Sequence[str]) -> YardFactor:
    belief = _believe(rows)
    mean, variance = belief.of(None)
    notes = []
    if aside:
        notes.append(
            T_(
                "Set aside, far off the others: {names}. Look for a slip in the logs or in the stack.",
                names=", ".join(aside),
            )
        )
    if not rows:
        notes.append(T_("No load was measured both as logs and as a stack yet: published shares."))
    return YardFactor(
        factor=_factor(mean, variance),
        mean=_factor(float(belief.mean[0]), float(belief.covariance[0, 0])),
        kinds={kind: _factor(*belief.of(kind)) for kind in belief.kinds},
        load_log_sd=math.sqrt(belief.load_variance),
        loads=len(rows),
        set_aside=tuple(aside),
        notes=tuple(notes),
    )


def _factor(mean: float, variance: float) -> Spread:
    return Spread(
        math.exp(mean - TO_10_90 * math.sqrt(variance)),
        math.exp(mean),
        math.exp(mean + TO_10_90 * math.sqrt(variance)),
    )
