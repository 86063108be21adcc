"""What the season's tests share: modules outside the package, constants, and the rivals behind one interface."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from rickyard.season.models import AirHours, FiniteVolumes, MemberConstants
from rickyard.season.reduced import REDUCED
from rickyard.season.reference import PlainVolumes, psat_water_pa

ROOT = Path(__file__).resolve().parent.parent.parent

#: Every drying model; the property checker runs over all of them.
MODELS = [FiniteVolumes(), REDUCED, PlainVolumes(first_m=0.006, counts=(3, 4, 3))]


def _module(name: str, path: Path) -> ModuleType:
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


# Imported by the tests under this name.
_module("season_properties", Path(__file__).parent / "properties.py")


@pytest.fixture(scope="session")
def cases_module() -> ModuleType:
    """scripts/season_cases.py: the published cases and how they are run."""
    return _module("season_cases", ROOT / "scripts" / "season_cases.py")


@pytest.fixture(scope="session")
def benchmark_problem() -> object:
    """The yardstick of benchmarks/data."""
    return _module("season_benchmark_problem", ROOT / "benchmarks" / "problem.py").load()


@pytest.fixture(scope="session")
def scripts_on_path() -> Iterator[None]:
    """Lets scripts import one another, as they do when they are run."""
    sys.path.insert(0, str(ROOT / "scripts"))
    yield
    sys.path.remove(str(ROOT / "scripts"))


@pytest.fixture(scope="session")
def second_world(scripts_on_path: None) -> ModuleType:
    """scripts/truth: the model that makes the truth of the twin experiments."""
    for name in ("laws", "wedge", "hours", "worlds"):
        importlib.import_module(f"truth.{name}")
    return importlib.import_module("truth")


@pytest.fixture(scope="session")
def twins(second_world: ModuleType) -> ModuleType:
    """scripts/twins.py"""
    return importlib.import_module("twins")


@pytest.fixture(params=MODELS, ids=lambda model: model.name)
def model(request: pytest.FixtureRequest) -> object:
    return request.param


Constants = Callable[..., MemberConstants]


@pytest.fixture(scope="session")
def constants() -> Constants:
    """Makes member constants of a middling hardwood; any of them may be given as a number or a list."""

    def make(**given: float | list[float]) -> MemberConstants:
        usual = {
            "k_d_m2_s": 2e-10,
            "k_free": 0.4,
            "activation_k": 4900.0,
            "beta": 2.8,
            "k_frost": 0.4,
            "r_l": 4.0,
            "phi": 0.6,
            "bark": 0.06,
            "rho0_kg_m3": 550.0,
            "size_xy": 1.0,
            "size_z": 1.0,
            "wind_share": 0.25,
            "sun_share": 0.05,
            "rain_share": 0.0,
            "start_db": 0.7,
        }
        assert set(given) <= set(usual)
        members = max([len(v) for v in given.values() if isinstance(v, list)], default=1)
        rows = {**usual, **given}
        return MemberConstants(
            **{key: np.broadcast_to(np.float32(value), (members,)).copy() for key, value in rows.items()}
        )

    return make


@pytest.fixture(scope="session")
def still_air() -> Callable[..., AirHours]:
    """Makes constant air: temperature [deg C] and relative humidity [fraction], a number or a list each."""

    def make(temp_c: float | list[float], rh: float | list[float], days: int) -> AirHours:
        temp, humid = np.broadcast_arrays(np.atleast_1d(np.float64(temp_c)), np.atleast_1d(np.float64(rh)))
        shape = (24 * days, len(temp))
        return AirHours(
            np.broadcast_to(temp, shape).astype(np.float32),
            np.broadcast_to(humid * psat_water_pa(temp), shape).astype(np.float32),
            np.full(shape, 2.0, np.float32),
            np.zeros(shape, np.float32),
            np.zeros(shape, np.float32),
        )

    return make
