"""Suggestions while something is typed: woods, households, loads, places with weather. Parts of pages, for htmx."""

from __future__ import annotations

import re

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from rickyard.desk.households import households_like
from rickyard.desk.paging import MOST_SEARCH
from rickyard.weather import suggest_places
from rickyard.web.household_choice import OPTIONS
from rickyard.web.load_choice import loads_like
from rickyard.web.visit import Here, render, voice_of
from rickyard.wood import suggest_species

router = APIRouter(include_in_schema=False)


@router.get("/species-options")
def species_options(visit: Here) -> Response:
    """Options for the datalist of a species field, from whatever the one field sent holds."""
    before, last = _split_last(_only_value(visit.request)[:120])
    found = suggest_species(last, limit=8) if len(last) > 1 else []
    names = [before + visit.voice.species(species) for species in found]
    return visit.page("parts/options.html", choices=names)


@router.get("/household-options")
def household_options(visit: Here) -> Response:
    """Options for a household, by part of its name or address; the address tells those of one name apart."""
    typed = _only_value(visit.request)[:MOST_SEARCH]
    found = households_like(visit.desk, typed, OPTIONS) if len(typed.strip()) > 1 else []
    return visit.page("parts/household_options.html", choices=found)


@router.get("/load-options")
def load_options(visit: Here) -> Response:
    """Options for a load with wood left, by its number or by part of where it came from."""
    typed = _only_value(visit.request)[:MOST_SEARCH]
    return visit.page("parts/load_options.html", choices=loads_like(visit, typed) if typed.strip() else [])


@router.get("/place-options")
def place_options(request: Request) -> HTMLResponse:
    """Options for the weather place; needed before there is a yard."""
    typed = _only_value(request)[:80]
    labels = [place.label for place in suggest_places(typed, limit=10)] if len(typed) > 1 else []
    return render(request, voice_of(request, None), None, "parts/options.html", choices=labels)


def _only_value(request: Request) -> str:
    """The value of the field that asks: htmx sends it under its own name."""
    known = ("lang", "units")
    return next((value for name, value in request.query_params.multi_items() if name not in known), "")


def _split_last(typed: str) -> tuple[str, str]:
    """Of "60% maple and bir", what stands before the name being typed, and that name."""
    found = re.search(r"[^\W\d_][^,;/&+%\d]*$", typed)
    last = found[0] if found else ""
    joined = re.search(r"^.*\s(?:and|et)\s+", last)
    if joined:
        last = last[joined.end() :]
    return typed[: len(typed) - len(last)], last.strip()
