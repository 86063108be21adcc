"""Cross-sections of split wood, and how thick each is in the sense of the drying model.

What dries a split is the slowest rate at which moisture falls across the grain. For diffusion with faces at the
air's moisture it is D times the lowest eigenvalue of the Laplacian on the cross-section, zero at open faces and with
no flux at closed ones. `rickyard.season` solves a split as a square, whose lowest eigenvalue is 2 (pi / side)². So
the *thickness* of a piece of any shape is the side of the square that dries as slowly: pi sqrt(2 / eigenvalue). It is
the rule by which `season` turns a round into a box (side 0.924 of the diameter). The ends do the same for all shapes
of one length and fall out of the comparison.

Usual bark counts as open: in `season` it lets a fourteenth of the flux through that a bare face would, but the wood
inside holds the water back far more than that, and a half of ash or maple comes out as slow as a split of 0.55 to
0.62 of its diameter (0.58 here). Birch bark is all but closed there: `tight` closes it, and the square that is
compared with has bark on one face too, as the split of the model has: pi sqrt(1.25 / eigenvalue).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import eigsh
from scipy.spatial import Delaunay

Floats = NDArray[np.float64]

SIDES = 240
"""Straight sides that stand for the round; the area is short of the circle's by a tenth of a thousandth."""

POINTS_ACROSS = 22
"""Points of the mesh along the square root of the area."""

TIGHT, USUAL = 1.25, 2.0
"""Lowest eigenvalue of a unit square over pi²: one face closed; all faces open."""


BESSEL_ZERO = 2.404825557695773
"""First zero of the Bessel function J0."""


@dataclass(frozen=True)
class Section:
    """A convex cross-section: corners against the clock, and whether the edge after each is bark.

    Round sections are cut from a circle of radius 1 about the pith.
    """

    corners: tuple[tuple[float, float], ...]
    bark: tuple[bool, ...]

    def cut(self, a: float, b: float, c: float) -> Section | None:
        """What is left of it where a x + b y >= c; None if nothing is."""
        corners: list[tuple[float, float]] = []
        flags: list[bool] = []
        count = len(self.corners)
        for place in range(count):
            here, after = self.corners[place], self.corners[(place + 1) % count]
            h, k = a * here[0] + b * here[1] - c, a * after[0] + b * after[1] - c
            if h >= 0.0:
                corners.append(here)
                flags.append(self.bark[place])
            if (h > 0.0 > k) or (h < 0.0 < k):
                share = h / (h - k)
                corners.append(
                    (here[0] + share * (after[0] - here[0]), here[1] + share * (after[1] - here[1]))
                )
                # Leaving the half plane, the next edge is the new face; entering it, the rest of the old edge.
                flags.append(self.bark[place] if h < 0.0 else False)
            elif h >= 0.0 and k < 0.0:
                flags[-1] = False
        if len(corners) < 3:
            return None
        made = Section(tuple(corners), tuple(flags))
        return made if made.area > 1e-9 else None

    @property
    def area(self) -> float:
        x, y = np.array(self.corners).T
        return float(0.5 * np.abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))

    @property
    def perimeter(self) -> float:
        outline = np.array(self.corners)
        return float(np.hypot(*(np.roll(outline, -1, axis=0) - outline).T).sum())

    @property
    def invariants(self) -> tuple[float, ...]:
        """Figures that turned and mirrored copies share and, of the pieces of a round, no others: area, perimeter,
        length of bark, and how far from the middle the outline and the bark lie."""
        outline = np.array(self.corners)
        edges = np.roll(outline, -1, axis=0) - outline
        long = np.hypot(edges[:, 0], edges[:, 1])
        away = np.hypot(*(outline + edges / 2 - np.array(self.middle)).T)
        bark = np.array(self.bark)
        return (
            self.area,
            float(long.sum()),
            float(long[bark].sum()),
            float((long * away).sum()),
            float((long * away)[bark].sum()),
        )

    @property
    def middle(self) -> tuple[float, float]:
        """Centre of the area."""
        x, y = np.array(self.corners).T
        cross = x * np.roll(y, -1) - np.roll(x, -1) * y
        whole = cross.sum() * 3.0
        return (
            float(((x + np.roll(x, -1)) * cross).sum() / whole),
            float(((y + np.roll(y, -1)) * cross).sum() / whole),
        )

    @property
    def calipers(self) -> tuple[float, float]:
        """Least and greatest distance between two parallel jaws that hold it."""
        angles = np.radians(np.arange(0.0, 180.0, 1.0))
        across = np.array(self.corners) @ np.array([np.cos(angles), np.sin(angles)])
        widths = across.max(axis=0) - across.min(axis=0)
        return float(widths.min()), float(widths.max())


