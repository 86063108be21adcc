"""Makes the body of a request out of a desk's command, so that the two cannot drift apart.

The desk's commands are dataclasses in plain types. From the network come figures without bound, moments
without a zone and signs that no database takes; the model made here refuses them before the desk sees them,
and says so in the OpenAPI document.
"""

from __future__ import annotations

import types
from dataclasses import MISSING, fields, is_dataclass
from datetime import date, datetime
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic import (
    AfterValidator,
    AwareDatetime,
    Base64Bytes,
    BaseModel,
    ConfigDict,
    Field,
    FiniteFloat,
    StrictBool,
    create_model,
)

MOST_TEXT = 2000
MOST_ITEMS = 2000
# Whole numbers that any database and any JavaScript program can hold.
MOST_COUNT = 2**31 - 1


def _plain_text(text: str) -> str:
    """Refuses lone surrogates and the null character, which no database takes."""
    if "\x00" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise ValueError("text may not hold null characters or broken surrogates")
    return text


PlainText = Annotated[str, Field(max_length=MOST_TEXT), AfterValidator(_plain_text)]
Count = Annotated[int, Field(ge=-MOST_COUNT, le=MOST_COUNT, strict=True)]
Id = Annotated[int, Field(ge=1, le=MOST_COUNT)]
Figure = Annotated[FiniteFloat, Field(ge=-1e15, le=1e15)]
Key = Annotated[str, Field(min_length=8, max_length=64), AfterValidator(_plain_text)]

# The photo as base64; the desk says how large it may be.
Bytes = Annotated[Base64Bytes, Field(max_length=11_000_000)]

_BOUNDED: dict[Any, Any] = {
    bytes: Bytes,
    str: PlainText,
    int: Count,
    float: Figure,
    bool: StrictBool,
    date: date,
    datetime: AwareDatetime,
    types.NoneType: None,
}


# One model for each command, however often it is asked for: OpenAPI names schemas by class.
_MADE: dict[type[Any], type[BaseModel]] = {}


def body_model(command: type[Any]) -> type[BaseModel]:
    """A pydantic model with the fields, defaults and docstring of a command (or of a part of one)."""
    if command not in _MADE:
        _MADE[command] = _make_model(command)
    return _MADE[command]


def _make_model(command: type[Any]) -> type[BaseModel]:
    hints = get_type_hints(command)
    made: dict[str, Any] = {}
    for item in fields(command):
        kind = Key if item.name == "key" else _bounded(hints[item.name])
        if item.default is not MISSING:
            made[item.name] = (kind, item.default)
        elif item.default_factory is not MISSING:
            made[item.name] = (kind, Field(default_factory=item.default_factory))
        else:
            made[item.name] = (kind, ...)
    return create_model(
        command.__name__,
        __config__=ConfigDict(extra="forbid"),
        __doc__=command.__doc__,
        **made,
    )


def command_of(command: type[Any], body: BaseModel) -> Any:
    """The command that a checked body stands for."""
    return command(
        **{name: _plain(getattr(body, name), hint) for name, hint in get_type_hints(command).items()}
    )


def _plain(value: Any, hint: Any) -> Any:
    if isinstance(value, BaseModel):
        return command_of(_dataclass_in(hint), value)
    if isinstance(value, tuple):
        inner = get_args(hint)
        kind = inner[0] if inner else Any
        return tuple(_plain(item, kind) for item in value)
    return value


def _dataclass_in(hint: Any) -> type[Any]:
    """The dataclass in a hint such as `Harvest` or `Harvest | None`."""
    if is_dataclass(hint) and isinstance(hint, type):
        return hint
    return next(part for part in get_args(hint) if is_dataclass(part) and isinstance(part, type))


def _bounded(hint: Any) -> Any:
    """The same type with bounds."""
    if hint in _BOUNDED:
        return _BOUNDED[hint]
    if is_dataclass(hint) and isinstance(hint, type):
        return body_model(hint)
    origin, parts = get_origin(hint), get_args(hint)
    if origin is Literal:
        return hint
    if origin in (Union, types.UnionType):
        bounded = tuple(_bounded(part) for part in parts)
        return Union[bounded]  # noqa: UP007 - the members are only known here
    if origin is tuple:
        if len(parts) == 2 and parts[1] is Ellipsis:
            return Annotated[tuple[_bounded(parts[0]), ...], Field(max_length=MOST_ITEMS)]  # type: ignore[misc]
        return tuple[tuple(_bounded(part) for part in parts)]  # type: ignore[misc]
    raise TypeError(f"{hint!r} has no bounded form")
