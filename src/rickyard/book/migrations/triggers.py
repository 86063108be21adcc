"""Triggers of the book, in the words of each database.

The journal is append-only: no row of it is changed or deleted, but that a reason may be taken out once its salt is
thrown away. An entry is sealed once all its postings are there, and then it must balance for every species and lot,
its seal must hang on the one before, and no posting comes any more. Deeds, tickets and payments are not deleted, and
not changed once they are sealed; words of them may be, once the salts of their seals are thrown away.
SQLite has no constraint over several rows; the sealing is the one moment at which a trigger can see a whole entry.

They guard against slips and quiet edits through other programs; whoever may alter the tables can drop or replace
them, which `book check` then reports.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from sqlalchemy import Connection, inspect

JOURNAL = ("entry", "posting")
CHAINS = ("entry_link", "row_link", "row_seal")
# Tables whose rows stay as they were sealed, and of which columns that holds: those that a later version adds, to say
# what became of a ticket or a payment, may be filled later (and are sealed anew then).
KEPT = {
    "deed": (
        "id",
        "yard_id",
        "client_key",
        "kind",
        "body_hash",
        "answer",
        "person_id",
        "happened_at",
        "recorded_at",
    ),
    "payment": ("id", "yard_id", "ticket_id", "amount_minor", "method", "paid_on"),
    "ticket": (
        "id",
        "yard_id",
        "number",
        "order_id",
        "household_id",
        "entry_id",
        "issued_at",
        "delivered_on",
        "outside_m3",
        "price_minor",
        "tax_minor",
        "total_minor",
        "currency",
        "facts",
    ),
    "undoing": (
        "id",
        "yard_id",
        "deed_id",
        "undone_at",
        "reason",
        "ticket_id",
        "payment_id",
        "load_id",
        "stack_id",
        "measure_id",
    ),
}
APPEND_ONLY = (*JOURNAL, *CHAINS)
GUARDED = (*APPEND_ONLY, *KEPT)
# What may be taken out, and how all other columns of its table are named.
_ENTRY = ("id", "yard_id", "number", "deed_id", "kind", "happened_at", "recorded_at", "reverses_id")
_ENTRY_LINK = ("entry_id", "yard_id", "number", "previous", "hash", "reason_hash")
_ROW_SEAL = ("table_name", "row_id", "link_id", "yard_id", "hash", "words_hash")

_REFUSAL = "the journal is append-only: post a reversal instead"
_KEPT = "a sealed row is append-only: enter what changed as a deed of its own"
_NO_SALT = "a salt is append-only: it can only be thrown away"
_WITH_SALT = "the reason is append-only: it can only be taken out, after its salt"
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
_STILL_SALTED = "SELECT 1 FROM entry_link WHERE entry_id = OLD.id AND reason_salt <> ''"
_STILL_SEALED = (
    "SELECT 1 FROM row_seal WHERE table_name = '{table}' AND row_id = OLD.id "
    "AND (words_hash = '' OR salt <> '')"
)


@dataclass(frozen=True)
class Trigger:
    """A trigger that refuses, with the words of the first condition that holds; "" holds always."""

    name: str
    table: str
    event: str
    rules: tuple[tuple[str, str], ...]

    @property
    def function(self) -> str:
        """Its function on PostgreSQL."""
        return {
            "entry_link_fits": "seal_fits",
            "posting_not_after_seal": "refuse_after_seal",
        }.get(self.name, "refuse_change" if self.rules == ((_REFUSAL, ""),) else f"refuse_{self.name}")

    @property
    def body(self) -> str:
        """What its function on PostgreSQL says."""
        lines = [
            _raise(words) if not condition else f"IF {condition} THEN {_raise(words)} END IF;"
            for words, condition in self.rules
        ]
        end = "" if not self.rules[-1][1] else f" RETURN {'OLD' if self.event == 'DELETE' else 'NEW'};"
        return f"BEGIN {' '.join(lines)}{end} END"

    def made(self, dialect: str) -> str:
        """The statement that makes it."""
        head = f"CREATE TRIGGER {self.name} BEFORE {self.event} ON {self.table}"
        if dialect == "sqlite":
            lines = [
                f"SELECT RAISE(ABORT, '{words}')" + (f" WHERE {condition}" if condition else "")
                for words, condition in self.rules
            ]
            return f"{head} BEGIN {'; '.join(lines)}; END"
        scope = "STATEMENT" if self.event == "TRUNCATE" else "ROW"
        return f"{head} FOR EACH {scope} EXECUTE FUNCTION {self.function}()"


def protect(connection: Connection, tables: tuple[str, ...] = GUARDED) -> None:
    """Makes the tables append-only, as their version is. Also brings back triggers that a rebuilt table has lost."""
    unprotect(connection, tables)
    there = set(inspect(connection).get_table_names())
    _make(connection, [each for each in _guards(connection, there) if each.table in tables])
    if set(tables) & set(JOURNAL) and "entry_link" in there:
        seal(connection)


def unprotect(connection: Connection, tables: tuple[str, ...] = GUARDED) -> None:
    """Takes the triggers away again, for a migration that must rebuild a table or go back."""
    there = set(inspect(connection).get_table_names())
    # Of either version: the one that is left and the one that comes.
    for sealed in (there - {"row_seal"}, there | {"row_seal"}):
        _drop(connection, [each for each in _guards(connection, sealed) if each.table in tables])


def seal(connection: Connection) -> None:
    """An entry is sealed whole and in its turn, and then closed."""
    unseal(connection)
    _make(connection, _SEALS)


def unseal(connection: Connection) -> None:
    """Takes the seals' triggers away, for wood that comes with its seals, or for a migration that goes back."""
    _drop(connection, _SEALS)


