"""The members: what each of them takes the wood, the stack and the pieces to be.

Member j has draws of its own for each stack and draws it shares with every stack of the same species, so
that a promise resting on two oak stacks sees them late together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from rickyard.season.constants import fitted_values
from rickyard.season.draws import normal_draws
from rickyard.season.models import MemberConstants
from rickyard.season.physics import (
    DAMP_MOST,
    Physics,
    damp_hours,
    matter,
    surroundings,
    wet_hours,
    wood_class,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rickyard.season.models import AirHours
    from rickyard.season.pieces import Pieces
    from rickyard.wood import Species

Floats = NDArray[np.float64]

#: A genus, trade group or unnamed wood is known less well: its spreads are this much wider.
WIDER = 1.4
START_LIMITS_DB = (0.06, 2.8)
#: Which exposure to moving air belongs to which form.
PHI_OF_FORM = {
    "split": "phi_row",
    "half": "phi_row",
    "round": "phi_pile",
    "log": "phi_pile",
    "board": "phi_boards",
}


# What of the spread that is not the species' own belongs to its thickness class, and what of the exposure's
# to the row [share of the variance]. Assumed.
THICKNESS_SHARE, ROW_SHARE = 0.25, 0.5


@dataclass(frozen=True)
class Ensemble:
    """The uncertain things of each member, arrays of shape (members,).

    Logarithms of factors on the diffusion coefficient, the exposure to moving air and the thickness, and
    the start moisture [water / oven-dry mass].
    Readings move these; which member is which stays.
    """

    log_k_d: Floats
    log_phi: Floats
    log_size: Floats
    start_db: Floats
    #: The part of `log_k_d` that is common to all stacks of the species, kept to be told apart.
    log_k_d_shared: Floats

    @property
    def members(self) -> int:
        return len(self.start_db)

    def moved(self, log_k_d: Floats, log_phi: Floats, log_size: Floats, start_db: Floats) -> Ensemble:
        """The same members with other values."""
        return replace(
            self,
            log_k_d=log_k_d,
            log_phi=log_phi,
            log_size=log_size,
            start_db=np.clip(start_db, *START_LIMITS_DB),
        )


def start_of(pieces: Pieces, species: Species, values: Mapping[str, float]) -> tuple[float, float]:
    """Mean and standard deviation of the start moisture [water / oven-dry mass]."""
    if pieces.start_mc_db is not None:
        return pieces.start_mc_db, values["spread_start_known_db"]
    sd = species.green_mc_db_sd or values["spread_start_db"]
    return species.green_mc_db, sd


class Spreads(NamedTuple):
    """Log standard deviations of the pace of drying by species, thickness class and own; of exposure likewise."""

    species: float
    thickness: float
    own: float
    row: float
    own_phi: float


class SharedParts(NamedTuple):
    """What a member shares with other stacks: of the species, of its thickness class, of the row (members,)."""

    species: Floats
    thickness: Floats
    row: Floats


def spreads_of(species: Species, values: Mapping[str, float]) -> Spreads:
    """The spreads of a species or a wider name, which is known less well."""
    wider = _wider(species)
    own, phi = wider * values["spread_k_d_own"], values["spread_phi"]
    return Spreads(
        species=wider * values["spread_k_d_shared"],
        thickness=own * THICKNESS_SHARE**0.5,
        own=own * (1.0 - THICKNESS_SHARE) ** 0.5,
        row=phi * ROW_SHARE**0.5,
        own_phi=phi * (1.0 - ROW_SHARE) ** 0.5,
    )


def shared_parts(
    species: Species, thickness_class: str, row: str, members: int, seed: int, spreads: Spreads
) -> SharedParts:
    """The shared draws, keyed by (seed, species, j), by the thickness class of it, and by the row."""

    def one(*key: object) -> Floats:
        return normal_draws(key, members, 1)[:, 0]

    return SharedParts(
        spreads.species * one("shared", seed, species.id),
        spreads.thickness * one("thickness", seed, species.id, thickness_class),
        spreads.row * one("row", seed, row),
    )


def own_draws(species: Species, members: int, seed: int, stack_key: str) -> Floats:
    """A stack's own standard normal draws: pace, start, exposure, size."""
    return normal_draws(("own", seed, stack_key, species.id), members, 4)


