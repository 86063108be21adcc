"""The clean-cut end under a hand lens: pores packed by a seed, rays, resin canals, bands. Bark lies above."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from pen import (
    BOLD,
    DARK,
    FINE,
    GREY,
    HAIR,
    HEAVY,
    INK,
    LINE,
    PALE,
    PAPER,
    Drawing,
    Point,
    arc,
    cut,
    draws,
    lines,
    poly,
    smooth,
)

EDGE = 46.0
RING = 40.0
STARTS = (10.0, 50.0, 90.0)
"""Heights at which years begin."""


def in_lens(margin: float = 1.5) -> Callable[[float, float], bool]:
    return lambda x, y: (x - 50) ** 2 + (y - 50) ** 2 < (EDGE - margin) ** 2


def lens(d: Drawing, fill: str = PALE) -> None:
    d.ellipse(50, 50, EDGE, fill=fill, width=0)


def rim(d: Drawing) -> None:
    d.ellipse(50, 50, EDGE, width=BOLD)


def warp(x: float, height: float) -> Point:
    """A place on the cut: year lines are bowed, as they are round a distant heart."""
    return x, 96 - height + 0.0032 * (x - 50) ** 2


def year_line(height: float, margin: float = 1.5) -> list[list[Point]]:
    return cut([warp(x / 2, height) for x in range(4, 197, 4)], in_lens(margin))


def band(d: Drawing, low: float, high: float, fill: str) -> None:
    """A year's part between two heights, in one tone."""
    for top in cut([warp(x, high) for x in range(2, 99, 2)], in_lens(1)):
        for bottom in cut([warp(x, low) for x in range(2, 99, 2)], in_lens(1)):
            d.add(poly([*top[::3], top[-1], bottom[-1], *bottom[::-3]], close=True), 0, fill)


def years(d: Drawing, width: float = FINE) -> None:
    d.add("".join(smooth(run[::4] + run[-1:]) for start in STARTS for run in year_line(start)), width)


def ray(x: float, low: float = 0, high: float = 100) -> list[list[Point]]:
    """A line from the heart outward; they spread a little."""
    return cut(
        [(50 + (x - 50) * (1 + (h - 46) * 0.0016), 96 - h) for h in range(int(low), int(high) + 1, 2)],
        in_lens(),
    )


def rays(d: Drawing, spacing: float, width: float = HAIR, stroke: str = GREY) -> None:
    n = int(90 / spacing)
    d.add(
        "".join(poly([run[0], run[-1]]) for i in range(n + 1) for run in ray(5 + i * spacing)),
        width,
        stroke=stroke,
    )


def row(
    d: Drawing, height: float, size: float, step: float, shift: float = 0.0, shake: float = 0.5
) -> list[Point]:
    """Pores in a row along the year."""
    n = int(96 / step) + 1
    spots = [
        warp(2 + shift + i * step + d.random.uniform(-shake, shake), height + d.random.uniform(-shake, shake))
        for i in range(n)
    ]
    return [p for p in spots if in_lens(size / 2 + 1.6)(*p)]


def scatter(
    d: Drawing, gap: Callable[[float], float], tries: int, margin: float = 2.6
) -> Iterator[tuple[Point, float]]:
    """Points no nearer to each other than the gap at their part of the year, which may be infinite."""
    taken: list[tuple[Point, float]] = []
    for _ in range(tries):
        x, h = d.random.uniform(4, 96), d.random.uniform(4, 96)
        part = ((h - STARTS[0]) / RING) % 1
        need = gap(part)
        point = warp(x, h)
        if not in_lens(margin)(*point) or need == math.inf:
            continue
        if all(math.dist(point, other) >= (need + size) / 2 for other, size in taken):
            taken.append((point, need))
            yield point, part


def early(d: Drawing, rows: int, size: float = 6.4, step: float = 7.6, broken: bool = False) -> None:
    spots: list[Point] = []
    for start in STARTS:
        for k in range(rows):
            found = row(d, start + size * 0.66 + k * (size + 0.9), size, step, shift=(k % 2) * step / 2)
            spots += [p for i, p in enumerate(found) if not broken or i % 5 in (0, 1, 3)]
    d.dots(spots, size)


