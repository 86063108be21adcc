"""Name the tree: a page that reckons on the phone (`static/js/identify`), so that it works without signal."""

from __future__ import annotations

import json

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.identify import REGIONS, SITUATION_WORDS
from rickyard.text import T_
from rickyard.web.offline import works_offline
from rickyard.web.tree_words import tree_words
from rickyard.web.visit import Here

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
@works_offline()
def tree(visit: Here) -> Response:
    """The frame, the words and the drawings' addresses; what is answered is known to the phone alone."""
    voice = visit.voice
    form = visit.form(grew_in=region_of(visit.facts.country, visit.facts.subdivision))
    return visit.page(
        "tree.html",
        form=form,
        situations=[(name, voice.text(words)) for name, words in SITUATION_WORDS.items()],
        regions=[
            ("", voice.text(T_("not known"))),
            *((name, voice.text(text)) for name, text in REGIONS.items()),
        ],
        words=json.dumps(tree_words(voice, visit.request.app.state.assets), ensure_ascii=False),
    )
