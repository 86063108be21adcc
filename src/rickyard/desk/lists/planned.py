"""What a list would do, line by line, before anything is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from rickyard.desk.context import Answer, Stage
from rickyard.text import Text

State = Literal["new", "change", "same"]
How = Literal[
    "text", "length", "thickness", "side", "sides", "volume", "money", "moisture", "word", "species", "shares",
    "day", "yes", "count", "harvest",
]  # fmt: skip


@dataclass(frozen=True)
class Fact:
    """A thing that a line says, in SI; `how` it is to be shown. `was`: what the book says, where that changes.

    `group`: of which choice a `word` is.
    """

    id: str
    label: Text
    value: Any
    how: How = "text"
    was: Any = None
    changes: bool = False
    group: str = ""


@dataclass(frozen=True)
class PlannedLine:
    """A line that makes sense: what it becomes.

    Attributes
    ----------
    line
        Of the file, from 1.
    state
        new; change: of something in the book (`in_book`); same: the book says so already, and it is passed over.
    title
        What it is about.
    facts
        What will stand in the book.
    notes
        What to look at once more.
    run
        What writes it, inside the deed; None if nothing is to be written.
    """

    line: int
    state: State
    title: str
    facts: tuple[Fact, ...]
    in_book: int | None = None
    notes: tuple[Text, ...] = ()
    run: Callable[[Stage], Answer] | None = None

    @property
    def changes(self) -> tuple[Fact, ...]:
        return tuple(fact for fact in self.facts if fact.changes)

    def told(self) -> list[object]:
        """Everything that a person was shown of it, to be compared with what it would be now."""
        facts = [[fact.id, repr(fact.value), repr(fact.was) if fact.changes else ""] for fact in self.facts]
        notes = [str(note) for note in self.notes]
        return [self.line, self.state, self.title, self.in_book, facts, notes]
