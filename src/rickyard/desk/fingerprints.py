"""What the forecasts of stacks would be made from now, remembered while nothing that they hang on has changed.

To reckon a stack's fingerprint takes its measures, its readings, what stands in it and what all others taught; pages
ask for those of all standing stacks, and between two deeds they stay as they are.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from rickyard.book import stock_by_spot
from rickyard.book.measurements import StackLesson
from rickyard.book.models import Deed, Stack, Yard
from rickyard.book.sky_tables import WeatherHours, WeatherIssue
from rickyard.desk.forecast_inputs import inputs_of, with_all_it_hangs_on
from rickyard.desk.learning import Teaching, lessons_of
from rickyard.desk.stacks import card_of

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


def fingerprints(
    session: Session, yard: Yard, day: date, stack_ids: Sequence[int], memory: Fingerprints
) -> Mapping[int, str | None]:
    """What these stacks' forecasts would be made from now: "" without wood, None without a measure."""
    stamp = stamp_of(session, yard, day)
    known = memory.known(stamp)
    lacking = [stack_id for stack_id in stack_ids if stack_id not in known]
    if not lacking:
        return known
    of_these = Stack.id.in_(lacking)
    held = stock_by_spot(session, yard.id, spots=select(Stack.spot_id).where(of_these))
    taught = Teaching(lessons_of(session, yard.id))
    found: dict[int, str | None] = {}
    for stack in session.scalars(with_all_it_hangs_on(select(Stack).where(of_these))):
        if not stack.measures:
            found[stack.id] = None
            continue
        card = card_of(stack, held.get(stack.spot_id, {}), 0.0)
        found[stack.id] = inputs_of(yard, stack, card, day, taught).fingerprint if card.shares else ""
    memory.add(stamp, found)
    return {**known, **found}
