"""Amounts in a text: how many cords, which volume is said beside them, which sizes of a stack, which moisture."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from rickyard.measure import FT3_M3, FT_M, IN_M
from rickyard.rules.terms import NUMBER, Found, find_units, flat

_WORDS = {
    "one": 1.0, "two": 2.0, "three": 3.0, "four": 4.0, "five": 5.0, "six": 6.0, "seven": 7.0, "eight": 8.0,
    "nine": 9.0, "ten": 10.0, "twelve": 12.0, "twenty": 20.0, "dozen": 12.0,
    "half": 1 / 2, "quarter": 1 / 4, "third": 1 / 3, "a": 1.0, "an": 1.0, "per": 1.0, "un": 1.0, "une": 1.0,
    "la": 1.0, "chaque": 1.0, "each": 1.0, "deux": 2.0, "trois": 3.0, "quatre": 4.0, "cinq": 5.0, "sept": 7.0,
    "huit": 8.0, "neuf": 9.0, "dix": 10.0, "demi": 1 / 2, "demie": 1 / 2, "quart": 1 / 4, "tiers": 1 / 3,
}  # fmt: skip
_VULGAR = {"¼": 1 / 4, "½": 1 / 2, "¾": 3 / 4, "⅓": 1 / 3, "⅔": 2 / 3, "⅛": 1 / 8}
_COUNT = re.compile(
    r"(?P<parts>\b(?:one|two|three|a|un|une|deux|trois)[ -]+"
    r"(?:half|halves|third|thirds|quarters?|demi|demie|quart|tiers)"
    rf"|(?<![$€£\d.,]){NUMBER}(?:[ -]+(?:half|third|quarter))?|\b(?:a|an|per|each|un|une|chaque|la)\b|/)"
    r"(?:[ -]*(?:of an?|(?<=half )an?|de|d'une?|full|true|standard|stacked|solid|ranked|loose|legal|pleine?|green|dry"
    r"|seasoned|split))*[ -]*$"
)
_SIZE = r"(\d+(?:[.,]\d+)?)[ -]?(ft|feet|foot|'|pi|pieds?|in\b|inch(?:es)?|\"|''|po\b|pouces?)?"
_SIDE = r"(?:[ ](?:long|high|deep|wide|tall|thick|de long|de haut|de profond|in length|in height|in depth))?"
_BY = r"(?:[ ]?(?:x|×|by|sur)[ ]?|[ ]?,[ ](?:and[ ]|et[ ])?|[ ](?:and|et)[ ])"
_DIMENSIONS = (
    re.compile(rf"(?<![\d/.]){_SIZE}[ ]?(?:x|×|by|sur)[ ]?{_SIZE}[ ]?(?:x|×|by|sur)[ ]?{_SIZE}"),
    re.compile(
        rf"(?<![\d/.]){_SIZE}{_SIDE}{_BY}{_SIZE}{_SIDE}{_BY}{_SIZE}[ ](?:long|high|deep|wide|tall|de long)"
    ),
)
_ROWS = re.compile(rf"{NUMBER}[ ](?:rows?|stacks?|rangs?|rangees?)\b")
_MOISTURE = (
    re.compile(
        r"(\d+(?:[.,]\d+)?)[ ]?(?:%|percent|per cent)[ ]?(?:wood[ ]|water[ ]|average[ ])?"
        r"(?:moisture|water|mc\b|humidity|wet)"
    ),
    re.compile(
        r"(?:moisture|water content|mc|humidity)[a-z ]{0,25}[:=]?[ ]?(\d+(?:[.,]\d+)?)[ ]?(?:%|percent|per cent)"
    ),
)


@dataclass(frozen=True)
class Amount:
    """A number of units in a text: the unit's id, how many (None if no number stands there), and where."""

    unit: str
    count: float | None
    start: int
    end: int
    words: str


def amounts(text: str) -> list[Amount]:
    """Every bulk unit in a text with the number before it."""
    plain = flat(text)
    return [_amount(text, plain, found) for found in find_units(text)]


def stack_ft3(text: str) -> Iterator[tuple[float, int, int]]:
    """Outside volumes [ft³] of stacks whose three sizes are said (8 ft x 4 ft x 16 in), and where they stand.

    A third size without a unit is inches above 11, else feet.
    Texts that tell of several rows are left alone.
    """
    plain = flat(text)
    if _ROWS.search(plain):
        return
    taken: list[tuple[int, int]] = []
    for pattern in _DIMENSIONS:
        for match in pattern.finditer(plain):
            start, end = match.span()
            if any(start < other_end and other_start < end for other_start, other_end in taken):
                continue
            taken.append((start, end))
            sizes_m = [_size_m(match[i], match[i + 1] or "", last=i == 5) for i in (1, 3, 5)]
            yield sizes_m[0] * sizes_m[1] * sizes_m[2] / FT3_M3, start, end


def _size_m(number: str, unit: str, *, last: bool) -> float:
    size = float(number.replace(",", "."))
    inches = unit.startswith(("in", '"', "''", "po")) or (last and not unit and size > 11)
    return size * (IN_M if inches else FT_M)


def moisture_percents(text: str) -> list[tuple[float, str]]:
    """Percents said to be moisture, with the words."""
    plain = flat(text)
    found = [match for pattern in _MOISTURE for match in pattern.finditer(plain)]
    return [
        (float(match[1].replace(",", ".")), text[match.start() : match.end()])
        for match in sorted(found, key=lambda match: match.start())
    ]


def _amount(text: str, plain: str, found: Found) -> Amount:
    match = _COUNT.search(plain[: found.start])
    if match is None:
        return Amount(found.name, None, found.start, found.end, found.word)
    start = match.start()
    return Amount(found.name, _number(match["parts"]), start, found.end, text[start : found.end])


def _number(text: str) -> float | None:
    """A count as people write it: 2, 1/3, 1 1/2, 1½, half, one third, two thirds."""
    if text == "/":
        return 1.0
    total, factor = 0.0, 1.0
    rest = text.strip()
    for sign, value in _VULGAR.items():
        if sign in rest:
            total += value
            rest = rest.replace(sign, " ")
    for part in re.findall(r"\d+/\d+|\d+(?:[.,]\d+)?|[a-z]+", rest):
        if "/" in part:
            above, below = part.split("/")
            if int(below) == 0:
                return None
            total += int(above) / int(below)
        elif part[0].isdigit():
            total += float(part.replace(",", "."))
        elif part in (
            "half",
            "halves",
            "third",
            "thirds",
            "quarter",
            "quarters",
            "demi",
            "demie",
            "quart",
            "tiers",
        ):
            factor *= _WORDS[part.replace("halves", "half").removesuffix("s") if part != "tiers" else part]
        elif part in _WORDS:
            total += _WORDS[part]
        else:
            return None
    return (total or 1.0) * factor if total or factor != 1.0 else None
