"""What the yard has taught: lessons of its stacks' readings, kept, shown, forgotten.

A lesson is made by the worker together with the forecast of the stack that was read; other stacks of that wood or
row are forecast anew with it. What a stack is taught is part of its forecast's fingerprint.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from math import exp
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard import season
from rickyard.book.models import Stack, StackLesson
from rickyard.desk.checks import one_of, some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.wood import Species, get_species

FORGETTABLE = ("species", "row", "all")


@dataclass(frozen=True, kw_only=True)
class ForgetLessons(Command):
    """What the yard was taught is forgotten: of one species (`name` its id), of the stacks of one row, or all."""

    what: str
    name: str = ""


@dataclass(frozen=True)
class TaughtLine:
    """A shared part as the yard knows it: `factor` and its 10th and 90th percentile, by how many stacks.

    `kind`: `species`, `thickness` (a class of it) or `row`; `first_low`, `first_high`: what was believed before.
    """

    kind: str
    species: Species | None
    name: str
    factor: float
    low: float
    high: float
    first_low: float
    first_high: float
    stacks: int


@dataclass(frozen=True)
class LessonLine:
    """A stack that stands behind what was learnt."""

    stack_id: int
    stack_name: str
    species: Species
    row_label: str
    learnt_at: datetime
    forgotten: bool


@dataclass(frozen=True)
class TaughtPage:
    lines: tuple[TaughtLine, ...]
    lessons: tuple[LessonLine, ...]


# 10th to 90th percentile of a normal [standard deviations].
_TENTH = 1.2816


def taught_page(desk: Desk) -> TaughtPage:
    """What the yard has taught so far, and which stacks taught it."""
    with desk.book.read() as session:
        rows = lessons_of(session, desk.yard_id)
        names = dict(session.execute(select(Stack.id, Stack.name).where(Stack.yard_id == desk.yard_id)).all())
        known = season.learnt([_lesson(row) for row in rows if row.forgotten_deed_id is None])
        lessons = tuple(
            LessonLine(
                row.stack_id,
                names[row.stack_id],
                get_species(row.species_id),
                row.row_label,
                row.learnt_at,
                row.forgotten_deed_id is not None,
            )
            for row in sorted(rows, key=lambda row: names[row.stack_id])
            if not _lesson(row).empty
        )
    return TaughtPage(tuple(_line(item) for item in known), lessons)


def forget_lessons(desk: Desk, command: ForgetLessons) -> Answer:
    """Forgets lessons; the readings stay, and move their own stacks as before. Answer: forgotten (how many)."""
    one_of("what", command.what, FORGETTABLE)
    name = some_text("name", command.name, 60, needed=command.what != "all")

    def run(stage: Stage) -> Answer:
        rows = [
            row
            for row in lessons_of(stage.session, stage.yard.id)
            if row.forgotten_deed_id is None
            and (
                command.what == "all"
                or (command.what == "species" and row.species_id == name)
                or (command.what == "row" and row.row_label == name)
            )
        ]
        if not rows:
            raise InputError(
                "what",
                wanted=T_("something that the yard has taught"),
                got=name or command.what,
                next_move=T_("Choose it from the page of what the yard has taught."),
                code="nothing_to_forget",
            )
        for row in rows:
            row.forgotten_deed_id = stage.deed.id
        return {"forgotten": len(rows)}

    return do(desk, "forget_lessons", command, run)


def lessons_of(session: Session, yard_id: int) -> list[StackLesson]:
    """All lessons of a yard, forgotten ones too, in a fixed order."""
    query = (
        select(StackLesson)
        .where(StackLesson.yard_id == yard_id)
        .order_by(StackLesson.stack_id, StackLesson.species_id)
    )
    return list(session.scalars(query))


@lru_cache(maxsize=4096)
def worded(lesson: season.Lesson) -> str:
    """A lesson in words, for fingerprints; once, for it is part of the forecasts of many stacks."""
    return str(lesson)


class Teaching:
    """The lessons of a yard, made ready once to be asked for every stack of it."""

    def __init__(self, rows: Sequence[StackLesson]) -> None:
        self._lessons = [(row.stack_id, _lesson(row)) for row in rows if row.forgotten_deed_id is None]
        self._by_species: dict[str, list[int]] = defaultdict(list)
        self._by_row: dict[str, list[int]] = defaultdict(list)
        self._own: dict[int, list[str]] = defaultdict(list)
        for place, (_, lesson) in enumerate(self._lessons):
            if not lesson.empty:
                self._by_species[lesson.species_id].append(place)
                self._by_row[lesson.row].append(place)
        for row in rows:
            self._own[row.stack_id].append(row.fingerprint)

    def of(self, stack: Stack, species_ids: Sequence[str]) -> tuple[season.Lesson, ...]:
        """The lessons that other stacks have for this one, not forgotten, in a fixed order."""
        places = {place for name in species_ids for place in self._by_species.get(name, ())}
        if stack.row_label:
            places.update(self._by_row.get(stack.row_label, ()))
        return tuple(
            lesson
            for stack_id, lesson in (self._lessons[place] for place in sorted(places))
            if stack_id != stack.id
        )

    def fingerprints_of(self, stack_id: int) -> Sequence[str]:
        """From what the lessons of a stack's own readings were made, forgotten ones too."""
        return self._own.get(stack_id, ())


def keep_lessons(
    session: Session,
    yard_id: int,
    stack_id: int,
    fingerprint: str,
    lessons: Sequence[Mapping[str, Any]],
    now: datetime,
) -> None:
    """Keeps what a stack's readings taught in place of what they taught before; new readings are not forgotten."""
    there = {
        row.species_id: row
        for row in session.scalars(select(StackLesson).where(StackLesson.stack_id == stack_id))
    }
    for told in lessons:
        pace, cross, exposure = told["precision"]
        row = there.pop(told["species_id"], None)
        if row is None:
            row = StackLesson(yard_id=yard_id, stack_id=stack_id, species_id=told["species_id"])
            session.add(row)
        if row.fingerprint != fingerprint:
            row.forgotten_deed_id = None
        row.thickness_class, row.row_label = told["thickness_class"], told["row"]
        row.pace, row.exposure = told["pace"], told["exposure"]
        row.pace_precision, row.cross_precision, row.exposure_precision = pace, cross, exposure
        row.fingerprint, row.learnt_at = fingerprint, now
    for row in there.values():
        session.delete(row)


def _lesson(row: StackLesson) -> season.Lesson:
    return season.Lesson(
        stack_key=str(row.stack_id),
        species_id=row.species_id,
        thickness_class=row.thickness_class,
        row=row.row_label,
        pace=row.pace,
        exposure=row.exposure,
        precision=(row.pace_precision, row.cross_precision, row.exposure_precision),
    )


def _line(item: season.Learnt) -> TaughtLine:
    return TaughtLine(
        kind=item.kind,
        species=get_species(item.species_id) if item.species_id else None,
        name=item.name,
        factor=exp(item.mean),
        low=exp(item.mean - _TENTH * item.sd),
        high=exp(item.mean + _TENTH * item.sd),
        first_low=exp(-_TENTH * item.prior_sd),
        first_high=exp(_TENTH * item.prior_sd),
        stacks=item.stacks,
    )
