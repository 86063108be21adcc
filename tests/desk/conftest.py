"""A desk on a real, empty book in a temporary folder, with a clock that the test moves."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from rickyard.book import Book, check
from rickyard.desk.context import Desk, new_key
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.stacking import Dimensions, PiecesFacts, StackUp, stack_up
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import Harvest, TakeInRough, take_in_rough
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.measure import CORD_M3

TODAY = date(2026, 10, 1)
HARVEST = Harvest(country="CA", subdivision="NB", county="York")


def clock_at(day: date) -> Callable[[], datetime]:
    return lambda: datetime(day.year, day.month, day.day, 15, tzinfo=UTC)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A yard near Fredericton on 1 October 2026; the book is proved sound when the test ends."""
    book = Book.open(str(tmp_path / "book.sqlite"), create=True)
    facts = YardFacts(
        name="Thornbeck Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
        tax_rate=0.15,
    )
    yield set_up_yard(book, facts, seed=7, clock=clock_at(TODAY))
    report = check(book)
    book.close()
    assert report.problems == ()
    assert report.balance_g == 0


@pytest.fixture
def on() -> Callable[[Desk, date], Desk]:
    """The same desk on another day."""
    return lambda desk, day: replace(desk, clock=clock_at(day))


@pytest.fixture
def load(desk: Desk) -> int:
    """Ten cords of sugar maple and yellow birch, 60/40, come in on 10 March."""
    answer = take_in_rough(
        desk,
        TakeInRough(
            key=new_key(),
            source="Fernhollow woodlot",
            harvest=HARVEST,
            arrived_on=date(2026, 3, 10),
            quantity=10 * CORD_M3,
            shares=(("sugar maple", 60.0), ("yellow birch", 40.0)),
            typed="10 cords",
        ),
    )
    return int(answer["load_id"])


@pytest.fixture
def pieces() -> PiecesFacts:
    return PiecesFacts(name="A1", piece_length_m=0.406, thickness_m=0.10, stacked_on=date(2026, 4, 15))


@pytest.fixture
def stack(desk: Desk, load: int, pieces: PiecesFacts) -> int:
    """The whole load, cut at 16 inches, split and stacked in three rows."""
    outside = Dimensions(length_m=16.0, heights_m=(1.5, 1.45, 1.55), rows=3)
    answer = stack_up(desk, StackUp(key=new_key(), sources=((load, 1.0),), pieces=pieces, outside=outside))
    return int(answer["stack_id"])


@pytest.fixture
def ware(desk: Desk) -> int:
    facts = WareFacts(
        name="Dry hardwood, 16 in",
        species=("sugar maple", "yellow birch"),
        piece_length_m=0.406,
        max_mc_wet=0.20,
        price_minor=38000,
    )
    return int(set_ware(desk, SetWare(key=new_key(), facts=facts))["ware_id"])


@pytest.fixture
def household(desk: Desk) -> int:
    command = SetHousehold(key=new_key(), name="Delphine Fernhollow", address="24 Heron Flats Road")
    return int(set_household(desk, command)["household_id"])
