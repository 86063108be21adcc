"""The same equations given to a general solver, `scipy.integrate.solve_ivp`.

The right-hand side is compiled too, so that what is compared is the method and not the language.
State: the cells' moistures, then the temperature of the piece. One member at a time.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.sparse import coo_matrix

from benchmarks.cells import cells
from benchmarks.problem import Problem


@numba.njit(cache=True)
def _potential(m: float, p: Any, along: bool) -> float:
    u = max(0.30 - m, 0.0) / 0.30
    grow = 4.0 if along else 0.0
    r = p[5] if along else 1.0
    below = 0.30 / p[3] * np.exp(-p[3] * u) * (1.0 + grow * u + grow / p[3])
    return r * (below + p[1] * max(m - 0.30, 0.0))


@numba.njit(cache=True)
def _flux(
    cell: float, p: Any, along: bool, c: float, a: float, pa: float, psat: float, pcap: float, t: float
) -> float:
    """Outward flux through one face, by Newton's method on the surface's relative humidity."""
    w = 349 + 1.29 * t + 0.0135 * t * t
    k = 0.805 + 0.000736 * t - 0.00000273 * t * t
    k1 = 6.27 - 0.00938 * t - 0.000303 * t * t
    k2 = max(0.0, 1.91 + 0.0407 * t - 0.000293 * t * t)
    here = _potential(cell, p, along)
    top = pcap / psat
    h = top
    for n in range(8):
        kh = k * h
        bottom = 1 + k1 * kh + k1 * k2 * kh * kh
        upper = k1 * kh + 2 * k1 * k2 * kh * kh
        m = 18 / w * (kh / (1 - kh) + upper / bottom)
        dm = (
            18
            / w
            * k
            * (
                1 / (1 - kh) ** 2
                + (k1 * (1 + 4 * k2 * kh) - upper * k1 * (1 + 2 * k2 * kh) / bottom) / bottom
            )
        )
        u = max(0.30 - m, 0.0) / 0.30
        d = np.exp(-p[3] * u) * (p[5] * (1 + 4 * u) if along else 1.0)
        rest = c * (here - _potential(m, p, along)) - a * (h * psat - pa)
        if n == 0 and rest >= 0.0:
            break
        step = rest / (c * d * dm + a * psat)
        h = min(max(h + step, 0.001), top)
        if abs(step) < 1e-5:
            break
    out = a * (min(h * psat, pcap) - pa)
    settled = k * min(pa / psat, 0.995)
    me = (
        18
        / w
        * (
            settled / (1 - settled)
            + (k1 * settled + 2 * k1 * k2 * settled**2) / (1 + k1 * settled + k1 * k2 * settled**2)
        )
    )
    return max(out, 0.0) if cell > me else min(out, 0.0)


@numba.njit(cache=True)
def potential(m: Any, p: Any, along: bool) -> Any:
    """The integral of D over moisture, for an array, over the coefficient at fibre saturation."""
    found = np.empty_like(m)
    for i in range(len(m)):
        found[i] = _potential(m[i], p, along)
    return found


@numba.njit(cache=True)
def flux(
    cell: Any, p: Any, along: Any, c: Any, film: Any, pa: float, psat: float, pcap: float, t: float
) -> Any:
    """Outward flux through many faces: `_flux` with `film` for each of them."""
    found = np.empty_like(cell)
    for i in range(len(cell)):
        found[i] = _flux(cell[i], p, along[i], c[i], film[i], pa, psat, pcap, t)
    return found


@numba.njit(cache=True)
def _rates(t: float, y: Any, dx: Any, dy: Any, dz: Any, p: Any, air: Any, depth: float) -> Any:
    nx, ny, nz = len(dx), len(dy), len(dz)
    row = min(int(t / 3600.0), air.shape[0] - 1)
    ta, pa, wind, sun = air[row, 0], air[row, 1], air[row, 2], air[row, 3]
    ts = y[-1]
    frost = 1.0 - (1.0 - p[4]) * min(1.0, max(0.0, -ts / 2.0))
    a = p[0] * np.exp(-p[2] * (1 / (ts + 273.15) - 1 / 298.15)) * frost
    film = 5.0 + 4.0 * p[11] * wind
    kg = p[6] * film / (1200.0 * 0.9 * 461.5 * (ta + 273.15)) / p[8]
    psat = 611.2 * np.exp(17.62 * ts / (243.12 + ts))
    pcap = min(psat, 611.2 * np.exp(22.46 * ts / (272.62 + ts)))
    m = y[:-1].reshape(nx, ny, nz)
    across, along = np.empty_like(m), np.empty_like(m)
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                across[i, j, k] = _potential(m[i, j, k], p, False)
                along[i, j, k] = _potential(m[i, j, k], p, True)
    out = np.zeros_like(y)
    change = out[:-1].reshape(nx, ny, nz)
    lost, volume, mean = 0.0, 0.0, 0.0
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                v = dx[i] * dy[j] * dz[k]
                volume += v
                mean += v * m[i, j, k]
                if i < nx - 1:
                    f = a * (across[i, j, k] - across[i + 1, j, k]) / (0.5 * (dx[i] + dx[i + 1]))
                    change[i, j, k] -= f / dx[i]
                    change[i + 1, j, k] += f / dx[i + 1]
                else:
                    f = _flux(m[i, j, k], p, False, a / (0.5 * dx[i]), kg, pa, psat, pcap, ts)
                    change[i, j, k] -= f / dx[i]
                    lost += f * v / dx[i]
                if j < ny - 1:
                    f = a * (across[i, j, k] - across[i, j + 1, k]) / (0.5 * (dy[j] + dy[j + 1]))
                    change[i, j, k] -= f / dy[j]
                    change[i, j + 1, k] += f / dy[j + 1]
                else:
                    f = _flux(m[i, j, k], p, False, a / (0.5 * dy[j]), kg, pa, psat, pcap, ts)
                    change[i, j, k] -= f / dy[j]
                    lost += f * v / dy[j]
                if j == 0:
                    f = _flux(m[i, j, k], p, False, a / (0.5 * dy[j]), kg * p[7], pa, psat, pcap, ts)
                    change[i, j, k] -= f / dy[j]
                    lost += f * v / dy[j]
                if k < nz - 1:
                    f = a * (along[i, j, k] - along[i, j, k + 1]) / (0.5 * (dz[k] + dz[k + 1]))
                    change[i, j, k] -= f / dz[k]
                    change[i, j, k + 1] += f / dz[k + 1]
                else:
                    f = _flux(m[i, j, k], p, True, a / (0.5 * dz[k]), kg, pa, psat, pcap, ts)
                    change[i, j, k] -= f / dz[k]
                    lost += f * v / dz[k]
    loss = max(0.3, p[6] * (film + 1.35))
    cooling = 2.5e6 * p[8] * depth * lost / volume
    goal = ta + min(max((0.65 * p[12] * sun - cooling) / loss, -12.0), 25.0)
    tau = p[8] * (1.3 + 4.2 * mean / volume) * 1000.0 * depth / loss
    out[-1] = (goal - ts) / tau
    return out


class TookTooLongError(Exception):
    """A run was given up: it had taken `limit_s` seconds of processor and was at `day`."""

    def __init__(self, limit_s: float, day: float) -> None:
        super().__init__(f"given up after {limit_s:.0f} s, on day {day:.0f}")


@dataclass(frozen=True)
class Rival:
    """A method of `solve_ivp`, the grid and tolerance it is given."""

    method: str
    counts: tuple[int, int, int]
    first_m: float
    first_end_m: float
    rtol: float

    @property
    def name(self) -> str:
        return f"solve_ivp {self.method}, rtol {self.rtol:g}, {'x'.join(map(str, self.counts))} cells"

    def run(self, problem: Problem, days: int, limit_s: float) -> tuple[NDArray[np.float64], float]:
        """Daily mean moisture of the base member, and seconds taken after compiling.

        TookTooLongError past the limit.
        """
        dx, dy, dz = cells(problem.shape, self.counts, self.first_m, self.first_end_m)
        p = np.array([float(row[0]) for row in problem.members(1)])
        air = np.stack([np.asarray(series[:, 0], dtype=np.float64) for series in problem.air], axis=1)
        s = problem.shape
        faces = 1 / s.thickness_m + 1 / s.width_m + 1 / s.length_m
        args = (dx, dy, dz, p, air, 1 / (2 * faces))
        y = np.concatenate([np.full(len(dx) * len(dy) * len(dz), p[14]), air[0, :1]])
        _rates(0.0, y, *args)
        options: dict[str, Any] = {"rtol": self.rtol, "atol": 1e-4, "max_step": 6 * 3600.0}
        if self.method in ("BDF", "Radau"):
            options["jac_sparsity"] = _neighbours(len(dx), len(dy), len(dz))
        elif self.method == "LSODA":
            # It knows bands only: the furthest neighbour lies one layer of cells away.
            options["lband"] = options["uband"] = len(dy) * len(dz)
        began = time.process_time()

        def rates(t: float, y: Any, *rest: Any) -> Any:
            # A look at the clock takes a thousandth of the rest.
            if time.process_time() - began > limit_s:
                raise TookTooLongError(limit_s, t / 86400.0)
            return _rates(t, y, *rest)

        found = solve_ivp(
            rates,
            (0.0, days * 86400.0),
            y,
            self.method,
            t_eval=np.arange(days + 1) * 86400.0,
            args=args,
            **options,
        )
        seconds = time.process_time() - began
        if not found.success:
            raise ArithmeticError(found.message)
        volume = (dx[:, None, None] * dy[:, None] * dz).ravel()
        return np.asarray(volume @ found.y[:-1] / volume.sum()), seconds


def _neighbours(nx: int, ny: int, nz: int) -> Any:
    """Which cells act on which: neighbours. The temperature's weak hold on all is left out."""
    number = np.arange(nx * ny * nz).reshape(nx, ny, nz)
    rows, columns = [number.ravel(), [number.size]], [number.ravel(), [number.size]]
    for axis in range(3):
        low = np.take(number, range(number.shape[axis] - 1), axis).ravel()
        high = np.take(number, range(1, number.shape[axis]), axis).ravel()
        rows += [low, high]
        columns += [high, low]
    row, column = np.concatenate(rows), np.concatenate(columns)
    size = number.size + 1
    return coo_matrix((np.ones(len(row)), (row, column)), shape=(size, size))