def draw(
    pieces: Pieces,
    species: Species,
    members: int,
    seed: int,
    stack_key: str,
    values: Mapping[str, float] | None = None,
    *,
    thickness_class: str = "",
    row: str = "",
) -> Ensemble:
    """The members of a stack before any reading.

    Shared draws are keyed by (seed, species, j), own draws by (seed, stack_key, species, j). A stack whose row
    is not said stands in a row of its own.
    """
    values = fitted_values() if values is None else values
    spreads = spreads_of(species, values)
    shared = shared_parts(species, thickness_class, row or stack_key, members, seed, spreads)
    own = own_draws(species, members, seed, stack_key)
    mean, sd = start_of(pieces, species, values)
    # Log-normal: green moisture is skewed and never negative.
    log_sd = float(np.sqrt(np.log1p((sd * _wider(species) / mean) ** 2)))
    start = mean * np.exp(log_sd * own[:, 1] - 0.5 * log_sd**2)
    return Ensemble(
        log_k_d=shared.species + shared.thickness + spreads.own * own[:, 0],
        log_phi=shared.row + spreads.own_phi * own[:, 2],
        log_size=values["spread_size"] * own[:, 3],
        start_db=np.clip(start, *START_LIMITS_DB),
        log_k_d_shared=shared.species,
    )


def _wider(species: Species) -> float:
    return WIDER if species.rank != "species" or wood_class(species).mixed else 1.0


def member_constants(
    pieces: Pieces,
    species: Species,
    ensemble: Ensemble,
    values: Mapping[str, float] | None = None,
    physics: Physics = Physics(),
    layer: str | None = None,
) -> MemberConstants:
    """The constants of the drying model for these members; of one layer of the stack, or of their mean."""
    values = fitted_values() if values is None else values
    wood = matter(species, values, physics, pieces.shape)
    around = surroundings(pieces.rows, pieces.ground, pieces.cover, values, physics, layer)
    phi = values[PHI_OF_FORM[pieces.form]] * around.phi
    if pieces.exposure != "normal":
        phi *= values[f"phi_{pieces.exposure}"]
    sun = values["sun_sheltered"] if pieces.exposure == "sheltered" else values["sun_open"]

    def same(value: float) -> NDArray[np.float32]:
        return np.full(ensemble.members, value, dtype=np.float32)

    return MemberConstants(
        k_d_m2_s=(wood.k_d_m2_s * np.exp(ensemble.log_k_d)).astype(np.float32),
        k_free=same(wood.k_free),
        activation_k=same(wood.activation_k),
        beta=same(wood.beta),
        k_frost=same(wood.k_frost),
        r_l=same(wood.r_l),
        phi=(phi * np.exp(ensemble.log_phi)).astype(np.float32),
        bark=same(wood.bark),
        rho0_kg_m3=same(wood.rho0_kg_m3),
        size_xy=np.exp(ensemble.log_size).astype(np.float32),
        size_z=same(1.0),
        wind_share=same(values[f"wind_{pieces.exposure}"]),
        sun_share=same(0.0 if pieces.cover == "shed" else sun * around.sun),
        rain_share=same(around.rain),
        start_db=ensemble.start_db.astype(np.float32),
    )


def member_damp(
    pieces: Pieces,
    ensemble: Ensemble,
    values: Mapping[str, float] | None = None,
    physics: Physics = Physics(),
    layer: str | None = None,
) -> Floats:
    """Share of the saturation deficit that is missing in each member's stack: the less exposed, the damper."""
    values = fitted_values() if values is None else values
    damp = surroundings(pieces.rows, pieces.ground, pieces.cover, values, physics, layer).damp
    return np.asarray(np.minimum(damp * np.exp(-ensemble.log_phi), DAMP_MOST))


def member_hours(
    pieces: Pieces,
    ensemble: Ensemble,
    air: AirHours,
    values: Mapping[str, float] | None = None,
    physics: Physics = Physics(),
    layer: str | None = None,
) -> AirHours:
    """The hours of the open air as each member's pieces meet them; what `DryingModel.run` is to be given."""
    return damp_hours(wet_hours(air, physics), member_damp(pieces, ensemble, values, physics, layer))
