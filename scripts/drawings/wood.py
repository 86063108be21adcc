"""Wood seen by the naked eye: cut ends, split faces, colours, how a round splits, pitch, stains, glow."""

from __future__ import annotations

import math

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
    Region,
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

# -- the cut end -----------------------------------------------------------------------------------------


def cut_end(d: Drawing, sapwood: str = PAPER, rings: tuple[float, ...] = (9, 17, 25, 33)) -> None:
    """A round seen from its end: bark, wood, year rings."""
    d.ellipse(50, 50, 45, fill=DARK)
    d.ellipse(50, 50, 40, fill=sapwood, width=FINE)
    for r in rings:
        d.ellipse(50, 50, r, width=HAIR)


@draws("ring_wave", "smooth")
def _(d: Drawing) -> None:
    cut_end(d, PALE)
    d.dots([(50, 50)], LINE)


@draws("ring_wave", "wavy")
def _(d: Drawing) -> None:
    def wave(r: float, deep: float) -> list[Point]:
        return [
            toward((50, 50), a, r * (1 + deep * math.cos(math.radians(a * 7)))) for a in range(0, 360, 10)
        ]

    d.blob(*wave(42.5, 0.06), fill=DARK)
    d.blob(*wave(37.5, 0.08), fill=PALE, width=FINE)
    for r in (31, 24, 17, 10):
        d.add(smooth(wave(r, 0.13), close=True), FINE)
    d.dots([(50, 50)], LINE)


@draws("contrast", "strong")
def _(d: Drawing) -> None:
    cut_end(d, rings=(35,))
    d.ellipse(50, 50, 29, fill=DARK, width=BOLD)
    for r in (8, 15, 22):
        d.ellipse(50, 50, r, width=HAIR)


@draws("contrast", "slight")
def _(d: Drawing) -> None:
    cut_end(d, PAPER, rings=())
    d.ellipse(50, 50, 29, fill=PALE, width=0)
    for r in (8, 15, 22, 35):
        d.ellipse(50, 50, r, width=HAIR)


@draws("contrast", "none")
def _(d: Drawing) -> None:
    cut_end(d, PAPER, rings=(8, 15, 22, 29, 35))


def _sap(d: Drawing, heart: float) -> None:
    cut_end(d, rings=())
    d.ellipse(50, 50, heart, fill=DARK)
    d.add(lines([[toward((50, 50), 90, heart), toward((50, 50), 90, 40)]]), BOLD)
    d.add(lines([[(50 + x, 44), (50 + x, 56)] for x in (heart, 40)]), LINE)


@draws("sapwood", "thin")
def _(d: Drawing) -> None:
    _sap(d, 34)


@draws("sapwood", "medium")
def _(d: Drawing) -> None:
    _sap(d, 26)


@draws("sapwood", "wide")
def _(d: Drawing) -> None:
    _sap(d, 14)


# -- colour of the heartwood: a split piece, each tint with a pattern of its own ---------------------------

FACE = [(10, 40), (64, 22), (64, 92), (10, 92)]
HEARTS = {
    "white": "#fdf9ec",
    "pale_yellow": "#f4e6a2",
    "tan": "#d9b580",
    "grey_brown": "#9d9080",
    "pinkish": "#eeb29b",
    "reddish": "#b4633d",
    "dark_brown": "#5c3a22",
    "bright_yellow": "#f6c51c",
    "orange_brown": "#cf7a2b",
    "greenish": "#9aa35a",
    "purple_red": "#8c3a55",
    "black": "#2b2623",
}


def _on_face(x: float, y: float) -> bool:
    return 12.5 < x < 61.5 and 43 - (x - 10) / 3 + 2 < y < 90


