"""Lines, tones and shapes that all drawings are made of: one ink, one scale of widths, one view of 100 by 100.

A drawing stands on its own pale ground, so that it reads the same on a light page, a dark page and in forced
colours. Nothing is clipped by the browser: what would run out of a frame is cut here, point by point.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence

Point = tuple[float, float]
Region = Callable[[float, float], bool]

VIEW = 100.0
SCALE = 4
"""Files are written in whole quarters of a unit: no decimal points, a third less to send."""

INK = "#1b1a16"
PAPER = "#fffdf7"
PALE = "#e6dfcf"
GREY = "#b5ac99"
DARK = "#655e51"

# The scale of line widths; at 80 px one unit is 0.8 px.
HAIR, FINE, LINE, BOLD, HEAVY = 1.2, 1.7, 2.4, 3.6, 5.6


def ink_on(tint: str) -> str:
    """What shows on a tint: ink, or paper where the tint is dark."""
    r, g, b = (int(tint[i : i + 2], 16) for i in (1, 3, 5))
    return PAPER if 0.299 * r + 0.587 * g + 0.114 * b < 112 else INK


def whole(value: float) -> int:
    """A length of ours in the file's own units."""
    return round(value * SCALE)


def _row(values: Iterable[int]) -> str:
    text = ""
    for value in values:
        text += f" {value}" if text and value >= 0 else f"{value}"
    return text


def _spots(points: Iterable[Point]) -> list[tuple[int, int]]:
    return [(whole(x), whole(y)) for x, y in points]


def poly(points: Sequence[Point], close: bool = False) -> str:
    """A path of straight pieces."""
    spots = _spots(points)
    steps: list[int] = []
    (x, y), rest = spots[0], spots[1:]
    text = f"M{_row((x, y))}"
    for a, b in rest:
        if (a, b) != (x, y):
            steps += [a - x, b - y]
        x, y = a, b
    return text + (f"l{_row(steps)}" if steps else "h0") + ("z" if close else "")


def smooth(points: Sequence[Point], close: bool = False, tension: float = 1 / 6) -> str:
    """A path that runs through the points in one bend (Catmull and Rom's splines)."""
    last = len(points) - 1
    if last < 2:
        return poly(points, close)
    pieces: list[int] = []
    x, y = _spots(points[:1])[0]
    text = f"M{_row((x, y))}"
    for i in range(last + 1 if close else last):
        if close:
            before, here, there, after = (points[(i + k) % (last + 1)] for k in (-1, 0, 1, 2))
        else:
            before, here, there, after = (points[min(max(i + k, 0), last)] for k in (-1, 0, 1, 2))
        one = (here[0] + (there[0] - before[0]) * tension, here[1] + (there[1] - before[1]) * tension)
        two = (there[0] - (after[0] - here[0]) * tension, there[1] - (after[1] - here[1]) * tension)
        for a, b in _spots((one, two, there)):
            pieces += [a - x, b - y]
        x, y = _spots((there,))[0]
    return text + f"c{_row(pieces)}" + ("z" if close else "")


def bends(start: Point, *controls: Point) -> str:
    """A closed path of cubic bends, each given by two controls and its end."""
    x, y = whole(start[0]), whole(start[1])
    text, steps = f"M{_row((x, y))}", []
    for i, (a, b) in enumerate(_spots(controls)):
        steps += [a - x, b - y]
        if i % 3 == 2:
            x, y = a, b
    return f"{text}c{_row(steps)}z"


def petal(base: Point, tip: Point, half: float) -> str:
    """A small leaf in two bends, widest below its middle."""
    dx, dy = tip[0] - base[0], tip[1] - base[1]
    length = math.hypot(dx, dy) or 1.0
    nx, ny = -dy / length * half / 0.72, dx / length * half / 0.72

    def at(t: float, way: int) -> Point:
        return base[0] + dx * t + nx * way, base[1] + dy * t + ny * way

    return bends(base, at(0.1, 1), at(0.62, 1), tip, at(0.62, -1), at(0.1, -1), base)


def dots(points: Iterable[Point]) -> str:
    """A path of dots: with round ends each is a disc as wide as the line."""
    text, x, y = "", 0, 0
    for a, b in _spots(points):
        text += f"{'m' if text else 'M'}{_row((a - x, b - y))}h0"
        x, y = a, b
    return text


def lines(pieces: Iterable[Sequence[Point]]) -> str:
    """One path of many separate lines."""
    return "".join(poly(piece) for piece in pieces if len(piece) > 1)


def cut(points: Sequence[Point], region: Region) -> list[list[Point]]:
    """The runs of a line that lie in a region."""
    runs: list[list[Point]] = [[]]
    for x, y in points:
        if region(x, y):
            runs[-1].append((x, y))
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if len(run) > 1]


def between(a: Point, b: Point, n: int = 20) -> list[Point]:
    return [(a[0] + (b[0] - a[0]) * i / n, a[1] + (b[1] - a[1]) * i / n) for i in range(n + 1)]


