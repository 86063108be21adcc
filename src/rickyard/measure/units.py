"""Exact sizes of the units of the trade, in SI, and what the units are called.

A foot is 0.3048 m and a pound 0.45359237 kg by definition (international yard and pound, 1959), so every figure
here is exact; a Btu is the International Table one.
Reading and printing what people type is the work of `rickyard.show`.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

from rickyard.measure.limits import PIECE_LENGTH_M, within

FT_M = 0.3048
"""A foot [m]."""

IN_M = 0.0254
"""An inch [m]."""

FT2_M2 = FT_M**2
"""A square foot [m²]."""

FT3_M3 = 0.028316846592
"""A cubic foot [m³]."""

IN3_M3 = 0.000016387064
"""A cubic inch [m³]."""

DM3_M3 = 0.001
"""A cubic decimetre, or litre [m³]."""

CORD_FT3 = 128.0
"""A cord [ft³]: ranked and well stowed, wood, bark and air."""

CORD_M3 = CORD_FT3 * FT3_M3
"""A cord [stacked m³]."""

CORD_FACE_M2 = 32.0 * FT2_M2
"""The face of a cord's row, 4 ft by 8 ft [m²]."""

LB_KG = 0.45359237
"""A pound [kg]."""

SHORT_TON_KG = 2000.0 * LB_KG
"""A short ton [kg]."""

TONNE_KG = 1000.0
"""A tonne [kg]."""

LB_FT3_KG_M3 = LB_KG / FT3_M3
"""A pound per cubic foot [kg/m³]."""

BTU_J = 1055.05585262
"""A British thermal unit, International Table [J]."""

MILLION_BTU_MJ = BTU_J
"""A million Btu [MJ]: the same number as joules in one."""

KWH_J = 3.6e6
"""A kilowatt hour [J]."""

KWH_MJ = 3.6
"""A kilowatt hour [MJ]."""

Kind = Literal["stacked", "loose", "solid", "package", "mass", "heat"]


@dataclass(frozen=True)
class TradeUnit:
    """A unit wood is spoken of in.

    Attributes
    ----------
    id
        Name in code.
    name_en, name_fr
        As written in English, and in French in Canada.
    symbol
        Short form; empty if there is none.
    kind
        What is counted: stacked (wood, bark and air, in rows), loose, solid, a package, mass or heat.
    size
        In SI: m³, kg or J.
    note
        What to beware of.
    """

    id: str
    name_en: str
    name_fr: str
    symbol: str
    kind: Kind
    size: float
    note: str = ""


TRADE_UNITS: tuple[TradeUnit, ...] = (
    TradeUnit("cord", "cord", "corde", "", "stacked", CORD_M3, "128 ft³ ranked and well stowed"),
    TradeUnit("stacked_m3", "stacked cubic metre", "mètre cube apparent", "m³", "stacked", 1.0),
    TradeUnit(
        "stere", "stere", "stère", "st", "stacked", 1.0, "old name of the stacked cubic metre of 1 m pieces"
    ),
    TradeUnit("ft3", "cubic foot", "pied cube", "ft³", "stacked", FT3_M3),
    TradeUnit("loose_m3", "loose cubic metre", "mètre cube en vrac", "m³", "loose", 1.0),
    TradeUnit("loose_ft3", "loose cubic foot", "pied cube en vrac", "ft³", "loose", FT3_M3),
    TradeUnit("solid_m3", "solid cubic metre", "mètre cube plein", "m³", "solid", 1.0),
    TradeUnit("dm3", "cubic decimetre", "décimètre cube", "dm³", "package", DM3_M3),
    TradeUnit("in3", "cubic inch", "pouce cube", "in³", "package", IN3_M3),
    TradeUnit("kg", "kilogram", "kilogramme", "kg", "mass", 1.0),
    TradeUnit("lb", "pound", "livre", "lb", "mass", LB_KG),
    TradeUnit("tonne", "tonne", "tonne", "t", "mass", TONNE_KG),
    TradeUnit("short_ton", "short ton", "tonne courte", "", "mass", SHORT_TON_KG),
    TradeUnit("mj", "megajoule", "mégajoule", "MJ", "heat", 1e6),
    TradeUnit("kwh", "kilowatt hour", "kilowattheure", "kWh", "heat", KWH_J),
    TradeUnit("million_btu", "million Btu", "million de Btu", "", "heat", 1e6 * BTU_J),
)
"""Which of them may be written on a ticket, and where, is known to `rickyard.rules`."""


def face_m3(piece_length_m: float) -> float:
    """Outside volume [stacked m³] of a row 4 ft high and 8 ft long of pieces so long [m].

    A third of a cord for 16 in, half for 24 in. The names it goes by are not lawful units.
    """
    return CORD_FACE_M2 * within("piece_length", piece_length_m, PIECE_LENGTH_M)


@cache
def published_units() -> tuple[Mapping[str, str], ...]:
    """The published unit table, row by row as text: unit, symbol, value, in, note, source."""
    text = resources.files("rickyard.measure").joinpath("data", "units.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))
