"""Marked pieces: marked and weighed, without signal too."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.stacks import stack_page
from rickyard.desk.witness import (
    MOST_PIECES,
    PIECE_KG,
    STEP_KG,
    MarkPieces,
    WeighPieces,
    mark_pieces,
    next_labels,
    weigh_pieces,
    witness_page,
)
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.offline import works_offline
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

MARKED_LINES, LEAST_LINES = 4, 3
LB_KG = 0.45359237


def piece_mass(voice: Voice, kg: float) -> str:
    """The weight of one piece, to the hundredth: 2.35 kg, 5.18 lb."""
    return f"{voice.decimal(kg, 2)} kg" if voice.metric else f"{voice.decimal(kg / LB_KG, 2)} lb"


@router.get("/stacks/{stack_id:int}/mark")
@works_offline(each="stack", queues=T_("pieces marked"))
def mark_page(visit: Here, stack_id: int) -> Response:
    labels = next_labels(witness_page(visit.desk, stack_id), MARKED_LINES)
    presets = {f"mark-{number}": label for number, label in enumerate(labels)}
    return _mark(visit, stack_id, visit.form(marked_on=visit.today, lines=MARKED_LINES, **presets))


@router.post("/stacks/{stack_id:int}/mark")
def mark(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    if form.value("more"):
        return _mark(visit, stack_id, _one_more(form))
    try:
        lines = [(label, kg) for label, kg in _lines(form) if kg is not None]
        command = MarkPieces(
            **visit.told(form),
            stack_id=stack_id,
            pieces=tuple(lines),
            marked_on=form.day("marked_on", visit.today),
            species=form.text("read_species"),
            step_kg=form.mass_or_none("scale_step", low=STEP_KG[0], high=STEP_KG[1]),
        )
        form.check()
        with form.asking(pieces="mass-0", mark="mark-0", mass="mass-0", species="read_species"):
            answer = mark_pieces(visit.desk, command)
    except FormProblem:
        return _mark(visit, stack_id, form, 422)
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", "read_clash" if answer["clashes"] else "marked")


@router.get("/stacks/{stack_id:int}/weigh")
@works_offline(each="stack", queues=T_("marked pieces weighed"))
def weigh_page(visit: Here, stack_id: int) -> Response:
    pieces = witness_page(visit.desk, stack_id).pieces
    labels = [line.label for line in pieces] or [str(number + 1) for number in range(LEAST_LINES)]
    presets = {f"mark-{number}": label for number, label in enumerate(labels[:MOST_PIECES])}
    return _weigh(visit, stack_id, visit.form(weighed_on=visit.today, lines=len(presets), **presets))


@router.post("/stacks/{stack_id:int}/weigh")
def weigh(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    if form.value("more"):
        return _weigh(visit, stack_id, _one_more(form))
    try:
        command = WeighPieces(
            **visit.told(form),
            stack_id=stack_id,
            weights=tuple(_lines(form)),
            happened_on=form.day("weighed_on", visit.today),
            wet=form.ticked("wet"),
            step_kg=form.mass_or_none("scale_step", low=STEP_KG[0], high=STEP_KG[1]),
            note=form.text("note"),
        )
        form.check()
        with form.asking(pieces="mass-0", mark="mark-0", mass="mass-0", happened_on="weighed_on"):
            answer = weigh_pieces(visit.desk, command)
    except FormProblem:
        return _weigh(visit, stack_id, form, 422)
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", "read_clash" if answer["clashes"] else "weighed")


def _lines(form: Form) -> list[tuple[str, float | None]]:
    """Mark and mass [kg] of each line that says something; no mass for a piece that was not found."""
    found: list[tuple[str, float | None]] = []
    for number in range(_count(form)):
        mark, mass, gone = (f"{name}-{number}" for name in ("mark", "mass", "gone"))
        label = form.text(mark)
        if form.ticked(gone) and label:
            found.append((label, None))
        elif form.text(mass):
            if not label:
                form.complain(
                    InputError(
                        mark,
                        wanted=T_("what stands on the end of the piece"),
                        got=T_("nothing"),
                        next_move=T_("Type its mark beside the weight."),
                    )
                )
            found.append((label, form.mass(mass, low=PIECE_KG[0], high=PIECE_KG[1])))
    return found


def _count(form: Form) -> int:
    typed = form.value("lines")
    return min(int(typed), 2 * MOST_PIECES) if typed.isdigit() and len(typed) < 4 else LEAST_LINES


def _one_more(form: Form) -> Form:
    form.typed["lines"] = [str(min(_count(form) + 1, 2 * MOST_PIECES))]
    return form


def _mark(visit: Visit, stack_id: int, form: Form, status: int = 200) -> Response:
    return visit.page("pieces_mark.html", status, **_given(visit, stack_id, form))


def _weigh(visit: Visit, stack_id: int, form: Form, status: int = 200) -> Response:
    return visit.page("pieces_weigh.html", status, **_given(visit, stack_id, form))


def _given(visit: Visit, stack_id: int, form: Form) -> dict[str, object]:
    card = stack_page(visit.desk, stack_id).card
    return {
        "form": form,
        "card": card,
        "wood_options": [(species.id, visit.voice.species(species)) for species, _ in card.shares],
        "witness": witness_page(visit.desk, stack_id),
        "line_count": _count(form),
        "v_mass": "kg" if visit.voice.metric else "lb",
    }
