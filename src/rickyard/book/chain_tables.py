"""The table of the chain over the journal."""

from __future__ import annotations

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from rickyard.book.base import Base, check


class EntryLink(Base):
    """The seal of one entry: `hash` is made from the entry, its postings and the hash of the entry before it.

    The reason is free text and may name somebody, so it is in the chain by a salted hash of its own only: with text
    and salt taken out, the chain still holds and says nothing of the person.
    """

    __tablename__ = "entry_link"
    __table_args__ = (
        UniqueConstraint("yard_id", "number"),
        UniqueConstraint("yard_id", "previous", name="uq_entry_link_previous"),
        check("number_from_one", "number >= 1"),
        check("hash_whole", "length(hash) = 64"),
        check("reason_with_salt", "(reason_hash = '') = (reason_salt = '')"),
    )

    entry_id: Mapped[int] = mapped_column(ForeignKey("entry.id"), primary_key=True, autoincrement=False)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    number: Mapped[int]
    previous: Mapped[str] = mapped_column(String(64), default="")
    hash: Mapped[str] = mapped_column(String(64))
    reason_salt: Mapped[str] = mapped_column(String(32), default="")
    reason_hash: Mapped[str] = mapped_column(String(64), default="")
