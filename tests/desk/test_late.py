"""What happened is taken, however late and whatever the book says; what does not fit is said, and figures stay."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from rickyard.book import check
from rickyard.book.models import Entry
from rickyard.desk.clashes import SettleClash, clash, clashes, settle_clash
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.editing import state_of
from rickyard.desk.entries import entry_page
from rickyard.desk.moving import PutOnto, RejectLoad, TakeAway, put_onto, reject_load, take_away
from rickyard.desk.stacking import (
    Dimensions,
    MeasureStack,
    MoveStack,
    PiecesFacts,
    StackUp,
    measure_stack,
    move_stack,
    stack_up,
    standing_of,
)
from rickyard.desk.stacks import stack_card, stack_page
from rickyard.errors import ClashError, InputError

SMALL = Dimensions(length_m=4.0, heights_m=(1.2,))
NOW = datetime(2026, 10, 1, 15, tzinfo=UTC)


def codes(desk: Desk, ids: list[int]) -> list[str]:
    return [clash(desk, number).code for number in ids]


def settle_all(desk: Desk) -> None:
    for line in clashes(desk):
        settle_clash(desk, SettleClash(key=new_key(), clash_id=line.id, note="looked at"))


def test_a_load_that_is_used_up_still_becomes_a_stack(
    desk: Desk, load: int, stack: int, pieces: PiecesFacts
) -> None:
    """The load's kinds and places are known, the stack is measured: it stands there, and somebody is told."""
    before = {wood.id: share for wood, share in stack_card(desk, stack).shares}
    late = StackUp(key=new_key(), sources=((load, 0.3),), pieces=replace(pieces, name="A2"), outside=SMALL)

    answer = stack_up(desk, late)

    assert codes(desk, answer["clashes"]) == ["load_used_up"]
    page = stack_page(desk, answer["stack_id"])
    assert page.card.oven_dry_kg > 500
    assert {wood.id: share for wood, share in page.card.shares} == pytest.approx(before, abs=0.02)
    assert [place.county for place, _ in page.harvests] == ["York"]
    assert stack_up(desk, late) == answer


def test_a_name_that_is_taken(desk: Desk, load: int, stack: int, pieces: PiecesFacts) -> None:
    again = StackUp(key=new_key(), sources=((load, 0.3),), pieces=pieces, outside=SMALL)

    answer = stack_up(desk, again)

    assert answer["name"] == "A1 (2)"
    assert "name_taken" in codes(desk, answer["clashes"])
    with pytest.raises(InputError) as caught:
        stack_up(desk, replace(again, key=new_key(), must_be_new=True))
    assert caught.value.code == "name_taken"


def test_stacked_before_the_load_came(desk: Desk, load: int, pieces: PiecesFacts) -> None:
    early = replace(pieces, stacked_on=date(2026, 3, 9))
    outside = Dimensions(length_m=16.0, heights_m=(1.5,), rows=3)

    answer = stack_up(desk, StackUp(key=new_key(), sources=((load, 1.0),), pieces=early, outside=outside))

    assert codes(desk, answer["clashes"]) == ["before_arrival"]
    assert clashes(desk, load_id=load)[0].load_number == 1
    assert {problem.code for problem in check(desk.book).problems} == {"taken_before_it_was_there"}
    assert check(desk.book).faults == ()
    settle_all(desk)


def test_wood_taken_before_it_was_there(desk: Desk, stack: int) -> None:
    """The audit's case: taken on New Year's Day from a stack of April. Said at once, and by the check until settled."""
    then = datetime(2026, 1, 1, 12, tzinfo=UTC)
    command = TakeAway(
        key=new_key(), left_for="own_use", stack_id=stack, share=0.1, reason="House", happened_at=then
    )

    answer = take_away(desk, command)

    assert codes(desk, answer["clashes"]) == ["before_stacking"]
    assert {problem.code for problem in check(desk.book).problems} == {"taken_before_it_was_there"}
    # What comes after it, and fits, is not blamed for it.
    fine = TakeAway(key=new_key(), left_for="own_use", stack_id=stack, share=0.1, reason="House")
    assert take_away(desk, fine)["clashes"] == []
    settle_all(desk)
    assert check(desk.book).ok


