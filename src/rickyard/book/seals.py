"""Seals of deeds, papers and measures: who, when, what was answered, money, volumes, kinds of spots.

Whatever a writing session of a book changed in these tables is sealed at its end, in one link that hangs on the
yard's link before (`watch`, `seal_rows`). A row that was written or changed by other means has no seal, or another
one, and `check` says so. As with the journal's chain (`chain`), whoever makes everything anew is found only by a
link's hash that was kept elsewhere.

No personal data is hashed: of each row its numbers, days and choices are, and its free text by a salted hash of its
own (`RowSeal`). Who did a deed is a number; the name stands in `person`, which is not sealed.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, Table, event, inspect
from sqlalchemy.orm import Session

from rickyard.book.base import Base
from rickyard.book.cells import TYPES, cell_of, kind_of

# Form of the text that is hashed. One that was used is never changed: books were sealed with it.
FORM = 1
# The sealed tables, and of each the columns of free text, which may name somebody.
SEALED: Mapping[str, tuple[str, ...]] = {
    "deed": ("answer", "body_hash"),
    "load": ("source", "typed", "note"),
    "orders": ("typed", "note"),
    "payment": (),
    "reading": ("typed", "note"),
    "spot": (),
    "stack": ("name", "row_label", "note"),
    "stack_measure": (),
    "ticket": ("facts",),
    "undoing": ("reason",),
}
# Tables whose rows are sealed with the row they belong to, and by which column.
PARTS: Mapping[str, tuple[str, str]] = {"log_piece": ("load", "load_id")}
# Rows of these are written once; of the others a later seal counts, if a deed is in its link.
ONCE = ("deed", "spot")
# Columns that came after rows were sealed without them, and what those rows hold: left out of the hash while they
# do. For a column that may be NULL nothing need be said here: NULL is always left out.
LATER: Mapping[str, Mapping[str, Any]] = {}
# Columns that prove nothing: when a client says that it happened is kept to compare a second request with the first.
UNSEALED: Mapping[str, tuple[str, ...]] = {"deed": ("told_at",)}
# Where a writing session keeps which rows it wrote.
_TOUCHED = "rows to be sealed"
# Of how many rows at once the ids are asked for: SQLite takes at most 32,766 parameters.
_BATCH = 500

Key = tuple[str, int]


@dataclass(frozen=True)
class RowBreak:
    """Where a seal does not hold. `what`: "changed", "unsealed", "gone", "again"; "link" for a link of its number."""

    yard_id: int
    number: int
    what: str
    table: str = ""
    row_id: int = 0


@dataclass(frozen=True)
class _Row:
    """A row as it is now: its yard, its numbers, and its free text."""

    yard_id: int
    plain: str
    words: str

    def hash(self, key: Key, words_hash: str) -> str:
        return _hash(_canonical([FORM, *key, self.plain, words_hash]))


def watch(session: Session) -> set[Key]:
    """The rows of sealed tables that the session will have written, filled as it flushes."""
    touched: set[Key] = set()
    session.info[_TOUCHED] = touched
    return touched


@event.listens_for(Session, "after_flush")
def _note(flushed: Session, _context: Any) -> None:
    """Listens to all sessions, once: to be told by each writer anew takes longer than its flushes are looked at."""
    touched: set[Key] | None = flushed.info.get(_TOUCHED)
    if touched is None:
        return
    for row in (*flushed.new, *flushed.dirty, *flushed.deleted):
        name = getattr(row, "__tablename__", "")
        if name in SEALED:
            if row in flushed.new or row in flushed.deleted or flushed.is_modified(row):
                touched.add((name, row.id))
        elif name in PARTS:
            whole, column = PARTS[name]
            touched.add((whole, getattr(row, column)))


def seal_rows(connection: Connection, keys: Iterable[Key], tables: Mapping[str, Table] | None = None) -> None:
    """Seals these rows as they are, in one link of each yard. The writer holds the yard's turn."""
    wanted: dict[str, list[int]] = defaultdict(list)
    for name, row_id in sorted(set(keys)):
        wanted[name].append(row_id)
    by_yard: dict[int, dict[Key, _Row]] = defaultdict(dict)
    for name, ids in wanted.items():
        for at in range(0, len(ids), _BATCH):
            for row_id, row in _rows(connection, name, tables, ids[at : at + _BATCH]):
                by_yard[row.yard_id][name, row_id] = row
    for yard_id, rows in sorted(by_yard.items()):
        last = connection.execute(_LAST, {"yard_id": yard_id}).first()
        number, previous = (1, "") if last is None else (last.number + 1, last.hash)
        seals: list[dict[str, Any]] = []
        for key, row in rows.items():
            salt = secrets.token_hex(16) if SEALED[key[0]] else ""
            words_hash = _hash(f"{salt} {row.words}") if salt else ""
            made = row.hash(key, words_hash)
            seals.append(
                dict(zip(("table_name", "row_id"), key, strict=True))
                | {"yard_id": yard_id, "hash": made, "salt": salt, "words_hash": words_hash}
            )
        sealed = link_hash(
            previous, yard_id, number, ((s["table_name"], s["row_id"], s["hash"]) for s in seals)
        )
        link = {"yard_id": yard_id, "number": number, "previous": previous, "hash": sealed}
        link_id = connection.execute(_LINK, link).scalar_one()
        connection.execute(_SEAL, [seal | {"link_id": link_id} for seal in seals])


