"""What a text about wood for sale says that the rules read for a place do not allow."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from rickyard.errors import InputError
from rickyard.measure import FT3_M3
from rickyard.rules.amounts import Amount, amounts, moisture_percents, stack_ft3
from rickyard.rules.law import FIELD_LABELS, place_rules
from rickyard.rules.places import Place, find_place
from rickyard.rules.statements import kind_of, missing_statements
from rickyard.rules.tables import rows_along, rows_for
from rickyard.rules.terms import find_term, flat
from rickyard.text import T_, Text

Kind = Literal["ad", "ticket", "label", "words"]
Why = Literal["word", "unit", "missing", "number"]

PACKAGE_FT3 = 16.0
"""Below this a package may be in other units than bulk wood: 1/8 cord; Handbook 130."""

NUMBER_TOLERANCE = 0.03
"""How far a volume said beside a number of cords may be off: rounding of 1/3 cord to 42 or 43 ft³ is 1.6 %."""

BESIDE_SIGNS = 60
"""A volume further than this from a number of cords is not read as explaining it."""

ENGLAND_SMALL_M3 = 2.0
ENGLAND_DRY_PCT = 20.0
"""Below 2 m³ wood for domestic burning must have 20 % moisture or less in England; wet basis from memory."""

_UNIT_NAMES: dict[str, Text] = {
    "cord": T_("cords or a fraction of a cord"),
    "stacked_m3": T_("stacked cubic metres"),
    "ft3": T_("cubic feet"),
    "loose_cord": T_("loose thrown cords"),
    "unit_load": T_("units of 192 cubic feet thrown, for wood of 16 inches or less"),
}


_STANDINGS: dict[str, Text] = {
    "forbidden": T_("forbidden"),
    "not permitted": T_("not permitted"),
    "called illegal": T_("called illegal"),
    "called illegal by Measurement Canada": T_("called illegal by Measurement Canada"),
    "called illegal in the sale of firewood": T_("called illegal in the sale of firewood"),
    "not a real cord (1993 notice)": T_("not a real cord, federal notice of 1993"),
    "no legal measure": T_("no legal measure"),
    "no defined size": T_("it has no defined size"),
    "no defined size; advertisements not settled": T_(
        "it has no defined size; advertisements are not settled"
    ),
    "not settled": T_("not settled"),
    "not settled outside the ticket": T_("not settled outside the ticket"),
}
"""How the sources put it, by the column `standing` of the table of terms."""


@dataclass(frozen=True)
class WordingProblem:
    """Something in a text that a rule read for the place does not allow.

    Attributes
    ----------
    word
        The word as typed, or "missing: ..." for what should have been said.
    rule
        The rule, with its source.
    instead
        What may be said.
    why
        word (named as forbidden), unit (not in the closed list of units), missing, or number.
    support
        direct if a source names the word or the duty, derived if it follows in one step.
    source
        Ids of the sources, as in `MeasureRules.sources`.
    start, end
        Where the word stands in the text; 0, 0 for what is missing.
    """

    word: str
    rule: Text
    instead: Text
    why: Why
    support: Literal["direct", "derived"]
    source: str
    start: int = 0
    end: int = 0


def check_wording(
    place: str, text: str, language: str = "en", *, kind: Kind | None = None
) -> list[WordingProblem]:
    """What a text breaks of the rules read for a place, in the order of the text; what is missing comes last.

    Parameters
    ----------
    place
        Country or subdivision (`CA-NB`, `US-MN`).
    text
        An advertisement, ticket or label, whole or a line of it.
    language
        en or fr: the language of the text. Terms of a place in both its languages are looked for in any case;
        English terms of a place without French ones are not looked for in a French text.
    kind
        ad, ticket, label, or words: a line of a text, in which nothing can be missing.
        Told from the text if not said.

    An empty list means that no rule that was read is broken: it is not legal advice.
    Raises UnknownNameError for the place, InputError for another language or kind.
    """
    if language not in ("en", "fr"):
        raise InputError(
            "language",
            wanted=T_("en or fr"),
            got=language,
            next_move=T_("Say which language the text is in."),
        )
    if kind not in (None, "ad", "ticket", "label", "words"):
        raise InputError(
            "kind",
            wanted=T_("ad, ticket, label or words"),
            got=str(kind),
            next_move=T_("Say what the text is for, or leave it out."),
        )
    return list(_check(find_place(place), text, language, kind))


# A yard's papers say the same few lines again and again.
@lru_cache(maxsize=1024)
def _check(found: Place, text: str, language: str, kind: Kind | None) -> tuple[WordingProblem, ...]:
    known: Kind = kind if kind is not None else kind_of(text)
    said = amounts(text)
    problems = list(_terms(found, text, language, known, settled=True))
    for problem in (*_units(found, said, known, text), *_numbers(found, said, text, known)):
        if not any(problem.start < other.end and other.start < problem.end for other in problems):
            problems.append(problem)
    problems.sort(key=lambda problem: problem.start)
    if known != "words":
        problems += _missing(found, text, known, said, inferred=kind is None)
    return tuple(problems)


def wording_cautions(place: str, text: str, language: str = "en") -> list[WordingProblem]:
    """Measure words in a text that the sources read for a place leave open: not unlawful, better avoided.

    Arguments and errors as `check_wording`.
    """
    found = find_place(place)
    taken = check_wording(place, text, language)
    return [
        caution
        for caution in _terms(found, text, language, kind_of(text), settled=False)
        if not any(caution.start < other.end and other.start < caution.end for other in taken)
    ]


def _terms(place: Place, text: str, language: str, kind: Kind, *, settled: bool) -> list[WordingProblem]:
    """Forbidden (or unsettled) terms, each place in the text once, the longest term winning."""
    rows = rows_along("forbidden_terms", place.lineage)
    own_languages = {row["language"] for row in rows}
    hits: dict[tuple[int, int], WordingProblem] = {}
    for row in rows:
        if (row["scope"] == "unsettled") == settled or (row["scope"] == "ticket" and kind != "ticket"):
            continue
        if row["language"] != language and language not in own_languages:
            continue
        for found in find_term(text, row["term"]):
            span = (found.start, found.end)
            inside = any(start <= span[0] and span[1] <= end and (start, end) != span for start, end in hits)
            if span in hits or inside:
                continue
            for other in [old for old in hits if span[0] <= old[0] and old[1] <= span[1]]:
                del hits[other]
            hits[span] = _term_problem(place, found.word, row["standing"], row["source"], *span, settled)
    return [hits[span] for span in sorted(hits)]


def _term_problem(
    place: Place, word: str, standing: str, source: str, start: int, end: int, settled: bool
) -> WordingProblem:
    if not settled:
        rule = T_(
            "{place}: the sources read do not settle whether “{word}” may be used ({standing}).",
            place=place.name,
            word=word,
            standing=_STANDINGS[standing],
        )
    elif place.standing == "model":
        rule = T_(
            "{place} was not read; the model regulation (NIST Handbook 130) bars “{word}” from offers of wood.",
            place=place.name,
            word=word,
        )
    else:
        rule = T_(
            "{place}: “{word}” may not be used to advertise, offer or sell wood ({standing}).",
            place=place.name,
            word=word,
            standing=_STANDINGS[standing],
        )
    return WordingProblem(word, rule, _instead(place), "word", "direct", source, start, end)


def _units(place: Place, said: list[Amount], kind: Kind, text: str) -> Iterator[WordingProblem]:
    """Bulk units that are not in the place's closed list."""
    if place.closed_list == "no" or kind == "label" or (place.closed_list == "ticket" and kind != "ticket"):
        return
    rows = rows_for("units", place.lineage)
    allowed = {row["unit"] for row in rows}
    source = "+".join(dict.fromkeys(row["source"] for row in rows))
    lawful_said = any(amount.unit in allowed for amount in said)
    other_said = any(amount.unit not in ("ft3", "stacked_m3", "loose_m3", "weight") for amount in said)
    for amount in said:
        if (
            amount.unit in allowed
            or amount.unit == "dm3"
            or _tolerated(place, amount, lawful_said or other_said, flat(text))
        ):
            continue
        unit = _unit_word(text, amount)
        yield WordingProblem(
            word=unit,
            rule=T_(
                "{place}: wood in bulk is sold by {units} only; “{word}” is none of them.",
                place=place.name,
                units=_listed(allowed_in_order(place)),
                word=unit,
            ),
            instead=_instead(place),
            why="unit",
            support="derived",
            source=source,
            start=amount.end - len(unit),
            end=amount.end,
        )


