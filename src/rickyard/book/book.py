"""A book: opened, read, written, brought to this version, closed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import URL, Connection, Engine, inspect
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.orm import Session

from rickyard.book import migrations, seals
from rickyard.book.engine import (
    APPLICATION_ID,
    Target,
    book_error,
    book_url,
    corrupt,
    is_sqlite,
    make_engine,
    not_a_book,
    one_value,
    shown,
)
from rickyard.book.files import FileStore, files_of, no_folder
from rickyard.errors import BookError
from rickyard.text import T_


class Book:
    """The records of one or more yards in one database. Made by `Book.open`.

    Attributes
    ----------
    url
        The path of the file, or the address of the database without its password.
    """

    def __init__(self, url: URL, files: str | Path | None = None, *, lasting: bool = True) -> None:
        self.url = shown(url)
        self._files = files_of(url, files, lasting=lasting)
        self._reader = make_engine(url, writing=False, lasting=lasting)
        self._writer = make_engine(url, writing=True, lasting=lasting)

    @classmethod
    def open(
        cls, target: Target, *, create: bool = False, files: str | Path | None = None, lasting: bool = True
    ) -> Book:
        """Opens the book at a path or database URL, or makes a new, empty one there.

        `files` is the folder of its photos; beside the file of a book if not said, or where RICKYARD_FILES says.
        `lasting=False`: nothing waits for the disk; only for a file that is thrown away unless it gets whole.

        Raises
        ------
        BookError
            If there is no book (or, to create, already something); if it is another program's file, empty,
            damaged, of an older or a newer version; if the disk or the server refuses.
        """
        url = book_url(target)
        if create:
            _create(url)
        else:
            look_at(url)
        return cls(url, files, lasting=lasting)

    @property
    def files(self) -> FileStore:
        """The book's photos. BookError (`no_files_folder`) if it is on a server and their folder was not named."""
        if self._files is None:
            raise no_folder(self.url)
        return self._files

    @property
    def has_files(self) -> bool:
        """Whether it is known where the photos lie."""
        return self._files is not None

    @staticmethod
    def upgrade(target: Target) -> None:
        """Brings a book of an earlier version to this one, whole or not at all. A current one is left alone."""
        url = book_url(target)
        if look_at(url, older_is_wrong=False) != migrations.HEAD:
            with migrating(url) as connection:
                migrations.upgrade(connection)

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A session that sees one unchanging state of the book and cannot write."""
        with self._guard(writing=False), Session(self._reader) as session:
            yield session

    @contextmanager
    def write(self, yard_id: int | None = None) -> Iterator[Session]:
        """A session whose work is committed as one when the block ends, and undone if it raises.

        Writers take turns from their first statement on: on SQLite all of them, on PostgreSQL those of the same
        yard, or all if the yard is not said. What was written to sealed tables is sealed at the end.
        """
        engine: Engine = self._writer.execution_options(yard_id=yard_id)
        with self._guard(writing=True), Session(engine, expire_on_commit=False) as session, session.begin():
            touched = seals.watch(session)
            yield session
            session.flush()
            seals.seal_rows(session.connection(), touched)

    @contextmanager
    def _guard(self, *, writing: bool) -> Iterator[None]:
        """Says what the file or the server cannot do in words for the user; other errors pass."""
        try:
            yield
        except (DBAPIError, PoolTimeoutError) as error:
            known = book_error(error, self.url, writing=writing)
            if known is None:
                raise
            raise known from error

    def close(self) -> None:
        self._reader.dispose()
        self._writer.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


@contextmanager
def trouble(where: str) -> Iterator[None]:
    """What goes wrong with the file or the server while a book is opened or made, as BookError."""
    try:
        yield
    except OSError as error:
        raise BookError(
            T_(
                "{where} cannot be used for a book: {reason}. Check the path and who may write there.",
                where=where,
                reason=error.strerror or str(error),
            ),
            code="cannot_open",
        ) from error
    except DBAPIError as error:
        known = book_error(error, where)
        if known is None:
            raise
        raise known from error


@contextmanager
def once(engine: Engine) -> Iterator[Connection]:
    try:
        with engine.begin() as connection:
            yield connection
    finally:
        engine.dispose()


@contextmanager
def migrating(url: URL) -> Iterator[Connection]:
    """A writer's transaction in which tables may be rebuilt; the foreign keys are proven before it is committed."""
    where = shown(url)
    with trouble(where), once(make_engine(url, writing=True, foreign_keys=False)) as connection:
        yield connection
        if is_sqlite(url):
            if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                raise corrupt(where)
            connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")


