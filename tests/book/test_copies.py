"""Copies of whole books: out and in, between both databases, saved and brought back, and what is refused."""

from __future__ import annotations

import gzip
import hashlib
import json
import shutil
import sqlite3
import threading
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.book.whole import SAMPLES, fill

from rickyard.book import (
    Book,
    Move,
    back_up,
    check,
    export_book,
    exports,
    import_book,
    migrations,
    post,
    restore,
)
from rickyard.book.engine import book_url, make_engine
from rickyard.book.models import Base, Household, Reading
from rickyard.desk.housekeeping import upgrade_book
from rickyard.errors import RickyardError

NOW = datetime(2026, 5, 1, tzinfo=UTC)


def everything(book: Book) -> dict[str, list[tuple[object, ...]]]:
    """All rows of all tables of the models."""
    with book.read() as session:
        return {
            table.name: [
                tuple(row) for row in session.execute(sa.select(table).order_by(*table.primary_key.columns))
            ]
            for table in Base.metadata.sorted_tables
        }


def tables(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (folder / "tables").iterdir()}


def manifest(folder: Path) -> dict:
    return json.loads((folder / "manifest.json").read_text(encoding="utf-8"))


def seal(folder: Path, text: str) -> None:
    """Writes a manifest with the digest that goes with it, as somebody who means harm would."""
    (folder / "manifest.json").write_text(text, encoding="utf-8")
    (folder / "manifest.sha256").write_text(f"{hashlib.sha256(text.encode()).hexdigest()}  manifest.json\n")


def code_of(do: Callable[[], object]) -> str:
    with pytest.raises(RickyardError) as caught:
        do()
    assert "{" not in str(caught.value)
    return caught.value.code


def work_on(book: Book) -> None:
    """One more entry and household: new rows get ids and numbers after the last ones."""
    work_on_quietly(book)
    with book.write() as session:
        gate = session.execute(
            sa.text("SELECT id FROM spot WHERE kind = 'gate' AND yard_id = 2")
        ).scalar_one()
        session.add(Household(yard_id=2, spot_id=gate, name="New"))
    assert check(book).problems == ()


@pytest.fixture
def full(empty_file_book: Path, tmp_path: Path, found) -> Path:
    """A book in a file with a row of every kind, two yards, and two files in its store."""
    path = tmp_path / "full.sqlite"
    shutil.copy(empty_file_book, path)
    with Book.open(path) as book:
        fill(found(book))
        found(book, "Another yard")
        assert check(book).problems == ()
    return path


