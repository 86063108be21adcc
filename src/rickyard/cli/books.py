"""`rickyard book ...`: make a book, make the demo yard, check one."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from rickyard.cli.output import Json, give
from rickyard.errors import InputError
from rickyard.text import T_

BookOption = Annotated[Path | None, typer.Option("--book", help="File of the book.", dir_okay=False)]
DatabaseOption = Annotated[
    str | None, typer.Option("--database", help="Address of a PostgreSQL database in place of a file.")
]
FilesOption = Annotated[
    Path | None,
    typer.Option(
        "--files",
        help="Folder of the photos of a book on a server (or RICKYARD_FILES); those of a book in a file lie beside it.",
        file_okay=False,
    ),
]


def add_to(app: typer.Typer) -> None:
    books = typer.Typer(help="The yard's records.", no_args_is_help=True, rich_markup_mode=None)
    books.command("new")(new)
    books.command("demo")(demo)
    books.command("check")(check)
    books.command("upgrade")(upgrade)
    app.add_typer(books, name="book")


def book_target(book: Path | None, database: str | None) -> str:
    """The one target that was said: a path or a database address."""
    if (book is None) == (database is None):
        raise InputError(
            "book",
            wanted=T_("either --book FILE or --database URL"),
            got=T_("both") if book is not None else T_("neither"),
            next_move=T_("Say which book is meant."),
        )
    return str(book) if book is not None else str(database)


def new(book: BookOption = None, database: DatabaseOption = None, json_: Json = False) -> None:
    """Makes an empty book; the yard is set up at the first start of the web application."""
    from rickyard.desk.housekeeping import new_book

    url = new_book(book_target(book, database))
    give({"book": url}, [f"A new book is at {url}."], json_)


def demo(
    book: BookOption = None,
    database: DatabaseOption = None,
    as_of: Annotated[
        str | None, typer.Option("--as-of", help="Last day of the history (a date); today if not said.")
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Another seed makes another history.")] = 20,
    json_: Json = False,
) -> None:
    """Makes a new book with the demo yard: four winters of an invented yard near Fredericton."""
    from rickyard.desk.demo import make_demo
    from rickyard.desk.housekeeping import checked
    from rickyard.show.units import parse_date

    target = book_target(book, database)
    day = parse_date(as_of, "as-of") if as_of else date.today()  # noqa: DTZ011 - the user's own today
    desk = make_demo(target, as_of=day, seed=seed, say=lambda line: typer.echo(line, err=True))
    url = desk.book.url
    desk.book.close()
    report = checked(target)
    give(
        {"book": url, "as_of": day, "ok": report.ok, "entries": report.entries},
        [f"The demo yard is at {url}: {report.entries} entries in the journal."],
        json_,
    )


def check(
    book: BookOption = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    json_: Json = False,
) -> int:
    """Proves the book: every entry balances, nothing is orphaned, no number and no photo is missing."""
    from rickyard.desk.housekeeping import checked

    target = book_target(book, database)
    report = checked(target, files=files)
    lines = [str(problem) for problem in report.problems] or [
        f"All is well: {report.entries} entries, balance {report.balance_g} g."
    ]
    give(
        {
            "ok": report.ok,
            "problems": [str(problem) for problem in report.problems],
            "entries": report.entries,
            "balance_g": report.balance_g,
        },
        lines,
        json_,
    )
    return 0 if report.ok else 1


def upgrade(book: BookOption = None, database: DatabaseOption = None, json_: Json = False) -> None:
    """Brings a book of an earlier version to this one."""
    from rickyard.desk.housekeeping import upgrade_book

    url = upgrade_book(book_target(book, database))
    give({"book": url}, [f"{url} is at this version now."], json_)
