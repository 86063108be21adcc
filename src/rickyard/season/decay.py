"""How well wood keeps: what fungi take while it is wet and warm, and after that as its cover lets rain in.

The climate enters by the Scheffer index of the place, the wood by the decay class of its heartwood, the stack by
how long it stays wet.
The index and the classes are published; the rates that make mass of them are assumed, and every answer says so.
It is a warning, not a forecast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rickyard.measure import Spread
from rickyard.season.pieces import COVERS
from rickyard.text import T_, Text

if TYPE_CHECKING:
    from rickyard.weather import Normals
    from rickyard.wood import Species

#: Limits of the classes of hazard; Scheffer 1971, from memory.
LOW_BELOW, HIGH_ABOVE = 35.0, 65.0
#: Fungi need free water: wood wetter than this counts as wet [water / oven-dry mass]; Wood Handbook, from memory.
WET_DB = 0.28
#: The index at which the rate below holds.
USUAL_INDEX = 50.0
#: Share of dry mass lost in a year by non-resistant wood that is always wet, at the usual index: low, middle, high.
#: Assumed, of the size of decay constants of logs on forest floors (0.02 to 0.1 a year, from memory).
ALWAYS_WET_PER_YEAR = (0.02, 0.05, 0.12)
#: How fast heartwood decays against sapwood, by class; assumed. Half of firewood is taken to be sapwood, and the
#: sapwood of every species is of the lowest class.
HEARTWOOD = {"R+": 0.1, "R": 0.2, "M": 0.5, "S": 1.0}
SAPWOOD_SHARE = 0.5
#: Share of the warm season in which wood that has been dry is wet again, by cover: low, middle, high; assumed.
WET_AGAIN = {"none": (0.05, 0.15, 0.40), "top": (0.01, 0.03, 0.10), "shed": (0.001, 0.005, 0.02)}
#: The same for a bottom row that lies on soil; assumed.
WET_ON_GROUND = (0.5, 0.8, 1.0)
#: Below this nothing grows that matters [deg C], as in the index.
COLD_C = 2.0


@dataclass(frozen=True)
class Keeping:
    """How a stack keeps. Losses are shares of its oven-dry mass, 10th to 90th percentile.

    `first_year`: while it dries and after, in the year from stacking; `per_year`: each year after that;
    `ground_per_year`: of a bottom row that lies on soil; `years_to_tenth`: until a tenth is lost.
    `hazard`: `low`, `moderate` or `high` by the index.
    """

    scheffer: float
    hazard: str
    decay_class: str
    class_known: bool
    first_year: Spread
    per_year: Spread
    ground_per_year: Spread
    years_to_tenth: Spread
    warnings: tuple[Text, ...]


def scheffer_index(temp_c: ArrayLike, wet_days: ArrayLike) -> float:
    """Index of decay above ground, from the means of twelve months [deg C, days with measurable rain].

    Sum of (T - 2)(D - 3) / 16.7 over months in which both are above zero; Scheffer, Forest Products Journal
    21(10):25 (1971), in metric form from memory.
    """
    warm = np.maximum(np.asarray(temp_c, dtype=np.float64) - COLD_C, 0.0)
    often = np.maximum(np.asarray(wet_days, dtype=np.float64) - 3.0, 0.0)
    return float((warm * often).sum() / 16.7)


def hazard_of(index: float) -> str:
    return "low" if index < LOW_BELOW else ("high" if index > HIGH_ABOVE else "moderate")


def keeping(
    species: Species,
    normals: Normals,
    *,
    cover: str,
    dates: Sequence[date],
    mc_db: ArrayLike,
) -> Keeping:
    """How this wood keeps at a place.

    Parameters
    ----------
    species
        Its decay class is that of heartwood.
    normals
        Of the place.
    cover
        `none`, `top` or `shed`.
    dates, mc_db
        The stack's middle moisture from stacking on [water / oven-dry mass]; a year of it is looked at.
    """
    if cover not in COVERS:
        raise ValueError(f"no such cover: {cover!r}")
    index = scheffer_index(normals.temp_c, normals.wet_days)
    climate = index / USUAL_INDEX
    known = species.decay_class in HEARTWOOD
    heart = HEARTWOOD[species.decay_class or "S"]
    wood = SAPWOOD_SHARE + (1.0 - SAPWOOD_SHARE) * heart
    rate = [climate * wood * value for value in ALWAYS_WET_PER_YEAR]
    wet = _wet_share(normals, dates, np.asarray(mc_db, dtype=np.float64))
    again = WET_AGAIN[cover]
    first = _lost(rate, [min(1.0, wet + (1.0 - wet) * share) for share in again])
    later = _lost(rate, again)
    ground = _lost(rate, WET_ON_GROUND)
    return Keeping(
        scheffer=index,
        hazard=hazard_of(index),
        decay_class=species.decay_class or "",
        class_known=known,
        first_year=first,
        per_year=later,
        ground_per_year=ground,
        years_to_tenth=Spread(
            _years(first.high, later.high), _years(first.mid, later.mid), _years(first.low, later.low)
        ),
        warnings=tuple(_warnings(species, known)),
    )


def _wet_share(normals: Normals, dates: Sequence[date], mc_db: np.ndarray) -> float:
    """Share of a year's warmth (degrees above what fungi need) that falls on days on which the wood is wet."""
    year = np.array([max(0.0, float(normals.temp_c[day.month - 1]) - COLD_C) for day in dates[:365]])
    whole = float(np.maximum(normals.temp_c - COLD_C, 0.0).mean() * 365.0)
    wet = mc_db[: len(year)] > WET_DB
    return min(1.0, float(year[wet].sum()) / whole) if whole > 0.0 else 0.0


def _lost(rate: Sequence[float], wet: Sequence[float]) -> Spread:
    """Loss in a year: rate and wetness are independent, so their logs' spreads add in quadrature."""
    mid = rate[1] * wet[1]
    if mid <= 0.0:
        return Spread.exactly(0.0)
    low = np.exp(-np.hypot(np.log(rate[1] / rate[0]), np.log(wet[1] / wet[0])))
    high = np.exp(np.hypot(np.log(rate[2] / rate[1]), np.log(wet[2] / wet[1])))
    return Spread(*(float(1.0 - np.exp(-value)) for value in (mid * low, mid, mid * high)))


def _years(first: float, per_year: float) -> float:
    """Years until a tenth is lost; 100 for never in a lifetime."""
    if first >= 0.10:
        return 0.10 / first
    if per_year <= 0.0:
        return 100.0
    return min(100.0, 1.0 + float(np.log(0.90 / (1.0 - first)) / np.log(1.0 - per_year)))


def _warnings(species: Species, known: bool) -> list[Text]:
    said = [
        T_(
            "Weak evidence: the climate index and the decay classes of heartwood are published, "
            "but the rates of loss and how often rain wets a stack are assumed, not measured on firewood."
        ),
        T_("Half of the wood is taken to be sapwood, which rots quickly in every species."),
        T_("A single year's index may lie well above or below that of a usual year."),
    ]
    if not known:
        said.append(
            T_(
                "No decay class is known for {name}: it is taken as one that hardly resists.",
                name=species.names,
            )
        )
    return said
