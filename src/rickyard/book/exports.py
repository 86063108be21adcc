"""A whole book as a folder of plain files: one CSV for each table, the photos, and a manifest with checksums.

The tables are those that the database holds, not a list kept here, so that nothing new is forgotten and tables of an
earlier version can be written and read as they are. docs/export.md describes the format for other programs.
"""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, MetaData, Table

from rickyard import __version__
from rickyard.book import chain, migrations, seals
from rickyard.book.cells import TYPES, cell_of, kind_of, value_of
from rickyard.book.files import FileStore
from rickyard.errors import BookError
from rickyard.text import T_, Text

FORMAT = 1
MANIFEST = "manifest.json"
DIGEST = "manifest.sha256"
BOOK_FILE = "book.sqlite"
# Tables that are no CSV of their own, and why.
DERIVED = {migrations.VERSION_TABLE: "the version of the tables stands in the manifest as `schema`"}
_NAMES = re.compile(r"tables/[a-z_0-9]+\.csv|files/[0-9a-f]{2}/[0-9a-f]{62}|book\.sqlite")
_BATCH = 500
# A cell of packed weather is larger than what csv reads unasked.
csv.field_size_limit(2**31 - 1)


@dataclass(frozen=True)
class Piece:
    """A file of the set: its size and hash."""

    size: int
    sha256: str


@dataclass(frozen=True)
class Head:
    """The last entry of a yard's journal, or the last link of its deeds and papers, and its hash in the chain."""

    number: int
    hash: str


@dataclass(frozen=True)
class Manifest:
    """What a set holds. `tables`: rows and {column: kind} of each; none if the book is in it as an SQLite file."""

    schema: str
    made_at: str
    rickyard: str = __version__
    format: int = FORMAT
    tables: dict[str, dict[str, Any]] = field(default_factory=dict)
    chain: dict[str, Head] = field(default_factory=dict)
    links: dict[str, Head] = field(default_factory=dict)
    contents: dict[str, Piece] = field(default_factory=dict)


def describe(connection: Connection, made_at: datetime) -> Manifest:
    """The head of a manifest for the book on this connection; its contents are still to come."""
    schema = migrations.revision_of(connection)
    assert schema is not None
    there = sa.inspect(connection)
    return Manifest(
        schema=schema,
        made_at=made_at.isoformat(),
        chain=_heads(chain.heads(connection) if there.has_table("entry_link") else {}),
        links=_heads(seals.heads(connection) if there.has_table("row_link") else {}),
    )


def _heads(found: Mapping[int, tuple[int, str]]) -> dict[str, Head]:
    return {str(yard_id): Head(number, made) for yard_id, (number, made) in found.items()}


def tables_of(connection: Connection) -> list[Table]:
    """The tables of a book as the database knows them; those that others refer to come first."""
    found = MetaData()
    found.reflect(connection)
    if "entry_link" in found.tables:
        found.tables["entry_link"].add_is_dependent_on(found.tables["posting"])
    return [table for table in found.sorted_tables if table.name not in DERIVED]


def write_tables(connection: Connection, folder: Path, manifest: Manifest) -> dict[str, Path]:
    """Writes every table into `folder`, rows in the order of their keys; notes them in the manifest.

    Gives the files by their names in the set. BookError if a row cannot be written as what its column is.
    """
    made: dict[str, Path] = {}
    (folder / "tables").mkdir(parents=True)
    for table in tables_of(connection):
        kinds = {column.name: kind_of(column) for column in table.columns}
        name = f"tables/{table.name}.csv"
        made[name] = folder / name
        with made[name].open("w", encoding="utf-8", newline="") as file:
            sheet = csv.writer(file, lineterminator="\n")
            sheet.writerow(kinds)
            rows = 0
            for row in connection.execute(_rows(table, kinds, connection.dialect.name)):
                try:
                    sheet.writerow(
                        [cell_of(kind, value) for kind, value in zip(kinds.values(), row, strict=True)]
                    )
                except ValueError as error:
                    raise BookError(
                        T_(
                            'Row {row} of {table} cannot be written: {what}. Run "rickyard book check", which says '
                            "what is wrong with the book.",
                            row=rows + 1,
                            table=table.name,
                            what=str(error),
                        ),
                        code="cannot_export",
                    ) from error
                rows += 1
            file.flush()
            os.fsync(file.fileno())
        manifest.tables[table.name] = {"rows": rows, "columns": kinds}
        manifest.contents[name] = piece_of(made[name])
    return made


