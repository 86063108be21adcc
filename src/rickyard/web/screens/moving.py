"""Wood that goes its way without being sold: onto another stack, apart, back, gone, back from a buyer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from fastapi import APIRouter
from starlette.datastructures import FormData
from starlette.responses import Response

from rickyard.desk.context import Answer, Command, Desk, was_done
from rickyard.desk.loads import load_page
from rickyard.desk.moving import (
    LEFT_FOR,
    PutOnto,
    RejectLoad,
    ReturnWood,
    TakeAway,
    put_onto,
    reject_load,
    return_wood,
    take_away,
)
from rickyard.desk.moving_views import (
    STOVE_LENGTH_M,
    Wood,
    promise_notes,
    put_onto_notes,
    returns,
    wood_of_load,
    wood_of_stack,
    wood_of_ticket,
)
from rickyard.desk.paging import is_number
from rickyard.desk.stacks import StackCard, stack_card, stack_named, stacks, standing_names
from rickyard.desk.tickets import TicketCard, ticket, ticket_if_numbered, ticket_numbered
from rickyard.desk.yard_factor import yard_factor
from rickyard.errors import RickyardError
from rickyard.measure import Spread
from rickyard.rules import movement_note
from rickyard.text import T_, Text
from rickyard.web.forms import Form, FormProblem
from rickyard.web.moving_forms import WHOLE, Told, read_amount, share_options, stacked
from rickyard.web.offline import works_offline
from rickyard.web.visit import Here, Sent, Visit, sent_by_outbox

router = APIRouter(include_in_schema=False)

AnyCommand = TypeVar("AnyCommand", bound=Command)
SHARES = {"share": "other_amount", "ranked_m3": "other_amount"}
# Before the ticket's number is typed, nobody knows how much all of it is.
NO_WOOD = Wood(Spread.exactly(0.0), "split", STOVE_LENGTH_M)


@dataclass(frozen=True)
class Preview:
    """What a form would do, in words: (what, how much) and what follows from it."""

    facts: tuple[tuple[str, str], ...]
    notes: tuple[str, ...] = ()


@router.get("/stacks/{stack_id:int}/onto")
@works_offline(each="stack", queues=T_("wood put on another stack"))
def onto_page(visit: Here, stack_id: int, to: int = 0) -> Response:
    """`to`: the stack or bin that is to be filled, if it was said before."""
    card = stack_card(visit.desk, stack_id)
    onto = stack_card(visit.desk, to).name if to else ""
    return _onto(visit, card, visit.form(share_of="1", onto=onto))


@router.post("/stacks/{stack_id:int}/onto")
def onto_it(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    card = stack_card(visit.desk, stack_id)
    try:
        told = read_amount(form, wood_of_stack(card), WHOLE)
        onto_id = _stack_named(visit, form)
        form.check()
        if form.value("look"):
            share = as_it_stands(form, told, wood_of_stack(card))
            return _onto(visit, card, form, preview=_onto_preview(visit, card, onto_id, share))
        command = PutOnto(
            **visit.told(form),
            sources=((stack_id, told.share),),
            stack_id=onto_id,
            reason=form.text("reason"),
            ranked_m3=told.ranked_m3,
        )
        form.check()
        ask_if_more(visit, form, told, wood_of_stack(card))
        with form.asking(**SHARES, sources="onto", stack="onto"):
            answer = put_onto(visit.desk, command)
    except FormProblem:
        return _onto(visit, card, form, 422)
    visit.nudge()
    return visit.go(f"/stacks/{onto_id}", said_of("put_onto", answer["clashes"]))


@router.get("/stacks/{stack_id:int}/fill")
def fill_page(visit: Here, stack_id: int) -> Response:
    """Which stack the wood comes from; its own page does the rest."""
    card = stack_card(visit.desk, stack_id)
    others = [other for other in stacks(visit.desk) if other.id != stack_id and other.ranked_m3 > 0]
    return visit.page("wood_fill.html", card=card, others=others)


@router.get("/stacks/{stack_id:int}/gone")
@works_offline(each="stack", queues=T_("wood of a stack that is gone"))
def gone_page(visit: Here, stack_id: int) -> Response:
    return _gone(visit, stack_card(visit.desk, stack_id), visit.form())


@router.post("/stacks/{stack_id:int}/gone")
def gone(visit: Here, stack_id: int, sent: Sent) -> Response:
    card = stack_card(visit.desk, stack_id)
    answer = _goes(
        visit,
        sent,
        wood_of_stack(card),
        lambda form, told: _take_away(visit, form, told, stack_id=stack_id),
        take_away,
        lambda form, status, preview: _gone(visit, card, form, status, preview=preview),
        lambda share: promise_notes(card, share),
    )
    if isinstance(answer, Response):
        return answer
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", said_of("gone", answer["clashes"]))


@router.get("/wood-in/{load_id:int}/gone")
@works_offline(each="load", queues=T_("wood of a load that is gone"))
def load_gone_page(visit: Here, load_id: int) -> Response:
    return _load(visit, load_id, "gone", visit.form())


@router.post("/wood-in/{load_id:int}/gone")
def load_gone(visit: Here, load_id: int, sent: Sent) -> Response:
    answer = _goes(
        visit,
        sent,
        _load_wood(visit, load_id),
        lambda form, told: _take_away(visit, form, told, load_id=load_id),
        take_away,
        lambda form, status, preview: _load(visit, load_id, "gone", form, status, preview=preview),
    )
    if isinstance(answer, Response):
        return answer
    return visit.go(f"/wood-in/{load_id}", said_of("gone", answer["clashes"]))


@router.get("/wood-in/{load_id:int}/back")
@works_offline(each="load", queues=T_("a load sent back"))
def back_page(visit: Here, load_id: int) -> Response:
    return _load(visit, load_id, "back", visit.form(share_of="1"))


@router.post("/wood-in/{load_id:int}/back")
def send_back(visit: Here, load_id: int, sent: Sent) -> Response:
    answer = _goes(
        visit,
        sent,
        _load_wood(visit, load_id),
        lambda form, told: _reject(visit, form, told, load_id),
        reject_load,
        lambda form, status, preview: _load(visit, load_id, "back", form, status, preview=preview),
    )
    if isinstance(answer, Response):
        return answer
    return visit.go(f"/wood-in/{load_id}", said_of("sent_back", answer["clashes"]))


@router.get("/stacks/{stack_id:int}/came-back")
@works_offline(each="stack", queues=T_("wood that a buyer gave back"))
def came_back_page(visit: Here, stack_id: int, ticket_number: str = "", share_of: str = "") -> Response:
    """The stack is known, the ticket is typed from its paper; once it is, the page asks again for how much that is."""
    typed = visit.form(ticket_number=ticket_number[:12], share_of=share_of)
    return _came_back_here(visit, stack_card(visit.desk, stack_id), typed)


@router.post("/stacks/{stack_id:int}/came-back")
def came_back(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    card = stack_card(visit.desk, stack_id)
    try:
        number = form.count("ticket_number", low=1, high=2**31 - 1)
        form.check()
        with form.asking(ticket="ticket_number"):
            paper = ticket_numbered(visit.desk, number)
        answer = _return(visit, form, paper, stack_id)
        if isinstance(answer, Preview):
            return _came_back_here(visit, card, form, preview=answer)
    except FormProblem:
        return _came_back_here(visit, card, form, 422)
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", said_of("came_back", answer))


@router.get("/tickets/{ticket_id:int}/came-back")
def ticket_back_page(visit: Here, ticket_id: int) -> Response:
    return _came_back_of(visit, ticket(visit.desk, ticket_id), visit.form())


@router.post("/tickets/{ticket_id:int}/came-back")
def ticket_back(visit: Here, ticket_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    paper = ticket(visit.desk, ticket_id)
    try:
        stack_id = _stack_named(visit, form)
        form.check()
        answer = _return(visit, form, paper, stack_id)
        if isinstance(answer, Preview):
            return _came_back_of(visit, paper, form, preview=answer)
    except FormProblem:
        return _came_back_of(visit, paper, form, 422)
    visit.nudge()
    # What does not fit is shown on the page of the stack.
    path = f"/stacks/{stack_id}" if answer else f"/tickets/{ticket_id}"
    return visit.go(path, said_of("came_back", answer))


def said_of(word: str, clashes: Sequence[int]) -> str:
    return f"{word}_clash" if clashes else word


def _stack_named(visit: Visit, form: Form) -> int:
    """The stack whose name was typed; a complaint if there is none, and 0."""
    name = form.text("onto", needed=True)
    if not name:
        return 0
    try:
        return stack_named(visit.desk, name, "onto")
    except RickyardError as error:
        form.complain(error)
        return 0


def as_it_stands(form: Form, told: Told, wood: Wood, *, most: float = 1.0) -> float:
    with form.asking(**SHARES):
        return told.of(wood, most=most)


def ask_if_more(visit: Visit, form: Form, told: Told, wood: Wood, *, most: float = 1.0) -> None:
    """Whoever stands before the form is asked about an amount beyond what the book holds.

    What waited in an outbox is taken, with a clash; and so is a form that was done before and comes again.
    """
    if not sent_by_outbox(visit.request) and not was_done(visit.desk, form.key):
        as_it_stands(form, told, wood, most=most)


def _goes(
    visit: Visit,
    sent: FormData,
    wood: Wood,
    make: Callable[[Form, Told], AnyCommand],
    do: Callable[[Desk, AnyCommand], Answer],
    show: Callable[[Form, int, Preview | None], Response],
    notes: Callable[[float], Sequence[Text]] = lambda _share: (),
) -> Answer | Response:
    """Some wood, or all of it, goes as the form tells: the deed's answer; or the page, if it was only to be looked at
    or something is to be put right."""
    form = visit.sent(sent)
    try:
        told = read_amount(form, wood, WHOLE)
        command = make(form, told)
        form.check()
        if form.value("look"):
            share = as_it_stands(form, told, wood)
            return show(form, 200, _part_preview(visit, wood, share, notes(share)))
        ask_if_more(visit, form, told, wood)
        with form.asking(**SHARES):
            return do(visit.desk, command)
    except FormProblem:
        return show(form, 422, None)


def _reject(visit: Visit, form: Form, told: Told, load_id: int) -> RejectLoad:
    return RejectLoad(
        **visit.told(form),
        load_id=load_id,
        share=told.share,
        reason=form.text("reason", needed=True),
        ranked_m3=told.ranked_m3,
    )


def _take_away(
    visit: Visit, form: Form, told: Told, *, stack_id: int | None = None, load_id: int | None = None
) -> TakeAway:
    return TakeAway(
        **visit.told(form),
        stack_id=stack_id,
        load_id=load_id,
        left_for=form.choice("left_for", LEFT_FOR),
        share=told.share,
        ranked_m3=told.ranked_m3,
        reason=form.text("reason", needed=True),
    )


def _return(visit: Visit, form: Form, paper: TicketCard, stack_id: int) -> Preview | list[int]:
    """Takes wood of a ticket back onto a stack and gives the ids of clashes; or only says what that would be."""
    wood = wood_of_ticket(paper)
    told = read_amount(form, wood, WHOLE)
    reason = form.text("reason", needed=True)
    command = ReturnWood(
        **visit.told(form),
        ticket_id=paper.id,
        share=told.share,
        stack_id=stack_id,
        reason=reason,
        ranked_m3=told.ranked_m3,
    )
    form.check()
    if form.value("look"):
        return _return_preview(visit, paper, stack_id, as_it_stands(form, told, wood))
    ask_if_more(visit, form, told, wood)
    with form.asking(**SHARES, stack="onto"):
        return list(return_wood(visit.desk, command)["clashes"])


# -- what it would do ---------------------------------------------------------------------------


def _onto_preview(visit: Visit, card: StackCard, onto_id: int, share: float) -> Preview:
    onto = stack_card(visit.desk, onto_id)
    voice, wood = visit.voice, wood_of_stack(card)
    there = voice.volume(onto.ranked_m3 + wood.ranked_m3.mid * share, both=False)
    return preview_of(
        visit,
        [
            (T_("From {name} to {onto}", name=card.name, onto=onto.name), stacked(voice, wood, share)),
            (T_("Then in {name}", name=card.name), voice.volume(card.ranked_m3 * (1 - share), both=False)),
            (T_("Then in {name}", name=onto.name), there),
        ],
        put_onto_notes(card, onto, share),
    )


def _part_preview(visit: Visit, wood: Wood, share: float, notes: Sequence[Text]) -> Preview:
    return preview_of(
        visit,
        [
            (T_("Goes"), stacked(visit.voice, wood, share)),
            (T_("Stays"), stacked(visit.voice, wood, 1 - share)),
        ],
        notes,
    )


def _return_preview(visit: Visit, paper: TicketCard, stack_id: int, share: float) -> Preview:
    onto, voice = stack_card(visit.desk, stack_id), visit.voice
    before = sum(line.share for line in returns(visit.desk, ticket_id=paper.id))
    facts = [
        (
            T_("Of ticket {number} onto {onto}", number=paper.number, onto=onto.name),
            stacked(voice, wood_of_ticket(paper), share),
        )
    ]
    if before:
        facts.append((T_("Came back of it before"), voice.volume(paper.outside_m3 * before, both=False)))
    notes = [T_("The ticket stays as it was handed out, and so does the money.")]
    if before + share > 1.001:
        notes.append(
            T_("That is more than the ticket says. Look whether the same return was entered before.")
        )
    return preview_of(visit, facts, notes)


def preview_of(visit: Visit, facts: Sequence[tuple[Text, str]], notes: Sequence[Text]) -> Preview:
    voice = visit.voice
    return Preview(
        tuple((voice.text(what), amount) for what, amount in facts),
        tuple(voice.text(note) for note in notes),
    )


# -- the pages ----------------------------------------------------------------------------------


def _onto(
    visit: Visit, card: StackCard, form: Form, status: int = 200, *, preview: Preview | None = None
) -> Response:
    wood = wood_of_stack(card)
    return visit.page(
        "wood_onto.html",
        status,
        card=card,
        form=form,
        preview=preview,
        shares=share_options(visit.voice, wood, WHOLE),
        stack_names=[(name, kind) for number, name, kind in standing_names(visit.desk) if number != card.id],
    )


def _gone(
    visit: Visit, card: StackCard, form: Form, status: int = 200, *, preview: Preview | None = None
) -> Response:
    shares = share_options(visit.voice, wood_of_stack(card), WHOLE)
    return visit.page(
        "wood_gone.html",
        status,
        card=card,
        load=None,
        way="gone",
        action=f"/stacks/{card.id}/gone",
        form=form,
        preview=preview,
        shares=shares,
    )


def _load_wood(visit: Visit, load_id: int) -> Wood:
    return wood_of_load(load_page(visit.desk, load_id, factor=yard_factor(visit.desk)))


def _load(
    visit: Visit, load_id: int, way: str, form: Form, status: int = 200, *, preview: Preview | None = None
) -> Response:
    """`way`: gone, or back to who brought it."""
    page = load_page(visit.desk, load_id, factor=yard_factor(visit.desk))
    return visit.page(
        "wood_gone.html",
        status,
        card=None,
        load=page.row,
        way=way,
        action=f"/wood-in/{load_id}/{way}",
        form=form,
        preview=preview,
        shares=share_options(visit.voice, wood_of_load(page), WHOLE),
        movement=movement_note(),
    )


def _came_back_here(
    visit: Visit, card: StackCard, form: Form, status: int = 200, *, preview: Preview | None = None
) -> Response:
    typed = form.value("ticket_number").strip()
    known = ticket_if_numbered(visit.desk, int(typed)) if is_number(typed) else None
    return visit.page(
        "wood_came_back.html",
        status,
        card=card,
        paper=None,
        of_ticket=known is not None,
        action=f"/stacks/{card.id}/came-back",
        form=form,
        preview=preview,
        shares=share_options(visit.voice, wood_of_ticket(known) if known else NO_WOOD, WHOLE),
        stack_names=[],
        back=[],
    )


def _came_back_of(
    visit: Visit, paper: TicketCard, form: Form, status: int = 200, *, preview: Preview | None = None
) -> Response:
    return visit.page(
        "wood_came_back.html",
        status,
        card=None,
        paper=paper,
        of_ticket=True,
        action=f"/tickets/{paper.id}/came-back",
        form=form,
        preview=preview,
        shares=share_options(visit.voice, wood_of_ticket(paper), WHOLE),
        stack_names=[(name, kind) for _, name, kind in standing_names(visit.desk)],
        back=returns(visit.desk, ticket_id=paper.id),
    )
