"""The demo yard is large enough, sound, and the same every time."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import func, select

from rickyard.book import Book, check
from rickyard.book.models import Deed, Entry, Household, Load, Order, Posting, Reading, Stack, Ticket
from rickyard.desk.context import Desk
from rickyard.desk.cut_sheets import cut_sheets
from rickyard.desk.demo import demo_day, make_demo
from rickyard.desk.offer_views import offers
from rickyard.desk.split_sheets import splitting_sheets, work_learnt
from rickyard.desk.stacks import stacks
from rickyard.desk.trees import load_parts, namings

AS_OF = date(2026, 11, 20)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    desk = make_demo(str(tmp_path_factory.mktemp("demo") / "book.sqlite"), as_of=AS_OF)
    yield desk
    desk.book.close()


def test_it_ends_on_the_day_that_it_is_in_its_yard() -> None:
    """Late in the evening there the computer's own day, in UTC or in Europe, would be one to come."""
    assert demo_day(datetime(2026, 11, 27, 2, 30, tzinfo=UTC)) == date(2026, 11, 26)
    assert demo_day(datetime(2026, 11, 27, 12, tzinfo=UTC)) == date(2026, 11, 27)


def count(desk: Desk, table: type) -> int:
    with desk.book.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


@pytest.mark.parametrize(
    ("table", "least"),
    [(Load, 40), (Stack, 25), (Household, 60), (Order, 150), (Reading, 20), (Ticket, 80)],
)
def test_there_is_enough_of_everything(demo: Desk, table: type, least: int) -> None:
    assert count(demo, table) >= least


def test_twelve_species_and_stacks_at_every_stage(demo: Desk) -> None:
    with demo.book.read() as session:
        species = session.scalars(select(Posting.species_id).distinct()).all()
    standing = stacks(demo)
    ages = [(AS_OF - card.stacked_on).days for card in standing]

    assert len(species) >= 12
    assert len(standing) >= 25
    assert min(ages) < 90
    assert max(ages) > 365


def test_trees_were_named_and_most_are_confirmed(demo: Desk) -> None:
    rows = namings(demo)

    assert len(rows) >= 4
    assert sum(row.truth is not None for row in rows) >= 3
    assert any(row.load_id is None for row in rows)
    assert load_parts(demo)[0].logs, "there are logs to name"


def test_wood_is_on_offer_and_reckoned(demo: Desk) -> None:
    cards = offers(demo)

    assert [card.state for card in cards].count("open") == 3
    assert {card.kind for card in cards} == {"rough", "logs", "trees"}
    assert all(card.worth is not None for card in cards)
    assert cards[-1].state == "refused"


def test_a_cut_sheet_is_half_ticked_off_and_splitting_was_timed(demo: Desk) -> None:
    (cut,) = cut_sheets(demo)
    (split,) = splitting_sheets(demo)
    learnt = work_learnt(demo)

    assert 0 < cut.logs_done < cut.logs
    assert split.state == "waiting", "its page works out the greatest thickness when it is opened"
    assert {line.method.id for line in learnt.methods if line.learnt.hours.sessions} == {
        "hydraulic_splitter",
        "splitting_maul",
    }
    assert all(line.sessions and 0.0 < line.own < 1.0 for line in learnt.steps), (
        "hours of every step were timed"
    )


def test_it_is_made_by_deeds_and_sound(demo: Desk) -> None:
    report = check(demo.book)

    assert report.problems == ()
    assert report.balance_g == 0
    with demo.book.read() as session:
        assert session.scalar(select(func.count()).where(Entry.deed_id.is_(None))) == 0
        assert session.scalar(select(func.max(Deed.recorded_at))).date() <= AS_OF


def test_the_same_seed_makes_the_same_history(demo: Desk, tmp_path: Path) -> None:
    again = make_demo(str(tmp_path / "again.sqlite"), as_of=AS_OF)

    def postings(desk: Desk) -> list[tuple[object, ...]]:
        with desk.book.read() as session:
            return [
                tuple(row)
                for row in session.execute(
                    select(Posting.entry_id, Posting.spot_id, Posting.species_id, Posting.mass_g).order_by(
                        Posting.id
                    )
                )
            ]

    assert postings(again) == postings(demo)
    again.book.close()
    assert isinstance(again.book, Book)
