"""The drawings of the tree key: which file shows a state, and the words for those who do not see it.

Drawings of one subject stand in one file, each under its own name, so that a phone keeps all in a few files:
`<img src="{{ asset(drawing.file) }}#{{ drawing.view }}" width="96" height="96" alt="{{ drawing.alt }}">`.
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

SHEETS: dict[str, tuple[str, ...]] = {
    "leaves": (
        *("leaf_kind", "arr", "leaf_comp", "leaflet_n", "leaf_shape", "leaf_edge", "lobe_tip", "sinus"),
        *("leaf_base", "leaf_feel", "leaf_under", "leaf_stalk", "milky_sap", "leaf_hold", "leaf_size"),
    ),
    "needles": ("needle_bundle", "needle_form", "needle_len", "needle_scar", "cone"),
    "fruits": ("fruit", "acorn_cup", "acorn_stalk", "nut_husk", "key_wings", "pod"),
    "twigs": (
        *("end_bud", "bud_form", "bud_col", "bud_cover", "twig_col", "twig_stout"),
        *("pith", "leaf_scar", "thorns", "cork_wing", "spurs"),
    ),
    "trunk": ("trunk_shape", "form"),
    "bark": (
        *("bark_tex", "bark_col", "bark_thick", "bark_slice", "inner_bark", "inner_feel"),
        *("lenticel", "ski_stripe", "blisters"),
    ),
    "wood": (
        *("ring_wave", "contrast", "sapwood", "heart_col", "air_change", "split_way"),
        *("pitch", "red_streak", "water_tint", "uv_glow", "ray_flake"),
    ),
    "grain": (
        *("porosity", "rays", "late_pores", "early_row", "plugged", "fine_lines", "resin_can", "ew_lw"),
    ),
}
"""The characters that each file shows."""
_SHEET_OF = {character: sheet for sheet, characters in SHEETS.items() for character in characters}


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
    if alt is None:
        return None
    return KeyDrawing(f"{FOLDER}/{_SHEET_OF[character]}.svg", f"{character}.{state}", alt)


@cache
def standalone(character: str, state: str) -> str:
    """One state as a picture of its own; KeyError if there is none."""
    found = drawing(character, state)
    if found is None:
        raise KeyError(f"{character}/{state}")
    text = (ROOT / found.file).read_text(encoding="utf-8")
    name = re.escape(found.view)
    view = _one(rf'<view id="{name}" viewBox="([\d ]+)"/>', text)
    group = _one(rf'^(<g id="{name}-".*</g>)$', text)
    pen = _one(r"(<g fill=[^>]*>)", text)
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}">{pen}{group}</g></svg>\n'


def _one(pattern: str, text: str) -> str:
    found = re.search(pattern, text, flags=re.MULTILINE)
    if found is None:
        raise KeyError(pattern)
    return found.group(1)
