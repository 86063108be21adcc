"""The yard's fixed spots in the journal: outside, loss, the gate, own use."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Spot


def yard_spot(session: Session, yard_id: int, kind: str) -> int:
    """Id of the one spot of this kind ('outside', 'loss', 'gate', 'own_use')."""
    return session.scalars(select(Spot.id).where(Spot.yard_id == yard_id, Spot.kind == kind)).one()
