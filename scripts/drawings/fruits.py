"""Fruits and seeds, acorn cups, nut husks, keys and pods."""

from __future__ import annotations

import math

from leaf import leaf
from needles import scales
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
    bow,
    draws,
    lines,
    poly,
    smooth,
    toward,
)


def _key(d: Drawing, nut: Point, degrees: float, length: float, half: float, fill: str = PALE) -> None:
    """One half of a maple's key: a nut and a wing with a straight back and a round belly (clockwise side)."""
    way = 1 if degrees > 0 else -1
    tip = toward(nut, degrees, length)
    belly = degrees + 90 * way
    d.blob(
        nut,
        toward(nut, degrees, length * 0.5),
        toward(tip, degrees, 0),
        toward(toward(nut, degrees, length * 0.92), belly, half * 1.3),
        toward(toward(nut, degrees, length * 0.6), belly, half * 1.25),
        toward(toward(nut, degrees, length * 0.25), belly, half * 0.5),
        fill=fill,
    )
    veins = [
        [
            toward(nut, degrees, length * (0.3 + 0.15 * k)),
            toward(toward(nut, degrees, length * (0.45 + 0.15 * k)), belly, half * 0.9),
        ]
        for k in range(4)
    ]
    d.add(lines(veins), HAIR)
    d.ellipse(*toward(nut, degrees, 3), 6.6, fill=DARK)


def _key_pair(d: Drawing, degrees: float, y: float, length: float) -> None:
    d.line((50, 4), (50, y - 4), width=BOLD)
    for way in (-1, 1):
        _key(d, (50 + way * 4, y), way * degrees, length, 13)


@draws("fruit", "acorn")
def _(d: Drawing) -> None:
    _acorn(d, 48, "bowl")
    d.curve((50, 20), (48, 10), (54, 4), width=HEAVY)


def _acorn(d: Drawing, depth: float, kind: str, tip: float = 94) -> None:
    d.blob(
        (27, 40),
        (28, 64),
        (38, 82),
        (47, 88),
        (50, tip),
        (53, 88),
        (62, 82),
        (72, 64),
        (73, 40),
        (50, 34),
        fill=PALE,
    )
    top = 18
    cup = [
        (21, depth),
        *arc(50, depth - 4, 29, depth - top - 4, 180, 360, 12),
        (79, depth),
        *arc(50, depth, 29, 5, 0, 180, 10),
    ]
    d.add(poly(cup, close=True), LINE, GREY)
    if kind in ("bowl", "saucer"):
        marks = []
        for row, y in enumerate(range(int(top) + 6, int(depth) + 1, 7)):
            wide = 28 * (1 - ((depth - 4 - y) / (depth - top)) ** 2 if y < depth - 4 else 1) ** 0.5
            count = max(int(wide / 4.5), 2)
            for k in range(count):
                x = 50 + (k - (count - 1) / 2) * 2 * wide / count + (row % 2) * 1.5
                marks.append([(x - 3, y), (x, y + 3), (x + 3, y)])
        d.add(lines(marks), FINE)


@draws("fruit", "nut_husk")
def _(d: Drawing) -> None:
    """The husk half off, the nut in it."""
    d.line((50, 4), (50, 16), width=HEAVY)
    d.ellipse(50, 54, 37, 40, fill=GREY)
    d.blob((50, 18), (66, 34), (70, 56), (64, 78), (50, 92), (36, 78), (30, 56), (34, 34), fill=PAPER)
    d.blob((50, 26), (63, 44), (62, 66), (50, 84), (38, 66), (37, 44), fill=DARK)
    d.curve((46, 36), (42, 54), (46, 72), width=FINE, stroke=PALE)


@draws("fruit", "key_pair")
def _(d: Drawing) -> None:
    """A bunch of two pairs from a twig, so that it is no question about one pair's angle."""
    d.line((6, 8), (94, 8), width=HEAVY)
    for x, y, length in ((31, 34, 32), (67, 52, 32)):
        d.line((50, 8), (x, y - 4), width=LINE)
        for way in (-1, 1):
            _key(d, (x + way * 3.5, y), way * (146 if way * (x - 50) < 0 else 132), length, 9)


