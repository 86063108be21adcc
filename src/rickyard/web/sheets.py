"""The sheets of all trees as one table for the phone, and one sheet as the paper wants it.

A phone without signal has every sheet and comparison from this table and the key's own (`tables/identify.json`):
sentences stand in it once, and everything else is numbers that point to them.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import lru_cache
from typing import Any, Literal

from rickyard import season
from rickyard.desk.answers import CalendarLine
from rickyard.desk.sheets import Look, Sheet, name_of, sheet, tree_of
from rickyard.identify import Character, the_key
from rickyard.paper import SheetData, SheetLook, SheetPart, SheetRow, SheetState
from rickyard.paper.calendar import CalendarEntry, entry_words
from rickyard.season.calendar import years_later
from rickyard.show import Voice
from rickyard.text import T_, Text
from rickyard.weather import find_place
from rickyard.web.assets import Assets
from rickyard.web.drawings import drawing, standalone
from rickyard.web.names import NAMES

WORDS: dict[str, Text] = {
    "usually": T_("usually"),
    "also": T_("also: {states}", states="{states}"),
    "or": T_("or"),
    "alike": T_("Taken for it"),
    "compare": T_("Compare them"),
    "sources": T_("Where this comes from"),
    "dry": T_("Dry at the yard, stacked on the first of"),
    "dryWaits": T_("Working out when it is dry here …"),
    "dryAway": T_("When it is dry here was not worked out before the signal went."),
    "dryNone": T_("Not worked out: nothing is known of this wood."),
    "dryFailed": T_("When it is dry here could not be worked out."),
    "asOf": T_("Worked out on {day}.", day="{day}"),
    "differ": T_("What tells them apart"),
    "differWood": T_("Where their wood differs"),
    "settles": T_("settles it"),
    "nothing": T_("Nothing in the key tells these apart."),
    "nothingWood": T_("Their figures and ratings are the same."),
    "unknown": T_("not known"),
    "hasNone": T_("has none"),
    "assumed": T_("assumed, not read"),
    "more": T_("What else differs, less tellingly"),
    "sheet": T_("Sheet"),
    "sheets": T_("Where each of these comes from stands on its sheet."),
    "print": T_("Print it"),
    "noTree": T_("No such tree is in the key."),
    "few": T_("Choose two or three trees to compare."),
    "told": T_("The most telling first."),
    "title": T_("Comparing {names}", names="{names}"),
}

THICK_IN_M, THICK_CM_M = 0.1016, 0.10


def thickness_m(units: str) -> float:
    """The piece that a sheet's drying stands for, by the yard's units: the same for all who look."""
    return THICK_CM_M if units == "metric" else THICK_IN_M


class _Strings:
    """Sentences, each once."""

    def __init__(self) -> None:
        self._at: dict[str, int] = {}

    def __call__(self, text: str) -> int:
        return self._at.setdefault(text, len(self._at))

    def all(self) -> list[str]:
        return list(self._at)


def sheet_table(
    voice: Voice, assets: Assets, dry: Mapping[str, season.CalendarRow], line: CalendarLine, made: datetime
) -> dict[str, Any]:
    """All sheets in the user's words, with the drying that is known by now (by wood) as of `made`."""
    fixed = _fixed(voice.locale, voice.units, assets.version)
    return {
        **fixed,
        "characters": _characters(voice, assets),
        "key": assets.url("tables/identify.json"),
        "drying": {wood: cells(voice, row) for wood, row in dry.items()},
        "dryingLead": drying_lead(voice, line),
        "made": voice.date(made.date()),
    }


@lru_cache(maxsize=12)
def _fixed(locale: str, units: str, _version: str) -> dict[str, Any]:
    """What does not change while the application runs."""
    voice = Voice(locale, units)
    key = the_key()
    say = _Strings()
    places = {tree.id: place for place, tree in enumerate(key.species)}
    sheets = [_packed(sheet(voice, tree), places, say) for tree in key.species]
    return {
        "ui": {name: voice.text(text) for name, text in WORDS.items()},
        "months": [voice.short_month(date(2001, month, 1)) for month in range(1, 13)],
        "sheets": sheets,
        "strings": say.all(),
    }


def _packed(one: Sheet, places: Mapping[str, int], say: _Strings) -> list[Any]:
    return [
        one.id,
        one.name,
        one.scientific,
        [
            [
                part.id,
                say(part.title),
                [
                    [
                        row.key,
                        say(row.label),
                        [[say(claim.words), *claim.refs] for claim in row.claims],
                        *([say(row.note)] if row.note else []),
                    ]
                    for row in part.rows
                ],
                [_packed_look(look, part.id) for look in part.looks],
                [say(note) for note in part.notes],
            ]
            for part in one.parts
        ],
        [[places[alike.id], say(alike.note), *alike.refs] for alike in one.alike],
        one.wood,
        say(one.stands_in),
        [say(source) for source in one.sources],
    ]


