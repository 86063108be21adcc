"""Reading a list of logs from text: taken whole or not at all, with every bad line named.

A list is a table with one line of column names and one line per log.
Columns may be parted by commas, semicolons or tabs; names may be English or French, with the unit in the name
(`length_ft`, `milieu_cm`, `small end (in)`) or in each cell (`8ft`, `40cm`).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from rickyard.errors import InputError
from rickyard.measure.bark import BARK_VOLUME_SD, bark_volume_sd
from rickyard.measure.cells import CellError, NoUnitError, read_defects, read_size
from rickyard.measure.defects import DEFECT_KINDS, Defect, NetVolume, net_volume
from rickyard.measure.listing import separator_of
from rickyard.measure.logs import LogVolume, log_volume
from rickyard.text import T_, Text
from rickyard.wood import UNNAMED, find_species, get_species, plain, species_named

MOST_LOGS = 10_000
"""Logs a list may hold."""

LONGEST_TEXT = 4_000_000
"""Signs a list may hold."""

NAMES_COMPARED = 50
"""Unknown names of a list for which near names are sought: that takes a hundredth of a second each."""

SHOWN_PROBLEMS = 25
"""Bad lines that the error's sentence names; `problems` has them all."""

# The first two words of each line are the names the templates use, English and French.
_COLUMNS = {
    "species": "species|essence|tree|wood|name|arbre|bois|nom",
    "length": "length|longueur|len|l|log length|long",
    "mid": "mid|milieu|middle|mid diameter|middle diameter|diameter|dia|d|diameter mid|mid dia|diamètre"
    "|diamètre milieu|diamètre au milieu|mi longueur|diamètre mi longueur",
    "small": "small|d small|d petit|petit bout|small end|small end diameter|small diameter|top|thin end|petit|fin bout"
    "|petit diamètre|diamètre petit bout|diamètre fin bout",
    "large": "large|d large|d gros|gros bout|large end|large end diameter|large diameter|butt|thick end|big end|gros"
    "|gros diamètre|diamètre gros bout",
    "bark": "bark|écorce|bark thickness|épaisseur écorce|épaisseur d'écorce|épaisseur de l'écorce",
    "sweep": "sweep|flèche|sag|bow|cambrure|courbure",
    "defects": "defects|défauts|defect|défaut",
    "count": "count|nombre|number|n|qty|quantity|pieces|logs|quantité|billots|billes",
    "note": "note|remarque|notes|remark|tag|id|no|log|log id|billot|bille|numéro|étiquette",
}
LOG_COLUMN_NAMES = _COLUMNS
"""What the columns of a list of logs may be called, parted by |; lists to be cut take the same."""

_OF_DEFECTS = ("sweep", "defects")
_MEANING = {plain(name): column for column, names in _COLUMNS.items() for name in names.split("|")}
_UNIT_AT_END = re.compile(
    r"^(?P<name>.*?)[\s_\-]*[(\[]?(?:(?<=[\s_\-(\[])(?P<unit>mm|cm|m|ft|feet|in|inch|inches|pi|pieds?|po|pouces?))[)\]]?$",
    re.IGNORECASE,
)
_SIZES = ("length", "mid", "small", "large", "bark", "sweep")

TEMPLATE_EN = (
    "species,length_ft,mid_in,small_in,large_in,bark_in,count\n"
    "sugar maple,8,12,,,0.5,3\n"
    "yellow birch,8,,9.5,11,0.3,1\n"
    ",16,10.5,9,12,0.4,1\n"
)
"""An example of a list in feet and inches; the third log is not named yet."""

TEMPLATE_FR = (
    "essence;longueur_m;milieu_cm;petit_bout_cm;gros_bout_cm;écorce_mm;nombre\n"
    "érable à sucre;2,44;30,5;;;12;3\n"
    "bouleau jaune;2,44;;24;28;8;1\n"
    ";4,88;26,5;23;30,5;10;1\n"
)
"""The same in metres and centimetres, with French names and decimal commas."""


