"""A line of a list while it is read: its cells by what they mean, in the trade's units, and what is wrong with them."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal, TypeVar

from rickyard.desk.lists.columns import COLUMNS, Column, column, unit_in
from rickyard.desk.lists.reading import Table, letters
from rickyard.errors import InputError
from rickyard.measure.listing import TextRow
from rickyard.measure.loglist import LogListProblem
from rickyard.show.parse import split_number
from rickyard.show.symbols import VOLUMES, fold
from rickyard.show.units import (
    Volume,
    parse_count,
    parse_date,
    parse_length,
    parse_lengths,
    parse_money,
    parse_percent,
    parse_volume,
)
from rickyard.text import T_, Text

_T = TypeVar("_T")

GREEN = ("green", "vert", "verte", "vert non seche", "any", "none")
_WORDS_YES = ("yes", "y", "x", "1", "true", "on", "oui", "o", "vrai", "ja")
_WORDS_NO = ("no", "n", "0", "false", "off", "non", "faux", "-")
# What a form of the web calls each choice, and what lists call it.
CHOICES: dict[str, dict[str, str]] = {
    "form": {
        "split": "split|splits|fendu|fendus|fendue|fendues|quartier|quartiers|split wood|bois fendu|firewood",
        "round": "round|rounds|rond|ronds|rondin|rondins|unsplit|non fendu",
        "kindling": "kindling|petit bois|bois d'allumage|allumage|allume-feu",
    },
    "kind": {
        "stack": "stack|row|ranked|stacked|pile|rangee|corde|empile|rang|cord",
        "heap": "heap|loose|tas|en vrac|vrac|thrown|pile loose",
        "bin": "bin|crate|cage|bag|box|tote|caisse|bac|caisson|panier|sac",
    },
    "cover": {
        "none": "none|no|uncovered|open|aucune|non|sans|decouvert|a decouvert",
        "top": "top|tarp|top only|top cover|covered|yes|sheet|dessus|bache|bache dessus|oui|tole|sur le dessus",
        "shed": "shed|roof|under roof|barn|indoors|abri|remise|hangar|grange|sous abri|sous un abri",
    },
    "exposure": {
        "sheltered": "sheltered|shelter|abrite|calm|protege",
        "normal": "normal|normale|usual|medium|moyen|moyenne",
        "windy": "windy|open|wind|vente|venteux|expose|exposed",
    },
    "ground": {
        "raised": "raised|pallet|pallets|poles|gravel|rails|sureleve|palettes|perches|gravier|off the ground",
        "soil": "soil|ground|earth|bare soil|grass|sol|terre|sol nu|herbe|par terre",
    },
}


@dataclass(frozen=True)
class Asked:
    """What whoever sends a list says of it; all of it may be left open.

    Attributes
    ----------
    sheet, head_line
        Which sheet, and on which line the names stand.
    columns
        (name as written, or `#3` for the third; id of our column, or "" for not taken in), where the guess is not
        meant.
    short_unit, long_unit
        Unit of figures without one: of pieces, and of stacks.
    harvest
        Country or country and subdivision where the trees stood, where the list does not say.
    heads
        Of which names of columns the choices speak (`heads_seen`); they are not heard for another list. "": of any.
    """

    sheet: str = ""
    head_line: int = 0
    columns: tuple[tuple[str, str], ...] = ()
    short_unit: str = ""
    long_unit: str = ""
    harvest: str = ""
    heads: str = ""


def heads_seen(kind: str, heads: Sequence[str]) -> str:
    """A short digest of a list's kind and names of columns."""
    return hashlib.sha256("\n".join((kind, *heads)).encode()).hexdigest()[:16]


