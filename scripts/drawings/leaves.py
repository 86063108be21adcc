"""Leaves of broad-leaved trees: how they stand, how they are made up, outline, edge, lobes, base, size, surface."""

from __future__ import annotations

import math

from leaf import Profile, bud, egg, leaf, place, plain, saw, stub
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
    bends,
    between,
    bow,
    draws,
    lines,
    petal,
    poly,
    smooth,
    toward,
)

# -- broad, needle or scale -------------------------------------------------------------------------


@draws("leaf_kind", "broad")
def _(d: Drawing) -> None:
    stub(d, (50, 96), (50, 80), width=BOLD)
    leaf(d, (50, 80), (50, 6), 29, veins=5)


@draws("leaf_kind", "needle")
def _(d: Drawing) -> None:
    d.curve((50, 96), (49, 60), (50, 24), width=HEAVY)
    needles = []
    for i in range(15):
        y = 88 - i * 4.9
        for way in (-1, 1):
            needles.append(
                bow((50, y), toward((50, y), way * (66 - i * 1.2), 34 - abs(i - 5) * 0.9), way * 1.5, 4)
            )
    needles += [between((50, 24), (50, 5), 2), between((50, 24), (42, 7), 2), between((50, 24), (58, 7), 2)]
    d.add(lines(needles), FINE + 0.5)


@draws("leaf_kind", "scale")
def _(d: Drawing) -> None:
    for start, degrees, count in (
        ((50, 78), -42, 7),
        ((50, 78), 42, 7),
        ((50, 54), -38, 6),
        ((50, 54), 38, 6),
        ((50, 96), 0, 13),
    ):
        _scales(d, start, degrees, count)


def _scales(d: Drawing, start: Point, degrees: float, count: int, size: float = 6.6) -> None:
    """A shoot of scale leaves, each row over the foot of the next."""
    for i in reversed(range(count)):
        foot = toward(start, degrees, i * size)
        left, right = (
            toward(toward(foot, degrees, size * 1.25), degrees + way, size * 0.85) for way in (-90, 90)
        )
        d.add(
            bends(
                foot,
                *(toward(p, degrees + 180, size * 0.9) for p in (left, left)),
                left,
                foot,
                foot,
                right,
                right,
                foot,
                foot,
            ),
            FINE,
            PALE,
        )
        d.add(petal(foot, toward(foot, degrees, size * 1.5), size * 0.4), FINE, PAPER)


# -- arrangement ------------------------------------------------------------------------------------


def _stem(d: Drawing) -> None:
    d.tube(between((50, 95), (50, 8), 2), size=2.4, bent=False)


def _side_leaf(d: Drawing, joint: Point, degrees: float, length: float = 34, half: float = 10) -> None:
    base = toward(joint, degrees, 7)
    d.line(joint, base, width=FINE)
    leaf(d, base, toward(joint, degrees, 7 + length), half, veins=0)


@draws("arr", "alternate")
def _(d: Drawing) -> None:
    _stem(d)
    for i, y in enumerate((84, 66, 48, 30)):
        _side_leaf(d, (50, y), 58 if i % 2 else -58)
    leaf(d, (50, 22), (50, 3), 7, veins=0)


@draws("arr", "opposite")
def _(d: Drawing) -> None:
    _stem(d)
    for y in (86, 58, 30):
        for way in (-1, 1):
            _side_leaf(d, (50, y), way * 58)


@draws("arr", "whorled")
def _(d: Drawing) -> None:
    _stem(d)
    for y in (66, 24):
        for way in (-1, 1):
            _side_leaf(d, (50, y), way * 66)
        d.line((50, y), (50, y + 4), width=FINE)
        leaf(d, (50, y + 4), (50, y + 30), 9, veins=0)


# -- one blade or leaflets --------------------------------------------------------------------------


