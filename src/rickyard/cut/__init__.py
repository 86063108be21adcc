"""Where to cut and how to split: cutting plans for logs, splitting plans for rounds, their drawings and sums.

Pure: no database, no clock, no file but the tables packaged in `data`.
"""

from rickyard.cut.draw import is_stretched, letter, log_svg, split_svg
from rickyard.cut.ease import (
    CAUTIONS_ALL,
    CAUTIONS_SAW,
    CAUTIONS_SPLITTER,
    CAUTIONS_WEDGE,
    Ease,
    Rating,
    advice,
    ease_of,
    ease_words,
    kindling_words,
)
from rickyard.cut.hours import (
    Rate,
    Session,
    expected_pieces,
    hours_for,
    hours_per_cord,
    learnt_hours,
    methods,
    pieces_per_cord,
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
    "LOG_EXAMPLE",
    "WARE_EXAMPLE",
    "ByHand",
    "Cut",
    "CutLog",
    "CutPlan",
    "Defect",
    "Ease",
    "LogPlan",
    "Mark",
    "Rate",
    "Rating",
    "ReadLogs",
    "ReadWares",
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
    "cut_log",
    "ease_of",
    "ease_words",
    "expected_pieces",
    "has_tight_bark",
    "hours_for",
    "hours_per_cord",
    "how_to",
    "is_stretched",
    "kindling_words",
    "learnt_hours",
    "letter",
    "log_svg",
    "marks_of",
    "method_note",
    "methods",
    "pattern_name",
    "pieces_per_cord",
    "plan_cuts",
    "read_logs",
    "read_wares",
    "sound_share",
    "sound_stretches",
    "split_round",
    "split_svg",
    "sums_of",
]
