"""Who may come in: passwords, sign-ins in browsers, and how many wrong ones are borne.

A book is *open* until an owner has a password: then it is served on this computer alone and asks nobody.
From the first owner's password on it is *locked*: every page asks who comes.

Secrets never enter a deed's body, the journal or a log; of a sign-in only the hash is kept.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from rickyard.book.models import Password, Person, SignIn, SignInTry
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.hashing import NOBODY, hash_of, matches, place
from rickyard.errors import InputError, RefusedError
from rickyard.text import T_

# NIST SP 800-63B asks for at least 8 characters and no rules about their kinds; two more, as one password may
# open the whole book.
LEAST_CHARACTERS, MOST_CHARACTERS = 10, 200
# A phone in the yard is used daily or weekly; a month unused means it is lost or given away.
LASTS = timedelta(days=30)
SEEN_EVERY = timedelta(hours=1)
# Sign-ins borne in WITHIN that are wrong or not yet compared; common practice, no source. The narrow one is for one
# name from one address, so that nobody can keep the owner out from another.
WITHIN = timedelta(minutes=15)
MOST_WRONG = {"pair": 5, "address": 20, "name": 50}
ROLES = ("owner", "helper", "driver", "bookkeeper")


@dataclass(frozen=True)
class Comer:
    """A person who is signed in."""

    person_id: int
    name: str
    role: str
    sign_in_id: int


@dataclass(frozen=True)
class PersonRow:
    """A person as the owner sees them."""

    id: int
    name: str
    role: str
    has_password: bool
    sign_ins: tuple[SignInRow, ...]


@dataclass(frozen=True)
class SignInRow:
    id: int
    device: str
    begun_at: datetime
    seen_at: datetime


@dataclass(frozen=True, kw_only=True)
class SetPassword(Command):
    """A first or another password for somebody. All their sign-ins end. The password itself is no part of it."""

    who_id: int


@dataclass(frozen=True, kw_only=True)
class SetRole(Command):
    """What somebody may do: owner, helper, driver or bookkeeper."""

    who_id: int
    role: str


@dataclass(frozen=True, kw_only=True)
class LockOut(Command):
    """Somebody may not come in any more: their password goes and their sign-ins end. What they did stays theirs."""

    who_id: int


@dataclass(frozen=True, kw_only=True)
class EndSignIn(Command):
    """One browser is signed out: a lost phone."""

    sign_in_id: int


def is_locked(desk: Desk) -> bool:
    """Whether somebody must sign in: an owner has a password."""
    with desk.book.read() as session:
        return _is_locked(session, desk.yard_id)


def set_password(desk: Desk, command: SetPassword, password: str) -> Answer:
    """Answer: person_id, sign_ins_ended. InputError if the password is too short, too long, or the person's name."""
    checked = _checked(password)
    # Before the deed: no writer waits while a password is hashed.
    argon2 = hash_of(checked)

    def run(stage: Stage) -> Answer:
        person = find_person(stage, command.who_id)
        if checked.casefold() == person.name.casefold():
            raise InputError(
                "password",
                wanted=T_("something else than the name"),
                got=T_("the name"),
                next_move=T_("A few words in a row that nobody guesses are good and easy to type."),
            )
        if not _is_locked(stage.session, stage.yard.id) and person.role != "owner":
            raise RefusedError(
                T_(
                    "The first password is an owner's: without one nobody could let others in. "
                    "Make {name} an owner, or give an owner a password first.",
                    name=person.name,
                ),
                code="no_owner_password",
                field="password",
            )
        kept = stage.session.get(Password, person.id)
        if kept is None:
            kept = Password(person_id=person.id, yard_id=stage.yard.id)
            stage.session.add(kept)
        kept.argon2, kept.set_at = argon2, stage.recorded_at
        return {"person_id": person.id, "sign_ins_ended": _end_all(stage, person.id)}

    return do(desk, "set_password", command, run)


def set_role(desk: Desk, command: SetRole) -> Answer:
    """Answer: person_id, role. Refused if no owner with a password would be left."""
    if command.role not in ROLES:
        raise InputError(
            "role",
            wanted=T_("owner, helper, driver or bookkeeper"),
            got=command.role,
            next_move=T_("Choose one of them."),
        )

    def run(stage: Stage) -> Answer:
        person = find_person(stage, command.who_id)
        if command.role != "owner":
            _owner_left(stage, but=person.id)
        person.role = command.role
        return {"person_id": person.id, "role": person.role}

    return do(desk, "set_role", command, run)