def _twig_with_bud(d: Drawing, y: float = 91) -> None:
    """A piece of twig across the foot, and the bud that marks where the leaf begins."""
    d.tube([(6, y + 2), (50, y), (94, y + 1)], size=4.6)
    bud(d, (56, y - 2), (62, y - 13), 4.2, fill=INK, scales=0)


def _leaflet(d: Drawing, start: Point, degrees: float, length: float, half: float, fill: str = PALE) -> None:
    leaf(d, start, toward(start, degrees, length), half, veins=0, fill=fill, width=LINE if half > 3 else FINE)


@draws("leaf_comp", "simple")
def _(d: Drawing) -> None:
    _twig_with_bud(d)
    stub(d, (50, 90), (49, 76), width=LINE)
    leaf(d, (49, 76), (50, 6), 27, veins=5)


@draws("leaf_comp", "pinnate")
def _(d: Drawing) -> None:
    _twig_with_bud(d)
    d.line((50, 90), (50, 20))
    for y in (68, 52, 36):
        for way in (-1, 1):
            _leaflet(d, (50, y), way * 64, 36, 7.5)
    _leaflet(d, (50, 27), 0, 23, 7)


@draws("leaf_comp", "bipinnate")
def _(d: Drawing) -> None:
    _twig_with_bud(d)
    d.line((50, 90), (50, 10))
    for i, y in enumerate((74, 57, 40, 23)):
        for way in (-1, 1):
            length = 40 - 3.5 * i
            end = toward((50, y), way * 66, length)
            d.line((50, y), end, width=FINE)
            for k in range(4):
                at = toward((50, y), way * 66, length * (0.3 + 0.22 * k))
                for side in (-1, 1):
                    tip = toward(at, way * 66 + side * 58, 8)
                    d.add(petal(at, tip, 2.3), HAIR, DARK)


@draws("leaf_comp", "palmate")
def _(d: Drawing) -> None:
    _twig_with_bud(d)
    d.line((50, 90), (50, 60))
    for degrees, length in ((-98, 32), (98, 32), (-50, 43), (50, 43), (0, 53)):
        leaf(d, (50, 60), toward((50, 60), degrees, length), 8.5, profile=egg(1.5, 0.8), veins=0)


# -- how many leaflets: the fewest are filled, those there may be besides are only dashed -------------


def _leaflets(d: Drawing, fewest: int, most: int, length: float, half: float, top: float = 10) -> None:
    pairs, sure = (most - 1) // 2, (fewest - 1) // 2
    step = (84 - top) / (pairs + 0.35)
    d.line((50, 97), (50, 84 - step * (sure - 1)), width=LINE)
    if pairs > sure:
        d.line((50, 84 - step * (sure - 1)), (50, top + step * 0.3), width=FINE, dash="2 3")
    for i in range(pairs):
        y = 84 - step * i
        for way in (-1, 1):
            tip = toward((50, y), way * 68, length)
            _counted(d, (50, y), tip, half, sure=i < sure)
    y = 84 - step * (sure if pairs == sure else pairs) + step * 0.25
    _counted(d, (50, y), (50, max(y - length * 0.8, 3.5)), half, sure=True)


def _counted(d: Drawing, base: Point, tip: Point, half: float, sure: bool) -> None:
    path = petal(base, tip, half)
    if sure:
        d.add(path, FINE, DARK)
    else:
        d.add(path, FINE, PAPER, dash="2.5 3")


@draws("leaflet_n", "3_5")
def _(d: Drawing) -> None:
    _leaflets(d, 3, 5, 38, 10, top=32)


@draws("leaflet_n", "5_7")
def _(d: Drawing) -> None:
    _leaflets(d, 5, 7, 38, 8, top=26)


@draws("leaflet_n", "7_11")
def _(d: Drawing) -> None:
    _leaflets(d, 7, 11, 36, 5.4, top=20)


@draws("leaflet_n", "11_23")
def _(d: Drawing) -> None:
    _leaflets(d, 11, 23, 33, 2.7, top=12)


