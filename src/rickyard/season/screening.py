"""The quick model behind questions that need many forecasts: what if, how fine, from which month.

Such questions compare forecasts with one another, so an error common to all of them matters little.
"""

from __future__ import annotations

import importlib
import importlib.util
import inspect
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from rickyard.season.models import DryingModel, FiniteVolumes

#: Members that a comparison runs; odds by steps of 1 in 32.
MEMBERS = 32
REDUCED = "rickyard.season.reduced"


def screening_model() -> DryingModel:
    """A model that answers in well under a second; its `name` says which."""
    if importlib.util.find_spec(REDUCED) is None:
        return CoarseVolumes()
    made: DryingModel = importlib.import_module(REDUCED).REDUCED
    return made


def without_layers(forecast: Callable[..., Any]) -> dict[str, Any]:
    """Arguments that leave out the layers of the stack, where a forecast has them: comparisons need none."""
    return {"layers": False} if "layers" in inspect.signature(forecast).parameters else {}


@dataclass(frozen=True)
class CoarseVolumes(FiniteVolumes):
    """The three-dimensional piece in a sixth of the cells: five times as fast, ready dates some days later."""

    first_m: float = 0.002
    first_end_m: float = 0.004
    counts: tuple[int, int, int] = (5, 8, 6)

    @property
    def name(self) -> str:
        return "finite-volumes-3d-coarse"
