"""The drawings of the tree key: which file shows a state, and the words for those who do not see it.

A character's states stand side by side in one file, each under its own name, so that a page fetches one file
for a whole question: `<img src="{{ asset(drawing.file) }}#{{ drawing.view }}" alt="{{ drawing.alt }}">`.
`standalone` cuts one state out, for papers. The files are made by `python scripts/drawings`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from rickyard.text import Text
from rickyard.web.assets import ROOT
from rickyard.web.drawing_words import ALT

FOLDER = "drawings"


@dataclass(frozen=True)
class KeyDrawing:
    """One state's picture.

    `file` is the name of the static file, `view` the part of it that shows the state, `alt` what it shows.
    """

    file: str
    view: str
    alt: Text


def drawing(character: str, state: str) -> KeyDrawing | None:
    """The picture of a state; None for what cannot be drawn, such as a smell."""
    alt = ALT.get(character, {}).get(state)
    return None if alt is None else KeyDrawing(f"{FOLDER}/{character}.svg", state, alt)


@cache
def standalone(character: str, state: str) -> str:
    """One state as a picture of its own; KeyError if there is none."""
    found = drawing(character, state)
    if found is None:
        raise KeyError(f"{character}/{state}")
    text = (ROOT / found.file).read_text(encoding="utf-8")
    view = _one(rf'<view id="{re.escape(state)}" viewBox="([-\d ]+)"/>', text)
    group = _one(rf'^(<g id="{re.escape(state)}-".*</g>)$', text)
    pen = _one(r"(<g fill=[^>]*>)", text)
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}">{pen}{group}</g></svg>\n'


def _one(pattern: str, text: str) -> str:
    found = re.search(pattern, text, flags=re.MULTILINE)
    if found is None:
        raise KeyError(pattern)
    return found.group(1)
