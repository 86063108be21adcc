"""Windows of readiness: told apart where there are two, and only there."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from rickyard import season, weather
from rickyard.season.windows import months_of, window_words, windows

START = date(2026, 4, 1)
DATES = [START + timedelta(days=i) for i in range(541)]


def days_around(*heaps: tuple[date, float, int]) -> np.ndarray:
    """Ready days: for each (middle, spread in days, members) a normal heap, evenly drawn."""
    from scipy.stats import norm

    return np.concatenate(
        [
            np.round((middle - START).days + spread * norm.ppf((np.arange(count) + 0.5) / count))
            for middle, spread, count in heaps
        ]
    ).astype(int)


def test_one_heap_is_one_window() -> None:
    found = windows(DATES, days_around((date(2026, 8, 20), 20, 100)))

    assert len(found.windows) == 1
    assert not found.parted
    assert found.windows[0].odds == 1.0
    assert abs((found.windows[0].middle - date(2026, 8, 20)).days) <= 1
    assert window_words(found, str, str) is None


def test_autumn_or_spring() -> None:
    found = windows(DATES, days_around((date(2026, 9, 15), 8, 60), (date(2027, 5, 20), 8, 40)))

    first, second = found.windows
    assert (first.odds, second.odds) == pytest.approx((0.6, 0.4))
    assert first.last < date(2026, 10, 15)
    assert second.first > date(2027, 4, 1)
    words = window_words(found, lambda day: f"{day:%B}", lambda odds: f"{10 * odds:.0f}/10")
    assert str(words) == "Ready in September (6/10), or not until May (4/10)."


def test_few_stragglers_do_not_bridge_the_gap() -> None:
    winter = days_around((date(2026, 12, 20), 20, 3))
    heaps = days_around((date(2026, 9, 15), 12, 60), (date(2027, 5, 10), 12, 37))
    found = windows(DATES, np.concatenate([heaps, winter]))

    assert len(found.windows) == 2
    assert sum(window.odds for window in found.windows) == pytest.approx(1.0)


def test_a_long_thin_tail_is_no_second_window() -> None:
    tail = (date(2026, 9, 20) - START).days + np.arange(1, 16) * 22
    found = windows(DATES, np.concatenate([days_around((date(2026, 8, 20), 12, 85)), tail]))

    assert len(found.windows) == 1


def test_not_before_the_horizon() -> None:
    days = np.concatenate([days_around((date(2026, 9, 1), 12, 70)), np.full(30, -1)])
    found = windows(DATES, days)

    assert found.parted
    assert found.beyond == pytest.approx(0.3)
    assert "not by" in str(window_words(found, str, str))


def test_never() -> None:
    found = windows(DATES, np.full(20, -1))

    assert found.windows == ()
    assert found.beyond == 1.0
    assert not found.parted


def test_months_add_up() -> None:
    days = np.concatenate([days_around((date(2026, 9, 15), 12, 60)), np.full(40, -1)])
    rows = months_of(DATES, days)

    assert sum(within for _, within, _ in rows) == pytest.approx(0.6)
    assert rows[-1][2] == pytest.approx(0.6)
    assert [by for _, _, by in rows] == sorted(by for _, _, by in rows)


def test_red_oak_in_wisconsin_is_dry_one_summer_or_the_next() -> None:
    """Stacked in spring, at the thickness that is just too much for one summer: little falls between the two."""
    place = weather.find_place("Madison, WI")
    air = weather.generate_air(place, START, 541, members=64, seed=1)
    parted = []
    for thickness_m in (0.12, 0.14, 0.10, 0.16):
        oak = season.Pieces(
            species_id="quercus_rubra", form="split", length_m=0.41, thickness_m=thickness_m, stacked_on=START
        )
        made = season.forecast(oak, air, members=64, seed=1, model=season.screening_model())
        found = windows(made.dates, made.ready_day(0.20))
        if len(found.windows) == 2:
            parted.append(found)
            break

    assert parted, "no thickness misses one summer and makes the next"
    first, second = parted[0].windows
    assert first.last < date(2026, 12, 15)
    assert second.first > date(2027, 2, 1)
    assert min(first.odds, second.odds) >= 0.1
    assert "or not until" in str(window_words(parted[0], lambda day: f"{day:%B}", str))
