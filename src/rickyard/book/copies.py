"""Copies of a whole book: exports, backups, and books made from them.

A backup is one zip archive: a manifest with checksums, the book, and its photos. The book is in it as an SQLite file
if it is one, copied by SQLite itself while others read and write, else as the tables of an export. It counts only
after a book was made from it on trial and proven by `check`; until then it has another name, and no older one goes.

A book made from a copy is made beside its place, brought to this version and proven, and gets its name at last. What
stood there before is kept under another name, and only taken from its place when that was said.
"""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import URL, Connection, inspect, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from rickyard.book import exports, migrations
from rickyard.book.aside import beside, into_file, one_file
from rickyard.book.book import Book, is_there, look_at, migrating, once, trouble
from rickyard.book.check import CheckReport, Kept, Problem, check, look_through
from rickyard.book.engine import Target, book_url, is_sqlite, make_engine, shown
from rickyard.book.exports import BOOK_FILE, Manifest
from rickyard.book.files import FileStore, files_of, no_folder, sync_folder
from rickyard.book.migrations import triggers
from rickyard.errors import BookError, InputError
from rickyard.text import T_, Text

# The first version of the tables whose journal is sealed.
CHAINED = "0008"
_ARCHIVED = (exports.MANIFEST, exports.DIGEST)


@dataclass(frozen=True)
class Copied:
    """A copy that was made: where, of what, and what `check` said of the book made from it."""

    where: str
    manifest: Manifest
    size_bytes: int
    files: int
    problems: tuple[Problem, ...] = ()
    removed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Made:
    """A book that was made from a copy. `kept`: where the book lies that stood in its place."""

    url: str
    report: CheckReport
    files: int
    kept: str = ""


def export_book(target: Target, folder: Path, *, files: str | Path | None = None) -> Copied:
    """Writes the whole book as CSV files with a manifest into a new or empty folder.

    BookError (`exists`) if something is in the folder; the folder is left empty if writing fails.
    """
    url = book_url(target)
    look_at(url)
    where = shown(url)
    with trouble(str(folder)):
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise BookError(
                T_("The folder {where} is not empty. Name a new one for the export.", where=folder),
                code="exists",
                field="to",
            )
        try:
            with trouble(where), once(make_engine(url, writing=False)) as connection:
                manifest = exports.describe(connection, _now())
                exports.write_tables(connection, folder, manifest)
            exports.copy_files(exports.note_files(files_of(url, files), manifest), folder)
            exports.write_manifest(folder, manifest)
            exports.prove(folder, exports.read_manifest(folder))
        except BaseException:
            _empty(folder)
            raise
    return _copied(str(folder), manifest)


def export_archive(target: Target, to: Path, *, files: str | Path | None = None) -> Copied:
    """The same export in one new archive: unpacked, it is the folder that `export_book` writes."""
    url = book_url(target)
    look_at(url)
    with trouble(str(to)), beside(to) as folder:
        (folder / "set").mkdir()
        manifest, sources = _tables_of(url, folder / "set", files_of(url, files))
        _pack(folder / "archive.zip", sources, manifest)
        os.replace(folder / "archive.zip", to)
    return _copied(str(to), manifest, size=to.stat().st_size)


def import_book(
    folder: Path, target: Target, *, files: str | Path | None = None, anyway: bool = False
) -> Made:
    """Makes a new book from an export, whole or not at all, and brings it to this version.

    Raises
    ------
    BookError
        If a book (or anything else) is at the target; if the export is changed, incomplete, or of a newer version;
        if `check` finds a fault in it, unless it is wanted `anyway` (`unsound`).
    """
    url = book_url(target)
    manifest = exports.read_manifest(folder)
    exports.prove(folder, manifest)
    if BOOK_FILE in manifest.contents:
        raise BookError(
            T_(
                'This is an unpacked backup, not an export. Use "rickyard book restore" on the archive itself.'
            ),
            code="not_an_export",
            field="from",
        )
    if not is_sqlite(url):
        return _into_server(url, folder, manifest, files, anyway)
    put = into_file(url, lambda aside: _from_tables(aside, folder, manifest, anyway))
    return Made(shown(url), put.made, put.files, put.kept)


