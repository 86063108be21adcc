"""Name the tree from whatever can be seen: a key of many entries that says how sure it is.

Pure: no database, no clock, no file but the tables packaged in `data`.
"""

from rickyard.identify.answers import (
    A_GUESS,
    FAIRLY_SURE,
    SURE,
    Answer,
    checked_region,
    checked_situations,
    read_answer,
)
from rickyard.identify.calibration import (
    Confirmed,
    ReliabilityBin,
    calibration_error,
    fit_exponent,
    reliability,
)
from rickyard.identify.looks import Look, leading_pair, next_looks
from rickyard.identify.packed import packed
from rickyard.identify.posterior import FLAT, Posterior, Prior, posterior
from rickyard.identify.report import report
from rickyard.identify.tables import (
    REGIONS,
    SITUATION_WORDS,
    SITUATIONS,
    Character,
    Key,
    KeySpecies,
    LookAlikes,
    the_key,
)
from rickyard.identify.telling import (
    CellSource,
    Difference,
    cell_sources,
    differences,
    key_sources,
    telling,
)
from rickyard.identify.verdict import (
    Contradiction,
    LookAgain,
    Share,
    Verdict,
    by_genus,
    by_group,
    contradictions,
    look_again,
    note,
    surprises,
    verdict,
    wood_of_group,
)

__all__ = [
    "A_GUESS",
    "FAIRLY_SURE",
    "FLAT",
    "REGIONS",
    "SITUATIONS",
    "SITUATION_WORDS",
    "SURE",
    "Answer",
    "CellSource",
    "Character",
    "Confirmed",
    "Contradiction",
    "Difference",
    "Key",
    "KeySpecies",
    "Look",
    "LookAgain",
    "LookAlikes",
    "Posterior",
    "Prior",
    "ReliabilityBin",
    "Share",
    "Verdict",
    "by_genus",
    "by_group",
    "calibration_error",
    "cell_sources",
    "checked_region",
    "checked_situations",
    "contradictions",
    "differences",
    "fit_exponent",
    "key_sources",
    "leading_pair",
    "look_again",
    "next_looks",
    "note",
    "packed",
    "posterior",
    "read_answer",
    "reliability",
    "report",
    "surprises",
    "telling",
    "the_key",
    "verdict",
    "wood_of_group",
]