@draws("leaflet_n", "over23")
def _(d: Drawing) -> None:
    """The leaf runs on beyond the picture: there is no last leaflet."""
    for i in range(17):
        y = 86 - 4.1 * i
        for way in (-1, 1):
            _counted(d, (50, y), toward((50, y), way * 68, 30), 1.7, sure=True)
    d.line((50, 97), (50, 18), width=LINE)
    d.dots(((50, 13), (50, 8), (50, 3)), 3.2)


# -- outline ----------------------------------------------------------------------------------------


def _whole(
    d: Drawing, right: list[Point], *, foot: Point, veins: list[list[Point]], soft: bool = False
) -> None:
    """A leaf that is alike on both sides of x = 50, given by its right side from foot to tip."""
    left = [(100 - x, y) for x, y in reversed(right)]
    points = [*right, *left[1:-1]]
    d.add(smooth(points, close=True, tension=0.13) if soft else poly(points, close=True), LINE, PALE)
    d.line((50, 97), foot, width=BOLD)
    both = veins + [[(100 - x, y) for x, y in vein] for vein in veins]
    d.add(lines([[foot, right[-1]], *both]), FINE)


MAPLE = [
    (50, 76), (60, 80), (73, 78), (69, 70), (84, 65), (80, 58), (95, 40), (82, 41), (80, 34), (68, 46),
    (62, 48), (66, 31), (60, 32), (50, 6),
]  # fmt: skip


@draws("leaf_shape", "narrow")
def _(d: Drawing) -> None:
    stub(d, (50, 97), (50, 88), width=BOLD)
    leaf(d, (50, 88), (50, 4), 8.5, profile=egg(0.7, 1.0), veins=0)


@draws("leaf_shape", "oval")
def _(d: Drawing) -> None:
    stub(d, (50, 97), (50, 84), width=BOLD)
    leaf(d, (50, 84), (50, 5), 25, profile=egg(0.75, 0.9), veins=4)


@draws("leaf_shape", "heart")
def _(d: Drawing) -> None:
    right = [(50, 72), (57, 80), (70, 82), (84, 73), (88, 56), (80, 38), (66, 22), (56, 12), (50, 4)]
    _whole(
        d,
        right,
        foot=(50, 72),
        veins=[[(50, 72), (72, 70)], [(50, 66), (78, 46)], [(50, 46), (66, 32)]],
        soft=True,
    )


@draws("leaf_shape", "triangle")
def _(d: Drawing) -> None:
    right = [(50, 80), (74, 80), (86, 76), (80, 64), (66, 38), (56, 18), (50, 4)]
    _whole(d, right, foot=(50, 80), veins=[[(50, 78), (74, 70)], [(50, 58), (66, 46)], [(50, 42), (58, 30)]])


@draws("leaf_shape", "round")
def _(d: Drawing) -> None:
    stub(d, (50, 97), (50, 84), width=BOLD)
    d.ellipse(50, 47, 39, 37.5, fill=PALE)
    ribs = [[(50, y), (50 + way * r, y - 15)] for y, r in ((74, 26), (58, 28), (40, 22)) for way in (-1, 1)]
    d.add(lines([[(50, 84), (50, 11)], *ribs]), FINE)


@draws("leaf_shape", "palm_lobed")
def _(d: Drawing) -> None:
    _whole(d, MAPLE, foot=(50, 76), veins=[[(50, 76), (90, 43)], [(50, 76), (70, 76)]])


OAK = [
    (50, 84), (55, 78), (58, 73), (66, 72), (66, 66), (59, 62), (62, 57), (76, 57), (80, 50), (74, 46),
    (61, 46), (62, 39), (74, 35), (77, 29), (71, 25), (60, 29), (58, 22), (62, 14), (57, 7), (50, 5),
]  # fmt: skip


@draws("leaf_shape", "feather_lobed")
def _(d: Drawing) -> None:
    _whole(
        d,
        OAK,
        foot=(50, 84),
        veins=[[(50, 74), (62, 69)], [(50, 61), (73, 51)], [(50, 42), (71, 30)]],
        soft=True,
    )


