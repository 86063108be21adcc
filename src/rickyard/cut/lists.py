"""Reading the two lists of a cutting plan from text: logs and wares. Taken whole or not at all.

A list has one line of column names and one line per log or ware; columns may be parted by commas, semicolons or
tabs. The unit stands in the column's name (`length_m`, `d_large_in`) or in each cell (`8ft`, `40cm`).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from rickyard.cut.logs import MOST_TOLERANCE, CutLog, Defect, Ware
from rickyard.errors import InputError
from rickyard.measure.cells import UNITS_M, CellError, NoUnitError, read_number, read_size
from rickyard.measure.loglist import LONGEST_TEXT, MOST_LOGS, LogListError, LogListProblem
from rickyard.text import T_, Text
from rickyard.wood import plain

_SIGNS = ";\t,"
_UNIT = re.compile(r"^(?P<name>.+?)[\s_(\[]+(?P<unit>mm|cm|m|ft|pi|in|po)[)\]]?$", re.IGNORECASE)
_DEFECT = re.compile(r"^(?P<start>[^:]+?)\s*(?:-|–|\bto\b|\bà\b)\s*(?P<end>[^:]+?)\s*(?::\s*(?P<kind>.*))?$")
_WORD = re.compile(r"[^\W\d_]+|['\"′″’”]")

LONGEST_DEFECT = 120
"""Signs that one defect may be written with."""

LOG_COLUMNS = {
    "log_id": "log_id|log|id|no|tag|billot|numéro",
    "length": "length|longueur",
    "d_large": "d_large|large|butt|gros_bout|d_gros",
    "d_small": "d_small|small|top|petit_bout|d_petit",
    "species": "species|essence",
    "defects": "defects|defect|défauts|défaut",
}
WARE_COLUMNS = {
    "ware": "ware|name|produit",
    "piece_length": "piece_length|length|longueur",
    "value_per_solid_m3": "value_per_solid_m3|value|valeur",
    "wanted_solid_m3": "wanted_solid_m3|wanted|voulu",
    "min_d": "min_d|d_min",
    "max_d": "max_d|d_max",
    "length_tolerance": "length_tolerance|tolerance|tolérance",
}
LOG_EXAMPLE = (
    "log_id,length_m,d_large_cm,d_small_cm,species,defects\nL01,3.05,28.2,25.4,beech,1.16-1.33:nail\n"
)
WARE_EXAMPLE = (
    "ware,piece_length_in,value_per_solid_m3,wanted_solid_m3,min_d_in,max_d_in\n"
    "stove-16,16,125,,3,\nhearth-18,18,120,2.5,4,\n"
)
"""Two wares as a yard sells them; customers with fireplaces take about 18 in (common practice, no source)."""


@dataclass(frozen=True)
class Notes:
    """What was read, and what a person should look at once more."""

    notes: tuple[Text, ...] = ()


@dataclass(frozen=True)
class ReadLogs(Notes):
    logs: tuple[CutLog, ...] = ()


@dataclass(frozen=True)
class ReadWares(Notes):
    wares: tuple[Ware, ...] = ()


def read_logs(text: str, *, most: int = MOST_LOGS) -> ReadLogs:
    """The logs of a list. Raises LogListError with every bad line; nothing is taken then."""
    table = _Table("logs", text, LOG_COLUMNS, ("length", "d_large", "d_small"), LOG_EXAMPLE, most)
    logs: list[CutLog] = []
    seen: dict[str, int] = {}

    def take(row: _Row) -> None:
        log_id = row.text("log_id") or f"L{row.line}"
        length, large, small = row.size("length"), row.size("d_large"), row.size("d_small")
        defects = _defects(row)
        if log_id in seen:
            row.complain(
                "log_id",
                T_("a name that no other log has"),
                log_id,
                T_("Line {line} has it too; number the logs.", line=seen[log_id]),
            )
        seen.setdefault(log_id, row.line)
        if row.sound:
            logs.append(CutLog(log_id, length, large, small, defects, row.text("species")))

    table.each(take)
    return ReadLogs(table.notes(), tuple(logs))


def read_wares(text: str, *, most: int = 40) -> ReadWares:
    """The wares of a list. Raises LogListError with every bad line; nothing is taken then."""
    table = _Table("wares", text, WARE_COLUMNS, ("piece_length", "value_per_solid_m3"), WARE_EXAMPLE, most)
    wares: list[Ware] = []

    def take(row: _Row) -> None:
        name = row.text("ware") or f"W{row.line}"
        length = row.size("piece_length")
        value = row.number("value_per_solid_m3") or 0.0
        wanted = row.number("wanted_solid_m3") if row.text("wanted_solid_m3") else None
        least, most_d = (row.size(name) if row.text(name) else None for name in ("min_d", "max_d"))
        tolerance = row.size("length_tolerance") if row.text("length_tolerance") else 0.0
        if row.sound and tolerance > MOST_TOLERANCE * length:
            row.complain(
                "length_tolerance",
                T_("at most a quarter of the piece's length"),
                row.text("length_tolerance")[:60],
                T_("Give the pieces of other lengths a ware of their own."),
            )
        if any(known.name == name for known in wares):
            row.complain(
                "ware", T_("a name that no other ware has"), name, T_("Give each ware its own name.")
            )
        if row.sound:
            wares.append(Ware(name, length, value, wanted, least, most_d, tolerance))

    table.each(take)
    return ReadWares(table.notes(), tuple(wares))


def _defects(row: _Row) -> tuple[Defect, ...]:
    """`1.16-1.33:rot; 2.0-2.1:nail`: from the thick end, in metres unless the column or the cell says otherwise."""
    found = []
    for part in re.split(r"[;|]", row.text("defects")):
        if not part.strip():
            continue
        match = _DEFECT.match(part.strip()) if len(part) <= LONGEST_DEFECT else None
        try:
            if match is None:
                raise CellError(part)
            unit = row.unit("defects") or "m"
            comma = row.table.sign != ","
            start = read_size(match["start"], unit, decimal_comma=comma)
            end = read_size(match["end"], unit, decimal_comma=comma)
        except CellError:
            row.complain(
                "defects",
                T_("defects such as 1.16-1.33:rot, several with semicolons"),
                part.strip()[:60],
                T_("Give from and to in metres from the thick end, then what it is."),
            )
            continue
        row.table.written("defects", match["start"])
        row.table.written("defects", match["end"])
        found.append(Defect(start, end, (match["kind"] or "").strip()))
    return tuple(found)


@dataclass
class _Row:
    """A line of a list while it is read."""

    table: _Table
    line: int
    cells: dict[str, str]
    sound: bool = True

    def text(self, name: str) -> str:
        return self.cells.get(name, "")

    def unit(self, name: str) -> str | None:
        return self.table.units.get(name)

    def complain(self, name: str, wanted: Text, got: object, move: Text) -> None:
        self.sound = False
        self.table.complain(self.line, self.table.names.get(name, name), wanted, got, move)

    def size(self, name: str) -> float:
        cell = self.text(name)
        if not cell:
            self.complain(name, T_("a size"), T_("nothing"), T_("Measure it, or take the line out."))
            return 0.0
        try:
            found = read_size(cell, self.unit(name), decimal_comma=self.table.sign != ",")
        except NoUnitError:
            move = T_("Write the unit in the column's name ({example}) or in the cell.", example=f"{name}_cm")
            self.complain(name, T_("a size with its unit"), cell[:60], move)
            return 0.0
        except CellError:
            self.complain(name, T_("a size"), cell[:60], T_("Write it like 8ft, 40cm or 2.44 m."))
            return 0.0
        self.table.written(name, cell)
        return found

    def number(self, name: str) -> float | None:
        cell = self.text(name)
        try:
            if self.table.sign == "," and "," in cell:
                raise CellError(cell)
            return read_number(cell)
        except CellError:
            self.complain(
                name,
                T_("a number"),
                cell[:60] or T_("nothing"),
                T_("Write it like 110 or 0.306, without a unit."),
            )
            return None


@dataclass
class _Table:
    """A list while it is read."""

    what: str
    body: str
    columns: dict[str, str]
    needed: Sequence[str]
    example: str
    most: int
    sign: str = ","
    names: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    problems: list[LogListProblem] = field(default_factory=list)
    used: dict[str, set[str]] = field(default_factory=dict)

    def complain(self, line: int, name: str, wanted: Text, got: object, move: Text) -> None:
        self.problems.append(LogListProblem(line, name, wanted, got, move))

    def written(self, name: str, cell: str) -> None:
        """Keeps the units that stand in the cells of a column, or "" for none."""
        self.used.setdefault(name, set()).update(_WORD.findall(cell.casefold()) or [""])

    def notes(self) -> tuple[Text, ...]:
        said = []
        for name, used in self.used.items():
            own = self.units.get(name, "m" if name == "defects" else "")
            sizes = {UNITS_M.get(word, 0.0) for word in {one or own for one in used}}
            feet_and_inches = sizes == {UNITS_M["ft"], UNITS_M["in"]}
            if len(sizes) > 1 and not feet_and_inches:
                said.append(
                    T_(
                        "{column} is written in several units ({units}); each was read as written. "
                        "Look whether one is a slip.",
                        column=self.names.get(name, name),
                        units=", ".join(sorted({word or own for word in used})),
                    )
                )
        return tuple(said)

    def each(self, take: Callable[[_Row], None]) -> None:
        """Reads the head, then every line; raises with all that is wrong."""
        begin = T_("Begin with the example: {example}", example=self.example.strip().replace("\n", " / "))
        if len(self.body) > LONGEST_TEXT:
            self.complain(
                1,
                self.what,
                T_("at most {most} signs", most=LONGEST_TEXT),
                str(len(self.body)),
                T_("Split the list."),
            )
            raise LogListError(self.problems, field=self.what)
        lines = [
            (number, line)
            for number, line in enumerate(self.body.lstrip("\ufeff").splitlines(), start=1)
            if line.strip(" \t;,") and not line.lstrip().startswith("#")
        ]
        if not lines:
            self.complain(
                1, self.what, T_("a line of column names and a line for each"), T_("an empty list"), begin
            )
            raise LogListError(self.problems, field=self.what)
        self.sign = max(_SIGNS, key=lambda sign: lines[0][1].count(sign))
        head = self._head(*lines[0], begin)
        if not self.problems and len(lines) == 1:
            self.complain(
                lines[0][0], self.what, T_("at least one line under the column names"), T_("none"), begin
            )
        if not self.problems and len(lines) - 1 > self.most:
            self.complain(
                lines[self.most + 1][0],
                self.what,
                T_("at most {most} lines", most=self.most),
                str(len(lines) - 1),
                T_("Split the list; nothing of it was taken."),
            )
        if not self.problems:
            for number, line in lines[1:]:
                self._line(number, line, head, take)
        if self.problems:
            raise LogListError(self.problems, field=self.what)

    def _cells(self, line: str) -> list[str]:
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=self.sign, strict=True))]
        except csv.Error:
            # Inches are written with the sign that also quotes a cell: 16" is no open quote.
            return [cell.strip() for cell in line.split(self.sign)]

    def _head(self, number: int, line: str, begin: Text) -> list[str]:
        meanings = {
            plain(name): meaning for meaning, names in self.columns.items() for name in names.split("|")
        }
        found: list[str] = []
        for name in self._cells(line):
            meaning, unit = meanings.get(plain(name)), None
            match = _UNIT.match(name)
            if meaning is None and match and plain(match["name"]) in meanings:
                meaning, unit = meanings[plain(match["name"])], match["unit"].casefold()
            if meaning is None and name:
                move = T_("Rename or remove the column; a unit may follow, as in length_ft.")
                wanted = T_("one of the column names {names}", names=", ".join(self.columns))
                self.complain(number, name[:60], wanted, name[:60], move)
            elif meaning in found:
                self.complain(number, name[:60], T_("one such column"), T_("two"), T_("Remove one."))
            found.append(meaning or "")
            if meaning:
                self.names[meaning] = name
                if unit:
                    self.units[meaning] = unit
        for needed in self.needed:
            if needed not in found and not self.problems:
                self.complain(number, needed, T_("a column {name}", name=needed), T_("none"), begin)
        return found

    def _line(self, number: int, line: str, head: list[str], take: Callable[[_Row], None]) -> None:
        cells = self._cells(line)
        while len(cells) > len(head) and not cells[-1]:
            cells.pop()
        if len(cells) > len(head):
            wanted = T_("{wanted} cells, one per column", wanted=len(head))
            move = T_("Put a cell that holds the separator in quotes, or use semicolons.")
            self.complain(number, self.what, wanted, str(len(cells)), move)
            return
        row = _Row(self, number, {name: cell for name, cell in zip(head, cells, strict=False) if name})
        try:
            take(row)
        except InputError as error:
            row.complain(error.field, error.wanted, error.got, error.next_move)
