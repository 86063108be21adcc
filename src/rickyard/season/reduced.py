"""A quick look: the same scheme on a handful of cells, with the air in halves of days.

For screening: what-if tables, searching backwards, ranking what to measure next, differences between the
layers of a stack. It costs a small part of the three-dimensional model and keeps to the same contract, since
it is the same code: water is conserved, equilibrium is met and not passed. What it loses is stated in
docs/accuracy.md, over pieces, woods, climates and months of stacking; a promise is never made on it.
"""

from __future__ import annotations

from rickyard.season.models import FiniteVolumes


class ReducedVolumes(FiniteVolumes):
    """The reduced model behind `DryingModel`."""

    @property
    def name(self) -> str:
        return "reduced-volumes"


#: The one in use; `lift` is what brings it nearest to the three-dimensional model on average.
REDUCED = ReducedVolumes(
    row_hours=12,
    step_hours=24,
    gentle_days=0,
    first_m=0.006,
    first_end_m=0.015,
    first_bark_m=0.012,
    growth=3.0,
    growth_end=2.5,
    counts=(3, 5, 3),
    bark_cells=2,
    lift=17.0,
    block=104,
)
