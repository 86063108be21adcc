"""The members: what each of them takes the wood, the stack and the pieces to be.

Member j has draws of its own for each stack and draws it shares with every stack of the same species, so
that a promise resting on two oak stacks sees them late together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

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


def draw(
    pieces: Pieces,
    species: Species,
    members: int,
    seed: int,
    stack_key: str,
    values: Mapping[str, float] | None = None,
) -> Ensemble:
    """The members of a stack before any reading.

    Shared draws are keyed by (seed, species, j), own draws by (seed, stack_key, species, j).
    """
    values = fitted_values() if values is None else values
    klass = wood_class(species)
    wider = WIDER if species.rank != "species" or klass.mixed else 1.0
    shared = normal_draws(("shared", seed, species.id), members, 1)[:, 0]
    own = normal_draws(("own", seed, stack_key, species.id), members, 4)
    log_shared = wider * values["spread_k_d_shared"] * shared
    mean, sd = start_of(pieces, species, values)
    # Log-normal: green moisture is skewed and never negative.
    log_sd = float(np.sqrt(np.log1p((sd * wider / mean) ** 2)))
    start = mean * np.exp(log_sd * own[:, 1] - 0.5 * log_sd**2)
    return Ensemble(
        log_k_d=log_shared + wider * values["spread_k_d_own"] * own[:, 0],
        log_phi=values["spread_phi"] * own[:, 2],
        log_size=values["spread_size"] * own[:, 3],
        start_db=np.clip(start, *START_LIMITS_DB),
        log_k_d_shared=log_shared,
    )


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
    wood = matter(species, values, physics)
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
