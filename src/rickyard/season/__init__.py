"""When is it dry: drying models, the ensemble, readings, ready dates.

`forecast` gives the moistures of a stack's pieces day by day for many members; `mix` joins the species of a
stack; `Forecast.ready` answers with dates and odds.
`Reading` and `meter_mc` bring in what was measured; `weighed` sums up marked pieces on a scale.
`Lesson`, `related` and `learnt` are what readings of one stack teach of others; `worth` says what is worth measuring.
`windows` tells autumn from the spring after; `what_if` changes one thing; `backwards` asks how thick and when.
The drying models lie behind one interface, `DryingModel`: the three-dimensional `FiniteVolumes`, and `REDUCED`
for a quick look. `Physics` switches what acts on the pieces besides diffusion.
"""

from rickyard.season.backwards import Backwards, StartLimit, ThicknessLimit, backwards
from rickyard.season.calendar import CalendarCell, CalendarRow, calendar_row, calendar_rows
from rickyard.season.decay import Keeping, keeping, scheffer_index
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
from rickyard.season.models import DryingModel, Field, FiniteVolumes
from rickyard.season.physics import LAYERS, Physics
from rickyard.season.pieces import COVERS, EXPOSURES, FORMS, GROUNDS, ROWS, Pieces
from rickyard.season.readings import Reading, cautions, errors_of, mean_shown
from rickyard.season.reduced import REDUCED, ReducedVolumes
from rickyard.season.screening import screening_model
from rickyard.season.section import Section, Sections, section_days, sections
from rickyard.season.what_if import Change, Outcome, WhatIf, usual_changes, what_if
from rickyard.season.windows import Window, Windows, months_of, window_words, windows
from rickyard.season.witness import Weighed, step_share, weighed
from rickyard.season.worth import Question, Worth, worth

__all__ = [
    "COVERS",
    "EXPOSURES",
    "FORMS",
    "GROUNDS",
    "LAYERS",
    "MODEL_VERSION",
    "REDUCED",
    "ROWS",
    "Backwards",
    "CalendarCell",
    "CalendarRow",
    "Change",
    "DryingModel",
    "Field",
    "FiniteVolumes",
    "Forecast",
    "Keeping",
    "Learnt",
    "Lesson",
    "MeterReading",
    "Outcome",
    "Physics",
    "Pieces",
    "Question",
    "Reading",
    "Ready",
    "ReducedVolumes",
    "Section",
    "Sections",
    "StartLimit",
    "ThicknessLimit",
    "Weighed",
    "WhatIf",
    "Window",
    "Windows",
    "Worth",
    "backwards",
    "calendar_row",
    "calendar_rows",
    "cautions",
    "errors_of",
    "forecast",
    "horizon_warning",
    "keeping",
    "learnt",
    "mean_shown",
    "meter_mc",
    "mix",
    "months_of",
    "related",
    "scheffer_index",
    "screening_model",
    "section_days",
    "sections",
    "step_share",
    "thickness_class",
    "usual_changes",
    "weighed",
    "what_if",
    "window_words",
    "windows",
    "worth",
]
