"""Logs to be cut and the wares they can give: sizes, and what is refused about them.

The conventions are those of the cutting plan: positions are metres from the thick end, taper is linear, diameters
are of the wood to be sold, every piece is a frustum of a cone as long as its ware: exactly, or within its tolerance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rickyard.errors import InputError
from rickyard.measure.limits import DIAMETER_M, LOG_LENGTH_M, PIECE_LENGTH_M, within
from rickyard.text import T_, Quantity

TOLERANCE_M = 1e-6
"""Lengths that differ by less are the same [m]."""

MOST_TOLERANCE = 0.25
"""A piece may be shorter or longer than its ware by this share of its length at most."""

KERF_M = (0.0, 0.05)
TRIM_M = (0.0, 2.0)
VALUE_PER_M3 = (0.0, 1e6)
WANTED_M3 = (0.0, 1e6)


@dataclass(frozen=True)
class Defect:
    """A stretch of a log that may be in no piece.

    Attributes
    ----------
    from_m, to_m
        Where it lies, from the thick end [m].
    kind
        What it is, as the list calls it: rot, nail, fork, ...
    """

    from_m: float
    to_m: float
    kind: str = ""


@dataclass(frozen=True)
class CutLog:
    """A log to be cut.

    Attributes
    ----------
    log_id
        What is written on it.
    length_m, large_d_m, small_d_m
        Its length, and the diameters of the wood at the thick and at the thin end [m].
    defects
        In any order; they may touch or overlap.
    species
        As the list calls it; it does not restrict wares.
    """

    log_id: str
    length_m: float
    large_d_m: float
    small_d_m: float
    defects: tuple[Defect, ...] = ()
    species: str = ""

    def __post_init__(self) -> None:
        within("length", self.length_m, LOG_LENGTH_M)
        within("d_large", self.large_d_m, DIAMETER_M)
        within("d_small", self.small_d_m, DIAMETER_M)
        if self.large_d_m < self.small_d_m:
            raise InputError(
                "d_large",
                wanted=T_(
                    "a large end at least as thick as the small end ({small})",
                    small=Quantity(self.small_d_m, "size"),
                ),
                got=Quantity(self.large_d_m, "size"),
                next_move=T_("Swap the two ends, or measure again."),
            )
        for defect in self.defects:
            _check_defect(defect, self.length_m)

    def diameter_m(self, at_m: float) -> float:
        """Diameter at a place [m]."""
        return self.large_d_m + (self.small_d_m - self.large_d_m) * at_m / self.length_m

    def volume_m3(self, from_m: float = 0.0, to_m: float | None = None) -> float:
        """Solid volume between two places; of the whole log if none is said [m³]."""
        end = self.length_m if to_m is None else to_m
        thick, thin = self.diameter_m(from_m), self.diameter_m(end)
        return math.pi * (end - from_m) / 12.0 * (thick * thick + thick * thin + thin * thin)

    def area_m2(self, at_m: float) -> float:
        """Area of a cut at a place [m²]."""
        return math.pi / 4.0 * self.diameter_m(at_m) ** 2


def _check_defect(defect: Defect, length_m: float) -> None:
    said = f"{defect.from_m:g}-{defect.to_m:g}"
    if not (
        math.isfinite(defect.from_m) and math.isfinite(defect.to_m) and 0.0 <= defect.from_m <= defect.to_m
    ):
        raise InputError(
            "defects",
            wanted=T_("a defect from the place nearer the thick end to the farther one"),
            got=said,
            next_move=T_("Write it like 1.16-1.33:rot, in metres from the thick end."),
        )
    if defect.to_m > length_m + TOLERANCE_M:
        raise InputError(
            "defects",
            wanted=T_("defects within the log's length of {length:g} m", length=length_m),
            got=said,
            next_move=T_("Measure from the thick end, or correct the length."),
        )


@dataclass(frozen=True)
class Ware:
    """What is cut for.

    Attributes
    ----------
    name
        As the list calls it.
    length_m
        Length of each piece [m].
    value_per_m3
        Money for a solid cubic metre.
    wanted_m3
        Solid volume that counts, in all logs together [m³]; None: all of it.
    min_d_m, max_d_m
        Least diameter at a piece's thin end, greatest at its thick end [m]; None: any.
    tolerance_m
        By how much a piece may be shorter or longer [m]. Cut is to the full length, or to the shortest or the longest
        that still counts (`lengths_m`) where that is worth more than a hundredth of what the log gives.
    """

    name: str
    length_m: float
    value_per_m3: float
    wanted_m3: float | None = None
    min_d_m: float | None = None
    max_d_m: float | None = None
    tolerance_m: float = 0.0

    def __post_init__(self) -> None:
        within("piece_length", self.length_m, PIECE_LENGTH_M)
        within("value_per_solid_m3", self.value_per_m3, VALUE_PER_M3, "")
        within("length_tolerance", self.tolerance_m, (0.0, MOST_TOLERANCE * self.length_m))
        if self.wanted_m3 is not None:
            within("wanted_solid_m3", self.wanted_m3, WANTED_M3, "m³")
        for field, limit in (("min_d", self.min_d_m), ("max_d", self.max_d_m)):
            if limit is not None:
                within(field, limit, (0.0, DIAMETER_M[1]))
        if self.min_d_m is not None and self.max_d_m is not None and self.min_d_m > self.max_d_m:
            raise InputError(
                "min_d",
                wanted=T_("at most the greatest diameter of {greatest:.3f} m", greatest=self.max_d_m),
                got=f"{self.min_d_m:.3f} m",
                next_move=T_("Swap the two, or leave one empty."),
            )

    @property
    def lengths_m(self) -> tuple[float, ...]:
        """Lengths that pieces may have [m], the full one first."""
        if self.tolerance_m == 0.0:
            return (self.length_m,)
        return (self.length_m, self.length_m - self.tolerance_m, self.length_m + self.tolerance_m)


@dataclass(frozen=True)
class Saw:
    """How the saw cuts: `kerf_m` of wood lost between two pieces, `trim_m` cut off each end of a log [m]."""

    kerf_m: float = 0.0
    trim_m: float = 0.0

    def __post_init__(self) -> None:
        within("kerf", self.kerf_m, KERF_M)
        within("trim", self.trim_m, TRIM_M)


@dataclass(frozen=True)
class Cut:
    """A piece: where it lies on its log [m], the place of its ware in the list, its solid volume [m³]."""

    from_m: float
    to_m: float
    ware: int
    solid_m3: float


def sound_stretches(log: CutLog, trim_m: float) -> tuple[tuple[float, float], ...]:
    """Stretches of the log free of defects and trim, from the thick end [m]."""
    last = log.length_m - trim_m
    found: list[tuple[float, float]] = []
    at = trim_m
    for defect in sorted(log.defects, key=lambda defect: defect.from_m):
        if defect.to_m <= defect.from_m:
            continue
        if defect.from_m > at + TOLERANCE_M:
            found.append((at, min(defect.from_m, last)))
        at = max(at, defect.to_m)
        if at >= last:
            break
    if last > at + TOLERANCE_M:
        found.append((at, last))
    return tuple((start, end) for start, end in found if end > start + TOLERANCE_M)


def counted_m3(wares: Sequence[Ware], solid_m3: Sequence[float]) -> list[float]:
    """Of each ware's volume, what counts."""
    return [
        volume if ware.wanted_m3 is None else min(volume, ware.wanted_m3)
        for ware, volume in zip(wares, solid_m3, strict=True)
    ]
