"""The way of wood, from where it grew to who burns it, in both directions; and what lay where on a day of the past.

Wood of one species and lot that lies together is mixed: of what leaves, each part comes from everything that lies
there, by its share. So the way of a load follows its share through every stack, and the way back from a ticket ends
at every load that may be in it. Entries that were taken back, and their reversals, never were.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book import stock_by_spot
from rickyard.book.models import Entry, Household, Load, Lot, Posting, Spot, Stack, Ticket
from rickyard.desk.context import Desk
from rickyard.desk.households import find_household
from rickyard.desk.stacks import unknown_stack
from rickyard.desk.wood_in import Harvest, unknown_load
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.wood import Species, get_species

SUBJECTS = ("load", "stack", "ticket", "household")
# A drawing says nothing of less than this [g].
LEAST_G = 500.0
# Stands for the wood of one ticket, which lies with its buyer's other wood.
_TICKET = -1


@dataclass(frozen=True)
class WayPlace:
    """A place on the way. `kind`: load, stack, household, gate, own_use, loss or ticket; `number`: its id, if any.

    `kg`: how much of the wood in question came there, oven-dry, bark and all.
    """

    spot_id: int
    kind: str
    number: int | None
    name: str
    kg: float
    harvest: Harvest | None = None


@dataclass(frozen=True)
class WayStep:
    """Wood that went from one place to another, as of these days."""

    start: int
    end: int
    kg: float
    first_on: date
    last_on: date


@dataclass(frozen=True)
class Way:
    """The chain through `focus` (a spot_id): what came to it and what became of it."""

    focus: int
    places: tuple[WayPlace, ...]
    steps: tuple[WayStep, ...]
    harvests: tuple[tuple[Harvest, float], ...]

    def place(self, spot_id: int) -> WayPlace:
        return next(place for place in self.places if place.spot_id == spot_id)


@dataclass(frozen=True)
class StockLine:
    """What lay at one place on a day, of one wood from one place of harvest. `kg` is oven-dry."""

    kind: str
    number: int | None
    name: str
    species: Species
    form: str
    harvest: Harvest
    kg: float


@dataclass(frozen=True)
class _Leg:
    """Grams of one species and lot that an entry moved between two spots."""

    start: int
    end: int
    key: tuple[str, int]
    grams: float
    day: date


def way_of(desk: Desk, subject: str, number: int) -> Way:
    """The way through a load, a stack, a ticket or a household. InputError if it is unknown."""
    with desk.book.read() as session:
        zone = ZoneInfo(desk.yard(session).timezone)
        focus, entry_id = _focus(session, desk.yard_id, subject, number)
        outer = set(
            session.scalars(select(Spot.id).where(Spot.yard_id == desk.yard_id, Spot.kind == "outside"))
        )
        legs = _legs(session, desk.yard_id, zone, outer, entry_id)
        flows: dict[tuple[int, int], list[tuple[float, date]]] = defaultdict(list)
        reached: dict[int, float] = defaultdict(float)
        lots: dict[int, float] = defaultdict(float)
        # What went away and came back is on both ways; it is one wood.
        ours: dict[int, float] = {}
        for number_of_leg, grams in [*_back(legs, focus, lots), *_forth(legs, focus)]:
            ours[number_of_leg] = max(grams, ours.get(number_of_leg, 0.0))
        for number_of_leg, grams in ours.items():
            leg = legs[number_of_leg]
            if leg.start not in outer and leg.end not in outer:
                flows[leg.start, leg.end].append((grams, leg.day))
        kept = {ends: parts for ends, parts in flows.items() if sum(g for g, _ in parts) >= LEAST_G}
        for (start, end), parts in kept.items():
            whole = sum(grams for grams, _ in parts)
            reached[end] += whole
            reached.setdefault(start, 0.0)
        for start in {start for start, _ in kept}:
            if not any(end == start for _, end in kept):
                reached[start] = sum(g for (s, _), parts in kept.items() if s == start for g, _ in parts)
        reached[focus] = max(reached[focus], sum(lots.values()))
        places = _places(session, desk.yard_id, reached, number if subject == "ticket" else None)
        steps = tuple(
            WayStep(
                start,
                end,
                sum(grams for grams, _ in parts) / 1000,
                min(day for _, day in parts),
                max(day for _, day in parts),
            )
            for (start, end), parts in sorted(kept.items())
        )
        return Way(focus, places, steps, _harvests(session, lots))


def stock_on(desk: Desk, day: date) -> list[StockLine]:
    """What lay where at the end of a day by all that is known now, whenever it was reported."""
    with desk.book.read() as session:
        zone = ZoneInfo(desk.yard(session).timezone)
        moment = datetime.combine(day + timedelta(days=1), time(0), zone) - timedelta(microseconds=1)
        held = stock_by_spot(session, desk.yard_id, kinds=("load", "stack"), at=moment)
        names = _named(session, desk.yard_id)
        lots = {
            lot.id: _harvest(lot) for lot in session.scalars(select(Lot).where(Lot.yard_id == desk.yard_id))
        }
        lines = [
            StockLine(*names[spot_id], get_species(key.species_id), key.form, lots[key.lot_id], grams / 1000)
            for spot_id, kinds in held.items()
            for key, grams in kinds.items()
        ]
    return sorted(lines, key=lambda line: (line.kind, line.number or 0, line.species.id, line.form, -line.kg))


def _focus(session: Session, yard_id: int, subject: str, number: int) -> tuple[int, int | None]:
    if subject == "load":
        load = session.get(Load, number)
        if load is None or load.yard_id != yard_id:
            raise unknown_load(number)
        return load.spot_id, None
    if subject == "stack":
        stack = session.get(Stack, number)
        if stack is None or stack.yard_id != yard_id:
            raise unknown_stack(number)
        return stack.spot_id, None
    if subject == "household":
        return find_household(session, yard_id, number).spot_id, None
    ticket = session.get(Ticket, number) if subject == "ticket" else None
    if ticket is None or ticket.yard_id != yard_id:
        raise InputError(
            "ticket",
            wanted=T_("a ticket of this yard"),
            got=number,
            next_move=T_("Choose it from the list of tickets."),
        )
    return _TICKET, ticket.entry_id


def _legs(
    session: Session, yard_id: int, zone: ZoneInfo, outer: set[int], ticket_entry: int | None
) -> list[_Leg]:
    """Everything that moved, in the order in which it happened."""
    undone = select(Entry.reverses_id).where(Entry.reverses_id.is_not(None), Entry.yard_id == yard_id)
    rows = session.execute(
        select(
            Entry.id,
            Entry.happened_at,
            Posting.species_id,
            Posting.lot_id,
            Posting.spot_id,
            Posting.mass_g,
        )
        .join(Entry, Entry.id == Posting.entry_id)
        .where(Entry.yard_id == yard_id, Entry.reverses_id.is_(None), Entry.id.not_in(undone))
        .order_by(Entry.happened_at, Entry.number, Posting.id)
    )
    sums: dict[tuple[int, datetime, tuple[str, int]], dict[int, int]] = {}
    for entry_id, happened_at, species_id, lot_id, spot_id, grams in rows:
        spot = _TICKET if entry_id == ticket_entry and grams > 0 else spot_id
        by_spot = sums.setdefault((entry_id, happened_at, (species_id, lot_id)), defaultdict(int))
        by_spot[spot] += grams
    legs = []
    for (_, happened_at, key), by_spot in sums.items():
        went = {spot: -grams for spot, grams in by_spot.items() if grams < 0}
        came = {spot: grams for spot, grams in by_spot.items() if grams > 0}
        whole = sum(came.values())
        day = happened_at.astimezone(zone).date()
        legs += [
            _Leg(start, end, key, grams * part / whole, day)
            for start, grams in went.items()
            for end, part in came.items()
        ]
    return legs


def _forth(legs: list[_Leg], focus: int) -> list[tuple[int, float]]:
    """Of each leg (its index), the grams that had been at the focus before."""
    there: dict[tuple[int, tuple[str, int]], float] = defaultdict(float)
    ours: dict[tuple[int, tuple[str, int]], float] = defaultdict(float)
    found = []
    for index, leg in enumerate(legs):
        start, end = (leg.start, leg.key), (leg.end, leg.key)
        if leg.start == focus:
            part = leg.grams
        else:
            part = leg.grams * min(1.0, ours[start] / there[start]) if there[start] > 0 else 0.0
        there[start] -= leg.grams
        ours[start] = max(0.0, ours[start] - part)
        there[end] += leg.grams
        ours[end] += part
        if part > 0:
            found.append((index, part))
    return found


def _back(legs: list[_Leg], focus: int, lots: dict[int, float]) -> list[tuple[int, float]]:
    """Of each leg (its index), the grams that came to the focus later or at once. `lots`: what came to it, by lot."""
    there: dict[tuple[int, tuple[str, int]], float] = defaultdict(float)
    after = []
    for leg in legs:
        there[leg.start, leg.key] -= leg.grams
        there[leg.end, leg.key] += leg.grams
        after.append(there[leg.end, leg.key])
    bound: dict[tuple[int, tuple[str, int]], float] = defaultdict(float)
    found = []
    for index in reversed(range(len(legs))):
        leg, lying = legs[index], after[index]
        start, end = (leg.start, leg.key), (leg.end, leg.key)
        if leg.end == focus:
            part = leg.grams
            lots[leg.key[1]] += part
        elif lying > 0:
            part = min(leg.grams, bound[end] * leg.grams / max(lying, bound[end], leg.grams))
        else:
            part = min(leg.grams, bound[end])
        if part > 0:
            bound[end] = max(0.0, bound[end] - part)
            bound[start] += part
            found.append((index, part))
    return found


def _named(session: Session, yard_id: int) -> dict[int, tuple[str, int | None, str]]:
    """(kind, id, name) of every spot of the yard."""
    named: dict[int, tuple[str, int | None, str]] = {
        spot.id: (spot.kind, None, "")
        for spot in session.scalars(select(Spot).where(Spot.yard_id == yard_id))
    }
    for load in session.scalars(select(Load).where(Load.yard_id == yard_id)):
        named[load.spot_id] = ("load", load.id, str(load.number))
    for stack in session.scalars(select(Stack).where(Stack.yard_id == yard_id)):
        named[stack.spot_id] = ("stack", stack.id, stack.name)
    for home in session.scalars(select(Household).where(Household.yard_id == yard_id)):
        named[home.spot_id] = ("household", home.id, home.name)
    return named


def _places(
    session: Session, yard_id: int, reached: dict[int, float], ticket_id: int | None
) -> tuple[WayPlace, ...]:
    named = _named(session, yard_id)
    if ticket_id is not None:
        number = session.scalar(select(Ticket.number).where(Ticket.id == ticket_id))
        named[_TICKET] = ("ticket", ticket_id, str(number))
    harvests = {
        load.spot_id: _harvest(load.lot)
        for load in session.scalars(select(Load).where(Load.spot_id.in_(list(reached))))
    }
    places = [
        WayPlace(spot_id, *named[spot_id], grams / 1000, harvests.get(spot_id))
        for spot_id, grams in reached.items()
    ]
    return tuple(sorted(places, key=lambda place: (-place.kg, place.spot_id)))


def _harvests(session: Session, lots: dict[int, float]) -> tuple[tuple[Harvest, float], ...]:
    whole = sum(lots.values())
    return tuple(
        (_harvest(session.get_one(Lot, lot_id)), grams / whole)
        for lot_id, grams in sorted(lots.items(), key=lambda item: -item[1])
        if grams > 0
    )


def _harvest(lot: Lot) -> Harvest:
    return Harvest(
        country=lot.country, subdivision=lot.subdivision, county=lot.county, certificate=lot.certificate
    )
