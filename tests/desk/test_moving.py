"""Wood put together, divided, sent back, used, rotten, lost, returned: no gram and no harvest place is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rickyard.book import reverse, stock
from rickyard.book.models import Entry, Load, Lot, Spot, Stack
from rickyard.desk.clashes import clashes
from rickyard.desk.closing import EmptyStack, empty_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.loads import load_page
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
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, opening_stack
from rickyard.desk.stacks import stack_page
from rickyard.desk.undoing import UndoDelivery, UndoMoving, undo_delivery, undo_moving
from rickyard.desk.wood_in import Harvest
from rickyard.errors import InputError

MAINE = Harvest(country="US", subdivision="ME", county="Aroostook", certificate="HT-77")


def grams(desk: Desk, kind: str) -> int:
    """All that lies at spots of a kind."""
    with desk.book.read() as session:
        return sum(sum(stock(session, spot.id).values()) for spot in session.query(Spot).filter_by(kind=kind))


def of_stack(desk: Desk, stack_id: int) -> int:
    with desk.book.read() as session:
        return sum(stock(session, session.get_one(Stack, stack_id).spot_id).values())


def kinds(desk: Desk) -> list[str]:
    with desk.book.read() as session:
        return [entry.kind for entry in session.query(Entry).order_by(Entry.number)]


@pytest.fixture
def other(desk: Desk, pieces: PiecesFacts) -> int:
    """A stack of red oak with another harvest place and a treatment certificate."""
    command = OpeningStack(
        key=new_key(),
        shares=(("red oak", 100.0),),
        harvest=MAINE,
        pieces=replace(pieces, name="B1"),
        outside=Dimensions(length_m=4.0, heights_m=(1.2,)),
    )
    return int(opening_stack(desk, command)["stack_id"])


def test_two_stacks_become_one_and_the_harvest_places_follow(desk: Desk, stack: int, other: int) -> None:
    one, two = of_stack(desk, stack), of_stack(desk, other)

    answer = put_onto(desk, PutOnto(key=new_key(), sources=((other, 1.0),), stack_id=stack))

    assert answer == {"stack_id": stack, "mass_g": two, "closed": [other], "clashes": []}
    assert (of_stack(desk, stack), of_stack(desk, other)) == (one + two, 0)
    page = stack_page(desk, stack)
    assert {place.certificate: round(share, 9) for place, share in page.harvests}.keys() == {"", "HT-77"}
    assert sum(share for _, share in page.harvests) == pytest.approx(1)
    assert stack_page(desk, other).card.emptied_on == date(2026, 10, 1)
    assert kinds(desk)[-1] == "merge"


def test_a_bin_is_filled_from_a_divided_stack(desk: Desk, stack: int) -> None:
    before, outside = of_stack(desk, stack), stack_page(desk, stack).card.ranked_m3
    made = divide_stack(
        desk, DivideStack(key=new_key(), stack_id=stack, share=0.25, name="Bin 1", kind="bin")
    )
    bin_id = made["stack_id"]
    card = stack_page(desk, bin_id).card
    # A quarter of the wood, measured loose: the same wood ranked is a quarter of the stack.
    assert (card.kind, card.piled) == ("bin", "loose")
    assert card.ranked_m3 == pytest.approx(outside / 4, rel=1e-6)

    filled = put_onto(desk, PutOnto(key=new_key(), sources=((stack, 0.5),), stack_id=bin_id))

    assert of_stack(desk, bin_id) + of_stack(desk, stack) == before
    assert of_stack(desk, bin_id) == pytest.approx(before * 0.625, abs=3)
    assert filled["closed"] == []
    assert kinds(desk)[-2:] == ["divide", "fill"]
    assert stack_page(desk, bin_id).card.ranked_m3 == pytest.approx(outside * 0.625, rel=1e-4)


def test_a_load_is_sent_back(desk: Desk, load: int) -> None:
    before = grams(desk, "load")

    answer = reject_load(desk, RejectLoad(key=new_key(), load_id=load, share=0.5, reason="Nails and wire"))

    assert grams(desk, "load") == before - answer["mass_g"] == pytest.approx(before / 2, abs=1)
    assert load_page(desk, load).row.left_share == pytest.approx(0.5, abs=1e-3)
    reject_load(desk, RejectLoad(key=new_key(), load_id=load, reason="The rest too"))
    assert grams(desk, "load") == grams(desk, "outside") == 0
    # Told once more, it is taken: somebody is to look at the load.
    again = reject_load(desk, RejectLoad(key=new_key(), load_id=load, reason="Again"))
    (line,) = clashes(desk, load_id=load)
    assert (again["mass_g"], again["clashes"]) == (0, [line.id])
    assert (line.code, line.load_number, line.stack_id) == ("book_holds_nothing", 1, None)


@pytest.mark.parametrize(("left_for", "place"), [("own_use", "own_use"), ("decay", "loss"), ("lost", "loss")])
def test_wood_that_is_gone(desk: Desk, stack: int, left_for: str, place: str) -> None:
    before, there = of_stack(desk, stack), grams(desk, place)

    answer = take_away(
        desk, TakeAway(key=new_key(), left_for=left_for, stack_id=stack, share=0.1, reason="As told")
    )

    assert grams(desk, place) - there == answer["mass_g"] == before - of_stack(desk, stack)
    assert answer["mass_g"] == pytest.approx(before / 10, abs=2)
    assert kinds(desk)[-1] == left_for
    all_of_it = TakeAway(key=new_key(), left_for=left_for, stack_id=stack, reason="All of it")
    assert take_away(desk, all_of_it)["closed"] == [stack]


def test_firewood_of_the_house_from_a_load(desk: Desk, load: int) -> None:
    take_away(desk, TakeAway(key=new_key(), left_for="own_use", load_id=load, share=0.2, reason="House"))

    assert grams(desk, "own_use") == pytest.approx((grams(desk, "own_use") + grams(desk, "load")) / 5, abs=1)


def test_wood_comes_back_from_a_buyer(desk: Desk, stack: int, other: int, ware: int) -> None:
    sold = sell_at_gate(
        desk,
        SellAtGate(key=new_key(), ware_id=ware, stack_id=stack, ranked_m3=2.0, price_minor=9000),
    )
    gate = grams(desk, "gate")

    answer = return_wood(
        desk,
        ReturnWood(key=new_key(), ticket_id=sold["ticket_id"], share=0.5, stack_id=other, reason="Too wet"),
    )

    assert answer["clashes"] == []
    assert grams(desk, "gate") == gate - answer["mass_g"] == pytest.approx(gate / 2, abs=1)
    with desk.book.read() as session:
        held = stock(session, session.get_one(Stack, other).spot_id)
        counties = {session.get_one(Lot, key.lot_id).county for key in held}
    assert counties == {"York", "Aroostook"}
    again = ReturnWood(key=new_key(), ticket_id=sold["ticket_id"], share=0.6, stack_id=other, reason="Twice")
    assert len(return_wood(desk, again)["clashes"]) == 1
    # Set right, so that the book is sound at the end.
    take_back = TakeAway(key=new_key(), left_for="lost", stack_id=other, share=0.001, reason="Splinters")
    take_away(desk, take_back)
    with desk.book.write(desk.yard_id) as session:
        entry = session.query(Entry).filter_by(kind="return").order_by(Entry.number.desc()).first()
        assert entry is not None
        reverse(session, entry, reason="entered twice", happened_at=desk.now(), recorded_at=desk.now())


def test_wood_of_a_delivery_that_was_taken_back_comes_back(desk: Desk, stack: int, ware: int) -> None:
    """It is there, so it is taken; by the book the buyer never had it, and that is said."""
    sold = sell_at_gate(
        desk, SellAtGate(key=new_key(), ware_id=ware, stack_id=stack, ranked_m3=2.0, price_minor=9000)
    )
    undo_delivery(desk, UndoDelivery(key=new_key(), ticket_id=sold["ticket_id"], reason="Another stack"))
    back = ReturnWood(key=new_key(), ticket_id=sold["ticket_id"], share=1.0, stack_id=stack, reason="Wet")

    answer = return_wood(desk, back)

    assert answer["mass_g"] > 0
    (line,) = clashes(desk)
    assert line.code == "returned_too_much"
    assert "nothing of it went out" in line.sentence
    # Set right, so that the book is sound at the end.
    with desk.book.read() as session:
        number = session.query(Entry).filter_by(kind="return").one().number
    undo_moving(desk, UndoMoving(key=new_key(), number=number, reason="It never went"))
    assert grams(desk, "gate") == 0


def test_reports_that_do_not_fit_are_taken_with_a_clash(desk: Desk, stack: int, other: int) -> None:
    empty_stack(desk, EmptyStack(key=new_key(), stack_id=other, reason="gone"))

    onto_closed = put_onto(desk, PutOnto(key=new_key(), sources=((stack, 0.1),), stack_id=other))
    empty_stack(desk, EmptyStack(key=new_key(), stack_id=other, reason="gone"))
    from_empty = put_onto(desk, PutOnto(key=new_key(), sources=((other, 0.5),), stack_id=stack))

    assert [line.code for line in clashes(desk)] == ["book_holds_nothing", "stack_closed"]
    assert (len(onto_closed["clashes"]), from_empty["mass_g"]) == (1, 0)


def test_unlike_pieces_are_told(desk: Desk, stack: int, pieces: PiecesFacts) -> None:
    short = replace(pieces, name="C1", piece_length_m=0.25)
    outside = Dimensions(length_m=2.0, heights_m=(1.0,))
    made = opening_stack(
        desk,
        OpeningStack(key=new_key(), shares=(("red oak", 1.0),), harvest=MAINE, pieces=short, outside=outside),
    )

    answer = put_onto(desk, PutOnto(key=new_key(), sources=((made["stack_id"], 1.0),), stack_id=stack))

    assert len(answer["clashes"]) == 1
    assert [line.code for line in clashes(desk)] == ["unlike_pieces"]


@pytest.mark.parametrize(
    "command",
    [
        PutOnto(key=new_key(), sources=(), stack_id=1),
        PutOnto(key=new_key(), sources=((1, 0.5),), stack_id=1),
        PutOnto(key=new_key(), sources=((1, 1.5),), stack_id=2),
    ],
)
def test_nonsense_is_refused(desk: Desk, stack: int, command: PutOnto) -> None:
    with pytest.raises(InputError):
        put_onto(desk, command)
    assert "merge" not in kinds(desk)


def test_sent_twice_it_is_done_once(desk: Desk, stack: int) -> None:
    command = DivideStack(key=new_key(), stack_id=stack, share=0.5, name="D1")

    assert divide_stack(desk, command) == divide_stack(desk, command)
    with desk.book.read() as session:
        assert session.query(Stack).count() == 2
        assert session.query(Load).count() == 1