@dataclass
class Reader:
    """What is the same for all lines of a list, and what is wrong with any."""

    kind: str
    table: Table
    meanings: tuple[str, ...]
    asked: Asked
    locale: str
    currency: str
    today: date
    problems: list[LogListProblem] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.places: dict[str, list[int]] = {}
        for place, meaning in enumerate(self.meanings):
            if meaning:
                self.places.setdefault(meaning, []).append(place)

    @property
    def figures(self) -> str:
        """The locale in which figures are read: a decimal comma is the French one's."""
        return "fr_CA" if self.table.decimal_comma else self.locale

    def head(self, place: int) -> str:
        heads = self.table.heads
        return (heads[place] if place < len(heads) else "") or letters(place)

    def has(self, fact: str) -> bool:
        return any(item.id in self.places for item in COLUMNS[self.kind] if item.fact == fact)

    def named(self, fact: str) -> str:
        """How the list calls a fact; our own word where it has no such column."""
        for item in COLUMNS[self.kind]:
            if item.fact == fact and item.id in self.places:
                return ", ".join(self.head(place) for place in self.places[item.id])
        known = column(self.kind, fact)
        return str(known.label) if known else fact


class Line:
    """One line of a list."""

    def __init__(self, reader: Reader, row: TextRow) -> None:
        self.reader, self.row = reader, row
        self.number = row.line
        self._problems_before = len(reader.problems)

    @property
    def sound(self) -> bool:
        return len(self.reader.problems) == self._problems_before

    # -- complaints -----------------------------------------------------------------------------
    def complain(self, fact: str, wanted: Text, got: object, next_move: Text) -> None:
        self.reader.problems.append(
            LogListProblem(self.number, self.reader.named(fact), wanted, got, next_move)
        )

    def once(self, name: str, lines: dict[str, int], otherwise: Callable[[int], Text]) -> None:
        """A complaint if a line before has this name; `lines`: which had what first, kept from one line to the next.

        `otherwise`: the next move, by the number of that line.
        """
        first = lines.setdefault(fold(name), self.number)
        if name and first != self.number:
            self.complain("name", T_("each name once"), name, otherwise(first))

    def complain_of(self, error: InputError, facts: Mapping[str, str] | None = None) -> None:
        """Takes over what a reader or a deed says; `facts`: what its fields are called in our columns."""
        fact = (facts or {}).get(error.field, error.field)
        got = self.said(fact) or error.got
        self.complain(fact, error.wanted, got, error.next_move)

    # -- cells ----------------------------------------------------------------------------------
    def at(self, item: Column) -> str:
        cells = [
            " ".join(self.row.cells[place].split())
            for place in self.reader.places.get(item.id, [])
            if place < len(self.row.cells)
        ]
        return (item.joined or " ").join(cell for cell in cells if cell)

    def _found(self, fact: str) -> tuple[Column | None, str]:
        for item in COLUMNS[self.reader.kind]:
            if item.fact == fact and item.id in self.reader.places:
                return item, self.at(item)
        return None, ""

    def said(self, fact: str) -> str:
        """What stands there, as typed; "" if nothing."""
        return self._found(fact)[1]

    def needed(self, fact: str, wanted: Text, next_move: Text) -> str:
        said = self.said(fact)
        if not said:
            self.complain(fact, wanted, T_("nothing"), next_move)
        return said

    def _read(self, fact: str, read: Callable[[str], _T]) -> _T | None:
        said = self.said(fact)
        if not said:
            return None
        try:
            return read(said)
        except InputError as error:
            self.complain(fact, error.wanted, said[:80], error.next_move)
            return None

    def length(self, fact: str, low: float, high: float) -> float | None:
        found = self.lengths(fact, low, high, one=True)
        return found[0] if found else None

    def lengths(self, fact: str, low: float, high: float, *, one: bool = False) -> tuple[float, ...]:
        """One or several (parted by semicolons), in the unit of the cell, the column's name or the sender."""
        item, said = self._found(fact)
        if item is None or not said:
            return ()
        unit = self._unit(item)
        if not unit and _bare(said, self.reader.figures):
            self.complain(
                fact,
                T_("a length with its unit"),
                said[:80],
                T_("Write the unit behind the figure or in the column's name, or say it for all of them."),
            )
            return ()
        figures = self.reader.figures

        def read(text: str) -> tuple[float, ...]:
            if one:
                return (parse_length(text, fact, unit=unit or "m", low=low, high=high, locale=figures),)
            return tuple(parse_lengths(text, fact, unit=unit or "m", low=low, high=high, locale=figures))

        return self._read(fact, read) or ()

    def _unit(self, item: Column) -> str:
        for place in self.reader.places[item.id]:
            if unit := unit_in(self.reader.head(place)):
                return unit
        return self.reader.asked.short_unit if item.size == "short" else self.reader.asked.long_unit

    def moisture(self, fact: str, low: float, high: float) -> float | None:
        """A share of total mass. The cell's own basis counts; then the column's; none is refused."""
        item, said = self._found(fact)
        if item is None or not said:
            return None
        first = split_number(fold(said), self.reader.figures)
        tail = re.sub(r"^(?:%|percent|per cent|pour cent|pct)\s*", "", first[1]) if first else ""
        if item.basis == "any" and first is not None and not tail.strip("() "):
            self.complain(
                fact,
                T_("a moisture with its basis"),
                said[:80],
                T_(
                    "Write 20 % wet (of total mass) or 25 % dry (of dry mass), or choose the basis with the column."
                ),
            )
            return None
        basis: Literal["wet", "dry"] = "dry" if item.basis == "dry" else "wet"

        def read(text: str) -> float:
            if basis == "wet":
                return parse_percent(text, fact, basis="wet", low=low, high=high, locale=self.reader.figures)
            db = parse_percent(
                text,
                fact,
                basis="dry",
                low=low / (1 - low),
                high=high / (1 - high),
                locale=self.reader.figures,
            )
            return db / (1 + db)

        return self._read(fact, read)

    def count(self, fact: str, low: int, high: int) -> int | None:
        return self._read(fact, lambda text: parse_count(text, fact, low=low, high=high))

    def day(self, fact: str, low: date) -> date | None:
        today, locale = self.reader.today, self.reader.locale

        def read(text: str) -> date:
            # A day of a spreadsheet may carry midnight's hour.
            bare = re.sub(r"[ T]\d{1,2}:\d{2}(?::\d{2})?$", "", text)
            return parse_date(bare, fact, locale=locale, today=today, low=low, high=today)

        return self._read(fact, read)

    def money(self, fact: str) -> int | None:
        """An amount; what it is for may stand behind it (`420 $ / cord`), and is no part of it."""
        return self._read(
            fact,
            lambda text: parse_money(
                _per(text)[0], fact, currency=self.reader.currency, locale=self.reader.figures
            ),
        )

    def price_unit(self, fact: str, price: str) -> str | None:
        """The unit a price is for: from its own column, else behind the price, else from the name of the price's."""
        said = self.said(fact)
        if not said:
            said = _per(self.said(price))[1] or _per(self.reader.named(price))[1]
        if not said:
            return None
        name = re.sub(r"^(?:1|one|un|une|a|per|par|the|la|le)\s+", "", fold(said).strip("()/ ")).replace(
            ".", ""
        )
        for unit in VOLUMES:
            if unit.id in ("cord", "stacked_m3", "loose_m3") and (
                name in unit.spellings or name == fold(unit.id)
            ):
                return unit.id
        self.complain(
            fact,
            T_("one of cord, stacked m³, loose m³"),
            said[:80],
            T_("Say for which of them the price is; other measures have no fixed size."),
        )
        return None

    def volume(self, fact: str, *, loose: bool) -> Volume | None:
        head = fold(self.reader.named(fact))
        unit = "cord" if head in ("cords", "cordes") else None
        return self._read(
            fact,
            lambda text: parse_volume(
                text,
                fact,
                unit=unit,
                plain_m3="loose_m3" if loose else "stacked_m3",
                low=0.01,
                high=2000.0,
                locale=self.reader.figures,
            ),
        )

    def choice(self, fact: str) -> str | None:
        """One of our words, by any of the words for it."""
        said = self.said(fact)
        if not said:
            return None
        known = CHOICES[fact]
        for ours, words in known.items():
            if fold(said).strip(" .") in words.split("|"):
                return ours
        self.complain(
            fact,
            T_("one of {names}", names=", ".join(known)),
            said[:80],
            T_("Write one of these words, or leave the cell empty."),
        )
        return None

    def yes(self, fact: str) -> bool | None:
        said = fold(self.said(fact))
        if not said:
            return None
        if said in _WORDS_YES or said in _WORDS_NO:
            return said in _WORDS_YES
        self.complain(fact, T_("yes or no"), said[:80], T_("Write yes or no, or leave the cell empty."))
        return None


