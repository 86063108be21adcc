"""Reads what is typed in trade units, at the edge, and gives SI floats.

Each reader takes the text, the `field` as the user knows it, and bounds in SI (both ends allowed).
A bare number is in the unit the caller says. Comma or point, accents or none, English or French words.
Each raises InputError naming the field, what was wanted, what came and the next move; bounds are told in the
unit that was typed.
"""

from __future__ import annotations

import re
from typing import Literal, NamedTuple

from babel.numbers import get_currency_precision, get_currency_symbol

from rickyard.show.days import parse_date
from rickyard.show.parse import inside, refuse, split_number, tidy, to_float, unit_named
from rickyard.show.symbols import LENGTHS, MASSES, NO_SIZE, PLAIN_M3, VOLUMES, Unit, fold
from rickyard.text import T_, Text

__all__ = [
    "Volume",
    "parse_count",
    "parse_date",
    "parse_length",
    "parse_lengths",
    "parse_mass",
    "parse_money",
    "parse_number",
    "parse_percent",
    "parse_temperature",
    "parse_volume",
]


class Volume(NamedTuple):
    """An outside (or solid) volume as typed: `m3`, the unit's id, the text, and the value in that unit."""

    m3: float
    unit: str
    typed: str
    value: float


_LENGTH_MOVE = T_("Type a number and a unit, for example 16 in, 40 cm, 8 ft or 1.2 m.")
_VOLUME_MOVE = T_("Type a number and a unit, for example 1 1/2 cords, 2 stacked m³, 3 loose m³ or 64 ft³.")
_MASS_MOVE = T_("Type a number and a unit, for example 850 kg, 1900 lb or 1.2 t.")


def parse_length(
    text: str,
    field: str = "length",
    *,
    unit: str = "m",
    low: float | None = None,
    high: float | None = None,
    locale: str = "en_CA",
) -> float:
    """A length [m]: `16in`, `40 cm`, `8' 4"`, `8 pi 4 po`, `1,2 m`; a bare number is in `unit`.

    `low` and `high` are in metres.
    """
    folded = fold(text)
    default = next(known for known in LENGTHS if known.id == unit)
    wanted = T_("a length")
    first = split_number(folded, locale)
    if first is None:
        raise refuse(field, wanted, text, _LENGTH_MOVE)
    value, rest = first
    chosen = default
    more = 0.0
    if rest:
        word = re.match(r"[^\d\s.,+-]+\.?", rest)
        if word is None:
            raise refuse(field, wanted, text, _LENGTH_MOVE)
        named = unit_named(word.group(), LENGTHS)
        rest = rest[word.end() :].strip(" ,")
        if named is None:
            raise refuse(field, wanted, text, _LENGTH_MOVE, "unknown_unit")
        chosen = named
        if rest:
            if value < 0:
                raise refuse(field, wanted, text, _LENGTH_MOVE)
            more = _inches_after_feet(field, text, rest, chosen, locale)
    return inside(field, value * chosen.size + more, text, chosen, locale, low, high)


def _inches_after_feet(field: str, text: str, rest: str, feet: Unit, locale: str) -> float:
    second = split_number(rest, locale)
    inch = next(unit for unit in LENGTHS if unit.id == "in")
    if feet.id != "ft" or second is None or second[0] < 0:
        raise refuse(field, T_("a length"), text, _LENGTH_MOVE)
    value, name = second
    if name and unit_named(name, [inch]) is None:
        raise refuse(field, T_("a length"), text, _LENGTH_MOVE, "unknown_unit")
    if value >= 12:
        raise refuse(field, T_("feet, and inches below 12"), text, _LENGTH_MOVE)
    return value * inch.size


def parse_lengths(
    text: str,
    field: str = "length",
    *,
    unit: str = "m",
    low: float | None = None,
    high: float | None = None,
    locale: str = "en_CA",
    comma: Literal["decimal", "separator"] = "decimal",
) -> list[float]:
    """Several lengths [m], between semicolons; `comma="separator"` lets commas part them too (commands)."""
    parts = re.split(r"[;,]" if comma == "separator" else r";", text)
    return [parse_length(part, field, unit=unit, low=low, high=high, locale=locale) for part in parts]


