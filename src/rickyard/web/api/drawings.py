"""The fan of a stack as columns of figures, for the chart in the page."""

from __future__ import annotations

from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel

from rickyard.desk.forecasts import outlook
from rickyard.desk.readings import readings
from rickyard.desk.stacks import stack_page
from rickyard.desk.yards import yard_facts
from rickyard.text import T_
from rickyard.web import charts
from rickyard.web.api.common import ERRORS, Number, TheDesk
from rickyard.web.visit import voice_of

router = APIRouter(prefix="/api", tags=["stacks"], responses=ERRORS)


class FanReading(BaseModel):
    """A reading as a point: what it means in this wood, and 80 % of its spread."""

    day: date
    mc_wet: float
    low: float
    high: float
    kind: str


class FanOut(BaseModel):
    """Moisture of total mass by day, and the chart's own labels in the user's language.

    `ready_first` and `ready_last` are the 10th and 90th percentile of the day it becomes dry enough.
    """

    known: bool
    dates: list[date]
    p10: list[float]
    p50: list[float]
    p90: list[float]
    target_mc_wet: float
    ready_first: date | None
    ready_last: date | None
    today: date
    readings: list[FanReading]
    words: dict[str, str]


@router.get("/stacks/{stack_id}/fan")
def stack_fan(request: Request, desk: TheDesk, stack_id: Number) -> FanOut:
    """As far as it is worth showing: two months past the likely day, and past today."""
    stack_page(desk, stack_id)
    look = outlook(desk, stack_id)
    today = desk.today()
    count = charts.shown_days(look, today) if look.known else 0
    points: list[FanReading] = []
    for line in readings(desk, stack_id):
        means: tuple[float, float] | None = charts.reading_mc_wet(line, look)
        if means is not None:
            reach = 1.2816 * means[1]
            points.append(
                FanReading(
                    day=line.happened_on,
                    mc_wet=means[0],
                    low=max(0.0, means[0] - reach),
                    high=means[0] + reach,
                    kind=line.kind,
                )
            )
    return FanOut(
        known=look.known,
        dates=list(look.dates[:count]),
        p10=list(look.p10[:count]),
        p50=list(look.p50[:count]),
        p90=list(look.p90[:count]),
        target_mc_wet=look.target_mc_wet,
        ready_first=look.ready_p10,
        ready_last=look.ready_p90,
        today=today,
        readings=points,
        words=_words(request, desk),
    )


def _words(request: Request, desk: Any) -> dict[str, str]:
    voice = voice_of(request, yard_facts(desk))
    said = {
        "readout": T_("{day}: {mid} {basis}, {low} to {high}"),
        "target": T_("dry enough"),
        "today": T_("today"),
        "wet": T_("of total mass"),
        "dry": T_("of dry mass"),
        "show_dry": T_("Show as % of dry mass"),
        "show_wet": T_("Show as % of total mass"),
    }
    return {name: voice.text(text) for name, text in said.items()} | {"locale": voice.html_lang}
