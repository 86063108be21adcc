"""A measure of a stack that was entered wrongly is taken back: the stack is again as the measures before say.

The measure keeps its row, and the `Undoing` beside it says why it counts no more. What the journal got to follow it
is reversed, at its own moment. Each measure hangs on the one before, so the newest goes first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book import stock
from rickyard.book.models import Entry, Stack, StackMeasure, Yard
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do, local_day
from rickyard.desk.remeasure import follow_without, follows_measures
from rickyard.desk.stacks import wood_in_stock
from rickyard.desk.undoing import (
    keep_undoing,
    live_entries,
    refuse,
    settle_stack,
    take_back,
    undoing_of,
)
from rickyard.errors import ClashError, InputError
from rickyard.text import T_, Text


@dataclass(frozen=True, kw_only=True)
class UndoMeasure(Command):
    """A measure of a stack that was not so, or of another stack."""

    measure_id: int
    reason: str


def undo_measure(desk: Desk, command: UndoMeasure) -> Answer:
    """Answer: measure_id, stack_id, difference_g (what the journal changed by), clashes (ids).

    Raises RefusedError while the stack was measured again since, or closed, and for the measure that it was stacked
    with. Wood that left by that measure's size since stays as it was entered.
    """
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        measure = stage.session.get(StackMeasure, command.measure_id)
        if measure is None or measure.yard_id != stage.yard.id:
            raise unknown_measure(command.measure_id)
        stack = measure.stack
        if undoing_of(stage.session, measure_id=measure.id) is not None:
            raise ClashError(
                T_(
                    "That measure of stack {name} is taken back already. Nothing is left to do.",
                    name=stack.name,
                ),
                code="already_undone",
                field="measure",
            )
        refuse(hangs_on_measure(stage.session, stage.yard, measure))
        entries = entries_of(stage.session, measure)
        before = _balance(stage.session, stack)
        take_back(stage, entries, reason)
        keep_undoing(stage, reason, measure_id=measure.id)
        stage.session.expire(stack, ["measures"])
        clashes: list[int] = []
        if entries:
            # Something late came in between: what it moved hangs on the measure before now.
            moved = any(entry.deed_id != measure.deed_id for entry in entries)
            clashes = follow_without(stage, stack, measure if moved else None)
            settle_stack(stage, stack, entries)
        return {
            "measure_id": measure.id,
            "stack_id": stack.id,
            "difference_g": _balance(stage.session, stack) - before,
            "clashes": clashes,
        }

    return do(desk, "undo_measure", command, run)


def hangs_on_measure(session: Session, yard: Yard, measure: StackMeasure) -> Text | None:
    """Why a measure cannot be taken back yet, and what to do first."""
    stack = measure.stack
    every = session.scalars(
        select(StackMeasure)
        .where(StackMeasure.stack_id == stack.id)
        .order_by(StackMeasure.happened_at, StackMeasure.id)
    ).all()
    if measure.id == min(each.id for each in every):
        return T_(
            "Stack {name} was stacked with this measure. Measure the stack again, or take its stacking back on its "
            "page.",
            name=stack.name,
        )
    day = local_day(yard, measure.happened_at)
    if day < stack.stacked_on:
        return None  # no other hangs on it, and the book did not follow it
    for entry in live_entries(session, stack.spot_id, "empty"):
        if (entry.deed_id or 0) > (measure.deed_id or 0):
            return T_("Stack {name} was closed since. Open it again first, on its page.", name=stack.name)
    counting = {each.id for each in stack.measures}
    later = [each for each in every[every.index(measure) + 1 :] if each.id in counting]
    if later:
        return T_(
            "Stack {name} was measured again on {day}. Take that measure back first, on its page.",
            name=stack.name,
            day=local_day(yard, later[-1].happened_at),
        )
    return None


def entries_of(session: Session, measure: StackMeasure) -> Sequence[Entry]:
    """What the journal got to follow the newest measure of its stack: by its own deed, or by a late one before it."""
    return [
        entry
        for entry in live_entries(session, measure.stack.spot_id, "remeasure")
        if follows_measures(entry)
        and entry.happened_at == measure.happened_at
        and (entry.deed_id or 0) >= (measure.deed_id or 0)
    ]


def unknown_measure(measure_id: int) -> InputError:
    return InputError(
        "measure",
        wanted=T_("a measure of a stack of this yard"),
        got=measure_id,
        next_move=T_("Choose it on the page of its stack."),
        code="unknown_measure",
    )


def _balance(session: Session, stack: Stack) -> int:
    return sum(wood_in_stock(stock(session, stack.spot_id)).values())
