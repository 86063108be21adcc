"""What one household sees under its own link: its orders and tickets, how dry, how to store and burn it."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.exceptions import HTTPException
from starlette.responses import Response

from rickyard.desk.household_links import household_of_link
from rickyard.desk.households import household
from rickyard.desk.orders import orders
from rickyard.desk.tickets import ticket, ticket_pdf, tickets
from rickyard.desk.yards import yard_facts
from rickyard.web.visit import Here, Visit, render

router = APIRouter(include_in_schema=False)

# The address is the key: it is told to nobody, kept nowhere, and found by no search.
HEADERS = {"Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex, nofollow", "Cache-Control": "no-store"}


@router.get("/h/{token}")
def own_page(visit: Here, token: str) -> Response:
    home_id = _household(visit, token)
    page = render(
        visit.request,
        visit.voice,
        None,
        "household_own.html",
        yard=yard_facts(visit.desk),
        token=token,
        home=household(visit.desk, home_id),
        orders=orders(visit.desk, household_id=home_id),
        tickets=tickets(visit.desk, household_id=home_id),
    )
    page.headers.update(HEADERS)
    return page


@router.get("/h/{token}/tickets/{ticket_id:int}.pdf")
def own_ticket(visit: Here, token: str, ticket_id: int) -> Response:
    home_id = _household(visit, token)
    card = ticket(visit.desk, ticket_id)
    if card.household_id != home_id:
        raise HTTPException(404)
    return Response(
        ticket_pdf(visit.desk, ticket_id, locale=visit.voice.locale),
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="ticket-{card.number}.pdf"', **HEADERS},
    )


def _household(visit: Visit, token: str) -> int:
    found = household_of_link(visit.desk, token)
    if found is None:
        raise HTTPException(404)
    return found