def split_piece(d: Drawing, tint: str) -> None:
    """A quarter of a round stood up: the split face in the heart's colour, the bark side in shadow."""
    d.shape((64, 22), (90, 32), (90, 84), (64, 92), fill=DARK)
    d.add(lines([[(72, 30), (72, 86)], [(81, 34), (81, 84)]]), FINE)
    d.shape(*FACE, fill=tint)
    d.add(poly([(10, 40), (64, 22), (90, 32), *bow((90, 32), (10, 40), -7, 6)], close=True), LINE, tint)


def _in(points: list[Point], region: Region) -> list[list[Point]]:
    return cut(points, region)


def _pattern(d: Drawing, state: str) -> None:
    ink = ink_on(HEARTS[state])
    runs: list[list[Point]] = []
    if state == "pale_yellow":
        spots = [(x + (y % 2) * 5, y) for y in range(37, 90, 11) for x in range(17, 60, 11)]
        d.dots([spot for spot in spots if _on_face(*spot)], BOLD)
    elif state == "tan":
        runs = [r for y in range(36, 90, 11) for r in _in(between((10, y), (64, y)), _on_face)]
    elif state == "grey_brown":
        runs = [
            r
            for x in (20, 32, 44, 55)
            for r in _in([(x + 2.6 * math.sin(y / 5), y) for y in range(24, 92, 2)], _on_face)
        ]
    elif state == "pinkish":
        runs = [r for k in range(-40, 70, 16) for r in _in(between((10, 92 - k), (64, 38 - k), 40), _on_face)]
    elif state == "reddish":
        runs = [r for k in range(-40, 60, 12) for r in _in(between((10, 38 + k), (64, 92 + k), 40), _on_face)]
    elif state == "dark_brown":
        runs = [r for k in range(-60, 70, 18) for r in _in(between((10, 38 + k), (64, 92 + k), 40), _on_face)]
        runs += [
            r for k in range(-40, 70, 18) for r in _in(between((10, 92 - k), (64, 38 - k), 40), _on_face)
        ]
    elif state == "bright_yellow":
        for x, y in (
            (20, 50),
            (36, 44),
            (52, 40),
            (28, 64),
            (44, 60),
            (56, 58),
            (20, 78),
            (38, 78),
            (54, 76),
        ):
            d.ellipse(x, y, 3.4, fill=PAPER, width=FINE)
    elif state == "orange_brown":
        runs = [
            r
            for x in (20, 34, 48)
            for r in _in([(x + (5 if k % 2 else 0), 26 + k * 7) for k in range(10)], _on_face)
        ]
    elif state == "greenish":
        runs = [
            [(x, y), (x, y + 6)]
            for x in (18, 28, 38, 48, 58)
            for y in range(32 + (x % 4) * 3, 86, 13)
            if _on_face(x, y) and _on_face(x, y + 6)
        ]
    elif state == "purple_red":
        for x, y in (
            (20, 52),
            (36, 46),
            (52, 40),
            (28, 66),
            (44, 60),
            (20, 80),
            (36, 76),
            (52, 72),
            (56, 56),
        ):
            runs += [[(x - 3.4, y - 3.4), (x + 3.4, y + 3.4)], [(x - 3.4, y + 3.4), (x + 3.4, y - 3.4)]]
    elif state == "black":
        runs = [r for x in (22, 36, 50) for r in _in(between((x, 24), (x, 90), 40), _on_face)]
    d.add(lines(runs), FINE, stroke=ink)


def _heart(d: Drawing, state: str) -> None:
    split_piece(d, HEARTS[state])
    _pattern(d, state)


for _state in HEARTS:
    draws("heart_col", _state)(lambda d, state=_state: _heart(d, state))

# -- what air does: fresh on the left, later on the right ---------------------------------------------------


