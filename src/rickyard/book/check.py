"""Proves a book: that the journal balances, nothing is orphaned, no number is missing, the papers agree with it.

Every finding is a problem to look at; most can only come from a fault of the program, of the disk, or of somebody
who wrote to the database by other means. Some can come from the day's work: less wood than the journal says was
taken away (`negative_stock`), wood taken by its day before it was there (`taken_before_it_was_there`), and more
promised than is left (`promised_too_much`).
"""

from __future__ import annotations

import hashlib
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import ColumnElement, Integer, and_, func, or_, select
from sqlalchemy.orm import Session, aliased, selectinload

from rickyard.book import chain, seals
from rickyard.book.book import Book
from rickyard.book.check_chains import Kept as Kept
from rickyard.book.check_chains import hold_against, look_at_chains
from rickyard.book.check_papers import cancelled_tickets, look_at_papers
from rickyard.book.files import FileStore, no_folder
from rickyard.book.journal import stock_by_spot
from rickyard.book.migrations import triggers
from rickyard.book.models import (
    Base,
    Clash,
    Entry,
    Household,
    Load,
    Order,
    Photo,
    Posting,
    Promise,
    Reading,
    Serial,
    Spot,
    Stack,
    Ticket,
    Yard,
)
from rickyard.book.offer_tables import Offer
from rickyard.book.running import EARLY_CODES, NEGATIVE_G, NEGATIVE_SHARE, shortfalls
from rickyard.book.sheet_tables import CutSheet, SplittingSheet
from rickyard.book.sky_tables import WeatherFile
from rickyard.book.types import WholeNumber
from rickyard.text import T_, Text

# How far a ticket's volume may be from its postings', which are parts of it, and promises from the stack [share of
# it].
TICKET_SHARE = 1e-6
VOLUME_SHARE = 0.01
# A file without a photo is no finding until this long after it was written [s]: its deed may not be done yet.
ORPHAN_AGE_S = 3600.0
# What the day's work or the place of the photos explains; all other findings are faults.
DAYS_WORK = (
    "negative_stock",
    "taken_before_it_was_there",
    "promised_too_much",
    "reading_before_stacking",
    "orphan_file",
    "no_files_folder",
)
# What is numbered, and by which serial.
NUMBERED: dict[
    str,
    type[Entry]
    | type[Load]
    | type[Order]
    | type[Ticket]
    | type[Offer]
    | type[CutSheet]
    | type[SplittingSheet],
] = {
    "cut_sheet": CutSheet,
    "entry": Entry,
    "load": Load,
    "offer": Offer,
    "order": Order,
    "splitting_sheet": SplittingSheet,
    "ticket": Ticket,
}


@dataclass(frozen=True)
class Problem(Text):
    """A finding in words for the user; `code` is stable, for programs."""

    code: str = ""


@dataclass(frozen=True)
class CheckReport:
    """What `check` found. `balance_g` is the sum over all spots, which is zero in a sound book.

    `chain`: of each yard the last entry's number and hash; `links`: of the last link over deeds and papers. Kept
    elsewhere, they prove that a later book still holds what this one did.
    """

    problems: tuple[Problem, ...]
    entries: int
    balance_g: int
    chain: Mapping[int, tuple[int, str]] = field(default_factory=dict)
    links: Mapping[int, tuple[int, str]] = field(default_factory=dict)

    @property
    def ok(self) -> bool:
        return not self.problems

    @property
    def faults(self) -> tuple[Problem, ...]:
        """Problems that no day's work makes: of the program, of the disk, or of a hand that wrote past it."""
        return tuple(problem for problem in self.problems if problem.code not in DAYS_WORK)


def check(book: Book, kept: Iterable[Kept] = ()) -> CheckReport:
    """Looks through a whole book as it is at one moment, and changes nothing.

    `kept`: entries that the book must still hold, with all before them, by hashes that were kept elsewhere.
    Raises BookError if the book cannot be read at all.
    """
    with book.read() as session:
        return look_through(session, book.files if book.has_files else None, book.url, kept)