def parse_volume(
    text: str,
    field: str = "quantity",
    *,
    unit: str | None = None,
    plain_m3: Literal["stacked_m3", "loose_m3", "solid_m3"] = "stacked_m3",
    allowed: tuple[str, ...] = ("cord", "stacked_m3", "loose_m3", "ft3", "loose_ft3"),
    low: float | None = None,
    high: float | None = None,
    locale: str = "en_CA",
) -> Volume:
    """A volume of wood: `3 cords`, `1 1/2 cords`, `half a cord`, `2 stacked m3`, `64 ft³`, `1/3 de corde`.

    A bare number is in `unit` (refused if None); plain `m³` means `plain_m3`.
    Only `allowed` unit ids are taken.
    `low` and `high` are in cubic metres of that outside volume.
    """
    folded = fold(text)
    wanted = T_("a volume of wood")
    first = split_number(folded, locale)
    if first is None:
        raise refuse(field, wanted, text, _no_size_move(folded) or _VOLUME_MOVE)
    value, name = first
    name = re.sub(r"^(?:d'|de |of )(?:a |une )?", "", name).rstrip(".")
    ids = plain_m3 if name in PLAIN_M3 else unit if not name else None
    chosen = next((known for known in VOLUMES if known.id == ids), None) if ids else unit_named(name, VOLUMES)
    if chosen is None:
        raise refuse(field, wanted, text, _no_size_move(name) or _VOLUME_MOVE, "unknown_unit")
    if chosen.id not in allowed:
        names = ", ".join(known.symbol(locale) for known in VOLUMES if known.id in allowed)
        raise refuse(field, T_("a volume in one of: {units}", units=names), text, _VOLUME_MOVE, "wrong_unit")
    m3 = inside(field, value * chosen.size, text, chosen, locale, low, high)
    return Volume(m3, chosen.id, text.strip(), value)


def _no_size_move(name: str) -> Text | None:
    if name not in NO_SIZE and not any(name.endswith(" " + word) for word in NO_SIZE):
        return None
    return T_(
        "That measure has no fixed size: type cords of 128 ft³, cubic metres, or the stack's dimensions."
    )


def parse_mass(
    text: str,
    field: str = "mass",
    *,
    unit: str = "kg",
    low: float | None = None,
    high: float | None = None,
    locale: str = "en_CA",
) -> float:
    """A mass [kg]. `ton` alone is the short ton of 2000 lb; `tonne` and `t` are 1000 kg."""
    first = split_number(fold(text), locale)
    if first is None:
        raise refuse(field, T_("a mass"), text, _MASS_MOVE)
    value, name = first
    chosen = unit_named(name, MASSES) if name else next(known for known in MASSES if known.id == unit)
    if chosen is None:
        raise refuse(field, T_("a mass"), text, _MASS_MOVE, "unknown_unit")
    return inside(field, value * chosen.size, text, chosen, locale, low, high)


_BASES = {
    "wet": (
        "wet",
        "wet basis",
        "wb",
        "of total mass",
        "total",
        "base humide",
        "de la masse totale",
        "sur brut",
        "brut",
        "humide",
    ),
    "dry": (
        "dry",
        "dry basis",
        "db",
        "of dry mass",
        "of oven-dry mass",
        "oven-dry",
        "base seche",
        "de la masse seche",
        "sur sec",
        "sec",
        "anhydre",
    ),
}


def parse_percent(
    text: str,
    field: str = "percent",
    *,
    basis: Literal["wet", "dry", "share"] = "share",
    bare: Literal["percent", "fraction"] = "percent",
    low: float = 0.0,
    high: float = 1.0,
    locale: str = "en_CA",
) -> float:
    """A percent as a fraction: `20`, `20 %`, `20 % wet`, `25 % dry`, `20 % sur brut`.

    A moisture typed with the other basis is turned into `basis`. A bare number is a percent
    unless `bare` says it is a fraction. `low` and `high` are fractions in `basis`.
    """
    move = T_("Type a percent, for example 20 %.")
    folded = fold(text)
    first = split_number(folded, locale)
    if first is None:
        raise refuse(field, T_("a percent"), text, move)
    value, rest = first
    if rest.startswith(("%", "percent", "per cent", "pour cent", "pct")):
        value /= 100
        rest = re.sub(r"^(?:%|percent|per cent|pour cent|pct)\s*", "", rest)
    elif bare == "percent":
        value /= 100
    said = next((name for name, words in _BASES.items() if rest.strip("() ") in words), None)
    if rest and (said is None or basis == "share"):
        raise refuse(field, T_("a percent"), text, move)
    if said and said != basis:
        if not 0 <= value < (1 if said == "wet" else 100):
            raise refuse(field, T_("a moisture"), text, T_("Check the figure and its basis."), "out_of_range")
        value = value / (1 - value) if said == "wet" else value / (1 + value)
    if basis == "wet" and value >= 1:
        raise refuse(field, T_("a moisture below 100 % of total mass"), text, move, "out_of_range")
    return inside(field, value, text, Unit("%", 0.01, "%", "%", ()), locale, low, high)