def missing(connection: Connection) -> list[str]:
    """Names of the triggers that ought to be there and are not, or do not do what they ought to."""
    dialect = connection.dialect.name
    there: dict[str, tuple[str, str]] = {}
    if dialect == "sqlite":
        for name, made in connection.exec_driver_sql(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ):
            there[name] = _plain(made), ""
    else:
        # tgenabled: a disabled trigger ('D') is as good as none, and so is one for replicas only ('R')
        for name, made, body in connection.exec_driver_sql(
            "SELECT tgname, pg_get_triggerdef(pg_trigger.oid, true), prosrc FROM pg_trigger "
            "JOIN pg_class ON pg_class.oid = tgrelid JOIN pg_proc ON pg_proc.oid = tgfoid "
            "WHERE NOT tgisinternal AND tgenabled IN ('O', 'A') AND pg_table_is_visible(pg_class.oid)"
        ):
            there[name] = _plain(made), body.strip()
    wanted = [*_guards(connection, set(GUARDED)), *_SEALS]
    return [
        each.name
        for each in wanted
        if there.get(each.name)
        != (_plain(each.made(dialect)), "" if dialect == "sqlite" else each.body.strip())
    ]


def _guards(connection: Connection, there: set[str]) -> list[Trigger]:
    """The triggers against changes, for the tables that are there."""
    always = ((_REFUSAL, ""),)
    ends = ("DELETE",) if connection.dialect.name == "sqlite" else ("DELETE", "TRUNCATE")
    sealed = "row_seal" in there
    inspector = inspect(connection)
    tables = set(inspector.get_table_names())
    made = []
    for table in (each for each in APPEND_ONLY if each in there):
        columns = {"entry": _ENTRY, "entry_link": _ENTRY_LINK, "row_seal": _ROW_SEAL}.get(table)
        of = f" OF {', '.join(columns)}" if columns and sealed else ""
        made.append(Trigger(f"{table}_no_update", table, f"UPDATE{of}", always))
        made += [Trigger(f"{table}_no_{event.lower()}", table, event, always) for event in ends]
    if sealed:
        for table, columns in KEPT.items():
            rule = (_KEPT, f"EXISTS ({_STILL_SEALED.format(table=table)})")
            # Of a version before, a table may lack the last of them.
            has = {each["name"] for each in inspector.get_columns(table)} if table in tables else columns
            of = ", ".join(column for column in columns if column in has)
            made.append(Trigger(f"{table}_no_update", table, f"UPDATE OF {of}", (rule,)))
            made += [Trigger(f"{table}_no_{event.lower()}", table, event, ((_KEPT, ""),)) for event in ends]
        for table, column in (("entry_link", "reason_salt"), ("row_seal", "salt")):
            rule = (_NO_SALT, f"NEW.{column} <> ''")
            made.append(Trigger(f"{table}_salt_goes", table, f"UPDATE OF {column}", (rule,)))
        rule = (_WITH_SALT, f"NEW.reason <> '' OR EXISTS ({_STILL_SALTED})")
        made.append(Trigger("entry_reason_goes", "entry", "UPDATE OF reason", (rule,)))
    return made


_SEALS = (
    Trigger(
        "entry_link_fits", "entry_link", "INSERT", ((_UNBALANCED, f"EXISTS ({_SUMS})"), (_MISPLACED, _MISFIT))
    ),
    Trigger("posting_not_after_seal", "posting", "INSERT", ((_SEALED, f"EXISTS ({_HAS_SEAL})"),)),
)


def _make(connection: Connection, triggers: list[Trigger] | tuple[Trigger, ...]) -> None:
    dialect = connection.dialect.name
    for each in triggers:
        if dialect != "sqlite":
            connection.exec_driver_sql(
                f"CREATE OR REPLACE FUNCTION {each.function}() RETURNS trigger LANGUAGE plpgsql "
                f"AS $$ {each.body} $$"
            )
        connection.exec_driver_sql(each.made(dialect))


def _drop(connection: Connection, triggers: list[Trigger] | tuple[Trigger, ...]) -> None:
    dialect = connection.dialect.name
    there = set(inspect(connection).get_table_names())
    for each in triggers:
        if dialect == "sqlite":
            connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {each.name}")
        elif each.table in there:
            connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {each.name} ON {each.table}")
    if dialect != "sqlite":
        for function in {each.function for each in triggers}:
            if not _in_use(connection, function):
                connection.exec_driver_sql(f"DROP FUNCTION IF EXISTS {function}()")


def _plain(statement: str) -> str:
    """The statement without what databases add to it."""
    return re.sub(r"\s+", " ", statement.replace('"', "")).strip()


def _raise(words: str) -> str:
    return f"RAISE EXCEPTION '{words}' USING ERRCODE = 'integrity_constraint_violation';"


def _in_use(connection: Connection, function: str) -> bool:
    query = (
        "SELECT 1 FROM pg_trigger JOIN pg_proc ON pg_proc.oid = tgfoid "
        f"WHERE proname = '{function}' AND pg_function_is_visible(pg_proc.oid) LIMIT 1"
    )
    return connection.exec_driver_sql(query).first() is not None
