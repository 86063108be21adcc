"""What wood on offer is worth to the yard: wares, hours, costs, the most to pay for it, and how sure that is.

Pure: no database, no clock, no file but the table packaged in `data`. What drying says (months to sale) is handed in.
"""

from rickyard.worth.costs import (
    MARGIN_KINDS,
    STEPS,
    Assumed,
    Costs,
    Margin,
    StepHours,
    assumed,
    method_words,
    own_hours,
    step_hours,
    step_words,
)
from rickyard.worth.netted import Netted, netted, of_mix
from rickyard.worth.offer import (
    ORIGINS,
    Offered,
    OfferedTree,
    logs_wood,
    rough_wood,
    trees_wood,
)
from rickyard.worth.reckon import (
    COST_KINDS,
    INPUTS,
    Driver,
    Minor,
    Part,
    Step,
    Worth,
    Yield,
    worth_of,
)
from rickyard.worth.wares import Months, PricedWare, usual_months
from rickyard.worth.words import cost_words, driver_words, main_drivers, next_look

__all__ = [
    "COST_KINDS",
    "INPUTS",
    "MARGIN_KINDS",
    "ORIGINS",
    "STEPS",
    "Assumed",
    "Costs",
    "Driver",
    "Margin",
    "Minor",
    "Months",
    "Netted",
    "Offered",
    "OfferedTree",
    "Part",
    "PricedWare",
    "Step",
    "StepHours",
    "Worth",
    "Yield",
    "assumed",
    "cost_words",
    "driver_words",
    "logs_wood",
    "main_drivers",
    "method_words",
    "netted",
    "next_look",
    "of_mix",
    "own_hours",
    "rough_wood",
    "step_hours",
    "step_words",
    "trees_wood",
    "usual_months",
    "worth_of",
]
