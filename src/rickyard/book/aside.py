"""A book in a file made beside its place, and put there only when it is whole.

Until then it is nobody's: what fails, or is stopped, leaves nothing in its place.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Generic, TypeVar

from sqlalchemy import URL

from rickyard.book.book import Book, is_there, trouble
from rickyard.book.engine import Target, book_url, is_sqlite, shown
from rickyard.book.exports import BOOK_FILE
from rickyard.book.files import FileStore, sync_folder
from rickyard.errors import BookError
from rickyard.text import T_

Told = TypeVar("Told")


@dataclass(frozen=True)
class Put(Generic[Told]):
    """A book that has its place: what its maker told, its photos, and where the book lies that stood there."""

    made: Told
    files: int
    kept: str = ""


def into_file(url: URL, make: Callable[[Path], Told], *, replace: bool = False) -> Put[Told]:
    """Has a book made (as `book.sqlite`) in a folder beside its place, then gives it its name.

    `replace`: a book may stand there. It is kept under another name, with its photos.
    """
    place = Path(shown(url))
    photos = Path(f"{place}.files")
    with trouble(str(place)):
        place.parent.mkdir(parents=True, exist_ok=True)
        if not replace:
            for taken in (place, photos):
                if taken.exists():
                    raise is_there(str(taken))
        with beside(place) as aside:
            told = make(aside)
            made = aside / BOOK_FILE
            one_file(made)
            kept = _set_aside(place, photos) if replace and place.exists() else ""
            new_photos = Path(f"{made}.files")
            count = 0
            if new_photos.exists():
                count = sum(1 for _ in FileStore(new_photos).all())
                os.rename(new_photos, photos)
            try:
                # Nothing is overwritten, even if somebody made a book here meanwhile.
                place.open("x").close()
            except FileExistsError as error:
                raise is_there(str(place)) from error
            os.replace(made, place)
            sync_folder(place.parent)
    return Put(told, count, kept)


def filled(target: Target, fill: Callable[[Book], Told]) -> Told:
    """Makes a new book and fills it; gives what `fill` gives. In a file it has its place only when it is whole.

    So nothing need wait for the disk before: what is filled halfway when the power fails is thrown away anyhow.
    On a server `fill` works in the book itself.

    Raises BookError if something is there already, or as `Book.open`.
    """
    url = book_url(target)
    if not is_sqlite(url):
        with Book.open(target, create=True) as book:
            return fill(book)

    def make(aside: Path) -> Told:
        with Book.open(aside / BOOK_FILE, create=True, lasting=False) as book:
            told = fill(book)
            book.files.settle()
        return told

    return into_file(url, make).made


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A folder on the same disk, gone at the end."""
    folder = Path(tempfile.mkdtemp(prefix=f".{path.name}-", dir=path.parent))
    try:
        yield folder
    finally:
        shutil.rmtree(folder)


def one_file(path: Path) -> None:
    """Puts what SQLite keeps beside a file into it, and the file on the disk. Fails while others have it open."""
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=1)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _set_aside(place: Path, photos: Path) -> str:
    """Gives the book that stands here another name, with its photos. BookError (`in_use`) if others have it open."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    kept = place.with_name(f"{place.name}.before-{stamp}")
    try:
        one_file(place)
    except sqlite3.OperationalError as error:
        if error.sqlite_errorname.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            raise BookError(
                T_(
                    "The book {where} is in use. Stop the server and whatever else has it open, then restore again.",
                    where=place,
                ),
                code="in_use",
            ) from error
    except sqlite3.DatabaseError as error:
        # A damaged book is what backups are for: it is kept as it is, with the files that SQLite has beside it.
        if not error.sqlite_errorname.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
            raise
    for end in ("-wal", "-shm", ""):
        if Path(f"{place}{end}").exists():
            os.rename(f"{place}{end}", f"{kept}{end}")
    if photos.exists():
        os.rename(photos, f"{kept}.files")
    return str(kept)