def late_dots(d: Drawing, first: float, gap: float, size: float, tries: int = 900) -> None:
    """Small pores strewn from part `first` of the year on."""
    d.dots([p for p, part in scatter(d, lambda t: gap if t > first and t < 0.95 else math.inf, tries)], size)


# -- pores at all, and how arranged --------------------------------------------------------------------


@draws("porosity", "ring")
def _(d: Drawing) -> None:
    lens(d)
    rays(d, 9)
    years(d)
    early(d, 2)
    late_dots(d, 0.5, 8.5, 1.7)
    rim(d)


@draws("porosity", "semi")
def _(d: Drawing) -> None:
    lens(d)
    rays(d, 9)
    years(d)
    by_size: dict[float, list[Point]] = {}
    for start in STARTS[:2]:
        for k, (size, step) in enumerate(
            ((6.4, 8.4), (5.4, 8.2), (4.4, 8), (3.4, 7.6), (2.4, 7), (1.7, 6.6))
        ):
            by_size.setdefault(size, []).extend(
                row(d, start + 4.4 + k * 6.3, size, step, shift=(k % 2) * step / 2, shake=0.9)
            )
    for size, spots in by_size.items():
        d.dots(spots, size)
    rim(d)


@draws("porosity", "diffuse")
def _(d: Drawing) -> None:
    lens(d)
    rays(d, 9)
    years(d)
    d.dots([p for p, part in scatter(d, lambda t: 6.0 if 0.05 < t < 0.97 else math.inf, 1800)], 2.6)
    rim(d)


def softwood(d: Drawing, files: str = INK, spacing: float = 4.2) -> None:
    """Files of narrow cells, no pores; the late part of each year is dark."""
    lens(d)
    for start in (STARTS[0] - RING, *STARTS[:2]):
        band(d, max(start + RING * 0.74, 5), start + RING, GREY)
    n = int(90 / spacing)
    d.add(
        "".join(poly([run[0], run[-1]]) for i in range(n + 1) for run in ray(5 + i * spacing)),
        HAIR,
        stroke=files,
    )
    years(d, LINE)


@draws("porosity", "no_pores")
def _(d: Drawing) -> None:
    softwood(d)
    rim(d)


# -- rays: a wedge of the round, heart below -------------------------------------------------------------


def _wedge(d: Drawing) -> None:
    rimmed = arc(50, 96, 88, 88, 238, 302, 12)
    d.shape((50, 96), *rimmed, fill=PALE)
    d.add(smooth(rimmed), HEAVY)
    d.add("".join(smooth(arc(50, 96, r, r, 240, 300, 5)) for r in (24, 42, 58, 73)), HAIR, stroke=DARK)


def _spoke(degrees: float, low: float, high: float) -> list[Point]:
    angle = math.radians(degrees)
    return [(50 + r * math.sin(angle), 96 - r * math.cos(angle)) for r in (low, high)]


@draws("rays", "broad")
def _(d: Drawing) -> None:
    _wedge(d)
    for degrees in (-25, -15, -5, 5, 15, 25):
        a, b = _spoke(degrees, 14 if abs(degrees) < 10 else 22, 85)
        d.add(poly([a, b]), HEAVY - 1)
    rim_of_wedge(d)


@draws("rays", "some_broad")
def _(d: Drawing) -> None:
    _wedge(d)
    d.add(lines([_spoke(a, 20 + (i % 3) * 8, 85) for i, a in enumerate(range(-29, 30, 3))]), HAIR)
    d.add(lines([_spoke(a, 26, 83) for a in (-18.5, 2.5, 20.5)]), BOLD + 1)
    rim_of_wedge(d)


@draws("rays", "fine_clear")
def _(d: Drawing) -> None:
    _wedge(d)
    d.add(lines([_spoke(a, 20 + (i % 3) * 8, 85) for i, a in enumerate(range(-29, 30, 3))]), FINE - 0.2)
    rim_of_wedge(d)


