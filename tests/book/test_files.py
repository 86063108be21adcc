"""Files beside the book: written whole, never over one another, proven by their hash, found by `check`."""

from __future__ import annotations

import hashlib
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from rickyard.book import Book, FileStore, check
from rickyard.book.check import ORPHAN_AGE_S
from rickyard.book.models import Deed, Photo
from rickyard.errors import BookError

CONTENT = b"the bytes of a photo"
SHA256 = hashlib.sha256(CONTENT).hexdigest()


@pytest.fixture
def store(tmp_path: Path) -> FileStore:
    return FileStore(tmp_path / "files")


def test_put_and_get(store: FileStore) -> None:
    assert list(store.all()) == []
    assert store.put(CONTENT) == SHA256
    assert store.get(SHA256) == CONTENT
    assert list(store.all()) == [(SHA256, store.folder / SHA256[:2] / SHA256[2:])]


def test_what_is_there_is_not_written_again(store: FileStore) -> None:
    store.put(CONTENT)
    os.utime(store.path(SHA256), (1, 1))
    store.put(CONTENT)

    assert store.path(SHA256).stat().st_mtime == 1


def test_many_at_once_leave_one_whole_file(store: FileStore) -> None:
    content = os.urandom(200_000)
    threads = [threading.Thread(target=store.put, args=(content,)) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    ((name, path),) = store.all()
    assert store.get(name) == content
    assert [item.name for item in path.parent.iterdir()] == [path.name]


def test_a_write_that_fails_leaves_nothing(store: FileStore, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)

    with pytest.raises(BookError) as caught:
        store.put(CONTENT)

    assert caught.value.code == "cannot_keep_file"
    assert "No space left" in str(caught.value)
    assert [path for path in store.folder.rglob("*") if path.is_file()] == []


@pytest.mark.parametrize("name", ["../../etc/passwd", "", "ab", "G" * 64, SHA256.upper()])
def test_only_hashes_name_files(store: FileStore, name: str) -> None:
    with pytest.raises(ValueError, match="no hash"):
        store.get(name)


def test_what_is_made_from_a_file_is_made_once(store: FileStore) -> None:
    store.put(CONTENT)
    made: list[bytes] = []

    def make(content: bytes) -> bytes:
        made.append(content)
        return content[:3]

    assert [store.made(SHA256, "3", make) for _ in range(2)] == [b"the", b"the"]
    assert made == [CONTENT]
    assert len(list(store.all())) == 1


def add_photo_row(yard, sha256: str = SHA256) -> None:
    with yard.book.write() as session:
        deed = Deed(
            yard_id=yard.yard_id,
            client_key=f"photo-{sha256[:20]}",
            kind="add_photo",
            body_hash="x" * 64,
            answer={},
            happened_at=yard.start,
            recorded_at=yard.start,
        )
        session.add(deed)
        session.flush()
        session.add(
            Photo(
                yard_id=yard.yard_id,
                deed_id=deed.id,
                sha256=sha256,
                media_type="image/jpeg",
                size_bytes=len(CONTENT),
                width_px=10,
                height_px=10,
                subject_kind="stack",
                subject_id=yard.stack_id,
            )
        )


def codes(book: Book) -> list[str]:
    return [problem.code for problem in check(book).problems]


def test_check_proves_the_photos(yard, tmp_path: Path) -> None:
    """On both databases: missing, damaged, too many."""
    with Book.open(yard.book.target, files=tmp_path / "photos") as book:
        add_photo_row(yard)
        assert codes(book) == ["photo_missing"]
        book.files.put(CONTENT)
        assert codes(book) == []
        book.files.path(SHA256).write_bytes(CONTENT + b"!")
        assert codes(book) == ["photo_damaged"]
        book.files.path(SHA256).write_bytes(CONTENT)

        orphan = book.files.path(book.files.put(b"nobody's"))
        # Just written: the deed it belongs to may be on its way.
        assert codes(book) == []
        old = time.time() - ORPHAN_AGE_S - 60
        os.utime(orphan, (old, old))
        assert codes(book) == ["orphan_file"]
        assert str(orphan) in str(check(book).problems[0])


def test_files_of_a_book_in_a_file_lie_beside_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RICKYARD_FILES", str(tmp_path / "elsewhere"))
    with Book.open(tmp_path / "book.sqlite", create=True) as book:
        assert book.has_files
        assert book.files.folder == tmp_path / "book.sqlite.files"


@pytest.mark.postgres
def test_a_book_on_a_server_needs_a_folder_for_its_photos(
    server_book: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, found: Callable[..., object]
) -> None:
    monkeypatch.delenv("RICKYARD_FILES", raising=False)
    with Book.open(server_book) as book:
        book.target = server_book  # type: ignore[attr-defined]
        assert not book.has_files
        assert codes(book) == []
        with pytest.raises(BookError) as caught:
            _ = book.files
        add_photo_row(found(book))
        assert codes(book) == ["no_files_folder"]

    assert caught.value.code == "no_files_folder"
    assert "--files" in str(caught.value)
    assert "RICKYARD_FILES" in str(caught.value)
    monkeypatch.setenv("RICKYARD_FILES", str(tmp_path))
    with Book.open(server_book) as book:
        assert book.files.folder == tmp_path