@draws("fruit", "key_single")
def _(d: Drawing) -> None:
    """As in ash: one paddle with the seed at its foot, hanging in bunches."""
    d.line((50, 4), (50, 22), width=BOLD)
    for x, degrees in ((26, 200), (74, 160), (50, 180)):
        foot = (50 + (x - 50) * 0.3, 20 + abs(x - 50) * 0.12)
        d.line((50, 14), foot, width=LINE)
        leaf(d, foot, toward(foot, degrees, 70 if x == 50 else 62), 8.5, veins=0, midrib=False)
        leaf(d, foot, toward(foot, degrees, 30), 4.4, veins=0, fill=DARK, midrib=False, width=FINE)


@draws("fruit", "key_round")
def _(d: Drawing) -> None:
    """Thin discs with the seed in the middle, as in elm."""
    for x, y, r in ((30, 62, 23), (70, 70, 22), (54, 28, 23)):
        d.ellipse(x, y, r, fill=PALE)
        d.ellipse(x, y + 1, 7, 8.5, fill=DARK)
        d.add(
            lines([[toward((x, y), a, 11), toward((x, y), a, r - 3)] for a in (-90, -45, 45, 90, 135, 225)]),
            HAIR,
        )
        d.add(poly([(x - 3, y - r), (x, y - r + 7), (x + 3, y - r)]), FINE, PAPER)


@draws("fruit", "key_twisted")
def _(d: Drawing) -> None:
    """As in tree-of-heaven: a seed in the middle of a wing that is turned at its end, very many together."""
    d.line((50, 3), (50, 60), width=BOLD)
    for x, y, turn in (
        (24, 22, -52),
        (76, 22, 52),
        (22, 48, -62),
        (78, 48, 62),
        (30, 76, -32),
        (70, 76, 32),
        (50, 82, 0),
    ):
        d.line((50, max(y - 26, 5)), (x, y - 6), width=FINE)
        up, down = toward((x, y), turn, 15), toward((x, y), turn + 180, 15)
        d.blob(up, toward((x, y), turn + 90, 6), down, toward((x, y), turn - 90, 6), fill=PALE, width=FINE)
        d.dots([(x, y)], HEAVY)
        d.add(smooth([toward(down, turn + 80, 5), toward(down, turn, 3), toward(down, turn - 70, 4)]), LINE)


@draws("fruit", "pod")
def _(d: Drawing) -> None:
    for top, bend in (((44, 12), -8), ((58, 12), 7)):
        end = (top[0] + bend * 2.4, 88)
        d.add(smooth(bow(top, end, bend, 4)), 17)
        d.add(smooth(bow(top, end, bend, 4)), 12, stroke=PALE)
        for x, y in bow(top, end, bend, 12)[2:11:2]:
            d.ellipse(x, y, 3, 4.2, fill=DARK, width=FINE)
    d.line((50, 3), (50, 8), width=BOLD)
    d.line((42, 9), (58, 9), width=BOLD)


@draws("fruit", "long_bean")
def _(d: Drawing) -> None:
    """Round in section, thin as a pencil, a foot and more long."""
    d.tube([(6, 6), (50, 8), (94, 6)], size=3)
    for x, bend in ((28, -4), (44, 3), (60, -3), (74, 4)):
        d.tube(bow((x, 10), (x + bend, 94 - abs(x - 50) * 0.2), bend, 4), size=3.6, fill=DARK, edge=FINE)


@draws("fruit", "berry")
def _(d: Drawing) -> None:
    for x, y in ((26, 62), (52, 72), (76, 58)):
        d.add(smooth([(50, 8), ((50 + x) / 2 + 2, 30), (x, y - 14)]), LINE)
        d.ellipse(x, y, 14, fill=DARK)
        d.add(smooth(arc(x, y, 8, 8, 190, 260, 4)), LINE, stroke=PAPER)
    leaf(d, (51, 10), (88, 22), 7, veins=0)


