"""Tickets as they stand, as PDF, and what has been paid on them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import selectinload

from rickyard.book.models import Payment, Ticket
from rickyard.desk.checks import day_between, one_of
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.paging import after_row, contains, is_number
from rickyard.desk.ticket_paper import ticket_data
from rickyard.errors import InputError, RefusedError
from rickyard.paper import TicketData, render_ticket
from rickyard.text import T_

PAY_METHODS = ("cash", "transfer", "card", "cheque")


@dataclass(frozen=True, kw_only=True)
class Pay(Command):
    ticket_id: int
    amount_minor: int
    method: str = "cash"
    paid_on: date


@dataclass(frozen=True)
class PaymentLine:
    """A payment as it was entered; `undone_at` says that it was entered wrongly and counts no more."""

    id: int
    amount_minor: int
    method: str
    paid_on: date
    undone_at: datetime | None
    undone_for: str


@dataclass(frozen=True)
class TicketCard:
    """`facts` is what the paper says, frozen when the ticket was issued (see `_facts`).

    A ticket that was taken back is cancelled: it keeps its number, and nothing is owed on it.
    """

    id: int
    number: int
    issued_at: datetime
    delivered_on: date
    order_id: int | None
    household_id: int | None
    buyer: str
    ware_name: str
    outside_m3: float
    price_minor: int
    tax_minor: int
    total_minor: int
    paid_minor: int
    currency: str
    facts: dict[str, Any]
    payments: tuple[PaymentLine, ...]
    cancelled_at: datetime | None
    cancelled_for: str

    @property
    def owed_minor(self) -> int:
        return 0 if self.cancelled_at else self.total_minor - self.paid_minor


def pay(desk: Desk, command: Pay) -> Answer:
    """Answer: ticket_id, paid_minor, owed_minor."""

    def run(stage: Stage) -> Answer:
        ticket = stage.session.get(Ticket, command.ticket_id)
        if ticket is None or ticket.yard_id != stage.yard.id:
            raise unknown_ticket(command.ticket_id)
        day_between("paid_on", command.paid_on, ticket.delivered_on, stage.happened_on)
        owed = add_payment(stage, ticket, command.amount_minor, command.method, command.paid_on)
        return {"ticket_id": ticket.id, "paid_minor": command.amount_minor, "owed_minor": owed}

    return do(desk, "pay", command, run)


def tickets(
    desk: Desk,
    *,
    household_id: int | None = None,
    order_id: int | None = None,
    search: str = "",
    before: int | None = None,
    limit: int = 200,
) -> list[TicketCard]:
    """Tickets, newest first; those before the ticket `before`, if said.

    `search` is part of the buyer's name as the ticket says it, or the ticket's number.
    """
    with desk.book.read() as session:
        query = (
            select(Ticket)
            .where(Ticket.yard_id == desk.yard_id)
            .options(
                selectinload(Ticket.payments).selectinload(Payment.undoing),
                selectinload(Ticket.household),
                selectinload(Ticket.undoing),
            )
        )
        query = after_row(query, Ticket, before, Ticket.number, Ticket.id, descending=True).limit(limit)
        if search.strip():
            found = contains(search, Ticket.facts["buyer"]["name"].as_string())
            number = search.strip()
            query = query.where(found | (Ticket.number == int(number)) if is_number(number) else found)
        if household_id is not None:
            query = query.where(Ticket.household_id == household_id)
        if order_id is not None:
            query = query.where(Ticket.order_id == order_id)
        return [_card(ticket) for ticket in session.scalars(query)]


def ticket(desk: Desk, ticket_id: int) -> TicketCard:
    with desk.book.read() as session:
        found = session.get(Ticket, ticket_id)
        if found is None or found.yard_id != desk.yard_id:
            raise unknown_ticket(ticket_id)
        return _card(found)


def ticket_numbered(desk: Desk, number: int, field: str = "ticket") -> TicketCard:
    """The ticket with the number that its paper says; InputError for `field` if there is none."""
    found = ticket_if_numbered(desk, number)
    if found is None:
        raise InputError(
            field,
            wanted=T_("the number of a ticket of this yard"),
            got=number,
            next_move=T_("Read it again from the ticket's paper."),
        )
    return found


def ticket_if_numbered(desk: Desk, number: int) -> TicketCard | None:
    """The ticket with this number, if there is one."""
    with desk.book.read() as session:
        found = session.scalar(select(Ticket).where(Ticket.yard_id == desk.yard_id, Ticket.number == number))
        return None if found is None else _card(found)


def unknown_ticket(ticket_id: int) -> InputError:
    return InputError(
        "ticket",
        wanted=T_("a ticket of this yard"),
        got=ticket_id,
        next_move=T_("Choose it from the list of tickets."),
        code="unknown_ticket",
    )


def ticket_pdf(desk: Desk, ticket_id: int, *, locale: str | None = None) -> bytes:
    """The ticket as a PDF: the paper itself that was issued, or the same in another language than it was issued in.

    A ticket whose paper was not kept (by an earlier version, or where no folder for files is named) is printed from
    its facts, and so is one that is cancelled, which its paper says across. BookError if the paper was kept and is
    gone or damaged.
    """
    card = ticket(desk, ticket_id)
    issued = card.facts.get("paper", {})
    if card.cancelled_at is None and "sha256" in issued and locale in (None, issued["locale"]):
        return desk.book.files.get(issued["sha256"])
    return render_ticket(paper_of(desk, card, locale=locale))


def paper_of(desk: Desk, card: TicketCard, *, locale: str | None = None) -> TicketData:
    """All that the ticket's paper says, in units and time zone as they were when it was issued, if it says them.

    And that it is cancelled, if it is.
    """
    with desk.book.read() as session:
        yard = desk.yard(session)
        issued = {"locale": yard.locale, "units": yard.units, "timezone": yard.timezone}
        issued |= card.facts.get("paper", {})
        data = ticket_data(
            card.facts,
            number=card.number,
            issued_at=card.issued_at,
            delivered_on=card.delivered_on,
            price_minor=card.price_minor,
            tax_minor=card.tax_minor,
            total_minor=card.total_minor,
            currency=card.currency,
            locale=locale or issued["locale"],
            units=issued["units"],
            timezone=issued["timezone"],
        )
    return replace(data, cancelled_at=card.cancelled_at)


def prorate(amount_minor: int, share: float) -> int:
    """A share of an amount, rounded once, half to even."""
    exact = Decimal(amount_minor) * Decimal(repr(share))
    return int(exact.to_integral_value(rounding=ROUND_HALF_EVEN))


def with_tax(price_minor: int, tax_rate: float) -> int:
    """What is to be paid for a price, tax added as on the ticket."""
    return price_minor + prorate(price_minor, tax_rate)


def add_payment(stage: Stage, ticket: Ticket, amount_minor: int, method: str, paid_on: date) -> int:
    """Records a payment on a ticket and gives what is owed then.

    InputError if it is not above zero and at most what is owed.
    """
    if ticket.undoing is not None:
        raise RefusedError(
            T_(
                "Ticket {number} is cancelled: nothing is to be paid on it. Enter the payment on the ticket that "
                "counts.",
                number=ticket.number,
            ),
            code="ticket_cancelled",
            field="ticket",
        )
    one_of("method", method, PAY_METHODS)
    owed = owed_on(ticket)
    if not 0 < amount_minor <= owed:
        raise InputError(
            "amount",
            wanted=T_(
                "more than zero and at most the {owed:.2f} {currency} owed",
                owed=owed / 100,
                currency=ticket.currency,
            ),
            got=f"{amount_minor / 100:.2f} {ticket.currency}",
            next_move=T_("Check the amount."),
        )
    stage.session.add(
        Payment(
            yard_id=stage.yard.id,
            ticket_id=ticket.id,
            amount_minor=amount_minor,
            method=method,
            paid_on=paid_on,
        )
    )
    return owed - amount_minor


def owed_on(ticket: Ticket) -> int:
    return ticket.total_minor - sum(
        payment.amount_minor for payment in ticket.payments if payment.undoing is None
    )


def _card(ticket: Ticket) -> TicketCard:
    return TicketCard(
        id=ticket.id,
        number=ticket.number,
        issued_at=ticket.issued_at,
        delivered_on=ticket.delivered_on,
        order_id=ticket.order_id,
        household_id=ticket.household_id,
        buyer=ticket.facts["buyer"]["name"],
        ware_name=ticket.facts["ware"],
        outside_m3=ticket.outside_m3,
        price_minor=ticket.price_minor,
        tax_minor=ticket.tax_minor,
        total_minor=ticket.total_minor,
        paid_minor=ticket.total_minor - owed_on(ticket),
        currency=ticket.currency,
        facts=ticket.facts,
        payments=tuple(
            PaymentLine(
                id=payment.id,
                amount_minor=payment.amount_minor,
                method=payment.method,
                paid_on=payment.paid_on,
                undone_at=payment.undoing.undone_at if payment.undoing else None,
                undone_for=payment.undoing.reason if payment.undoing else "",
            )
            for payment in ticket.payments
        ),
        cancelled_at=ticket.undoing.undone_at if ticket.undoing else None,
        cancelled_for=ticket.undoing.reason if ticket.undoing else "",
    )
