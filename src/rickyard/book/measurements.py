"""Tables of what is measured besides single readings: marked pieces, their weights, what readings taught."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from rickyard.book.base import Base
from rickyard.book.base import check as _check

if TYPE_CHECKING:
    from rickyard.book.models import Stack


class Witness(Base):
    """A marked piece of a stack: what is written on its end grain, and its mass when it was marked.

    `implied`: a weighing named it and nobody had marked it; it counts from that day, unless a marking turns up.
    """

    __tablename__ = "witness"
    __table_args__ = (
        UniqueConstraint("stack_id", "label", "marked_on", "implied"),
        _check("start_positive", "start_kg > 0"),
        _check("step_not_negative", "step_kg >= 0"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    stack_id: Mapped[int] = mapped_column(ForeignKey("stack.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    label: Mapped[str] = mapped_column(String(12))
    species_id: Mapped[str | None] = mapped_column(String(60))
    start_kg: Mapped[float]
    marked_on: Mapped[date]
    step_kg: Mapped[float | None]
    implied: Mapped[bool] = mapped_column(default=False)


class WitnessWeight(Base):
    """The mass of one marked piece at a weighing, as read off the scale; none: it was not found."""

    __tablename__ = "witness_weight"
    __table_args__ = (UniqueConstraint("reading_id", "label"), _check("mass_positive", "mass_kg > 0"))

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    reading_id: Mapped[int] = mapped_column(ForeignKey("reading.id"), index=True)
    label: Mapped[str] = mapped_column(String(12))
    mass_kg: Mapped[float | None]


class StackLesson(Base):
    """What a stack's readings told of one wood in it; all of a yard's together are what it has learnt.

    `pace`, `exposure`: logarithms of factors; the precisions say how firmly. It outlives the stack. A forgotten one
    teaches no more; when the stack's readings change it is reckoned anew.
    """

    __tablename__ = "stack_lesson"
    __table_args__ = (UniqueConstraint("stack_id", "species_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    stack_id: Mapped[int] = mapped_column(ForeignKey("stack.id"), index=True)
    species_id: Mapped[str] = mapped_column(String(60))
    thickness_class: Mapped[str] = mapped_column(String(8))
    row_label: Mapped[str] = mapped_column(String(40), default="")
    pace: Mapped[float]
    exposure: Mapped[float]
    pace_precision: Mapped[float]
    cross_precision: Mapped[float]
    exposure_precision: Mapped[float]
    fingerprint: Mapped[str] = mapped_column(String(64))
    learnt_at: Mapped[datetime]
    forgotten_deed_id: Mapped[int | None] = mapped_column(ForeignKey("deed.id"))

    stack: Mapped[Stack] = relationship()