@draws("fruit", "pome")
def _(d: Drawing) -> None:
    d.curve((50, 28), (50, 14), (56, 5), width=HEAVY)
    d.blob(
        (50, 26),
        (64, 20),
        (82, 28),
        (88, 50),
        (78, 78),
        (60, 92),
        (50, 88),
        (40, 92),
        (22, 78),
        (12, 50),
        (18, 28),
        (36, 20),
        fill=PALE,
    )
    d.blob((50, 42), (58, 56), (50, 70), (42, 56), fill=PAPER)
    d.ellipse(47, 56, 2, 4.4, fill=INK, width=0)
    d.ellipse(53.4, 56, 2, 4.4, fill=INK, width=0)
    d.add(lines([[(45, 90), (48, 84)], [(55, 90), (52, 84)]]), LINE)
    leaf(d, (54, 14), (84, 8), 5.6, veins=0)


@draws("fruit", "cotton")
def _(d: Drawing) -> None:
    """A string of small capsules that split and let out down."""
    d.curve((50, 3), (52, 50), (48, 96), width=BOLD)
    for i, y in enumerate((20, 40, 60, 78)):
        way = -1 if i % 2 else 1
        x = 50 + way * 8
        cloud = [toward((x + way * 20, y + 2), 36 * k, 17 if k % 2 else 12) for k in range(10)]
        d.blob(*cloud, fill="#ffffff")
        d.add(
            "".join(
                smooth(arc(x + way * 20 + a, y + b, 5, 5, 200, 340, 4)) for a, b in ((-4, 0), (5, 3), (0, 10))
            ),
            FINE,
        )
        d.blob(
            (x - way * 7, y),
            (x, y - 7),
            (x + way * 12, y - 8),
            (x + way * 4, y),
            (x + way * 12, y + 8),
            (x, y + 7),
            fill=DARK,
        )


@draws("fruit", "coneling")
def _(d: Drawing) -> None:
    """Woody, no longer than a thumbnail, on a leafy twig: alder and birch."""
    d.curve((8, 14), (40, 22), (92, 12), width=HEAVY)
    leaf(d, (78, 14), (94, 40), 8, veins=3)
    for x, y in ((26, 34), (52, 44)):
        d.line((x + 4, 20), (x, y), width=BOLD)
        scales(d, x, y, y + 36, 13.5, 6, 3, belly=0.42, fill=DARK)
    d.add(lines([[(20, 42), (32, 42)]]), HAIR, stroke=PALE)


@draws("fruit", "green_ball")
def _(d: Drawing) -> None:
    """Osage-orange: as large as a fist, wrinkled like a brain."""
    d.ellipse(50, 54, 40, fill="#b7cf6a")
    d.line((50, 4), (50, 15), width=HEAVY)
    wrinkles = []
    for row in range(6):
        for k in range(6):
            x, y = 22 + k * 11.5 + (row % 2) * 5, 26 + row * 11.5
            if (x - 50) ** 2 + (y - 54) ** 2 < 32**2:
                turn = d.random.uniform(0, 180)
                wrinkles.append(bow(toward((x, y), turn, 5.4), toward((x, y), turn + 180, 5.4), 3.6, 3))
    d.add("".join(smooth(w) for w in wrinkles), LINE)


@draws("fruit", "hop_sacs")
def _(d: Drawing) -> None:
    """Overlapping blown-up sacs, pale, as hops have them."""
    d.line((50, 3), (50, 14), width=BOLD)
    for row in reversed(range(5)):
        y = 14 + row * 15
        count = (2, 3, 3, 2, 1)[row]
        for k in range(count):
            x = 50 + (k - (count - 1) / 2) * 21
            d.blob(
                (x, y - 2),
                (x + 12, y + 6),
                (x + 8, y + 18),
                (x, y + 23),
                (x - 8, y + 18),
                (x - 12, y + 6),
                fill=PAPER,
            )
            d.curve((x, y + 4), (x, y + 16), width=HAIR)


@draws("fruit", "bract_nut")
def _(d: Drawing) -> None:
    """Each small nut lies at the foot of a leafy bract with three lobes."""
    d.line((50, 3), (50, 40), width=BOLD)
    for x, y, lean in ((27, 26, -14), (73, 26, 14), (50, 50, 0)):
        d.line((50, y - 12), (x, y), width=LINE)

        def at(a: float, r: float, x: float = x, y: float = y, lean: float = lean) -> Point:
            return toward((x, y - 3), 180 + a - lean, r)

        d.shape(
            at(100, 6),
            at(66, 26),
            at(40, 19),
            at(14, 22),
            at(7, 45),
            at(0, 48),
            at(-7, 45),
            at(-14, 22),
            at(-40, 19),
            at(-66, 26),
            at(-100, 6),
            fill=PALE,
        )
        d.line(at(0, 14), at(0, 42), width=FINE)
        d.ellipse(x, y + 2, 6, 7, fill=DARK)


