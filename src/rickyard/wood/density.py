"""Density, mass and shrinkage of wood at any moisture.

Equations of the Wood Handbook 2021 (FPL-GTR-282), chapter 4, with shrinkage linear below fibre saturation.
"""

from __future__ import annotations

from typing import overload

import numpy as np

from rickyard.wood.moisture import WETTEST_DB
from rickyard.wood.numbers import FloatOrArray, Floats, checked
from rickyard.wood.species import Species

WATER_KG_M3 = 1000.0
"""Density of water that specific gravity is counted on [kg/m³]."""

CELL_WALL_GRAVITY = 1.54
"""Specific gravity of the cell wall; Wood Handbook 2021 Eq. 4-3."""

SHRINKAGE_PER_GRAVITY_PCT = 26.5
"""Volume shrinkage per basic specific gravity where none was measured [%]; Stamm 1964, Wood Handbook Eq. 4-12."""

SHRINKAGE_ESTIMATE_SD_PCT = 2.2
"""Standard deviation of that estimate over 111 measured species of the table [points of %]."""

BULKIEST_M3 = 1e6
"""A limit for nonsense [m³]."""


@overload
def shrinkage_share(total_pct: float, mc_db: float, fibre_saturation_db: float = 0.30) -> float: ...
@overload
def shrinkage_share(total_pct: float, mc_db: Floats, fibre_saturation_db: float = 0.30) -> Floats: ...
def shrinkage_share(
    total_pct: float, mc_db: float | Floats, fibre_saturation_db: float = 0.30
) -> float | Floats:
    """Shrinkage from green, as a fraction of the green size.

    Parameters
    ----------
    total_pct
        Shrinkage from green to oven dry [% of green].
    mc_db
        Moisture [water / oven-dry mass], any shape.
    fibre_saturation_db
        Moisture at which shrinkage begins [water / oven-dry mass].

    Wood Handbook 2021 Eq. 4-9: S = S0 (1 - M/30); the handbook has 30 % for every species.
    Real curves begin a little higher and bend.
    """
    db = checked(mc_db, "mc_db", 0.0, WETTEST_DB)
    bound = (
        min(db, fibre_saturation_db) if isinstance(db, (float, int)) else np.minimum(db, fibre_saturation_db)
    )
    return total_pct / 100.0 * (1.0 - bound / fibre_saturation_db)


def estimated_shrinkage_pct(basic_density_kg_m3: float) -> float:
    """Volume shrinkage green to oven dry [%] where none was measured; Wood Handbook 2021 Eq. 4-12."""
    return SHRINKAGE_PER_GRAVITY_PCT * basic_density_kg_m3 / WATER_KG_M3


def density_at(
    basic_density_kg_m3: float,
    shrinkage_vol_pct: float,
    mc_db: FloatOrArray,
    fibre_saturation_db: float = 0.30,
) -> FloatOrArray:
    """Density of wood with its water [kg/m³], at the volume it has at this moisture [water / oven-dry mass].

    Wood Handbook 2021 Eq. 4-11 and 4-14.
    """
    left = 1.0 - shrinkage_share(shrinkage_vol_pct, mc_db, fibre_saturation_db)
    return basic_density_kg_m3 / left * (1.0 + mc_db)


@overload
def solid_volume_factor(species: Species, mc_db: float) -> float: ...
@overload
def solid_volume_factor(species: Species, mc_db: Floats) -> Floats: ...
def solid_volume_factor(species: Species, mc_db: float | Floats) -> float | Floats:
    """Volume of the wood at this moisture [water / oven-dry mass] / its green volume."""
    return 1.0 - shrinkage_share(species.shrinkage_vol_pct, mc_db, species.fibre_saturation_db)


def density_kg_m3(species: Species, mc_db: FloatOrArray) -> FloatOrArray:
    """Density of the wood with its water [kg/m³], at the volume it has at this moisture [water / oven-dry mass].

    Multiply by 1 ± basic_density_sd_kg_m3 / basic_density_kg_m3 for the spread.
    """
    return density_at(
        species.basic_density_kg_m3, species.shrinkage_vol_pct, mc_db, species.fibre_saturation_db
    )


