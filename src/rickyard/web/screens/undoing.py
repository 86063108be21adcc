"""Taking back what was entered wrongly: each from the thing's own page, after saying what it will do."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.loads import load_page
from rickyard.desk.orders import order
from rickyard.desk.stacks import stack_page
from rickyard.desk.tickets import ticket
from rickyard.desk.undoing import (
    UndoDelivery,
    UndoMoving,
    UndoPayment,
    UndoStackUp,
    UndoTakeIn,
    undo_delivery,
    undo_moving,
    undo_payment,
    undo_stack_up,
    undo_take_in,
)
from rickyard.desk.undoing_measures import UndoMeasure, undo_measure
from rickyard.desk.undoing_views import (
    Undoable,
    measure_of,
    moving_numbered,
    payment_of,
    undoable_load,
    undoable_stack,
    undoable_ticket,
)
from rickyard.text import T_, Text
from rickyard.web.forms import Form
from rickyard.web.names import NAMES
from rickyard.web.reasons import done_because
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

OF_WOOD = T_("such as: entered twice, the wrong load, the wrong stack")
OF_SALES = T_("such as: entered twice, the wrong household, the wrong stack")
OF_MEASURES = T_("such as: entered twice, misread, another stack")
KEPT = T_("Nothing is erased: the book keeps what was entered, that it was taken back, and why.")
DONE = T_("This was taken back already. Nothing is left to do.")


@router.get("/tickets/{ticket_id:int}/undo")
def undo_ticket_page(visit: Here, ticket_id: int) -> Response:
    return _ticket(visit, ticket_id, visit.form())


@router.post("/tickets/{ticket_id:int}/undo")
def undo_ticket(visit: Here, ticket_id: int, sent: Sent) -> Response:
    return done_because(
        visit,
        sent,
        lambda told, reason: UndoDelivery(**told, ticket_id=ticket_id, reason=reason),
        undo_delivery,
        lambda form: _ticket(visit, ticket_id, form, 422),
        lambda answer: (f"/tickets/{ticket_id}", _ticket_said(answer["order_state"])),
    )


def _ticket_said(order_state: str | None) -> str:
    return f"ticket_undone_{order_state}" if order_state else "ticket_undone"


@router.get("/payments/{payment_id:int}/undo")
def undo_payment_page(visit: Here, payment_id: int) -> Response:
    return _payment(visit, payment_id, visit.form())


@router.post("/payments/{payment_id:int}/undo")
def undo_a_payment(visit: Here, payment_id: int, sent: Sent) -> Response:
    return done_because(
        visit,
        sent,
        lambda told, reason: UndoPayment(**told, payment_id=payment_id, reason=reason),
        undo_payment,
        lambda form: _payment(visit, payment_id, form, 422),
        lambda answer: (f"/tickets/{answer['ticket_id']}", "payment_undone"),
    )


@router.get("/wood-in/{load_id:int}/undo")
def undo_load_page(visit: Here, load_id: int) -> Response:
    return _load(visit, load_id, visit.form())


@router.post("/wood-in/{load_id:int}/undo")
def undo_load(visit: Here, load_id: int, sent: Sent) -> Response:
    return done_because(
        visit,
        sent,
        lambda told, reason: UndoTakeIn(**told, load_id=load_id, reason=reason),
        undo_take_in,
        lambda form: _load(visit, load_id, form, 422),
        lambda answer: (f"/wood-in/{load_id}", "load_undone"),
    )


@router.get("/stacks/{stack_id:int}/undo")
def undo_stack_page(visit: Here, stack_id: int) -> Response:
    return _stack(visit, stack_id, visit.form())


@router.post("/stacks/{stack_id:int}/undo")
def undo_stack(visit: Here, stack_id: int, sent: Sent) -> Response:
    return done_because(
        visit,
        sent,
        lambda told, reason: UndoStackUp(**told, stack_id=stack_id, reason=reason),
        undo_stack_up,
        lambda form: _stack(visit, stack_id, form, 422),
        lambda answer: (f"/stacks/{stack_id}", "stack_undone"),
    )


@router.get("/measures/{measure_id:int}/undo")
def undo_measure_page(visit: Here, measure_id: int) -> Response:
    return _measure(visit, measure_id, visit.form())


@router.post("/measures/{measure_id:int}/undo")
def undo_a_measure(visit: Here, measure_id: int, sent: Sent) -> Response:
    return done_because(
        visit,
        sent,
        lambda told, reason: UndoMeasure(**told, measure_id=measure_id, reason=reason),
        undo_measure,
        lambda form: _measure(visit, measure_id, form, 422),
        lambda answer: (
            f"/stacks/{answer['stack_id']}",
            "undone_clash" if answer["clashes"] else "measure_undone",
        ),
    )


@router.get("/journal/{number:int}/undo")
def undo_moving_page(visit: Here, number: int) -> Response:
    return _moving(visit, number, visit.form())


@router.post("/journal/{number:int}/undo")
def undo_a_moving(visit: Here, number: int, sent: Sent) -> Response:
    return done_because(
        visit,
        sent,
        lambda told, reason: UndoMoving(**told, number=number, reason=reason),
        undo_moving,
        lambda form: _moving(visit, number, form, 422),
        lambda answer: (
            f"/stacks/{answer['stacks'][0]}" if answer["stacks"] else f"/wood-in/{answer['loads'][0]}",
            "undone_clash" if answer["clashes"] else "moving_undone",
        ),
    )


# -- the pages ------------------------------------------------------------------------------------


def _ticket(visit: Visit, ticket_id: int, form: Form, status: int = 200) -> Response:
    card = ticket(visit.desk, ticket_id)
    voice = visit.voice
    notes = [
        T_(
            "Ticket {number} keeps its number and is marked as cancelled, also when it is printed.",
            number=card.number,
        ),
        T_("If it was handed out, take the paper back, or give the buyer the cancelled one."),
        T_("{amount} is not owed any more.", amount=voice.money(card.total_minor, card.currency)),
    ]
    if card.order_id is not None:
        notes.append(
            T_(
                "Order {number} is open again, with what was promised for it, if nobody else was promised it since.",
                number=order(visit.desk, card.order_id).number,
            )
        )
    return _page(
        visit,
        form,
        status,
        title=T_("Take ticket {number} back", number=card.number),
        lead=T_(
            "For a delivery or a sale that was entered wrongly. If wood came back from the buyer, enter that instead."
        ),
        crumbs=[
            ("/tickets", T_("Tickets")),
            (f"/tickets/{ticket_id}", T_("Ticket {number}", number=card.number)),
        ],
        facts=[
            (T_("Stack {name}", name=line["stack"]), voice.volume(line["ranked_m3"], both=False))
            for line in card.facts["lines"]
        ],
        facts_title=T_("What was sold comes back to"),
        undoable=undoable_ticket(visit.desk, ticket_id),
        notes=notes,
        button=T_("Take it back and cancel the ticket"),
        such_as=OF_SALES,
    )


def _payment(visit: Visit, payment_id: int, form: Form, status: int = 200) -> Response:
    card, line = payment_of(visit.desk, payment_id)
    voice = visit.voice
    return _page(
        visit,
        form,
        status,
        title=T_("Take a payment back"),
        lead=T_("For a payment that was not made, or not on this ticket. It stays on the page, struck out."),
        crumbs=[
            ("/tickets", T_("Tickets")),
            (f"/tickets/{card.id}", T_("Ticket {number}", number=card.number)),
        ],
        facts=[
            (T_("Paid"), voice.money(line.amount_minor, card.currency)),
            (T_("Paid on"), voice.date(line.paid_on)),
            (T_("How"), voice.text(NAMES["method"][line.method])),
            (T_("Owed then"), voice.money(card.owed_minor + line.amount_minor, card.currency)),
        ],
        undoable=Undoable((), None, done=line.undone_at is not None),
        notes=[
            T_("Money that was really handed over is given back, or entered on the ticket that it was for.")
        ],
        button=T_("Take the payment back"),
        such_as=OF_SALES,
    )


def _load(visit: Visit, load_id: int, form: Form, status: int = 200) -> Response:
    row = load_page(visit.desk, load_id).row
    undoable, offer = undoable_load(visit.desk, load_id)
    notes = [
        T_(
            "Load {number} keeps its number and is marked as taken back. Enter the right one anew.",
            number=row.number,
        ),
        T_("Its measures, photos and sheets stay with it and count no more."),
    ]
    if offer is not None:
        notes.append(T_("Offer {number} is open again.", number=offer))
    return _page(
        visit,
        form,
        status,
        title=T_("Take load {number} back", number=row.number),
        lead=T_(
            "For a load that did not come, or was entered wrongly. If it went back to who brought it, say that instead."
        ),
        crumbs=[("/wood-in", T_("Wood in")), (f"/wood-in/{load_id}", T_("Load {number}", number=row.number))],
        undoable=undoable,
        notes=notes,
        button=T_("Take the load back"),
    )


def _stack(visit: Visit, stack_id: int, form: Form, status: int = 200) -> Response:
    card = stack_page(visit.desk, stack_id).card
    return _page(
        visit,
        form,
        status,
        title=T_("Take the stacking of {name} back", name=card.name),
        lead=T_("For a stack that was entered wrongly. If nothing is left of it, close it instead."),
        crumbs=[("/stacks", T_("Stacks")), (f"/stacks/{stack_id}", T_("Stack {name}", name=card.name))],
        undoable=undoable_stack(visit.desk, stack_id),
        notes=[
            T_("The wood is again where it was before, with the kerf and the waste."),
            T_("The name {name} is free for the right one; this one is kept under another.", name=card.name),
            T_("Its readings, measures and photos stay with it; forecasts learn nothing from them any more."),
        ],
        button=T_("Take the stacking back"),
    )


def _measure(visit: Visit, measure_id: int, form: Form, status: int = 200) -> Response:
    found = measure_of(visit.desk, measure_id)
    voice = visit.voice
    facts = [
        (T_("Measured on"), voice.moment(found.happened_at)),
        (T_("Outside volume"), voice.volume(found.outside_m3, found.piled)),
    ]
    if found.before is not None:
        when, piled, outside_m3 = found.before
        facts.append((T_("What counts then"), f"{voice.volume(outside_m3, piled)} · {voice.moment(when)}"))
    return _page(
        visit,
        form,
        status,
        title=T_("Take a measure of stack {name} back", name=found.stack_name),
        lead=T_("For a measure that was not so, or of another stack. It stays on the page, struck out."),
        crumbs=[
            ("/stacks", T_("Stacks")),
            (f"/stacks/{found.stack_id}", T_("Stack {name}", name=found.stack_name)),
        ],
        facts=facts,
        undoable=found.undoable,
        notes=[
            T_("What left the stack or came to it since stays as it was entered."),
            T_("Its forecast and what is free of it follow the measure before."),
        ],
        button=T_("Take the measure back"),
        such_as=OF_MEASURES,
    )


def _moving(visit: Visit, number: int, form: Form, status: int = 200) -> Response:
    found = moving_numbered(visit.desk, number)
    voice = visit.voice
    crumbs: list[tuple[str, Text]] = (
        [
            ("/stacks", T_("Stacks")),
            (f"/stacks/{found.stacks[0][0]}", T_("Stack {name}", name=found.stacks[0][1])),
        ]
        if found.stacks
        else [
            ("/wood-in", T_("Wood in")),
            (f"/wood-in/{found.loads[0][0]}", T_("Load {number}", number=found.loads[0][1])),
        ]
    )
    notes = []
    if found.kind in ("merge", "fill"):
        notes.append(
            T_(
                "What was promised from the one stack and went with it stays promised from the other: look at the "
                "orders."
            )
        )
    if found.kind == "return":
        notes.append(T_("The ticket and the money stay as they are."))
    return _page(
        visit,
        form,
        status,
        title=T_("Take entry {number} back", number=found.number),
        lead=T_(
            "{what}, {when}. For what did not happen so.",
            what=voice.text(NAMES["entry"][found.kind]),
            when=voice.moment(found.happened_at),
        ),
        crumbs=crumbs,
        undoable=found.undoable,
        notes=notes,
        button=T_("Take it back"),
    )


def _page(
    visit: Visit,
    form: Form,
    status: int,
    *,
    title: Text,
    lead: Text,
    crumbs: Sequence[tuple[str, Text]],
    undoable: Undoable,
    notes: Sequence[Text],
    button: Text,
    facts: Sequence[tuple[Text, str]] = (),
    facts_title: Text | None = None,
    such_as: Text = OF_WOOD,
) -> Response:
    voice = visit.voice
    hangs = DONE if undoable.done else undoable.hangs
    return visit.page(
        "undo.html",
        status,
        form=form,
        hint=voice.text(such_as),
        kept=voice.text(KEPT),
        title=voice.text(title),
        lead=voice.text(lead),
        crumbs=[(path, voice.text(words)) for path, words in crumbs],
        action=visit.request.url.path,
        sums=[(voice.text(what), said) for what, said in facts],
        sums_title=voice.text(facts_title) if facts_title else "",
        flows=[
            (voice.text(place), f"{'+' if kg > 0 else '−'}{voice.mass(abs(kg))}")
            for place, kg in undoable.flows
        ],
        hangs=voice.text(hangs) if hangs else "",
        notes=[voice.text(note) for note in notes],
        button=voice.text(button),
    )