def back_up(
    target: Target,
    to: Path,
    *,
    keep: int | None = None,
    files: str | Path | None = None,
    anyway: bool = False,
) -> Copied:
    """Copies the book with its photos into one archive while it is in use, and tries the copy.

    `keep`: how many archives of this name may stay; the older ones move on to NAME.1, NAME.2, ...
    A book of an earlier version is copied as it is, and upgraded on trial.

    Raises
    ------
    BookError
        If the file is there and `keep` was not said (`exists`); if `check` finds faults in the copy, unless it is
        wanted `anyway` (`unsound`). No older archive is touched then.
    """
    if keep is not None and keep < 1:
        raise InputError(
            "keep",
            wanted=T_("how many backups to keep, 1 or more"),
            got=keep,
            next_move=T_("Leave it away to keep what is there."),
        )
    url = book_url(target)
    look_at(url, older_is_wrong=False)
    if to.is_dir():
        to = to / f"{_stem(url)}.zip"
    with trouble(str(to)):
        to.parent.mkdir(parents=True, exist_ok=True)
        if to.exists() and keep is None:
            raise BookError(
                T_(
                    "{where} is there already. Give another name, or say with --keep how many backups of this name "
                    "are to stay.",
                    where=to,
                ),
                code="exists",
                field="to",
            )
        with beside(to) as folder:
            manifest, sources = _snapshot(url, folder / "set", files)
            archive = folder / "archive.zip"
            _pack(archive, sources, manifest)
            shutil.rmtree(folder / "set")
            report = _tried(archive, folder / "trial")
            if report.faults and not anyway:
                raise _unsound(shown(url), report)
            removed = _rotate(to, keep) if keep is not None else ()
            os.replace(archive, to)
            sync_folder(to.parent)
    return _copied(str(to), manifest, report.problems, removed, to.stat().st_size)


def restore(
    archive: Path,
    target: Target,
    *,
    replace: bool = False,
    files: str | Path | None = None,
    anyway: bool = False,
) -> Made:
    """Makes a book from a backup, proves it, and only then puts it in its place.

    `replace`: a book may stand there. It is kept under another name, with its photos.

    Raises
    ------
    BookError
        If something is at the target and `replace` was not said; if the book there is in use; if the archive is
        damaged; if `check` finds faults in it, unless it is wanted `anyway`.
    """
    url = book_url(target)
    if is_sqlite(url):
        put = into_file(url, lambda aside: _from_archive(aside, archive, anyway), replace=replace)
        return Made(shown(url), put.made, put.files, put.kept)
    if replace:
        raise InputError(
            "replace",
            wanted=T_("a database without a book"),
            got=T_("the wish to replace one on a server"),
            next_move=T_("Make a new, empty database, restore into it, and serve that one."),
        )
    with tempfile.TemporaryDirectory(prefix="rickyard-") as temporary:
        folder = Path(temporary)
        manifest = _unpack(archive, folder / "set")
        if BOOK_FILE in manifest.contents:
            # From a file to a server by way of the tables.
            made = book_url(folder / "set" / BOOK_FILE)
            manifest, sources = _tables_of(made, folder / "tables", FileStore(folder / "set" / "files"))
            exports.copy_files(
                {n: p for n, p in sources.items() if n.startswith("files/")}, folder / "tables"
            )
            return _into_server(url, folder / "tables", manifest, files, anyway)
        return _into_server(url, folder / "set", manifest, files, anyway)


# -- making copies -----------------------------------------------------------------------------


def kept_in(copy: Path) -> tuple[Kept, ...]:
    """The last entry and link of each yard in a backup's archive or an export's folder, proven whole first.

    BookError if it is no whole copy, or of a version that had no chain.
    """
    if copy.is_dir():
        manifest = exports.read_manifest(copy)
        exports.prove(copy, manifest)
    else:
        with tempfile.TemporaryDirectory(prefix="rickyard-against-") as folder:
            manifest = _unpack(copy, Path(folder) / "set")
    if manifest.schema < CHAINED:
        raise BookError(
            T_(
                "{where} is of a version whose journal was not sealed (tables {schema}), so nothing can be held "
                "against it. Restore it into a new file and compare the two.",
                where=copy,
                schema=manifest.schema,
            ),
            code="no_chain",
            field="against",
        )
    return (
        *(Kept(int(yard), head.number, head.hash) for yard, head in manifest.chain.items()),
        *(Kept(int(yard), head.number, head.hash, "link") for yard, head in manifest.links.items()),
    )


