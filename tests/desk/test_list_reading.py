"""Lists as files: every usual writing of a text, workbooks with what people do in them, and what is refused."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from contextlib import suppress
from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from rickyard.desk.lists.columns import COLUMNS, guess, meaning_of, unit_in
from rickyard.desk.lists.reading import MOST_BYTES, cell_text, letters, read_table
from rickyard.errors import InputError
from rickyard.measure.listing import rows_of, text_of


def of_households(heads: Sequence[str]) -> int:
    return len({meaning_of("households", head) for head in heads} - {""})


TEXT = 'Nom;Adresse;Téléphone;Note\nÉlodie Bûcheron;"3, chemin du Quai\nLa Rive";506 555 0100;16" ou 1,25 m\n'


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"]
)
@pytest.mark.parametrize("separator", [";", "\t", ","])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_texts_of_every_writing(encoding: str, separator: str, line_end: str) -> None:
    lines = TEXT.replace(";", separator).replace("\n", line_end)
    if separator == ",":
        lines = lines.replace("1,25 m", "1.25 m")
    table = read_table(lines.encode(encoding), of_households)

    assert table.heads == ("Nom", "Adresse", "Téléphone", "Note")
    [row] = table.rows
    assert row.line == 2
    assert row.cells[0] == "Élodie Bûcheron"
    assert row.cells[1].split() == "3, chemin du Quai La Rive".split()
    assert row.cells[3].startswith('16" ou 1')
    assert table.decimal_comma == (separator != ",")


def test_a_line_after_a_quoted_line_feed_has_the_number_it_has_in_the_file() -> None:
    text = 'name,note\nA,"one\ntwo\nthree"\n\nB,x\n'
    assert [(row.line, row.cells[0]) for row in read_table(text.encode(), of_households).rows] == [
        (2, "A"),
        (6, "B"),
    ]


def workbook() -> tuple[Workbook, bytes]:
    book = Workbook()
    page = book.active
    assert page is not None
    page.title = "Kunden"
    page.append(["Everybody, spring"])
    page.append([])
    page.append(["Who", None, "Reach", None])
    page.merge_cells("A3:B3")
    page.merge_cells("C3:D3")
    page.append(["name", "address", "phone", "note"])
    page.append(["Alder", "1 Lane", 5065550100, date(2026, 4, 1)])
    page.append([])
    page.append(["Birch", True, 0.125, datetime(2026, 4, 1)])  # noqa: DTZ001 - a workbook knows no zones
    page["C7"].number_format = "0.0%"
    other = book.create_sheet("Empty")
    other.sheet_state = "visible"
    hidden = book.create_sheet("Hidden")
    hidden.append(["name", "address", "phone", "note"])
    hidden.sheet_state = "hidden"
    return book, saved(book)


def saved(book: Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_workbook_with_a_title_merged_names_days_shares_and_a_gap() -> None:
    table = read_table(workbook()[1], of_households)

    assert table.sheets == ("Kunden",)
    assert table.head_line == 4
    assert guess("households", table.heads) == ("name", "address", "phone", "note")
    assert [(row.line, row.cells[:4]) for row in table.rows] == [
        (5, ("Alder", "1 Lane", "5065550100", "2026-04-01")),
        (7, ("Birch", "yes", "12.5 %", "2026-04-01")),
    ]


def test_two_lines_of_names_are_one() -> None:
    book = Workbook()
    page = book.active
    assert page is not None
    page.append(["stack", "wood", "piece", None, "outside", None, "stacked on"])
    page.append([None, None, "length (in)", "thickness", "length", "height", None])
    page.append(["N1", "ash", 16, "5 in", 20, 4, date(2026, 4, 1)])
    table = read_table(saved(book), lambda heads: len({meaning_of("stock", head) for head in heads} - {""}))

    assert table.heads[2:6] == ("piece length (in)", "piece thickness", "outside length", "outside height")
    assert guess("stock", table.heads) == (
        *("name", "wood", "piece_length", "thickness", "length", "height", "stacked_on"),
    )


def with_part(raw: bytes, name: str, content: bytes) -> bytes:
    """The workbook with one part replaced."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            new.writestr(part, content if part == name else old.read(part))
    return out.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


