"""What acts on the pieces of a stack besides diffusion in clear wood: bark, wet wood, stack air, rain and snow.

Each of these can be switched off (`Physics`), so that its worth can be measured on the drying cases; what
earned its place is on by default, and docs/accuracy.md has the table.
All of it enters through the constants of the members and through the hours of the air: the drying models
know nothing of it.

Stack air. Air that creeps through a stack takes up the stack's water and is cooled by it. Balanced by the
hour, linear in the flux, this is one more resistance in series with the film, for water and for heat alike
(the Lewis analogy holds for both): a smaller exposure phi, and nothing else. What a smaller phi cannot do is
keep the wood from reaching the open air's equilibrium. That is done by `damp`, the share of the open air's
saturation deficit that is missing between the pieces: ground moisture, dew of clear nights, rain dripping in.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from rickyard.season.compiled import compiled
from rickyard.season.models import GAS_J_MOL_K, AirHours, PieceShape, siau_m2_s
from rickyard.season.zones import sapwood_share, zones_of

if TYPE_CHECKING:
    from rickyard.wood import Species

Array = NDArray[np.floating]

LAYERS = ("top", "middle", "bottom")
#: What comes from above (sun, rain) falls mostly on the top; shares of the mean, assumed.
FROM_ABOVE = {"top": 2.0, "middle": 0.5, "bottom": 0.5}
#: No stack's air is damper than this.
DAMP_MOST = 0.6


@dataclass(frozen=True)
class Physics:
    """Switches. Defaults: what earned its place on the cases, source by source (docs/accuracy.md)."""

    #: Air between the pieces is moister than outside; deep stacks and soil under the stack count.
    stack_air: bool = True
    #: Rain stays on the wood until it has dried off, snow lies until it melts, a top cover lets some in.
    wetting: bool = True
    #: Bark of some species lets almost nothing through.
    bark_groups: bool = True
    #: Aspen, poplars, elm and firs are slower than their density says.
    wet_wood: bool = True
    #: Free water hardly moves in heartwood whose vessels are closed.
    tyloses: bool = True
    #: The way out gets shorter as the wood shrinks.
    shrinkage: bool = False
    #: Frozen wood lets water move more slowly.
    frost: bool = True
    #: Sapwood and heartwood part in one piece: in their water at the start, and in how freely it moves.
    heartwood: bool = False


@dataclass(frozen=True)
class WoodClass:
    """How a species dries, as far as the drying cases tell: which constants are its own."""

    softwood: bool
    oak: bool
    #: How far the slowness of wet wood applies, 0 to 1.
    wet_wood: float
    closed_bark: bool
    tyloses: bool
    #: A group with members of more than one class: spreads are widened.
    mixed: bool


@cache
def _classes() -> dict[str, dict[str, float]]:
    """Strength by class and by species id or genus."""
    text = files("rickyard.season").joinpath("data/wood_classes.csv").read_text(encoding="utf-8")
    found: dict[str, dict[str, float]] = {}
    for row in csv.DictReader(text.splitlines()):
        found.setdefault(row["class"], {})[row["name"]] = float(row["strength"])
    return found


def wood_class(species: Species) -> WoodClass:
    """The drying class of a species or of a wider name.

    A wider name belongs to a class when all its members do.
    """
    members = (
        [] if species.rank == "unnamed" else [m or species.id for m in (species.members or (species.id,))]
    )
    strength, mixed = {}, species.group == "mixed"
    for name, table in _classes().items():
        each = [table.get(member, table.get(member.split("_")[0], 0.0)) for member in members]
        strength[name] = min(each, default=0.0)
        mixed = mixed or (name in ("oak", "wet_wood") and min(each, default=0.0) != max(each, default=0.0))
    return WoodClass(
        softwood=species.group == "softwood",
        oak=strength["oak"] > 0.0,
        wet_wood=strength["wet_wood"],
        closed_bark=strength["closed_bark"] > 0.0,
        tyloses=strength["tyloses"] > 0.0,
        mixed=mixed,
    )


@dataclass(frozen=True)
class Matter:
    """Constants of one species; units as in `models.MemberConstants`."""

    k_d_m2_s: float
    k_free: float
    activation_k: float
    beta: float
    k_frost: float
    r_l: float
    bark: float
    rho0_kg_m3: float


def zoned(shape: PieceShape, species: Species, physics: Physics) -> PieceShape:
    """The piece with its sapwood and heartwood told apart, if the physics does."""
    return replace(shape, zones=zones_of(species)) if physics.heartwood else shape


def matter(
    species: Species, values: Mapping[str, float], physics: Physics, shape: PieceShape | None = None
) -> Matter:
    """The wood itself, by its class; with `heartwood`, how much of the piece (`shape`) is sapwood counts."""
    klass = wood_class(species)
    gravity = species.basic_density_kg_m3 / 1000.0
    k_d = values["k_d"] * siau_m2_s(gravity)
    if klass.oak:
        k_d *= values["oak"]
    if physics.wet_wood:
        k_d *= values["wet_wood"] ** klass.wet_wood
    k_free = values["k_free_softwood"] if klass.softwood else values["k_free_hardwood"]
    closed = physics.tyloses and klass.tyloses
    if physics.heartwood and shape is not None:
        # One coefficient for the piece, the mean of its zones: the potential of the scheme is one function.
        size = (shape.thickness_m, shape.width_m, shape.length_m)
        sap = sapwood_share(size, shape.bark_faces, zones_of(species).depth_m)
        heart = "tyloses" if closed else "heart_softwood" if klass.softwood else "heart_hardwood"
        k_free *= sap + (1.0 - sap) * values[heart]
    elif closed:
        k_free *= values["tyloses"]
    beta = values["beta"]
    if physics.shrinkage:
        # A length shrinks by a third of the volume, and the coefficient goes with its square: over the way
        # from fibre saturation to dry, exp(-beta u) gains the factor 1 + (2/3) S u, which is a smaller beta.
        beta -= 2.0 / 3.0 * species.shrinkage_vol_pct / 100.0
    bark = values["bark_birch"] if physics.bark_groups and klass.closed_bark else values["bark"]
    return Matter(
        k_d_m2_s=k_d,
        k_free=k_free,
        activation_k=values["activation_j_mol"] / GAS_J_MOL_K,
        beta=beta,
        k_frost=values["k_frost"] if physics.frost else 1.0,
        r_l=values["r_l"],
        bark=bark,
        rho0_kg_m3=species.basic_density_kg_m3,
    )


@dataclass(frozen=True)
class Surroundings:
    """What the stack does to the air at its pieces.

    `phi`: multiplier of the exposure; `damp`: share of the saturation deficit that is missing; `rain`:
    share of the surface that rain wets; `sun`: multiplier of the radiation taken in.
    """

    phi: float
    damp: float
    rain: float
    sun: float = 1.0


def surroundings(
    rows: int,
    ground: str,
    cover: str,
    values: Mapping[str, float],
    physics: Physics,
    layer: str | None = None,
) -> Surroundings:
    """The stack's air; of one of `LAYERS`, or the mean of the three."""
    if layer is None:
        each = [surroundings(rows, ground, cover, values, physics, name) for name in LAYERS]
        return Surroundings(
            float(np.mean([one.phi for one in each])),
            float(np.mean([one.damp for one in each])),
            float(np.mean([one.rain for one in each])),
            float(np.mean([one.sun for one in each])),
        )
    rain = {"none": values["rain_open"], "top": 0.0, "shed": 0.0}[cover]
    if physics.wetting and cover == "top":
        rain = values["rain_open"] * values["rain_under_cover"]
    if cover == "none" and physics.wetting:
        rain *= FROM_ABOVE[layer]
    if not physics.stack_air:
        return Surroundings(1.0, 0.0, rain)
    # Sides count for less in a deep stack: its layers differ more, and all of it breathes less.
    depth = 1.0 + values["row_contrast"] * (rows - 1)
    lag = values["layer_contrast"] * depth
    offset = {"top": -1.0, "middle": 0.2, "bottom": 0.8}[layer]
    phi = np.exp(-offset * lag) / (1.0 + values["row_resistance"] * (rows - 1))
    damp = values["damp"] * depth * np.exp(offset * lag)
    if ground == "soil" and layer == "bottom":
        damp += values["damp_soil"]
    # Half of a single row's sun falls on its front, which a deep stack has once for all its rows.
    sun = FROM_ABOVE[layer] * (0.5 + 0.5 / rows)
    return Surroundings(float(phi), float(min(damp, DAMP_MOST)), rain, sun)


