"""Bark: its pattern on the trunk, colour, thickness, section, inner bark, pores, streaks, blisters."""

from __future__ import annotations

import math
from itertools import pairwise

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
    between,
    bow,
    cut,
    draws,
    ink_on,
    lines,
    poly,
    smooth,
    toward,
)

LEFT, RIGHT, TOP, BOTTOM = 13.0, 87.0, 5.0, 95.0


def inside(x: float, y: float) -> bool:
    return LEFT + 1.5 <= x <= RIGHT - 1.5 and TOP + 1 <= y <= BOTTOM - 1


def ground(d: Drawing, fill: str) -> None:
    """A length of trunk, painted without its edges."""
    d.add(poly([(LEFT, TOP), (RIGHT, TOP), (RIGHT, BOTTOM), (LEFT, BOTTOM)], close=True), 0, fill)


def edges(d: Drawing) -> None:
    d.add(lines([[(LEFT, TOP), (LEFT, BOTTOM)], [(RIGHT, TOP), (RIGHT, BOTTOM)]]), BOLD)


def round_x(part: float) -> float:
    """Where something at part -1..1 round the visible half of the trunk is seen."""
    return 50 + (RIGHT - LEFT) / 2 * math.sin(part * math.pi / 2 * 0.92)


def within(points: list[Point]) -> list[Point]:
    """The same outline held inside the trunk."""
    return [(min(max(x, LEFT + 1.5), RIGHT - 1.5), min(max(y, TOP), BOTTOM)) for x, y in points]


# -- patterns ----------------------------------------------------------------------------------------


@draws("bark_tex", "smooth")
def _(d: Drawing) -> None:
    ground(d, PALE)
    d.add(
        lines([[(60, 20), (68, 20)], [(26, 34), (33, 34)], [(70, 78), (78, 78)], [(24, 84), (30, 84)]]), FINE
    )
    d.add(smooth(arc(46, 58, 13, 5, 180, 360, 6)) + smooth(arc(46, 60, 19, 10, 195, 345, 6)), FINE)
    d.ellipse(46, 60, 5.5, 4, fill=DARK, width=FINE)
    edges(d)


@draws("bark_tex", "papery")
def _(d: Drawing) -> None:
    """Thin sheets come away across the stem and roll up; the dashes lie across too."""
    ground(d, PAPER)
    d.add(
        lines(
            [
                [(20, 12), (36, 12)],
                [(56, 18), (78, 18)],
                [(18, 47), (34, 47)],
                [(60, 66), (82, 66)],
                [(20, 90), (44, 90)],
                [(52, 92), (66, 92)],
                [(64, 42), (80, 42)],
            ]
        ),
        LINE,
    )
    for x0, x1, y, way in ((87, 38, 26, 1), (13, 66, 54, -1), (87, 48, 76, 1)):
        d.add(poly([(x0, y), (x1, y), (x1, y + 9), (x0, y + 9)], close=True), 0, GREY)
        d.add(lines([[(x0, y), (x1, y)], [(x0, y + 9), (x1 + way * 6, y + 9)]]), LINE)
        x = x1 - way * 2
        d.ellipse(x, y + 6, 6.4, fill=PAPER)
        d.add(smooth([(x + 3, y + 6), (x, y + 9), (x - 2.6, y + 6), (x, y + 3.4)]), FINE)
    edges(d)


@draws("bark_tex", "shag")
def _(d: Drawing) -> None:
    """Long plates hang by their middle; both ends stand away from the trunk."""
    d.add(poly([(24, TOP), (76, TOP), (76, BOTTOM), (24, BOTTOM)], close=True), 0, DARK)
    for x, y, w, h, out in (
        (50, 4, 12, 44, 1),
        (36, 14, 12, 46, -4),
        (64, 20, 12, 46, 4),
        (50, 52, 12, 42, 2),
        (24, 4, 12, 34, -8),
        (76, 4, 12, 40, 8),
        (22, 44, 13, 46, -10),
        (78, 50, 13, 42, 10),
        (36, 64, 11, 30, -3),
        (64, 70, 11, 24, 3),
    ):
        d.blob(
            (x - w / 2 + out * 0.4, y),
            (x + w / 2 + out * 0.4, y + 1),
            (x + w / 2, y + h * 0.5),
            (x + w / 2 + out, y + h - 1),
            (x + out * 0.9, y + h - 3),
            (x - w / 2 + out, y + h),
            (x - w / 2, y + h * 0.5),
            fill=PALE,
        )


