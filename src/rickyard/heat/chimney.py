"""What a chimney takes: a heat balance of wood burnt in a closed appliance.

Fuel's gross heat, less the water and the hydrogen leaving as vapour, the dry gas leaving hot, and the rest.
The layout is that of Ince 1979 (FPL-GTR-29), known from memory; the equations here are the reference notes' own.
"""

from __future__ import annotations

from dataclasses import dataclass

from rickyard.errors import InputError
from rickyard.heat.fuel import checked_moisture
from rickyard.text import T_

CARBON = 0.50
OXYGEN = 0.435
ASH = 0.005
"""Shares of the oven-dry mass; usual values, from memory."""

BOILING_C = 100.0
WATER_MJ_KG_K = 4.1868e-3
STEAM_MJ_KG_K = 0.46 * WATER_MJ_KG_K
GAS_MJ_KG_K = 0.24 * WATER_MJ_KG_K
"""Specific heats [MJ/(kg K)]: 1 Btu/(lb °F) is 4.1868 kJ/(kg K)."""
VAPORISATION_100_MJ_KG = 970.3 * 2.326e-3
"""Heat to evaporate water at 100 °C: 970.3 Btu/lb, of 2.326 kJ/kg each [MJ/kg]."""


@dataclass(frozen=True)
class FlueBalance:
    """Heat per kilogram of wood as fired [MJ/kg], and the efficiency on gross heat [fraction]."""

    gross: float
    fuel_water: float
    hydrogen_water: float
    dry_gas: float
    other: float
    recoverable: float
    efficiency: float


def air_per_dry_kg(hydrogen_pct: float = 6.0) -> float:
    """Dry air that burns a kilogram of oven-dry wood just fully [kg/kg]: 11.5 C + 34.3 (H - O/8).

    The wood's hydrogen is in % of its oven-dry mass.
    """
    return 11.5 * CARBON + 34.3 * (hydrogen_pct / 100.0 - OXYGEN / 8.0)


def flue_balance(
    hhv_mj_kg: float,
    mc_wet: float,
    *,
    hydrogen_pct: float = 6.0,
    room_c: float = 21.0,
    flue_c: float = 204.0,
    excess_air: float = 1.0,
    other_share: float = 0.04,
) -> FlueBalance:
    """Where the gross heat of a kilogram of wood as fired goes.

    Parameters
    ----------
    hhv_mj_kg
        Gross heat of oven-dry wood [MJ/kg].
    mc_wet
        Moisture [water / total mass].
    hydrogen_pct
        Hydrogen of the oven-dry wood [%]; 6.0 for hardwood, 6.1 for conifers (from memory).
    room_c, flue_c
        Air to the fire and gas in the flue [°C]; the flue must be above 100.
    excess_air
        Air beyond what burns the wood, as a share of it [fraction]; 1.0 is twice the air needed.
    other_share
        Radiation to the outside, unburnt gas and soot, as a share of gross heat [fraction].

    Raises InputError if a figure makes no sense.
    """
    wet = checked_moisture(mc_wet)
    if not (-50.0 <= room_c < BOILING_C):
        _refuse("room_c", room_c, -50.0, BOILING_C)
    if not (BOILING_C <= flue_c <= 900.0):
        _refuse("flue_c", flue_c, BOILING_C, 900.0)
    if not (0.0 <= excess_air <= 20.0):
        _refuse("excess_air", excess_air, 0.0, 20.0)
    if not (0.0 <= other_share < 1.0):
        _refuse("other_share", other_share, 0.0, 1.0)
    if not (0.0 <= hydrogen_pct <= 10.0):
        _refuse("hydrogen_pct", hydrogen_pct, 0.0, 10.0)
    dry = 1.0 - wet
    gross = hhv_mj_kg * dry
    per_kg_water = (
        WATER_MJ_KG_K * (BOILING_C - room_c) + VAPORISATION_100_MJ_KG + STEAM_MJ_KG_K * (flue_c - BOILING_C)
    )
    fuel_water = wet * per_kg_water
    burnt_water = 9.0 * hydrogen_pct / 100.0
    hydrogen_water = burnt_water * dry * per_kg_water
    gas_kg = air_per_dry_kg(hydrogen_pct) * (1.0 + excess_air) + 1.0 - burnt_water - ASH
    dry_gas = dry * gas_kg * GAS_MJ_KG_K * (flue_c - room_c)
    other = other_share * gross
    recoverable = gross - fuel_water - hydrogen_water - dry_gas - other
    return FlueBalance(
        gross=gross,
        fuel_water=fuel_water,
        hydrogen_water=hydrogen_water,
        dry_gas=dry_gas,
        other=other,
        recoverable=recoverable,
        efficiency=recoverable / gross,
    )


def _refuse(field: str, value: float, low: float, high: float) -> None:
    raise InputError(
        field,
        wanted=T_("a number from {low:g} to {high:g}", low=low, high=high),
        got=f"{value:g}",
        next_move=T_("Check the number and its unit."),
    )
