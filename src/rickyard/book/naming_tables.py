"""Tables of trees named: what was seen, what it came to, and what the tree turned out to be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from rickyard.book.base import Base, check, one_of

if TYPE_CHECKING:
    from rickyard.book.models import Deed

NAMING_LEVELS = ("species", "group", "undecided")
CONFIRMED_HOW = ("leaf", "wood", "expert", "known")


class Naming(Base):
    """What somebody saw of a tree and what the key said to it. Who and when stand in its deed.

    `answers` are {character, states, doubt}; `counts` and `exponent` are the prior and the calibration it was
    reckoned with, as the phone had them; `tables` is the hash of the key's tables.
    `said`: the species (its id) or group that was named, or nothing. `leader` is the likeliest species (short id)
    and `leader_odds` its probability, whatever was named.
    `booked_was`, `booked_as`: what the wood was and became in the book, of these `logs` or of so much solid wood.
    """

    __tablename__ = "naming"
    __table_args__ = (
        one_of("level", NAMING_LEVELS),
        check("odds_are_share", "odds >= 0 AND odds <= 1 AND leader_odds >= 0 AND leader_odds <= 1"),
        check("exponent_positive", "exponent > 0"),
        check("volume_not_negative", "volume_m3 >= 0"),
        check("booked_in_a_load", "booked_as IS NULL OR load_id IS NOT NULL"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"), index=True)
    load_id: Mapped[int | None] = mapped_column(ForeignKey("load.id"), index=True)
    logs: Mapped[list[Any]]
    situations: Mapped[list[Any]]
    answers: Mapped[list[Any]]
    not_seen: Mapped[list[Any]]
    region: Mapped[str] = mapped_column(String(4), default="")
    street: Mapped[bool] = mapped_column(default=False)
    counts: Mapped[dict[str, Any]]
    exponent: Mapped[float]
    tables: Mapped[str] = mapped_column(String(12))
    level: Mapped[str] = mapped_column(String(10))
    said: Mapped[str] = mapped_column(String(60), default="")
    odds: Mapped[float]
    leader: Mapped[str] = mapped_column(String(8))
    leader_odds: Mapped[float]
    booked_was: Mapped[str | None] = mapped_column(String(60))
    booked_as: Mapped[str | None] = mapped_column(String(60))
    volume_m3: Mapped[float | None]
    note: Mapped[str] = mapped_column(String(300), default="")

    deed: Mapped[Deed] = relationship()
    truths: Mapped[list[NamingTruth]] = relationship(back_populates="naming", order_by="NamingTruth.id")


class NamingTruth(Base):
    """What a named tree turned out to be (short id of the key; none: a tree that the key does not have).

    The last one counts; those before it stay, as what was believed then.
    """

    __tablename__ = "naming_truth"
    __table_args__ = (one_of("how", CONFIRMED_HOW),)

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    naming_id: Mapped[int] = mapped_column(ForeignKey("naming.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    key_id: Mapped[str | None] = mapped_column(String(8))
    how: Mapped[str] = mapped_column(String(8))
    by_whom: Mapped[str] = mapped_column(String(120), default="")
    note: Mapped[str] = mapped_column(String(300), default="")

    naming: Mapped[Naming] = relationship(back_populates="truths")
    deed: Mapped[Deed] = relationship()