@pytest.fixture
def server_target(server, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[str]:
    """A database without any table, and a folder for the photos of the book in it."""
    monkeypatch.setenv("RICKYARD_FILES", str(tmp_path / "server-files"))
    url = server.new_database()
    yield url
    server.drop(url)


class TestExport:
    @pytest.mark.postgres
    def test_there_and_back_between_both_databases(
        self, full: Path, server_target: str, tmp_path: Path
    ) -> None:
        """File to server to file: the same bytes in every table, the same seals, and the work goes on in both."""
        one, two = tmp_path / "one", tmp_path / "two"
        export_book(full, one)
        made = import_book(one, server_target)
        export_book(server_target, two)
        import_book(two, tmp_path / "back.sqlite")

        assert made.report.problems == ()
        assert tables(one) == tables(two)
        assert manifest(one)["chain"] == manifest(two)["chain"] != {}
        assert manifest(one)["contents"] == manifest(two)["contents"]
        with (
            Book.open(full) as book,
            Book.open(tmp_path / "back.sqlite") as again,
            Book.open(server_target) as far,
        ):
            assert everything(book) == everything(again) == everything(far)
            assert len(list(again.files.all())) == len(list(far.files.all())) == 2
            work_on(again)
            work_on(far)

    @given(
        rows=st.lists(
            st.tuples(
                st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=60),
                st.floats(0, 1e300),
            ),
            min_size=20,
        )
    )
    @settings(max_examples=3, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_any_words_and_numbers_come_back_exactly(
        self,
        empty_file_book: Path,
        tmp_path_factory: pytest.TempPathFactory,
        found,
        rows: list[tuple[str, float]],
    ) -> None:
        folder = tmp_path_factory.mktemp("copies")
        shutil.copy(empty_file_book, folder / "book.sqlite")
        with Book.open(folder / "book.sqlite") as book:
            yard = found(book)
            with book.write() as session:
                for words, number in rows:
                    typed = {words: [number, words]}
                    session.add(
                        Reading(
                            yard_id=yard.yard_id,
                            stack_id=yard.stack_id,
                            happened_on=NOW.date(),
                            kind="oven",
                            value=number,
                            typed=typed,
                            note=words,
                        )
                    )
        export_book(folder / "book.sqlite", folder / "one")
        import_book(folder / "one", folder / "back.sqlite")
        export_book(folder / "back.sqlite", folder / "two")

        assert tables(folder / "one") == tables(folder / "two")
        with Book.open(folder / "book.sqlite") as book, Book.open(folder / "back.sqlite") as back:
            assert everything(book) == everything(back)

    def test_every_table_is_exported_or_named_as_derived(self, full: Path, tmp_path: Path) -> None:
        export_book(full, tmp_path / "out")

        written = set(manifest(tmp_path / "out")["tables"])
        with Book.open(full) as book, book.read() as session:
            there = set(sa.inspect(session.connection()).get_table_names())

        assert written | set(exports.DERIVED) == there
        assert set(Base.metadata.tables) <= written
        assert all(exports.DERIVED.values())

    def test_the_document_names_every_kind_of_cell(self) -> None:
        page = (Path(__file__).parents[2] / "docs" / "export.md").read_text(encoding="utf-8")
        assert all(f"`{kind}`" in page for kind in exports.TYPES)

    @pytest.mark.parametrize("place", ["file", "folder"])
    def test_nothing_is_written_over(self, full: Path, tmp_path: Path, place: str) -> None:
        export_book(full, tmp_path / "out")
        if place == "folder":
            assert code_of(lambda: export_book(full, tmp_path / "out")) == "exists"
        else:
            before = full.read_bytes()
            assert code_of(lambda: import_book(tmp_path / "out", full)) == "exists"
            assert full.read_bytes() == before


def _edit(name: str, old: str, new: str) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        path = folder / name
        content = path.read_bytes()
        assert old.encode() in content
        path.write_bytes(content.replace(old.encode(), new.encode(), 1))

    return spoil


def _forge(name: str, old: str, new: str) -> Callable[[Path], None]:
    """A change with all checksums made anew."""

    def spoil(folder: Path) -> None:
        _edit(name, old, new)(folder)
        if name != "manifest.json":
            note = manifest(folder)
            content = (folder / name).read_bytes()
            note["contents"][name] = {"size": len(content), "sha256": hashlib.sha256(content).hexdigest()}
            seal(folder, json.dumps(note))
        else:
            seal(folder, (folder / name).read_text(encoding="utf-8"))

    return spoil


BAD = {
    "no manifest": (lambda folder: (folder / "manifest.json").unlink(), "not_an_export"),
    "a manifest changed": (_edit("manifest.json", '"rows": 2', '"rows": 3'), "export_changed"),
    "no json": (lambda folder: seal(folder, "{"), "bad_manifest"),
    "half a manifest": (lambda folder: seal(folder, '{"format": 1, "schema": "0007"}'), "bad_manifest"),
    "a newer format": (_forge("manifest.json", '"format": 1', '"format": 2'), "newer_export"),
    "newer tables": (
        _forge("manifest.json", f'"schema": "{migrations.HEAD}"', '"schema": "8888"'),
        "newer_export",
    ),
    "a way out": (_forge("manifest.json", "tables/yard.csv", "../yard.csv"), "bad_manifest"),
    "fewer rows": (_forge("manifest.json", '"rows": 2', '"rows": 1'), "export_changed"),
    "a column less": (_forge("manifest.json", '"bark": "yes_no",', ""), "bad_manifest"),
    "a table missing": (lambda folder: (folder / "tables" / "lot.csv").unlink(), "export_incomplete"),
    "a table too many": (lambda folder: (folder / "tables" / "x.csv").write_text("a\n"), "bad_manifest"),
    "a byte changed": (_edit("tables/posting.csv", "3600000", "3600001"), "export_changed"),
    "a mass forged": (_forge("tables/posting.csv", "3600000", "3600001"), "unsound"),
    # Nothing of this shows in the sums; the chain tells.
    "a harvest place forged": (_forge("tables/lot.csv", "York", "Kent"), "unsound"),
    "a word for a number": (_forge("tables/posting.csv", "3600000", "much"), "bad_table"),
    "a form that is none": (_forge("tables/posting.csv", "kerf", "gold"), "bad_table"),
    "a reference to nothing": (_forge("tables/household.csv", "1,1,", "1,7,"), "unsound"),
}


@pytest.mark.parametrize("how", BAD)
def test_a_bad_export_is_refused_and_leaves_nothing(full: Path, tmp_path: Path, how: str) -> None:
    spoil, wanted = BAD[how]
    export_book(full, tmp_path / "out")
    spoil(tmp_path / "out")
    place = tmp_path / "new" / "book.sqlite"

    assert code_of(lambda: import_book(tmp_path / "out", place)) == wanted
    assert not place.parent.exists() or list(place.parent.iterdir()) == []


@pytest.mark.postgres
def test_a_bad_export_leaves_nothing_on_a_server(full: Path, server_target: str, tmp_path: Path) -> None:
    export_book(full, tmp_path / "out")
    _forge("tables/posting.csv", "3600000", "3600001")(tmp_path / "out")

    assert code_of(lambda: import_book(tmp_path / "out", server_target)) == "unsound"
    made = make_engine(book_url(server_target), writing=False)
    with made.connect() as connection:
        assert sa.inspect(connection).get_table_names() == []
    made.dispose()
    assert [path for path in (tmp_path / "server-files").rglob("*") if path.is_file()] == []
    assert import_book(tmp_path / "out", server_target, anyway=True).report.faults != ()


@pytest.mark.postgres
def test_a_server_knows_how_much_it_was_given(full: Path, server_target: str, tmp_path: Path) -> None:
    """The statistics by which PostgreSQL chooses its ways are there from the first page on."""
    export_book(full, tmp_path / "out")
    import_book(tmp_path / "out", server_target)

    engine = make_engine(book_url(server_target), writing=False)
    with engine.connect() as connection:
        known = connection.execute(sa.text("SELECT relname, reltuples FROM pg_class WHERE relkind = 'r'"))
        told = {name: rows for name, rows in known if name in Base.metadata.tables}
        counted = {
            name: connection.scalar(sa.select(sa.func.count()).select_from(Base.metadata.tables[name]))
            for name in told
        }
    engine.dispose()
    assert told.keys() == Base.metadata.tables.keys()
    assert told == counted


class TestBackup:
    def test_saved_and_brought_back(self, full: Path, tmp_path: Path) -> None:
        done = back_up(full, tmp_path / "safe.zip")
        made = restore(tmp_path / "safe.zip", tmp_path / "back.sqlite")

        assert (done.files, made.files, made.report.problems, done.problems) == (2, 2, (), ())
        with Book.open(full) as book, Book.open(tmp_path / "back.sqlite") as back:
            assert everything(book) == everything(back)
            work_on(back)

    @pytest.mark.postgres
    def test_a_server_is_saved_without_its_programs(
        self, full: Path, server_target: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The archive of a file goes to a server, that of a server to a file; PATH is empty meanwhile."""
        monkeypatch.setenv("PATH", str(tmp_path))
        back_up(full, tmp_path / "file.zip")
        restore(tmp_path / "file.zip", server_target)
        back_up(server_target, tmp_path / "server.zip")
        restore(tmp_path / "server.zip", tmp_path / "back.sqlite")

        with Book.open(full) as book, Book.open(tmp_path / "back.sqlite") as back:
            assert everything(book) == everything(back)
            assert len(list(back.files.all())) == 2

    def test_while_others_write(self, full: Path, tmp_path: Path) -> None:
        """Every archive holds whole entries only, as of one moment."""
        stop = threading.Event()

        def write() -> None:
            with Book.open(full) as book:
                while not stop.is_set():
                    work_on_quietly(book)

        writer = threading.Thread(target=write)
        writer.start()
        try:
            heads = [back_up(full, tmp_path / f"{n}.zip").manifest.chain["1"].number for n in range(3)]
        finally:
            stop.set()
            writer.join()

        assert heads == sorted(heads)
        assert heads[0] < heads[-1]

    def test_rotation(self, full: Path, tmp_path: Path) -> None:
        place = tmp_path / "kept"
        place.mkdir()
        removed = [back_up(full, place, keep=3).removed for _ in range(5)]

        assert sorted(path.name for path in place.iterdir()) == ["full.zip", "full.zip.1", "full.zip.2"]
        assert [len(paths) for paths in removed] == [0, 0, 0, 1, 1]
        assert code_of(lambda: back_up(full, place / "full.zip")) == "exists"
        assert code_of(lambda: back_up(full, place / "full.zip", keep=0)) == "bad_input"

    def test_a_faulty_book_pushes_no_good_backup_out(self, full: Path, tmp_path: Path) -> None:
        back_up(full, tmp_path / "safe.zip")
        good = (tmp_path / "safe.zip").read_bytes()
        with sqlite3.connect(full) as connection:
            connection.execute("DROP TRIGGER posting_no_update")
            connection.execute("UPDATE posting SET mass_g = mass_g + 1 WHERE id = 2")
        connection.close()

        assert code_of(lambda: back_up(full, tmp_path / "safe.zip", keep=1)) == "unsound"
        assert (tmp_path / "safe.zip").read_bytes() == good
        assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []
        assert back_up(full, tmp_path / "faulty.zip", anyway=True).problems != ()

    def test_a_lost_photo_is_told(self, full: Path, tmp_path: Path) -> None:
        with Book.open(full) as book:
            _, path = next(iter(book.files.all()))
        path.unlink()

        assert code_of(lambda: back_up(full, tmp_path / "safe.zip")) == "unsound"


class TestRestore:
    def test_over_a_book_only_when_said_and_the_old_one_stays(self, full: Path, tmp_path: Path) -> None:
        back_up(full, tmp_path / "safe.zip")
        with Book.open(full) as book:
            work_on(book)
            later = everything(book)
        assert code_of(lambda: restore(tmp_path / "safe.zip", full)) == "exists"

        made = restore(tmp_path / "safe.zip", full, replace=True)

        with Book.open(full) as book, Book.open(made.kept) as old:
            assert everything(old) == later != everything(book)
            assert check(old).ok
            assert check(book).ok

    def test_not_while_the_book_is_in_use(self, full: Path, tmp_path: Path) -> None:
        back_up(full, tmp_path / "safe.zip")
        with Book.open(full) as book, book.read() as session:
            session.scalar(sa.text("SELECT 1"))
            assert code_of(lambda: restore(tmp_path / "safe.zip", full, replace=True)) == "in_use"
        with Book.open(full) as book:
            assert check(book).ok

    def test_over_a_damaged_book(self, full: Path, tmp_path: Path) -> None:
        back_up(full, tmp_path / "safe.zip")
        damaged = b"SQLite format 3\0" + full.read_bytes()[16:3000]
        full.write_bytes(damaged)

        made = restore(tmp_path / "safe.zip", full, replace=True)

        assert Path(made.kept).read_bytes() == damaged
        with Book.open(full) as book:
            assert check(book).ok

    @pytest.mark.parametrize(
        ("spoil", "wanted"),
        [
            (lambda path: path.write_bytes(path.read_bytes()[:-900]), "bad_archive"),
            (lambda path: path.write_bytes(b"no zip"), "bad_archive"),
            (lambda path: path.unlink(), "cannot_open"),
            (lambda path: zipfile.ZipFile(path, "w").close(), "bad_archive"),
        ],
        ids=["cut off", "another file", "not there", "empty"],
    )
    def test_a_bad_archive_is_refused_and_leaves_nothing(
        self, full: Path, tmp_path: Path, spoil, wanted: str
    ) -> None:
        back_up(full, tmp_path / "safe.zip")
        spoil(tmp_path / "safe.zip")
        before = full.read_bytes()

        assert code_of(lambda: restore(tmp_path / "safe.zip", full, replace=True)) == wanted
        assert full.read_bytes() == before
        assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []

    def test_any_flipped_byte_of_the_book_is_noticed(self, full: Path, tmp_path: Path) -> None:
        back_up(full, tmp_path / "safe.zip")
        whole = (tmp_path / "safe.zip").read_bytes()
        for at in range(200, len(whole), len(whole) // 7):
            spoilt = bytearray(whole)
            spoilt[at] ^= 0x10
            (tmp_path / "safe.zip").write_bytes(spoilt)
            try:
                restore(tmp_path / "safe.zip", tmp_path / f"{at}.sqlite")
            except RickyardError:
                assert not (tmp_path / f"{at}.sqlite").exists()
            else:
                # Bytes of the zip's own lists that no reader uses; the book itself was proven.
                with Book.open(full) as book, Book.open(tmp_path / f"{at}.sqlite") as back:
                    assert everything(book) == everything(back)


class TestUpgrade:
    def test_every_version_has_a_sample(self) -> None:
        assert {path.name[:4] for path in SAMPLES.iterdir()} >= set(migrations.REVISIONS[:-1])

    @pytest.mark.parametrize("revision", migrations.REVISIONS[:-1])
    def test_sample_books_of_every_version(self, tmp_path: Path, revision: str) -> None:
        """Saved first, upgraded, sound; an export of a book of that version can be read too."""
        old = tmp_path / "book.sqlite"
        old.write_bytes(gzip.decompress((SAMPLES / f"{revision}.sqlite.gz").read_bytes()))
        before = old.read_bytes()

        _, saved = upgrade_book(str(old))

        with Book.open(old) as book:
            report = check(book)
            assert {problem.code for problem in report.problems} <= {"photo_missing"}
            assert report.entries == 6
            assert report.chain[1][0] == 6
            work = everything(book)
        assert saved is not None
        assert saved.manifest.schema == revision
        with zipfile.ZipFile(saved.where) as packed:
            assert rows_of(packed.read("book.sqlite"), tmp_path) == rows_of(before, tmp_path)
        restore(Path(saved.where), tmp_path / "again.sqlite", anyway=True)
        with Book.open(tmp_path / "again.sqlite") as again:
            differing = {name for name, rows in everything(again).items() if rows != work[name]}
        # Salts are drawn anew where there was no chain yet: of reasons, and of the words of deeds and papers.
        anew = {"entry_link": "0008", "row_link": "0016", "row_seal": "0016"}
        assert differing == {name for name, since in anew.items() if revision < since}

    @pytest.mark.postgres
    @pytest.mark.parametrize("revision", ["0001", "0004"])
    def test_an_old_book_on_a_server(self, server_target: str, tmp_path: Path, revision: str) -> None:
        """Its backup holds the tables of its own version, and they are read by this one."""
        old = tmp_path / "book.sqlite"
        old.write_bytes(gzip.decompress((SAMPLES / f"{revision}.sqlite.gz").read_bytes()))
        made = make_engine(book_url(server_target), writing=True, foreign_keys=False)
        source = make_engine(book_url(old), writing=False)
        with source.begin() as connection:
            note = exports.describe(connection, NOW)
            exports.write_tables(connection, tmp_path / "old", note)
        with made.begin() as connection:
            migrations.upgrade(connection, revision)
            exports.read_tables(connection, tmp_path / "old", note)
        made.dispose()
        source.dispose()

        _, saved = upgrade_book(server_target, backup=tmp_path / "before.zip")

        assert saved is not None
        assert saved.manifest.schema == revision
        restore(tmp_path / "before.zip", tmp_path / "again.sqlite", anyway=True)
        with Book.open(server_target) as book, Book.open(tmp_path / "again.sqlite") as again:
            assert {name for name, rows in everything(again).items() if rows != everything(book)[name]} == {
                "entry_link",
                "row_link",
                "row_seal",
            }

    def test_without_room_for_the_backup_nothing_is_upgraded(self, tmp_path: Path) -> None:
        old = tmp_path / "book.sqlite"
        old.write_bytes(gzip.decompress((SAMPLES / "0001.sqlite.gz").read_bytes()))
        (tmp_path / "taken").write_text("")

        assert code_of(lambda: upgrade_book(str(old), backup=tmp_path / "taken")) == "exists"
        assert code_of(lambda: Book.open(old)) == "older_book"
        assert upgrade_book(str(old), without_backup=True)[1] is None


def rows_of(content: bytes, folder: Path) -> list[str]:
    """The book in SQL, one line a row."""
    path = folder / "rows.sqlite"
    path.write_bytes(content)
    connection = sqlite3.connect(path)
    lines = list(connection.iterdump())
    connection.close()
    return lines


def work_on_quietly(book: Book) -> None:
    with book.write() as session:
        spots = dict(session.execute(sa.text("SELECT kind, id FROM spot WHERE yard_id = 1")).all())
        moves = [
            Move(spots[kind], "quercus_rubra", "split", 1, grams)
            for kind, grams in (("outside", -9), ("gate", 9))
        ]
        post(session, 1, kind="opening", happened_at=NOW, recorded_at=NOW, moves=moves)
