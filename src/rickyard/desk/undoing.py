"""What was entered wrongly is taken back: a delivery or a sale, a payment, a load, a stack, wood that went its way.

A measure of a stack is taken back in `undoing_measures`.

Nothing is erased. The journal gets a reversal, of the moment of what it undoes; the ticket, payment, load or stack
keeps its row and its number, and an `Undoing` beside it. What hangs on it since is taken back first: such a deed is
refused, and says which.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from rickyard.book import not_taken_back, reverse, stock
from rickyard.book.models import (
    Deed,
    Entry,
    Household,
    Load,
    Offer,
    Order,
    Payment,
    Posting,
    Promise,
    Stack,
    StackLesson,
    Ticket,
    Undoing,
)
from rickyard.book.running import NEGATIVE_G
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.orders import find_order
from rickyard.desk.remeasure import follow_undone
from rickyard.desk.spots import yard_spot
from rickyard.desk.stacks import WENT, cards_in, find_stack
from rickyard.desk.tickets import owed_on, unknown_ticket
from rickyard.desk.wood_in import find_load
from rickyard.errors import ClashError, InputError, RefusedError
from rickyard.text import T_, Text

# What makes a load or a stack what it is; all other entries are deeds of their own, which hang on it.
OF_A_LOAD = ("opening", "take_in", "name", "remeasure")
MAKES_A_STACK = ("stack", "opening", "divide", "split")
NAME_LENGTH = 40


@dataclass(frozen=True, kw_only=True)
class UndoDelivery(Command):
    """A delivery or a sale at the gate that did not happen so: its wood comes back, its ticket is cancelled."""

    ticket_id: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class UndoPayment(Command):
    """A payment that was not made, or not on this ticket."""

    payment_id: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class UndoTakeIn(Command):
    """A load that did not come, or not so. It keeps its number."""

    load_id: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class UndoStackUp(Command):
    """A stack that was not stacked so: its wood lies where it came from. Its name is free again."""

    stack_id: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class UndoMoving(Command):
    """Wood that did not go so: onto another stack, back to who brought it, away, or back from a buyer.

    `number` is that of the journal's entry.
    """

    number: int
    reason: str


def undo_delivery(desk: Desk, command: UndoDelivery) -> Answer:
    """Answer: ticket_id, number, order_id, order_state, clashes (ids). The order is open again, with its promises.

    Where the wood that was promised then is promised to others by now, the order is asked again, without promises.
    Raises RefusedError while payments stand on the ticket, wood of it came back, or a stack was closed since.
    """
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        ticket = stage.session.get(Ticket, command.ticket_id)
        if ticket is None or ticket.yard_id != stage.yard.id:
            raise unknown_ticket(command.ticket_id)
        if ticket.undoing is not None:
            raise ClashError(
                T_("Ticket {number} is cancelled already. Nothing is left to do.", number=ticket.number),
                code="already_undone",
                field="ticket",
            )
        refuse(hangs_on_ticket(stage.session, ticket))
        entry = stage.session.get_one(Entry, ticket.entry_id)
        take_back(stage, [entry], reason)
        clashes = _settle_stacks(stage, entry)
        keep_undoing(stage, reason, ticket_id=ticket.id)
        order = None if ticket.order_id is None else find_order(stage, ticket.order_id)
        if order is not None:
            _open_again(stage, order)
        return {
            "ticket_id": ticket.id,
            "number": ticket.number,
            "order_id": ticket.order_id,
            "order_state": order.state if order else None,
            "clashes": clashes,
        }

    return do(desk, "undo_delivery", command, run)


def undo_payment(desk: Desk, command: UndoPayment) -> Answer:
    """Answer: payment_id, ticket_id, owed_minor."""
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        payment = stage.session.get(Payment, command.payment_id)
        if payment is None or payment.yard_id != stage.yard.id:
            raise unknown_payment(command.payment_id)
        if payment.undoing is not None:
            raise ClashError(
                T_(
                    "That payment on ticket {number} is taken back already. Nothing is left to do.",
                    number=payment.ticket.number,
                ),
                code="already_undone",
                field="payment",
            )
        ticket = payment.ticket
        keep_undoing(stage, reason, payment_id=payment.id)
        stage.session.refresh(payment)
        return {"payment_id": payment.id, "ticket_id": ticket.id, "owed_minor": owed_on(ticket)}

    return do(desk, "undo_payment", command, run)


def undo_take_in(desk: Desk, command: UndoTakeIn) -> Answer:
    """Answer: load_id, number, offer_id (of the offer that it was taken from, which is open again, or None).

    Raises RefusedError while wood of the load is stacked or went its way.
    """
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        load = find_load(stage, command.load_id)
        if undoing_of(stage.session, load_id=load.id) is not None:
            raise ClashError(
                T_("Load {number} is taken back already. Nothing is left to do.", number=load.number),
                code="already_undone",
                field="load",
            )
        refuse(hangs_on_load(stage.session, load))
        take_back(stage, live_entries(stage.session, load.spot_id), reason)
        keep_undoing(stage, reason, load_id=load.id)
        offer = stage.session.scalar(select(Offer).where(Offer.load_id == load.id))
        if offer is not None:
            offer.state, offer.load_id, offer.settled_deed_id = "open", None, None
        return {"load_id": load.id, "number": load.number, "offer_id": offer.id if offer else None}

    return do(desk, "undo_take_in", command, run)


def undo_stack_up(desk: Desk, command: UndoStackUp) -> Answer:
    """Answer: stack_id, name (the one under which it is kept now), clashes (ids).

    The wood is where it was before: in its loads, in the stack that it was divided or split from, or not in the book.
    Readings, measures and photos stay with the stack and teach nothing any more. Raises RefusedError while wood of the
    stack is promised, sold or went its way, or other wood came to it.
    """
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        stack = find_stack(stage, command.stack_id)
        if undoing_of(stage.session, stack_id=stack.id) is not None:
            raise ClashError(
                T_("Stack {name} is taken back already. Nothing is left to do.", name=stack.name),
                code="already_undone",
                field="stack",
            )
        refuse(hangs_on_stack(stage.session, stack))
        entries = live_entries(stage.session, stack.spot_id)
        take_back(stage, entries, reason)
        clashes: list[int] = []
        for entry in entries:
            clashes += _settle_stacks(stage, entry, but=stack.id)
        stack.emptied_on = stack.emptied_on or stage.happened_on
        stack.name = _free_name(stage, stack)
        stage.session.execute(delete(StackLesson).where(StackLesson.stack_id == stack.id))
        keep_undoing(stage, reason, stack_id=stack.id)
        return {"stack_id": stack.id, "name": stack.name, "clashes": clashes}

    return do(desk, "undo_stack_up", command, run)


def undo_moving(desk: Desk, command: UndoMoving) -> Answer:
    """Answer: number, stacks (ids of those whose wood changed), loads (likewise), clashes (ids).

    Raises RefusedError where the wood went on since.
    """
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        entry = find_moving(stage.session, stage.yard.id, command.number)
        refuse(hangs_on_moving(stage.session, entry))
        take_back(stage, [entry], reason)
        clashes = _settle_stacks(stage, entry)
        spots = {posting.spot_id for posting in entry.postings}
        return {
            "number": entry.number,
            "stacks": sorted(stage.session.scalars(select(Stack.id).where(Stack.spot_id.in_(spots)))),
            "loads": sorted(stage.session.scalars(select(Load.id).where(Load.spot_id.in_(spots)))),
            "clashes": clashes,
        }

    return do(desk, "undo_moving", command, run)


# -- what there is, and what hangs on it ----------------------------------------------------------


def undoing_of(
    session: Session,
    *,
    load_id: int | None = None,
    stack_id: int | None = None,
    measure_id: int | None = None,
) -> Undoing | None:
    """That this load, stack or measure was taken back, if it was."""
    query = select(Undoing)
    if load_id is not None:
        query = query.where(Undoing.load_id == load_id)
    elif stack_id is not None:
        query = query.where(Undoing.stack_id == stack_id)
    else:
        query = query.where(Undoing.measure_id == measure_id)
    return session.scalar(query)


def live_entries(session: Session, spot_id: int, kind: str = "") -> list[Entry]:
    """The entries (of this kind) that moved wood to or from a spot and were not taken back, oldest first."""
    here = select(Posting.entry_id).where(Posting.spot_id == spot_id)
    query = select(Entry).where(Entry.id.in_(here), Entry.reverses_id.is_(None), not_taken_back())
    if kind:
        query = query.where(Entry.kind == kind)
    return list(session.scalars(query.order_by(Entry.number)))


def hangs_on_ticket(session: Session, ticket: Ticket) -> Text | None:
    """Why a ticket cannot be taken back yet, and what to do first."""
    if any(payment.undoing is None for payment in ticket.payments):
        return T_(
            "On ticket {number} stands a payment of {amount:.2f} {currency}. Take the payment back first, on the "
            "page of the ticket: give the money back, or enter it on the ticket that counts.",
            number=ticket.number,
            amount=sum(one.amount_minor for one in ticket.payments if one.undoing is None) / 100,
            currency=ticket.currency,
        )
    if ticket.household_id is None:
        buyer = yard_spot(session, ticket.yard_id, "gate")
    else:
        buyer = session.get_one(Household, ticket.household_id).spot_id
    for entry in live_entries(session, buyer, "return"):
        if entry.deed_id is not None:
            deed = session.get_one(Deed, entry.deed_id)
            if deed.answer.get("ticket_id") == ticket.id:
                return T_(
                    "Wood of ticket {number} came back by entry {entry}. Take that return back first, in the book of "
                    "the stack.",
                    number=ticket.number,
                    entry=entry.number,
                )
    return _closed_since(session, session.get_one(Entry, ticket.entry_id))


def hangs_on_load(session: Session, load: Load) -> Text | None:
    """Why a load cannot be taken back yet, and what to do first."""
    live = live_entries(session, load.spot_id)
    for entry in live:
        if entry.kind == "stack":
            return T_(
                "Wood of load {number} stands in stack {name}. Take the stacking of {name} back first, on its page.",
                number=load.number,
                name=_stacks_of(session, entry)[0].name,
            )
        if entry.kind not in OF_A_LOAD:
            return T_(
                "Wood of load {number} went its way by entry {entry}. Take that back first, in the book of the load.",
                number=load.number,
                entry=entry.number,
            )
    return None


def hangs_on_stack(session: Session, stack: Stack) -> Text | None:
    """Why the stacking of a stack cannot be taken back yet, and what to do first."""
    order = session.scalar(
        select(Order.number)
        .join(Promise, Promise.order_id == Order.id)
        .where(Promise.stack_id == stack.id, Promise.state == "open")
        .order_by(Order.number)
        .limit(1)
    )
    if order is not None:
        return T_(
            "Wood of stack {name} is promised for order {number}. Promise that order from another stack first, or "
            "cancel it.",
            name=stack.name,
            number=order,
        )
    made = False
    for entry in reversed(live_entries(session, stack.spot_id)):
        here = sum(posting.mass_g for posting in entry.postings if posting.spot_id == stack.spot_id)
        if entry.kind == "remeasure" or (entry.kind in MAKES_A_STACK and here > 0 and not made):
            made = made or entry.kind != "remeasure"
            continue
        if entry.kind == "empty":
            return T_("Stack {name} was closed. Open it again first, on its page.", name=stack.name)
        if entry.kind in ("divide", "split"):
            parts = [part.name for part in _stacks_of(session, entry) if part.id != stack.id]
            if entry.kind == "split":
                return T_(
                    "Stack {part} was split from wood of {name}. Take that back first, on the page of {part}.",
                    name=stack.name,
                    part=parts[0],
                )
            return T_(
                "Stack {part} was divided from {name}. Take the dividing back first, on the page of {part}.",
                name=stack.name,
                part=parts[0],
            )
        ticket = session.scalar(select(Ticket.number).where(Ticket.entry_id == entry.id))
        if ticket is not None:
            return T_(
                "Wood of stack {name} was sold on ticket {number}. Take that back first, on the page of the ticket.",
                name=stack.name,
                number=ticket,
            )
        return T_(
            "Wood came to stack {name}, or left it, by entry {entry}. Take that back first, in the book of the stack.",
            name=stack.name,
            entry=entry.number,
        )
    return None


def find_moving(session: Session, yard_id: int, number: int) -> Entry:
    """The entry with this number, if wood went its way by it; InputError, ClashError if it was taken back."""
    entry = session.scalar(select(Entry).where(Entry.yard_id == yard_id, Entry.number == number))
    if entry is None:
        raise InputError(
            "number",
            wanted=T_("the number of an entry of the journal"),
            got=number,
            next_move=T_("Read it again from the book of the stack or of the load."),
            code="unknown_entry",
        )
    if entry.kind not in WENT:
        raise InputError(
            "number",
            wanted=T_("an entry by which wood was put on another stack, sent back, used, lost or returned"),
            got=T_("entry {number}, which is another", number=number),
            next_move=_way_of(entry.kind),
            code="other_entry",
        )
    by = session.scalar(select(Entry.number).where(Entry.reverses_id == entry.id))
    if by is not None:
        raise ClashError(
            T_(
                "Entry {number} is taken back already, by entry {by}. Nothing is left to do.",
                number=number,
                by=by,
            ),
            code="already_undone",
            field="number",
        )
    return entry


def hangs_on_moving(session: Session, entry: Entry) -> Text | None:
    """Why wood cannot go back the way it went yet, and what to do first."""
    return _closed_since(session, entry)


def unknown_payment(payment_id: int) -> InputError:
    return InputError(
        "payment",
        wanted=T_("a payment in this book"),
        got=payment_id,
        next_move=T_("Choose it on the page of its ticket."),
        code="unknown_payment",
    )


def _way_of(kind: str) -> Text:
    """How an entry of another kind is put right."""
    if kind in ("deliver", "gate_sale"):
        return T_("Take it back on the page of its ticket.")
    if kind in ("take_in", "opening", "stack", "divide", "split"):
        return T_("Take it back on the page of its load or stack.")
    if kind == "empty":
        return T_("Open the stack again on its page.")
    if kind == "reverse":
        return T_("What was taken back is entered anew.")
    if kind == "remeasure":
        return T_("Take the measure back on the page of its stack, or measure again: the newest counts.")
    return T_("Name the wood again: the newest counts.")


def _closed_since(session: Session, entry: Entry) -> Text | None:
    """A stack of the entry that was written off after it: what it held then is gone by the book."""
    for stack in _stacks_of(session, entry):
        for later in live_entries(session, stack.spot_id, "empty"):
            if later.number > entry.number:
                return T_(
                    "Stack {name} was closed since. Open it again first, on its page.",
                    name=stack.name,
                )
    return None


def _stacks_of(session: Session, entry: Entry) -> list[Stack]:
    spots = {posting.spot_id for posting in entry.postings}
    return list(session.scalars(select(Stack).where(Stack.spot_id.in_(spots)).order_by(Stack.name)))


# -- doing it -------------------------------------------------------------------------------------


def refuse(why: Text | None) -> None:
    if why is not None:
        raise RefusedError(why, code="hangs_on_it")


def take_back(stage: Stage, entries: Sequence[Entry], reason: str) -> None:
    """The newest first, each at its own moment: measures that came later then see the stack as it was."""
    for entry in reversed(entries):
        reverse(
            stage.session,
            entry,
            reason=reason,
            happened_at=entry.happened_at,
            recorded_at=stage.recorded_at,
            deed_id=stage.deed.id,
        )


def _settle_stacks(stage: Stage, entry: Entry, but: int | None = None) -> list[int]:
    """Later measures follow; stacks are open or empty as their wood says. RefusedError if wood is not there any more.

    `but`: a stack that is gone itself.
    """
    clashes: list[int] = []
    for stack in _stacks_of(stage.session, entry):
        if stack.id == but:
            continue
        clashes += follow_undone(stage, stack, entry)
        settle_stack(stage, stack, [entry])
    return clashes


def settle_stack(stage: Stage, stack: Stack, entries: Sequence[Entry]) -> None:
    """After these were taken back: the stack is open or empty as its wood says, unless that went on since."""
    held = stock(stage.session, stack.spot_id)
    since = min(entry.number for entry in entries)
    gave = any(
        line.spot_id == stack.spot_id and line.mass_g > 0 for entry in entries for line in entry.postings
    )
    later = [
        one
        for one in live_entries(stage.session, stack.spot_id)
        if one.number > since
        and one.kind != "remeasure"
        and any(line.spot_id == stack.spot_id and line.mass_g < 0 for line in one.postings)
    ]
    if gave and later and any(grams < -NEGATIVE_G for grams in held.values()):
        raise RefusedError(
            T_(
                "The wood went on from stack {name} since, last by entry {entry}. Take that back first.",
                name=stack.name,
                entry=later[-1].number,
            ),
            code="hangs_on_it",
        )
    if any(grams > 0 for grams in held.values()):
        stack.emptied_on = None
    else:
        stack.emptied_on = stack.emptied_on or stage.happened_on


def _open_again(stage: Stage, order: Order) -> None:
    """An order whose delivery was taken back: promised as before if that wood is free, else asked."""
    kept = [promise for promise in order.promises if promise.state == "kept"]
    needed: dict[int, float] = defaultdict(float)
    for promise in kept:
        needed[promise.stack_id] += promise.outside_m3
    stage.session.flush()
    free = {card.id: card.free_m3 for card in cards_in(stage.session, stage.yard.id, stack_ids=list(needed))}
    fits = bool(kept) and all(m3 <= free.get(stack_id, 0.0) + 0.01 for stack_id, m3 in needed.items())
    for promise in kept:
        promise.state = "open" if fits else "released"
    order.state = "promised" if fits else "asked"


def keep_undoing(
    stage: Stage,
    reason: str,
    *,
    ticket_id: int | None = None,
    payment_id: int | None = None,
    load_id: int | None = None,
    stack_id: int | None = None,
    measure_id: int | None = None,
) -> None:
    stage.session.add(
        Undoing(
            yard_id=stage.yard.id,
            deed_id=stage.deed.id,
            undone_at=stage.happened_at,
            reason=reason,
            ticket_id=ticket_id,
            payment_id=payment_id,
            load_id=load_id,
            stack_id=stack_id,
            measure_id=measure_id,
        )
    )
    stage.session.flush()


def _free_name(stage: Stage, stack: Stack) -> str:
    """A name under which the stack is kept, so that the right one can have its own."""
    taken = set(stage.session.scalars(select(Stack.name).where(Stack.yard_id == stage.yard.id)))
    count = 1
    while True:
        mark = f" ×{count}"
        name = stack.name[: NAME_LENGTH - len(mark)].rstrip() + mark
        if name not in taken:
            return name
        count += 1
