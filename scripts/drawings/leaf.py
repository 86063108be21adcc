"""Blades, leaflets and buds from one profile: how wide a blade is at each part of its length."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from pen import FINE, HAIR, INK, LINE, PALE, Drawing, Point, poly, smooth

Profile = Callable[[float], float]


def egg(low: float = 0.7, high: float = 0.95) -> Profile:
    """Widest at low / (low + high) of the length; small figures make a blunt end there, large ones a drawn-out one."""
    top = low / (low + high)
    most = top**low * (1 - top) ** high

    def profile(t: float) -> float:
        return max(t, 0.0) ** low * max(1 - t, 0.0) ** high / most

    return profile


def place(base: Point, tip: Point, t: float, aside: float, bend: float = 0.0) -> Point:
    """A point at part t of the way from base to tip and `aside` units to its right; the axis bows by `bend`."""
    dx, dy = tip[0] - base[0], tip[1] - base[1]
    length = math.hypot(dx, dy)
    aside += bend * 4 * t * (1 - t)
    return base[0] + dx * t - dy / length * aside, base[1] + dy * t + dx / length * aside


def saw(
    profile: Profile, half: float, teeth: int, size: float, length: float, lean: float = 0.9
) -> list[Point]:
    """One side with forward teeth, as (t, aside)."""
    side: list[Point] = [(0.0, 0.0)]
    first, last = 0.07, 0.97 if teeth > 9 else 0.92
    for i in range(teeth):
        t0 = first + (last - first) * i / teeth
        t1 = first + (last - first) * (i + 1) / teeth
        at = t0 + (t1 - t0) * lean
        side.append((t0, half * profile(t0)))
        side.append(
            (
                at + 0.3 * size / length,
                half * profile(at) + size * min(0.15 + 0.85 * profile(at), 2.4 * (1.04 - at)),
            )
        )
    side.append((1.0, 0.0))
    return side


def plain(profile: Profile, half: float, n: int = 6) -> list[Point]:
    """One side without teeth, closer spaced at the ends."""
    return [(t, half * profile(t)) for t in ((1 - math.cos(math.pi * i / n)) / 2 for i in range(n + 1))]


def outline(
    base: Point, tip: Point, right: Sequence[Point], left: Sequence[Point], bend: float = 0.0
) -> list[Point]:
    there = [place(base, tip, t, aside, bend) for t, aside in right]
    back = [place(base, tip, t, -aside, bend) for t, aside in reversed(left)]
    return there + back[1:-1]


def leaf(
    d: Drawing,
    base: Point,
    tip: Point,
    half: float,
    *,
    profile: Profile | None = None,
    fill: str = PALE,
    width: float = LINE,
    veins: int = 4,
    bend: float = 0.0,
    side: Sequence[Point] | None = None,
    soft: bool | None = None,
    midrib: bool = True,
    vein_ink: str = INK,
) -> None:
    """A whole blade with midrib and side veins."""
    profile = profile or egg()
    right = side or plain(profile, half)
    points = outline(base, tip, right, right, bend)
    if soft is None:
        soft = side is None
    path = _pointed(points, len(right)) if soft else poly(points, close=True)
    d.add(path, width, fill)
    if midrib:
        d.add(smooth([place(base, tip, t, 0.0, bend) for t in (0, 0.33, 0.66, 0.93)]), FINE, stroke=vein_ink)
    ribs = []
    for i in range(veins):
        t = 0.16 + 0.6 * i / max(veins - 1, 1)
        reach = 0.72 * half * profile(min(t + 0.14, 0.95))
        for way in (1, -1):
            ribs.append([place(base, tip, t, 0, bend), place(base, tip, t + 0.14, way * reach, bend)])
    d.add("".join(poly(rib) for rib in ribs), HAIR, stroke=vein_ink)


def _pointed(points: Sequence[Point], half: int) -> str:
    """A closed path that bends everywhere but at base and tip."""
    right = [*points[:half]]
    left = [points[half - 1], *points[half:], points[0]]
    return smooth(right) + smooth(left).replace("M", "L", 1) + "z"


def bud(
    d: Drawing,
    base: Point,
    tip: Point,
    half: float,
    *,
    fill: str = PALE,
    scales: int = 2,
    low: float = 0.35,
    high: float = 0.8,
    width: float = LINE,
) -> None:
    """A bud with its overlapping scales."""
    profile = egg(low, high)
    right = plain(profile, half, 6)
    d.add(_pointed(outline(base, tip, right, right), len(right)), width, fill)
    edges = []
    for i in range(scales):
        t = 0.18 + 0.5 * i / max(scales, 1)
        way = 1 if i % 2 else -1
        edges.append(
            [
                place(base, tip, t, way * half * profile(t)),
                place(base, tip, t + 0.2, way * half * 0.1),
                place(base, tip, t + 0.3, -way * half * profile(t + 0.3) * 0.8),
            ]
        )
    d.add("".join(smooth(edge) for edge in edges), FINE)


def stub(d: Drawing, *points: Point, width: float = FINE) -> None:
    """A leaf stalk."""
    d.add(smooth(points), width, stroke=INK)
