"""A tree's sheet, read back from its PDF."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from pypdf import PdfReader

from rickyard.paper import (
    STANDING_MM,
    SheetData,
    SheetLook,
    SheetPart,
    SheetRow,
    SheetState,
    render_sheet,
)

DOT = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><circle cx="4" cy="4" r="3"/></svg>'
DATA = SheetData(
    name="bog oak",
    scientific="Quercus palustris-fictiva",
    stands_in="Those of oaks stand in.",
    parts=(
        SheetPart(
            "leaf",
            "The tree in leaf",
            looks=(
                SheetLook(
                    "What edge?", (SheetState("smooth", DOT, "A smooth edge"),), ("toothed", "lobed"), (1, 3)
                ),
                SheetLook(
                    "Which fruit?", (SheetState("acorn", DOT, "An acorn"), SheetState("none", "", "")), (), ()
                ),
            ),
        ),
        SheetPart("heat", "Heat", (SheetRow("Heat of a cord", (("24 million Btu", (2,)),), "Net heat."),)),
        SheetPart("drying", "Drying", (SheetRow("Water when felled", (("44% of total mass", ()),)),)),
        SheetPart("splitting", "Splitting", (SheetRow("Splitting", (("easy", (1,)), ("hard", (2, 3)))),)),
    ),
    alike=(("mire oak", "Look at the cup.", (1,)),),
    sources=("A manual", "An agency", "A handbook"),
    dry=tuple((f"M{month}", ("Sep", "Aug to Oct")) for month in range(1, 13)),
    dry_lead="Pieces 41 cm long.",
    made_at=datetime(2026, 11, 26, 12, tzinfo=UTC),
)


@pytest.mark.parametrize("page", ["a4", "letter"])
def test_says_all_of_it_on_the_right_paper(page: str) -> None:
    reader = PdfReader(io.BytesIO(render_sheet(SheetData(**{**DATA.__dict__, "page": page}))))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())

    width, height = STANDING_MM[page]
    assert float(reader.pages[0].mediabox.width) == pytest.approx(width * 72 / 25.4, abs=0.5)
    assert float(reader.pages[0].mediabox.height) == pytest.approx(height * 72 / 25.4, abs=0.5)
    for words in (
        *("bog oak", "Quercus palustris-fictiva", "Those of oaks stand in.", "also: toothed, lobed"),
        *("24 million Btu", "Net heat.", "44% of total mass", "mire oak", "Look at the cup.", "A handbook"),
        *("[1, 3]", "hard", "[2, 3]"),
    ):
        assert words in text, words
    assert text.count("Aug to Oct") == 12
    assert reader.metadata is not None
    assert reader.metadata.title == "bog oak: the sheet"


def test_the_same_sheet_gives_the_same_bytes_and_is_tagged() -> None:
    made = render_sheet(DATA)

    assert made == render_sheet(DATA)
    assert PdfReader(io.BytesIO(made)).root_object["/MarkInfo"]["/Marked"]


def test_without_drying_nothing_is_said_of_it() -> None:
    made = render_sheet(SheetData(**{**DATA.__dict__, "dry": (), "dry_lead": ""}))
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(made)).pages)

    assert "Aug to Oct" not in text
    assert "stacked on" not in text
