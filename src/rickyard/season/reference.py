"""The drying model written plainly: slow, in double precision, without tables, stages or vector tricks.

This is the same physics as `kernel`, written a second time so that each can be held against the other.
It is what tests trust, and where the equations are to be read.

Symbols: M moisture (water / oven-dry mass), T temperature [deg C], rho0 oven-dry mass per green volume
[kg/m3], h relative humidity in the wood's surface (fraction), u = (0.30 - M) / 0.30 dryness.
Sources of the equations: transport after Siau, Transport Processes in Wood (1984), from memory; equilibrium
moisture Wood Handbook eq. 4-5 (FPL-GTR-282); vapour pressures Magnus in the WMO form, from memory; the
rest as the comments say.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rickyard.season.grid import full_cells, half_cells
from rickyard.season.models import DAY_H, AirHours, MemberConstants, PieceShape, Run
from rickyard.season.zones import start_profile

Floats = NDArray[np.floating]

FSP = 0.30
GRAIN = 4.0
LATENT_J_KG = 2.5e6
VAPOUR_J_KG_K = 461.5
RAIN_DB, RAIN_MM = 0.60, 0.1


def psat_water_pa(temp_c: Floats) -> Floats:
    """Saturation vapour pressure over water [Pa]."""
    return np.asarray(611.2 * np.exp(17.62 * temp_c / (243.12 + temp_c)))


def psat_ice_pa(temp_c: Floats) -> Floats:
    """Saturation vapour pressure over ice [Pa]."""
    return np.asarray(611.2 * np.exp(22.46 * temp_c / (272.62 + temp_c)))


def emc(h: Floats, temp_c: Floats) -> Floats:
    """Equilibrium moisture at relative humidity h."""
    w = 349 + 1.29 * temp_c + 0.0135 * temp_c**2
    k = 0.805 + 0.000736 * temp_c - 0.00000273 * temp_c**2
    k1 = 6.27 - 0.00938 * temp_c - 0.000303 * temp_c**2
    k2 = np.maximum(0.0, 1.91 + 0.0407 * temp_c - 0.000293 * temp_c**2)
    kh = k * h
    hydrates = (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)
    return np.asarray(18.0 / w * (kh / (1 - kh) + hydrates))


def potential_across(m: Floats, beta: Floats, k_free: Floats) -> Floats:
    """Integral over M of d: exp(-beta u) below fibre saturation, k_free above."""
    u = np.maximum(FSP - m, 0.0) / FSP
    return np.asarray(FSP / beta * np.exp(-beta * u) + k_free * np.maximum(m - FSP, 0.0))


def potential_along(m: Floats, beta: Floats, k_free: Floats, r_l: Floats) -> Floats:
    """Integral over M of r d, with r = r_L (1 + 4 u) below fibre saturation and r_L above."""
    u = np.maximum(FSP - m, 0.0) / FSP
    below = FSP / beta * np.exp(-beta * u) * (1 + GRAIN * u + GRAIN / beta)
    return np.asarray(r_l * (below + k_free * np.maximum(m - FSP, 0.0)))


@dataclass
class Piece:
    """One piece of each member on its cells: volumes, conductances, faces.

    Arrays run over (x, y, z, members).
    """

    shape: PieceShape
    constants: MemberConstants
    axes: tuple[Floats, Floats, Floats]

    def __post_init__(self) -> None:
        self.c = MemberConstants(*(np.asarray(row, dtype=np.float64) for row in self.constants))
        members = len(self.c.start_db)
        scales = (self.c.size_xy, self.c.size_xy, self.c.size_z)
        self.widths = [
            axis.reshape([-1 if n == at else 1 for n in range(4)]) * scale
            for at, (axis, scale) in enumerate(zip(self.axes, scales, strict=True))
        ]
        self.volume = self.widths[0] * self.widths[1] * self.widths[2]
        self.share = self.volume / self.volume.sum(axis=(0, 1, 2))
        # Open faces: axis, which end, barked.
        bark = self.shape.bark_faces
        self.faces = [(0, -1, bark >= 3), (1, -1, bark == 4), (2, -1, False)]
        if bark in (1, 3):
            self.faces.append((1, 0, True))
        self.surface = sum(self.area(axis, end).sum(axis=(0, 1, 2)) for axis, end, _ in self.faces)
        self.depth = self.volume.sum(axis=(0, 1, 2)) / self.surface
        self.start = np.broadcast_to(self.c.start_db, (*self.volume.shape[:3], members)).copy()
        if self.shape.zones is not None:
            self.start *= start_profile(self.axes, bark, self.shape.zones)[..., None]

    def area(self, axis: int, end: int) -> Floats:
        """Areas of the cells' outer faces at one end of an axis [m2]."""
        layer = (slice(None),) * axis + (slice(end, None) if end == -1 else slice(0, 1),)
        return np.asarray(self.volume[layer] / self.widths[axis][layer])

    def mean(self, m: Floats) -> Floats:
        """Mean moisture of the whole piece, by member."""
        return np.asarray((self.share * m).sum(axis=(0, 1, 2)))


