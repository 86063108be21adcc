"""How a value of the book stands in a cell of an exported table, exactly and on one line; docs/export.md says it all.

The kinds are those of the columns as the database itself names them, so that tables of any version can be read.
"""

from __future__ import annotations

import base64
import json
import math
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa

from rickyard.book.types import UtcDateTime

NOTHING = r"\N"
# Kind of a column, by the first type that fits, and the type with which it is read and written.
_KINDS: tuple[tuple[str, type[Any], Any], ...] = (
    ("yes_no", sa.Boolean, sa.Boolean()),
    ("whole", sa.Integer, sa.BigInteger()),
    ("number", sa.Numeric, sa.Double()),
    ("moment", sa.DateTime, UtcDateTime()),
    ("day", sa.Date, sa.Date()),
    ("json", sa.JSON, sa.Text()),
    ("bytes", sa.LargeBinary, sa.LargeBinary()),
    ("text", sa.String, sa.Text()),
)
TYPES = {name: made for name, _, made in _KINDS}
_ESCAPED = str.maketrans({"\\": "\\\\", "\n": "\\n", "\r": "\\r"})
_UNESCAPES = {"\\": "\\", "n": "\n", "r": "\r"}


def kind_of(column: sa.Column[Any]) -> str:
    """The kind of a column. TypeError for a type that no export knows: it must be added here."""
    kept_as = column.type.impl_instance if isinstance(column.type, sa.TypeDecorator) else column.type
    for name, wanted, _ in _KINDS:
        if isinstance(kept_as, wanted):
            return name
    if isinstance(kept_as, sa.Float):
        return "number"
    raise TypeError(f"no kind for the column {column}: {column.type!r}")


def cell_of(kind: str, value: Any) -> str:
    """The value as text. ValueError if the database holds something else than the column's kind."""
    if value is None:
        return NOTHING
    return _WRITE[kind](value)


def value_of(kind: str, cell: str) -> Any:
    """What the text stands for. ValueError if it is none of this kind."""
    return None if cell == NOTHING else _READ[kind](cell)


def _whole(value: Any) -> str:
    if type(value) is not int:
        raise ValueError(f"{value!r} is no whole number")
    return str(value)


def _number(value: Any) -> str:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"{value!r} is no number")
    return repr(number)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is no text")
    return value.translate(_ESCAPED)


def _read_text(cell: str) -> str:
    if "\\" not in cell:
        return cell
    letters: list[str] = []
    following = iter(cell)
    for letter in following:
        if letter == "\\":
            escaped = next(following, "")
            if escaped not in _UNESCAPES or not escaped:
                raise ValueError(f"{cell!r} ends a backslash with {escaped!r}")
            letters.append(_UNESCAPES[escaped])
        else:
            letters.append(letter)
    return "".join(letters)


def _read_json(cell: str) -> str:
    text = _read_text(cell)
    json.loads(text)
    return text


def _read_number(cell: str) -> float:
    number = float(cell)
    if not math.isfinite(number):
        raise ValueError(f"{cell!r} is no number")
    return number


def _yes_no(cell: str) -> bool:
    if cell not in ("yes", "no"):
        raise ValueError(f"{cell!r} is neither yes nor no")
    return cell == "yes"


def _read_moment(cell: str) -> datetime:
    moment = datetime.fromisoformat(cell)
    if moment.tzinfo is None:
        raise ValueError(f"{cell!r} has no time zone")
    return moment


_WRITE: dict[str, Callable[[Any], str]] = {
    "yes_no": lambda value: "yes" if value else "no",
    "whole": _whole,
    "number": _number,
    "moment": lambda value: value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
    "day": lambda value: value.isoformat(),
    "json": _text,
    "bytes": lambda value: base64.b64encode(bytes(value)).decode(),
    "text": _text,
}
_READ: dict[str, Callable[[str], Any]] = {
    "yes_no": _yes_no,
    "whole": int,
    "number": _read_number,
    "moment": _read_moment,
    "day": date.fromisoformat,
    "json": _read_json,
    "bytes": lambda cell: base64.b64decode(cell, validate=True),
    "text": _read_text,
}