def _tolerated(place: Place, amount: Amount, explains: bool, plain: str) -> bool:
    """A unit outside the list that only explains another word, is a package's, or that another rule allows."""
    if amount.unit in ("ft3", "stacked_m3", "loose_m3"):
        unit_load = place.code == "US-WA-EVERETT" and re.search(r"\b(?:unit|load)s?\b", plain)
        if explains or unit_load:
            return True
        cubic_m = FT3_M3 if amount.unit == "ft3" else 1.0
        return amount.count is not None and amount.count * cubic_m < PACKAGE_FT3 * FT3_M3
    if amount.unit == "bushel":
        return "US-MA" in place.lineage and "kindling" in plain
    if amount.unit == "load" and "unit_load" in allowed_in_order(place):
        return amount.words.split()[-1].lower() in ("load", "loads") and len(amount.words.split()) <= 2
    if amount.unit == "weight":
        return "US-ME" in place.lineage or explains
    return amount.unit == "yd3" and place.code == "CA-MB"


def _numbers(place: Place, said: list[Amount], text: str, kind: Kind) -> Iterator[WordingProblem]:
    """A lawful word with a wrong number beside it."""
    yield from _cord_numbers(place, said, text)
    if "GB-ENG" in place.lineage:
        yield from _english_moisture(said, text, kind)


