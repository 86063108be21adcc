"""Cut, split and stack: logs become a stack, a heap or a bin; and stacks that stood here before the book."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.loads import LoadRow, loads
from rickyard.desk.mixes import read_mix
from rickyard.desk.stacking import (
    BARK_KEPT_SHARE,
    CHAIN_KERF_M,
    WASTE_SHARE,
    Dimensions,
    OpeningStack,
    PiecesFacts,
    StackUp,
    opening_stack,
    stack_up,
)
from rickyard.desk.stacks import next_stack_name, stacks
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.load_choice import loads_to_tick, one_meant, search_loads
from rickyard.web.screens.splitting import stack_presets
from rickyard.web.screens.wood_in import harvest_of, harvest_presets
from rickyard.web.visit import Here, Sent, Visit, sent_by_outbox

router = APIRouter(include_in_schema=False)

KINDS = ("stack", "heap", "bin")
FORMS = ("split", "round", "kindling")
COVERS = ("none", "top", "shed")
EXPOSURES = ("sheltered", "normal", "windy")
GROUNDS = ("raised", "soil")
# The desk's words, as our fields.
NAMES = {
    "name": "stack_name",
    "form": "piece_form",
    "share": "load",
    "bark_kept": "waste",
    "country": "harvest_region",
    "subdivision": "harvest_region",
    "shares": "wood",
    "species": "wood",
}


@router.get("/stacks/new")
def new_stack(visit: Here, load: int = 0, split: int = 0) -> Response:
    """`split`: a splitting sheet, whose load, length, thickness and cover the form begins with."""
    presets = {"load": [load] if load else []} | _presets(visit)
    form = visit.form(**(presets | stack_presets(visit, split) if split else presets))
    return _page(visit, form)


@router.post("/stacks/new")
def stack_it(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    found = search_loads(visit, form)
    if form.value("look"):
        return _page(visit, form, 422 if form.complaints else 200, found=found)
    try:
        one_meant(form, found)
        sources = _sources(form)
        pieces, outside = _pieces(visit, form), dimensions(form)
        kerf_m = form.length_or_none("kerf", small=True)
        waste = form.percent_or_none("waste", high=0.5)
        form.check()
        command = StackUp(
            **visit.told(form),
            must_be_new=not sent_by_outbox(visit.request),
            sources=sources,
            pieces=pieces,
            outside=outside,
            kerf_m=CHAIN_KERF_M if kerf_m is None else kerf_m,
            waste_share=WASTE_SHARE if waste is None else waste,
            bark_kept_share=BARK_KEPT_SHARE if pieces.bark else 0.0,
        )
        form.check()
        with form.asking(**NAMES):
            answer = stack_up(visit.desk, command)
    except FormProblem:
        return _page(visit, form, 422, found=found)
    visit.nudge()
    return visit.go(f"/stacks/{answer['stack_id']}", "stacked_clash" if answer["clashes"] else "stacked")


@router.get("/stacks/opening")
def new_opening(visit: Here) -> Response:
    form = visit.form(**_presets(visit), **harvest_presets(visit, loads(visit.desk, limit=1)))
    return visit.page("stack_opening.html", form=form)


@router.post("/stacks/opening")
def take_opening(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        shares: tuple[tuple[str, float], ...] = ()
        try:
            shares = read_mix(form.value("wood"), "wood")
        except InputError as error:
            form.complain(error)
        harvest = harvest_of(form)
        pieces, outside = _pieces(visit, form), dimensions(form)
        form.check()
        command = OpeningStack(
            **visit.told(form),
            must_be_new=not sent_by_outbox(visit.request),
            shares=shares,
            harvest=harvest,
            pieces=pieces,
            outside=outside,
        )
        form.check()
        with form.asking(**NAMES):
            answer = opening_stack(visit.desk, command)
    except FormProblem:
        return visit.page("stack_opening.html", 422, form=form)
    visit.nudge()
    return visit.go(f"/stacks/{answer['stack_id']}", "stacked")


def dimensions(form: Form) -> Dimensions:
    """The outside as measured: a length, one to three heights, rows."""
    heights = [form.length("height", low=0.05, high=6.0)]
    heights += [
        height
        for name in ("height2", "height3")
        if (height := form.length_or_none(name, low=0.05, high=6.0)) is not None
    ]
    return Dimensions(
        length_m=form.length("length", low=0.1, high=100.0),
        heights_m=tuple(heights),
        rows=form.count("rows", low=1, high=40),
    )


def _page(visit: Visit, form: Form, status: int = 200, *, found: Sequence[LoadRow] = ()) -> Response:
    rows = loads_to_tick(visit, form, found)
    for row in rows:
        form.typed.setdefault(f"share-{row.id}", ["100"])
    return visit.page("stack_new.html", status, form=form, loads=rows, left_words=_left_words(visit))


def _left_words(visit: Visit) -> object:
    def words(row: LoadRow) -> str:
        if row.left_share > 0.995:
            return visit.voice.text(T_("all of it left"))
        return visit.voice.text(T_("{share} of it left", share=visit.voice.percent(row.left_share)))

    return words


def _presets(visit: Visit) -> dict[str, object]:
    """As the last stack was made: lengths and cover seldom change from one to the next."""
    voice = visit.voice
    standing = stacks(visit.desk)
    last = max(standing, key=lambda card: card.stacked_on, default=None)
    small = 0.01 if voice.metric else 0.0254
    return {
        "stack_name": next_stack_name(visit.desk),
        "kind": "stack",
        "piece_form": "split",
        "bark": True,
        "rows": "1",
        "stacked_on": visit.today,
        "piece_length": voice.decimal(last.piece_length_m / small, 1, strip=True) if last else "",
        "thickness": voice.decimal(last.thickness_m / small, 1, strip=True) if last else "",
        "cover": last.cover if last else "top",
        "exposure": last.exposure if last else "normal",
        "ground": last.ground if last else "raised",
        "target_moisture": voice.decimal(100 * visit.facts.target_mc_wet, 1, strip=True),
    }


def _sources(form: Form) -> tuple[tuple[int, float], ...]:
    chosen = [name for name in form.values("load") if name.isdigit() and len(name) < 10]
    if not chosen:
        form.complain(
            InputError(
                "load",
                wanted=T_("one or more loads"),
                got=T_("none"),
                next_move=T_("Choose the loads whose logs were cut."),
            )
        )
    for name in chosen:
        # A load that was only typed, not listed: all of it.
        form.typed.setdefault(f"share-{name}", ["100"])
    return tuple((int(name), form.percent(f"share-{name}", low=0.001)) for name in dict.fromkeys(chosen))


def _pieces(visit: Visit, form: Form) -> PiecesFacts:
    target = form.percent_or_none("target_moisture", basis="wet", low=0.05, high=0.75)
    return PiecesFacts(
        name=form.text("stack_name", needed=True),
        kind=form.choice("kind", KINDS),
        form=form.choice("piece_form", FORMS),
        piece_length_m=form.length("piece_length", low=0.05, high=2.6, small=True),
        thickness_m=form.length("thickness", low=0.01, high=1.5, small=True),
        bark=form.ticked("bark"),
        cover=form.choice("cover", COVERS),
        exposure=form.choice("exposure", EXPOSURES),
        ground=form.choice("ground", GROUNDS) if form.value("ground") else "raised",
        stacked_on=form.day("stacked_on", visit.today),
        start_mc_wet=form.percent_or_none("start_moisture", basis="wet", low=0.05, high=0.75),
        target_mc_wet=target,
        row_label=form.text("row"),
        x_m=form.length_or_none("x", low=0.0, high=2000.0),
        y_m=form.length_or_none("y", low=0.0, high=2000.0),
        note=form.text("note"),
    )