@dataclass(frozen=True)
class LogRow:
    """A log as measured.

    Attributes
    ----------
    species_id
        Species or wider name; that of "not named yet" if the list leaves it open.
    length_m
        Length [m].
    mid_d_m, small_d_m, large_d_m
        Diameters [m]; None where not measured.
    bark_thickness_m
        Thickness of the bark on one side [m]; 0 if the diameters are inside bark.
    line
        Line of the list it stood on, from 1; 0 if it was not in a list.
    sweep_m
        Greatest sag of a bent log from straight [m].
    defects
        What it holds other than sound wood.
    """

    species_id: str
    length_m: float
    mid_d_m: float | None = None
    small_d_m: float | None = None
    large_d_m: float | None = None
    bark_thickness_m: float = 0.0
    line: int = 0
    sweep_m: float = 0.0
    defects: tuple[Defect, ...] = ()

    def net(self) -> NetVolume:
        """Its volume inside bark, along its sweep, less its defects. Raises InputError if the sizes make no log."""
        return net_volume(
            self.length_m,
            self.defects,
            mid_d_m=self.mid_d_m,
            small_d_m=self.small_d_m,
            large_d_m=self.large_d_m,
            bark_thickness_m=self.bark_thickness_m,
            bark_sd_share=self.bark_sd_share(),
            sweep_m=self.sweep_m,
        )

    def bark_sd_share(self) -> float:
        """How far the bark taken off may be off, one standard deviation [of itself]: told by hand."""
        return BARK_VOLUME_SD

    def volume_over_bark_m3(self) -> float:
        """Its volume with the bark [m³]."""
        return replace(self, bark_thickness_m=0.0, defects=()).net().gross.volume_m3

    def volume(self) -> LogVolume:
        """Its volume inside bark, as if straight and sound. Raises InputError if the sizes make no log."""
        return log_volume(
            self.length_m,
            mid_d_m=self.mid_d_m,
            small_d_m=self.small_d_m,
            large_d_m=self.large_d_m,
            bark_thickness_m=self.bark_thickness_m,
            bark_sd_share=self.bark_sd_share(),
        )


@dataclass(frozen=True)
class PeeledRow(LogRow):
    """A log measured over bark whose bark is taken off by the tables of its species."""

    def bark_sd_share(self) -> float:
        """As far as the tables part."""
        over = self.mid_d_m
        if over is None:
            over = ((self.small_d_m or 0.0) + (self.large_d_m or 0.0)) / 2.0
        # To the millimetre, so that a list of ten thousand asks the tables once for each thickness.
        return _species_bark_sd(self.species_id, round(over, 3))


@cache
def _species_bark_sd(species_id: str, over_bark_m: float) -> float:
    return bark_volume_sd(get_species(species_id), over_bark_m)


@dataclass(frozen=True)
class LogListProblem:
    """What is wrong with one cell: line from 1, column as the list names it, wanted, got, next move."""

    line: int
    field: str
    wanted: Text
    got: object
    next_move: Text

    @property
    def text(self) -> Text:
        return T_(
            "Line {line}, {field}: wanted {wanted}, got {got}. {next_move}",
            line=self.line,
            field=self.field,
            wanted=self.wanted,
            got=self.got,
            next_move=self.next_move,
        )


class LogListError(InputError):
    """A list that is not taken; `problems` names everything that is wrong with it."""

    code = "bad_list"

    def __init__(self, problems: Sequence[LogListProblem], *, field: str = "logs") -> None:
        self.problems = tuple(problems)
        super().__init__(
            field,
            wanted=T_("a list without mistakes"),
            got=T_("{count} mistakes", count=len(self.problems))
            if len(self.problems) > 1
            else T_("one mistake"),
            next_move=_joined(self.problems),
        )

    def as_dict(self) -> dict[str, Any]:
        found = [
            {"line": problem.line, "field": problem.field, "message": str(problem.text)}
            for problem in self.problems
        ]
        return super().as_dict() | {"problems": found}


def _joined(problems: Sequence[LogListProblem]) -> Text:
    shown = problems[:SHOWN_PROBLEMS]
    values: dict[str, Any] = {f"line{place}": problem.text for place, problem in enumerate(shown)}
    sentence = " ".join("{" + name + "}" for name in values)
    if len(problems) > len(shown):
        values["rest"] = T_("And {count} more.", count=len(problems) - len(shown))
        sentence += " {rest}"
    return Text(sentence, values)


def log_list_template(language: str = "en") -> str:
    """An example of a list that is taken as it stands: English in feet and inches, French (`fr`) metric."""
    return TEMPLATE_FR if language.casefold().startswith("fr") else TEMPLATE_EN


def read_log_list(
    text: str, *, default_species: str | None = None, max_rows: int = MOST_LOGS, defects: bool = False
) -> list[LogRow]:
    """The logs of a list, one row per log; a line that counts several gives as many rows.

    Parameters
    ----------
    text
        The list. Empty lines and lines that begin with # are passed over.
    default_species
        Id for logs whose species is left open; "not named yet" if None.
    max_rows
        Logs taken at most.
    defects
        Whether columns for sweep and defects are taken; refused otherwise, so that nobody who keeps sizes alone
        loses them unseen.

    Raises
    ------
    LogListError
        With every bad line; nothing is taken then.
    """
    if len(text) > LONGEST_TEXT:
        raise _whole(T_("at most {most} signs", most=LONGEST_TEXT), str(len(text)), T_("Split the list."))
    lines = [
        (number, line)
        for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)
        if line.strip(" \t;,") and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise _whole(T_("a line of column names and a line per log"), T_("an empty list"), _START)
    table = _Table(separator_of(lines[0][1]), default_species or UNNAMED.id, max_rows, defects=defects)
    table.read_head(*lines[0])
    if not table.problems:
        for number, line in lines[1:]:
            table.read_line(number, line)
        if not table.rows and not table.problems:
            table.complain(lines[0][0], "", T_("at least one log under the column names"), T_("none"), _START)
    if table.problems:
        raise LogListError(table.problems)
    return table.rows


