"""Books as wholes: made, filled with the demo, checked, upgraded."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

from rickyard.book import Book, CheckReport, check
from rickyard.desk.demo import make_demo


def new_book(target: str) -> None:
    """Makes an empty book; BookError if something is there already."""
    Book.open(target, create=True).close()


def ensure_book(target: str, *, demo: bool, as_of: date, say: Callable[[str], None]) -> None:
    """Makes the book if its file is not there yet, with the demo yard if asked; an existing one is left alone."""
    if "://" in target or Path(target).exists():
        return
    if demo:
        say("Making the demo yard; this takes less than a minute.")
        make_demo(target, as_of=as_of, say=say).book.close()
    else:
        new_book(target)


def open_book(target: str) -> Book:
    """Opens a book that is there. BookError if it is missing, foreign, corrupt, or of another version."""
    return Book.open(target)


def checked(target: str) -> CheckReport:
    book = Book.open(target)
    try:
        return check(book)
    finally:
        book.close()


def upgrade_book(target: str) -> None:
    Book.upgrade(target)
