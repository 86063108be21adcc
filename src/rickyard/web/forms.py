"""A form as it was sent: reads its fields in the user's units, keeps what was typed, gathers complaints.

Every field is read even when an earlier one is wrong, so that all complaints come at once.
A complaint of the desk is put under the field it names.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from starlette.datastructures import FormData, UploadFile

from rickyard.desk.context import new_key
from rickyard.errors import BookError, InputError, RickyardError
from rickyard.show import (
    Voice,
    Volume,
    parse_count,
    parse_date,
    parse_length,
    parse_mass,
    parse_money,
    parse_number,
    parse_percent,
    parse_temperature,
    parse_volume,
)
from rickyard.text import T_, Text
from rickyard.web.labels import LABELS

_T = TypeVar("_T")
# Fields of marked pieces and of standing trees, line by line; other lines are logs.
PIECE_FIELDS = ("mark", "mass", "gone")
TREE_FIELDS = ("tree_species", "dbh", "tree_height", "tree_count")
# Units of what can be measured from outside a pile.
OUTSIDE = ("cord", "stacked_m3", "loose_m3", "ft3", "loose_ft3")


class FormProblem(Exception):  # noqa: N818 - it is no failure: the form is shown again
    """The form cannot be taken as it is; its complaints are kept in it."""


@dataclass(frozen=True)
class Complaint:
    """What is wrong with a field (`""`: with the form as a whole), and the label it is known by."""

    field: str
    label: Text | None
    text: Text


class Form:
    """What was typed, or what a fresh form is filled with.

    Parameters
    ----------
    voice
        In whose units and language figures are read.
    typed
        Field name to what was typed in it, in order; a fresh form gives its presets.
    key
        The client key: made when the form is shown, sent back with it, so that one form does one deed.
    """

    def __init__(self, voice: Voice, typed: Mapping[str, Sequence[str]], key: str = "") -> None:
        self.voice = voice
        self.typed = {name: list(values) for name, values in typed.items()}
        self.key = key or new_key()
        self.complaints: list[Complaint] = []
        # Whether somebody else changed the thing meanwhile.
        self.is_clash = False
        # What is wrong with the book's own file or server, and not with what was typed.
        self.trouble: BookError | None = None

    @classmethod
    def fresh(cls, voice: Voice, **presets: object) -> Form:
        """A form not yet sent. A preset may be a text, a number, a date, a list of texts or None (empty)."""
        typed: dict[str, list[str]] = {}
        for name, preset in presets.items():
            if isinstance(preset, (list, tuple)):
                typed[name] = [str(item) for item in preset]
            elif isinstance(preset, bool):
                typed[name] = ["on"] if preset else []
            elif preset is not None:
                typed[name] = [preset.isoformat() if isinstance(preset, date) else str(preset)]
        return cls(voice, typed)

    @classmethod
    def sent(cls, voice: Voice, data: FormData) -> Form:
        """A form that was sent; files are left out (they cannot be shown again)."""
        typed: dict[str, list[str]] = {}
        for name, value in data.multi_items():
            if not isinstance(value, UploadFile):
                typed.setdefault(name, []).append(value.replace("\r\n", "\n").replace("\x00", ""))
        return cls(voice, typed, key=typed.get("key", [""])[0][:64])

    # -- what the templates ask ---------------------------------------------------------------
    def value(self, name: str) -> str:
        values = self.typed.get(name)
        return values[0] if values else ""

    def values(self, name: str) -> list[str]:
        return self.typed.get(name, [])

    def has(self, name: str, option: str) -> bool:
        return option in self.typed.get(name, [])

    def label(self, name: str) -> str:
        return self.voice.text(LABELS[name.split("-")[0]])

    def errors(self, name: str) -> list[str]:
        return [self.voice.text(item.text) for item in self.complaints if item.field == name]

    @property
    def summary(self) -> list[tuple[str, str, str]]:
        """(field, its label, what is wrong) for each complaint, in order."""
        return [
            (item.field, self.voice.text(item.label) if item.label else "", self.voice.text(item.text))
            for item in self.complaints
        ]

    # -- reading ------------------------------------------------------------------------------
    def text(self, name: str, *, needed: bool = False) -> str:
        typed = self.value(name).strip()
        if needed and not typed:
            self._missing(name)
        return typed

    def choice(self, name: str, options: Sequence[str], default: str = "") -> str:
        typed = self.value(name) or default
        if typed not in options:
            self.complain(
                InputError(
                    name,
                    wanted=T_("one of the choices"),
                    got=typed or T_("nothing"),
                    next_move=T_("Choose one."),
                )
            )
        return typed

    def ticked(self, name: str) -> bool:
        return bool(self.value(name))

    def length(
        self, name: str, *, low: float | None = None, high: float | None = None, small: bool = False
    ) -> float:
        """A length [m]; a bare number is in feet or metres, or (`small`) inches or centimetres."""
        units = ("cm", "in") if small else ("m", "ft")
        unit = units[0] if self.voice.metric else units[1]
        return self._read(
            name,
            lambda typed: parse_length(typed, name, unit=unit, low=low, high=high, locale=self.voice.locale),
            0.0,
        )

    def length_or_none(
        self, name: str, *, low: float | None = None, high: float | None = None, small: bool = False
    ) -> float | None:
        return self.length(name, low=low, high=high, small=small) if self.value(name).strip() else None

    def volume(self, name: str, *, allowed: tuple[str, ...] = OUTSIDE) -> Volume:
        """A volume of wood; a bare number is in cords or stacked cubic metres."""
        unit = self.voice.volume_unit()

        def read(typed: str) -> Volume:
            return parse_volume(typed, name, unit=unit, locale=self.voice.locale, allowed=allowed)

        return self._read(name, read, Volume(0.0, unit, "", 0.0))

    def number(self, name: str, *, low: float | None = None, high: float | None = None) -> float:
        return self._read(
            name,
            lambda typed: parse_number(typed, name, low=low, high=high, locale=self.voice.locale),
            0.0,
        )

    def mass(self, name: str, *, low: float | None = None, high: float | None = None) -> float:
        """A mass [kg]; a bare number is in pounds or kilograms."""
        unit = "kg" if self.voice.metric else "lb"
        return self._read(
            name,
            lambda typed: parse_mass(typed, name, unit=unit, low=low, high=high, locale=self.voice.locale),
            0.0,
        )

    def mass_or_none(self, name: str, *, low: float | None = None, high: float | None = None) -> float | None:
        return self.mass(name, low=low, high=high) if self.value(name).strip() else None

    def numbers(self, name: str, *, low: float | None = None, high: float | None = None) -> tuple[float, ...]:
        """One number or several, parted by blanks or semicolons (commas too, where they are no decimal sign)."""
        comma = "" if self.voice.locale.startswith("fr") else ","
        parts = [part for part in re.split(rf"[\s;{comma}]+", self.value(name).strip()) if part] or [""]

        def read(_typed: str) -> tuple[float, ...]:
            return tuple(
                parse_number(part, name, low=low, high=high, locale=self.voice.locale) for part in parts
            )

        return self._read(name, read, ())

    def count(self, name: str, *, low: int = 0, high: int | None = None) -> int:
        return self._read(
            name, lambda typed: parse_count(typed, name, low=low, high=high, locale=self.voice.locale), 0
        )

    def percent(self, name: str, *, basis: Any = "share", low: float = 0.0, high: float = 1.0) -> float:
        """A percent as a fraction, in the basis asked."""
        return self._read(
            name,
            lambda typed: parse_percent(
                typed, name, basis=basis, low=low, high=high, locale=self.voice.locale
            ),
            0.0,
        )

    def percent_or_none(
        self, name: str, *, basis: Any = "share", low: float = 0.0, high: float = 1.0
    ) -> float | None:
        return self.percent(name, basis=basis, low=low, high=high) if self.value(name).strip() else None

    def money(self, name: str, *, low_minor: int = 0) -> int:
        return self._read(
            name,
            lambda typed: parse_money(
                typed, name, currency=self.voice.currency, low_minor=low_minor, locale=self.voice.locale
            ),
            0,
        )

    def money_or_none(self, name: str, *, low_minor: int = 0) -> int | None:
        return self.money(name, low_minor=low_minor) if self.value(name).strip() else None

    def temperature_or_none(self, name: str) -> float | None:
        if not self.value(name).strip():
            return None
        unit: Any = "F" if self.voice.locale == "en_US" and not self.voice.metric else "C"
        return self._read(
            name, lambda typed: parse_temperature(typed, name, unit=unit, locale=self.voice.locale), 0.0
        )

    def day(self, name: str, today: date) -> date:
        return self._read(
            name, lambda typed: parse_date(typed, name, locale=self.voice.locale, today=today), today
        )

    def number_id(self, name: str) -> int:
        """The number of a thing chosen from a list; nobody types it."""
        typed = self.value(name).strip()
        if not typed.isdigit() or len(typed) > 9:
            self.complain(
                InputError(
                    name,
                    wanted=T_("one of the list"),
                    got=typed or T_("nothing"),
                    next_move=T_("Choose one."),
                )
            )
            return 0
        return int(typed)

    # -- complaints ---------------------------------------------------------------------------
    def complain(self, error: RickyardError, names: Mapping[str, str] | None = None) -> None:
        """Keeps a complaint under its field; `names` says which of our fields the desk's name means."""
        field = (names or {}).get(error.field, error.field)
        label = label_of(field)
        if isinstance(error, InputError):
            text = T_(
                "Wanted {wanted}, got {got}. {next_move}",
                wanted=error.wanted,
                got=error.got,
                next_move=error.next_move,
            )
        else:
            text = error.text
        self.complaints.append(Complaint(field if label else "", label, text))

    def compare(self, now: Form) -> None:
        """Says under each field what the book says by now, where that is not what was typed.

        `now` is the form as it would be filled afresh; sent again, this one is taken over it.
        """
        for name, values in now.typed.items():
            label = label_of(name)
            if label is not None and values != self.values(name):
                words = ", ".join(values) or T_("nothing")
                self.complaints.append(Complaint(name, label, T_("The book says now: {value}.", value=words)))
        self.typed["seen"] = now.values("seen")

    def check(self) -> None:
        """Raises FormProblem if anything was wrong so far."""
        if self.complaints:
            raise FormProblem

    @contextmanager
    def asking(self, **names: str) -> Iterator[None]:
        """Turns what the desk refuses inside into complaints of this form, and raises FormProblem."""
        try:
            yield
        except RickyardError as error:
            self.is_clash = error.code == "changed_meanwhile"
            self.trouble = error if isinstance(error, BookError) else None
            self.complain(error, names)
            raise FormProblem from error

    def _missing(self, name: str) -> None:
        self.complain(
            InputError(name, wanted=T_("a few words"), got=T_("nothing"), next_move=T_("Fill in this field."))
        )

    def _read(self, name: str, read: Callable[[str], _T], otherwise: _T) -> _T:
        try:
            return read(self.value(name))
        except InputError as error:
            self.complain(error)
            return otherwise


def label_of(field: str) -> Text | None:
    """The label of a field; of one line among many (`log_length-3`, counted from 0) with the line's number."""
    base, _, index = field.partition("-")
    label = LABELS.get(base)
    if label is None or not index.isdigit():
        return label
    if base in PIECE_FIELDS:
        return T_("Piece {number}, {label}", number=int(index) + 1, label=label)
    if base in TREE_FIELDS:
        return T_("Tree {number}, {label}", number=int(index) + 1, label=label)
    return T_("Log {number}, {label}", number=int(index) + 1, label=label)