def look_through(
    session: Session, files: FileStore | None, where: str, kept: Iterable[Kept] = ()
) -> CheckReport:
    """The same for a book that a transaction has just filled and not yet committed."""
    found = [*_problems(session), *hold_against(session, kept), *_photos(session, files, where)]
    problems = [Problem(text.msgid, text.values, code) for code, text in found]
    entries = session.scalar(select(func.count()).select_from(Entry)) or 0
    balance_g = int(session.scalar(select(func.sum(Posting.mass_g))) or 0)
    connection = session.connection()
    return CheckReport(tuple(problems), entries, balance_g, chain.heads(connection), seals.heads(connection))


Found = Iterator[tuple[str, Text]]


def _problems(session: Session) -> Found:
    yield from _storage(session)
    yield from _orphans(session)
    yield from _whole_numbers(session)
    yield from _balance(session)
    yield from _reversals(session)
    yield from look_at_chains(session)
    for yard_id in session.scalars(select(Yard.id).order_by(Yard.id)).all():
        yield from _serials(session, yard_id)
        yield from _negative_stock(session, yard_id)
        yield from _taken_early(session, yard_id)
        yield from _tickets(session, yard_id)
        yield from _orders(session, yard_id)
        yield from _promises(session, yard_id)
        yield from _readings(session, yard_id)
        yield from look_at_papers(session, yard_id)


def _storage(session: Session) -> Found:
    connection = session.connection()
    if connection.dialect.name == "sqlite":
        for (line,) in connection.exec_driver_sql("PRAGMA integrity_check(10)"):
            if line != "ok":
                yield "damaged_file", T_("The file is damaged: {what}.", what=line)
    for name in triggers.missing(connection):
        yield (
            "unprotected",
            T_(
                "The book is not protected against changes: the trigger {name} is missing or not as it was made.",
                name=name,
            ),
        )


def _orphans(session: Session) -> Found:
    """Rows that refer to nothing, or to another yard's row, through every foreign key of the schema."""
    for table in Base.metadata.sorted_tables:
        for key in table.foreign_keys:
            parent = key.column.table.alias("parent")
            referred = parent.c[key.column.name]
            joined = table.outerjoin(parent, key.parent == referred)
            lost: ColumnElement[bool] = and_(key.parent.is_not(None), referred.is_(None))
            count = session.scalar(select(func.count()).select_from(joined).where(lost)) or 0
            if count:
                yield (
                    "orphan",
                    T_(
                        "{count} rows of {table} refer by {column} to a row of {parent} that is not there.",
                        count=count,
                        table=table.name,
                        column=key.parent.name,
                        parent=key.column.table.name,
                    ),
                )
            if "yard_id" in table.c and "yard_id" in parent.c:
                other = parent.c.yard_id != table.c.yard_id
                count = session.scalar(select(func.count()).select_from(joined).where(other)) or 0
                if count:
                    yield (
                        "other_yard",
                        T_(
                            "{count} rows of {table} refer by {column} to another yard's {parent}.",
                            count=count,
                            table=table.name,
                            column=key.parent.name,
                            parent=key.column.table.name,
                        ),
                    )


def _whole_numbers(session: Session) -> Found:
    """SQLite keeps what it is given: a fraction or a word in a column of money or mass would spoil the sums."""
    if session.connection().dialect.name != "sqlite":
        return
    for table in Base.metadata.sorted_tables:
        for column in table.columns:
            if isinstance(column.type, WholeNumber | Integer):
                wrong = func.typeof(column).not_in(("integer", "null"))
                count = session.scalar(select(func.count()).select_from(table).where(wrong)) or 0
                if count:
                    yield (
                        "not_whole",
                        T_(
                            "{count} rows of {table} hold no whole number as {column}.",
                            count=count,
                            table=table.name,
                            column=column.name,
                        ),
                    )


def _balance(session: Session) -> Found:
    total = func.sum(Posting.mass_g)
    by_species = select(Posting.yard_id, Posting.species_id, total).group_by(
        Posting.yard_id, Posting.species_id
    )
    for _, species_id, grams in session.execute(by_species.having(total != 0)):
        yield (
            "species_unbalanced",
            T_(
                "Over all places the journal is off by {grams} g of {species_id}.",
                grams=int(grams),
                species_id=species_id,
            ),
        )
    by_entry = (
        select(Entry.number, Posting.species_id, Posting.lot_id, total)
        .join(Entry, Entry.id == Posting.entry_id)
        .group_by(Entry.id, Entry.number, Posting.species_id, Posting.lot_id)
        .having(total != 0)
        .order_by(Entry.number)
    )
    for number, species_id, lot_id, grams in session.execute(by_entry):
        yield (
            "entry_unbalanced",
            T_(
                "Entry {number} is off by {grams} g of {species_id} of lot {lot_id}.",
                number=number,
                grams=int(grams),
                species_id=species_id,
                lot_id=lot_id,
            ),
        )
    empty = select(Entry.number).where(~Entry.postings.any()).order_by(Entry.number)
    for number in session.scalars(empty):
        yield "entry_empty", T_("Entry {number} moves nothing.", number=number)


