"""Reading the two lists of a cutting plan from text: logs and wares. Taken whole or not at all.

A list has one line of column names and one line per log or ware; columns may be parted by commas, semicolons or
tabs. The unit stands in the column's name (`length_m`, `d_large_in`) or in each cell (`8ft`, `40cm`).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from rickyard.cut.logs import MOST_TOLERANCE, CutLog, Defect, Ware
from rickyard.cut.measured import cut_log
from rickyard.errors import InputError
from rickyard.measure.cells import UNITS_M, CellError, NoUnitError, read_number, read_size
from rickyard.measure.loads import odd_sizes
from rickyard.measure.loglist import (
    LOG_COLUMN_NAMES,
    LONGEST_TEXT,
    MOST_LOGS,
    LogListError,
    LogListProblem,
    LogRow,
)
from rickyard.text import T_, Quantity, Text
from rickyard.wood import UNNAMED, find_species, plain, species_named

_SIGNS = ";\t,"
_UNIT = re.compile(r"^(?P<name>.+?)[\s_(\[]+(?P<unit>mm|cm|m|ft|pi|in|po)[)\]]?$", re.IGNORECASE)
_DEFECT = re.compile(r"^(?P<start>[^:]+?)\s*(?:-|–|\bto\b|\bà\b)\s*(?P<end>[^:]+?)\s*(?::\s*(?P<kind>.*))?$")
_WORD = re.compile(r"[^\W\d_]+|['\"′″’”]")

LONGEST_DEFECT = 120
"""Signs that one defect may be written with."""

LOG_COLUMNS = {
    "log_id": LOG_COLUMN_NAMES["note"],
    "length": LOG_COLUMN_NAMES["length"],
    "d_large": LOG_COLUMN_NAMES["large"],
    "d_small": LOG_COLUMN_NAMES["small"],
    "mid": LOG_COLUMN_NAMES["mid"],
    "species": LOG_COLUMN_NAMES["species"],
    "defects": LOG_COLUMN_NAMES["defects"],
    "bark": LOG_COLUMN_NAMES["bark"],
    "sweep": LOG_COLUMN_NAMES["sweep"],
    "count": LOG_COLUMN_NAMES["count"],
}
"""The same names as of any list of logs; the columns of the plan's own example are among them."""

SHOWN_LOGS = 10
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
    table = _Table("logs", text, LOG_COLUMNS, ("length",), LOG_EXAMPLE, most)
    table.either = ("d_large", "d_small"), "mid"
    logs: list[CutLog] = []
    sizes: list[LogRow] = []
    seen: dict[str, int] = {}
    woods: dict[str, InputError | None] = {}
    as_thick: list[str] = []

    def take(row: _Row) -> None:
        log_id = row.text("log_id") or f"L{row.line}"
        length = row.size("length")
        told = LogRow(
            UNNAMED.id, length, *_diameters(row), row.size_or_none("bark") or 0.0, row.line,
            row.size_or_none("sweep") or 0.0,
        )  # fmt: skip
        count = row.count()
        defects = _defects(row)
        _look_up(row, woods)
        if log_id in seen:
            row.complain(
                "log_id",
                T_("a name that no other log has"),
                log_id,
                T_("Line {line} has it too; number the logs.", line=seen[log_id]),
            )
        seen.setdefault(log_id, row.line)
        if not row.sound:
            return
        told.volume()
        bare = cut_log(told)
        names = [log_id] if count == 1 else [f"{log_id}-{number}" for number in range(1, count + 1)]
        if len(logs) + count > most:
            wanted = T_("at most {most} logs", most=most)
            row.complain(
                "count", wanted, str(len(logs) + count), T_("Split the list; nothing of it was taken.")
            )
            return
        sizes.append(told)
        if told.small_d_m is None:
            as_thick.append(log_id)
        logs.extend(
            replace(bare, log_id=name, defects=defects, species=row.text("species")) for name in names
        )

    table.each(take)
    notes = [*table.notes(), *odd_sizes(sizes)]
    if as_thick:
        notes.append(
            T_(
                "Measured in the middle only, and taken to be as thick all along: {logs}.",
                logs=", ".join(as_thick[:SHOWN_LOGS]) + (", ..." if len(as_thick) > SHOWN_LOGS else ""),
            )
        )
    return ReadLogs(tuple(notes), tuple(logs))


def _diameters(row: _Row) -> tuple[float | None, float | None, float | None]:
    """Mid, small and large end; both ends, or the middle."""
    mid = row.size_or_none("mid")
    if mid is not None and not row.text("d_small") and not row.text("d_large"):
        return mid, None, None
    large, small = row.size("d_large"), row.size("d_small")
    if row.sound and large < small:
        wanted = T_("a large end at least as thick as the small end ({small})", small=Quantity(small, "size"))
        row.complain("d_large", wanted, row.text("d_large"), T_("Swap the two ends, or measure again."))
    return mid, small, large


def _look_up(row: _Row, woods: dict[str, InputError | None]) -> None:
    """Complains of a wood that is not known; each name is looked up once."""
    name = row.text("species")
    if name not in woods:
        woods[name] = None
        if name and len(species_named(name)) != 1:
            try:
                find_species(name, field=row.table.names.get("species", "species"))
            except InputError as error:
                woods[name] = error
    unknown = woods[name]
    if unknown is not None:
        row.complain("species", unknown.wanted, name[:60], unknown.next_move)


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
            # Places along a log are in the unit of its length unless the column or the cell says another.
            unit = row.unit("defects") or row.unit("length") or "m"
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

    def size_or_none(self, name: str) -> float | None:
        return self.size(name) if self.text(name) else None

    def count(self) -> int:
        cell = self.text("count")
        if not cell:
            return 1
        if cell.isascii() and cell.isdigit() and len(cell) < 9 and 1 <= int(cell) <= self.table.most:
            return int(cell)
        wanted = T_("a whole number of logs from 1 to {most}", most=self.table.most)
        self.complain("count", wanted, cell[:60], T_("Leave it empty for one log."))
        return 1

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
    either: tuple[tuple[str, ...], str] | None = None
    """Columns of which all must stand there, or the other one."""

    def complain(self, line: int, name: str, wanted: Text, got: object, move: Text) -> None:
        self.problems.append(LogListProblem(line, name, wanted, got, move))

    def written(self, name: str, cell: str) -> None:
        """Keeps the units that stand in the cells of a column, or "" for none."""
        self.used.setdefault(name, set()).update(_WORD.findall(cell.casefold()) or [""])

    def notes(self) -> tuple[Text, ...]:
        said = []
        for name, used in self.used.items():
            own = self.units.get(name, self.units.get("length", "m") if name == "defects" else "")
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
            elif meaning in found and meaning != "log_id":
                self.complain(number, name[:60], T_("one such column"), T_("two"), T_("Remove one."))
            found.append(meaning or "")
            if meaning:
                self.names[meaning] = name
                if unit:
                    self.units[meaning] = unit
        for needed in self.needed:
            if needed not in found and not self.problems:
                self.complain(number, needed, T_("a column {name}", name=needed), T_("none"), begin)
        if self.either is not None and not self.problems:
            together, instead = self.either
            missing = [name for name in together if name not in found]
            if missing and instead not in found:
                wanted = T_("a column {name}, or {other}", name=missing[0], other=instead)
                self.complain(number, missing[0], wanted, T_("none"), begin)
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
            name = {"ends": "d_large", "bark_thickness": "bark"}.get(error.field, error.field)
            row.complain(name, error.wanted, row.text(name) or error.got, error.next_move)
