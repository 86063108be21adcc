"""What a log holds that is no firewood: hollow, rot, metal; and logs of odd shape: swept, forked, broken.

Positions run from the thick end (0) to the thin end [m], as in cut plans.

- The log is taken as the solid of its formula: area inside bark as a parabola through the measured cuts (both ends
  and mid), a straight line between the two ends' areas, or the same all along (mid only). Its volume is then exactly
  Newton's, Smalian's or Huber's.
- A hollow or rot is a core of a diameter or a share of the cut, from one place to another; the whole cut where
  neither is given. Metal takes the whole length that the saw must keep away from. Forks, crooks and knots are wood.
  Where two defects overlap, the greater counts, once, and it is said.
- Sweep takes no wood away: it lengthens the log by 8/3 (sag/length)² of its straight length, to second order for
  a circular arc, and makes the stack looser (`rickyard.measure.stowing`).
- A fork is measured as its stem and its limbs, each a log; what joins them is counted with the stem.
- An odd piece is weighed, or sunk in water: the water it pushes away is its volume.

No standard table of deductions was read; these are geometry, with the shares as judged at the cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from rickyard.errors import InputError
from rickyard.measure.bark import BARK_VOLUME_SD
from rickyard.measure.limits import DIAMETER_M, LOG_LENGTH_M, SOLID_M3, within
from rickyard.measure.logs import LogErrors, LogVolume, circle_m2, log_volume
from rickyard.measure.spread import Spread
from rickyard.text import T_, Text
from rickyard.wood import Species, db_from_wet, density_kg_m3

DefectKind = Literal["hollow", "rot", "metal", "fork", "crook", "sweep", "knot"]

DEFECT_KINDS: tuple[DefectKind, ...] = ("hollow", "rot", "metal", "fork", "crook", "sweep", "knot")

NO_LOSS: tuple[DefectKind, ...] = ("fork", "crook", "sweep", "knot")
"""What no piece should hold and yet is wood: nothing is taken off for it."""

ROT_SHARE_SD = 0.15
"""How far a share of rot judged at the cut is off, one standard deviation [of the area]: a judgement."""

MOST_SWEEP = 0.25
"""Sag / length beyond which a log is two logs."""

STEPS = 201
"""Places along a log at which areas are added up, for each stretch between the edges of defects."""


@dataclass(frozen=True)
class Defect:
    """A stretch of a log that holds something other than sound wood.

    Attributes
    ----------
    kind
        hollow, rot or metal; fork, crook, sweep or knot, for which nothing is taken off.
    from_m, to_m
        Where, from the thick end [m].
    diameter_m
        Of the hollow or the rotten core [m].
    share
        Of the cut that is hollow or rotten, if no diameter is given [fraction].
    """

    kind: DefectKind
    from_m: float
    to_m: float
    diameter_m: float | None = None
    share: float | None = None


@dataclass(frozen=True)
class NetVolume:
    """A log with what is taken off.

    Attributes
    ----------
    gross
        As measured.
    lost_m3
        By kind of defect [m³]; where they overlap, under the greater.
    net_m3
        What is left.
    errors
        What it may be off by, part by part; rot judged at the cut is with the formula.
    spread_m3
        10th percentile, `net_m3`, 90th percentile.
    notes
        What was said of the log on the way.
    """

    gross: LogVolume
    lost_m3: dict[DefectKind, float]
    net_m3: float
    errors: LogErrors
    notes: tuple[Text, ...]

    @property
    def spread_m3(self) -> Spread:
        """10th percentile, `net_m3`, 90th percentile; no more than the whole log could be."""
        found = self.errors.about(self.net_m3)
        return Spread(found.low, found.mid, max(found.mid, min(found.high, self.gross.spread_m3.high)))


def swept_length_m(straight_m: float, sag_m: float) -> float:
    """Length along a bent log, from its straight length end to end and its greatest sag [m].

    Raises InputError for length or sweep.
    """
    straight = within("length", straight_m, LOG_LENGTH_M)
    sag = within("sweep", sag_m, (0.0, MOST_SWEEP * straight))
    return straight * (1.0 + 8.0 / 3.0 * (sag / straight) ** 2)


def net_volume(
    length_m: float,
    defects: Sequence[Defect] = (),
    *,
    mid_d_m: float | None = None,
    small_d_m: float | None = None,
    large_d_m: float | None = None,
    bark_thickness_m: float = 0.0,
    bark_sd_share: float = BARK_VOLUME_SD,
    sweep_m: float = 0.0,
) -> NetVolume:
    """Volume of a log less its defects.

    Parameters as of `log_volume`, and
    defects
        In any order.
    sweep_m
        Greatest sag of the log from straight [m].

    Raises InputError as `log_volume` does, and for defects (past the end, end before beginning, no size,
    wider than the log) and sweep.
    """
    along = swept_length_m(length_m, sweep_m) if sweep_m else within("length", length_m, LOG_LENGTH_M)
    sizes = {"mid_d_m": mid_d_m, "small_d_m": small_d_m, "large_d_m": large_d_m}
    gross = log_volume(along, **sizes, bark_thickness_m=bark_thickness_m, bark_sd_share=bark_sd_share)
    if not defects:
        return NetVolume(gross, {}, gross.volume_m3, gross.errors, ())
    area = _Areas(along, {name: d and d - 2.0 * bark_thickness_m for name, d in sizes.items()})
    for place, defect in enumerate(defects, start=1):
        _check(place, defect, along, area)
    lost, doubt, overlapping = _lost(defects, along, area)
    notes: list[Text] = []
    if overlapping:
        notes.append(T_("Defects overlap; the greater was taken off, once."))
    net = max(0.0, gross.volume_m3 - math.fsum(lost.values()))
    if net < 0.5 * gross.volume_m3:
        notes.append(T_("Less than half of the log is left: weigh it, or count it as waste."))
    errors = replace(
        gross.errors,
        below=math.hypot(gross.errors.below, doubt),
        above=math.hypot(gross.errors.above, doubt),
    )
    return NetVolume(gross, lost, net, errors, tuple(notes))


def forked_volume(parts: Sequence[NetVolume]) -> Spread:
    """A forked log from its stem and its limbs, each measured as a log [m³].

    Raises InputError for parts: a fork has at least three.
    """
    if len(parts) < 3:
        raise InputError(
            "parts",
            wanted=T_("the stem and at least two limbs"),
            got=str(len(parts)),
            next_move=T_("Measure the stem up to the fork, then each limb as a log."),
        )
    mid = math.fsum(part.net_m3 for part in parts)
    below = math.sqrt(sum((part.net_m3 - part.spread_m3.low) ** 2 for part in parts))
    above = math.sqrt(sum((part.spread_m3.high - part.net_m3) ** 2 for part in parts))
    return Spread(mid - below, mid, mid + above)


def weighed_piece_m3(mass_kg: float, species: Species, mc_wet: float) -> Spread:
    """Solid wood of an odd piece without bark from its weight and moisture [kg, water / total mass].

    The moisture is taken as known; the spread is that of the species' density.
    Raises InputError for mass or mc_wet.
    """
    mass = within("mass", mass_kg, (0.0, 1e5), "kg")
    mid = mass / float(density_kg_m3(species, db_from_wet(mc_wet)))
    share = species.basic_density_sd_kg_m3 / species.basic_density_kg_m3
    return Spread(mid / math.exp(1.2816 * share), mid, mid * math.exp(1.2816 * share))


def sunk_piece_m3(water_kg: float) -> float:
    """Volume of a piece with what bark it has, from the weight of the water it pushes away when held under [m³].

    Raises InputError for water.
    """
    return within("water", water_kg, (0.0, SOLID_M3[1]), "kg") / 1000.0


class _Areas:
    """Area of the cut inside bark along a log: the solid of the formula."""

    def __init__(self, length_m: float, sizes: dict[str, float | None]) -> None:
        self.length_m = length_m
        mid = sizes["mid_d_m"]
        small, large = sizes["small_d_m"], sizes["large_d_m"]
        if small is None or large is None:
            middle = circle_m2(mid or 0.0)
            self.cuts = (middle, middle, middle)
        else:
            ends = (circle_m2(large), circle_m2(small))
            middle = circle_m2(mid) if mid is not None else (ends[0] + ends[1]) / 2.0
            self.cuts = (ends[0], middle, ends[1])

    def at(self, x_m: np.ndarray) -> np.ndarray:
        """Area [m²] at places from the thick end [m], by the parabola through the three cuts."""
        t = x_m / self.length_m
        thick, middle, thin = self.cuts
        areas: np.ndarray = (
            thick * (1.0 - t) * (1.0 - 2.0 * t) + middle * 4.0 * t * (1.0 - t) + thin * t * (2.0 * t - 1.0)
        )
        return areas

    def least_d_m(self, from_m: float, to_m: float) -> float:
        """Smallest diameter between two places [m]."""
        return float(np.sqrt(self.at(np.linspace(from_m, to_m, 11)).min() * 4.0 / math.pi))


def _check(place: int, defect: Defect, length_m: float, area: _Areas) -> None:
    if defect.kind not in DEFECT_KINDS:
        _refuse(
            T_("one of: {names}", names=", ".join(DEFECT_KINDS)),
            str(defect.kind),
            T_("Say what it is."),
            place,
        )
    if not (
        math.isfinite(defect.from_m) and math.isfinite(defect.to_m) and 0.0 <= defect.from_m < defect.to_m
    ):
        _refuse(
            T_("a stretch that begins at 0 or further and ends after it begins"),
            f"{defect.from_m:g} to {defect.to_m:g} m",
            T_("Measure from the thick end."),
            place,
        )
    if defect.to_m > length_m * (1.0 + 1e-9):
        _refuse(
            T_("a stretch that ends within the log ({length:.2f} m)", length=length_m),
            f"{defect.to_m:g} m",
            T_("Measure from the thick end, or correct the log's length."),
            place,
        )
    if defect.kind not in ("hollow", "rot"):
        return
    if defect.diameter_m is not None and defect.share is not None:
        _refuse(
            T_("either a diameter or a share of the cut"),
            T_("both"),
            T_("Give how wide the hollow or the rot is, once."),
            place,
        )
    if defect.share is not None and not 0.0 < defect.share <= 1.0:
        _refuse(T_("a share above 0 and up to 1"), f"{defect.share:g}", T_("Half rotten is 0.5."), place)
    if defect.diameter_m is not None:
        within("defects", defect.diameter_m, DIAMETER_M)
        least = area.least_d_m(defect.from_m, defect.to_m)
        if defect.diameter_m > least * (1.0 + 1e-9):
            _refuse(
                T_("a diameter within the wood ({least:.3f} m there)", least=least),
                f"{defect.diameter_m:.3f} m",
                T_("Measure the hole, not the log."),
                place,
            )


def _refuse(wanted: Text, got: object, next_move: Text, place: int) -> None:
    raise InputError(
        "defects",
        wanted=T_("in defect {place}, {wanted}", place=place, wanted=wanted),
        got=got,
        next_move=next_move,
    )


def _lost(
    defects: Sequence[Defect], length_m: float, area: _Areas
) -> tuple[dict[DefectKind, float], float, bool]:
    """Volume lost by kind, its doubt (10th or 90th percentile from the middle) and whether defects overlap."""
    lost: dict[DefectKind, float] = {}
    doubt = 0.0
    overlapping = False
    defects = [defect for defect in defects if defect.kind not in NO_LOSS]
    edges = sorted({edge for defect in defects for edge in (defect.from_m, min(defect.to_m, length_m))})
    for begin, end in pairwise(edges):
        here = [defect for defect in defects if defect.from_m <= begin and end <= defect.to_m * (1 + 1e-12)]
        if not here:
            continue
        overlapping |= len(here) > 1
        places = np.linspace(begin, end, STEPS)
        cuts = area.at(places)
        taken = {id(defect): _added(_taken(defect, cuts), places) for defect in here}
        worst = max(here, key=lambda defect: taken[id(defect)])
        lost[worst.kind] = lost.get(worst.kind, 0.0) + taken[id(worst)]
        if worst.kind == "rot":
            doubt += 1.2816 * ROT_SHARE_SD * _added(cuts, places)
    return lost, doubt, overlapping


def _taken(defect: Defect, cuts_m2: np.ndarray) -> np.ndarray:
    if defect.kind == "metal" or (defect.diameter_m is None and defect.share is None):
        return cuts_m2
    if defect.share is not None:
        return cuts_m2 * defect.share
    cored: np.ndarray = np.minimum(cuts_m2, circle_m2(defect.diameter_m or 0.0))
    return cored


def _added(areas_m2: np.ndarray, places_m: np.ndarray) -> float:
    """Volume under areas at evenly spread places, by Simpson's rule: exact for the parabola of a log [m³]."""
    step = (places_m[-1] - places_m[0]) / (len(places_m) - 1)
    odd, even = areas_m2[1:-1:2].sum(), areas_m2[2:-1:2].sum()
    return float(step / 3.0 * (areas_m2[0] + areas_m2[-1] + 4.0 * odd + 2.0 * even))