def _packed_look(look: Look, part: str) -> list[Any]:
    """Character and sources; the states are those of the key's own table, but for a caution, which is of some only."""
    character = the_key().characters[the_key().at[look.character]]
    chosen = [[character.states.index(state) for state in look.usual]] if part == "cautions" else []
    return [the_key().at[look.character], list(look.refs), *chosen]


def _characters(voice: Voice, assets: Assets) -> list[list[Any]]:
    """Question, then for each state its label and, where it is drawn, the picture and what it shows."""
    return [
        [
            voice.gettext(character.question),
            *(_state(voice, assets, character, place) for place in range(len(character.states))),
        ]
        for character in the_key().characters
    ]


def _state(voice: Voice, assets: Assets, character: Character, place: int) -> list[str]:
    shown = drawing(character.id, character.states[place])
    label = voice.pgettext(character.id, character.labels[place])
    if shown is None:
        return [label]
    return [label, f"{assets.url(shown.file)}#{shown.view}", voice.text(shown.alt)]


# -- drying -----------------------------------------------------------------------------------------


def entry_of(cell: season.CalendarCell) -> CalendarEntry:
    """A cell of a calendar as the paper wants it."""

    def month(day: date | None) -> tuple[int, int] | None:
        return None if day is None else (day.month, years_later(day))

    return CalendarEntry(p10=month(cell.p10), p50=month(cell.p50), p90=month(cell.p90), parted=cell.parted)


def cells(voice: Voice, row: season.CalendarRow) -> list[tuple[str, str]]:
    """For each month of stacking: the middle month, and the range from the 10th to the 90th percentile."""
    return [entry_words(voice, entry_of(cell)) for cell in row.cells]


def drying_lead(voice: Voice, line: CalendarLine) -> str:
    """What the drying stands for."""
    return voice.text(
        T_(
            "Pieces {length} long and {thickness} thick, {cover}, dry at {moisture}; usual weather of {place}. "
            "Large: as likely dry as not by then; small: one chance in ten before, one in ten after. "
            "+1 is the year after. An estimate by model {model}.",
            length=voice.length(line.length_m),
            thickness=voice.thickness(line.thickness_m),
            cover=NAMES["cover"][line.cover],
            moisture=voice.moisture(line.target_mc_wet),
            place=find_place(line.place).label,
            model=season.screening_model().name,
        )
    )


# -- paper ------------------------------------------------------------------------------------------


def sheet_data(
    voice: Voice,
    tree_id: str,
    *,
    row: season.CalendarRow | None = None,
    line: CalendarLine | None = None,
    made_at: datetime,
    page: Literal["a4", "letter"],
) -> SheetData:
    """A sheet to print; without the drying where it is not worked out. KeyError for no tree of the key."""
    tree = tree_of(tree_id)
    if tree is None:
        raise KeyError(tree_id)
    one = sheet(voice, tree)
    return SheetData(
        name=one.name,
        scientific=one.scientific,
        stands_in=one.stands_in,
        parts=tuple(
            SheetPart(
                id=part.id,
                title=part.title,
                rows=tuple(
                    SheetRow(said.label, tuple((claim.words, claim.refs) for claim in said.claims), said.note)
                    for said in part.rows
                ),
                looks=tuple(
                    _look(voice, look.character, look.usual, look.also, look.refs) for look in part.looks
                ),
                notes=part.notes,
            )
            for part in one.parts
        ),
        alike=tuple((other.name, other.note, other.refs) for other in one.alike),
        sources=one.sources,
        dry=tuple(zip(_months(voice), cells(voice, row), strict=True)) if row is not None else (),
        dry_lead=drying_lead(voice, line) if line is not None and row is not None else "",
        made_at=made_at,
        locale=voice.locale,
        units=voice.units,
        page=page,
    )


def _months(voice: Voice) -> list[str]:
    return [voice.short_month(date(2001, month, 1)) for month in range(1, 13)]


def _look(
    voice: Voice, name: str, usual: tuple[str, ...], also: tuple[str, ...], refs: tuple[int, ...]
) -> SheetLook:
    character = the_key().characters[the_key().at[name]]
    labels = dict(zip(character.states, character.labels, strict=True))

    def state(of: str) -> SheetState:
        shown = drawing(name, of)
        return SheetState(
            voice.pgettext(name, labels[of]),
            standalone(name, of) if shown else "",
            voice.text(shown.alt) if shown else "",
        )

    return SheetLook(
        question=voice.gettext(character.question),
        usual=tuple(state(of) for of in usual),
        also=tuple(voice.pgettext(name, labels[of]) for of in also),
        refs=refs,
    )


def list_of_trees(voice: Voice) -> list[tuple[str, str, str]]:
    """Id, name and Latin name of every tree with a sheet, by name."""
    trees = [(tree.id, name_of(voice, tree), tree.scientific) for tree in the_key().species]
    return sorted(trees, key=lambda one: (one[1].casefold(), one[2]))