def damp_hours(air: AirHours, damp: Array | float) -> AirHours:
    """The hours as the pieces meet them, with the share `damp` of the saturation deficit missing.

    `damp` is a number or one per member; then the vapour has as many members. Air below freezing is taken to
    be saturated over ice, so that ice-saturated air stays what it is.
    """
    share = np.minimum(np.asarray(damp, dtype=np.float32), np.float32(DAMP_MOST))
    if not np.any(share > 0.0):
        return air
    temp = np.asarray(air.air_c, dtype=np.float32)
    water = np.float32(611.2) * np.exp(np.float32(17.62) * temp / (np.float32(243.12) + temp))
    ice = np.float32(611.2) * np.exp(np.float32(22.46) * temp / (np.float32(272.62) + temp))
    missing = np.maximum(np.minimum(water, ice) - air.vapour_pa, np.float32(0.0))
    return air._replace(vapour_pa=np.asarray(air.vapour_pa + share * missing, dtype=np.float32))


def wet_hours(air: AirHours, physics: Physics) -> AirHours:
    """The hours with 1 mm of rain in every hour in which water stands on a bare face, and none in others.

    Rain stays until it has dried off, snow lies until it melts.
    """
    if not physics.wetting or not np.any(air.rain_mm > 0.0):
        return air
    temp, vapour, wind, _, rain = (np.ascontiguousarray(series, dtype=np.float32) for series in air)
    wet = np.zeros_like(rain)
    _wet_hours(temp, vapour, wind, rain, wet)
    return air._replace(rain_mm=wet)


