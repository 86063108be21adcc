"""The geometry of the charts that the server draws: paths and places in the drawing's own units.

Templates draw them (`templates/parts/charts.html`), so that they stand in print and without scripts.
Every drawing has a width of a few hundred units and is scaled to its place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from rickyard.desk.forecasts import StackOutlook
from rickyard.desk.readings import ReadingLine
from rickyard.desk.stacks import StackCard
from rickyard.wood import wet_from_db

# At or above these odds of being dry enough a stack counts as ready; the desk promises by the same figure.
READY_ODDS = 0.80
SOON_DAYS = 30
# Wood wetter than this (of total mass) has most of its drying before it. Common practice, no source.
WET_MC = 0.30


@dataclass(frozen=True)
class Mark:
    """A tick, a reading, a label: a place in the drawing and what is written there."""

    x: float
    y: float
    text: str
    low_y: float = 0.0
    high_y: float = 0.0
    kind: str = ""


@dataclass(frozen=True)
class Fan:
    """A moisture fan: the band from the 10th to the 90th percentile, the median, the target, the readings."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    band: str
    middle: str
    target_y: float
    today_x: float | None
    months: tuple[Mark, ...]
    levels: tuple[Mark, ...]
    readings: tuple[Mark, ...]
    ready: tuple[float, float] | None


@dataclass(frozen=True)
class OddsBar:
    """One column of the odds by date."""

    x: float
    width: float
    y: float
    height: float
    odds: float
    day: date
    good: bool


@dataclass(frozen=True)
class PlanStack:
    """A stack on the plan of the yard; lengths in the drawing's units (a tenth of a metre)."""

    card: StackCard
    readiness: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Plan:
    width: float
    height: float
    stacks: tuple[PlanStack, ...]
    unplaced: tuple[StackCard, ...]
    grid: tuple[float, ...]
    grid_rows: tuple[float, ...]
    scale_m: float


def readiness(look: StackOutlook | None, today: date) -> str:
    """`ready`, `soon` (within a month), `drying`, `wet`, or `unknown` while there is no forecast."""
    if look is None or not look.known:
        return "unknown"
    if (look.odds_on(today, look.target_mc_wet) or 0.0) >= READY_ODDS:
        return "ready"
    if (look.odds_on(today + timedelta(days=SOON_DAYS), look.target_mc_wet) or 0.0) >= READY_ODDS:
        return "soon"
    now = look.moisture_on(today)
    return "wet" if now is not None and now[1] > WET_MC else "drying"


def reading_mc_wet(line: ReadingLine, look: StackOutlook) -> tuple[float, float] | None:
    """Moisture (of total mass) that a reading means, and its spread; None where it cannot be told."""
    if line.trust == "aside" or line.pieces == 0:
        return None
    if line.kind == "oven":
        return line.value, 0.01
    if line.kind == "meter":
        if line.corrected is None or not line.corrected.within_range:
            return None
        middle = wet_from_db(line.corrected.mc_db)
        return middle, wet_from_db(line.corrected.mc_db + line.corrected.sd_db) - middle
    if not look.known or line.value <= 0:
        return None
    # Weighed: mass now / mass when marked; the moisture of that day is the forecast's own.
    row = 0 if line.since is None else min(max((line.since - look.dates[0]).days, 0), len(look.dates) - 1)
    return max(0.0, 1 - (1 - look.p50[row]) / line.value), 0.02


def shown_days(look: StackOutlook, today: date) -> int:
    """How many days of a forecast are worth showing: two months past the likely day, and past today."""
    last = look.dates[-1]
    likely = look.ready_p90 or look.ready_p50 or last
    until = min(last, max(likely, today) + timedelta(days=60))
    return max(30, (until - look.dates[0]).days + 1)


