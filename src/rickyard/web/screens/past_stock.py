"""What lay where on a day of the past."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import Response

from rickyard.desk.past_stock import StockLine, stock_on, summed
from rickyard.web.forms import FormProblem
from rickyard.web.visit import Here, harvest_words

# Each has several lines of wood: on a phone more are too long a way to scroll.
A_PAGE = 15
router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class PlaceOnDay:
    """A load or a stack with what lay there."""

    kind: str
    number: int
    name: str
    lines: tuple[StockLine, ...]

    @property
    def kg(self) -> float:
        return sum(line.kg for line in self.lines)


@router.get("/stock")
def stock_page(visit: Here, on: str = "", after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0) -> Response:
    """Of today unless a day is asked for; `after`: so many places were on the pages before."""
    form = visit.form(on=visit.today)
    day, lines, status = None, list[StockLine](), 200
    try:
        if on.strip():
            form.typed["on"] = [on[:40]]
        asked = form.day("on", visit.today)
        form.check()
        with form.asking():
            lines = stock_on(visit.desk, asked)
        day = asked
    except FormProblem:
        status = 422
    places = [
        PlaceOnDay(*place, tuple(found))
        for place, found in groupby(lines, key=lambda line: (line.kind, line.number, line.name))
    ]
    return visit.page(
        "stock.html",
        status,
        form=form,
        day=day,
        totals=summed(lines),
        whole_kg=sum(line.kg for line in lines),
        count=len(places),
        places=places[after : after + A_PAGE],
        after=after + A_PAGE if len(places) > after + A_PAGE else 0,
        harvest_words=harvest_words,
    )
