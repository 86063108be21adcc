"""Measurements of a stack, and how they move its forecast.

The members are moved by an iterated ensemble smoother (several small Kalman updates that together weigh each
reading once: "multiple data assimilation", Emerick and Reynolds 2013, Computers & Geosciences 55:3, from
memory). It moves what a member takes the wood, the air in the stack, the size and the start moisture to be;
it never exchanges members, so member j keeps its weather and stays comparable with member j of other stacks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rickyard.errors import InputError
from rickyard.season.draws import normal_draws
from rickyard.season.ensemble import Ensemble
from rickyard.season.meter import RANGE_PCT, meter_mc
from rickyard.text import T_, Text

if TYPE_CHECKING:
    from rickyard.wood import Species

Floats = NDArray[np.float64]

KINDS = ("meter", "oven", "weighed")
UPDATES = 4
#: A reading further from what the members say than this many standard deviations is questioned.
OUTLIER_SD = 4.0
# One sample or a few pieces stand for the stack: pieces differ. Assumed.
OVEN_SD_DB, OVEN_SD_SHARE = 0.01, 0.05
# Mass ratio of witness pieces on a kitchen or luggage scale, as in the twin experiment of the model's notes.
WEIGHED_SD = 0.012


@dataclass(frozen=True)
class Reading:
    """One measurement of a stack.

    Parameters
    ----------
    kind
        `meter`: the percent a pin meter shows; `oven`: moisture of an oven-dried sample as a fraction of its
        total mass; `weighed`: mass of marked pieces over their mass on the day of stacking.
    on
        The day.
    value
        In the unit of the kind.
    temp_c
        Temperature of the wood [deg C], for meters.
    """

    kind: str
    on: date
    value: float
    temp_c: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise InputError(
                "kind",
                wanted=T_("one of {names}", names=", ".join(KINDS)),
                got=self.kind,
                next_move=T_("Choose how it was measured."),
            )
        if self.kind == "oven" and not 0.0 < self.value < 0.75:
            raise InputError(
                "reading",
                wanted=T_("moisture of an oven sample between 0 and 0.75 of its total mass"),
                got=f"{self.value:g}",
                next_move=T_("Divide the mass lost in the oven by the mass before it."),
            )
        if self.kind == "weighed" and not 0.2 <= self.value <= 1.3:
            raise InputError(
                "reading",
                wanted=T_("a mass between 0.2 and 1.3 of the mass on the day of stacking"),
                got=f"{self.value:g}",
                next_move=T_("Divide the mass of the marked pieces now by their mass when stacked."),
            )
        if self.kind == "meter" and not 3.0 <= self.value <= 150.0:
            raise InputError(
                "reading",
                wanted=T_("a meter reading from {low:g} to {high:g} percent", low=3, high=150),
                got=f"{self.value:g}",
                next_move=T_("Type the percent as the meter shows it."),
            )


@dataclass(frozen=True)
class Evidence:
    """A reading as the smoother takes it: `value` and `sd` of the moisture [dry basis] or of the mass ratio.

    `bound` is "above" or "below" where only that is known.
    """

    reading: Reading
    day: int
    value: float
    sd: float
    bound: str = ""

    def predicted(self, mean_db: NDArray[np.float32]) -> Floats:
        """What each member says the measurement should have been; `mean_db` [days + 1, members]."""
        now = mean_db[self.day].astype(np.float64)
        if self.reading.kind == "weighed":
            return np.asarray((1.0 + now) / (1.0 + mean_db[0].astype(np.float64)))
        return np.asarray(now)

    def miss(self, predicted: Floats) -> Floats:
        """Reading minus prediction, nothing where a bound is kept."""
        miss = self.value - predicted
        if self.bound == "above":
            return np.maximum(miss, 0.0)
        if self.bound == "below":
            return np.minimum(miss, 0.0)
        return miss


def evidence(reading: Reading, species: Species, stacked_on: date) -> Evidence:
    """What a reading says of the stack's mean piece; InputError if it was taken before the stacking."""
    day = (reading.on - stacked_on).days
    if day < 0:
        raise InputError(
            "reading",
            wanted=T_("a day from {day} on, when the wood was stacked", day=stacked_on.isoformat()),
            got=reading.on.isoformat(),
            next_move=T_("Correct the day of the reading or of the stacking."),
        )
    if reading.kind == "meter":
        shown = meter_mc(species, reading.value, reading.temp_c)
        floor, ceiling = RANGE_PCT
        if shown.beyond:
            edge = (ceiling if shown.beyond == "above" else floor) / 100.0
            return Evidence(reading, day, edge, shown.sd_db, shown.beyond)
        return Evidence(reading, day, shown.mc_db, shown.sd_db)
    if reading.kind == "oven":
        mc_db = reading.value / (1.0 - reading.value)
        return Evidence(reading, day, mc_db, OVEN_SD_DB + OVEN_SD_SHARE * mc_db)
    return Evidence(reading, day, reading.value, WEIGHED_SD)


