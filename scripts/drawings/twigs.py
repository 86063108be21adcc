"""Winter twigs: how they end, buds, leaf scars, pith, thorns, cork, spurs, thickness and colour."""

from __future__ import annotations

from leaf import bud
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
    draws,
    ink_on,
    lines,
    poly,
    smooth,
    toward,
)


def twig(d: Drawing, bottom: Point, top: Point, size: float, fill: str = GREY) -> None:
    d.tube(between(bottom, top, 2), size=size, fill=fill, bent=False)


def scar(d: Drawing, x: float, y: float, half: float) -> None:
    """A plain leaf scar, seen from the front: a smile under a bud."""
    d.blob((x - half, y - 1), (x, y + 0.5), (x + half, y - 1), (x, y + half * 0.8), fill=PAPER, width=FINE)


# -- how the twig ends ------------------------------------------------------------------------------


def _side_bud(d: Drawing, y: float, way: int, length: float = 13, half: float = 4, x: float = 50) -> None:
    foot = (x + way * 4.5, y)
    bud(d, foot, toward(foot, way * 28, length), half, scales=0)
    d.line((x + way * 2, y + 3.4), (x + way * 7.4, y + 2.6), width=BOLD)


@draws("end_bud", "cluster")
def _(d: Drawing) -> None:
    twig(d, (50, 95), (50, 44), 8)
    _side_bud(d, 80, -1)
    _side_bud(d, 64, 1)
    for degrees, length in ((-58, 25), (58, 25), (-30, 31), (30, 31), (0, 38)):
        foot = toward((50, 45), degrees, 3)
        bud(d, foot, toward(foot, degrees, length), 7.2, scales=3)


@draws("end_bud", "one")
def _(d: Drawing) -> None:
    twig(d, (50, 95), (50, 46), 8)
    _side_bud(d, 84, -1)
    _side_bud(d, 66, 1)
    bud(d, (50, 46), (50, 6), 12, scales=4)


@draws("end_bud", "none")
def _(d: Drawing) -> None:
    """The tip has died back to a stub; the bud beside it leans out and takes its place."""
    twig(d, (50, 95), (50, 47), 8)
    _side_bud(d, 82, -1)
    d.shape((44.5, 48), (46, 34), (50, 37), (53, 33), (55, 48), fill=DARK)
    bud(d, (56, 46), (74, 15), 8.5, scales=3)
    d.curve((51, 51), (56, 54), (62, 50), width=BOLD)


@draws("end_bud", "sunken")
def _(d: Drawing) -> None:
    twig(d, (50, 95), (50, 14), 14)
    for y, way in ((82, -1), (60, 1), (38, -1)):
        x = 50 + way * 2
        d.blob((x - 5, y), (x, y - 5), (x + 5, y), (x, y + 6), fill=PAPER)
        d.dots([(x, y)], 4)
    d.add(poly([(43, 13), (57, 13)]), LINE)
    d.dots([(50, 16)], 4)


# -- the largest bud: each on the same piece of twig -------------------------------------------------


def _bud_twig(d: Drawing) -> None:
    twig(d, (50, 96), (50, 74), 9)
    d.add(lines([arc(50, 80, 5.4, 2, 10, 170), arc(50, 84, 5.4, 2, 10, 170)]), FINE)


@draws("bud_form", "cigar")
def _(d: Drawing) -> None:
    _bud_twig(d)
    bud(d, (50, 75), (50, 4), 7, low=0.8, high=1.1, scales=5)


@draws("bud_form", "sharp")
def _(d: Drawing) -> None:
    _bud_twig(d)
    bud(d, (50, 75), (50, 38), 9.5, low=0.35, high=1.1, scales=3)


@draws("bud_form", "blunt")
def _(d: Drawing) -> None:
    _bud_twig(d)
    d.ellipse(50, 60, 12, 13.5, fill=PALE)
    d.add(
        lines([arc(50, 66, 11, 5, 200, 300, 6), arc(53, 60, 9, 6, 190, 330, 6)]) + poly([(40, 67), (46, 72)]),
        FINE,
    )


