"""What the yard has taught: looked at, and forgotten."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.learning import ForgetLessons, forget_lessons, taught_page
from rickyard.desk.yard_factor import stacking_page
from rickyard.measure import Spread
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.visit import Here, Sent, Visit, data
from rickyard.wood import Species

router = APIRouter(include_in_schema=False)


@router.get("/yard/taught")
def taught(visit: Here) -> Response:
    return _page(visit, visit.form())


@router.get("/yard/taught/stacking")
def stacking(visit: Here) -> Response:
    """How much of the yard's stacks is wood, learnt from loads measured twice."""
    voice = visit.voice

    def percents(share: Spread) -> str:
        return voice.text(
            T_(
                "{mid} ({low} to {high})",
                mid=voice.percent(share.mid),
                low=voice.percent(share.low),
                high=voice.percent(share.high),
            )
        )

    def kind_words(wood: Species | None) -> str:
        if wood is None:
            return voice.text(T_("mixed woods"))
        return voice.text(T_("{wood} and its kin", wood=voice.species(wood)))

    return visit.page(
        "stacking_taught.html", page=stacking_page(visit.desk), percents=percents, kind_words=kind_words
    )


@router.post("/yard/taught/forget")
def forget(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        what, _, name = form.text("forget", needed=True).partition(":")
        command = ForgetLessons(**visit.told(form), what=what, name=name)
        form.check()
        with form.asking(what="forget", name="forget"):
            forget_lessons(visit.desk, command)
    except FormProblem:
        return _page(visit, form, 422)
    visit.nudge()
    return visit.go("/yard/taught", "forgotten")


def _page(visit: Visit, form: Form, status: int = 200) -> Response:
    page = taught_page(visit.desk)
    voice = visit.voice
    options: list[tuple[object, ...]] = [("all", voice.text(T_("all of it")))]
    for line in page.lines:
        if line.kind == "species" and line.species is not None:
            options.append((f"species:{line.species.id}", voice.species(line.species)))
        elif line.kind == "row":
            options.append((f"row:{line.name}", data(line.name), True))
    return visit.page("taught.html", status, form=form, page=page, options=options)
