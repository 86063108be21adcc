"""Reading a size as it stands in a cell of a list: `2.44`, `8ft`, `40 cm`, `16 1/2 in`, `8' 4"`, `12 po`.

Only for lists that come as files; what people type into forms is read by `rickyard.show`.
"""

from __future__ import annotations

import re
from fractions import Fraction

from rickyard.errors import InputError
from rickyard.measure.defects import DEFECT_KINDS, Defect
from rickyard.measure.units import FT_M, IN_M
from rickyard.text import T_

UNITS_M: dict[str, float] = {
    "m": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "mètre": 1.0,
    "mètres": 1.0,
    "cm": 0.01,
    "mm": 0.001,
    "ft": FT_M,
    "foot": FT_M,
    "feet": FT_M,
    "pi": FT_M,
    "pied": FT_M,
    "pieds": FT_M,
    "'": FT_M,
    "in": IN_M,
    "inch": IN_M,
    "inches": IN_M,
    "po": IN_M,
    "pouce": IN_M,
    "pouces": IN_M,
    '"': IN_M,
}
"""Words and signs of length, English and French [m]."""

_SIGNS = str.maketrans(
    {"’": "'", "′": "'", "‘": "'", "″": '"', "”": '"', "“": '"', "\u00a0": " ", "\u202f": " "}
)
_NUMBER = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
_PART = re.compile(rf"\s*(?P<number>[-+]?{_NUMBER})\s*(?P<unit>[^\W\d_]+|['\"])?\.?")


class CellError(ValueError):
    """A cell that is no size. The caller knows the line and the field."""


class NoUnitError(CellError):
    """A bare number where neither the cell nor the column says the unit."""


def read_size(cell: str, unit: str | None, *, decimal_comma: bool) -> float:
    """The size in a cell [m].

    Parameters
    ----------
    cell
        A number with or without a unit, or feet and inches.
    unit
        Unit of a bare number, one of `UNITS_M`; None if the column names none.
    decimal_comma
        Whether a comma is a decimal sign; else a comma is refused, since it may part thousands.

    Raises CellError if the cell is no size, NoUnitError if its unit is not known.
    """
    text = cell.translate(_SIGNS).strip().replace("''", '"').casefold()
    if not text:
        raise CellError(cell)
    if "," in text and not decimal_comma:
        raise CellError(cell)
    total, place, parts = 0.0, 0, 0
    last_m = float("inf")
    while place < len(text):
        match = _PART.match(text, place)
        if match is None or parts == 2:
            raise CellError(cell)
        word = match["unit"] or (("in" if parts else unit) or "")
        if not word:
            raise NoUnitError(cell)
        if word not in UNITS_M or UNITS_M[word] >= last_m or (parts and not match["unit"] and last_m != FT_M):
            raise CellError(cell)
        number = read_number(match["number"])
        if parts and number < 0:
            raise CellError(cell)
        total += number * UNITS_M[word]
        last_m, place, parts = UNITS_M[word], match.end(), parts + 1
        if not text[place:].strip():
            break
    return total


_DEFECT = re.compile(r"^(?P<from>.+?)\s*-\s*(?P<to>.+?)\s*:\s*(?P<kind>\w+)\s*(?:=\s*(?P<size>.+))?$")


OTHER_WORDS: dict[str, str] = {
    "nail": "metal",
    "nails": "metal",
    "wire": "metal",
    "iron": "metal",
    "steel": "metal",
    "clou": "metal",
    "métal": "metal",
    "crotch": "fork",
    "fourche": "fork",
    "decay": "rot",
    "pourriture": "rot",
    "creux": "hollow",
    "knots": "knot",
    "nœud": "knot",
    "noeud": "knot",
}
"""What lists to be cut call a defect, beside our own words."""


def read_defects(cell: str, unit: str | None, *, decimal_comma: bool) -> tuple[Defect, ...]:
    """The defects in a cell such as `0-0.6m:hollow=20cm|1.2-1.5m:metal|2-3m:rot=50%`, parted by | or ;.

    A bare number before the colon is in `unit`; the first of two may take the unit of the second.
    Raises CellError.
    """
    found = []
    for part in re.split(r"[|;]", cell):
        if not part.strip():
            continue
        match = _DEFECT.match(part.strip())
        if match is None:
            raise CellError(cell)
        word = match["kind"].casefold()
        kind = next((name for name in DEFECT_KINDS if name == OTHER_WORDS.get(word, word)), None)
        if kind is None:
            raise CellError(cell)
        told = re.search(r"([^\W\d_]+|['\"])\s*$", match["to"].translate(_SIGNS))
        first_unit = told[1].casefold() if told and told[1].casefold() in UNITS_M else unit
        size = (match["size"] or "").strip()
        share = diameter = None
        if size.endswith("%"):
            share = read_number(size[:-1].strip()) / 100.0
        elif size:
            diameter = read_size(size, None, decimal_comma=decimal_comma)
        found.append(
            Defect(
                kind,
                read_size(match["from"], first_unit, decimal_comma=decimal_comma),
                read_size(match["to"], unit, decimal_comma=decimal_comma),
                diameter,
                share,
            )
        )
    return tuple(found)


def defects_from(text: str, *, unit: str | None = "m", field: str = "defects") -> tuple[Defect, ...]:
    """The defects of one log as `read_defects` takes them. Raises InputError for `field`."""
    try:
        return read_defects(text, unit, decimal_comma=False)
    except CellError as error:
        raise InputError(
            field,
            wanted=T_("defects like 0-0.6m:hollow=20cm, 1.2-1.5m:metal or 2-3m:rot=50%"),
            got=text[:60],
            next_move=T_(
                "From and to are counted from the thick end; kinds are {names}; part several by |.",
                names=", ".join(DEFECT_KINDS),
            ),
        ) from error


def read_number(text: str) -> float:
    """A number with a decimal point or comma, a fraction (`1/2`) or both (`16 1/2`). Raises CellError."""
    sign = -1.0 if text.startswith("-") else 1.0
    try:
        return sign * float(sum(Fraction(part) for part in text.lstrip("+-").replace(",", ".").split()))
    except (ValueError, ZeroDivisionError) as error:
        raise CellError(text) from error