@draws("bud_form", "large")
def _(d: Drawing) -> None:
    _bud_twig(d)
    bud(d, (50, 76), (50, 10), 25, low=0.5, high=0.75, scales=5)


@draws("bud_form", "two_scale")
def _(d: Drawing) -> None:
    """Two scales edge to edge, as in a clam; they part a little at the tip."""
    _bud_twig(d)
    for way in (-1, 1):
        d.blob(
            (50, 75),
            (50 + way * 13, 66),
            (50 + way * 16, 50),
            (50 + way * 10, 34),
            (50 + way * 5, 22),
            (50 + way * 1.4, 38),
            (50, 56),
            fill=PALE,
        )
    d.line((50, 75), (50, 34), width=LINE)


@draws("bud_form", "stalked")
def _(d: Drawing) -> None:
    twig(d, (32, 96), (32, 8), 8)
    d.tube([(34, 80), (46, 72), (54, 60)], size=4)
    bud(d, (53, 62), (70, 18), 11, low=0.6, high=0.6, scales=1)
    d.curve((30, 84), (36, 87), (40, 82), width=BOLD)


@draws("bud_form", "one_cap")
def _(d: Drawing) -> None:
    """One scale goes all round, as a hood does."""
    _bud_twig(d)
    d.blob((38.5, 74), (39, 60), (43, 46), (50, 34), (57, 46), (61, 60), (61.5, 74), (50, 77), fill=PALE)
    d.curve((44.5, 66), (45.5, 54), (50, 43), width=HAIR)


# -- bud and twig colours: the tint always comes with a pattern of its own ----------------------------

BUD_TINTS = {
    "brown": ("#8a5a2b", "scales"),
    "red": ("#c8331f", "up"),
    "yellow": ("#f0cf2e", "grains"),
    "black": (INK, "shine"),
    "green": ("#5d9a3c", "along"),
    "grey": ("#c9c7c2", "felt"),
}


def _tinted_bud(d: Drawing, state: str) -> None:
    tint, pattern = BUD_TINTS[state]
    twig(d, (50, 96), (50, 78), 10)
    bud(d, (50, 78), (50, 7), 25, low=0.5, high=0.75, scales=4 if pattern == "scales" else 0, fill=tint)
    ink: list[list[Point]] = []
    if pattern == "up":
        ink = [[(30 + i * 8, 64), (40 + i * 6, 34 + abs(i - 1.5) * 5)] for i in range(4)]
    elif pattern == "along":
        ink = [bow((50 + k * 2, 76), (50 + k * 1.5, 22), -k * 4.5) for k in (-2, 0, 2)]
    elif pattern == "felt":
        ink = [
            [(x, y), (x + 2.5, y - 5)]
            for y in (36, 46, 56, 66)
            for x in range(34, 66, 7)
            if abs(x - 49) < (y - 10) * 0.36
        ]
    d.add(lines(ink), LINE if pattern == "up" else FINE, stroke=ink_on(tint))
    if pattern == "grains":
        d.dots(
            [
                (x + (y % 2) * 4, y)
                for y in (29, 38, 47, 56, 65)
                for x in range(34, 64, 8)
                if abs(x - 48) < (y - 6) * 0.33
            ],
            2.6,
        )
    if pattern == "shine":
        d.add(smooth([(40, 62), (41, 48), (46, 34)]), BOLD, stroke=PAPER)


for _state in BUD_TINTS:
    draws("bud_col", _state)(lambda d, state=_state: _tinted_bud(d, state))


@draws("bud_cover", "smooth")
def _(d: Drawing) -> None:
    twig(d, (50, 96), (50, 78), 10)
    bud(d, (50, 78), (50, 7), 25, low=0.5, high=0.75, scales=4)


@draws("bud_cover", "fuzzy")
def _(d: Drawing) -> None:
    twig(d, (50, 96), (50, 78), 10)
    bud(d, (50, 78), (50, 12), 22, low=0.5, high=0.75, scales=0)
    hairs = []
    for i in range(13):
        t = i / 12
        for way in (-1, 1):
            half = 22 * (t**0.5 * (1 - t) ** 0.75) / (0.4**0.5 * 0.6**0.75)
            foot = (50 + way * half, 78 - 66 * t)
            hairs.append([foot, toward(foot, way * (62 - 45 * t), 7)])
    for y in (34, 44, 54, 64):
        hairs += [[(x, y), (x + 2, y - 6)] for x in range(36, 64, 7) if abs(x - 49) < (y - 14) * 0.36]
    d.add(lines(hairs), FINE)


