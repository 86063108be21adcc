"""A stack is closed when nothing is left of it, and opened again when it stands after all."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlalchemy import select

from rickyard.book import Move, not_taken_back, post, reverse, stock
from rickyard.book.models import Entry, Posting, StackMeasure
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do, local_day
from rickyard.desk.early import look_for_early
from rickyard.desk.remeasure import reckon_from
from rickyard.desk.spots import yard_spot
from rickyard.desk.spreads import density_of, sd_of, sd_of_stack
from rickyard.desk.stacks import find_stack, wood_in_stock
from rickyard.desk.undoing import undoing_of
from rickyard.errors import InputError
from rickyard.text import T_


@dataclass(frozen=True, kw_only=True)
class EmptyStack(Command):
    """Nothing is left of a stack; what the book still holds of it is written off, with a reason."""

    stack_id: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class ReopenStack(Command):
    """A closed stack that stands after all."""

    stack_id: int
    reason: str


def empty_stack(desk: Desk, command: EmptyStack) -> Answer:
    """Writes off what the book still holds of a stack that is gone. Answer: stack_id, written_off_g, clashes (ids).

    What more was taken from it than the book held was there all the same: it comes from outside, as by a measure.
    """
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        stack = find_stack(stage, command.stack_id)
        loss, outer = (yard_spot(stage.session, stage.yard.id, kind) for kind in ("loss", "outside"))
        moves: list[Move] = []
        held = {key: grams for key, grams in stock(stage.session, stack.spot_id).items() if grams}
        sd_share = sd_of_stack(stage, stack, held) if held else 0.0
        for key, grams in held.items():
            gone = Move(stack.spot_id, key.species_id, key.form, key.lot_id, -grams)
            moves.append(
                replace(
                    gone,
                    quantity=1.0,
                    unit="share",
                    method="nothing is left",
                    sd_share=sd_of(key, sd_share),
                    basic_density_kg_m3=density_of(key),
                )
            )
            moves.append(Move(loss if grams > 0 else outer, key.species_id, key.form, key.lot_id, grams))
        if moves:
            post(
                stage.session,
                stage.yard.id,
                kind="empty",
                happened_at=stage.happened_at,
                recorded_at=stage.recorded_at,
                moves=moves,
                reason=reason,
                deed_id=stage.deed.id,
            )
        stack.emptied_on = stage.happened_on
        return {
            "stack_id": stack.id,
            "written_off_g": sum(move.mass_g for move in moves[1::2]),
            "clashes": look_for_early(stage, stack),
        }

    return do(desk, "empty_stack", command, run)


def reopen_stack(desk: Desk, command: ReopenStack) -> Answer:
    """Opens a closed stack again: the write-off is reversed, and the book follows what was measured since.

    Answer: stack_id, brought_back_g.
    """
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        stack = find_stack(stage, command.stack_id)
        if stack.emptied_on is None:
            raise InputError(
                "stack",
                wanted=T_("a stack that was closed"),
                got=stack.name,
                next_move=T_("It stands in the book: measure it."),
                code="stack_stands",
            )
        if undoing_of(stage.session, stack_id=stack.id) is not None:
            raise InputError(
                "stack",
                wanted=T_("a stack that was closed"),
                got=T_("{name}, whose stacking was taken back", name=stack.name),
                next_move=T_("Stack it up anew: its wood is where it was before."),
                code="already_undone",
            )
        held = sum(wood_in_stock(stock(stage.session, stack.spot_id)).values())
        closing = stage.session.scalars(
            select(Entry)
            .join(Posting, Posting.entry_id == Entry.id)
            .where(
                Posting.spot_id == stack.spot_id,
                Entry.kind == "empty",
                not_taken_back(),
            )
            .distinct()
        ).all()
        for entry in closing:
            reverse(
                stage.session,
                entry,
                reason=reason,
                happened_at=entry.happened_at,
                recorded_at=stage.recorded_at,
                deed_id=stage.deed.id,
            )
        stack.emptied_on = None
        closed_by = min((entry.deed_id or 0 for entry in closing), default=0)
        since = stage.session.scalar(
            select(StackMeasure)
            .where(StackMeasure.stack_id == stack.id, StackMeasure.deed_id > closed_by, StackMeasure.counts())
            .order_by(StackMeasure.happened_at, StackMeasure.id)
            .limit(1)
        )
        if closing and since is not None and local_day(stage.yard, since.happened_at) >= stack.stacked_on:
            reckon_from(stage, stack, since)
        back = sum(wood_in_stock(stock(stage.session, stack.spot_id)).values()) - held
        return {"stack_id": stack.id, "brought_back_g": back}

    return do(desk, "reopen_stack", command, run)
