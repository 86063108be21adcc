"""Complaints about an option said in the unit that was typed: `--hand 3in` is told inches, not metres."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from rickyard.errors import InputError
from rickyard.text import T_, Quantity, Text

OTHER_OPTIONS = {"kerf": "kerf_mm", "trim": "trim_cm", "net": "net"}
"""Fields that the sums call otherwise than the option does."""

_KINDS = {"tall": "length", "side": "length", "size": "length", "outside": "volume", "mass": "mass"}
_UNIT = re.compile(r"[\d.,\s/½¼¾⅓⅔]+(?P<unit>[^\d\s.,+-][^\d]*)?$")


def said_as_typed(error: InputError, arguments: Sequence[str]) -> dict[str, Any]:
    """The error object, its figures in the unit of the option's value and the value as it was typed."""
    known = error.as_dict()
    field = OTHER_OPTIONS.get(error.field, error.field)
    typed = _typed(field, arguments)
    if not typed or not (isinstance(error.got, Quantity) or _holds_quantities(error.wanted)):
        return known
    unit = _unit_of(typed[0], field)
    got = error.got
    if isinstance(got, Quantity):
        got = _as_typed(typed[0], unit) if len(typed) == 1 else _said(got, unit)
    text = T_(
        "{field}: wanted {wanted}, got {got}. {next_move}",
        field=field,
        wanted=_in_unit(error.wanted, unit),
        got=got,
        next_move=_in_unit(error.next_move, unit),
    )
    return known | {"field": field, "message": str(text)}


def _as_typed(text: str, unit: Any) -> str:
    """As it was typed, with the unit that the option's name gives a bare number."""
    return f"{text} {unit.symbol('en_CA')}" if unit is not None and text[-1:].isdigit() else text


def _typed(field: str, arguments: Sequence[str]) -> list[str]:
    """What stands after the option of a field, if it is there once."""
    name = "--" + field.replace("_", "-")
    found: list[str] = []
    for place, argument in enumerate(arguments):
        if argument == name:
            follows = arguments[place + 1 : place + (3 if field == "ends" else 2)]
            found += [text for text in follows if not text.startswith("--")]
        elif argument.startswith(name + "="):
            found.append(argument.partition("=")[2])
    return found


def _unit_of(typed: str, field: str) -> Any:
    """The unit that a text ends with; that of the option's name, or None, where it is a bare number."""
    from rickyard.show.parse import unit_named
    from rickyard.show.symbols import LENGTHS, MASSES, VOLUMES, fold

    ends = _UNIT.search(fold(typed).lstrip("+-"))
    word = (ends["unit"] or "").strip() if ends else ""
    if not word:
        word = field.rpartition("_")[2] if field.endswith(("_mm", "_cm")) else ""
    if not word:
        return None
    for kind in (LENGTHS, VOLUMES, MASSES):
        named = unit_named(word, kind)
        if named is not None:
            return named
    return None


def _said(quantity: Quantity, unit: Any) -> str:
    from rickyard.show.parse import tidy
    from rickyard.show.symbols import LENGTHS, MASSES, VOLUMES

    groups = {"length": LENGTHS, "volume": VOLUMES, "mass": MASSES}
    if unit is None or all(unit is not one for one in groups[_KINDS[quantity.kind]]):
        return str(quantity)
    return f"{tidy(round(quantity.value / unit.size, 9))} {unit.symbol('en_CA')}"


def _in_unit(text: Text, unit: Any) -> Text:
    return Text(
        text.msgid,
        {
            name: _said(value, unit)
            if isinstance(value, Quantity)
            else _in_unit(value, unit)
            if isinstance(value, Text)
            else value
            for name, value in text.values.items()
        },
    )


def _holds_quantities(text: Text) -> bool:
    return any(
        isinstance(value, Quantity) or (isinstance(value, Text) and _holds_quantities(value))
        for value in text.values.values()
    )