@dataclass
class Hour:
    """What the air and the piece's temperature do in one hour; arrays by member."""

    diffusion: Floats  # k_D D_S A(T) [m2/s]
    film: Floats  # k_g / rho0 [m/(s Pa)]
    vapour_pa: Floats
    psat: Floats
    pcap: Floats  # psat, over ice below freezing
    temp_c: Floats
    rain: Floats  # share of the surface held wet


def hour_of(piece: Piece, temp_s: Floats, air: AirHours, row: int, mean: Floats, j: Floats) -> Hour:
    """Moves the piece's temperature `temp_s` through one hour in place; gives the hour's conditions.

    `j`: mean flux of water out of the surface in the last hour [kg/(m2 s)].
    """
    c = piece.c
    t_air, vapour, wind, sun, rain = (np.asarray(series[row], dtype=np.float64) for series in air)
    film = 5.0 + 4.0 * c.wind_share * wind  # W/(m2 K)
    loss = np.maximum(0.3, c.phi * (film + 1.35))
    warming = np.clip((0.65 * c.sun_share * sun - LATENT_J_KG * j) / loss, -12.0, 25.0)
    # 1.3 and 4.2 kJ/(kg K): dry wood and water.
    tau = c.rho0_kg_m3 * (1.3 + 4.2 * mean) * 1000.0 * piece.depth / loss
    before = temp_s.copy()
    temp_s[:] = t_air + warming + (before - t_air - warming) * np.exp(-3600.0 / tau)
    t = 0.5 * (before + temp_s)
    frost = 1.0 - (1.0 - c.k_frost) * np.minimum(1.0, np.maximum(0.0, -t / 2.0))
    warmth = np.exp(-c.activation_k * (1.0 / (t + 273.15) - 1.0 / 298.15))
    psat = psat_water_pa(t)
    return Hour(
        diffusion=c.k_d_m2_s * warmth * frost,
        # Lewis analogy: mass transfer is heat transfer over the heat capacity of air.
        film=c.phi * film / (1200.0 * 0.9 * VAPOUR_J_KG_K * (t_air + 273.15)) / c.rho0_kg_m3,
        vapour_pa=np.broadcast_to(vapour, t.shape),
        psat=psat,
        pcap=np.minimum(psat, psat_ice_pa(t)),
        temp_c=t,
        rain=np.where(rain > RAIN_MM, c.rain_share, 0.0),
    )


def face_flux(
    piece: Piece, m: Floats, hour: Hour, face: tuple[int, int, bool], iterations: int = 16
) -> Floats:
    """Outward flux [m/s] of moisture through the cells of one face.

    The half cell brings c (potential of cell - potential of surface), the film takes a (p_s - p_a), with
    p_s = h p_sat, no more than over ice, and the surface at the equilibrium moisture of h.
    Solved by Newton's method inside a shrinking bracket.
    """
    axis, end, barked = face
    c = piece.c
    layer = (slice(None),) * axis + (slice(-1, None) if end == -1 else slice(0, 1),)
    cell = m[layer]
    conductance = hour.diffusion / (0.5 * piece.widths[axis][layer])
    film = hour.film * (c.bark if barked else 1.0)

    def potential(moisture: Floats) -> Floats:
        if axis == 2:
            return potential_along(moisture, c.beta, c.k_free, c.r_l)
        return potential_across(moisture, c.beta, c.k_free)

    here = potential(cell)
    top = hour.pcap / hour.psat

    def rest(h: Floats) -> Floats:
        return np.asarray(
            conductance * (here - potential(emc(h, hour.temp_c))) - film * (h * hour.psat - hour.vapour_pa)
        )

    low = np.zeros_like(cell)
    high = np.zeros_like(cell) + top
    h = 0.5 * (low + high)
    for _ in range(iterations):
        value = rest(h)
        low, high = np.where(value > 0.0, h, low), np.where(value > 0.0, high, h)
        slope = (rest(h + 1e-6) - value) / 1e-6
        step = h - value / slope
        h = np.where((step > low) & (step < high), step, 0.5 * (low + high))
    most = film * (hour.pcap - hour.vapour_pa)
    out = np.where(rest(np.zeros_like(cell) + top) >= 0.0, most, film * (h * hour.psat - hour.vapour_pa))
    # Wood wetter than the air's equilibrium never gains, drier wood never loses.
    settled = emc(np.minimum(hour.vapour_pa / hour.psat, 0.995), hour.temp_c)
    out = np.where(cell > settled, np.maximum(out, 0.0), np.minimum(out, 0.0))
    soaked = np.minimum(conductance * (here - potential(np.full_like(cell, RAIN_DB))), 0.0)
    return np.asarray(out + hour.rain * (soaked - out))