def test_wood_of_another_stack_taken_before_it_was_put_there(
    desk: Desk, load: int, pieces: PiecesFacts
) -> None:
    """All was taken in June by one report, and half of it came in August by another."""
    made = [
        stack_up(
            desk,
            StackUp(
                key=new_key(), sources=((load, share),), pieces=replace(pieces, name=name), outside=outside
            ),
        )["stack_id"]
        for name, share, outside in (
            ("A1", 0.5, Dimensions(length_m=8.0, heights_m=(1.5,), rows=3)),
            ("A2", 1.0, Dimensions(length_m=8.0, heights_m=(1.5,), rows=3)),
        )
    ]
    august, june = NOW - timedelta(days=50), NOW - timedelta(days=100)
    put_onto(desk, PutOnto(key=new_key(), sources=((made[1], 1.0),), stack_id=made[0], happened_at=august))

    gone = TakeAway(key=new_key(), left_for="lost", stack_id=made[0], reason="Stolen", happened_at=june)
    answer = take_away(desk, gone)

    assert codes(desk, answer["clashes"]) == ["before_it_was_there"]
    settle_all(desk)


def test_more_than_there_is_told_of_a_load(desk: Desk, load: int) -> None:
    command = RejectLoad(key=new_key(), load_id=load, ranked_m3=500.0, reason="Wire")

    answer = reject_load(desk, command)

    assert codes(desk, answer["clashes"]) == ["more_than_there"]
    with pytest.raises(InputError):
        reject_load(desk, replace(command, key=new_key(), ranked_m3=-1.0))


def test_a_key_stands_for_the_day_too(desk: Desk, stack: int) -> None:
    first = MeasureStack(key=new_key(), stack_id=stack, outside=SMALL, happened_at=NOW - timedelta(days=6))
    answer = measure_stack(desk, first)

    with pytest.raises(ClashError) as caught:
        measure_stack(desk, replace(first, happened_at=NOW - timedelta(days=11)))

    assert caught.value.code == "key_used"
    # The same moment in another zone, sent later, or not said (the first try of a form) is the same report.
    zoned = first.happened_at and first.happened_at.astimezone(None)
    assert measure_stack(desk, replace(first, happened_at=zoned, sent_at=NOW)) == answer
    assert measure_stack(desk, replace(first, happened_at=None)) == answer


def test_two_people_move_a_stack(desk: Desk, stack: int) -> None:
    seen = state_of(standing_of(stack_card(desk, stack)))
    move = MoveStack(key=new_key(), stack_id=stack, row_label="B", cover="shed", exposure="normal", seen=seen)
    move_stack(desk, move)

    with pytest.raises(ClashError) as caught:
        move_stack(desk, replace(move, key=new_key(), row_label="C"))

    assert caught.value.code == "changed_meanwhile"
    assert stack_card(desk, stack).row_label == "B"


def test_every_entry_keeps_what_was_measured(desk: Desk, stack: int, ware: int) -> None:
    """One side of each kind of wood has its quantity, method, spread and density."""
    sale = sell_at_gate(desk, SellAtGate(key=new_key(), ware_id=ware, stack_id=stack, ranked_m3=2.0))
    measure_stack(desk, MeasureStack(key=new_key(), stack_id=stack, outside=replace(SMALL, rows=4)))
    take_away(desk, TakeAway(key=new_key(), left_for="decay", stack_id=stack, share=0.2, reason="Rot"))

    with desk.book.read() as session:
        entries = session.query(Entry).order_by(Entry.number).all()
        assert {entry.kind for entry in entries} >= {"take_in", "stack", "gate_sale", "remeasure", "decay"}
        for entry in entries:
            kinds = {(p.species_id, p.lot_id) for p in entry.postings}
            told = {
                (p.species_id, p.lot_id)
                for p in entry.postings
                if None not in (p.quantity, p.sd_share, p.basic_density_kg_m3) and p.method and p.unit
            }
            assert told == kinds, entry.kind
        number = next(entry.number for entry in entries if entry.kind == "gate_sale")
    page = entry_page(desk, number)
    assert page.ticket_id == sale["ticket_id"]
    sold = [line for line in page.lines if line.quantity is not None]
    assert sum(line.quantity or 0.0 for line in sold) == pytest.approx(2.0)
    # The share of solid wood in a ranked stack is known to about a tenth; bark is known less.
    shares = {line.form == "bark": (line.sd_kg or 0.0) / line.mass_kg for line in sold}
    assert 0.02 < shares[False] < 0.2
    assert shares[True] == pytest.approx(0.3)


def test_a_page_for_no_entry(desk: Desk) -> None:
    with pytest.raises(InputError) as caught:
        entry_page(desk, 99)

    assert caught.value.code == "unknown_entry"
