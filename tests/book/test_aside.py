"""A book that is filled before it has its place: whole there, or not at all."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rickyard.book import Book, check, filled
from rickyard.errors import BookError


def _synchronous(book: Book) -> int:
    with book.write() as session:
        return int(session.connection().exec_driver_sql("PRAGMA synchronous").scalar_one())


def test_it_has_its_place_when_it_is_whole_and_only_then(tmp_path: Path) -> None:
    place = tmp_path / "yard" / "book.sqlite"
    seen = []

    def fill(book: Book) -> str:
        seen.append((place.exists(), _synchronous(book)))
        return book.files.put(b"a photo")

    photo = filled(place, fill)

    assert seen == [(False, 0)], "nothing waits for the disk while it is nobody's book"
    assert sorted(path.name for path in place.parent.iterdir()) == ["book.sqlite", "book.sqlite.files"]
    with Book.open(place) as book:
        assert book.files.get(photo) == b"a photo"
        assert _synchronous(book) == 2, "a book that has its place waits for the disk again"
        assert check(book).ok


def test_what_fails_leaves_nothing(tmp_path: Path) -> None:
    def fill(book: Book) -> None:
        book.files.put(b"a photo")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        filled(tmp_path / "book.sqlite", fill)

    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("there", ["book.sqlite", "book.sqlite.files"])
def test_nothing_is_made_over_what_is_there(tmp_path: Path, there: str) -> None:
    (tmp_path / there).write_bytes(b"mine")

    with pytest.raises(BookError) as error:
        filled(tmp_path / "book.sqlite", lambda _book: pytest.fail("it was filled all the same"))

    assert error.value.code == "exists"
    assert (tmp_path / there).read_bytes() == b"mine"


def test_on_either_database_what_was_filled_is_there(new_target: Callable[[], str]) -> None:
    target = new_target()

    assert filled(target, lambda book: check(book).entries) == 0
    with Book.open(target) as book:
        assert check(book).ok