def parse_temperature(
    text: str,
    field: str = "temperature",
    *,
    unit: Literal["C", "F"] = "C",
    low: float | None = None,
    high: float | None = None,
    locale: str = "en_CA",
) -> float:
    """A temperature [°C]: `20`, `-5 °C`, `68F`. `low` and `high` are in °C."""
    move = T_("Type a temperature, for example 20 °C or 68 °F.")
    first = split_number(fold(text).replace("° ", "°"), locale)
    if first is None:
        raise refuse(field, T_("a temperature"), text, move)
    value, name = first
    name = name.replace("°", "").replace("deg", "").strip()
    scale = {"": unit, "c": "C", "celsius": "C", "f": "F", "fahrenheit": "F"}.get(name)
    if scale is None:
        raise refuse(field, T_("a temperature"), text, move, "unknown_unit")
    temp_c = value if scale == "C" else (value - 32) / 1.8
    if (low is not None and temp_c < low) or (high is not None and temp_c > high):
        ends = [None if end is None else tidy(end if scale == "C" else end * 1.8 + 32) for end in (low, high)]
        if ends[0] is None:
            wanted = T_("at most {high} {unit}", high=ends[1], unit=f"°{scale}")
        elif ends[1] is None:
            wanted = T_("at least {low} {unit}", low=ends[0], unit=f"°{scale}")
        else:
            wanted = T_("{low} to {high} {unit}", low=ends[0], high=ends[1], unit=f"°{scale}")
        raise refuse(field, wanted, text, T_("Check the figure and its unit."), "out_of_range")
    return temp_c


def parse_number(
    text: str,
    field: str = "number",
    *,
    low: float | None = None,
    high: float | None = None,
    locale: str = "en_CA",
) -> float:
    """A bare number."""
    value = to_float(fold(text), locale)
    if value is None:
        raise refuse(field, T_("a number"), text, T_("Type a number, for example 2.5."))
    return inside(field, value, text, Unit("", 1.0, "", "", ()), locale, low, high)


def parse_count(
    text: str, field: str = "count", *, low: int = 0, high: int | None = None, locale: str = "en_CA"
) -> int:
    """A whole number."""
    value = to_float(fold(text), locale)
    if value is None or value != round(value):
        raise refuse(field, T_("a whole number"), text, T_("Type a whole number, for example 12."))
    return int(inside(field, value, text, Unit("", 1.0, "", "", ()), locale, low, high))


def parse_money(
    text: str,
    field: str = "amount",
    *,
    currency: str = "CAD",
    low_minor: int = 0,
    high_minor: int | None = None,
    locale: str = "en_CA",
) -> int:
    """An amount in minor units of `currency`: `$1,234.50`, `1 234,50 $`, `240`.

    Fractions of a cent are refused.
    """
    digits = int(get_currency_precision(currency))
    move = T_("Type an amount, for example 240 or 239.50, in {currency}.", currency=currency)
    signs = {currency.lower(), fold(get_currency_symbol(currency, locale="en_CA"))}
    signs |= {fold(get_currency_symbol(currency, locale=name)) for name in ("en_US", "fr_CA", "fr_FR")}
    if currency in ("CAD", "USD"):
        signs.add("$")
    bare = fold(text)
    for sign in sorted(signs, key=len, reverse=True):
        if bare.startswith(sign):
            bare = bare[len(sign) :].strip()
            break
        if bare.endswith(sign):
            bare = bare[: -len(sign)].strip()
            break
    value = None if "/" in bare else to_float(bare, locale)
    if value is None:
        raise refuse(field, T_("an amount of money"), text, move)
    minor = round(value * 10.0**digits)
    if abs(value * 10**digits - minor) > 1e-6 * max(1.0, abs(minor) * 1e-6):
        raise refuse(field, T_("an amount with at most {digits} decimals", digits=digits), text, move)
    unit = Unit(currency, 10.0**digits, currency, currency, ())
    inside(field, float(minor), text, unit, locale, low_minor, high_minor)
    return minor