def _snapshot(url: URL, folder: Path, files: str | Path | None) -> tuple[Manifest, dict[str, Path]]:
    """The book as it is at one moment. Photos are listed after it: they are on the disk before it names them."""
    store = files_of(url, files)
    folder.mkdir()
    if not is_sqlite(url):
        return _tables_of(url, folder, store)
    where = shown(url)
    copy = folder / BOOK_FILE
    try:
        with closing(sqlite3.connect(f"{Path(where).as_uri()}?mode=rw", uri=True, timeout=30)) as source:
            source.execute("PRAGMA query_only=ON")
            with closing(sqlite3.connect(copy)) as made:
                source.backup(made)
                made.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as error:
        raise BookError(
            T_(
                "The book {where} could not be copied: {reason}. See that there is room on the disk, and run "
                '"rickyard book check".',
                where=where,
                reason=str(error),
            ),
            code="cannot_copy",
        ) from error
    with once(make_engine(book_url(copy), writing=False)) as connection:
        manifest = exports.describe(connection, _now())
    one_file(copy)
    manifest.contents[BOOK_FILE] = exports.piece_of(copy)
    return manifest, {BOOK_FILE: copy, **exports.note_files(store, manifest)}


def _tables_of(url: URL, folder: Path, store: FileStore | None) -> tuple[Manifest, dict[str, Path]]:
    with trouble(shown(url)), once(make_engine(url, writing=False)) as connection:
        manifest = exports.describe(connection, _now())
        sources = exports.write_tables(connection, folder, manifest)
    sources |= exports.note_files(store, manifest)
    exports.write_manifest(folder, manifest)
    return manifest, sources


def _pack(archive: Path, sources: Mapping[str, Path], manifest: Manifest) -> None:
    folder = archive.parent / "head"
    folder.mkdir()
    exports.write_manifest(folder, manifest)
    with zipfile.ZipFile(archive, "w", strict_timestamps=False) as packed:
        for name in _ARCHIVED:
            packed.write(folder / name, name, zipfile.ZIP_DEFLATED)
        for name, path in sources.items():
            # Photos are packed already.
            how = zipfile.ZIP_STORED if name.startswith("files/") else zipfile.ZIP_DEFLATED
            packed.write(path, name, how)
    with archive.open("rb") as file:
        os.fsync(file.fileno())


def _unpack(archive: Path, folder: Path) -> Manifest:
    """Unpacks what the manifest names, and proves it."""
    folder.mkdir()
    try:
        with trouble(str(archive)), zipfile.ZipFile(archive) as packed:
            for name in _ARCHIVED:
                packed.extract(name, folder)
            manifest = exports.read_manifest(folder)
            for name in manifest.contents:
                packed.extract(name, folder)
    except (
        zipfile.BadZipFile,
        KeyError,
        # Encrypted, or packed in a way that zipfile does not know.
        RuntimeError,
        NotImplementedError,
        EOFError,
        ValueError,
        zlib.error,
    ) as error:
        raise BookError(
            T_(
                "{where} is no whole backup of a book: {reason}. Use another backup; nothing was done.",
                where=archive,
                reason=str(error) or type(error).__name__,
            ),
            code="bad_archive",
            field="from",
        ) from error
    exports.prove(folder, manifest)
    return manifest


def _tried(archive: Path, folder: Path) -> CheckReport:
    """What `check` says of the book made from the archive; everything is thrown away again."""
    folder.mkdir()
    report = _from_archive(folder, archive, anyway=True)
    shutil.rmtree(folder)
    return report


def _rotate(to: Path, keep: int) -> tuple[str, ...]:
    """Moves the archives of this name on by one, and takes away those beyond the number."""
    old = {
        int(found.group(1)): path
        for path in to.parent.glob(f"{to.name}.*")
        if (found := re.fullmatch(re.escape(to.name) + r"\.(\d+)", path.name))
    }
    if to.exists():
        old[0] = to
    removed = []
    for number in sorted(old, reverse=True):
        if number + 1 >= keep:
            old[number].unlink()
            removed.append(str(old[number]))
        else:
            os.replace(old[number], to.parent / f"{to.name}.{number + 1}")
    return tuple(removed)


# -- making books ------------------------------------------------------------------------------


def _from_archive(aside: Path, archive: Path, anyway: bool) -> CheckReport:
    """Makes `book.sqlite` with its photos in a folder from a backup."""
    unpacked = aside / "unpacked"
    manifest = _unpack(archive, unpacked)
    if BOOK_FILE not in manifest.contents:
        return _from_tables(aside, unpacked, manifest, anyway)
    os.replace(unpacked / BOOK_FILE, aside / BOOK_FILE)
    if (unpacked / "files").exists():
        os.replace(unpacked / "files", aside / f"{BOOK_FILE}.files")
    Book.upgrade(aside / BOOK_FILE)
    with Book.open(aside / BOOK_FILE) as book:
        report = check(book)
    if report.faults and not anyway:
        raise _unsound(str(archive), report)
    return report


