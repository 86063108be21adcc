"""The table of what was entered wrongly and taken back."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from rickyard.book.base import Base, check

if TYPE_CHECKING:
    from rickyard.book.models import Payment, Ticket

UNDONE = ("ticket_id", "payment_id", "load_id", "stack_id", "measure_id")


class Undoing(Base):
    """That a ticket, a payment, a load, a stack or a measure was entered wrongly and taken back: one of them.

    The row that was wrong stays as it was, and keeps its number; wood that it moved is reversed in the journal by the
    same deed.
    """

    __tablename__ = "undoing"
    __table_args__ = (
        check(
            "of_one", " + ".join(f"CASE WHEN {name} IS NULL THEN 0 ELSE 1 END" for name in UNDONE) + " = 1"
        ),
        check("reason_given", "reason <> ''"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"), index=True)
    undone_at: Mapped[datetime]
    reason: Mapped[str] = mapped_column(String(200))
    ticket_id: Mapped[int | None] = mapped_column(ForeignKey("ticket.id"), unique=True)
    payment_id: Mapped[int | None] = mapped_column(ForeignKey("payment.id"), unique=True)
    load_id: Mapped[int | None] = mapped_column(ForeignKey("load.id"), unique=True)
    stack_id: Mapped[int | None] = mapped_column(ForeignKey("stack.id"), unique=True)
    measure_id: Mapped[int | None] = mapped_column(ForeignKey("stack_measure.id"), unique=True)

    ticket: Mapped[Ticket | None] = relationship(back_populates="undoing")
    payment: Mapped[Payment | None] = relationship(back_populates="undoing")