def _ages(d: Drawing, fresh: str, later: str) -> None:
    for x, tint in ((6, fresh), (58, later)):
        d.shape((x, 40), (x + 24, 30), (x + 24, 90), (x, 90), fill=tint)
        d.shape((x + 24, 30), (x + 36, 37), (x + 36, 84), (x + 24, 90), fill=DARK)
        d.shape((x, 40), (x + 24, 30), (x + 36, 37), (x + 14, 44), fill=tint)
    d.line((38, 18), (62, 18), width=BOLD)
    d.shape((60, 11), (71, 18), (60, 25), fill=INK)
    d.ellipse(20, 16, 7, fill=PAPER)
    d.add(lines([[toward((20, 16), a, 10), toward((20, 16), a, 13)] for a in range(0, 360, 45)]), FINE)


def _on_later(x: float, y: float) -> bool:
    return 60 < x < 80 and 47 < y < 88


def _slant(way: int) -> list[list[Point]]:
    """Lines over the face of the piece that stood in the air; 1 rises to the right."""
    lean = 12 * way
    return [r for k in range(34, 102, 9) for r in cut(between((58, k + lean), (82, k - lean), 24), _on_later)]


@draws("air_change", "browns")
def _(d: Drawing) -> None:
    _ages(d, "#f6c51c", "#7a5230")
    d.dots([(x + (y % 2) * 4, y) for y in range(49, 90, 9) for x in (11, 20)], BOLD)
    d.add(lines(_slant(1) + _slant(-1)), FINE)


@draws("air_change", "reddens")
def _(d: Drawing) -> None:
    _ages(d, "#fdf9ec", "#d9662f")
    d.add(lines(_slant(1)), LINE)


@draws("air_change", "greens_fade")
def _(d: Drawing) -> None:
    _ages(d, "#9aa35a", "#d9b580")
    d.add(lines([[(x, y), (x, y + 7)] for x in (11, 18, 25) for y in (48, 60, 72)]), LINE)
    d.add(lines([[(62, y), (78, y)] for y in range(52, 88, 9)]), HAIR)


@draws("air_change", "little")
def _(d: Drawing) -> None:
    _ages(d, "#e3c79b", "#e3c79b")


# -- splitting ------------------------------------------------------------------------------------------


def _maul(d: Drawing, x: float, y: float) -> None:
    """The head of a splitting maul, edge down at (x, y)."""
    d.shape((x, y), (x - 8, y - 17), (x - 7, y - 26), (x + 7, y - 26), (x + 8, y - 17), fill=INK)


def _half(d: Drawing, way: int, lean: float, gap: float) -> None:
    """One half of a round that falls away from the middle."""
    inner_top, inner_foot = (50 + way * (gap + lean), 44), (50 + way * gap, 90)
    outer_top, outer_foot = (50 + way * (gap + lean + 30), 46), (50 + way * (gap + 30), 88)
    d.shape(inner_top, outer_top, outer_foot, inner_foot, fill=GREY)
    d.add(lines([[(outer_top[0] - way * k, 54), (outer_foot[0] - way * k, 84)] for k in (8, 17)]), FINE)
    d.blob(
        inner_top,
        (inner_top[0] + way * 12, 37),
        (outer_top[0] - way * 6, 39),
        outer_top,
        (inner_top[0] + way * 14, 50),
        fill=PALE,
    )


@draws("split_way", "clean")
def _(d: Drawing) -> None:
    _half(d, -1, 8, 6)
    _half(d, 1, 8, 6)
    _maul(d, 50, 60)
    d.add(
        lines([[(34, 24), (27, 15)], [(66, 24), (73, 15)], [(26, 32), (16, 27)], [(74, 32), (84, 27)]]), LINE
    )


def _block(d: Drawing) -> None:
    d.shape((16, 46), (16, 86), *bow((16, 86), (84, 86), 7, 6), (84, 86), (84, 46), fill=GREY)
    d.ellipse(50, 46, 34, 12, fill=PALE)


