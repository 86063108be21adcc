"""What taking something back would do, before it is done: where the wood goes, and what hangs on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Entry, Load, Offer, Payment, Spot, Stack, StackMeasure, Ticket
from rickyard.desk.context import Desk
from rickyard.desk.stacks import unknown_stack
from rickyard.desk.tickets import PaymentLine, TicketCard, ticket, unknown_ticket
from rickyard.desk.undoing import (
    find_moving,
    hangs_on_load,
    hangs_on_moving,
    hangs_on_stack,
    hangs_on_ticket,
    live_entries,
    undoing_of,
    unknown_payment,
)
from rickyard.desk.undoing_measures import entries_of, hangs_on_measure, unknown_measure
from rickyard.desk.wood_in import unknown_load
from rickyard.text import T_, Text

PLACES: dict[str, Text] = {
    "household": T_("With the buyer"),
    "gate": T_("With the buyer"),
    "own_use": T_("Own use"),
    "loss": T_("Losses: kerf, waste, bark"),
    "outside": T_("Not in the book"),
}


@dataclass(frozen=True)
class Undoable:
    """`flows`: where wood comes back to (+) or leaves (−), oven-dry [kg]; `hangs`: why it is refused as it stands.

    `done`: it was taken back already.
    """

    flows: tuple[tuple[Text, float], ...]
    hangs: Text | None
    done: bool = False


@dataclass(frozen=True)
class Moving:
    """An entry by which wood went its way, and the loads and stacks that it touched."""

    number: int
    kind: str
    happened_at: datetime
    reason: str
    stacks: tuple[tuple[int, str], ...]
    loads: tuple[tuple[int, int], ...]
    undoable: Undoable


@dataclass(frozen=True)
class MeasureOf:
    """A measure and its stack; `before`: the volume and the day of the one that counts when it is taken back."""

    stack_id: int
    stack_name: str
    happened_at: datetime
    piled: str
    outside_m3: float
    before: tuple[datetime, str, float] | None
    undoable: Undoable


def undoable_ticket(desk: Desk, ticket_id: int) -> Undoable:
    with desk.book.read() as session:
        found = session.get(Ticket, ticket_id)
        if found is None or found.yard_id != desk.yard_id:
            raise unknown_ticket(ticket_id)
        if found.undoing is not None:
            return Undoable((), None, done=True)
        entry = session.get_one(Entry, found.entry_id)
        return Undoable(_flows(session, [entry]), hangs_on_ticket(session, found))


def payment_of(desk: Desk, payment_id: int) -> tuple[TicketCard, PaymentLine]:
    """A payment and the ticket that it stands on."""
    with desk.book.read() as session:
        found = session.get(Payment, payment_id)
        if found is None or found.yard_id != desk.yard_id:
            raise unknown_payment(payment_id)
        ticket_id = found.ticket_id
    card = ticket(desk, ticket_id)
    return card, next(line for line in card.payments if line.id == payment_id)


def undoable_load(desk: Desk, load_id: int) -> tuple[Undoable, int | None]:
    """And the number of the offer that would be open again, if the load came of one."""
    with desk.book.read() as session:
        load = session.get(Load, load_id)
        if load is None or load.yard_id != desk.yard_id:
            raise unknown_load(load_id)
        if undoing_of(session, load_id=load.id) is not None:
            return Undoable((), None, done=True), None
        offer = session.scalar(select(Offer.number).where(Offer.load_id == load.id))
        flows = _flows(session, live_entries(session, load.spot_id))
        return Undoable(flows, hangs_on_load(session, load)), offer


def undoable_stack(desk: Desk, stack_id: int) -> Undoable:
    with desk.book.read() as session:
        stack = session.get(Stack, stack_id)
        if stack is None or stack.yard_id != desk.yard_id:
            raise unknown_stack(stack_id)
        if undoing_of(session, stack_id=stack.id) is not None:
            return Undoable((), None, done=True)
        flows = _flows(session, live_entries(session, stack.spot_id))
        return Undoable(flows, hangs_on_stack(session, stack))


def measure_of(desk: Desk, measure_id: int) -> MeasureOf:
    with desk.book.read() as session:
        measure = session.get(StackMeasure, measure_id)
        if measure is None or measure.yard_id != desk.yard_id:
            raise unknown_measure(measure_id)
        stack = measure.stack
        others = [each for each in stack.measures if each.id != measure.id]
        before = (others[-1].happened_at, others[-1].piled, others[-1].outside_m3) if others else None
        if undoing_of(session, measure_id=measure.id) is not None:
            undoable = Undoable((), None, done=True)
        else:
            hangs = hangs_on_measure(session, desk.yard(session), measure)
            undoable = Undoable(() if hangs else _flows(session, entries_of(session, measure)), hangs)
        return MeasureOf(
            stack_id=stack.id,
            stack_name=stack.name,
            happened_at=measure.happened_at,
            piled=measure.piled,
            outside_m3=measure.outside_m3,
            before=before,
            undoable=undoable,
        )


def moving_numbered(desk: Desk, number: int) -> Moving:
    """The entry with this number; InputError if wood did not go its way by it, ClashError if it was taken back."""
    with desk.book.read() as session:
        entry = find_moving(session, desk.yard_id, number)
        spots = {posting.spot_id for posting in entry.postings}
        stacks = session.execute(
            select(Stack.id, Stack.name).where(Stack.spot_id.in_(spots)).order_by(Stack.name)
        )
        loads = session.execute(
            select(Load.id, Load.number).where(Load.spot_id.in_(spots)).order_by(Load.number)
        )
        return Moving(
            number=entry.number,
            kind=entry.kind,
            happened_at=entry.happened_at,
            reason=entry.reason,
            stacks=tuple((stack_id, name) for stack_id, name in stacks),
            loads=tuple((load_id, load_number) for load_id, load_number in loads),
            undoable=Undoable(_flows(session, [entry]), hangs_on_moving(session, entry)),
        )


def _flows(session: Session, entries: Sequence[Entry]) -> tuple[tuple[Text, float], ...]:
    """What reversing the entries brings to each place and takes from it; the yard's own places first."""
    grams: dict[int, int] = defaultdict(int)
    for entry in entries:
        for posting in entry.postings:
            grams[posting.spot_id] -= posting.mass_g
    kinds = dict(session.execute(select(Spot.id, Spot.kind).where(Spot.id.in_(list(grams)))).all())
    stacks = dict(
        session.execute(select(Stack.spot_id, Stack.name).where(Stack.spot_id.in_(list(grams)))).all()
    )
    loads = dict(
        session.execute(select(Load.spot_id, Load.number).where(Load.spot_id.in_(list(grams)))).all()
    )
    found: list[tuple[Text, float]] = []
    for spot_id, mass_g in sorted(
        grams.items(), key=lambda item: (kinds[item[0]] not in ("stack", "load"), item[0])
    ):
        if mass_g == 0:
            continue
        place = (
            T_("Stack {name}", name=stacks[spot_id])
            if spot_id in stacks
            else T_("Load {number}", number=loads[spot_id])
            if spot_id in loads
            else PLACES[kinds[spot_id]]
        )
        found.append((place, mass_g / 1000))
    return tuple(found)
