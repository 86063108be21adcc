"""Cut sheets: made for a load, taken to the saw on the phone, ticked off log by log, and printed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, Literal

from fastapi import APIRouter
from starlette.responses import RedirectResponse, Response

from rickyard.cut import (
    CAUTIONS_ALL,
    CAUTIONS_SAW,
    LOG_EXAMPLE,
    CutPlan,
    Defect,
    letter,
    log_svg,
    read_logs,
)
from rickyard.desk.cut_sheets import (
    CutLogLine,
    CutSheetPage,
    FoundLine,
    WareChoice,
    count_cut_sheets,
    cut_sheet,
    cut_sheets,
    logs_to_cut,
    ware_choices,
)
from rickyard.desk.cutting import (
    AROUND_M,
    MOST_LOGS,
    FoundInLog,
    MakeCutSheet,
    PlanCutSheet,
    SheetLog,
    TickOff,
    cut_question,
    found_in_log,
    make_cut_sheet,
    plan_cut_sheet,
    tick_off,
)
from rickyard.desk.loads import load_page, loads
from rickyard.desk.offer_views import months_of, months_question
from rickyard.desk.paging import one_page
from rickyard.desk.sheet_values import SheetWorth, loss_share
from rickyard.desk.sheet_wares import SheetWare
from rickyard.desk.split_sheets import count_splitting_sheets, splitting_sheets
from rickyard.desk.stacking import CHAIN_KERF_M
from rickyard.errors import InputError
from rickyard.jobs import Answer
from rickyard.measure import CORD_M3, Spread
from rickyard.measure.loglist import LogListError
from rickyard.paper import CutSheetData, mark_boxes, render_cut_sheet
from rickyard.show import Voice
from rickyard.show.tape import length_words, piece_length, tape_mark, tape_unit
from rickyard.text import T_, Text
from rickyard.web.forms import Complaint, Form, FormProblem
from rickyard.web.labels import LABELS
from rickyard.web.names import NAMES
from rickyard.web.offline import works_offline
from rickyard.web.screens.answers import answers_of, put_when_ready
from rickyard.web.sheets import thickness_m
from rickyard.web.visit import Here, Last, Sent, Visit
from rickyard.worth import Months

router = APIRouter(include_in_schema=False)

_RANGE = re.compile(r"^(\d{1,6})(?:\s*[-–]\s*(\d{1,6}))?$")
# The desk's words, as our fields.
NAMES_HERE = {
    "logs": "log_choice",
    "piece_length": "other_length",
    "value_per_solid_m3": "value",
    "wanted_solid_m3": "wanted",
    "ware": "wares",
    "log_id": "log_list",
    "defects": "log_list",
    "d_large": "log_list",
    "d_small": "log_list",
}


# Three lists one below the other, and of each sheet every log and tick is counted.
OF_EACH = 12


@router.get("/cutting")
@works_offline()
def all_sheets(visit: Here, before: Last = 0, split_before: Last = 0, load_before: Last = 0) -> Response:
    """Cut sheets and splitting sheets, newest first, and loads with wood to cut; each goes on by itself."""
    some, desk = OF_EACH + 1, visit.desk
    sheets, more_sheets = one_page(cut_sheets(desk, before=before or None, limit=some), OF_EACH)
    splits, more_splits = one_page(splitting_sheets(desk, before=split_before or None, limit=some), OF_EACH)
    lying, more_loads = one_page(
        loads(desk, with_wood_only=True, before=load_before or None, limit=some), OF_EACH
    )
    return visit.page(
        "cutting_list.html",
        sheets=sheets,
        sheet_count=count_cut_sheets(desk),
        splits=splits,
        split_count=count_splitting_sheets(desk),
        loads=lying,
        last={
            "before": sheets[-1].id if more_sheets else 0,
            "split_before": splits[-1].id if more_splits else 0,
            "load_before": lying[-1].id if more_loads else 0,
        },
    )


@router.get("/cutting/new")
def new_sheet(visit: Here, load: int = 0, fill: str = "") -> Response:
    if not load:
        return RedirectResponse("/cutting", 303)
    choices = ware_choices(visit.desk, load)
    return _new_page(visit, load, choices, _fresh(visit, choices, fill == "orders"))


@router.post("/cutting/new")
def make_it(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    load = form.number_id("load")
    if not load:
        return RedirectResponse("/cutting", 303)
    choices = ware_choices(visit.desk, load)
    try:
        command = _command(form, load, choices)
        with form.asking(**NAMES_HERE):
            answer = make_cut_sheet(visit.desk, command, _months(visit, load))
    except FormProblem:
        return _new_page(visit, load, choices, form, 422)
    mixed = bool(command.logs) and bool(read_logs(form.value("log_list")).notes)
    return visit.go(f"/cutting/{answer['sheet_id']}", "cut_sheet_mixed" if mixed else "cut_sheet_made")


@router.get("/cutting/{sheet_id:int}")
@works_offline(each="cut_sheet", queues=T_("logs ticked off, what was found in a log"))
def one_sheet(visit: Here, sheet_id: int) -> Response:
    return _page(visit, sheet_id)


@router.post("/cutting/{sheet_id:int}/plan")
def put_plan_in(visit: Here, sheet_id: int, sent: Sent) -> Response:
    """The plan of many logs."""
    command = PlanCutSheet(key=f"cut-plan-{sheet_id}", sheet_id=sheet_id)
    return put_when_ready(
        visit,
        cut_question(visit.desk, sheet_id),
        lambda answer: _page(visit, sheet_id, answer),
        lambda plan: plan_cut_sheet(visit.desk, command, plan),
        f"/cutting/{sheet_id}",
    )


@router.post("/cutting/{sheet_id:int}/log/{log:int}/tick")
def tick(
    visit: Here, sheet_id: int, log: int, sent: Sent, from_m: float | None = None, to_m: float | None = None
) -> Response:
    return _tick(visit, sheet_id, log, sent, (from_m, to_m), undo=False)


@router.post("/cutting/{sheet_id:int}/log/{log:int}/undo")
def undo(
    visit: Here, sheet_id: int, log: int, sent: Sent, from_m: float | None = None, to_m: float | None = None
) -> Response:
    return _tick(visit, sheet_id, log, sent, (from_m, to_m), undo=True)


@router.post("/cutting/{sheet_id:int}/log/{log:int}/found")
def found(visit: Here, sheet_id: int, log: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        kind = form.choice("found", tuple(NAMES["found"]))
        start = form.length("found_from", low=0.0, high=30.0, small=True)
        end = form.length_or_none("found_to", low=0.0, high=30.0, small=True)
        cut_to = form.length_or_none("cut_to", low=0.0, high=30.0, small=True)
        command = FoundInLog(
            **visit.told(form),
            sheet_id=sheet_id,
            log=log,
            kind=kind,
            from_m=start,
            to_m=end,
            cut_to_m=cut_to or 0.0,
            note=form.text("note"),
        )
        form.check()
        with form.asking():
            answer = found_in_log(visit.desk, command)
    except FormProblem:
        return _page(visit, sheet_id, form=form, wrong=log, status=422)
    return visit.go(f"/cutting/{sheet_id}#log-{log}", "found_planned" if answer["changed"] else "found_same")


@router.get("/cutting/{sheet_id:int}/sheet.pdf")
def printed(visit: Here, sheet_id: int, paper: str = "") -> Response:
    """The whole sheet on paper; back to the page while the plan is reckoned."""
    page = cut_sheet(visit.desk, sheet_id)
    if page.plan is None:
        return RedirectResponse(f"/cutting/{sheet_id}", 303)
    voice = visit.voice
    sheet: Literal["a4", "letter"] = "a4" if paper == "a4" else "letter"
    body = render_cut_sheet(
        CutSheetData(
            plan=page.plan,
            made_at=visit.desk.now(),
            title=voice.text(
                T_("Cut sheet {number}, load {load}", number=page.card.number, load=page.card.load_number)
            ),
            notes=page.notes,
            locale=voice.locale,
            units=voice.units,
            page=sheet,
        )
    )
    return Response(
        body,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="cut-sheet-{page.card.number}.pdf"'},
    )


# -- reading the forms --------------------------------------------------------------------------------


def _tick(
    visit: Visit,
    sheet_id: int,
    log: int,
    sent: Sent,
    place: tuple[float | None, float | None],
    *,
    undo: bool,
) -> Response:
    form = visit.sent(sent)
    told = visit.told(form)
    try:
        form.check()
        with form.asking():
            answer = tick_off(
                visit.desk,
                TickOff(**told, sheet_id=sheet_id, log=log, from_m=place[0], to_m=place[1], undo=undo),
            )
    except FormProblem:
        return _page(visit, sheet_id, form=form, wrong=log, status=422)
    after = log
    if answer["done"]:
        lines = cut_sheet(visit.desk, sheet_id).lines
        after = next((line.number for line in [*lines[log:], *lines[:log]] if not line.done), log)
    return visit.go(f"/cutting/{sheet_id}#log-{after}", "unticked" if undo else "ticked")


def _fresh(visit: Visit, choices: Sequence[WareChoice], from_orders: bool) -> Form:
    voice = visit.voice
    presets: dict[str, object] = {
        "wares": [str(choice.ware.id) for choice in choices if choice.fits]
        or [str(choice.ware.id) for choice in choices[:1]],
        "kerf": voice.decimal(CHAIN_KERF_M / (0.01 if voice.metric else 0.0254), 2, strip=True),
    }
    if from_orders:
        asked = [choice for choice in choices if choice.asked_m3 > 0.0]
        presets["wares"] = [str(choice.ware.id) for choice in asked] or presets["wares"]
        for choice in asked:
            amount = choice.asked_m3 if voice.metric else choice.asked_m3 / CORD_M3
            presets[f"wanted-w{choice.ware.id}"] = voice.decimal(amount, 2, strip=True)
    return visit.form(**presets)


def _command(form: Form, load: int, choices: Sequence[WareChoice]) -> MakeCutSheet:
    min_d = form.length_or_none("min_d", low=0.0, high=3.0, small=True)
    max_d = form.length_or_none("max_d", low=0.0, high=3.0, small=True)
    made: list[SheetWare] = []
    for choice in choices:
        if not form.has("wares", str(choice.ware.id)):
            continue
        name = f"wanted-w{choice.ware.id}"
        wanted = choice.solid_m3(form.volume(name).m3) if form.value(name).strip() else None
        made.append(SheetWare(ware_id=choice.ware.id, wanted_m3=wanted, min_d_m=min_d, max_d_m=max_d))
    if form.value("other_length").strip() or form.value("other_price").strip():
        length = form.length("other_length", low=0.05, high=2.6, small=True)
        per_m3 = form.money("other_price") / CORD_M3
        words = form.voice.text(T_("{length} pieces", length=form.voice.length(length)))
        made.append(
            SheetWare(
                name=words, piece_length_m=length, minor_per_ranked_m3=per_m3, min_d_m=min_d, max_d_m=max_d
            )
        )
    kerf = form.length_or_none("kerf", low=0.0, high=0.05, small=True)
    trim = form.length_or_none("trim", low=0.0, high=2.0, small=True)
    command = MakeCutSheet(
        key=form.key,
        load_id=load,
        wares=tuple(made),
        log_numbers=_numbers(form),
        logs=_list(form),
        kerf_m=CHAIN_KERF_M if kerf is None else kerf,
        trim_m=trim or 0.0,
        small_cores=form.ticked("small_cores"),
        within_tolerance=form.ticked("within_tolerance"),
        note=form.text("note"),
    )
    form.check()
    return command


def _numbers(form: Form) -> tuple[int, ...]:
    """`3, 5-9, 12`."""
    found: list[int] = []
    for part in re.split(r"[,;\s]+(?![-–])", re.sub(r"\s*[-–]\s*", "-", form.value("log_choice").strip())):
        if not part:
            continue
        match = _RANGE.match(part)
        last = int(match[2] or match[1]) if match else 0
        if match is None or last < int(match[1]) or last - int(match[1]) > 1000:
            form.complain(
                InputError(
                    "log_choice",
                    wanted=T_("numbers of logs such as 3, 5-9"),
                    got=part[:40],
                    next_move=T_("Write the numbers, parted by commas."),
                )
            )
            continue
        found += range(int(match[1]), last + 1)
    return tuple(found)


def _list(form: Form) -> tuple[SheetLog, ...]:
    text = form.value("log_list")
    if not text.strip():
        return ()
    try:
        read = read_logs(text)
    except LogListError as error:
        form.complaints += [
            Complaint("log_list", LABELS["log_list"], problem.text) for problem in error.problems
        ]
        return ()
    logs = []
    for log in read.logs:
        logs.append(
            SheetLog(
                label=log.log_id,
                length_m=log.length_m,
                large_d_m=log.large_d_m,
                small_d_m=log.small_d_m,
                species=log.species,
                defects=tuple((one.from_m, one.to_m, one.kind) for one in log.defects),
            )
        )
    return tuple(logs)


# -- what the templates show ------------------------------------------------------------------------


def _new_page(
    visit: Visit, load_id: int, choices: Sequence[WareChoice], form: Form, status: int = 200
) -> Response:
    voice = visit.voice
    load = load_page(visit.desk, load_id).row if load_id else None
    return visit.page(
        "cutting_new.html",
        status,
        form=form,
        load=load,
        choices=choices,
        logs=logs_to_cut(visit.desk, load_id),
        example=LOG_EXAMPLE,
        most_logs=MOST_LOGS,
        asked_any=any(choice.asked_m3 > 0.0 for choice in choices),
        unit=NAMES["price_unit"][voice.volume_unit()],
    )


def _page(
    visit: Visit,
    sheet_id: int,
    answer: Answer | None = None,
    *,
    form: Form | None = None,
    wrong: int = 0,
    status: int = 200,
) -> Response:
    page = cut_sheet(visit.desk, sheet_id)
    if page.plan is None and answer is None:
        question = cut_question(visit.desk, sheet_id)
        answer = None if question is None else answers_of(visit).get(question)
    longest = max(line.plan.log.length_m for line in page.lines)
    return visit.page(
        "cutting_sheet.html",
        status,
        form=form or visit.form(),
        fresh=visit.form(),
        wrong=wrong,
        page=page,
        answer=answer,
        logs=[log_shown(visit, page, line, longest) for line in page.lines],
        first=next((line.number for line in page.lines if not line.done), 0),
        letter=letter,
        piece_length=piece_length,
        length_words=visit.voice.text(length_words(ware.tolerance_m for ware in page.plan.wares))
        if page.plan is not None
        else "",
        worth=None if page.plan is None or page.worth is None else worth_shown(visit, page.plan, page.worth),
        loss=visit.voice.percent(loss_share()),
        around=visit.voice.thickness(AROUND_M),
        cautions=[visit.voice.text(text) for text in (*CAUTIONS_SAW, *CAUTIONS_ALL)],
        notes=[visit.voice.text(note) for note in page.notes],
        tape=tape_unit(visit.voice),
        tape_words=visit.voice.text(
            T_("Marks in centimetres, to a millimetre.")
            if visit.voice.metric
            else T_("Marks in inches, to an eighth.")
        ),
    )


def log_shown(visit: Visit, page: CutSheetPage, line: CutLogLine, longest_m: float) -> dict[str, Any]:
    """A log of a sheet in words and as a drawing."""
    voice, plan = visit.voice, line.plan
    log = plan.log
    saw = page.plan.saw if page.plan is not None else None
    title = voice.text(T_("Log {log} with its cuts", log=line.label))
    pieces = []
    for number, cut in enumerate(plan.cuts, start=1):
        pieces.append(
            {
                "number": number,
                "letter": letter(cut.ware),
                "from": tape_mark(voice, cut.from_m),
                "to": tape_mark(voice, cut.to_m),
                "query": f"from_m={cut.from_m:.6f}&to_m={cut.to_m:.6f}",
                "done": line.pieces_done[number - 1],
            }
        )
    return {
        "line": line,
        "species": voice.species(line.species) if line.species else "",
        "sizes": voice.text(
            T_(
                "{length} long, {large} and {small} thick",
                length=voice.dimension(log.length_m),
                large=voice.thickness(log.large_d_m),
                small=voice.thickness(log.small_d_m),
            )
        ),
        "svg": log_svg(
            plan, saw, title=title, mark=lambda at_m: tape_mark(voice, at_m), name=f"-{line.number}"
        )
        if saw
        else "",
        "boxes": mark_boxes(voice, plan, saw) if saw else [],
        "pieces": pieces,
        # A list that was pasted calls defects what it likes; then its own word follows.
        "known": [
            (
                _at(voice, NAMES["defect"].get(one.kind, T_("Left out")), one),
                "" if one.kind in NAMES["defect"] else one.kind,
            )
            for one in line.known
        ],
        "found": [_at(voice, NAMES["found"][one.kind], one) for one in line.found],
    }


def _at(voice: Voice, what: Text, place: Defect | FoundLine) -> str:
    """What lies where in a log, as the tape shows it."""
    return voice.text(
        T_(
            "{what} from {start} to {end} {unit}",
            what=what,
            start=tape_mark(voice, place.from_m),
            end=tape_mark(voice, place.to_m),
            unit=tape_unit(voice),
        )
    )


def worth_shown(visit: Visit, plan: CutPlan, worth: SheetWorth) -> dict[str, Any]:
    """What the plan is worth, and the same logs cut as a person does: value and solid wood of each."""
    voice, hand = visit.voice, worth.hand

    def ranged(spread: Spread | None) -> tuple[str, str] | None:
        if spread is None:
            return None
        low, mid, high = (voice.money_about(100.0 * one) for one in (spread.low, spread.mid, spread.high))
        return mid, voice.text(T_("8 in 10 between {low} and {high}", low=low, high=high))

    def line(words: Text, value: float, solid_m3: float) -> dict[str, str]:
        return {
            "words": voice.text(words),
            "value": voice.money_about(100.0 * value),
            "solid": voice.volume(solid_m3, "solid", both=False),
            "more_value": _more(voice, plan.value, value),
            "more_solid": _more(voice, hand.plan_solid_m3, solid_m3),
        }

    return {
        "net": ranged(worth.net),
        "gross": ranged(worth.gross),
        "lines": [
            line(T_("This plan"), plan.value, hand.plan_solid_m3),
            line(
                T_("All logs at one length ({ware})", ware=plan.wares[hand.ware].name),
                hand.value,
                hand.solid_m3,
            ),
            line(T_("Each log at its best length"), hand.each_value, hand.each_solid_m3),
        ],
    }


def _more(voice: Voice, plan: float, other: float) -> str:
    """By how much the plan has more than another way, or less; empty where that has nothing, or for the plan."""
    if other <= 0.0 or plan == other:
        return ""
    gain = plan / other - 1.0
    share = voice.percent(abs(gain), 1)
    words = (
        T_("the plan has {share} more", share=share)
        if gain > 0
        else T_("the plan has {share} less", share=share)
    )
    return voice.text(words)


def _months(visit: Visit, load_id: int) -> dict[str, Months]:
    """Months to sale of the load's woods, as far as they are worked out already; nobody waits for them here."""
    answers = answers_of(visit)
    found: dict[str, Months] = {}
    for wood, _ in load_page(visit.desk, load_id).row.shares:
        if wood.rank == "unnamed":
            continue
        known = answers.peek(months_question(visit.desk, wood, thickness_m(visit.facts.units)))
        if known is not None and known.state == "ready":
            found[wood.id] = months_of(known.value, visit.today)
    return found
