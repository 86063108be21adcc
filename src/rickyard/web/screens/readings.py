"""Readings: pin meter, oven sample, weighed pieces."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.readings import (
    AddReading,
    JudgeReading,
    OvenMasses,
    add_reading,
    cautions_of,
    judge_reading,
)
from rickyard.desk.stacks import stack_page, stacks
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.offline import works_offline
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

KINDS = ("meter", "oven", "weighed")
FACES = ("split", "surface")
_NAMES = {
    "species": "read_species",
    "oven": "wet_mass",
    "weighed": "mass_now",
}


@router.get("/readings/new")
@works_offline()
def choose_stack(visit: Here) -> Response:
    """Which stack is read? The boards of all standing stacks, to be tapped."""
    return visit.page("reading_which.html", cards=stacks(visit.desk))


@router.get("/stacks/{stack_id:int}/reading")
@works_offline(each="stack", queries=("", "?kind=oven", "?kind=weighed"), queues=T_("a reading"))
def new_reading(visit: Here, stack_id: int, kind: str = "meter") -> Response:
    kind = kind if kind in KINDS else "meter"
    card = stack_page(visit.desk, stack_id).card
    only = card.shares[0][0].id if len(card.shares) == 1 else ""
    form = visit.form(kind=kind, happened_on=visit.today, read_species=only, face="split")
    return _page(visit, stack_id, form)


@router.post("/stacks/{stack_id:int}/reading")
def take_reading(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        kind = form.choice("kind", KINDS)
        value, more = _figures(form, kind)
        command = AddReading(
            **visit.told(form),
            stack_id=stack_id,
            kind=kind,
            value=value,
            happened_on=form.day("happened_on", visit.today),
            species=form.text("read_species"),
            temp_c=form.temperature_or_none("temperature"),
            note=form.text("note"),
            **more,
        )
        form.check()
        with form.asking(**_NAMES):
            answer = add_reading(visit.desk, command)
    except FormProblem:
        return _page(visit, stack_id, form, 422)
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", "read_clash" if answer["clashes"] else _said(command))


@router.post("/readings/{reading_id:int}/judge")
def judge(visit: Here, reading_id: int, sent: Sent) -> Response:
    """Confirmed, set aside, or that taken back; the three buttons under a reading."""
    form = visit.sent(sent)
    command = JudgeReading(**visit.told(form), reading_id=reading_id, trust=form.value("trust"))
    answer = judge_reading(visit.desk, command)
    visit.nudge()
    return visit.go(f"/stacks/{answer['stack_id']}", "judged")


def _page(visit: Visit, stack_id: int, form: Form, status: int = 200) -> Response:
    if form.value("kind") not in KINDS:
        form.typed["kind"] = ["meter"]
    form.typed.setdefault("face", ["split"])
    card = stack_page(visit.desk, stack_id).card
    woods = [(species.id, visit.voice.species(species)) for species, _ in card.shares]
    return visit.page("reading_new.html", status, form=form, card=card, wood_options=woods)


def _said(command: AddReading) -> str:
    """What the next page says: the gravest caution, if there is one."""
    if not cautions_of(command):
        return "read"
    if command.temp_c is not None and command.temp_c < 0.0:
        return "read_frozen"
    return "read_surface" if command.face == "surface" else "read_beyond"


def _figures(form: Form, kind: str) -> tuple[float, dict[str, Any]]:
    """The desk's figure (percent shown, moisture of total mass, or mass now over mass when stacked), and the rest."""
    if kind == "meter":
        shown = form.numbers("reading", low=3.0, high=100.0)
        # Old pages kept on a phone do not ask where the pins went.
        more: dict[str, Any] = {"face": form.choice("face", FACES, "split")}
        if len(shown) > 1:
            more["shown"] = shown
        return shown[0] if shown else 0.0, more
    if kind == "oven":
        wet, dry = form.number("wet_mass", low=0.001), form.number("dry_mass", low=0.001)
        form.check()
        with form.asking():
            share = OvenMasses(wet=wet, dry=dry).mc_wet()
        return share, {"own": form.ticked("own"), "masses": (wet, dry)}
    return _ratio(form), {}


def _ratio(form: Form) -> float:
    then, now = form.number("mass_then", low=0.001), form.number("mass_now", low=0.001)
    form.check()
    if not 0.3 <= now / then <= 1.3:
        form.complain(
            InputError(
                "mass_now",
                wanted=T_("a weight between 0.3 and 1.3 of that when stacked"),
                got=form.text("mass_now"),
                next_move=T_("Weigh the same pieces again, on the same scale."),
            )
        )
    return now / then