@draws("fruit", "bur")
def _(d: Drawing) -> None:
    """Chestnut and beech: prickles all over, open to show pointed nuts."""
    hairs = [
        [toward((50, 54), a, 33), toward((50, 54), a + (4 if a % 24 else -5), 44)] for a in range(30, 336, 9)
    ]
    d.add(lines(hairs), LINE)
    d.ellipse(50, 54, 34, fill=GREY)
    d.blob((50, 16), (64, 34), (66, 56), (50, 76), (34, 56), (36, 34), fill=PAPER)
    d.blob((43, 70), (34, 54), (42, 32), (50, 54), fill=DARK)
    d.blob((57, 70), (66, 54), (58, 32), (50, 54), fill=DARK)


@draws("fruit", "spiky_ball")
def _(d: Drawing) -> None:
    """Sweetgum: a ball of beaked capsules, each with a hole."""
    d.curve((50, 24), (54, 12), (48, 3), width=BOLD)
    for k in range(14):
        a = 360 / 14 * k + 12
        tip = toward((50, 56), a, 41)
        d.shape(
            toward(toward((50, 56), a, 28), a + 90, 4.6),
            tip,
            toward(toward((50, 56), a, 28), a - 90, 4.6),
            fill=INK,
            width=FINE,
        )
    d.ellipse(50, 56, 29, fill=GREY)
    for x, y in ((50, 56), (36, 46), (64, 46), (36, 66), (64, 66), (50, 38), (50, 74)):
        d.ellipse(x, y, 4.6, 5.2, fill=INK, width=0)


@draws("fruit", "button_ball")
def _(d: Drawing) -> None:
    """Sycamore: a dense ball on a long bare stalk."""
    d.curve((30, 3), (44, 20), (50, 48), width=BOLD)
    d.ellipse(50, 70, 25, fill="#a9774a")
    d.dots([toward((50, 70), 137.5 * i, 3.8 * i**0.5) for i in range(1, 35)], 2.6)


@draws("fruit", "strap")
def _(d: Drawing) -> None:
    """Linden: the stalk of the nutlets leaves a long leafy strap half-way."""
    d.blob((22, 6), (30, 16), (37, 42), (34, 70), (26, 78), (19, 66), (17, 38), (16, 14), fill=PALE)
    d.add(smooth([(22, 8), (27, 34), (26, 70)]), FINE)
    d.add(smooth([(27, 36), (44, 44), (62, 60)]), LINE)
    for x, y in ((48, 76), (66, 82), (82, 70)):
        d.line((60, 58), (x, y), width=LINE)
        d.ellipse(x, y + 4, 7.6, fill=DARK)


@draws("fruit", "tulip_cone")
def _(d: Drawing) -> None:
    """Tulip-poplar: winged seeds pressed together like a closed tulip, upright on the twig."""
    d.line((50, 97), (50, 80), width=HEAVY)
    for x0, x1, y1 in ((-14, -23, 26), (14, 23, 26), (-8, -13, 14), (8, 13, 14), (0, 0, 6)):
        d.blob(
            (50 + x0 * 0.5, 84),
            (50 + x0 - 7, 66),
            (50 + x1 - 3, y1 + 16),
            (50 + x1, y1),
            (50 + x1 + 3, y1 + 16),
            (50 + x0 + 7, 66),
            fill=PALE,
        )
        d.line((50 + x0 * 0.6, 74), (50 + x1, y1 + 10), width=FINE)
    d.blob((34, 72), (50, 66), (66, 72), (60, 86), (40, 86), fill=GREY)


