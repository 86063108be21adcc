"""The cut sheet and the splitting sheet: what stands on them, on both papers, in both units, tagged."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from rickyard.cut import CutLog, Defect, Saw, Ware, log_svg, plan_cuts, split_round
from rickyard.errors import InputError
from rickyard.measure import IN_M
from rickyard.paper import (
    MOST_LOGS_ON_PAPER,
    CutSheetData,
    SplitSheetData,
    render_cut_sheet,
    render_split_sheet,
)
from rickyard.show import Voice
from rickyard.show.tape import tape_feet, tape_mark
from rickyard.text import T_

NOW = datetime(2026, 11, 26, 8, 0, tzinfo=UTC)
LOGS = [
    CutLog("K1", 2.44, 0.30, 0.28, (Defect(1.0, 1.1, "nail"),), "sugar maple"),
    CutLog("K2", 3.05, 0.24, 0.20),
    CutLog("K3", 0.30, 0.24, 0.20),
]
PLAN = plan_cuts(
    LOGS, [Ware("stove-16", 16 * IN_M, 110.0), Ware("long-40", 40 * IN_M, 90.0, 0.05)], Saw(0.008, 0.02)
)


def text_of(pdf: bytes) -> str:
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return re.sub(r"[\u00a0\u202f ]+", " ", text)


def test_marks_stand_on_the_sheet_in_inches() -> None:
    pdf = render_cut_sheet(CutSheetData(plan=PLAN, made_at=NOW, title="Load 7"))
    text = text_of(pdf)

    assert "Load 7" in text
    assert all(log.log_id in text for log in LOGS)
    voice = Voice()
    for one in PLAN.logs:
        for cut in one.cuts:
            assert tape_mark(voice, cut.to_m).replace("\u00a0", " ") in text
    for words in (
        "Nothing to cut.",
        "nail",
        "Sawdust",
        "Kindling",
        "Bark on the pieces",
        "This is no training",
    ):
        assert words in text
    page = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    assert (round(page.width), round(page.height)) == (612, 792)
    assert PdfReader(io.BytesIO(pdf)).trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert pdf == render_cut_sheet(CutSheetData(plan=PLAN, made_at=NOW, title="Load 7"))


def test_centimetres_and_a4() -> None:
    pdf = render_cut_sheet(
        CutSheetData(
            plan=PLAN, made_at=NOW, units="metric", page="a4", locale="fr_CA", notes=(T_("A note."),)
        )
    )
    text = text_of(pdf)

    assert tape_mark(Voice("fr_CA", "metric"), PLAN.logs[1].cuts[0].to_m) in text
    assert "A note." in text
    page = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    assert (round(page.width), round(page.height)) == (595, 842)


def test_a_sheet_of_too_many_logs_is_refused() -> None:
    logs = [CutLog(f"L{n}", 0.3, 0.2, 0.2) for n in range(MOST_LOGS_ON_PAPER + 1)]
    plan = plan_cuts(logs, [Ware("a", 1.0, 100.0)], Saw())

    with pytest.raises(InputError, match="Split the list"):
        render_cut_sheet(CutSheetData(plan=plan, made_at=NOW))


@pytest.mark.parametrize(
    ("at_m", "inches", "feet", "cm"),
    [
        (0.02, "3/4", "", "2.0"),
        (0.4064, "16", "", "40.6"),
        (1.312, "51 5/8", "4′ 3 5/8″", "131.2"),
        (0.6096, "24", "2′ 0″", "61.0"),
        (2.4384, "96", "8′ 0″", "243.8"),
        (1.2192 - 0.0005, "48", "4′ 0″", "121.9"),
    ],
)
def test_the_tape(at_m: float, inches: str, feet: str, cm: str) -> None:
    voice = Voice("en_CA", "imperial")

    assert tape_mark(voice, at_m).replace("\u00a0", " ") == inches
    assert tape_feet(voice, at_m).replace("\u00a0", " ") == feet
    assert tape_mark(Voice("en_CA", "metric"), at_m) == cm
    assert tape_feet(Voice("en_CA", "metric"), at_m) == ""


def test_the_drawing_is_to_scale() -> None:
    """Ends of pieces and the thickness at both ends, measured in the picture."""
    one = PLAN.logs[0]
    drawn = ElementTree.fromstring(log_svg(one, PLAN.saw, title="K1 <1>", mark=lambda m: f"{m:.2f}"))
    unit = 1000.0 / 2.44
    pieces = [node for node in drawn.iter() if node.get("data-piece")]
    assert len(pieces) == len(one.cuts)
    for node, cut in zip(pieces, one.cuts, strict=True):
        corners = [tuple(map(float, pair.split(","))) for pair in node[0].attrib["points"].split()]
        xs = [x for x, _ in corners]
        assert (min(xs), max(xs)) == (
            pytest.approx(cut.from_m * unit, abs=0.01),
            pytest.approx(cut.to_m * unit, abs=0.01),
        )
        assert corners[3][1] - corners[0][1] == pytest.approx(one.log.diameter_m(cut.from_m) * unit, abs=0.02)
    assert any(node.text == "nail" for node in drawn.iter())


def test_the_splitting_sheet() -> None:
    plans = tuple(
        (T_("Wanted: no thicker than {limit}.", limit="5 in"), split_round(d, 0.127)) for d in (0.3, 0.5)
    )
    pdf = render_split_sheet(SplitSheetData(plans=plans, made_at=NOW))
    text = text_of(pdf)

    for words in (
        "Round of 11.8 in",
        "Wanted: no thicker than 5 in.",
        "one person loads",
        "Local codes",
        "Forks, knots",
    ):
        assert words in text
    with pytest.raises(ValueError, match="without rounds"):
        render_split_sheet(SplitSheetData(plans=(), made_at=NOW))
