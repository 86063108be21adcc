"""A sale at the gate in two taps: open this page, tap the quantity."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.deliveries import GateOffer, SellAtGate, gate_offers, sell_at_gate
from rickyard.desk.stacks import stack_named, stacks
from rickyard.desk.tickets import PAY_METHODS, with_tax
from rickyard.desk.wares import wares
from rickyard.errors import InputError
from rickyard.measure import CORD_M3
from rickyard.web.forms import Form, FormProblem
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

CORDS = (0.25, 0.5, 1.0)
CUBIC_METRES = (0.5, 1.0, 2.0)
_NAMES = {"quantity": "order_quantity", "portions": "from_stack", "stack": "from_stack"}


@router.get("/gate")
def gate_page(visit: Here) -> Response:
    return _page(visit, visit.form(method="cash"))


@router.post("/gate")
def sell(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        tapped = form.value("sale").split(":")
        if len(tapped) == 3:
            form.typed["ware"], form.typed["stack"] = [tapped[0]], [tapped[1]]
            form.typed["order_quantity"] = [tapped[2]]
        volume = form.volume("order_quantity")
        command = SellAtGate(
            key=form.key,
            stack_id=_stack(visit, form),
            ware_id=form.number_id("ware"),
            ranked_m3=volume.m3,
            typed=volume.typed,
            buyer=form.text("buyer"),
            paid_in_full=form.value("method") != "later",
            pay_method=form.choice("method", (*PAY_METHODS, "later"), "cash").replace("later", "cash"),
        )
        form.check()
        with form.asking(**_NAMES):
            answer = sell_at_gate(visit.desk, command)
    except FormProblem:
        return _page(visit, form, 422)
    visit.nudge()
    return visit.go(f"/tickets/{answer['ticket_id']}", "sold")


def _stack(visit: Visit, form: Form) -> int:
    """The stack of the button that was tapped, or the one whose name was typed: a busy yard has many."""
    name = form.text("from_stack")
    if form.value("stack") or not name:
        return form.number_id("stack" if form.value("stack") else "from_stack")
    try:
        return stack_named(visit.desk, name, "from_stack")
    except InputError as error:
        form.complain(error)
        return 0


def _page(visit: Visit, form: Form, status: int = 200) -> Response:
    sold = wares(visit.desk)
    cards = stacks(visit.desk)
    standing = [card for card in cards if card.free_m3 > 0.01]
    return visit.page(
        "gate.html",
        status,
        form=form,
        offers=[(offer, _buttons(visit, offer)) for offer in gate_offers(visit.desk, cards)],
        ware_options=[(ware.id, ware.name, True) for ware in sold],
        stack_options=[(card.name, visit.voice.volume(card.free_m3, both=False)) for card in standing],
    )


def _buttons(visit: Visit, offer: GateOffer) -> list[tuple[str, str, str]]:
    """(what is posted, quantity, price with tax) for each handy quantity that is free."""
    voice = visit.voice
    unit, sizes = ("stacked_m3", CUBIC_METRES) if voice.metric else ("cord", CORDS)
    found = []
    for size in sizes:
        m3 = size if voice.metric else size * CORD_M3
        if m3 <= offer.free_m3 + 1e-9:
            total = with_tax(offer.ware.price_of(m3), visit.facts.tax_rate)
            posted = f"{offer.ware.id}:{offer.stack.id}:{size} {'m3' if voice.metric else 'cord'}"
            found.append((posted, voice.quantity(size, unit), voice.money(total)))
    return found