@draws("fruit", "gum_nut")
def _(d: Drawing) -> None:
    """Eucalyptus: a woody top with four ridges and a lid with valves."""
    d.line((50, 97), (50, 84), width=HEAVY)
    d.shape((14, 40), (26, 66), (42, 86), (58, 86), (74, 66), (86, 40), fill=GREY)
    d.add(lines([[(34, 46), (44, 82)], [(66, 46), (56, 82)]]), LINE)
    d.ellipse(50, 38, 37, 14, fill=PALE)
    d.ellipse(50, 35, 24, 9.5, fill=PAPER)
    star = [toward((0, 0), 45 * k, 1.0 if k % 2 == 0 else 0.3) for k in range(8)]
    d.shape(*[(50 + x * 20, 35 + y * 8) for x, y in star], fill=INK, width=FINE)


@draws("fruit", "conker")
def _(d: Drawing) -> None:
    """Buckeye: a leathery husk with few prickles, a shiny seed with a pale eye."""
    d.line((50, 3), (50, 16), width=HEAVY)
    for a in (40, 75, 110, 145, 215, 250, 285, 320):
        foot = toward((50, 54), a, 37)
        d.shape(toward(foot, a + 90, 3), toward(foot, a, 8), toward(foot, a - 90, 3), fill=INK, width=FINE)
    d.ellipse(50, 54, 38, fill=PALE)
    d.blob((50, 18), (66, 34), (72, 56), (62, 78), (50, 90), (38, 78), (28, 56), (34, 34), fill=PAPER)
    d.ellipse(50, 56, 19.5, 22, fill="#7a3f1d")
    d.ellipse(50, 68, 10, 7, fill=PALE, width=FINE)
    d.add(smooth([(38, 58), (39, 48), (45, 40)]), BOLD, stroke=PAPER)


@draws("fruit", "conifer_cone")
def _(d: Drawing) -> None:
    d.tube([(20, 9), (50, 8), (80, 10)], size=3.6)
    scales(d, 50, 12, 88, 26, 8, 5, belly=0.38, point=0.1, fill=PALE)


# -- acorns ------------------------------------------------------------------------------------------


@draws("acorn_cup", "saucer")
def _(d: Drawing) -> None:
    _acorn(d, 34, "saucer")
    d.line((50, 17), (50, 8), width=HEAVY)


@draws("acorn_cup", "bowl")
def _(d: Drawing) -> None:
    _acorn(d, 54, "bowl")
    d.line((50, 17), (50, 8), width=HEAVY)


@draws("acorn_cup", "fringed")
def _(d: Drawing) -> None:
    """The rim runs out in soft curls, the nut is half hidden."""
    _acorn(d, 62, "bowl")
    d.line((50, 17), (50, 8), width=HEAVY)
    curls = []
    for k in range(11):
        x = 20 + k * 6
        y = 62 + 5 * (1 - ((x - 50) / 30) ** 2)
        lean = (x - 50) * 0.16
        curls.append([(x, y - 2), (x + lean + 2.5, y + 6), (x + lean * 1.6 - 1, y + 13)])
    d.add("".join(smooth(c) for c in curls), LINE)


@draws("acorn_cup", "bristly")
def _(d: Drawing) -> None:
    """Stiff bristles all over the cup, curved back."""
    hairs = []
    for row, (y, wide) in enumerate(((22, 16), (32, 25), (42, 29), (52, 30))):
        for k in range(7):
            x = 50 + (k - 3) * wide / 3 + (row % 2) * 2
            lean = (x - 50) * 0.42
            hairs.append([(x, y), (x + lean * 0.7, y - 3), (x + lean, y - 10)])
    _acorn(d, 54, "plain")
    d.add("".join(smooth(hair) for hair in hairs), LINE)


def _stalked(d: Drawing, length: float) -> None:
    d.tube([(6, 10), (50, 12), (94, 8)], size=5)
    for x in (32, 68):
        y = 16 + length
        d.line((x, 14), (x, y), width=BOLD)
        d.blob((x - 10, y + 8), (x - 9, y + 20), (x, y + 30), (x + 9, y + 20), (x + 10, y + 8), fill=PALE)
        d.shape((x - 13, y + 11), *arc(x, y + 8, 13, 8, 180, 360, 8), (x + 13, y + 11), fill=DARK)


@draws("acorn_stalk", "short")
def _(d: Drawing) -> None:
    _stalked(d, 2)


@draws("acorn_stalk", "long")
def _(d: Drawing) -> None:
    _stalked(d, 44)


