"""The database traps that were reproduced before this was built; each test fails if its cure is taken away.

`scripts/break_cures.py` takes each cure away and shows that.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy import func, select

from rickyard.book import Book
from rickyard.book.book import look_at
from rickyard.book.engine import book_url
from rickyard.book.journal import post
from rickyard.book.models import Lot, Payment, Posting, Serial, Ticket, Yard

PROCESSES = 4
TIMES = 60


def test_no_update_is_lost_between_four_processes(yard) -> None:
    """Trap 1: four processes that read and then write lost 475 of 1200 updates without one error."""
    with yard.book.write() as session:
        session.add(Serial(yard_id=yard.yard_id, kind="load", next=1))
    command = [sys.executable, str(Path(__file__).with_name("count_up.py")), yard.book.target]
    workers = [
        subprocess.Popen(
            [*command, str(yard.yard_id), str(TIMES)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(PROCESSES)
    ]
    for worker in workers:
        assert worker.stdout.readline() == "ready\n", worker.stderr.read()
    for worker in workers:
        worker.stdin.write("go\n")
        worker.stdin.flush()
    got: list[int] = []
    for worker in workers:
        said, errors = worker.communicate(timeout=60)
        assert worker.returncode == 0, errors
        got += json.loads(said)

    with yard.book.read() as session:
        following = session.get_one(Serial, (yard.yard_id, "load")).next

    assert sorted(got) == list(range(1, PROCESSES * TIMES + 1))
    assert following == PROCESSES * TIMES + 1


def test_an_orphan_is_refused(yard) -> None:
    """Trap 2: foreign keys are off on SQLite until they are switched on for each connection."""
    with pytest.raises(sa.exc.IntegrityError), yard.book.write() as session:
        session.add(Lot(yard_id=999_999, country="CA"))

    with yard.book.read() as session:
        assert session.scalar(select(func.count()).select_from(Lot)) == 2


def test_foreign_keys_are_on_in_every_connection(yard) -> None:
    """Trap 2: a connection that the pool opens later must have them too."""
    if not yard.book.url.endswith(".sqlite"):
        return
    with yard.book.read() as one, yard.book.read() as two, yard.book.write() as three:
        states = [session.execute(sa.text("PRAGMA foreign_keys")).scalar() for session in (one, two, three)]

    assert states == [1, 1, 1]


def test_a_moment_without_a_zone_is_refused(yard) -> None:
    """Trap 3: SQLite drops time zones silently."""
    naive = datetime(2026, 4, 1, 8, 0)  # noqa: DTZ001 - the mistake itself

    with pytest.raises(sa.exc.StatementError, match="without a time zone"), yard.book.write() as session:
        session.get_one(Yard, yard.yard_id).created_at = naive


def test_a_moment_comes_back_in_utc(yard) -> None:
    """Trap 3: 08:00−05:00 came back as naive 08:00."""
    morning = datetime(2026, 4, 1, 8, 0, tzinfo=timezone(timedelta(hours=-5)))
    with yard.book.write() as session:
        session.get_one(Yard, yard.yard_id).created_at = morning

    with yard.book.read() as session:
        back = session.get_one(Yard, yard.yard_id).created_at

    assert back == datetime(2026, 4, 1, 13, 0, tzinfo=UTC)
    assert back.tzinfo is UTC


def _ticket(yard) -> int:
    with yard.book.write() as session:
        entry = post(
            session,
            yard.yard_id,
            kind="gate_sale",
            happened_at=yard.start,
            recorded_at=yard.start,
            moves=yard.came_in(1000, spot=yard.gate),
        )
        ticket = Ticket(
            yard_id=yard.yard_id,
            number=1,
            entry_id=entry.id,
            issued_at=yard.start,
            delivered_on=yard.start.date(),
            outside_m3=1.0,
            price_minor=100,
            tax_minor=0,
            total_minor=100,
            currency="CAD",
            facts={},
        )
        session.add(ticket)
        session.flush()
        return ticket.id


def _payment(yard, ticket_id: int, amount: object) -> Payment:
    return Payment(
        yard_id=yard.yard_id,
        ticket_id=ticket_id,
        amount_minor=amount,
        method="cash",
        paid_on=yard.start.date(),
    )


def test_the_trap_of_decimals_is_real() -> None:
    """Trap 4: ten times 0.10 in a NUMERIC column of SQLite is not 1."""
    connection = sqlite3.connect(":memory:")
    connection.execute("CREATE TABLE t (amount NUMERIC(12, 2))")
    connection.executemany("INSERT INTO t VALUES (?)", [(0.1,)] * 10)
    total = connection.execute("SELECT sum(amount) FROM t").fetchone()[0]
    connection.close()

    assert total == 0.9999999999999999


def test_ten_payments_of_ten_cents_are_a_dollar(yard) -> None:
    """Trap 4: sums made by the database are whole numbers of cents."""
    ticket_id = _ticket(yard)
    with yard.book.write() as session:
        session.add_all([_payment(yard, ticket_id, 10) for _ in range(10)])

    with yard.book.read() as session:
        total = session.scalar(select(func.sum(Payment.amount_minor)))
        column = session.scalar(select(Payment.amount_minor))
        kept = session.execute(
            sa.text(
                "SELECT DISTINCT typeof(amount_minor) FROM payment"
                if yard.book.url.endswith(".sqlite")
                else "SELECT DISTINCT pg_typeof(amount_minor)::text FROM payment"
            )
        ).scalar_one()

    assert (total, type(total)) == (100, int)
    assert (column, type(column)) == (10, int)
    assert kept in ("integer", "bigint")


@pytest.mark.parametrize("amount", [0.1, 10.0, Decimal("10.5"), True])
def test_what_is_not_whole_cents_is_refused(yard, amount: object) -> None:
    """Trap 4: nothing but whole cents gets in, so no sum can drift."""
    ticket_id = _ticket(yard)

    with pytest.raises(sa.exc.StatementError, match="whole cents or grams"), yard.book.write() as session:
        session.add(_payment(yard, ticket_id, amount))


def test_grams_beyond_a_float_sum_exactly(yard) -> None:
    """Trap 4, for wood: 2^53 + 1 grams would lose the one in a float."""
    huge = 2**53
    with yard.book.write() as session:
        for grams in (huge, 1):
            post(
                session,
                yard.yard_id,
                kind="take_in",
                happened_at=yard.start,
                recorded_at=yard.start,
                moves=yard.came_in(grams),
            )

    with yard.book.read() as session:
        total = session.scalar(select(func.sum(Posting.mass_g)).where(Posting.spot_id == yard.stack))

    assert total == 9_007_199_254_740_993


@pytest.mark.postgres
def test_the_private_server_does_not_run_as_root(server) -> None:
    """Trap 5: PostgreSQL runs as an unprivileged user, whoever runs the tests."""
    process = int((server.home / "data" / "postmaster.pid").read_text().split()[0])
    status = Path(f"/proc/{process}/status").read_text()
    user = int(re.search(r"^Uid:\s+(\d+)", status, re.MULTILINE)[1])

    assert user != 0
    assert os.stat(server.home).st_uid == user


LOOK_AND_LEAVE = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1])
print(connection.execute("SELECT count(*) FROM yard").fetchone()[0])
connection.close()
"""


