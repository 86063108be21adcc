"""Needle trees: bundles, one needle, its length, what it leaves on the twig, cones."""

from __future__ import annotations

from leaf import leaf
from pen import (
    BOLD,
    DARK,
    FINE,
    GREY,
    HEAVY,
    INK,
    LINE,
    PALE,
    PAPER,
    Drawing,
    Point,
    arc,
    bends,
    bow,
    draws,
    lines,
    poly,
    smooth,
    toward,
)


def _needle(
    d: Drawing, foot: Point, degrees: float, length: float, bend: float = 0, width: float = BOLD
) -> None:
    d.add(smooth(bow(foot, toward(foot, degrees, length), bend, 3)), width)


# -- bundles: the needles of one bundle can be counted -------------------------------------------------


def _bundle(d: Drawing, angles: tuple[float, ...], length: float = 66, width: float = BOLD) -> None:
    for degrees in angles:
        _needle(d, (50, 74), degrees, length, degrees * 0.12, width)
    d.shape((44, 95), (45, 76), (47, 71), (53, 71), (55, 76), (56, 95), fill=GREY)
    d.add(lines([[(45, 88), (55, 88)], [(45, 81), (55, 81)]]), FINE)


@draws("needle_bundle", "single")
def _(d: Drawing) -> None:
    d.tube([(50, 95), (50, 14)], size=4.6, bent=False)
    for i, y in enumerate((86, 72, 58, 44, 30)):
        _needle(d, (53, y), 62, 36)
        _needle(d, (47, y - 7), -62, 36)
        del i
    _needle(d, (50, 13), 0, 9)


@draws("needle_bundle", "two")
def _(d: Drawing) -> None:
    _bundle(d, (-17, 17), width=HEAVY)


@draws("needle_bundle", "three")
def _(d: Drawing) -> None:
    _bundle(d, (-26, 0, 26), width=HEAVY - 1)


@draws("needle_bundle", "five")
def _(d: Drawing) -> None:
    _bundle(d, (-44, -22, 0, 22, 44), 64)


@draws("needle_bundle", "tuft")
def _(d: Drawing) -> None:
    """A knob on an old twig, with a rosette of needles."""
    d.tube([(5, 88), (50, 84), (95, 88)], size=5)
    d.shape((42, 82), (40, 66), (60, 66), (58, 82), fill=DARK)
    d.add(lines([[(42, 77), (58, 77)], [(41, 72), (59, 72)]]), FINE, stroke=PALE)
    for i in range(15):
        _needle(d, (50, 64), -91 + i * 13, 38 + (i % 2) * 9, 0, LINE)


# -- one needle, large, and its section at the foot ---------------------------------------------------


def _section(d: Drawing, draw_section: str) -> None:
    d.ellipse(77, 77, 18, fill=PAPER)
    d.add(draw_section, LINE, GREY)


@draws("needle_form", "flat_blunt")
def _(d: Drawing) -> None:
    """Blunt, notched at the tip, on a little stalk."""
    side = [(0, 0), (0.04, 2), (0.1, 8), (0.5, 9), (0.9, 9), (1.02, 5)]
    leaf(d, (16, 92), (62, 10), 9, side=[*side, (0.97, 0)], soft=True, veins=0, fill=PALE)
    _section(d, smooth([(64, 77), (77, 72), (90, 77), (77, 82)], close=True))


@draws("needle_form", "square")
def _(d: Drawing) -> None:
    d.shape((16, 92), (24, 76), (62, 20), (74, 4), (68, 24), (30, 82), fill=PALE)
    d.shape((16, 92), (27, 79), (65, 22), (74, 4), (68, 24), (30, 82), fill=DARK, width=FINE)
    _section(d, poly([(77, 65), (89, 77), (77, 89), (65, 77)], close=True))


@draws("needle_form", "thin")
def _(d: Drawing) -> None:
    """Long, thin, two of a bundle that lie back to back."""
    d.add(smooth([(20, 84), (28, 52), (32, 5)]), BOLD)
    d.add(smooth([(22, 84), (42, 50), (66, 12)]), BOLD)
    d.shape((14, 96), (17, 80), (25, 80), (24, 97), fill=GREY)
    d.line((16, 88), (25, 88), width=FINE)
    _section(
        d,
        poly([*arc(75, 77, 11, 11, 90, 270, 10)], close=True)
        + poly([*arc(79, 77, 11, 11, -90, 90, 10)], close=True),
    )


