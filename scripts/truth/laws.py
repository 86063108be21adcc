"""Laws of wood and air, from other sources than the package's drying model uses.

M moisture [water / oven-dry mass], T temperature [deg C], h relative humidity (fraction).
Sources: sorption after Nelson 2000 as coded in fire-weather software of the US Forest Service; diffusion after
Siau 1984, equations 1.2, 6.11 to 6.26, and for red oak Simpson's desorption law (attribution from memory);
saturation pressures Buck 1981, from memory; film of a flat plate in laminar flow, textbook, from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

KELVIN = 273.15
GAS_VAPOUR_J_KG_K = 461.5
LATENT_J_KG = 2.45e6
#: The laws of bound water end here; beyond it the last value holds, times a factor of the piece.
BOUND_DB = 0.28
#: Over this range of moisture the factor of free water comes in.
BLEND_DB = 0.06
DRIEST_DB = 0.02


def saturation_pa(temp_c: Floats) -> Floats:
    """Vapour pressure over water [Pa]: Buck 1981."""
    return np.asarray(611.21 * np.exp((18.678 - temp_c / 234.5) * temp_c / (257.14 + temp_c)))


def saturation_ice_pa(temp_c: Floats) -> Floats:
    """Vapour pressure over ice [Pa]: Buck 1981."""
    return np.asarray(611.15 * np.exp((23.036 - temp_c / 333.7) * temp_c / (279.82 + temp_c)))


def isotherm(temp_c: Floats) -> tuple[Floats, Floats]:
    """The two coefficients a, b of M = a (-ln(1 - h))^b, desorption (Nelson 2000)."""
    t = np.clip(temp_c, -25.0, 45.0)
    return 0.1617 - 0.001419 * t, 0.4657 + 0.003578 * t


def equilibrium(h: Floats, temp_c: Floats, factor: Floats | float = 1.0) -> Floats:
    """Moisture that the wood takes in air of humidity h (no more than 0.99)."""
    a, b = isotherm(temp_c)
    return np.asarray(factor * a * (-np.log1p(-np.minimum(h, 0.99))) ** b)


def activity(m: Floats, temp_c: Floats, factor: Floats | float = 1.0) -> Floats:
    """Relative humidity in the wood's surface: the same law turned round; goes to 1 in wet wood."""
    a, b = isotherm(temp_c)
    return np.asarray(-np.expm1(-((np.maximum(m, 1e-6) / (factor * a)) ** (1.0 / b))))


def activity_slope(m: Floats, temp_c: Floats) -> Floats:
    """dh/dM of the law."""
    a, b = isotherm(temp_c)
    x = (m / a) ** (1.0 / b)
    return np.asarray(np.exp(-x) * x / (b * m))


def siau_m2_s(m: Floats, temp_c: Floats, gravity: Floats) -> tuple[Floats, Floats]:
    """Diffusion across and along the grain [m2/s]; `gravity`: oven-dry mass / green volume / 1000 kg/m3."""
    m = np.clip(m, DRIEST_DB, BOUND_DB)
    kelvin = temp_c + KELVIN
    pct = 100.0 * m
    shrunk = gravity / (1.0 - 0.265 * gravity)  # specific gravity oven dry; shrinkage 26.5 % of gravity
    pores = 1.0 - shrunk / 1.54
    a = np.sqrt(pores)
    bound = 0.07 * np.exp(-(9200.0 - 70.0 * pct) / (1.987 * kelvin))  # cm2/s, as all below
    in_air = 0.220 * (kelvin / 273.0) ** 1.75
    pressure_cm_hg = 8.75e7 * np.exp(-10400.0 / (1.987 * kelvin))
    wall = 1.54 / (1.0 + 0.015 * pct)
    vapour = 18.0 * in_air * pressure_cm_hg * activity_slope(m, temp_c) / (wall * 6236.4 * kelvin)
    across = bound * vapour / (bound + vapour * (1.0 - a)) / (1.0 - pores)
    bound_along = 2.5 * bound
    along = 1.0 / (
        (1.0 - pores)
        * (1.0 / (vapour * pores + bound_along * (1.0 - pores)) + (1.0 - a) / (100.0 * bound_along * pores))
    )
    return np.asarray(1e-4 * across), np.asarray(1e-4 * along)


def oak_m2_s(m: Floats, temp_c: Floats) -> Floats:
    """Red oak across the grain, desorption [m2/s]."""
    return np.asarray(
        1e-4 * 19.2 * np.exp(-5280.0 / (temp_c + KELVIN)) * np.exp(1.15 * np.clip(m, 0, BOUND_DB))
    )


def diffusion_m2_s(m: Floats, temp_c: Floats, gravity: Floats, oak: Floats) -> tuple[Floats, Floats]:
    """Across and along by species; oak keeps Siau's ratio of the two."""
    across, along = siau_m2_s(m, temp_c, gravity)
    slow = oak_m2_s(m, temp_c)
    return np.where(oak, slow, across), np.where(oak, slow * along / across, along)


def film_w_m2_k(air_m_s: Floats) -> Floats:
    """Heat transfer between moving air and a face 0.1 m long: laminar plate, or still air's 3 W/(m2 K)."""
    reynolds = air_m_s * 0.1 / 1.5e-5
    return np.asarray(np.maximum(3.0, 0.664 * 0.025 / 0.1 * np.sqrt(reynolds) * 0.71 ** (1 / 3)))


def vapour_film_kg_m2_s_pa(heat_film: Floats, air_c: Floats) -> Floats:
    """Mass transfer by the analogy with heat, Lewis number 0.87 to the power -2/3."""
    return np.asarray(heat_film * 1.097 / (1.2 * 1006.0) / (GAS_VAPOUR_J_KG_K * (air_c + KELVIN)))