def _bare(said: str, locale: str) -> bool:
    """Whether a figure stands there without a unit."""
    parts = [split_number(fold(part), locale) for part in said.split(";")]
    return any(part is not None and not part[1] for part in parts)


_PER = re.compile(
    r"^(?P<what>.*?)\s*(?:/|\bper\b|\bpar\b|\bfor one\b|\ba\b(?=\s+cord)|\bla\b|\ble\b)\s*(?P<unit>[^\d].*?)\)?$",
    re.I,
)


def _per(text: str) -> tuple[str, str]:
    """What stands before and behind `per`: ("420 $", "cord"); ("420", "") without it."""
    found = _PER.match(text.strip())
    return (found["what"].strip(" ("), found["unit"].strip()) if found else (text, "")


def chosen_columns(kind: str, table: Table, guessed: Sequence[str], asked: Asked) -> tuple[str, ...]:
    """What each column of the file means once the sender's choices are heard. Raises InputError for `column`."""
    meanings = list(guessed)
    if asked.heads and asked.heads != heads_seen(kind, table.heads):
        return tuple(meanings)
    said = {_place_of(table, name): meaning for name, meaning in asked.columns}
    for meaning in said.values():
        if meaning and column(kind, meaning) is None:
            raise InputError(
                "column",
                wanted=T_("one of {names}", names=", ".join(item.id for item in COLUMNS[kind])),
                got=meaning[:60],
                next_move=T_("Say a column that this kind of list has."),
            )
    for place, meaning in said.items():
        item = column(kind, meaning) if meaning else None
        if item is not None and not item.joined:
            # What was guessed gives way to what is said.
            same = {other.id for other in COLUMNS[kind] if other.fact == item.fact}
            for other, known in enumerate(meanings):
                if known in same and other not in said:
                    meanings[other] = ""
        meanings[place] = meaning
    return tuple(meanings)


