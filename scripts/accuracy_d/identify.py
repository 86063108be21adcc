"""How the tree key does by simulation, by situation, and how its stated probabilities hold."""

from __future__ import annotations

import csv
from pathlib import Path

from rickyard.identify.tables import read_tables

DATA = Path(__file__).resolve().parents[2] / "tests" / "identify" / "data"

Table = dict[str, object]


def read(name: str) -> list[dict[str, str]]:
    """Rows of a table in tests/identify/data."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def tables() -> list[Table]:
    """The tables of this package for docs/accuracy.md."""
    return [_cells(), _simulated(), _curve()]


def _cells() -> Table:
    rows = read_tables()["species_characters"]
    bases = {
        "source": "a named text states it",
        "genus": "a text states it for the genus or group",
        "memory": "from memory, nothing read",
        "assumed": "the ordinary state, because the texts read mention no other",
        "logic": "the part does not exist",
    }
    cells: dict[str, set[tuple[str, str]]] = {basis: set() for basis in bases}
    for row in rows:
        cells[row["basis"]].add((row["species_id"], row["character_id"]))
    whole = sum(len(found) for found in cells.values())
    return {
        "title": "Tree key: what its cells rest on",
        "source": "src/rickyard/identify/data; a cell is one character of one species",
        "note": "",
        "columns": ["basis", "meaning", "cells", "share"],
        "rows": [
            [basis, bases[basis], str(len(found)), f"{100 * len(found) / whole:.0f} %"]
            for basis, found in cells.items()
        ],
    }


def _simulated() -> Table:
    rows = read("simulation.csv")
    return {
        "title": "Tree key: simulated users",
        "source": "scripts/simulate_identify.py, users who answer by the table itself, errors included; "
        f"seed {rows[0]['seed']}",
        "note": "This checks the machinery; it is no evidence that the table is right. "
        "A tree is named at 0.8 or more without a surprising answer. “Said” counts names and groups. "
        "One wrong of six: six looks answered truly but for one that no text read allows; how often the tree is among "
        "the first three. Wanted: right when named 0.95 or more, calibration error 0.05 or less over all situations, "
        "one wrong of six 0.90 or more in leaf and in winter; what misses stands here too. "
        "The second exponent is what a yard would fit from 450 confirmed records of simulated users.",
        "columns": [
            "situation", "exponent", "runs", "questions", "right", "in first three", "group right", "named",
            "right when named", "said", "right when said", "calibration error", "one wrong of six",
        ],
        "rows": [
            [
                row["situations"], row["exponent"], row["runs"], row["questions"], row["right"], row["top_three"],
                row["group_right"], row["named"], row["right_when_named"], row["group_or_named"],
                row["right_when_said"], row["ece"],
                "" if row["one_wrong_top_three"] == "nan" else row["one_wrong_top_three"],
            ]
            for row in rows
        ],
    }  # fmt: skip


def _curve() -> Table:
    return {
        "title": "Tree key: stated and true, simulated users",
        "source": "as above, all situations together",
        "note": "Probability stated for the leading species when the user stops, and how often it is right.",
        "columns": ["exponent", "stated from", "to", "runs", "mean stated", "right"],
        "rows": [
            [row["exponent"], f"{float(row['low']):.1f}", f"{float(row['high']):.1f}", row["count"],
             row["stated"], row["right"]]
            for row in read("simulation_reliability.csv")
        ],
    }  # fmt: skip
