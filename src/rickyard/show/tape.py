"""Places on a log as a tape shows them: centimetres to the millimetre, or inches to an eighth."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from rickyard.measure.units import IN_M
from rickyard.show.voice import NBSP, Voice
from rickyard.text import T_, Text

EIGHTHS = 8


def tape_mark(voice: Voice, at_m: float) -> str:
    """The figure to look for on the tape, without its unit: 131.2, or 51 5/8."""
    if voice.metric:
        return voice.decimal(at_m * 100.0, 1)
    return _inches(voice, round(at_m / IN_M * EIGHTHS))


def tape_feet(voice: Voice, at_m: float) -> str:
    """The same in feet and inches, for tapes that count so; empty below two feet and in metric units."""
    if voice.metric:
        return ""
    eighths = round(at_m / IN_M * EIGHTHS)
    feet, rest = divmod(eighths, 12 * EIGHTHS)
    if feet < 2:
        return ""
    return f"{voice.whole(feet)}′{NBSP}{_inches(voice, rest)}″"


def piece_length(voice: Voice, length_m: float, tolerance_m: float) -> str:
    """How long the pieces of a ware may be: 16 in, or 16 in ± 2 in."""
    if not tolerance_m:
        return voice.length(length_m)
    return f"{voice.length(length_m)} ±{NBSP}{tape_mark(voice, tolerance_m)}{NBSP}{tape_unit(voice)}"


def length_words(tolerances_m: Iterable[float]) -> Text:
    """What a plan does with the tolerances of its wares' lengths."""
    if not any(tolerances_m):
        return T_(
            "Every piece is planned exactly as long as its ware; the ware's tolerance is left to the saw."
        )
    return T_(
        "Pieces of a ware with ± are cut at their full length, or at the shortest or longest that still counts where "
        "that leaves less of the log over: go by the marks, not by the length."
    )


def tape_unit(voice: Voice) -> str:
    """The unit of `tape_mark`, as written."""
    if voice.metric:
        return "cm"
    return "po" if voice.locale.startswith("fr") else "in"


def _inches(voice: Voice, eighths: int) -> str:
    whole, rest = divmod(eighths, EIGHTHS)
    if not rest:
        return voice.whole(whole)
    part = Fraction(rest, EIGHTHS)
    tail = f"{part.numerator}/{part.denominator}"
    return f"{voice.whole(whole)}{NBSP}{tail}" if whole else tail