@draws("bud_cover", "sticky")
def _(d: Drawing) -> None:
    twig(d, (50, 96), (50, 78), 10)
    bud(d, (50, 78), (50, 7), 25, low=0.5, high=0.75, scales=0, fill=DARK)
    d.add(smooth([(38, 62), (38, 50), (44, 36)]), HEAVY, stroke=PAPER)
    for x, y in ((72, 70), (30, 78), (61, 88)):
        d.blob((x, y - 9), (x - 4.5, y), (x, y + 5), (x + 4.5, y), fill=PAPER)
    d.curve((71, 56), (73, 60), (72, 64), width=FINE)


TWIG_TINTS = {
    "green": "#5d9a3c",
    "red": "#a8203c",
    "brown": "#8f7d66",
    "yellow": "#eeb021",
    "red_brown": "#8d3f1f",
}


def _tinted_twig(d: Drawing, state: str) -> None:
    strands = [[(30, 95), (42, 62), (50, 34), (62, 7)], [(42, 62), (64, 48), (78, 24)]]
    d.tube(*strands, size=11, fill=TWIG_TINTS[state])
    axis = [(33, 86), (36.5, 77), (41, 65), (45, 53), (48.4, 41), (53, 28), (58, 16)]
    branch = [(51, 57), (59, 52), (66, 45), (72, 35), (76, 28)]
    runs: list[list[Point]] = []
    if state == "green":
        d.add(smooth(axis) + smooth(branch), LINE)
    elif state == "red":
        runs = [[(x - 5, y + 2.5), (x + 5, y - 2.5)] for x, y in axis + branch]
    elif state == "brown":
        d.dots([(x + 2.4, y) for x, y in axis + branch] + [(x - 1.4, y - 6) for x, y in axis + branch], BOLD)
    elif state == "yellow":
        runs = [[(x - 1.4, y + 3.6), (x + 1.4, y - 3.6)] for x, y in axis + branch]
    else:
        runs = [[(x - 4, y + 3), (x + 4, y - 3)] for x, y in axis + branch]
        runs += [[(x - 4, y - 3), (x + 4, y + 3)] for x, y in axis + branch]
    d.add(lines(runs), BOLD if state == "yellow" else LINE, stroke=ink_on(TWIG_TINTS[state]))
    for foot, degrees in (((31, 78), -60), ((40, 44), -60), ((62, 59), 140)):
        bud(d, foot, toward(foot, degrees, 9), 3.2, fill=PAPER, scales=0)


for _state in TWIG_TINTS:
    draws("twig_col", _state)(lambda d, state=_state: _tinted_twig(d, state))

# -- stoutness: beside the same match and pencil ------------------------------------------------------


def _stout(d: Drawing, size: float) -> None:
    d.tube([(18, 94), (18, 30)], size=3, fill=PAPER, edge=FINE, bent=False)
    d.ellipse(18, 26, 3.8, 6, fill=INK, width=0)
    d.shape((72, 95), (72, 28), (79.5, 9), (87, 28), (87, 95), fill=PAPER)
    d.add(
        poly([(72, 28), (77, 31), (82, 31), (87, 28)])
        + poly([(77, 32), (77, 94)])
        + poly([(82, 32), (82, 94)]),
        FINE,
    )
    d.shape((77.6, 14), (79.5, 9), (81.4, 14), fill=INK)
    twig(d, (45, 94), (45, 22), size)
    bud(d, (45, 22), (45, 8), max(size * 0.55, 2.4), scales=0)
    for y, way in ((76, -1), (54, 1), (38, -1)):
        foot = (45 + way * (size / 2 + 1), y)
        bud(d, foot, toward(foot, way * 30, 10), 3, scales=0)