@draws("bark_tex", "thin_flakes")
def _(d: Drawing) -> None:
    """Small scales, loose at one edge, in no order."""
    ground(d, PALE)
    for row in range(9):
        for k in range(6):
            x = round_x(-0.8 + 0.32 * k + (row % 2) * 0.14 + d.random.uniform(-0.05, 0.05))
            y = 11 + row * 10 + d.random.uniform(-2, 2)
            w = 5.6 * math.cos((x - 50) / 37 * 1.1)
            d.blob(
                *within(
                    [
                        (x - w, y - 3),
                        (x + w * 0.6, y - 4.4),
                        (x + w, y + 2),
                        (x + w * 0.2, y + 4.6),
                        (x - w * 0.8, y + 2.6),
                    ]
                ),
                fill=PAPER,
                width=FINE,
            )
    edges(d)


@draws("bark_tex", "thick_plates")
def _(d: Drawing) -> None:
    """A few large plates, longer than wide, with dark cracks between."""
    ground(d, INK)
    for points in (
        [(15, 5), (38, 5), (41, 30), (34, 44), (15, 40)],
        [(43, 5), (70, 5), (72, 22), (64, 30), (46, 27)],
        [(75, 5), (85, 5), (85, 46), (73, 40)],
        [(45, 32), (66, 35), (70, 60), (60, 72), (42, 66), (39, 46)],
        [(15, 45), (34, 49), (37, 70), (30, 84), (15, 80)],
        [(74, 46), (85, 51), (85, 95), (72, 95), (68, 74)],
        [(15, 85), (31, 88), (36, 95), (15, 95)],
        [(40, 71), (58, 77), (65, 80), (67, 95), (41, 95), (35, 86)],
    ):
        d.shape(*points, fill=PALE, width=FINE)
    d.add(
        lines(
            [
                [(20, 20), (33, 22)],
                [(52, 16), (62, 15)],
                [(48, 50), (60, 54)],
                [(20, 64), (29, 66)],
                [(76, 70), (82, 72)],
                [(46, 86), (58, 88)],
            ]
        ),
        FINE,
    )
    edges(d)


@draws("bark_tex", "diamond")
def _(d: Drawing) -> None:
    """Narrow ridges part and meet again; the hollows between them are diamonds."""
    ground(d, PALE)
    for row in range(7):
        for k in range(4):
            part = -0.75 + 0.5 * k + (0.25 if row % 2 else 0)
            if part > 0.8:
                continue
            x, y = round_x(part), 5 + row * 15
            w = 6.4 * math.cos(part * 1.2)
            d.shape(*within([(x, y - 12), (x + w, y), (x, y + 12), (x - w, y)]), fill=INK, width=FINE)
    edges(d)


@draws("bark_tex", "flat_ridges")
def _(d: Drawing) -> None:
    """Long flat strips with narrow cracks."""
    ground(d, PALE)
    for k, part in enumerate((-0.72, -0.42, -0.14, 0.14, 0.42, 0.72)):
        x = round_x(part)
        runs = ((5, 58), (64, 95)) if k % 2 else ((5, 34), (40, 95))
        for y0, y1 in runs:
            points = [(x + d.random.uniform(-1.4, 1.4), y0 + (y1 - y0) * i / 5) for i in range(6)]
            d.add(smooth(points), BOLD)
    for x, y in ((round_x(-0.57), 44), (round_x(0), 72), (round_x(0.28), 26), (round_x(0.57), 60)):
        d.line((x - 4, y), (x + 4, y - 2), width=FINE)
    edges(d)


