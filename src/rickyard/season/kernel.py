"""The compiled heart of the season: water moving inside one piece of wood, for many members at once.

Moisture M (water / oven-dry mass) follows dM/dt = div(D grad M) with D = k_D D_S A(T) d(M) across the
grain and r(M) D along it, leaves through a film of air, and the piece has one temperature; every
equation stands beside its code in `reference.py`, the slow twin of this module. What is done here, and why:

* Finite volumes with Kirchhoff potentials: the flux between two cells is the difference of the integral
  of D over M, so that the jump of D at fibre saturation does not choke the drying front.
* The surface is followed by the hour, the inside by longer steps. Averaging the weather over six hours
  moves ready dates by a week, but within a step the flux through a face depends on the moisture of its
  face cell alone. So the mean of the hourly fluxes is tabulated over that moisture and looked up.
* A step is taken in Runge-Kutta-Legendre stages of first order (Meyer, Balsara and Aslam 2014,
  J. Comput. Phys. 257:594, from memory): explicit, hence conserving and symmetric, bounded by the old
  extremes, and stable up to (s*s+s)/2 times the explicit limit with s stages.
  A winter day takes a few stages, a hot one fifteen or more; in such longer steps a stage reaches further.
* Members lie last in memory and the loops over them have no branches, so that they become vector
  instructions. numba's wheel brings no vector exponential; `exp` is one.

All arrays are single precision (twice the speed) but the moisture itself, to which each step adds its
change: in single precision the small losses of a wet core would be rounded away.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy import float32 as f4

from rickyard.season.compiled import compiled
from rickyard.season.kernel_terms import (
    BARK,
    BETA,
    DRY_NODES_F,
    E_R,
    FOUR,
    FSP,
    GRAIN,
    H_A,
    H_CAP_ACROSS,
    H_CAP_ALONG,
    H_HCAP,
    H_K,
    H_K1,
    H_K2,
    H_KG,
    H_ME,
    H_PA,
    H_PCAP,
    H_PSAT,
    H_RAIN,
    H_W,
    HALF,
    HOUR_ROWS,
    K_D,
    K_FREE,
    K_FROST,
    LATENT,
    NEWTON_STEPS,
    NODE_DB,
    NODES,
    ONE,
    PER_DRY_NODE,
    PER_FSP,
    PHI,
    R_L,
    RAIN,
    RAIN_DB,
    RAIN_MM,
    RHO0,
    SIZE_XY,
    SIZE_Z,
    SPARE_NODES,
    SUN,
    TWO,
    WET_NODES_F,
    WIND,
    ZERO,
    emc_at,
    exp,
    exp_short,
    potential_across,
    potential_along,
)


@compiled
def _potentials(m: Any, change: Any, across: Any, along: Any, par: Any, per_beta: Any) -> None:
    """Both Kirchhoff potentials of the cells of one plane at moisture m + change; `per_beta` is 1 / beta."""
    ny, nz, members = m.shape
    for j in range(ny):
        for k in range(nz):
            for q in range(members):
                here = m[j, k, q] + change[j, k, q]
                dry = min(max((FSP - here) * PER_FSP, ZERO), f4(1.5))
                free = par[K_FREE, q] * max(here - FSP, ZERO)
                below = FSP * per_beta[q] * exp_short(-par[BETA, q] * dry)
                across[j, k, q] = below + free
                along[j, k, q] = par[R_L, q] * (below * (ONE + GRAIN * (dry + per_beta[q])) + free)


@compiled
def _fastest(m: Any, par: Any, a_xy: Any, a_z: Any, g_xy: Any, g_z: Any, rate: Any) -> Any:
    """Largest rate [1/s] at which a cell of any member empties into its neighbours.

    `rate` is room for one value per member.
    """
    cells, members = m.shape
    rate[:] = ZERO
    for c in range(cells):
        for j in range(members):
            dry = max((FSP - m[c, j]) * PER_FSP, ZERO)
            # Lines between nodes are as steep as the curve at the wetter one, and a cell may pass fibre
            # saturation within the step: either side of it counts.
            wetter = max(dry - ONE / DRY_NODES_F, ZERO)
            d = exp(-par[BETA, j] * wetter) if wetter > ZERO else max(par[K_FREE, j], ONE)
            grain = par[R_L, j] * (ONE + GRAIN * dry)
            rate[j] = max(rate[j], d * (a_xy[j] * g_xy[c] + a_z[j] * g_z[c] * grain))
    return np.max(rate)


@compiled
def _stage(
    start: Any,
    now: Any,
    old: Any,
    across: Any,
    along: Any,
    par: Any,
    per_beta: Any,
    a_xy: Any,
    a_z: Any,
    gx: Any,
    gy: Any,
    gz: Any,
    back: Any,
    dt: Any,
) -> None:
    """old := now + back (now - old) + dt div(flux), fluxes inside the piece only.

    The potentials are made plane by plane, one ahead, so that they are still near when they are needed:
    `across` and `along` hold three planes.
    """
    nx, ny, nz, members = now.shape
    _potentials(start[0], now[0], across[0], along[0], par, per_beta)
    for i in range(nx):
        i0, i1, here3 = max(i - 1, 0) % 3, min(i + 1, nx - 1) % 3, i % 3
        if i + 1 < nx:
            _potentials(start[i + 1], now[i + 1], across[i1], along[i1], par, per_beta)
        x0, x1 = gx[0, i], gx[1, i]
        for j in range(ny):
            j0, j1 = max(j - 1, 0), min(j + 1, ny - 1)
            y0, y1 = gy[0, j], gy[1, j]
            for k in range(nz):
                k0, k1 = max(k - 1, 0), min(k + 1, nz - 1)
                z0, z1 = gz[0, k], gz[1, k]
                for m in range(members):
                    p, q = across[here3, j, k, m], along[here3, j, k, m]
                    gain = a_xy[m] * (
                        x0 * (across[i0, j, k, m] - p)
                        + x1 * (across[i1, j, k, m] - p)
                        + y0 * (across[here3, j0, k, m] - p)
                        + y1 * (across[here3, j1, k, m] - p)
                    ) + a_z[m] * (z0 * (along[here3, j, k0, m] - q) + z1 * (along[here3, j, k1, m] - q))
                    here = now[i, j, k, m]
                    old[i, j, k, m] = here + back * (here - old[i, j, k, m]) + dt * gain


@compiled
def _place(c: Any) -> Any:
    """Where moisture c lies on the node scale [nodes]."""
    t = min(c, FSP) * PER_DRY_NODE + WET_NODES_F * (ONE - FSP / max(c, FSP))
    return min(max(t, ZERO), f4(NODES - 1.001))


@compiled
def _weigh(m: Any, face: Any, cells: Any, weight: Any, spot: Any) -> None:
    """Adds a face's area [m2] by node of its cells' moisture to weight[node, member].

    `spot` is room for one value per member: the loop that finds places becomes vector instructions, the
    one that looks up cannot.
    """
    members = m.shape[3]
    for i in range(face[0], face[1]):
        for j in range(face[2], face[3]):
            for k in range(face[4], face[5]):
                area = cells[0, i] * cells[1, j] * cells[2, k] / cells[face[6], face[7]]
                for q in range(members):
                    spot[q] = _place(m[i, j, k, q])
                for q in range(members):
                    # Clamped as an integer too: a moisture that is not a number must not become a wild index.
                    n: Any = min(max(np.int32(spot[q]), 0), NODES - 2)
                    part = spot[q] - f4(n)
                    weight[n, q] += area * (ONE - part)
                    weight[n + 1, q] += area * part


@compiled
def _let_out(
    m: Any, change: Any, new: Any, face: Any, cells: Any, table: Any, dt: Any, lost: Any, spot: Any
) -> None:
    """Takes the flux at moisture m + change out of a face's cells; adds flux x area [m3/s] to `lost`.

    `spot` is room for one value per member, as in `_weigh`.
    """
    members = m.shape[3]
    depth = cells[face[6], face[7]]
    take = dt / depth
    for i in range(face[0], face[1]):
        for j in range(face[2], face[3]):
            for k in range(face[4], face[5]):
                area = cells[0, i] * cells[1, j] * cells[2, k] / depth
                for q in range(members):
                    spot[q] = _place(m[i, j, k, q] + change[i, j, k, q])
                for q in range(members):
                    n: Any = min(max(np.int32(spot[q]), 0), NODES - 2)
                    low = table[n, q]
                    flux = low + (spot[q] - f4(n)) * (table[n + 1, q] - low)
                    new[i, j, k, q] -= take * flux
                    lost[q] += area * flux


@compiled
def _hour(
    hour: Any,
    par: Any,
    temp_s: Any,
    air: Any,
    vapour: Any,
    wind: Any,
    sun: Any,
    rain: Any,
    mean: Any,
    depth: Any,
    outflow: Any,
    seconds: Any,
) -> None:
    """Temperature of the piece through one hour (or `seconds`), and what the film of air does to its faces.

    `depth` is volume / surface [m]; `outflow` the loss of mean moisture in the last hour [1/s].
    """
    for j in range(temp_s.shape[0]):
        phi, rho0 = par[PHI, j], par[RHO0, j]
        film = f4(5.0) + FOUR * par[WIND, j] * wind[j]
        loss = max(f4(0.3), phi * (film + f4(1.35)))
        cooling = LATENT * rho0 * depth[j] * outflow[j]
        warming = (f4(0.65) * par[SUN, j] * sun[j] - cooling) / loss
        goal = air[j] + min(max(warming, f4(-12.0)), f4(25.0))
        tau = rho0 * (f4(1.3) + f4(4.2) * mean[j]) * f4(1000.0) * depth[j] / loss
        before = temp_s[j]
        after = goal + (before - goal) * exp(-min(seconds / tau, f4(20.0)))
        temp_s[j] = after
        t = HALF * (before + after)
        frost = ONE - (ONE - par[K_FROST, j]) * min(ONE, max(ZERO, -HALF * t))
        warmth = exp(-par[E_R, j] * (ONE / (t + f4(273.15)) - f4(1.0 / 298.15)))
        hour[H_A, j] = par[K_D, j] * warmth * frost
        hour[H_KG, j] = phi * film / (f4(1200.0 * 0.9 * 461.5) * (air[j] + f4(273.15))) / rho0
        hour[H_PA, j] = vapour[j]
        psat = f4(611.2) * exp(f4(17.62) * t / (f4(243.12) + t))
        pice = f4(611.2) * exp(f4(22.46) * t / (f4(272.62) + t))
        pcap = min(psat, pice)
        hour[H_PSAT, j], hour[H_PCAP, j], hour[H_HCAP, j] = psat, pcap, pcap / psat
        w = f4(18.0) / (f4(349.0) + f4(1.29) * t + f4(0.0135) * t * t)
        k = f4(0.805) + f4(0.000736) * t - f4(0.00000273) * t * t
        k1 = f4(6.27) - f4(0.00938) * t - f4(0.000303) * t * t
        k2 = max(ZERO, f4(1.91) + f4(0.0407) * t - f4(0.000293) * t * t)
        hour[H_W, j], hour[H_K, j], hour[H_K1, j], hour[H_K2, j] = w, k, k1, k2
        hour[H_ME, j] = emc_at(min(vapour[j] / psat, f4(0.995)), w, k, k1, k2)
        cap = emc_at(pcap / psat, w, k, k1, k2)
        hour[H_CAP_ACROSS, j] = potential_across(cap, par[BETA, j], par[K_FREE, j])
        hour[H_CAP_ALONG, j] = potential_along(cap, par[BETA, j], par[K_FREE, j], par[R_L, j])
        hour[H_RAIN, j] = par[RAIN, j] if rain[j] > RAIN_MM else ZERO


@compiled
def _node_potentials(node: Any, par: Any, per_beta: Any) -> None:
    """Kirchhoff potential of the nodes, across (row 0) and along (row 1) the grain, by member."""
    for n in range(NODES):
        cell = NODE_DB[n]
        for q in range(par.shape[1]):
            node[0, n, q] = potential_across(cell, par[BETA, q], par[K_FREE, q])
            node[1, n, q] = potential_along(cell, par[BETA, q], par[K_FREE, q], par[R_L, q])


@compiled
def _face_flux(
    flux: Any,
    table: Any,
    node: Any,
    hour: Any,
    par: Any,
    per_beta: Any,
    scale: Any,
    depth: Any,
    bark: Any,
    end: Any,
    first: Any,
    last: Any,
) -> None:
    """Outward flux [m/s] at the nodes of one kind of face in one hour; added to `table`.

    The relative humidity h of the wood's surface balances what the half cell brings,
    c (potential of cell - potential of emc(h)), and what the film takes, a (h psat - pa).
    Newton's method starts from the last hour's flux. Where the half cell could bring more than the
    film takes from a saturated (or frosted) surface, the film alone decides.
    """
    # r d and its integral across the grain are those along it with r = 1 and no growth.
    along = ONE if end else ZERO
    grow = GRAIN * along
    per_depth = TWO / depth
    for n in range(first, last + 1):
        cell = NODE_DB[n]
        for j in range(flux.shape[1]):
            beta, r = par[BETA, j], ONE + along * (par[R_L, j] - ONE)
            c = hour[H_A, j] * per_depth / scale[j]
            a = hour[H_KG, j] * (ONE - bark * (ONE - par[BARK, j]))
            psat, pa, hcap = hour[H_PSAT, j], hour[H_PA, j], hour[H_HCAP, j]
            w, k, k1, k2 = hour[H_W, j], hour[H_K, j], hour[H_K1, j], hour[H_K2, j]
            here = node[n, j]
            full = r * FSP * per_beta[j]
            grown = ONE + grow * per_beta[j]
            at_cap = hour[H_CAP_ACROSS, j] + along * (hour[H_CAP_ALONG, j] - hour[H_CAP_ACROSS, j])
            most = a * (hour[H_PCAP, j] - pa)
            h = min(max((flux[n, j] / a + pa) / psat, f4(0.02)), hcap)
            for _ in range(NEWTON_STEPS):
                kh = k * h
                n1 = k1 * kh
                n2 = n1 * k2 * kh
                under, rest_h = ONE + n1 + n2, ONE - kh
                both = ONE / (under * rest_h)
                o, bottom = both * under, both * rest_h
                top = n1 + TWO * n2
                emc = w * (kh * o + top * bottom)
                slope = (
                    w
                    * k
                    * (
                        o * o
                        + (k1 * (ONE + FOUR * k2 * kh) - top * k1 * (ONE + TWO * k2 * kh) * bottom) * bottom
                    )
                )
                dry = max((FSP - emc) * PER_FSP, ZERO)
                e = exp_short(-beta * dry)
                rest = c * (here - full * e * (grown + grow * dry)) - a * (h * psat - pa)
                h += rest / (c * r * e * (ONE + grow * dry) * slope + a * psat)
                h = min(max(h, f4(0.001)), hcap)
            out = most if c * (here - at_cap) >= most else a * (h * psat - pa)
            # Wood wetter than the air's equilibrium never gains, drier wood never loses.
            out = max(out, ZERO) if cell > hour[H_ME, j] else min(out, ZERO)
            flux[n, j] = out
            wet = full * grown + r * par[K_FREE, j] * (RAIN_DB - FSP)
            soaked = min(c * (here - wet), ZERO)
            table[n, j] += out + hour[H_RAIN, j] * (soaked - out)


@compiled
def _reach_out(table: Any, first: Any, last: Any, least: Any, most: Any) -> None:
    """Flux at the nodes that no cell of the face stood at when the step began, but may come to within it.

    Straight lines from the outermost nodes in use: below them, loss dwindles to nothing at the driest
    moisture `least` that any hour of the step would settle at; above them, gain dwindles to nothing at the
    wettest, `most` (rain included). So nothing dries or wets past what the air (or the rain) can bring it to.
    Gain below and loss above stay as they are at the outermost node.
    """
    for q in range(least.shape[0]):
        edge = table[first, q]
        for n in range(first):
            left = max(NODE_DB[n] - least[q], ZERO) / max(NODE_DB[first] - least[q], f4(1e-6))
            table[n, q] = edge * left if edge > ZERO else edge
        edge = table[last, q]
        for n in range(last + 1, NODES):
            left = max(most[q] - NODE_DB[n], ZERO) / max(most[q] - NODE_DB[last], f4(1e-6))
            table[n, q] = edge * left if edge < ZERO else edge


@compiled
def _average(m: Any, share: Any, average: Any) -> None:
    """Mean moisture by member; summed in double, or rounding would be taken for lost water."""
    cells, members = m.shape
    average[:] = 0.0
    for c in range(cells):
        for j in range(members):
            average[j] += share[c] * m[c, j]


@compiled
def march(
    m: Any,
    cells: Any,
    lift: Any,
    faces: Any,
    par: Any,
    temp_s: Any,
    air: Any,
    vapour: Any,
    wind: Any,
    sun: Any,
    rain: Any,
    row_hours: Any,
    step_hours: Any,
    gentle_days: Any,
    out_mean: Any,
    out_lost: Any,
) -> Any:
    """Takes the pieces of a block of members through the hours of `air`.

    Parameters
    ----------
    m
        Moisture of the cells [unitless], shape (nx, ny, nz, members), double; changed in place.
    cells
        Cell widths [m], shape (3, longest): row per axis, x y z.
    lift
        Correction of coarse cells, by axis [1/m2]: two neighbours conduct as if they were nearer by the
        share lift x width x width. Wide cells are late; this makes good for it to second order.
    faces
        Open or barked faces, shape (faces, 10), integers: ranges of i, j, k (6), axis, place of the
        face cell on that axis, 1 for bark, kind. Faces of one kind (alike in grain, depth of the face
        cell and bark) share one table of fluxes; kinds are numbered from 0.
    par
        Member constants, shape (PARAMETERS, members).
    temp_s
        Temperature of the pieces [deg C], shape (members,); changed in place.
    air, vapour, wind, sun, rain
        Hourly means [deg C, Pa, m/s, W/m2, mm], shape (hours, members); hours a multiple of 24.
    row_hours
        Hours that a row of these stands for: 1, or more for a quick look; divides 24.
    step_hours
        Length of the steps [h]; a multiple of `row_hours` that divides 24.
    gentle_days
        Days at the start with steps of at most 4 h (or one row): fresh faces dry fast.
    out_mean, out_lost
        Mean moisture at the end of each day, and moisture lost since the start [unitless],
        shape (days, members); filled.

    Returns
    -------
    Number of stages taken.
    """
    nx, ny, nz, members = m.shape
    hours = air.shape[0] * row_hours
    count = nx * ny * nz
    flat = m.reshape(count, members)
    sizes = (nx, ny, nz)

    # Conductance of each cell to its neighbours over its own width [1/m2].
    g = np.zeros((3, 2, cells.shape[1]), np.float32)
    for axis in range(3):
        for i in range(sizes[axis]):
            d = cells[axis, i]
            if i > 0:
                more = ONE + lift[axis] * d * cells[axis, i - 1]
                g[axis, 0, i] = more * TWO / ((d + cells[axis, i - 1]) * d)
            if i < sizes[axis] - 1:
                more = ONE + lift[axis] * d * cells[axis, i + 1]
                g[axis, 1, i] = more * TWO / ((d + cells[axis, i + 1]) * d)
    g_face = np.zeros((3, cells.shape[1]), np.float32)
    for f in range(faces.shape[0]):
        d = cells[faces[f, 6], faces[f, 7]]
        g_face[faces[f, 6], faces[f, 7]] = TWO / (d * d)
    g_xy = np.empty(count, np.float32)
    g_z = np.empty(count, np.float32)
    share = np.empty(count, np.float64)
    whole = 0.0
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                c = (i * ny + j) * nz + k
                g_xy[c] = g[0, 0, i] + g[0, 1, i] + g_face[0, i] + g[1, 0, j] + g[1, 1, j] + g_face[1, j]
                g_z[c] = g[2, 0, k] + g[2, 1, k] + g_face[2, k]
                share[c] = np.float64(cells[0, i]) * np.float64(cells[1, j]) * np.float64(cells[2, k])
                whole += share[c]
    share /= whole
    volume = f4(whole)

    a_xy = np.empty(members, np.float32)
    a_z = np.empty(members, np.float32)
    depth = np.empty(members, np.float32)
    outflow = np.empty(members, np.float32)
    outflow[:] = ZERO
    for q in range(members):
        surface = ZERO
        for f in range(faces.shape[0]):
            area = volume
            for axis in range(3):
                if axis == faces[f, 6]:
                    length = ZERO
                    for i in range(sizes[axis]):
                        length += cells[axis, i]
                    area /= length * (par[SIZE_Z, q] if axis == 2 else par[SIZE_XY, q])
            surface += area
        depth[q] = volume / surface

    across = np.empty((3, ny, nz, members), np.float32)
    along = np.empty((3, ny, nz, members), np.float32)
    # The moisture at the start of a step, in single precision: double would halve the vectors.
    start = np.empty((count, members), np.float32)
    start4 = start.reshape(nx, ny, nz, members)
    spot = np.empty(members, np.float32)
    per_beta = np.empty(members, np.float32)
    per_beta[:] = ONE / par[BETA]
    one = np.zeros((nx, ny, nz, members), np.float32)
    other = np.zeros((nx, ny, nz, members), np.float32)
    nf = faces.shape[0]
    kinds = np.max(faces[:, 9]) + 1
    # One face of each kind stands for all.
    face_of = np.zeros(kinds, np.int64)
    for f in range(nf):
        face_of[faces[f, 9]] = f
    weight = np.zeros((kinds, NODES, members), np.float32)
    flux = np.zeros((kinds, NODES, members), np.float32)
    table = np.zeros((kinds, NODES, members), np.float32)
    node = np.zeros((2, NODES, members), np.float32)
    _node_potentials(node, par, per_beta)
    hour = np.zeros((HOUR_ROWS, members), np.float32)
    mean = np.zeros(members, np.float32)
    average = np.zeros(members, np.float64)
    total = np.zeros(members, np.float64)
    gone = np.zeros((3, members), np.float32)
    least = np.zeros(members, np.float32)
    most = np.zeros(members, np.float32)
    first = np.zeros(kinds, np.int64)
    last = np.zeros(kinds, np.int64)
    row_seconds = f4(3600.0) * f4(row_hours)
    stages_taken = 0
    h0 = 0
    while h0 < hours:
        taken = min(max(4, row_hours), step_hours) if h0 < 24 * gentle_days else step_hours
        rows = f4(taken // row_hours)
        if h0 % 24 == 0:
            _average(flat, share, average)
            mean[:] = average
            if h0 > 0:
                out_mean[h0 // 24 - 1] = average
                out_lost[h0 // 24 - 1] = total

        start4[:] = m
        # The nodes in use at each kind of face.
        weight[:] = ZERO
        for f in range(nf):
            _weigh(start4, faces[f], cells, weight[faces[f, 9]], spot)
        for c in range(kinds):
            first[c], last[c] = NODES - 1, 0
            for n in range(NODES):
                if np.max(weight[c, n]) > ZERO:
                    first[c] = min(first[c], n)
                    last[c] = n
            first[c], last[c] = max(first[c] - SPARE_NODES, 0), min(last[c] + SPARE_NODES, NODES - 1)
        table[:] = ZERO
        a_xy[:] = ZERO
        least[:] = FSP
        most[:] = ZERO
        for h in range(h0 // row_hours, (h0 + taken) // row_hours):
            outflow[:] = ZERO
            for c in range(kinds):
                scale = par[SIZE_Z] if faces[face_of[c], 6] == 2 else par[SIZE_XY]
                for n in range(first[c], last[c] + 1):
                    for q in range(members):
                        outflow[q] += weight[c, n, q] * flux[c, n, q] / (scale[q] * volume)
            _hour(
                hour,
                par,
                temp_s,
                air[h],
                vapour[h],
                wind[h],
                sun[h],
                rain[h],
                mean,
                depth,
                outflow,
                row_seconds,
            )
            for q in range(members):
                a_xy[q] += hour[H_A, q] / rows
                least[q] = min(least[q], hour[H_ME, q])
                most[q] = max(most[q], RAIN_DB if hour[H_RAIN, q] > ZERO else hour[H_ME, q])
            for c in range(kinds):
                face = faces[face_of[c]]
                end = face[6] == 2
                _face_flux(
                    flux[c],
                    table[c],
                    node[1 if end else 0],
                    hour,
                    par,
                    per_beta,
                    par[SIZE_Z] if end else par[SIZE_XY],
                    cells[face[6], face[7]],
                    f4(face[8]),
                    end,
                    first[c],
                    last[c],
                )
        for c in range(kinds):
            scale = par[SIZE_Z] if faces[face_of[c], 6] == 2 else par[SIZE_XY]
            for n in range(NODES):
                for q in range(members):
                    table[c, n, q] /= rows * scale[q]
            _reach_out(table[c], first[c], last[c], least, most)
        for q in range(members):
            a_z[q] = a_xy[q] / (par[SIZE_Z, q] * par[SIZE_Z, q])
            a_xy[q] /= par[SIZE_XY, q] * par[SIZE_XY, q]

        seconds = f4(3600.0) * f4(taken)
        need = f4(1.1) * seconds * _fastest(start, par, a_xy, a_z, g_xy, g_z, gone[2])
        stages = 1
        while HALF * f4(stages * stages + stages) < need:
            stages += 1
        stages_taken += stages
        unit = TWO / f4(stages * stages + stages) * seconds
        gone[:] = ZERO
        now, old = one, other
        now[:] = ZERO
        now_gone, old_gone = gone[0], gone[1]
        for s in range(1, stages + 1):
            back = f4((s - 1.0) / s)
            dt = unit if s == 1 else unit * f4((2.0 * s - 1.0) / s)
            _stage(start4, now, old, across, along, par, per_beta, a_xy, a_z, g[0], g[1], g[2], back, dt)
            leaving = gone[2]
            leaving[:] = ZERO
            for f in range(nf):
                _let_out(start4, now, old, faces[f], cells, table[faces[f, 9]], dt, leaving, spot)
            for q in range(members):
                old_gone[q] = now_gone[q] + back * (now_gone[q] - old_gone[q]) + dt * leaving[q] / volume
            now_gone, old_gone = old_gone, now_gone
            now, old = old, now
        m += now
        for q in range(members):
            total[q] += now_gone[q]
        h0 += taken

    _average(flat, share, average)
    out_mean[hours // 24 - 1] = average
    out_lost[hours // 24 - 1] = total
    return stages_taken
