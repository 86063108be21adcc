"""Sets a page: a Typst template of ours and data as JSON, no system fonts, no clock, no network."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

import typst

from rickyard.show.voice import Voice

STANDING_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Paper sizes, standing: width and height [mm]."""


@lru_cache(maxsize=8)
def _template(name: str) -> bytes:
    return (files("rickyard.paper") / f"{name}.typ").read_bytes()


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    """Only the fonts inside the library, so that every machine sets the same page."""
    return typst.Fonts(include_system_fonts=False)


def frame(voice: Voice, size_mm: tuple[float, float]) -> dict[str, Any]:
    """What every template is given: the language it speaks and its page, width and height [mm]."""
    width, height = size_mm
    return {
        "lang": voice.cldr.language,
        "region": voice.cldr.territory,
        "page": {"width": width, "height": height},
    }


def typeset(
    template: str,
    data: Mapping[str, Any],
    *,
    made_at: datetime,
    output: Literal["pdf", "png"] = "pdf",
    ppi: float = 144.0,
) -> list[bytes]:
    """A PDF (one item) or its pages as PNG, from `template`.typ and data.

    The data go in as one JSON input and are never spliced into the template.
    `made_at` (UTC-aware) is the only time in the file, so that the same data give the same bytes.
    The PDF is tagged for screen readers (PDF/UA-1).
    """
    if made_at.tzinfo is None:
        raise ValueError(f"a moment without a time zone cannot be printed: {made_at!r}")
    made = typst.compile(
        _template(template),
        format=output,
        ppi=ppi if output == "png" else None,
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={template: json.dumps(data, ensure_ascii=False, sort_keys=True)},
        pdf_standards=["ua-1"] if output == "pdf" else [],
        timestamp=int(made_at.timestamp()),
    )
    if made is None:
        raise RuntimeError("the typesetter gave nothing back")
    return [made] if isinstance(made, bytes) else list(made)
