"""What lay where on a day of the past, by all that has been reported since."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from weakref import WeakKeyDictionary
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from rickyard.book import Book, StockKey, stock_by_spot
from rickyard.book.models import Entry, Load, Lot, Posting, Spot, Stack
from rickyard.desk.checks import EARLIEST
from rickyard.desk.context import Desk, local_day
from rickyard.desk.wood_in import Harvest, harvest_of
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.wood import Species, get_species

KINDS = ("load", "stack")
# By book and yard: the number of the newest entry, and what lies where by all of them.
_NOW: WeakKeyDictionary[Book, dict[int, tuple[int | None, dict[int, dict[StockKey, int]]]]] = (
    WeakKeyDictionary()
)


@dataclass(frozen=True)
class StockLine:
    """What lay at one place on a day, of one wood from one place of harvest. `kg` is oven-dry."""

    kind: str
    number: int
    name: str
    species: Species
    form: str
    harvest: Harvest
    kg: float


@dataclass(frozen=True)
class WoodSum:
    """What lay there in all of one species and form, oven-dry; `places`: at how many loads and stacks."""

    species: Species
    form: str
    kg: float
    places: int


def stock_on(desk: Desk, day: date) -> list[StockLine]:
    """What lay where at the end of a day by all that is known now, whenever it was reported; loads first.

    InputError for a day that is still to come, or before there were any books.
    """
    with desk.book.read() as session:
        yard = desk.yard(session)
        _day_that_was(day, local_day(yard, desk.now()))
        moment = datetime.combine(day + timedelta(days=1), time(0), ZoneInfo(yard.timezone))
        held = _held_before(session, desk.book, desk.yard_id, moment)
        names = _named(session, held)
        lots = {
            lot.id: harvest_of(lot) for lot in session.scalars(select(Lot).where(Lot.yard_id == desk.yard_id))
        }
        lines = [
            StockLine(*names[spot_id], get_species(key.species_id), key.form, lots[key.lot_id], grams / 1000)
            for spot_id, kinds in held.items()
            for key, grams in kinds.items()
        ]
    return sorted(lines, key=lambda line: (line.kind, line.number, line.species.id, line.form, -line.kg))


def summed(lines: Iterable[StockLine]) -> list[WoodSum]:
    """The same by species and form, the most first."""
    masses: dict[tuple[str, str], float] = defaultdict(float)
    places: dict[tuple[str, str], set[tuple[str, int]]] = defaultdict(set)
    for line in lines:
        masses[line.species.id, line.form] += line.kg
        places[line.species.id, line.form].add((line.kind, line.number))
    return [
        WoodSum(get_species(species_id), form, kg, len(places[species_id, form]))
        for (species_id, form), kg in sorted(masses.items(), key=lambda item: (-item[1], item[0]))
    ]


def _day_that_was(day: date, today: date) -> None:
    if day > today:
        raise InputError(
            "on",
            wanted=T_("today ({day}) or a day before it", day=today.isoformat()),
            got=day.isoformat(),
            next_move=T_(
                "Choose a day that has been; what will be ready when stands on the page of each stack."
            ),
            code="day_to_come",
        )
    if day < EARLIEST:
        raise InputError(
            "on",
            wanted=T_("a day from {first} to {last}", first=EARLIEST.isoformat(), last=today.isoformat()),
            got=day.isoformat(),
            next_move=T_("Check the date."),
        )


def _held_now(session: Session, book: Book, yard_id: int) -> dict[int, dict[StockKey, int]]:
    """What lies in loads and stacks now; the sum over a journal of ten years is kept until there is another entry."""
    newest = session.scalar(select(func.max(Entry.number)).where(Entry.yard_id == yard_id))
    known = _NOW.setdefault(book, {}).get(yard_id)
    if known is None or known[0] != newest:
        known = newest, stock_by_spot(session, yard_id, kinds=KINDS)
        _NOW[book][yard_id] = known
    return known[1]


def _held_before(
    session: Session, book: Book, yard_id: int, moment: datetime
) -> dict[int, dict[StockKey, int]]:
    """What lay in loads and stacks just before a moment: what lies there now, less what came and went since.

    Mostly less has happened since a day than up to it.
    """
    held: dict[int, dict[StockKey, int]] = defaultdict(dict)
    held |= {spot_id: dict(kinds) for spot_id, kinds in _held_now(session, book, yard_id).items()}
    first = session.scalar(
        select(func.min(Entry.id)).where(Entry.yard_id == yard_id, Entry.happened_at >= moment)
    )
    if first is None:
        return {spot_id: kinds for spot_id, kinds in held.items() if kinds}
    since = (
        select(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id, func.sum(Posting.mass_g))
        .join(Entry, Entry.id == Posting.entry_id)
        .join(Spot, Spot.id == Posting.spot_id)
        .where(
            Entry.yard_id == yard_id,
            Entry.happened_at >= moment,
            # Says nothing new, but spares PostgreSQL the postings of the years before.
            Posting.entry_id >= first,
            Spot.kind.in_(KINDS),
        )
        .group_by(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id)
    )
    for spot_id, species_id, form, lot_id, grams in session.execute(since):
        key = StockKey(species_id, form, lot_id)
        left = held[spot_id].get(key, 0) - int(grams)
        if left:
            held[spot_id][key] = left
        else:
            held[spot_id].pop(key, None)
    return {spot_id: kinds for spot_id, kinds in held.items() if kinds}


def _named(session: Session, spots: Iterable[int]) -> dict[int, tuple[str, int, str]]:
    """(kind, id, name) of these loads and stacks."""
    ids = list(spots)
    loads = session.execute(select(Load.spot_id, Load.id, Load.number).where(Load.spot_id.in_(ids)))
    stacks = session.execute(select(Stack.spot_id, Stack.id, Stack.name).where(Stack.spot_id.in_(ids)))
    named = {spot_id: ("load", load_id, str(number)) for spot_id, load_id, number in loads}
    return named | {spot_id: ("stack", stack_id, name) for spot_id, stack_id, name in stacks}