# -- husks of nuts -----------------------------------------------------------------------------------


@draws("nut_husk", "thick_open")
def _(d: Drawing) -> None:
    """Four thick quarters fall apart to the very foot; the pale nut stands free."""
    for way in (-1, 1):
        d.blob(
            (50 + way * 3, 92),
            (50 + way * 26, 84),
            (50 + way * 44, 54),
            (50 + way * 38, 18),
            (50 + way * 26, 20),
            (50 + way * 27, 50),
            (50 + way * 20, 72),
            fill=GREY,
        )
    for way in (-1, 1):
        d.blob(
            (50 + way * 1, 94),
            (50 + way * 12, 86),
            (50 + way * 17, 74),
            (50 + way * 10, 66),
            (50 + way * 2, 72),
            fill=DARK,
        )
    d.blob((50, 20), (65, 32), (66, 56), (50, 74), (34, 56), (35, 32), fill=PAPER)
    d.add(smooth([(50, 22), (46, 44), (50, 70)]) + smooth([(50, 22), (58, 44), (50, 70)]), FINE)


@draws("nut_husk", "thin_part")
def _(d: Drawing) -> None:
    """The thin husk opens at the tip only and keeps the nut."""
    d.line((50, 96), (50, 88), width=HEAVY)
    d.blob(
        (50, 90),
        (74, 80),
        (82, 56),
        (74, 32),
        (60, 20),
        (52, 42),
        (50, 56),
        (48, 42),
        (40, 20),
        (26, 32),
        (18, 56),
        (26, 80),
        fill=GREY,
    )
    d.blob((50, 14), (60, 20), (53, 42), (50, 54), (47, 42), (40, 20), fill=PAPER)
    d.line((50, 54), (50, 66), width=FINE)


@draws("nut_husk", "thin_winged")
def _(d: Drawing) -> None:
    """Raised seams run like narrow wings from the tip to the middle or further."""
    d.line((50, 96), (50, 88), width=HEAVY)
    d.blob((50, 90), (72, 82), (80, 58), (72, 32), (50, 14), (28, 32), (20, 58), (28, 82), fill=PALE)
    for way in (-1, 1):
        d.add(
            smooth(
                [
                    (50 + way * 3, 8),
                    (50 + way * 27, 28),
                    (50 + way * 37, 60),
                    (50 + way * 31, 60),
                    (50 + way * 23, 33),
                    (50, 16),
                ],
                close=True,
            ),
            LINE,
            DARK,
        )
    d.shape((50, 8), (46.5, 40), (49, 66), (51, 66), (53.5, 40), fill=DARK)


@draws("nut_husk", "round_closed")
def _(d: Drawing) -> None:
    d.line((50, 4), (50, 14), width=HEAVY)
    d.ellipse(50, 54, 40, fill=PALE)
    d.dots(
        [
            (x + (y % 2) * 5, y)
            for y in range(25, 90, 9)
            for x in range(20, 84, 10)
            if (x - 48) ** 2 + (y - 54) ** 2 < 33**2
        ],
        LINE,
    )


@draws("nut_husk", "oblong_sticky")
def _(d: Drawing) -> None:
    """Twice as long as wide, pointed, covered with sticky hairs."""
    d.line((50, 3), (50, 12), width=HEAVY)
    body = [
        (50, 10),
        (66, 18),
        (73, 40),
        (70, 66),
        (58, 84),
        (50, 94),
        (42, 84),
        (30, 66),
        (27, 40),
        (34, 18),
    ]
    hairs = []
    for a in range(20, 345, 12):
        foot = (50 + 22 * toward((0, 0), a, 1)[0], 50 + 38 * toward((0, 0), a, 1)[1])
        hairs.append([foot, toward(foot, a, 9)])
    d.add(lines(hairs), FINE)
    d.blob(*body, fill=PALE)
    inner = [[(x, y), (x + (x - 50) * 0.14, y + 6)] for y in range(24, 80, 12) for x in range(36, 68, 9)]
    d.add(lines(inner), FINE)


# -- keys and pods -----------------------------------------------------------------------------------


