"""What a yard's work and means cost, and the hours of each step: published or judged until the yard says its own.

Every figure that is assumed stands in `data/assumed.csv` with its basis and source. Money is in minor units of the
yard's own currency; a figure that was published in US dollars is taken over as the number it is, and said so.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

from rickyard.cut import Session, hours_per_cord, learnt_hours, methods
from rickyard.errors import InputError
from rickyard.measure import TO_10_90, Spread
from rickyard.measure.limits import within
from rickyard.text import T_, Text

STEPS = ("sawing", "splitting", "stacking", "loading", "delivering")
"""Work on a load that lies in the yard, to the household. Felling is not ours."""

MARGIN_KINDS = ("share", "cord", "load", "hour")

MOST_MINOR = 100_000_000
PROCESSOR = "processor"


@dataclass(frozen=True)
class Assumed:
    """A figure that stands until the yard says its own; `log_sd` is how far it may be off, where it is uncertain."""

    name: str
    value: float
    log_sd: float
    unit: str
    basis: str
    source: str

    @property
    def spread(self) -> Spread:
        factor = math.exp(TO_10_90 * self.log_sd)
        return Spread(self.value / factor, self.value, self.value * factor)


@cache
def assumed() -> dict[str, Assumed]:
    """All figures that are assumed, by name."""
    text = resources.files("rickyard.worth").joinpath("data", "assumed.csv").read_text(encoding="utf-8")
    return {
        row["name"]: Assumed(
            row["name"],
            float(row["value"] or 0.0),
            float(row["log_sd"] or 0.0),
            row["unit"],
            row["basis"],
            row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    }


@dataclass(frozen=True)
class Costs:
    """A yard's own figures; None: as assumed.

    Attributes
    ----------
    wage_minor_h
        What an hour of work costs, the owner's own included.
    machine_minor_h
        Saw and splitter, or processor: wear and repair for an hour of sawing or splitting, without fuel.
    fuel_minor_l
        A litre of fuel.
    vehicle_minor_km
        The delivery vehicle, for a kilometre, fuel included.
    space_minor_cord_month
        What a cord that stands a month takes of the yard: rent, cover, what else could stand there.
    interest_year
        What money tied up costs, a year [fraction].
    metal_minor
        A nail or clip met by the saw: chain and time.
    method
        How wood is split; one of `rickyard.cut.methods`.
    delivery_km, trip_cords, delivered_share
        Way to a household one way [km], cords a trip, and the share of the wood that is brought in its price.
    kerf_m
        Wood the saw takes [m].
    hours
        The yard's own hours a cord, by step; they take the place of what is assumed.
    """

    wage_minor_h: int | None = None
    machine_minor_h: int | None = None
    fuel_minor_l: float | None = None
    vehicle_minor_km: float | None = None
    space_minor_cord_month: float | None = None
    interest_year: float = 0.0
    metal_minor: int | None = None
    method: str = "hydraulic_splitter"
    delivery_km: float | None = None
    trip_cords: float | None = None
    delivered_share: float = 1.0
    kerf_m: float = 0.008
    hours: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        for name in MONEY:
            minor = getattr(self, name)
            if minor is not None:
                within(name, minor, (0, MOST_MINOR), "")
        within("interest_year", self.interest_year, (0.0, 1.0), "a year")
        within("delivered_share", self.delivered_share, (0.0, 1.0), "")
        within("kerf", self.kerf_m, (0.0, 0.05))
        if self.delivery_km is not None:
            within("delivery_km", self.delivery_km, (0.0, 1000.0), "km")
        if self.trip_cords is not None:
            within("trip_cords", self.trip_cords, (0.05, 50.0), "cords")
        if self.method not in methods():
            _one_of("method", self.method, tuple(methods()))
        for step, per_cord in self.hours:
            _one_of("step", step, STEPS)
            within("hours", per_cord, (0.0, 100.0), "h")

    def minor(self, name: str) -> float:
        """A figure of money: the yard's own, or what is assumed."""
        own: float | None = getattr(self, name)
        if own is not None:
            return float(own)
        if name == "machine_minor_h" and self.method == PROCESSOR:
            name = "machine_minor_h_processor"
        return assumed()[name].value

    @property
    def way_km(self) -> float:
        return assumed()["delivery_km"].value if self.delivery_km is None else self.delivery_km

    @property
    def cords_a_trip(self) -> float:
        return assumed()["trip_cords"].value if self.trip_cords is None else self.trip_cords

    @property
    def assumed_names(self) -> tuple[str, ...]:
        """Which figures are not the yard's own yet."""
        own = dict(self.hours)
        named = [name for name in (*MONEY, "delivery_km", "trip_cords") if getattr(self, name) is None]
        return (*named, *(f"{step}_hours" for step in STEPS if step not in own))


MONEY = (
    "wage_minor_h",
    "machine_minor_h",
    "fuel_minor_l",
    "vehicle_minor_km",
    "space_minor_cord_month",
    "metal_minor",
)


