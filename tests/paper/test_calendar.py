"""The drying calendar, read back from its PDF."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from pypdf import PdfReader

from rickyard.paper import (
    CALENDAR_PAGES_MM,
    CalendarBlock,
    CalendarData,
    CalendarEntry,
    entry_kind,
    entry_words,
    render_calendar,
)
from rickyard.show import Voice, find_raw_english
from rickyard.text import T_

SOON = CalendarEntry(p10=(6, 0), p50=(8, 0), p90=(9, 0))
PARTED = CalendarEntry(p10=(9, 0), p50=(5, 1), p90=(7, 1), parted=True)
NEVER = CalendarEntry(p10=None, p50=None, p90=None)
DATA = CalendarData(
    place="Fredericton, NB",
    blocks=(
        CalendarBlock(species="Red oak", rows=((0.10, (SOON,) * 6 + (PARTED,) * 6), (0.15, (NEVER,) * 12))),
        CalendarBlock(species="White ash", rows=((0.10, (SOON,) * 12),)),
    ),
    piece_length_m=0.41,
    cover=T_("top covered"),
    target_mc_wet=0.20,
    model="made-up",
    members=24,
    made_at=datetime(2026, 11, 25, 12, tzinfo=UTC),
)


@pytest.mark.parametrize("page", ["a4", "letter"])
def test_says_all_of_it_on_the_right_paper(page: str) -> None:
    made = render_calendar(replace(DATA, page=page))
    reader = PdfReader(io.BytesIO(made))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())

    width, height = CALENDAR_PAGES_MM[page]
    assert float(reader.pages[0].mediabox.width) == pytest.approx(width * 72 / 25.4, abs=0.5)
    assert float(reader.pages[0].mediabox.height) == pytest.approx(height * 72 / 25.4, abs=0.5)
    assert len(reader.pages) == 1
    assert "Drying calendar, Fredericton, NB" in text
    assert text.count("Aug Jun to Sep") == 18
    assert text.count("May +1*") == 6
    assert "Sep to Jul +1" in text
    assert "later" in text
    assert "20% of total mass (25% of dry mass)" in text
    assert "made-up with 24 members" in text
    assert reader.metadata is not None
    assert reader.metadata.title == "Drying calendar, Fredericton, NB"


def test_same_data_same_bytes() -> None:
    assert render_calendar(DATA) == render_calendar(DATA)


def test_no_raw_english() -> None:
    reader = PdfReader(io.BytesIO(render_calendar(replace(DATA, locale="en_XA"))))
    words = "".join(f"<p>{line}</p>" for line in reader.pages[0].extract_text().splitlines())

    assert find_raw_english(words, ("Fredericton, NB", "Red oak", "White ash", "made-up")) == []


def test_kinds_and_words() -> None:
    voice = Voice()

    assert [entry_kind(entry) for entry in (SOON, PARTED, NEVER)] == ["same", "next", "next"]
    assert entry_kind(CalendarEntry(p10=(7, 0), p50=(9, 0), p90=(5, 1))) == "doubt"
    assert entry_words(voice, PARTED) == ("May +1", "Sep to Jul +1")
    assert entry_words(voice, NEVER) == ("later", "later")
    assert entry_words(Voice("fr_CA"), CalendarEntry(p10=(8, 0), p50=(8, 0), p90=(8, 0)))[0] == "août"


def test_nothing_is_no_calendar() -> None:
    with pytest.raises(ValueError, match="without wood"):
        render_calendar(replace(DATA, blocks=()))