def _create(url: URL) -> None:
    where = shown(url)
    if not is_sqlite(url):
        with migrating(url) as connection:
            if inspect(connection).get_table_names():
                raise is_there(where)
            migrations.upgrade(connection)
        return
    path = Path(where)
    with trouble(where):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            path.open("x").close()
        except FileExistsError as error:
            raise is_there(where) from error
    try:
        with migrating(url) as connection:
            migrations.upgrade(connection)
    except BaseException:
        for left in (path, Path(f"{path}-wal"), Path(f"{path}-shm")):
            left.unlink(missing_ok=True)
        raise


def is_there(where: str) -> BookError:
    return BookError(
        T_(
            "{where} is there already, and no book is made over it. Open it, or give another name.",
            where=where,
        ),
        code="exists",
    )


def look_at(url: URL, *, older_is_wrong: bool = True) -> str:
    """Makes sure that a book of this version is there; gives its revision."""
    where = shown(url)
    with trouble(where):
        if is_sqlite(url):
            _look_at_file(Path(where))
        with once(make_engine(url, writing=False)) as connection:
            if is_sqlite(url):
                if one_value(connection, "PRAGMA application_id") != APPLICATION_ID:
                    raise not_a_book(where)
                if one_value(connection, "PRAGMA quick_check(1)") != "ok":
                    raise corrupt(where)
            revision = migrations.revision_of(connection)
    if revision is None:
        if is_sqlite(url):
            raise not_a_book(where)
        raise BookError(
            T_(
                'There is no book in the database {where}. Make one with "rickyard book new --database ...".',
                where=where,
            ),
            code="no_book",
        )
    if revision not in migrations.REVISIONS:
        raise BookError(
            T_(
                "The book {where} was written by a newer Rickyard (its tables are {revision}, this version knows "
                "up to {head}). Install that version or a later one; the book is left as it is.",
                where=where,
                revision=revision,
                head=migrations.HEAD,
            ),
            code="newer_book",
        )
    if revision != migrations.HEAD and older_is_wrong:
        option = "--book" if is_sqlite(url) else "--database"
        raise BookError(
            T_(
                "The book {where} is of an earlier version (its tables are {revision}, this version needs {head}). "
                'Keep a copy, then run "rickyard book upgrade {option} {where}".',
                where=where,
                revision=revision,
                head=migrations.HEAD,
                option=option,
            ),
            code="older_book",
        )
    return revision


def _look_at_file(path: Path) -> None:
    """Tells apart what may lie at a path before SQLite is asked. Raises BookError or OSError."""
    if not path.exists():
        raise BookError(
            T_(
                'There is no book at {where}. Check the name, or make one with "rickyard book new --book {where}".',
                where=path,
            ),
            code="no_book",
        )
    if not path.is_file():
        raise BookError(
            T_("{where} is a folder, not a book. Give the name of the file in it.", where=path),
            code="not_a_book",
        )
    # By its size and by SQLite alone: to open and close the file beside SQLite would take away every lock that this
    # process has on it (POSIX), and another process could clear away the log of changes under a book that is open.
    if not path.stat().st_size:
        raise BookError(
            T_(
                "{where} is an empty file, not a book. Delete it, then make a book there "
                'with "rickyard book new --book {where}", or go back to the last backup.',
                where=path,
            ),
            code="empty_file",
        )
