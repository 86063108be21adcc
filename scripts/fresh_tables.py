"""Writes the tables of a new book (rickyard/book/migrations/fresh.sql) as the migrations make them. `make tables`."""

from __future__ import annotations

import tempfile
from pathlib import Path

from rickyard.book import migrations
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import fresh


def migrated() -> str:
    with tempfile.TemporaryDirectory(prefix="rickyard-tables-") as folder:
        path = Path(folder) / "book.sqlite"
        path.open("x").close()
        engine = make_engine(book_url(path), writing=True, foreign_keys=False)
        try:
            with engine.begin() as connection:
                migrations.upgrade_stepwise(connection)
                return fresh.as_made(connection, migrations.VERSION_TABLE)
        finally:
            engine.dispose()


if __name__ == "__main__":
    fresh.FILE.write_text(migrated(), encoding="utf-8")