@draws("split_way", "moderate")
def _(d: Drawing) -> None:
    """The crack runs on, but not to the foot."""
    _block(d)
    d.add(smooth(arc(50, 46, 22, 7.5, 0, 360, 12), close=True), HAIR)
    d.shape((43, 36), (57, 36), (56, 56), (53, 68), (50, 80), (47, 68), (44, 56), fill=INK, width=FINE)
    d.add(
        lines([[(26, 62), (26, 82)], [(36, 64), (36, 74)], [(66, 64), (66, 84)], [(76, 60), (76, 78)]]), FINE
    )
    _maul(d, 50, 40)


@draws("split_way", "stringy")
def _(d: Drawing) -> None:
    """The halves part, and strings hold them together."""
    _half(d, -1, 6, 11)
    _half(d, 1, 6, 11)
    for i, y in enumerate((48, 56, 64, 72, 80, 87)):
        a, b = (50 - 11 - 6 * (90 - y) / 46, y - 3), (50 + 11 + 6 * (90 - y) / 46, y + 4)
        if i % 2:
            a, b = (a[0], a[1] + 6), (b[0], b[1] - 6)
        d.add(smooth(bow(a, b, 2 if i % 2 else -2, 3)), LINE)
    _maul(d, 50, 36)


@draws("split_way", "wont")
def _(d: Drawing) -> None:
    """Grain that winds one way and then the other; the maul sticks or springs back."""
    _block(d)
    d.add(
        "".join(
            smooth([(x, y0), (x + 5, y0 + 9), (x - 5, y0 + 19), (x + 4, y0 + 28)])
            for x, y0 in ((24, 56), (36, 60), (50, 61), (64, 60), (76, 56))
        ),
        LINE,
    )
    d.add(smooth([(36, 46), (43, 44), (50, 47), (57, 44), (64, 46)]), LINE)
    _maul(d, 50, 38)
    d.add("".join(smooth(arc(50, 22, r, r * 0.9, s, s + 46, 4)) for r in (18, 25) for s in (157, -23)), FINE)


# -- pitch, streaks, water, lamp, flakes ---------------------------------------------------------------------


@draws("pitch", "yes")
def _(d: Drawing) -> None:
    cut_end(d, PALE, rings=(10, 20, 30))
    for x, y, h in ((26, 38, 22), (40, 56, 26), (60, 34, 26), (72, 56, 22), (50, 20, 12)):
        d.blob(
            (x, y - 4),
            (x - 3.4, y + 2),
            (x - 2.6, y + h * 0.6),
            (x - 4, y + h),
            (x, y + h + 5),
            (x + 4, y + h),
            (x + 2.6, y + h * 0.6),
            (x + 3.4, y + 2),
            fill="#eab54a",
        )


@draws("pitch", "no")
def _(d: Drawing) -> None:
    cut_end(d, PALE, rings=(10, 20, 30))


@draws("red_streak", "yes")
def _(d: Drawing) -> None:
    cut_end(d, PAPER, rings=(12, 24))
    for a, r0, r1, w in ((20, 8, 27, 7), (95, 10, 32, 6), (160, 6, 28, 8), (235, 12, 33, 6), (300, 8, 26, 7)):
        low, high = toward((50, 50), a, r0), toward((50, 50), a, r1)
        middle = toward((50, 50), a, (r0 + r1) / 2)
        d.blob(
            low,
            toward(middle, a + 90, w / 2),
            high,
            toward(middle, a - 90, w / 2),
            fill="#d8263c",
            width=FINE,
        )


@draws("red_streak", "no")
def _(d: Drawing) -> None:
    cut_end(d, PAPER, rings=(12, 24))


def _cup(d: Drawing, water: str, dots: bool) -> None:
    d.add(smooth([(78, 46), (92, 46), (92, 68), (75, 70)]), HEAVY)
    d.shape((18, 30), (22, 88), (72, 88), (78, 30), fill="#ffffff")
    d.shape((19.6, 48), (22, 88), (72, 88), (76.4, 48), fill=water, width=FINE)
    d.ellipse(48, 30, 30, 7, fill="#ffffff")
    if dots:
        d.dots([(x + (y % 2) * 5, y) for y in (58, 67, 76) for x in range(28, 68, 10)], LINE)
    for x, y, turn in ((34, 54, 60), (52, 52, 110), (62, 57, 70)):
        d.add(smooth(bow(toward((x, y), turn, 6), toward((x, y), turn + 180, 6), 3, 3)), BOLD)


