"""`rickyard book take-in-list` and `example-list`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rickyard.book import Book
from rickyard.cli.app import run
from rickyard.desk.households import households
from rickyard.desk.yards import YardFacts, open_desk, set_up_yard


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "book.sqlite"
    with Book.open(str(path), create=True) as made:
        set_up_yard(
            made,
            YardFacts(
                name="Thornbeck Yard",
                country="CA",
                subdivision="NB",
                climate_place="Fredericton, NB",
                timezone="America/Moncton",
            ),
        )
    return path


def names(book: Path) -> list[str]:
    with Book.open(str(book)) as opened:
        desk = open_desk(opened)
        assert desk is not None
        return [home.name for home in households(desk)]


def test_shown_then_taken_once(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    example = tmp_path / "homes.xlsx"
    assert run(["book", "example-list", "--kind", "households", "--to", str(example)]) == 0
    take = ["book", "take-in-list", str(example), "--kind", "households", "--book", str(book)]
    capsys.readouterr()
    assert run([*take, "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert (shown["new"], shown["taken"]) == (1, False)
    assert shown["columns"] == {"name": "name", "address": "address", "phone": "phone", "note": "note"}
    assert shown["lines"][0]["facts"]["name"] == "Alder Brook (example)"
    assert names(book) == []

    for _ in range(2):
        assert run([*take, "--take", "--key", "spring-list", "--json"]) == 0
        taken = json.loads(capsys.readouterr().out)
        assert (taken["new"], taken["taken"], len(taken["ids"])) == (1, True, 1)
    assert names(book) == ["Alder Brook (example)"]
    assert run(take) == 0
    assert "same already, passed over: Alder Brook" in capsys.readouterr().out


def test_columns_and_bad_lines(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "list.csv"
    file.write_bytes("Wer;Wo;Handy\nErle;Gasse 1;1\n;Gasse 2;2\n".encode("utf-16"))
    take = ["book", "take-in-list", str(file), "--kind", "households", "--book", str(book), "--take"]
    columns = ["--column", "name=Wer", "--column", "address=#2", "--column", "=Handy"]
    assert run([*take, *columns, "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    error = json.loads(printed.err)["error"]
    assert [(problem["line"], problem["field"]) for problem in error["problems"]] == [(3, "Wer")]
    assert run([*take, *columns]) == 2
    printed = capsys.readouterr()
    assert "Line 3, Wer: wanted a name, got nothing." in printed.out
    assert "Not taken in: Handy" in printed.out
    assert "1 mistake in 1 line." in printed.out
    assert printed.err.startswith("rickyard: ")
    assert names(book) == []
    for wrong in (
        ["--kind", "cats"],
        ["--column", "name"],
        ["--column", "name=Nobody"],
        ["--short-unit", "ell"],
    ):
        assert run([*take, *wrong, "--json"]) == 2
        assert "wanted" in json.loads(capsys.readouterr().err)["error"]["message"]