@draws("needle_form", "awl")
def _(d: Drawing) -> None:
    """Short and stiff, broad at the foot, pricking, often in threes."""
    d.tube([(50, 96), (50, 12)], size=3.4, bent=False)
    for y in (84, 62, 40):
        for degrees in (-62, 62):
            tip = toward((50, y), degrees, 29)
            d.shape((50, y + 6), (50, y - 5), tip, fill=GREY, width=FINE)
        d.shape((45, y + 3), (55, y + 3), (50, y - 20), fill=PAPER, width=FINE)
    d.shape((46, 18), (54, 18), (50, 3), fill=GREY, width=FINE)


@draws("needle_form", "feather")
def _(d: Drawing) -> None:
    """A whole twig of soft flat needles in two ranks, shed as one."""
    d.curve((40, 96), (50, 60), (52, 8), width=BOLD)
    for i in range(15):
        y = 84 - i * 5.4
        x = 44.5 + (84 - y) * 0.1
        length = 31 - abs(i - 5) * 1.6
        for way in (-1, 1):
            _needle(d, (x, y), way * 82, length, way * 1.0, LINE)


# -- length beside a staff of black and white inches ---------------------------------------------------


def _long(d: Drawing, inches: float, count: int = 3) -> None:
    unit = 11.0
    for i in range(8):
        d.shape(
            (12, 94 - i * unit),
            (24, 94 - i * unit),
            (24, 83 - i * unit),
            (12, 83 - i * unit),
            fill=PAPER if i % 2 else INK,
            width=FINE,
        )
    length = inches * unit
    for k in range(count):
        degrees = (k - (count - 1) / 2) * 12
        _needle(d, (60 + (k - 1) * 2, 94), degrees, length, degrees * 0.1)
    if inches > 1:
        d.shape((56, 96), (56, 90), (64, 90), (64, 96), fill=GREY, width=FINE)
    d.line((27, 94 - length), (88, 94 - length), width=FINE, dash="2 4")


for _state, _inches in (("under0.75", 0.6), ("0.75_1.5", 1.2), ("1.5_3", 2.4), ("3_6", 4.8), ("over6", 7.8)):
    draws("needle_len", _state)(lambda d, inches=_inches: _long(d, inches))

# -- what a fallen needle leaves ------------------------------------------------------------------------


def _bare_twig(d: Drawing) -> None:
    d.add(poly([(36, 96), (36, 4), (64, 4), (64, 96)], close=True), 0, PALE)
    d.add(lines([[(36, 96), (36, 4)], [(64, 4), (64, 96)]]), LINE)


_SPOTS = [(43, 84), (57, 72), (43, 60), (57, 48), (43, 36), (57, 24), (43, 13)]


@draws("needle_scar", "peg")
def _(d: Drawing) -> None:
    _bare_twig(d)
    for y in (86, 66, 46, 26):
        for way in (-1, 1):
            x = 50 + way * 14
            d.shape(
                (x, y + 6),
                (x + way * 14, y - 5),
                (x + way * 17, y - 11),
                (x + way * 10, y - 11),
                (x, y - 4),
                fill=DARK,
                width=FINE,
            )
    for x, y in ((50, 78), (50, 58), (50, 38), (50, 18)):
        d.shape((x - 4, y + 6), (x - 4, y - 4), (x + 4, y - 4), (x + 4, y + 6), fill=DARK, width=FINE)


@draws("needle_scar", "flat")
def _(d: Drawing) -> None:
    _bare_twig(d)
    for x, y in _SPOTS:
        d.ellipse(x, y, 5, fill=PAPER, width=FINE)
    d.dots(_SPOTS, LINE)


@draws("needle_scar", "small")
def _(d: Drawing) -> None:
    """A small oval that stands up a little, as seen at the twig's edge."""
    _bare_twig(d)
    for x, y in _SPOTS:
        d.ellipse(x, y, 3.8, 2.6, fill=INK, width=0)
    for x, way, shift in ((64, 1, 0), (36, -1, -12)):
        for y in (78, 54, 30):
            d.blob((x, y + 5 + shift), (x + way * 4.4, y + shift), (x, y - 4 + shift), fill=PALE, width=FINE)