def rates(piece: Piece, m: Floats, hour: Hour, iterations: int = 16) -> tuple[Floats, Floats]:
    """dM/dt of every cell [1/s], and the loss of mean moisture through the faces [1/s] by member."""
    c = piece.c
    change = np.zeros_like(m)
    for axis in range(3):
        if axis == 2:
            potential = potential_along(m, c.beta, c.k_free, c.r_l)
        else:
            potential = potential_across(m, c.beta, c.k_free)
        width = piece.widths[axis]
        lower = (slice(None),) * axis + (slice(None, -1),)
        upper = (slice(None),) * axis + (slice(1, None),)
        flux = hour.diffusion * (potential[lower] - potential[upper]) / (0.5 * (width[lower] + width[upper]))
        change[lower] -= flux / width[lower]
        change[upper] += flux / width[upper]
    lost = np.zeros(m.shape[3])
    for face in piece.faces:
        axis, end, _ = face
        layer = (slice(None),) * axis + (slice(-1, None) if end == -1 else slice(0, 1),)
        out = face_flux(piece, m, hour, face, iterations)
        change[layer] -= out / piece.widths[axis][layer]
        lost += (piece.area(axis, end) * out).sum(axis=(0, 1, 2))
    return change, np.asarray(lost / piece.volume.sum(axis=(0, 1, 2)))


@dataclass(frozen=True)
class PlainVolumes:
    """The plain model behind the common interface: Euler steps of at most an hour, a coarse grid."""

    first_m: float = 0.004
    growth: float = 1.6
    counts: tuple[int, int, int] = (4, 6, 4)

    @property
    def name(self) -> str:
        return "plain-volumes-3d"

    def cells(self, shape: PieceShape) -> tuple[Floats, Floats, Floats]:
        """Cell widths along thickness, width and length [m]; halves, but the width if bark is on one side."""
        nx, ny, nz = self.counts
        x = half_cells(shape.thickness_m / 2, self.first_m, nx, self.growth)
        if shape.bark_faces in (1, 3):
            y = full_cells(shape.width_m, self.first_m, ny, self.growth)
        else:
            y = half_cells(shape.width_m / 2, self.first_m, ny // 2, self.growth)
        return x, y, half_cells(shape.length_m / 2, self.first_m, nz, self.growth)

    def run(self, shape: PieceShape, constants: MemberConstants, air: AirHours, days: int) -> Run:
        """See `DryingModel.run`."""
        piece = Piece(shape, constants, self.cells(shape))
        m = piece.start
        members = m.shape[3]
        mean = np.empty((days + 1, members), dtype=np.float64)
        lost = np.zeros((days + 1, members), dtype=np.float64)
        mean[0] = piece.mean(m)
        total = np.zeros(members)
        leaving: Floats = np.zeros(members)
        temp_s = np.broadcast_to(np.asarray(air.air_c[0], dtype=np.float64), (members,)).copy()
        for row in range(days * DAY_H):
            # kg/(m2 s) from the loss of mean moisture: rho0 x volume / surface.
            j = piece.c.rho0_kg_m3 * piece.depth * leaving
            hour = hour_of(piece, temp_s, air, row, piece.mean(m), j)
            steps = int(np.ceil(3600.0 * self._fastest(piece, hour)))
            for _ in range(steps):
                change, leaving = rates(piece, m, hour)
                m = m + 3600.0 / steps * change
                total += 3600.0 / steps * leaving
            if row % DAY_H == DAY_H - 1:
                mean[row // DAY_H + 1], lost[row // DAY_H + 1] = piece.mean(m), total
        return Run(mean.astype(np.float32), lost.astype(np.float32))

    def _fastest(self, piece: Piece, hour: Hour) -> float:
        """A bound on the rate at which any cell empties [1/s]: the largest D over the smallest cells."""
        c = piece.c
        d = np.maximum(1.0, c.k_free)
        # r exp(-beta u) is largest between dry and fibre saturation.
        u = np.linspace(0.0, 1.0, 21)[:, None]
        r = c.r_l * np.maximum(c.k_free, (np.exp(-c.beta * u) * (1 + GRAIN * u)).max(axis=0))
        rate = sum(
            3.0 * factor / piece.widths[axis].min(axis=(0, 1, 2)) ** 2
            for axis, factor in enumerate((d, d, r))
        )
        return float((hour.diffusion * rate).max())
