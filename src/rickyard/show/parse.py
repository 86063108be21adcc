"""The smallest bricks of reading typed figures: numbers as people write them, and refusals."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from rickyard.errors import InputError
from rickyard.show.symbols import Unit, fold
from rickyard.text import T_, Text

# A number as typed: 1 1/2, 3/4, 1 200,5, 1,234.5, .5 ; a sign is allowed where the reader allows it.
_DIGITS = r"(?:\d{1,3}(?: \d{3})+|\d+)"
NUMBER = rf"[+-]?(?:{_DIGITS} \d+/\d+|\d+-\d+/\d+|\d+/\d+|{_DIGITS}(?:[.,]\d+)*|[.,]\d+)"
_NUMBER = re.compile(NUMBER)
_LONGEST = 40  # figures; anything longer is no figure of a yard
_WORDS = {
    word: value
    for value, words in {
        1.0: "a|an|one|un|une",
        0.5: "half|one half|half a|half of a|demi|demie|une demi|une demie",
        1 / 3: "third|a third|one third|a third of a|one third of a|tiers|un tiers",
        2 / 3: "two thirds|deux tiers",
        0.25: "quarter|a quarter|one quarter|a quarter of a|quart|un quart",
        0.75: "three quarters|trois quarts",
    }.items()
    for word in words.split("|")
}


def refuse(field: str, wanted: Text, got: str, next_move: Text, code: str | None = None) -> InputError:
    """The error for a figure that cannot be read."""
    return InputError(field, wanted=wanted, got=got.strip() or T_("nothing"), next_move=next_move, code=code)


def to_float(typed: str, locale: str) -> float | None:
    """The value of a folded number, or None if it is none.

    Comma and point are both accepted as the decimal sign. A single comma before exactly three digits groups
    thousands in English and is the decimal sign in French; after a leading zero it is always decimal.
    """
    text = typed.strip()
    if len(text) > _LONGEST or not _NUMBER.fullmatch(text):
        return None
    sign = -1.0 if text.startswith("-") else 1.0
    text = text.lstrip("+-")
    if "/" in text:
        whole, _, part = text.replace("-", " ").rpartition(" ")
        above, below = part.split("/")
        if int(below) == 0:
            return None
        return sign * (float(whole.replace(" ", "") or 0) + int(above) / int(below))
    text = text.replace(" ", "")
    plain = _one_point(text, locale)
    return None if plain is None else sign * float(plain)


def _one_point(text: str, locale: str) -> str | None:
    """Digits with at most one point, from digits with commas and points."""
    commas, points = text.count(","), text.count(".")
    if commas and points:
        decimal = max(",.", key=text.rfind)
        group = "," if decimal == "." else "."
        head, _, tail = text.rpartition(decimal)
        if decimal in head or not re.fullmatch(rf"\d{{1,3}}(?:{re.escape(group)}\d{{3}})+", head):
            return None
        return head.replace(group, "") + "." + tail
    if commas > 1 or (
        commas == 1 and not locale.startswith("fr") and re.fullmatch(r"[1-9]\d{0,2},\d{3}", text)
    ):
        return text.replace(",", "") if re.fullmatch(r"\d{1,3}(?:,\d{3})+", text) else None
    if points > 1:
        return text.replace(".", "") if re.fullmatch(r"\d{1,3}(?:\.\d{3})+", text) else None
    return text.replace(",", ".")


def split_number(text: str, locale: str) -> tuple[float, str] | None:
    """(value, what follows) of a folded text that begins with a number or a number word; else None."""
    found = _NUMBER.match(text)
    if found:
        value = to_float(found.group(), locale)
        return None if value is None else (value, text[found.end() :].strip())
    for word in sorted(_WORDS, key=len, reverse=True):
        if re.match(rf"{word}(?=[\s-]|$)", text):
            return _WORDS[word], text[len(word) :].strip(" -")
    return None


def unit_named(name: str, units: Iterable[Unit]) -> Unit | None:
    """The unit with this spelling (folded; points are overlooked)."""
    wanted = name.replace(".", "").strip()
    wanted = re.sub(r"^(?:d'|de |of )", "", wanted)
    return next((unit for unit in units if wanted in unit.spellings), None)


def tidy(value: float) -> float:
    """A bound as it is told: whole numbers whole, others to four figures."""
    return int(value) if value == int(value) else float(f"{value:.4g}")


def inside(
    field: str,
    value: float,
    typed: str,
    unit: Unit,
    locale: str,
    low: float | None,
    high: float | None,
) -> float:
    """The value (SI), if it lies within the bounds (SI, both allowed); else InputError in the unit typed."""
    shown = unit.symbol(locale)
    move = T_("Check the figure and its unit.")
    if not math.isfinite(value):
        raise refuse(field, T_("a number"), typed, move)
    if (low is None or value >= low) and (high is None or value <= high):
        return value
    if low is not None and high is not None:
        wanted = T_(
            "{low} to {high} {unit}", low=tidy(low / unit.size), high=tidy(high / unit.size), unit=shown
        )
    elif low is not None:
        wanted = T_("at least {low} {unit}", low=tidy(low / unit.size), unit=shown)
    else:
        assert high is not None
        wanted = T_("at most {high} {unit}", high=tidy(high / unit.size), unit=shown)
    raise refuse(field, wanted, typed, move, "out_of_range")


__all__ = ["NUMBER", "fold", "inside", "refuse", "split_number", "tidy", "to_float", "unit_named"]
