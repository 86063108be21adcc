"""The desk: one yard's book, a clock, and the one way in which every deed is done."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book import Book, do_once
from rickyard.book.models import Deed, Person, Yard
from rickyard.errors import BookError, InputError
from rickyard.text import T_

# A phone's clock that is off by no more than this is right: sending takes time too.
CLOCK_TOLERANCE = timedelta(minutes=2)
# A moment before this comes from a clock that was never set; nobody's firewood is reported from then.
FIRST_MOMENT = datetime(1990, 1, 1, tzinfo=UTC)
# What says who sent a command and when, not what was done: sent again, it is the same deed. When it happened is
# compared apart (`do_once`): a form that is sent at once does not say it, the same one from the outbox does.
NOT_THE_DEED = ("key", "happened_at", "sent_at", "person_id")


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
    """What every deed carries: the client's key, when it happened (now, if not said), and who did it.

    `sent_at` is said by a phone that may send late: its own clock when it sent. The difference to our clock is
    what the phone's clock is wrong by, and `happened_at`, from the same clock, is put right by it.
    """

    key: str
    happened_at: datetime | None = None
    sent_at: datetime | None = None
    person_id: int | None = None


@dataclass(frozen=True)
class Stage:
    """What a deed works with while it is being done, inside one transaction."""

    session: Session
    yard: Yard
    deed: Deed
    happened_at: datetime
    recorded_at: datetime
    # The day that the phone's clock showed, if the phone said when it sent; it may be wrong.
    phone_day: date | None = None
    # What the phone's clock was put right by; zero if it was right or not said.
    shift: timedelta = timedelta(0)

    @property
    def happened_on(self) -> date:
        return local_day(self.yard, self.happened_at)

    @property
    def last_day(self) -> date:
        """The last day that a deed may speak of: when it happened.

        For a report from a phone, today: its clock may have been put right between the typing and the sending.
        """
        return self.happened_on if self.phone_day is None else local_day(self.yard, self.recorded_at)

    def day_said(self, day: date) -> date:
        """The day that a report means by a day typed on a phone.

        Where the clock was wrong, the day it showed meant the day on which it was typed. And a report is not
        refused because the phone's day began before the yard's.
        """
        if self.phone_day is None:
            return day
        if day == self.phone_day:
            return self.happened_on
        if day - self.last_day == timedelta(days=1):
            return self.last_day
        return day


Answer = dict[str, Any]


def do(desk: Desk, kind: str, command: Command, run: Callable[[Stage], Answer]) -> Answer:
    """Does a deed once: the same key again gives the first answer and does nothing.

    Raises
    ------
    InputError
        If the key is too short or long, the person unknown, or the moment is naive or (without `sent_at`) to come.
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
    happened_at, shift = _moment(command, recorded_at)
    with desk.book.write(desk.yard_id) as session:
        yard = desk.yard(session)
        if command.person_id is not None:
            _known_person(session, yard, command.person_id)
        said = command.happened_at if command.sent_at is not None else None
        phone_day = None if said is None else _day_shown(yard, said)
        return do_once(
            session,
            desk.yard_id,
            client_key=command.key,
            kind=kind,
            body=body_of(command),
            happened_at=happened_at,
            recorded_at=recorded_at,
            run=lambda deed: run(Stage(session, yard, deed, happened_at, recorded_at, phone_day, shift)),
            person_id=command.person_id,
            told_at=_as_told(command.happened_at),
        )


def was_done(desk: Desk, key: str) -> bool:
    """Whether a deed was done under this key; sent again, it gives its first answer and is asked nothing."""
    with desk.book.read() as session:
        query = select(Deed.id).where(Deed.yard_id == desk.yard_id, Deed.client_key == key)
        return session.scalar(query) is not None


def _as_told(moment: datetime | None) -> datetime | None:
    """The client's own moment in UTC, not put right; None at the ends of the calendar, where no zone reaches."""
    try:
        return None if moment is None else moment.astimezone(UTC)
    except OverflowError:
        return None


def _moment(command: Command, recorded_at: datetime) -> tuple[datetime, timedelta]:
    """When it happened by our own clock, and what the phone's was put right by.

    What a phone sends with its own `sent_at` is a report of the past, however wrong its clock: it is never refused
    for its moment, which lies at the latest now. Without `sent_at` a moment to come is a slip.
    """
    for field, moment in (("happened_at", command.happened_at), ("sent_at", command.sent_at)):
        if moment is not None and moment.tzinfo is None:
            raise InputError(
                field,
                wanted=T_("a moment with its time zone"),
                got=moment.isoformat(),
                next_move=T_("Send the moment with its offset from UTC."),
            )
    happened_at = recorded_at if command.happened_at is None else command.happened_at
    if command.sent_at is None:
        if happened_at > recorded_at or happened_at < FIRST_MOMENT:
            raise InputError(
                "happened_at",
                wanted=T_("a moment that has passed"),
                got=happened_at.isoformat(),
                next_move=T_("Check the date and the clock of the phone."),
            )
        return happened_at.astimezone(UTC), timedelta(0)
    shift = recorded_at - command.sent_at
    if command.happened_at is None or abs(shift) <= CLOCK_TOLERANCE:
        shift = timedelta(0)
    try:
        happened_at += shift
    except OverflowError:
        # No year 10000: the clock was never set, and all that is known is that it has happened.
        return recorded_at, shift
    if not FIRST_MOMENT <= happened_at <= recorded_at:
        return recorded_at, shift
    return happened_at.astimezone(UTC), shift


def _day_shown(yard: Yard, moment: datetime) -> date | None:
    """The day of a phone's own moment in the yard; None at the ends of the calendar, where no zone reaches."""
    try:
        return local_day(yard, moment)
    except OverflowError:
        return None


def _known_person(session: Session, yard: Yard, person_id: int) -> None:
    person = session.get(Person, person_id)
    if person is None or person.yard_id != yard.id:
        raise InputError(
            "who",
            wanted=T_("a person of this yard"),
            got=person_id,
            next_move=T_("Say again who is using this phone."),
            code="unknown_person",
        )


def body_of(command: Command) -> dict[str, Any]:
    """What a command asks for, as JSON would carry it; two commands are the same deed if these are equal.

    Who sent it and when is left out (`NOT_THE_DEED`): a phone sends the same thing again with another `sent_at`.
    When it happened is compared beside it, where both say it.
    """
    body = asdict(command)
    return {name: _plain(value) for name, value in body.items() if name not in NOT_THE_DEED}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    if isinstance(value, dict):
        return {str(name): _plain(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return value


def field_names(command: type[Command]) -> tuple[str, ...]:
    return tuple(item.name for item in fields(command))
