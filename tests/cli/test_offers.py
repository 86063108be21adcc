"""`rickyard offer worth`: its keys, and its mistakes said plainly."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rickyard.cli.app import run

WARE = ("--ware", "stove:16in:380:dry")


def ask(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(["offer", "worth", *arguments, "--json"]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    found: dict[str, Any] = json.loads(printed.out)
    return found


def test_a_load_at_a_price(capsys: pytest.CaptureFixture[str]) -> None:
    found = ask(
        capsys,
        *("--quantity", "10 cords", "--species", "sugar maple:60%", "--species", "yellow birch:40%"),
        *WARE,
        *("--ware", "green:16in:290:green", "--asked", "400", "--haul", "120", "--margin", "50/cord"),
        *("--months", "5,7,9", "--hours", "splitting:1.5", "--wage", "20", "--seed", "3"),
    )
    assert found["margin_minor"]["mid"] == found["value_minor"]["mid"] - found["cost_minor"]["mid"] - 40000
    most = found["most_to_pay_minor"]
    assert most["mid"] == found["margin_minor"]["mid"] + 40000 - found["margin_wanted_minor"]
    assert most["low"] < most["mid"] < most["high"]
    assert found["costs_minor"]["haul"] == 12000
    assert sum(found["costs_minor"].values()) == found["cost_minor"]["mid"]
    assert found["margin_wanted_minor"] == round(5000 * found["cords"]["mid"])
    assert 0 < found["odds_margin_left"] < 1
    assert found["months_known"] is True
    assert {step["step"]: step["own"] for step in found["steps"]}["splitting"] == 1.0
    assert all(step["basis"] for step in found["steps"])
    assert "wage_minor_h" not in found["assumed"]


def test_logs_and_trees(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    table = tmp_path / "logs.csv"
    table.write_text(
        "species,length_ft,mid_in,count,defects\nsugar maple,12,11,20,\nash,8,14,3,0-1ft:metal\n"
    )
    logs = ask(capsys, "--logs", str(table), *WARE)
    assert logs["kind"] == "logs"
    assert {one["species"] for one in logs["wares"]} >= {"acer_saccharum"}
    tree = ask(capsys, "--tree", "red oak:18in:60ft:2", "--origin", "yard", "--margin", "10/hour", *WARE)
    assert tree["kind"] == "trees"
    assert any("metal detector" in line for line in tree["warnings"])


def test_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["offer", "worth", "--quantity", "3 t", "--species", "ash", *WARE, "--margin", "90%"]) == 0
    printed = capsys.readouterr().out
    assert "take it only if they pay" in printed
    assert "wages: splitting" in printed


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (WARE, "quantity"),
        (("--quantity", "0 cords", "--species", "ash", *WARE), "quantity"),
        (("--quantity", "2 cords", *WARE), "shares"),
        (("--quantity", "2 cords", "--species", "ash"), "ware"),
        (("--quantity", "2 cords", "--species", "ash", "--ware", "stove:16in"), "ware"),
        (("--quantity", "2 cords", "--species", "ash", *WARE, "--margin", "5"), "margin"),
        (("--quantity", "2 cords", "--species", "ash", *WARE, "--months", "9,3,1"), "months"),
        (("--quantity", "2 cords", "--species", "ash", *WARE, "--hours", "splitting"), "hours"),
        (("--quantity", "2 cords", "--species", "ash", *WARE, "--method", "teeth"), "method"),
        (("--tree", "ash", *WARE), "tree"),
        (("--logs", "nowhere.csv", *WARE), "logs"),
    ],
)
def test_mistakes_are_named(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], field: str
) -> None:
    assert run(["offer", "worth", *arguments, "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert json.loads(printed.err)["error"]["field"] == field
