"""Places on a log as a tape shows them: centimetres to the millimetre, or inches to an eighth."""

from __future__ import annotations

from fractions import Fraction

from rickyard.measure.units import IN_M
from rickyard.show.voice import NBSP, Voice

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
