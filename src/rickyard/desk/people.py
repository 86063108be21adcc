"""People who work in the yard: names that say who did what. Whether they must sign in: `desk.access`."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select

from rickyard.book import models
from rickyard.desk.access import ROLES, find_person
from rickyard.desk.checks import one_of, some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.errors import InputError
from rickyard.text import T_

MOST_NAME = 40


@dataclass(frozen=True)
class Person:
    id: int
    name: str


@dataclass(frozen=True, kw_only=True)
class AddPerson(Command):
    """Somebody new, by a name that nobody else of the yard has; what they may do, once people must sign in."""

    name: str
    role: str = "helper"


@dataclass(frozen=True, kw_only=True)
class RenamePerson(Command):
    """The same person under another name; what they did stays theirs."""

    who_id: int
    name: str


def people(desk: Desk) -> list[Person]:
    """Everybody with a name, by name."""
    with desk.book.read() as session:
        rows = session.scalars(select(models.Person).where(models.Person.yard_id == desk.yard_id))
        found = [Person(row.id, row.name) for row in rows if row.name]
    return sorted(found, key=lambda person: person.name.casefold())


def person(desk: Desk, person_id: int) -> Person | None:
    """The person with this id, or None if this yard has nobody such."""
    with desk.book.read() as session:
        row = session.get(models.Person, person_id)
        if row is None or row.yard_id != desk.yard_id or not row.name:
            return None
        return Person(row.id, row.name)


def add_person(desk: Desk, command: AddPerson) -> Answer:
    """Answer: person_id, name."""
    one_of("role", command.role, ROLES)

    def run(stage: Stage) -> Answer:
        name = _free_name(stage, command.name)
        row = models.Person(yard_id=stage.yard.id, name=name, role=command.role)
        stage.session.add(row)
        stage.session.flush()
        return {"person_id": row.id, "name": name}

    return do(desk, "add_person", command, run)


def rename_person(desk: Desk, command: RenamePerson) -> Answer:
    """Answer: person_id, name."""

    def run(stage: Stage) -> Answer:
        row = find_person(stage, command.who_id)
        row.name = _free_name(stage, command.name, but=row.id)
        return {"person_id": row.id, "name": row.name}

    return do(desk, "rename_person", command, run)


def _free_name(stage: Stage, typed: str, *, but: int = 0) -> str:
    """The name without outer blanks, if nobody else goes by it, written large or small."""
    name = some_text("person", typed, MOST_NAME)
    taken = stage.session.execute(
        select(models.Person.id, models.Person.name).where(models.Person.yard_id == stage.yard.id)
    )
    if any(other.casefold() == name.casefold() and person_id != but for person_id, other in taken):
        raise InputError(
            "person",
            wanted=T_("a name that nobody else has"),
            got=name,
            next_move=T_("Add a letter or a family name."),
            code="name_taken",
        )
    return name
