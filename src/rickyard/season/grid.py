"""Cells of a piece: thin at the faces, wider inside, always at least a few.

Fixed-ratio grading does not converge when only the count grows, so the first cell is given in metres
and the ratio follows from the half-length and the count.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def graded_cells(length_m: float, first_m: float, count: int) -> Floats:
    """Cell widths from a face inward, each a constant factor wider than the last.

    Parameters
    ----------
    length_m
        Distance to fill [m].
    first_m
        Width of the cell at the face [m]; cells are uniform when the count makes them thinner.
    count
        Number of cells [unitless].

    Returns
    -------
    Widths [m], shape (count,), face first; their sum is `length_m`.
    """
    if first_m * count >= length_m:
        return np.full(count, length_m / count)
    low, high = 1.0, 100.0
    for _ in range(200):
        ratio = 0.5 * (low + high)
        total = first_m * float(np.sum(ratio ** np.arange(count)))
        if total < length_m:
            low = ratio
        else:
            high = ratio
    cells = first_m * ratio ** np.arange(count)
    return np.asarray(cells * (length_m / cells.sum()), dtype=np.float64)


def half_cells(half_m: float, first_m: float, count: int) -> Floats:
    """Cells of a half piece, from the plane of symmetry (first) to the face (last) [m]."""
    return graded_cells(half_m, first_m, count)[::-1].copy()


def full_cells(length_m: float, first_m: float, count: int) -> Floats:
    """Cells across a whole piece, thin at both faces [m]; `count` is rounded up to an even number."""
    face = graded_cells(0.5 * length_m, first_m, (count + 1) // 2)
    return np.concatenate([face, face[::-1]])


def split_cells(cells_m: Floats, parts: int) -> Floats:
    """Every cell cut into `parts` equal ones: the refinement used in convergence tables [m]."""
    return np.repeat(cells_m / parts, parts)