def seal_present(connection: Connection) -> None:
    """Seals every row that has no seal, as it is: for a migration. Rows proven by nothing before are so from now."""
    found = sa.MetaData()
    there = set(inspect(connection).get_table_names())
    found.reflect(connection, only=sorted({*SEALED, *PARTS} & there), resolve_fks=False)
    keys: list[Key] = []
    for name in sorted(SEALED.keys() & there):
        query = (
            f"SELECT id FROM {name} WHERE id NOT IN (SELECT row_id FROM row_seal WHERE table_name = '{name}')"
        )
        keys += [(name, row_id) for (row_id,) in connection.exec_driver_sql(query)]
    seal_rows(connection, keys, found.tables)


def breaks(connection: Connection) -> Iterator[RowBreak]:
    """Walks all links and all sealed tables and says where a row is not what was sealed."""
    of_link: dict[int, list[sa.Row[Any]]] = defaultdict(list)
    for seal in connection.execute(_SEALS):
        of_link[seal.link_id].append(seal)
    now: dict[Key, sa.Row[Any]] = {}
    yard_id, number, previous = None, 0, ""
    for link in connection.execute(_LINKS).all():
        if link.yard_id != yard_id:
            yard_id, number, previous = link.yard_id, 0, ""
        number += 1
        seals = of_link.pop(link.id, [])
        rows = [(seal.table_name, seal.row_id, seal.hash) for seal in seals]
        if (link.number, link.previous) != (number, previous) or link.hash != link_hash(
            link.previous, link.yard_id, link.number, rows
        ):
            yield RowBreak(link.yard_id, link.number, "link")
        with_deed = any(seal.table_name == "deed" for seal in seals)
        for seal in seals:
            key = seal.table_name, seal.row_id
            if key in now and (not with_deed or seal.table_name in ONCE):
                yield RowBreak(link.yard_id, link.number, "again", *key)
            now[key] = seal
        previous = link.hash
    for name in SEALED:
        for row_id, row in _rows(connection, name):
            sealed = now.pop((name, row_id), None)
            if sealed is None:
                yield RowBreak(row.yard_id, 0, "unsealed", name, row_id)
            elif not _fits(row, (name, row_id), sealed):
                yield RowBreak(row.yard_id, 0, "changed", name, row_id)
    for (name, row_id), seal in now.items():
        yield RowBreak(seal.yard_id, 0, "gone", name, row_id)


def heads(connection: Connection) -> dict[int, tuple[int, str]]:
    """The last link's number and hash of each yard that has links."""
    return {row.yard_id: (row.number, row.hash) for row in connection.execute(_HEADS)}


def hash_of(connection: Connection, yard_id: int, number: int) -> str | None:
    """The hash of a link; None if there is no such link."""
    found: str | None = connection.execute(_HASH, {"yard_id": yard_id, "number": number}).scalar()
    return found


def forget_words(connection: Connection, name: str, row_id: int) -> None:
    """Throws away the salts of a row's seals, so that its text can be changed by a deed, which seals it anew."""
    connection.execute(_UNSALT, {"table_name": name, "row_id": row_id})


def link_hash(previous: str, yard_id: int, number: int, rows: Iterable[tuple[str, int, str]]) -> str:
    return _hash(_canonical([FORM, previous, yard_id, number, sorted([list(row) for row in rows])]))


