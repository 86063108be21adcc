"""Deliveries against orders, tickets, payments."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.deliveries import Deliver, deliver
from rickyard.desk.moving_views import returns
from rickyard.desk.orders import OrderCard, order
from rickyard.desk.paging import A_PAGE, MOST_SEARCH, one_page
from rickyard.desk.photos import photos
from rickyard.desk.stacks import StackCard, stacks
from rickyard.desk.tickets import PAY_METHODS, Pay, pay, ticket, ticket_pdf, tickets
from rickyard.measure import CORD_M3
from rickyard.rules import movement_note
from rickyard.show import LOCALES
from rickyard.web.forms import Form, FormProblem
from rickyard.web.visit import Here, Last, Sent, Visit

router = APIRouter(include_in_schema=False)

PILED = ("ranked", "loose")


@router.get("/orders/{order_id:int}/deliver")
def deliver_page(visit: Here, order_id: int) -> Response:
    card = order(visit.desk, order_id)
    promised = {line.stack_id: line.ranked_m3 for line in card.promises if line.state == "open"}
    unit = visit.voice.volume_unit()
    form = visit.form(
        delivered_on=visit.today,
        piled="ranked",
        method="cash",
        **{f"take-{stack}": visit.voice.quantity(_in(unit, m3), unit) for stack, m3 in promised.items()},
    )
    return _page(visit, card, form)


@router.post("/orders/{order_id:int}/deliver")
def deliver_it(visit: Here, order_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    card = order(visit.desk, order_id)
    try:
        portions = _portions(visit, card, form)
        command = Deliver(
            key=form.key,
            order_id=order_id,
            delivered_on=form.day("delivered_on", visit.today),
            portions=portions,
            piled=form.choice("piled", PILED),
            vehicle=form.text("vehicle"),
            driver=form.text("driver"),
            paid_in_full=form.ticked("paid_in_full"),
            pay_method=form.choice("method", PAY_METHODS),
        )
        form.check()
        with form.asking():
            answer = deliver(visit.desk, command)
    except FormProblem:
        return _page(visit, card, form, 422)
    visit.nudge()
    return visit.go(f"/tickets/{answer['ticket_id']}", "delivered")


@router.get("/tickets")
def tickets_page(visit: Here, search: str = "", before: Last = 0) -> Response:
    search = search[:MOST_SEARCH]
    found, more = one_page(tickets(visit.desk, search=search, before=before or None, limit=A_PAGE + 1))
    return visit.page(
        "tickets.html",
        found=found,
        search=search,
        searchable=bool(search) or before > 0 or more,
        older=found[-1].id if more else 0,
    )


@router.get("/tickets/{ticket_id:int}")
def one_ticket(visit: Here, ticket_id: int) -> Response:
    return _ticket(visit, ticket_id, None)


@router.get("/tickets/{ticket_id:int}.pdf")
def ticket_paper(visit: Here, ticket_id: int, lang: str = "") -> Response:
    locale = lang if lang in LOCALES else visit.voice.locale
    name = f"ticket-{ticket(visit.desk, ticket_id).number}.pdf"
    return Response(
        ticket_pdf(visit.desk, ticket_id, locale=locale),
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )


@router.post("/tickets/{ticket_id:int}/pay")
def take_payment(visit: Here, ticket_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = Pay(
            key=form.key,
            ticket_id=ticket_id,
            amount_minor=form.money("amount", low_minor=1),
            method=form.choice("method", PAY_METHODS),
            paid_on=form.day("paid_on", visit.today),
        )
        form.check()
        with form.asking():
            pay(visit.desk, command)
    except FormProblem:
        return _ticket(visit, ticket_id, form, 422)
    return visit.go(f"/tickets/{ticket_id}", "paid")


def _ticket(visit: Visit, ticket_id: int, form: Form | None, status: int = 200) -> Response:
    card = ticket(visit.desk, ticket_id)
    if form is None:
        owed = visit.voice.typed_amount(card.owed_minor)
        form = visit.form(amount=owed, method="cash", paid_on=visit.today)
    return visit.page(
        "ticket.html",
        status,
        card=card,
        form=form,
        movement=movement_note(),
        photos=photos(visit.desk, "ticket", ticket_id),
        back=returns(visit.desk, ticket_id=ticket_id),
    )


def _page(visit: Visit, card: OrderCard, form: Form, status: int = 200) -> Response:
    return visit.page("deliver.html", status, card=card, form=form, candidates=_candidates(visit, card))


def _candidates(visit: Visit, card: OrderCard) -> list[StackCard]:
    """The promised stacks first, then others that hold such wood that nobody was promised."""
    promised = {line.stack_id for line in card.promises if line.state == "open"}
    standing = stacks(visit.desk)
    others = [
        item
        for item in standing
        if item.id not in promised and item.free_m3 > 0.01 and card.ware.fits_pieces(item)
    ]
    return [item for item in standing if item.id in promised] + others


def _portions(visit: Visit, card: OrderCard, form: Form) -> tuple[tuple[int, float], ...]:
    """What was taken from each stack. Figures left as they were promised keep their last digit."""
    promised = {line.stack_id: line.ranked_m3 for line in card.promises if line.state == "open"}
    unit = visit.voice.volume_unit()
    taken: list[tuple[int, float]] = []
    for item in _candidates(visit, card):
        name = f"take-{item.id}"
        if not form.value(name).strip():
            continue
        m3 = form.volume(name).m3
        was = promised.get(item.id)
        unchanged = was is not None and form.value(name) == visit.voice.quantity(_in(unit, was), unit)
        taken.append((item.id, was if unchanged and was is not None else m3))
    form.check()
    return tuple(taken)


def _in(unit: str, m3: float) -> float:
    return m3 / CORD_M3 if unit == "cord" else m3