@draws("needle_scar", "sheath")
def _(d: Drawing) -> None:
    """The bundle falls with its sheath; coarse bumps stay."""
    _bare_twig(d)
    for y in (84, 63, 42, 21):
        for way, shift in ((-1, 0), (1, -11)):
            x = 50 + way * 14
            d.blob(
                (x, y + 8 + shift),
                (x + way * 7, y + 3 + shift),
                (x + way * 6, y - 4 + shift),
                (x, y - 5 + shift),
                fill=GREY,
            )
    for x, y in ((50, 74), (50, 50), (50, 26)):
        d.blob((x - 6, y + 4), (x, y + 7), (x + 6, y + 4), (x + 4, y - 3), (x - 4, y - 3), fill=GREY)
    d.add(lines([[(82, 78), (78, 30)], [(84, 78), (90, 32)]]), LINE)
    d.shape((80, 92), (80, 76), (86, 76), (86, 92), fill=DARK, width=FINE)


# -- cones ---------------------------------------------------------------------------------------------


def scales(
    d: Drawing,
    x: float,
    top: float,
    bottom: float,
    half: float,
    rows: int,
    across: int,
    *,
    belly: float = 0.4,
    point: float = 0.0,
    fill: str = PALE,
    prickle: float = 0,
    width: float = FINE,
    up: bool = False,
) -> None:
    """A closed cone that hangs: rows of scales, each over the one below; `point` draws a scale out to a tip."""
    step = (bottom - top) / rows
    for row in reversed(range(rows)):
        t = (row + 0.5) / rows
        wide = half * (1 - abs(t - belly) ** 2.2 * (1.5 if t < belly else 1.9))
        count = across - row % 2
        y = top + step * row
        for k in range(count):
            cell = 2 * wide / across
            cx = x + (k - (count - 1) / 2) * cell
            foot = y + step * (1.7 - point * 0.2)
            corners: list[Point] = [
                (cx - cell * 0.62, y),
                (cx - cell * 0.62, y + step * 0.9),
                (cx - cell * 0.34, foot + point * step * 0.6),
                (cx, foot + point * step),
                (cx + cell * 0.34, foot + point * step * 0.6),
                (cx + cell * 0.62, y + step * 0.9),
                (cx + cell * 0.62, y),
            ]
            if up:
                corners = [(a, top + bottom - b) for a, b in corners]
            d.add(bends(*corners), width, fill)
            if prickle:
                side = (cx - x) / (half or 1)
                d.line((cx, y + step), (cx + side * prickle * 1.5, y + step + prickle), width=LINE)


def _hang(d: Drawing, y: float, x: float = 50) -> None:
    """The twig that a cone hangs from."""
    d.tube([(12, 8), (x, 7), (88, 10)], size=3.4)
    d.line((x, 8), (x, y), width=BOLD)


@draws("cone", "soft_long")
def _(d: Drawing) -> None:
    """Long, a little bent, the thin scales standing open."""
    axis = [(50 + 9 * (t - 0.1) ** 2 * 3, 16 + 75 * t) for t in (i / 9 for i in range(10))]
    _hang(d, 20, 50)
    for i in reversed(range(9)):
        x, y = axis[i]
        wide = (9, 13, 15, 15, 14.5, 13, 11.5, 9, 6)[i]
        for way in (-1, 1):
            d.blob(
                (x, y),
                (x + way * wide * 0.7, y + 2),
                (x + way * wide * 1.25, y + 11),
                (x + way * wide * 0.5, y + 12),
                fill=PALE,
                width=FINE,
            )
        d.blob(
            (x - wide * 0.5, y + 3),
            (x, y),
            (x + wide * 0.5, y + 3),
            (x + wide * 0.35, y + 13),
            (x - wide * 0.35, y + 13),
            fill=PAPER,
            width=FINE,
        )


def _egg_cone(d: Drawing, prickle: float) -> None:
    scales(d, 50, 16, 84, 33, 6, 5, belly=0.35, fill=GREY, prickle=prickle, width=LINE)
    d.tube([(30, 8), (50, 9), (72, 6)], size=4)


