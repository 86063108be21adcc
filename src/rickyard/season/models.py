"""Drying models: one interface, and the three-dimensional piece behind it.

A drying model takes a piece of wood, the constants of each member and the hours of the air, and gives the
mean moisture of the piece at the end of each day.
Every model keeps to the contract of `DryingModel`, which one property checker in the tests holds them to.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from rickyard.season import kernel, kernel_terms
from rickyard.season.grid import graded_cells, half_cells
from rickyard.season.zones import Zones, start_profile

Array = NDArray[np.floating]
Floats = NDArray[np.floating]
DAY_H = 24
GAS_J_MOL_K = 8.314


@dataclass(frozen=True)
class PieceShape:
    """The mean piece: a box [m].

    `bark_faces`: 0, 1 (a split: one of the faces that bound the width), 3 (a half: all but one of those) or
    4 (a round, taken as a square). `zones`: sapwood under the bark and heartwood behind; None: one wood.
    """

    thickness_m: float
    width_m: float
    length_m: float
    bark_faces: int
    zones: Zones | None = None


class MemberConstants(NamedTuple):
    """Constants of the members, each an array of shape (members,)."""

    #: Coefficient across the grain at fibre saturation and 25 deg C, k_D D_S [m2/s].
    k_d_m2_s: Array
    #: Coefficient above fibre saturation over that at it [unitless].
    k_free: Array
    #: Activation energy over the gas constant [K].
    activation_k: Array
    #: Fall of ln D from fibre saturation to dry [unitless].
    beta: Array
    #: Multiplier of the coefficient in frozen wood [unitless].
    k_frost: Array
    #: Ratio along / across the grain at fibre saturation [unitless].
    r_l: Array
    #: Exposure of the faces to moving air [unitless].
    phi: Array
    #: Share of the flux that bark lets through [unitless].
    bark: Array
    #: Oven-dry mass per green volume [kg/m3].
    rho0_kg_m3: Array
    #: Factors on thickness and width, and on length [unitless].
    size_xy: Array
    size_z: Array
    #: Share of the wind at 10 m that moves in the stack [unitless].
    wind_share: Array
    #: Share of the horizontal radiation that a piece takes in [unitless].
    sun_share: Array
    #: Share of the surface that rain wets [unitless].
    rain_share: Array
    #: Moisture at the start [water / oven-dry mass].
    start_db: Array


class AirHours(NamedTuple):
    """Hourly means, arrays of shape (hours, members) or (hours, 1) for the same air for all."""

    air_c: Array
    vapour_pa: Array
    wind_m_s: Array
    sun_w_m2: Array
    rain_mm: Array


class Run(NamedTuple):
    """What a model gives: arrays of shape (days + 1, members); row 0 is the start."""

    #: Mean moisture of the whole piece [water / oven-dry mass].
    mean_db: Array
    #: What left through the faces since the start, in the same unit, summed by itself.
    lost_db: Array


@dataclass(frozen=True)
class Field:
    """Moisture inside the pieces.

    Cell widths along thickness, width and length [m] and the moisture [water / oven-dry mass], shape (nx, ny,
    nz, members). Thickness and length are halves, from the middle (first) to the face (last); so is the width,
    but for pieces with bark on one side, where it runs from the bark to the open face.
    """

    x_m: Floats
    y_m: Floats
    z_m: Floats
    mc_db: NDArray[np.float32]
    shape: PieceShape

    @property
    def share(self) -> Floats:
        """Each cell's share of the volume, shape (nx, ny, nz)."""
        volume = self.x_m[:, None, None] * self.y_m[:, None] * self.z_m
        return np.asarray(volume / volume.sum())

    def mean_db(self) -> Floats:
        """Mean moisture by member."""
        return np.asarray(np.tensordot(self.share, self.mc_db, axes=3))

    def wettest_db(self, part: float = 0.1) -> Floats:
        """Mean moisture of the wettest `part` of the volume, by member."""
        share = self.share.ravel()
        cells = self.mc_db.reshape(len(share), -1)
        order = np.argsort(-cells, axis=0)
        volume = share[order]
        before = np.cumsum(volume, axis=0) - volume
        taken = np.clip(part - before, 0.0, volume)
        return np.asarray((taken * np.take_along_axis(cells, order, axis=0)).sum(axis=0) / part)


