"""`rickyard weather read` and `season forecast --weather`: files of every format, and what is wrong with them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from tests.weather.makers import PLACE, logger_csv, temperature

from rickyard.cli.app import run

FILES = Path(__file__).resolve().parent.parent / "weather" / "data" / "files"
EPW = str(FILES / "USA_PA_Pittsburgh-Allegheny.County.AP.725205_TMY3.epw.gz")
HOURS = str(FILES / "ECCC_hourly_Kamloops_A_BC_2016.csv.gz")
FORECAST = "season forecast --species acer_saccharum --piece-length 41cm --thickness 8cm --members 4".split()


@pytest.fixture
def answer(capsys: pytest.CaptureFixture[str]) -> Any:
    def ask(*arguments: str) -> dict[str, Any]:
        assert run([*arguments, "--json"]) == 0
        printed = capsys.readouterr()
        assert printed.err == ""
        found: dict[str, Any] = json.loads(printed.out)
        return found

    return ask


@pytest.fixture
def refusal(capsys: pytest.CaptureFixture[str]) -> Any:
    def ask(*arguments: str) -> dict[str, Any]:
        assert run([*arguments, "--json"]) == 2
        printed = capsys.readouterr()
        assert printed.out == ""
        error: dict[str, Any] = json.loads(printed.err)["error"]
        assert set(error) == {"code", "field", "message"}
        return error

    return ask


def test_weather_read(answer: Any) -> None:
    found = answer("weather", "read", HOURS, "--place", "50.7,-120.45,345")

    assert (found["format"], found["kind"], found["step"]) == ("eccc_hourly", "observed", "hour")
    assert (found["first"], found["last"]) == ("2016-01-01", "2016-03-31")
    assert [row["month"] for row in found["months"]] == ["2016-01", "2016-02", "2016-03"]
    assert found["months"][0]["temp_c"] == pytest.approx(-0.9, abs=0.1)
    assert {"code", "text", "lines"} == set(found["notes"][0])


def test_weather_read_says_every_fault(answer: Any, refusal: Any, tmp_path: Path) -> None:
    lines = logger_csv(temp=lambda moment: temperature(moment) * 1.8 + 32).decode().splitlines()
    file = tmp_path / "log.csv"
    file.write_text("\n".join(lines))
    error = refusal("weather", "read", str(file), "--place", PLACE)
    assert error["code"] == "bad_weather_file"
    assert "look like °F" in error["message"]
    assert (
        answer("weather", "read", str(file), "--place", PLACE, "--temperature-unit", "F")["complete"] == 1.0
    )
    file.write_text("\n".join([*lines[:9], "broken", *lines[9:]]))
    assert "Lines 10" in refusal("weather", "read", str(file))["message"]
    assert refusal("weather", "read", str(tmp_path / "none.csv"))["code"] == "no_file"


def test_forecast_driven_by_observed_hours(answer: Any) -> None:
    """With three warm months in the file the forecast is another, and says what it saw."""
    when = ("--place", "50.7,-120.45,345", "--stacked-on", "2016-01-10", "--until", "2016-04-20")
    plain, seen = answer(*FORECAST, *when), answer(*FORECAST, *when, "--weather", HOURS)

    assert any("Observed from 2016-01-10 to 2016-03-31" in text for text in seen["warnings"])
    assert seen["days"][0] == plain["days"][0]
    assert seen["days"][70]["p50"] != plain["days"][70]["p50"]
    assert answer(*FORECAST, *when, "--weather", HOURS) == seen


def test_forecast_driven_by_a_typical_year(answer: Any) -> None:
    when = ("--place", "40.35,-79.92,380", "--stacked-on", "2026-04-01", "--until", "2026-06-01")
    found = answer(*FORECAST, *when, "--weather", EPW)

    assert any("typical year" in text for text in found["warnings"])
    assert found["days"][-1]["p90"] > found["days"][-1]["p10"]


def test_a_file_that_cannot_drive_it_is_refused(refusal: Any, tmp_path: Path) -> None:
    later = ("--place", "50.7,-120.45,345", "--stacked-on", "2026-04-01", "--until", "2026-06-01")
    error = refusal(*FORECAST, *later, "--weather", HOURS)
    assert error["field"] == "weather"
    assert "whole year" in error["message"]
    far = refusal(*FORECAST, "--place", PLACE, "--stacked-on", "2016-01-10", "--weather", HOURS)
    assert "km from" in far["message"]
    constant = refusal(
        *FORECAST, "--air-c", "20", "--air-rh", "60", "--stacked-on", "2016-01-10", "--weather", HOURS
    )
    assert constant["field"] == "weather"
