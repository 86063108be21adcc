"""Forgetting who bought: a household from its page, a buyer at the gate from the ticket. The owner's alone."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.forgetting import (
    ForgetBuyer,
    ForgetHousehold,
    Forgettable,
    forget_buyer,
    forget_household,
    forgettable_buyer,
    forgettable_household,
)
from rickyard.desk.tickets import ticket
from rickyard.text import T_, Text
from rickyard.web.forms import Form
from rickyard.web.reasons import done_because
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

DONE = T_("This is forgotten already. Nothing is left to do.")
# What holds of both.
STAYS = (
    T_("Wood, money, days and the numbers of tickets stay: the books add up as before."),
    T_("Papers that the book kept are deleted; those that were handed out are not."),
    T_("Backups and exports made before still hold the name: delete those that need not be kept."),
    T_("A law may ask that tickets name their buyer for some years. Look at that first."),
)


@router.get("/households/{household_id:int}/forget")
def household_page(visit: Here, household_id: int) -> Response:
    return _household(visit, household_id, visit.form())


@router.post("/households/{household_id:int}/forget")
def forget_a_household(visit: Here, household_id: int, sent: Sent) -> Response:
    return done_because(
        visit,
        sent,
        lambda told, reason: ForgetHousehold(**told, household_id=household_id, reason=reason),
        forget_household,
        lambda form: _household(visit, household_id, form, 422),
        lambda answer: (f"/households/{household_id}", "household_forgotten"),
    )


@router.get("/tickets/{ticket_id:int}/forget")
def buyer_page(visit: Here, ticket_id: int) -> Response:
    return _buyer(visit, ticket_id, visit.form())


@router.post("/tickets/{ticket_id:int}/forget")
def forget_a_buyer(visit: Here, ticket_id: int, sent: Sent) -> Response:
    return done_because(
        visit,
        sent,
        lambda told, reason: ForgetBuyer(**told, ticket_id=ticket_id, reason=reason),
        forget_buyer,
        lambda form: _buyer(visit, ticket_id, form, 422),
        lambda answer: (f"/tickets/{ticket_id}", "buyer_forgotten"),
    )


def _household(visit: Visit, household_id: int, form: Form, status: int = 200) -> Response:
    found = forgettable_household(visit.desk, household_id)
    return _page(
        visit,
        form,
        status,
        found,
        title=T_("Forget who {name} is", name=found.name),
        crumbs=[("/households", T_("Households")), (f"/households/{household_id}", T_("Household"))],
        goes=T_(
            "Name, address, phone and notes go, also from their tickets ({count}) and orders. Their own link ends.",
            count=found.tickets,
        ),
    )


def _buyer(visit: Visit, ticket_id: int, form: Form, status: int = 200) -> Response:
    card = ticket(visit.desk, ticket_id)
    return _page(
        visit,
        form,
        status,
        forgettable_buyer(visit.desk, ticket_id),
        title=T_("Forget who bought on ticket {number}", number=card.number),
        crumbs=[
            ("/tickets", T_("Tickets")),
            (f"/tickets/{ticket_id}", T_("Ticket {number}", number=card.number)),
        ],
        goes=T_("The buyer's name goes from the ticket."),
    )


def _page(
    visit: Visit,
    form: Form,
    status: int,
    found: Forgettable,
    *,
    title: Text,
    crumbs: Sequence[tuple[str, Text]],
    goes: Text,
) -> Response:
    voice = visit.voice
    hangs = DONE if found.done else found.hangs
    return visit.page(
        "undo.html",
        status,
        form=form,
        lead=voice.text(T_("For somebody who asks that the yard no longer knows them. It cannot be undone.")),
        hint=voice.text(T_("without their name: it stays among the deeds")),
        button=voice.text(T_("Forget them for good")),
        title=voice.text(title),
        crumbs=[(path, voice.text(words)) for path, words in crumbs],
        action=visit.request.url.path,
        sums_title="",
        sums=[],
        flows=[],
        kept="",
        hangs=voice.text(hangs) if hangs else "",
        notes=[voice.text(note) for note in (goes, *STAYS)],
    )