def _cord_numbers(place: Place, said: list[Amount], text: str) -> Iterator[WordingProblem]:
    """Volumes beside a number of cords that those cords cannot have."""
    sizes = place_rules(place.code).cord_ft3
    cords = [amount for amount in said if amount.unit in ("cord", "loose_cord") and _count(amount)]
    volumes = [
        (amount.count * (1.0 if amount.unit == "ft3" else 1.0 / FT3_M3), amount.start, amount.end)
        for amount in said
        if amount.unit in ("ft3", "stacked_m3", "loose_m3") and amount.count
    ]
    volumes += list(stack_ft3(text))
    for volume_ft3, start, end in volumes:
        near = [cord for cord in cords if _beside(text, cord, start, end)]
        if not near or not sizes:
            continue
        cord = min(near, key=lambda amount: abs(amount.start - start))
        lawful = [size * _count(cord) for size in _sizes_meant(sizes, cord, _sentence(text, cord.start))]
        if any(abs(volume_ft3 / size - 1.0) <= NUMBER_TOLERANCE for size in lawful):
            continue
        words = text[start:end]
        yield WordingProblem(
            word=words,
            rule=T_(
                "{place}: {cords} is {sizes} cubic feet; “{word}” is {volume:.0f}.",
                place=place.name,
                cords=cord.words.strip("/ "),
                sizes=" / ".join(f"{size:.0f}" for size in sorted(set(lawful))),
                word=words,
                volume=volume_ft3,
            ),
            instead=T_("Say the cords that the volume makes, or the volume that the cords make."),
            why="number",
            support="direct",
            source="+".join(
                dict.fromkeys(row["source"] for row in rows_for("legal_cord_volumes", place.lineage))
            ),
            start=start,
            end=end,
        )


def _count(cord: Amount) -> float:
    """How many cords are meant; one cord if no number stands before the singular, none before the plural."""
    if cord.count is not None:
        return cord.count
    return 0.0 if re.search(r"s$|s[ ]", cord.words) else 1.0


def _beside(text: str, cord: Amount, start: int, end: int) -> bool:
    """Whether a volume explains a number of cords: close by, with no price, rate or end of sentence between."""
    between = text[cord.end : start] if cord.end <= start else text[end : cord.start]
    if len(between) > BESIDE_SIGNS or (cord.start < end and start < cord.end):
        return False
    return not re.search(r"[$€£;\n]|\b(?:per|or|ou|par)\b|[.!?]\s", between)


def _sentence(text: str, at: int) -> str:
    """The sentence in which a place in a text lies."""
    ends = [match.end() for match in re.finditer(r"[.!?;\n](?=\s+[A-ZÀ-Ý0-9]|\s*$)", text)]
    start = max((end for end in ends if end <= at), default=0)
    return text[start : min((end for end in ends if end > at), default=len(text))]