def fan(
    look: StackOutlook,
    today: date,
    readings: Sequence[ReadingLine],
    *,
    level: Callable[[float], str],
    month: Callable[[date], str],
    width: float = 400.0,
    height: float = 270.0,
) -> Fan:
    """The fan of one stack. `level` and `month` write a moisture and a month."""
    left, right, top, bottom = 40.0, width - 8.0, 12.0, height - 26.0
    count = min(len(look.dates), shown_days(look, today))
    highest = max(max(look.p90[:count]), look.target_mc_wet + 0.05)
    ceiling = max(0.3, (int(highest * 10) + 1) / 10)

    def x_of(day: date) -> float:
        return left + (day - look.dates[0]).days / max(1, count - 1) * (right - left)

    def y_of(mc_wet: float) -> float:
        return bottom - min(mc_wet, ceiling) / ceiling * (bottom - top)

    # A point every few days is as fine as the drawing's line.
    rows = [*range(0, count, max(1, count // 160)), count - 1]
    xs = [x_of(look.dates[row]) for row in rows]
    upper = [f"{x:.1f},{y_of(look.p90[row]):.1f}" for x, row in zip(xs, rows, strict=True)]
    lower = [f"{x:.1f},{y_of(look.p10[row]):.1f}" for x, row in zip(xs, rows, strict=True)]
    middle = [f"{x:.1f},{y_of(look.p50[row]):.1f}" for x, row in zip(xs, rows, strict=True)]
    last = look.dates[count - 1]
    return Fan(
        width=width,
        height=height,
        left=left,
        right=right,
        top=top,
        bottom=bottom,
        band=f"M{' L'.join(upper)} L{' L'.join(reversed(lower))} Z",
        middle=f"M{' L'.join(middle)}",
        target_y=y_of(look.target_mc_wet),
        today_x=x_of(today) if look.dates[0] <= today <= last else None,
        months=tuple(
            Mark(x_of(day), bottom, month(day)) for day in _month_starts(look.dates[0], last, most=6)
        ),
        levels=tuple(
            Mark(left, y_of(step / 10), level(step / 10)) for step in range(round(ceiling * 10) + 1)
        ),
        readings=tuple(_reading_marks(look, readings, last, x_of, y_of)),
        ready=_ready_span(look, last, x_of),
    )


def spark(look: StackOutlook, today: date, width: float = 120.0, height: float = 36.0) -> Fan:
    """The same fan, small and without writing, for lists."""
    whole = fan(look, today, (), level=lambda _: "", month=lambda _: "", width=width + 48, height=height + 38)
    count = min(len(look.dates), shown_days(look, today))
    ceiling = max(look.p90[:count])

    def x_of(day: date) -> float:
        return (day - look.dates[0]).days / max(1, count - 1) * width

    def y_of(mc_wet: float) -> float:
        return height - 2 - mc_wet / ceiling * (height - 4)

    rows = [*range(0, count, max(1, count // 60)), count - 1]
    upper = [f"{x_of(look.dates[row]):.1f},{y_of(look.p90[row]):.1f}" for row in rows]
    lower = [f"{x_of(look.dates[row]):.1f},{y_of(look.p10[row]):.1f}" for row in rows]
    middle = [f"{x_of(look.dates[row]):.1f},{y_of(look.p50[row]):.1f}" for row in rows]
    return Fan(
        width=width,
        height=height,
        left=0.0,
        right=width,
        top=0.0,
        bottom=height,
        band=f"M{' L'.join(upper)} L{' L'.join(reversed(lower))} Z",
        middle=f"M{' L'.join(middle)}",
        target_y=y_of(look.target_mc_wet),
        today_x=x_of(today) if whole.today_x is not None else None,
        months=(),
        levels=(),
        readings=(),
        ready=None,
    )


def odds_bars(
    look: StackOutlook, today: date, width: float = 400.0, height: float = 120.0
) -> tuple[OddsBar, ...]:
    """Columns of the odds by date, from today until they are as good as certain (at most 26)."""
    rows = [(day, odds) for day, odds in look.odds if day >= today - timedelta(days=6)]
    sure = next((index for index, (_, odds) in enumerate(rows) if odds >= 0.995), len(rows) - 1)
    rows = rows[: max(8, sure + 2)]
    if not rows:
        return ()
    rows = rows[:: -(-len(rows) // 26)]
    step = width / len(rows)
    return tuple(
        OddsBar(
            x=index * step + step * 0.12,
            width=step * 0.76,
            y=height - max(2.0, odds * height),
            height=max(2.0, odds * height),
            odds=odds,
            day=day,
            good=odds >= READY_ODDS,
        )
        for index, (day, odds) in enumerate(rows)
    )


def plan(
    cards: Sequence[StackCard], looks: dict[int, StackOutlook], today: date, *, metric: bool = True
) -> Plan:
    """The yard from above, to scale: ten units a metre, the front edge at the bottom."""
    placed = [card for card in cards if card.x_m is not None and card.y_m is not None]
    reach_x = max((_x(card) + card.length_m for card in placed), default=0.0) + 2.0
    reach_y = max((_y(card) + max(card.depth_m, 0.8) for card in placed), default=0.0) + 2.0
    height = 10 * reach_y
    stacks = tuple(
        PlanStack(
            card=card,
            readiness=readiness(looks.get(card.id), today),
            x=10 * _x(card),
            y=height - 10 * (_y(card) + max(card.depth_m, 0.8)),
            width=10 * card.length_m,
            height=10 * max(card.depth_m, 0.8),
        )
        for card in placed
    )
    step = (10.0 if metric else 30 * 0.3048) if reach_x > 25 else (5.0 if metric else 15 * 0.3048)
    return Plan(
        width=10 * reach_x,
        height=height,
        stacks=stacks,
        unplaced=tuple(card for card in cards if card.x_m is None or card.y_m is None),
        grid=tuple(10 * step * index for index in range(1, int(reach_x / step) + 1)),
        grid_rows=tuple(height - 10 * step * index for index in range(1, int(reach_y / step) + 1)),
        scale_m=step,
    )


def months_table(look: StackOutlook, today: date) -> list[tuple[date, float, float, float, float]]:
    """The fan as rows: (day, 10th, 50th, 90th percentile of moisture, odds of being dry enough), monthly."""
    last = look.dates[min(len(look.dates), shown_days(look, today)) - 1]
    days = sorted({look.dates[0], *_month_starts(look.dates[0], last, most=40), last})
    rows = []
    for day in days:
        moisture = look.moisture_on(day)
        odds = look.odds_on(day, look.target_mc_wet)
        if moisture is not None and odds is not None:
            rows.append((day, *moisture, odds))
    return rows


def _x(card: StackCard) -> float:
    return card.x_m or 0.0


def _y(card: StackCard) -> float:
    return card.y_m or 0.0


def _month_starts(first: date, last: date, *, most: int) -> list[date]:
    starts = []
    year, month = first.year, first.month
    while True:
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
        day = date(year, month, 1)
        if day > last:
            break
        starts.append(day)
    return starts[:: max(1, -(-len(starts) // most))]


def _reading_marks(
    look: StackOutlook,
    readings: Sequence[ReadingLine],
    last: date,
    x_of: Callable[[date], float],
    y_of: Callable[[float], float],
) -> list[Mark]:
    marks = []
    for line in readings:
        means = reading_mc_wet(line, look)
        if means is not None and look.dates[0] <= line.happened_on <= last:
            middle, spread = means
            marks.append(
                Mark(
                    x_of(line.happened_on),
                    y_of(middle),
                    "",
                    y_of(max(0.0, middle - 1.2816 * spread)),
                    y_of(middle + 1.2816 * spread),
                    line.kind,
                )
            )
    return marks


def _ready_span(look: StackOutlook, last: date, x_of: Callable[[date], float]) -> tuple[float, float] | None:
    if look.ready_p10 is None or look.ready_p10 > last:
        return None
    return x_of(look.ready_p10), x_of(min(look.ready_p90 or last, last))