class DryingModel(Protocol):
    """A model of one piece drying in air.

    Whatever the scheme: what left and what stayed sum to the start; in constant air the mean goes to the
    air's equilibrium from both sides and does not pass it; a thicker or longer piece, colder or moister air
    never dries sooner; wood in ice-saturated frost loses nothing; a member's result does not depend on the
    other members.
    """

    @property
    def name(self) -> str: ...

    def run(self, shape: PieceShape, constants: MemberConstants, air: AirHours, days: int) -> Run:
        """The members' moistures for `days` days; `air` must hold as many."""
        ...


def siau_m2_s(specific_gravity: float) -> float:
    """Transverse coefficient at 30 % moisture and 25 deg C [m2/s], by specific gravity (green volume).

    Source: Siau, Transport Processes in Wood (1984), geometric model, from memory.
    """
    cell_wall = 7e-6 * float(np.exp(-(38500 - 29000 * 0.30) / (GAS_J_MOL_K * 298.15)))
    porosity = 1.0 - specific_gravity * (0.667 + 0.30)
    return float(cell_wall / ((1.0 - porosity) * (1.0 - porosity**0.5)))


@dataclass(frozen=True)
class FiniteVolumes:
    """The three-dimensional piece: compiled, single precision, members side by side.

    The defaults meet the benchmark's reference within 0.3 points and three days; see docs/accuracy.md.
    `first_m`, `first_end_m` and `first_bark_m` are the cells at the bare long faces, the ends and under bark
    [m]; of the cells across the width, `bark_cells` lie in the half under the bark. `lift` makes good for the
    lateness of coarse cells: two neighbours conduct as if nearer by lift x (width / whole length)^2. Its value
    brings seven pieces (splits, bare and barked, boards, rounds, logs) nearest to cells cut in two.
    `parts` cuts every cell into so many along each axis, for tables of convergence; `row_hours` averages the
    air over so many hours.
    """

    row_hours: int = 1
    step_hours: int = 24
    gentle_days: int = 4
    first_m: float = 0.0009
    first_end_m: float = 0.0025
    first_bark_m: float = 0.004
    growth: float = 2.5
    growth_end: float = 1.6
    counts: tuple[int, int, int] = (9, 14, 10)
    bark_cells: int = 6
    lift: float = 6.5
    parts: int = 1
    block: int = 32

    @property
    def name(self) -> str:
        return "finite-volumes-3d"

    def cells(self, shape: PieceShape) -> tuple[Floats, Floats, Floats]:
        """Cell widths along thickness, width and length [m]; halves, but the width if bark is on one side."""
        nx, ny, nz = self.counts
        half = shape.width_m / 2
        x = half_cells(shape.thickness_m / 2, self.first_m, nx, self.growth)
        y = half_cells(half, self.first_m, ny - self.bark_cells, self.growth)
        if shape.bark_faces in (1, 3):
            y = np.concatenate([graded_cells(half, self.first_bark_m, self.bark_cells, self.growth), y])
        z = half_cells(shape.length_m / 2, self.first_end_m, nz, self.growth_end)
        if self.parts > 1:
            x, y, z = (np.repeat(axis / self.parts, self.parts) for axis in (x, y, z))
        return x, y, z

    def run(self, shape: PieceShape, constants: MemberConstants, air: AirHours, days: int) -> Run:
        """See `DryingModel.run`. Members are taken in blocks of eight or more, hard-driven ones together."""
        return self._solve(shape, constants, air, days)[0]

    def field(self, shape: PieceShape, constants: MemberConstants, air: AirHours, day: int) -> Field:
        """Moisture inside the pieces at the beginning of a day, for a section or its wettest part."""
        axes = self.cells(shape)
        _, inside = self._solve(shape, constants, air, day)
        return Field(*axes, inside.astype(np.float32), shape)

    def _solve(
        self, shape: PieceShape, constants: MemberConstants, air: AirHours, days: int
    ) -> tuple[Run, NDArray[np.float64]]:
        axes = self.cells(shape)
        cells = np.zeros((3, max(len(axis) for axis in axes)), dtype=np.float32)
        for row, axis in zip(cells, axes, strict=True):
            row[: len(axis)] = axis
        nx, ny, nz = (len(axis) for axis in axes)
        whole = np.array([shape.thickness_m, shape.width_m, shape.length_m])
        lift = (self.lift / whole**2).astype(np.float32)
        faces = _faces(axes, shape.bark_faces)
        par = np.stack(constants[: kernel_terms.PARAMETERS]).astype(np.float32)
        start = np.asarray(constants.start_db, dtype=np.float32)
        members = len(start)
        mean = np.empty((days + 1, members), dtype=np.float32)
        lost = np.zeros((days + 1, members), dtype=np.float32)
        inside = np.empty((nx, ny, nz, members), dtype=np.float64)
        mean[0] = start
        profile = (
            np.ones((1, 1, 1)) if shape.zones is None else start_profile(axes, shape.bark_faces, shape.zones)
        )
        begin = profile[..., None] * start
        inside[:] = begin
        series = [_rows(one, days * DAY_H, self.row_hours) for one in air[:-1]]
        # Rain is yes or no: in a row it is what it is in half of the hours or more.
        wet = np.where(
            air.rain_mm > kernel_terms.RAIN_MM, np.float32(2.0 * kernel_terms.RAIN_MM), np.float32(0.0)
        )
        series.append(_rows(wet, days * DAY_H, self.row_hours))
        # The number of stages is that of a block's fastest member: like goes with like.
        order = np.argsort(par[kernel_terms.K_D] / par[kernel_terms.SIZE_XY] ** 2, kind="stable")
        for part in _blocks(members, self.block):
            who = order[part % members]
            hours = [_for_members(one, who) for one in series]
            moisture = np.empty((nx, ny, nz, len(who)), dtype=np.float64)
            out_mean = np.empty((days, len(who)), dtype=np.float32)
            out_lost = np.empty((days, len(who)), dtype=np.float32)
            # None of some thousand draws of extreme constants came out of bounds; if one ever does, the
            # shortest steps are tried.
            for step_hours in (self.step_hours, self.row_hours) if days else ():
                moisture[:] = begin[..., who]
                kernel.march(
                    moisture,
                    cells,
                    lift,
                    faces,
                    np.ascontiguousarray(par[:, who]),
                    hours[0][0].copy(),
                    *hours,
                    self.row_hours,
                    step_hours,
                    self.gentle_days,
                    out_mean,
                    out_lost,
                )
                if np.isfinite(out_mean).all():
                    break
            if days:
                mean[1:, who], lost[1:, who], inside[..., who] = out_mean, out_lost, moisture
        if not np.isfinite(mean).all():
            raise ArithmeticError("the drying model lost its footing: a moisture is not a number")
        return Run(mean, lost), inside


