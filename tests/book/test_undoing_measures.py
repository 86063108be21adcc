"""A measure of a stack that was entered wrongly is taken back: everything is as if it had not been."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from tests.book.test_undoing import NOW, TODAY, Yard

from rickyard.book import Book, check, migrations
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import triggers
from rickyard.book.models import Entry, Stack, StackMeasure, Undoing
from rickyard.desk.audit import deeds_done
from rickyard.desk.closing import EmptyStack, ReopenStack, empty_stack, reopen_stack
from rickyard.desk.context import new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.forecast_inputs import inputs_of
from rickyard.desk.learning import Teaching, lessons_of
from rickyard.desk.stacking import Dimensions, MeasureStack, measure_stack
from rickyard.desk.stacks import stack_page, stacks
from rickyard.desk.undoing import UndoStackUp, undo_stack_up
from rickyard.desk.undoing_measures import UndoMeasure, undo_measure
from rickyard.desk.yard_factor import yard_factor
from rickyard.errors import ClashError, InputError, RefusedError


class MeasuredYard(Yard):
    def measured(self, stack: int, length_m: float, days_ago: float = 0.0) -> int:
        command = MeasureStack(
            key=new_key(),
            stack_id=stack,
            outside=Dimensions(length_m=length_m, heights_m=(1.5,), rows=2),
            happened_at=NOW - timedelta(days=days_ago),
        )
        return int(measure_stack(self.desk, command)["measure_id"])

    def undo(self, measure_id: int):
        return undo_measure(
            self.desk, UndoMeasure(key=new_key(), measure_id=measure_id, reason="another stack")
        )

    def inputs(self, stack: int):
        """What a forecast of the stack would be made of."""
        card = stack_page(self.desk, stack).card
        with self.desk.book.read() as session:
            taught = Teaching(lessons_of(session, self.desk.yard_id))
            return inputs_of(self.desk.yard(session), session.get_one(Stack, stack), card, TODAY, taught)

    def new_entries(self, last: int) -> list[Entry]:
        with self.desk.book.read() as session:
            query = select(Entry).where(Entry.yard_id == self.desk.yard_id, Entry.number > last)
            return list(session.scalars(query.order_by(Entry.number)))


@pytest.fixture
def yard(book: Book) -> Iterator[MeasuredYard]:
    """The book is proved sound when the test ends."""
    yield MeasuredYard(book)
    assert check(book).problems == ()


def test_a_measure_is_taken_back_and_counts_nowhere(yard: MeasuredYard) -> None:
    stack = yard.stood("A1")
    before, card, factor = yard.stock(), stack_page(yard.desk, stack).card, yard_factor(yard.desk)
    asked = yard.inputs(stack)
    measure_id = yard.measured(stack, 3.0)
    last = yard.last_entry()
    command = UndoMeasure(key=new_key(), measure_id=measure_id, reason="another stack")

    answer = undo_measure(yard.desk, command)

    assert undo_measure(yard.desk, command) == answer
    assert answer == {
        "measure_id": measure_id,
        "stack_id": stack,
        "difference_g": answer["difference_g"],
        "clashes": [],
    }
    assert answer["difference_g"] > 0
    assert yard.stock() == before
    page = stack_page(yard.desk, stack)
    assert page.card == card
    assert stacks(yard.desk) == [card]
    assert [(line.id == measure_id, line.undone_for) for line in page.measures] == [
        (False, ""),
        (True, "another stack"),
    ]
    assert page.measures[1].undone_at == NOW
    # The one reversal, at the moment of what it reverses.
    (entry,) = yard.new_entries(last)
    assert (entry.kind, entry.happened_at, entry.reason) == ("reverse", NOW, "another stack")
    with yard.desk.book.read() as session:
        assert [each.id for each in session.get_one(Stack, stack).measures] == [page.measures[0].id]
    assert yard.inputs(stack) == asked
    assert yard_factor(yard.desk) == factor
    done = deeds_done(yard.desk)[0]
    assert (done.kind, done.thing and done.thing.name) == ("undo_measure", "A1")
    with pytest.raises(ClashError, match="taken back already"):
        yard.undo(measure_id)


def test_what_is_said_later_hangs_on_the_measure_before(yard: MeasuredYard) -> None:
    """The newest first; measured again, the stack is as if the first of the two had never been."""
    one, two = yard.stood("A1"), yard.stood("B1")
    first = yard.measured(one, 3.0, days_ago=20)
    second = yard.measured(one, 4.0, days_ago=10)
    with pytest.raises(RefusedError, match=r"measured again on 2026-09-21\. Take that measure back first"):
        yard.undo(first)
    yard.undo(second)
    yard.undo(first)
    for stack in (one, two):
        yard.measured(stack, 4.0)

    page, other = stack_page(yard.desk, one).card, stack_page(yard.desk, two).card
    assert (page.oven_dry_kg, page.ranked_m3) == (other.oven_dry_kg, other.ranked_m3)


def test_of_two_at_the_same_moment_the_first_decides_again(yard: MeasuredYard) -> None:
    stack = yard.stood("A1")
    yard.measured(stack, 4.0)
    before = yard.stock()
    wrong = yard.measured(stack, 2.0)
    assert yard.stock() != before
    last = yard.last_entry()

    yard.undo(wrong)

    assert yard.stock() == before
    assert [entry.kind for entry in yard.new_entries(last)] == ["reverse"]
    assert stack_page(yard.desk, stack).card.length_m == 4.0


def test_one_that_came_late_between_two_goes_on_counting(yard: MeasuredYard) -> None:
    """The newest is taken back after an older one came late and moved it: the late one is the newest then."""
    one, two = yard.stood("A1"), yard.stood("B1")
    newest = yard.measured(one, 3.0)
    for stack in (one, two):
        yard.measured(stack, 6.0, days_ago=30)

    yard.undo(newest)

    page, other = stack_page(yard.desk, one).card, stack_page(yard.desk, two).card
    assert (page.oven_dry_kg, page.length_m) == (other.oven_dry_kg, 6.0)


def test_wood_that_left_since_stays_gone(yard: MeasuredYard) -> None:
    one, two = yard.stood("A1"), yard.stood("B1")
    wrong = yard.measured(one, 4.0, days_ago=10)
    held = stack_page(yard.desk, one).card.oven_dry_kg
    sale = SellAtGate(key=new_key(), stack_id=one, ware_id=yard.ware, ranked_m3=1.5)
    sell_at_gate(yard.desk, sale)
    sold_kg = held - stack_page(yard.desk, one).card.oven_dry_kg

    yard.undo(wrong)

    whole = stack_page(yard.desk, two).card.oven_dry_kg
    assert stack_page(yard.desk, one).card.oven_dry_kg == pytest.approx(whole - sold_kg)


def test_wood_that_only_the_measure_brought_was_sold_since(yard: MeasuredYard) -> None:
    """More left than there is without the measure: the sale is taken back first."""
    stack = yard.stood("A1")
    large = yard.measured(stack, 10.0)
    sale = SellAtGate(
        key=new_key(), stack_id=stack, ware_id=yard.ware, ranked_m3=stack_page(yard.desk, stack).card.free_m3
    )
    sell_at_gate(yard.desk, sale)
    before, number = yard.stock(), yard.last_entry()

    with pytest.raises(RefusedError, match=f"went on from stack A1 since, last by entry {number}"):
        yard.undo(large)
    assert yard.stock() == before


def test_a_stack_that_was_closed_since_is_opened_first(yard: MeasuredYard) -> None:
    stack = yard.stood("A1")
    before = yard.stock()
    wrong = yard.measured(stack, 1.0, days_ago=1)
    empty_stack(yard.desk, EmptyStack(key=new_key(), stack_id=stack, reason="gone"))
    with pytest.raises(RefusedError, match=r"A1 was closed since\. Open it again first"):
        yard.undo(wrong)
    after = yard.measured(stack, 2.0)  # of a closed stack: with a clash, and the book is unchanged
    assert yard.undo(after)["difference_g"] == 0
    assert stack_page(yard.desk, stack).card.emptied_on == TODAY
    reopen_stack(yard.desk, ReopenStack(key=new_key(), stack_id=stack, reason="it stands"))

    yard.undo(wrong)

    assert yard.stock() == before


def test_a_measure_taken_back_is_not_followed_when_the_stack_is_opened_again(yard: MeasuredYard) -> None:
    stack = yard.stood("A1")
    before = yard.stock()
    empty_stack(yard.desk, EmptyStack(key=new_key(), stack_id=stack, reason="gone"))
    yard.undo(yard.measured(stack, 2.0))
    reopen_stack(yard.desk, ReopenStack(key=new_key(), stack_id=stack, reason="it stands"))

    assert yard.stock() == before


def test_the_measure_it_was_stacked_with_goes_with_the_stacking(yard: MeasuredYard) -> None:
    stack = yard.stood("A1")
    first = stack_page(yard.desk, stack).measures[0]
    assert first.first
    with pytest.raises(RefusedError, match="was stacked with this measure"):
        yard.undo(first.id)
    again = yard.measured(stack, 3.0)
    undo_stack_up(yard.desk, UndoStackUp(key=new_key(), stack_id=stack, reason="wrong load"))
    last = yard.last_entry()
    # Its entries are taken back already, with the stacking.
    assert yard.undo(again)["difference_g"] == 0
    assert yard.last_entry() == last
    assert stack_page(yard.desk, stack).card.emptied_on == TODAY


def test_a_measure_of_before_the_stacking_is_taken_back_alone(yard: MeasuredYard) -> None:
    """A day that was typed wrong: the book did not follow it, and nothing hangs on it."""
    stack = yard.stood("A1")
    yard.measured(stack, 4.0)
    before = yard.stock()
    early = yard.measured(stack, 3.0, days_ago=300)

    assert yard.undo(early)["difference_g"] == 0
    assert yard.stock() == before


def test_nonsense_is_refused(yard: MeasuredYard) -> None:
    measure_id = yard.measured(yard.stood("A1"), 3.0)
    with pytest.raises(InputError, match="a measure of a stack of this yard"):
        yard.undo(9999)
    with pytest.raises(InputError, match="reason"):
        undo_measure(yard.desk, UndoMeasure(key=new_key(), measure_id=measure_id, reason=" "))


def test_the_database_takes_a_measure_back_once_and_alone(yard: MeasuredYard) -> None:
    measure_id = yard.measured(yard.stood("A1"), 3.0)
    yard.undo(measure_id)
    with yard.desk.book.read() as session:
        (row,) = session.scalars(select(Undoing))
        facts = {"yard_id": row.yard_id, "deed_id": row.deed_id, "undone_at": NOW, "reason": "so"}
        stack_id = session.get_one(StackMeasure, measure_id).stack_id
    for of in ({"measure_id": measure_id}, {"measure_id": measure_id, "stack_id": stack_id}, {}):
        with pytest.raises(IntegrityError), yard.desk.book.write() as session:
            session.add(Undoing(**facts, **of))


def test_the_check_finds_a_measure_that_the_journal_still_follows(book: Book) -> None:
    yard = MeasuredYard(book)
    measure_id = yard.measured(yard.stood("A1"), 3.0)
    with book.write() as session:
        row = session.get_one(StackMeasure, measure_id)
        facts = {"yard_id": row.yard_id, "deed_id": row.deed_id, "undone_at": NOW, "reason": "so"}
        session.add(Undoing(**facts, measure_id=measure_id))

    assert "measure_half_undone" in {problem.code for problem in check(book).faults}


def test_down_one_version_a_measure_that_was_taken_back_counts_again(book: Book) -> None:
    """The journal keeps the reversal, and up again the check says what was lost; everything else stays."""
    target = book.target  # type: ignore[attr-defined]
    yard = MeasuredYard(book)
    stack = yard.stood("A1")
    yard.undo(yard.measured(stack, 3.0))
    held = yard.stock()
    undo_stack_up(yard.desk, UndoStackUp(key=new_key(), stack_id=yard.stood("B1"), reason="entered twice"))
    book.close()
    engine = make_engine(book_url(target), writing=True, foreign_keys=False)
    with engine.begin() as connection:
        migrations.downgrade(connection, "0018")
        columns = {column["name"] for column in sa.inspect(connection).get_columns("undoing")}
        assert "measure_id" not in columns
        assert connection.exec_driver_sql("SELECT reason FROM undoing").all() == [("entered twice",)]
        indexes = {index["name"] for index in sa.inspect(connection).get_indexes("entry")}
        assert "ix_entry_happened" not in indexes
    with engine.begin() as connection:
        migrations.upgrade(connection)
        assert migrations.differences(connection) == []
        assert triggers.missing(connection) == []
    engine.dispose()
    with Book.open(target) as again:
        assert [problem.code for problem in check(again).problems] == ["seal_broken"]
        yard.desk = replace(yard.desk, book=again)
        assert yard.stock() == held
        assert [line.undone_for for line in stack_page(yard.desk, stack).measures] == ["", ""]