def _from_tables(aside: Path, folder: Path, manifest: Manifest, anyway: bool) -> CheckReport:
    store = FileStore(aside / f"{BOOK_FILE}.files")
    _take_files(folder, manifest, store)
    (aside / BOOK_FILE).open("x").close()
    return _fill(book_url(aside / BOOK_FILE), folder, manifest, store, anyway)


def _into_server(url: URL, folder: Path, manifest: Manifest, files: str | Path | None, anyway: bool) -> Made:
    store = files_of(url, files)
    if store is None and any(name.startswith("files/") for name in manifest.contents):
        raise no_folder(shown(url))
    new = [] if store is None else _take_files(folder, manifest, store)
    try:
        report = _fill(url, folder, manifest, store, anyway)
    except BaseException:
        for sha256 in new:
            assert store is not None
            store.drop(sha256)
        raise
    return Made(shown(url), report, _files_in(manifest))


def _fill(url: URL, folder: Path, manifest: Manifest, store: FileStore | None, anyway: bool) -> CheckReport:
    """One transaction: the tables of the set's version, their rows, this version, the proof."""
    where = shown(url)
    with migrating(url) as connection:
        if inspect(connection).get_table_names():
            raise is_there(where)
        migrations.upgrade(connection, manifest.schema)
        with _unguarded(connection):
            try:
                exports.read_tables(connection, folder, manifest)
            except DBAPIError as error:
                raise BookError(
                    T_(
                        "The database does not take the rows of this export: {reason}. It was not written by "
                        "Rickyard as it is; nothing was done.",
                        reason=" ".join(str(error.orig).split()),
                    ),
                    code="bad_table",
                    field="from",
                ) from error
        migrations.upgrade(connection)
        if connection.dialect.name == "postgresql":
            # Of tables that nobody has counted PostgreSQL guesses badly, and by itself it counts them some time later.
            for table in exports.tables_of(connection):
                connection.execute(text(f'ANALYZE "{table.name}"'))
        with Session(connection) as session:
            report = look_through(session, store, where)
        if report.faults and not anyway:
            raise _unsound(str(folder), report)
    return report


@contextmanager
def _unguarded(connection: Connection) -> Iterator[None]:
    """Entries come with their seals: rows of the journal in any order, proven as a whole afterwards."""
    sealed = inspect(connection).has_table("entry_link")
    if sealed:
        triggers.unseal(connection)
    yield
    if sealed:
        triggers.seal(connection)


def _take_files(folder: Path, manifest: Manifest, store: FileStore) -> list[str]:
    """Puts the photos of a proven set into a store; gives the hashes of those that are new there."""
    new = []
    for name, piece in manifest.contents.items():
        if name.startswith("files/"):
            if name != f"files/{piece.sha256[:2]}/{piece.sha256[2:]}":
                raise BookError(
                    T_("The manifest names {name}, which no export holds.", name=name),
                    code="bad_manifest",
                    field="from",
                )
            if not store.path(piece.sha256).exists():
                new.append(piece.sha256)
            store.put((folder / name).read_bytes())
    return new


# -- small things ------------------------------------------------------------------------------


def _empty(folder: Path) -> None:
    for path in folder.iterdir():
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink()


def _copied(
    where: str,
    manifest: Manifest,
    problems: tuple[Problem, ...] = (),
    removed: tuple[str, ...] = (),
    size: int | None = None,
) -> Copied:
    whole = sum(piece.size for piece in manifest.contents.values()) if size is None else size
    return Copied(where, manifest, whole, _files_in(manifest), problems, removed)


def _files_in(manifest: Manifest) -> int:
    return sum(name.startswith("files/") for name in manifest.contents)


def _stem(url: URL) -> str:
    return Path(str(url.database)).stem if is_sqlite(url) else str(url.database)


def _now() -> datetime:
    return datetime.now(UTC)


def _unsound(where: str, report: CheckReport) -> BookError:
    first: Text = report.faults[0]
    return BookError(
        T_(
            "The book from {where} has {count} faults; the first: {first} See what they are, and say --anyway if you "
            "want it as it is. Nothing was replaced.",
            where=where,
            count=len(report.faults),
            first=first,
        ),
        code="unsound",
    )
