"""Books to test on: real SQLite files, and databases on a private PostgreSQL server."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import psycopg
import pytest

from rickyard.book import Book, Move
from rickyard.book.models import Household, Lot, Spot, Stack, Ware, Yard

START = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def _find_server_programs() -> Path:
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    versions = [path for path in Path("/usr/lib/postgresql").glob("*/bin") if (path / "initdb").exists()]
    if not versions:
        pytest.fail(
            "PostgreSQL is not installed, and the book must be tested on it: run `make system`, "
            "or install the package postgresql."
        )
    return max(versions, key=lambda path: float(path.parent.name))


class PrivateServer:
    """A PostgreSQL server of our own on a socket in a folder of its own; no port is opened.

    PostgreSQL refuses to run as root, so root hands it to the user postgres, which the package makes.
    """

    def __init__(self) -> None:
        programs = _find_server_programs()
        self.home = Path(tempfile.mkdtemp(prefix="rickyard-pg-"))
        self._as: dict[str, object] = {}
        if os.geteuid() == 0:
            account = pwd.getpwnam("postgres")
            os.chown(self.home, account.pw_uid, account.pw_gid)
            self._as = {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}
        self._pg_ctl = str(programs / "pg_ctl")
        self.data = str(self.home / "data")
        self._run(
            str(programs / "initdb"), "-D", self.data, "-U", "yard", "-A", "trust", "-E", "UTF8", "--locale=C"
        )
        # The cluster is thrown away: no need to wait for the disk.
        settings = f"-c listen_addresses='' -c unix_socket_directories='{self.home}' -c fsync=off"
        log = str(self.home / "log")
        self._run(self._pg_ctl, "-D", self.data, "-l", log, "-o", settings, "-w", "start")
        self._names = 0

    def _run(self, *words: str) -> None:
        done = subprocess.run(
            words,
            cwd=self.home,
            env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE if "start" not in words else subprocess.DEVNULL,
            stderr=subprocess.STDOUT,
            check=False,
            **self._as,  # type: ignore[call-overload]
        )
        if done.returncode:
            pytest.fail(f"{words[0]} failed: {(done.stdout or b'').decode(errors='replace')}")

    def url(self, database: str) -> str:
        return f"postgresql://yard@/{database}?host={self.home}"

    def new_database(self, template: str = "template0") -> str:
        """Makes a database and gives its URL."""
        self._names += 1
        name = f"book{self._names}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE {template}")
        return self.url(name)

    def sql(self, statement: str) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)

    def stop(self) -> None:
        self._run(self._pg_ctl, "-D", self.data, "-m", "immediate", "-w", "stop")
        shutil.rmtree(self.home)


@pytest.fixture(scope="session")
def server() -> Iterator[PrivateServer]:
    private = PrivateServer()
    yield private
    private.stop()


@pytest.fixture(scope="session")
def empty_file_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty book, to be copied: migrating anew for every test would take half a second each."""
    path = tmp_path_factory.mktemp("empty") / "book.sqlite"
    Book.open(path, create=True).close()
    return path


@pytest.fixture(scope="session")
def empty_server_book(server: PrivateServer) -> str:
    """Name of a PostgreSQL database with an empty book, to be used as a template."""
    url = server.new_database()
    Book.open(url, create=True).close()
    return url.split("/")[3].split("?")[0]


ENGINES = ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)]


@pytest.fixture(params=ENGINES)
def new_target(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[], str]:
    """Makes targets where there is no book yet, on each kind of database."""
    count = iter(range(1000))

    def make() -> str:
        if request.param == "sqlite":
            return str(tmp_path / f"book{next(count)}.sqlite")
        private: PrivateServer = request.getfixturevalue("server")
        return private.new_database()

    return make


@pytest.fixture(params=ENGINES)
def new_book(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], Book]]:
    """Makes empty books on each kind of database, and closes them afterwards."""
    books: list[Book] = []

    def make() -> Book:
        if request.param == "sqlite":
            target = str(tmp_path / f"copy{len(books)}.sqlite")
            shutil.copy(request.getfixturevalue("empty_file_book"), target)
        else:
            private: PrivateServer = request.getfixturevalue("server")
            target = private.new_database(request.getfixturevalue("empty_server_book"))
        books.append(Book.open(target))
        books[-1].target = target  # type: ignore[attr-defined]
        return books[-1]

    yield make
    for book in books:
        book.close()


@pytest.fixture
def book(new_book: Callable[[], Book]) -> Book:
    return new_book()


@dataclass
class SmallYard:
    """Ids in a yard with one load, one stack, one household, one ware; nothing in the journal yet."""

    book: Book
    yard_id: int
    lot: int
    other_lot: int
    outside: int
    loss: int
    gate: int
    load: int
    stack: int
    home: int
    stack_id: int
    household_id: int
    ware_id: int
    start: datetime = START

    def came_in(self, grams: int, species: str = "acer_saccharum", spot: int | None = None) -> list[Move]:
        """Moves that bring splits from outside to the stack (or another spot)."""
        to = self.stack if spot is None else spot
        return [
            Move(self.outside, species, "split", self.lot, -grams),
            Move(to, species, "split", self.lot, grams),
        ]


def found_yard(book: Book, name: str = "Test yard") -> SmallYard:
    with book.write() as session:
        yard = Yard(
            name=name,
            country="CA",
            subdivision="NB",
            climate_place="somewhere",
            timezone="America/Moncton",
            currency="CAD",
            created_at=START,
        )
        session.add(yard)
        session.flush()
        spots = {
            kind: Spot(yard_id=yard.id, kind=kind)
            for kind in ("outside", "loss", "gate", "load", "stack", "household")
        }
        lots = [
            Lot(yard_id=yard.id, country="CA", subdivision="NB", county=county) for county in ("York", "Kent")
        ]
        session.add_all([*spots.values(), *lots])
        session.flush()
        stack = Stack(
            yard_id=yard.id,
            spot_id=spots["stack"].id,
            name="A1",
            kind="stack",
            form="split",
            piece_length_m=0.41,
            thickness_m=0.12,
            cover="top",
            exposure="normal",
            stacked_on=START.date(),
            start_mc_wet=None,
            target_mc_wet=0.2,
        )
        home = Household(yard_id=yard.id, spot_id=spots["household"].id, name="Somebody")
        ware = Ware(
            yard_id=yard.id,
            name="Hardwood",
            species_ids=[],
            form="split",
            piece_length_m=0.41,
            price_minor=30000,
            price_unit="cord",
            max_mc_wet=0.2,
        )
        session.add_all([stack, home, ware])
        session.flush()
        return SmallYard(
            book=book,
            yard_id=yard.id,
            lot=lots[0].id,
            other_lot=lots[1].id,
            outside=spots["outside"].id,
            loss=spots["loss"].id,
            gate=spots["gate"].id,
            load=spots["load"].id,
            stack=spots["stack"].id,
            home=spots["household"].id,
            stack_id=stack.id,
            household_id=home.id,
            ware_id=ware.id,
        )


@pytest.fixture
def found() -> Callable[..., SmallYard]:
    """Founds a small yard in a book."""
    return found_yard


@pytest.fixture
def yard(book: Book) -> SmallYard:
    return found_yard(book)