#: Most water that stays on a wooden face [mm]; assumed.
FILM_MM = 0.5
#: Snow melts by so much an hour and kelvin [mm]; 3.6 mm a day and kelvin, hydrology's degree-day, from memory.
MELT_MM = 0.15
SNOW_BELOW_C = 0.5
#: Wind at the wood over wind at 10 m; the value of a normal place.
WIND_SHARE = 0.25


@compiled
def _wet_hours(air_c: Any, vapour: Any, wind: Any, precipitation: Any, wet: Any) -> None:
    """Sets `wet` to 1 in every hour in which water stands on a face in the open."""
    hours, members = wet.shape
    for j in range(members):
        film, snow = 0.0, 0.0
        for h in range(hours):
            t = air_c[h, min(j, air_c.shape[1] - 1)]
            pa = vapour[h, min(j, vapour.shape[1] - 1)]
            v = wind[h, min(j, wind.shape[1] - 1)]
            falls = precipitation[h, j]
            if t < SNOW_BELOW_C:
                snow += falls
            else:
                melts = min(snow, MELT_MM * t)
                snow -= melts
                film = min(film + falls + melts, FILM_MM)
            psat = 611.2 * np.exp(17.62 * t / (243.12 + t))
            # The film of air of the drying model, for an hour [mm = kg/m2].
            taken = (
                (5.0 + 4.0 * WIND_SHARE * v) / (1200.0 * 0.9 * 461.5 * (t + 273.15)) * (psat - pa) * 3600.0
            )
            wet[h, j] = 1.0 if film > 0.0 and t >= 0.0 else 0.0
            film = max(film - max(taken, 0.0), 0.0)