def note_files(store: FileStore | None, manifest: Manifest) -> dict[str, Path]:
    """Notes every file of the store in the manifest; gives them by their names in the set."""
    made: dict[str, Path] = {}
    for sha256, path in store.all() if store is not None else ():
        name = f"files/{sha256[:2]}/{sha256[2:]}"
        made[name] = path
        manifest.contents[name] = Piece(path.stat().st_size, sha256)
    return made


def manifest_text(manifest: Manifest) -> str:
    return json.dumps(asdict(manifest), indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def write_manifest(folder: Path, manifest: Manifest) -> None:
    """Last of all: a folder without its manifest is no export."""
    text = manifest_text(manifest).encode()
    (folder / MANIFEST).write_bytes(text)
    (folder / DIGEST).write_text(f"{hashlib.sha256(text).hexdigest()}  {MANIFEST}\n", encoding="ascii")


def copy_files(sources: Mapping[str, Path], folder: Path) -> None:
    for name, path in sources.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, folder / name)


def read_manifest(folder: Path) -> Manifest:
    """The manifest of a set, proven against its digest. BookError if it is none, changed, or of a newer version."""
    try:
        text = (folder / MANIFEST).read_bytes()
        digest = (folder / DIGEST).read_text(encoding="ascii", errors="replace")
    except OSError as error:
        raise _wrong(
            "not_an_export",
            T_(
                "{folder} holds no export of a book: {reason}. Give the folder that holds {manifest} and {digest}.",
                folder=folder,
                reason=error.strerror or str(error),
                manifest=MANIFEST,
                digest=DIGEST,
            ),
        ) from error
    if digest.split()[:1] != [hashlib.sha256(text).hexdigest()]:
        raise _changed(MANIFEST)
    try:
        raw = json.loads(text)
        known_format, schema = raw["format"], raw["schema"]
        if known_format != FORMAT or schema not in migrations.REVISIONS:
            raise _wrong(
                "newer_export",
                T_(
                    "This was written by another Rickyard ({version}; format {format}, tables {schema}); this one "
                    "reads format {known} and tables up to {head}. Install that version or a later one.",
                    version=str(raw.get("rickyard")),
                    format=str(known_format),
                    schema=str(schema),
                    known=FORMAT,
                    head=migrations.HEAD,
                ),
            )
        return Manifest(
            schema=schema,
            made_at=str(raw["made_at"]),
            rickyard=str(raw["rickyard"]),
            format=known_format,
            tables={
                name: {"rows": int(note["rows"]), "columns": dict(note["columns"])}
                for name, note in raw["tables"].items()
            },
            chain={yard: Head(note["number"], note["hash"]) for yard, note in raw["chain"].items()},
            # Not in a set of a version before.
            links={yard: Head(note["number"], note["hash"]) for yard, note in raw.get("links", {}).items()},
            contents={
                name: Piece(int(note["size"]), str(note["sha256"])) for name, note in raw["contents"].items()
            },
        )
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise _wrong(
            "bad_manifest",
            T_(
                "{manifest} is not as an export writes it ({what}). Export the book again, or use another copy.",
                manifest=MANIFEST,
                what=f"{type(error).__name__}: {error}",
            ),
        ) from error


def prove(folder: Path, manifest: Manifest) -> None:
    """Every file that the manifest names is there, byte by byte, and no table is there that it does not name."""
    for name, piece in manifest.contents.items():
        if not _NAMES.fullmatch(name):
            raise _wrong("bad_manifest", T_("The manifest names {name}, which no export holds.", name=name))
        path = folder / name
        if not path.is_file():
            raise _wrong(
                "export_incomplete",
                T_(
                    "{name} is missing. Copy the whole folder again, or use another copy of it; nothing was done.",
                    name=name,
                ),
            )
        if path.stat().st_size != piece.size or piece_of(path) != piece:
            raise _changed(name)
    for path in sorted((folder / "tables").glob("*")):
        if f"tables/{path.name}" not in manifest.contents:
            raise _wrong(
                "bad_manifest",
                T_(
                    "tables/{name} is not in the manifest. Take it out of the folder, or export again.",
                    name=path.name,
                ),
            )
    if {f"tables/{name}.csv" for name in manifest.tables} != {
        name for name in manifest.contents if name.startswith("tables/")
    }:
        raise _wrong("bad_manifest", T_("The manifest's tables and its files do not go together."))


