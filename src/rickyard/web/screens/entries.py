"""An entry of the journal by itself."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.entries import entry_page
from rickyard.web import entry_words as words
from rickyard.web.visit import Here, harvest_words

router = APIRouter(include_in_schema=False)


@router.get("/entries/{number:int}")
def one_entry(visit: Here, number: int) -> Response:
    voice = visit.voice
    return visit.page(
        "entry.html",
        entry=entry_page(visit.desk, number),
        in_utc=words.in_utc,
        reason_words=lambda reason: words.reason_words(voice, reason),
        place_words=lambda line: words.place_words(voice, line),
        form_words=lambda form: words.form_words(voice, form),
        method_words=lambda method: words.method_words(voice, method),
        quantity_words=lambda line: words.quantity_words(voice, line),
        range_words=lambda line: words.range_words(voice, line),
        harvest_words=lambda harvest: harvest_words(voice, harvest),
    )
