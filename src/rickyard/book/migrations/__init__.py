"""The book's tables, version by version, as Alembic migrations that need no configuration file.

`REVISIONS` lists every version this program knows, oldest first; a book is of one of them, or newer.
On SQLite a later migration changes a table with `op.batch_alter_table`, which rebuilds it and keeps its CHECKs but
not its triggers: make those again with `triggers.protect`. A column that comes to a sealed table (`seals.SEALED`)
may be NULL, or `seals.LATER` says what the rows hold that were there.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection, inspect

REVISIONS = (
    "0001",
    "0002",
    "0003",
    "0004",
    "0005",
    "0006",
    "0007",
    "0008",
    "0009",
    "0010",
    "0011",
    "0012",
    "0013",
    "0014",
    "0015",
    "0016",
    "0017",
    "0018",
    "0019",
)
HEAD = REVISIONS[-1]
# Alembic's own name for it is "alembic_version"; another program's database must not be taken for a book.
VERSION_TABLE = "book_schema"
FOLDER = Path(__file__).parent


def revision_of(connection: Connection) -> str | None:
    """The version of the tables, or None if the database holds no book."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    found = connection.exec_driver_sql(f"SELECT version_num FROM {VERSION_TABLE}").scalar()
    return None if found is None else str(found)


def upgrade(connection: Connection, to: str = HEAD) -> None:
    """Applies migrations up to `to`, inside the transaction that `connection` is in."""
    # Alembic takes a quarter of a second to import, and most starts do not migrate.
    from alembic import command

    command.upgrade(_config(connection), to)


def downgrade(connection: Connection, to: str = "base") -> None:
    """Takes migrations back down to `to`, inside the transaction that `connection` is in."""
    from alembic import command

    command.downgrade(_config(connection), to)


def differences(connection: Connection) -> list[Any]:
    """What Alembic would change to bring the database to the models: nothing, when the migrations are complete."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from rickyard.book.models import Base

    context = MigrationContext.configure(
        connection,
        opts={"compare_type": True, "compare_server_default": True, "version_table": VERSION_TABLE},
    )
    return list(compare_metadata(context, Base.metadata))


def script_directory() -> Any:
    """Alembic's view of the versions in this folder."""
    from alembic.script import ScriptDirectory

    return ScriptDirectory.from_config(_config(None))


def _config(connection: Connection | None) -> Any:
    from alembic.config import Config

    config = Config()
    # A percent sign in the path would be taken for a place to fill in.
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config
