"""The same equations given to a general library for partial differential equations, FiPy (finite volumes, implicit).

It is chosen because its grids may be uneven: thin cells at the faces are what this problem needs.
FiPy builds and solves the linear system of each step (its own conjugate gradients or LU over scipy); what it cannot
know, the coefficients and the surface's balance, is computed in compiled code, as for the other rivals.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.cells import cells
from benchmarks.problem import Problem
from benchmarks.rival import TookTooLongError, flux, potential

# Which of the solvers that may be installed FiPy uses; read when it is imported.
os.environ.setdefault("FIPY_SOLVERS", "scipy")
NUDGE = 1e-5


@dataclass(frozen=True)
class General:
    """FiPy with these cells, hours a step and sweeps a step."""

    counts: tuple[int, int, int]
    first_m: float
    first_end_m: float
    step_hours: int
    sweeps: int

    @property
    def name(self) -> str:
        size = "x".join(map(str, self.counts))
        return f"FiPy, {self.step_hours} h, {self.sweeps} sweeps, {size} cells"

    def run(self, problem: Problem, days: int, limit_s: float) -> tuple[NDArray[np.float64], float]:
        """Daily mean moisture of the base member, and seconds taken after everything was compiled.

        TookTooLongError past the limit.
        """
        import fipy

        dx, dy, dz = cells(problem.shape, self.counts, self.first_m, self.first_end_m)
        mesh = fipy.Grid3D(dx=dx, dy=dy, dz=dz)
        p = np.array([float(row[0]) for row in problem.members(1)])
        air = np.stack([np.asarray(series[:, 0], dtype=np.float64) for series in problem.air], axis=1)
        m = fipy.CellVariable(mesh=mesh, value=p[14], hasOld=True)
        coefficient = fipy.FaceVariable(mesh=mesh, value=1e-10)
        pull, push = (fipy.CellVariable(mesh=mesh, value=0.0) for _ in range(2))
        equation = fipy.TransientTerm() == (
            fipy.DiffusionTerm(coeff=coefficient) + push - fipy.ImplicitSourceTerm(coeff=pull)
        )
        faces = _Faces(mesh, (dx, dy, dz), p)
        s = problem.shape
        depth = 1.0 / (2.0 * (1.0 / s.thickness_m + 1.0 / s.width_m + 1.0 / s.length_m))
        volume = np.asarray(mesh.cellVolumes)
        share = volume / volume.sum()
        dt = 3600.0 * self.step_hours
        means = [float(share @ m.value)]
        temp, leaving = float(air[0, 0]), 0.0
        faces.coefficients(m.value, 20.0, p)
        faces.outward(m.value, 20.0, air[0], p)
        began = time.process_time()
        for row in range(0, days * 24, self.step_hours):
            if time.process_time() - began > limit_s:
                raise TookTooLongError(limit_s, row / 24)
            sky = air[row : row + self.step_hours].mean(axis=0)
            temp, between = _warmed(temp, sky, p, depth, float(share @ m.value), leaving, dt)
            m.updateOld()
            for _ in range(self.sweeps):
                coefficient.setValue(faces.coefficients(m.value, between, p))
                out, slope = faces.outward(m.value, between, sky, p)
                pull.setValue(slope)
                push.setValue(slope * m.value - out)
                equation.sweep(var=m, dt=dt)
            leaving = float(share @ (pull.value * m.value - push.value))
            if (row + self.step_hours) % 24 == 0:
                means.append(float(share @ m.value))
        return np.array(means), time.process_time() - began


def _warmed(
    temp: float, sky: NDArray[np.float64], p: Any, depth: float, mean: float, leaving: float, dt: float
) -> tuple[float, float]:
    """The piece's temperature after the step and its mean over it; the exact solution for constant air."""
    film = 5.0 + 4.0 * p[11] * sky[2]
    loss = max(0.3, p[6] * (film + 1.35))
    goal = sky[0] + min(max((0.65 * p[12] * sky[3] - 2.5e6 * p[8] * depth * leaving) / loss, -12.0), 25.0)
    tau = p[8] * (1.3 + 4.2 * mean) * 1000.0 * depth / loss
    after = goal + (temp - goal) * np.exp(-dt / tau)
    return float(after), float(goal + (temp - goal) * tau / dt * (1.0 - np.exp(-dt / tau)))


