"""Tables of who may come in: passwords, sign-ins, tries that failed, links for households.

No secret stands here: of a password its argon2id hash, of a sign-in and of a link the SHA-256 of what the
browser holds.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from rickyard.book.base import Base, one_of

TRY_KINDS = ("pair", "name", "address")


class Password(Base):
    """The argon2id hash of a person's password, with its own salt and costs. Who has none cannot sign in."""

    __tablename__ = "password"

    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    argon2: Mapped[str] = mapped_column(String(200))
    set_at: Mapped[datetime]


class SignIn(Base):
    """One browser in which a person is signed in, until it expires or is ended."""

    __tablename__ = "sign_in"

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    token_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    device: Mapped[str] = mapped_column(String(120))
    begun_at: Mapped[datetime]
    seen_at: Mapped[datetime]
    expires_at: Mapped[datetime]
    ended_at: Mapped[datetime | None]


class SignInTry(Base):
    """A sign-in that failed, or is being compared: under the name that was typed, the address it came from, and both.

    `of` is a hash: what people type by mistake where a name belongs may be their password.
    """

    __tablename__ = "sign_in_try"
    __table_args__ = (one_of("kind", TRY_KINDS), Index("ix_sign_in_try_of", "yard_id", "kind", "of", "at"))

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"))
    kind: Mapped[str] = mapped_column(String(8))
    of: Mapped[str] = mapped_column(String(64))
    at: Mapped[datetime]


class HouseholdLink(Base):
    """An address under which one household sees what it ordered and got, until the owner ends it."""

    __tablename__ = "household_link"

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    household_id: Mapped[int] = mapped_column(ForeignKey("household.id"), index=True)
    token_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    made_at: Mapped[datetime]
    seen_at: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
