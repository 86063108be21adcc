"""What weights of marked pieces come to: reckoned from what was reported, in whatever order it came."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Reading, Witness
from rickyard.season import Weighed, step_share, weighed


def witnesses_of(session: Session, stack_id: int) -> list[Witness]:
    """All markings of a stack, oldest first."""
    query = select(Witness).where(Witness.stack_id == stack_id).order_by(Witness.marked_on, Witness.id)
    return list(session.scalars(query))


def current(rows: Sequence[Witness], day: date) -> list[Witness]:
    """The marking of each piece that holds on a day: the newest until then; an implied one only if no other is."""
    found: dict[str, Witness] = {}
    for row in rows:
        if row.marked_on <= day:
            other = found.get(row.label)
            if other is None or other.implied or not row.implied:
                found[row.label] = row
    return sorted(found.values(), key=lambda row: (len(row.label), row.label))


def reckon(session: Session, stack_id: int) -> dict[int, Weighed]:
    """Reckons again what all weighings and own oven samples of a stack come to; by reading.

    Pieces marked on different days cannot be added up: those of the day with the most pieces on the scale count.
    """
    rows = witnesses_of(session, stack_id)
    found: dict[int, Weighed] = {}
    query = select(Reading).where(Reading.stack_id == stack_id, Reading.kind.in_(("weighed", "oven")))
    for reading in session.scalars(query):
        known = current(rows, reading.happened_on)
        if reading.kind == "oven":
            if reading.own and known:
                by_day = _by_day(known)
                reading.since = max(by_day, key=lambda day: (len(by_day[day]), -day.toordinal()))
                reading.pieces = len(by_day[reading.since])
            continue
        if not reading.weights:
            continue
        now = {item.label: item.mass_kg for item in reading.weights}
        best, since, steps = Weighed(0.0, 0, None, 0.0, {}), None, None
        woods: set[str | None] = {None}
        odd: dict[str, str] = {}
        for day, group in sorted(_by_day(known).items()):
            outcome = weighed({row.label: row.start_kg for row in group}, now)
            odd.update(outcome.odd)
            if outcome.pieces > best.pieces:
                best, since = outcome, day
                woods = {row.species_id for row in group if row.label in now and row.label not in outcome.odd}
                steps = max((row.step_kg for row in group if row.step_kg is not None), default=None)
        own_step = reading.typed.get("step_kg")
        step = own_step if own_step is not None else steps
        reading.value, reading.pieces, reading.scatter = best.ratio, best.pieces, best.scatter
        reading.since = since
        reading.species_id = next(iter(woods)) if len(woods) == 1 else None
        reading.step_share = step_share(step, best.pieces, best.total_kg)
        found[reading.id] = Weighed(best.ratio, best.pieces, best.scatter, best.total_kg, odd)
    session.flush()
    return found


def _by_day(rows: Sequence[Witness]) -> dict[date, list[Witness]]:
    groups: dict[date, list[Witness]] = defaultdict(list)
    for row in rows:
        groups[row.marked_on].append(row)
    return groups
