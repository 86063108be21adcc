"""Bounds of what can be true in a yard; every deed checks its figures here, whoever typed them."""

from __future__ import annotations

import math
from datetime import date

from rickyard.errors import InputError
from rickyard.text import T_

# Limits are common sense, not science: a figure beyond them is a slip of the finger.
PIECE_LENGTH_M = (0.05, 2.6)
THICKNESS_M = (0.01, 1.5)
STACK_SIDE_M = (0.1, 100.0)
STACK_HEIGHT_M = (0.05, 6.0)
LOAD_OUTSIDE_M3 = (0.01, 2000.0)
LOAD_GREEN_KG = (1.0, 200_000.0)
ORDER_OUTSIDE_M3 = (0.005, 400.0)
EARLIEST = date(1990, 1, 1)


def within(field: str, value: float, bounds: tuple[float, float], unit: str) -> float:
    """The value, if it is a finite number inside the bounds (both ends allowed); else InputError."""
    low, high = bounds
    if not math.isfinite(value) or not low <= value <= high:
        raise InputError(
            field,
            wanted=T_("{low} to {high} {unit}", low=low, high=high, unit=unit),
            got=f"{value:g} {unit}",
            next_move=T_("Check the figure and its unit."),
        )
    return value


def day_between(field: str, day: date, earliest: date, latest: date) -> date:
    """The day, if it lies between the two (both allowed); else InputError."""
    if not earliest <= day <= latest:
        raise InputError(
            field,
            wanted=T_("a day from {first} to {last}", first=earliest.isoformat(), last=latest.isoformat()),
            got=day.isoformat(),
            next_move=T_("Check the date."),
        )
    return day


def some_text(field: str, value: str, longest: int, *, needed: bool = True) -> str:
    """The text without outer blanks, if it is there (when needed) and not too long; else InputError."""
    cleaned = " ".join(value.split()) if longest <= 120 else value.strip()
    if needed and not cleaned:
        raise InputError(
            field, wanted=T_("a few words"), got=T_("nothing"), next_move=T_("Fill in this field.")
        )
    if len(cleaned) > longest:
        raise InputError(
            field,
            wanted=T_("at most {count} characters", count=longest),
            got=T_("{count} characters", count=len(cleaned)),
            next_move=T_("Shorten it."),
        )
    return cleaned


def shares_to_one(field: str, shares: tuple[tuple[str, float], ...]) -> tuple[tuple[str, float], ...]:
    """Shares scaled to sum to one. They must be positive and, as typed, sum to 1 or to 100."""
    if not shares:
        raise InputError(
            field,
            wanted=T_("at least one kind of wood"),
            got=T_("none"),
            next_move=T_("Name the wood, or choose 'not named yet'."),
        )
    total = sum(share for _, share in shares)
    if any(not math.isfinite(share) or share <= 0 for _, share in shares):
        raise InputError(
            field,
            wanted=T_("shares above zero"),
            got=", ".join(f"{share:g}" for _, share in shares),
            next_move=T_("Leave out what is not in the load."),
        )
    if not (abs(total - 1.0) <= 0.011 or abs(total - 100.0) <= 1.1):
        raise InputError(
            field,
            wanted=T_("shares that sum to 100 percent"),
            got=f"{total:g}",
            next_move=T_("Change one of the shares."),
        )
    if len({name for name, _ in shares}) != len(shares):
        raise InputError(
            field,
            wanted=T_("each kind of wood once"),
            got=", ".join(name for name, _ in shares),
            next_move=T_("Add the shares of the same wood together."),
        )
    return tuple((name, share / total) for name, share in shares)


def one_of(field: str, value: str, allowed: tuple[str, ...]) -> None:
    """Nothing, if the value is one of those allowed; else InputError."""
    if value not in allowed:
        raise InputError(
            field,
            wanted=T_("one of {names}", names=", ".join(allowed)),
            got=value,
            next_move=T_("Choose one from the list."),
        )