@draws("cone", "woody_plain")
def _(d: Drawing) -> None:
    _egg_cone(d, 0)


@draws("cone", "woody_prickly")
def _(d: Drawing) -> None:
    _egg_cone(d, 6.5)


@draws("cone", "papery_small")
def _(d: Drawing) -> None:
    _hang(d, 28)
    for i in range(8):
        _needle(d, (14 + i * 10.5, 8), 172 - (i % 2) * 14, 12, 0, FINE)
    scales(d, 50, 26, 66, 15, 6, 3, belly=0.45)


@draws("cone", "papery_large")
def _(d: Drawing) -> None:
    _hang(d, 16)
    scales(d, 50, 14, 90, 17, 12, 4, belly=0.45, point=0.25)


@draws("cone", "tiny")
def _(d: Drawing) -> None:
    """A few scales at the end of a needled twig."""
    d.curve((6, 14), (34, 20), (56, 40), (60, 60), width=BOLD)
    for i in range(10):
        x, y = 10 + i * 4.7, 15 + i * i * 0.34
        _needle(d, (x, y), 12 + i * 7, 12, 0, LINE)
        _needle(d, (x, y), 192 - i * 2 + i * 7, 15, 0, LINE)
    scales(d, 61, 58, 76, 9.5, 3, 3, belly=0.45)


@draws("cone", "upright")
def _(d: Drawing) -> None:
    """A barrel on top of the branch; it falls to pieces and leaves its core."""
    d.tube([(5, 90), (50, 86), (95, 90)], size=4.4)
    for i in range(9):
        _needle(d, (8 + i * 10.5, 89), -10 + (i % 2) * 20, 12, 0, LINE)
    d.line((50, 86), (50, 6), width=HEAVY)
    scales(d, 50, 26, 84, 20, 7, 4, belly=0.5, fill=GREY, up=True)
    for x, y, lean in ((82, 30, 25), (18, 40, -30), (84, 58, 60)):
        tip = toward((x, y), lean, 9)
        d.blob(
            (x, y),
            toward(tip, lean - 90, 6),
            toward(tip, lean, 4),
            toward(tip, lean + 90, 6),
            fill=PALE,
            width=FINE,
        )


@draws("cone", "tongues")
def _(d: Drawing) -> None:
    """From behind each scale a thin bract sticks out, cut in three points."""
    scales(d, 50, 12, 80, 23, 5, 3, belly=0.42, fill=GREY, width=LINE)
    d.tube([(20, 8), (50, 7), (80, 9)], size=3.4)
    for x, y, lean in ((29, 34, 50), (71, 34, -50), (31, 62, 40), (69, 62, -40)):
        _tongue(d, (x, y), 180 + lean, 21)
    for x, y in ((50, 22), (50, 50)):
        _tongue(d, (x, y), 180 + (50 - x) * 0.8, 21)
    _tongue(d, (50, 78), 180, 17)


def _tongue(d: Drawing, foot: Point, degrees: float, length: float) -> None:
    def at(turn: float, part: float) -> Point:
        return toward(foot, degrees + turn, part * length)

    d.shape(
        at(90, 0.14), at(22, 0.56), at(34, 0.86), at(13, 0.7), at(0, 1.16),
        at(-13, 0.7), at(-34, 0.86), at(-22, 0.56), at(-90, 0.14),
        fill=PAPER, width=FINE,
    )  # fmt: skip


@draws("cone", "blue_berry")
def _(d: Drawing) -> None:
    d.curve((8, 92), (40, 70), (92, 60), width=HEAVY)
    for x, y in ((20, 84), (34, 74), (50, 68), (66, 64), (82, 62)):
        for degrees in (-12, 40, 140, 195):
            d.shape(
                toward((x, y), degrees - 90, 3),
                toward((x, y), degrees, 15),
                toward((x, y), degrees + 90, 3),
                fill=PALE,
                width=FINE,
            )
    for x, y, r in ((34, 44, 15), (66, 36, 16), (56, 72, 13)):
        d.ellipse(x, y, r, fill="#6f87ad")
        d.add(smooth(arc(x, y, r * 0.62, r * 0.62, 185, 265, 4)), LINE, stroke=PAPER)
        d.add(
            lines(
                [
                    [(x + 2, y + 4), (x + 6, y + 1)],
                    [(x + 2, y + 4), (x + 6, y + 7)],
                    [(x + 2, y + 4), (x - 3, y + 4)],
                ]
            ),
            FINE,
        )


