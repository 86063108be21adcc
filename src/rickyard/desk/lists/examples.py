"""An empty list of each kind, made from the same table that reads them: the names and one invented line."""

from __future__ import annotations

import csv
import io
import re
from datetime import date

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from rickyard.desk.checks import one_of
from rickyard.desk.lists.columns import COLUMNS, KINDS

ENDINGS = ("csv", "xlsx")
_FIGURE = re.compile(r"\d+(?:[.,]\d+)?")


def example_rows(kind: str, locale: str) -> tuple[list[str], list[str]]:
    """Names and one line, English or French. Of a moisture only the column of total mass is in it."""
    one_of("kind", kind, tuple(KINDS))
    french = locale.startswith("fr")
    shown = [item for item in COLUMNS[kind] if item.basis in ("", "wet")]
    return [item.head(french) for item in shown], [item.example[french] for item in shown]


def example_list(kind: str, ending: str, locale: str) -> bytes:
    """The file. CSV has UTF-8 with its mark, which spreadsheets want; French has semicolons and decimal commas."""
    one_of("ending", ending, ENDINGS)
    heads, cells = example_rows(kind, locale)
    if ending == "csv":
        text = io.StringIO(newline="")
        writer = csv.writer(text, delimiter=";" if locale.startswith("fr") else ",")
        writer.writerows([heads, cells])
        return text.getvalue().encode("utf-8-sig")
    book = Workbook()
    page = book.active
    assert page is not None
    page.title = kind
    page.append(heads)
    page.append([_typed(cell) for cell in cells])
    for place, head in enumerate(heads, start=1):
        top = page.cell(row=1, column=place)
        top.font, top.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="top")
        page.column_dimensions[get_column_letter(place)].width = max(12, min(34, len(head) + 2))
    page.freeze_panes = "A2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _typed(cell: str) -> object:
    """A figure or a day as a spreadsheet keeps it; anything else as text."""
    if _FIGURE.fullmatch(cell):
        return float(cell.replace(",", ".")) if "," in cell or "." in cell else int(cell)
    try:
        return date.fromisoformat(cell)
    except ValueError:
        return cell or None
