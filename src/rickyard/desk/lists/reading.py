"""From a file to rows of text with their line numbers: CSV and the like in any usual writing, and XLSX workbooks.

Nothing of a workbook is worked out: a formula gives the value that was saved with it, and is complained of where
none was. What a file may hold is bounded before it is unpacked.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from xml.etree.ElementTree import ParseError

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from rickyard.errors import InputError
from rickyard.measure.listing import SEPARATORS, BrokenRowError, TextRow, rows_of, separator_of, text_of
from rickyard.measure.loglist import LogListProblem
from rickyard.text import T_, Text

MOST_BYTES = 5_000_000
"""Size of a file."""

MOST_UNPACKED = 40_000_000
"""What a workbook may unpack to. A list of five thousand lines takes a fiftieth of it."""

MOST_PARTS = 1_000
MOST_ROWS = 6_000
MOST_COLUMNS = 80
LONGEST_CELL = 2_000
LOOKED_AT = 15
"""Lines among which the one with the names of the columns is sought."""

_ZIP = b"PK\x03\x04"
_OLD_EXCEL = b"\xd0\xcf\x11\xe0"
_DECIMAL_COMMA = re.compile(r"(?<![\d.,])(?:\d+,\d{1,2}|0,\d+|\d+,\d{4,})(?![\d.,])")
_DECIMAL_POINT = re.compile(r"(?<![\d.,])(?:\d+\.\d{1,2}|0\.\d+|\d+\.\d{4,})(?![\d.,])")

Score = Callable[[Sequence[str]], int]
"""How many columns a line of names would give."""


@dataclass(frozen=True)
class Table:
    """A list as rows of text.

    Attributes
    ----------
    sheets
        The sheets of a workbook that hold anything; none for a text.
    sheet
        The one that was read.
    heads, head_line
        Names of the columns, and the line they end on; those of two lines under each other are one name.
    rows
        The lines under them.
    decimal_comma
        Whether the comma is the decimal sign, as far as the figures tell.
    faults
        Cells that cannot be read as they are.
    """

    sheets: tuple[str, ...]
    sheet: str
    heads: tuple[str, ...]
    head_line: int
    rows: tuple[TextRow, ...]
    decimal_comma: bool
    faults: tuple[LogListProblem, ...] = ()


def read_table(raw: bytes, score: Score, *, sheet: str = "", head_line: int = 0) -> Table:
    """The table in a file; `head_line` says where the names stand, 0: the line that names most.

    Raises InputError for `file`, `sheet` or `head_line` if there is none that can be read.
    """
    if len(raw) > MOST_BYTES:
        raise _file(
            T_("a file of at most {most} MB", most=MOST_BYTES // 1_000_000),
            T_("{size:.1f} MB", size=len(raw) / 1e6),
            T_("Split the list."),
        )
    if raw.startswith(_OLD_EXCEL):
        raise _file(
            T_("CSV or XLSX"),
            T_("a workbook of the old kind (XLS), or one with a password"),
            T_("Save it as XLSX or CSV, without a password, and send that."),
        )
    if raw.startswith(_ZIP):
        return _from_workbook(raw, score, sheet, head_line)
    text = text_of(raw)
    if "\x00" in text or not text.strip():
        raise _file(
            T_("a list as CSV or XLSX"),
            T_("an empty file") if not text.strip("\x00 \r\n\t") else T_("a file that is no text"),
            T_("Save the list as CSV or XLSX and send that."),
        )
    rows = _from_text(text, score)
    _bounded(rows)
    return _made(rows, score, head_line, ("", ()), _has_decimal_comma(rows))


def _from_text(text: str, score: Score) -> list[TextRow]:
    """Rows by the separator that gives the best line of names."""
    first = next(line for line in text.splitlines() if line.strip())
    likeliest = separator_of(first)
    best: tuple[int, list[TextRow]] | None = None
    broken: BrokenRowError | None = None
    for separator in (likeliest, *(sign for sign in SEPARATORS if sign != likeliest)):
        try:
            rows = rows_of(text, separator)
        except BrokenRowError as error:
            broken = broken or error
            continue
        found = max((score(row.cells) for row in rows[:LOOKED_AT]), default=0)
        if best is None or found > best[0]:
            best = (found, rows)
    if best is None or (broken is not None and best[0] == 0):
        line = broken.line if broken is not None else 1
        raise _file(
            T_("quotes that close"),
            T_("quotes that stay open in line {line}", line=line),
            T_("Remove the quote, or write it twice inside a cell in quotes."),
        )
    return best[1]


def _from_workbook(raw: bytes, score: Score, sheet: str, head_line: int) -> Table:
    _unpackable(raw)
    try:
        found, formulas = _sheets(raw, values=True), _sheets(raw, values=False)
    except (
        InvalidFileException,
        zipfile.BadZipFile,
        ParseError,
        ValueError,
        KeyError,
        TypeError,
        IndexError,
        AttributeError,
        OSError,
        EOFError,
    ) as error:
        # What a broken workbook makes the library stumble over is one thing to whoever sent it.
        raise _file(
            T_("a workbook (XLSX) that can be read"),
            T_("one that is broken, or another kind of file"),
            T_("Open it, save it anew as XLSX or CSV, and send that."),
        ) from error
    filled = {name: rows for name, rows in found.items() if any(any(cells) for _, cells in rows)}
    if not filled:
        raise _file(T_("a sheet with a list"), T_("empty sheets"), T_("Check the file."))
    if sheet and sheet not in filled:
        raise InputError(
            "sheet",
            wanted=T_("one of {names}", names="; ".join(filled)),
            got=sheet[:60],
            next_move=T_("Choose the sheet with the list."),
        )
    texts = {name: _texts(rows) for name, rows in filled.items()}
    chosen = sheet or max(
        texts, key=lambda name: max((score(row.cells) for row in texts[name][:LOOKED_AT]), default=0)
    )
    _bounded(texts[chosen])
    faults = _faults(found[chosen], formulas.get(chosen, []))
    table = _made(texts[chosen], score, head_line, (chosen, tuple(texts)), False)
    # A fault above the names of the columns is nobody's.
    named = tuple(
        LogListProblem(
            fault.line, _head(table.heads, int(fault.field)), fault.wanted, fault.got, fault.next_move
        )
        for fault in faults
        if fault.line > table.head_line
    )
    return Table(table.sheets, table.sheet, table.heads, table.head_line, table.rows, False, named)


def _unpackable(raw: bytes) -> None:
    """Refuses what would unpack to far more than a list: by what the archive says, which unpacking holds it to."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            parts = archive.infolist()
    except zipfile.BadZipFile as error:
        raise _file(
            T_("a workbook (XLSX) that can be read"),
            T_("an archive that is broken or cut short"),
            T_("Send it once more, or save it anew."),
        ) from error
    size = sum(part.file_size for part in parts)
    if size > MOST_UNPACKED or len(parts) > MOST_PARTS:
        raise _file(
            T_("a workbook that unpacks to at most {most} MB", most=MOST_UNPACKED // 1_000_000),
            T_("{size} MB in {count} parts", size=size // 1_000_000, count=len(parts)),
            T_("Copy the list alone into a new workbook, and send that."),
        )


Cells = list[tuple[int, tuple[Any, ...]]]


def _sheets(raw: bytes, *, values: bool) -> dict[str, Cells]:
    """Cells of every sheet that is shown, by its lines; a cell is (value, format of its number) or None."""
    book = load_workbook(io.BytesIO(raw), read_only=True, data_only=values, keep_links=False)
    try:
        found: dict[str, Cells] = {}
        for page in book.worksheets:
            if page.sheet_state != "visible":
                continue
            # What a workbook says of its own extent is often wrong.
            page.reset_dimensions()
            lines: Cells = []
            for number, row in enumerate(page.iter_rows(max_col=MOST_COLUMNS + 1, max_row=MOST_ROWS + 50), 1):
                cells = tuple(
                    None if cell.value is None else (cell.value, str(cell.number_format or ""))
                    for cell in row
                )
                if any(cells):
                    lines.append((number, cells))
            found[page.title] = lines
        return found
    finally:
        book.close()


def _texts(rows: Cells) -> list[TextRow]:
    return [
        TextRow(line, tuple("" if cell is None else cell_text(*cell) for cell in cells))
        for line, cells in rows
    ]


def cell_text(value: object, number_format: str = "") -> str:
    """A cell of a workbook as it would be typed: days as year-month-day, decimals with a point, shares as percents."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ", "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        if "%" in number_format:
            return f"{_figure(round(float(value) * 100, 9))} %"
        return _figure(value)
    return str(value)


def _figure(value: float) -> str:
    """Without the last binary digits that nobody typed, and never as a power of ten."""
    text = f"{float(value):.12f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _faults(values: Cells, formulas: Cells) -> list[LogListProblem]:
    """Cells whose value is an error, or a formula without its value; `field` is the cell's place in the row."""
    shown = dict(values)
    faults: list[LogListProblem] = []
    for line, cells in formulas:
        for place, cell in enumerate(cells):
            saved = shown.get(line, ())
            value = saved[place] if place < len(saved) else None
            if value is not None and isinstance(value[0], str) and value[0].startswith("#"):
                if value[0].rstrip("!?").removeprefix("#") in _ERRORS:
                    faults.append(_bad_cell(line, place, value[0]))
            elif cell is not None and value is None and str(cell[0]).startswith("="):
                faults.append(_bad_cell(line, place, str(cell[0])[:60]))
    return faults


_ERRORS = ("REF", "N/A", "NAME", "VALUE", "DIV/0", "NUM", "NULL")


def _bad_cell(line: int, place: int, got: str) -> LogListProblem:
    return LogListProblem(
        line,
        str(place),
        T_("a value, or a formula with its value"),
        got,
        T_("Open the workbook, let it reckon, and save it; or type the value."),
    )


def _made(
    rows: list[TextRow], score: Score, head_line: int, sheets: tuple[str, tuple[str, ...]], comma: bool
) -> Table:
    heads, under, line = _heads(rows, score, head_line)
    return Table(sheets[1], sheets[0], heads, line, tuple(rows[under:]), comma)


def _heads(rows: list[TextRow], score: Score, head_line: int) -> tuple[tuple[str, ...], int, int]:
    """Names of the columns, how many rows they and what stands above take up, and the line they end on."""
    if head_line:
        for place, row in enumerate(rows):
            if row.line == head_line:
                return _names(row.cells), place + 1, row.line
        raise InputError(
            "head_line",
            wanted=T_("a line that is not empty"),
            got=head_line,
            next_move=T_("Say on which line of the file the names of the columns stand."),
        )
    best = (-1, _names(rows[0].cells), 1, rows[0].line)
    for place, row in enumerate(rows[:LOOKED_AT]):
        tries = [(_names(row.cells), place + 1, row.line)]
        if place + 1 < len(rows[:LOOKED_AT]):
            tries.append((_two_lines(row.cells, rows[place + 1].cells), place + 2, rows[place + 1].line))
        for names, under, line in tries:
            if (found := score(names)) > best[0]:
                best = (found, names, under, line)
    return best[1], best[2], best[3]


def _names(cells: Sequence[str]) -> tuple[str, ...]:
    names = [" ".join(cell.split()) for cell in cells]
    while names and not names[-1]:
        names.pop()
    return tuple(names)


def _two_lines(above: Sequence[str], below: Sequence[str]) -> tuple[str, ...]:
    """One name from two lines: a merged cell above stands over all columns up to the next."""
    names: list[str] = []
    group = ""
    for place in range(max(len(above), len(below))):
        top = above[place].strip() if place < len(above) else ""
        low = below[place].strip() if place < len(below) else ""
        group = top or group
        names.append(f"{group} {low}".strip() if low else top)
    return _names(names)


def _head(heads: Sequence[str], place: int) -> str:
    return (heads[place] if place < len(heads) else "") or letters(place)


def letters(place: int) -> str:
    """How a spreadsheet calls a column, from 0: A, B, ... Z, AA."""
    name = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def _has_decimal_comma(rows: Sequence[TextRow]) -> bool:
    """Whether figures that can be read in one way only have a comma, and none such has a point."""
    cells = [cell for row in rows for cell in row.cells]
    return any(_DECIMAL_COMMA.search(cell) for cell in cells) and not any(
        _DECIMAL_POINT.search(cell) for cell in cells
    )


def _bounded(rows: Sequence[TextRow]) -> None:
    if len(rows) > MOST_ROWS:
        raise _file(
            T_("at most {most} lines", most=MOST_ROWS),
            T_("more lines"),
            T_("Split the list, and send its parts."),
        )
    for row in rows:
        if len(row.cells) > MOST_COLUMNS and any(row.cells[MOST_COLUMNS:]):
            raise _file(
                T_("at most {most} columns", most=MOST_COLUMNS),
                T_("more columns in line {line}", line=row.line),
                T_("Copy the list alone into a new file, and send that."),
            )
        if any(len(cell) > LONGEST_CELL for cell in row.cells):
            raise _file(
                T_("cells of at most {most} signs", most=LONGEST_CELL),
                T_("a longer one in line {line}", line=row.line),
                T_("Shorten it, or close its quotes."),
            )


def _file(wanted: Text, got: Text, next_move: Text) -> InputError:
    return InputError("file", wanted=wanted, got=got, next_move=next_move)
