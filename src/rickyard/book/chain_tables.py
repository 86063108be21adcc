"""The tables of the two chains: over the journal, and over deeds, papers and measures."""

from __future__ import annotations

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from rickyard.book.base import Base, check


class EntryLink(Base):
    """The seal of one entry: `hash` is made from the entry, its postings and the hash of the entry before it.

    The reason is free text and may name somebody, so it is in the chain by a salted hash of its own only: with text
    and salt taken out (by a deed `forget_reason`), the chain still holds and says nothing of the person.
    """

    __tablename__ = "entry_link"
    __table_args__ = (
        UniqueConstraint("yard_id", "number"),
        UniqueConstraint("yard_id", "previous", name="uq_entry_link_previous"),
        check("number_from_one", "number >= 1"),
        check("hash_whole", "length(hash) = 64"),
        check("reason_with_salt", "reason_hash <> '' OR reason_salt = ''"),
    )

    entry_id: Mapped[int] = mapped_column(ForeignKey("entry.id"), primary_key=True, autoincrement=False)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    number: Mapped[int]
    previous: Mapped[str] = mapped_column(String(64), default="")
    hash: Mapped[str] = mapped_column(String(64))
    reason_salt: Mapped[str] = mapped_column(String(32), default="")
    reason_hash: Mapped[str] = mapped_column(String(64), default="")


class RowLink(Base):
    """What one writing changed in the sealed tables (`seals.SEALED`): `hash` is made from the seals of those rows and
    the hash of the yard's link before it."""

    __tablename__ = "row_link"
    __table_args__ = (
        UniqueConstraint("yard_id", "number"),
        UniqueConstraint("yard_id", "previous", name="uq_row_link_previous"),
        check("number_from_one", "number >= 1"),
        check("hash_whole", "length(hash) = 64"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    number: Mapped[int]
    previous: Mapped[str] = mapped_column(String(64), default="")
    hash: Mapped[str] = mapped_column(String(64))


class RowSeal(Base):
    """A row as it was when a link was written. A row that was changed again has a later seal, which counts.

    Its free text, which may name somebody, is in `hash` by a salted hash of its own only: without the salt nobody
    can guess from it what was written, and the chain still holds.
    """

    __tablename__ = "row_seal"
    __table_args__ = (
        Index("ix_row_seal_link", "link_id"),
        check("hash_whole", "length(hash) = 64"),
        check("salt_with_words", "words_hash <> '' OR salt = ''"),
    )

    table_name: Mapped[str] = mapped_column(String(24), primary_key=True)
    row_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    link_id: Mapped[int] = mapped_column(ForeignKey("row_link.id"), primary_key=True, autoincrement=False)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"))
    hash: Mapped[str] = mapped_column(String(64))
    salt: Mapped[str] = mapped_column(String(32), default="")
    words_hash: Mapped[str] = mapped_column(String(64), default="")
