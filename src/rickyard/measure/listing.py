"""Lists as files: from bytes to text, from text to rows of cells. What the columns mean is for others to say."""

from __future__ import annotations

import codecs
import csv
import io
from dataclasses import dataclass

SEPARATORS = (";", "\t", ",")
"""What parts the columns of a list, in the order in which ties are settled."""

# The longest mark first: the one of UTF-32 begins with that of UTF-16.
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_LOOKED_AT = 4096


@dataclass(frozen=True)
class TextRow:
    """A row of a list: the line it begins on, from 1, and its cells as they stand."""

    line: int
    cells: tuple[str, ...]


class BrokenRowError(ValueError):
    """A row whose quotes do not close; `line` is where it begins."""

    def __init__(self, line: int) -> None:
        super().__init__(line)
        self.line = line


def text_of(raw: bytes) -> str:
    """The text of a file: by its mark, else UTF-16 by its zero bytes, else UTF-8, else Windows-1252.

    Windows-1252 is what old spreadsheets write; any byte is a sign in it, so nothing is refused here.
    """
    for mark, encoding in _MARKS:
        if raw.startswith(mark):
            return raw.decode(encoding, errors="replace")
    head = raw[:_LOOKED_AT]
    if len(head) > 1 and 0 in head:
        # Text of our alphabet in UTF-16 has a zero in every second byte.
        return raw.decode("utf-16-be" if head[0] == 0 else "utf-16-le", errors="replace")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def separator_of(line: str) -> str:
    """What parts the columns of a line of names."""
    return max(SEPARATORS, key=line.count)


def rows_of(text: str, separator: str) -> list[TextRow]:
    """The rows of a text that are not empty; a cell in quotes may hold the separator and line feeds.

    A quotation mark inside a cell without quotes is a sign like others: inches are written with it.
    Raises BrokenRowError if quotes are left open.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows: list[TextRow] = []
    begins = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append(TextRow(begins, tuple(cells)))
            begins = reader.line_num + 1
    except csv.Error as error:
        raise BrokenRowError(begins) from error
    return rows
