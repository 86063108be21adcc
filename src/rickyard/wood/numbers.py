"""Refusing nonsense before it is computed with."""

from __future__ import annotations

from typing import Any, TypeVar, overload

import numpy as np
import numpy.typing as npt

from rickyard.errors import InputError
from rickyard.text import T_

Floats = npt.NDArray[np.floating[Any]]
"""An array of floats of any shape."""

FloatOrArray = TypeVar("FloatOrArray", float, Floats)
"""A float, or an array of any shape: what goes in comes out."""


@overload
def checked(value: float, field: str, low: float, high: float) -> float: ...
@overload
def checked(value: Floats, field: str, low: float, high: float) -> Floats: ...
def checked(value: float | Floats, field: str, low: float, high: float) -> float | Floats:
    """Gives the value back if all of it lies from `low` to `high`, else raises InputError naming the field.

    What is not a number at all (nan) is refused too.
    """
    if isinstance(value, (float, int)):
        if low <= value <= high:
            return value
        worst = float(value)
    else:
        numbers = np.asarray(value)
        bad = ~((numbers >= low) & (numbers <= high))
        if not bad.any():
            return value
        worst = float(numbers[bad].flat[0])
    raise InputError(
        field,
        wanted=T_("a number from {low:g} to {high:g}", low=low, high=high),
        got=f"{worst:g}",
        next_move=T_("Check the number and its unit."),
    )
