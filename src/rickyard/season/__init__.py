"""When is it dry: drying models, the ensemble, readings, ready dates.

`forecast` gives the moistures of a stack's pieces day by day for many members; `mix` joins the species of a
stack; `Forecast.ready` answers with dates and odds.
`Reading` and `meter_mc` bring in what was measured; `weighed` sums up marked pieces on a scale.
`Lesson`, `related` and `learnt` are what readings of one stack teach of others; `worth` says what is worth measuring.
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
from rickyard.season.readings import Reading, cautions, errors_of, mean_shown
from rickyard.season.witness import Weighed, step_share, weighed
from rickyard.season.worth import Question, Worth, worth

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
    "Question",
    "Reading",
    "Ready",
    "Weighed",
    "Worth",
    "cautions",
    "errors_of",
    "forecast",
    "horizon_warning",
    "learnt",
    "mean_shown",
    "meter_mc",
    "mix",
    "related",
    "step_share",
    "thickness_class",
    "weighed",
    "worth",
]
