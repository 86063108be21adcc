"""The sheet of a tree to print: how to know it, its wood, its dangers, and where all that comes from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from rickyard.paper.typeset import STANDING_MM, frame, typeset
from rickyard.show.voice import Voice
from rickyard.text import T_

Refs = tuple[int, ...]


@dataclass(frozen=True)
class SheetState:
    """What a character looks like: the words, its drawing as SVG (empty if there is none), what the drawing shows."""

    label: str
    drawing: str
    alt: str


@dataclass(frozen=True)
class SheetLook:
    """A character as the tree shows it."""

    question: str
    usual: tuple[SheetState, ...]
    also: tuple[str, ...]
    refs: Refs


@dataclass(frozen=True)
class SheetRow:
    """A labelled line with what each group of sources says."""

    label: str
    claims: tuple[tuple[str, Refs], ...]
    note: str = ""


@dataclass(frozen=True)
class SheetPart:
    """A part with its title."""

    id: str
    title: str
    rows: tuple[SheetRow, ...] = ()
    looks: tuple[SheetLook, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SheetData:
    """All that the sheet says, in the reader's words. `made_at` is UTC-aware and the only time in the file.

    `dry` is empty where it was not worked out, else a month and its (middle, range) for each month of stacking.
    """

    name: str
    scientific: str
    stands_in: str
    parts: tuple[SheetPart, ...]
    alike: tuple[tuple[str, str, Refs], ...]
    sources: tuple[str, ...]
    dry: tuple[tuple[str, tuple[str, str]], ...]
    dry_lead: str
    made_at: datetime
    locale: str = "en_CA"
    units: str = "imperial"
    page: Literal["a4", "letter"] = "letter"

    @property
    def voice(self) -> Voice:
        return Voice(self.locale, self.units)


def render_sheet(data: SheetData) -> bytes:
    """The sheet as a tagged PDF; the same data give the same bytes."""
    return typeset("sheet", _words(data), made_at=data.made_at)[0]


def picture_sheet(data: SheetData, ppi: float = 110.0) -> list[bytes]:
    """Its pages as PNG."""
    return typeset("sheet", _words(data), made_at=data.made_at, output="png", ppi=ppi)


def _words(data: SheetData) -> dict[str, Any]:
    voice = data.voice
    return frame(voice, STANDING_MM[data.page]) | {
        "title": voice.text(T_("{name}: the sheet", name=data.name)),
        "name": data.name,
        "scientific": data.scientific,
        "stands_in": data.stands_in,
        "parts": [_part(voice, part) for part in data.parts],
        "alike": [
            {"name": name, "note": note, "refs": _refs(refs)} for name, note, refs in data.alike
        ],
        "dry": [{"month": month, "main": main, "span": span} for month, (main, span) in data.dry],
        "dry_lead": data.dry_lead,
        "sources": list(data.sources),
        "words": {
            "alike": voice.text(T_("Taken for it")),
            "sources": voice.text(T_("Where this comes from")),
            "dry": voice.text(T_("Dry at the yard, stacked on the first of")),
        },
        "foot": voice.text(
            T_("Every figure is an estimate; ranges run from the 10th to the 90th percentile.")
        ),
    }  # fmt: skip


def _part(voice: Voice, part: SheetPart) -> dict[str, Any]:
    return {
        "id": part.id,
        "title": part.title,
        "rows": [
            {
                "label": row.label,
                "claims": [{"words": words, "refs": _refs(refs)} for words, refs in row.claims],
                "note": row.note,
            }
            for row in part.rows
        ],
        "looks": [
            {
                "question": look.question,
                "states": [
                    {"label": state.label, "drawing": state.drawing, "alt": state.alt} for state in look.usual
                ],
                "also": voice.text(T_("also: {states}", states=", ".join(look.also))) if look.also else "",
                "refs": _refs(look.refs),
            }
            for look in part.looks
        ],
        "notes": list(part.notes),
    }


def _refs(refs: Refs) -> str:
    return f"[{', '.join(map(str, refs))}]" if refs else ""