def read_tables(connection: Connection, folder: Path, manifest: Manifest) -> None:
    """Fills the empty tables of a book from a proven set. The tables are of the set's own version.

    BookError if tables, columns, cells or the number of rows are not what the manifest and the database say.
    """
    tables = tables_of(connection)
    if {table.name for table in tables} != set(manifest.tables):
        names = sorted({table.name for table in tables} ^ set(manifest.tables))
        raise _wrong(
            "bad_manifest",
            T_("The set and this version do not agree on these tables: {names}.", names=", ".join(names)),
        )
    for table in tables:
        note = manifest.tables[table.name]
        kinds = {column.name: kind_of(column) for column in table.columns}
        if kinds != note["columns"]:
            raise _wrong(
                "bad_manifest",
                T_(
                    "The columns of {table} are not those of version {schema}.",
                    table=table.name,
                    schema=manifest.schema,
                ),
            )
        rows = 0
        batch: list[dict[str, Any]] = []
        insert = _insert(table, kinds, connection.dialect.name)
        for values in _read_rows(folder / "tables" / f"{table.name}.csv", table.name, kinds):
            batch.append(values)
            rows += 1
            if len(batch) == _BATCH:
                connection.execute(insert, batch)
                batch = []
        if batch:
            connection.execute(insert, batch)
        if rows != note["rows"]:
            raise _changed(f"tables/{table.name}.csv")
        _count_on(connection, table)


def piece_of(path: Path) -> Piece:
    with path.open("rb") as file:
        return Piece(path.stat().st_size, hashlib.file_digest(file, "sha256").hexdigest())


def _columns(kinds: Mapping[str, str]) -> dict[str, sa.ColumnClause[Any]]:
    return {name: sa.column(name, TYPES[kind]) for name, kind in kinds.items()}


def _rows(table: Table, kinds: Mapping[str, str], dialect: str) -> sa.Select[Any]:
    columns = _columns(kinds)
    source = sa.table(table.name, *columns.values())
    # JSON as the text it is kept as: read and written again it might differ in its spaces.
    wanted = [
        sa.cast(source.c[name], sa.Text) if kind == "json" and dialect != "sqlite" else source.c[name]
        for name, kind in kinds.items()
    ]
    keys = [source.c[column.name] for column in table.primary_key.columns]
    return sa.select(*wanted).order_by(*keys).execution_options(yield_per=_BATCH)


def _insert(table: Table, kinds: Mapping[str, str], dialect: str) -> sa.Insert:
    source = sa.table(table.name, *_columns(kinds).values())
    as_json = {
        name: sa.cast(sa.bindparam(name, type_=sa.Text()), sa.JSON())
        for name, kind in kinds.items()
        if kind == "json" and dialect != "sqlite"
    }
    plain = {
        name: sa.bindparam(name, type_=TYPES[kind]) for name, kind in kinds.items() if name not in as_json
    }
    return sa.insert(source).values({**plain, **as_json})


def _read_rows(path: Path, table: str, kinds: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    with path.open(encoding="utf-8", newline="") as file:
        sheet = csv.reader(file, strict=True)
        try:
            if next(sheet, None) != list(kinds):
                raise ValueError("its first line does not name the columns of the manifest")
            for cells in sheet:
                yield {
                    name: value_of(kind, cell)
                    for (name, kind), cell in zip(kinds.items(), cells, strict=True)
                }
        except (ValueError, csv.Error) as error:
            raise _wrong(
                "bad_table",
                T_(
                    "tables/{table}.csv, line {line}: {what}. Export the book again; nothing was done.",
                    table=table,
                    line=sheet.line_num,
                    what=str(error),
                ),
            ) from error


def _count_on(connection: Connection, table: Table) -> None:
    """New rows are to get ids after the last one; SQLite sees that by itself."""
    if connection.dialect.name == "sqlite" or "id" not in table.columns:
        return
    connection.exec_driver_sql(
        f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), greatest(max(id), 1), max(id) IS NOT NULL) "
        f'FROM "{table.name}"'
    )


def _changed(name: str) -> BookError:
    return _wrong(
        "export_changed",
        T_(
            "{name} is not what was written: its checksum differs. Use another copy; nothing was done.",
            name=name,
        ),
    )


def _wrong(code: str, text: Text) -> BookError:
    return BookError(text, code=code, field="from")