@draws("rays", "faint")
def _(d: Drawing) -> None:
    _wedge(d)
    rim_of_wedge(d)


def rim_of_wedge(d: Drawing) -> None:
    d.add(
        poly([(50, 96), arc(50, 96, 88, 88, 238, 302, 1)[0]])
        + poly([(50, 96), arc(50, 96, 88, 88, 238, 302, 1)[1]]),
        LINE,
    )


# -- small pores of the outer part of the year: one year fills the lens -----------------------------------

FOOT = 14.0
"""Height at which the one large year begins; it ends at 90."""


def _one_year(d: Drawing, rows: int = 1, fill: str = GREY) -> None:
    lens(d, fill)
    d.add("".join(smooth(run[::4] + run[-1:]) for h in (FOOT, 91) for run in year_line(h)), FINE)
    spots = []
    for k in range(rows):
        spots += row(d, FOOT + 6 + k * 9, 8.5, 11, shift=k * 5.5)
    below = [p for p in row(d, 8, 1.8, 7) if p]
    d.dots(below, 1.8)
    d.dots(spots, 8.5)


@draws("late_pores", "wavy")
def _(d: Drawing) -> None:
    """Continuous pale waves across the year, each packed with small pores: elm and hackberry."""
    _one_year(d)
    for k, base in enumerate((37, 55, 73)):
        wave = [warp(x / 2, base + 4.6 * math.sin(x / 2 / 5.6 + k * 1.4)) for x in range(6, 196, 5)]
        for run in cut(wave, in_lens(5)):
            d.add(smooth(run), 8, stroke=PAPER)
            d.dots(
                [
                    (x + d.random.uniform(-0.5, 0.5), y + (1.7 if i % 2 else -1.7))
                    for i, (x, y) in enumerate(run)
                ],
                2.6,
            )
    rim(d)


@draws("late_pores", "single")
def _(d: Drawing) -> None:
    """Few, alone or two and three in a row outward: hickory."""
    _one_year(d, fill=PALE)
    spots: list[Point] = []
    places = (
        (22, 42, 1),
        (38, 52, 2),
        (54, 40, 1),
        (70, 50, 1),
        (82, 40, 2),
        (28, 68, 2),
        (46, 74, 1),
        (62, 64, 3),
        (76, 70, 1),
        (50, 58, 1),
        (34, 82, 1),
        (60, 84, 1),
        (16, 54, 1),
    )
    for x, h, n in places:
        spots += [warp(x, h + 3.4 * k) for k in range(n)]
    d.dots(spots, 3.2)
    rim(d)


@draws("late_pores", "short_lines")
def _(d: Drawing) -> None:
    """Toward the end of the year short pale lines join the pores sideways: white ash."""
    _one_year(d)
    singles = [
        warp(x, h)
        for x, h in ((20, 36), (36, 42), (52, 36), (68, 42), (82, 36), (28, 50), (60, 50), (44, 52), (76, 50))
    ]
    d.dots(singles, 2.8)
    for x, h, w in (
        (28, 62, 15),
        (58, 64, 17),
        (82, 61, 10),
        (40, 73, 16),
        (68, 74, 16),
        (26, 82, 11),
        (52, 83, 17),
    ):
        strip = [warp(x - w / 2 + w * i / 4, h) for i in range(5)]
        d.add(smooth(strip), HEAVY + 0.6, stroke=PAPER)
        d.dots(strip[::2], 2.8)
    rim(d)


@draws("late_pores", "nests")
def _(d: Drawing) -> None:
    """Round clusters, each in a pale bed: locust, mulberry, coffeetree."""
    _one_year(d)
    for x, h in ((24, 42), (46, 40), (70, 42), (34, 60), (58, 60), (80, 58), (46, 78), (70, 76), (20, 62)):
        cx, cy = warp(x, h)
        if not in_lens(8)(cx, cy):
            continue
        d.ellipse(cx, cy, 7.6, 6.6, fill=PAPER, width=0)
        turn = d.random.uniform(0, 60)
        d.dots(
            [
                (cx + 3.6 * math.cos(math.radians(a + turn)), cy + 3.2 * math.sin(math.radians(a + turn)))
                for a in range(0, 360, 60)
            ]
            + [(cx, cy)],
            2.7,
        )
    rim(d)


