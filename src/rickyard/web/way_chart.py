"""The drawing of a way: places as bars in columns, wood as bands between them, all in the drawing's own units."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from rickyard.desk.ways import Way, WayPlace

WIDTH = 360.0
BAR = 8.0
# Room for a name and a mass beside each bar.
LEAST_HEIGHT = 36.0
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


@dataclass(frozen=True)
class Band:
    """Wood from one bar to another as an outline; `kg` for its title."""

    path: str
    start: Bar
    end: Bar
    kg: float


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
    bar_of: dict[int, Bar] = {}
    for column in range(max(column_of.values(), default=0) + 1):
        here = [place for place in way.places if column_of[place.spot_id] == column]
        # The place in question is always drawn by itself.
        here.sort(key=lambda place: (place.spot_id != way.focus, -place.kg))
        for group in [[place] for place in here[:MOST]] + ([here[MOST:]] if here[MOST:] else []):
            bar = Bar(column, group, sum(p.kg for p in group), focus=group[0].spot_id == way.focus)
            bars.append(bar)
            bar_of |= {place.spot_id: bar for place in group}
    flows: dict[tuple[int, int], float] = defaultdict(float)
    for step in way.steps:
        start, end = bar_of[step.start], bar_of[step.end]
        if start is not end:
            flows[bars.index(start), bars.index(end)] += step.kg
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
            if bar.column == column:
                bar.x = column * WIDTH / count
                bar.y, bar.height = y, max(2.0, through[number] * scale)
                y += max(bar.height, LEAST_HEIGHT) + GAP
        lowest = max(lowest, y)
    bands = []
    for (first, last), kg in sorted(flows.items(), key=lambda item: (bars[item[0][0]].y, bars[item[0][1]].y)):
        start, end = bars[first], bars[last]
        bands.append(Band(_outline(start, end, kg * scale), start, end, kg))
        start._out += kg * scale
        end._in += kg * scale
    heads = tuple((column * WIDTH / count, _head(column, count)) for column in range(count))
    return WayChart(WIDTH, lowest, heads, tuple(bars), tuple(bands))


def _columns(way: Way) -> dict[int, int]:
    """Which column a place stands in: by the longest way from a load, ends at the right; round trips are cut."""
    kinds = {place.spot_id: place.kind for place in way.places}
    before: dict[int, list[int]] = defaultdict(list)
    for step in sorted(way.steps, key=lambda step: step.first_on):
        if kinds[step.start] in ("load", "stack") and kinds[step.end] == "stack":
            before[step.end].append(step.start)

    def depth(spot_id: int, seen: frozenset[int]) -> int:
        if kinds[spot_id] == "load":
            return 0
        earlier = [start for start in before[spot_id] if start not in seen]
        return 1 + max((depth(start, seen | {spot_id}) for start in earlier), default=0)

    # Two columns of stacks are all that a phone shows.
    depths = {
        spot: min(depth(spot, frozenset()), 2) for spot, kind in kinds.items() if kind in ("load", "stack")
    }
    last = max(depths.values(), default=0) + 1
    return {spot: depths.get(spot, last) for spot in kinds}


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
