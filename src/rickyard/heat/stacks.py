"""What stands in a stack: its outside, its solid wood, and with the wood's name its mass and its heat."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rickyard.heat.amount import heat_of_dry_mass
from rickyard.measure import (
    TO_10_90,
    Spread,
    StackMeasure,
    product,
    row_measure,
    solid_share,
    stack_measure,
    stowing,
)
from rickyard.text import Text
from rickyard.wood import Species, db_from_wet, dry_mass_at_kg


@dataclass(frozen=True)
class MassAndHeat:
    """Of the wood in a stack; each from the 10th to the 90th percentile.

    Attributes
    ----------
    mc_wet
        Moisture it is reckoned at [water / total mass].
    oven_dry_kg, kg
        Mass without and with its water [kg].
    net_mj
        Net heat [MJ].
    """

    mc_wet: float
    oven_dry_kg: Spread
    kg: Spread
    net_mj: Spread


@dataclass(frozen=True)
class StackContent:
    """A stack or heap as it stands.

    Attributes
    ----------
    outside
        Its outside volume; `left_out_m3` of criss-cross ends are not in it, `notes` say what was done.
    solid_m3
        Solid wood with bark as it is in such piles [m³]: the tape's error and the stowing's together.
    of_wood
        Mass and heat; None where the wood was not said.
    """

    outside: StackMeasure
    left_out_m3: float
    notes: tuple[Text, ...]
    solid_m3: Spread
    of_wood: MassAndHeat | None


def stack_content(
    length_m: float,
    heights_m: Sequence[float],
    piece_length_m: float,
    *,
    piled: str = "ranked",
    rows: int = 1,
    crisscross_m: Sequence[float] = (),
    lean_deg: float = 0.0,
    slope_deg: float = 0.0,
    form: str = "split",
    thickness_m: float | None = None,
    straightness: str = "usual",
    peeled: bool = False,
    species: Species | None = None,
    mc_wet: float = 0.20,
) -> StackContent:
    """Outside, solid wood, mass and heat of a stack.

    Parameters
    ----------
    length_m, heights_m, piece_length_m, piled, rows
        As of `measure.stack_measure` [m]; `crisscross_m`, `lean_deg` and `slope_deg` as of `measure.row_measure`,
        for ranked wood only.
    form, thickness_m, straightness, peeled
        What the pieces are like, as of `measure.stowing`; the usual content of such piles where nothing is said.
    species, mc_wet
        The wood and its moisture [wet basis, fraction]. The stack is measured as it stands, so its solid wood has
        shrunk to that moisture.

    Raises
    ------
    InputError
        A size, share or word out of range.
    """
    outside = stack_measure(length_m, tuple(heights_m), piece_length_m, piled=piled, rows=rows)
    notes: tuple[Text, ...] = ()
    left_out_m3 = 0.0
    if piled == "ranked" and (crisscross_m or lean_deg or slope_deg):
        row = row_measure(
            length_m,
            heights_m,
            piece_length_m,
            crisscross_m=crisscross_m,
            lean_deg=lean_deg,
            slope_deg=slope_deg,
            rows=rows,
        )
        outside, notes, left_out_m3 = row.outside, row.notes, row.left_out_m3
    share = solid_share(piled, form, piece_length_m)
    if thickness_m is not None or straightness != "usual" or peeled:
        share = stowing(
            piled,
            form,
            piece_length_m,
            thickness_m=thickness_m,
            straightness=straightness,
            bark_left=0.0 if peeled else 1.0,
        ).share
    solid = product(outside.spread_m3, share)
    of_wood = None if species is None else _of_wood(species, solid, mc_wet)
    return StackContent(outside, left_out_m3, notes, solid, of_wood)


def _of_wood(species: Species, solid_m3: Spread, mc_wet: float) -> MassAndHeat:
    mc_db = db_from_wet(mc_wet)
    dry_kg = dry_mass_at_kg(species, solid_m3.mid, mc_db)
    density = math.exp(TO_10_90 * species.basic_density_sd_kg_m3 / species.basic_density_kg_m3)
    dry = product(solid_m3, Spread(1.0 / density, 1.0, density)).scaled(dry_kg / solid_m3.mid)
    warmth = heat_of_dry_mass(species, dry_kg, mc_wet=mc_wet, basis="net")
    per_kg = Spread(warmth.low / dry_kg, warmth.mid / dry_kg, warmth.high / dry_kg)
    return MassAndHeat(mc_wet, dry, dry.scaled(1.0 + mc_db), product(dry, per_kg))
