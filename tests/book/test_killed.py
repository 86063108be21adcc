"""The server killed in the middle of writes (the short form of `make kill`); the disk really full."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from rickyard.book import Book, back_up, check, post
from rickyard.errors import BookError

ROOT = Path(__file__).parents[2]


def killed(*more: str) -> str:
    done = subprocess.run(
        [sys.executable, "scripts/kill_loop.py", *more],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.slow
def test_killed_twice() -> None:
    assert ": 2 kills of our server, " in killed("--times", "2")


@pytest.mark.slow
@pytest.mark.postgres
def test_the_database_server_killed() -> None:
    """Ours lives on, says so to the phones, and does the deeds once it is back."""
    assert ": 1 kills of PostgreSQL, " in killed("--times", "1", "--postgres", "--kill", "database")


@contextmanager
def small_disk(kib: int) -> Iterator[Path]:
    """A disk of a few hundred kilobytes, or (where none may be mounted) files that may not grow beyond that."""
    folder = Path(tempfile.mkdtemp(prefix="rickyard-disk-"))
    mounted = (
        os.geteuid() == 0
        and not subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={kib}k", "tmpfs", str(folder)],
            capture_output=True,
            check=False,
        ).returncode
    )
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    if not mounted:
        resource.setrlimit(resource.RLIMIT_FSIZE, (kib * 1024, before[1]))
    try:
        yield folder
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        if mounted:
            subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_costs_nothing_that_was_written(empty_file_book: Path, found) -> None:
    size = empty_file_book.stat().st_size
    with small_disk((2 * size) // 1024 + 500) as folder:
        path = folder / "book.sqlite"
        path.write_bytes(empty_file_book.read_bytes())
        with Book.open(path) as book:
            yard = found(book)
            done = 0

            def write_on() -> None:
                nonlocal done
                while True:
                    with book.write(yard.yard_id) as session:
                        when = {"happened_at": yard.start, "recorded_at": yard.start}
                        moves = [move for _ in range(50) for move in yard.came_in(1)]
                        post(session, yard.yard_id, kind="opening", moves=moves, **when)
                    done += 1

            with pytest.raises(BookError) as caught:
                write_on()
            assert caught.value.code in ("disk_full", "disk_trouble")
            report = check(book)
            assert (report.problems, report.entries) == ((), done)
            assert done > 0
            with pytest.raises(BookError) as caught:
                back_up(path, folder / "safe.zip")
            assert caught.value.code in ("cannot_copy", "cannot_open", "disk_full", "disk_trouble")
            assert not (folder / "safe.zip").exists()
            assert [item.name for item in folder.iterdir() if item.name.startswith(".")] == []
