"""Which wares a load can give, and how much of each: through the cutting plan where logs are listed, else by shares."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rickyard.cut import CutLog, Saw, Ware, cut_log, plan_cuts, sound_share
from rickyard.cut.hours import TIMED_LENGTH_M
from rickyard.errors import InputError
from rickyard.measure import CORD_M3, Spread, YardFactor, kind_of, learn_yard_factor
from rickyard.measure.limits import within
from rickyard.text import T_, Text
from rickyard.wood import Species, db_from_wet, solid_volume_factor
from rickyard.worth.costs import Assumed, Costs, StepHours, assumed
from rickyard.worth.offer import Offered

FORMS = ("split", "round")
Factor = float | NDArray[np.float64]

MOST_PLANNED = 300
"""Different logs of a wood that are planned one by one; beyond that, or without a list, they are reckoned as one."""


@dataclass(frozen=True)
class PricedWare:
    """What is sold, at today's price.

    Attributes
    ----------
    name, form, piece_length_m
        form is split or round.
    minor_per_m3
        Price of a ranked (stacked) cubic metre in minor units.
    max_mc_wet
        Sold at or below this moisture [water / total mass]; None: sold green.
    species
        Ids of the woods that belong to it; None: any.
    """

    name: str
    form: str
    piece_length_m: float
    minor_per_m3: float
    max_mc_wet: float | None = 0.20
    species: frozenset[str] | None = None

    def __post_init__(self) -> None:
        within("piece_length", self.piece_length_m, (0.05, 2.6))
        within("price", self.minor_per_m3, (0.0, 1e8), "")
        if self.form not in FORMS:
            raise InputError(
                "form",
                wanted=T_("one of: {names}", names=", ".join(FORMS)),
                got=self.form,
                next_move=T_("Kindling is not reckoned with; leave it out."),
            )

    def takes(self, wood: Species) -> bool:
        """Whether such wood is sold as this; of a wider name, whether any wood it may be is."""
        return self.species is None or wood.id in self.species or not self.species.isdisjoint(wood.members)

    def takes_all(self, wood: Species) -> bool:
        """Whether every wood that such a name may mean is sold as this."""
        if self.species is None or wood.id in self.species:
            return True
        return bool(wood.members) and self.species.issuperset(wood.members)


@dataclass(frozen=True)
class Months:
    """From buying to selling a wood dry [months]; `known`: from the drying calendar, not the usual ones."""

    spread: Spread
    known: bool = True


def usual_months() -> Months:
    """What producers say, whatever the wood: for as long as the calendar is not known."""
    return Months(assumed()["usual_months"].spread, known=False)


PUBLISHED = learn_yard_factor(())
"""How tight wood is stacked before the yard's own stacks have taught it."""


@dataclass(frozen=True)
class Line:
    """So much of a wood as one ware: `solid_m3` in the pieces, green; per solid cubic metre its ranked volume when
    sold and when made, its value in minor units, and the green mass [kg]. `share`: of wood in its stacks."""

    wood: Species
    ware: PricedWare
    solid_m3: float
    sold_m3: float
    made_m3: float
    minor: float
    green_kg: float
    months: Months
    share: Spread
    planned: bool = False

    @property
    def loss(self) -> Assumed:
        """Solid wood lost after the saw; a cutting plan has left out ends that do not fit already."""
        return assumed()["loss_listed" if self.planned else "loss_rough"]

    def work(self, step: str) -> float:
        """How often a made cord costs the hours of a step, as on pieces of 0.41 m: a cut and a split for each
        piece, which is an assumption. Wood that is sold green is loaded from the heap, not stacked."""
        if step == "splitting" and self.ware.form != "split":
            return 0.0
        if step == "stacking":
            return 0.0 if self.ware.max_mc_wet is None else 1.0
        return TIMED_LENGTH_M / self.ware.piece_length_m if step in ("sawing", "splitting") else 1.0


def lines_of(
    offered: Offered,
    wares: Sequence[PricedWare],
    costs: Costs,
    hours: Mapping[str, StepHours],
    months: Mapping[str, Months],
    factor: YardFactor = PUBLISHED,
) -> tuple[tuple[Line, ...], tuple[Text, ...]]:
    """What the wood gives, each kind at its best: value less what waiting and stacking cost; and what was left out.

    Raises InputError for wares if nothing of the wood can be sold.
    """
    found: list[Line] = []
    notes: list[Text] = []
    for wood, solid_m3 in offered.parts:
        fitting = [ware for ware in wares if ware.takes(wood)]
        if not fitting:
            notes.append(T_("Nothing that is sold takes {wood}: it is worth nothing here.", wood=wood.names))
            continue
        if not any(ware.takes_all(wood) for ware in fitting):
            notes.append(
                T_(
                    "{wood} is a wide name: it is taken to be a wood that you sell. Name it before you say yes.",
                    wood=wood.names,
                )
            )
        wait = months.get(wood.id) or usual_months()
        each = [line_of(wood, ware, 1.0, wait, factor) for ware in fitting]
        kept = [_kept(line, costs, hours) for line in each]
        logs = _different(offered, wood)
        planned = 0 < len(logs) <= MOST_PLANNED
        if planned:
            volumes = _planned(logs, each, kept, costs)
            cores = _small_cores(offered, wood)
            if cores:
                notes.append(
                    T_(
                        "Logs of {wood} with a rotten or hollow core of under half the cut: {count}. No piece is cut "
                        "where it lies; who sells such pieces gets more of them.",
                        wood=wood.names,
                        count=cores,
                    )
                )
        else:
            if logs:
                notes.append(
                    T_(
                        "More than {most} different logs of {wood}: reckoned without a cutting plan.",
                        most=MOST_PLANNED,
                        wood=wood.names,
                    )
                )
            best = max(range(len(each)), key=lambda at: kept[at] * _left_by_saw(each[at].ware, costs))
            volumes = [0.0] * len(each)
            volumes[best] = solid_m3 * _left_by_saw(each[best].ware, costs)
        if not any(volumes):
            notes.append(T_("No piece of what is sold can be cut from the logs of {wood}.", wood=wood.names))
        found += [
            replace(line_of(wood, line.ware, volume, wait, factor), planned=planned)
            for line, volume in zip(each, volumes, strict=True)
            if volume > 0.0
        ]
    if not found:
        raise InputError(
            "wares",
            wanted=T_("something sold that can be made of this wood"),
            got=", ".join(wood.common_en for wood, _ in offered.parts),
            next_move=T_("Add it to what you sell, with its price, or say no to the offer."),
        )
    return tuple(found), tuple(notes)