@dataclass(frozen=True)
class Margin:
    """What is to be left beyond wages and all costs: a `share` of the selling value, or minor units for a `cord`,
    the `load` or an `hour` of work."""

    kind: str = "share"
    amount: float = 0.15

    def __post_init__(self) -> None:
        _one_of("margin_kind", self.kind, MARGIN_KINDS)
        top = (0.0, 0.95) if self.kind == "share" else (0.0, float(MOST_MINOR))
        within("margin", self.amount, top, "")


@dataclass(frozen=True)
class StepHours:
    """Hours of one person for a cord; `own`: the yard's say in it, from 0 (as assumed) to 1, by so many timed
    `sessions`; without any, what is its own was told as a figure."""

    step: str
    per_cord: Spread
    own: float
    basis: str
    source: str
    sessions: int = 0

    @property
    def published(self) -> bool:
        """Whether what is not the yard's own was reported by somebody; else it is a judgement."""
        return self.source not in ("", "no source") and not self.basis.startswith("judgement")


OWN_LOG_SD = 0.10
"""How far a yard's own typed figure is off for the next load: a judgement. Loads differ."""


def step_hours(costs: Costs, sessions: Sequence[Session] = ()) -> tuple[StepHours, ...]:
    """Hours a cord of each step: the yard's own, else learnt from its timed sessions, else published or judged.

    A processor saws and splits at once: its sawing takes no hours of its own.
    """
    own = dict(costs.hours)
    return tuple(_own(step, own[step]) if step in own else _prior(step, costs, sessions) for step in STEPS)


def _own(step: str, per_cord: float) -> StepHours:
    factor = math.exp(TO_10_90 * OWN_LOG_SD)
    return StepHours(step, Spread(per_cord / factor, per_cord, per_cord * factor), 1.0, "the yard's own", "")


def _prior(step: str, costs: Costs, sessions: Sequence[Session]) -> StepHours:
    if step == "splitting":
        rate = hours_per_cord(costs.method, sessions)
        found = methods()[costs.method]
        return StepHours(step, rate.per_cord, rate.own_share, found.basis, found.source, rate.sessions)
    if step == "sawing" and costs.method == PROCESSOR:
        return StepHours(step, Spread.exactly(0.0), 0.0, "the processor saws and splits", "")
    timed = [one for one in sessions if one.step == step]
    if step == "delivering":
        return _delivering(costs, timed)
    found_ = assumed()[f"{step}_h_cord"]
    if not timed:
        return StepHours(step, found_.spread, 0.0, found_.basis, found_.source)
    rate = learnt_hours(found_.value, found_.log_sd, timed)
    return StepHours(step, rate.per_cord, rate.own_share, found_.basis, found_.source, rate.sessions)


def _delivering(costs: Costs, timed: Sequence[Session]) -> StepHours:
    """Sessions are of wood that was brought: the share that is brought is taken of what they teach."""
    speed, unloading = assumed()["speed_km_h"], assumed()["unloading_h_cord"]
    road = 2.0 * costs.way_km / costs.cords_a_trip / speed.value
    mid = costs.delivered_share * (road + unloading.value)
    if mid <= 0.0:
        return StepHours("delivering", Spread.exactly(0.0), 0.0, "nothing is brought", "")
    sd = math.hypot(road * speed.log_sd, unloading.value * unloading.log_sd) / (road + unloading.value)
    rate = learnt_hours(road + unloading.value, sd, timed)
    return StepHours(
        "delivering",
        rate.per_cord.scaled(costs.delivered_share),
        rate.own_share if timed else 0.0,
        f"worked out: {2 * costs.way_km:g} km there and back, {costs.cords_a_trip:g} cords a trip, "
        f"{speed.value:g} km/h from memory, unloading {unloading.value:g} h a cord, a judgement",
        "",
        rate.sessions,
    )


def step_words(step: str) -> Text:
    """What a step is called."""
    return {
        "sawing": T_("sawing"),
        "splitting": T_("splitting"),
        "stacking": T_("stacking"),
        "loading": T_("loading"),
        "delivering": T_("delivering"),
    }[step]


def method_words(method: str) -> Text:
    """What a way of splitting is called."""
    return {
        "hydraulic_splitter": T_("hydraulic splitter"),
        "splitting_maul": T_("splitting maul"),
        "heavy_maul": T_("heavy maul"),
        "wedge_on_handle": T_("wedge on a handle"),
        "felling_axe": T_("felling axe"),
        "sledge_and_wedges": T_("sledge and wedges"),
        "wedge_on_stand": T_("wedge on a stand"),
        "processor": T_("firewood processor"),
    }[method]


def _one_of(field: str, given: str, known: Sequence[str]) -> None:
    if given not in known:
        raise InputError(
            field,
            wanted=T_("one of: {names}", names=", ".join(known)),
            got=given,
            next_move=T_("Choose one of them."),
        )


def log_sd_of(spread: Spread) -> float:
    """One standard deviation of the logarithm of a figure with this spread; 0 for one without doubt."""
    if spread.low <= 0.0 or spread.high <= spread.low:
        return 0.0
    return math.log(spread.high / spread.low) / (2.0 * TO_10_90)


def own_hours(hours: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    """The yard's hours by step in the order of the steps."""
    return tuple((step, hours[step]) for step in STEPS if step in hours)
