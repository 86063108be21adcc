"""The way of wood, and what lay where on a day of the past."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.ways import SUBJECTS, way_of
from rickyard.errors import InputError
from rickyard.measure import LB_KG, Spread
from rickyard.show import Voice
from rickyard.text import T_
from rickyard.web.visit import Here, harvest_words
from rickyard.web.way_chart import way_chart

router = APIRouter(include_in_schema=False)


@router.get("/wood/{subject}/{number:int}/way")
def way(visit: Here, subject: str, number: int) -> Response:
    """From the tree to the household and back, through a load, a stack, a ticket or a household."""
    if subject not in SUBJECTS:
        raise InputError(
            "subject",
            wanted=T_("a load, a stack, a ticket or a household"),
            got=subject,
            next_move=T_("Start from its page."),
            code="unknown_subject",
        )
    found = way_of(visit.desk, subject, number)
    back = {"load": "/wood-in", "stack": "/stacks", "ticket": "/tickets", "household": "/households"}[subject]
    return visit.page(
        "way.html",
        way=found,
        chart=way_chart(found),
        subject=subject,
        back=back,
        short_range=short_range,
        harvests=[(harvest_words(visit.voice, place), share) for place, share in found.harvests],
    )


def short_range(voice: Voice, mass: Spread) -> str:
    """26,700–43,400 lb, beside a bar where there is little room."""
    unit_kg = LB_KG if not voice.metric else 1000.0 if mass.high >= 10_000 else 1.0
    return f"{voice.number(mass.low / unit_kg)}–{voice.mass(mass.high)}"
