"""What is taken as a size and what is a slip of the pen."""

from __future__ import annotations

import math

from rickyard.errors import InputError
from rickyard.text import T_, Quantity, QuantityKind

LOG_LENGTH_M = (0.05, 40.0)
DIAMETER_M = (0.005, 4.0)
BARK_THICKNESS_M = (0.0, 0.20)
PIECE_LENGTH_M = (0.05, 40.0)
STACK_LENGTH_M = (0.05, 500.0)
STACK_HEIGHT_M = (0.02, 10.0)
STACK_ROWS = (1, 100)
SOLID_M3 = (0.0, 1e6)


_KINDS: dict[str, QuantityKind] = {"m": "size", "m³": "outside", "kg": "mass"}


def within(field: str, value: float, bounds: tuple[float, float], unit: str = "m") -> float:
    """Gives a size back if it lies within the bounds, else raises InputError."""
    low, high = bounds
    kind = _KINDS.get(unit)
    if kind and isinstance(value, (int, float)) and math.isfinite(value) and not low <= value <= high:
        raise InputError(
            field,
            wanted=T_("{low} to {high}", low=Quantity(low, kind), high=Quantity(high, kind)),
            got=Quantity(value, kind),
            next_move=T_("Check the number and its unit."),
        )
    if not (isinstance(value, (int, float)) and math.isfinite(value) and low <= value <= high):
        raise InputError(
            field,
            wanted=T_("a number from {low:g} to {high:g} {unit}", low=low, high=high, unit=unit),
            got=f"{value:g}" if isinstance(value, (int, float)) else str(value),
            next_move=T_("Check the number and its unit."),
        )
    return float(value)
