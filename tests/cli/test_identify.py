"""`rickyard identify` answers with the keys promised, and names what it does not understand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rickyard.book import Book
from rickyard.cli.app import run
from rickyard.desk.context import new_key
from rickyard.desk.naming import ConfirmNaming, KeepSeen, confirm_naming, keep_seen
from rickyard.desk.seen import Seen
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.identify import Answer


@pytest.fixture
def answer(capsys: pytest.CaptureFixture[str]) -> Any:
    def ask(*arguments: str) -> dict[str, Any]:
        code = run(["identify", *arguments, "--json"])
        printed = capsys.readouterr()
        assert printed.err == ""
        assert code == 0
        found = json.loads(printed.out)
        assert isinstance(found, dict)
        return found

    return ask


def test_the_answer_has_the_keys_promised(answer: Any) -> None:
    found = answer("arr=opposite", "leaf_comp=pinnate|bipinnate?", "--situation", "leaf", "--region", "NE")

    promised = {"ranking", "not_listed", "groups", "verdict", "look_next", "look_again"}
    assert promised <= set(found)
    assert {"id", "key_id", "scientific", "common_en", "probability"} <= set(found["ranking"][0])
    assert {"group", "probability"} <= set(found["groups"][0])
    assert {"level", "name", "probability"} <= set(found["verdict"])
    assert {"character", "question", "gain_bits"} <= set(found["look_next"][0])
    assert found["ranking"][0]["id"] in ("fraxinus_americana", "fraxinus_pennsylvanica")
    assert len(found["look_next"]) == 3


def test_the_whole_ranking_sums_to_one_with_not_listed(answer: Any) -> None:
    found = answer("bark_tex=shag?", "weight=vheavy??")
    shares = [row["probability"] for row in found["ranking"]]

    assert len(shares) >= 103
    assert sum(shares) + found["not_listed"] == pytest.approx(1.0, abs=1e-12)
    assert shares == sorted(shares, reverse=True)
    assert sum(item["probability"] for item in found["groups"]) + found["not_listed"] == pytest.approx(1.0)


def test_an_empty_query_is_the_prior(answer: Any) -> None:
    flat, region = answer(), answer("--region", "PC")

    assert len({row["probability"] for row in flat["ranking"]}) == 1
    assert flat["not_listed"] == pytest.approx(0.03)
    assert flat["verdict"]["level"] == "undecided"
    most = region["ranking"][0]["probability"]
    common = {row["key_id"] for row in region["ranking"] if row["probability"] == most}
    assert "psme" in common
    assert "acsa3" not in common


def test_all_states_chosen_and_cannot_see_change_nothing(answer: Any) -> None:
    plain = answer("arr=opposite")
    every = answer("arr=opposite", "cork_wing=yes|no")

    assert every["ranking"] == plain["ranking"]
    assert every["not_listed"] == plain["not_listed"]


def test_the_situation_limits_only_what_to_look_at_next(answer: Any) -> None:
    leaf, lens = (answer("porosity=ring", "--situation", name) for name in ("leaf", "lens"))

    assert leaf["ranking"] == lens["ranking"]
    assert leaf["look_next"] != lens["look_next"]
    both = answer("porosity=ring", "--situation", "log", "--situation", "lens")
    assert both["ranking"] == lens["ranking"]


def test_contradicting_answers_are_said_with_the_pair(answer: Any) -> None:
    found = answer("acorn_cup=bowl", "porosity=no_pores")

    assert [set(item["characters"]) for item in found["contradictions"]] == [{"acorn_cup", "porosity"}]
    assert found["look_again"]
    assert {"character", "why"} <= set(found["look_again"][0])


def test_a_named_species_can_be_used_for_a_load(answer: Any) -> None:
    found = answer("fruit=green_ball", "thorns=single", "water_tint=yellow")

    assert found["verdict"]["level"] == "species"
    assert found["verdict"]["wood"] == "maclura_pomifera"


def test_counts_and_street_trees(answer: Any) -> None:
    plain, counted, street = answer(), answer("--count", "sugar maple=40"), answer("--street-tree")

    assert counted["ranking"][0]["key_id"] == "acsa3"
    assert {row["key_id"] for row in street["ranking"][:5]} >= {"acpl", "pyca80"}
    assert plain["ranking"] != street["ranking"]


@pytest.mark.parametrize(
    ("arguments", "field", "named"),
    [
        (["thorn=none"], "character", "thorns"),
        (["arr=oposite"], "arr", "opposite"),
        (["arr"], "answers", "arr"),
        (["arr=opposite", "arr=alternate"], "arr", "opposite"),
        (["--situation", "tree"], "situation", "winter"),
        (["--region", "Atlantis"], "region", "NE"),
        (["--count", "maple=3"], "count", "sugar maple"),
        (["--count", "sugar maple=many"], "count", "sugar maple"),
        (["--count", "sugar maple=-1"], "count", ""),
        (["--exponent", "-1"], "exponent", ""),
    ],
)
def test_bad_input_names_the_nearest(
    capsys: pytest.CaptureFixture[str], arguments: list[str], field: str, named: str
) -> None:
    code = run(["identify", *arguments, "--json"])

    printed = capsys.readouterr()
    assert code == 2
    assert printed.out == ""
    error = json.loads(printed.err)["error"]
    assert error["field"] == field
    assert named in error["message"]


def test_lines_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["identify", "porosity=ring", "rays=broad", "plugged=open", "late_pores=rad_round"]) == 0
    said = capsys.readouterr().out

    assert "red oak group (group, " in said or "Quercus (group, " in said
    assert "Next: " in said
    assert run(["identify", "acorn_cup=bowl", "porosity=no_pores"]) == 0
    assert "No tree of the key shows both" in capsys.readouterr().out


def test_a_book_s_confirmed_trees_count_where_nothing_else_is_said(answer: Any, tmp_path: Path) -> None:
    """Alone the command knows no yard; with --book its counts are the prior, unless others are said."""
    path = tmp_path / "book.sqlite"
    desk = set_up_yard(
        Book.open(path, create=True),
        YardFacts(
            name="Thornbeck Yard",
            country="CA",
            subdivision="NB",
            climate_place="Fredericton, NB",
            timezone="America/Moncton",
        ),
    )
    seen = Seen(answers=(Answer("fruit", ("acorn",)),))
    kept = keep_seen(desk, KeepSeen(key=new_key(), seen=seen))
    confirm_naming(desk, ConfirmNaming(key=new_key(), naming_id=kept["naming_id"], tree="quve", how="expert"))
    desk.book.close()

    def black_oak(*more: str) -> float:
        return next(
            float(row["probability"])
            for row in answer("fruit=acorn", *more)["ranking"]
            if row["key_id"] == "quve"
        )

    flat, taught = black_oak(), black_oak("--book", str(path))
    assert taught == black_oak("--count", "black oak=1")
    assert flat < taught < black_oak("--book", str(path), "--count", "black oak=9")