@draws("bark_tex", "deep_furrows")
def _(d: Drawing) -> None:
    """Thick rounded ridges that cross like ropes, and black furrows."""
    ground(d, INK)
    ropes = []
    for k, part in enumerate((-0.82, -0.41, 0.0, 0.41, 0.82)):
        way = 1 if k % 2 else -1
        ropes.append(
            [
                (
                    round_x(max(min(part + way * 0.085 * math.cos(i * math.pi / 3 + k), 0.86), -0.86)),
                    7 + 86 * i / 9,
                )
                for i in range(10)
            ]
        )
    for k, rope in enumerate(ropes):
        size = 6 if k in (0, 4) else 10
        d.add(smooth(rope), size, stroke=PALE)
        d.add(
            "".join(
                smooth(bow((x - size * 0.22, y - 4), (x + size * 0.1, y + 5), 1, 2)) for x, y in rope[1:-1]
            ),
            FINE,
        )
    edges(d)


@draws("bark_tex", "blocks")
def _(d: Drawing) -> None:
    """Small thick squares, cracked down and across."""
    ground(d, INK)
    xs = [LEFT + 1.5, 23, 36, 50, 64, 77, RIGHT - 1.5]
    for i in range(6):
        for row in range(7):
            y = TOP + row * 13 + (i % 2) * 4 - 2
            x0, x1 = xs[i] + 1.2, xs[i + 1] - 1.2
            jog = d.random.uniform(-1, 1)
            points = within(
                [(x0, y + 1.6 + jog), (x1, y + 1.6 - jog), (x1 - 0.4, y + 10.6 + jog), (x0 + 0.4, y + 10.6)]
            )
            d.add(poly(points, close=True), 0, PALE if (i + row) % 3 else GREY)
    edges(d)


@draws("bark_tex", "warts")
def _(d: Drawing) -> None:
    """Corky lumps on smooth bark, some run together to short ridges."""
    ground(d, PALE)
    for x, y, h in (
        (26, 16, 9),
        (44, 24, 5),
        (62, 18, 12),
        (78, 26, 6),
        (30, 44, 13),
        (50, 50, 8),
        (70, 48, 10),
        (24, 72, 7),
        (42, 78, 12),
        (60, 76, 6),
        (76, 76, 11),
        (56, 90, 3),
    ):
        w = 6 if 24 < x < 76 else 4.6
        d.blob(
            (x - w, y + h / 2),
            (x - w * 0.6, y - h),
            (x + w * 0.7, y - h),
            (x + w, y + h / 2),
            (x, y + h * 0.7),
            fill=GREY,
        )
        d.add(smooth([(x - w * 0.4, y - h * 0.4), (x, y - h * 0.62), (x + w * 0.4, y - h * 0.5)]), FINE)
        d.add(
            smooth([(x - w - 1.6, y + h / 2 + 1), (x, y + h * 0.7 + 1.6), (x + w + 1.6, y + h / 2 + 1)]), LINE
        )
    edges(d)


@draws("bark_tex", "strings")
def _(d: Drawing) -> None:
    """Fibrous strips, thin and long, some frayed off at one end."""
    ground(d, PALE)
    strands = []
    for k in range(15):
        part = -0.92 + 1.84 * k / 14
        shift = 0.0
        for y0, y1 in ((5, 32), (29, 66), (62, 95)):
            shift += d.random.uniform(-0.03, 0.03)
            strands.append(
                within(
                    [
                        (round_x(part + shift) + d.random.uniform(-1.6, 1.6), y0 + (y1 - y0) * i / 3)
                        for i in range(4)
                    ]
                )
            )
    d.add("".join(smooth(s) for s in strands), FINE)
    edges(d)
    for x, y, way in ((13, 40, -1), (13, 78, -1), (87, 30, 1), (87, 70, 1)):
        d.add(
            smooth([(x, y - 22), (x + way * 3, y - 8), (x + way * 9, y + 4)])
            + smooth([(x, y - 12), (x + way * 2, y), (x + way * 5, y + 9)]),
            LINE,
        )
    for x, y in ((38, 52), (60, 30)):
        d.add(
            smooth(
                [(x, y - 26), (x + 1, y - 8), (x + 8, y + 12), (x + 3, y + 4), (x - 4, y - 8)], close=True
            ),
            LINE,
            PAPER,
        )