@draws("leaf_shape", "four_lobed")
def _(d: Drawing) -> None:
    right = [
        (50, 78),
        (62, 80),
        (78, 74),
        (91, 62),
        (78, 55),
        (74, 47),
        (80, 32),
        (84, 13),
        (66, 17),
        (50, 27),
    ]
    _whole(d, right, foot=(50, 78), veins=[[(50, 74), (80, 63)], [(50, 56), (76, 22)]])


@draws("leaf_shape", "mitten")
def _(d: Drawing) -> None:
    d.curve((50, 97), (50, 78), (50, 62), width=BOLD)
    d.line((50, 88), (27, 84), width=LINE)
    d.line((50, 88), (73, 84), width=LINE)
    leaf(d, (27, 84), (13, 40), 12, veins=0)
    mitten = [
        (73, 84),
        (68, 72),
        (68, 60),
        (62, 50),
        (64, 44),
        (71, 50),
        (74, 56),
        (77, 44),
        (86, 35),
        (92, 42),
        (93, 58),
        (86, 74),
    ]
    d.blob(*mitten, fill=PALE)
    d.line((73, 84), (85, 46), width=FINE)
    d.curve((78, 69), (71, 60), (66, 50), width=FINE)
    three = [
        (50, 62), (43, 52), (36, 42), (26, 30), (28, 24), (36, 28), (42, 33), (44, 20), (50, 6), (56, 20),
        (58, 33), (64, 28), (72, 24), (74, 30), (64, 42), (57, 52),
    ]  # fmt: skip
    d.blob(*three, fill=PALE)
    d.add(lines([[(50, 62), (50, 14)], [(50, 52), (31, 29)], [(50, 52), (69, 29)]]), FINE)


@draws("leaf_shape", "sickle")
def _(d: Drawing) -> None:
    d.curve((30, 97), (26, 90), (25, 82), width=BOLD)
    leaf(d, (25, 82), (84, 8), 10, profile=egg(0.6, 1.15), bend=-17, veins=0)


# -- edge -------------------------------------------------------------------------------------------


def _edged(d: Drawing, side: list[Point], *, soft: bool = False, veins: int = 4) -> None:
    stub(d, (50, 97), (50, 88), width=BOLD)
    leaf(d, (50, 88), (50, 5), 27, side=side, soft=soft, veins=veins)


@draws("leaf_edge", "smooth")
def _(d: Drawing) -> None:
    _edged(d, plain(egg(), 28), soft=True)


@draws("leaf_edge", "fine_teeth")
def _(d: Drawing) -> None:
    _edged(d, saw(egg(0.6, 0.8), 27, 17, 3.2, 83))


@draws("leaf_edge", "coarse_teeth")
def _(d: Drawing) -> None:
    _edged(d, saw(egg(0.6, 0.75), 25, 6, 10.5, 83))


@draws("leaf_edge", "double_teeth")
def _(d: Drawing) -> None:
    profile = egg(0.6, 0.75)
    side: list[Point] = [(0.0, 0.0)]
    for i in range(6):
        t0, dt = 0.06 + 0.145 * i, 0.145
        for k, out in enumerate((0.0, 2.8, 6.2)):
            a = t0 + dt * k * 0.3
            size = min(0.15 + 0.85 * profile(t0 + dt / 2), 2.4 * (1 - t0 - dt / 2))
            side.append((a, 25 * profile(a) + out * 0.75 * size))
            side.append((a + dt * 0.36, 25 * profile(a) + (out + 4.4) * size))
        side.append((t0 + dt * 0.96, 25 * profile(t0 + dt)))
    side.append((1.0, 0.0))
    _edged(d, side)


