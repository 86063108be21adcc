"""`rickyard serve`: the web application."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from rickyard.cli.books import DatabaseOption, FilesOption, book_target
from rickyard.cli.output import Json

BookPath = Annotated[
    Path | None, typer.Option("--book", help="File of the book; made if it is not there yet.", dir_okay=False)
]


def add_to(app: typer.Typer) -> None:
    app.command("serve")(serve)


def serve(
    book: BookPath = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[
        int, typer.Option(help="Port to listen on; 0 takes a free one.", min=0, max=65535)
    ] = 8040,
    demo: Annotated[bool, typer.Option("--demo", help="Fill a new book with the demo yard.")] = False,
    as_of: Annotated[
        str | None,
        typer.Option("--as-of", help="Last day of the demo's history (a date); today if not said."),
    ] = None,
    json_: Json = False,
) -> None:
    """Serves the web application and prints its address."""
    from rickyard.desk.housekeeping import ensure_book, use_files
    from rickyard.show.units import parse_date
    from rickyard.web.server import run_server

    target = book_target(book, database)
    use_files(files)
    day = parse_date(as_of, "as-of") if as_of else date.today()  # noqa: DTZ011 - the demo ends on the user's own today
    ensure_book(target, demo=demo, as_of=day, say=lambda line: typer.echo(line, err=True))

    def announce(url: str) -> None:
        if json_:
            typer.echo(json.dumps({"url": url}))
        else:
            typer.echo(f"Rickyard is at {url}  (Ctrl+C stops it)")

    run_server(target, host=host, port=port, announce=announce)