@draws("bark_tex", "patches")
def _(d: Drawing) -> None:
    """Where plates have dropped the bark is pale; the old ones stay dark, like a map."""
    ground(d, PAPER)
    for fill, points in (
        (DARK, [(15, 6), (34, 6), (42, 18), (30, 26), (15, 22)]),
        (GREY, [(50, 6), (74, 6), (70, 22), (58, 28), (50, 18)]),
        (DARK, [(72, 30), (85, 26), (85, 54), (74, 52), (66, 42)]),
        (GREY, [(22, 36), (40, 32), (48, 46), (36, 58), (22, 52)]),
        (DARK, [(46, 60), (60, 52), (70, 64), (62, 78), (48, 74)]),
        (DARK, [(15, 66), (28, 64), (38, 76), (30, 94), (15, 94)]),
        (GREY, [(72, 74), (85, 68), (85, 94), (66, 94)]),
        (GREY, [(46, 84), (56, 82), (60, 94), (46, 94)]),
    ):
        d.blob(*within(points), fill=fill, width=FINE)
    edges(d)


@draws("bark_tex", "chips")
def _(d: Drawing) -> None:
    """Dark thin chips, each turned up at the rim like burnt flakes."""
    ground(d, DARK)
    for row in range(7):
        for k in range(4):
            x = round_x(-0.68 + 0.44 * k + (0.2 if row % 2 else -0.02)) + d.random.uniform(-2, 2)
            y = 13 + row * 12.4 + d.random.uniform(-2, 2)
            w, turn = 9.5 * math.cos((x - 50) / 40), d.random.uniform(-35, 35)
            chip = within(
                [
                    toward((x, y), turn + a, w * r)
                    for a, r in ((0, 0.7), (70, 1), (110, 1), (180, 0.7), (250, 1), (290, 1))
                ]
            )
            d.blob(*chip, fill=INK, width=HAIR)
            d.add(
                smooth(
                    within(
                        [
                            toward((x, y), turn + a, w * r)
                            for a, r in ((120, 1), (180, 0.7), (240, 1), (282, 0.95))
                        ]
                    )
                ),
                LINE,
                stroke=PALE,
            )
    edges(d)


# -- colours: every tint has its own pattern -----------------------------------------------------------

TINTS = {
    "white": "#ffffff",
    "light_grey": "#c9c8c4",
    "grey_brown": "#857a6b",
    "black": "#2b2825",
    "red_brown": "#97502f",
    "orange": "#db8433",
    "bronze": "#d3b75c",
    "mottled": "#ece6cf",
}


