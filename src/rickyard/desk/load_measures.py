"""A load measured more than one way: truck bed, weighbridge, logs. What they come to together, and whether the book
follows.

Noting a measure moves nothing in the journal. Making the book follow is a deed of its own with its reason: it moves
what still lies in the load from what the journal counted to the one estimate, as a stock-taking does. Wood that was
cut already stands in stacks, which are measured by themselves.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from rickyard.book import Move, post, stock
from rickyard.book.models import Deed, Load, LoadFollowing, LoadMeasure, Person
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.loads import first_measure
from rickyard.desk.log_lists import gauge_logs
from rickyard.desk.spots import yard_spot
from rickyard.desk.spreads import density_of, sd_of
from rickyard.desk.wood_in import find_load, unknown_load
from rickyard.desk.yards import place_code
from rickyard.errors import InputError
from rickyard.measure import (
    TO_10_90,
    LogRow,
    Reconciled,
    Spread,
    reconcile,
    truck_measure,
    weighed_load,
)
from rickyard.rules import weight_notes
from rickyard.text import T_, Text
from rickyard.wood import Species, get_species

KINDS: dict[str, Text] = {
    "first": T_("as it was taken in"),
    "truck": T_("by the truck's bed"),
    "weight": T_("by weight"),
    "logs": T_("log by log"),
}


@dataclass(frozen=True, kw_only=True)
class TruckFigures:
    """A load on the truck: inner width, heights, length of the logs or pieces; `length_m` of the bed, or tiers."""

    width_m: float
    fill_heights_m: tuple[float, ...]
    piece_length_m: float
    length_m: float | None = None
    tiers: int = 1
    piled: str = "ranked"


@dataclass(frozen=True, kw_only=True)
class WeightFigures:
    """Net weight from a weighbridge; the moisture of the wood (of total mass), None if it was freshly felled."""

    net_kg: float
    mc_wet: float | None = None
    bark: bool = True


@dataclass(frozen=True, kw_only=True)
class NoteMeasure(Command):
    """Another measure of a load: exactly one of `truck`, `weight` and `logs`. The journal stays as it is."""

    load_id: int
    truck: TruckFigures | None = None
    weight: WeightFigures | None = None
    logs: tuple[LogRow, ...] = ()
    over_bark: bool = False
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class SetMeasureAside(Command):
    """A measure that was a slip: it is kept and counts no more."""

    measure_id: int


@dataclass(frozen=True, kw_only=True)
class FollowMeasures(Command):
    """The book follows what the measures of a load come to together, and why."""

    load_id: int
    reason: str


@dataclass(frozen=True)
class MeasureLine:
    """One measure of a load; `id` is None for that with which it was taken in. `weight`: how much it counts."""

    id: int | None
    kind: str
    solid_m3: Spread
    weight: float
    happened_at: datetime | None
    person: str
    note: str
    set_aside: bool
    told: dict[str, Any]


@dataclass(frozen=True)
class FollowedLine:
    happened_at: datetime
    reason: str
    solid_m3: Spread


@dataclass(frozen=True)
class LoadMeasures:
    """All measures of a load.

    `together` is their one estimate, None while there is but one; `booked_m3` is what the journal counts the whole
    load as; `may_follow`: whether anything is left to move. `law`: what the rules of the place say of weight, if
    one of the measures is a weight.
    """

    lines: tuple[MeasureLine, ...]
    together: Reconciled | None
    booked_m3: float
    may_follow: bool
    followed: tuple[FollowedLine, ...]
    law: tuple[Text, ...]


def note_measure(desk: Desk, command: NoteMeasure) -> Answer:
    """Notes another measure of a load. Answer: measure_id, load_id, solid_m3."""
    note = some_text("note", command.note, 300, needed=False)
    told = [name for name in ("truck", "weight", "logs") if getattr(command, name)]
    if len(told) != 1:
        raise InputError(
            "measure",
            wanted=T_("one way of measuring: truck, weight or logs"),
            got=", ".join(told) or T_("none"),
            next_move=T_("Note each measure by itself."),
        )

    def run(stage: Stage) -> Answer:
        load = find_load(stage, command.load_id)
        solid, figures = _measured(command, _shares(stage.session, load))
        row = LoadMeasure(
            yard_id=stage.yard.id,
            load_id=load.id,
            deed_id=stage.deed.id,
            kind=told[0],
            low_m3=solid.low,
            mid_m3=solid.mid,
            high_m3=solid.high,
            told=figures,
            note=note,
        )
        stage.session.add(row)
        stage.session.flush()
        return {"measure_id": row.id, "load_id": load.id, "solid_m3": solid.mid}

    return do(desk, "note_measure", command, run)


def set_measure_aside(desk: Desk, command: SetMeasureAside) -> Answer:
    """A measure counts no more. The journal stays: let it follow again if it had. Answer: measure_id, load_id."""

    def run(stage: Stage) -> Answer:
        row = stage.session.get(LoadMeasure, command.measure_id)
        if row is None or row.yard_id != stage.yard.id or row.set_aside_deed_id is not None:
            raise InputError(
                "measure",
                wanted=T_("a measure of this yard that counts"),
                got=command.measure_id,
                next_move=T_("Choose it on the page of its load."),
                code="unknown_measure",
            )
        row.set_aside_deed_id = stage.deed.id
        return {"measure_id": row.id, "load_id": row.load_id}

    return do(desk, "set_measure_aside", command, run)


def follow_measures(desk: Desk, command: FollowMeasures) -> Answer:
    """The journal follows the one estimate of a load's measures. Answer: load_id, solid_m3, difference_g."""
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        load = find_load(stage, command.load_id)
        rows = _rows(stage.session, load)
        counting = [row for row in rows if row.set_aside_deed_id is None]
        followed = _followed(stage.session, load)
        if not counting and not followed:
            raise InputError(
                "load",
                wanted=T_("a load that was measured in more than one way"),
                got=T_("one measure"),
                next_move=T_("Note another measure first."),
                code="one_measure",
            )
        held = {key: grams for key, grams in stock(stage.session, load.spot_id).items() if grams > 0}
        if not any(key.form != "bark" for key in held):
            raise InputError(
                "load",
                wanted=T_("a load with wood left"),
                got=T_("load {number}, which is used up", number=load.number),
                next_move=T_("Measure the stacks that it went into."),
                code="load_used_up",
            )
        together = _together(first_measure(stage.session, load), counting)
        factor = together.solid_m3.mid / _booked_m3(stage.session, load)
        solid = together.solid_m3
        load.mass_sd_share = math.log(solid.high / solid.low) / (2.0 * TO_10_90)
        difference = _move(stage, load, held, factor, reason)
        stage.session.add(
            LoadFollowing(
                yard_id=stage.yard.id,
                load_id=load.id,
                deed_id=stage.deed.id,
                low_m3=solid.low,
                mid_m3=solid.mid,
                high_m3=solid.high,
                reason=reason,
            )
        )
        return {"load_id": load.id, "solid_m3": solid.mid, "difference_g": difference}

    return do(desk, "follow_measures", command, run)


