"""Orders: a household asks, the desk answers, the yard promises."""

from __future__ import annotations

from datetime import date, timedelta

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.orders import (
    CancelOrder,
    OrderCard,
    PlaceOrder,
    Portion,
    PromiseOrder,
    Reply,
    ask,
    cancel_order,
    count_orders,
    order,
    orders,
    place_order,
    promise_order,
)
from rickyard.desk.paging import A_PAGE, MOST_SEARCH, one_page
from rickyard.desk.tickets import tickets
from rickyard.desk.wares import wares
from rickyard.errors import RickyardError
from rickyard.web.forms import Form, FormProblem
from rickyard.web.household_choice import choose_household
from rickyard.web.visit import Here, Last, Sent, Visit, data

router = APIRouter(include_in_schema=False)

DEFAULT_DAYS_AHEAD = 14
# The desk's words, as our fields.
_NAMES = {"quantity": "order_quantity", "portions": "portions", "stack": "portions"}
_SHOWN = ("open", "delivered", "cancelled")


@router.get("/orders")
def orders_page(visit: Here, show: str = "open", search: str = "", after: Last = 0) -> Response:
    """What is open by the day it is wanted, the most pressing first; what is done, the last first."""
    show, search = show if show in _SHOWN else "open", search[:MOST_SEARCH]
    states = ("asked", "promised") if show == "open" else (show,)
    found, more = one_page(
        orders(
            visit.desk,
            states=states,
            search=search,
            newest_first=show != "open",
            after=after or None,
            limit=A_PAGE + 1,
        )
    )
    return visit.page(
        "orders.html",
        found=found,
        show=show,
        search=search,
        searchable=bool(search) or after > 0 or more,
        count=count_orders(visit.desk, states),
        last=found[-1].id if more else 0,
    )


@router.get("/orders/new")
def new_order(visit: Here) -> Response:
    """The question, and (once it is asked) the desk's answer below it. Nothing is written."""
    query = visit.request.query_params
    asked = "order_quantity" in query
    form = visit.form(
        household=query.get("household", ""),
        home_name=query.get("home_name", ""),
        ware=query.get("ware", ""),
        order_quantity=query.get("order_quantity", ""),
        wanted_by=query.get("wanted_by", visit.today + timedelta(days=DEFAULT_DAYS_AHEAD)),
    )
    homes = choose_household(visit, form, needed=False)
    if not asked:
        return _page(visit, form, homes)
    try:
        reply = _ask(visit, form)
    except FormProblem:
        return _page(visit, form, homes, status=422)
    return _page(visit, form, homes, reply=reply)


@router.post("/orders/new")
def place(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    reply: Reply | None = None
    homes = choose_household(visit, form, needed=True)
    wrong, form.complaints = form.complaints, []
    try:
        # The desk's answer stands beside the complaint about the household.
        reply = _ask(visit, form)
        form.complaints = wrong
        form.check()
        household_id = form.number_id("household")
        portions = read_portions(form)
        form.check()
        command = PlaceOrder(
            key=form.key,
            household_id=household_id,
            ware_id=form.number_id("ware"),
            ranked_m3=reply.ranked_m3,
            wanted_by=reply.wanted_by,
            typed=form.text("order_quantity"),
            portions=portions,
            despite_odds=form.ticked("despite_odds"),
            note=form.text("note"),
        )
        with form.asking(**_NAMES):
            answer = place_order(visit.desk, command)
    except FormProblem:
        return _page(visit, form, homes, reply=reply, status=422)
    said = "promised" if answer["state"] == "promised" else "noted"
    return visit.go(f"/orders/{answer['order_id']}", said)


@router.get("/orders/{order_id:int}")
def one_order(visit: Here, order_id: int) -> Response:
    return _order(visit, order(visit.desk, order_id), visit.form())


@router.post("/orders/{order_id:int}/promise")
def promise(visit: Here, order_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        portions = read_portions(form)
        form.check()
        with form.asking(**_NAMES):
            promise_order(
                visit.desk,
                PromiseOrder(
                    key=form.key,
                    order_id=order_id,
                    portions=portions,
                    despite_odds=form.ticked("despite_odds"),
                ),
            )
    except FormProblem:
        return _order(visit, order(visit.desk, order_id), form, 422)
    return visit.go(f"/orders/{order_id}", "promised")


@router.post("/orders/{order_id:int}/cancel")
def cancel(visit: Here, order_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = CancelOrder(key=form.key, order_id=order_id, reason=form.text("reason", needed=True))
        form.check()
        with form.asking():
            cancel_order(visit.desk, command)
    except FormProblem:
        return _order(visit, order(visit.desk, order_id), form, 422)
    return visit.go(f"/orders/{order_id}", "cancelled")


def portions_text(portions: tuple[Portion, ...]) -> str:
    """Portions as one hidden field: stack:volume pairs, to the last digit."""
    return ",".join(f"{portion.stack.id}:{portion.ranked_m3!r}" for portion in portions)


def read_portions(form: Form) -> tuple[tuple[int, float], ...]:
    """Portions from the hidden field; what does not look like ours is left out, and the desk refuses the sum."""
    found: list[tuple[int, float]] = []
    for pair in form.value("portions").split(","):
        stack, _, volume = pair.partition(":")
        if stack.isdigit() and len(stack) < 10 and volume.replace(".", "", 1).isdigit():
            found.append((int(stack), float(volume)))
    return tuple(found)


def _ask(visit: Visit, form: Form) -> Reply:
    ware_id = form.number_id("ware")
    volume = form.volume("order_quantity")
    wanted_by = form.day("wanted_by", visit.today)
    form.check()
    with form.asking(**_NAMES):
        return ask(visit.desk, ware_id, volume.m3, wanted_by)


def _page(
    visit: Visit,
    form: Form,
    homes: list[tuple[int, object]],
    *,
    reply: Reply | None = None,
    status: int = 200,
) -> Response:
    sold = wares(visit.desk)
    return visit.page(
        "order_new.html",
        status,
        form=form,
        reply=reply,
        homes=homes,
        sold=sold,
        ware_options=[
            (ware.id, data(f"{ware.name} · {visit.voice.money(ware.price_minor)}")) for ware in sold
        ],
        portions_text=portions_text,
    )


def _order(visit: Visit, card: OrderCard, form: Form, status: int = 200) -> Response:
    reply = None
    if card.state == "asked":
        reply = _reply_now(visit, card)
    return visit.page(
        "order.html",
        status,
        card=card,
        form=form,
        reply=reply,
        tickets=tickets(visit.desk, order_id=card.id),
        portions_text=portions_text,
    )


def _reply_now(visit: Visit, card: OrderCard) -> Reply | None:
    """What could be promised now; None where the question no longer makes sense (a ware taken off, say)."""
    day: date = max(card.wanted_by, visit.today)
    try:
        return ask(visit.desk, card.ware.id, card.ranked_m3, day)
    except RickyardError:
        return None
