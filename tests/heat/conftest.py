"""The published checks of heat, computed by the script that also writes them into docs/accuracy.md."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def published() -> ModuleType:
    path = Path(__file__).resolve().parents[2] / "scripts" / "accuracy_d" / "heat.py"
    spec = importlib.util.spec_from_file_location("accuracy_of_heat_in_tests", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
