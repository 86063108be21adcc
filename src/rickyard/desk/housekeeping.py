"""Books as wholes: made, filled with the demo, checked, copied, upgraded."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from rickyard.book import (
    Book,
    CheckReport,
    Copied,
    Kept,
    Made,
    back_up,
    check,
    export_book,
    import_book,
    kept_in,
    migrations,
    restore,
)
from rickyard.book.book import look_at
from rickyard.book.engine import book_url, is_sqlite
from rickyard.book.files import ENVIRONMENT
from rickyard.desk.demo import make_demo


def new_book(target: str) -> str:
    """Makes an empty book and gives its address without secrets; BookError if something is there already."""
    with Book.open(target, create=True) as book:
        return book.url


def ensure_book(target: str, *, demo: bool, as_of: date, say: Callable[[str], None]) -> None:
    """Makes the book if its file is not there yet, with the demo yard if asked; an existing one is left alone."""
    if "://" in target or Path(target).exists():
        return
    if demo:
        say("Making the demo yard; this takes less than a minute.")
        make_demo(target, as_of=as_of, say=say).book.close()
    else:
        new_book(target)


def use_files(folder: Path | None) -> None:
    """Names the folder of photos for this process and those it starts (the worker makes forecasts in others)."""
    if folder is not None:
        os.environ[ENVIRONMENT] = str(folder.absolute())


def open_book(target: str, *, files: Path | None = None) -> Book:
    """Opens a book that is there. BookError if it is missing, foreign, corrupt, or of another version.

    `files` as in `checked`.
    """
    return Book.open(target, files=files)


def checked(
    target: str,
    *,
    files: Path | None = None,
    against: Sequence[Path] = (),
    heads: Sequence[tuple[int, int, str, str]] = (),
) -> CheckReport:
    """Proves a book; `files` is the folder of the photos of one on a server, if RICKYARD_FILES does not say it.

    `against` are backups or exports, `heads` (yard, number, hash, "entry" or "link") what was written down: both
    chains up to there must still be the same.
    """
    kept = [Kept(*head) for head in heads]
    for copy in against:
        kept += kept_in(copy)
    with Book.open(target, files=files) as book:
        return check(book, kept)


def upgrade_book(
    target: str, *, backup: Path | None = None, without_backup: bool = False, files: Path | None = None
) -> tuple[str, Copied | None]:
    """Brings a book to this version, after a backup of it as it was. Gives its address without secrets, and the backup.

    `backup`: where to; beside the file of a book if not said, in the working folder for one on a server.
    A current book is left alone, and no backup is made. The backup was upgraded on trial before the book is touched.
    """
    url = book_url(target)
    revision = look_at(url, older_is_wrong=False)
    copied = None
    if revision != migrations.HEAD and not without_backup:
        name = f"{Path(str(url.database)).name}.before-{migrations.HEAD}.zip"
        beside = Path(str(url.database)).parent if is_sqlite(url) else Path.cwd()
        # An upgrade that was stopped is tried again: its backup gives way, but only one that is whole takes its place.
        copied = back_up(
            target, backup or beside / name, keep=1 if backup is None else None, files=files, anyway=True
        )
    Book.upgrade(target)
    with Book.open(target) as book:
        return book.url, copied


def copy_out(target: str, folder: Path, *, files: Path | None = None) -> Copied:
    """Writes the whole book as CSV files (docs/export.md)."""
    return export_book(target, folder, files=files)


def copy_in(folder: Path, target: str, *, files: Path | None = None, anyway: bool = False) -> Made:
    """Makes a new book from an export."""
    return import_book(folder, target, files=files, anyway=anyway)


def save_book(
    target: str, to: Path, *, keep: int | None = None, files: Path | None = None, anyway: bool = False
) -> Copied:
    """Copies a book that may be in use into one archive, and tries the archive."""
    return back_up(target, to, keep=keep, files=files, anyway=anyway)


def bring_back(
    archive: Path, target: str, *, replace: bool = False, files: Path | None = None, anyway: bool = False
) -> Made:
    """Makes a book from a backup."""
    return restore(archive, target, replace=replace, files=files, anyway=anyway)
