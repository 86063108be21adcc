"""`rickyard book ...`: make a book, make the demo yard, check one, upgrade one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rickyard.cli import copies, lists
from rickyard.cli.output import Json, give
from rickyard.cli.targets import BookOption as BookOption
from rickyard.cli.targets import DatabaseOption as DatabaseOption
from rickyard.cli.targets import FilesOption as FilesOption
from rickyard.cli.targets import book_target as book_target
from rickyard.errors import BookError, InputError
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.desk.context import Desk

WhyOption = Annotated[
    str, typer.Option("--why", help="Why, in words that do not name them: they stay among the deeds.")
]


def add_to(app: typer.Typer) -> None:
    books = typer.Typer(help="The yard's records.", no_args_is_help=True, rich_markup_mode=None)
    books.command("new")(new)
    books.command("demo")(demo)
    books.command("check")(check)
    books.command("upgrade")(upgrade)
    books.command("forget-reason")(forget_reason)
    books.command("forget-household")(forget_household)
    books.command("forget-buyer")(forget_buyer)
    copies.add_to(books)
    lists.add_to(books)
    app.add_typer(books, name="book")


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
    from rickyard.desk.demo import demo_day, make_demo
    from rickyard.desk.housekeeping import checked
    from rickyard.show.units import parse_date

    target = book_target(book, database)
    day = parse_date(as_of, "as-of") if as_of else demo_day(datetime.now(UTC))
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
    chain: Annotated[
        list[str] | None,
        typer.Option(
            "--chain",
            help="What was written down, YARD:NUMBER:HASH of an entry or YARD:link:NUMBER:HASH of a link: all up to it "
            "must be as it was then; may be repeated.",
        ),
    ] = None,
    against: Annotated[
        list[Path] | None,
        typer.Option(
            "--against",
            help="A backup, or the folder of an export: all of its journal must be in the book; may be repeated.",
            exists=True,
        ),
    ] = None,
    json_: Json = False,
) -> int:
    """Proves the book: every entry balances, nothing is orphaned, no number and no photo is missing."""
    from rickyard.desk.housekeeping import checked

    target = book_target(book, database)
    heads = [_head(said) for said in chain or ()]
    report = checked(target, files=files, against=against or (), heads=heads)
    lines = [str(problem) for problem in report.problems] or [
        f"All is well: {report.entries} entries, balance {report.balance_g} g."
    ]
    if (chain or against) and not {problem.code for problem in report.problems} & {
        "chain_broken",
        "journal_shorter",
        "journal_rewritten",
        "seal_broken",
        "links_shorter",
        "links_rewritten",
    }:
        lines.append("The book still holds all that it is held against, unchanged.")
    lines += [f"Last entry of yard {yard}: {n}, sealed {h}" for yard, (n, h) in report.chain.items()]
    lines += [f"Last link of yard {yard}: link:{n}, sealed {h}" for yard, (n, h) in report.links.items()]
    give(
        {
            "ok": report.ok,
            "problems": [str(problem) for problem in report.problems],
            "entries": report.entries,
            "balance_g": report.balance_g,
            "chain": {str(yard): {"number": n, "hash": h} for yard, (n, h) in report.chain.items()},
            "links": {str(yard): {"number": n, "hash": h} for yard, (n, h) in report.links.items()},
        },
        lines,
        json_,
    )
    return 0 if report.ok else 1


def _head(said: str) -> tuple[int, int, str, str]:
    """Yard, number and hash of an entry or a link as they were written down, and which of them it is."""
    found = re.fullmatch(r"(\d{1,9}):(link:)?(\d{1,9}):([0-9a-fA-F]{64})", said.strip())
    if found is None:
        raise InputError(
            "chain",
            wanted=T_("YARD:NUMBER:HASH or YARD:link:NUMBER:HASH, the hash with all of its 64 digits"),
            got=said,
            next_move=T_("Copy them from the last line of an earlier check or backup."),
        )
    return int(found[1]), int(found[3]), found[4].lower(), "link" if found[2] else "entry"


def upgrade(
    book: BookOption = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    backup: Annotated[
        Path | None,
        typer.Option(
            "--backup",
            help="Where the book is saved as it was; beside its file if not said, in this folder for one on a server.",
            dir_okay=False,
        ),
    ] = None,
    no_backup: Annotated[
        bool, typer.Option("--no-backup", help="Make no backup; you have one yourself.")
    ] = False,
    json_: Json = False,
) -> None:
    """Brings a book of an earlier version to this one, after a backup that was tried."""
    from rickyard.desk.housekeeping import upgrade_book

    url, saved = upgrade_book(
        book_target(book, database), backup=backup, without_backup=no_backup, files=files
    )
    lines = [f"{url} is at this version now."]
    if saved is not None:
        lines.insert(0, f"As it was, it is saved in {saved.where}.")
    give({"book": url, "backup": saved.where if saved else None}, lines, json_)


# What all of these say at the end, because copies are beyond the book's reach.
COPIES = "Backups and exports made before still hold {it}: delete those that need not be kept."


@contextmanager
def _desk(target: str, files: Path | None = None) -> Iterator[Desk]:
    from rickyard.desk.housekeeping import open_book
    from rickyard.desk.yards import open_desk

    with open_book(target, files=files) as opened:
        desk = open_desk(opened)
        if desk is None:
            raise BookError(T_("The book has no yard yet. Set one up first."), code="no_yard")
        yield desk


def forget_reason(
    entry: Annotated[int, typer.Option("--entry", help="Number of the entry in the yard's journal.", min=1)],
    why: Annotated[
        str, typer.Option("--why", help="Why, in words that name nobody: they stay among the deeds.")
    ] = "",
    book: BookOption = None,
    database: DatabaseOption = None,
    json_: Json = False,
) -> None:
    """Takes the reason of an entry out for good, because it names somebody, say. The chain holds as before."""
    from rickyard.desk.context import new_key
    from rickyard.desk.forgetting import ForgetReason
    from rickyard.desk.forgetting import forget_reason as forget

    with _desk(book_target(book, database)) as desk:
        answer = forget(desk, ForgetReason(key=new_key(), entry=entry, why=why))
    give(answer, [f"The reason of entry {entry} is taken out. {COPIES.format(it='it')}"], json_)


def forget_household(
    household: Annotated[
        int,
        typer.Option("--household", help="Number of the household, as in the address of its page.", min=1),
    ],
    why: WhyOption,
    book: BookOption = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    json_: Json = False,
) -> None:
    """Forgets who a household was: name, address, phone, notes, on its tickets too. Wood and money stay.

    Refused while an order is open or money is owed. It cannot be undone.
    """
    from rickyard.desk.context import new_key
    from rickyard.desk.forgetting import ForgetHousehold
    from rickyard.desk.forgetting import forget_household as forget

    with _desk(book_target(book, database), files) as desk:
        answer = forget(desk, ForgetHousehold(key=new_key(), household_id=household, reason=why))
    lines = [
        f"Household {household} is called {answer['name']} now, also on its tickets ({len(answer['tickets'])}). "
        f"{COPIES.format(it='who it was')}"
    ]
    give(answer, lines + _still_to_read(answer["reasons"]), json_)


def forget_buyer(
    ticket: Annotated[int, typer.Option("--ticket", help="Number of the ticket, as its paper says.", min=1)],
    why: WhyOption,
    book: BookOption = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    json_: Json = False,
) -> None:
    """Forgets who bought at the gate on a ticket. Wood, money and the ticket's number stay.

    Refused while money is owed on it. It cannot be undone.
    """
    from rickyard.desk.context import new_key
    from rickyard.desk.forgetting import ForgetBuyer
    from rickyard.desk.forgetting import forget_buyer as forget
    from rickyard.desk.tickets import ticket_numbered

    with _desk(book_target(book, database), files) as desk:
        found = ticket_numbered(desk, ticket)
        answer = forget(desk, ForgetBuyer(key=new_key(), ticket_id=found.id, reason=why))
    lines = [f"Ticket {ticket} names no buyer any more. {COPIES.format(it='the name')}"]
    give(answer, lines + _still_to_read(answer["reasons"]), json_)


def _still_to_read(numbers: list[int]) -> list[str]:
    """Free text that only a person can judge."""
    if not numbers:
        return []
    said = ", ".join(str(number) for number in numbers)
    return [
        f"Read the reasons of these entries, and take out those that name somebody (forget-reason): {said}."
    ]