def load_measures(desk: Desk, load_id: int) -> LoadMeasures:
    """The measures of a load, side by side and as one."""
    with desk.book.read() as session:
        load = session.get(Load, load_id)
        if load is None or load.yard_id != desk.yard_id:
            raise unknown_load(load_id)
        yard = desk.yard(session)
        rows = _rows(session, load)
        counting = [row for row in rows if row.set_aside_deed_id is None]
        first = first_measure(session, load)
        together = _together(first, counting) if counting and first.mid > 0 else None
        weights = list(together.weights) if together else [1.0]
        lines = [MeasureLine(None, "first", first, weights.pop(0), None, "", "", False, {})]
        for row in rows:
            aside = row.set_aside_deed_id is not None
            lines.append(
                MeasureLine(
                    row.id,
                    row.kind,
                    _spread(row),
                    0.0 if aside else weights.pop(0),
                    row.deed.happened_at,
                    _person(session, row.deed),
                    row.note,
                    aside,
                    row.told,
                )
            )
        left = stock(session, load.spot_id)
        followed = _followed(session, load)
        weighed = any(row.kind == "weight" for row in counting)
        return LoadMeasures(
            lines=tuple(lines),
            together=together,
            booked_m3=_booked_m3(session, load),
            may_follow=bool(counting or followed)
            and any(grams > 0 for key, grams in left.items() if key.form != "bark"),
            followed=tuple(
                FollowedLine(row.deed.happened_at, row.reason, _spread(row)) for row in reversed(followed)
            ),
            law=weight_notes(place_code(yard.country, yard.subdivision)) if weighed else (),
        )


