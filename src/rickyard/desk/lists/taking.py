"""A list is looked at, and taken in: all of it in one deed, or nothing.

Looking and taking do the same: read the file, say what each line becomes, list every bad line. Nothing of a file
that is looked at stays here; it is sent again to be taken, so that there is nothing to clean up and nobody's list
lies about. `seen` holds the two together: if the file or the book says something else by then, nothing is written.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy.orm import Session

from rickyard.book.models import Yard
from rickyard.desk.checks import one_of
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.editing import must_be_as_seen, state_of
from rickyard.desk.lists import households, prices, stock
from rickyard.desk.lists.columns import COLUMNS, KINDS, UNITS, guess, meaning_of
from rickyard.desk.lists.lines import Asked, Reader, chosen_columns, double_columns, heads_seen
from rickyard.desk.lists.planned import PlannedLine
from rickyard.desk.lists.reading import MOST_BYTES, Table, letters, read_table
from rickyard.errors import InputError
from rickyard.measure.listing import TextRow
from rickyard.measure.loglist import LogListError, LogListProblem
from rickyard.text import T_

MOST_LINES = {"households": 5_000, "stock": 500, "prices": 500}

Planner = Callable[[Reader, Sequence[TextRow], Session, Yard], list[PlannedLine]]
_PLANNERS: dict[str, Planner] = {"households": households.plan, "stock": stock.plan, "prices": prices.plan}


@dataclass(frozen=True, kw_only=True)
class TakeInList(Command):
    """A list of households, opening stock or prices.

    Attributes
    ----------
    kind
        households, stock or prices.
    content, name
        The file's bytes and its name.
    asked
        What was said of it.
    locale
        In which dates and figures are read that could be read two ways; the yard's if "".
    seen
        `ListPlan.seen` of what was looked at; "" is not asked.
    """

    kind: str
    content: bytes
    name: str = ""
    asked: Asked = field(default_factory=Asked)
    locale: str = ""
    seen: str = ""


@dataclass(frozen=True)
class ColumnMatch:
    """A column of the file: its name, what stands in it first, and the id of ours that it means ("": not taken in)."""

    place: int
    head: str
    first: tuple[str, ...]
    meaning: str


@dataclass(frozen=True)
class ListPlan:
    """What a list would do.

    Attributes
    ----------
    sheets, sheet, head_line
        Of a workbook; and where the names of the columns were found.
    columns
        Every column of the file.
    lines
        What each line becomes that makes sense.
    problems
        Everything that is wrong; while there is any, nothing is taken in.
    """

    kind: str
    sheets: tuple[str, ...]
    sheet: str
    head_line: int
    decimal_comma: bool
    columns: tuple[ColumnMatch, ...]
    lines: tuple[PlannedLine, ...]
    problems: tuple[LogListProblem, ...]

    def of(self, state: str) -> tuple[PlannedLine, ...]:
        return tuple(line for line in self.lines if line.state == state)

    @property
    def not_taken(self) -> tuple[ColumnMatch, ...]:
        return tuple(item for item in self.columns if not item.meaning and (item.head or item.first))

    @property
    def bad_lines(self) -> int:
        return len({problem.line for problem in self.problems})

    @property
    def heads(self) -> str:
        """What says of which list the choices of columns are."""
        return heads_seen(self.kind, [item.head for item in self.columns])

    @property
    def seen(self) -> str:
        return state_of({"kind": self.kind, "lines": [line.told() for line in self.lines]})


def look_at_list(desk: Desk, command: TakeInList) -> ListPlan:
    """What taking in this list would do; nothing is written.

    Raises InputError if the file cannot be read as a list at all.
    """
    table = _table(command)
    with desk.book.read() as session:
        return _plan(session, desk.yard(session), table, command, desk.today())


def take_in_list(desk: Desk, command: TakeInList) -> Answer:
    """Takes in a list, all or nothing. Answer: kind, new, changed, same, ids (of what is new or changed).

    Raises LogListError with every bad line, ClashError if it would do something else by now than what was seen.
    """
    # The same key again gives the first answer, so the file is judged inside the deed only.
    return do(desk, "take_in_list", command, taking_list(command))


def taking_list(command: TakeInList) -> Callable[[Stage], Answer]:
    """What taking in a list does, inside the deed."""

    def run(stage: Stage) -> Answer:
        plan = _plan(stage.session, stage.yard, _table(command), command, stage.happened_on)
        if plan.problems:
            raise LogListError(plan.problems, field="file")
        if command.seen:
            must_be_as_seen(command.seen, {"kind": plan.kind, "lines": [line.told() for line in plan.lines]})
        ids: list[int] = []
        for line in plan.lines:
            if line.run is None:
                continue
            try:
                answer = line.run(stage)
            except InputError as error:
                wrong = LogListProblem(line.line, error.field, error.wanted, error.got, error.next_move)
                raise LogListError([wrong], field="file") from error
            ids.append(next(int(value) for name, value in answer.items() if name.endswith("_id")))
        return {
            "kind": plan.kind,
            "new": len(plan.of("new")),
            "changed": len(plan.of("change")),
            "same": len(plan.of("same")),
            "ids": ids,
        }

    return run


def _table(command: TakeInList) -> Table:
    one_of("kind", command.kind, tuple(KINDS))
    for name, unit in (("short_unit", command.asked.short_unit), ("long_unit", command.asked.long_unit)):
        if unit:
            one_of(name, unit, UNITS)

    def score(heads: Sequence[str]) -> int:
        named = {meaning_of(command.kind, head) for head in heads if len(head) < 80}
        needed = {item.id for item in COLUMNS[command.kind] if item.needed}
        return len(named - {""}) + len(named & needed)

    return read_table(command.content, score, sheet=command.asked.sheet, head_line=command.asked.head_line)


def _plan(session: Session, yard: Yard, table: Table, command: TakeInList, today: date) -> ListPlan:
    kind = command.kind
    meanings = chosen_columns(kind, table, guess(kind, table.heads), command.asked)
    wrong = double_columns(kind, table, meanings)
    most = MOST_LINES[kind]
    if not table.rows:
        wrong.append(
            LogListProblem(
                table.head_line,
                "list",
                T_("at least one line under the names of the columns"),
                T_("none"),
                T_("Begin with the example list."),
            )
        )
    elif len(table.rows) > most:
        wrong.append(
            LogListProblem(
                table.rows[most].line,
                "list",
                T_("at most {most} lines", most=most),
                str(len(table.rows)),
                T_("Split the list, and send its parts."),
            )
        )
    lines: list[PlannedLine] = []
    if not wrong:
        reader = Reader(
            kind, table, meanings, command.asked, command.locale or yard.locale, yard.currency, today
        )
        # Cells in columns that are not taken in may be as they like.
        taken = {reader.head(place) for place, meaning in enumerate(meanings) if meaning}
        reader.problems += [fault for fault in table.faults if fault.field in taken]
        reader.problems += _too_wide(table)
        lines = _PLANNERS[kind](reader, table.rows, session, yard)
        wrong = sorted(reader.problems, key=lambda problem: problem.line)
    return ListPlan(
        kind=kind,
        sheets=table.sheets,
        sheet=table.sheet,
        head_line=table.head_line,
        decimal_comma=table.decimal_comma,
        columns=_matches(table, meanings),
        lines=tuple(lines),
        problems=tuple(wrong),
    )


def _too_wide(table: Table) -> list[LogListProblem]:
    """Lines with more cells than there are columns: their cells may have shifted."""
    found = []
    for row in table.rows:
        cells = len(row.cells)
        while cells and not row.cells[cells - 1].strip():
            cells -= 1
        if cells > len(table.heads):
            found.append(
                LogListProblem(
                    row.line,
                    letters(cells - 1),
                    T_("{wanted} cells, one per column", wanted=len(table.heads)),
                    str(cells),
                    T_("Put a cell that holds the separator in quotes, or name the column."),
                )
            )
    return found


def _matches(table: Table, meanings: Sequence[str]) -> tuple[ColumnMatch, ...]:
    return tuple(
        ColumnMatch(
            place,
            table.heads[place],
            tuple(
                row.cells[place].strip()[:80]
                for row in table.rows[:3]
                if place < len(row.cells) and row.cells[place].strip()
            ),
            meaning,
        )
        for place, meaning in enumerate(meanings)
    )


__all__ = [
    "MOST_BYTES",
    "MOST_LINES",
    "ColumnMatch",
    "ListPlan",
    "TakeInList",
    "look_at_list",
    "take_in_list",
]
