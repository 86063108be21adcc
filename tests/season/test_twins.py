"""A very small twin experiment through the whole path; what the large ones say is on the accuracy page."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest


@pytest.fixture(scope="module")
def plan(twins):
    grid = replace(twins.GRID, radius=4, angle=4, length=4)
    return twins.Plan(
        stacks=2,
        members=16,
        species=("betula_papyrifera",),
        climates=("Montreal",),
        schedules=("nothing", "oven+30"),
        grid=grid,
        settings=1,
        search=False,
        cases=False,
    )


@pytest.fixture(scope="module")
def found(twins, plan):
    return twins.run(plan)


def test_every_stack_is_forecast_after_every_schedule(found):
    assert [(row.stack, row.schedule) for row in found.rows] == [
        (0, "nothing"),
        (0, "oven+30"),
        (1, "nothing"),
        (1, "oven+30"),
    ]
    for row in found.rows:
        assert 0 <= row.p10 <= row.p50 <= row.p90
        assert 0.1 < row.true_120 < row.true_60 < 0.5
        assert 0.1 < row.true_180 < 0.25  # autumn may wet it again
        assert row.p10_120 < row.p50_120 < row.p90_120
    width = {(row.stack, row.schedule): row.p90_60 - row.p10_60 for row in found.rows}
    for stack in (0, 1):
        assert width[stack, "oven+30"] < width[stack, "nothing"]
    assert found.rows[0].ready != found.rows[2].ready


def test_odds_together_keep_to_the_odds_apart(found):
    assert {row.measured for row in found.joint} == {"nothing", "first", "both"}
    for row in found.joint:
        assert row.odds_a + row.odds_b - 1 - 1e-9 <= row.odds_both <= min(row.odds_a, row.odds_b)
    # Members share the wood and the weather: dry together more often than by chance.
    apart = [row.odds_a * row.odds_b for row in found.joint]
    assert sum(row.odds_both for row in found.joint) > sum(apart)


def test_what_was_found_is_read_back_with_the_model_it_came_from(twins, plan, found, tmp_path, monkeypatch):
    monkeypatch.setattr(twins, "DATA", tmp_path)
    oak = replace(found, oak=[twins.OakRow(2, "30+60", "searched", 24, 15)])

    twins.write(oak, plan)
    back, head = twins.read()

    assert back == oak
    assert head == {"model": twins.season.MODEL_VERSION, "seed": "1", "members": "16"}


def test_the_page_is_made_of_what_was_found(twins, plan, found, tmp_path, monkeypatch):
    """Shares with their intervals: 5 of 8 is 62 %, Wilson's interval 31 to 86 %."""
    monkeypatch.setattr(twins, "DATA", tmp_path)
    case = twins.CaseRow("X1", "acer_saccharum", 90, 0.6, 20.0, 21.5)
    twins.write(replace(found, oak=[twins.OakRow(2, "30+60", "confirmed", 24, 18)], cases=[case]), plan)
    page = importlib.util.spec_from_file_location(
        "season_twins", Path(twins.__file__).parent / "accuracy_d" / "season_twins.py"
    )
    module = importlib.util.module_from_spec(page)
    page.loader.exec_module(module)

    tables = {table["title"]: table for table in module.tables()}

    assert module.share([True] * 5 + [False] * 3) == "62 % (31 to 86)"
    assert len(tables) == 7
    for table in tables.values():
        assert all(len(row) == len(table["columns"]) for row in table["rows"])
    assert "75 % (55 to 88)" in tables["Red oak: the cheapest weighings"]["rows"][0]
    assert ["others: acer_saccharum", "0.6", "1", "+1.5", "1.5"] in tables[
        "The second world itself on published cases of split wood"
    ]["rows"]


def test_hits_and_bands_know_what_is_beyond_the_horizon(twins, found):
    row = replace(found.rows[0], ready=-1, p10=100, p50=-1, p90=-1)
    assert row.hit
    assert row.inside
    assert not replace(row, p50=300).hit
    assert not replace(row, p90=300).inside
    assert replace(row, ready=121, p50=100).hit
    assert not replace(row, ready=122, p50=100).hit


def test_readings_are_taken_off_the_stacks_own_pieces(twins, second_world):
    """Three marked pieces of 1 kg dry and two for the oven; errors of 0.4 % and half a point, the same every time."""
    worlds = second_world.worlds
    piece_db = np.full((31, 1, worlds.PIECES), 0.60)
    piece_db[30] = 0.40
    piece_db[0, 0, 3:5] = 0.50, 0.70
    stacks = worlds.Stacks(
        worlds.KINDS[0], piece_db.mean(axis=2), piece_db, np.ones((1, worlds.PIECES)), (1, 2)
    )

    assert stacks.oven(0) == stacks.oven(0) == pytest.approx(0.375, abs=0.02)
    assert stacks.weighed(0, 30) == stacks.weighed(0, 30) == pytest.approx(1.40 / 1.60, abs=0.02)


def test_the_accuracy_check_finds_twins_of_another_model(twins, found, plan, tmp_path, monkeypatch):
    spec = importlib.util.spec_from_file_location(
        "accuracy", twins.DATA.parents[2] / "scripts" / "accuracy.py"
    )
    accuracy = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(accuracy)
    monkeypatch.setattr(twins, "DATA", tmp_path)
    twins.write(found, plan)
    monkeypatch.setattr(accuracy, "TWINS", tmp_path / "twins.csv")

    assert accuracy.twins_made_by() == twins.season.MODEL_VERSION
    path = tmp_path / "twins.csv"
    path.write_text(path.read_text().replace(twins.season.MODEL_VERSION, "season-0"))
    assert accuracy.main(["--check"]) == 1
    assert accuracy.twins_made_by() == "season-0"


def test_oaks_weighings_are_sought_and_then_tried(twins, plan, monkeypatch):
    """The best of each number of weighings by weights, then the cheapest good one and the next by the forecast."""
    monkeypatch.setattr(twins, "HORIZON_OAK_DAYS", 210)
    monkeypatch.setattr(twins, "SEARCH_DAYS", (30, 60))
    monkeypatch.setattr(twins, "SEARCH_MOST", 2)
    oak = replace(plan, members=8, species=("quercus_rubra",), schedules=("nothing",), search=True)

    rows = twins.run(oak).oak

    searched = [row for row in rows if row.how == "searched"]
    assert [row.weighings for row in searched] == [1, 2]
    assert searched[0].days in ("30", "60")
    assert searched[1].days == "30+60"
    confirmed = [row for row in rows if row.how == "confirmed"]
    assert confirmed
    assert all(0 <= row.hits <= row.stacks == 2 for row in rows)
    assert {row.days for row in confirmed} <= {row.days for row in searched}