def assimilate(
    ensemble: Ensemble,
    readings: Sequence[Evidence],
    simulate: Callable[[Ensemble, int], NDArray[np.float32]],
    key: Sequence[object],
) -> tuple[Ensemble, tuple[Text, ...]]:
    """The members after the readings, and what is to be said about doubtful ones.

    Parameters
    ----------
    ensemble
        Members before any reading.
    readings
        At least one.
    simulate
        Gives the moistures [days + 1, members] of an ensemble for so many days.
    key
        Key of the random numbers.
    """
    sd = np.array([item.sd for item in readings])
    days = max(item.day for item in readings)
    before = simulate(ensemble, days)
    warnings: list[Text] = []
    doubted: set[int] = set()
    for number, item in enumerate(readings):
        predicted = item.predicted(before)
        miss = float(np.median(item.miss(predicted)))
        if abs(miss) > OUTLIER_SD * float(np.hypot(predicted.std(), sd[number])):
            doubted.add(number)
            sd[number] = max(sd[number], abs(miss) / 1.5)
    while True:
        moved, after = _smooth(ensemble, before, readings, sd, simulate, days, key)
        if len(readings) == 1 or len(doubted) >= len(readings) - 1:
            break
        # A reading that the others do not let the members reach is doubted, the worst first.
        ratios = [
            0.0
            if number in doubted
            else abs(float(np.median(item.miss(item.predicted(after)))))
            / float(np.hypot(item.predicted(after).std(), sd[number]))
            for number, item in enumerate(readings)
        ]
        worst = int(np.argmax(ratios))
        if ratios[worst] <= OUTLIER_SD / 2:
            break
        doubted.add(worst)
        miss = abs(float(np.median(readings[worst].miss(readings[worst].predicted(before)))))
        sd[worst] = max(4.0 * sd[worst], miss / 1.5)
    for number in sorted(doubted):
        reading = readings[number].reading
        warnings.append(
            T_(
                "The {kind} reading of {day} ({value:g}) is far from what everything else says; "
                "it counts for little. Measure again.",
                kind=reading.kind,
                day=reading.on.isoformat(),
                value=reading.value,
            )
        )
    warnings.extend(
        T_(
            "The meter reading of {day} is beyond the meter's range: it only tells that the wood is {side}.",
            day=item.reading.on.isoformat(),
            side=T_("wetter than that") if item.bound == "above" else T_("drier than that"),
        )
        for item in readings
        if item.bound
    )
    return moved, tuple(warnings)


def _smooth(
    ensemble: Ensemble,
    before: NDArray[np.float32],
    readings: Sequence[Evidence],
    sd: Floats,
    simulate: Callable[[Ensemble, int], NDArray[np.float32]],
    days: int,
    key: Sequence[object],
) -> tuple[Ensemble, NDArray[np.float32]]:
    """The updates one after another; gives the members and their moistures after the last."""
    state = np.stack(
        [ensemble.log_k_d, ensemble.log_phi, ensemble.log_size, np.log(ensemble.start_db)], axis=1
    )
    members = ensemble.members
    moistures = before
    moved = ensemble
    for update in range(UPDATES):
        predicted = np.stack([item.predicted(moistures) for item in readings], axis=1)
        miss = np.stack(
            [item.miss(column) for item, column in zip(readings, predicted.T, strict=True)], axis=1
        )
        noise = normal_draws((*key, "reading", update), members, len(readings))
        noise -= noise.mean(axis=0)
        # Each of the updates weighs the readings with UPDATES times their variance.
        spread = sd * np.sqrt(UPDATES)
        bounded = np.array([bool(item.bound) for item in readings])
        kept = bounded & (miss == 0.0)
        push = np.where(kept, 0.0, miss + spread * noise)
        dp = predicted - predicted.mean(axis=0)
        ds = state - state.mean(axis=0)
        covariance = dp.T @ dp / (members - 1) + np.diag(spread**2)
        gain = (ds.T @ dp / (members - 1)) @ np.linalg.inv(covariance)
        state = state + push @ gain.T
        moved = ensemble.moved(state[:, 0], state[:, 1], state[:, 2], np.exp(state[:, 3]))
        moistures = simulate(moved, days)
    return moved, moistures
