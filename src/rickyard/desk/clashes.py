"""Clashes: reports of what physically happened that do not fit what the book says.

Such a report is never refused. It is taken as it came, the clash is kept beside it, and people settle it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Clash, Load, Reading, Stack
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.texts import values_from_json, values_to_json
from rickyard.errors import ClashError, InputError
from rickyard.text import T_, Text


@dataclass(frozen=True, kw_only=True)
class SettleClash(Command):
    """Somebody looked at a clash, and says in a few words what it was."""

    clash_id: int
    note: str


@dataclass(frozen=True)
class ClashLine:
    """A clash as it is shown. `subject_kind` and `subject_id`: what was reported.

    Where to look: the stack, or the load with its number.
    """

    id: int
    code: str
    text: Text
    subject_kind: str
    subject_id: int
    stack_id: int | None
    stack_name: str
    load_id: int | None
    load_number: int | None
    raised_at: datetime
    settled_at: datetime | None
    note: str

    @property
    def sentence(self) -> str:
        """In English, for programs."""
        return str(self.text)


def raise_clash(stage: Stage, subject_kind: str, subject_id: int, code: str, text: Text) -> int:
    """Keeps a clash of the deed that is being done, and gives its id."""
    row = Clash(
        yard_id=stage.yard.id,
        deed_id=stage.deed.id,
        subject_kind=subject_kind,
        subject_id=subject_id,
        code=code,
        msgid=text.msgid,
        sentence_values=values_to_json(text.values),
        raised_at=stage.recorded_at,
    )
    stage.session.add(row)
    stage.session.flush()
    return row.id


def clashes(
    desk: Desk, *, open_only: bool = True, stack_id: int | None = None, load_id: int | None = None
) -> list[ClashLine]:
    """Clashes of the yard, of one stack and its readings, or of one load; newest first."""
    with desk.book.read() as session:
        return clashes_in(session, desk.yard_id, open_only=open_only, stack_id=stack_id, load_id=load_id)


def clash(desk: Desk, clash_id: int) -> ClashLine:
    """One clash, open or settled."""
    with desk.book.read() as session:
        found = clashes_in(session, desk.yard_id, open_only=False, clash_id=clash_id)
    if not found:
        raise _unknown(clash_id)
    return found[0]


def clashes_in(
    session: Session,
    yard_id: int,
    *,
    open_only: bool = True,
    stack_id: int | None = None,
    load_id: int | None = None,
    clash_id: int | None = None,
) -> list[ClashLine]:
    """As `clashes`, as one session sees them."""
    query = (
        select(Clash, Stack, Load)
        .outerjoin(Reading, (Clash.subject_kind == "reading") & (Reading.id == Clash.subject_id))
        .outerjoin(Load, (Clash.subject_kind == "load") & (Load.id == Clash.subject_id))
        .outerjoin(
            Stack,
            ((Clash.subject_kind == "stack") & (Stack.id == Clash.subject_id))
            | ((Clash.subject_kind == "reading") & (Stack.id == Reading.stack_id)),
        )
        .where(Clash.yard_id == yard_id)
        .order_by(Clash.raised_at.desc(), Clash.id.desc())
    )
    if open_only:
        query = query.where(Clash.settled_at.is_(None))
    if stack_id is not None:
        query = query.where(Stack.id == stack_id)
    if load_id is not None:
        query = query.where(Load.id == load_id)
    if clash_id is not None:
        query = query.where(Clash.id == clash_id)
    return [
        ClashLine(
            id=row.id,
            code=row.code,
            text=Text(row.msgid, values_from_json(row.sentence_values)),
            subject_kind=row.subject_kind,
            subject_id=row.subject_id,
            stack_id=stack.id if stack else None,
            stack_name=stack.name if stack else "",
            load_id=load.id if load else None,
            load_number=load.number if load else None,
            raised_at=row.raised_at,
            settled_at=row.settled_at,
            note=row.note,
        )
        for row, stack, load in session.execute(query)
    ]


def settle_clash(desk: Desk, command: SettleClash) -> Answer:
    """Closes a clash with a note; the report and the book stay as they are. Answer: clash_id."""
    note = some_text("settled", command.note, 300)

    def run(stage: Stage) -> Answer:
        row = stage.session.get(Clash, command.clash_id)
        if row is None or row.yard_id != stage.yard.id:
            raise _unknown(command.clash_id)
        if row.settled_at is not None:
            raise ClashError(
                T_('This was settled already, with "{note}". Nothing is left to do.', note=row.note),
                code="already_settled",
            )
        row.settled_at, row.settled_deed_id, row.note = stage.recorded_at, stage.deed.id, note
        return {"clash_id": row.id}

    return do(desk, "settle_clash", command, run)


def _unknown(clash_id: int) -> InputError:
    return InputError(
        "clash",
        wanted=T_("a clash of this yard"),
        got=clash_id,
        next_move=T_("Choose it from the list on the first page."),
        code="unknown_clash",
    )
