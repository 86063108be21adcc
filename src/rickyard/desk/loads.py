"""Loads as the book has them: listed and searched, each with what came in and what is left of it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ScalarSelect, func, select
from sqlalchemy.orm import Session

from rickyard.book import StockKey, not_taken_back, stock, stock_by_spot
from rickyard.book.models import Entry, Load, LogPiece, Posting, Undoing
from rickyard.desk.context import Desk
from rickyard.desk.expectations import Expectation, expectation
from rickyard.desk.log_lists import row_of
from rickyard.desk.paging import after_row, contains, is_number
from rickyard.desk.stacks import JournalLine, journal_of
from rickyard.desk.wood_in import Harvest, unknown_load
from rickyard.errors import InputError
from rickyard.measure import TO_10_90, Defect, Spread, YardFactor
from rickyard.text import T_, Text
from rickyard.wood import Species, all_groups, get_species

# Deeds that say what a load was when it had come in.
FIRST_KINDS = ("opening", "take_in", "name")


@dataclass(frozen=True)
class LoadRow:
    """One line of the list of loads."""

    id: int
    number: int
    source: str
    arrived_on: date
    detail: str
    typed: str
    shares: tuple[tuple[Species, float], ...]
    left_share: float
    left_kg: float
    undone_at: datetime | None
    undone_for: str


@dataclass(frozen=True)
class LogLine:
    number: int
    species: Species
    length_m: float
    small_d_m: float | None
    large_d_m: float | None
    mid_d_m: float | None
    bark_thickness_m: float
    formula: str
    volume_m3: float
    gross_m3: float
    sweep_m: float
    defects: tuple[Defect, ...]
    bark_by_species: bool
    lost_m3: tuple[tuple[str, float], ...]
    notes: tuple[Text, ...]


@dataclass(frozen=True)
class LoadPage:
    row: LoadRow
    harvest: Harvest
    note: str
    paid_minor: int | None
    logs: tuple[LogLine, ...]
    as_arrived: Expectation
    left: Expectation
    journal: tuple[JournalLine, ...]


def loads(
    desk: Desk,
    *,
    with_wood_only: bool = False,
    not_named_only: bool = False,
    search: str = "",
    before: int | None = None,
    limit: int | None = None,
    ids: Sequence[int] | None = None,
    number: int | None = None,
) -> list[LoadRow]:
    """All loads, newest first; those after the load `before` in that order, at most `limit`, if said.

    `search` is part of the source, of what was typed as the quantity or of the note, or the load's number; `ids` and
    `number`: only these, or that one. `not_named_only`: those with wood left that has no species' name yet.
    """
    with desk.book.read() as session:
        query = select(Load).where(Load.yard_id == desk.yard_id)
        if ids is not None:
            query = query.where(Load.id.in_(ids))
        if number is not None:
            query = query.where(Load.number == number)
        if with_wood_only:
            query = query.where(_wood_left() > 0)
        if not_named_only:
            query = query.where(_wood_left(tuple(wood.id for wood in all_groups())) > 0)
        if search.strip():
            found = contains(search, Load.source, Load.typed, Load.note)
            typed = search.strip()
            query = query.where(found | (Load.number == int(typed)) if is_number(typed) else found)
        query = after_row(query, Load, before, Load.arrived_on, Load.id, descending=True).limit(limit)
        page = session.scalars(query).all()
        spots = [load.spot_id for load in page]
        held = stock_by_spot(session, desk.yard_id, spots=spots)
        came = came_in(session, desk.yard_id, spots)
        undone = _undone(session, desk.yard_id, [load.id for load in page])
        rows = [
            _row(load, held.get(load.spot_id, {}), came.get(load.spot_id, {}), undone.get(load.id))
            for load in page
        ]
    return [row for row in rows if row.left_share > 0.001] if with_wood_only else rows


def count_loads(desk: Desk) -> int:
    with desk.book.read() as session:
        query = select(func.count()).select_from(Load).where(Load.yard_id == desk.yard_id)
        return session.scalar(query) or 0


def sources(desk: Desk, most: int = 20) -> list[str]:
    """Where wood came from, the last first, each once."""
    with desk.book.read() as session:
        last = func.max(Load.arrived_on)
        query = select(Load.source).where(Load.yard_id == desk.yard_id).group_by(Load.source)
        return list(session.scalars(query.order_by(last.desc(), func.max(Load.id).desc()).limit(most)))


def load_numbered(desk: Desk, number: int, field: str = "load") -> int:
    """The id of the load with this number; InputError for `field` if there is none."""
    with desk.book.read() as session:
        found = session.scalar(select(Load.id).where(Load.yard_id == desk.yard_id, Load.number == number))
        if found is None:
            raise InputError(
                field,
                wanted=T_("the number of a load of this yard"),
                got=number,
                next_move=T_("Read it again from the list of loads."),
            )
        return found


def load_page(
    desk: Desk,
    load_id: int,
    *,
    piece_length_m: float = 0.406,
    mc_wet: float = 0.20,
    factor: YardFactor | None = None,
) -> LoadPage:
    """A load with what it was, what is left, and what to expect of it split at a piece length."""
    with desk.book.read() as session:
        load = session.get(Load, load_id)
        if load is None or load.yard_id != desk.yard_id:
            raise unknown_load(load_id)
        left = stock(session, load.spot_id)
        came = came_in(session, desk.yard_id, (load.spot_id,)).get(load.spot_id, {})
        return LoadPage(
            row=_row(load, left, came, _undone(session, desk.yard_id, [load.id]).get(load.id)),
            harvest=Harvest(
                country=load.lot.country,
                subdivision=load.lot.subdivision,
                county=load.lot.county,
                certificate=load.lot.certificate,
            ),
            note=load.note,
            paid_minor=load.paid_minor,
            logs=tuple(_log_line(log) for log in load.logs),
            as_arrived=expectation(
                came, load.mass_sd_share, piece_length_m=piece_length_m, mc_wet=mc_wet, factor=factor
            ),
            left=expectation(
                left, load.mass_sd_share, piece_length_m=piece_length_m, mc_wet=mc_wet, factor=factor
            ),
            journal=journal_of(session, load.spot_id),
        )


def left_of_load(
    desk: Desk,
    load_id: int,
    *,
    piece_length_m: float = 0.406,
    mc_wet: float = 0.20,
    factor: YardFactor | None = None,
) -> Expectation:
    """What is left of a load and what to expect of it, as on its page, without all else that stands there."""
    with desk.book.read() as session:
        load = session.get(Load, load_id)
        if load is None or load.yard_id != desk.yard_id:
            raise unknown_load(load_id)
        return expectation(
            stock(session, load.spot_id),
            load.mass_sd_share,
            piece_length_m=piece_length_m,
            mc_wet=mc_wet,
            factor=factor,
        )


def first_measure(session: Session, load: Load) -> Spread:
    """The solid wood of a load by the measure with which it was taken in (and named since) [m³]."""
    return first_measures(session, load.yard_id, [load])[load.id]


def first_measures(session: Session, yard_id: int, loads: Sequence[Load]) -> dict[int, Spread]:
    """The same of many loads of a yard, by their ids."""
    spots = tuple(load.spot_id for load in loads)
    came = came_in(session, yard_id, spots, kinds=FIRST_KINDS)
    rows = session.execute(
        select(Posting.spot_id, func.max(Posting.sd_share))
        .join(Entry, Entry.id == Posting.entry_id)
        .where(
            Posting.spot_id.in_(spots),
            Posting.form != "bark",
            Entry.kind.in_(("opening", "take_in")),
        )
        .group_by(Posting.spot_id)
    )
    sd_shares: dict[int, float | None] = {row.spot_id: row[1] for row in rows}
    measured: dict[int, Spread] = {}
    for load in loads:
        mid = sum(
            grams / 1000 / get_species(key.species_id).basic_density_kg_m3
            for key, grams in came.get(load.spot_id, {}).items()
            if key.form != "bark"
        )
        sd_share = sd_shares.get(load.spot_id)
        # As a factor up and down, so that the middle is also that of the logarithm, which measures are joined by.
        factor = math.exp(TO_10_90 * (load.mass_sd_share if sd_share is None else sd_share))
        measured[load.id] = Spread(mid / factor, mid, mid * factor)
    return measured


def came_in(
    session: Session,
    yard_id: int,
    spots: Sequence[int],
    *,
    kinds: tuple[str, ...] = (*FIRST_KINDS, "remeasure"),
) -> dict[int, dict[StockKey, int]]:
    """What each load (by its spot) held once it had come in, been named and measured: but not what went to use.

    Nor what was taken back: neither the mistake nor its reversal.
    """
    rows = session.execute(
        select(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id, func.sum(Posting.mass_g))
        .join(Entry, Posting.entry_id == Entry.id)
        .join(Load, Load.spot_id == Posting.spot_id)
        .where(
            Load.yard_id == yard_id,
            Posting.spot_id.in_(spots),
            Entry.kind.in_(kinds),
            not_taken_back(),
        )
        .group_by(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id)
    )
    came: dict[int, dict[StockKey, int]] = defaultdict(dict)
    for spot_id, species_id, form, lot_id, grams in rows:
        if grams:
            came[spot_id][StockKey(species_id, form, lot_id)] = int(grams)
    return came


def _wood_left(kinds: Sequence[str] = ()) -> ScalarSelect[int]:
    """Grams of wood without bark that a load of the query still holds; only of these `kinds`, if said."""
    left = select(func.sum(Posting.mass_g)).where(Posting.spot_id == Load.spot_id, Posting.form != "bark")
    if kinds:
        left = left.where(Posting.species_id.in_(kinds))
    return left.correlate(Load).scalar_subquery()


def _undone(session: Session, yard_id: int, load_ids: Sequence[int]) -> dict[int, Undoing]:
    rows = session.scalars(
        select(Undoing).where(Undoing.yard_id == yard_id, Undoing.load_id.in_(tuple(load_ids)))
    )
    return {row.load_id: row for row in rows if row.load_id is not None}


def _log_line(log: LogPiece) -> LogLine:
    row = row_of(log)
    # Only a log with defects has anything to be reckoned again; what the book holds of it stays as it is.
    net = row.net() if row.defects else None
    return LogLine(
        log.number,
        get_species(log.species_id),
        log.length_m,
        log.small_d_m,
        log.large_d_m,
        log.mid_d_m,
        log.bark_thickness_m,
        log.formula,
        log.volume_m3,
        gross_m3=log.gross_m3,
        sweep_m=log.sweep_m,
        defects=row.defects,
        bark_by_species=log.bark_by_species,
        lost_m3=tuple((str(kind), lost) for kind, lost in net.lost_m3.items()) if net else (),
        notes=net.notes if net else (),
    )


def _row(
    load: Load, held: dict[StockKey, int], came: dict[StockKey, int], undoing: Undoing | None
) -> LoadRow:
    wood: dict[str, int] = defaultdict(int)
    for key, grams in came.items():
        if key.form != "bark":
            wood[key.species_id] += grams
    total = sum(wood.values())
    left = sum(grams for key, grams in held.items() if key.form != "bark")
    return LoadRow(
        id=load.id,
        number=load.number,
        source=load.source,
        arrived_on=load.arrived_on,
        detail=load.detail,
        typed=load.typed,
        shares=tuple(
            (get_species(species_id), grams / total)
            for species_id, grams in sorted(wood.items(), key=lambda item: -item[1])
            if grams > 0
        ),
        left_share=left / total if total else 0.0,
        left_kg=left / 1000,
        undone_at=undoing.undone_at if undoing else None,
        undone_for=undoing.reason if undoing else "",
    )