@draws("key_wings", "narrow")
def _(d: Drawing) -> None:
    d.line((50, 4), (50, 16), width=BOLD)
    for way in (-1, 1):
        _key(d, (50 + way * 8, 22), way * 166, 62, 9)


@draws("key_wings", "right")
def _(d: Drawing) -> None:
    """The mark of a right angle between the wings says what is asked."""
    _key_pair(d, 132, 30, 50)
    d.line((41, 46), (50, 55), (59, 46), width=FINE)


@draws("key_wings", "flat")
def _(d: Drawing) -> None:
    _key_pair(d, 91, 42, 42)


def _pod(
    d: Drawing, points: list[Point], size: float, beans: int, fill: str = PALE, bean: float = 3.0
) -> None:
    d.add(smooth(points), size + 5)
    d.add(smooth(points), size, stroke=fill)
    if beans:
        steps = [points[0], *points[1:-1], points[-1]]
        spots = []
        for i in range(beans):
            t = (i + 0.7) / (beans + 0.4) * (len(steps) - 1)
            k = min(int(t), len(steps) - 2)
            spots.append(
                (
                    steps[k][0] + (steps[k + 1][0] - steps[k][0]) * (t - k),
                    steps[k][1] + (steps[k + 1][1] - steps[k][1]) * (t - k),
                )
            )
        for x, y in spots:
            d.ellipse(x, y, bean * 0.85, bean, fill=DARK, width=FINE)


@draws("pod", "short_thin")
def _(d: Drawing) -> None:
    """Black locust: short, flat and thin, straight, in loose bunches."""
    d.line((50, 4), (50, 26), width=BOLD)
    for x, x1 in ((44, 30), (56, 70)):
        d.line((50, 20), (x, 32), width=LINE)
        _pod(d, bow((x, 34), (x1, 82), 0, 3), 8.4, 5, bean=2.4)


@draws("pod", "thick_short")
def _(d: Drawing) -> None:
    """Coffeetree: broad, thick and woody, with few large seeds."""
    d.line((50, 3), (50, 14), width=HEAVY)
    d.blob((50, 12), (68, 22), (74, 50), (66, 80), (50, 93), (34, 80), (26, 50), (34, 20), fill=DARK)
    d.curve((36, 28), (31, 50), (38, 76), width=LINE, stroke=PALE)
    for y in (32, 53, 74):
        d.ellipse(53, y, 9, 8, fill=GREY)


@draws("pod", "long_twist")
def _(d: Drawing) -> None:
    """Honey-locust: as long as a forearm, flat, turned like a ribbon."""
    d.line((22, 3), (25, 9), width=BOLD)

    def edge(i: int, way: int) -> Point:
        t = i / 24
        return 25 + 52 * t + way * (1.5 + 11 * math.cos(i * math.pi / 8)), 8 + 86 * t - way * 2

    for turn, (first, last) in enumerate(((0, 4), (4, 12), (12, 20), (20, 24))):
        near = [edge(i, -1) for i in range(first, last + 1)]
        far = [edge(i, 1) for i in range(first, last + 1)]
        d.add(poly([*near, *reversed(far)], close=True), LINE, DARK if turn % 2 else PALE)
    for i in (1, 8, 16, 23):
        x, y = (edge(i, -1)[0] + edge(i, 1)[0]) / 2, (edge(i, -1)[1] + edge(i, 1)[1]) / 2
        for shift in (-5.4, 5.4) if 2 < i < 22 else (0,):
            d.ellipse(x + shift * 0.6, y + shift, 3.2, 4, fill=GREY, width=FINE)


@draws("pod", "straw")
def _(d: Drawing) -> None:
    """Mesquite: drawn in between the seeds."""
    d.line((26, 4), (28, 10), width=BOLD)
    spots = [(30 + 6.4 * i - (i - 2.6) ** 2 * 0.5, 15 + 11.6 * i) for i in range(7)]
    d.add(smooth(spots), 9)
    d.add("".join(f"{poly([s, (s[0] + 0.1, s[1])])}" for s in spots), 15)
    d.add(smooth(spots), 4.6, stroke="#efdf9d")
    d.add("".join(f"{poly([s, (s[0] + 0.1, s[1])])}" for s in spots), 10.4, stroke="#efdf9d")
    d.dots(spots, BOLD)
