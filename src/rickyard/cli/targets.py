"""Which book a command is about: the options that say it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

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
