"""What wood on offer is worth to a yard: wares, hours, costs, what is left, and the most to pay for a chosen margin.

The figures in the middle are reckoned once with every input at its own average; the range comes from drawing all
uncertain inputs at random about it, independent of each other, with a fixed seed. Money is in minor units; each part is
rounded once, so that the parts sum to the whole.

A price paid today counts in full. What is earned later is discounted, simply, by `interest_year`; so a unit more
paid leaves a unit less.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rickyard.cut import Session
from rickyard.measure import CORD_M3, Spread, YardFactor
from rickyard.text import T_, Text
from rickyard.wood import Species
from rickyard.worth.costs import STEPS, Costs, Margin, StepHours, assumed, log_sd_of, step_hours
from rickyard.worth.offer import Offered
from rickyard.worth.wares import PUBLISHED, Line, Months, PricedWare, lines_of

Floats = NDArray[np.float64]

DRAWS = 2000
PERCENTILES = 99
INPUTS = ("quantity", "solid", "loss", "rot", "price", "months", *STEPS, "fuel", "metal")
"""What is uncertain."""

ROT_LOG_SD = 0.5
"""How far a share of rot judged on an offer is off: a judgement."""

COST_KINDS = (*STEPS, "machine", "fuel", "haul", "vehicle", "space", "waiting", "metal")
"""Parts of the cost; the five steps are wages. `waiting` is what money tied up costs."""


@dataclass(frozen=True)
class Yield:
    """What the load gives of one ware: solid wood in it, ranked volume as sold [m³], value, months to its sale."""

    wood: Species
    ware: PricedWare
    solid_m3: float
    ranked_m3: float
    minor: int
    months: Months


@dataclass(frozen=True)
class Step:
    """Hours of a step: a cord, and for the whole load."""

    rate: StepHours
    hours: float


@dataclass(frozen=True)
class Part:
    """A part of the cost."""

    kind: str
    minor: int


@dataclass(frozen=True)
class Driver:
    """An uncertain input, and the share of the range's variance that comes from it."""

    name: str
    share: float


@dataclass(frozen=True)
class Minor:
    """Money with its 10th and 90th percentile, in minor units."""

    low: int
    mid: int
    high: int


@dataclass(frozen=True)
class Worth:
    """What an offer is worth.

    Attributes
    ----------
    offered
        The wood.
    yields
        Wares it gives, at today's prices.
    ranked_m3
        Ranked volume sold [m³].
    value
        Selling value.
    steps, hours
        Hours by step, and all of them.
    parts, cost
        Cost by kind, and its sum; without what is paid for the wood.
    left
        Value less cost: what is left before the wood is paid.
    margin, wanted_minor
        The chosen margin, and what it comes to for this load.
    most_to_pay
        What may be paid for the wood so that the margin is left; below zero: what must be paid for taking it.
    percentiles
        1st to 99th percentile of the most to pay.
    drivers
        What drives the range, the greatest first.
    own_loads
        Loads of the yard that taught how tight its wood is stacked; 0: as published.
    notes
        What to beware of.
    """

    offered: Offered
    yields: tuple[Yield, ...]
    ranked_m3: Spread
    value: Minor
    steps: tuple[Step, ...]
    hours: Spread
    parts: tuple[Part, ...]
    cost: Minor
    left: Minor
    margin: Margin
    wanted_minor: int
    most_to_pay: Minor
    percentiles: tuple[int, ...]
    drivers: tuple[Driver, ...]
    own_loads: int
    notes: tuple[Text, ...]

    @property
    def cost_minor(self) -> int:
        return self.cost.mid

    @property
    def cords(self) -> float:
        return self.ranked_m3.mid / CORD_M3

    @property
    def wages_minor(self) -> int:
        return sum(part.minor for part in self.parts if part.kind in STEPS)

    @property
    def months_known(self) -> bool:
        """Whether the months to sale of all its wood come from the drying calendar."""
        return all(one.months.known for one in self.yields)

    @property
    def months(self) -> Spread:
        """Months to sale, by value."""
        whole = sum(one.minor for one in self.yields) or 1
        low, mid, high = (
            sum(one.minor * getattr(one.months.spread, side) for one in self.yields) / whole
            for side in ("low", "mid", "high")
        )
        return Spread(low, max(low, mid), max(low, mid, high))

    def margin_minor(self, price_minor: int) -> int:
        """What is left of the selling value after all costs, wages included, and this price."""
        return self.value.mid - self.cost_minor - price_minor

    def margin_range(self, price_minor: int) -> Minor:
        """The same with its range."""
        return Minor(self.left.low - price_minor, self.left.mid - price_minor, self.left.high - price_minor)

    def margin_per_cord(self, price_minor: int) -> float:
        return self.margin_minor(price_minor) / self.cords

    def margin_per_hour(self, price_minor: int) -> float | None:
        """Beyond wages; None where there is no work."""
        return self.margin_minor(price_minor) / self.hours.mid if self.hours.mid > 0.0 else None

    def earned_per_hour(self, price_minor: int) -> float | None:
        """What an hour of work brings in: margin and wages together."""
        if self.hours.mid <= 0.0:
            return None
        return (self.margin_minor(price_minor) + self.wages_minor) / self.hours.mid

    def odds(self, price_minor: int) -> float:
        """Odds that the chosen margin is left at this price, from 1 to 99 percent."""
        at = float(np.interp(price_minor, self.percentiles, np.arange(1, PERCENTILES + 1) / 100.0))
        return 1.0 - at