def _tinted(d: Drawing, state: str) -> None:
    ground(d, TINTS[state])
    ink: list[list[Point]] = []
    if state == "white":
        ink = [
            [(20, 20), (36, 20)],
            [(58, 32), (80, 32)],
            [(22, 56), (48, 56)],
            [(62, 70), (76, 70)],
            [(30, 84), (40, 84)],
        ]
    elif state == "light_grey":
        d.dots(
            [
                (round_x(-0.75 + 0.3 * k + (0.15 if r % 2 else 0)), 12 + r * 13)
                for r in range(7)
                for k in range(6)
            ],
            LINE,
        )
    elif state == "grey_brown":
        ink = [
            [(round_x(-0.8 + 0.32 * k), 8 + (k % 2) * 6), (round_x(-0.8 + 0.32 * k), 92 - (k % 3) * 9)]
            for k in range(6)
        ]
    elif state == "black":
        d.add(
            lines([[(x, y), (x + 8, y)] for y in range(16, 92, 15) for x in range(22 + (y % 2) * 8, 78, 18)]),
            LINE,
            stroke=GREY,
        )
    elif state == "red_brown":
        ink = [cut(between((x, 5), (x + 38, 95)), inside)[0] for x in (16, 32, 48)] + [
            cut(between((x, 5), (x - 38, 95)), inside)[0] for x in (52, 68, 84)
        ]
    elif state == "orange":
        for y in (5, 35, 65):
            shift = 12 if y == 35 else 0
            ink += [
                [(LEFT + 2, y + 28), (RIGHT - 2, y + 28)],
                [(38 + shift, y), (38 + shift, y + 28)],
                [(66 + shift, y), (66 + shift, y + 28)],
            ]
    elif state == "bronze":
        for y in (16, 36, 58, 80):
            ink += [arc(30, y, 12, 5, 0, 180, 6), arc(66, y + 8, 12, 5, 0, 180, 6)]
    else:
        for fill, x, y in (
            ("#7f8a5a", 26, 20),
            ("#a98f66", 66, 18),
            ("#7f8a5a", 70, 50),
            ("#a98f66", 34, 52),
            ("#a98f66", 74, 82),
            ("#7f8a5a", 40, 82),
        ):
            d.blob(
                *within([toward((x, y), a, 14 if a % 120 else 10) for a in range(0, 360, 60)]),
                fill=fill,
                width=FINE,
            )
    d.add(lines(ink), LINE, stroke=ink_on(TINTS[state]))
    edges(d)


for _state in TINTS:
    draws("bark_col", _state)(lambda d, state=_state: _tinted(d, state))

# -- thickness and section at the saw cut --------------------------------------------------------------


def _thick(d: Drawing, thick: float) -> None:
    """A piece of the round, the bark above the wood; the staff at the side is one inch, in quarters."""
    outer = bow((5, 26), (76, 26), -7, 12)
    inner = [(x, y + thick) for x, y in outer]
    d.add(poly([*inner, (76, 92), (5, 92)], close=True), LINE, PALE)
    for k in (14, 28, 42):
        if thick + k < 64:
            d.add(smooth([(x, y + thick + k) for x, y in bow((6, 26), (75, 26), -7, 4)]), HAIR)
    deep = min(thick * 0.55, 10)
    teeth: list[Point] = []
    for (x, y), (x1, y1) in pairwise(outer[::2]):
        teeth += [
            (x, y + deep),
            (x + 2, y + 1),
            (x + 4.4, y),
            (x1 - 4, y1),
            (x1 - 1.8, y1 + 1),
            (x1, y1 + deep),
        ]
    d.add(poly([*teeth, *reversed(inner)], close=True), LINE, DARK)
    unit = 32 / 4
    for i in range(4):
        d.shape(
            (84, 20 + i * unit),
            (94, 20 + i * unit),
            (94, 28 + i * unit),
            (84, 28 + i * unit),
            fill=PAPER if i % 2 else INK,
            width=FINE,
        )


@draws("bark_thick", "thin")
def _(d: Drawing) -> None:
    _thick(d, 6.5)


@draws("bark_thick", "medium")
def _(d: Drawing) -> None:
    _thick(d, 17)


@draws("bark_thick", "thick")
def _(d: Drawing) -> None:
    _thick(d, 39)


def _sliced(d: Drawing) -> list[Point]:
    """A knocked-off piece of dead bark, cut through; rough outside above."""
    outline = [
        (8, 34),
        (16, 20),
        (28, 28),
        (40, 15),
        (54, 26),
        (68, 14),
        (80, 26),
        (92, 20),
        (93, 84),
        (50, 92),
        (7, 84),
    ]
    d.shape(*outline, fill=GREY)
    return outline


