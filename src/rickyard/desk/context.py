"""The desk: one yard's book, a clock, and the one way in which every deed is done."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from rickyard.book import Book, do_once
from rickyard.book.models import Deed, Yard
from rickyard.errors import BookError, InputError
from rickyard.text import T_


def _utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True)
class Desk:
    """A yard's desk. `clock` gives the present moment (UTC); tests and the demo set their own."""

    book: Book
    yard_id: int
    clock: Callable[[], datetime] = _utc_now

    def now(self) -> datetime:
        return self.clock()

    def today(self) -> date:
        """The calendar day in the yard's own time zone."""
        with self.book.read() as session:
            return local_day(self.yard(session), self.now())

    def yard(self, session: Session) -> Yard:
        yard = session.get(Yard, self.yard_id)
        if yard is None:
            raise BookError(T_("The book has no yard {number}.", number=self.yard_id), code="no_yard")
        return yard


def local_day(yard: Yard, moment: datetime) -> date:
    return moment.astimezone(ZoneInfo(yard.timezone)).date()


def noon_utc(yard: Yard, day: date) -> datetime:
    """Noon of a day in the yard: the moment given to what was reported by its day only."""
    return datetime.combine(day, time(12), ZoneInfo(yard.timezone)).astimezone(UTC)


def new_key() -> str:
    """A fresh client key for a form or a command."""
    return uuid.uuid4().hex


@dataclass(frozen=True, kw_only=True)
class Command:
    """What every deed carries: the client's key, and when it happened (now, if not said)."""

    key: str
    happened_at: datetime | None = None


@dataclass(frozen=True)
class Stage:
    """What a deed works with while it is being done, inside one transaction."""

    session: Session
    yard: Yard
    deed: Deed
    happened_at: datetime
    recorded_at: datetime

    @property
    def happened_on(self) -> date:
        return local_day(self.yard, self.happened_at)


Answer = dict[str, Any]


def do(desk: Desk, kind: str, command: Command, run: Callable[[Stage], Answer]) -> Answer:
    """Does a deed once: the same key again gives the first answer and does nothing.

    Raises
    ------
    InputError
        If the key is too short or long, or the moment is naive or lies in the future.
    ClashError
        If the key was used for something else.
    """
    if not 8 <= len(command.key) <= 64:
        raise InputError(
            "key",
            wanted=T_("a key of 8 to 64 characters"),
            got=command.key,
            next_move=T_("Load the form again."),
        )
    recorded_at = desk.now()
    happened_at = command.happened_at or recorded_at
    if happened_at.tzinfo is None:
        raise InputError(
            "happened_at",
            wanted=T_("a moment with its time zone"),
            got=happened_at.isoformat(),
            next_move=T_("Send the moment with its offset from UTC."),
        )
    if happened_at > recorded_at:
        raise InputError(
            "happened_at",
            wanted=T_("a moment that has passed"),
            got=happened_at.isoformat(),
            next_move=T_("Check the date and the clock of the phone."),
        )
    with desk.book.write(desk.yard_id) as session:
        yard = desk.yard(session)
        return do_once(
            session,
            desk.yard_id,
            client_key=command.key,
            kind=kind,
            body=body_of(command),
            happened_at=happened_at,
            recorded_at=recorded_at,
            run=lambda deed: run(Stage(session, yard, deed, happened_at, recorded_at)),
        )


def body_of(command: Command) -> dict[str, Any]:
    """The command without its key, as JSON would carry it; two bodies are the same deed if these are equal."""
    body = asdict(command)
    body.pop("key")
    return {name: _plain(value) for name, value in body.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, dict):
        return {str(name): _plain(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return value


def field_names(command: type[Command]) -> tuple[str, ...]:
    return tuple(item.name for item in fields(command))