def _reversals(session: Session) -> Found:
    """A reversal must move back exactly what its entry moved."""
    first = aliased(Entry)
    pairs = session.execute(
        select(Entry.number, first.number, Posting.spot_id, func.sum(Posting.mass_g))
        .join(first, Entry.reverses_id == first.id)
        .join(Posting, or_(Posting.entry_id == Entry.id, Posting.entry_id == first.id))
        .group_by(
            Entry.id,
            Entry.number,
            first.number,
            Posting.spot_id,
            Posting.species_id,
            Posting.form,
            Posting.lot_id,
        )
        .having(func.sum(Posting.mass_g) != 0)
    )
    for number, undone in dict.fromkeys((number, undone) for number, undone, _, _ in pairs):
        yield (
            "reversal_differs",
            T_("Entry {number} does not undo entry {undone} exactly.", number=number, undone=undone),
        )


def _serials(session: Session, yard_id: int) -> Found:
    """Numbers run from 1 without gaps; they are unique by a constraint, so counting them proves it."""
    issued = {
        kind: following - 1
        for kind, following in session.execute(
            select(Serial.kind, Serial.next).where(Serial.yard_id == yard_id)
        )
    }
    for kind, table in NUMBERED.items():
        count, lowest, highest = session.execute(
            select(
                func.count(),
                func.coalesce(func.min(table.number), 1),
                func.coalesce(func.max(table.number), 0),
            ).where(table.yard_id == yard_id)
        ).one()
        if lowest != 1 or highest != count or issued.get(kind, 0) != count:
            yield (
                "number_gap",
                T_(
                    "Numbers of kind {kind} are not whole: {count} are in the book, from {lowest} to {highest}, "
                    "and {issued} were given out.",
                    kind=kind,
                    count=count,
                    lowest=lowest,
                    highest=highest,
                    issued=issued.get(kind, 0),
                ),
            )


def _negative_stock(session: Session, yard_id: int) -> Found:
    came = func.sum(Posting.mass_g).filter(Posting.mass_g > 0)
    there = func.sum(Posting.mass_g)
    rows = session.execute(
        select(Spot.id, Spot.kind, Posting.species_id, Posting.form, there, func.coalesce(came, 0))
        .join(Spot, Spot.id == Posting.spot_id)
        .where(Spot.yard_id == yard_id, Spot.kind != "outside")
        .group_by(Spot.id, Spot.kind, Posting.species_id, Posting.form, Posting.lot_id)
        .having(there < -NEGATIVE_G)
        .order_by(Spot.id)
    )
    for spot_id, kind, species_id, form, grams, had in rows:
        if -int(grams) > NEGATIVE_SHARE * int(had):
            yield (
                "negative_stock",
                T_(
                    "{kg:.1f} kg more {species_id} ({form}, oven-dry) left {place} than came to it. "
                    "Look for a delivery or a stack-up entered twice, or measure what is there.",
                    kg=-int(grams) / 1000,
                    species_id=species_id,
                    form=form,
                    place=_place(session, kind, spot_id),
                ),
            )


def _taken_early(session: Session, yard_id: int) -> Found:
    """Wood that had left a place before it came there, by the days on which things happened.

    Late reports are sorted in by their day before it is looked at, whenever they were told. Where such a report was
    taken with a clash and somebody has settled that, it is not said again.
    """
    yard = session.get_one(Yard, yard_id)
    short = shortfalls(session, yard_id, yard.timezone)
    looked_at = _settled_early(session, yard_id) if short else set()
    kinds = {spot.id: spot.kind for spot in session.scalars(select(Spot).where(Spot.yard_id == yard_id))}
    for one in short:
        if one.spot_id not in looked_at:
            yield (
                "taken_before_it_was_there",
                T_(
                    "By {day} {kg:.1f} kg more {species_id} ({form}, oven-dry) had left {place} than had come to it, "
                    "by the days that were told; later days put it right. Look for a wrong day or a wrong place.",
                    day=one.day.isoformat(),
                    kg=one.missing_g / 1000,
                    species_id=one.key.species_id,
                    form=one.key.form,
                    place=_place(session, kinds[one.spot_id], one.spot_id),
                ),
            )


