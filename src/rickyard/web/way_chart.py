"""The drawing of a way: places as bars in columns, wood as bands between them, all in the drawing's own units."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from rickyard.desk.way_legs import SOURCES, Place
from rickyard.desk.ways import Way, WayPlace
from rickyard.measure import Spread

WIDTH = 360.0
BAR = 8.0
# Room for a name, a mass and its range beside each bar.
LEAST_HEIGHT = 48.0
FULL_HEIGHT = 150.0
GAP = 8.0
# A bold letter of the drawing's names.
LETTER = 7.3
TOP = 22.0
# More places of one column than this are drawn as one.
MOST = 7


@dataclass
class Bar:
    """A place, or the rest of a column (`places` more than one)."""

    column: int
    places: list[WayPlace]
    kg: float
    x: float = 0.0
    y: float = 0.0
    height: float = 0.0
    focus: bool = False
    _out: float = field(default=0.0, repr=False)
    _in: float = field(default=0.0, repr=False)

    @property
    def place(self) -> WayPlace | None:
        return self.places[0] if len(self.places) == 1 else None

    @property
    def is_difference(self) -> bool:
        return any(place.is_difference for place in self.places)


@dataclass(frozen=True)
class Band:
    """Wood from one bar to another as an outline; the masses of its steps for its title."""

    path: str
    start: Bar
    end: Bar
    masses: tuple[Spread, ...]

    @property
    def is_difference(self) -> bool:
        return self.start.is_difference or self.end.is_difference


@dataclass(frozen=True)
class WayChart:
    width: float
    height: float
    columns: tuple[tuple[float, str], ...]
    bars: tuple[Bar, ...]
    bands: tuple[Band, ...]

    @property
    def letters(self) -> int:
        """How many letters of a name have room beside a bar."""
        return int((self.width / len(self.columns) - BAR - 3) / LETTER)


def way_chart(way: Way) -> WayChart:
    """Loads to the left, buyers and what is gone to the right, stacks between them in the order of the wood."""
    column_of = _columns(way)
    bars: list[Bar] = []
    bar_of: dict[Place, Bar] = {}
    for column in range(max(column_of.values(), default=0) + 1):
        here = [place for place in way.places if column_of[place.at] == column]
        # The place in question and differences are always drawn by themselves, these below the others.
        here.sort(key=lambda place: (place.at != way.focus, -place.kg))
        differences = [[place] for place in here if place.is_difference]
        here = [place for place in here if not place.is_difference]
        rest = [here[MOST:]] if here[MOST:] else []
        for group in [[place] for place in here[:MOST]] + rest + differences:
            bar = Bar(column, group, sum(p.kg for p in group), focus=group[0].at == way.focus)
            bars.append(bar)
            bar_of |= {place.at: bar for place in group}
    steps: dict[tuple[int, int], list[Spread]] = defaultdict(list)
    for step in way.steps:
        start, end = bar_of[step.start], bar_of[step.end]
        # What was found more in a load stands in its own column; the list below the drawing has it.
        if start is not end and end.column:
            steps[bars.index(start), bars.index(end)].append(step.mass)
    flows = {ends: sum(mass.mid for mass in masses) for ends, masses in steps.items()}
    drawn = {number for ends in flows for number in ends} | {n for n, bar in enumerate(bars) if bar.focus}
    through = [
        max(
            sum(kg for (_, end), kg in flows.items() if end == number),
            sum(kg for (start, _), kg in flows.items() if start == number),
            1e-9,
        )
        for number in range(len(bars))
    ]
    scale = FULL_HEIGHT / max(through, default=1.0)
    count = max(column_of.values(), default=0) + 1
    lowest = TOP
    for column in range(count):
        y = TOP
        for number, bar in enumerate(bars):
            if bar.column == column and number in drawn:
                bar.x = column * WIDTH / count
                bar.y, bar.height = y, max(2.0, through[number] * scale)
                y += max(bar.height, LEAST_HEIGHT) + GAP
        lowest = max(lowest, y)
    bands = []
    for (first, last), kg in sorted(flows.items(), key=lambda item: (bars[item[0][0]].y, bars[item[0][1]].y)):
        start, end = bars[first], bars[last]
        bands.append(Band(_outline(start, end, kg * scale), start, end, tuple(steps[first, last])))
        start._out += kg * scale
        end._in += kg * scale
    heads = tuple((column * WIDTH / count, _head(column, count)) for column in range(count))
    seen = tuple(bar for number, bar in enumerate(bars) if number in drawn)
    return WayChart(WIDTH, lowest, heads, seen, tuple(bands))


def _columns(way: Way) -> dict[Place, int]:
    """Which column a place stands in: by the longest way from a load, ends at the right; round trips are cut."""
    before: dict[Place, list[Place]] = defaultdict(list)
    for step in sorted(way.steps, key=lambda step: step.first_on):
        if step.start.kind in ("load", "stack") and step.end.kind == "stack":
            before[step.end].append(step.start)

    def depth(at: Place, seen: frozenset[Place]) -> int:
        if at.kind == "load" or at.kind in SOURCES:
            return 0
        earlier = [start for start in before[at] if start not in seen]
        return 1 + max((depth(start, seen | {at}) for start in earlier), default=0)

    # Two columns of stacks are all that a phone shows.
    depths = {
        place.at: min(depth(place.at, frozenset()), 2)
        for place in way.places
        if place.kind in ("load", "stack") or place.kind in SOURCES
    }
    last = max(depths.values(), default=0) + 1
    return {place.at: depths.get(place.at, last) for place in way.places}


def _head(column: int, count: int) -> str:
    return "load" if column == 0 else "end" if column == count - 1 else "stack"


def _outline(start: Bar, end: Bar, thickness: float) -> str:
    x1, x2 = start.x + BAR, end.x
    y1, y2 = start.y + start._out, end.y + end._in
    bend = (x1 + x2) / 2
    return (
        f"M{x1:.1f} {y1:.1f}C{bend:.1f} {y1:.1f} {bend:.1f} {y2:.1f} {x2:.1f} {y2:.1f}"
        f"V{y2 + thickness:.1f}C{bend:.1f} {y2 + thickness:.1f} {bend:.1f} {y1 + thickness:.1f} "
        f"{x1:.1f} {y1 + thickness:.1f}Z"
    )