@draws("twig_stout", "slender")
def _(d: Drawing) -> None:
    _stout(d, 2.4)


@draws("twig_stout", "medium")
def _(d: Drawing) -> None:
    _stout(d, 7)


@draws("twig_stout", "stout")
def _(d: Drawing) -> None:
    _stout(d, 14)


# -- pith: the end of the twig above, the cut along it below ------------------------------------------


def _pith(d: Drawing, half: float, fill: str, end: str = PAPER) -> None:
    d.shape((24, 95), (24, 26), (76, 26), (76, 95), fill=PALE)
    d.ellipse(50, 25, 26, 15, fill=PALE)
    d.add(lines([arc(50, 25, 21, 11.5, 0, 360, 24)]), HAIR)
    d.shape((50 - half, 94), (50 - half, 45), (50 + half, 45), (50 + half, 94), fill=fill, width=FINE)
    d.add(lines([[(24, 95), (24, 26)], [(76, 95), (76, 26)], [(24, 95), (76, 95)]]), LINE)
    if end != "none":
        d.ellipse(50, 25, half, half * 0.58, fill=end, width=FINE)


@draws("pith", "solid")
def _(d: Drawing) -> None:
    _pith(d, 8, PAPER)


@draws("pith", "star")
def _(d: Drawing) -> None:
    _pith(d, 6, PAPER, end="none")
    star = [
        (50 + (12 if i % 2 == 0 else 4.6) * x, 25 + (8.4 if i % 2 == 0 else 3.3) * y)
        for i, (x, y) in enumerate(toward((0, 0), 36 * k, 1) for k in range(10))
    ]
    d.shape(*star, fill=INK, width=HAIR)


@draws("pith", "cham_light")
def _(d: Drawing) -> None:
    _pith(d, 10, PAPER)
    d.add(lines([[(40, y), (60, y)] for y in range(50, 94, 6)]), LINE)


@draws("pith", "cham_dark")
def _(d: Drawing) -> None:
    _pith(d, 10, INK, end=INK)
    d.add(lines([[(41.2, y), (58.8, y)] for y in range(50, 94, 6)]), LINE, stroke=GREY)


@draws("pith", "wide")
def _(d: Drawing) -> None:
    _pith(d, 20, "#d98a4e", end="#d98a4e")
    d.dots([(x + (y % 2) * 3, y) for y in range(51, 92, 9) for x in range(36, 66, 9)], HAIR)


# -- leaf scars: looked at from the front, the bud above ---------------------------------------------


def _scarred(d: Drawing, bud_at: bool = True) -> None:
    d.add(poly([(20, 96), (20, 4)]) + poly([(80, 4), (80, 96)]), LINE)
    d.add(poly([(20, 4), (20, 96), (80, 96), (80, 4)], close=True), 0, GREY)
    d.add(poly([(20, 96), (20, 4)]) + poly([(80, 4), (80, 96)]), BOLD)
    if bud_at:
        bud(d, (50, 46), (50, 8), 13, scales=3)


def _bundles(d: Drawing, points: list[Point], size: float = 3.6) -> None:
    d.dots(points, size)


@draws("leaf_scar", "small")
def _(d: Drawing) -> None:
    _scarred(d)
    d.add(
        smooth([(37, 54), (43, 58), (50, 59), (57, 58), (63, 54), (57, 62), (50, 64), (43, 62)], close=True),
        FINE,
        PAPER,
    )
    _bundles(d, [(43, 59.6), (50, 61.4), (57, 59.6)], 2)


@draws("leaf_scar", "shield")
def _(d: Drawing) -> None:
    _scarred(d)
    d.blob(
        (50, 53),
        (60, 47),
        (70, 50),
        (71, 62),
        (62, 72),
        (57, 84),
        (50, 90),
        (43, 84),
        (38, 72),
        (29, 62),
        (30, 50),
        (40, 47),
        fill=PAPER,
    )
    for x, y in ((37, 57), (63, 57), (50, 80)):
        _bundles(d, [(x - 3, y), (x, y + 2), (x + 3, y)], 3)


