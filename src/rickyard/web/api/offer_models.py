"""What the API answers about wood on offer. Money in minor units; volumes in m³; `low` and `high` are the 10th and
90th percentile."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date

from pydantic import BaseModel

from rickyard.desk.costs import CostFacts
from rickyard.desk.offer_views import OfferCard
from rickyard.web.api.models import Out, ShareOut, SpeciesOut, SpreadOut
from rickyard.worth import Worth


class OfferNoted(BaseModel):
    offer_id: int
    number: int


class OfferTaken(BaseModel):
    """The load in the book, by its id and its number."""

    offer_id: int
    load_id: int
    number: int


class OfferRefused(BaseModel):
    offer_id: int


class MinorOut(Out):
    low: int
    mid: int
    high: int


class YieldOut(BaseModel):
    """Wood sold as one ware: ranked volume when sold; `months_known`: from the yard's drying calendar."""

    ware: str
    species: SpeciesOut
    solid_m3: float
    ranked_m3: float
    minor: int
    months: SpreadOut
    months_known: bool


class StepOut(BaseModel):
    """Hours of one person; `own` is the yard's say in the rate, from 0 (assumed) to 1."""

    step: str
    per_cord: SpreadOut
    hours: float
    own: float
    basis: str
    source: str


class DriverOut(Out):
    name: str
    share: float


class WorthOut(BaseModel):
    """`most_to_pay` leaves exactly `wanted_minor`; below zero it is what must be paid for taking the wood."""

    ranked_m3: SpreadOut
    value: MinorOut
    cost_minor: int
    costs: dict[str, int]
    wanted_minor: int
    most_to_pay: MinorOut
    hours: SpreadOut
    months: SpreadOut
    yields: tuple[YieldOut, ...]
    steps: tuple[StepOut, ...]
    drivers: tuple[DriverOut, ...]
    notes: tuple[str, ...]


class OfferOut(BaseModel):
    """An offer; `odds`: that the chosen margin is left at the price asked. Without `worth`, `trouble` says why."""

    id: int
    number: int
    state: str
    reason: str
    load_id: int | None
    source: str
    offered_on: date
    kind: str
    typed: str
    shares: tuple[ShareOut, ...]
    asked_minor: int | None
    margin_at_asked_minor: int | None
    odds: float | None
    worth: WorthOut | None
    trouble: str | None


class CostsOut(BaseModel):
    """The yard's own figures; null: assumed. `margin` is a share, or minor units, by `margin_kind`."""

    wage_minor_h: int | None
    machine_minor_h: int | None
    fuel_minor_l: float | None
    vehicle_minor_km: float | None
    space_minor_cord_month: float | None
    metal_minor: int | None
    interest_year: float
    method: str
    delivery_km: float | None
    trip_cords: float | None
    delivered_share: float
    kerf_m: float
    hours: dict[str, float]
    margin_kind: str
    margin: float


def costs_out(facts: CostFacts) -> CostsOut:
    return CostsOut.model_validate({**asdict(facts), "hours": dict(facts.hours)})


def offer_out(card: OfferCard) -> OfferOut:
    asked, worth = card.asked_minor, card.worth
    return OfferOut(
        id=card.id,
        number=card.number,
        state=card.state,
        reason=card.reason,
        load_id=card.load_id,
        source=card.facts.source,
        offered_on=card.facts.offered_on,
        kind=card.kind,
        typed=card.facts.typed,
        shares=tuple(ShareOut.model_validate(share) for share in card.shares),
        asked_minor=asked,
        margin_at_asked_minor=worth.margin_minor(asked) if worth and asked is not None else None,
        odds=card.odds,
        worth=worth_out(worth) if worth else None,
        trouble=str(card.trouble) if card.trouble else None,
    )


def worth_out(worth: Worth) -> WorthOut:
    return WorthOut(
        ranked_m3=SpreadOut.model_validate(worth.ranked_m3),
        value=MinorOut.model_validate(worth.value),
        cost_minor=worth.cost_minor,
        costs={part.kind: part.minor for part in worth.parts},
        wanted_minor=worth.wanted_minor,
        most_to_pay=MinorOut.model_validate(worth.most_to_pay),
        hours=SpreadOut.model_validate(worth.hours),
        months=SpreadOut.model_validate(worth.months),
        yields=tuple(
            YieldOut(
                ware=one.ware.name,
                species=SpeciesOut.model_validate(one.wood),
                solid_m3=one.solid_m3,
                ranked_m3=one.ranked_m3,
                minor=one.minor,
                months=SpreadOut.model_validate(one.months.spread),
                months_known=one.months.known,
            )
            for one in worth.yields
        ),
        steps=tuple(
            StepOut(
                step=step.rate.step,
                per_cord=SpreadOut.model_validate(step.rate.per_cord),
                hours=step.hours,
                own=step.rate.own,
                basis=step.rate.basis,
                source=step.rate.source,
            )
            for step in worth.steps
        ),
        drivers=tuple(DriverOut.model_validate(one) for one in worth.drivers),
        notes=tuple(str(note) for note in worth.notes),
    )
