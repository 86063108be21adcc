"""The tables of a new book in a file, as all migrations together leave them: made at once, not version by version.

`fresh.sql` is written by `make tables` from a book that was migrated, and a test holds the two together. The
migrations stay what says how the tables are; this only spares a new book the way through all of them.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection

FILE = Path(__file__).with_name("fresh.sql")
# Stands alone on a line; a trigger has semicolons of its own.
_BETWEEN = "\n--\n"


def make(connection: Connection) -> None:
    """Makes the tables, indexes and triggers, and the row that says their version, in an empty SQLite file."""
    for statement in FILE.read_text(encoding="utf-8").strip().split(_BETWEEN):
        connection.exec_driver_sql(statement)


def as_made(connection: Connection, version_table: str) -> str:
    """What is to be in the file, from the SQLite file of a new book, in the order in which it was made."""
    rows = connection.exec_driver_sql("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid")
    said = [str(sql).strip() for (sql,) in rows]
    for (version,) in connection.exec_driver_sql(f"SELECT version_num FROM {version_table}"):
        said.append(f"INSERT INTO {version_table} (version_num) VALUES ('{version}')")
    return _BETWEEN.join(said) + "\n"
