"""The published tables that the tests of `rickyard.measure` check against; origin in data/SOURCES.md."""

import csv
import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

DATA = Path(__file__).parent / "data"


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[dict[str, str]]]:
    """Rows of a table in tests/measure/data by its name."""

    def rows(name: str) -> list[dict[str, str]]:
        with (DATA / name).open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    return rows


@pytest.fixture(scope="session")
def looked_at() -> Callable[[str], ModuleType]:
    """What the accuracy page reckons of a published table, so that page and test leave out the same rows: none."""

    def module(name: str) -> ModuleType:
        path = Path(__file__).resolve().parents[2] / "scripts" / "accuracy_d" / f"{name}.py"
        spec = importlib.util.spec_from_file_location(f"accuracy_of_{name}", path)
        assert spec is not None
        assert spec.loader is not None
        made = importlib.util.module_from_spec(spec)
        # Dataclasses look their own module up.
        sys.modules[spec.name] = made
        spec.loader.exec_module(made)
        return made

    return module
