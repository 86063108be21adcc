"""`rickyard people ...`: who works in the yard, what they may do, and their passwords."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rickyard.cli.books import BookOption, DatabaseOption, book_target
from rickyard.cli.output import Json, give
from rickyard.errors import InputError
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.desk.context import Desk

Name = Annotated[str, typer.Argument(help="The person's name.")]
RoleOption = Annotated[str, typer.Option("--role", help="owner, helper, driver or bookkeeper.")]


def add_to(app: typer.Typer) -> None:
    people = typer.Typer(
        help="Who works in the yard, and what they may do.", no_args_is_help=True, rich_markup_mode=None
    )
    people.command("list")(list_)
    people.command("add")(add)
    people.command("role")(role)
    people.command("password")(password)
    people.command("lock-out")(keep_out)
    app.add_typer(people, name="people")


def list_(book: BookOption = None, database: DatabaseOption = None, json_: Json = False) -> None:
    """Lists everybody with role, password or none, and the browsers they are signed in with."""
    from rickyard.desk.access import is_locked, people_rows

    desk = _desk(book, database)
    rows = people_rows(desk)
    locked = is_locked(desk)
    people = [
        {
            "person_id": row.id,
            "name": row.name,
            "role": row.role,
            "has_password": row.has_password,
            "sign_ins": len(row.sign_ins),
        }
        for row in rows
    ]
    lines = [
        f"{row.name}: {row.role}, {'with a password' if row.has_password else 'no password'}, "
        f"signed in with {len(row.sign_ins)}"
        for row in rows
    ] or ["Nobody has a name yet."]
    lines.append("Everybody signs in." if locked else "Nobody signs in: no owner has a password.")
    give({"locked": locked, "people": people}, lines, json_)


def add(
    name: Name,
    role: RoleOption = "helper",
    book: BookOption = None,
    database: DatabaseOption = None,
    json_: Json = False,
) -> None:
    """Adds a person."""
    from rickyard.desk.context import new_key
    from rickyard.desk.people import AddPerson, add_person

    desk = _desk(book, database)
    answer = add_person(desk, AddPerson(key=new_key(), name=name, role=role))
    give(answer, [f"{name} is in the book as {role}."], json_)


def role(
    name: Name,
    role: Annotated[str, typer.Argument(help="owner, helper, driver or bookkeeper.")],
    book: BookOption = None,
    database: DatabaseOption = None,
    json_: Json = False,
) -> None:
    """Changes what a person may do."""
    from rickyard.desk.access import SetRole, set_role
    from rickyard.desk.context import new_key

    desk = _desk(book, database)
    answer = set_role(desk, SetRole(key=new_key(), who_id=_person_id(desk, name), role=role))
    give(answer, [f"{name} is {role} now."], json_)


def password(
    name: Name,
    from_stdin: Annotated[
        bool, typer.Option("--from-stdin", help="Read the password as one line of standard input.")
    ] = False,
    book: BookOption = None,
    database: DatabaseOption = None,
    json_: Json = False,
) -> None:
    """Sets a person's password (asked twice, not shown). Their browsers are signed out."""
    from rickyard.desk.access import SetPassword, set_password
    from rickyard.desk.context import new_key

    desk = _desk(book, database)
    person_id = _person_id(desk, name)
    if from_stdin:
        secret = sys.stdin.readline().rstrip("\r\n")
    else:
        secret = typer.prompt("Password", hide_input=True, confirmation_prompt=True, err=True)
    answer = set_password(desk, SetPassword(key=new_key(), who_id=person_id), secret)
    give(answer, [f"{name} signs in with this password from now on."], json_)


def keep_out(
    name: Name, book: BookOption = None, database: DatabaseOption = None, json_: Json = False
) -> None:
    """Takes a person's password away and signs out all their browsers."""
    from rickyard.desk.access import LockOut, lock_out
    from rickyard.desk.context import new_key

    desk = _desk(book, database)
    answer = lock_out(desk, LockOut(key=new_key(), who_id=_person_id(desk, name)))
    give(answer, [f"{name} cannot come in any more."], json_)


def _desk(book: Path | None, database: str | None) -> Desk:
    from rickyard.desk.housekeeping import open_book
    from rickyard.desk.yards import open_desk

    desk = open_desk(open_book(book_target(book, database)))
    if desk is None:
        raise InputError(
            "book",
            wanted=T_("a book whose yard is set up"),
            got=T_("one without a yard"),
            next_move=T_("Start 'rickyard serve' on it and set the yard up."),
            code="no_yard",
        )
    return desk


def _person_id(desk: Desk, name: str) -> int:
    from rickyard.desk.people import people
    from rickyard.errors import UnknownNameError

    known = people(desk)
    found = [person.id for person in known if person.name.casefold() == name.strip().casefold()]
    if not found:
        raise UnknownNameError(
            "name",
            wanted=T_("a person of this yard"),
            got=name,
            nearest=tuple(person.name for person in known)[:8],
        )
    return found[0]
