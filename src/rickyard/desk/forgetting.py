"""What may have to be forgotten: who bought, and the reason of an entry, free text that may name somebody.

The journal's chain holds a reason only by a salted hash, and papers and orders their free text likewise. Text and salt
go; wood, money, days and numbers stay. That they went is a deed, which is sealed, so that nobody takes words out
unseen: who did it, when and why stands among the deeds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from rickyard.book import seals
from rickyard.book.models import (
    Entry,
    EntryLink,
    Household,
    HouseholdLink,
    Order,
    Posting,
    Ticket,
)
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.households import find_household, mark_of
from rickyard.desk.tickets import owed_on, unknown_ticket
from rickyard.errors import ClashError, InputError, RefusedError
from rickyard.text import T_, Text

# What an entry of the journal may have a reason for that somebody typed.
_TYPED = ("return", "reverse")


@dataclass(frozen=True, kw_only=True)
class ForgetReason(Command):
    """`entry` is the entry's number in the yard's journal; `why` it is taken out."""

    entry: int
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class ForgetHousehold(Command):
    """Who a household was; `reason` is why, in words that do not name them."""

    household_id: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class ForgetBuyer(Command):
    """Who bought at the gate, on this ticket."""

    ticket_id: int
    reason: str


def forget_reason(desk: Desk, command: ForgetReason) -> Answer:
    """Takes the reason of an entry out for good; the chain holds as before. Answer: entry, why (if said)."""
    why = some_text("why", command.why, 200, needed=False)

    def run(stage: Stage) -> Answer:
        found = stage.session.execute(
            select(Entry.id, Entry.reason).where(
                Entry.yard_id == stage.yard.id, Entry.number == command.entry
            )
        ).first()
        if found is None or not found.reason:
            raise InputError(
                "entry",
                wanted=T_("the number of an entry of this yard that has a reason"),
                got=command.entry,
                next_move=T_("Look for the entry in the journal of its stack or load."),
                code="no_reason",
            )
        # In this order: the database lets no reason go whose salt is still there.
        stage.session.execute(update(EntryLink).where(EntryLink.entry_id == found.id).values(reason_salt=""))
        stage.session.execute(update(Entry).where(Entry.id == found.id).values(reason=""))
        return {"entry": command.entry} | ({"why": why} if why else {})

    return do(desk, "forget_reason", command, run)


def forget_household(desk: Desk, command: ForgetHousehold) -> Answer:
    """Takes out who a household was: name, address, phone, notes, its buyer's lines on tickets, its links.

    Answer: household_id, name (what it is called now), tickets (numbers of those that were changed), reasons (numbers
    of entries whose typed reason may still name them), reason. Papers that were kept are deleted; a ticket prints from
    its facts then. Raises RefusedError while an order is open or money is owed.
    """
    reason = some_text("reason", command.reason, 200)
    papers: list[str] = []

    def run(stage: Stage) -> Answer:
        home = find_household(stage.session, stage.yard.id, command.household_id)
        mark = mark_of(home.id)
        if home.name == mark:
            raise ClashError(
                T_("Who household {name} was is forgotten already. Nothing is left to do.", name=mark),
                code="already_forgotten",
                field="household",
            )
        why = hangs_on_household(stage.session, home)
        if why is not None:
            raise RefusedError(why, code="hangs_on_it")
        own = list(
            stage.session.scalars(
                select(Ticket).where(Ticket.household_id == home.id).order_by(Ticket.number)
            )
        )
        for ticket in own:
            papers.extend(_forget_on(stage, desk, ticket, mark))
        for order in stage.session.scalars(
            select(Order).where(Order.household_id == home.id, Order.note != "")
        ):
            seals.forget_words(stage.session.connection(), "orders", order.id)
            order.note = ""
        stage.session.execute(
            update(HouseholdLink)
            .where(HouseholdLink.household_id == home.id, HouseholdLink.ended_at.is_(None))
            .values(ended_at=stage.recorded_at)
        )
        home.name, home.address, home.phone, home.note = mark, "", "", ""
        return {
            "household_id": home.id,
            "name": mark,
            "tickets": [ticket.number for ticket in own],
            "reasons": _reasons(stage.session, [home.spot_id], own),
            "reason": reason,
        }

    answer = do(desk, "forget_household", command, run)
    _drop(desk, papers)
    return answer


def forget_buyer(desk: Desk, command: ForgetBuyer) -> Answer:
    """Takes out who bought at the gate on a ticket. Answer: ticket_id, number, reasons (as above), reason."""
    reason = some_text("reason", command.reason, 200)
    papers: list[str] = []

    def run(stage: Stage) -> Answer:
        ticket = stage.session.get(Ticket, command.ticket_id)
        if ticket is None or ticket.yard_id != stage.yard.id:
            raise unknown_ticket(command.ticket_id)
        why = hangs_on_buyer(ticket)
        if why is not None:
            raise RefusedError(why, code="hangs_on_it")
        if not any(ticket.facts["buyer"].values()):
            raise ClashError(
                T_("Ticket {number} names no buyer. Nothing is left to do.", number=ticket.number),
                code="already_forgotten",
                field="ticket",
            )
        papers.extend(_forget_on(stage, desk, ticket, ""))
        return {
            "ticket_id": ticket.id,
            "number": ticket.number,
            "reasons": _reasons(stage.session, [], [ticket]),
            "reason": reason,
        }

    answer = do(desk, "forget_buyer", command, run)
    _drop(desk, papers)
    return answer


@dataclass(frozen=True)
class Forgettable:
    """What forgetting somebody would do; `hangs`: why it is refused as it stands, `done`: it was done already.

    `name` is theirs, `tickets` how many name them.
    """

    name: str
    tickets: int
    hangs: Text | None
    done: bool


def forgettable_household(desk: Desk, household_id: int) -> Forgettable:
    with desk.book.read() as session:
        home = find_household(session, desk.yard_id, household_id)
        count = session.scalar(select(func.count()).select_from(Ticket).where(Ticket.household_id == home.id))
        done = home.name == mark_of(home.id)
        return Forgettable(home.name, count or 0, None if done else hangs_on_household(session, home), done)


def forgettable_buyer(desk: Desk, ticket_id: int) -> Forgettable:
    with desk.book.read() as session:
        ticket = session.get(Ticket, ticket_id)
        if ticket is None or ticket.yard_id != desk.yard_id:
            raise unknown_ticket(ticket_id)
        buyer = ticket.facts["buyer"]
        hangs = hangs_on_buyer(ticket)
        return Forgettable(buyer["name"], 1, hangs, hangs is None and not any(buyer.values()))


def hangs_on_household(session: Session, home: Household) -> Text | None:
    """Why a household cannot be forgotten yet, and what to do first."""
    order = session.scalar(
        select(Order.number)
        .where(Order.household_id == home.id, Order.state.in_(("asked", "promised")))
        .order_by(Order.number)
        .limit(1)
    )
    if order is not None:
        return T_(
            "Order {order} of household {name} is open. Deliver it or cancel it first.",
            order=order,
            name=home.name,
        )
    for ticket in session.scalars(
        select(Ticket).where(Ticket.household_id == home.id).order_by(Ticket.number)
    ):
        if ticket.undoing is None and owed_on(ticket):
            return _owed(ticket)
    return None


def hangs_on_buyer(ticket: Ticket) -> Text | None:
    """Why the buyer on a ticket cannot be forgotten there, and what to do instead."""
    if ticket.household_id is not None:
        return T_(
            "Ticket {number} is a household's. Forget the household on its page: that takes it off all its tickets.",
            number=ticket.number,
        )
    return _owed(ticket) if ticket.undoing is None and owed_on(ticket) else None


def _owed(ticket: Ticket) -> Text:
    return T_(
        "On ticket {number} {owed:.2f} {currency} are owed. Enter the payment, or take the ticket back, first: nobody "
        "could say later who owes it.",
        number=ticket.number,
        owed=owed_on(ticket) / 100,
        currency=ticket.currency,
    )


def _forget_on(stage: Stage, desk: Desk, ticket: Ticket, name: str) -> list[str]:
    """Takes the buyer off a ticket's facts, and gives the kept paper that names them, if there is one.

    BookError if there is one and nobody said where papers lie: it would stay on the disk.
    """
    # In this order: the database lets no word of a ticket go while the salt of its seal is there.
    seals.forget_words(stage.session.connection(), "ticket", ticket.id)
    paper = {key: value for key, value in ticket.facts.get("paper", {}).items() if key != "sha256"}
    kept = ticket.facts.get("paper", {}).get("sha256")
    if kept:
        desk.book.files.path(kept)
    buyer = dict.fromkeys(ticket.facts["buyer"], "") | {"name": name}
    ticket.facts = {**ticket.facts, "buyer": buyer} | ({"paper": paper} if paper else {})
    stage.session.flush()
    return [kept] if kept else []


def _reasons(session: Session, spots: Sequence[int], tickets: Sequence[Ticket]) -> list[int]:
    """Numbers of the entries about these buyers and tickets that have a reason somebody typed."""
    ids = {ticket.entry_id for ticket in tickets}
    touched = select(Posting.entry_id).where(Posting.spot_id.in_(spots))
    query = select(Entry.number).where(
        Entry.reason != "",
        Entry.kind.in_(_TYPED),
        Entry.id.in_(touched) | Entry.reverses_id.in_(ids),
    )
    return sorted(session.scalars(query))


def _drop(desk: Desk, papers: Sequence[str]) -> None:
    """Once the book no longer speaks of them."""
    for sha256 in papers:
        desk.book.files.drop(sha256)
