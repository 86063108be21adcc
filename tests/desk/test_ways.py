"""The way of wood, both ways, reckoned by hand; the stock of a day of the past."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from rickyard.book import reverse
from rickyard.book.models import Entry
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.moving import PutOnto, TakeAway, put_onto, take_away
from rickyard.desk.past_stock import stock_on
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, opening_stack
from rickyard.desk.ways import way_of
from rickyard.desk.wood_in import Harvest
from rickyard.errors import InputError
from rickyard.web.way_chart import way_chart

KENT = Harvest(country="CA", subdivision="NB", county="Kent", certificate="HT-9")


@pytest.fixture
def other(desk: Desk, pieces: PiecesFacts) -> int:
    command = OpeningStack(
        key=new_key(),
        shares=(("sugar maple", 1.0),),
        harvest=KENT,
        pieces=replace(pieces, name="B1"),
        outside=Dimensions(length_m=4.0, heights_m=(1.2,)),
    )
    return int(opening_stack(desk, command)["stack_id"])


def names(way) -> dict[tuple[str, str], float]:
    return {
        tuple(way.place(at).name or at.kind for at in (step.start, step.end)): step.kg for step in way.steps
    }


def test_a_ticket_goes_back_to_the_load_and_the_stack_of_the_other_wood(
    desk: Desk, load: int, stack: int, other: int, ware: int
) -> None:
    """Half of A1 lies on B1; of B1 a part is sold. The load gave what of that part is not Kent's."""
    put_onto(desk, PutOnto(key=new_key(), sources=((stack, 0.5),), stack_id=other))
    sold = sell_at_gate(
        desk, SellAtGate(key=new_key(), ware_id=ware, stack_id=other, ranked_m3=2.0, price_minor=1)
    )

    way = way_of(desk, "ticket", sold["ticket_id"])

    ticket = way.place(way.focus)
    flows = names(way)
    shares = {harvest.county: share for harvest, share in way.harvests}
    assert ticket.kind == "ticket"
    assert ticket.kg == pytest.approx(flows["B1", "1"])
    assert shares.keys() == {"York", "Kent"}
    # All that came from the load and A1 is York's wood.
    assert flows["A1", "B1"] == pytest.approx(ticket.kg * shares["York"], rel=1e-6)
    assert flows["1", "A1"] == pytest.approx(ticket.kg * shares["York"], rel=0.05)
    assert [place.harvest.county for place in way.places if place.harvest] == ["York"]


def test_a_load_goes_forth_to_everything_it_became(desk: Desk, load: int, stack: int, other: int) -> None:
    put_onto(desk, PutOnto(key=new_key(), sources=((stack, 0.5),), stack_id=other))
    take_away(desk, TakeAway(key=new_key(), left_for="own_use", stack_id=other, share=0.5, reason="House"))

    way = way_of(desk, "load", load)
    flows = names(way)

    # The stack measured less than its logs gave; the two were joined by their spreads.
    assert set(flows) == {("1", "A1"), ("1", "loss"), ("A1", "less"), ("A1", "B1"), ("B1", "own_use")}
    # Of B1 half went; the load's part of it is half of what was put there.
    assert flows["B1", "own_use"] == pytest.approx(flows["A1", "B1"] / 2, rel=1e-6)
    chart = way_chart(way)
    assert [bar.column for bar in chart.bars] == sorted(bar.column for bar in chart.bars)
    assert max(bar.column for bar in chart.bars) == 3
    assert len(chart.bands) == 5


def test_a_round_trip_and_an_undone_entry(desk: Desk, stack: int, other: int) -> None:
    put_onto(desk, PutOnto(key=new_key(), sources=((stack, 0.3),), stack_id=other))
    put_onto(desk, PutOnto(key=new_key(), sources=((other, 0.3),), stack_id=stack))
    there = len(way_of(desk, "stack", stack).steps)
    with desk.book.write(desk.yard_id) as session:
        for entry in session.query(Entry).filter_by(kind="merge").all():
            reverse(session, entry, reason="a slip", happened_at=desk.now(), recorded_at=desk.now())

    assert there == 3
    assert way_chart(way_of(desk, "stack", stack)).bands != ()
    assert len(way_of(desk, "stack", stack).steps) == 1


@pytest.mark.parametrize("subject", ["load", "stack", "ticket", "house"])
def test_unknown_wood(desk: Desk, subject: str) -> None:
    with pytest.raises(InputError):
        way_of(desk, subject, 77)


def test_stock_of_a_past_day(desk: Desk, load: int, stack: int) -> None:
    """The load came on 10 March and was cut on 15 April; wood reported today was taken in May."""
    before = stock_on(desk, date(2026, 3, 9))
    as_load = stock_on(desk, date(2026, 4, 14))
    as_stack = stock_on(desk, date(2026, 4, 15))
    then = datetime(2026, 5, 2, 12, tzinfo=UTC)
    take_away(
        desk,
        TakeAway(
            key=new_key(), left_for="own_use", stack_id=stack, share=0.5, reason="House", happened_at=then
        ),
    )

    assert before == []
    assert {(line.kind, line.name, line.form) for line in as_load} == {
        ("load", "1", "log"),
        ("load", "1", "bark"),
    }
    assert {(line.kind, line.name) for line in as_stack} == {("stack", "A1")}
    assert {line.harvest.county for line in as_stack} == {"York"}
    assert stock_on(desk, date(2026, 5, 1)) == as_stack
    half = sum(line.kg for line in stock_on(desk, date(2026, 5, 2)))
    assert half == pytest.approx(sum(line.kg for line in as_stack) / 2, rel=1e-4)
