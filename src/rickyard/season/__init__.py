"""When is it dry: drying models, the ensemble, readings, ready dates.

`forecast` gives the moistures of a stack's pieces day by day for many members; `mix` joins the species of a
stack; `Forecast.ready` answers with dates and odds.
`Reading` and `meter_mc` bring in what was measured.
The drying models lie behind one interface, `DryingModel`; `screening_model` is the quick one for comparisons.
`windows` tells autumn from the spring after; `what_if` changes one thing; `backwards` asks how thick and when.
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
from rickyard.season.meter import MeterReading, meter_mc
from rickyard.season.models import DryingModel, FiniteVolumes
from rickyard.season.pieces import COVERS, EXPOSURES, FORMS, Pieces
from rickyard.season.readings import Reading
from rickyard.season.screening import screening_model
from rickyard.season.section import Section, Sections, section_days, sections
from rickyard.season.what_if import Change, Outcome, WhatIf, usual_changes, what_if
from rickyard.season.windows import Window, Windows, months_of, window_words, windows

__all__ = [
    "COVERS",
    "EXPOSURES",
    "FORMS",
    "MODEL_VERSION",
    "Backwards",
    "CalendarCell",
    "CalendarRow",
    "Change",
    "DryingModel",
    "FiniteVolumes",
    "Forecast",
    "Keeping",
    "MeterReading",
    "Outcome",
    "Pieces",
    "Reading",
    "Ready",
    "Section",
    "Sections",
    "StartLimit",
    "ThicknessLimit",
    "WhatIf",
    "Window",
    "Windows",
    "backwards",
    "calendar_row",
    "calendar_rows",
    "forecast",
    "horizon_warning",
    "keeping",
    "meter_mc",
    "mix",
    "months_of",
    "scheffer_index",
    "screening_model",
    "section_days",
    "sections",
    "usual_changes",
    "what_if",
    "window_words",
    "windows",
]
