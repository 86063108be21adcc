"""`rickyard book backup`, `restore`, `export`, `import`: the whole book, out and in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rickyard.cli.output import Json, give, table
from rickyard.cli.targets import BookOption, DatabaseOption, FilesOption, book_target
from rickyard.errors import InputError
from rickyard.text import T_

Anyway = Annotated[
    bool, typer.Option("--anyway", help="Take it although the check finds faults in it; they are listed.")
]
FromFile = Annotated[Path, typer.Option("--from", help="Archive that a backup made.", dir_okay=False)]
FromFolder = Annotated[Path, typer.Option("--from", help="Folder that an export made.", file_okay=False)]


def add_to(books: typer.Typer) -> None:
    books.command("backup")(backup)
    books.command("restore")(restore)
    books.command("export")(export)
    books.command("import")(import_)
    books.command("stock")(stock)


def backup(
    to: Annotated[
        Path, typer.Option("--to", help="Archive to make (.zip), or a folder for one named after the book.")
    ],
    book: BookOption = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    keep: Annotated[
        int | None,
        typer.Option(
            "--keep", help="How many backups of this name may stay; older ones become NAME.1, NAME.2, ..."
        ),
    ] = None,
    anyway: Anyway = False,
    json_: Json = False,
) -> None:
    """Saves the book and its photos in one archive, while it is in use, and proves the archive by restoring it."""
    from rickyard.desk.housekeeping import save_book

    done = save_book(book_target(book, database), to, keep=keep, files=files, anyway=anyway)
    heads, links = (
        {yard: {"number": head.number, "hash": head.hash} for yard, head in found.items()}
        for found in (done.manifest.chain, done.manifest.links)
    )
    lines = [
        f"Saved in {done.where} ({done.size_bytes / 1e6:.1f} MB, {done.files} photos), restored on trial and proven.",
        *(
            f"Last entry of yard {yard}: {head.number}, sealed {head.hash}"
            for yard, head in done.manifest.chain.items()
        ),
        *(
            f"Last link of yard {yard}: link:{head.number}, sealed {head.hash}"
            for yard, head in done.manifest.links.items()
        ),
        *(f"The check says: {problem}" for problem in done.problems),
        *(f"Removed: {path}" for path in done.removed),
    ]
    give(
        {
            "backup": done.where,
            "size_bytes": done.size_bytes,
            "files": done.files,
            "schema": done.manifest.schema,
            "chain": heads,
            "links": links,
            "problems": [str(problem) for problem in done.problems],
            "removed": list(done.removed),
        },
        lines,
        json_,
    )


def restore(
    from_: FromFile,
    to: Annotated[Path | None, typer.Option("--to", help="File of the book to make.", dir_okay=False)] = None,
    book: BookOption = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="A book may stand there; it is kept beside, under another name."),
    ] = False,
    anyway: Anyway = False,
    json_: Json = False,
) -> None:
    """Makes a book from a backup, proves it, and only then puts it in its place."""
    from rickyard.desk.housekeeping import bring_back

    if to is not None and book is not None and to != book:
        raise InputError(
            "to",
            wanted=T_("one place for the book"),
            got=T_("both {one} and {other}", one=to, other=book),
            next_move=T_("Say --to FILE, or --database URL."),
        )
    done = bring_back(
        from_,
        book_target(to if to is not None else book, database),
        replace=replace,
        files=files,
        anyway=anyway,
    )
    lines = [f"The book is at {done.url}: {done.report.entries} entries, {done.files} photos."]
    if done.kept:
        lines.append(f"The one that stood there is kept as {done.kept}.")
    lines += [f"The check says: {problem}" for problem in done.report.problems]
    give(
        {
            "book": done.url,
            "entries": done.report.entries,
            "files": done.files,
            "kept": done.kept or None,
            "problems": [str(problem) for problem in done.report.problems],
        },
        lines,
        json_,
    )


def export(
    to: Annotated[Path, typer.Option("--to", help="New or empty folder for the export.", file_okay=False)],
    book: BookOption = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    json_: Json = False,
) -> None:
    """Writes the whole book as CSV files with a manifest; docs/export.md describes them."""
    from rickyard.desk.housekeeping import copy_out

    done = copy_out(book_target(book, database), to, files=files)
    rows = {name: int(note["rows"]) for name, note in done.manifest.tables.items()}
    give(
        {
            "export": done.where,
            "schema": done.manifest.schema,
            "tables": rows,
            "files": done.files,
            "size_bytes": done.size_bytes,
        },
        [f"Exported to {done.where}: {len(rows)} tables, {sum(rows.values())} rows, {done.files} photos."],
        json_,
    )


def import_(
    from_: FromFolder,
    book: BookOption = None,
    database: DatabaseOption = None,
    files: FilesOption = None,
    anyway: Anyway = False,
    json_: Json = False,
) -> None:
    """Makes a new book from an export, whole or not at all, and proves it."""
    from rickyard.desk.housekeeping import copy_in

    done = copy_in(from_, book_target(book, database), files=files, anyway=anyway)
    give(
        {
            "book": done.url,
            "entries": done.report.entries,
            "files": done.files,
            "problems": [str(problem) for problem in done.report.problems],
        },
        [
            f"The book is at {done.url}: {done.report.entries} entries, {done.files} photos.",
            *(f"The check says: {problem}" for problem in done.report.problems),
        ],
        json_,
    )


def stock(
    on: Annotated[str, typer.Option("--on", help="The day (a date); what lay there at its end.")],
    book: BookOption = None,
    database: DatabaseOption = None,
    json_: Json = False,
) -> None:
    """What lay in loads and stacks on a day of the past, by all that has been reported since."""
    from rickyard.desk.housekeeping import open_book
    from rickyard.desk.past_stock import stock_on
    from rickyard.desk.yards import open_desk
    from rickyard.show.units import parse_date

    day = parse_date(on, "on")
    with open_book(book_target(book, database)) as opened:
        desk = open_desk(opened)
        lines = [] if desk is None else stock_on(desk, day)
    rows = [
        {
            "place": line.kind,
            "name": line.name,
            "species": line.species.id,
            "form": line.form,
            "country": line.harvest.country,
            "subdivision": line.harvest.subdivision,
            "county": line.harvest.county,
            "certificate": line.harvest.certificate,
            "oven_dry_kg": line.kg,
        }
        for line in lines
    ]
    heads = ["place", "species", "form", "harvest", "certificate", "oven-dry kg"]
    shown = [
        [
            f"{line.kind} {line.name}",
            line.species.common_en,
            line.form,
            " ".join(filter(None, (line.harvest.country, line.harvest.subdivision, line.harvest.county))),
            line.harvest.certificate,
            f"{line.kg:.0f}",
        ]
        for line in lines
    ]
    give(
        {"on": day, "stock": rows, "oven_dry_kg": sum(line.kg for line in lines)}, table(shown, heads), json_
    )