@draws("leaf_edge", "scallop")
def _(d: Drawing) -> None:
    profile = egg(0.6, 0.75)
    side: list[Point] = [(0.0, 0.0)]
    for i in range(6):
        t0, dt = 0.05 + 0.15 * i, 0.15
        for k in range(7):
            a = t0 + dt * k / 7
            side.append(
                (a, 24 * profile(a) + 6.5 * (0.3 + 0.7 * profile(a)) * math.sin(math.pi * k / 7) ** 0.7)
            )
    side.append((1.0, 0.0))
    _edged(d, side)


def _spine(profile: Profile, t: float) -> float:
    return 22 * profile(t) + 13 - 9 * max(t - 0.4, 0)


@draws("leaf_edge", "spiny")
def _(d: Drawing) -> None:
    """As in holly: the edge hangs in hollows between stiff points."""
    profile = egg(0.55, 0.7)
    side: list[Point] = [(0.0, 0.0)]
    tips = [0.1, 0.28, 0.47, 0.66, 0.84]
    for i, tip in enumerate(tips):
        side.append((tip, _spine(profile, tip)))
        after = tips[i + 1] if i + 1 < len(tips) else 1.0
        for part in (0.2, 0.5, 0.8):
            a = tip + (after - tip) * part
            side.append((a, 22 * profile(a) + 3 * (2 * part - 1) ** 2 - 1))
    side.append((1.0, 0.0))
    _edged(d, side, veins=0)
    d.add(
        lines(
            [
                [
                    place((50, 88), (50, 5), t - 0.06, 0),
                    place((50, 88), (50, 5), t, w * (_spine(profile, t) - 1)),
                ]
                for t in tips
                for w in (-1, 1)
            ]
        ),
        FINE,
    )


# -- lobes ------------------------------------------------------------------------------------------

ROUND_LOBES = [
    (50, 92), (57, 85), (59, 75), (70, 78), (84, 74), (88, 64), (80, 58), (65, 60), (62, 52), (72, 49),
    (85, 42), (86, 31), (76, 27), (64, 35), (60, 28), (65, 19), (62, 8), (50, 5),
]  # fmt: skip
SHARP_LOBES = [
    (50, 92), (62, 84), (74, 77), (90, 64), (72, 60), (63, 57), (63, 50), (74, 46), (90, 32),
    (72, 32), (62, 32), (60, 27), (66, 14), (57, 17), (50, 6),
]  # fmt: skip
LOBE_VEINS = [[(50, 78), (82, 67)], [(50, 54), (82, 35)], [(50, 30), (61, 16)]]


@draws("lobe_tip", "rounded")
def _(d: Drawing) -> None:
    _whole(d, ROUND_LOBES, foot=(50, 92), veins=[[(50, 78), (78, 66)], [(50, 54), (77, 36)]], soft=True)


@draws("lobe_tip", "bristle")
def _(d: Drawing) -> None:
    """Every point runs out into a hair."""
    right = [
        (50, 92), (56, 84), (58, 76), (68, 76), (80, 74), (73, 67), (80, 60), (66, 58), (62, 54), (62, 49),
        (70, 46), (83, 42), (74, 36), (80, 28), (66, 31), (61, 33), (59, 27), (64, 18), (56, 19), (50, 12),
    ]  # fmt: skip
    _whole(d, right, foot=(50, 92), veins=[[(50, 78), (79, 73)], [(50, 54), (82, 42)]])
    hairs = [
        [(80, 74), (92, 73)],
        [(80, 60), (91, 54)],
        [(83, 42), (95, 40)],
        [(80, 28), (90, 20)],
        [(64, 18), (69, 7)],
    ]
    both = hairs + [[(100 - x, y) for x, y in hair] for hair in hairs]
    d.add(lines([*both, [(50, 12), (50, 3)]]), FINE)


@draws("lobe_tip", "pointed")
def _(d: Drawing) -> None:
    _whole(d, SHARP_LOBES, foot=(50, 92), veins=LOBE_VEINS)


