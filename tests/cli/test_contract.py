"""The commands that outside checks and users' scripts rely on answer with the keys and the errors promised."""

from __future__ import annotations

import json
import math
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

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


FORECAST = (
    "season",
    "forecast",
    "--species",
    "Quercus rubra",
    "--piece-length",
    "41cm",
    "--thickness",
    "12cm",
    "--place",
    "43.07,-89.40",
    "--stacked-on",
    "2026-04-01",
    "--cover",
    "top",
    "--members",
    "8",
)


def test_species_gives_every_row_with_its_sources(answer: Any) -> None:
    rows = answer("species")["species"]

    assert len(rows) == 179
    keys = {
        "id",
        "key_id",
        "scientific",
        "common_en",
        "common_fr",
        "group",
        "basic_density_kg_m3",
        "shrinkage_vol_pct",
        "fibre_saturation_db",
        "green_mc_db",
        "bark_volume_ratio",
        "decay_class",
        "sources",
    }
    assert all(keys <= set(row) for row in rows)
    assert all(row["sources"].get("basic_density_kg_m3") for row in rows)


@pytest.mark.parametrize(
    "name", ["Acer saccharum", "sugar maple", "érable à sucre", "acer_saccharum", "acsa3"]
)
def test_a_species_is_found_by_any_of_its_names(answer: Any, name: str) -> None:
    (row,) = answer("species", name)["species"]

    assert row["id"] == "acer_saccharum"


def test_short_ids_of_the_key_are_names_too(answer: Any) -> None:
    """A species that joined the key late, and one whose wood only its genus tells of."""
    (late,) = answer("species", "piba2")["species"]
    (of_genus,) = answer("species", "safr")["species"]

    assert (late["id"], late["key_id"]) == ("pinus_banksiana", "piba2")
    assert of_genus["id"] == "salix"