def _flame(x: float, low: float, high: float, foot: float, head: float) -> list[Point]:
    """A pale tongue that widens outward."""
    mid = (low + high) / 2
    return [
        warp(x - foot, low),
        warp(x - (foot + head) * 0.45, mid),
        warp(x - head, high - 4),
        warp(x, high),
        warp(x + head, high - 4),
        warp(x + (foot + head) * 0.45, mid),
        warp(x + foot, low),
    ]


@draws("late_pores", "rad_round")
def _(d: Drawing) -> None:
    """Tongues that point outward, in each a file of few pores that can be counted: red oak."""
    _one_year(d)
    spots: list[Point] = []
    for x, high in ((20, 68), (40, 86), (60, 86), (80, 68)):
        d.blob(*_flame(x, 31, high, 2.6, 5.4), fill=PAPER, width=0)
        spots += [warp(x + (1.5 if k % 2 else -1.5), 36 + k * 8.6) for k in range(int((high - 36) / 8.6))]
    d.dots(spots, 4.2)
    rim(d)


@draws("late_pores", "rad_tiny")
def _(d: Drawing) -> None:
    """Tongues that spread outward, full of pores too small to count: white oak."""
    _one_year(d)
    spots: list[Point] = []
    for x, high in ((22, 70), (50, 90), (78, 70)):
        d.blob(*_flame(x, 30, high, 2.6, 10), fill=PAPER, width=0)
        h = 33.0
        while h < high - 3:
            t = (h - 30) / (high - 30)
            half = 2 + 7.4 * t
            n = max(int(half * 2 / 2.7), 2)
            spots += [
                warp(
                    x - half + 2 * half * (i + 0.5) / n + d.random.uniform(-0.4, 0.4),
                    h + d.random.uniform(-0.5, 0.5),
                )
                for i in range(n)
            ]
            h += 2.7
    d.dots([p for p in spots if in_lens(2.6)(*p)], 1.4)
    rim(d)


@draws("late_pores", "even")
def _(d: Drawing) -> None:
    """No row of large pores at all."""
    lens(d, GREY)
    d.add("".join(smooth(run[::4] + run[-1:]) for h in (FOOT, 91) for run in year_line(h)), FINE)
    d.dots([p for p, part in scatter(d, lambda t: 7.0, 1500, 3.2)], 3)
    rim(d)


# -- rows of large pores -------------------------------------------------------------------------------


def _rows(d: Drawing, rows: int, broken: bool = False) -> None:
    lens(d)
    rays(d, 11)
    years(d)
    early(d, rows, size=5.4, step=6.6, broken=broken)
    d.dots(
        [p for p, part in scatter(d, lambda t: 10.0 if 0.12 + rows * 0.16 < t < 0.93 else math.inf, 500)], 1.5
    )
    rim(d)


@draws("early_row", "one")
def _(d: Drawing) -> None:
    _rows(d, 1)


@draws("early_row", "broken")
def _(d: Drawing) -> None:
    _rows(d, 1, broken=True)


@draws("early_row", "two_four")
def _(d: Drawing) -> None:
    _rows(d, 3)


@draws("early_row", "many")
def _(d: Drawing) -> None:
    _rows(d, 5)


# -- pores plugged or open: very near ------------------------------------------------------------------


_PORES = [
    (31, 24, 11),
    (61, 20, 10),
    (84, 40, 8.5),
    (20, 50, 9.5),
    (48, 47, 12.5),
    (71, 64, 10.5),
    (30, 75, 10.5),
    (53, 80, 9),
]


