"""A small form of the simulated users that docs/accuracy.md tables, and what the tabled ones came to."""

from __future__ import annotations

import csv
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def simulate() -> ModuleType:
    spec = importlib.util.spec_from_file_location(
        "simulate_identify", ROOT / "scripts" / "simulate_identify.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look their module up
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def tabled() -> dict[tuple[str, bool], dict[str, float]]:
    """Rows of the tabled simulation by situation and whether the exponent is 1."""
    with (ROOT / "tests" / "identify" / "data" / "simulation.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {
        (row["situations"], row["exponent"] == "1.0"): {
            name: float(value) for name, value in row.items() if name not in ("situations", "table")
        }
        for row in rows
    }


def test_a_user_in_leaf_and_in_winter_is_told_the_tree(simulate, key) -> None:
    """60 trees each. By chance 60 runs at the tabled 0.88 lie under 0.75 about once in four hundred."""
    for name in ("leaf", "winter"):
        done = simulate.runs(key, (name,), 60, seed=12)
        row = simulate.summary(name, done, 1.0, 1.0)

        assert row["right"] >= 0.75
        assert row["top_three"] >= 0.87
        assert row["right_when_said"] >= 0.87
        assert row["questions"] <= 8


def test_one_wrong_answer_of_six_leaves_the_tree_in_the_first_three(simulate, key) -> None:
    """0.90 or more is tabled; 60 trees may by chance show 0.80."""
    assert simulate.one_wrong_of_six(key, ("leaf",), 60, seed=12) >= 0.80


def test_a_seed_makes_a_simulation_repeatable(simulate, key) -> None:
    first, again, other = (simulate.runs(key, ("log",), 4, seed=seed) for seed in (1, 1, 2))

    assert [run.answers for run in first] == [run.answers for run in again]
    assert [run.answers for run in first] != [run.answers for run in other]


def test_the_tabled_simulation_is_of_the_present_tables(simulate) -> None:
    """If not, run `python scripts/simulate_identify.py` and again with --why (some minutes), then `make accuracy`."""
    for name in ("simulation.csv", "simulation_why.csv"):
        with (ROOT / "tests" / "identify" / "data" / name).open(encoding="utf-8", newline="") as file:
            assert {row["table"] for row in csv.DictReader(file)} == {simulate.of_table()}


def test_what_is_wanted_of_the_tabled_simulation(tabled) -> None:
    """Named trees are right in 0.95; what is stated is so within 0.05; one wrong of six does no harm in 0.90 in leaf
    and in winter.
    """
    assert tabled["all", True]["right_when_named"] >= 0.95
    assert tabled["all", True]["ece"] <= 0.05
    assert tabled["log, twig", True]["right_when_named"] >= 0.95
    for name in ("leaf", "winter"):
        assert tabled[name, True]["runs"] >= 3000
        assert tabled[name, True]["right_when_named"] >= 0.95
        assert tabled[name, True]["one_wrong_top_three"] >= 0.90
    assert tabled["all", False]["ece"] <= 0.05
