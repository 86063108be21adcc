"""Name the tree: a page that reckons on the phone (`static/js/identify`), so that it works without signal.

What it keeps and names goes through the outbox like every report from the yard.
"""

from __future__ import annotations

import json

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.naming import KeepSeen, NameWood, keep_seen, name_wood
from rickyard.identify import REGIONS, SITUATION_WORDS
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.offline import works_offline
from rickyard.web.screens.seen import (
    DESK_NAMES,
    logs_of,
    part_of,
    read_seen,
    said_of,
    share_of,
    tree_facts,
)
from rickyard.web.tree_words import tree_words
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

_REGION_OF = {
    "NE": "CA-NB CA-NS CA-PE CA-NL CA-QC US-CT US-DE US-MA US-MD US-ME US-NH US-NJ US-NY US-PA US-RI US-VT US-WV US-DC",
    "LS": "CA-ON US-IA US-IL US-IN US-MI US-MN US-MO US-OH US-WI",
    "SE": "US-AL US-AR US-FL US-GA US-KY US-LA US-MS US-NC US-SC US-TN US-VA",
    "GP": "CA-AB CA-MB CA-SK US-KS US-ND US-NE US-OK US-SD US-TX",
    "RM": "US-CO US-ID US-MT US-NV US-UT US-WY",
    "SW": "US-AZ US-NM",
    "PC": "CA-BC US-AK US-CA US-OR US-WA",
}
"""Which region of the key a state or province is counted to: a judgement, and the user may say another."""


def region_of(country: str, subdivision: str) -> str:
    """The key's region of a state or province; empty if it has none."""
    place = f"{country}-{subdivision}"
    return next((region for region, places in _REGION_OF.items() if place in places.split()), "")


@router.get("/tree")
@works_offline(queues=T_("a named tree"))
def tree(visit: Here) -> Response:
    """The frame, the words and the drawings' addresses; what is answered is known to the phone alone."""
    return tree_page(visit, visit.form())


@router.post("/tree/seen")
def put_in_the_book(visit: Here, sent: Sent) -> Response:
    """From the page that names trees, mostly through the outbox: names wood of a load, or only keeps what was seen."""
    form = visit.sent(sent)
    try:
        seen = read_seen(form)
        part = part_of(visit, form)
        told = visit.told(form)
        logs, share = logs_of(form), share_of(form)
        note, now = form.text("note"), form.text("now")
        form.check()
        with form.asking(**DESK_NAMES):
            if part and now:
                answer = name_wood(
                    visit.desk,
                    NameWood(
                        **told,
                        load_id=part[0],
                        was=part[1],
                        now=now,
                        logs=logs,
                        share=share,
                        seen=seen,
                        note=note,
                    ),
                )
            else:
                load_id, was = part or (None, "")
                answer = keep_seen(
                    visit.desk,
                    KeepSeen(
                        **told,
                        seen=seen,
                        load_id=load_id,
                        was=was,
                        logs=logs if part else (),
                        share=share,
                        note=note,
                    ),
                )
    except FormProblem:
        return tree_page(visit, form, 422)
    return visit.go(f"/tree/seen/{answer['naming_id']}", said_of(answer, part, now))


def tree_page(visit: Visit, form: Form, status: int = 200) -> Response:
    voice = visit.voice
    form.typed.setdefault("grew_in", [region_of(visit.facts.country, visit.facts.subdivision)])
    facts = tree_facts(visit)
    return visit.page(
        "tree.html",
        status,
        form=form,
        situations=[(name, voice.text(words)) for name, words in SITUATION_WORDS.items()],
        regions=[
            ("", voice.text(T_("not known"))),
            *((name, voice.text(text)) for name, text in REGIONS.items()),
        ],
        words=json.dumps(
            tree_words(voice, visit.request.app.state.assets, facts["known"]), ensure_ascii=False
        ),
        **facts,
    )
