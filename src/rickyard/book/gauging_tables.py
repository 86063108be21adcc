"""Tables of measuring: other measures of a load, the one the book follows, marks on a photo of a stack."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from rickyard.book.base import Base, check, one_of

if TYPE_CHECKING:
    from rickyard.book.models import Deed

LOAD_MEASURE_KINDS = ("truck", "weight", "logs")


class LoadMeasure(Base):
    """A load measured another way than it was taken in: solid wood without bark, 10th percentile to 90th.

    `told` are the figures as they were told, in SI; the journal does not move by a measure.
    """

    __tablename__ = "load_measure"
    __table_args__ = (
        one_of("kind", LOAD_MEASURE_KINDS),
        check("spread_rises", "low_m3 > 0 AND low_m3 <= mid_m3 AND mid_m3 <= high_m3"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    load_id: Mapped[int] = mapped_column(ForeignKey("load.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    set_aside_deed_id: Mapped[int | None] = mapped_column(ForeignKey("deed.id"))
    kind: Mapped[str] = mapped_column(String(8))
    low_m3: Mapped[float]
    mid_m3: Mapped[float]
    high_m3: Mapped[float]
    told: Mapped[dict[str, Any]]
    note: Mapped[str] = mapped_column(String(300), default="")

    deed: Mapped[Deed] = relationship(foreign_keys=[deed_id])


class LoadFollowing(Base):
    """That the journal was made to follow the measures of a load; the newest counts.

    `mid_m3` is the solid wood that the whole load counts as since then; what moved stands in the journal.
    """

    __tablename__ = "load_following"
    __table_args__ = (check("spread_rises", "low_m3 > 0 AND low_m3 <= mid_m3 AND mid_m3 <= high_m3"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    load_id: Mapped[int] = mapped_column(ForeignKey("load.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    low_m3: Mapped[float]
    mid_m3: Mapped[float]
    high_m3: Mapped[float]
    reason: Mapped[str] = mapped_column(String(200))

    deed: Mapped[Deed] = relationship()


class PhotoGauging(Base):
    """The marks on a photo that a stack's measure was made from, in pixels of the photo as it is kept.

    The photo may be taken out of the book; marks and measure stay.
    """

    __tablename__ = "photo_gauging"
    __table_args__ = (
        UniqueConstraint("measure_id"),
        check("board_positive", "board_width_m > 0 AND board_height_m > 0"),
        check("area_positive", "low_m2 > 0 AND low_m2 <= area_m2 AND area_m2 <= high_m2"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    measure_id: Mapped[int] = mapped_column(ForeignKey("stack_measure.id"))
    photo_id: Mapped[int | None] = mapped_column(ForeignKey("photo.id", ondelete="SET NULL"), index=True)
    board_width_m: Mapped[float]
    board_height_m: Mapped[float]
    corners_px: Mapped[list[Any]]
    outline_px: Mapped[list[Any]]
    area_m2: Mapped[float]
    low_m2: Mapped[float]
    high_m2: Mapped[float]
