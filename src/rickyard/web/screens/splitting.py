"""Splitting sheets: how thick at most, into what, what first; hours that were timed and what they have taught."""

from __future__ import annotations

from typing import Any, Literal

from fastapi import APIRouter
from starlette.responses import RedirectResponse, Response

from rickyard import season
from rickyard.cut import (
    CAUTIONS_ALL,
    CAUTIONS_SPLITTER,
    CAUTIONS_WEDGE,
    HOURS_BLIND,
    ease_words,
    how_to,
    pattern_name,
    split_svg,
)
from rickyard.cut.hours import SPLITTING
from rickyard.cut.split import FIREBOX_M, HAND_M, THICKNESS_M
from rickyard.desk.cut_sheets import cut_sheet
from rickyard.desk.loads import LoadPage, load_page
from rickyard.desk.paging import A_PAGE, is_number, one_page
from rickyard.desk.split_sheets import (
    SplitClass,
    SplittingPage,
    splitting_sheet,
    splitting_sheets,
    work_learnt,
    work_sessions,
)
from rickyard.desk.splitting import (
    MakeSplittingSheet,
    ReckonSplittingSheet,
    RoundClass,
    TimeWork,
    classes_of_load,
    make_splitting_sheet,
    reckon_splitting_sheet,
    splitting_question,
    time_work,
)
from rickyard.desk.stacks import stacks
from rickyard.errors import InputError
from rickyard.jobs import Answer
from rickyard.measure import CORD_M3
from rickyard.paper import SplitSheetData, render_split_sheet
from rickyard.show import Voice
from rickyard.show.units import parse_length
from rickyard.text import T_, Text
from rickyard.web.forms import Form, FormProblem
from rickyard.web.names import NAMES
from rickyard.web.offer_words import hours_from
from rickyard.web.offline import works_offline
from rickyard.web.screens.answers import ODDS, answers_of, put_when_ready
from rickyard.web.visit import Here, Last, Sent, Visit
from rickyard.wood import get_species

router = APIRouter(include_in_schema=False)

NAMES_HERE = {"step": "work_step", "method": "split_method", "species": "wood", "by": "wanted_by"}
METHODS = tuple(NAMES["split_method"])
STEPS = tuple(NAMES["work_step"])
# Sheets to choose from: hours are noted in the same days as the sheet was made.
MOST_CHOICES = 30


@router.get("/splitting/new")
def new_sheet(visit: Here, load: int = 0, sheet: int = 0) -> Response:
    """The form; of a load's cut `sheet` it takes the wood and the length that most was cut of."""
    if not load:
        return RedirectResponse("/cutting", 303)
    page = load_page(visit.desk, load)
    return _new_page(visit, page, _fresh(visit, page, sheet))