def lock_out(desk: Desk, command: LockOut) -> Answer:
    """Answer: person_id, sign_ins_ended. Refused if no owner with a password would be left."""

    def run(stage: Stage) -> Answer:
        person = find_person(stage, command.who_id)
        _owner_left(stage, but=person.id)
        stage.session.execute(delete(Password).where(Password.person_id == person.id))
        return {"person_id": person.id, "sign_ins_ended": _end_all(stage, person.id)}

    return do(desk, "lock_out", command, run)


def end_sign_in(desk: Desk, command: EndSignIn) -> Answer:
    """Answer: sign_in_id."""

    def run(stage: Stage) -> Answer:
        row = stage.session.get(SignIn, command.sign_in_id)
        if row is None or row.yard_id != stage.yard.id:
            raise InputError(
                "sign_in",
                wanted=T_("a sign-in of this yard"),
                got=command.sign_in_id,
                next_move=T_("Choose one from the list."),
                code="unknown_sign_in",
            )
        row.ended_at = row.ended_at or stage.recorded_at
        return {"sign_in_id": row.id}

    return do(desk, "end_sign_in", command, run)


def sign_in(desk: Desk, name: str, password: str, *, address: str, device: str) -> str:
    """Signs a person in and gives the secret that their browser keeps.

    A try is in the book before its password is compared, by the transaction that counts: of any number that come at
    the same moment only so many are compared as are borne one after the other. The right one is taken out again.

    Raises
    ------
    RefusedError
        `too_many_tries` after too many wrong ones of late; `wrong_sign_in` if name and password do not belong
        together, without saying which is wrong; `busy_sign_in` if too many are compared just now.
    """
    now = desk.now()
    keys = _keys(name, address)
    with desk.book.read() as session:
        # A flood of tries that are refused anyway must not keep those waiting who write.
        _not_too_many(session, desk.yard_id, keys, now)
    with place():
        found = _counted(desk, name, keys, now)
        argon2 = found.argon2 if found is not None else NOBODY
        # Outside any transaction: it takes a tenth of a second by design.
        right = len(password) <= MOST_CHARACTERS and matches(argon2, password)
    if not right or found is None:
        raise _wrong()
    token = secrets.token_urlsafe(32)
    with desk.book.write(desk.yard_id) as session:
        kept = session.get(Password, found.person_id)
        if kept is None or kept.argon2 != found.argon2:
            # Another password was set, or they were kept out, while this one was compared.
            raise _wrong()
        session.add(
            SignIn(
                yard_id=desk.yard_id,
                person_id=found.person_id,
                token_sha256=hashed(token),
                device=device[:120],
                begun_at=now,
                seen_at=now,
                expires_at=now + LASTS,
            )
        )
        session.execute(
            delete(SignInTry).where(
                SignInTry.id.in_(found.tries) | ((SignInTry.kind == "pair") & (SignInTry.of == keys["pair"]))
            )
        )
    return token


@dataclass(frozen=True)
class _Found:
    """Who has the name that was typed, and the rows that this try was counted with."""

    person_id: int
    argon2: str
    tries: tuple[int, ...]


def _counted(desk: Desk, name: str, keys: dict[str, str], now: datetime) -> _Found | None:
    """Counts one more try, or refuses it; who has the name, if anybody."""
    with desk.book.write(desk.yard_id) as session:
        _not_too_many(session, desk.yard_id, keys, now)
        session.execute(delete(SignInTry).where(SignInTry.at < now - WITHIN))
        tries = [SignInTry(yard_id=desk.yard_id, kind=kind, of=of, at=now) for kind, of in keys.items()]
        session.add_all(tries)
        session.flush()
        rows = session.execute(
            select(Person.id, Person.name, Password.argon2)
            .join(Password, Password.person_id == Person.id)
            .where(Person.yard_id == desk.yard_id)
        )
        # Compared here: the databases do not agree on what a capital É is.
        row = next((row for row in rows if row.name.casefold() == name.strip().casefold()), None)
        return None if row is None else _Found(row.id, row.argon2, tuple(one.id for one in tries))


def signed_in(desk: Desk, token: str) -> Comer | None:
    """Whose browser holds this secret; None for nobody's. Being seen makes it last another month."""
    if not token:
        return None
    now = desk.now()
    with desk.book.read() as session:
        found = session.execute(
            select(SignIn, Person)
            .join(Person, Person.id == SignIn.person_id)
            .where(
                SignIn.token_sha256 == hashed(token),
                SignIn.yard_id == desk.yard_id,
                SignIn.ended_at.is_(None),
                SignIn.expires_at > now,
            )
        ).one_or_none()
        if found is None:
            return None
        row, person = found
        comer = Comer(person.id, person.name, person.role, row.id)
        stale = now - row.seen_at > SEEN_EVERY
    if stale:
        with desk.book.write(desk.yard_id) as session:
            session.execute(
                update(SignIn)
                .where(SignIn.id == comer.sign_in_id)
                .values(seen_at=now, expires_at=now + LASTS)
            )
    return comer


