"""Finding measure words in a text: forbidden terms, and words for bulk units.

Everything is matched on `flat` text: lower case, without accents, each sign one sign long, so that a place in it
is the same place in the text as typed.
A word that is a measure only in some uses (a pile, to pile) counts when it is used as one: after a number, an
article, "per" or "by the", before "of", or before a price at the start of a sentence.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache

_SIGNS = {"’": "'", "‘": "'", "′": "'", "″": '"', "“": '"', "”": '"', "–": "-", "—": "-", "‐": "-", "‑": "-"}

NUMBER = (
    r"(?:\d+[ -]\d/\d|\d+/\d+|\d+(?:[.,]\d+)?[ ]?[¼½¾⅓⅔⅛]?|[¼½¾⅓⅔⅛]"
    r"|\b(?:one|two|three|four|five|six|seven|eight|nine|ten|twelve|twenty|half|quarter|third|several|few|dozen"
    r"|deux|trois|quatre|cinq|six|sept|huit|neuf|dix|demi|demie|quart|tiers|quelques)\b)"
)
_ARTICLE = r"\b(?:a|an|another|each|every|per|un|une|chaque|par|le|la)\b"
_NOT_ADJECTIVE = (
    r"(?!(?:of|the|our|your|my|his|her|their|and|or|in|on|from|to|for|with|de|du|des|et|ou|dans|sur|is|are|we|you"
    r"|can|will|cord|cords|corde|cordes)\b)"
)
_ADJECTIVES = rf"(?:{_NOT_ADJECTIVE}[a-z][a-z'-]*[ ]){{0,2}}"
_BEFORE = re.compile(rf"(?:{NUMBER}|{_ARTICLE}|by the|/)[ -]*{_ADJECTIVES}$")
_PLACED = re.compile(
    r"\b(?:in|on|into|onto|from|off|atop|inside|beside|behind|under|dans|sur)[ ]+"
    rf"(?:a|an|the|un|une|le|la|one)[ ]+{_ADJECTIVES}$"
)
_AFTER = re.compile(
    r"[ ]+(?:of|d'|de)\b(?![ ]+(?:the|our|your|my|this|that)\b)"
    r"|[ ]*(?:[-:,@=][ ]*)?(?:[$€£][ ]?\d|\d[\d .,]*[ ]?[$€£])|[ ]+for[ ]+[$€£]?\d"
)
_GOES_ON = re.compile(
    r"-[a-z]|[ ]+(?!(?:of|for|delivered|stacked|split|cut|dry|seasoned|green|and|or|at|from|in|is|plus|each|only|dumped"
    r"|picked|ready|free|minimum|left|will|if|to|with|on|de|d|livre|livree|livres|pour|a|en|et|ou)\b)[a-z]"
)
_STARTS = re.compile(r"(?:^|[.!?;:\n•*(])\s*(?:[a-z'-]+[ ]){0,3}$")
_NAME_BEFORE = re.compile(r"\b(?:call|contact|ask for|text|see|phone|mr\.?|appelez)[ ]+$")
_NAME_AFTER = re.compile(
    r"^(?:'s[ ]+[A-Z]|(?:[ ]+[A-Z][\w'&-]*){0,2}[ ]+"
    r"(?:Farms?|Company|Co\.?|Inc\.?|Ltd\.?|Ltée|LLC|Road|Rd\.?|Street|St\.|Lane|Ln\.?|Avenue|Ave\.?|Drive|Dr\.?|Hill"
    r"|Brothers|Bros\.?|Services|Road|Court|Creek|Lake|Point|Bay)\b)"
)
_NAMED_ROAD = re.compile(r"\b(?:Rue|Chemin|Route|Avenue|Lac)[ ]+(?:de la[ ]+|du[ ]+|de[ ]+|des[ ]+)?$")


@dataclass(frozen=True)
class Found:
    """A measure word in a text: where it stands, as typed, and the unit or term it is."""

    start: int
    end: int
    word: str
    name: str


@lru_cache(maxsize=4096)
def flat(text: str) -> str:
    """The text in lower case without accents and typographic signs, every sign still one sign long."""
    return "".join(_flat_sign(sign) for sign in text)


@cache
def _flat_sign(sign: str) -> str:
    if sign in _SIGNS:
        return _SIGNS[sign]
    if sign.isspace() and sign != "\n":
        return " "
    lower = sign.lower()
    if unicodedata.category(sign).startswith("L"):
        lower = unicodedata.normalize("NFD", lower)[0]
    return lower if len(lower) == 1 else sign


def find_term(text: str, term: str) -> Iterator[Found]:
    """Where a forbidden term is used as a measure in a text: any case, plural, hyphened or written as one word."""
    plain = flat(text)
    single = " " not in term and flat(term) not in ALWAYS_A_MEASURE
    for match in _pattern(term).finditer(plain):
        start, end = match.span()
        if _is_name(text, plain, start, end):
            continue
        if single and flat(term) != "cord" and not _is_measure(plain, start, end):
            continue
        if flat(term) == "cord" and not _is_cord(plain, start, end):
            continue
        yield Found(start, end, text[start:end], term)


ALWAYS_A_MEASURE = frozenset({"truckload", "stere", "corde", "cordon"})
"""One-word terms that are measures in every use."""


@cache
def _pattern(term: str) -> re.Pattern[str]:
    words = re.split(r"[ ]+", flat(term))
    if len(words) == 1 and words[0] == "truckload":
        words = ["truck", "load"]
    parts = []
    for word in words:
        stem = re.escape(word).replace("'", "'[ ]?")
        parts.append(stem if word in ("de",) or word.endswith("s") else stem + "(?:s|'s)?")
    return re.compile(r"(?<![\w'])" + r"[\s-]*".join(parts) + r"(?![\w])")


def _is_name(text: str, plain: str, start: int, end: int) -> bool:
    """Whether the word is part of a person's, firm's or street's name."""
    if not text[start].isupper() or text.isupper():
        return False
    before, after = text[:start], text[end:]
    if text[start:end].endswith("'s"):
        after = "'s" + after
    return bool(_NAME_AFTER.match(after) or _NAME_BEFORE.search(plain[:start]) or _NAMED_ROAD.search(before))


