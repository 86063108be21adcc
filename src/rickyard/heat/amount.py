"""Heat of an amount of wood: a cord, a stacked or solid cubic metre, an oven-dry mass.

Everything follows from oven-dry mass, which neither drying nor restacking changes:
solid wood per cord, times basic density over the volume left after shrinkage, times heat per dry kilogram.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from rickyard.errors import InputError
from rickyard.heat.fuel import Basis, checked_basis, checked_moisture, heat_value
from rickyard.measure import (
    CORD_M3,
    FT3_M3,
    KWH_MJ,
    MILLION_BTU_MJ,
    SPLIT_CORD_SOLID_FT3,
    TO_10_90,
    Spread,
)
from rickyard.text import T_
from rickyard.wood import Species, db_from_wet, dry_mass_at_kg

SOLID_M3_PER_CORD = SPLIT_CORD_SOLID_FT3.scaled(FT3_M3)
"""Solid wood without bark in a cord of ranked split firewood [m³], at the moisture it is measured at.

That of `rickyard.measure`: 85 ft³ (66 % of the stack), the middle of the Maine Forest Service's 80 to 90, with 75
and 95 as a judgement.
The two North American heat tables that state both their solid volume and their heat per pound count with 85 too;
New Mexico says about 80, California 70 to 90, and split firewood is 67 % of the stack in Finland, 70 % in Britain.
"""


@dataclass(frozen=True)
class Convention:
    """What a figure per cord stands for.

    Attributes
    ----------
    basis
        net or gross.
    mc_wet
        Moisture [water / total mass].
    solid_m3_per_cord
        Solid wood without bark in 128 ft³ of stack [m³], at that moisture.
    """

    basis: Basis
    mc_wet: float
    solid_m3_per_cord: float


CONVENTION = Convention(basis="net", mc_wet=0.20, solid_m3_per_cord=SOLID_M3_PER_CORD.mid)
"""What figures stand for if nothing else is said."""


@dataclass(frozen=True)
class HeatRow:
    """Heat of one species under one convention; the keys of the `heat` command.

    Attributes
    ----------
    species, scientific, common_en
        Id and names.
    moisture_wet
        Moisture [water / total mass].
    basis
        net or gross.
    solid_m3_per_cord
        Solid wood without bark in a cord [m³], at this moisture.
    oven_dry_kg_per_cord, kg_per_cord
        Mass of that wood without and with its water [kg].
    mj_per_kg
        Heat per kilogram as fired [MJ/kg].
    mj_per_cord, million_btu_per_cord
        Heat per cord [MJ, million Btu].
    kwh_per_stacked_m3
        Heat per cubic metre of stack, ranked and well stowed [kWh].
    kwh_per_solid_m3
        Heat per cubic metre of wood without bark as it stands at this moisture [kWh].
    low, high
        10th and 90th percentile of `mj_per_cord` [MJ]: density, heating value and, if it was not given, the
        solid content of a cord.
    hhv_mj_per_dry_kg, hhv_source
        Gross heat of the oven-dry wood [MJ/kg], and where it comes from.
    density_source
        Where the density comes from.
    """

    species: str
    scientific: str
    common_en: str
    moisture_wet: float
    basis: Basis
    solid_m3_per_cord: float
    oven_dry_kg_per_cord: float
    kg_per_cord: float
    mj_per_kg: float
    mj_per_cord: float
    million_btu_per_cord: float
    kwh_per_stacked_m3: float
    kwh_per_solid_m3: float
    low: float
    high: float
    hhv_mj_per_dry_kg: float
    hhv_source: str
    density_source: str


def heat_row(
    species: Species,
    *,
    mc_wet: float = CONVENTION.mc_wet,
    solid_m3_per_cord: float | None = None,
    basis: str = CONVENTION.basis,
) -> HeatRow:
    """Heat of a cord, a stacked and a solid cubic metre, and a kilogram of a species, genus, group or unnamed wood.

    Parameters
    ----------
    mc_wet
        Moisture [water / total mass], 0 to 0.8.
    solid_m3_per_cord
        Solid wood without bark in a cord [m³], at this moisture; `SOLID_M3_PER_CORD` and its range if not said.
    basis
        net or gross.

    Raises InputError for a moisture, solid content or basis that makes no sense.
    """
    chosen = checked_basis(basis)
    wet = checked_moisture(mc_wet)
    solid_m3 = SOLID_M3_PER_CORD.mid if solid_m3_per_cord is None else checked_solid(solid_m3_per_cord)
    value = heat_value(species)
    dry_kg = dry_mass_at_kg(species, solid_m3, db_from_wet(wet))
    kg = dry_kg / (1.0 - wet)
    mj_per_kg = value.mj_per_kg(wet, chosen)
    heat_mj = kg * mj_per_kg
    sd_share = math.hypot(
        species.basic_density_sd_kg_m3 / species.basic_density_kg_m3,
        value.sd_share(wet, chosen),
        _sd_share(SOLID_M3_PER_CORD) if solid_m3_per_cord is None else 0.0,
    )
    spread = _spread(heat_mj, sd_share)
    return HeatRow(
        species=species.id,
        scientific=species.scientific,
        common_en=species.common_en,
        moisture_wet=wet,
        basis=chosen,
        solid_m3_per_cord=solid_m3,
        oven_dry_kg_per_cord=dry_kg,
        kg_per_cord=kg,
        mj_per_kg=mj_per_kg,
        mj_per_cord=heat_mj,
        million_btu_per_cord=heat_mj / MILLION_BTU_MJ,
        kwh_per_stacked_m3=heat_mj / CORD_M3 / KWH_MJ,
        kwh_per_solid_m3=heat_mj / solid_m3 / KWH_MJ,
        low=spread.low,
        high=spread.high,
        hhv_mj_per_dry_kg=value.hhv_mj_kg,
        hhv_source=value.source,
        density_source=species.sources.get("basic_density_kg_m3", ""),
    )


def heat_of_dry_mass(
    species: Species, dry_kg: float, mc_wet: float = CONVENTION.mc_wet, basis: str = CONVENTION.basis
) -> Spread:
    """Heat [MJ] of wood of known oven-dry mass [kg] burnt at a moisture [water / total mass].

    The spread is that of the heating value alone: how well the mass is known is the caller's to add.
    Raises InputError for a mass, moisture or basis that makes no sense.
    """
    chosen = checked_basis(basis)
    wet = checked_moisture(mc_wet)
    if not (0.0 <= dry_kg < math.inf):
        raise InputError(
            "dry_kg",
            wanted=T_("an oven-dry mass in kilograms, zero or more"),
            got=f"{dry_kg:g}",
            next_move=T_("Check the measurement it was made from."),
        )
    value = heat_value(species)
    return _spread(dry_kg / (1.0 - wet) * value.mj_per_kg(wet, chosen), value.sd_share(wet, chosen))


def solid_m3_for(
    species: Species,
    million_btu_per_cord: float,
    *,
    mc_wet: float = CONVENTION.mc_wet,
    basis: str = CONVENTION.basis,
) -> float:
    """The solid wood without bark in a cord [m³] that a figure per cord [million Btu] stands for.

    It answers which convention reproduces a published or a trade figure; above 3.62 m³, a whole cord, none does.
    """
    per_m3 = heat_row(species, mc_wet=mc_wet, basis=basis).kwh_per_solid_m3 * KWH_MJ
    return million_btu_per_cord * MILLION_BTU_MJ / per_m3


def checked_solid(solid_m3_per_cord: float) -> float:
    """The solid content if a cord can hold it, else InputError."""
    if 0.5 <= solid_m3_per_cord <= CORD_M3:
        return solid_m3_per_cord
    raise InputError(
        "solid_m3_per_cord",
        wanted=T_("from 0.5 to {most:.2f} m³, the outside volume of a cord", most=CORD_M3),
        got=f"{solid_m3_per_cord:g}",
        next_move=T_("A cord of ranked firewood holds about {usual:.2f} m³.", usual=SOLID_M3_PER_CORD.mid),
    )


def _sd_share(spread: Spread) -> float:
    return math.log(spread.high / spread.low) / (2.0 * TO_10_90)


def _spread(mid: float, sd_share: float) -> Spread:
    """10th and 90th percentile of a product of independent factors, taken as log-normal: never below zero."""
    factor = math.exp(TO_10_90 * sd_share)
    return Spread(low=mid / factor, mid=mid, high=mid * factor)
