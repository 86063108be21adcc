"""`rickyard serve`: the web application."""

from __future__ import annotations

import ipaddress
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rickyard.cli.books import DatabaseOption, FilesOption, book_target
from rickyard.cli.output import Json
from rickyard.errors import InputError
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.web.server import OwnHttps, Served

BookPath = Annotated[
    Path | None, typer.Option("--book", help="File of the book; made if it is not there yet.", dir_okay=False)
]


def add_to(app: typer.Typer) -> None:
    app.command("serve")(serve)


def serve(
    book: BookPath = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    host: Annotated[
        str | None,
        typer.Option(help="Address to listen on; 127.0.0.1 if not said, with --https 0.0.0.0 (all)."),
    ] = None,
    port: Annotated[
        int, typer.Option(help="Port to listen on; 0 takes a free one.", min=0, max=65535)
    ] = 8040,
    https: Annotated[
        bool,
        typer.Option(
            "--https",
            help="Serve phones on the yard's own network over HTTPS, with a certificate authority of this computer "
            "that each phone is told to trust once.",
        ),
    ] = False,
    start_port: Annotated[
        int,
        typer.Option(
            help="With --https: plain port of the page that brings phones; 0 takes a free one.",
            min=0,
            max=65535,
        ),
    ] = 8041,
    name: Annotated[
        list[str] | None,
        typer.Option("--name", help="With --https: a further host name of this computer; may be repeated."),
    ] = None,
    https_folder: Annotated[
        Path | None,
        typer.Option(
            "--https-folder",
            help="With --https: where the authority is kept; beside the book's file if not said.",
            file_okay=False,
        ),
    ] = None,
    proxy: Annotated[
        list[str] | None,
        typer.Option(
            "--proxy",
            help="Address or network of a reverse proxy whose forwarded headers are believed; may be repeated.",
        ),
    ] = None,
    plain_http: Annotated[
        bool,
        typer.Option(
            "--plain-http",
            help="Serve other machines without HTTPS. Lost then: pages without signal, the outbox, and secrecy: "
            "anyone on the network can read what is sent.",
        ),
    ] = False,
    demo: Annotated[bool, typer.Option("--demo", help="Fill a new book with the demo yard.")] = False,
    as_of: Annotated[
        str | None,
        typer.Option("--as-of", help="Last day of the demo's history (a date); today if not said."),
    ] = None,
    json_: Json = False,
) -> None:
    """Serves the web application and prints its address."""
    from rickyard.desk.demo import demo_day
    from rickyard.desk.housekeeping import ensure_book, use_files
    from rickyard.show.units import parse_date
    from rickyard.web.app import named_hosts
    from rickyard.web.server import plain_http_error, reaches_others, run_server

    target = book_target(book, database)
    own = _own_https(
        book, wanted=https, folder=https_folder, names=name, start_port=start_port, plain_http=plain_http
    )
    where = host or ("0.0.0.0" if https else "127.0.0.1")
    proxies = _networks(proxy or [])
    plain_to_others = own is None and reaches_others(where)
    if plain_to_others and not plain_http:
        raise plain_http_error(where)
    use_files(files)
    day = parse_date(as_of, "as-of") if as_of else demo_day(datetime.now(UTC))
    ensure_book(target, demo=demo, as_of=day, say=lambda line: typer.echo(line, err=True))
    if reaches_others(where) or proxies or named_hosts():
        _need_owner_password(target, "host" if reaches_others(where) else "proxy")
    if plain_to_others:
        typer.echo(
            "Serving without HTTPS: other devices have no pages without signal and no outbox, and anyone on the "
            "network can read what is sent.",
            err=True,
        )

    def announce(served: Served) -> None:
        typer.echo(json.dumps(_as_object(served)) if json_ else "\n".join(_as_lines(served)))
        for note in served.notes:
            typer.echo(f"Note: {note}", err=True)

    run_server(target, host=where, port=port, announce=announce, https=own, proxies=proxies)


def _need_owner_password(target: str, field: str) -> None:
    """Where others can reach the book, they must be asked who they are."""
    from rickyard.desk.access import is_locked
    from rickyard.desk.housekeeping import open_book
    from rickyard.desk.yards import open_desk

    book = open_book(target)
    try:
        desk = open_desk(book)
        locked = desk is not None and is_locked(desk)
    finally:
        book.close()
    if not locked:
        raise InputError(
            field,
            wanted=T_("an owner's password, before others can reach the book"),
            got=T_("no owner with a password") if desk is not None else T_("a book without a yard"),
            next_move=T_(
                "Serve it on this computer alone first (leave --host, --https and --proxy away), set the yard up, "
                "and give an owner a password under People; or say: rickyard people password NAME --book FILE."
            ),
            code="no_owner_password",
        )


def _own_https(
    book: Path | None,
    *,
    wanted: bool,
    folder: Path | None,
    names: list[str] | None,
    start_port: int,
    plain_http: bool,
) -> OwnHttps | None:
    """What was said about HTTPS, put together; InputError if it does not go together."""
    from rickyard.web.authority import host_name
    from rickyard.web.server import OwnHttps

    if wanted and plain_http:
        raise InputError(
            "https",
            wanted=T_("either --https or --plain-http"),
            got=T_("both"),
            next_move=T_("--https is the one that phones need."),
        )
    if not wanted:
        for field, said in (("name", names), ("https_folder", folder)):
            if said:
                raise InputError(
                    field,
                    wanted=T_("--https beside it"),
                    got=T_("no --https"),
                    next_move=T_("Add --https, or leave it away."),
                )
        return None
    if folder is None and book is None:
        raise InputError(
            "https_folder",
            wanted=T_("a folder for the certificate authority"),
            got=T_("none"),
            next_move=T_(
                "Beside a book's file it has its place by itself; with --database say --https-folder FOLDER, "
                "on a disk of this computer that is kept."
            ),
        )
    if folder is None:
        folder = Path(f"{book}.https")
    return OwnHttps(folder, tuple(host_name(item) for item in names or ()), start_port)


def _networks(said: list[str]) -> list[str]:
    """Addresses and networks of proxies; a typing error here would believe nobody, or everybody."""
    for item in said:
        try:
            ipaddress.ip_network(item)
        except ValueError as error:
            raise InputError(
                "proxy",
                wanted=T_("an address such as 127.0.0.1, or a network such as 172.18.0.0/16"),
                got=item,
                next_move=T_("Give the address from which the proxy's requests come."),
            ) from error
    return said


def _as_object(served: Served) -> dict[str, str]:
    found = {"url": served.url}
    if served.start_url:
        found |= {"start_url": served.start_url, "authority_sha256": served.authority_sha256}
    return found


def _as_lines(served: Served) -> list[str]:
    lines = [f"Rickyard is at {served.url}  (Ctrl+C stops it)"]
    if served.start_url:
        half = len(served.fingerprint) // 2
        lines += [
            f"To bring a phone, open {served.own_start_url} on this computer and scan what it shows,",
            f"or open {served.start_url} on the phone. Before trusting the certificate, compare its SHA-256:",
            f"    {'  '.join(served.fingerprint[:half])}",
            f"    {'  '.join(served.fingerprint[half:])}",
        ]
    return lines
