"""Cells of the rivals: geometric from the thin ones at the open faces to the middle. Their own, not the model's."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from rickyard.season.models import PieceShape

Floats = NDArray[np.float64]


def graded(length_m: float, first_m: float, count: int) -> Floats:
    """Widths of `count` cells, the last of which is `first_m` wide, growing inwards at one ratio."""

    def over(ratio: float) -> float:
        return float(first_m * (ratio ** np.arange(count)).sum() - length_m)

    solve: Callable[..., float] = brentq
    return np.asarray(first_m * solve(over, 1e-3, 50.0) ** np.arange(count)[::-1])


def cells(
    shape: PieceShape, counts: tuple[int, int, int], first_m: float, first_end_m: float
) -> tuple[Floats, Floats, Floats]:
    """Half the thickness, the whole width (one of its faces is barked), half the length."""
    x = graded(shape.thickness_m / 2, first_m, counts[0])
    half = graded(shape.width_m / 2, first_m, counts[1] // 2)
    return x, np.concatenate([half[::-1], half]), graded(shape.length_m / 2, first_end_m, counts[2])
