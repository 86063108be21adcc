"""When is it dry: drying models, the ensemble, readings, ready dates.

`forecast` gives the moistures of a stack's pieces day by day for many members; `mix` joins the species of a
stack; `Forecast.ready` answers with dates and odds.
`Reading` and `meter_mc` bring in what was measured.
The drying models lie behind one interface, `DryingModel`.
"""

from rickyard.season.forecast import (
    MODEL_VERSION,
    Forecast,
    Ready,
    forecast,
    horizon_warning,
    mix,
)
from rickyard.season.learning import Learnt, Lesson, learnt, related, thickness_class
from rickyard.season.meter import MeterReading, meter_mc
from rickyard.season.models import DryingModel, FiniteVolumes
from rickyard.season.pieces import COVERS, EXPOSURES, FORMS, Pieces
from rickyard.season.readings import Reading, cautions, mean_shown

__all__ = [
    "COVERS",
    "EXPOSURES",
    "FORMS",
    "MODEL_VERSION",
    "DryingModel",
    "FiniteVolumes",
    "Forecast",
    "Learnt",
    "Lesson",
    "MeterReading",
    "Pieces",
    "Reading",
    "Ready",
    "cautions",
    "forecast",
    "horizon_warning",
    "learnt",
    "mean_shown",
    "meter_mc",
    "mix",
    "related",
    "thickness_class",
]