def _place_of(table: Table, name: str) -> int:
    """Which column is meant: by its name as written, or as `#3` by its number from 1."""
    folded = [fold(head) for head in table.heads]
    if fold(name) in folded:
        return folded.index(fold(name))
    number = name[1:] if name.startswith("#") else ""
    if number.isdecimal() and 1 <= int(number[:4]) <= len(table.heads):
        return int(number[:4]) - 1
    raise InputError(
        "column",
        wanted=T_("one of the file's columns: {names}", names=", ".join(filter(None, table.heads))[:300]),
        got=name[:60],
        next_move=T_("Say the name as it stands in the file, or #3 for the third column."),
    )


def double_columns(kind: str, table: Table, meanings: Sequence[str]) -> list[LogListProblem]:
    """Two columns chosen for one thing, and things that the list must say and does not."""
    problems: list[LogListProblem] = []
    for item in COLUMNS[kind]:
        same = {other.id for other in COLUMNS[kind] if other.fact == item.fact}
        places = [place for place, meaning in enumerate(meanings) if meaning in same]
        if len(places) > 1 and not item.joined and item.id == meanings[places[0]]:
            names = ", ".join(table.heads[place] or letters(place) for place in places)
            problems.append(
                LogListProblem(
                    table.head_line,
                    names,
                    T_("one column for: {what}", what=item.label),
                    str(len(places)),
                    T_("Choose one of them; take the others not in."),
                )
            )
        if item.needed and not places:
            problems.append(
                LogListProblem(
                    table.head_line,
                    item.id,
                    T_("a column for: {what}", what=item.label),
                    T_("none"),
                    T_("Say which column it is, or add one to the list."),
                )
            )
    return problems
