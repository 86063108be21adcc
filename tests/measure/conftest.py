"""The published tables that the tests of `rickyard.measure` check against; origin in data/SOURCES.md."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

DATA = Path(__file__).parent / "data"


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[dict[str, str]]]:
    """Rows of a table in tests/measure/data by its name."""

    def rows(name: str) -> list[dict[str, str]]:
        with (DATA / name).open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    return rows