def _notched(d: Drawing, kind: str) -> None:
    """Two broad lobes a side and an end lobe; only the notches differ, and they are hatched dark."""
    foot = {
        "shallow": [(76, 66), (71, 62), (74, 57)],
        "sharp_v": [(80, 70), (62, 60), (78, 53)],
        "round_u": [(79, 72), (70, 71), (65, 66), (64, 61), (67, 56), (77, 54)],
        "deep_round": [(82, 74), (70, 75), (59, 71), (55, 64), (57, 58), (66, 54), (80, 53)],
        "deep_narrow": [(83, 69), (68, 66), (56, 63), (68, 59.5), (83, 57)],
    }[kind]
    upper = {
        "shallow": [(74, 38), (67, 34), (66, 30)],
        "sharp_v": [(77, 40), (60, 35), (66, 25)],
        "round_u": [(77, 43), (67, 43), (62, 39), (60, 34), (62, 29), (67, 26)],
        "deep_round": [(79, 43), (66, 46), (57, 42), (54, 36), (55, 30), (61, 27), (68, 26)],
        "deep_narrow": [(80, 40), (66, 38), (55, 35.5), (63, 31.5), (70, 26)],
    }[kind]
    right = [
        (50, 90),
        (60, 86),
        (74, 82),
        (82, 76),
        *foot,
        (84, 51),
        (84, 44),
        *upper,
        (66, 19),
        (59, 9),
        (50, 5),
    ]
    left = [(100 - x, y) for x, y in reversed(right)]
    ground = [(50, 90), (74, 84), (87, 76), (89, 48), (84, 34), (70, 14), (50, 5)]
    d.blob(*ground, *[(100 - x, y) for x, y in reversed(ground[1:-1])], fill=GREY, width=0)
    points = [*right, *left[1:-1]]
    d.add(
        poly(points, close=True) if kind == "sharp_v" else smooth(points, close=True, tension=0.14),
        LINE,
        PAPER,
    )
    d.line((50, 97), (50, 90), width=BOLD)
    d.line((50, 90), (50, 12), width=FINE)


for _kind in ("shallow", "sharp_v", "round_u", "deep_round", "deep_narrow"):
    draws("sinus", _kind)(lambda d, kind=_kind: _notched(d, kind))

# -- base, surface, stalk ---------------------------------------------------------------------------


@draws("leaf_base", "even")
def _(d: Drawing) -> None:
    d.line((50, 97), (50, 78), width=BOLD)
    right = [(50, 78), (64, 76), (79, 64), (82, 48), (74, 30), (62, 15), (50, 4)]
    _whole(
        d,
        right,
        foot=(50, 78),
        veins=[[(50, 70), (72, 54)], [(50, 52), (70, 36)], [(50, 34), (60, 22)]],
        soft=True,
    )


@draws("leaf_base", "lopsided")
def _(d: Drawing) -> None:
    d.line((50, 97), (50, 70), width=BOLD)
    d.blob(
        (50, 70),
        (38, 66),
        (27, 56),
        (22, 42),
        (28, 26),
        (40, 13),
        (50, 4),
        (63, 15),
        (76, 30),
        (84, 50),
        (82, 70),
        (73, 83),
        (60, 86),
        (53, 80),
        fill=PALE,
    )
    d.line((50, 97), (50, 70), width=BOLD)
    veins = [
        [(50, 70), (72, 72)],
        [(50, 60), (74, 52)],
        [(50, 45), (68, 32)],
        [(50, 58), (32, 48)],
        [(50, 42), (34, 30)],
    ]
    d.add(lines([[(50, 70), (50, 10)], *veins]), FINE)


@draws("leaf_feel", "smooth")
def _(d: Drawing) -> None:
    _stroked(d, PALE)
    _finger(d)
    d.add(smooth([(56, 22), (58, 32), (58, 42)]) + smooth([(64, 24), (66, 34), (66, 42)]), LINE)