def _settled_early(session: Session, yard_id: int) -> set[int]:
    """Spots at which every such clash has been settled."""
    rows = session.execute(
        select(Posting.spot_id, Clash.settled_at)
        .join(Entry, Entry.id == Posting.entry_id)
        .join(Clash, Clash.deed_id == Entry.deed_id)
        .where(Clash.yard_id == yard_id, Clash.code.in_(EARLY_CODES))
        .distinct()
    ).all()
    return {spot_id for spot_id, _ in rows} - {spot_id for spot_id, at in rows if at is None}


def _place(session: Session, kind: str, spot_id: int) -> Text:
    """What a spot is called. A household is known by its number: its name stays out of reports."""
    if kind == "stack":
        name = session.scalar(select(Stack.name).where(Stack.spot_id == spot_id))
        return T_("stack {name}", name=name)
    if kind == "load":
        number = session.scalar(select(Load.number).where(Load.spot_id == spot_id))
        return T_("load {number}", number=number)
    if kind == "household":
        number = session.scalar(select(Household.id).where(Household.spot_id == spot_id))
        return T_("household {number}", number=number)
    return {
        "gate": T_("the gate"),
        "own_use": T_("own use"),
        "loss": T_("losses"),
    }.get(kind, T_("spot {number}", number=spot_id))


def _tickets(session: Session, yard_id: int) -> Found:
    """A ticket's volume is what its entry brought to the household, or to the gate."""
    arrived: dict[int, float] = defaultdict(float)
    rows = session.execute(
        select(Ticket.id, Posting.quantity)
        .join(Posting, Posting.entry_id == Ticket.entry_id)
        .join(Spot, Spot.id == Posting.spot_id)
        .outerjoin(Household, Household.id == Ticket.household_id)
        .where(
            Ticket.yard_id == yard_id,
            Posting.mass_g > 0,
            Posting.unit == "stacked_m3",
            or_(
                Posting.spot_id == Household.spot_id,
                and_(Ticket.household_id.is_(None), Spot.kind == "gate"),
            ),
        )
    )
    for ticket_id, quantity in rows:
        arrived[ticket_id] += quantity or 0.0
    tickets = session.execute(
        select(Ticket.id, Ticket.number, Ticket.outside_m3, Entry.number, Entry.kind)
        .join(Entry, Entry.id == Ticket.entry_id)
        .where(Ticket.yard_id == yard_id)
        .order_by(Ticket.number)
    )
    for ticket_id, number, outside_m3, entry_number, kind in tickets:
        if kind == "reverse" or abs(arrived[ticket_id] - outside_m3) > TICKET_SHARE * outside_m3:
            yield (
                "ticket_differs",
                T_(
                    "Ticket {number} says {says:.3f} m³, but entry {entry} brought {brought:.3f} m³ to the buyer.",
                    number=number,
                    says=outside_m3,
                    entry=entry_number,
                    brought=arrived[ticket_id],
                ),
            )


def _orders(session: Session, yard_id: int) -> Found:
    """A delivered order has its ticket, and only one that counts; only a promised one has wood reserved."""
    delivered = select(Order.number).where(
        Order.yard_id == yard_id,
        Order.state == "delivered",
        ~select(Ticket.id)
        .where(Ticket.order_id == Order.id, Ticket.id.not_in(cancelled_tickets(yard_id)))
        .exists(),
    )
    for number in session.scalars(delivered):
        yield "order_without_ticket", T_("Order {number} is delivered but has no ticket.", number=number)
    reserved = (
        select(Order.number)
        .distinct()
        .join(Promise, Promise.order_id == Order.id)
        .where(Order.yard_id == yard_id, Promise.state == "open", Order.state != "promised")
    )
    for number in session.scalars(reserved):
        yield (
            "promise_of_closed_order",
            T_("Wood is reserved for order {number}, which is not waiting for any.", number=number),
        )


