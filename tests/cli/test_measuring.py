"""`rickyard measure ...`: the contract's keys for trees, and every other command with its mistakes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rickyard.cli.app import run


@pytest.fixture
def answer(capsys: pytest.CaptureFixture[str]) -> Any:
    """Runs a command with --json and gives its one object."""

    def ask(*arguments: str) -> dict[str, Any]:
        code = run([*arguments, "--json"])
        printed = capsys.readouterr()
        assert printed.err == ""
        assert code == 0
        found = json.loads(printed.out)
        assert isinstance(found, dict)
        return found

    return ask


TREE_KEYS = {
    "method",
    "source",
    "wood_m3",
    "bark_m3",
    "oven_dry_kg",
    "green_kg",
    "cords",
    "warnings",
}


@pytest.mark.parametrize("name", ["red maple", "Acer rubrum", "érable rouge", "acer_rubrum", "acru"])
def test_a_tree_by_any_of_its_names(answer: Any, name: str) -> None:
    """Westfall et al. 2023, example 2: 9.4271 ft³ of wood, 532.58 lb above ground."""
    found = answer("measure", "tree", "--species", name, "--dbh", "11.1in", "--height", "38ft")

    assert set(found) >= TREE_KEYS | {"id", "key_id", "common_en", "common_fr"}
    assert found["id"] == "acer_rubrum"
    assert found["wood_m3"] == pytest.approx(9.427112777611 * 0.3048**3, rel=1e-6)
    assert found["oven_dry_kg"] == pytest.approx(532.584798820042 * 0.45359237, rel=1e-6)
    assert found["cords"]["low"] < found["cords"]["mid"] < found["cords"]["high"]
    assert all(isinstance(warning, str) for warning in found["warnings"])


def test_a_tree_without_height_and_in_canada(answer: Any) -> None:
    american = answer("measure", "tree", "--species", "sugar maple", "--dbh", "36cm")
    canadian = answer("measure", "tree", "--species", "sugar maple", "--dbh", "0.36", "--country", "CA")

    assert (american["method"], canadian["method"]) == ("nsvb", "canada")
    assert american["height_estimated"] is True
    assert any("height" in warning for warning in american["warnings"])
    assert "Lambert" in canadian["source"]
    assert canadian["oven_dry_kg"] == pytest.approx(american["oven_dry_kg"], rel=0.2)


def test_a_log_with_bark_sweep_and_defects(answer: Any) -> None:
    found = answer(
        "measure", "log", "--length", "16ft", "--ends", "10in", "14in", "--species", "red oak",
        "--defects", "0-2ft:hollow=6in|1-4ft:rot=50%", "--sweep", "3in",
    )  # fmt: skip

    assert found["bark_thickness_m"] > 0
    assert found["net_m3"]["mid"] == pytest.approx(found["volume_m3"] - sum(found["lost_m3"].values()))
    assert "overlap" in found["notes"][0]


def test_a_stack_with_criss_cross_ends(answer: Any) -> None:
    whole = answer("measure", "stack", "--length", "8ft", "--height", "4ft", "--piece-length", "16in")
    found = answer(
        "measure", "stack", "--length", "128in", "--height", "4ft", "--piece-length", "16in",
        "--crisscross", "16in,16in", "--thickness", "4in", "--straightness", "crooked",
    )  # fmt: skip

    assert found["outside_m3"] == pytest.approx(whole["outside_m3"])
    assert found["left_out_m3"] == pytest.approx(whole["outside_m3"] / 3)
    assert found["solid_m3"]["mid"] < whole["solid_m3"]["mid"]


def test_a_list_of_logs(answer: Any, tmp_path: Path) -> None:
    file = tmp_path / "logs.csv"
    file.write_text("species,length_ft,mid_in,defects\nash,8,12,\noak,8,12,0-2:rot=50%\nash,8,12,\n")

    found = answer("measure", "list", str(file), "--over-bark")

    assert found["logs"] == 3
    assert found["bark_m3"] > 0
    assert found["net_m3"]["mid"] == pytest.approx(found["gross_m3"] - found["lost_m3"]["rot"])
    assert {part["species_id"] for part in found["species"]} == {"fraxinus", "quercus"}


def test_a_truck_a_weight_and_both(answer: Any) -> None:
    bed = answer(
        "measure", "truck", "--width", "8ft", "--height", "6ft,7ft", "--piece-length", "16ft", "--tiers", "2"
    )
    scale = answer(
        "measure", "weight", "--net", "66000lb", "--species", "red oak:0.5", "--species", "ash:50%"
    )
    assert bed["cords"] == pytest.approx(13.0)

    def told(name: str, spread: dict[str, float]) -> str:
        return f"{name}={spread['low']}:{spread['mid']}:{spread['high']}"

    one = answer(
        "measure", "reconcile", "--of", told("bed", bed["solid_m3"]), "--of", told("scale", scale["solid_m3"])
    )
    assert min(bed["solid_m3"]["mid"], scale["solid_m3"]["mid"]) < one["solid_m3"]["mid"]
    assert sum(one["weights"]) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("US-ME", "may not then be converted"),
        ("US-MN", "79 cubic feet"),
        ("CA-NB", "no rule on weight was read"),
    ],
)
def test_where_weight_must_not_become_volume(answer: Any, place: str, words: str) -> None:
    """Maine, 10 MRSA 2363-A; Minn. Stat. 239.33."""
    found = answer("measure", "weight", "--net", "5t", "--species", "ash", "--at", place)

    assert any(words in warning for warning in found["warnings"])
    assert any("no measure to sell by" in warning for warning in found["warnings"])


def test_heaps_and_packages(answer: Any) -> None:
    heap = answer("measure", "heap", "--length", "3", "--width", "3", "--height", "1.2")
    windrow = answer(
        "measure", "heap", "--length", "6", "--width", "3", "--height", "1.2", "--shape", "windrow"
    )
    box = answer("measure", "box", "--inner-height", "60cm", "--width", "60cm", "--piece-length", "120cm")
    bags = answer("measure", "bundle", "--piece-length", "40cm", "--diameter", "30cm", "--count", "10")

    assert heap["cords"] is None
    assert heap["solid_m3"]["low"] < heap["solid_m3"]["mid"] < 0.6 * heap["outside_m3"]
    assert windrow["outside_m3"] > heap["outside_m3"]
    assert box["outside_m3"] == pytest.approx(0.432)  # Measurement Canada: 432 dm³
    assert bags["outside_m3"] == pytest.approx(10 * 0.3**2 * 0.4 * 0.7854, rel=1e-4)


def test_steps_and_cords(answer: Any) -> None:
    steps = answer("measure", "steps", "box")["steps"]
    cords = answer("measure", "cords", "--solid-m3", "2.237")

    assert any(step["from_memory"] for step in steps)
    assert cords["sold_per_logger"]["mid"] == pytest.approx(79 / 85)
    assert cords["logger_cords"]["mid"] == pytest.approx(1.0, abs=0.001)


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (["tree", "--species", "maaple", "--dbh", "12in"], "species"),
        (["tree", "--species", "ash", "--dbh", "12"], "dbh"),
        (["tree", "--species", "ash", "--dbh", "-3in"], "dbh"),
        (["tree", "--species", "ash", "--dbh", "12in", "--height", "60"], "height"),
        (["tree", "--species", "ash", "--dbh", "12in", "--country", "FR"], "country"),
        (["tree", "--species", "ash"], "dbh"),
        (["log", "--length", "16ft", "--mid", "12in", "--defects", "0-20ft:rot"], "defects"),
        (["log", "--length", "16ft", "--mid", "12in", "--defects", "rotten"], "defects"),
        (["log", "--length", "16ft", "--mid", "12in", "--sweep", "9ft"], "sweep"),
        (
            ["stack", "--length", "4ft", "--height", "4ft", "--piece-length", "16in", "--crisscross", "4ft"],
            "crisscross",
        ),
        (
            ["stack", "--length", "4ft", "--height", "4ft", "--piece-length", "16in", "--straightness", "x"],
            "straightness",
        ),
        (["list", "/nowhere/logs.csv"], "file"),
        (["truck", "--width", "8ft", "--height", "6ft", "--piece-length", "16ft", "--tiers", "0"], "tiers"),
        (["weight", "--net", "0", "--species", "ash"], "net"),
        (["weight", "--net", "5t", "--species", "ash", "--at", "Atlantis"], "place"),
        (["reconcile", "--of", "list=3:2:1"], "of"),
        (["heap", "--length", "3", "--width", "3", "--height", "1", "--shape", "blob"], "shape"),
        (["steps", "barrel"], "case"),
    ],
)
def test_bad_input_is_one_error_object(
    capsys: pytest.CaptureFixture[str], arguments: list[str], field: str
) -> None:
    code = run(["measure", *arguments, "--json"])

    printed = capsys.readouterr()
    assert code == 2
    assert printed.out == ""
    error = json.loads(printed.err)["error"]
    assert error["field"] == field
    assert len(error["message"]) > 10


def test_a_bad_list_names_its_lines(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "logs.csv"
    file.write_text("species,length_ft,small_in,large_in\nash,8,12,10\nash,8,10,12\nmaaple,8,10,12\n")

    assert run(["measure", "list", str(file), "--json"]) == 2
    found = json.loads(capsys.readouterr().err)["error"]

    assert "Line 2" in found["message"]
    assert "Swap the two ends" in found["message"]
    assert "Line 4" in found["message"]


def test_lines_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["measure", "tree", "--species", "ash", "--dbh", "14in", "--grown", "open"]) == 0
    said = capsys.readouterr().out

    assert "cords" in said
    assert "Open-grown" in said


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["log", "--length", "16ft", "--mid", "11in"], ["m³ (", "ft³ ("]),
        (["box", "--inner-height", "30cm", "--width", "40cm", "--piece-length", "25cm"], ["30.0 dm³", "solid wood 19"]),
        (["heap", "--length", "3", "--width", "3", "--height", "1.2"], ["loose m³ (", "solid wood"]),
        (["reconcile", "--of", "a=350:360:370", "--unit", "ft3"], ["solid wood 10.1", "= 359."]),
        (["tree", "--species", "ash", "--dbh", "36cm", "--units", "metric"], ["stem bark: ", "solid m³ (", " m tall"]),
        (["steps", "heap"], ["do not climb", "no cord"]),
    ],
)  # fmt: skip
def test_lines_for_people_say_unit_and_range(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: list[str]
) -> None:
    assert run(["measure", *arguments]) == 0
    lines = capsys.readouterr().out.replace("\xa0", " ")

    assert [words for words in said if words.casefold() not in lines.casefold()] == []


@pytest.mark.parametrize(
    ("arguments", "field", "said"),
    [
        (["measure", "log", "--length", "16ft", "--mid", "900in"], "mid", "157.5 in, got 900in"),
        (["measure", "log", "--length", "16ft", "--ends", "9in", "12in", "--mid", "20in"], "mid", "(9 in to 12 in)"),
        (["split", "plan", "--diameter", "14in", "--max-thickness", "5in", "--hand", "0.1in"], "hand", "got 0.1in"),
        (["offer", "worth", "--species", "oak", "--quantity=-10 cords"], "quantity", "cord, got -10 cords"),
    ],
)  # fmt: skip
def test_a_complaint_is_in_the_unit_typed(
    capsys: pytest.CaptureFixture[str], arguments: list[str], field: str, said: str
) -> None:
    assert run([*arguments, "--json"]) == 2
    error = json.loads(capsys.readouterr().err)["error"]

    assert error["field"] == field
    assert said in error["message"]
