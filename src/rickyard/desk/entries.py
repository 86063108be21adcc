"""One entry of the journal by itself: who, when, why, and what was measured."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Deed, Entry, Load, Lot, Person, Posting, Spot, Stack, Ticket
from rickyard.desk.context import Desk
from rickyard.desk.wood_in import Harvest
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.wood import Species, get_species


@dataclass(frozen=True)
class EntryPlace:
    """Where wood lay. `kind` as in the journal; a stack or load has its `id` and its name or number."""

    kind: str
    id: int | None
    name: str


@dataclass(frozen=True)
class PostingLine:
    """Wood into (+) or out of (-) a place, and how it was measured.

    `sd_kg`: standard deviation of the mass; None where none was kept, as on the other side of what was measured.
    """

    place: EntryPlace
    species: Species
    form: str
    harvest: Harvest
    mass_kg: float
    sd_kg: float | None
    quantity: float | None
    unit: str
    method: str
    basic_density_kg_m3: float | None


@dataclass(frozen=True)
class EntryPage:
    """An entry. `reverses` and `reversed_by`: numbers of other entries; `ticket_id`: its paper."""

    number: int
    kind: str
    reason: str
    deed_kind: str
    who: str
    happened_at: datetime
    recorded_at: datetime
    reverses: int | None
    reversed_by: int | None
    ticket_id: int | None
    lines: tuple[PostingLine, ...]


def entry_page(desk: Desk, number: int) -> EntryPage:
    """The entry with this number; InputError if the yard's journal has none."""
    with desk.book.read() as session:
        entry = session.scalar(select(Entry).where(Entry.yard_id == desk.yard_id, Entry.number == number))
        if entry is None:
            raise InputError(
                "entry",
                wanted=T_("the number of an entry of this journal"),
                got=number,
                next_move=T_("Open it from the page of its stack."),
                code="unknown_entry",
            )
        deed = None if entry.deed_id is None else session.get_one(Deed, entry.deed_id)
        who = None if deed is None or deed.person_id is None else session.get_one(Person, deed.person_id)
        back = select(Entry.number).where(Entry.reverses_id == entry.id)
        return EntryPage(
            number=entry.number,
            kind=entry.kind,
            reason=entry.reason,
            deed_kind=deed.kind if deed else "",
            who=who.name if who else "",
            happened_at=entry.happened_at,
            recorded_at=entry.recorded_at,
            reverses=None if entry.reverses_id is None else session.get_one(Entry, entry.reverses_id).number,
            reversed_by=session.scalar(back),
            ticket_id=session.scalar(select(Ticket.id).where(Ticket.entry_id == entry.id).limit(1)),
            lines=tuple(_line(session, posting) for posting in entry.postings),
        )


def _line(session: Session, posting: Posting) -> PostingLine:
    lot = session.get_one(Lot, posting.lot_id)
    known = posting.sd_share is not None
    return PostingLine(
        place=_place(session, posting.spot_id),
        species=get_species(posting.species_id),
        form=posting.form,
        harvest=Harvest(
            country=lot.country, subdivision=lot.subdivision, county=lot.county, certificate=lot.certificate
        ),
        mass_kg=posting.mass_g / 1000,
        sd_kg=abs(posting.mass_g) / 1000 * (posting.sd_share or 0.0) if known else None,
        quantity=posting.quantity,
        unit=posting.unit,
        method=posting.method,
        basic_density_kg_m3=posting.basic_density_kg_m3,
    )


def _place(session: Session, spot_id: int) -> EntryPlace:
    """A household stays without its name: this page is for whoever works in the yard."""
    kind = session.get_one(Spot, spot_id).kind
    if kind == "stack":
        stack = session.scalars(select(Stack).where(Stack.spot_id == spot_id)).one()
        return EntryPlace(kind, stack.id, stack.name)
    if kind == "load":
        load = session.scalars(select(Load).where(Load.spot_id == spot_id)).one()
        return EntryPlace(kind, load.id, str(load.number))
    return EntryPlace(kind, None, "")
