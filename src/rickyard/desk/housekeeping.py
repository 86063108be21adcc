"""Books as wholes: made, filled with the demo, checked, upgraded."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date
from pathlib import Path

from rickyard.book import Book, CheckReport, check
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


def open_book(target: str) -> Book:
    """Opens a book that is there. BookError if it is missing, foreign, corrupt, or of another version."""
    return Book.open(target)


def checked(target: str, *, files: Path | None = None) -> CheckReport:
    """Proves a book; `files` is the folder of the photos of one on a server, if RICKYARD_FILES does not say it."""
    with Book.open(target, files=files) as book:
        return check(book)


def upgrade_book(target: str) -> str:
    """Brings a book to this version and gives its address without secrets."""
    Book.upgrade(target)
    with Book.open(target) as book:
        return book.url