def sign_out(desk: Desk, token: str) -> None:
    """Ends the sign-in of this browser, if it is one."""
    with desk.book.write(desk.yard_id) as session:
        session.execute(
            update(SignIn)
            .where(SignIn.token_sha256 == hashed(token), SignIn.ended_at.is_(None))
            .values(ended_at=desk.now())
        )


def people_rows(desk: Desk) -> list[PersonRow]:
    """Everybody with role, password and the browsers they are signed in with, by name."""
    now = desk.now()
    with desk.book.read() as session:
        with_password = set(
            session.scalars(select(Password.person_id).where(Password.yard_id == desk.yard_id))
        )
        sign_ins: dict[int, list[SignInRow]] = {}
        for row in session.scalars(
            select(SignIn)
            .where(SignIn.yard_id == desk.yard_id, SignIn.ended_at.is_(None), SignIn.expires_at > now)
            .order_by(SignIn.seen_at.desc())
        ):
            sign_ins.setdefault(row.person_id, []).append(
                SignInRow(row.id, row.device, row.begun_at, row.seen_at)
            )
        rows = [
            PersonRow(
                person.id,
                person.name,
                person.role,
                person.id in with_password,
                tuple(sign_ins.get(person.id, ())),
            )
            for person in session.scalars(select(Person).where(Person.yard_id == desk.yard_id))
            if person.name
        ]
    return sorted(rows, key=lambda row: row.name.casefold())


def hashed(token: str) -> str:
    """What the book keeps of a secret that has 192 or more random bits: nothing slower is needed for those."""
    return hashlib.sha256(token.encode()).hexdigest()


def _is_locked(session: Session, yard_id: int, *, but: int = 0) -> bool:
    owners = (
        select(Person.id)
        .join(Password, Password.person_id == Person.id)
        .where(Person.yard_id == yard_id, Person.role == "owner", Person.id != but)
    )
    return session.execute(owners.limit(1)).first() is not None


def _owner_left(stage: Stage, *, but: int) -> None:
    """A book that is locked keeps an owner who can open it."""
    if _is_locked(stage.session, stage.yard.id) and not _is_locked(stage.session, stage.yard.id, but=but):
        raise RefusedError(
            T_("This is the only owner with a password. Give another owner one first."), code="last_owner"
        )


def find_person(stage: Stage, person_id: int) -> Person:
    row = stage.session.get(Person, person_id)
    if row is None or row.yard_id != stage.yard.id:
        raise InputError(
            "person",
            wanted=T_("a person of this yard"),
            got=person_id,
            next_move=T_("Choose one from the list."),
            code="unknown_person",
        )
    return row


def _end_all(stage: Stage, person_id: int) -> int:
    standing = select(SignIn).where(SignIn.person_id == person_id, SignIn.ended_at.is_(None))
    rows = list(stage.session.scalars(standing))
    for row in rows:
        row.ended_at = stage.recorded_at
    return len(rows)


def _checked(password: str) -> str:
    if not LEAST_CHARACTERS <= len(password) <= MOST_CHARACTERS:
        raise InputError(
            "password",
            wanted=T_("{least} to {most} characters", least=LEAST_CHARACTERS, most=MOST_CHARACTERS),
            got=T_("{count} characters", count=len(password)),
            next_move=T_("A few words in a row that nobody guesses are good and easy to type."),
        )
    return password


def _wrong() -> RefusedError:
    return RefusedError(
        T_("Name and password do not belong together. Check both, and whether capitals are on."),
        code="wrong_sign_in",
        field="password",
    )


def _keys(name: str, address: str) -> dict[str, str]:
    plain = name.strip().casefold()
    return {"pair": hashed(f"{plain}\n{address}"), "name": hashed(plain), "address": hashed(address)}


def _not_too_many(session: Session, yard_id: int, keys: dict[str, str], now: datetime) -> None:
    for kind, most in MOST_WRONG.items():
        tries = select(SignInTry.at).where(
            SignInTry.yard_id == yard_id,
            SignInTry.kind == kind,
            SignInTry.of == keys[kind],
            SignInTry.at > now - WITHIN,
        )
        times = sorted(session.scalars(tries))
        if len(times) >= most:
            minutes = max(1, -int((now - times[-most] - WITHIN).total_seconds() // 60))
            raise RefusedError(
                T_(
                    "Too many wrong sign-ins. Wait {minutes} minutes, then try again. "
                    "An owner can set another password.",
                    minutes=minutes,
                ),
                code="too_many_tries",
                field="password",
            )
