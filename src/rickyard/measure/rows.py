"""Stacks as they stand, and what is sold by the piece: uneven and leaning rows, heaps, boxes, bundles, bags.

What a stack's figures mean (NIST Handbook 130; Massachusetts, ch. 94): pieces parallel and touching; criss-cross ends
are no part of the length, and what lies in them is told apart. A void that an average piece would fit in is taken off
(Maine, 10 MRSA 2302).

A row that leans, or stands on a slope, is a parallelogram: its face is the length times the height *square to it*.
Heights held plumb with lengths held level are right on any slope and at any lean; a height taken along the lean, or a
length along the slope, is brought back by the cosine.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean, stdev
from typing import Literal

from rickyard.errors import InputError
from rickyard.measure.limits import DIAMETER_M, PIECE_LENGTH_M, STACK_HEIGHT_M, STACK_LENGTH_M, within
from rickyard.measure.spread import TO_10_90, Spread
from rickyard.measure.stacks import (
    HEAP_SD_SHARE,
    MOST_HEIGHTS,
    TAPE_SD_M,
    StackMeasure,
    bin_measure,
    heap_measure,
    stack_measure,
)
from rickyard.measure.units import CORD_M3, FT3_M3
from rickyard.text import T_, Quantity, Text

STEEPEST_LEAN_DEG = 45.0

STEEPEST_HEAP = 1.2
"""Height of a heap / half its width beyond which thrown wood would slide: a judgement, no source."""

HEADSPACE_STEP_M = 0.005
"""Headspace in a box is rounded down to 0.5 cm; from memory of NIST Handbook 133 (1/8 in there for inches)."""

PackageCase = Literal["stack", "heap", "box", "bundle"]


@dataclass(frozen=True)
class RowMeasure:
    """A row as it stands.

    Attributes
    ----------
    outside
        What counts as ranked.
    left_out_m3
        Outside volume of the criss-cross ends and of the voids, which does not count [m³].
    notes
        What was seen on the way.
    """

    outside: StackMeasure
    left_out_m3: float
    notes: tuple[Text, ...]


def row_measure(
    lengths_m: Sequence[float] | float,
    heights_m: Sequence[float] | float,
    piece_lengths_m: Sequence[float] | float,
    *,
    crisscross_m: Sequence[float] = (),
    heights_at_m: Sequence[float] | None = None,
    lean_deg: float = 0.0,
    slope_deg: float = 0.0,
    voids_m3: float = 0.0,
    rows: int = 1,
) -> RowMeasure:
    """Outside volume of a row that is not a clean box.

    Parameters
    ----------
    lengths_m
        One or more lengths, such as at the bottom and at the top; their mean counts [m].
    heights_m
        One or more heights [m].
    piece_lengths_m
        Lengths of a few pieces; their mean is the depth [m].
    crisscross_m
        Length of each criss-cross end, none, one or two [m].
    heights_at_m
        Where along the ranked part the heights were taken, rising [m]; evenly spread if None, each for as much.
    lean_deg
        How far the row leans off plumb, if the heights were taken along the lean [degrees].
    slope_deg
        Slope of the ground, if the lengths were taken along it and the heights plumb [degrees].
    voids_m3
        Voids that would take an average piece [m³].
    rows
        Rows one behind the other.

    Raises InputError for length, height, piece_length, crisscross, lean, slope or voids.
    """
    lengths = _several("length", lengths_m, STACK_LENGTH_M)
    pieces = _several("piece_length", piece_lengths_m, PIECE_LENGTH_M)
    heights = _several("height", heights_m, STACK_HEIGHT_M)
    lean = math.cos(math.radians(within("lean", lean_deg, (0.0, STEEPEST_LEAN_DEG), "°")))
    slope = math.cos(math.radians(within("slope", slope_deg, (0.0, STEEPEST_LEAN_DEG), "°")))
    whole = fmean(lengths) * slope
    if len(crisscross_m) > 2:
        raise InputError(
            "crisscross",
            wanted=T_("at most two criss-cross ends"),
            got=str(len(crisscross_m)),
            next_move=T_("Measure each stretch between criss-cross ends as a row."),
        )
    ends = math.fsum(within("crisscross", end, (0.0, STACK_LENGTH_M[1])) for end in crisscross_m) * slope
    if ends >= whole - STACK_LENGTH_M[0]:
        raise InputError(
            "crisscross",
            wanted=T_("criss-cross ends shorter than the row ({length:.2f} m)", length=whole),
            got=f"{ends:.2f} m",
            next_move=T_("Measure the length over all, ends with it, and each end alone."),
        )
    upright = [height * lean for height in heights]
    mean, notes = _mean_height(upright, heights_at_m, whole - ends)
    counted = stack_measure(whole - ends, upright, fmean(pieces), rows=rows)
    box = (whole - ends) * mean * fmean(pieces) * rows
    voids = within("voids", voids_m3, (0.0, 0.9 * box), "m³")
    wider = _uneven(lengths, whole), _uneven(pieces, fmean(pieces))
    ratio = (box - voids) / counted.outside_m3
    outside = _rescaled(counted, ratio, mean, math.hypot(*wider))
    if max(heights) > 1.5 * min(heights) and len(heights) < 4:
        notes.append(T_("The heights differ much: take more of them, evenly along the row."))
    left_out = ends * mean * fmean(pieces) * rows + voids
    if ends:
        notes.append(
            T_(
                "Criss-cross ends are left out: {left} outside, told apart.",
                left=Quantity(left_out - voids, "outside"),
            )
        )
    return RowMeasure(outside, left_out, tuple(notes))


def rows_total(parts: Sequence[RowMeasure]) -> RowMeasure:
    """Several rows of different sizes as one; their errors are taken as independent.

    Raises InputError for rows if there are none.
    """
    if not parts:
        raise InputError(
            "rows", wanted=T_("at least one row"), got="0", next_move=T_("Measure each row by itself.")
        )
    volume = math.fsum(part.outside.outside_m3 for part in parts)
    below = math.sqrt(math.fsum((p.outside.outside_m3 - p.outside.spread_m3.low) ** 2 for p in parts))
    above = math.sqrt(math.fsum((p.outside.spread_m3.high - p.outside.outside_m3) ** 2 for p in parts))
    height = math.fsum(p.outside.mean_height_m * p.outside.outside_m3 for p in parts) / volume
    outside = StackMeasure(
        "ranked",
        volume,
        volume / FT3_M3,
        volume / CORD_M3,
        height,
        Spread(volume - below, volume, volume + above),
    )
    notes = tuple(note for part in parts for note in part.notes)
    return RowMeasure(outside, math.fsum(part.left_out_m3 for part in parts), notes)


def windrow_measure(length_m: float, width_m: float, height_m: float) -> StackMeasure:
    """A long loose heap with sloping ends: a ridge between two halves of a cone.

    A heap thrown against a wall is half of one: give twice its width and halve the volume, which for a ridge or a
    cone is the same as `heap_measure` with its width from the wall.
    Raises InputError for length, width or height.
    """
    length = within("length", length_m, STACK_LENGTH_M)
    width = within("width", width_m, STACK_LENGTH_M)
    height = within("height", height_m, STACK_HEIGHT_M)
    if length < width:
        return heap_measure(length, width, height, shape="cone")
    volume = (length - width) * width * height / 2.0 + math.pi / 12.0 * width * width * height
    factor = math.exp(TO_10_90 * HEAP_SD_SHARE)
    return StackMeasure(
        "loose", volume, volume / FT3_M3, None, height, Spread(volume / factor, volume, volume * factor)
    )


def heap_notes(width_m: float, height_m: float) -> tuple[Text, ...]:
    """What a loose heap's sizes say against themselves."""
    if height_m > STEEPEST_HEAP * width_m / 2.0:
        return (
            T_(
                "Steeper than thrown wood lies: {height} high on {width}. Measure the base again.",
                height=Quantity(height_m, "side"),
                width=Quantity(width_m, "side"),
            ),
        )
    return ()


