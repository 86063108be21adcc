"""The way of wood, both ways, reckoned by hand; the stock of a day of the past."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from random import Random
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import event, select

from rickyard.book import reverse, stock_by_spot
from rickyard.book.models import Entry, Load, Stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.moving import (
    DivideStack,
    PutOnto,
    RejectLoad,
    ReturnWood,
    TakeAway,
    divide_stack,
    put_onto,
    reject_load,
    return_wood,
    take_away,
)
from rickyard.desk.naming import NameWood, name_wood
from rickyard.desk.past_stock import stock_on
from rickyard.desk.stacking import (
    Dimensions,
    MeasureStack,
    OpeningStack,
    PiecesFacts,
    StackUp,
    measure_stack,
    opening_stack,
    stack_up,
)
from rickyard.desk.way_legs import DIFFERENCES, SINKS, SOURCES, Place, Reader
from rickyard.desk.ways import Way, way_of
from rickyard.desk.wood_in import Harvest, TakeInRough, take_in_rough
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

    # Before B1 came wood that stood here; A1 measured less than its logs gave; and the two steps of the round trip.
    assert there == 5
    assert way_chart(way_of(desk, "stack", stack)).bands != ()
    assert {ends[1] for ends in names(way_of(desk, "stack", stack))} == {"A1", "less"}


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


def test_no_day_to_come_has_a_stock(desk: Desk, load: int) -> None:
    with pytest.raises(InputError) as refused:
        stock_on(desk, date(2026, 10, 2))

    assert (refused.value.field, refused.value.code) == ("on", "day_to_come")
    assert "2026-10-01" in str(refused.value)
    assert sum(line.kg for line in stock_on(desk, date(2026, 10, 1))) > 0


def rough(desk: Desk, number: int, wood: str = "sugar maple") -> int:
    """Wood of one place of harvest, load after load: they share a lot."""
    command = TakeInRough(
        key=new_key(),
        source=f"Farm {number}",
        harvest=Harvest(country="CA", subdivision="NB", county="York"),
        arrived_on=date(2026, 3, 10),
        quantity=12.0,
        shares=((wood, 1.0),),
    )
    return int(take_in_rough(desk, command)["load_id"])


def cut(desk: Desk, load_id: int, pieces: PiecesFacts, name: str, share: float = 1.0) -> int:
    """Cut and stacked as large as its logs make it, about."""
    outside = Dimensions(length_m=12.0 * share, heights_m=(1.0,))
    command = StackUp(
        key=new_key(), sources=((load_id, share),), pieces=replace(pieces, name=name), outside=outside
    )
    return int(stack_up(desk, command)["stack_id"])


def measured(desk: Desk, stack_id: int, length_m: float) -> None:
    outside = Dimensions(length_m=length_m, heights_m=(1.0,))
    measure_stack(desk, MeasureStack(key=new_key(), stack_id=stack_id, outside=outside))


def test_a_measure_takes_no_wood_from_one_stack_to_another(desk: Desk, pieces: PiecesFacts) -> None:
    """Load 1 became A, load 2 became B, of one lot. A is then found less and B more: still nothing went between."""
    first, second = rough(desk, 1), rough(desk, 2)
    a, b = cut(desk, first, pieces, "A"), cut(desk, second, pieces, "B")
    measured(desk, a, 8.0)
    measured(desk, b, 14.0)

    for subject, number in (("stack", b), ("load", second)):
        way = way_of(desk, subject, number)
        assert {place.name for place in way.places if place.kind in ("load", "stack")} == {"2", "B"}
    grown, shrunk = way_of(desk, "stack", b), way_of(desk, "stack", a)
    assert {step.causes for step in grown.steps if step.start.kind == "more"} == {("measured",)}
    assert names(shrunk)["A", "less"] > 0
    assert all(step.mass.low < step.mass.mid < step.mass.high for step in (*grown.steps, *shrunk.steps))
    assert {place.kind for place in way_of(desk, "load", first).places} >= {"load", "stack", "less"}


def test_what_came_back_came_from_its_own_ticket(desk: Desk, pieces: PiecesFacts, ware: int) -> None:
    """Wood of A and of B is sold at the gate; what came back of B's ticket is B's, though all buyers are one spot."""
    a, b = (cut(desk, rough(desk, number), pieces, name) for number, name in ((1, "A"), (2, "B")))
    sold = [
        sell_at_gate(
            desk, SellAtGate(key=new_key(), ware_id=ware, stack_id=one, ranked_m3=1.0, price_minor=1)
        )["ticket_id"]
        for one in (a, b)
    ]
    heap = cut(desk, rough(desk, 3), pieces, "C")
    back = ReturnWood(key=new_key(), ticket_id=sold[1], share=1.0, stack_id=heap, reason="too long")
    return_wood(desk, back)

    assert "B" in {place.name for place in way_of(desk, "stack", heap).places}
    assert "A" not in {place.name for place in way_of(desk, "stack", heap).places}
    assert "C" not in {place.name for place in way_of(desk, "ticket", sold[0]).places}
    assert "C" in {place.name for place in way_of(desk, "ticket", sold[1]).places}


def test_wood_named_later_is_still_the_load_s(desk: Desk, pieces: PiecesFacts) -> None:
    """Its book mass moves with the density: a difference by the name, and the chain does not break."""
    load_id = rough(desk, 1, "hardwood, not named yet")
    name_wood(desk, NameWood(key=new_key(), load_id=load_id, was="", now="balsam fir"))
    stack_id = cut(desk, load_id, pieces, "A")

    way = way_of(desk, "stack", stack_id)

    assert ("1", "A") in names(way)
    assert {step.causes for step in way_of(desk, "load", load_id).steps if step.end.kind == "less"} >= {
        ("named",)
    }


def test_an_undone_undoing_stands(desk: Desk, stack: int, other: int) -> None:
    put_onto(desk, PutOnto(key=new_key(), sources=((stack, 0.3),), stack_id=other))
    asked: dict[int, int] = {}
    for count in range(1, 3):
        with desk.book.write(desk.yard_id) as session:
            last = session.scalars(select(Entry).order_by(Entry.number.desc()).limit(1)).one()
            reverse(session, last, reason="a slip", happened_at=desk.now(), recorded_at=desk.now())
        asked[count] = sum(ends == ("A1", "B1") for ends in names(way_of(desk, "stack", other)))

    assert asked == {1: 0, 2: 1}


@pytest.mark.parametrize("seed", range(2))
def test_what_came_and_the_differences_are_what_is_there(
    desk: Desk, pieces: PiecesFacts, ware: int, seed: int
) -> None:
    """A random story of real deeds; then every stack's and load's way adds up to its stock, and carries nothing."""
    random = Random(seed)
    first = rough(desk, 1)
    loads, stacks, sold = [first], [cut(desk, first, pieces, "S0", 0.5)], list[int]()

    def sell() -> None:
        command = SellAtGate(
            key=new_key(), ware_id=ware, stack_id=random.choice(stacks), ranked_m3=0.2, price_minor=1
        )
        sold.append(int(sell_at_gate(desk, command)["ticket_id"]))

    def come() -> None:
        loads.append(rough(desk, len(loads) + 1, random.choice(["sugar maple", "yellow birch"])))
        stacks.append(cut(desk, loads[-1], pieces, f"S{len(stacks)}", random.choice([0.4, 0.8])))

    def back() -> None:
        if sold:
            command = ReturnWood(
                key=new_key(),
                ticket_id=sold.pop(),
                share=0.5,
                stack_id=random.choice(stacks),
                reason="too long",
            )
            return_wood(desk, command)

    def merge() -> None:
        if len(stacks) > 1:
            one, two = random.sample(stacks, 2)
            put_onto(desk, PutOnto(key=new_key(), sources=((one, 0.4),), stack_id=two))

    def divide() -> None:
        command = DivideStack(
            key=new_key(), stack_id=random.choice(stacks), share=0.4, name=f"S{len(stacks)}"
        )
        stacks.append(int(divide_stack(desk, command)["stack_id"]))

    def go() -> None:
        command = TakeAway(
            key=new_key(), left_for="decay", stack_id=random.choice(stacks), share=0.1, reason="rot"
        )
        take_away(desk, command)

    def reject() -> None:
        reject_load(desk, RejectLoad(key=new_key(), load_id=random.choice(loads), share=0.1, reason="wire"))

    def measure() -> None:
        measured(desk, random.choice(stacks), random.uniform(2, 9))

    deeds: tuple[Callable[[], None], ...] = (sell, come, back, merge, divide, go, reject, measure)
    for deed in random.sample(deeds * 2, 16):
        deed()

    with desk.book.read() as session:
        held = stock_by_spot(session, desk.yard_id)
        rows = [("stack", row.id, row.spot_id) for row in session.scalars(select(Stack))]
        rows += [("load", row.id, row.spot_id) for row in session.scalars(select(Load))]
    for subject, number, spot_id in rows:
        way = way_of(desk, subject, number, least_g=0.0)
        there = sum(held.get(spot_id, {}).values()) / 1000
        came = sum(step.kg for step in way.steps if step.end == way.focus)
        left = sum(step.kg for step in way.steps if step.start == way.focus)
        if subject == "load":
            # What arrived is the load itself.
            came = way.place(way.focus).kg
        assert came - left == pytest.approx(there, abs=0.01)
        assert way.place(way.focus).lying_kg == pytest.approx(there, abs=0.01)
        assert_carries_nothing(way)
        assert_carries_nothing(way_of(desk, subject, number))


def assert_carries_nothing(way: Way) -> None:
    """Losses, what was sent back and differences are ends; no band comes from nowhere or leads nowhere."""
    starts, ends = {step.start for step in way.steps}, {step.end for step in way.steps}
    for step in way.steps:
        assert step.start.kind not in SINKS
        assert step.end.kind not in SOURCES
        assert bool(step.causes) == bool({step.start.kind, step.end.kind} & DIFFERENCES)
        buyers = {"gate", "household", "ticket"}
        whence = step.start == way.focus or step.start in ends
        assert whence or step.start.kind in SOURCES | {"load"} | buyers
        lies = way.place(step.end).lying_kg > 0
        assert step.end == way.focus or step.end in starts or lies or step.end.kind in SINKS | buyers
        assert way.place(step.start) is not None
        assert way.place(step.end) is not None
    drawn = way_chart(way)
    assert all(band.start in drawn.bars and band.end in drawn.bars for band in drawn.bands)


def test_only_what_the_wood_hangs_on_is_read(desk: Desk, pieces: PiecesFacts) -> None:
    """Other loads and stacks of the same lot make neither the questions more nor what is read longer."""
    stack_id = cut(desk, rough(desk, 1), pieces, "A")
    measured(desk, stack_id, 8.0)
    with desk.book.read() as session:
        focus = Place("stack", session.get_one(Stack, stack_id).spot_id)
    asked: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        asked.append(statement)

    found = []
    for extra in range(2):
        with desk.book.read() as session:
            reader = Reader(session, ZoneInfo("America/Moncton"))
            event.listen(session.get_bind(), "before_cursor_execute", note)
            reader.follow({focus})
            event.remove(session.get_bind(), "before_cursor_execute", note)
        found.append((len(asked), len(reader.history.entries), len(reader.history.read)))
        asked.clear()
        for number in range(2 - 2 * extra):
            cut(desk, rough(desk, number), pieces, f"X{number}")

    assert found[0] == found[1]
    # The load came in, was cut, was joined with the measure, and was measured again.
    assert found[0][1:] == (4, 2)
    assert found[0][0] <= 3
