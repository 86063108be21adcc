"""What the forecasts of stacks would be made from now, remembered while nothing that they hang on has changed.

To reckon a stack's fingerprint takes its measures, its readings, what stands in it and what all others taught; pages
ask for those of all standing stacks, and between two deeds they stay as they are.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from rickyard.book.measurements import StackLesson
from rickyard.book.models import Deed, Yard
from rickyard.book.sky_tables import WeatherHours, WeatherIssue

Stamp = tuple[object, ...]


def stamp_of(session: Session, yard: Yard, day: date) -> Stamp:
    """The same while the same goes into the yard's forecasts: every change of a book is a deed, but for what the
    worker learns from readings and fetches of the weather."""
    deed = session.execute(
        select(Deed.id, Deed.client_key).where(Deed.yard_id == yard.id).order_by(Deed.id.desc()).limit(1)
    ).first()
    learnt = session.execute(
        select(func.count(), func.max(StackLesson.learnt_at)).where(StackLesson.yard_id == yard.id)
    ).one()
    hours = session.execute(
        select(WeatherHours.source, WeatherHours.digest)
        .where(WeatherHours.yard_id == yard.id)
        .order_by(WeatherHours.source)
    ).all()
    issue = session.execute(
        select(WeatherIssue.id, WeatherIssue.digest)
        .where(WeatherIssue.yard_id == yard.id)
        .order_by(WeatherIssue.issued_at.desc())
        .limit(1)
    ).first()
    return (yard.id, day, deed, learnt, tuple(hours), issue)


class Fingerprints:
    """Those of one stamp, by stack: "" for one without wood, None for one without a measure. Threads may share it."""

    def __init__(self) -> None:
        self._stamp: Stamp | None = None
        self._known: dict[int, str | None] = {}
        self._lock = threading.Lock()

    def known(self, stamp: Stamp) -> Mapping[int, str | None]:
        with self._lock:
            return dict(self._known) if self._stamp == stamp else {}

    def add(self, stamp: Stamp, found: Mapping[int, str | None]) -> None:
        with self._lock:
            if self._stamp != stamp:
                self._stamp, self._known = stamp, {}
            self._known.update(found)

    def forget(self) -> None:
        with self._lock:
            self._stamp = None
