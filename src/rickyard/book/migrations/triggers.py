"""Triggers that refuse to change or delete a row of the journal, in the words of each database.

They guard against slips and quiet edits through other programs; whoever may alter the tables can drop them,
which `book check` then reports.
"""

from __future__ import annotations

from sqlalchemy import Connection

APPEND_ONLY = ("entry", "posting")
_REFUSAL = "the journal is append-only: post a reversal instead"


def protect(connection: Connection, tables: tuple[str, ...] = APPEND_ONLY) -> None:
    """Makes the tables append-only."""
    if connection.dialect.name == "sqlite":
        for table in tables:
            for action in ("UPDATE", "DELETE"):
                connection.exec_driver_sql(
                    f"CREATE TRIGGER {_name(table, action)} BEFORE {action} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
                )
        return
    connection.exec_driver_sql(
        "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    for table in tables:
        for action in ("UPDATE", "DELETE", "TRUNCATE"):
            scope = "STATEMENT" if action == "TRUNCATE" else "ROW"
            connection.exec_driver_sql(
                f"CREATE TRIGGER {_name(table, action)} BEFORE {action} ON {table} "
                f"FOR EACH {scope} EXECUTE FUNCTION refuse_change()"
            )


def unprotect(connection: Connection, tables: tuple[str, ...] = APPEND_ONLY) -> None:
    """Takes the triggers away again, for a migration that must rebuild a table or go back."""
    for table in tables:
        if connection.dialect.name == "sqlite":
            for action in ("UPDATE", "DELETE"):
                connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {_name(table, action)}")
        else:
            for action in ("UPDATE", "DELETE", "TRUNCATE"):
                connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {_name(table, action)} ON {table}")
    if connection.dialect.name != "sqlite":
        connection.exec_driver_sql("DROP FUNCTION IF EXISTS refuse_change()")


def missing(connection: Connection) -> list[str]:
    """Names of the triggers that ought to be there and are not."""
    if connection.dialect.name == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        actions: tuple[str, ...] = ("UPDATE", "DELETE")
    else:
        # tgenabled: a disabled trigger ('D') is as good as none
        query = (
            "SELECT tgname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid "
            "WHERE NOT tgisinternal AND tgenabled <> 'D' AND pg_table_is_visible(pg_class.oid)"
        )
        actions = ("UPDATE", "DELETE", "TRUNCATE")
    there = {row[0] for row in connection.exec_driver_sql(query)}
    wanted = [_name(table, action) for table in APPEND_ONLY for action in actions]
    return [name for name in wanted if name not in there]


def _name(table: str, action: str) -> str:
    return f"{table}_no_{action.lower()}"
