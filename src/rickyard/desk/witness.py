"""Marked pieces: two to six of a stack, numbered on the end grain and weighed now and then.

Weights are kept as they were read. What they come to is reckoned from them and from the markings, and again when
one of these comes late: phones report in any order. A weight that cannot be right is kept with a clash and left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Reading, Stack, Witness, WitnessWeight
from rickyard.desk.checks import EARLIEST, day_between, some_text, within
from rickyard.desk.clashes import raise_clash
from rickyard.desk.context import Answer, Command, Desk, Stage, do, local_day
from rickyard.desk.readings import reading_clashes, say_if_closed
from rickyard.desk.stacks import find_stack, unknown_stack
from rickyard.desk.weights import current, reckon, witnesses_of
from rickyard.errors import InputError
from rickyard.season import Weighed, weighed
from rickyard.text import T_, Text
from rickyard.wood import find_species

MOST_PIECES = 12
PIECE_KG = (0.02, 100.0)
STEP_KG = (0.0001, 5.0)
#: After so many days marked pieces are worth weighing again: the month of the cheapest schedule known.
WEIGH_AGAIN_DAYS = 28
# More than this since the last weighing: rain, or other pieces [share of the first mass].
GAINED = 0.03


@dataclass(frozen=True, kw_only=True)
class MarkPieces(Command):
    """Pieces of a stack are marked and weighed for the first time.

    `pieces`: (what is written on the end grain, kg). `species`: which wood they are, in a mixed stack, if known.
    `step_kg`: the smallest step of the scale, if known.
    """

    stack_id: int
    pieces: tuple[tuple[str, float], ...]
    marked_on: date
    species: str = ""
    step_kg: float | None = None


@dataclass(frozen=True, kw_only=True)
class WeighPieces(Command):
    """Marked pieces are weighed again. `weights`: (mark, kg); no mass says that the piece was not found.

    `wet`: they were wet from rain, and are lighter when that has dried off.
    """

    stack_id: int
    weights: tuple[tuple[str, float | None], ...]
    happened_on: date
    wet: bool = False
    step_kg: float | None = None
    note: str = ""


@dataclass(frozen=True)
class PieceLine:
    """A marked piece: its first weight and its last, and whether that was left out (`odd`: why)."""

    label: str
    start_kg: float
    marked_on: date
    last_kg: float | None
    last_on: date | None
    odd: str


@dataclass(frozen=True)
class WitnessPage:
    """`weigh_now`: a month has passed since they were last on the scale. `oven_known`: one oven sample was made."""

    pieces: tuple[PieceLine, ...]
    last_weighed_on: date | None
    weigh_now: bool
    days_since: int | None
    oven_known: bool


def mark_pieces(desk: Desk, command: MarkPieces) -> Answer:
    """Marks pieces of a stack. Answer: stack_id, labels, clashes (ids)."""
    pieces = [(_label(label), within("mass", kg, PIECE_KG, "kg")) for label, kg in command.pieces]
    _count([label for label, _ in pieces])
    _step(command.step_kg)

    def run(stage: Stage) -> Answer:
        stack = find_stack(stage, command.stack_id)
        species = find_species(command.species, field="species") if command.species else None
        day = stage.day_said(command.marked_on)
        day_between("marked_on", day, EARLIEST, stage.last_day)
        there = {
            (row.label, row.marked_on): row
            for row in witnesses_of(stage.session, stack.id)
            if not row.implied
        }
        clashes = []
        closed = say_if_closed(stack, day)
        if closed is not None:
            clashes.append(raise_clash(stage, "stack", stack.id, "stack_closed", closed))
        if day < stack.stacked_on:
            text = T_(
                "Pieces of stack {name} were marked on {day}, before it was stacked on {stacked}. They are kept; the "
                "forecast leaves out what was weighed before the stacking. Look at both dates.",
                name=stack.name,
                day=day,
                stacked=stack.stacked_on,
            )
            clashes.append(raise_clash(stage, "stack", stack.id, "marked_before_stacking", text))
        for label, kg in pieces:
            row = there.get((label, day))
            if row is not None:
                text = T_(
                    "Piece {label} of stack {name} was marked twice on {day}: with {first:.2f} kg, then with "
                    "{then:.2f} kg. The later one counts. Look which is right.",
                    label=label,
                    name=stack.name,
                    day=day,
                    first=row.start_kg,
                    then=kg,
                )
                clashes.append(raise_clash(stage, "stack", stack.id, "marked_twice", text))
                row.start_kg, row.step_kg = kg, command.step_kg
                row.species_id = species.id if species else None
                continue
            stage.session.add(
                Witness(
                    yard_id=stage.yard.id,
                    stack_id=stack.id,
                    deed_id=stage.deed.id,
                    label=label,
                    species_id=species.id if species else None,
                    start_kg=kg,
                    marked_on=day,
                    step_kg=command.step_kg,
                )
            )
        stage.session.flush()
        reckon(stage.session, stack.id)
        return {"stack_id": stack.id, "labels": [label for label, _ in pieces], "clashes": clashes}

    return do(desk, "mark_pieces", command, run)


def weigh_pieces(desk: Desk, command: WeighPieces) -> Answer:
    """Records a weighing of marked pieces. Answer: reading_id, stack_id, clashes (ids).

    Never refused for what it says of the pieces: one that is missing, unknown, or heavier than it can be is kept, and
    what does not fit is shown.
    """
    weights = [
        (_label(label), None if kg is None else within("mass", kg, PIECE_KG, "kg"))
        for label, kg in command.weights
    ]
    _count([label for label, _ in weights])
    _step(command.step_kg)

    def run(stage: Stage) -> Answer:
        stack = find_stack(stage, command.stack_id)
        day = stage.day_said(command.happened_on)
        day_between("happened_on", day, EARLIEST, stage.last_day)
        before = _last_ratio(stage.session, stack.id, day)
        reading = Reading(
            yard_id=stage.yard.id,
            stack_id=stack.id,
            deed_id=stage.deed.id,
            happened_on=day,
            kind="weighed",
            value=0.0,
            temp_c=None,
            typed={"step_kg": command.step_kg},
            note=some_text("note", command.note, 300, needed=False),
            wet=command.wet,
        )
        stage.session.add(reading)
        stage.session.flush()
        for label, kg in weights:
            stage.session.add(
                WitnessWeight(yard_id=stage.yard.id, reading_id=reading.id, label=label, mass_kg=kg)
            )
        strangers = _strangers(stage, stack, weights, day)
        stage.session.flush()
        outcome = reckon(stage.session, stack.id)[reading.id]
        found = reading_clashes(stack, reading, None)
        found += _doubts(stack, reading, dict(weights), outcome, strangers, before)
        clashes = [raise_clash(stage, "reading", reading.id, code, text) for code, text in found]
        return {"reading_id": reading.id, "stack_id": stack.id, "clashes": clashes}

    return do(desk, "weigh_pieces", command, run)


def witness_page(desk: Desk, stack_id: int) -> WitnessPage:
    """The marked pieces of a stack as they were last seen, by mark."""
    with desk.book.read() as session:
        stack = session.get(Stack, stack_id)
        if stack is None or stack.yard_id != desk.yard_id:
            raise unknown_stack(stack_id)
        return page_of(stack, witnesses_of(session, stack.id), local_day(desk.yard(session), desk.now()))


def page_of(stack: Stack, marked: Sequence[Witness], today: date) -> WitnessPage:
    """As `witness_page`, of a stack and all its markings."""
    rows = current(marked, today)
    last: dict[str, tuple[float, date, str]] = {}
    weighings = [reading for reading in stack.readings if reading.weights]
    for reading in weighings:
        known = {row.label: row for row in current(marked, reading.happened_on)}
        now = {item.label: item.mass_kg for item in reading.weights}
        odd = weighed({label: row.start_kg for label, row in known.items()}, now).odd
        for item in reading.weights:
            if item.mass_kg is not None:
                last[item.label] = (item.mass_kg, reading.happened_on, odd.get(item.label, ""))
    lines = tuple(
        PieceLine(
            row.label,
            row.start_kg,
            row.marked_on,
            *(
                last[row.label]
                if row.label in last and last[row.label][1] >= row.marked_on
                else (None, None, "")
            ),
        )
        for row in rows
    )
    seen = [reading.happened_on for reading in weighings] + [row.marked_on for row in rows]
    since = (today - max(seen)).days if rows else None
    return WitnessPage(
        pieces=lines,
        last_weighed_on=max((reading.happened_on for reading in weighings), default=None),
        weigh_now=since is not None and since >= WEIGH_AGAIN_DAYS and stack.emptied_on is None,
        days_since=since,
        oven_known=_oven_known(stack.readings),
    )


class _Told(Protocol):
    @property
    def kind(self) -> str: ...
    @property
    def trust(self) -> str: ...


def page_without_marks(readings: Sequence[_Told]) -> WitnessPage:
    """As `page_of`, of a stack without marked pieces."""
    return WitnessPage((), None, False, None, _oven_known(readings))


def _oven_known(readings: Sequence[_Told]) -> bool:
    return any(reading.kind == "oven" and reading.trust != "aside" for reading in readings)


def _strangers(
    stage: Stage, stack: Stack, weights: Sequence[tuple[str, float | None]], day: date
) -> list[str]:
    """Marks that nobody had given: such a piece counts from this weighing on, until its marking turns up."""
    known = {row.label for row in current(witnesses_of(stage.session, stack.id), day)}
    strangers = [label for label, kg in weights if label not in known and kg is not None]
    for label, kg in weights:
        if label in strangers and kg is not None:
            stage.session.add(
                Witness(
                    yard_id=stage.yard.id,
                    stack_id=stack.id,
                    deed_id=stage.deed.id,
                    label=label,
                    start_kg=kg,
                    marked_on=day,
                    step_kg=None,
                    implied=True,
                )
            )
    return strangers


def _last_ratio(session: Session, stack_id: int, day: date) -> Reading | None:
    query = (
        select(Reading)
        .where(
            Reading.stack_id == stack_id,
            Reading.kind == "weighed",
            Reading.happened_on <= day,
            Reading.pieces > 0,
            Reading.trust != "aside",
            Reading.wet.is_(False),
        )
        .order_by(Reading.happened_on.desc(), Reading.id.desc())
    )
    return session.scalars(query).first()


def _doubts(
    stack: Stack,
    reading: Reading,
    now: dict[str, float | None],
    outcome: Weighed,
    strangers: Sequence[str],
    before: Reading | None,
) -> list[tuple[str, Text]]:
    """What of a weighing cannot be, or looks like rain or another piece."""
    said: list[tuple[str, Text]] = []
    day = reading.happened_on
    for label, why in outcome.odd.items():
        if why == "missing":
            continue
        values = {"label": label, "name": stack.name, "day": day, "kg": now[label]}
        if why == "heavy":
            text = T_(
                "Piece {label} of stack {name} weighed {kg:.2f} kg on {day}: heavier than it can be after the "
                "weight it was marked with. It is kept and left out. Look whether it is another piece, or the scale.",
                **values,
            )
        elif why == "light":
            text = T_(
                "Piece {label} of stack {name} weighed {kg:.2f} kg on {day}: less than its wood alone can weigh. "
                "It is kept and left out. Look whether it is another piece, or the scale.",
                **values,
            )
        else:
            text = T_(
                "Piece {label} of stack {name} weighed {kg:.2f} kg on {day}, and went another way than the others. "
                "It is kept and left out. Look whether it was replaced, or marked wrongly.",
                **values,
            )
        said.append((f"piece_{why}", text))
    if strangers:
        said.append(
            (
                "piece_unknown",
                T_(
                    "Nobody had marked {labels} in stack {name} when it was weighed on {day}. The weight is kept and "
                    "counts as the first. If it was marked before, enter that marking with its day.",
                    labels=", ".join(strangers),
                    name=stack.name,
                    day=day,
                ),
            )
        )
    gained = (
        before is not None
        and reading.pieces
        and before.since == reading.since
        and reading.value > before.value + GAINED
        and not reading.wet
    )
    if gained and before is not None:
        said.append(
            (
                "pieces_heavier",
                T_(
                    "The marked pieces of stack {name} were heavier on {day} than on {before}. Were they wet from "
                    "rain, or are they other pieces? Weigh them again when they are dry outside.",
                    name=stack.name,
                    day=day,
                    before=before.happened_on,
                ),
            )
        )
    if not reading.pieces and not any(why != "missing" for why in outcome.odd.values()) and not strangers:
        said.append(
            (
                "pieces_missing",
                T_(
                    "None of the marked pieces of stack {name} was found on {day}. Mark others, and weigh them now.",
                    name=stack.name,
                    day=day,
                ),
            )
        )
    return said


def _label(label: str) -> str:
    return some_text("mark", label, 12)


def _count(labels: Sequence[str]) -> None:
    if not 1 <= len(labels) <= MOST_PIECES:
        raise InputError(
            "pieces",
            wanted=T_("{low} to {high} pieces", low=1, high=MOST_PIECES),
            got=len(labels),
            next_move=T_("Two to six are enough. Weigh at least one."),
        )
    twice = [label for label in labels if labels.count(label) > 1]
    if twice:
        raise InputError(
            "mark",
            wanted=T_("each mark once"),
            got=twice[0],
            next_move=T_("Give every piece a mark of its own."),
        )


def _step(step_kg: float | None) -> None:
    if step_kg is not None:
        within("scale_step", step_kg, STEP_KG, "kg")


def next_labels(page: WitnessPage, count: int) -> list[str]:
    """Numbers that no piece of the stack bears yet."""
    taken = {line.label for line in page.pieces}
    free = (str(number) for number in range(1, 1000))
    return [label for label in free if label not in taken][:count]


def due_on(page: WitnessPage) -> date | None:
    """The day from which the pieces are worth weighing again."""
    if not page.pieces:
        return None
    last = max([line.marked_on for line in page.pieces] + [page.last_weighed_on or date.min])
    return last + timedelta(days=WEIGH_AGAIN_DAYS)