def worth_of(
    offered: Offered,
    wares: Sequence[PricedWare],
    *,
    costs: Costs | None = None,
    margin: Margin | None = None,
    haul_minor: int = 0,
    months: Mapping[str, Months] | None = None,
    sessions: Sequence[Session] = (),
    factor: YardFactor = PUBLISHED,
    seed: int = 0,
    draws: int = DRAWS,
) -> Worth:
    """What the wood is worth, and the most to pay for it.

    Parameters
    ----------
    offered
        From `rough_wood`, `logs_wood` or `trees_wood`.
    wares
        What is sold, at today's prices.
    costs, margin
        The yard's own; as assumed where it says nothing.
    haul_minor
        What it costs to bring the wood here.
    months
        By species id, from the drying calendar; the usual ones where a species is missing.
    sessions
        Work that the yard timed, by step.
    factor
        How tight the yard stacks, as its own loads have taught; as published while they have not.

    Raises InputError for what makes no sense, among it wood that nothing sold takes.
    """
    costs, margin = costs or Costs(), margin or Margin()
    rates = {rate.step: rate for rate in step_hours(costs, sessions)}
    lines, notes = lines_of(offered, wares, costs, rates, months or {}, factor)
    book = _Book(offered, lines, costs, margin, rates, haul_minor)
    mid = book.at(dict.fromkeys(INPUTS, 1.0) | {"metal": book.finds})
    parts = tuple(Part(kind, round(float(mid.parts[kind]))) for kind in COST_KINDS)
    value, cost = round(float(mid.value)), sum(part.minor for part in parts)
    wanted = round(float(mid.wanted))
    most = value - cost - wanted
    spread = book.drawn(seed, draws)
    rest = tuple(round(float(one)) for one in np.percentile(spread.most, np.arange(1, PERCENTILES + 1)))
    return Worth(
        offered=offered,
        yields=tuple(
            Yield(
                line.wood,
                line.ware,
                line.solid_m3 * book.left(line),
                line.sold_m3 * book.left(line),
                round(line.minor * book.left(line)),
                line.months,
            )
            for line in lines
        ),
        ranked_m3=_spread(spread.sold_m3, float(mid.sold_m3)),
        value=_minor(spread.value, value),
        steps=tuple(Step(rates[step], float(mid.hours[step])) for step in STEPS),
        hours=_spread(spread.all_hours, float(mid.all_hours)),
        parts=parts,
        cost=_minor(spread.cost, cost),
        left=_minor(spread.value - spread.cost, value - cost),
        margin=margin,
        wanted_minor=wanted,
        most_to_pay=_minor(spread.most, most),
        percentiles=rest,
        drivers=spread.drivers,
        own_loads=factor.loads,
        notes=(*offered.notes, *notes, *_cautions(offered, lines)),
    )