class _Faces:
    """Which faces lie between which cells, and which are open to the air."""

    def __init__(self, mesh: Any, widths: tuple[NDArray[np.float64], ...], p: Any) -> None:
        normal = np.abs(np.asarray(mesh.faceNormals))
        self.along = normal[2] > 0.5
        ends = np.ma.filled(np.ma.asarray(mesh.faceCellIDs), -1)
        self.first, self.second = ends[0], np.where(ends[1] < 0, ends[0], ends[1])
        outside = np.asarray(mesh.exteriorFaces.value)
        centre = np.asarray(
            mesh.faceCenters.value if hasattr(mesh.faceCenters, "value") else mesh.faceCenters
        )
        axis = normal.argmax(axis=0)
        last = np.array([width.sum() for width in widths])
        far = centre[axis, np.arange(len(axis))] > 0.5 * last[axis]
        bark = outside & ~far & (axis == 1)  # the near end of the width is the barked face
        self.open = np.flatnonzero((outside & far) | bark)
        self.film_share = np.where(bark[self.open], p[7], 1.0)
        self.cell = self.first[self.open]
        self.area_share = np.asarray(mesh._faceAreas)[self.open] / np.asarray(mesh.cellVolumes)[self.cell]
        # From the cell's middle to its face: half its width along the face's direction.
        middle = np.asarray(
            mesh.cellCenters.value if hasattr(mesh.cellCenters, "value") else mesh.cellCenters
        )
        at = axis[self.open]
        self.half = np.abs(centre[at, self.open] - middle[at, self.cell])

    def coefficients(self, m: NDArray[np.float64], temp: float, p: Any) -> NDArray[np.float64]:
        """The integral mean of D between the two cells of each face; nothing through the outer faces."""
        a = _scale(temp, p)
        one, two = m[self.first], m[self.second]
        two = np.where(np.abs(one - two) < NUDGE, one + NUDGE, two)
        found = np.where(
            self.along,
            potential(one, p, True) - potential(two, p, True),
            potential(one, p, False) - potential(two, p, False),
        )
        found = a * found / (one - two)
        found[self.first == self.second] = 0.0
        found[self.open] = 0.0
        return np.asarray(found)

    def outward(
        self, m: NDArray[np.float64], temp: float, sky: NDArray[np.float64], p: Any
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Loss of every cell through its open faces [1/s], and its slope in the cell's moisture."""
        a = _scale(temp, p)
        film = 5.0 + 4.0 * p[11] * sky[2]
        kg = p[6] * film / (1200.0 * 0.9 * 461.5 * (sky[0] + 273.15)) / p[8] * self.film_share
        psat = 611.2 * np.exp(17.62 * temp / (243.12 + temp))
        pcap = min(psat, 611.2 * np.exp(22.46 * temp / (272.62 + temp)))
        along = self.along[self.open]
        here = m[self.cell]
        now, then = (
            flux(x, p, along, a / self.half, kg, sky[1], psat, pcap, temp) for x in (here, here + NUDGE)
        )
        slope = np.maximum((then - now) / NUDGE, 0.0)
        size = len(m)
        return (
            np.bincount(self.cell, now * self.area_share, minlength=size),
            np.bincount(self.cell, slope * self.area_share, minlength=size),
        )


def _scale(temp: float, p: Any) -> float:
    frost = 1.0 - (1.0 - p[4]) * min(1.0, max(0.0, -temp / 2.0))
    return float(p[0] * np.exp(-p[2] * (1.0 / (temp + 273.15) - 1.0 / 298.15)) * frost)