@draws("bark_slice", "banded")
def _(d: Drawing) -> None:
    _sliced(d)
    for y in (40, 56, 72):
        d.add(smooth([(10, y), (30, y + 3), (50, y + 5), (70, y + 3), (90, y)]), HEAVY + 1, stroke=INK)
        d.add(
            smooth([(10, y + 8), (30, y + 11), (50, y + 13), (70, y + 11), (90, y + 8)]), HEAVY, stroke=PAPER
        )
    d.shape(
        (7, 84),
        (8, 34),
        (16, 20),
        (28, 28),
        (40, 15),
        (54, 26),
        (68, 14),
        (80, 26),
        (92, 20),
        (93, 84),
        (50, 92),
        fill="none",
    )


@draws("bark_slice", "uniform")
def _(d: Drawing) -> None:
    _sliced(d)
    d.dots(
        [
            (x, y)
            for x, y in (
                (24, 46),
                (44, 40),
                (66, 48),
                (80, 40),
                (34, 64),
                (56, 66),
                (76, 68),
                (20, 76),
                (46, 82),
            )
        ],
        HAIR,
    )


# -- inner bark: a window shaved to the living layer -----------------------------------------------------

INNER = {"yellow": "#f2b61f", "red": "#dd7b6a", "cream": "#f8efd3", "brown": "#8c6440"}


def _shaved(d: Drawing, fill: str) -> None:
    ground(d, DARK)
    d.add(
        lines(
            [[(round_x(p), 8), (round_x(p) + 1, 92)] for p in (-0.86, -0.68, 0.68, 0.86)]
            + [[(44, 6), (45, 12)], [(56, 88), (55, 94)]]
        ),
        LINE,
    )
    d.blob((50, 12), (68, 24), (72, 50), (68, 76), (50, 88), (32, 76), (28, 50), (32, 24), fill=PAPER)
    d.blob((50, 18), (63, 28), (66, 50), (63, 72), (50, 82), (37, 72), (34, 50), (37, 28), fill=fill)
    edges(d)


def _in_window(x: float, y: float) -> bool:
    return ((x - 50) / 13.5) ** 2 + ((y - 50) / 29) ** 2 < 1


@draws("inner_bark", "yellow")
def _(d: Drawing) -> None:
    _shaved(d, INNER["yellow"])
    spots = [(x + (y % 2) * 4, y) for y in range(25, 80, 9) for x in range(36, 66, 8)]
    d.dots([spot for spot in spots if _in_window(*spot)], BOLD)


@draws("inner_bark", "red")
def _(d: Drawing) -> None:
    _shaved(d, INNER["red"])
    d.add(
        lines([run for x in range(10, 90, 8) for run in cut(between((x, 80), (x + 30, 20), 40), _in_window)]),
        FINE,
    )


@draws("inner_bark", "cream")
def _(d: Drawing) -> None:
    _shaved(d, INNER["cream"])


@draws("inner_bark", "brown")
def _(d: Drawing) -> None:
    _shaved(d, INNER["brown"])
    down = [run for x in (40, 46, 54, 60) for run in cut(between((x, 20), (x, 80), 40), _in_window)]
    across = [run for y in (30, 40, 50, 60, 70) for run in cut(between((30, y), (70, y), 40), _in_window)]
    d.add(lines(down + across), FINE)


@draws("inner_feel", "slimy")
def _(d: Drawing) -> None:
    """A wet strip that threads between the fingers."""
    _strip(d)
    for x, y in ((28, 62), (50, 66), (72, 62)):
        d.blob(
            (x - 5, y - 12),
            (x + 5, y - 12),
            (x + 2, y),
            (x + 5, y + 16),
            (x, y + 24),
            (x - 5, y + 16),
            (x - 2, y),
            fill="#ffffff",
        )


@draws("inner_feel", "strings")
def _(d: Drawing) -> None:
    _strip(d)
    d.add(
        "".join(
            smooth([(x, 56), (x + (x - 50) * 0.2, 74), (x + (x - 50) * 0.1 + (3 if i % 2 else -3), 93)])
            for i, x in enumerate(range(14, 90, 8))
        ),
        LINE,
    )