@draws("leaf_scar", "around_bud")
def _(d: Drawing) -> None:
    """The ring that was the hollow foot of the leaf stalk."""
    _scarred(d, bud_at=False)
    d.ellipse(50, 50, 24, 31, fill=PAPER)
    d.ellipse(50, 50, 15, 21, fill=GREY)
    bud(d, (50, 70), (50, 30), 12, scales=2, low=0.6)
    _bundles(
        d,
        [(50 + 19.5 * x, 50 + 26 * y) for x, y in (toward((0, 0), a, 1) for a in (60, 120, 180, 240, 300))],
        3.4,
    )


@draws("leaf_scar", "notched")
def _(d: Drawing) -> None:
    """The bud sits in the notch."""
    _scarred(d, bud_at=False)
    d.blob(
        (27, 36),
        (33, 34),
        (39, 54),
        (50, 60),
        (61, 54),
        (67, 34),
        (73, 36),
        (72, 58),
        (62, 74),
        (50, 78),
        (38, 74),
        (28, 58),
        fill=PAPER,
    )
    bud(d, (50, 58), (50, 22), 12, scales=2)
    _bundles(d, arc(50, 46, 16, 23, 30, 150, 6), 2.6)


@draws("leaf_scar", "flat_top")
def _(d: Drawing) -> None:
    _scarred(d)
    d.add(poly([(27, 52), *arc(50, 52, 23, 30, 0, 180, 14)], close=True), LINE, PAPER)
    _bundles(d, arc(50, 54, 15, 18, 20, 160, 6), 2.6)


@draws("leaf_scar", "fringe")
def _(d: Drawing) -> None:
    _scarred(d, bud_at=False)
    bud(d, (50, 34), (50, 6), 10, scales=2)
    d.blob(
        (28, 48),
        (50, 46),
        (72, 48),
        (70, 62),
        (60, 74),
        (56, 86),
        (50, 90),
        (44, 86),
        (40, 74),
        (30, 62),
        fill=PAPER,
    )
    hairs = [[(x, 47), (x + (x - 50) * 0.14 + 0.8, 36 + abs(x - 50) * 0.09)] for x in range(28, 74, 4)]
    d.add(lines(hairs), LINE)
    for x, y in ((38, 58), (62, 58), (50, 80)):
        _bundles(d, [(x - 3, y), (x, y + 2), (x + 3, y)], 3)


@draws("leaf_scar", "big_round")
def _(d: Drawing) -> None:
    _scarred(d, bud_at=False)
    bud(d, (50, 27), (50, 12), 6, scales=0)
    d.ellipse(50, 58, 25, 26, fill=DARK)
    d.ellipse(50, 60, 20, 20.5, fill=PAPER)
    _bundles(d, [(50 + 14 * x, 60 + 14 * y) for x, y in (toward((0, 0), 30 * i, 1) for i in range(12))], 3)


# -- thorns ------------------------------------------------------------------------------------------


def spine(d: Drawing, foot: Point, tip: Point, half: float) -> None:
    """A stiff thorn, broad at its foot."""
    dx, dy = tip[0] - foot[0], tip[1] - foot[1]
    length = (dx * dx + dy * dy) ** 0.5
    nx, ny = -dy / length * half, dx / length * half
    d.shape((foot[0] + nx, foot[1] + ny), tip, (foot[0] - nx, foot[1] - ny), fill=INK, width=FINE)


@draws("thorns", "none")
def _(d: Drawing) -> None:
    twig(d, (50, 95), (50, 18), 7)
    bud(d, (50, 19), (50, 5), 5, scales=0)
    for y, way in ((80, -1), (62, 1), (44, -1), (30, 1)):
        _side_bud(d, y, way, 11, 3.4)


@draws("thorns", "paired")
def _(d: Drawing) -> None:
    """Two short spines, one on each side of the leaf scar."""
    twig(d, (50, 95), (50, 6), 9)
    for y in (78, 50, 22):
        for way in (-1, 1):
            spine(d, (50 + way * 6, y), (50 + way * 25, y - 5), 4.2)
        scar(d, 50, y, 5)
        d.dots([(50, y + 1.4)], 2)


