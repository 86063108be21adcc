"""Connections to a book: an SQLite file by default, PostgreSQL where several people or yards share a server.

Both are used through two SQLAlchemy engines, one that only reads and one that writes.

SQLite
    The file is in WAL mode, so readers never wait for the writer.
    Foreign keys are switched on for every connection, because SQLite leaves them off.
    The driver's own transactions are switched off and BEGIN is sent by us: a writer sends BEGIN IMMEDIATE and so
    holds the one write lock from its first read on, else what two writers read and then write is lost silently.
    `synchronous` is FULL: a ticket that was handed out must still be in the book after the power failed;
    NORMAL would lose the last commits then. A commit costs one fsync.

PostgreSQL
    A writer takes an advisory lock for its yard (or for the whole book, if it does not say which yard) and then
    works in READ COMMITTED, so that each of its statements sees what the writer before it committed.
    A reader works in one REPEATABLE READ, READ ONLY snapshot, which is what SQLite gives its readers.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from rickyard.errors import BookError
from rickyard.text import T_, Text

# Written into the file's header, so that another program's SQLite file is not taken for a book: "RICK".
APPLICATION_ID = 0x5249434B
# How long a writer waits for its turn [s]. Deeds take milliseconds; a migration may take longer.
BUSY_TIMEOUT_S = 30.0
# First half of the key of every advisory lock; the second is the yard, 0 for the whole book.
LOCK_SPACE = APPLICATION_ID

Target = str | Path


def book_url(target: Target) -> URL:
    """The database URL of a target: a path, `sqlite:///path` or `postgresql://...`.

    Raises BookError if it is an address of something else.
    """
    text = str(target)
    if "://" not in text:
        return URL.create("sqlite", database=str(Path(text).absolute()))
    try:
        url = make_url(text)
        backend = url.get_backend_name()
    except (ArgumentError, NoSuchModuleError, ValueError):
        backend = ""
    if backend == "sqlite" and url.database:
        return URL.create("sqlite", database=str(Path(url.database).absolute()))
    if backend == "postgresql" and url.drivername in ("postgresql", "postgresql+psycopg"):
        return url.set(drivername="postgresql+psycopg")
    raise BookError(
        T_(
            "The address of the book is neither a file nor a PostgreSQL database. "
            "Give a path, or an address such as postgresql://user@server/database."
        ),
        code="bad_address",
        field="database",
    )


def shown(url: URL) -> str:
    """The target as it may be shown: the path, or the address without its password."""
    return str(url.database) if is_sqlite(url) else url.render_as_string(hide_password=True)


def is_sqlite(url: URL) -> bool:
    return url.get_backend_name() == "sqlite"


def make_engine(url: URL, *, writing: bool, foreign_keys: bool = True, lasting: bool = True) -> Engine:
    """An engine on the book that reads only, or one whose every transaction is a writer's.

    `foreign_keys=False` is for migrations, which rebuild tables on SQLite and check the keys at the end;
    `lasting=False` for a file that is nobody's book yet (`aside`): no commit waits for the disk.
    """
    if is_sqlite(url):
        return _sqlite_engine(url, writing=writing, foreign_keys=foreign_keys, lasting=lasting)
    return _postgres_engine(url, writing=writing)


def _sqlite_engine(url: URL, *, writing: bool, foreign_keys: bool, lasting: bool) -> Engine:
    # mode=rw: a file that vanished is an error, not a reason to begin an empty one.
    file_uri = Path(str(url.database)).as_uri() + "?mode=rw"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(
            file_uri,
            uri=True,
            timeout=BUSY_TIMEOUT_S,
            isolation_level=None,  # the driver begins no transactions of its own
            check_same_thread=False,  # the pool hands a connection to one thread at a time
        )
        try:
            connection.execute("PRAGMA journal_mode=WAL")
            connection.execute(f"PRAGMA synchronous={'FULL' if lasting else 'OFF'}")
            connection.execute(f"PRAGMA foreign_keys={'ON' if foreign_keys else 'OFF'}")
            if not foreign_keys:
                # A migration that rebuilds a table renames it while triggers of others speak of it.
                connection.execute("PRAGMA legacy_alter_table=ON")
            if not writing:
                connection.execute("PRAGMA query_only=ON")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    engine = create_engine(url, creator=connect, pool_size=5, max_overflow=60)
    begin = "BEGIN IMMEDIATE" if writing else "BEGIN"

    @event.listens_for(engine, "begin")
    def send_begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def _postgres_engine(url: URL, *, writing: bool) -> Engine:
    if not writing:
        return create_engine(
            url,
            pool_pre_ping=True,
            execution_options={"isolation_level": "REPEATABLE READ", "postgresql_readonly": True},
        )
    engine = create_engine(url, pool_pre_ping=True, execution_options={"isolation_level": "READ COMMITTED"})

    @event.listens_for(engine, "begin")
    def take_lock(connection: Connection) -> None:
        yard_id = connection.get_execution_options().get("yard_id")
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = {round(1000 * BUSY_TIMEOUT_S)}")
        if yard_id is None:
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK_SPACE}, 0)")
        else:
            # Whoever locks the whole book waits for the writers of single yards, and they for it.
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock_shared({LOCK_SPACE}, 0)")
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK_SPACE}, {int(yard_id)})")

    return engine


def book_error(error: Exception, where: str, *, writing: bool = True) -> BookError | None:
    """The BookError for what a database said, or None if it is no trouble of the file or the server.

    A write in a reading session is a bug of ours, so it is not called a read-only book.
    """
    if isinstance(error, PoolTimeoutError):
        return _error("busy", where)
    origin = error.orig if isinstance(error, DBAPIError) else error
    if isinstance(origin, sqlite3.Error):
        name = getattr(origin, "sqlite_errorname", "") or ""
        if name == "SQLITE_READONLY" and not writing:
            return None
        return next((_error(code, where) for start, code in _SQLITE_CODES if name.startswith(start)), None)
    if isinstance(error, DBAPIError) and isinstance(origin, _psycopg().Error):
        state: str | None = origin.sqlstate
        if state is None:
            # Without a code it did not come from the server: no connection was made, or it was lost.
            return server_error(error, where) if isinstance(origin, _psycopg().OperationalError) else None
        if state == "25006" and not writing:
            return None
        if state.startswith(("08", "57P")):
            return server_error(error, where)
        return next((_error(code, where) for start, code in _POSTGRES_CODES if state.startswith(start)), None)
    return None


def server_error(error: DBAPIError, where: str) -> BookError:
    reason = " ".join(str(error.orig).split())
    return BookError(
        T_(
            "The database server of the book {where} did not answer as hoped: {reason}. "
            "See that the server runs, that the database exists and that user and password are right.",
            where=where,
            reason=reason.rstrip(".?! "),
        ),
        code="no_server",
    )


def _psycopg() -> Any:
    # Imported only once a server is in play: a book in a file does not need it.
    import psycopg

    return psycopg


# What SQLite's error names (https://sqlite.org/rescode.html) and PostgreSQL's SQLSTATE codes
# (PostgreSQL manual, appendix A) mean for a book.
_SQLITE_CODES = (
    ("SQLITE_FULL", "disk_full"),
    ("SQLITE_READONLY", "read_only"),
    ("SQLITE_CANTOPEN", "cannot_open"),
    ("SQLITE_PERM", "cannot_open"),
    ("SQLITE_BUSY", "busy"),
    ("SQLITE_LOCKED", "busy"),
    ("SQLITE_CORRUPT", "corrupt"),
    ("SQLITE_NOTADB", "not_a_book"),
    ("SQLITE_IOERR", "disk_trouble"),
)
_POSTGRES_CODES = (
    ("53100", "disk_full"),
    ("25006", "read_only"),
    ("55P03", "busy"),
    ("40", "busy"),
    ("53", "busy"),
    ("42501", "cannot_open"),
    ("XX00", "corrupt"),
    ("58", "disk_trouble"),
)
_MEANING: dict[str, Callable[[str], Text]] = {
    "disk_full": lambda where: T_(
        "The disk is full: nothing more can be written to the book {where}. "
        "What was written before is safe. Free some space and do it again.",
        where=where,
    ),
    "read_only": lambda where: T_(
        "The book {where} may be read but not written. "
        "See who owns the file and its folder, and that the disk is not write-protected.",
        where=where,
    ),
    "cannot_open": lambda where: T_(
        "The book {where} cannot be opened. See that you may read and write the file and its folder.",
        where=where,
    ),
    "busy": lambda where: T_(
        "The book {where} was being written for too long by somebody else. Do it again in a moment.",
        where=where,
    ),
    "corrupt": lambda where: T_(
        "The book {where} is damaged. Do not write to it: keep a copy as it is, and go back to the last backup.",
        where=where,
    ),
    "not_a_book": lambda where: T_(
        "{where} is not a book of Rickyard. Check the name, or make a new book under another one.",
        where=where,
    ),
    "disk_trouble": lambda where: T_(
        "The disk under the book {where} gave an error. Check the disk before you go on.",
        where=where,
    ),
}


def _error(code: str, where: str) -> BookError:
    return BookError(_MEANING[code](where), code=code)


def not_a_book(where: str) -> BookError:
    return _error("not_a_book", where)


def corrupt(where: str) -> BookError:
    return _error("corrupt", where)


def one_value(connection: Connection, sql: str) -> Any:
    """The only value of a statement in the database's own words."""
    return connection.exec_driver_sql(sql).scalar()
