"""Sapwood and heartwood in one piece: how deep the sapwood goes, and how the water stands at the start.

A split with its bark on has sapwood under the bark and heartwood behind; a round has a core. The moisture that
a piece starts with is the mean of both. Without bark it is not known which side was the tree's outside, and
the piece is taken as one wood.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rickyard.wood import Species

#: Sapwood of a wood that the table does not name [m]: Wood Handbook, 4 to 6 cm commonly, from memory.
DEPTH_M = 0.05


class Zones(NamedTuple):
    """Depth of the sapwood under the bark [m], and the heartwood's moisture over the sapwood's [unitless]."""

    depth_m: float
    heart_over_sap: float


@cache
def _depths() -> dict[str, float]:
    text = files("rickyard.season").joinpath("data/sapwood.csv").read_text(encoding="utf-8")
    return {row["name"]: float(row["depth_m"]) for row in csv.DictReader(text.splitlines())}


def zones_of(species: Species) -> Zones:
    """The zones of a species or a wider name; heartwood as wet as sapwood where no source parts them."""
    members = species.members or (species.id,)
    table = _depths()
    depth = float(np.mean([table.get(m, table.get(m.split("_")[0], DEPTH_M)) for m in members]))
    heart, sap = species.green_mc_heart_db, species.green_mc_sap_db
    return Zones(depth, heart / sap if heart and sap else 1.0)


def sapwood_share(size_m: Sequence[float], bark_faces: int, depth_m: float) -> float:
    """Share of a box (thickness, width, length) [m] that lies within `depth_m` of a face with bark."""
    thickness, width, _ = size_m
    if bark_faces == 0:
        return 1.0
    core = max(width - depth_m * (2 if bark_faces == 4 else 1), 0.0) / width
    if bark_faces >= 3:
        core *= max(thickness - 2.0 * depth_m, 0.0) / thickness
    return 1.0 - core


def start_profile(
    axes: tuple[NDArray[np.floating], NDArray[np.floating], NDArray[np.floating]],
    bark_faces: int,
    zones: Zones,
) -> NDArray[np.float64]:
    """Moisture of the cells at the start over the piece's mean, shape (nx, ny, 1); its mean over the volume is 1.

    `axes`: cell widths along thickness, width and length [m], from the middle to the face; the width from the
    bark to the open face when `bark_faces` is 1 or 3.
    """
    x, y, _ = (np.asarray(axis, dtype=np.float64) for axis in axes)
    core = np.ones((len(x), len(y)))
    if bark_faces in (1, 3):
        core *= _inside(y, zones.depth_m, y.sum())
    elif bark_faces == 4:
        core *= _inside(y, 0.0, y.sum() - zones.depth_m)
    else:
        return np.ones((len(x), len(y), 1))
    if bark_faces >= 3:
        core *= _inside(x, 0.0, x.sum() - zones.depth_m)[:, None]
    relative = 1.0 + core * (zones.heart_over_sap - 1.0)
    share = np.outer(x, y) / (x.sum() * y.sum())
    return np.asarray((relative / (share * relative).sum())[:, :, None])


def _inside(cells: NDArray[np.float64], begin: float, end: float) -> NDArray[np.float64]:
    """Share of each cell that lies between two places on the axis [m]."""
    right = np.cumsum(cells)
    left = right - cells
    return np.asarray(np.clip(np.minimum(right, end) - np.maximum(left, begin), 0.0, None) / cells)
