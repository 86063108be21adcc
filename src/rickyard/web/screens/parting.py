"""Stacks that are made of wood of another one: a part that stands on its own, and wood that was split."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter
from starlette.datastructures import FormData
from starlette.responses import Response

from rickyard.cut import CAUTIONS_ALL, CAUTIONS_SPLITTER, CAUTIONS_WEDGE
from rickyard.desk.context import Answer, Desk
from rickyard.desk.forecasts import outlook
from rickyard.desk.moving import MOST_OF_A_PART, DivideStack, divide_stack
from rickyard.desk.moving_views import LEAST_M3, promise_notes, wood_of_stack, wood_when_split
from rickyard.desk.split_stacks import FINER, SplitStack, split_stack
from rickyard.desk.stacks import StackCard, next_stack_name, stack_card
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.moving_forms import PART, WHOLE, Told, read_amount, share_options, stacked
from rickyard.web.names import NAMES
from rickyard.web.offline import works_offline
from rickyard.web.screens.moving import (
    SHARES,
    AnyCommand,
    Preview,
    as_it_stands,
    ask_if_more,
    preview_of,
    said_of,
)
from rickyard.web.screens.stacking import KINDS
from rickyard.web.visit import Here, Sent, Visit, sent_by_outbox

router = APIRouter(include_in_schema=False)


@router.get("/stacks/{stack_id:int}/divide")
@works_offline(each="stack", queues=T_("a stack divided"))
def divide_page(visit: Here, stack_id: int) -> Response:
    card = stack_card(visit.desk, stack_id)
    form = visit.form(stack_name=next_stack_name(visit.desk), kind=card.kind, row=card.row_label)
    return _divide(visit, card, form)


@router.post("/stacks/{stack_id:int}/divide")
def divide_it(visit: Here, stack_id: int, sent: Sent) -> Response:
    card = stack_card(visit.desk, stack_id)
    return _made_of(
        visit,
        sent,
        card,
        lambda form, told: DivideStack(**_new_stack(visit, form, stack_id, told)),
        divide_stack,
        lambda form, status, preview: _divide(visit, card, form, status, preview=preview),
        lambda command, share: _divide_preview(visit, card, command.name, share),
        "divided",
        most=MOST_OF_A_PART,
    )


@router.get("/stacks/{stack_id:int}/split")
@works_offline(each="stack", queues=T_("wood of a stack that was split"))
def split_page(visit: Here, stack_id: int) -> Response:
    card = stack_card(visit.desk, stack_id)
    form = visit.form(
        share_of="1",
        stack_name=next_stack_name(visit.desk),
        kind="stack" if card.kind == "heap" else card.kind,
        piece_form=FINER[card.form][0],
        bark=card.bark,
        row=card.row_label,
    )
    return _split(visit, card, form)


@router.post("/stacks/{stack_id:int}/split")
def split_it(visit: Here, stack_id: int, sent: Sent) -> Response:
    card = stack_card(visit.desk, stack_id)
    return _made_of(
        visit,
        sent,
        card,
        lambda form, told: SplitStack(
            **_new_stack(visit, form, stack_id, told),
            form=form.choice("piece_form", FINER[card.form]),
            thickness_m=form.length("thickness", low=0.01, high=1.5, small=True),
            bark=form.ticked("bark"),
            start_mc_wet=form.percent_or_none("start_moisture", basis="wet", low=0.05, high=0.75),
        ),
        split_stack,
        lambda form, status, preview: _split(visit, card, form, status, preview=preview),
        lambda command, share: _split_preview(visit, card, command, share),
        "was_split",
    )


def _new_stack(visit: Visit, form: Form, stack_id: int, told: Told) -> dict[str, Any]:
    """What is told of a stack that is made of wood of another."""
    return {
        **visit.told(form),
        "stack_id": stack_id,
        "share": told.share,
        "ranked_m3": told.ranked_m3,
        "name": form.text("stack_name", needed=True),
        "kind": form.choice("kind", KINDS),
        "row_label": form.text("row"),
        "must_be_new": not sent_by_outbox(visit.request),
    }


def _made_of(
    visit: Visit,
    sent: FormData,
    card: StackCard,
    make: Callable[[Form, Told], AnyCommand],
    do: Callable[[Desk, AnyCommand], Answer],
    show: Callable[[Form, int, Preview | None], Response],
    look: Callable[[AnyCommand, float], Preview],
    done: str,
    *,
    most: float = 1.0,
) -> Response:
    """A stack is made of wood of another one, at most of that share of it: the new one's page, or this form again."""
    form, wood = visit.sent(sent), wood_of_stack(card)
    try:
        told = read_amount(form, wood, WHOLE if most == 1.0 else PART)
        command = make(form, told)
        form.check()
        if form.value("look"):
            return show(form, 200, look(command, as_it_stands(form, told, wood, most=most)))
        ask_if_more(visit, form, told, wood, most=most)
        with form.asking(**SHARES, name="stack_name", form="piece_form", start_mc_wet="start_moisture"):
            answer = do(visit.desk, command)
    except FormProblem:
        return show(form, 422, None)
    visit.nudge()
    # What does not fit is shown on the page of the stack that the wood came from.
    shown = card.id if answer["clashes"] else answer["stack_id"]
    return visit.go(f"/stacks/{shown}", said_of(done, answer["clashes"]))


def _divide_preview(visit: Visit, card: StackCard, name: str, share: float) -> Preview:
    voice = visit.voice
    return preview_of(
        visit,
        [
            (
                T_("From {name} to {onto}", name=card.name, onto=name),
                stacked(voice, wood_of_stack(card), share),
            ),
            (T_("Then in {name}", name=card.name), voice.volume(card.ranked_m3 * (1 - share), both=False)),
        ],
        promise_notes(card, share),
    )


def _divide(
    visit: Visit, card: StackCard, form: Form, status: int = 200, *, preview: Preview | None = None
) -> Response:
    shares = share_options(visit.voice, wood_of_stack(card), PART)
    return visit.page("wood_divide.html", status, card=card, form=form, preview=preview, shares=shares)


def _split_preview(visit: Visit, card: StackCard, command: SplitStack, share: float) -> Preview:
    voice = visit.voice
    made = stacked(voice, wood_when_split(card, command.form, command.splinter_share), share)
    notes = [T_("Stack {name} is closed then.", name=card.name)] if share == 1.0 else []
    if share == 1.0 and card.promised_m3 > LEAST_M3:
        notes.append(T_("What is promised from it is promised from {onto} then.", onto=command.name))
    return preview_of(
        visit,
        [
            (T_("Goes from {name}", name=card.name), stacked(voice, wood_of_stack(card), share)),
            (T_("Stands in {name}", name=command.name), made),
        ],
        notes if share == 1.0 else promise_notes(card, share),
    )


def _split(
    visit: Visit, card: StackCard, form: Form, status: int = 200, *, preview: Preview | None = None
) -> Response:
    voice = visit.voice
    band = outlook(visit.desk, card.id).moisture_on(visit.today)
    return visit.page(
        "wood_split.html",
        status,
        card=card,
        form=form,
        forms=[(name, voice.text(NAMES["form"][name])) for name in FINER[card.form]],
        now=None if band is None else voice.moisture_short(band[1]),
        preview=preview,
        shares=share_options(voice, wood_of_stack(card), WHOLE),
        cautions=[voice.text(text) for text in (*CAUTIONS_SPLITTER, *CAUTIONS_WEDGE, *CAUTIONS_ALL)],
    )
