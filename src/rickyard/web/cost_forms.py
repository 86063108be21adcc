"""What the yard's work and means cost, in the units that the yard thinks in; the desk keeps litres, kilometres, cords.

A field's name says its unit, so that a form typed in other units is never taken for these.
"""

from __future__ import annotations

from dataclasses import dataclass

from rickyard.cut import methods
from rickyard.desk.costs import CostFacts
from rickyard.desk.editing import plain_facts, state_of
from rickyard.measure import CORD_M3
from rickyard.show import Voice
from rickyard.web.forms import Form
from rickyard.web.visit import Visit
from rickyard.worth import MARGIN_KINDS, STEPS, assumed

KM_A_MILE = 1.609344
L_A_GALLON = 3.785411784
"""A US gallon [L]."""
SLACK = 1e-12
"""How far a figure may be from what was typed by reckoning there and back."""


@dataclass(frozen=True)
class CostUnits:
    """Names of the fields in a yard's units, and how many of ours each of theirs is."""

    fuel: str
    fuel_l: float
    way: str
    way_km: float
    space: str
    trip: str
    hours: str
    volume_cords: float
    margin_each: str

    @property
    def money(self) -> tuple[tuple[str, str, float], ...]:
        """The amounts of money: our field, the desk's name, and how many of the desk's units it is for."""
        return (
            ("wage", "wage_minor_h", 1.0),
            ("machine", "machine_minor_h", 1.0),
            (self.fuel, "fuel_minor_l", self.fuel_l),
            (self.way, "vehicle_minor_km", self.way_km),
            (self.space, "space_minor_cord_month", self.volume_cords),
            ("metal", "metal_minor", 1.0),
        )

    @property
    def names(self) -> dict[str, str]:
        """The desk's names, as our fields."""
        return {theirs: ours for ours, theirs, _ in self.money} | {"trip_cords": self.trip}


def units_of(visit: Visit) -> CostUnits:
    """Miles with feet and inches, gallons where they are sold by (the United States), cubic metres with metres."""
    metric = visit.voice.metric
    gallons = not metric and visit.facts.country == "US"
    return CostUnits(
        fuel="fuel_gallon" if gallons else "fuel",
        fuel_l=L_A_GALLON if gallons else 1.0,
        way="vehicle_km" if metric else "vehicle_mile",
        way_km=1.0 if metric else KM_A_MILE,
        space="space_m3" if metric else "space",
        trip="trip_m3" if metric else "trip_cords",
        hours="own_hours_m3" if metric else "own_hours",
        volume_cords=1.0 / CORD_M3 if metric else 1.0,
        margin_each="m3" if metric else "cord",
    )


def margin_kinds(units: CostUnits) -> list[str]:
    return [units.margin_each if kind == "cord" else kind for kind in MARGIN_KINDS]


def costs_form(visit: Visit, facts: CostFacts) -> Form:
    """The form as the book has it."""
    voice, units = visit.voice, units_of(visit)
    way = facts.delivery_km
    each = facts.margin * (units.volume_cords if facts.margin_kind == "cord" else 1.0)
    return visit.form(
        seen=state_of(plain_facts(facts)),
        **{ours: _money(voice, getattr(facts, theirs), size) for ours, theirs, size in units.money},
        interest=_figure(voice, 100 * facts.interest_year) if facts.interest_year else None,
        split_method=facts.method,
        delivery_distance=None if way is None else _figure(voice, way / units.way_km, 1),
        **{
            units.trip: None
            if facts.trip_cords is None
            else _figure(voice, facts.trip_cords / units.volume_cords)
        },
        delivered_share=_figure(voice, 100 * facts.delivered_share),
        margin_kind=units.margin_each if facts.margin_kind == "cord" else facts.margin_kind,
        margin=_figure(voice, 100 * facts.margin)
        if facts.margin_kind == "share"
        else voice.typed_amount(each),
        **{
            f"{units.hours}-{step}": _figure(voice, per_cord * units.volume_cords)
            for step, per_cord in facts.hours
        },
    )


def usual_costs(visit: Visit) -> dict[str, str]:
    """What is assumed where a field is empty."""
    voice, units, known = visit.voice, units_of(visit), assumed()
    found = {ours: voice.money(round(known[theirs].value * size)) for ours, theirs, size in units.money}
    found["delivery_distance"] = voice.amount(
        1000 * known["delivery_km"].value, "km" if voice.metric else "mi", 0
    )
    found[units.trip] = voice.volume(known["trip_cords"].value * CORD_M3, both=False)
    return found


def read_costs(visit: Visit, form: Form, before: CostFacts) -> CostFacts:
    """What was typed; what is wrong with it stands in the form.

    A figure that stands as the form showed it stays as the book has it, however it is rounded in these units.
    """
    units, shown = units_of(visit), costs_form(visit, before)

    def stands(*names: str) -> bool:
        return all(form.value(name).strip() == shown.value(name).strip() for name in names)

    kind = form.choice("margin_kind", (*MARGIN_KINDS, "m3"), "share")
    margin = form.percent("margin", high=0.95) if kind == "share" else float(form.money("margin"))
    if kind == "m3":
        kind, margin = "cord", margin * CORD_M3
    kept = dict(before.hours)
    hours = tuple(
        (step, kept[step] if step in kept and stands(name) else typed / units.volume_cords)
        for step in STEPS
        if form.value(name := f"{units.hours}-{step}").strip()
        for typed in (form.number(name, low=0.0, high=100.0),)
    )
    way: float | None = None
    if form.value("delivery_distance").strip():
        way = form.number("delivery_distance", low=0.0, high=600.0) * units.way_km
    trip: float | None = None
    if form.value(units.trip).strip():
        trip = form.number(units.trip, low=0.05, high=50.0) * units.volume_cords
    rates = {theirs: _per_unit(form.money_or_none(ours), size) for ours, theirs, size in units.money}
    facts = CostFacts(
        **rates | {theirs: getattr(before, theirs) for ours, theirs, _ in units.money if stands(ours)},
        interest_year=form.percent_or_none("interest") or 0.0,
        method=form.choice("split_method", tuple(methods())),
        delivery_km=before.delivery_km if stands("delivery_distance") else way,
        trip_cords=before.trip_cords if stands(units.trip) else trip,
        delivered_share=1.0 if not form.value("delivered_share").strip() else form.percent("delivered_share"),
        kerf_m=before.kerf_m,
        hours=hours,
        margin_kind=kind,
        margin=before.margin if stands("margin_kind", "margin") else margin,
    )
    form.check()
    return facts


def _per_unit(typed: int | None, size: float) -> float | int | None:
    """Minor units for one of the desk's units; what is told for one of these stays whole."""
    return typed if typed is None or size == 1.0 else typed / size


def _money(voice: Voice, minor: float | None, size: float) -> str | None:
    """An amount for `size` of the desk's units, as it was typed."""
    return None if minor is None else voice.typed_amount(minor * size)


def _figure(voice: Voice, value: float, digits: int = 2) -> str:
    """A figure as it was typed; one that was typed in other units, with as many `digits` as it needs."""
    typed = next(
        (most for most in range(7) if abs(round(value, most) - value) < SLACK * max(1.0, abs(value))), digits
    )
    return voice.decimal(value, typed, strip=True)
