"""Cells of a piece: thin at the faces, soon wider, even inside.

Water moves fast and far only near the faces, but a grid that keeps growing inward is too coarse in the
middle, and fixed-ratio grading does not converge when only the count grows.
So the first cell is given in metres, cells grow by a factor, and inside they are all alike.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]


def graded_cells(length_m: float, first_m: float, count: int, growth: float) -> Floats:
    """Cell widths from a face inward.

    Parameters
    ----------
    length_m
        Distance to fill [m].
    first_m
        Width of the cell at the face [m]; all are alike where `count` of them would overfill the length.
    count
        Number of cells [unitless].
    growth
        Factor from one cell to the next until they are as wide as the inner ones [unitless]; larger where
        `count` cells would not fill the length.

    Returns
    -------
    Widths [m], shape (count,), face first; their sum is `length_m`.
    """
    if first_m * count >= length_m:
        return np.full(count, length_m / count)
    powers = np.arange(count)
    if first_m * np.sum(growth**powers) < length_m:
        cells = first_m * _solve(lambda g: first_m * g**powers, length_m, growth, 1000.0) ** powers
    else:
        grown = first_m * growth**powers
        cells = np.minimum(
            grown, _solve(lambda widest: np.minimum(grown, widest), length_m, first_m, length_m)
        )
    return np.asarray(cells * (length_m / cells.sum()), dtype=np.float64)


def half_cells(half_m: float, first_m: float, count: int, growth: float) -> Floats:
    """Cells of a half piece, from the plane of symmetry (first) to the face (last) [m]."""
    return graded_cells(half_m, first_m, count, growth)[::-1].copy()


def full_cells(length_m: float, first_m: float, count: int, growth: float) -> Floats:
    """Cells across a whole piece, thin at both faces [m]; `count` is rounded up to an even number."""
    face = graded_cells(0.5 * length_m, first_m, (count + 1) // 2, growth)
    return np.concatenate([face, face[::-1]])


def _solve(cells: Callable[[float], Floats], length_m: float, low: float, high: float) -> float:
    """The number for which the cells fill the length; they must widen with it."""
    for _ in range(100):
        middle = 0.5 * (low + high)
        if cells(middle).sum() < length_m:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
