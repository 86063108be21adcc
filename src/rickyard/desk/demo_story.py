"""The demo while it is told: its clock, its chance, and what it has to remember."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from typing import NamedTuple

import numpy as np

from rickyard.desk.context import Desk


class OpenOrder(NamedTuple):
    """An order that is promised and not yet delivered."""

    order_id: int
    wanted_by: date
    stack_ids: tuple[int, ...]


@dataclass
class Story:
    """The demo while it is told: a desk whose clock is moved, and a source of chance."""

    desk: Desk
    rng: np.random.Generator
    as_of: date
    say: Callable[[str], None]
    deeds: int = 0
    load_number: int = 0
    stack_number: int = 0
    names: set[str] = field(default_factory=set)
    places: dict[int, tuple[float | None, float | None]] = field(default_factory=dict)
    unsplit: list[tuple[int, date]] = field(default_factory=list)
    homes: list[int] = field(default_factory=list)
    open_orders: list[OpenOrder] = field(default_factory=list)
    seen: list[tuple[int, str, date]] = field(default_factory=list)

    def key(self) -> str:
        self.deeds += 1
        return f"demo-{self.deeds:06d}"

    def at(self, day: date, hour: int = 15) -> Desk:
        """The desk with its clock set to an hour of a day (UTC)."""
        moment = datetime(day.year, day.month, day.day, hour, self.deeds % 60, tzinfo=UTC)
        return replace(self.desk, clock=lambda: moment)
