"""Stacks: the list, the plan, one stack with its fan, and what is done to a stack that stands."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.closing import EmptyStack, ReopenStack, empty_stack, reopen_stack
from rickyard.desk.editing import state_of
from rickyard.desk.forecasts import StackOutlook, outlook, outlooks
from rickyard.desk.paging import A_PAGE, MOST_SEARCH, one_page
from rickyard.desk.photos import photos_of_stack
from rickyard.desk.readings import ReadingLine, readings
from rickyard.desk.stacking import MeasureStack, MoveStack, measure_stack, move_stack, standing_of
from rickyard.desk.stacks import StackCard, stack_card, stack_page, stacks
from rickyard.desk.witness import witness_page
from rickyard.show import Voice
from rickyard.text import T_
from rickyard.web import charts
from rickyard.web.forms import Form, FormProblem
from rickyard.web.names import REASONS
from rickyard.web.offline import works_offline
from rickyard.web.screens.answers import stack_extras
from rickyard.web.screens.stacking import COVERS, EXPOSURES, GROUNDS, dimensions
from rickyard.web.screens.witness import piece_mass
from rickyard.web.visit import Here, Last, Sent, Visit, data, harvest_words

router = APIRouter(include_in_schema=False)

ORDERS = ("ready", "soon", "drying", "wet", "unknown")


@router.get("/stacks")
@works_offline()
def stacks_page(
    visit: Here, show: str = "list", state: str = "", search: str = "", after: Last = 0
) -> Response:
    """The driest first. Their order hangs on the forecasts, so it is made here, not in the database."""
    search = search[:MOST_SEARCH]
    cards = stacks(visit.desk, search=search if show != "plan" else "")
    looks = outlooks(visit.desk)
    states = {card.id: charts.readiness(looks.get(card.id), visit.today) for card in cards}
    cards.sort(key=lambda card: (ORDERS.index(states[card.id]), _likely(looks.get(card.id)), card.name))
    if show == "plan":
        return visit.page(
            "plan.html", plan=charts.plan(cards, looks, visit.today, metric=visit.voice.metric), cards=cards
        )
    counts = [(name, sum(found == name for found in states.values())) for name in ORDERS]
    counts = [(name, count) for name, count in counts if count]
    if state in ORDERS:
        cards = [card for card in cards if states[card.id] == state]
    count, searchable = len(cards), bool(search) or len(cards) > A_PAGE
    # Where the stack is gone meanwhile, the list begins anew.
    begin = next((place + 1 for place, card in enumerate(cards) if card.id == after), 0)
    cards, more = one_page(cards[begin : begin + A_PAGE + 1])
    sparks = {
        card.id: charts.spark(looks[card.id], visit.today)
        for card in cards
        if card.id in looks and looks[card.id].known
    }
    return visit.page(
        "stacks.html",
        cards=cards,
        looks=looks,
        states=states,
        sparks=sparks,
        counts=counts,
        state=state,
        count=count,
        search=search,
        searchable=searchable,
        last=cards[-1].id if more else 0,
    )


@router.get("/stacks/{stack_id:int}")
@works_offline(each="stack")
def one_stack(visit: Here, stack_id: int) -> Response:
    return _stack(visit, stack_id, visit.form())


def _stack(visit: Visit, stack_id: int, form: Form, status: int = 200) -> Response:
    page = stack_page(visit.desk, stack_id)
    look = outlook(visit.desk, stack_id)
    lines = readings(visit.desk, stack_id)
    voice = visit.voice
    fan = None
    if look.known:
        fan = charts.fan(
            look,
            visit.today,
            lines,
            level=lambda mc_wet: voice.percent(mc_wet),
            month=lambda day: month_word(voice, day),
        )
    return visit.page(
        "stack.html",
        status,
        form=form,
        photos=photos_of_stack(visit.desk, stack_id),
        page=page,
        card=page.card,
        look=look,
        state=charts.readiness(look, visit.today),
        fan=fan,
        months=charts.months_table(look, visit.today) if look.known else [],
        lines=lines,
        witness=witness_page(visit.desk, stack_id),
        piece_mass=lambda kg: piece_mass(voice, kg),
        dry_words=dry_words(voice, look, visit.today) if look.known else "",
        reading_words=lambda line: reading_words(voice, line),
        reason_words=lambda reason: voice.text(REASONS[reason]) if reason in REASONS else data(reason),
        harvests=[(harvest_words(voice, harvest), share) for harvest, share in page.harvests],
        **stack_extras(visit, page.card, look),
    )


@router.get("/stacks/{stack_id:int}/measure")
@works_offline(each="stack", queues=T_("a stack measured"))
def measure_page(visit: Here, stack_id: int) -> Response:
    card = stack_page(visit.desk, stack_id).card
    return _measure(visit, card, visit.form(measured_on=visit.today, rows=card.rows))


@router.post("/stacks/{stack_id:int}/measure")
def measure(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        outside = dimensions(form)
        day = form.day("measured_on", visit.today)
        form.check()
        command = MeasureStack(**visit.told(form), stack_id=stack_id, outside=outside, measured_on=day)
        form.check()
        with form.asking():
            answer = measure_stack(visit.desk, command)
    except FormProblem:
        return _measure(visit, stack_page(visit.desk, stack_id).card, form, 422)
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", "measured_clash" if answer["clashes"] else "measured")


@router.get("/stacks/{stack_id:int}/move")
def move_page(visit: Here, stack_id: int) -> Response:
    card = stack_card(visit.desk, stack_id)
    return visit.page("stack_move.html", form=_move_form(visit, card), card=card)


def _move_form(visit: Visit, card: StackCard) -> Form:
    voice = visit.voice
    size = 1.0 if voice.metric else 0.3048
    return visit.form(
        row=card.row_label,
        x=None if card.x_m is None else voice.decimal(card.x_m / size, 1, strip=True),
        y=None if card.y_m is None else voice.decimal(card.y_m / size, 1, strip=True),
        cover=card.cover,
        exposure=card.exposure,
        ground=card.ground,
        seen=state_of(standing_of(card)),
    )


@router.post("/stacks/{stack_id:int}/move")
def move(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = MoveStack(
            **visit.told(form),
            stack_id=stack_id,
            row_label=form.text("row"),
            x_m=form.length_or_none("x", low=0.0, high=2000.0),
            y_m=form.length_or_none("y", low=0.0, high=2000.0),
            cover=form.choice("cover", COVERS),
            exposure=form.choice("exposure", EXPOSURES),
            ground=form.choice("ground", GROUNDS) if form.value("ground") else None,
            seen=form.value("seen"),
        )
        form.check()
        with form.asking():
            move_stack(visit.desk, command)
    except FormProblem:
        card = stack_card(visit.desk, stack_id)
        if form.is_clash:
            form.compare(_move_form(visit, card))
        return visit.page("stack_move.html", 422, form=form, card=card)
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", "moved")


@router.get("/stacks/{stack_id:int}/empty")
def empty_page(visit: Here, stack_id: int) -> Response:
    return visit.page("stack_empty.html", form=visit.form(), card=stack_page(visit.desk, stack_id).card)


@router.post("/stacks/{stack_id:int}/empty")
def empty(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = EmptyStack(key=form.key, stack_id=stack_id, reason=form.text("reason", needed=True))
        form.check()
        with form.asking():
            empty_stack(visit.desk, command)
    except FormProblem:
        return visit.page("stack_empty.html", 422, form=form, card=stack_page(visit.desk, stack_id).card)
    return visit.go("/stacks", "emptied")


@router.post("/stacks/{stack_id:int}/reopen")
def reopen(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = ReopenStack(**visit.told(form), stack_id=stack_id, reason=form.text("reason", needed=True))
        form.check()
        with form.asking():
            reopen_stack(visit.desk, command)
    except FormProblem:
        return _stack(visit, stack_id, form, 422)
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", "reopened")


def month_word(voice: Voice, day: date) -> str:
    """A month in three or four letters; January with its year."""
    short = voice.short_month(day)
    return f"{short} {day.year}" if day.month == 1 else short


def dry_words(voice: Voice, look: StackOutlook, today: date) -> str:
    """When the stack is dry enough: a day with its range, or that it is so, or beyond the forecast."""
    if look.ready_p50 is None:
        return voice.text(T_("later than {day}, as far as this forecast looks", day=look.dates[-1]))
    if look.ready_p90 is not None and look.ready_p90 <= today:
        return voice.text(T_("since {day}", day=look.ready_p50))
    if look.ready_p10 is None or look.ready_p90 is None:
        return voice.text(T_("about {day}, perhaps much later", day=look.ready_p50))
    return voice.text(
        T_(
            "about {day}, between {first} and {last}",
            day=look.ready_p50,
            first=look.ready_p10,
            last=look.ready_p90,
        )
    )


def reading_words(voice: Voice, line: ReadingLine) -> str:
    """What was read, and what it means in this wood."""
    if line.kind == "oven":
        return voice.moisture(line.value, 1)
    if line.kind == "weighed" and line.pieces == 0:
        return voice.text(T_("no piece that counts"))
    if line.kind == "weighed" and line.weights:
        return voice.text(T_("{share} of the weight when marked", share=voice.percent(line.value, 1)))
    if line.kind == "weighed":
        return voice.text(T_("{share} of the weight when stacked", share=voice.percent(line.value, 1)))
    shown = voice.text(T_("{percent} shown", percent=voice.decimal(line.value, 1, strip=True) + " %"))
    if line.corrected is None:
        return shown
    moisture = voice.moisture(line.corrected.mc_wet)
    if line.corrected.beyond == "above":
        return voice.text(T_("{shown}; in this wood more than {moisture}", shown=shown, moisture=moisture))
    if line.corrected.beyond == "below":
        return voice.text(T_("{shown}; in this wood less than {moisture}", shown=shown, moisture=moisture))
    return voice.text(T_("{shown}; in this wood {moisture}", shown=shown, moisture=moisture))


def _likely(look: StackOutlook | None) -> date:
    return (look.ready_p50 if look is not None else None) or date.max


def _measure(visit: Visit, card: StackCard, form: Form, status: int = 200) -> Response:
    return visit.page("stack_measure.html", status, form=form, card=card)
