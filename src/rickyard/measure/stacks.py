"""Outside volume of what is piled: rows, bins and heaps. Wood, bark and air all count.

A row counts where pieces lie parallel and touch; criss-cross ends do not belong in the length.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Literal

from rickyard.errors import InputError
from rickyard.measure.limits import PIECE_LENGTH_M, STACK_HEIGHT_M, STACK_LENGTH_M, STACK_ROWS, within
from rickyard.measure.spread import TO_10_90, Spread
from rickyard.measure.units import CORD_M3, FT3_M3
from rickyard.text import T_

Piled = Literal["ranked", "loose"]

PILED: tuple[Piled, ...] = ("ranked", "loose")

TAPE_SD_M = 0.02
"""How far a length taken on a stack with a tape is off, one standard deviation [m]: a judgement, no source."""

HeapShape = Literal["cone", "ridge", "dome"]

HEAP_SHAPES: dict[HeapShape, float] = {"cone": math.pi / 12.0, "ridge": 0.5, "dome": math.pi / 6.0}
"""Volume of a heap / (length × width × height), by geometry: an elliptic cone; a ridge with upright ends; half an
ellipsoid."""

HEAP_SD_SHARE = 0.20
"""How far a heap is off the solid it was taken for, one standard deviation [fraction]: a judgement, no source."""

MOST_HEIGHTS = 200


@dataclass(frozen=True)
class StackMeasure:
    """Outside of a row, bin or heap.

    Attributes
    ----------
    piled
        ranked (pieces parallel, in rows) or loose (thrown).
    outside_m3, outside_ft3
        Outside volume [m³, ft³].
    cords
        Outside volume / 128 ft³; None when loose, since a cord is ranked.
    mean_height_m
        Mean of the heights [m].
    spread_m3
        10th percentile, volume, 90th percentile, from the tape and the unevenness of the heights [m³].
    """

    piled: Piled
    outside_m3: float
    outside_ft3: float
    cords: float | None
    mean_height_m: float
    spread_m3: Spread


def stack_measure(
    length_m: float,
    heights_m: Sequence[float] | float,
    piece_length_m: float,
    *,
    piled: str = "ranked",
    rows: int = 1,
) -> StackMeasure:
    """Outside volume of `rows` rows, one behind the other, each as deep as a piece is long.

    Parameters
    ----------
    length_m
        Length of the stack [m].
    heights_m
        One or more heights along it [m]; their mean counts.
    piece_length_m
        Length of the pieces [m].
    piled
        ranked or loose; for loose wood thrown into a bay so deep.
    rows
        Rows one behind the other.

    Raises InputError for length, height, piece_length, rows or piled.
    """
    how = piled_from(piled)
    length = within("length", length_m, STACK_LENGTH_M)
    depth = within("piece_length", piece_length_m, PIECE_LENGTH_M)
    if not (isinstance(rows, int) and STACK_ROWS[0] <= rows <= STACK_ROWS[1]):
        raise InputError(
            "rows",
            wanted=T_("a whole number from {low} to {high}", low=STACK_ROWS[0], high=STACK_ROWS[1]),
            got=str(rows),
            next_move=T_("Count the rows that stand one behind the other."),
        )
    mean, height_sd = _mean_height(heights_m)
    return _measure(how, length * mean * depth * rows, (length, mean, depth * rows), height_sd / mean)


def bin_measure(
    length_m: float, width_m: float, fill_heights_m: Sequence[float] | float, *, piled: str = "loose"
) -> StackMeasure:
    """Outside volume of wood in a bin or box with upright sides, by its inner length and width and how high it is.

    Raises InputError for length, width, height or piled.
    """
    how = piled_from(piled)
    length = within("length", length_m, STACK_LENGTH_M)
    width = within("width", width_m, STACK_LENGTH_M)
    mean, height_sd = _mean_height(fill_heights_m)
    return _measure(how, length * width * mean, (length, mean, width), height_sd / mean)


def heap_measure(length_m: float, width_m: float, height_m: float, *, shape: str = "cone") -> StackMeasure:
    """Outside volume of a loose heap from its base and its height, by the solid it looks most like.

    `shape`: cone (elliptic base), ridge (upright ends), dome (half an ellipsoid).
    No heap is any of them: the spread is wide.
    Raises InputError for length, width, height or shape.
    """
    length = within("length", length_m, STACK_LENGTH_M)
    width = within("width", width_m, STACK_LENGTH_M)
    height = within("height", height_m, STACK_HEIGHT_M)
    factors = {name: factor for name, factor in HEAP_SHAPES.items() if name == shape}
    if not factors:
        raise InputError(
            "shape",
            wanted=T_("one of: {names}", names=", ".join(HEAP_SHAPES)),
            got=shape,
            next_move=T_("Choose what the heap looks most like."),
        )
    box = length * width * height
    volume = box * next(iter(factors.values()))
    factor = math.exp(TO_10_90 * HEAP_SD_SHARE)
    spread = Spread(volume / factor, volume, volume * factor)
    return StackMeasure("loose", volume, volume / FT3_M3, None, height, spread)


def piled_from(piled: str) -> Piled:
    """The way of piling by its name, else InputError for `piled`."""
    for name in PILED:
        if name == piled:
            return name
    raise InputError(
        "piled",
        wanted=T_("one of: {names}", names=", ".join(PILED)),
        got=piled,
        next_move=T_("Say whether the pieces lie in rows (ranked) or as thrown (loose)."),
    )


def _mean_height(heights_m: Sequence[float] | float) -> tuple[float, float]:
    """Mean height and the standard deviation of that mean [m]."""
    heights = [heights_m] if isinstance(heights_m, (int, float)) else list(heights_m)
    if not 1 <= len(heights) <= MOST_HEIGHTS:
        raise InputError(
            "height",
            wanted=T_("from 1 to {most} heights", most=MOST_HEIGHTS),
            got=str(len(heights)),
            next_move=T_("Measure the height at a few places along the stack."),
        )
    checked = [within("height", height, STACK_HEIGHT_M) for height in heights]
    uneven = stdev(checked) / math.sqrt(len(checked)) if len(checked) > 1 else 0.0
    return fmean(checked), math.hypot(uneven, TAPE_SD_M)


def _measure(
    piled: Piled, volume: float, sides_m: tuple[float, float, float], height_share: float
) -> StackMeasure:
    length, _, depth = sides_m
    share = math.hypot(TAPE_SD_M / length, height_share, TAPE_SD_M / depth)
    factor = math.exp(TO_10_90 * share)
    return StackMeasure(
        piled,
        volume,
        volume / FT3_M3,
        volume / CORD_M3 if piled == "ranked" else None,
        sides_m[1],
        Spread(volume / factor, volume, volume * factor),
    )
