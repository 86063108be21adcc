"""Trade units: exact sizes, symbols by language, and every way a person may type them.

Symbols follow CLDR as Canadian practice has it: no point, no plural (ft, in, ft³; in French pi, po, pi³).
A cord is 128 ft³ of stack; *corde* is the same by Canadian law. A stère is a stacked cubic metre.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from rickyard.measure.units import CORD_M3, FT3_M3, FT_M, IN_M, LB_KG, SHORT_TON_KG


@dataclass(frozen=True)
class Unit:
    """A unit a person may type: its id, size in SI, symbols, and spellings (folded, see `fold`)."""

    id: str
    size: float
    symbol_en: str
    symbol_fr: str
    spellings: tuple[str, ...]

    def symbol(self, locale: str) -> str:
        return self.symbol_fr if locale.startswith("fr") else self.symbol_en


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split("|"))


LENGTHS = (
    Unit("m", 1.0, "m", "m", _names("m|metre|metres|meter|meters")),
    Unit("cm", 0.01, "cm", "cm", _names("cm|centimetre|centimetres|centimeter|centimeters")),
    Unit("mm", 0.001, "mm", "mm", _names("mm|millimetre|millimetres|millimeter|millimeters")),
    Unit("km", 1000.0, "km", "km", _names("km|kilometre|kilometres|kilometer|kilometers")),
    Unit("ft", FT_M, "ft", "pi", _names("ft|foot|feet|'|pi|pied|pieds")),
    Unit("in", IN_M, "in", "po", _names('in|inch|inches|"|po|pouce|pouces')),
)

VOLUMES = (
    Unit(
        "cord",
        CORD_M3,
        "cord",
        "corde",
        _names("cord|cords|full cord|full cords|corde|cordes|corde pleine|cordes pleines"),
    ),
    Unit(
        "stacked_m3",
        1.0,
        "stacked m³",
        "m³ apparents",
        _names(
            "stacked m3|m3 stacked|ranked m3|m3 ranked|stm3|stacked cubic metre|stacked cubic metres"
            "|stacked cubic meter|stacked cubic meters|m3 apparent|m3 apparents|m3 empile|m3 empiles"
            "|metre cube apparent|metres cubes apparents|metre cube empile|metres cubes empiles|stere|steres"
        ),
    ),
    Unit(
        "loose_m3",
        1.0,
        "loose m³",
        "m³ en vrac",
        _names(
            "loose m3|m3 loose|lm3|loose cubic metre|loose cubic metres|loose cubic meter|loose cubic meters"
            "|m3 en vrac|m3 vrac|metre cube en vrac|metres cubes en vrac"
        ),
    ),
    Unit(
        "solid_m3",
        1.0,
        "solid m³",
        "m³ solides",
        _names(
            "solid m3|m3 solid|solid cubic metre|solid cubic metres|solid cubic meter|solid cubic meters"
            "|m3 solide|m3 solides|m3 plein|m3 pleins|metre cube solide|metres cubes solides"
        ),
    ),
    Unit(
        "loose_ft3",
        FT3_M3,
        "loose ft³",
        "pi³ en vrac",
        _names("loose ft3|ft3 loose|loose cubic feet|pi3 en vrac|pieds cubes en vrac"),
    ),
    Unit(
        "ft3",
        FT3_M3,
        "ft³",
        "pi³",
        _names(
            "ft3|cu ft|cuft|cubic foot|cubic feet|stacked ft3|stacked cubic feet|pi3|pied cube|pieds cubes"
            "|pi3 apparents"
        ),
    ),
)
# "m3" alone means what the form asks for.
PLAIN_M3 = _names("m3|cubic metre|cubic metres|cubic meter|cubic meters|metre cube|metres cubes")

MASSES = (
    Unit("kg", 1.0, "kg", "kg", _names("kg|kgs|kilo|kilos|kilogram|kilograms|kilogramme|kilogrammes")),
    Unit("g", 0.001, "g", "g", _names("g|gram|grams|gramme|grammes")),
    Unit("lb", LB_KG, "lb", "lb", _names("lb|lbs|pound|pounds|livre|livres")),
    Unit(
        "t",
        1000.0,
        "t",
        "t",
        _names("t|tonne|tonnes|metric ton|metric tons|tonne metrique|tonnes metriques"),
    ),
    Unit(
        "short_ton",
        SHORT_TON_KG,
        "short ton",
        "tonne courte",
        _names("short ton|short tons|ton|tons|tonne courte|tonnes courtes"),
    ),
)

# Measures without a size in law; a person who types one is told what to type instead.
NO_SIZE = frozenset(
    _names(
        "face cord|face cords|rick|ricks|stove cord|stove cords|furnace cord|short cord|short cords|rack"
        "|racks|truckload|truckloads|truck load|truck loads|pickup|pickup load|pallet|pallets|pile|piles"
        "|petite corde|petites cordes|corde de poele|cordes de poele|corde de fournaise|corde d'appartement"
        "|corde courte|corde de facade|cordon|cordons|voyage|voyages|palette|palettes"
    )
)

_VULGAR = re.compile("([¼½¾⅐-⅞])")


_SIGNS: dict[int, str] = {
    ord(sign): plain
    for plain, signs in {"/": "⁄", "-": "−–", "'": "′’‘", '"': "″”“"}.items()
    for sign in signs
}


def fold(text: str) -> str:
    """Lower case without accents, doubled blanks or typographic signs; ³ becomes 3, ½ becomes 1/2."""
    decomposed = unicodedata.normalize("NFKD", _VULGAR.sub(r" \1", text))
    plain = "".join(sign for sign in decomposed if not unicodedata.combining(sign)).translate(_SIGNS)
    return " ".join(plain.lower().replace("''", '"').split())