def _cautions(offered: Offered, lines: Sequence[Line]) -> list[Text]:
    said = []
    if offered.origin == "yard":
        said.append(
            T_(
                "Wood of yards and streets holds nails, clips and wire, and forks that nobody buys: "
                "look before you saw, and go over it with a metal detector if you have one."
            )
        )
    if any(not line.months.known for line in lines):
        said.append(
            T_(
                "Months to sale are the usual ones ({months:.1f}), not this wood's own yet.",
                months=assumed()["usual_months"].value,
            )
        )
    return said


@dataclass(frozen=True)
class _Outcome:
    sold_m3: float | Floats
    value: float | Floats
    hours: Mapping[str, float | Floats]
    parts: Mapping[str, float | Floats]
    wanted: float | Floats
    most: float | Floats

    @property
    def all_hours(self) -> float | Floats:
        return sum(self.hours.values())


@dataclass(frozen=True)
class _Drawn:
    sold_m3: Floats
    value: Floats
    cost: Floats
    all_hours: Floats
    most: Floats
    drivers: tuple[Driver, ...]


class _Book:
    """The reckoning as a function of its uncertain inputs: plain numbers or arrays of draws."""

    def __init__(
        self,
        offered: Offered,
        lines: Sequence[Line],
        costs: Costs,
        margin: Margin,
        rates: Mapping[str, StepHours],
        haul_minor: int,
    ) -> None:
        self.lines, self.costs, self.margin = lines, costs, margin
        self.rates, self.haul_minor = rates, haul_minor
        figures = assumed()
        self.loss_sd = max(line.loss.log_sd for line in lines)
        self.rot = offered.rot_share
        self.quantity_sd = log_sd_of(offered.solid_m3)
        self.solid_sd = max(log_sd_of(line.share) for line in lines)
        self.months_sd = max(log_sd_of(line.months.spread) for line in lines)
        self.finds = figures[f"finds_per_cord_{offered.origin}"].value * (
            sum(line.made_m3 * self.left(line) for line in lines) / CORD_M3
        )
        self.fuel = figures["fuel_l_t"]
        wait = max(line.months.spread.mid for line in lines)
        self.price_sd = figures["price_year"].log_sd * math.sqrt(wait / 12.0)

    def left(self, line: Line) -> float:
        """Share of a line's wood that is not lost or rotten, on average."""
        return (1.0 - line.loss.value) * (1.0 - self.rot)

    def at(self, given: Mapping[str, float | Floats]) -> _Outcome:
        """Everything, for factors on the inputs (1: as it is taken to be); `metal` is the number of finds."""
        costs = self.costs
        sound = given["quantity"] * (1.0 - np.minimum(0.95, self.rot * given["rot"]))
        zero = 0.0 * sound
        value = space = waiting = sold = zero
        cords = dict.fromkeys(STEPS, zero)
        tonnes = zero
        for line in self.lines:
            left = sound * (1.0 - np.minimum(0.9, line.loss.value * given["loss"]))
            fills = left * given["solid"]
            worth = line.minor * fills * given["price"]
            months = line.months.spread.mid * given["months"]
            value = value + worth
            sold = sold + line.sold_m3 * fills
            stood = line.sold_m3 * fills / CORD_M3
            made = line.made_m3 * fills / CORD_M3
            space = space + costs.minor("space_minor_cord_month") * stood * months
            waiting = waiting + worth * np.minimum(1.0, costs.interest_year * months / 12.0)
            tonnes = tonnes + line.green_kg * left / 1000.0
            for step in STEPS:
                moved = stood if step in ("loading", "delivering") else made
                cords[step] = cords[step] + line.work(step) * moved
        hours = {step: self.rates[step].per_cord.mid * cords[step] * given[step] for step in STEPS}
        wage = costs.minor("wage_minor_h")
        parts: dict[str, float | Floats] = {step: hours[step] * wage for step in STEPS}
        parts["machine"] = costs.minor("machine_minor_h") * (hours["sawing"] + hours["splitting"])
        parts["fuel"] = costs.minor("fuel_minor_l") * self.fuel.value * given["fuel"] * tonnes
        parts["haul"] = self.haul_minor + zero
        trips = sold / CORD_M3 * costs.delivered_share / costs.cords_a_trip
        parts["vehicle"] = costs.minor("vehicle_minor_km") * 2.0 * costs.way_km * trips
        parts["space"], parts["waiting"] = space, waiting
        parts["metal"] = costs.minor("metal_minor") * given["metal"] + zero
        wanted = {
            "share": self.margin.amount * value,
            "cord": self.margin.amount * sold / CORD_M3,
            "load": self.margin.amount + zero,
            "hour": self.margin.amount * sum(hours.values()),
        }[self.margin.kind]
        return _Outcome(sold, value, hours, parts, wanted, value - sum(parts.values()) - wanted)

    def drawn(self, seed: int, draws: int) -> _Drawn:
        rng = np.random.default_rng(seed)
        z = {name: rng.standard_normal(draws) for name in INPUTS}
        finds = rng.poisson(self.finds, draws).astype(np.float64)
        sds = {
            "quantity": self.quantity_sd,
            "solid": self.solid_sd,
            "loss": self.loss_sd,
            "rot": ROT_LOG_SD if self.rot else 0.0,
            "price": self.price_sd,
            "months": self.months_sd,
            "fuel": self.fuel.log_sd,
            **{step: log_sd_of(self.rates[step].per_cord) for step in STEPS},
        }
        # The mean of each factor is 1, not its median: most figures behind are averages, and so the middle of the
        # whole is what is left on average.
        factors: dict[str, float | Floats] = {
            name: np.exp(sd * z[name] - sd * sd / 2.0) for name, sd in sds.items()
        }
        made = self.at(factors | {"metal": finds})
        z["metal"] = finds
        most = np.asarray(made.most, dtype=np.float64)
        return _Drawn(
            np.asarray(made.sold_m3),
            np.asarray(made.value),
            np.asarray(sum(made.parts.values())),
            np.asarray(made.all_hours),
            most,
            _drivers(most, {name: z[name] for name in INPUTS if name == "metal" or sds[name] > 0.0}),
        )


def _drivers(most: Floats, inputs: Mapping[str, Floats]) -> tuple[Driver, ...]:
    """Shares of the variance, by a straight line through the draws: the inputs are independent."""
    sd = float(most.std())
    if sd <= 0.0:
        return ()
    named = {name: values for name, values in inputs.items() if float(values.std()) > 0.0}
    columns = np.stack([(values - values.mean()) / values.std() for values in named.values()], axis=1)
    slopes, *_ = np.linalg.lstsq(columns, (most - most.mean()) / sd, rcond=None)
    found = [Driver(name, float(slope**2)) for name, slope in zip(named, slopes, strict=True)]
    return tuple(sorted(found, key=lambda one: -one.share))


def _spread(drawn: Floats, mid: float) -> Spread:
    low, high = (float(one) for one in np.percentile(drawn, (10, 90)))
    return Spread(min(low, mid), mid, max(high, mid))


def _minor(drawn: Floats, mid: int) -> Minor:
    """Skewed draws may leave the middle a hair outside where there is next to no spread."""
    low, high = (round(float(one)) for one in np.percentile(drawn, (10, 90)))
    return Minor(min(low, mid), mid, max(high, mid))