def _promises(session: Session, yard_id: int) -> Found:
    """Open promises (ranked volume) do not exceed what the stack still holds, by its last measure and its mass.

    A loose heap is held to its loose volume, which is larger than the same wood ranked: the book knows no solid
    contents.
    """
    sums = session.execute(
        select(Promise.stack_id, func.sum(Promise.outside_m3))
        .where(Promise.yard_id == yard_id, Promise.state == "open")
        .group_by(Promise.stack_id)
    )
    promised: dict[int, float] = {stack_id: float(outside) for stack_id, outside in sums}
    if not promised:
        return
    held = stock_by_spot(session, yard_id, kinds=("stack",))
    stacks = select(Stack).where(Stack.id.in_(promised)).options(selectinload(Stack.measures))
    for stack in session.scalars(stacks.order_by(Stack.name)):
        mass_g = sum(grams for key, grams in held.get(stack.spot_id, {}).items() if key.form != "bark")
        last = stack.measures[-1] if stack.measures else None
        outside = last.outside_m3 * max(0.0, mass_g / last.mass_g) if last and last.mass_g else 0.0
        if promised[stack.id] > outside * (1 + VOLUME_SHARE) + 0.01:
            yield (
                "promised_too_much",
                T_(
                    "{promised:.2f} m³ of stack {name} are promised, but it holds {outside:.2f} m³. "
                    "Promise part of it from another stack, or measure the stack again.",
                    promised=promised[stack.id],
                    name=stack.name,
                    outside=outside,
                ),
            )


def _readings(session: Session, yard_id: int) -> Found:
    early = (
        select(Stack.name, Reading.happened_on, Stack.stacked_on)
        .join(Stack, Stack.id == Reading.stack_id)
        .where(
            Reading.yard_id == yard_id,
            Reading.happened_on < Stack.stacked_on,
            # A report that came like that was taken with a clash, for people to settle.
            ~select(Clash.id)
            .where(Clash.yard_id == yard_id, Clash.subject_kind == "reading", Clash.subject_id == Reading.id)
            .exists(),
        )
        .order_by(Stack.name, Reading.happened_on)
    )
    for name, read_on, stacked_on in session.execute(early):
        yield (
            "reading_before_stacking",
            T_(
                "Stack {name} was read on {read_on}, before it was stacked on {stacked_on}.",
                name=name,
                read_on=read_on.isoformat(),
                stacked_on=stacked_on.isoformat(),
            ),
        )


def _photos(session: Session, files: FileStore | None, where: str) -> Found:
    """Every photo's and paper's file is there with the bytes that were kept, and no file belongs to nothing."""
    paper = Ticket.facts["paper"]["sha256"].as_string()
    papers: dict[str, int] = {}
    for sha256, number in session.execute(select(paper, Ticket.number).where(paper.is_not(None))):
        papers[sha256] = number
    wanted = set(session.scalars(select(Photo.sha256).distinct()))
    wanted |= set(session.scalars(select(WeatherFile.sha256).distinct()))
    wanted |= papers.keys()
    if files is None:
        if wanted:
            yield "no_files_folder", no_folder(where).text
        return
    there = dict(files.all())
    for sha256 in sorted(wanted):
        path = there.get(sha256)
        if sha256 in papers and (path is None or _hash_of(path) != sha256):
            yield (
                "paper_missing" if path is None else "paper_damaged",
                T_(
                    "The paper of ticket {number} is missing from {folder} or is not what was issued: file {name}. "
                    "Bring it back from a backup.",
                    number=papers[sha256],
                    folder=str(files.folder),
                    name=sha256,
                ),
            )
        elif path is None:
            yield (
                "photo_missing",
                T_(
                    "The photo with the hash {name} is not in {folder}. Bring the file back from a backup.",
                    name=sha256,
                    folder=str(files.folder),
                ),
            )
        elif _hash_of(path) != sha256:
            yield (
                "photo_damaged",
                T_(
                    "The file {path} is not the photo that was kept. Bring it back from a backup.",
                    path=str(path),
                ),
            )
    for sha256, path in there.items():
        if sha256 not in wanted and time.time() - path.stat().st_mtime > ORPHAN_AGE_S:
            yield (
                "orphan_file",
                T_("The file {path} belongs to nothing in this book. It may be deleted.", path=str(path)),
            )


def _hash_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
