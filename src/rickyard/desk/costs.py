"""What the yard's work and means cost, and the margin it wants: set by its owner, assumed where nothing was said."""

from __future__ import annotations

from dataclasses import dataclass, fields

from sqlalchemy.orm import Session

from rickyard.book.models import YardCosts
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.editing import must_be_as_seen, plain_facts
from rickyard.worth import Costs, Margin, own_hours

_COLUMNS = tuple(item.name for item in fields(Costs) if item.name != "hours")


@dataclass(frozen=True, kw_only=True)
class CostFacts:
    """Empty figures are assumed; see `rickyard.worth.Costs`. `hours` are hours a cord by step.

    `margin` is a share of the selling value, or minor units a cord, load or hour, by `margin_kind`. What a litre, a
    kilometre, a cord and month cost may be a broken number of minor units: what was told may be of a gallon or a mile.
    """

    wage_minor_h: int | None = None
    machine_minor_h: int | None = None
    fuel_minor_l: float | None = None
    vehicle_minor_km: float | None = None
    space_minor_cord_month: float | None = None
    metal_minor: int | None = None
    interest_year: float = 0.0
    method: str = "hydraulic_splitter"
    delivery_km: float | None = None
    trip_cords: float | None = None
    delivered_share: float = 1.0
    kerf_m: float = 0.008
    hours: tuple[tuple[str, float], ...] = ()
    margin_kind: str = "share"
    margin: float = 0.15

    def costs(self) -> Costs:
        """Raises InputError for the figure that makes no sense."""
        told = {name: getattr(self, name) for name in _COLUMNS}
        return Costs(**told, hours=own_hours(_hours(self.hours)))

    def wanted(self) -> Margin:
        return Margin(self.margin_kind, self.margin)


def _hours(told: tuple[tuple[str, float], ...]) -> dict[str, float]:
    # A step that is none is refused by `Costs`, not left out.
    Costs(hours=told)
    return dict(told)


@dataclass(frozen=True, kw_only=True)
class SetCosts(Command):
    """All of the yard's costs at once. What offers are worth follows. `seen` as in `desk.editing`."""

    facts: CostFacts
    seen: str = ""


def set_costs(desk: Desk, command: SetCosts) -> Answer:
    """Answer: yard_id."""
    costs, margin = command.facts.costs(), command.facts.wanted()

    def run(stage: Stage) -> Answer:
        must_be_as_seen(command.seen, plain_facts(cost_facts_in(stage.session, stage.yard.id)))
        row = stage.session.get(YardCosts, stage.yard.id)
        if row is None:
            row = YardCosts(yard_id=stage.yard.id)
            stage.session.add(row)
        for name in _COLUMNS:
            setattr(row, name, getattr(costs, name))
        row.hours = dict(costs.hours)
        row.margin_kind, row.margin = margin.kind, margin.amount
        row.deed_id = stage.deed.id
        return {"yard_id": stage.yard.id}

    return do(desk, "set_costs", command, run)


def cost_facts(desk: Desk) -> CostFacts:
    """What the yard said; all empty before it said anything."""
    with desk.book.read() as session:
        return cost_facts_in(session, desk.yard_id)


def cost_facts_in(session: Session, yard_id: int) -> CostFacts:
    """The same as one session sees it."""
    row = session.get(YardCosts, yard_id)
    if row is None:
        return CostFacts()
    return CostFacts(
        **{name: getattr(row, name) for name in _COLUMNS},
        hours=own_hours({step: float(per_cord) for step, per_cord in row.hours.items()}),
        margin_kind=row.margin_kind,
        margin=row.margin,
    )
