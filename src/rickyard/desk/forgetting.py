"""What may have to be forgotten: the reason of an entry, free text that may name somebody.

The journal's chain holds a reason only by a salted hash. Text and salt go; that they went is a deed, which is sealed,
so that nobody else takes a reason out unseen.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select, update

from rickyard.book.models import Entry, EntryLink
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.errors import InputError
from rickyard.text import T_


@dataclass(frozen=True, kw_only=True)
class ForgetReason(Command):
    """`entry` is the entry's number in the yard's journal."""

    entry: int


def forget_reason(desk: Desk, command: ForgetReason) -> Answer:
    """Takes the reason of an entry out for good; the chain holds as before. Answer: entry."""

    def run(stage: Stage) -> Answer:
        found = stage.session.execute(
            select(Entry.id, Entry.reason).where(
                Entry.yard_id == stage.yard.id, Entry.number == command.entry
            )
        ).first()
        if found is None or not found.reason:
            raise InputError(
                "entry",
                wanted=T_("the number of an entry of this yard that has a reason"),
                got=command.entry,
                next_move=T_("Look for the entry in the journal of its stack or load."),
                code="no_reason",
            )
        # In this order: the database lets no reason go whose salt is still there.
        stage.session.execute(update(EntryLink).where(EntryLink.entry_id == found.id).values(reason_salt=""))
        stage.session.execute(update(Entry).where(Entry.id == found.id).values(reason=""))
        return {"entry": command.entry}

    return do(desk, "forget_reason", command, run)
