"""The quick model behind questions that need many forecasts: what if, how fine, from which month.

Such questions compare forecasts with one another, so an error common to all of them matters little.
"""

from __future__ import annotations

from dataclasses import dataclass

from rickyard.season import models
from rickyard.season.models import DryingModel, FiniteVolumes

#: Members that a comparison runs; odds by steps of 1 in 32.
MEMBERS = 32


def screening_model() -> DryingModel:
    """A model that answers in well under a second; its `name` says which."""
    reduced = getattr(models, "ReducedModel", None)
    if reduced is not None:
        made: DryingModel = reduced()
        return made
    return CoarseVolumes()


@dataclass(frozen=True)
class CoarseVolumes(FiniteVolumes):
    """The three-dimensional piece in a sixth of the cells: five times as fast, ready dates some days later."""

    first_m: float = 0.002
    first_end_m: float = 0.004
    counts: tuple[int, int, int] = (5, 8, 6)

    @property
    def name(self) -> str:
        return "finite-volumes-3d-coarse"
