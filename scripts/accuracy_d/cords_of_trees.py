"""Every row of the published cords per tree beside ours, or the reason why it is not looked at."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

from rickyard.measure import FT3_M3, FT_M, IN_M, TreeMeasure, measure_tree
from rickyard.wood import get_species

DATA = Path(__file__).resolve().parents[2] / "tests" / "measure" / "data"

LOGGERS_FT3 = 79.0
BEERS_FT3 = 76.0
"""Solid wood of a cord: as the Lake States and Minnesota count it, and as Beers' function does."""

VALUES = {
    "12 in, 60 ft total height hardwood": ("unnamed_hardwood", 12, 60),
    "eastern white pine 18 in, 75 ft, 4 in top (New Brunswick)": ("pinus_strobus", 18, 75),
    "red pine 13 in, 60 ft, 4 in top": ("pinus_resinosa", 13, 60),
    "eastern white pine 12 in, 65 ft, 4 in top": ("pinus_strobus", 12, 65),
    "red pine 10 in, 56 ft, 4 in top": ("pinus_resinosa", 10, 56),
}

NOT_LOOKED_AT = {
    "Beers 1964": "the function itself: its values are the rows that begin with Beers",
    "Beers 1964 wood ft3": "the same function times 76, which the rows are reckoned with",
    "Beers 1964 wood and bark ft3": "92 ft³ a cord is looked at under Stowing",
    "southern pine pulpwood": "the rule itself: its values are the rows that begin with southern pine rule",
    "southern pine rule D=6": "the rule begins above 6 in and gives none",
}


@dataclass(frozen=True)
class Looked:
    """One published row beside ours [cords]."""

    case: str
    source: str
    printed: str
    ours: float | None = None
    off: float | None = None
    found: TreeMeasure | None = None
    why_not: str = ""


def figures() -> list[Looked]:
    with (DATA / "cords_per_tree.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return [_one(row["case"], row["source"], row["value_or_formula"]) for row in rows]


def _one(case: str, source: str, printed: str) -> Looked:
    if case in NOT_LOOKED_AT:
        return Looked(case, source, printed, why_not=NOT_LOOKED_AT[case])
    solid_ft3 = LOGGERS_FT3
    if case in VALUES:
        name, dbh, height = VALUES[case]
        found = measure_tree(get_species(name), dbh * IN_M, height * FT_M)
    else:
        # Height estimated: Beers' is to the merchantable top, the rule has none.
        sized = re.fullmatch(r"(southern pine rule|Beers) D=(\d+)(?: merch H=\d+)?", case)
        assert sized is not None, case
        southern = sized[1] != "Beers"
        solid_ft3 = LOGGERS_FT3 if southern else BEERS_FT3
        found = measure_tree(
            get_species("pinus_taeda" if southern else "unnamed_hardwood"), int(sized[2]) * IN_M
        )
    ours = found.usable_m3 / (solid_ft3 * FT3_M3)
    return Looked(case, source, printed, ours, ours / float(printed) - 1.0, found)