# -- packages ---------------------------------------------------------------------------------
def box_measure(
    inner_height_m: float,
    headspaces_m: Sequence[float],
    widths_m: Sequence[float],
    piece_lengths_m: Sequence[float],
) -> StackMeasure:
    """Wood ranked in a box: (inner height - mean headspace) × mean width × mean length of the pieces.

    After the test procedure of NIST Handbook 133, from memory: six headspaces (three at each end), rounded down
    to 0.5 cm, three widths, the five thickest pieces.
    Raises InputError for height, headspace, width or piece_length.
    """
    height = within("height", inner_height_m, STACK_HEIGHT_M)
    spaces = _several("headspace", headspaces_m, (0.0, height))
    widths = _several("width", widths_m, STACK_LENGTH_M)
    pieces = _several("piece_length", piece_lengths_m, PIECE_LENGTH_M)
    steps = math.floor(fmean(spaces) / HEADSPACE_STEP_M + 1e-9)
    left = within("headspace", height - steps * HEADSPACE_STEP_M, STACK_HEIGHT_M)
    return bin_measure(fmean(pieces), fmean(widths), left, piled="ranked")


def bundle_measure(
    piece_lengths_m: Sequence[float],
    *,
    end_areas_m2: Sequence[float] = (),
    diameter_m: float | None = None,
) -> StackMeasure:
    """A strapped bundle or a bag: mean area of its two ends × mean length, or a cylinder.

    Ends traced on paper and counted in squares are NIST Handbook 133's way, from memory; the cylinder,
    D² × L × 0.7854, is Measurement Canada's.
    Raises InputError for ends, diameter or piece_length.
    """
    pieces = _several("piece_length", piece_lengths_m, PIECE_LENGTH_M)
    if (diameter_m is None) == (not end_areas_m2):
        raise InputError(
            "ends",
            wanted=T_("the areas of both ends, or one diameter"),
            got=T_("neither") if diameter_m is None else T_("both"),
            next_move=T_("Strap both ends tight, then measure one or the other."),
        )
    if diameter_m is not None:
        diameter = within("diameter", diameter_m, DIAMETER_M)
        area, doubt = math.pi / 4.0 * diameter * diameter, 2.0 * TAPE_SD_M / 4.0 / diameter
    else:
        areas = _several("ends", end_areas_m2, (1e-4, 20.0), "m²")
        area = fmean(areas)
        doubt = _uneven(areas, area)
    volume = area * fmean(pieces)
    share = math.hypot(doubt, _uneven(pieces, fmean(pieces)), 0.005 / fmean(pieces))
    factor = math.exp(TO_10_90 * share)
    return StackMeasure(
        "ranked",
        volume,
        volume / FT3_M3,
        volume / CORD_M3,
        2.0 * math.sqrt(area / math.pi),
        Spread(volume / factor, volume, volume * factor),
    )


