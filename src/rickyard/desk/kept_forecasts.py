"""Kept forecasts as pages read them: unpacked once, and remembered while the book is open.

A forecast is tens of kilobytes, packed; a page asks for those of all standing stacks, and they change a few times a
day. What is remembered of one goes when it is made anew, here or by another process (its fingerprint or the moment it
was made then differ).
"""

from __future__ import annotations

import io
import threading
from collections import OrderedDict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session, defer

from rickyard.book import Book
from rickyard.book.models import StackForecast
from rickyard.desk.fingerprints import Fingerprints
from rickyard.wood import db_from_wet

# Of about a quarter of a megabyte each: more stacks than a small yard has standing.
MOST = 256
# How many are fetched with one question.
AT_ONCE = 100


@dataclass(frozen=True)
class Kept:
    """One forecast, unpacked. `mc_db` holds the members' moistures, [days, members]."""

    summary: dict[str, Any]
    dates: tuple[date, ...]
    p10: tuple[float, ...]
    p50: tuple[float, ...]
    p90: tuple[float, ...]
    odds: tuple[tuple[date, float], ...]
    mc_db: np.ndarray

    def row_of(self, day: date) -> int:
        """Before the first day the wood is as stacked; after the last day the last one holds."""
        return min(max((day - self.dates[0]).days, 0), len(self.dates) - 1)

    def members_dry_on(self, day: date, mc_wet: float) -> np.ndarray:
        """For each member, whether the stack's mean is at or below `mc_wet` on that day (bool [members])."""
        return np.asarray(self.mc_db[self.row_of(day)] <= db_from_wet(mc_wet))

    def odds_on(self, day: date, mc_wet: float) -> float:
        """Share of members at or below `mc_wet` on that day."""
        return float(self.members_dry_on(day, mc_wet).mean())


class Memory:
    """What is remembered of a book's forecasts; threads may share it."""

    def __init__(self) -> None:
        self._kept: OrderedDict[int, tuple[tuple[object, ...], Kept]] = OrderedDict()
        self._lock = threading.Lock()
        self.fingerprints = Fingerprints()

    def recall(self, session: Session, rows: Iterable[StackForecast]) -> dict[int, Kept]:
        """By stack, the forecasts of these rows that were made, fetched (in a few questions) where need be."""
        found: dict[int, Kept] = {}
        lacking: dict[int, StackForecast] = {}
        for row in rows:
            if row.made_at is None:
                continue
            with self._lock:
                known = self._kept.get(row.stack_id)
                if known is not None and known[0] == _mark(row):
                    self._kept.move_to_end(row.stack_id)
                    found[row.stack_id] = known[1]
                    continue
            lacking[row.id] = row
        ids = list(lacking)
        for start in range(0, len(ids), AT_ONCE):
            query = select(StackForecast.id, StackForecast.summary, StackForecast.members_mc).where(
                StackForecast.id.in_(ids[start : start + AT_ONCE]), StackForecast.members_mc.is_not(None)
            )
            for number, summary, members_mc in session.execute(query):
                row, kept = lacking[number], _unpacked(summary, members_mc)
                found[row.stack_id] = kept
                with self._lock:
                    self._kept[row.stack_id] = (_mark(row), kept)
                    while len(self._kept) > MOST:
                        self._kept.popitem(last=False)
        return found

    def forget(self, stack_id: int) -> None:
        """After a forecast was made anew, which may have taught others."""
        with self._lock:
            self._kept.pop(stack_id, None)
        self.fingerprints.forget()


_MEMORIES: WeakKeyDictionary[Book, Memory] = WeakKeyDictionary()


def kept_of(session: Session, book: Book, stack_ids: Collection[int]) -> dict[int, Kept]:
    """The forecasts of these stacks as they are kept, fresh or not: nothing is asked of what they were made from."""
    if not stack_ids:
        return {}
    rows = session.scalars(
        select(StackForecast)
        .where(StackForecast.stack_id.in_(stack_ids))
        .options(defer(StackForecast.summary), defer(StackForecast.members_mc))
    )
    return memory_of(book).recall(session, rows)


def memory_of(book: Book) -> Memory:
    return _MEMORIES.setdefault(book, Memory())


def _mark(row: StackForecast) -> tuple[object, ...]:
    return (row.id, row.fingerprint, row.made_at, row.model)


def _unpacked(summary: dict[str, Any], members_mc: bytes) -> Kept:
    first, count = date.fromisoformat(summary["dates"][0]), int(summary["dates"][1])
    with np.load(io.BytesIO(members_mc)) as packed:
        mc_db = packed["mc_db"].astype(np.float32) / 10000
    # The long lines are held once, as tuples.
    short = {name: value for name, value in summary.items() if name not in ("p10", "p50", "p90", "odds")}
    return Kept(
        summary=short,
        dates=tuple(first + timedelta(days=offset) for offset in range(count)),
        p10=tuple(summary["p10"]),
        p50=tuple(summary["p50"]),
        p90=tuple(summary["p90"]),
        odds=tuple((date.fromisoformat(day), odds) for day, odds in summary["odds"]),
        mc_db=mc_db,
    )