def line_of(wood: Species, ware: PricedWare, solid_m3: float, months: Months, factor: YardFactor) -> Line:
    """So much solid wood as one ware, by how tight the yard stacks."""
    share = factor.share("ranked", ware.form, ware.piece_length_m, kind_of(wood))
    shrunk = 1.0 if ware.max_mc_wet is None else solid_volume_factor(wood, db_from_wet(ware.max_mc_wet))
    bark = wood.bark_volume_ratio * wood.bark_basic_density_kg_m3 * (1.0 + wood.bark_green_mc_db)
    green = wood.basic_density_kg_m3 * (1.0 + wood.green_mc_db) + bark
    made = solid_m3 / share.mid
    return Line(
        wood,
        ware,
        solid_m3,
        sold_m3=made * shrunk,
        made_m3=made,
        minor=made * shrunk * ware.minor_per_m3,
        green_kg=solid_m3 * green,
        months=Months(Spread.exactly(0.0)) if ware.max_mc_wet is None else months,
        share=share,
    )


CHOICE_STEPS = ("sawing", "splitting", "stacking")
"""Work that hangs on what is cut: the rest is the same for whatever the wood becomes."""
CHOICE_INPUTS = ("solid", "price", "months", *CHOICE_STEPS)


def gross_and_kept(
    line: Line, costs: Costs, hours: Mapping[str, StepHours], given: Mapping[str, Factor]
) -> tuple[Factor, Factor]:
    """What a line sells for, and that less what hangs on the choice of ware: waiting, space, sawing to stacking.

    `given`: factors on the uncertain inputs, `CHOICE_INPUTS` (1: as it is taken to be).
    """
    gross = line.minor * given["solid"] * given["price"]
    month = line.months.spread.mid * given["months"]
    space = costs.minor("space_minor_cord_month") * month * line.sold_m3 * given["solid"] / CORD_M3
    waiting = gross * np.minimum(1.0, costs.interest_year * month / 12.0)
    wage, machine = costs.minor("wage_minor_h"), costs.minor("machine_minor_h")
    work: Factor = 0.0
    for step in CHOICE_STEPS:
        hour = wage if step == "stacking" else wage + machine
        work = work + hours[step].per_cord.mid * given[step] * line.work(step) * hour
    return gross, gross - space - waiting - work * line.made_m3 * given["solid"] / CORD_M3


def _kept(line: Line, costs: Costs, hours: Mapping[str, StepHours]) -> float:
    _, kept = gross_and_kept(line, costs, hours, dict.fromkeys(CHOICE_INPUTS, 1.0))
    return max(0.0, float(kept))


def _left_by_saw(ware: PricedWare, costs: Costs) -> float:
    return ware.piece_length_m / (ware.piece_length_m + costs.kerf_m)


def _different(offered: Offered, wood: Species) -> Counter[CutLog]:
    """The logs of a wood, alike ones together: without wanted amounts each is cut for itself."""
    return Counter(cut_log(row) for row in offered.logs if row.species_id == wood.id)


def _small_cores(offered: Offered, wood: Species) -> int:
    """How many logs of a wood have a core that a cut sheet may be told to cut through."""
    return sum(sound_share(row) < 1.0 for row in offered.logs if row.species_id == wood.id)


def _planned(logs: Counter[CutLog], each: Sequence[Line], kept: Sequence[float], costs: Costs) -> list[float]:
    """Solid wood of each ware by the cutting plan [m³]."""
    plan = plan_cuts(
        list(logs),
        [
            Ware(str(at), line.ware.piece_length_m, min(1e6, value / 100.0))
            for at, (line, value) in enumerate(zip(each, kept, strict=True))
        ],
        Saw(costs.kerf_m),
    )
    volumes = [0.0] * len(each)
    for one, count in zip(plan.logs, logs.values(), strict=True):
        for cut in one.cuts:
            volumes[cut.ware] += cut.solid_m3 * count
    return volumes
