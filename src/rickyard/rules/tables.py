"""The packaged tables of rules, read once."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

Row = dict[str, str]


@cache
def table(name: str) -> tuple[Row, ...]:
    """Rows of a packaged table, in its order; `name` without the ending."""
    text = files("rickyard.rules").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def rows_for(name: str, lineage: tuple[str, ...]) -> tuple[Row, ...]:
    """Rows of the nearest place in a lineage (the place first, then what it inherits from) that has any."""
    for code in lineage:
        found = tuple(row for row in table(name) if row["place"] == code)
        if found:
            return found
    return ()


def rows_along(name: str, lineage: tuple[str, ...]) -> tuple[Row, ...]:
    """Rows of every place in a lineage, the nearest first."""
    return tuple(row for code in lineage for row in table(name) if row["place"] == code)
