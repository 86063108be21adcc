"""What the weather tests share: the comparisons of the accuracy page, so that page and tests cannot part."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "accuracy_d" / "weather.py"


@pytest.fixture(scope="session")
def accuracy() -> ModuleType:
    """The module scripts/accuracy_d/weather.py."""
    spec = importlib.util.spec_from_file_location("accuracy_of_weather", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["accuracy_of_weather"] = module
    spec.loader.exec_module(module)
    return module
