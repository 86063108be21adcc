"""What each rival is given: from cheap to dear, until it errs no more than we do."""

from __future__ import annotations

from benchmarks.general import General
from benchmarks.rival import Rival

#: Cells (halves along thickness and length, whole along the width) and the widths of the outer ones [m].
COARSE = ((5, 8, 6), 0.002, 0.002)
MIDDLE = ((7, 12, 8), 0.0015, 0.0022)
FINE = ((9, 16, 11), 0.0012, 0.002)
FINEST = ((12, 20, 13), 0.0010, 0.0016)
UTMOST = ((16, 26, 18), 0.0008, 0.0012)


def _solver(
    method: str, *steps: tuple[tuple[tuple[int, int, int], float, float], float]
) -> tuple[Rival, ...]:
    return tuple(Rival(method, *cells, rtol) for cells, rtol in steps)


#: Tolerances are tried from the loosest; looser than 0.1 no method takes seriously.
SOLVERS: dict[str, tuple[Rival, ...]] = {
    method: _solver(
        method,
        (COARSE, 1e-2),
        (MIDDLE, 1e-1),
        (MIDDLE, 1e-2),
        (FINE, 1e-1),
        (FINE, 1e-2),
        (FINEST, 1e-2),
        (FINEST, 1e-3),
        (UTMOST, 1e-3),
    )
    for method in ("RK23", "BDF", "Radau", "LSODA")
}
GENERAL: tuple[General, ...] = tuple(
    General(*cells, step_hours, sweeps)
    for cells, step_hours, sweeps in (
        (COARSE, 6, 1),
        (MIDDLE, 4, 1),
        (FINE, 4, 1),
        (FINE, 2, 1),
        (FINEST, 2, 2),
        (UTMOST, 2, 2),
    )
)
