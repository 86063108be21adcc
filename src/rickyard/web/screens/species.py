"""The sheets of trees and their comparison, on the phone and on paper.

Sheets are shown by a script (`static/js/species`) from one table that the phone keeps, so that all of them open
without signal; how a wood dries at the yard's place fills in when it is worked out.
"""

from __future__ import annotations

import gzip
import json
from dataclasses import replace
from typing import Any, Literal

from fastapi import APIRouter
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from rickyard.desk.answers import CalendarLine, HurriedLine, calendar_line
from rickyard.desk.sheets import name_of, tree_of
from rickyard.identify import KeySpecies, the_key
from rickyard.paper import render_sheet
from rickyard.web.offline import HEADER as WORKS_OFFLINE
from rickyard.web.offline import mark_of, works_offline
from rickyard.web.screens.answers import answers_of
from rickyard.web.sheets import cells, list_of_trees, sheet_data, sheet_table, thickness_m
from rickyard.web.visit import Here, Visit

router = APIRouter(include_in_schema=False)

COVER = "top"
COMPARE = "compare"


@router.get("/species")
@works_offline()
def trees(visit: Here) -> Response:
    """Every tree of the key, to open its sheet or to choose some for comparing."""
    return visit.page("species.html", trees=list_of_trees(visit.voice))


@router.get("/species/sheet")
@works_offline()
def any_sheet(visit: Here) -> Response:
    """The frame that stands in for all sheets and comparisons without signal."""
    return visit.page("species_sheet.html", tree=None, name="")


@router.get("/species/table.json")
@works_offline()
def table(visit: Here) -> Response:
    """All sheets; without waiting for drying that is not worked out, which is then begun."""
    answers = answers_of(visit)
    line = _line(visit, the_key().species[0].wood.id)
    dry: dict[str, Any] = {}
    for wood in dict.fromkeys(tree.wood.id for tree in the_key().species if tree.wood.rank != "unnamed"):
        asked = replace(line, species_id=wood)
        answer = answers.get(asked) if answers.background else answers.peek(asked)
        if answer is not None and answer.state == "ready":
            dry[wood] = answer.value
    made = sheet_table(visit.voice, visit.request.app.state.assets, dry, line, visit.desk.now())
    body = json.dumps(made, ensure_ascii=False, separators=(",", ":")).encode()
    headers = {"Cache-Control": "no-cache", "Vary": "Accept-Encoding"}
    if "gzip" in visit.request.headers.get("accept-encoding", ""):
        # A fifth of the size, for a phone on a thin signal.
        body, headers["Content-Encoding"] = gzip.compress(body, 6, mtime=0), "gzip"
    mark = mark_of(visit.request)
    if mark is not None:
        headers[WORKS_OFFLINE] = mark.each
    return Response(body, media_type="application/json", headers=headers)


@router.get("/species/{name}/drying.json")
def drying(visit: Here, name: str) -> Response:
    """How the wood of one tree dries here: `ready` with its cells, `waiting`, `failed`, or `none`."""
    tree = _tree(name)
    if tree.wood.rank == "unnamed":
        return JSONResponse({"state": "none"})
    line = _line(visit, tree.wood.id)
    answer = answers_of(visit).get(HurriedLine(**line.__dict__))
    if answer.state != "ready":
        return JSONResponse({"state": answer.state})
    day = visit.voice.date(visit.today)
    return JSONResponse({"state": "ready", "cells": cells(visit.voice, answer.value), "made": day})


@router.get("/species/{name}.pdf")
def printed(visit: Here, name: str, paper: str = "") -> Response:
    """The sheet to print, with the drying if it is worked out by now."""
    tree = _tree(name)
    page: Literal["a4", "letter"] = "a4" if paper == "a4" else "letter"
    line = _line(visit, tree.wood.id)
    answer = answers_of(visit).peek(line)
    ready = answer is not None and answer.state == "ready" and tree.wood.rank != "unnamed"
    data = sheet_data(
        visit.voice,
        tree.id,
        row=answer.value if answer is not None and ready else None,
        line=line,
        made_at=visit.desk.now(),
        page=page,
    )
    return Response(
        render_sheet(data),
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{tree.id}.pdf"'},
    )


@router.get("/species/{name}")
@works_offline(each="stood_in")
def one_sheet(visit: Here, name: str) -> Response:
    """The sheet of one tree; `compare` lays two or three side by side (`?of=` each)."""
    if name == COMPARE:
        return visit.page("species_sheet.html", tree=None, name="")
    tree = _tree(name)
    return visit.page("species_sheet.html", tree=tree, name=name_of(visit.voice, tree))


def _tree(name: str) -> KeySpecies:
    tree = tree_of(name)
    if tree is None:
        raise HTTPException(404)
    return tree


def _line(visit: Visit, wood: str) -> CalendarLine:
    """The line of the yard's drying calendar that a sheet shows."""
    return calendar_line(visit.desk, wood, thickness_m(visit.facts.units), cover=COVER)
