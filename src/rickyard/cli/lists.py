"""`rickyard book take-in-list`, `example-list`: lists of customers, stock and prices from other programs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rickyard.cli.output import Json, give
from rickyard.cli.targets import BookOption, DatabaseOption, book_target
from rickyard.errors import BookError, InputError
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.desk.lists.taking import ListPlan

Kind = Annotated[str, typer.Option("--kind", help="households, stock or prices.")]


def add_to(books: typer.Typer) -> None:
    books.command("take-in-list")(take_in)
    books.command("example-list")(example)


def take_in(
    file: Annotated[Path, typer.Argument(help="The list: CSV (any usual encoding) or XLSX.", dir_okay=False)],
    kind: Kind,
    book: BookOption = None,
    database: DatabaseOption = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column",
            help="NAME=HEADER: which of the file's columns means NAME (HEADER as written, or #3 for the third); "
            "=HEADER takes a column not in. Again for each; what is not said is guessed.",
        ),
    ] = None,
    sheet: Annotated[str, typer.Option("--sheet", help="Sheet of a workbook, by its name.")] = "",
    head_line: Annotated[
        int, typer.Option("--head-line", help="Line with the names of the columns; 0: found out.", min=0)
    ] = 0,
    short_unit: Annotated[
        str, typer.Option("--short-unit", help="Unit of lengths of pieces without one: in, cm, mm, ft or m.")
    ] = "",
    long_unit: Annotated[
        str, typer.Option("--long-unit", help="Unit of lengths of stacks without one: ft, m, in, cm or mm.")
    ] = "",
    harvest: Annotated[
        str, typer.Option("--harvest", help="Where the trees stood, if the list does not say: CA-NB, say.")
    ] = "",
    take: Annotated[
        bool,
        typer.Option("--take/--dry-run", help="Write it; if not said, it is only shown what it would do."),
    ] = False,
    key: Annotated[
        str, typer.Option("--key", help="A key of 8 to 64 signs: the same again does nothing again.")
    ] = "",
    json_: Json = False,
) -> None:
    """Shows what a list would do line by line, and with --take does it: all of it, or nothing if a line is bad."""
    from rickyard.desk.context import new_key
    from rickyard.desk.housekeeping import open_book
    from rickyard.desk.lists import Asked
    from rickyard.desk.lists.reading import MOST_BYTES
    from rickyard.desk.lists.taking import TakeInList, look_at_list, take_in_list
    from rickyard.desk.yards import open_desk
    from rickyard.measure.loglist import LogListError

    asked = Asked(
        sheet, head_line, tuple(_pair(item) for item in column or ()), short_unit, long_unit, harvest
    )
    command = TakeInList(
        key=key or new_key(), kind=kind, content=_read(file, MOST_BYTES), name=file.name, asked=asked
    )
    with open_book(book_target(book, database)) as opened:
        desk = open_desk(opened)
        if desk is None:
            raise BookError(T_("The book has no yard yet. Set one up first."), code="no_yard")
        done: dict[str, Any] | None = None
        if take and key:
            # Sent once already, it is not judged again: the first answer comes back.
            done = take_in_list(desk, command)
        plan = look_at_list(desk, command)
        if plan.problems and done is None:
            if not json_:
                for line in _told(plan):
                    typer.echo(line)
            raise LogListError(plan.problems, field="file")
        if take and done is None:
            done = take_in_list(desk, command)
    counts = done or {
        "kind": plan.kind,
        "new": len(plan.of("new")),
        "changed": len(plan.of("change")),
        "same": len(plan.of("same")),
        "ids": [],
    }
    result = counts | {
        "taken": done is not None,
        "sheet": plan.sheet,
        "head_line": plan.head_line,
        "columns": {item.head: item.meaning for item in plan.columns if item.meaning},
        "not_taken_in": [item.head for item in plan.not_taken],
        "lines": [] if done is not None else [_line(line) for line in plan.lines],
        "problems": [],
    }
    words = [f"Taken in: {counts['new']} new, {counts['changed']} changed, {counts['same']} as they were."]
    give(result, words if done is not None else [*_told(plan), "Nothing is written yet: say --take."], json_)


def example(
    kind: Kind,
    to: Annotated[Path, typer.Option("--to", help="File to make: .csv or .xlsx.", dir_okay=False)],
    language: Annotated[str, typer.Option("--language", help="en or fr.")] = "en",
    json_: Json = False,
) -> None:
    """Makes an empty list with the right columns and one invented line, to be filled in."""
    from rickyard.desk.lists.examples import example_list

    if to.exists():
        raise InputError(
            "to",
            wanted=T_("a file that is not there yet"),
            got=to,
            next_move=T_("Say another name, or take that file away."),
        )
    made = example_list(kind, to.suffix.removeprefix(".").lower(), language)
    try:
        to.write_bytes(made)
    except OSError as error:
        raise InputError(
            "to",
            wanted=T_("a place that can be written"),
            got=error.strerror or str(error),
            next_move=T_("Choose another folder."),
        ) from error
    give({"example": str(to), "kind": kind}, [f"The example is {to}."], json_)


def _read(file: Path, most: int) -> bytes:
    try:
        with file.open("rb") as opened:
            # One byte more than is taken, so that the desk can say that it is too large.
            return opened.read(most + 1)
    except OSError as error:
        raise InputError(
            "file",
            wanted=T_("a file that can be read"),
            got=f"{file}: {error.strerror or error}",
            next_move=T_("Check its name."),
        ) from error


def _pair(text: str) -> tuple[str, str]:
    meaning, sign, head = text.partition("=")
    if not sign or not head.strip():
        raise InputError(
            "column",
            wanted=T_("NAME=HEADER, such as phone=Mobile"),
            got=text,
            next_move=T_("Put the equals sign between our name and the file's."),
        )
    return head.strip(), meaning.strip()


def _told(plan: ListPlan) -> list[str]:
    matched = "; ".join(f"{item.head} -> {item.meaning}" for item in plan.columns if item.meaning)
    lines = [f"Columns (names on line {plan.head_line}): {matched}"]
    if plan.sheets:
        lines.insert(0, f"Sheet: {plan.sheet} (of {', '.join(plan.sheets)})")
    if plan.not_taken:
        lines.append("Not taken in: " + "; ".join(item.head or item.first[0] for item in plan.not_taken))
    words = {"new": "new", "change": "changes", "same": "same already, passed over"}
    for line in plan.lines:
        changed = "; ".join(f"{fact.id}: {fact.was} -> {fact.value}" for fact in line.changes)
        if line.state == "new":
            changed = "; ".join(f"{fact.id}: {fact.value}" for fact in line.facts if fact.id != "name")
        lines.append(
            f"Line {line.line}: {words[line.state]}: {line.title}" + (f" ({changed})" if changed else "")
        )
        lines += [f"  {note}" for note in line.notes]
    lines += [str(problem.text) for problem in plan.problems]
    bad = (
        f", {_some(len(plan.problems), 'mistake')} in {_some(plan.bad_lines, 'line')}"
        if plan.problems
        else ""
    )
    lines.append(
        f"{len(plan.of('new'))} new, {len(plan.of('change'))} changed, {len(plan.of('same'))} as they are{bad}."
    )
    return lines


def _some(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _line(line: Any) -> dict[str, Any]:
    return {
        "line": line.line,
        "state": line.state,
        "title": line.title,
        "id": line.in_book,
        "facts": {fact.id: fact.value for fact in line.facts},
        "changes": {fact.id: {"from": fact.was, "to": fact.value} for fact in line.changes},
        "notes": [str(note) for note in line.notes],
    }
