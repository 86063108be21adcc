"""A load measured another way, side by side with how it was taken in; and the book made to follow."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.load_measures import (
    FollowMeasures,
    NoteMeasure,
    SetMeasureAside,
    follow_measures,
    load_measures,
    note_measure,
    set_measure_aside,
)
from rickyard.desk.loads import load_page
from rickyard.errors import InputError
from rickyard.measure import log_list_template
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.gauge_forms import read_truck, read_weight
from rickyard.web.log_forms import read_lists
from rickyard.web.offline import works_offline
from rickyard.web.visit import Here, Sent, Visit
from rickyard.wood import find_species

router = APIRouter(include_in_schema=False)

WAYS = ("truck", "weight", "logs")
# The desk's words, as our fields.
_NAMES = {
    "width": "bed_width",
    "length": "bed_length",
    "piece_length": "lying_length",
    "net": "net_weight",
    "mc_wet": "weighed_moisture",
    "logs": "paste",
}


@router.get("/wood-in/{load_id:int}/measure")
@works_offline(
    each="load", queries=("?by=truck", "?by=weight", "?by=logs"), queues=T_("another measure of a load")
)
def measure_page(visit: Here, load_id: int, by: str = "weight") -> Response:
    form = visit.form(tiers="1", lying="ranked", weighed_bark="on")
    return _page(visit, load_id, form, by if by in WAYS else "weight")


@router.post("/wood-in/{load_id:int}/measure")
def measure(visit: Here, load_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    by = form.value("by") if form.value("by") in WAYS else "weight"
    try:
        truck = read_truck(form) if by == "truck" else None
        weight = read_weight(form) if by == "weight" else None
        logs = tuple(read_lists(form, sent, _default_id(form))) if by == "logs" else ()
        if by == "logs" and not logs and not form.complaints:
            form.complain(
                InputError(
                    "paste",
                    wanted=T_("at least one log"),
                    got=T_("none"),
                    next_move=T_("Paste or upload the logs."),
                )
            )
        form.check()
        command = NoteMeasure(
            **visit.told(form),
            load_id=load_id,
            truck=truck,
            weight=weight,
            logs=logs,
            over_bark=form.ticked("over_bark"),
            note=form.text("note"),
        )
        form.check()
        with form.asking(**_NAMES):
            note_measure(visit.desk, command)
    except FormProblem:
        return _page(visit, load_id, form, by, 422)
    return visit.go(f"/wood-in/{load_id}#measures", "measure_noted")


@router.post("/wood-in/{load_id:int}/measure/{measure_id:int}/aside")
def set_aside(visit: Here, load_id: int, measure_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    set_measure_aside(visit.desk, SetMeasureAside(**visit.told(form), measure_id=measure_id))
    return visit.go(f"/wood-in/{load_id}#measures", "measure_aside")


@router.get("/wood-in/{load_id:int}/follow")
def following(visit: Here, load_id: int) -> Response:
    return _following(visit, load_id, visit.form())


@router.post("/wood-in/{load_id:int}/follow")
def follow(visit: Here, load_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = FollowMeasures(**visit.told(form), load_id=load_id, reason=form.text("reason", needed=True))
        form.check()
        with form.asking():
            follow_measures(visit.desk, command)
    except FormProblem:
        return _following(visit, load_id, form, 422)
    visit.nudge()
    return visit.go(f"/wood-in/{load_id}#measures", "measures_followed")


def _page(visit: Visit, load_id: int, form: Form, by: str, status: int = 200) -> Response:
    page = load_page(visit.desk, load_id)
    return visit.page(
        "load_measure.html",
        status,
        form=form,
        load=page.row,
        by=by,
        ways=WAYS,
        example=log_list_template(visit.voice.locale),
    )


def _following(visit: Visit, load_id: int, form: Form, status: int = 200) -> Response:
    page = load_page(visit.desk, load_id)
    return visit.page(
        "load_follow.html", status, form=form, load=page.row, measures=load_measures(visit.desk, load_id)
    )


def _default_id(form: Form) -> str | None:
    if not form.text("default_species"):
        return None
    try:
        return find_species(form.text("default_species"), field="default_species").id
    except InputError as error:
        form.complain(error)
        return None