def _fits(row: _Row, key: Key, seal: sa.Row[Any]) -> bool:
    if SEALED[key[0]] and (not seal.salt or _hash(f"{seal.salt} {row.words}") != seal.words_hash):
        return False
    return bool(row.hash(key, seal.words_hash) == seal.hash and row.yard_id == seal.yard_id)


def _rows(
    connection: Connection,
    name: str,
    tables: Mapping[str, Table] | None = None,
    ids: list[int] | None = None,
) -> Iterator[tuple[int, _Row]]:
    """Rows of a sealed table with their parts, all or those of `ids`, in the order of their ids."""
    tables = Base.metadata.tables if tables is None else tables
    parts: dict[int, list[list[Any]]] = defaultdict(list)
    for part, (whole, column) in PARTS.items():
        if whole == name and part in tables:
            for values in _values(connection, tables[part], column, ids):
                parts[values[column]].append([part, _said(tables[part], values)])
    for values in _values(connection, tables[name], "id", ids):
        words = {column: values.pop(column) for column in SEALED[name]}
        plain: list[Any] = [_said(tables[name], values)]
        if values["id"] in parts:
            plain += sorted(parts[values["id"]], key=_canonical)
        yield values["id"], _Row(values["yard_id"], _canonical(plain), _canonical(words))


def _values(
    connection: Connection, table: Table, column: str, ids: list[int] | None
) -> Iterator[dict[str, Any]]:
    """Rows in plain values, the same from both databases: JSON as the text it is kept as."""
    query = _query(table, connection.dialect.name, None if ids is None else column)
    kinds = _kinds(table)
    for row in connection.execute(query, {} if ids is None else {"ids": ids}):
        yield dict(zip(kinds, row, strict=True))


@cache
def _kinds(table: Table) -> dict[str, str]:
    return {column.name: kind_of(column) for column in table.columns}


@cache
def _query(table: Table, dialect: str, among: str | None) -> sa.Select[Any]:
    """All rows, or those with one of `ids` in the column `among`; made once, for every deed asks."""
    kinds = _kinds(table)
    source = sa.table(table.name, *(sa.column(each, TYPES[kind]) for each, kind in kinds.items()))
    wanted = [
        sa.cast(source.c[each], sa.Text).label(each)
        if kind == "json" and dialect != "sqlite"
        else source.c[each]
        for each, kind in kinds.items()
    ]
    query = sa.select(*wanted).order_by(source.c.id)
    return query if among is None else query.where(source.c[among].in_(sa.bindparam("ids", expanding=True)))


def _said(table: Table, values: Mapping[str, Any]) -> dict[str, str]:
    """A row's values as text, those without a value left out."""
    later, unsealed = LATER.get(table.name, {}), UNSEALED.get(table.name, ())
    said = {}
    for name, kind in _kinds(table).items():
        value = values.get(name)
        if value is None or name in unsealed or (name in later and value == later[name]):
            continue
        try:
            said[name] = cell_of(kind, value)
        except ValueError:
            # Nothing that Rickyard wrote; it is not what was sealed either.
            said[name] = repr(value)
    return said


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _canonical(value: Any) -> str:
    return json.dumps(value, separators=(",", ":"), ensure_ascii=True, allow_nan=False, sort_keys=True)


_LAST = sa.text("SELECT number, hash FROM row_link WHERE yard_id = :yard_id ORDER BY number DESC LIMIT 1")
_LINKS = sa.text("SELECT id, yard_id, number, previous, hash FROM row_link ORDER BY yard_id, number")
_SEALS = sa.text(
    "SELECT link_id, table_name, row_id, yard_id, hash, salt, words_hash FROM row_seal ORDER BY link_id"
)
_HEADS = sa.text(
    "SELECT yard_id, number, hash FROM row_link AS last WHERE number = "
    "(SELECT max(number) FROM row_link WHERE yard_id = last.yard_id) ORDER BY yard_id"
)
_HASH = sa.text("SELECT hash FROM row_link WHERE yard_id = :yard_id AND number = :number")
_LINK = sa.text(
    "INSERT INTO row_link (yard_id, number, previous, hash) VALUES (:yard_id, :number, :previous, :hash) RETURNING id"
)
_SEAL = sa.text(
    "INSERT INTO row_seal (table_name, row_id, link_id, yard_id, hash, salt, words_hash) "
    "VALUES (:table_name, :row_id, :link_id, :yard_id, :hash, :salt, :words_hash)"
)
_UNSALT = sa.text("UPDATE row_seal SET salt = '' WHERE table_name = :table_name AND row_id = :row_id")