def _is_measure(plain: str, start: int, end: int) -> bool:
    before = plain[max(0, start - 60) : start]
    if _PLACED.search(before) or _GOES_ON.match(plain[end : end + 30]):
        return False
    if _BEFORE.search(before):
        return True
    return bool(_AFTER.match(plain[end : end + 30]) and _STARTS.search(before))


def _is_cord(plain: str, start: int, end: int) -> bool:
    """Whether `cord` is the measure: not cord wood, a statutory name of goods, and not an electric cord."""
    if re.match(r"[ -]?wood", plain[end:]):
        return False
    return not re.search(
        r"\b(?:extension|power|pull|rip|bungee|draw|nylon|starter|phone)[ -]+$", plain[:start]
    )


# Words for bulk units: the id of the unit, the pattern, and whether it must be used as a measure to count.
_UNITS: tuple[tuple[str, str, bool], ...] = (
    (
        "loose_cord",
        r"(?:loose|thrown|loose[- ]thrown|loosely thrown|throw|tossed)[ -]+cords?"
        r"|cords?[ ]?,?[ ](?:thrown loose|loose(?:ly)?(?:[ -]thrown)?|thrown)"
        r"|cordes?[ ](?:en vrac|lancees?|jetees?)",
        False,
    ),
    (
        "odd_cord",
        r"(?:face|stove|apartment|furnace|short|bush|fireplace|rick|mini|small|little|country|running|half[- ]face"
        r"|stacked[- ]face|long|log|stick|kitchen|camp)[ -]*cords?"
        r"|petites?[ -]cordes?|cordes?[ -](?:courtes?|de (?:poele|fournaise|facade|bucheron)|d'appartement)",
        False,
    ),
    ("cord", r"cords?|cordes?", False),
    ("ft3", r"(?:cubic|cu\.?)[ -]?(?:feet|foot|ft\.?)|(?:ft|pi)(?:3|³|\^3)|pieds?[ -]cubes?|cu\.?ft", False),
    ("yd3", r"cubic[ -]yards?|cu\.? ?y(?:ar)?ds?|verges?[ -]cubes?", False),
    (
        "loose_m3",
        r"loose[ -]+(?:cubic met(?:er|re)s?|m(?:3|³))|(?:metres?[ -]cubes?|m(?:3|³))[ ](?:en )?vrac",
        False,
    ),
    (
        "stacked_m3",
        r"(?:stacked[ -]+|solid[ -]+)?(?:cubic[ -]+met(?:er|re)s?|m(?:3|³))"
        r"|metres?[ -]cubes?(?:[ ](?:empiles?|apparents?))?",
        False,
    ),
    ("dm3", r"dm(?:3|³)|cubic decimet(?:er|re)s?|decimetres? cubes?", False),
    (
        "load",
        r"(?:pick[- ]?up|truck|trailer|dump|van|car|wagon|bucket|trunk|utility)[ -]*(?:truck[ -]*)?loads?",
        False,
    ),
    ("load", r"(?:full |half )?loads?|voyages?|chargements?", True),
    ("rick", r"ricks?", True),
    ("rank", r"ranks?", True),
    ("rack", r"racks?", True),
    ("tier", r"tiers?", True),
    ("pile", r"piles?|heaps?", True),
    ("pallet", r"pallets?|skids?|palettes?", True),
    ("crate", r"crates?|bins?|totes?|baskets?|wheelbarrows?", True),
    ("bushel", r"bushels?", True),
)
_SOLD_BY_WEIGHT = re.compile(
    rf"(?:{NUMBER}[ -]*|\bper |\ba |\bby the |/[ ]?)(?P<unit>tons?|tonnes?|pounds?|lbs?\.?|kgs?|kilos?)\b"
    r"(?![ -]*(?:truck|dump|trailer|pickup|camion|capacity))(?=[ ]+(?:of|de)\b|[ ]*[,.;:)]|[ ]+delivered|[ ]*$)"
)


def find_units(text: str) -> list[Found]:
    """Words for bulk units used in a text, in its order; of two that overlap the longer."""
    plain = flat(text)
    found: list[Found] = []
    for name, pattern in _unit_patterns():
        for match in pattern.finditer(plain):
            start, end = match.span()
            if any(start < other.end and other.start < end for other in found):
                continue
            if _is_name(text, plain, start, end):
                continue
            if name.startswith("?") and not _is_measure(plain, start, end):
                continue
            if name == "cord" and not _is_cord(plain, start, end):
                continue
            found.append(Found(start, end, text[start:end], name.lstrip("?")))
    for match in _SOLD_BY_WEIGHT.finditer(plain):
        start, end = match.span("unit")
        found.append(Found(start, end, text[start:end], "weight"))
    return sorted(found, key=lambda item: item.start)


@cache
def _unit_patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple(
        (("?" if in_use else "") + name, re.compile(rf"(?<![\w'])(?:{pattern})(?!\w)"))
        for name, pattern, in_use in _UNITS
    )