def bags_measure(count: int, one: StackMeasure) -> StackMeasure:
    """So many bags or bundles alike, from one that was measured; its error is that of all. Raises InputError."""
    if not (isinstance(count, int) and 1 <= count <= 1_000_000):
        raise InputError(
            "count", wanted=T_("a whole number from 1"), got=str(count), next_move=T_("Count the bags.")
        )
    return replace(
        one,
        outside_m3=one.outside_m3 * count,
        outside_ft3=one.outside_ft3 * count,
        cords=None if one.cords is None else one.cords * count,
        spread_m3=one.spread_m3.scaled(count),
    )


@dataclass(frozen=True)
class Step:
    """A step of measuring, and whether its source was read or is from memory."""

    text: Text
    source: str
    from_memory: bool


def procedure(case: str) -> tuple[Step, ...]:
    """How a stack, a heap, a box or a bundle is measured, step by step. Raises InputError for case."""
    memory = "NIST Handbook 133, from memory"
    law = "NIST Handbook 130, sec. 2.4"
    common = "common practice, no source"
    ranked = Step(
        T_("Measure as found. If the wood is criss-crossed or not in rows, stack it in rows first."),
        memory,
        True,
    )
    steps: dict[PackageCase, tuple[Step, ...]] = {
        "stack": (
            ranked,
            Step(
                T_("Pieces lie in a row, touching and parallel, compact; criss-cross ends do not count."),
                law,
                False,
            ),
            Step(
                T_("Take height, width and length several times along the stack; the mean counts."),
                memory,
                True,
            ),
            Step(
                T_("Take off voids that a piece of average size would fit in."),
                "Maine, 10 MRSA 2302 (state fact sheet)",
                False,
            ),
        ),
        "heap": (
            Step(
                T_(
                    "Rake pieces that rolled away back to the foot, and look what solid the heap is most like: "
                    "a cone, a ridge with upright ends, a dome, or a long windrow with sloping ends."
                ),
                common,
                False,
            ),
            Step(
                T_(
                    "Base: take length and width on the ground at several places, at right angles; the mean counts."
                ),
                common,
                False,
            ),
            Step(
                T_(
                    "Height: hold a straight pole upright beside the heap, level across from its top. "
                    "Do not climb on it."
                ),
                common,
                False,
            ),
            Step(T_("Volume by geometry: `measure heap` knows the four shapes."), "geometry", False),
            Step(
                T_(
                    "A loose heap is no cord: only Maine, Minnesota and Everett, Washington give a thrown cord a size. "
                    "Say loose volume, or rank the wood and measure the row."
                ),
                "Maine, 10 MRSA 2302; Minn. Stat. 239.33; Everett, Washington",
                False,
            ),
        ),
        "box": (
            ranked,
            Step(
                T_(
                    "Headspace: three readings at each end under a straight edge, six in all; their mean, "
                    "rounded down to 0.5 cm (1/8 in), comes off the inner height."
                ),
                memory,
                True,
            ),
            Step(T_("Width: three readings along the top; the mean counts."), memory, True),
            Step(
                T_(
                    "Length: the five thickest pieces, from the centre of one end to the other; the mean counts."
                ),
                memory,
                True,
            ),
            Step(T_("Height × width × length, in cm / 1000 for litres."), "Measurement Canada", False),
        ),
        "bundle": (
            Step(T_("Strap both ends tight, pieces parallel, few gaps."), "Measurement Canada", False),
            Step(
                T_("Trace each end on paper and count its squares; the mean of both areas counts."),
                memory,
                True,
            ),
            Step(T_("Length: the mean of the five thickest pieces."), memory, True),
            Step(
                T_("Or, where it is round: diameter² × length × 0.7854."),
                "Measurement Canada",
                False,
            ),
        ),
    }
    for name, found in steps.items():
        if name == case:
            return found
    raise InputError(
        "case",
        wanted=T_("one of: {names}", names=", ".join(steps)),
        got=case,
        next_move=T_("Say what is to be measured."),
    )