@draws("leaf_feel", "sandpaper")
def _(d: Drawing) -> None:
    _stroked(d, PALE, veins=0)
    d.dots(
        [
            (x + (y % 2) * 3, y)
            for y in range(17, 84, 5)
            for x in range(26, 76, 6)
            if _on_leaf(x + (y % 2) * 3, y)
        ],
        LINE,
    )
    _finger(d)


@draws("leaf_feel", "leathery")
def _(d: Drawing) -> None:
    """Thick enough to show an edge, and it shines."""
    d.blob((50, 91), (72, 78), (84, 58), (78, 36), (66, 20), (50, 8), (34, 24), (24, 44), (26, 66), fill=INK)
    _stroked(d, DARK, veins=0)
    d.add(smooth([(33, 60), (34, 44), (42, 28)]), HEAVY, stroke=PAPER)
    _finger(d)


def _on_leaf(x: float, y: float) -> bool:
    return ((x - 49) / 23) ** 2 + ((y - 52) / 34) ** 2 < 1 and abs(x - 50) > 3


def _stroked(d: Drawing, fill: str, veins: int = 4) -> None:
    stub(d, (50, 97), (50, 86), width=BOLD)
    leaf(d, (50, 86), (50, 6), 27, veins=veins, fill=fill)


def _finger(d: Drawing) -> None:
    """The finger tip that strokes the leaf."""
    d.tube([(93, 91), (74, 70), (60, 55)], size=11, fill=PAPER)
    d.add(smooth([(57.5, 56.5), (61.5, 58), (65.5, 54.5), (62.5, 50.5)]), FINE)


@draws("leaf_under", "green")
def _(d: Drawing) -> None:
    _turned(d, PALE)
    d.add(lines(_under_veins()), FINE)


@draws("leaf_under", "whitish")
def _(d: Drawing) -> None:
    _turned(d, "#ffffff")


@draws("leaf_under", "fuzzy")
def _(d: Drawing) -> None:
    _turned(d, PALE)
    hairs = []
    for row in range(9):
        for k in range(7):
            x, y = 28 + k * 7.4 + (row % 2) * 3.5, 74 - row * 6.6
            if (x - 50) ** 2 / 26**2 + (y - 48) ** 2 / 34**2 < 0.95 and not (x > 58 and y < 36):
                hairs.append([(x, y), (x + d.random.uniform(-2.5, 2.5), y - 4.4)])
    d.add(lines(hairs), FINE)


def _under_veins() -> list[list[Point]]:
    return [[(50, 86), (50, 26)]] + [[(50, y), (50 + w * 20, y - 14)] for y in (74, 58) for w in (-1, 1)]


def _turned(d: Drawing, under: str) -> None:
    """The blade from below, one corner turned over to show the dark upper side."""
    stub(d, (50, 97), (50, 88), width=BOLD)
    leaf(d, (50, 88), (50, 6), 29, veins=0, fill=under, midrib=False)
    d.blob((52, 7), (66, 22), (77, 40), (66, 37), (56, 28), fill=DARK)


@draws("leaf_stalk", "round")
def _(d: Drawing) -> None:
    leaf(d, (36, 52), (26, 5), 19, veins=0)
    d.tube([(62, 95), (46, 74), (36, 52)], size=4)
    d.ellipse(74, 55, 15, fill=PAPER)
    d.ellipse(74, 55, 9, fill=DARK, width=0)


@draws("leaf_stalk", "flat")
def _(d: Drawing) -> None:
    d.curve((8, 38), (4, 26), (9, 14), width=LINE)
    d.curve((54, 36), (58, 24), (53, 12), width=LINE)
    leaf(d, (36, 52), (30, 5), 16, veins=0)
    d.tube([(62, 95), (46, 74), (36, 52)], size=1.2)
    d.ellipse(74, 55, 15, fill=PAPER)
    d.ellipse(74, 55, 2.6, 11, fill=DARK, width=0)