def test_a_sheet_to_print(answer: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    answer("species", "gltr", "--pdf", str(tmp_path / "sheet.pdf"))
    text = " ".join(page.extract_text() for page in PdfReader(tmp_path / "sheet.pdf").pages)
    assert "honeylocust" in text
    assert "of dry mass" in text

    for arguments, field in (
        (["red oak group", "--pdf", str(tmp_path / "other.pdf")], "name"),
        (["gltr", "--pdf", str(tmp_path / "no" / "x.pdf")], "pdf"),
    ):
        assert run(["species", *arguments, "--json"]) == 2
        assert json.loads(capsys.readouterr().err)["error"]["field"] == field


def test_heat(answer: Any) -> None:
    (row,) = answer("heat", "white oak", "--moisture-wet", "0.20")["rows"]

    assert {
        "species",
        "scientific",
        "moisture_wet",
        "basis",
        "solid_m3_per_cord",
        "oven_dry_kg_per_cord",
        "kg_per_cord",
        "mj_per_kg",
        "mj_per_cord",
        "million_btu_per_cord",
        "kwh_per_stacked_m3",
        "kwh_per_solid_m3",
        "low",
        "high",
    } <= set(row)
    assert row["basis"] == "net"
    assert row["low"] < row["mj_per_cord"] < row["high"]
    # Arithmetic between the columns, in the definitions of their units.
    assert row["mj_per_cord"] == pytest.approx(row["kg_per_cord"] * row["mj_per_kg"])
    assert row["kg_per_cord"] == pytest.approx(row["oven_dry_kg_per_cord"] / 0.8)
    assert row["kwh_per_stacked_m3"] == pytest.approx(row["mj_per_cord"] / 3.6 / (128 * 0.3048**3))


def test_measure_log_is_the_published_example(answer: Any) -> None:
    """Smalian, 10 and 12 in, 16 ft: 10.647 ft³ (Larsen, in measure/data/worked_examples)."""
    found = answer("measure", "log", "--length", "16ft", "--ends", "12in", "10in")

    assert set(found) >= {"formula", "volume_m3", "volume_ft3"}
    assert found["volume_ft3"] == pytest.approx(10.647, abs=5e-4)


def test_measure_stack(answer: Any) -> None:
    found = answer(
        "measure",
        "stack",
        "--length",
        "8ft",
        "--height",
        "4ft,4ft",
        "--piece-length",
        "16in",
        "--species",
        "red oak",
    )

    assert found["outside_ft3"] == pytest.approx(8 * 4 * 16 / 12)
    assert found["cords"] == pytest.approx(1 / 3)
    assert found["solid_m3"]["low"] < found["solid_m3"]["mid"] < found["solid_m3"]["high"]
    assert {"oven_dry_kg", "kg", "million_btu", "heat_basis"} <= set(found)
    loose = answer(
        "measure", "stack", "--length", "8ft", "--height", "4ft", "--piece-length", "16in", "--piled", "loose"
    )
    assert loose["cords"] is None


def test_season_forecast(answer: Any) -> None:
    found = answer(*FORECAST, "--seed", "1")

    assert {"days", "ready", "model", "place", "members", "warnings"} <= set(found)
    days = found["days"]
    assert days[0]["date"] == "2026-04-01"
    assert (date.fromisoformat(days[-1]["date"]) - date(2026, 4, 1)).days == 540
    assert all(0 < day["p10"] <= day["p50"] <= day["p90"] < 1 for day in days)
    ready = found["ready"]
    assert ready["target_moisture_wet"] == 0.20
    by_date = {item["date"]: item["probability"] for item in ready["odds"]}
    assert all(0 <= odds <= 1 for odds in by_date.values())
    assert found["members"] == 8


def test_a_seed_makes_a_forecast_repeatable_and_another_one_another(answer: Any) -> None:
    first, again, other = (answer(*FORECAST, "--seed", seed) for seed in ("1", "1", "2"))

    assert first == again
    assert first["days"] != other["days"]


def test_constant_air_ends_near_equilibrium(answer: Any) -> None:
    """21.1 °C and 65 %: 12.0 % of dry mass (Wood Handbook, Table 4-2), so 10.7 % of total mass."""
    found = answer(
        "season", "forecast", "--species", "Acer saccharum", "--piece-length", "20cm", "--thickness", "4cm",
        "--air-c", "21.1", "--air-rh", "65", "--stacked-on", "2026-01-01", "--members", "4",
    )  # fmt: skip

    # A thin piece after 540 days: within half a point of the table.
    assert found["days"][-1]["p50"] == pytest.approx(0.12 / 1.12, abs=0.005)


def test_readings_move_it(answer: Any) -> None:
    plain = answer(*FORECAST)
    wetter = answer(*FORECAST, "--oven", "2026-04-01:0.50", "--weighed", "2026-06-01:0.85")

    assert wetter["days"][61] != plain["days"][61]
    same = answer(*FORECAST, "--reading", "oven:2026-04-01:0.50", "--reading", "weighed:2026-06-01:0.85")
    assert same == wetter


def test_season_meter(answer: Any) -> None:
    found = answer("season", "meter", "--species", "Quercus alba", "--reading", "18", "--temperature-c", "10")

    assert {"mc_db", "mc_wet", "correction", "within_range", "source"} <= set(found)
    assert found["within_range"] is True
    assert found["mc_wet"] == pytest.approx(found["mc_db"] / (1 + found["mc_db"]))


def test_rules(answer: Any) -> None:
    found = answer("rules", "measure", "US-MN")
    assert {"units_allowed", "words_forbidden", "cord_ft3", "ticket_fields", "sources", "read_on"} <= set(
        found
    )
    said = answer("rules", "wording", "CA-ON", "Maple, $120 a face cord")
    assert said["ok"] is False
    assert {"word", "rule", "instead"} <= set(said["problems"][0])


def test_a_book_is_made_and_proved(answer: Any, tmp_path: Path) -> None:
    book = str(tmp_path / "book.sqlite")

    answer("book", "new", "--book", book)

    assert answer("book", "check", "--book", book) == {
        "ok": True,
        "problems": [],
        "entries": 0,
        "balance_g": 0,
        "chain": {},
        "links": {},
    }


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (["species", "maaple"], "name"),
        (["heat", "oak", "--moisture-wet", "1.5"], "moisture_wet"),
        (["heat", "oak", "--basis", "high"], "basis"),
        (["heat"], "names"),
        (["measure", "log", "--length", "-3ft", "--mid", "12in"], "length"),
        (["measure", "log", "--length", "16ft"], ""),
        (["measure", "log", "--length", "16 furlongs", "--mid", "12in"], "length"),
        (["measure", "stack", "--length", "8ft", "--height", "nan", "--piece-length", "16in"], "height"),
        ([*FORECAST, "--start-moisture-wet", "45"], "start_moisture_wet"),
        ([*FORECAST, "--target-moisture-wet", "0"], "target_moisture_wet"),
        ([*FORECAST, "--meter", "2026-02-30:20"], "meter"),
        ([*FORECAST, "--meter", "2025-02-01:20"], ""),
        ([*FORECAST, "--reading", "scale:2026-06-01:20"], "reading"),
        ([*FORECAST, "--reading", "meter:2026-06-01"], "meter"),
        ([*FORECAST, "--until", "2026-03-01"], "until"),
        ([*FORECAST, "--air-c", "20", "--air-rh", "50"], "place"),
        ([*FORECAST, "--members", "1"], "members"),
        ([*FORECAST, "--no-such-option"], ""),
        (["rules", "measure", "Atlantis"], "place"),
        (["book", "check"], "book"),
        (["book", "check", "--book", "/nowhere/book.sqlite"], ""),
        (["nonsense"], ""),
    ],
)
def test_bad_input_is_one_error_object_and_exit_code_2(
    capsys: pytest.CaptureFixture[str], arguments: list[str], field: str
) -> None:
    code = run([*arguments, "--json"])

    printed = capsys.readouterr()
    assert code == 2
    assert printed.out == ""
    error = json.loads(printed.err)["error"]
    assert set(error) == {"code", "field", "message"}
    assert len(error["message"]) > 10
    if field:
        assert error["field"] == field


def test_bad_input_is_one_line_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["species", "maaple"]) == 2

    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert "Nearest" in printed.err


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("rickyard ")
    assert run(["season", "forecast", "--help"]) == 0
    assert "--stacked-on" in capsys.readouterr().out


def test_every_number_is_plain(answer: Any) -> None:
    def numbers(value: Any) -> Any:
        if isinstance(value, dict):
            for inner in value.values():
                yield from numbers(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from numbers(inner)
        elif isinstance(value, float):
            yield value

    assert all(math.isfinite(number) for number in numbers(answer(*FORECAST)))
