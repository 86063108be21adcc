"""How readings move the members of a stack.

The members are moved by an iterated ensemble smoother (several small Kalman updates that together weigh each
reading once: "multiple data assimilation", Emerick and Reynolds 2013, Computers & Geosciences 55:3, from
memory). It moves what a member takes the wood, the air in the stack, the size, the start moisture and the
errors that readings share to be; it never exchanges members, so member j keeps its weather and stays
comparable with member j of other stacks.

A reading that is only a bound moves the members that break it and no others. A reading far from everything
else is questioned: its doubt is widened until it counts for little, unless somebody has confirmed it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rickyard.season.draws import normal_draws
from rickyard.season.ensemble import Ensemble
from rickyard.season.readings import Evidence, Floats, Reading
from rickyard.text import T_, Text

UPDATES = 4
#: A reading further from what the members say than this many standard deviations is questioned.
OUTLIER_SD = 4.0
# What the others leave of a reading's distance after they were heard, in standard deviations.
LEFT_SD = 2.5
#: Smallest share of its first spread that a latent keeps; a check against collapse, not a model.
LEAST_SPREAD = 0.05

Simulate = Callable[[Ensemble, int], NDArray[np.float32]]


@dataclass(frozen=True)
class Assimilated:
    """The members after the readings, those questioned (`doubted`) and what is to be said."""

    ensemble: Ensemble
    doubted: tuple[Reading, ...]
    warnings: tuple[Text, ...]


def assimilate(
    ensemble: Ensemble,
    readings: Sequence[Evidence],
    simulate: Simulate,
    key: Sequence[object],
) -> Assimilated:
    """The members after the readings; the order in which these are given does not matter.

    Parameters
    ----------
    ensemble
        Members before any reading.
    readings
        Those set aside are left out.
    simulate
        Gives the moistures [days + 1, members] of an ensemble for so many days.
    key
        Key of the random numbers.
    """
    taken = sorted((item for item in readings if item.reading.trust != "aside"), key=lambda item: item.rank)
    if not taken:
        return Assimilated(ensemble, (), ())
    days = max(item.day for item in taken)
    sd = np.array([item.sd for item in taken])
    before = simulate(ensemble, days)
    names = sorted({name for item in taken for name in item.latents})
    latents = {name: normal_draws((*key, "latent", name), ensemble.members, 1)[:, 0] for name in names}
    doubted: dict[int, float] = {}
    for number, item in enumerate(taken):
        predicted = item.predicted(before, latents)
        miss = float(np.median(item.miss(predicted)))
        if item.reading.trust != "right" and abs(miss) > OUTLIER_SD * float(
            np.hypot(predicted.std(), sd[number])
        ):
            doubted[number] = max(float(sd[number]), abs(miss) / 1.5)
    while True:
        spread = np.array([doubted.get(number, float(own)) for number, own in enumerate(sd)])
        moved, after, told = _smooth(ensemble, before, latents, taken, spread, simulate, days, key)
        judged = [n for n, item in enumerate(taken) if n not in doubted and item.reading.trust != "right"]
        if len(taken) == 1 or len(doubted) >= len(taken) - 1 or not judged:
            break
        # A reading that the others do not let the members reach is doubted, the worst first.
        left = {}
        for number in judged:
            predicted = taken[number].predicted(after, told)
            miss = abs(float(np.median(taken[number].miss(predicted))))
            left[number] = miss / float(np.hypot(predicted.std(), sd[number]))
        worst = max(left, key=lambda number: left[number])
        if left[worst] <= LEFT_SD:
            break
        miss = abs(float(np.median(taken[worst].miss(taken[worst].predicted(before, latents)))))
        doubted[worst] = max(4.0 * float(sd[worst]), miss / 1.5)
    questioned = tuple(taken[number].reading for number in sorted(doubted))
    return Assimilated(moved, questioned, (*_questions(questioned), *_bounds(taken)))


def _questions(questioned: Sequence[Reading]) -> list[Text]:
    return [
        T_(
            "The {kind} reading of {day} ({value:g}) is far from what everything else says; "
            "it counts for little. Measure again.",
            kind=reading.kind,
            day=reading.on.isoformat(),
            value=reading.value,
        )
        for reading in questioned
    ]


def _bounds(taken: Sequence[Evidence]) -> list[Text]:
    return [
        T_(
            "The meter reading of {day} is beyond the meter's range: it only tells that the wood is {side}.",
            day=item.reading.on.isoformat(),
            side=T_("wetter than that") if item.bound == "above" else T_("drier than that"),
        )
        for item in taken
        if item.bound and item.reading.kind == "meter" and item.reading.face != "surface"
    ]


def _smooth(
    ensemble: Ensemble,
    before: NDArray[np.float32],
    latents: dict[str, Floats],
    readings: Sequence[Evidence],
    sd: Floats,
    simulate: Simulate,
    days: int,
    key: Sequence[object],
) -> tuple[Ensemble, NDArray[np.float32], dict[str, Floats]]:
    """The updates one after another; gives the members, their moistures and the shared errors after the last."""
    wood = np.stack(
        [ensemble.log_k_d, ensemble.log_phi, ensemble.log_size, np.log(ensemble.start_db)], axis=1
    )
    names = list(latents)
    state = np.concatenate([wood, *(latents[name][:, None] for name in names)], axis=1)
    first = state.std(axis=0)
    moistures, moved, told = before, ensemble, latents
    # Each of the updates weighs the readings with UPDATES times their variance.
    spread = sd * np.sqrt(UPDATES)
    for update in range(UPDATES):
        predicted = np.stack([item.predicted(moistures, told) for item in readings], axis=1)
        miss = np.stack(
            [item.miss(column) for item, column in zip(readings, predicted.T, strict=True)], axis=1
        )
        noise = _noise(key, update, readings, ensemble.members)
        push = miss + spread * noise
        kept = np.array([bool(item.bound) for item in readings]) & (miss == 0.0)
        state = state + _step(state, predicted, push, spread, kept)
        state = _not_collapsed(state, first)
        moved = ensemble.moved(state[:, 0], state[:, 1], state[:, 2], np.exp(state[:, 3]))
        told = {name: state[:, 4 + column] for column, name in enumerate(names)}
        moistures = simulate(moved, days)
    return moved, moistures, told


def _noise(key: Sequence[object], update: int, readings: Sequence[Evidence], members: int) -> Floats:
    """Noise of each reading, keyed by what it says: another reading beside it leaves it as it is."""
    seen: Counter[tuple[object, ...]] = Counter()
    columns = []
    for item in readings:
        name = (item.day, item.reading.kind, round(item.value, 6), item.bound)
        seen[name] += 1
        column = normal_draws((*key, "reading", update, *name, seen[name]), members, 1)[:, 0]
        columns.append(column - column.mean())
    return np.stack(columns, axis=1)


def _step(state: Floats, predicted: Floats, push: Floats, spread: Floats, kept: NDArray[np.bool_]) -> Floats:
    """How far each member goes. A bound that a member keeps is no reading to it: it goes by the others alone."""
    members = len(state)
    ds = state - state.mean(axis=0)
    dp = predicted - predicted.mean(axis=0)
    cross, inner = ds.T @ dp / max(members - 1, 1), dp.T @ dp / max(members - 1, 1)
    step = np.zeros_like(state)
    for pattern in np.unique(kept, axis=0):
        who = (kept == pattern).all(axis=1)
        heard = ~pattern
        if heard.any():
            covariance = inner[np.ix_(heard, heard)] + np.diag(spread[heard] ** 2)
            gain = np.linalg.solve(covariance, cross[:, heard].T).T
            step[who] = push[np.ix_(who, heard)] @ gain.T
    return step


def _not_collapsed(state: Floats, first: Floats) -> Floats:
    """Members drawn apart again about their mean where almost nothing is left of a latent's spread."""
    mean, now = state.mean(axis=0), state.std(axis=0)
    grown = np.maximum(1.0, LEAST_SPREAD * first / np.maximum(now, 1e-12))
    return np.where(first > 0.0, mean + (state - mean) * grown, state)