@draws("water_tint", "yellow")
def _(d: Drawing) -> None:
    _cup(d, "#f6c51c", True)


@draws("water_tint", "none")
def _(d: Drawing) -> None:
    _cup(d, "#ffffff", False)


def _lamp(d: Drawing, tint: str, glow: bool) -> None:
    d.add(poly([(4, 8), (4, 96), (96, 96), (96, 8)], close=True), 0, INK)
    d.shape((10, 12), (32, 12), (32, 26), (10, 26), fill=DARK, stroke=PAPER, width=FINE)
    d.add(lines([[(34, 24), (42, 32)], [(30, 29), (34, 40)], [(36, 18), (47, 22)]]), LINE, stroke="#a98be8")
    d.shape((34, 56), (66, 44), (84, 52), (84, 86), (66, 92), (34, 92), fill=tint, stroke=PAPER)
    d.add(lines([[(66, 44), (66, 92)]]), FINE, stroke=INK if glow else PAPER)
    if glow:
        d.add(
            lines(
                [
                    [(50, 44), (48, 37)],
                    [(70, 38), (72, 31)],
                    [(28, 62), (20, 58)],
                    [(28, 76), (20, 78)],
                    [(88, 58), (92, 54)],
                    [(88, 76), (92, 78)],
                    [(60, 41), (60, 33)],
                ]
            ),
            LINE,
            stroke=tint,
        )


@draws("uv_glow", "bright")
def _(d: Drawing) -> None:
    _lamp(d, "#d9f23c", True)


@draws("uv_glow", "none")
def _(d: Drawing) -> None:
    _lamp(d, "#4a3b52", False)


def _quarter(d: Drawing) -> None:
    """A face split toward the heart; the end above shows that the rays meet it."""
    d.shape((12, 34), (70, 20), (70, 94), (12, 94), fill=GREY)
    d.shape((70, 20), (88, 28), (88, 88), (70, 94), fill=DARK)
    d.add(poly([(12, 34), (70, 20), (88, 28), *bow((88, 28), (12, 34), -6, 6)], close=True), LINE, PALE)


@draws("ray_flake", "big")
def _(d: Drawing) -> None:
    _quarter(d)
    for x, y, w, h in (
        (20, 46, 12, 8),
        (40, 40, 16, 9),
        (58, 50, 8, 7),
        (26, 62, 18, 10),
        (52, 66, 15, 9),
        (18, 80, 12, 8),
        (40, 82, 18, 9),
        (62, 84, 6, 6),
    ):
        d.add(
            poly(
                [
                    (x - w / 2, y),
                    (x, y - h / 2),
                    (x + w / 2, y - h * 0.2),
                    (x + w * 0.3, y + h / 2),
                    (x - w * 0.4, y + h * 0.4),
                ],
                close=True,
            ),
            FINE,
            "#ffffff",
        )


@draws("ray_flake", "fleck")
def _(d: Drawing) -> None:
    _quarter(d)
    flecks = []
    for row in range(8):
        for k in range(6):
            x, y = 17 + k * 9.6 + (row % 2) * 4, 44 + row * 6.6
            if x < 66:
                flecks.append([(x, y), (x + 3, y)])
    d.add(lines(flecks), LINE, stroke="#ffffff")


@draws("ray_flake", "none")
def _(d: Drawing) -> None:
    _quarter(d)
    d.add(lines([[(24, 40), (24, 92)], [(38, 36), (38, 92)], [(54, 33), (54, 92)]]), HAIR)
