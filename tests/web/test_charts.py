"""The geometry of what the server draws."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta

import pytest

from rickyard.desk.context import Desk
from rickyard.desk.forecasts import StackOutlook, outlook, outlooks
from rickyard.desk.readings import readings
from rickyard.desk.stacks import stacks
from rickyard.web import charts

TODAY = date(2026, 11, 24)


@pytest.fixture
def look(desk_of: Desk, small_yard: object) -> Iterator[StackOutlook]:
    return outlook(desk_of, small_yard.mixed)  # type: ignore[attr-defined]


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", path)]


def drawn(look: StackOutlook, desk: Desk) -> charts.Fan:
    return charts.fan(look, TODAY, readings(desk, look.stack_id), level=lambda x: f"{x:.0%}", month=str)


def test_fan_runs_left_to_right_inside_its_frame(look: StackOutlook, desk_of: Desk) -> None:
    fan = drawn(look, desk_of)
    middle = points(fan.middle)

    assert [x for x, _ in middle] == sorted(x for x, _ in middle)
    assert middle[0][0] == pytest.approx(fan.left, abs=0.1)
    assert middle[-1][0] == pytest.approx(fan.right, abs=0.1)
    for x, y in points(fan.band) + middle:
        assert fan.left - 0.1 <= x <= fan.right + 0.1
        assert fan.top - 0.1 <= y <= fan.bottom + 0.1


def test_band_holds_the_median(look: StackOutlook, desk_of: Desk) -> None:
    """Upwards is wetter, and smaller in the drawing's own units."""
    fan = drawn(look, desk_of)
    band, middle = points(fan.band), points(fan.middle)
    upper, lower = band[: len(middle)], list(reversed(band[len(middle) :]))

    for (_, high), (_, mid), (_, low) in zip(upper, middle, lower, strict=True):
        assert high <= mid <= low


def test_scale_is_linear_from_zero(look: StackOutlook, desk_of: Desk) -> None:
    fan = drawn(look, desk_of)

    assert fan.levels[0].y == pytest.approx(fan.bottom)
    steps = [a.y - b.y for a, b in zip(fan.levels, fan.levels[1:], strict=False)]
    assert steps == pytest.approx([steps[0]] * len(steps))
    # The target lies at its own moisture: two tenths of a step scale of a tenth each.
    assert fan.bottom - fan.target_y == pytest.approx(steps[0] * look.target_mc_wet / 0.1)


def test_readings_stand_at_what_they_mean(look: StackOutlook, desk_of: Desk) -> None:
    """An oven sample at 24 % of total mass stands at 24 %; a meter reading at its corrected value."""
    fan = drawn(look, desk_of)
    step = fan.levels[0].y - fan.levels[1].y
    by_kind = {mark.kind: mark for mark in fan.readings}

    assert (fan.bottom - by_kind["oven"].y) / step == pytest.approx(2.4)
    corrected = next(line.corrected for line in readings(desk_of, look.stack_id) if line.corrected)
    mc_wet = corrected.mc_db / (1 + corrected.mc_db)
    assert (fan.bottom - by_kind["meter"].y) / step == pytest.approx(10 * mc_wet)
    # 0.8 of the weight when stacked: the dry part has not changed.
    start = look.p50[0]
    assert (fan.bottom - by_kind["weighed"].y) / step == pytest.approx(10 * (1 - (1 - start) / 0.8))
    for mark in fan.readings:
        assert mark.high_y < mark.y < mark.low_y


def test_today_stands_between_its_months(look: StackOutlook, desk_of: Desk) -> None:
    fan = drawn(look, desk_of)
    before = [mark.x for mark in fan.months if date.fromisoformat(mark.text) <= TODAY]
    after = [mark.x for mark in fan.months if date.fromisoformat(mark.text) > TODAY]

    assert fan.today_x is not None
    assert max(before, default=fan.left) <= fan.today_x <= min(after, default=fan.right)


def test_odds_rise_with_their_columns(look: StackOutlook) -> None:
    bars = charts.odds_bars(look, TODAY - timedelta(days=150))

    assert 3 <= len(bars) <= 26
    for bar in bars:
        assert bar.height == pytest.approx(max(2.0, bar.odds * 120))
        assert bar.y + bar.height == pytest.approx(120)
        assert bar.good == (bar.odds >= 0.8)
    assert [bar.day for bar in bars] == sorted(bar.day for bar in bars)
    assert [bar.odds for bar in bars] == sorted(bar.odds for bar in bars)


def test_readiness_follows_the_odds(look: StackOutlook) -> None:
    """Day by day it goes from wet over drying and soon to ready, and never back on this curve."""
    order = ["wet", "drying", "soon", "ready"]
    seen = [charts.readiness(look, look.dates[0] + timedelta(days=day)) for day in range(0, 500, 5)]

    assert seen[0] == "wet"
    assert seen[-1] == "ready"
    assert [order.index(state) for state in seen] == sorted(order.index(state) for state in seen)
    assert charts.readiness(None, TODAY) == "unknown"


def test_table_says_the_same_as_the_fan(look: StackOutlook) -> None:
    rows = charts.months_table(look, TODAY)

    assert rows[0][0] == look.dates[0]
    for day, low, mid, high, odds in rows:
        assert (low, mid, high) == look.moisture_on(day)
        assert low <= mid <= high
        assert odds == look.odds_on(day, look.target_mc_wet)


def test_plan_is_to_scale(desk_of: Desk) -> None:
    cards = stacks(desk_of)
    plan = charts.plan(cards, outlooks(desk_of), TODAY)

    assert {card.name for card in plan.unplaced} == {"C3"}
    assert {item.card.name for item in plan.stacks} == {"A1", "B2"}
    for item in plan.stacks:
        assert item.width == pytest.approx(10 * item.card.length_m)
        assert 0 <= item.x <= item.x + item.width <= plan.width
        assert 0 <= item.y <= item.y + item.height <= plan.height
    front = {item.card.name: item.y + item.height for item in plan.stacks}
    assert front["A1"] - front["B2"] == pytest.approx(50)  # five metres further back is higher up


def test_spark_has_the_frame_asked(look: StackOutlook) -> None:
    fan = charts.spark(look, TODAY, width=120, height=36)

    for x, y in points(fan.band):
        assert -0.1 <= x <= 120.1
        assert 0 <= y <= 36
