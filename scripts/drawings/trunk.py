"""The trunk's shape and the whole tree's, from a distance."""

from __future__ import annotations

import math

from pen import (
    BOLD,
    DARK,
    FINE,
    GREY,
    HAIR,
    HEAVY,
    LINE,
    PALE,
    PAPER,
    Drawing,
    Point,
    arc,
    draws,
    lines,
    poly,
    smooth,
)


@draws("trunk_shape", "round")
def _(d: Drawing) -> None:
    d.shape((28, 92), (30, 22), (70, 22), (72, 92), fill=PALE)
    d.ellipse(50, 20, 20, 11, fill=PAPER)
    d.add(lines([arc(50, 20, 12, 6.4, 0, 360, 20), arc(50, 20, 5, 2.8, 0, 360, 12)]), HAIR)
    d.line((6, 92), (94, 92))


@draws("trunk_shape", "fluted")
def _(d: Drawing) -> None:
    """Rounded ribs run up the stem like the muscles of an arm."""
    rim = [
        (
            50 + (23 + 4 * math.cos(math.radians(a * 7))) * math.cos(math.radians(a)),
            22 + (11.5 + 2.6 * math.cos(math.radians(a * 7))) * math.sin(math.radians(a)),
        )
        for a in range(0, 360, 8)
    ]
    d.blob(
        (22, 92),
        (26, 70),
        (23, 46),
        (26, 24),
        (74, 24),
        (77, 46),
        (74, 70),
        (78, 92),
        (68, 88),
        (59, 93),
        (50, 88),
        (41, 93),
        (32, 88),
        fill=PALE,
    )
    for x, bend in ((33, 3), (44, -2.5), (56, 2.5), (67, -3)):
        d.add(smooth([(x, 36), (x + bend, 52), (x - bend, 72), (x + bend * 0.4, 87)]), BOLD)
        d.add(smooth([(x + 5, 48), (x + 5 + bend, 60), (x + 5 - bend, 74)]), HAIR)
    d.blob(*rim, fill=PAPER)
    d.ellipse(50, 22, 11, 5.4, width=HAIR)
    d.line((6, 93), (94, 93))


@draws("trunk_shape", "flared")
def _(d: Drawing) -> None:
    d.blob(
        (4, 92),
        (22, 80),
        (33, 56),
        (36, 20),
        (64, 20),
        (67, 56),
        (78, 80),
        (96, 92),
        (60, 90),
        (50, 92),
        (40, 90),
        fill=PALE,
    )
    d.add(
        smooth([(44, 60), (40, 76), (28, 89)])
        + smooth([(56, 60), (60, 76), (72, 89)])
        + smooth([(50, 64), (50, 78), (49, 90)]),
        LINE,
    )
    d.ellipse(50, 18, 14, 7.6, fill=PAPER)
    d.ellipse(50, 18, 7, 3.6, width=HAIR)


# -- the whole tree ----------------------------------------------------------------------------------------


def _foot(d: Drawing, *roots: float, top: float = 60, size: float = 4) -> None:
    for x in roots:
        d.line((x, 94), (x, top), width=size)
    d.line((8, 95), (92, 95))


@draws("form", "cone")
def _(d: Drawing) -> None:
    _foot(d, 50, top=84, size=HEAVY)
    d.shape(
        (50, 4),
        (60, 26),
        (56, 26),
        (67, 48),
        (62, 48),
        (75, 68),
        (69, 68),
        (82, 86),
        (18, 86),
        (31, 68),
        (25, 68),
        (38, 48),
        (33, 48),
        (44, 26),
        (40, 26),
        fill=DARK,
    )


def _crown(d: Drawing, points: list[Point]) -> None:
    d.blob(*points, fill=GREY)


@draws("form", "round")
def _(d: Drawing) -> None:
    d.add(lines([[(50, 94), (50, 56)], [(50, 70), (28, 48)], [(50, 70), (72, 48)]]), HEAVY)
    _crown(
        d,
        [
            (50, 8),
            (66, 9),
            (80, 18),
            (92, 32),
            (93, 48),
            (84, 62),
            (66, 64),
            (50, 61),
            (34, 64),
            (16, 62),
            (7, 48),
            (8, 32),
            (20, 18),
            (34, 9),
        ],
    )
    d.line((8, 95), (92, 95))


@draws("form", "vase")
def _(d: Drawing) -> None:
    limbs = [
        [(50, 94), (50, 66), (34, 40), (18, 24)],
        [(50, 66), (66, 40), (82, 24)],
        [(50, 66), (44, 40), (38, 18)],
        [(50, 66), (56, 40), (62, 18)],
    ]
    _crown(
        d,
        [
            (50, 6),
            (70, 7),
            (88, 14),
            (95, 30),
            (90, 46),
            (84, 34),
            (76, 42),
            (68, 34),
            (60, 40),
            (50, 34),
            (40, 40),
            (32, 34),
            (24, 42),
            (16, 34),
            (10, 46),
            (5, 30),
            (12, 14),
            (30, 7),
        ],
    )
    d.add("".join(smooth(limb) for limb in limbs), BOLD)
    d.line((8, 95), (92, 95))


@draws("form", "multi")
def _(d: Drawing) -> None:
    for tip in ((20, 30), (36, 20), (50, 16), (64, 20), (80, 30)):
        d.add(smooth([(50 + (tip[0] - 50) * 0.25, 94), (50 + (tip[0] - 50) * 0.45, 66), tip]), BOLD)
    _crown(
        d,
        [
            (50, 6),
            (66, 12),
            (82, 18),
            (94, 34),
            (86, 50),
            (68, 46),
            (50, 50),
            (32, 46),
            (14, 50),
            (6, 34),
            (18, 18),
            (34, 12),
        ],
    )
    d.line((8, 95), (92, 95))


@draws("form", "small")
def _(d: Drawing) -> None:
    """No higher than the house beside it."""
    d.shape((46, 94), (46, 46), (68, 26), (90, 46), (90, 94), fill=PAPER)
    d.add(poly([(42, 50), (68, 25), (94, 50)]), BOLD)
    d.shape((61, 94), (61, 72), (74, 72), (74, 94), fill=DARK, width=FINE)
    d.shape((54, 54), (62, 54), (62, 63), (54, 63), fill=PALE, width=FINE)
    d.shape((74, 54), (82, 54), (82, 63), (74, 63), fill=PALE, width=FINE)
    d.line((23, 94), (23, 70), width=HEAVY)
    _crown(d, [(23, 46), (33, 50), (38, 60), (34, 72), (23, 75), (12, 72), (8, 60), (13, 50)])
    d.line((5, 95), (95, 95))


@draws("form", "columnar")
def _(d: Drawing) -> None:
    _foot(d, 50, top=40, size=HEAVY)
    _crown(
        d, [(50, 4), (58, 14), (63, 34), (62, 58), (57, 76), (50, 79), (43, 76), (38, 58), (37, 34), (42, 14)]
    )