def _near(d: Drawing, plugged: int) -> None:
    lens(d, GREY)
    for i, (x, y, r) in enumerate(_PORES):
        if (i * 3) % 8 < plugged:
            d.ellipse(x, y, r, fill=PAPER)
            walls = [
                arc(x - r * 0.5, y - r * 0.45, r * 0.72, r * 0.72, -48, 118, 5),
                arc(x + r * 0.62, y - r * 0.2, r * 0.62, r * 0.62, 95, 232, 5),
                arc(x, y + r * 0.72, r * 0.62, r * 0.55, 192, 345, 5),
            ]
            d.add("".join(smooth(w) for w in walls), FINE)
            d.dots([(x - r * 0.45, y - r * 0.42)], 2.4)
        else:
            d.ellipse(x, y, r, fill=INK)
    rim(d)


@draws("plugged", "packed")
def _(d: Drawing) -> None:
    _near(d, 8)


@draws("plugged", "some")
def _(d: Drawing) -> None:
    _near(d, 4)


@draws("plugged", "open")
def _(d: Drawing) -> None:
    _near(d, 0)


# -- fine pale lines along the rings ---------------------------------------------------------------------


def _lined(d: Drawing, pale: bool) -> None:
    lens(d, GREY)
    if pale:
        strips = [run for k in range(10) for run in year_line(21 + k * 7, 3)]
        d.add("".join(smooth(run[::4] + run[-1:]) for run in strips), LINE, stroke="#ffffff")
    d.add("".join(smooth(run[::4] + run[-1:]) for h in (FOOT, 91) for run in year_line(h)), FINE)
    d.dots(row(d, FOOT + 6, 8, 13), 8)
    d.dots(
        [
            warp(x, h)
            for x, h in (
                (24, 38),
                (50, 44),
                (76, 38),
                (36, 58),
                (64, 60),
                (84, 56),
                (48, 74),
                (28, 74),
                (70, 78),
            )
        ],
        4,
    )
    rim(d)


@draws("fine_lines", "yes")
def _(d: Drawing) -> None:
    _lined(d, True)


@draws("fine_lines", "no")
def _(d: Drawing) -> None:
    _lined(d, False)


# -- softwoods -------------------------------------------------------------------------------------------


def _canals(d: Drawing, places: list[tuple[float, float]], size: float) -> None:
    softwood(d, files=GREY)
    for x, h in places:
        cx, cy = warp(x, h)
        if in_lens(size + 2)(cx, cy):
            d.ellipse(cx, cy, size, fill=PAPER, width=LINE)
    rim(d)


@draws("resin_can", "many")
def _(d: Drawing) -> None:
    _canals(
        d,
        [
            (18 + i * 15 + (k % 2) * 7, h + (i % 2) * 4)
            for k, h in enumerate((26, 40, 66, 80))
            for i in range(6)
        ],
        3.8,
    )


@draws("resin_can", "few")
def _(d: Drawing) -> None:
    _canals(d, [(24, 39), (48, 43), (72, 41), (36, 80), (64, 82)], 2.6)


@draws("resin_can", "groups")
def _(d: Drawing) -> None:
    _canals(d, [(x + 6.4 * i, h) for x, h in ((22, 42), (60, 41), (44, 81)) for i in range(4)], 2.7)


@draws("resin_can", "none")
def _(d: Drawing) -> None:
    _canals(d, [], 1)


def _transition(d: Drawing, abrupt: bool) -> None:
    lens(d)
    if abrupt:
        for low, high in ((5, 10), (40, 50), (80, 90)):
            band(d, low, high, INK)
    else:
        strips: dict[float, str] = {}
        for start in (-30.0, 10.0, 50.0):
            for k in range(12):
                h = start + 11 + k * 2.5
                if 5 < h < 91:
                    width = 0.5 + 0.19 * k
                    for run in year_line(h):
                        strips[width] = strips.get(width, "") + smooth(run[::6] + run[-1:])
        for width, path in sorted(strips.items()):
            d.add(path, round(width, 1))
    d.add("".join(smooth(run[::4] + run[-1:]) for h in (10, 50, 90) for run in year_line(h)), FINE)
    rim(d)


@draws("ew_lw", "abrupt")
def _(d: Drawing) -> None:
    _transition(d, True)


@draws("ew_lw", "gradual")
def _(d: Drawing) -> None:
    _transition(d, False)