@router.post("/splitting/new")
def make_it(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    load = form.number_id("load")
    if not load:
        return RedirectResponse("/cutting", 303)
    page = load_page(visit.desk, load)
    try:
        command = MakeSplittingSheet(
            key=form.key,
            load_id=load,
            species=form.text("wood", needed=True),
            piece_length_m=form.length("piece_length", low=0.05, high=2.6, small=True),
            stacked_on=form.day("stacked_on", visit.today),
            wanted_by=form.day("wanted_by", visit.today),
            odds=float(form.choice("odds", ODDS, "0.9") or 0.9) if form.value("odds") in ODDS else 0.9,
            cover=form.choice("cover", season.COVERS),
            exposure=form.choice("exposure", season.EXPOSURES),
            diameters_m=_diameters(form),
            firebox_m=form.length_or_none("firebox", low=FIREBOX_M[0], high=FIREBOX_M[1], small=True),
            hand_m=form.length_or_none("hand", low=HAND_M[0], high=HAND_M[1], small=True),
            knotty=form.ticked("knotty"),
            method=form.choice("split_method", METHODS),
            note=form.text("note"),
        )
        form.check()
        with form.asking(**NAMES_HERE):
            answer = make_splitting_sheet(visit.desk, command)
    except FormProblem:
        return _new_page(visit, page, form, 422)
    return visit.go(f"/splitting/{answer['sheet_id']}", "splitting_sheet_made")


@router.get("/splitting/{sheet_id:int}")
@works_offline(each="splitting_sheet")
def one_sheet(visit: Here, sheet_id: int) -> Response:
    return _page(visit, sheet_id)


@router.post("/splitting/{sheet_id:int}/reckon")
def put_limit_in(visit: Here, sheet_id: int, sent: Sent) -> Response:
    """The greatest thickness."""
    command = ReckonSplittingSheet(key=f"split-limit-{sheet_id}", sheet_id=sheet_id)
    return put_when_ready(
        visit,
        splitting_question(visit.desk, sheet_id),
        lambda answer: _page(visit, sheet_id, answer),
        lambda worked_out: reckon_splitting_sheet(visit.desk, command, worked_out[1]),
        f"/splitting/{sheet_id}",
    )


@router.get("/splitting/{sheet_id:int}/sheet.pdf")
def printed(visit: Here, sheet_id: int, paper: str = "") -> Response:
    """The whole sheet on paper; back to the page while it is reckoned or where nothing can be split."""
    page, voice = splitting_sheet(visit.desk, sheet_id), visit.voice
    plans = tuple((_class_words(voice, one), one.plan) for one in page.classes if one.plan is not None)
    if not plans:
        return RedirectResponse(f"/splitting/{sheet_id}", 303)
    size: Literal["a4", "letter"] = "a4" if paper == "a4" else "letter"
    body = render_split_sheet(
        SplitSheetData(
            plans=plans,
            made_at=visit.desk.now(),
            title=voice.text(
                T_(
                    "Splitting sheet {number}: {wood}, load {load}",
                    number=page.card.number,
                    wood=voice.species(page.card.species),
                    load=page.card.load_number,
                )
            ),
            notes=(limit_words(voice, page), *page.first),
            locale=voice.locale,
            units=voice.units,
            page=size,
        )
    )
    return Response(
        body,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="splitting-sheet-{page.card.number}.pdf"'},
    )


@router.get("/splitting/times")
@works_offline(queues=T_("hours of work"))
def times(visit: Here, sheet: int = 0, step: str = SPLITTING, before: Last = 0) -> Response:
    voice = visit.voice
    presets: dict[str, object] = {
        "worked_on": visit.today,
        "work_step": step if step in STEPS else SPLITTING,
        "split_method": METHODS[0],
        "piece_length": "40" if voice.metric else "16",
        "part": "",
    }
    if sheet:
        page = splitting_sheet(visit.desk, sheet)
        small = 0.01 if voice.metric else 0.0254
        presets |= {
            "part": str(sheet),
            "split_method": page.work.method.id if page.work else METHODS[0],
            "piece_length": voice.decimal(page.piece_length_m / small, 1, strip=True),
        }
    return _times_page(visit, visit.form(**presets), before=before)


@router.post("/splitting/times")
def keep_time(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        volume = form.volume("amount_made", allowed=("cord", "stacked_m3", "solid_m3", "ft3", "solid_ft3"))
        solid = volume.unit.startswith("solid")
        # Pages that a phone kept from before know of splitting only.
        step = form.choice("work_step", STEPS) if form.value("work_step") else SPLITTING
        split = step == SPLITTING
        counted = split and form.value("pieces_made").strip()
        low, high = THICKNESS_M
        thick = form.length_or_none("piece_thickness", low=low, high=high, small=True) if split else None
        command = TimeWork(
            **visit.told(form),
            step=step,
            method=form.choice("split_method", METHODS) if split else "",
            hours=form.number("hours", low=0.01, high=1000.0),
            worked_on=form.day("worked_on", visit.today),
            cords=None if solid else volume.m3 / CORD_M3,
            solid_m3=volume.m3 if solid else None,
            pieces=form.count("pieces_made", low=1, high=1_000_000) if counted else None,
            piece_length_m=form.length("piece_length", low=0.05, high=2.6, small=True),
            thickness_m=thick,
            sheet_id=form.number_id("part") if form.value("part") else None,
            species=form.text("wood"),
            typed=form.text("amount_made"),
            note=form.text("note"),
        )
        form.check()
        with form.asking(**NAMES_HERE, splitting_sheet="part"):
            time_work(visit.desk, command)
    except FormProblem:
        return _times_page(visit, form, 422)
    return visit.go("/splitting/times", "timed")


# -- what the templates show ------------------------------------------------------------------------


def stack_presets(visit: Visit, sheet_id: int) -> dict[str, object]:
    """What a splitting sheet says of the stack that is made from it."""
    page, voice = splitting_sheet(visit.desk, sheet_id), visit.voice
    small = 0.01 if voice.metric else 0.0254
    whole = all(one.plan is not None and len(one.plan.pieces) == 1 for one in page.classes)
    presets: dict[str, object] = {
        "load": [page.card.load_id],
        "piece_form": "round" if whole else "split",
        "piece_length": voice.decimal(page.piece_length_m / small, 1, strip=True),
        "cover": page.cover,
        "exposure": page.exposure,
        "note": voice.text(T_("Splitting sheet {number}", number=page.card.number)),
    }
    if page.thickness_m is not None:
        presets["thickness"] = voice.decimal(page.thickness_m / small, 1, strip=True)
    return presets


def limit_words(voice: Voice, page: SplittingPage) -> Text:
    """The greatest thickness, in a sentence with its day and odds."""
    day, odds = voice.date(page.card.wanted_by), voice.odds(page.card.odds)
    if page.card.state == "never":
        return T_(
            "However thin it is split, it is not dry by {day} (odds wanted: {odds}). Give it longer, or a place that "
            "dries sooner.",
            day=day,
            odds=odds,
        )
    limit = voice.thickness(page.card.limit_m or 0.0)
    if page.card.state == "always":
        return T_(
            "Up to {limit}, the thickest that was looked at, it is dry by {day} (odds wanted: {odds}).",
            limit=limit,
            day=day,
            odds=odds,
        )
    return T_(
        "No thicker than {limit}, to be dry by {day} (odds wanted: {odds}).", limit=limit, day=day, odds=odds
    )


def _class_words(voice: Voice, one: SplitClass) -> str:
    if one.rounds is None:
        return voice.text(T_("Rounds up to {diameter}", diameter=voice.thickness(one.diameter_m)))
    return voice.text(
        T_(
            "Rounds up to {diameter}: {count} of them, {solid}",
            diameter=voice.thickness(one.diameter_m),
            count=one.rounds,
            solid=voice.volume(one.solid_m3 or 0.0, "solid", both=False),
        )
    )


def _class_shown(voice: Voice, one: SplitClass) -> dict[str, Any]:
    plan = one.plan
    words = _class_words(voice, one)
    if plan is None:
        problem = T_("No thickness is dry in time.") if one.problem == "never" else None
        return {"words": words, "problem": voice.text(problem) if problem else one.problem, "plan": None}
    name = voice.text(pattern_name(plan))
    return {
        "words": words,
        "problem": "",
        "plan": plan,
        "name": name,
        "svg": split_svg(plan, title=name, thickness=voice.thickness, diameter=voice.thickness),
        "how": [voice.text(text) for text in how_to(plan)],
        "cautions": [voice.text(text) for text in plan.cautions],
        "hard": plan.pattern.id == "slabs",
    }


def _page(visit: Visit, sheet_id: int, answer: Answer | None = None, status: int = 200) -> Response:
    page, voice = splitting_sheet(visit.desk, sheet_id), visit.voice
    waiting = page.card.state == "waiting"
    if waiting and answer is None:
        question = splitting_question(visit.desk, sheet_id)
        answer = None if question is None else answers_of(visit).get(question)
    return visit.page(
        "splitting_sheet.html",
        status,
        page=page,
        answer=answer,
        limit="" if waiting else voice.text(limit_words(voice, page)),
        classes=[_class_shown(voice, one) for one in page.classes],
        ease=voice.text(ease_words(page.ease)),
        first=[voice.text(text) for text in page.first],
        kindling=[voice.text(text) for text in page.kindling],
        blind=voice.text(HOURS_BLIND),
        cautions=[voice.text(text) for text in (*CAUTIONS_SPLITTER, *CAUTIONS_WEDGE, *CAUTIONS_ALL)],
        wood_of=lambda species_id: voice.species(get_species(species_id)),
        can_stack=any(one.plan is not None for one in page.classes),
    )


def _fresh(visit: Visit, page: LoadPage, sheet_id: int = 0) -> Form:
    voice = visit.voice
    wood, length = _most_cut(visit, sheet_id) if sheet_id else ("", None)
    small = 0.01 if voice.metric else 0.0254
    last = max(stacks(visit.desk), key=lambda card: card.stacked_on, default=None)
    shares = page.row.shares
    return visit.form(
        wood=wood if wood in {one.id for one, _ in shares} else shares[0][0].id if shares else "",
        piece_length=voice.decimal(length / small, 1, strip=True)
        if length
        else "40"
        if voice.metric
        else "16",
        stacked_on=visit.today,
        wanted_by=_next_autumn(visit),
        odds="0.9",
        cover=last.cover if last else "top",
        exposure=last.exposure if last else "normal",
        split_method=METHODS[0],
    )


def _most_cut(visit: Visit, sheet_id: int) -> tuple[str, float | None]:
    """Of a cut sheet: the wood, and the length of pieces, that there is most of."""
    page = cut_sheet(visit.desk, sheet_id)
    woods: dict[str, float] = {}
    lengths: dict[float, float] = {}
    for line in page.lines:
        for cut in line.plan.cuts:
            long = round(cut.to_m - cut.from_m, 6)
            lengths[long] = lengths.get(long, 0.0) + cut.solid_m3
            if line.species is not None:
                woods[line.species.id] = woods.get(line.species.id, 0.0) + cut.solid_m3
    return max(woods, key=woods.__getitem__, default=""), max(lengths, key=lengths.__getitem__, default=None)


def _next_autumn(visit: Visit) -> Any:
    """The first of October that leaves a summer between."""
    today = visit.today
    year = today.year if today.month < 7 else today.year + 1
    return today.replace(year=year, month=10, day=1)


def _new_page(visit: Visit, page: LoadPage, form: Form, status: int = 200) -> Response:
    voice = visit.voice
    length = _length_or(form, 0.4064)
    classes: list[tuple[str, list[RoundClass]]] = []
    for wood, _ in page.row.shares:
        found = classes_of_load(visit.desk, page.row.id, wood.id, length)
        if found:
            classes.append((voice.species(wood), found))
    return visit.page(
        "splitting_new.html",
        status,
        form=form,
        load=page.row,
        classes=classes,
        woods_here=[(wood.id, voice.species(wood)) for wood, _ in page.row.shares],
        odds_options=[(odds, voice.odds(float(odds))) for odds in ODDS],
    )


def _length_or(form: Form, otherwise: float) -> float:
    """The piece length as far as it is typed well; the page complains of it elsewhere."""
    unit = "cm" if form.voice.metric else "in"
    try:
        return parse_length(
            form.value("piece_length"),
            "piece_length",
            unit=unit,
            low=0.05,
            high=2.6,
            locale=form.voice.locale,
        )
    except InputError:
        return otherwise


def _diameters(form: Form) -> tuple[float, ...]:
    typed = form.value("diameters").strip()
    if not typed:
        return ()
    factor = 0.01 if form.voice.metric else 0.0254
    return tuple(size * factor for size in form.numbers("diameters", low=1.0, high=250.0))


def _times_page(visit: Visit, form: Form, status: int = 200, before: int = 0) -> Response:
    voice, learnt = visit.voice, work_learnt(visit.desk)
    cards = splitting_sheets(visit.desk, limit=MOST_CHOICES)
    chosen = form.value("part")
    if is_number(chosen) and int(chosen) not in {card.id for card in cards}:
        cards += splitting_sheets(visit.desk, sheet_id=int(chosen))
    sessions, more = one_page(work_sessions(visit.desk, before=before or None, limit=A_PAGE + 1))
    return visit.page(
        "splitting_times.html",
        status,
        form=form,
        learnt=learnt,
        sessions=sessions,
        older=sessions[-1].id if more else 0,
        steps=[
            (
                NAMES["work_step"][one.step],
                "–" if one.per_cord.mid <= 0.0 else voice.number(one.per_cord.mid, 2),
                voice.text(
                    T_(
                        "{low} to {high}",
                        low=voice.number(one.per_cord.low, 2),
                        high=voice.number(one.per_cord.high, 2),
                    )
                ),
                hours_from(voice, one),
                "" if one.sessions == 0 and one.own else one.basis,
                one.source,
            )
            for one in learnt.steps
        ],
        sheet_options=[
            (
                card.id,
                voice.text(
                    T_(
                        "Sheet {number}: {wood}, load {load}",
                        number=card.number,
                        wood=voice.species(card.species),
                        load=card.load_number,
                    )
                ),
            )
            for card in cards
        ],
        unit=NAMES["price_unit"][voice.volume_unit()],
        cord_m3=CORD_M3,
    )