@draws("milky_sap", "yes")
def _(d: Drawing) -> None:
    _cut_stalk(d)
    d.blob(
        (50, 40),
        (42, 44),
        (40, 56),
        (43, 64),
        (41, 76),
        (46, 86),
        (51, 78),
        (52, 66),
        (59, 60),
        (60, 46),
        fill="#ffffff",
    )
    d.blob((70, 70), (65, 80), (70, 87), (75, 80), fill="#ffffff")


@draws("milky_sap", "no")
def _(d: Drawing) -> None:
    _cut_stalk(d)


def _cut_stalk(d: Drawing) -> None:
    d.tube([(50, 95), (50, 42)], size=15, fill=GREY, bent=False)
    d.ellipse(50, 38, 10.5, 6, fill=PAPER)
    leaf(d, (36, 22), (8, 6), 9, veins=0)
    d.line((36, 22), (50, 24), width=BOLD)
    d.line((28, 38), (72, 20), width=LINE, dash="5 4")


@draws("leaf_hold", "evergreen")
def _(d: Drawing) -> None:
    _branch(d)
    for x, y, degrees in _holds():
        leaf(d, (x, y), toward((x, y), degrees, 23), 7, veins=0, fill=DARK)


@draws("leaf_hold", "bare")
def _(d: Drawing) -> None:
    _branch(d)
    for x, y, degrees in _holds():
        bud(d, (x, y), toward((x, y), degrees, 9), 2.6, fill=PALE, scales=0, width=FINE)


@draws("leaf_hold", "dead_hang")
def _(d: Drawing) -> None:
    _branch(d)
    for x, y, _degrees in _holds():
        d.line((x, y), (x, y + 5), width=FINE)
        d.blob(
            (x, y + 5),
            (x - 7, y + 12),
            (x - 2, y + 20),
            (x - 5, y + 28),
            (x + 4, y + 24),
            (x + 7, y + 13),
            fill=PALE,
        )
        d.curve((x, y + 5), (x + 2, y + 14), (x - 2, y + 25), width=HAIR)


def _branch(d: Drawing) -> None:
    d.tube([(6, 64), (32, 53), (58, 44), (80, 32)], [(32, 53), (56, 60), (74, 63)], size=2.4)


def _holds() -> list[tuple[float, float, float]]:
    return [
        (18, 58, -14),
        (37, 50, -22),
        (56, 44, -4),
        (70, 38, -24),
        (80, 32, 32),
        (52, 60, 155),
        (74, 63, 100),
    ]


# -- size: the same hand beside every leaf ------------------------------------------------------------

_FINGERS = [[(14, 62), (9, 46)], [(20, 56), (18, 32)], [(27, 55), (28, 27)], [(34, 57), (38, 33)]]


def _hand(d: Drawing) -> None:
    """A hand of 7 1/2 inches, 8 units an inch, from wrist (y = 90) to finger tip (y = 24)."""
    palm = [(14, 62), (16, 84), (32, 84), (36, 60)]
    thumb = [(33, 76), (42, 70), (46, 58)]
    strands = [*_FINGERS, thumb]
    d.add("".join(poly(strand) for strand in strands), 10)
    d.add(poly([*palm], close=True), 10, INK)
    d.add("".join(poly(strand) for strand in strands), 5.6, stroke=PAPER)
    d.add(poly([*palm], close=True), 5.6, PAPER, stroke=PAPER)


def _sized(d: Drawing, inches: float) -> None:
    _hand(d)
    length = inches * 8.0
    half = length * 0.28
    x = 72 if half > 9 else 66
    leaf(d, (x, 91), (x, 91 - length), half, veins=4 if length > 30 else 0, fill=GREY)


@draws("leaf_size", "under2")
def _(d: Drawing) -> None:
    _sized(d, 1.6)


@draws("leaf_size", "2_4")
def _(d: Drawing) -> None:
    _sized(d, 3.2)


@draws("leaf_size", "4_8")
def _(d: Drawing) -> None:
    _sized(d, 6.2)


@draws("leaf_size", "over8")
def _(d: Drawing) -> None:
    _sized(d, 10.8)