@lru_cache(maxsize=1)
def whole_round() -> Section:
    """The uncut round, of radius 1, bark all round."""
    angles = 2.0 * math.pi * (np.arange(SIDES) + 0.5) / SIDES
    return Section(
        tuple((float(x), float(y)) for x, y in zip(np.cos(angles), np.sin(angles), strict=True)),
        (True,) * SIDES,
    )


def slowest_rate(section: Section, *, tight: bool = False) -> float:
    """Lowest eigenvalue of the Laplacian on the section; `tight` closes the bark.

    Linear finite elements on a Delaunay mesh: a few thousandths too high. Zero if there is no open face.
    """
    closed = section.bark if tight else (False,) * len(section.bark)
    if all(closed):
        return 0.0
    points, open_ = _mesh(section, closed)
    triangles = Delaunay(points).simplices
    corners = points[triangles]
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = 0.5 * np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
    good = area > 1e-12 * section.area
    triangles, corners, area = triangles[good], corners[good], area[good]
    # Gradients of the three hat functions of each triangle: the opposite edge turned by a right angle.
    edges = corners[:, [2, 0, 1]] - corners[:, [1, 2, 0]]
    stiff = np.einsum("tik,tjk->tij", edges, edges) / (4.0 * area)[:, None, None]
    mass = (np.ones((3, 3)) + np.eye(3))[None] * (area / 12.0)[:, None, None]
    rows = np.repeat(triangles, 3, axis=1).ravel()
    columns = np.tile(triangles, (1, 3)).ravel()
    size = (len(points), len(points))
    free = np.flatnonzero(~open_)
    k = csc_array((stiff.ravel(), (rows, columns)), shape=size)[free][:, free]
    m = csc_array((mass.ravel(), (rows, columns)), shape=size)[free][:, free]
    found = eigsh(k, k=1, M=m, sigma=0.0, v0=np.ones(len(free)), return_eigenvectors=False)
    return float(found[0])


def _mesh(section: Section, closed: tuple[bool, ...]) -> tuple[Floats, NDArray[np.bool_]]:
    """Points on the outline and a three-cornered lattice inside; which of them lie on an open face."""
    step = math.sqrt(section.area) / POINTS_ACROSS
    outline = np.array(section.corners)
    count = len(outline)
    points, open_ = [], []
    for place in range(count):
        here, after = outline[place], outline[(place + 1) % count]
        points.append(here)
        open_.append(not closed[place] or not closed[place - 1])
        parts = max(1, round(float(np.hypot(*(after - here))) / step))
        for part in range(1, parts):
            points.append(here + (after - here) * part / parts)
            open_.append(not closed[place])
    low, high = outline.min(axis=0), outline.max(axis=0)
    tall = step * math.sqrt(3.0) / 2.0
    inner = []
    for row, y in enumerate(np.arange(low[1] + tall / 2, high[1], tall)):
        shift = step / 2 * (row % 2)
        inner += [(x, y) for x in np.arange(low[0] + step / 4 + shift, high[0], step)]
    lattice = np.array(inner)
    edge = np.roll(outline, -1, axis=0) - outline
    long = np.hypot(edge[:, 0], edge[:, 1])
    # Distance inwards from each edge: against the clock the inside lies to the left.
    inwards = (
        edge[:, 0] * (lattice[:, 1, None] - outline[:, 1])
        - edge[:, 1] * (lattice[:, 0, None] - outline[:, 0])
    ) / np.maximum(long, 1e-12)
    lattice = lattice[inwards.min(axis=1) > 0.45 * step]
    return (
        np.vstack([np.array(points), lattice]),
        np.concatenate([np.array(open_), np.zeros(len(lattice), dtype=bool)]),
    )


_KNOWN: dict[tuple[bool, tuple[float, ...]], float] = {}


def drying_thickness(section: Section, tight: bool = False) -> float:
    """Side of the square split that dries as slowly, in the section's own unit; infinite without an open face."""
    # Pieces that are turned or mirrored copies of one another are solved once.
    key = (tight, tuple(round(value, 6) for value in section.invariants))
    if key not in _KNOWN:
        rate = slowest_rate(section, tight=tight)
        _KNOWN[key] = math.inf if rate <= 0.0 else math.pi * math.sqrt((TIGHT if tight else USUAL) / rate)
    return _KNOWN[key]


def least_thickness(section: Section, tight: bool = False) -> float:
    """A thickness that the piece cannot be below, quickly: that of the circle it surely holds.

    A convex section holds a circle of area / perimeter; a larger section, or one with bark, dries no faster.
    """
    return math.pi * math.sqrt(TIGHT if tight else USUAL) / BESSEL_ZERO * section.area / section.perimeter