def arc(x: float, y: float, rx: float, ry: float, start: float, end: float, n: int = 12) -> list[Point]:
    """Points on an ellipse; degrees, 0 to the right, 90 down."""
    return [
        (
            x + rx * math.cos(math.radians(start + (end - start) * i / n)),
            y + ry * math.sin(math.radians(start + (end - start) * i / n)),
        )
        for i in range(n + 1)
    ]


def toward(start: Point, degrees: float, length: float) -> Point:
    """The point at a distance; degrees as on a compass (0 up, 90 right)."""
    angle = math.radians(degrees)
    return start[0] + length * math.sin(angle), start[1] - length * math.cos(angle)


def bow(start: Point, end: Point, bend: float, n: int = 8) -> list[Point]:
    """A line that bows to its right by `bend` units in the middle."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy) or 1.0
    return [
        (
            start[0] + dx * t - dy / length * bend * 4 * t * (1 - t),
            start[1] + dy * t + dx / length * bend * 4 * t * (1 - t),
        )
        for t in (i / n for i in range(n + 1))
    ]


class Drawing:
    """One state's picture: pieces of SVG in the order in which they are painted."""

    def __init__(self, seed: str) -> None:
        self.parts: list[str] = []
        self.last: str | None = None
        self.random = random.Random(seed)

    def add(
        self,
        path: str,
        width: float = LINE,
        fill: str = "none",
        stroke: str = INK,
        dash: str = "",
    ) -> None:
        """Paints a path; a width of 0 paints only its inside."""
        if not path:
            return
        text = f' fill="{fill}"' if fill != "none" else ""
        if width == 0:
            text += ' stroke="none"'
        else:
            if stroke != INK:
                text += f' stroke="{stroke}"'
            if width != LINE:
                text += f' stroke-width="{whole(width)}"'
            if dash:
                text += f' stroke-dasharray="{_row(whole(float(part)) for part in dash.split())}"'
        if fill == "none" and self.last == text:
            # Lines of one kind that follow each other are one path: nothing lies between them.
            self.parts[-1] = self.parts[-1].replace('d="', f'd="{path}', 1)
        else:
            self.parts.append(f'<path d="{path}"{text}/>')
        self.last = text if fill == "none" else None

    def line(self, *points: Point, width: float = LINE, stroke: str = INK, dash: str = "") -> None:
        self.add(poly(points), width, stroke=stroke, dash=dash)

    def curve(self, *points: Point, width: float = LINE, stroke: str = INK) -> None:
        self.add(smooth(points), width, stroke=stroke)

    def shape(self, *points: Point, fill: str = PAPER, width: float = LINE, stroke: str = INK) -> None:
        self.add(poly(points, close=True), width, fill, stroke)

    def blob(self, *points: Point, fill: str = PAPER, width: float = LINE, stroke: str = INK) -> None:
        self.add(smooth(points, close=True), width, fill, stroke)

    def ellipse(
        self,
        x: float,
        y: float,
        rx: float,
        ry: float | None = None,
        fill: str = "none",
        width: float = LINE,
        stroke: str = INK,
    ) -> None:
        at = f'cx="{whole(x)}" cy="{whole(y)}"'
        if ry is None or ry == rx:
            text = f'<circle {at} r="{whole(rx)}"'
        else:
            text = f'<ellipse {at} rx="{whole(rx)}" ry="{whole(ry)}"'
        if fill != "none":
            text += f' fill="{fill}"'
        if width == 0:
            text += ' stroke="none"'
        else:
            text += f' stroke="{stroke}"' if stroke != INK else ""
            text += f' stroke-width="{whole(width)}"' if width != LINE else ""
        self.last = None
        self.parts.append(text + "/>")

    def dots(self, points: Iterable[Point], size: float, stroke: str = INK) -> None:
        self.add(dots(points), size, stroke=stroke)

    def tube(
        self,
        *strands: Sequence[Point],
        size: float,
        fill: str = GREY,
        edge: float = LINE,
        bent: bool = True,
    ) -> None:
        """A twig, finger or stalk: an inked strand with a lighter one on it; strands painted as one join up."""
        room = size / 2 + edge + 0.4
        kept = [
            [(min(max(x, room), VIEW - room), min(max(y, room), VIEW - room)) for x, y in s] for s in strands
        ]
        path = "".join((smooth if bent else poly)(strand) for strand in kept)
        self.add(path, size + 2 * edge)
        self.add(path, size, stroke=fill)


Painter = Callable[[Drawing], None]
PAINTERS: dict[str, dict[str, Painter]] = {}


def draws(character: str, state: str) -> Callable[[Painter], Painter]:
    """Registers the function that draws a state; states stand in the sprite in this order."""

    def register(painter: Painter) -> Painter:
        PAINTERS.setdefault(character, {})[state] = painter
        return painter

    return register


def painted(character: str, state: str) -> str:
    drawing = Drawing(f"{character}/{state}")
    PAINTERS[character][state](drawing)
    return "".join(drawing.parts)