def _sizes_meant(sizes: dict[str, float], cord: Amount, text: str) -> list[float]:
    """The sizes of a cord [ft³] that a text can mean, from what it says of form and length."""
    plain = flat(text)
    loose = cord.unit == "loose_cord" or bool(re.search(r"\b(?:loose(?:ly)?|thrown|tossed)\b", plain))
    keys = [key for key in sizes if key.startswith("loose") == loose]
    if "loose_24in" in keys:
        long = bool(re.search(r'\b(?:24|two)[ -]?(?:in\b|inch|"|foot|feet|ft)', plain))
        short = bool(re.search(r'\b1[26][ -]?(?:in\b|inch|")', plain))
        keys = [key for key in keys if (key == "loose_24in") == long] if long != short else keys
    if "ranked_sawed" in sizes:
        split = bool(re.search(r"\bsplit\b", plain))
        sawed = bool(re.search(r"\b(?:sawed|sawn|cut to|stove[- ]length|unsplit|rounds)\b", plain))
        if split and not re.search(r"\b(?:unsplit|not split)\b", plain):
            keys = [key for key in keys if key in ("ranked_sawed_split", "loose")]
        elif sawed:
            keys = [key for key in keys if key.endswith("_sawed")]
    return [sizes[key] for key in keys] or list(sizes.values())


def _english_moisture(said: list[Amount], text: str, kind: Kind) -> Iterator[WordingProblem]:
    cubic = [amount.count for amount in said if amount.unit in ("stacked_m3", "loose_m3") and amount.count]
    small = kind == "label" or (bool(cubic) and max(cubic) < ENGLAND_SMALL_M3)
    if not small:
        return
    wet = [words for percent, words in moisture_percents(text) if percent > ENGLAND_DRY_PCT]
    plain = flat(text)
    green = re.search(
        r"\b(?:unseasoned|green (?:wood|logs|firewood)|freshly (?:cut|felled)|wet (?:wood|logs))\b", plain
    )
    if green:
        wet.append(text[green.start() : green.end()])
    for words in wet:
        start = text.find(words)
        yield WordingProblem(
            word=words,
            rule=T_(
                "England: under 2 m³ wood for burning at home must have 20 % moisture or less (wet basis)."
            ),
            instead=T_("Dry it further, or supply 2 m³ or more with the prescribed notice on drying."),
            why="number",
            support="direct",
            source="UK-2020",
            start=start,
            end=start + len(words),
        )


def _missing(
    place: Place, text: str, kind: Kind, said: list[Amount], *, inferred: bool
) -> list[WordingProblem]:
    problems = []
    for field, source in missing_statements(place, text, kind, said, inferred=inferred):
        label = FIELD_LABELS[field]
        problems.append(
            WordingProblem(
                word=f"missing: {label}",
                rule=T_("{place}: it must also say: {what}.", place=place.name, what=label),
                instead=T_("Add: {what}.", what=label),
                why="missing",
                support="direct",
                source=source,
            )
        )
    return problems


def allowed_in_order(place: Place) -> list[str]:
    """Ids of the units a place allows, as its table has them."""
    return [row["unit"] for row in rows_for("units", place.lineage)]


def _instead(place: Place) -> Text:
    units = allowed_in_order(place)
    if not units:
        return T_("Say stacked cubic metres, or the outside sizes of the stack.")
    if "CA" in place.lineage:
        return T_(
            "Say {units}, or the outside sizes of the stack (8 ft x 4 ft x 16 in is 1/3 cord).",
            units=_listed(units),
        )
    return T_("Say {units}.", units=_listed(units))


def _listed(units: list[str]) -> Text:
    names = [_UNIT_NAMES[unit] for unit in units]
    listed = names[0]
    for name in names[1:]:
        listed = T_("{first}; {then}", first=listed, then=name)
    return listed


def _unit_word(text: str, amount: Amount) -> str:
    """The unit without the number before it."""
    words = text[amount.start : amount.end]
    match = re.search(r"[^\W\d_][^\d/]*$", words)
    bare = match[0] if match else words
    for lead in (
        "a ",
        "an ",
        "per ",
        "one ",
        "two ",
        "three ",
        "half ",
        "full ",
        "each ",
        "une ",
        "un ",
        "la ",
    ):
        if bare.lower().startswith(lead):
            bare = bare[len(lead) :]
    return bare
