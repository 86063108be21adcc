"""When is it dry: drying models, the ensemble, readings, ready dates.

`forecast` gives the moistures of a stack's pieces day by day for many members; `mix` joins the species of a
stack; `Forecast.ready` answers with dates and odds.
`Reading` and `meter_mc` bring in what was measured.
The drying models lie behind one interface, `DryingModel`: the three-dimensional `FiniteVolumes`, and `REDUCED`
for a quick look. `Physics` switches what acts on the pieces besides diffusion.
"""

from rickyard.season.forecast import (
    MODEL_VERSION,
    Forecast,
    Ready,
    forecast,
    horizon_warning,
    mix,
)
from rickyard.season.meter import MeterReading, meter_mc
from rickyard.season.models import DryingModel, Field, FiniteVolumes
from rickyard.season.physics import LAYERS, Physics
from rickyard.season.pieces import COVERS, EXPOSURES, FORMS, GROUNDS, Pieces
from rickyard.season.readings import Reading
from rickyard.season.reduced import REDUCED, ReducedVolumes

__all__ = [
    "COVERS",
    "EXPOSURES",
    "FORMS",
    "GROUNDS",
    "LAYERS",
    "MODEL_VERSION",
    "REDUCED",
    "DryingModel",
    "Field",
    "FiniteVolumes",
    "Forecast",
    "MeterReading",
    "Physics",
    "Pieces",
    "Reading",
    "Ready",
    "ReducedVolumes",
    "forecast",
    "horizon_warning",
    "meter_mc",
    "mix",
]
