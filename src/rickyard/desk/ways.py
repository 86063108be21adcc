"""The way of wood, from where it grew to who burns it, in both directions.

Wood of one species and lot that lies together is mixed: of what leaves, each part comes from everything that lies
there, by its share. So the way of a load follows its share through every stack, and the way back from a ticket ends
at every load that may be in it. Entries that were taken back, and their reversals, never were. Where a measure found
more or less wood than the book held, the difference stands on the way as what it is: it comes from nowhere in the
yard, and what is found less went nowhere.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from rickyard.book.models import Household, Load, Lot, Stack, Ticket
from rickyard.desk.context import Desk
from rickyard.desk.households import find_household
from rickyard.desk.stacks import unknown_stack
from rickyard.desk.way_legs import DIFFERENCES, SINKS, SOURCES, Place, Reader
from rickyard.desk.way_trace import Flow, spread_of, trace
from rickyard.desk.wood_in import Harvest, harvest_of, unknown_load
from rickyard.errors import InputError
from rickyard.measure import Spread
from rickyard.text import T_

SUBJECTS = ("load", "stack", "ticket", "household")
# A drawing says nothing of less than this [g].
LEAST_G = 500.0
_BUYERS = frozenset({"household", "gate", "ticket"})


@dataclass(frozen=True)
class WayPlace:
    """A place on the way; `number`: the id of the load, stack, household or ticket, if it is one.

    `at.kind`: load, stack, household, ticket, gate, own_use, loss; sent_back; before (stood there before the book
    began); more, less (differences). `mass`: how much of the wood in question came there, oven-dry, bark and all
    [kg], of a source how much came from it; `lying_kg`: how much of it lies there now.
    """

    at: Place
    number: int | None
    name: str
    mass: Spread
    lying_kg: float = 0.0
    harvest: Harvest | None = None

    @property
    def kind(self) -> str:
        return self.at.kind

    @property
    def kg(self) -> float:
        return self.mass.mid

    @property
    def is_difference(self) -> bool:
        return self.at.kind in DIFFERENCES


@dataclass(frozen=True)
class WayStep:
    """Wood that went from one place to another, as of these days [kg].

    `causes`, of a difference: measured, named (otherwise, so of another density), closed, beyond (more left than the
    book held by then).
    """

    start: Place
    end: Place
    mass: Spread
    first_on: date
    last_on: date
    causes: tuple[str, ...] = ()

    @property
    def kg(self) -> float:
        return self.mass.mid


@dataclass(frozen=True)
class Way:
    """The chain through `focus`: what came to it and what became of it."""

    focus: Place
    places: tuple[WayPlace, ...]
    steps: tuple[WayStep, ...]
    harvests: tuple[tuple[Harvest, float], ...]

    def place(self, at: Place) -> WayPlace:
        return next(place for place in self.places if place.at == at)

    @property
    def lying(self) -> tuple[WayPlace, ...]:
        """Loads and stacks where some of it lies now, the most first."""
        here = [place for place in self.places if place.kind in ("load", "stack") and place.lying_kg > 0]
        return tuple(sorted(here, key=lambda place: -place.lying_kg))

    @property
    def differs(self) -> bool:
        return any(place.is_difference for place in self.places)


@dataclass
class _Step:
    """What a step is summed from [g]."""

    grams: float = 0.0
    flows: list[Flow] = field(default_factory=list)

    def add(self, flow: Flow) -> None:
        self.grams += flow.grams
        self.flows.append(flow)


@dataclass(frozen=True)
class _Question:
    """`places`: what is traced; `shown`: the one place that stands for them; `entries`: where reading begins."""

    shown: Place
    places: frozenset[Place]
    entries: tuple[int, ...] = ()


def way_of(desk: Desk, subject: str, number: int, *, least_g: float = LEAST_G) -> Way:
    """The way through a load, a stack, a ticket or a household. InputError if it is unknown.

    Read is only what the wood came through and went through, not the whole journal.
    """
    with desk.book.read() as session:
        zone = ZoneInfo(desk.yard(session).timezone)
        asked = _question(session, desk.yard_id, subject, number)
        reader = Reader(session, zone)
        reader.follow(asked.places, entries=asked.entries)
        found = trace(reader.history, asked.places)

        def shown(at: Place) -> Place:
            if at in asked.places:
                return asked.shown
            return reader.history.buyer_of.get(at.id, at) if at.kind == "ticket" else at

        steps: dict[tuple[Place, Place], _Step] = defaultdict(_Step)
        for flow in found.flows:
            start, end = shown(flow.start), shown(flow.end)
            # That wood came to the yard with a load is the load itself.
            if start != end and flow.start.kind != "arrived":
                steps[start, end].add(flow)
        lying: dict[Place, float] = defaultdict(float)
        for at, grams in found.lying.items():
            lying[shown(at)] += grams
        lying = {at: grams for at, grams in lying.items() if grams >= least_g}
        kept = _leading_somewhere(steps, asked.shown, lying, least_g)
        new = [flow for flow in found.flows if flow.new_g]
        return Way(
            asked.shown,
            _places(session, kept, asked.shown, new, lying),
            tuple(_way_step(*ends, step) for ends, step in kept.items()),
            _harvests(session, new),
        )


def _question(session: Session, yard_id: int, subject: str, number: int) -> _Question:
    if subject == "load":
        load = session.get(Load, number)
        if load is None or load.yard_id != yard_id:
            raise unknown_load(number)
        at = Place("load", load.spot_id)
        return _Question(at, frozenset({at}))
    if subject == "stack":
        stack = session.get(Stack, number)
        if stack is None or stack.yard_id != yard_id:
            raise unknown_stack(number)
        at = Place("stack", stack.spot_id)
        return _Question(at, frozenset({at}))
    if subject == "household":
        at = Place("household", find_household(session, yard_id, number).spot_id)
        rows = session.execute(
            select(Ticket.id, Ticket.entry_id).where(Ticket.yard_id == yard_id, Ticket.household_id == number)
        ).all()
        tickets = {Place("ticket", ticket_id) for ticket_id, _ in rows}
        return _Question(at, frozenset({at, *tickets}), tuple(entry_id for _, entry_id in rows))
    ticket = session.get(Ticket, number) if subject == "ticket" else None
    if ticket is None or ticket.yard_id != yard_id:
        raise InputError(
            "ticket",
            wanted=T_("a ticket of this yard"),
            got=number,
            next_move=T_("Choose it from the list of tickets."),
        )
    at = Place("ticket", ticket.id)
    return _Question(at, frozenset({at}), (ticket.entry_id,))


def _leading_somewhere(
    steps: dict[tuple[Place, Place], _Step], focus: Place, lying: dict[Place, float], least_g: float
) -> dict[tuple[Place, Place], _Step]:
    """Without what is too little to speak of, and without what would then come from nowhere or lead nowhere."""
    kept = {ends: step for ends, step in sorted(steps.items()) if step.grams >= least_g}
    while True:
        starts, ends = {start for start, _ in kept}, {end for _, end in kept}
        begins = {at for at in starts if at == focus or at.kind == "load" or at.kind in SOURCES | _BUYERS}
        stays = {at for at in ends if at == focus or at in lying or at.kind in SINKS | _BUYERS}
        whole = {
            (start, end): step
            for (start, end), step in kept.items()
            if start in begins | ends and end in stays | starts
        }
        if len(whole) == len(kept):
            return kept
        kept = whole


def _way_step(start: Place, end: Place, step: _Step) -> WayStep:
    return WayStep(
        start,
        end,
        _spread(step.grams, (flow.error for flow in step.flows)),
        min(flow.day for flow in step.flows),
        max(flow.day for flow in step.flows),
        tuple(sorted({flow.cause for flow in step.flows if flow.cause})),
    )


def _spread(grams: float, errors: Iterable[Mapping[int, float]]) -> Spread:
    """10th to 90th percentile [kg]; wood is never less than nothing."""
    spread = Spread.normal(grams / 1000, spread_of(errors) / 1000)
    return Spread(max(0.0, spread.low), spread.mid, spread.high)


def _places(
    session: Session,
    kept: dict[tuple[Place, Place], _Step],
    focus: Place,
    new: list[Flow],
    lying: dict[Place, float],
) -> tuple[WayPlace, ...]:
    came: dict[Place, list[Flow]] = defaultdict(list)
    left: dict[Place, list[Flow]] = defaultdict(list)
    for (start, end), step in kept.items():
        came[end] += step.flows
        left[start] += step.flows
    came.pop(focus, None)
    masses = {
        at: _spread(sum(flow.grams for flow in flows), (flow.error for flow in flows))
        for at, flows in (left | came).items()
    }
    masses[focus] = _spread(
        sum(flow.new_g for flow in new),
        ({key: value * flow.new_g / flow.grams for key, value in flow.error.items()} for flow in new),
    )
    names, harvests = _named(session, set(masses))
    places = []
    for at, mass in masses.items():
        number, name = names.get(at, (None, ""))
        places.append(WayPlace(at, number, name, mass, lying.get(at, 0.0) / 1000, harvests.get(at)))
    return tuple(sorted(places, key=lambda place: (-place.kg, place.at)))


def _named(session: Session, places: set[Place]) -> tuple[dict[Place, tuple[int, str]], dict[Place, Harvest]]:
    """(id, name) of these loads, stacks, households and tickets, and where the loads grew."""
    ids: dict[str, list[int]] = defaultdict(list)
    for at in places:
        ids[at.kind].append(at.id)
    named: dict[Place, tuple[int, str]] = {}
    harvests: dict[Place, Harvest] = {}
    if ids["load"]:
        found = select(Load).where(Load.spot_id.in_(ids["load"])).options(joinedload(Load.lot))
        for load in session.scalars(found):
            named[Place("load", load.spot_id)] = (load.id, str(load.number))
            harvests[Place("load", load.spot_id)] = harvest_of(load.lot)
    if ids["stack"]:
        rows = session.execute(
            select(Stack.spot_id, Stack.id, Stack.name).where(Stack.spot_id.in_(ids["stack"]))
        )
        named |= {Place("stack", spot_id): (stack_id, name) for spot_id, stack_id, name in rows}
    if ids["household"]:
        homes = session.execute(
            select(Household.spot_id, Household.id, Household.name).where(
                Household.spot_id.in_(ids["household"])
            )
        )
        named |= {Place("household", spot_id): (home_id, name) for spot_id, home_id, name in homes}
    if ids["ticket"]:
        tickets = session.execute(select(Ticket.id, Ticket.number).where(Ticket.id.in_(ids["ticket"])))
        named |= {Place("ticket", ticket_id): (ticket_id, str(number)) for ticket_id, number in tickets}
    return named, harvests


def _harvests(session: Session, new: list[Flow]) -> tuple[tuple[Harvest, float], ...]:
    """Where the wood grew that came to the focus, by share; a difference counts with the wood that it is found in."""
    lots: dict[int, float] = defaultdict(float)
    for flow in new:
        lots[flow.lot_id] += flow.new_g
    whole = sum(lots.values())
    return tuple(
        (harvest_of(session.get_one(Lot, lot_id)), grams / whole)
        for lot_id, grams in sorted(lots.items(), key=lambda item: (-item[1], item[0]))
        if grams > 0
    )
