"""Sentences that can be shown in the user's language later.

The pure packages speak (warnings, errors, labels) but know nothing of languages.
They make `Text`: an English sentence with named places and the values to fill them.
`str(text)` is the English; `rickyard.show.words` puts it into the user's language.
Sentences are collected for translation by the name of the function that makes them, `T_`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal


@dataclass(frozen=True)
class Text:
    """An English sentence with `{named}` places and what fills them.

    A value may be a string, a number, a `Quantity`, a `TreeName` or another `Text`.
    Format specifications (`{length:.2f}`) are honoured.
    """

    msgid: str
    values: Mapping[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        return self.msgid.format(**self.values) if self.values else self.msgid


QuantityKind = Literal["tall", "side", "size", "outside", "mass"]


@dataclass(frozen=True)
class Quantity:
    """A figure in SI that the reader sees in the units of their trade: `tall` (a tree), `side` (of a stack, a log),
    `size` (anything with a tape) [m], `outside` [m³] or `mass` [kg]. `str` says it in these.
    """

    value: float
    kind: QuantityKind

    def __str__(self) -> str:
        if self.kind == "tall":
            return f"{self.value:.0f} m"
        if self.kind == "size":
            return f"{self.value:.4g} m"
        if self.kind == "mass":
            return f"{self.value:.6g} kg"
        return f"{self.value:.2f} {'m³' if self.kind == 'outside' else 'm'}"


@dataclass(frozen=True)
class TreeName:
    """The names of a kind of tree or wood; the reader sees the one of their language. `str` says it in English."""

    scientific: str
    common_en: str
    common_fr: str

    def __str__(self) -> str:
        return self.common_en or self.scientific


def T_(msgid: str, /, **values: Any) -> Text:  # noqa: N802 - short, and like gettext's _
    """Marks an English sentence for translation and fills its `{named}` places.

    The first argument must be a literal, so that it can be collected.
    """
    return Text(msgid, values)