def a_yard(name: str) -> Yard:
    return Yard(
        name=name,
        country="CA",
        subdivision="NB",
        climate_place="somewhere",
        timezone="America/Moncton",
        currency="CAD",
        created_at=datetime(2026, 1, 5, tzinfo=UTC),
    )


@pytest.fixture
def file_book(empty_file_book: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(empty_file_book, tmp_path / "book.sqlite"))


@pytest.mark.parametrize("again", ["book", "look"])
def test_a_second_look_at_a_book_leaves_its_locks(file_book: Path, again: str) -> None:
    """Trap 6: a file that is opened and closed beside SQLite takes all locks of the process away (POSIX fcntl).

    SQLite, How To Corrupt An SQLite Database File, 2.2 (https://sqlite.org/howtocorrupt.html). Another process that
    looked in and left would then believe itself the last one, and take the log of changes away beneath this one.
    """
    with Book.open(file_book) as book:
        with book.read() as session:
            session.scalar(select(func.count()).select_from(Yard))
        if again == "book":
            Book.open(file_book).close()
        else:
            look_at(book_url(file_book))
        with book.write() as session:
            session.add(a_yard("written before"))

        def seen_by_another() -> str:
            told = subprocess.run(
                [sys.executable, "-c", LOOK_AND_LEAVE, str(file_book)],
                capture_output=True,
                text=True,
                check=True,
            )
            return told.stdout.strip()

        assert seen_by_another() == "1"
        assert Path(f"{file_book}-wal").exists(), "the log of changes is there while the book is open"
        with book.write() as session:
            session.add(a_yard("written after"))
        assert seen_by_another() == "2"
    with Book.open(file_book) as book, book.read() as session:
        assert session.scalar(select(func.count()).select_from(Yard)) == 2
