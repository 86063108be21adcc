"""Who did what: the deeds as they were recorded, newest first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select

from rickyard.book.models import Deed, Person
from rickyard.desk.context import Desk

DEEDS_A_PAGE = 100


@dataclass(frozen=True)
class DeedLine:
    """One deed; `who` is empty when nobody was named. `answer` holds the numbers of what it made."""

    id: int
    kind: str
    who: str
    happened_at: datetime
    recorded_at: datetime
    answer: dict[str, Any]


def deeds_done(desk: Desk, *, before: int | None = None, person_id: int | None = None) -> list[DeedLine]:
    """At most a page of deeds, those older than `before` (a deed's id) and of one person if said."""
    with desk.book.read() as session:
        query = (
            select(Deed, Person.name)
            .outerjoin(Person, Person.id == Deed.person_id)
            .where(Deed.yard_id == desk.yard_id)
            .order_by(Deed.id.desc())
            .limit(DEEDS_A_PAGE)
        )
        if before is not None:
            query = query.where(Deed.id < before)
        if person_id is not None:
            query = query.where(Deed.person_id == person_id)
        return [
            DeedLine(deed.id, deed.kind, name or "", deed.happened_at, deed.recorded_at, deed.answer)
            for deed, name in session.execute(query)
        ]
