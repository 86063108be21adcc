"""`season what-if`, `backwards`, `keeping` and `calendar` on the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from rickyard.cli.app import run

WOOD = ("--species", "white ash", "--piece-length", "16in", "--thickness", "12cm", "--place", "Fredericton")
FEW = ("--members", "8")


@pytest.fixture
def ask(capsys: pytest.CaptureFixture[str]) -> Any:
    def ask(*arguments: str) -> dict[str, Any]:
        assert run(["season", *arguments, "--json"]) == 0
        printed = capsys.readouterr()
        assert printed.err == ""
        found: dict[str, Any] = json.loads(printed.out)
        return found

    return ask


def test_what_if(ask: Any) -> None:
    found = ask("what-if", *WOOD, "--stacked-on", "2026-04-15", "--by", "2026-07-15", *FEW)
    changes = {change["change"]: change for change in found["changes"]}

    assert next(iter(changes)) == "as_it_is"
    assert {"finer", "coarser", "shorter", "cover_shed", "windier", "earlier", "later"} <= set(changes)
    assert changes["finer"]["sooner_days"]["p50"] > 0 > changes["coarser"]["sooner_days"]["p50"]
    assert changes["finer"]["odds_by"] >= changes["as_it_is"]["odds_by"] >= changes["later"]["odds_by"]
    hours = changes["finer"]["hours_per_cord"]
    assert hours["low"] < hours["mid"] < hours["high"]
    assert changes["shorter"]["hours_per_cord"] is None
    assert found["model"]
    assert "assumption" in found["labour_source"]


def test_what_if_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    code = run(["season", "what-if", *WOOD, "--stacked-on", "2026-04-15", "--today", "2026-05-15", *FEW])
    said = capsys.readouterr().out.replace("\u00a0", " ")

    assert code == 0
    assert "Split finer, 3.1 in thick" in said
    assert "coarser" not in said
    assert "not known" in said
    assert "8 members" in said


def test_backwards(ask: Any) -> None:
    found = ask(
        "backwards", *WOOD, "--stacked-on", "2026-04-15", "--by", "2026-09-15", "--odds", "0.75", *FEW
    )

    assert found["thickness"]["state"] == "found"
    assert 0.05 < found["thickness"]["thickness_m"] < 0.3
    assert found["thickness"]["odds"] >= 0.75
    assert found["start"]["state"] == "found"
    assert "2026-04-15" < found["start"]["stacked_on"] < "2026-09-15"


def test_keeping(ask: Any) -> None:
    found = ask("keeping", "--species", "paper birch", "--place", "Fredericton", "--cover", "none", *FEW)

    assert found["hazard"] == "moderate"
    assert found["scheffer_index"] == pytest.approx(39, abs=3)
    assert found["decay_class"] == "S"
    for key in ("lost_first_year", "lost_per_year_after", "lost_per_year_on_ground"):
        assert 0 < found[key]["low"] < found[key]["mid"] < found[key]["high"] < 0.3
    assert any("assumed" in text for text in found["warnings"])


def test_calendar(ask: Any, tmp_path: Path) -> None:
    target = tmp_path / "calendar.pdf"
    found = ask(
        "calendar",
        *("--place", "Fredericton", "--species", "white ash", "--thickness", "10cm"),
        *("--pdf", str(target), "--paper", "a4", "--units", "metric", *FEW),
    )
    months = found["rows"][0]["months"]

    assert [month["stacked_in"] for month in months] == list(range(1, 13))
    assert months[3]["p50"]["years_later"] == 0
    assert months[10]["p50"]["years_later"] == 1
    reader = PdfReader(target)
    text = reader.pages[0].extract_text().replace("\u00a0", " ")
    assert "Fredericton" in text
    assert "10 cm" in text
    assert float(reader.pages[0].mediabox.width) == pytest.approx(842, abs=1)


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (("backwards", *WOOD, "--stacked-on", "2026-04-15", "--by", "2026-04-01"), "by"),
        (("backwards", *WOOD, "--stacked-on", "2026-04-15", "--by", "2026-09-01", "--odds", "3"), "odds"),
        (("what-if", *WOOD, "--stacked-on", "2026-04-15", "--today", "2025-01-01"), "today"),
        (("calendar", "--place", "Fredericton", "--paper", "a3"), "paper"),
        (("calendar", "--place", "Fredericton", "--species", "stone"), "species"),
        (("keeping", "--species", "white ash", "--place", "Fredericton", "--cover", "tin"), "cover"),
    ],
)
def test_nonsense_is_refused_by_name(
    arguments: tuple[str, ...], field: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["season", *arguments, "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert json.loads(printed.err)["error"]["field"] == field


def test_a_path_that_cannot_be_written_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    arguments = ("--species", "white ash", "--thickness", "5cm", "--pdf", str(tmp_path / "no" / "x.pdf"))
    assert run(["season", "calendar", "--place", "Fredericton", *arguments, *FEW, "--json"]) == 2
    assert json.loads(capsys.readouterr().err)["error"]["field"] == "pdf"