@draws("inner_feel", "plain")
def _(d: Drawing) -> None:
    """The strip snaps across."""
    for x0, x1, lean in ((8, 46, 8), (92, 54, 8)):
        d.shape(
            (x0, 40),
            (x1, 40 + lean),
            (x1 + (3 if x0 < 50 else -3), 49 + lean),
            (x1 - (2 if x0 < 50 else -2), 58 + lean),
            (x0, 58),
            fill=PALE,
        )


def _strip(d: Drawing) -> None:
    d.shape((6, 34), (94, 34), (94, 54), (6, 54), fill=PALE)
    d.add(lines([[(12, 41), (88, 41)], [(12, 48), (88, 48)]]), HAIR)


# -- pores in smooth bark, streaks, blisters --------------------------------------------------------------


@draws("lenticel", "dashes")
def _(d: Drawing) -> None:
    ground(d, PALE)
    d.add(
        lines(
            [
                [(18, 14), (40, 14)],
                [(54, 22), (82, 22)],
                [(24, 34), (46, 34)],
                [(60, 44), (80, 44)],
                [(18, 54), (44, 54)],
                [(52, 64), (78, 64)],
                [(22, 74), (40, 74)],
                [(56, 84), (82, 84)],
            ]
        ),
        BOLD,
    )
    edges(d)


@draws("lenticel", "diamonds")
def _(d: Drawing) -> None:
    ground(d, PALE)
    for x, y in (
        (28, 18),
        (54, 14),
        (74, 30),
        (40, 38),
        (24, 58),
        (58, 54),
        (76, 66),
        (42, 76),
        (62, 86),
        (24, 86),
    ):
        d.shape((x, y - 8), (x + 6, y), (x, y + 8), (x - 6, y), fill=INK, width=FINE)
    edges(d)


@draws("lenticel", "none")
def _(d: Drawing) -> None:
    ground(d, PALE)
    edges(d)


def _ridged(d: Drawing, streaks: bool) -> None:
    ground(d, GREY)
    xs = (15, 28, 44, 60, 74, 85)
    for x in xs[1:-1]:
        d.add(smooth([(x + d.random.uniform(-1.5, 1.5), 6 + 88 * i / 5) for i in range(6)]), HEAVY)
    for i, (a, b) in enumerate(pairwise(xs)):
        x, w = (a + b) / 2, (b - a) / 2 - 4.4
        if streaks:
            d.add(
                smooth([(x + d.random.uniform(-0.6, 0.6), 8 + 84 * k / 4) for k in range(5)]),
                max(w * 1.7, 2.4),
                stroke="#ffffff",
            )
        else:
            d.add(
                lines([[(x - w, y + i % 2 * 5), (x + w, y + 3 + i % 2 * 5)] for y in range(12, 88, 11)]), FINE
            )
    edges(d)


@draws("ski_stripe", "yes")
def _(d: Drawing) -> None:
    _ridged(d, True)


@draws("ski_stripe", "no")
def _(d: Drawing) -> None:
    _ridged(d, False)


@draws("blisters", "yes")
def _(d: Drawing) -> None:
    ground(d, PALE)
    for x, y, r in (
        (30, 22, 8),
        (58, 18, 6.5),
        (74, 38, 7),
        (44, 44, 9),
        (26, 62, 7),
        (66, 64, 9),
        (46, 78, 7),
        (76, 86, 5.5),
    ):
        d.ellipse(x, y, r * 1.15, r * 0.86, fill=PAPER)
        d.add(smooth(arc(x, y, r * 0.7, r * 0.45, 190, 270, 3)), FINE)
        if r == 9:
            d.blob((x, y + 4), (x - 4, y + 13), (x, y + 18), (x + 4, y + 13), fill=DARK)
    edges(d)


@draws("blisters", "no")
def _(d: Drawing) -> None:
    ground(d, PALE)
    d.add(
        lines([[(22, 24), (32, 24)], [(60, 40), (72, 40)], [(30, 66), (40, 66)], [(62, 82), (70, 82)]]), FINE
    )
    edges(d)
