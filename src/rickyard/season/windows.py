"""When it becomes dry, where that may be this autumn or not before next spring.

Wood that misses its last dry weeks stands through the winter, so the first days at or below a target often
fall into two heaps with months between them.
One middle date would then name a time at which almost nothing becomes dry; here the heaps are told apart.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rickyard.text import T_, Text

#: Two heaps are parted by at least so many days, in which hardly any member becomes dry.
GAP_DAYS = 45
#: Share of all members that may become dry in the gap, and that each heap must hold.
SPARSE, LEAST = 0.04, 0.10
#: In the gap members become dry at most this much as often as in either heap.
THINNER = 0.25
MOST_WINDOWS = 3


@dataclass(frozen=True)
class Window:
    """A stretch of time in which the wood may become dry.

    `first`, `middle`, `last`: 10th, 50th and 90th percentile of its members' days.
    `odds`: share of all members that become dry in it.
    """

    first: date
    middle: date
    last: date
    odds: float


@dataclass(frozen=True)
class Windows:
    """All windows in order of time; `beyond` is the share of members not dry by `horizon`."""

    windows: tuple[Window, ...]
    beyond: float
    horizon: date

    @property
    def parted(self) -> bool:
        """Whether one range of dates would mislead: two windows, or one and a real chance of none."""
        if len(self.windows) > 1:
            return True
        return bool(
            self.windows and self.beyond >= LEAST and (self.horizon - self.windows[-1].last).days >= GAP_DAYS
        )


def windows(dates: Sequence[date], ready_day: ArrayLike) -> Windows:
    """The windows of readiness.

    Parameters
    ----------
    dates
        Days of the forecast.
    ready_day
        For each member the place in `dates` of its first day at or below the target; -1 for none.
    """
    days = np.asarray(ready_day, dtype=np.int64)
    found = np.sort(days[days >= 0])
    parts = _parted(found, len(days)) if len(found) else []
    return Windows(
        windows=tuple(_window(dates, part, len(days)) for part in parts),
        beyond=1.0 - len(found) / len(days) if len(days) else 1.0,
        horizon=dates[-1],
    )


def months_of(dates: Sequence[date], ready_day: ArrayLike) -> list[tuple[date, float, float]]:
    """By month (its first day): odds of becoming dry in it, and of having become so by its end."""
    days = np.asarray(ready_day, dtype=np.int64)
    rows: list[tuple[date, float, float]] = []
    for number, day in enumerate(dates):
        if not rows or (day.year, day.month) != (rows[-1][0].year, rows[-1][0].month):
            rows.append((day.replace(day=1), 0.0, 0.0))
        month, within, _ = rows[-1]
        rows[-1] = (
            month,
            within + float(np.mean(days == number)),
            float(np.mean((days >= 0) & (days <= number))),
        )
    return rows


def window_words(found: Windows, month: Callable[[date], str], odds: Callable[[float], str]) -> Text | None:
    """ "Ready in September (6 in 10) or not until May"; None where one range of dates says it all.

    `month` names a month with its year, `odds` says a probability.
    """
    if not found.parted:
        return None
    first = found.windows[0]
    if len(found.windows) == 1:
        return T_(
            "Ready in {first} ({odds}), or not by {last}, as far as this forecast looks ({rest}).",
            first=_months(first, month),
            odds=odds(first.odds),
            last=month(found.horizon),
            rest=odds(found.beyond),
        )
    second = found.windows[1]
    return T_(
        "Ready in {first} ({odds}), or not until {second} ({rest}).",
        first=_months(first, month),
        odds=odds(first.odds),
        second=month(second.first),
        rest=odds(sum(window.odds for window in found.windows[1:]) + found.beyond),
    )


def _months(window: Window, month: Callable[[date], str]) -> Text | str:
    if (window.first.year, window.first.month) == (window.last.year, window.last.month):
        return month(window.middle)
    return T_("{first} to {last}", first=month(window.first), last=month(window.last))


def _window(dates: Sequence[date], part: NDArray[np.int64], members: int) -> Window:
    low, mid, high = np.quantile(part, (0.1, 0.5, 0.9), method="nearest")
    return Window(dates[int(low)], dates[int(mid)], dates[int(high)], len(part) / members)


def _parted(found: NDArray[np.int64], members: int) -> list[NDArray[np.int64]]:
    parts = [found]
    while len(parts) < MOST_WINDOWS:
        for number, part in enumerate(parts):
            at = _gap(part, members)
            if at is not None:
                parts[number : number + 1] = [part[:at], part[at:]]
                break
        else:
            break
    return parts


def _gap(part: NDArray[np.int64], members: int) -> int | None:
    """Where a heap falls in two (place in `part` of the second one's first member); None for one heap."""
    least = max(2, int(np.ceil(LEAST * members)))
    inside_most = int(SPARSE * members)
    best: tuple[float, int] | None = None
    for before in range(least - 1, len(part) - least):
        for after in range(before + 1, min(before + 2 + inside_most, len(part) - least + 1)):
            length = int(part[after] - part[before])
            inside = after - before - 1
            if length < GAP_DAYS:
                continue
            thick = min(_thickness(part[: before + 1]), _thickness(part[after:]))
            if (inside + 1) / length > THINNER * thick:
                continue
            score = length / (1.0 + inside)
            if best is None or score > best[0]:
                # The few in between go with the nearer heap.
                middle = (part[before] + part[after]) / 2
                best = (score, int(np.searchsorted(part, middle)))
    return None if best is None else best[1]


def _thickness(heap: NDArray[np.int64]) -> float:
    """Members a day in the middle eight tenths of a heap."""
    low, high = np.quantile(heap, (0.1, 0.9))
    return float(0.8 * len(heap) / max(high - low, 7.0))