@draws("cone", "rosebud")
def _(d: Drawing) -> None:
    """Small and upright; a few leathery scales open like the petals of a bud."""
    for degrees, reach in ((-48, 34), (48, 34)):
        foot: Point = (50, 88)
        for i in reversed(range(6)):
            at = toward(foot, degrees * 1.3, 5 + i * reach / 6)
            d.blob(
                toward(at, degrees + 90, 5),
                toward(at, degrees, 9),
                toward(at, degrees - 90, 5),
                fill=PALE,
                width=FINE,
            )
    d.line((50, 97), (50, 72), width=HEAVY)
    for way in (-1, 1):
        d.blob(
            (50, 74),
            (50 + way * 22, 62),
            (50 + way * 34, 36),
            (50 + way * 24, 34),
            (50 + way * 11, 50),
            fill=GREY,
        )
    for way in (-1, 1):
        d.blob(
            (50, 74),
            (50 + way * 14, 58),
            (50 + way * 20, 30),
            (50 + way * 13, 18),
            (50 + way * 5, 34),
            fill=PALE,
        )
    d.blob((50, 74), (41, 54), (42, 30), (50, 16), (58, 30), (59, 54), fill=PAPER)


@draws("cone", "duckbill")
def _(d: Drawing) -> None:
    """Hanging; two long scales part from the middle one, as a bill gapes around its tongue."""
    _hang(d, 22)
    d.blob((50, 22), (55, 40), (54, 78), (50, 86), (46, 78), (45, 40), fill=PAPER)
    for way in (-1, 1):
        d.blob(
            (50, 20),
            (50 + way * 12, 24),
            (50 + way * 22, 48),
            (50 + way * 33, 82),
            (50 + way * 28, 90),
            (50 + way * 15, 74),
            (50 + way * 6, 46),
            fill=GREY,
        )
        d.curve((50 + way * 9, 32), (50 + way * 18, 56), (50 + way * 26, 80), width=FINE)
        d.blob((50, 20), (50 + way * 6, 20), (50 + way * 11, 32), (50 + way * 4, 34), fill=DARK, width=FINE)


@draws("cone", "ball")
def _(d: Drawing) -> None:
    """A ball of shields that meet edge to edge."""
    d.line((50, 4), (50, 18), width=HEAVY)
    d.ellipse(50, 54, 37, fill=GREY)
    ring = [toward((50, 54), 60 * k + 30, 16) for k in range(6)]
    d.shape(*ring, fill=PALE)
    out = [toward((50, 54), 60 * k + 30, 36.5) for k in range(6)]
    d.add(lines([[a, b] for a, b in zip(ring, out, strict=True)]), LINE)
    d.add(
        lines([[toward((50, 54), 60 * k - 5, 26), toward((50, 54), 60 * k + 5, 26)] for k in range(6)]), LINE
    )
    d.line((46, 54), (54, 54))


@draws("cone", "squat_nut")
def _(d: Drawing) -> None:
    """Few thick scales, as broad as long; the seeds are as large as beans and have no wing."""
    for way in (-1, 1):
        for x, y, w, h in ((31, 52, 15, 13), (22, 36, 16, 12), (15, 60, 13, 12)):
            cx = 50 + way * x * 0.8
            d.blob((cx - w, y + 2), (cx, y - h), (cx + w, y + 2), (cx, y + h), fill=GREY)
    for x, y in ((50, 28), (50, 62), (34, 46), (66, 46)):
        d.blob((x - 16, y + 3), (x, y - 12), (x + 16, y + 3), (x, y + 12), fill=PALE)
        d.line((x - 5, y), (x + 5, y), width=BOLD)
    for x in (34, 66):
        d.ellipse(x, 87, 10, 6.6, fill=DARK)
    d.line((50, 5), (50, 15), width=HEAVY)