# -- helpers ----------------------------------------------------------------------------------
def _several(
    field: str, values: Sequence[float] | float, bounds: tuple[float, float], unit: str = "m"
) -> list[float]:
    listed = [values] if isinstance(values, (int, float)) else list(values)
    if not 1 <= len(listed) <= MOST_HEIGHTS:
        raise InputError(
            field,
            wanted=T_("from 1 to {most} readings", most=MOST_HEIGHTS),
            got=str(len(listed)),
            next_move=T_("Measure at a few places."),
        )
    return [within(field, value, bounds, unit) for value in listed]


def _uneven(values: Sequence[float], mean: float) -> float:
    """Standard deviation of the mean of several readings, as a share of it."""
    return stdev(values) / math.sqrt(len(values)) / mean if len(values) > 1 else 0.0


def _mean_height(
    heights: list[float], at_m: Sequence[float] | None, length_m: float
) -> tuple[float, list[Text]]:
    """Mean height along the row: plain, or by the stretch that each reading stands for (trapezia, ends held)."""
    if at_m is None:
        return fmean(heights), []
    places = [within("heights_at", place, (0.0, length_m)) for place in at_m]
    if len(places) != len(heights) or any(b <= a for a, b in pairwise(places)):
        raise InputError(
            "heights_at",
            wanted=T_("one rising place for each of the {count} heights", count=len(heights)),
            got=", ".join(f"{place:g}" for place in places),
            next_move=T_("Give the places from one end to the other, or leave them out."),
        )
    area = heights[0] * places[0] + heights[-1] * (length_m - places[-1])
    for i in range(len(places) - 1):
        area += (heights[i] + heights[i + 1]) / 2.0 * (places[i + 1] - places[i])
    return area / length_m, []


def _rescaled(measured: StackMeasure, ratio: float, height_m: float, wider: float) -> StackMeasure:
    volume = measured.outside_m3 * ratio
    share = math.log(measured.spread_m3.high / measured.outside_m3)
    factor = math.exp(math.hypot(share, TO_10_90 * wider))
    return replace(
        measured,
        outside_m3=volume,
        outside_ft3=volume / FT3_M3,
        cords=volume / CORD_M3,
        mean_height_m=height_m,
        spread_m3=Spread(volume / factor, volume, volume * factor),
    )