@draws("thorns", "branched")
def _(d: Drawing) -> None:
    """Out of the trunk itself: a long shaft with side thorns."""
    d.shape((4, 97), (4, 3), (30, 3), (30, 97), fill=GREY)
    d.add(
        lines(
            [
                [(11, 12), (12, 40)],
                [(20, 30), (19, 62)],
                [(11, 58), (12, 90)],
                [(22, 76), (22, 92)],
                [(23, 6), (22, 20)],
            ]
        ),
        FINE,
    )
    for y, tip in ((80, (94, 66)), (34, (95, 20))):
        foot = (31, y)
        spine(d, foot, tip, 3.2)
        for part, degrees, length in ((0.28, 20, 24), (0.5, 118, 22), (0.6, 28, 18)):
            at = (foot[0] + (tip[0] - foot[0]) * part, foot[1] + (tip[1] - foot[1]) * part)
            spine(d, at, toward(at, degrees, length), 2.2)


@draws("thorns", "single")
def _(d: Drawing) -> None:
    twig(d, (40, 95), (40, 6), 7)
    for y, way in ((74, 1), (40, -1)):
        foot = (40 + way * 5, y)
        spine(d, foot, (40 + (way * 34 if way < 0 else 46), y - 8), 2.8)
        bud(d, (40 + way * 5, y - 6), (40 + way * 11, y - 15), 3.6, scales=0)


@draws("thorns", "spur")
def _(d: Drawing) -> None:
    """A side shoot that carries leaves and buds and ends in a point."""
    twig(d, (32, 95), (32, 6), 8)
    for y, length in ((74, 54), (34, 50)):
        tip = toward((36, y), 68, length)
        d.shape((36, y - 4), tip, (36, y + 4), fill=GREY)
        spine(d, toward((36, y), 68, length * 0.7), tip, 1.4)
        for part, side in ((0.28, -1), (0.5, 1), (0.6, -1)):
            at = toward((36, y), 68, length * part)
            degrees = 68 + side * 62
            foot = toward(at, degrees, 2.5)
            bud(d, foot, toward(foot, degrees - side * 25, 11), 4, scales=0)


# -- cork, spurs -------------------------------------------------------------------------------------


@draws("cork_wing", "yes")
def _(d: Drawing) -> None:
    for way in (-1, 1):
        edge = [(50 + way * 4, 92)]
        for i in range(10):
            y = 88 - i * 8.4
            edge += [(50 + way * (24 if i % 2 else 20), y), (50 + way * (19 if i % 3 else 13), y - 5)]
        d.shape(*edge, (50 + way * 4, 8), fill=DARK)
        d.add(
            lines([[(50 + way * 8, y), (50 + way * 18, y - 2)] for y in range(20, 92, 11)]),
            HAIR,
            stroke=PAPER,
        )
    twig(d, (50, 95), (50, 5), 6)


@draws("cork_wing", "no")
def _(d: Drawing) -> None:
    twig(d, (50, 95), (50, 5), 6)
    d.add(lines([[(48, y), (52, y)] for y in (22, 42, 64, 84)]), FINE)


@draws("spurs", "yes")
def _(d: Drawing) -> None:
    twig(d, (40, 95), (40, 6), 7)
    for y, way in ((82, 1), (64, -1), (48, 1), (30, -1), (16, 1)):
        x = 40 + way * 5
        d.tube([(x, y), (x + way * 15, y - 4)], size=7, fill=PALE, bent=False)
        d.add(
            lines([[(x + way * k, y - 5 - k * 0.25), (x + way * k, y + 3.4 - k * 0.25)] for k in (3, 7, 11)]),
            FINE,
        )
        tip = (x + way * 18, y - 4.6)
        bud(d, tip, (tip[0] + way * 8, tip[1] - 3), 3.6, fill=PAPER, scales=0)


@draws("spurs", "no")
def _(d: Drawing) -> None:
    twig(d, (40, 95), (40, 14), 7)
    bud(d, (40, 15), (40, 4), 4.4, scales=0)
    for y, way in ((82, 1), (62, -1), (42, 1), (26, -1)):
        _side_bud(d, y, way, 10, 3.2, x=40)