def dry_mass_kg(species: Species, green_volume_m3: FloatOrArray) -> FloatOrArray:
    """Oven-dry mass [kg] of a volume of wood without bark as it was green [m³]."""
    return species.basic_density_kg_m3 * checked(green_volume_m3, "green_volume_m3", 0.0, BULKIEST_M3)


@overload
def dry_mass_at_kg(species: Species, volume_m3: float, mc_db: float) -> float: ...
@overload
def dry_mass_at_kg(species: Species, volume_m3: Floats, mc_db: float | Floats) -> Floats: ...
@overload
def dry_mass_at_kg(species: Species, volume_m3: float, mc_db: Floats) -> Floats: ...
def dry_mass_at_kg(species: Species, volume_m3: float | Floats, mc_db: float | Floats) -> float | Floats:
    """Oven-dry mass [kg] of a volume of wood without bark measured at this moisture [m³, water / oven-dry mass].

    A stack measured dry has shrunk: the same volume then holds more dry mass than when it was green.
    """
    volume = checked(volume_m3, "volume_m3", 0.0, BULKIEST_M3)
    return species.basic_density_kg_m3 / solid_volume_factor(species, mc_db) * volume


@overload
def mass_kg(species: Species, green_volume_m3: float, mc_db: float) -> float: ...
@overload
def mass_kg(species: Species, green_volume_m3: Floats, mc_db: float | Floats) -> Floats: ...
@overload
def mass_kg(species: Species, green_volume_m3: float, mc_db: Floats) -> Floats: ...
def mass_kg(species: Species, green_volume_m3: float | Floats, mc_db: float | Floats) -> float | Floats:
    """Mass with its water [kg] of wood that was `green_volume_m3` without bark when green [m³]."""
    volume = checked(green_volume_m3, "green_volume_m3", 0.0, BULKIEST_M3)
    return species.basic_density_kg_m3 * volume * (1.0 + checked(mc_db, "mc_db", 0.0, WETTEST_DB))


def most_water_db(basic_density_kg_m3: float) -> float:
    """The most water that wood can hold [water / oven-dry mass]: every hollow full.

    Wood Handbook 2021 Eq. 4-3: (1.54 - Gb)/(1.54 Gb).
    """
    gravity = checked(basic_density_kg_m3, "basic_density_kg_m3", 50.0, 1500.0) / WATER_KG_M3
    return (CELL_WALL_GRAVITY - gravity) / (CELL_WALL_GRAVITY * gravity)


def sinks_above_db(basic_density_kg_m3: float) -> float:
    """Moisture above which green wood sinks in water [water / oven-dry mass]: (1 - Gb)/Gb, not below zero."""
    gravity = checked(basic_density_kg_m3, "basic_density_kg_m3", 50.0, 1500.0) / WATER_KG_M3
    return max(0.0, (1.0 - gravity) / gravity)


def green_to_dry_with_bark(
    wood_gravity: float, bark_gravity: float, bark_volume_ratio: float, mc_wood_db: float, mc_bark_db: float
) -> float:
    """Green mass / oven-dry mass of wood and bark together.

    Parameters
    ----------
    wood_gravity, bark_gravity
        Oven-dry mass per green volume / density of water [unitless].
    bark_volume_ratio
        Volume of bark / volume of wood.
    mc_wood_db, mc_bark_db
        Moisture of each [water / oven-dry mass].

    The form behind the ratio that the USDA Forest Service publishes in its table REF_SPECIES.
    """
    bark = bark_volume_ratio * bark_gravity
    green = wood_gravity * (1.0 + mc_wood_db) + bark * (1.0 + mc_bark_db)
    return green / (wood_gravity + bark)


def green_mass_with_bark_kg(species: Species, wood_volume_m3: float, mc_db: float | None = None) -> float:
    """Mass [kg] of logs in the bark, from their volume inside bark [m³].

    The wood's moisture [water / oven-dry mass] is the species' green moisture unless given; the bark's is its own.
    """
    volume = checked(wood_volume_m3, "wood_volume_m3", 0.0, BULKIEST_M3)
    wood_db = species.green_mc_db if mc_db is None else checked(mc_db, "mc_db", 0.0, WETTEST_DB)
    bark_kg = species.bark_volume_ratio * volume * species.bark_basic_density_kg_m3
    return volume * species.basic_density_kg_m3 * (1.0 + wood_db) + bark_kg * (1.0 + species.bark_green_mc_db)