def _faces(axes: tuple[Floats, Floats, Floats], bark_faces: int) -> NDArray[np.int64]:
    """Rows of `kernel.march`'s face table."""
    nx, ny, nz = (len(axis) for axis in axes)
    faces = [
        [nx - 1, nx, 0, ny, 0, nz, 0, nx - 1, int(bark_faces >= 3)],
        [0, nx, ny - 1, ny, 0, nz, 1, ny - 1, int(bark_faces == 4)],
        [0, nx, 0, ny, nz - 1, nz, 2, nz - 1, 0],
    ]
    if bark_faces in (1, 3):
        faces.append([0, nx, 0, 1, 0, nz, 1, 0, 1])
    kinds: list[tuple[bool, np.float32, int]] = []
    for face in faces:
        kind = (face[6] == 2, np.float32(axes[face[6]][face[7]]), face[8])
        if kind not in kinds:
            kinds.append(kind)
        face.append(kinds.index(kind))
    return np.array(faces, dtype=np.int64)


def _blocks(members: int, size: int) -> list[NDArray[np.int64]]:
    """Places of the members block by block, each block a multiple of eight (the last filled by repeating)."""
    eights = -(-members // 8)
    count = max(1, -(-eights * 8 // size))
    bounds = [8 * (eights * i // count) for i in range(count + 1)]
    return [np.arange(a, b, dtype=np.int64) for a, b in pairwise(bounds)]


def _rows(series: Array, hours: int, row_hours: int) -> Array:
    """The first hours, in means of `row_hours`."""
    used = np.asarray(series[:hours], dtype=np.float32)
    if row_hours == 1:
        return used
    return np.asarray(used.reshape(-1, row_hours, used.shape[1]).mean(axis=1))


def _for_members(series: Array, who: NDArray[np.int64]) -> Array:
    """The rows of these members, laid out for the kernel."""
    if series.shape[1] == 1:
        return np.repeat(series, len(who), axis=1)
    return np.ascontiguousarray(series[:, who])
