"""What the kernel is written in: rows of its tables, constants, and small functions of one number.

numba keeps the compiled kernel by the age of kernel.py alone: after a change here, touch kernel.py.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy import float32 as f4
from numpy.typing import NDArray

from rickyard.season.compiled import compiled

# Rows of the table of member constants, `par[row, member]`; units in `models.MemberConstants`.
K_D, K_FREE, E_R, BETA, K_FROST, R_L, PHI, BARK = 0, 1, 2, 3, 4, 5, 6, 7
RHO0, SIZE_XY, SIZE_Z, WIND, SUN, RAIN = 8, 9, 10, 11, 12, 13
PARAMETERS = 14

FSP = f4(0.30)
PER_FSP = f4(1.0 / 0.30)
#: Growth of the ratio along / across the grain from fibre saturation (1) to dry (1 + this).
GRAIN = f4(4.0)
LATENT = f4(2.5e6)
RAIN_DB = f4(0.60)
#: Rain below this depth in an hour wets nothing [mm]; assumed.
RAIN_MM = f4(0.1)
ZERO, HALF, ONE, TWO, FOUR = f4(0.0), f4(0.5), f4(1.0), f4(2.0), f4(4.0)

#: Face-cell moistures at which the mean flux is tabulated: every 0.02 up to fibre saturation, then
#: spreading, for there the flux hardly changes.
DRY_NODES = 15
WET_NODES = 10
NODE_DB: NDArray[np.float32] = np.concatenate(
    [0.30 * np.arange(DRY_NODES) / DRY_NODES, 0.30 / (1.0 - np.arange(WET_NODES) / WET_NODES)]
).astype(np.float32)
NODES = DRY_NODES + WET_NODES
PER_DRY_NODE = f4(DRY_NODES / 0.30)
DRY_NODES_F, WET_NODES_F = f4(DRY_NODES), f4(WET_NODES)
#: Started from the last hour's flux; a third step changes a year's moistures by less than 0.01 points.
NEWTON_STEPS = 2
#: Nodes beyond those in use when a step begins, for cells that move on within it.
SPARE_NODES = 2

# Rows of the hour's constants, `hour[row, member]`.
H_A, H_KG, H_PA, H_PSAT, H_PCAP, H_HCAP = 0, 1, 2, 3, 4, 5
H_W, H_K, H_K1, H_K2, H_ME, H_CAP_ACROSS, H_CAP_ALONG, H_RAIN = 6, 7, 8, 9, 10, 11, 12, 13
HOUR_ROWS = 14


@compiled
def exp(x: Any) -> Any:
    """exp(x) for -20 <= x <= 6, to 2e-5 of itself or 1e-7: (Taylor of degree 5 at x/32) to the power 32."""
    y = x * f4(1.0 / 32.0)
    p = ONE + y * (ONE + y * (HALF + y * (f4(1 / 6) + y * (f4(1 / 24) + y * f4(1 / 120)))))
    p = p * p
    p = p * p
    p = p * p
    p = p * p
    return p * p


@compiled
def exp_short(x: Any) -> Any:
    """exp(x) for -6 <= x <= 0, to 2e-4: (Taylor of degree 3 at x/16) to the power 16."""
    y = x * f4(1.0 / 16.0)
    p = ONE + y * (ONE + y * (HALF + y * f4(1 / 6)))
    p = p * p
    p = p * p
    p = p * p
    return p * p


@compiled
def potential_across(m: Any, beta: Any, k_free: Any) -> Any:
    """Kirchhoff potential across the grain: the integral of d over M."""
    dry = max((FSP - m) * PER_FSP, ZERO)
    return FSP / beta * exp(-beta * dry) + k_free * max(m - FSP, ZERO)


@compiled
def potential_along(m: Any, beta: Any, k_free: Any, r_l: Any) -> Any:
    """Kirchhoff potential along the grain: the integral of r d over M."""
    dry = max((FSP - m) * PER_FSP, ZERO)
    below = FSP / beta * exp(-beta * dry) * (ONE + GRAIN * dry + GRAIN / beta)
    return r_l * (below + k_free * max(m - FSP, ZERO))


@compiled
def emc_at(h: Any, w: Any, k: Any, k1: Any, k2: Any) -> Any:
    """Equilibrium moisture at relative humidity h (Wood Handbook eq. 4-5)."""
    kh = k * h
    n1 = k1 * kh
    n2 = n1 * k2 * kh
    return w * (kh / (ONE - kh) + (n1 + TWO * n2) / (ONE + n1 + n2))