def _measured(command: NoteMeasure, shares: list[tuple[Species, float]]) -> tuple[Spread, dict[str, Any]]:
    """Solid wood by one measure, and its figures as they are kept."""
    if command.truck is not None:
        figures = asdict(command.truck)
        return truck_measure(**figures).solid_m3, figures
    if command.weight is not None:
        weight = command.weight
        found = weighed_load(weight.net_kg, shares, mc_wet=weight.mc_wet, bark=weight.bark)
        return found.solid_m3, asdict(weight) | {"shares": [(wood.id, share) for wood, share in shares]}
    gauged = gauge_logs(command.logs, over_bark=command.over_bark)
    kept = {
        "over_bark": command.over_bark,
        "gross_m3": sum(gauged.gross_m3.values()),
        "lost_m3": gauged.lost_m3,
        "logs": [asdict(row) for row in gauged.rows],
    }
    return gauged.solid_m3, kept


def _shares(session: Session, load: Load) -> list[tuple[Species, float]]:
    """The woods of a load by solid volume, as the book names them now; of what came in, else of what is left."""
    volumes: dict[str, float] = {}
    for key, grams in stock(session, load.spot_id).items():
        if key.form != "bark" and grams > 0:
            wood = get_species(key.species_id)
            volumes[wood.id] = volumes.get(wood.id, 0.0) + grams / wood.basic_density_kg_m3
    if not volumes:
        raise InputError(
            "load",
            wanted=T_("a load with wood left, whose species are known"),
            got=T_("load {number}, which is used up", number=load.number),
            next_move=T_("Measure the stacks that it went into."),
            code="load_used_up",
        )
    return [(get_species(name), volume) for name, volume in sorted(volumes.items())]


def _move(stage: Stage, load: Load, held: dict[Any, int], factor: float, reason: str) -> int:
    """Posts what is left in the load up or down by a factor; how much wood that is [g]."""
    outer = yard_spot(stage.session, stage.yard.id, "outside")
    moves: list[Move] = []
    difference = 0
    for key, grams in held.items():
        change = max(1, round(grams * factor)) - grams
        if not change:
            continue
        difference += 0 if key.form == "bark" else change
        moves += [
            Move(
                load.spot_id,
                key.species_id,
                key.form,
                key.lot_id,
                change,
                quantity=(grams + change) / 1000 / density_of(key),
                unit="solid_m3",
                method="measures joined by their spreads",
                # Of the change: what is left is known to this, beside the little that it moves.
                sd_share=sd_of(key, load.mass_sd_share) * (grams + change) / abs(change),
                basic_density_kg_m3=density_of(key),
            ),
            Move(outer, key.species_id, key.form, key.lot_id, -change),
        ]
    if moves:
        post(
            stage.session,
            stage.yard.id,
            kind="remeasure",
            happened_at=stage.happened_at,
            recorded_at=stage.recorded_at,
            moves=moves,
            reason=reason,
            deed_id=stage.deed.id,
        )
    return difference


def _together(first: Spread, rows: list[LoadMeasure]) -> Reconciled:
    return reconcile([(KINDS["first"], first), *((KINDS[row.kind], _spread(row)) for row in rows)])


def _booked_m3(session: Session, load: Load) -> float:
    """What the journal counts the whole load as [m³]: the first measure, or what it was last made to follow."""
    followed = _followed(session, load)
    return followed[-1].mid_m3 if followed else first_measure(session, load).mid


def _spread(row: LoadMeasure | LoadFollowing) -> Spread:
    return Spread(row.low_m3, row.mid_m3, row.high_m3)


def _rows(session: Session, load: Load) -> list[LoadMeasure]:
    return list(
        session.scalars(
            select(LoadMeasure)
            .where(LoadMeasure.load_id == load.id)
            .order_by(LoadMeasure.id)
            .options(selectinload(LoadMeasure.deed))
        )
    )


def _followed(session: Session, load: Load) -> list[LoadFollowing]:
    return list(
        session.scalars(
            select(LoadFollowing).where(LoadFollowing.load_id == load.id).order_by(LoadFollowing.id)
        )
    )


def _person(session: Session, deed: Deed) -> str:
    return "" if deed.person_id is None else session.get_one(Person, deed.person_id).name