_START = T_("Begin with the example list.")


def _whole(wanted: Text, got: object, next_move: Text) -> LogListError:
    return LogListError([LogListProblem(1, "list", wanted, got, next_move)])


@dataclass(frozen=True)
class _Column:
    """A column of the list: what it means, its name as written, the unit of bare numbers in it."""

    meaning: str
    name: str
    unit: str | None


class _Table:
    """A list while it is read: rows so far, and what is wrong so far."""

    def __init__(self, delimiter: str, default_species: str, max_rows: int, *, defects: bool) -> None:
        self.defects = defects
        self.delimiter = delimiter
        self.default_species = default_species
        self.max_rows = max_rows
        self.columns: list[_Column] = []
        self.rows: list[LogRow] = []
        self.problems: list[LogListProblem] = []
        self._species: dict[str, str | InputError] = {}
        self._full = False

    def complain(self, line: int, field: str, wanted: Text, got: object, next_move: Text) -> None:
        self.problems.append(LogListProblem(line, field or "list", wanted, got, next_move))

    def cells(self, number: int, line: str) -> list[str] | None:
        """The cells of a line; a line whose quotes do not close is complained of."""
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=self.delimiter, strict=True))]
        except csv.Error:
            pass
        # Inches are written with the sign that also quotes a cell: 16" is no open quote.
        if line.count('"') and not line.lstrip().startswith('"'):
            return [cell.strip() for cell in line.split(self.delimiter)]
        self.complain(number, "", T_("quotes that close"), line.strip()[:80], T_("Remove the quotes."))
        return None

    # -- the line of names ----------------------------------------------------------------------
    def read_head(self, number: int, line: str) -> None:
        names = self.cells(number, line) or []
        for name in names:
            self.columns.append(self._column(number, name))
        meanings = [column.meaning for column in self.columns if column.meaning]
        for meaning in sorted({m for m in meanings if meanings.count(m) > 1 and m != "note"}):
            same = ", ".join(column.name for column in self.columns if column.meaning == meaning)
            self.complain(
                number, same, T_("one such column"), str(meanings.count(meaning)), T_("Remove one.")
            )
        if not self.problems and "length" not in meanings:
            self.complain(
                number,
                "length",
                T_("a column for the length, such as length_ft or longueur_m"),
                ", ".join(names)[:120],
                T_("Name the columns in the first line."),
            )
        if not self.problems and not ({"mid"} <= set(meanings) or {"small", "large"} <= set(meanings)):
            self.complain(
                number,
                "mid",
                T_("a column for the diameter at mid length, or two for both ends"),
                ", ".join(names)[:120],
                T_("Add mid_in, or small_in and large_in, or the like in cm."),
            )

    def _column(self, number: int, name: str) -> _Column:
        unit: str | None = None
        bare = name
        found = _UNIT_AT_END.match(name)
        if found and plain(found["name"]) in _MEANING:
            bare, unit = found["name"], found["unit"].casefold()
        meaning = _MEANING.get(plain(bare), "")
        known = [column for column in _COLUMNS if self.defects or column not in _OF_DEFECTS]
        if meaning not in known and name:
            self.complain(
                number,
                name[:60],
                T_("one of the column names {names}", names=", ".join(known)),
                name[:60],
                T_("Rename or remove the column; a unit may follow, as in length_ft."),
            )
        return _Column(meaning, name, unit)

    # -- a log ----------------------------------------------------------------------------------
    def read_line(self, number: int, line: str) -> None:
        cells = self.cells(number, line)
        if cells is None or self._full:
            return
        before = len(self.problems)
        while len(cells) > len(self.columns) and not cells[-1]:
            cells.pop()
        if len(cells) > len(self.columns):
            self.complain(
                number,
                "",
                T_("{wanted} cells, one per column", wanted=len(self.columns)),
                str(len(cells)),
                T_("Put a cell that holds the separator in quotes, or use semicolons."),
            )
            return
        found = {
            column.meaning: (column, cell) for column, cell in zip(self.columns, cells, strict=False) if cell
        }
        species_id = self._species_of(number, found)
        sizes = {name: self._size(number, *found[name]) for name in _SIZES if name in found}
        count = self._count(number, found)
        defects = self._defects(number, found)
        if "length" not in found:
            column = next(column for column in self.columns if column.meaning == "length")
            self.complain(number, column.name, T_("a length"), T_("nothing"), T_("Measure the log."))
        if len(self.problems) > before:
            return
        row = LogRow(
            species_id=species_id,
            length_m=sizes["length"],
            mid_d_m=sizes.get("mid"),
            small_d_m=sizes.get("small"),
            large_d_m=sizes.get("large"),
            bark_thickness_m=sizes.get("bark", 0.0),
            line=number,
            sweep_m=sizes.get("sweep", 0.0),
            defects=defects,
        )
        try:
            row.net()
        except InputError as error:
            named, typed = self._named(error.field, found)
            self.complain(number, named, error.wanted, typed or error.got, error.next_move)
            return
        if len(self.rows) + count > self.max_rows:
            self._full = True
            self.complain(
                number, "", T_("at most {most} logs", most=self.max_rows), T_("more"), T_("Split the list.")
            )
            return
        self.rows += [row] * count

    def _named(self, field: str, found: dict[str, tuple[_Column, str]]) -> tuple[str, str]:
        """The list's own name of the columns that a size came from, and what stood there."""
        meanings = {"bark_thickness": ("bark",), "ends": ("small", "large")}.get(field, (field,))
        names = [column.name for column in self.columns if column.meaning in meanings]
        cells = [found[m] for m in meanings if m in found]
        typed = [
            f"{cell} {column.unit}" if column.unit and cell[-1].isdigit() else cell for column, cell in cells
        ]
        return ", ".join(names) or field, ", ".join(typed)

    def _species_of(self, number: int, found: dict[str, tuple[_Column, str]]) -> str:
        if "species" not in found:
            return self.default_species
        column, cell = found["species"]
        if cell not in self._species:
            self._species[cell] = self._looked_up(column, cell)
        known = self._species[cell]
        if isinstance(known, str):
            return known
        self.complain(number, column.name, known.wanted, cell[:60], known.next_move)
        return ""

    def _looked_up(self, column: _Column, cell: str) -> str | InputError:
        """The id for a name, or what is to be said of it; kept, since a list repeats its names."""
        found = species_named(cell)
        if len(found) == 1:
            return found[0].id
        if sum(isinstance(known, InputError) for known in self._species.values()) >= NAMES_COMPARED:
            return InputError(
                column.name,
                wanted=T_("the name of a species, genus or trade group"),
                got=cell[:60],
                next_move=T_("Correct the names above first."),
            )
        try:
            return find_species(cell, field=column.name).id
        except InputError as error:
            return error

    def _size(self, number: int, column: _Column, cell: str) -> float:
        try:
            return read_size(cell, column.unit, decimal_comma=self.delimiter != ",")
        except NoUnitError:
            move = T_(
                "Write the unit in the column's name ({example}) or in the cell.", example=f"{column.name}_cm"
            )
            self.complain(number, column.name, T_("a size with its unit"), cell[:60], move)
        except CellError:
            if self.delimiter == "," and "," in cell:
                move = T_("Use a decimal point, or part the columns with semicolons.")
            else:
                move = T_("Write it like 8ft, 40cm or 2.44 m.")
            self.complain(number, column.name, T_("a size"), cell[:60], move)
        return 0.0

    def _defects(self, number: int, found: dict[str, tuple[_Column, str]]) -> tuple[Defect, ...]:
        if "defects" not in found:
            return ()
        column, cell = found["defects"]
        # Places along a log are in the unit of its length unless the column or the cell says another.
        unit = column.unit or next((c.unit for c in self.columns if c.meaning == "length"), None)
        try:
            return read_defects(cell, unit, decimal_comma=self.delimiter != ",")
        except CellError:
            self.complain(
                number,
                column.name,
                T_("defects like 0-0.6m:hollow=20cm, 1.2-1.5m:metal or 2-3m:rot=50%"),
                cell[:60],
                T_(
                    "From and to are counted from the thick end; kinds are {names}; part several by |.",
                    names=", ".join(DEFECT_KINDS),
                ),
            )
            return ()

    def _count(self, number: int, found: dict[str, tuple[_Column, str]]) -> int:
        if "count" not in found:
            return 1
        column, cell = found["count"]
        if cell.isascii() and cell.isdigit() and 1 <= int(cell[:9]) <= self.max_rows and len(cell) < 9:
            return int(cell)
        self.complain(
            number,
            column.name,
            T_("a whole number of logs from 1 to {most}", most=self.max_rows),
            cell[:60],
            T_("Leave it empty for one log."),
        )
        return 1
