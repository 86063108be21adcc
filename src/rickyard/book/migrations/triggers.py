"""Triggers of the journal, in the words of each database.

No row of it is changed or deleted (`protect`). An entry is sealed once all its postings are there, and then it must
balance for every species and lot, its seal must hang on the one before, and no posting comes any more (`seal`).
SQLite has no constraint over several rows; the sealing is the one moment at which a trigger can see a whole entry.

They guard against slips and quiet edits through other programs; whoever may alter the tables can drop them,
which `book check` then reports.
"""

from __future__ import annotations

from sqlalchemy import Connection, inspect

JOURNAL = ("entry", "posting")
APPEND_ONLY = (*JOURNAL, "entry_link")
SEALS = {"entry_link_fits": "entry_link", "posting_not_after_seal": "posting"}
_REFUSAL = "the journal is append-only: post a reversal instead"
_UNBALANCED = "an entry must balance for every species and lot"
_MISPLACED = "a seal belongs to its entry and hangs on the one before"
_SEALED = "the entry is sealed: no posting comes to it any more"

_SUMS = (
    "SELECT 1 FROM posting WHERE entry_id = NEW.entry_id GROUP BY species_id, lot_id HAVING sum(mass_g) <> 0"
)
_ITS_ENTRY = "SELECT 1 FROM entry WHERE id = NEW.entry_id AND yard_id = NEW.yard_id AND number = NEW.number"
_BEFORE = (
    "SELECT hash FROM entry_link WHERE yard_id = NEW.yard_id AND number < NEW.number "
    "ORDER BY number DESC LIMIT 1"
)
_AFTER = "SELECT 1 FROM entry_link WHERE yard_id = NEW.yard_id AND number > NEW.number"
_MISFIT = f"NOT EXISTS ({_ITS_ENTRY}) OR EXISTS ({_AFTER}) OR NEW.previous <> COALESCE(({_BEFORE}), '')"
_HAS_SEAL = "SELECT 1 FROM entry_link WHERE entry_id = NEW.entry_id"


def protect(connection: Connection, tables: tuple[str, ...] = APPEND_ONLY) -> None:
    """Makes the tables append-only. Also brings back the seals' triggers that a rebuilt table has lost."""
    if connection.dialect.name == "sqlite":
        for table in tables:
            for action in ("UPDATE", "DELETE"):
                connection.exec_driver_sql(
                    f"CREATE TRIGGER {_name(table, action)} BEFORE {action} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
                )
    else:
        _function(connection, "refuse_change", f"BEGIN {_raise(_REFUSAL)} END")
        for table in tables:
            for action in ("UPDATE", "DELETE", "TRUNCATE"):
                scope = "STATEMENT" if action == "TRUNCATE" else "ROW"
                connection.exec_driver_sql(
                    f"CREATE TRIGGER {_name(table, action)} BEFORE {action} ON {table} "
                    f"FOR EACH {scope} EXECUTE FUNCTION refuse_change()"
                )
    if set(tables) & set(JOURNAL) and inspect(connection).has_table("entry_link"):
        seal(connection)


def unprotect(connection: Connection, tables: tuple[str, ...] = APPEND_ONLY) -> None:
    """Takes the triggers away again, for a migration that must rebuild a table or go back."""
    for table in tables:
        if connection.dialect.name == "sqlite":
            for action in ("UPDATE", "DELETE"):
                connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {_name(table, action)}")
        elif inspect(connection).has_table(table):
            for action in ("UPDATE", "DELETE", "TRUNCATE"):
                connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {_name(table, action)} ON {table}")
    if connection.dialect.name != "sqlite" and not _in_use(connection, "refuse_change"):
        connection.exec_driver_sql("DROP FUNCTION IF EXISTS refuse_change()")


def seal(connection: Connection) -> None:
    """An entry is sealed whole and in its turn, and then closed."""
    unseal(connection)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(
            "CREATE TRIGGER entry_link_fits BEFORE INSERT ON entry_link BEGIN "
            f"SELECT RAISE(ABORT, '{_UNBALANCED}') WHERE EXISTS ({_SUMS}); "
            f"SELECT RAISE(ABORT, '{_MISPLACED}') WHERE {_MISFIT}; END"
        )
        connection.exec_driver_sql(
            "CREATE TRIGGER posting_not_after_seal BEFORE INSERT ON posting "
            f"WHEN EXISTS ({_HAS_SEAL}) BEGIN SELECT RAISE(ABORT, '{_SEALED}'); END"
        )
        return
    _function(
        connection,
        "seal_fits",
        f"BEGIN IF EXISTS ({_SUMS}) THEN {_raise(_UNBALANCED)} END IF; "
        f"IF {_MISFIT} THEN {_raise(_MISPLACED)} END IF; RETURN NEW; END",
    )
    _function(
        connection,
        "refuse_after_seal",
        f"BEGIN IF EXISTS ({_HAS_SEAL}) THEN {_raise(_SEALED)} END IF; RETURN NEW; END",
    )
    for name, function in (("entry_link_fits", "seal_fits"), ("posting_not_after_seal", "refuse_after_seal")):
        connection.exec_driver_sql(
            f"CREATE TRIGGER {name} BEFORE INSERT ON {SEALS[name]} FOR EACH ROW EXECUTE FUNCTION {function}()"
        )


def unseal(connection: Connection) -> None:
    """Takes the seals' triggers away, for wood that comes with its seals, or for a migration that goes back."""
    for name, table in SEALS.items():
        on = "" if connection.dialect.name == "sqlite" else f" ON {table}"
        connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {name}{on}")
    if connection.dialect.name != "sqlite":
        for function in ("seal_fits", "refuse_after_seal"):
            connection.exec_driver_sql(f"DROP FUNCTION IF EXISTS {function}()")


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
    return [name for name in (*wanted, *SEALS) if name not in there]


def _name(table: str, action: str) -> str:
    return f"{table}_no_{action.lower()}"


def _raise(words: str) -> str:
    return f"RAISE EXCEPTION '{words}' USING ERRCODE = 'integrity_constraint_violation';"


def _function(connection: Connection, name: str, body: str) -> None:
    connection.exec_driver_sql(
        f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ {body} $$"
    )


def _in_use(connection: Connection, function: str) -> bool:
    query = (
        "SELECT 1 FROM pg_trigger JOIN pg_proc ON pg_proc.oid = tgfoid "
        f"WHERE proname = '{function}' AND pg_function_is_visible(pg_proc.oid) LIMIT 1"
    )
    return connection.exec_driver_sql(query).first() is not None
