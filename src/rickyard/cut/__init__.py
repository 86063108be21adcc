"""Where to cut and how to split: cutting plans for logs, splitting plans for rounds, their drawings and sums.

Pure: no database, no clock, no file but the tables packaged in `data`.
"""

from rickyard.cut.cord import Cord, Rounds, cord_of
from rickyard.cut.draw import is_stretched, letter, log_svg, split_svg
from rickyard.cut.ease import (
    CAUTIONS_ALL,
    CAUTIONS_SAW,
    CAUTIONS_SPLITTER,
    CAUTIONS_WEDGE,
    HOURS_BLIND,
    Ease,
    Rating,
    advice,
    ease_of,
    ease_words,
    kindling_words,
)
from rickyard.cut.hours import (
    Learnt,
    Rate,
    Session,
    expected_pieces,
    hours_per_cord,
    learn_splitting,
    learnt_hours,
    methods,
)
from rickyard.cut.lists import LOG_EXAMPLE, WARE_EXAMPLE, ReadLogs, ReadWares, read_logs, read_wares
from rickyard.cut.logs import Cut, CutLog, Defect, Saw, Ware, sound_stretches
from rickyard.cut.measured import cut_log, sound_share
from rickyard.cut.notes import cautions_of, check_trim, method_note
from rickyard.cut.plan import CutPlan, LogPlan, plan_cuts
from rickyard.cut.split import SplitPiece, SplitPlan, has_tight_bark, how_to, pattern_name, split_round
from rickyard.cut.sums import ByHand, Mark, Sums, by_hand, marks_of, sums_of

__all__ = [
    "CAUTIONS_ALL",
    "CAUTIONS_SAW",
    "CAUTIONS_SPLITTER",
    "CAUTIONS_WEDGE",
    "HOURS_BLIND",
    "LOG_EXAMPLE",
    "WARE_EXAMPLE",
    "ByHand",
    "Cord",
    "Cut",
    "CutLog",
    "CutPlan",
    "Defect",
    "Ease",
    "Learnt",
    "LogPlan",
    "Mark",
    "Rate",
    "Rating",
    "ReadLogs",
    "ReadWares",
    "Rounds",
    "Saw",
    "Session",
    "SplitPiece",
    "SplitPlan",
    "Sums",
    "Ware",
    "advice",
    "by_hand",
    "cautions_of",
    "check_trim",
    "cord_of",
    "cut_log",
    "ease_of",
    "ease_words",
    "expected_pieces",
    "has_tight_bark",
    "hours_per_cord",
    "how_to",
    "is_stretched",
    "kindling_words",
    "learn_splitting",
    "learnt_hours",
    "letter",
    "log_svg",
    "marks_of",
    "method_note",
    "methods",
    "pattern_name",
    "plan_cuts",
    "read_logs",
    "read_wares",
    "sound_share",
    "sound_stretches",
    "split_round",
    "split_svg",
    "sums_of",
]
