"""Opening, making, upgrading: what is not a book of this version is refused with the next move."""

from __future__ import annotations

import os
import pwd
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
import sqlalchemy as sa
from sqlalchemy import select

from rickyard.book import Book, check, engine, migrations, post
from rickyard.book.models import Lot, Posting, Yard
from rickyard.errors import BookError


def refusal(target: object, *, create: bool = False) -> BookError:
    with pytest.raises(BookError) as caught:
        Book.open(str(target), create=create)
    return caught.value


@pytest.fixture
def file_book(empty_file_book: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(empty_file_book, tmp_path / "book.sqlite"))


def set_revision(target: str, revision: str) -> None:
    made = engine.make_engine(engine.book_url(target), writing=True)
    with made.begin() as connection:
        connection.exec_driver_sql(f"UPDATE {migrations.VERSION_TABLE} SET version_num = '{revision}'")
    made.dispose()


class TestMaking:
    def test_makes_the_folders_above(self, tmp_path: Path) -> None:
        path = tmp_path / "new" / "folder" / "book.sqlite"

        with Book.open(path, create=True) as book:
            assert check(book).ok
            assert book.url == str(path)

    def test_never_makes_one_over_another(self, new_target: Callable[[], str]) -> None:
        target = new_target()
        Book.open(target, create=True).close()

        assert refusal(target, create=True).code == "exists"
        Book.open(target).close()

    def test_leaves_another_file_alone(self, tmp_path: Path) -> None:
        path = tmp_path / "letter.txt"
        path.write_text("Dear customer")

        assert refusal(path, create=True).code == "exists"
        assert path.read_text() == "Dear customer"

    @pytest.mark.postgres
    def test_leaves_another_programs_database_alone(self, server) -> None:
        url = server.new_database()
        with psycopg.connect(url) as connection:
            connection.execute("CREATE TABLE yard (name text)")

        assert refusal(url, create=True).code == "exists"
        server.drop(url)

    def test_leaves_nothing_behind_if_it_fails(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def fail(connection: object) -> None:
            raise RuntimeError("power cut")

        monkeypatch.setattr(migrations, "upgrade", fail)

        with pytest.raises(RuntimeError):
            Book.open(tmp_path / "book.sqlite", create=True)
        assert list(tmp_path.iterdir()) == []

    def test_a_path_with_odd_characters(self, tmp_path: Path) -> None:
        path = tmp_path / "été 100% #1?.sqlite"
        Book.open(path, create=True).close()

        with Book.open(path) as book:
            assert check(book).ok
        assert [item.name for item in tmp_path.iterdir()] == [path.name]

    def test_a_file_where_a_folder_is_wanted(self, tmp_path: Path) -> None:
        (tmp_path / "file").write_text("x")

        assert refusal(tmp_path / "file" / "book.sqlite", create=True).code == "cannot_open"


class TestRefusing:
    def test_nothing_there(self, tmp_path: Path) -> None:
        error = refusal(tmp_path / "none.sqlite")

        assert error.code == "no_book"
        assert f"rickyard book new --book {tmp_path / 'none.sqlite'}" in str(error)
        assert not (tmp_path / "none.sqlite").exists()

    def test_a_folder(self, tmp_path: Path) -> None:
        assert refusal(tmp_path).code == "not_a_book"

    def test_an_empty_file(self, tmp_path: Path) -> None:
        (tmp_path / "book.sqlite").touch()

        assert refusal(tmp_path / "book.sqlite").code == "empty_file"

    def test_another_kind_of_file(self, tmp_path: Path) -> None:
        (tmp_path / "book.sqlite").write_bytes(b"%PDF-1.7 something else altogether")

        assert refusal(tmp_path / "book.sqlite").code == "not_a_book"

    def test_another_programs_database(self, tmp_path: Path) -> None:
        path = tmp_path / "other.sqlite"
        connection = sqlite3.connect(path)
        connection.execute("CREATE TABLE yard (id INTEGER)")
        connection.commit()
        connection.close()

        assert refusal(path).code == "not_a_book"

    @pytest.mark.parametrize("spoil", ["garbage", "truncated", "header"])
    def test_a_damaged_file(self, file_book: Path, spoil: str) -> None:
        content = bytearray(file_book.read_bytes())
        if spoil == "garbage":
            content[4096 * 3 : 4096 * 6] = b"\xa5" * (4096 * 3)
        elif spoil == "truncated":
            del content[len(content) // 2 :]
        else:
            content[16:100] = b"\xff" * 84
        file_book.write_bytes(content)

        error = refusal(file_book)

        assert error.code in (("corrupt", "not_a_book") if spoil == "header" else ("corrupt",))

    def test_a_newer_book(self, new_target: Callable[[], str]) -> None:
        target = new_target()
        Book.open(target, create=True).close()
        set_revision(target, "0999")

        error = refusal(target)

        assert error.code == "newer_book"
        assert "0999" in str(error)
        with pytest.raises(BookError) as caught:
            Book.upgrade(target)
        assert caught.value.code == "newer_book"

    @pytest.mark.parametrize(
        "address", ["mysql://a/b", "http://yard.example/book", "postgresql+pg8000://a/b", "://"]
    )
    def test_an_address_of_something_else(self, address: str) -> None:
        assert refusal(address).code == "bad_address"

    @pytest.mark.postgres
    def test_a_database_without_a_book(self, server) -> None:
        url = server.new_database()

        assert refusal(url).code == "no_book"
        server.drop(url)

    @pytest.mark.postgres
    def test_a_server_that_is_not_there(self, tmp_path: Path) -> None:
        error = refusal(f"postgresql://yard:very-secret@/book?host={tmp_path}")

        assert error.code == "no_server"
        assert "very-secret" not in str(error)
        # The server's own sentence ends with a question, ours follows it.
        assert not any(twice in str(error) for twice in ("?.", "..", "!."))

    @pytest.mark.postgres
    def test_a_database_that_is_not_there(self, server) -> None:
        error = refusal(server.url("no_such_database"))

        assert error.code == "no_server"
        assert "no_such_database" in str(error)


SECOND_VERSION = """
import sqlalchemy as sa
from alembic import op

from rickyard.book.migrations import triggers

revision = "9999"
down_revision = "{head}"


def upgrade():
    how = "always" if op.get_bind().dialect.name == "sqlite" else "never"
    with op.batch_alter_table("yard", recreate=how) as table:
        table.add_column(sa.Column("motto", sa.String(80), nullable=False, server_default=""))
    with op.batch_alter_table("posting", recreate=how) as table:
        table.add_column(sa.Column("colour", sa.String(20)))
    triggers.unprotect(op.get_bind(), ("entry", "posting"))
    triggers.protect(op.get_bind(), ("entry", "posting"))
    {then}


def downgrade():
    pass
"""


@pytest.fixture
def second_version(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Callable[[str], None]:
    """Makes this program one version newer, with a migration that ends in the given statement."""

    def make(then: str) -> None:
        folder = tmp_path_factory.mktemp("later") / "migrations"
        shutil.copytree(migrations.FOLDER, folder)
        text = SECOND_VERSION.format(then=then, head=migrations.HEAD)
        (folder / "versions" / "9999_next.py").write_text(text)
        monkeypatch.setattr(migrations, "FOLDER", folder)
        monkeypatch.setattr(migrations, "REVISIONS", (*migrations.REVISIONS, "9999"))
        monkeypatch.setattr(migrations, "HEAD", "9999")
        monkeypatch.setattr(migrations.upgrade, "__defaults__", ("9999",))

    return make


class TestUpgrading:
    def test_a_current_book_is_left_alone(self, book: Book) -> None:
        Book.upgrade(book.target)

        assert check(book).ok

    def test_an_older_book_says_how(self, yard, second_version: Callable[[str], None]) -> None:
        second_version("pass")

        error = refusal(yard.book.target)

        assert error.code == "older_book"
        assert "rickyard book upgrade" in str(error)

    def test_an_older_book_comes_along_with_its_wood(
        self, yard, second_version: Callable[[str], None]
    ) -> None:
        """Tables that others refer to are rebuilt on SQLite; rows, keys and triggers must survive that."""
        target = yard.book.target
        with yard.book.write() as session:
            post(
                session,
                yard.yard_id,
                kind="take_in",
                happened_at=yard.start,
                recorded_at=yard.start,
                moves=yard.came_in(1000),
            )
        yard.book.close()
        second_version("pass")

        Book.upgrade(target)

        with Book.open(target) as book:
            with book.read() as session:
                assert session.execute(sa.text("SELECT motto FROM yard")).scalar_one() == ""
                assert sorted(session.scalars(select(Posting.mass_g))) == [-1000, 1000]
            report = check(book)
            assert report.problems == ()
            with pytest.raises(sa.exc.IntegrityError), book.write() as session:
                session.add(Lot(yard_id=999, country="CA"))

    def test_an_upgrade_that_fails_changes_nothing(self, yard, second_version: Callable[[str], None]) -> None:
        target = yard.book.target
        yard.book.close()
        second_version("raise RuntimeError('stopped half way')")

        with pytest.raises(RuntimeError, match="half way"):
            Book.upgrade(target)

        assert refusal(target).code == "older_book"
        made = engine.make_engine(engine.book_url(target), writing=False)
        with made.begin() as connection:
            columns = {column["name"] for column in sa.inspect(connection).get_columns("yard")}
        made.dispose()
        assert "motto" not in columns

    def test_an_upgrade_that_breaks_a_reference_is_undone(
        self, file_book: Path, found: Callable[..., object], second_version: Callable[[str], None]
    ) -> None:
        """SQLite must have its foreign keys off while tables are rebuilt, so they are proven at the end."""
        with Book.open(file_book) as book:
            found(book)
        second_version('op.execute("DELETE FROM yard")')

        with pytest.raises(BookError):
            Book.upgrade(file_book)

        assert refusal(file_book).code == "older_book"


class TestSessions:
    def test_a_write_that_raises_is_undone(self, yard) -> None:
        def half_done() -> None:
            with yard.book.write() as session:
                session.add(Lot(yard_id=yard.yard_id, country="US"))
                session.flush()
                raise RuntimeError("the phone fell into the stove")

        with pytest.raises(RuntimeError):
            half_done()

        with yard.book.read() as session:
            assert session.scalar(select(Lot).where(Lot.country == "US")) is None

    def test_a_reader_cannot_write(self, yard) -> None:
        """By mistake of ours, and then it is not called the user's read-only disk."""
        with pytest.raises(sa.exc.DBAPIError, match=r"read-?only"), yard.book.read() as session:
            session.execute(sa.insert(Lot).values(yard_id=yard.yard_id, country="US"))

    def test_a_reader_sees_one_moment(self, yard) -> None:
        with yard.book.read() as reader:
            before = reader.get_one(Yard, yard.yard_id).name
            with yard.book.write() as writer:
                writer.get_one(Yard, yard.yard_id).name = "Renamed"
            reader.expire_all()
            during = reader.get_one(Yard, yard.yard_id).name
        with yard.book.read() as reader:
            after = reader.get_one(Yard, yard.yard_id).name

        assert (before, during, after) == ("Test yard", "Test yard", "Renamed")

    def test_what_was_read_can_be_used_afterwards(self, yard) -> None:
        with yard.book.write() as session:
            found = session.get_one(Yard, yard.yard_id)
        assert found.name == "Test yard"

    def test_a_second_writer_waits_its_turn_and_then_says_so(
        self, new_book: Callable[[], Book], found: Callable[..., object], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(engine, "BUSY_TIMEOUT_S", 0.1)
        yard = found(new_book())

        with yard.book.write() as first:
            first.get_one(Yard, yard.yard_id)
            with pytest.raises(BookError) as caught, yard.book.write() as second:
                second.get_one(Yard, yard.yard_id)

        assert caught.value.code == "busy"

    @pytest.mark.postgres
    def test_on_a_server_yards_do_not_wait_for_each_other(
        self, server_book: str, found: Callable[..., object], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(engine, "BUSY_TIMEOUT_S", 0.1)
        with Book.open(server_book) as book:
            one, other = found(book), found(book)
            with book.write(one.yard_id) as first, book.write(other.yard_id) as second:
                first.get_one(Yard, one.yard_id).name = "One"
                second.get_one(Yard, other.yard_id).name = "Other"
                first.flush()
                second.flush()
                with pytest.raises(BookError), book.write() as whole:
                    whole.get_one(Yard, one.yard_id)
                with pytest.raises(BookError), book.write(one.yard_id) as again:
                    again.get_one(Yard, one.yard_id)

    @pytest.mark.postgres
    def test_a_lost_server_connection_is_said(self, server_book: str) -> None:
        with Book.open(server_book) as book:
            with pytest.raises(BookError) as caught, book.write() as session:
                session.execute(sa.text("SELECT pg_terminate_backend(pg_backend_pid())"))
            assert caught.value.code == "no_server"
            with book.write() as session:
                assert session.execute(sa.text("SELECT 1")).scalar() == 1


class TestDisk:
    def test_a_full_disk(self, empty_file_book: Path, tmp_path: Path, found: Callable[..., object]) -> None:
        """`max_page_count` gives SQLITE_FULL, the code of a full disk (https://sqlite.org/rescode.html#full)."""
        shutil.copy(empty_file_book, tmp_path / "book.sqlite")
        with Book.open(tmp_path / "book.sqlite") as book:
            yard = found(book)
            with book.write() as session:
                pages = session.execute(sa.text("PRAGMA page_count")).scalar_one()
                session.execute(sa.text(f"PRAGMA max_page_count = {pages + 2}"))
            lots = [Lot(yard_id=yard.yard_id, country="CA", county="x" * 80) for _ in range(2000)]
            with pytest.raises(BookError) as caught, book.write() as session:
                session.add_all(lots)

            assert caught.value.code == "disk_full"
            assert "Free some space" in str(caught.value)
            assert check(book).ok

    def test_a_write_protected_file(self, empty_file_book: Path, found: Callable[..., object]) -> None:
        with open_folder() as folder:
            path = Path(shutil.copy(empty_file_book, folder / "book.sqlite"))
            path.chmod(0o444)
            folder.chmod(0o777)
            with as_somebody_without_rights(), pytest.raises(BookError) as caught, Book.open(path) as book:
                found(book)

        assert caught.value.code in ("read_only", "cannot_open")

    def test_a_write_protected_folder(self, empty_file_book: Path) -> None:
        with open_folder() as folder:
            path = Path(shutil.copy(empty_file_book, folder / "book.sqlite"))
            path.chmod(0o444)
            folder.chmod(0o555)
            with as_somebody_without_rights():
                opened = refusal(path)
                made = refusal(folder / "new.sqlite", create=True)

        assert opened.code in ("read_only", "cannot_open")
        assert made.code == "cannot_open"

    def test_a_file_that_vanishes_is_not_begun_anew(self, file_book: Path) -> None:
        with Book.open(file_book) as book:
            book.close()
            file_book.unlink()
            with pytest.raises(BookError) as caught, book.read() as session:
                session.scalar(select(Yard.id))

        assert caught.value.code == "cannot_open"
        assert not file_book.exists()


@contextmanager
def open_folder() -> Iterator[Path]:
    """A folder that other users can reach, which pytest's own are not."""
    folder = Path(tempfile.mkdtemp(prefix="rickyard-"))
    try:
        yield folder
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)


@contextmanager
def as_somebody_without_rights() -> Iterator[None]:
    """File permissions mean nothing to root, so root becomes nobody for a while."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(pwd.getpwnam("nobody").pw_uid)
    try:
        yield
    finally:
        os.seteuid(0)
