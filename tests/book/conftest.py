"""Books to test on: real SQLite files, and databases on a private PostgreSQL server."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from scripts.private_postgres import PrivateServer

from rickyard.book import Book, Move, migrations
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import triggers
from rickyard.book.models import Base, Household, Lot, Spot, Stack, Ware, Yard

START = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def server() -> Iterator[PrivateServer]:
    try:
        private = PrivateServer()
    except RuntimeError as error:
        pytest.fail(str(error))
    yield private
    private.stop()


@pytest.fixture(scope="session")
def empty_file_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty book, to be copied: migrating anew for every test would take half a second each."""
    path = tmp_path_factory.mktemp("empty") / "book.sqlite"
    Book.open(path, create=True).close()
    return path


class ServerBooks:
    """Empty books on the private server. A book that was used is emptied and used again: a new database for every
    test would copy seven megabytes each time."""

    def __init__(self, server: PrivateServer) -> None:
        self.server = server
        self.free: list[str] = []

    def take(self) -> str:
        if self.free:
            return self.free.pop()
        url = self.server.new_database()
        Book.open(url, create=True).close()
        return url

    def give_back(self, url: str) -> None:
        engine = make_engine(book_url(url), writing=True)
        with engine.begin() as connection:
            # Tests that change the tables themselves leave another revision or no triggers.
            if migrations.revision_of(connection) == migrations.REVISIONS[-1] and not triggers.missing(
                connection
            ):
                tables = ", ".join(table.name for table in Base.metadata.sorted_tables)
                connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
                connection.exec_driver_sql(f"TRUNCATE {tables} RESTART IDENTITY")
                self.free.append(url)
        engine.dispose()
        if url not in self.free:
            self.server.drop(url)


@pytest.fixture(scope="session")
def server_books(server: PrivateServer) -> ServerBooks:
    return ServerBooks(server)


@pytest.fixture
def server_book(server_books: ServerBooks) -> Iterator[str]:
    """URL of an empty book on the private server."""
    url = server_books.take()
    yield url
    server_books.give_back(url)


ENGINES = ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)]


@pytest.fixture(params=ENGINES)
def new_target(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], str]]:
    """Makes targets where there is no book yet, on each kind of database."""
    made: list[str] = []

    def make() -> str:
        if request.param == "sqlite":
            return str(tmp_path / f"book{len(made)}.sqlite")
        made.append(request.getfixturevalue("server").new_database())
        return made[-1]

    yield make
    for url in made:
        request.getfixturevalue("server").drop(url)


@pytest.fixture(params=ENGINES)
def new_book(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], Book]]:
    """Makes empty books on each kind of database, and closes them afterwards."""
    books: list[Book] = []

    def make() -> Book:
        if request.param == "sqlite":
            target = str(tmp_path / f"copy{len(books)}.sqlite")
            shutil.copy(request.getfixturevalue("empty_file_book"), target)
        else:
            target = request.getfixturevalue("server_books").take()
        books.append(Book.open(target))
        books[-1].target = target  # type: ignore[attr-defined]
        return books[-1]

    yield make
    for book in books:
        book.close()
        if request.param == "postgres":
            request.getfixturevalue("server_books").give_back(book.target)  # type: ignore[attr-defined]


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