def test_a_formula_gives_its_saved_value_and_is_complained_of_without_one() -> None:
    book = Workbook()
    page = book.active
    assert page is not None
    page.append(["name", "phone"])
    page.append(["Alder", "=1+1"])
    page.append(["Birch", "=1/0"])
    raw = saved(book)
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        xml = archive.read(SHEET).decode()
    reckoned = xml.replace("<f>1+1</f><v></v>", "<f>1+1</f><v>2</v>").replace(
        "<f>1+1</f><v />", "<f>1+1</f><v>2</v>"
    )
    assert reckoned != xml
    table = read_table(with_part(raw, SHEET, reckoned.encode()), of_households)

    assert table.rows[0].cells[:2] == ("Alder", "2")
    [fault] = table.faults
    assert (fault.line, fault.field, fault.got) == (3, "phone", "=1/0")


def test_bombs_broken_and_foreign_files_are_refused() -> None:
    _, raw = workbook()
    bomb = with_part(raw, SHEET, b"<x>" + b" " * 45_000_000 + b"</x>")
    assert len(bomb) < 200_000
    entities = (
        b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c"><!ENTITY d "&b;&b;">]><worksheet>&d;</worksheet>'
    )
    for content, wanted in (
        (bomb, "unpacks to at most"),
        (with_part(raw, SHEET, entities), "can be read"),
        (with_part(raw, SHEET, b"<worksheet"), "can be read"),
        (raw[: len(raw) // 2], "broken or cut short"),
        (b"\xd0\xcf\x11\xe0" + b"\x00" * 600, "old kind"),
        (b"", "empty file"),
        (b" \r\n", "empty file"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" * 20, "no text"),
        (b"name,phone\n" + b"A,1\n" * 7_000, "at most 6000 lines"),
        (b"x" * (MOST_BYTES + 1), "at most 5 MB"),
        (b'name,phone\n"A,1\nB,2\n', "quotes that stay open in line 2"),
        (b"name,phone\nA," + b"1" * 3_000, "at most 2000 signs"),
    ):
        with pytest.raises(InputError, match=wanted):
            read_table(content, of_households)


def test_the_extent_that_a_workbook_claims_costs_nothing() -> None:
    book, _ = workbook()
    page = book["Kunden"]
    page.cell(row=1_048_576, column=1, value="far below")
    assert len(read_table(saved(book), of_households).rows) == 2


def test_a_sheet_or_a_line_of_names_that_is_not_there() -> None:
    _, raw = workbook()
    with pytest.raises(InputError, match="wanted one of Kunden"):
        read_table(raw, of_households, sheet="Hidden")
    assert read_table(raw, of_households, head_line=5).heads[0] == "Alder"
    with pytest.raises(InputError, match="not empty"):
        read_table(raw, of_households, head_line=6)


def test_every_name_of_a_column_means_one_column_only() -> None:
    for kind, columns in COLUMNS.items():
        for item in columns:
            for name in item.names.split("|"):
                same = item.fact == next(c.fact for c in columns if c.id == meaning_of(kind, name))
                assert same, (kind, item.id, name, meaning_of(kind, name))


@pytest.mark.parametrize(
    ("head", "unit"),
    [("length (ft)", "ft"), ("piece_length_in", "in"), ("longueur [m]", "m"), ("po", ""), ("height", "")],
)
def test_units_of_names(head: str, unit: str) -> None:
    assert unit_in(head) == unit


def test_cells_and_letters() -> None:
    assert [cell_text(value) for value in (0.1 + 0.2, 1e6, -0.0, 12, False, 2.44)] == [
        *("0.3", "1000000", "0", "12", "no", "2.44"),
    ]
    assert [letters(place) for place in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    assert isinstance(text_of(raw), str)
    with suppress(InputError):
        assert read_table(raw, of_households).heads is not None


@given(st.lists(st.lists(st.text(alphabet='ab,;\t"\n é', max_size=6), min_size=2, max_size=4), max_size=4))
def test_what_a_spreadsheet_writes_is_read_as_it_was(cells: list[list[str]]) -> None:
    import csv

    out = io.StringIO(newline="")
    csv.writer(out, delimiter=";", quoting=csv.QUOTE_ALL).writerows(cells)
    wanted = [tuple(row) for row in cells if any(cell.strip() for cell in row)]
    assert [row.cells for row in rows_of(out.getvalue(), ";")] == wanted
