"""What was entered wrongly is taken back by deeds, on each kind of database: gram for gram, and cent for cent."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest
from pypdf import PdfReader
from sqlalchemy import select, update

from rickyard.book import Book, check, stock_by_spot
from rickyard.book.migrations import triggers
from rickyard.book.models import Entry, Offer, Order, Undoing
from rickyard.desk.closing import EmptyStack, ReopenStack, empty_stack, reopen_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import Deliver, SellAtGate, deliver, sell_at_gate
from rickyard.desk.households import SetHousehold, household, set_household
from rickyard.desk.load_measures import (
    FollowMeasures,
    NoteMeasure,
    WeightFigures,
    follow_measures,
    note_measure,
)
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
from rickyard.desk.offers import NoteOffer, OfferFacts, TakeOffer, note_offer, take_offer
from rickyard.desk.orders import PlaceOrder, order, place_order
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
from rickyard.desk.stacks import stack_page, stacks
from rickyard.desk.tickets import Pay, pay, ticket, ticket_pdf
from rickyard.desk.undoing import (
    UndoDelivery,
    UndoMoving,
    UndoPayment,
    UndoStackUp,
    UndoTakeIn,
    undo_delivery,
    undo_moving,
    undo_payment,
    undo_stack_up,
    undo_take_in,
)
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import Harvest, TakeInRough, take_in_rough
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.errors import ClashError, InputError, RefusedError
from rickyard.measure import CORD_M3

NOW = datetime(2026, 10, 1, 15, tzinfo=UTC)
TODAY = NOW.date()
HARVEST = Harvest(country="CA", subdivision="NB", county="York")
FACTS = YardFacts(
    name="Thornbeck Yard",
    country="CA",
    subdivision="NB",
    climate_place="Fredericton, NB",
    timezone="America/Moncton",
    tax_rate=0.15,
)
MAPLE = (("sugar maple", 1.0),)


class Yard:
    """A yard with a household and a ware; its deeds in few words."""

    def __init__(self, book: Book) -> None:
        self.desk = set_up_yard(book, FACTS, clock=lambda: NOW)
        home = set_household(self.desk, SetHousehold(key=new_key(), name="Delphine Fernhollow"))
        self.home = int(home["household_id"])
        facts = WareFacts(
            name="Green maple",
            species=("sugar maple",),
            piece_length_m=0.406,
            max_mc_wet=None,
            price_minor=30000,
        )
        self.ware = int(set_ware(self.desk, SetWare(key=new_key(), facts=facts))["ware_id"])

    def load(self, cords: float = 10.0) -> int:
        command = TakeInRough(
            key=new_key(),
            source="Fernhollow woodlot",
            harvest=HARVEST,
            arrived_on=date(2026, 3, 10),
            quantity=cords * CORD_M3,
            shares=MAPLE,
        )
        return int(take_in_rough(self.desk, command)["load_id"])

    def pieces(self, name: str) -> PiecesFacts:
        return PiecesFacts(name=name, piece_length_m=0.406, thickness_m=0.1, stacked_on=date(2026, 4, 15))

    def stack(self, load: int, share: float, name: str) -> int:
        outside = Dimensions(length_m=5.0, heights_m=(1.5,), rows=2)
        command = StackUp(key=new_key(), sources=((load, share),), pieces=self.pieces(name), outside=outside)
        return int(stack_up(self.desk, command)["stack_id"])

    def stood(self, name: str) -> int:
        command = OpeningStack(
            key=new_key(),
            shares=MAPLE,
            harvest=HARVEST,
            pieces=self.pieces(name),
            outside=Dimensions(length_m=5.0, heights_m=(1.5,), rows=2),
        )
        return int(opening_stack(self.desk, command)["stack_id"])

    def ordered(self, stack: int, m3: float = 3.0) -> int:
        command = PlaceOrder(
            key=new_key(),
            household_id=self.home,
            ware_id=self.ware,
            ranked_m3=m3,
            wanted_by=TODAY,
            portions=((stack, m3),),
        )
        return int(place_order(self.desk, command)["order_id"])

    def delivered(self, order_id: int, **facts) -> int:
        command = Deliver(key=new_key(), order_id=order_id, delivered_on=TODAY, **facts)
        return int(deliver(self.desk, command)["ticket_id"])

    def stock(self):
        with self.desk.book.read() as session:
            return stock_by_spot(session, self.desk.yard_id)

    def last_entry(self) -> int:
        with self.desk.book.read() as session:
            return session.scalars(select(Entry.number).order_by(Entry.number.desc()).limit(1)).one()


@pytest.fixture
def yard(book: Book) -> Iterator[Yard]:
    """The book is proved sound when the test ends."""
    yield Yard(book)
    assert check(book).problems == ()


def undone(yard: Yard, ticket_id: int):
    return undo_delivery(
        yard.desk, UndoDelivery(key=new_key(), ticket_id=ticket_id, reason="wrong household")
    )


def test_a_delivery_is_taken_back_with_its_ticket_and_its_order_is_open_again(yard: Yard) -> None:
    stack = yard.stood("A1")
    order_id = yard.ordered(stack)
    before = yard.stock()
    ticket_id = yard.delivered(order_id)
    owed = ticket(yard.desk, ticket_id).total_minor
    assert household(yard.desk, yard.home).owed_minor == owed > 0
    command = UndoDelivery(key=new_key(), ticket_id=ticket_id, reason="wrong household")

    answer = undo_delivery(yard.desk, command)

    assert answer == undo_delivery(yard.desk, command)
    assert answer == {
        "ticket_id": ticket_id,
        "number": 1,
        "order_id": order_id,
        "order_state": "promised",
        "clashes": [],
    }
    assert yard.stock() == before
    card = ticket(yard.desk, ticket_id)
    assert (card.number, card.total_minor, card.owed_minor, card.cancelled_for) == (
        1,
        owed,
        0,
        "wrong household",
    )
    assert card.cancelled_at == NOW
    home = household(yard.desk, yard.home)
    assert (home.owed_minor, home.last_delivery) == (0, None)
    again = order(yard.desk, order_id)
    assert again.state == "promised"
    assert [(line.stack_id, line.ranked_m3, line.state) for line in again.promises] == [(stack, 3.0, "open")]
    # The next one has the next number; the cancelled one is not given again.
    assert ticket(yard.desk, yard.delivered(order_id)).number == 2
    assert household(yard.desk, yard.home).owed_minor == owed


def test_the_paper_says_that_it_is_cancelled(yard: Yard, tmp_path) -> None:
    ticket_id = yard.delivered(yard.ordered(yard.stood("A1")))

    def said() -> str:
        (tmp_path / "t.pdf").write_bytes(ticket_pdf(yard.desk, ticket_id))
        return " ".join(page.extract_text() for page in PdfReader(tmp_path / "t.pdf").pages)

    assert "CANCELLED" not in said()
    undone(yard, ticket_id)
    paper = said()
    assert "CANCELLED" in paper
    assert "nothing is to be paid" in " ".join(paper.split())
    assert "0001" in paper


def test_a_stack_that_a_delivery_emptied_stands_again(yard: Yard) -> None:
    stack = yard.stood("A1")
    whole = stack_page(yard.desk, stack).card.ranked_m3
    ticket_id = yard.delivered(yard.ordered(stack, whole))
    assert stacks(yard.desk) == []

    undone(yard, ticket_id)

    (card,) = stacks(yard.desk)
    assert (card.ranked_m3, card.emptied_on) == (pytest.approx(whole), None)


def test_what_is_promised_to_others_since_is_not_promised_twice(yard: Yard) -> None:
    promised, other = yard.stood("A1"), yard.stood("B1")
    free = stack_page(yard.desk, promised).card.free_m3
    order_id = yard.ordered(promised)
    # The wood was taken from another stack, and all of the promised one is promised to somebody else.
    ticket_id = yard.delivered(order_id, portions=((other, 3.0),))
    yard.ordered(promised, free)

    assert undone(yard, ticket_id)["order_state"] == "asked"
    assert [line.state for line in order(yard.desk, order_id).promises] == ["released"]


def test_money_on_a_ticket_and_wood_that_came_back_are_taken_back_first(yard: Yard) -> None:
    stack = yard.stood("A1")
    ticket_id = yard.delivered(yard.ordered(stack), paid_in_full=True)
    (line,) = ticket(yard.desk, ticket_id).payments
    before = yard.stock()
    with pytest.raises(RefusedError, match="ticket 1 stands a payment of 285") as refused:
        undone(yard, ticket_id)
    assert refused.value.code == "hangs_on_it"

    command = UndoPayment(key=new_key(), payment_id=line.id, reason="never came")
    answer = undo_payment(yard.desk, command)

    assert answer == {"payment_id": line.id, "ticket_id": ticket_id, "owed_minor": line.amount_minor}
    assert household(yard.desk, yard.home).owed_minor == line.amount_minor
    assert ticket(yard.desk, ticket_id).paid_minor == 0
    with pytest.raises(ClashError, match="taken back already"):
        undo_payment(yard.desk, UndoPayment(key=new_key(), payment_id=line.id, reason="again"))
    return_wood(
        yard.desk, ReturnWood(key=new_key(), ticket_id=ticket_id, share=0.5, stack_id=stack, reason="wet")
    )
    number = yard.last_entry()
    with pytest.raises(RefusedError, match=f"came back by entry {number}"):
        undone(yard, ticket_id)
    undo_moving(yard.desk, UndoMoving(key=new_key(), number=number, reason="it did not"))
    assert yard.stock() == before

    undone(yard, ticket_id)
    with pytest.raises(RefusedError, match="is cancelled: nothing is to be paid"):
        pay(yard.desk, Pay(key=new_key(), ticket_id=ticket_id, amount_minor=100, paid_on=TODAY))
    with pytest.raises(ClashError, match="cancelled already"):
        undone(yard, ticket_id)


def test_a_sale_at_the_gate_is_taken_back(yard: Yard) -> None:
    stack = yard.stood("A1")
    before = yard.stock()
    sale = SellAtGate(key=new_key(), stack_id=stack, ware_id=yard.ware, ranked_m3=1.5)
    ticket_id = int(sell_at_gate(yard.desk, sale)["ticket_id"])

    answer = undone(yard, ticket_id)

    assert (answer["order_id"], answer["order_state"]) == (None, None)
    assert yard.stock() == before


def test_a_stack_that_was_written_off_since_is_opened_first(yard: Yard) -> None:
    stack = yard.stood("A1")
    ticket_id = yard.delivered(yard.ordered(stack))
    empty_stack(yard.desk, EmptyStack(key=new_key(), stack_id=stack, reason="gone"))

    with pytest.raises(RefusedError, match=r"A1 was closed since\. Open it again first"):
        undone(yard, ticket_id)
    reopen_stack(yard.desk, ReopenStack(key=new_key(), stack_id=stack, reason="it stands"))
    undone(yard, ticket_id)


def test_measures_since_then_saw_the_stack_with_the_wood_that_never_left(yard: Yard) -> None:
    """The delivery, and a measure after it: taken back, the book is as if only the measure had been."""
    stacks_of = {}
    for name in ("A1", "B1"):
        stacks_of[name] = yard.stood(name)
    early = Desk(yard.desk.book, yard.desk.yard_id, lambda: NOW - timedelta(days=20))
    sale = SellAtGate(key=new_key(), stack_id=stacks_of["A1"], ware_id=yard.ware, ranked_m3=1.5)
    ticket_id = int(sell_at_gate(early, sale)["ticket_id"])
    for stack in stacks_of.values():
        outside = Dimensions(length_m=4.0, heights_m=(1.5,), rows=2)
        measure_stack(yard.desk, MeasureStack(key=new_key(), stack_id=stack, outside=outside))

    undone(yard, ticket_id)

    one, two = (stack_page(yard.desk, stack).card for stack in stacks_of.values())
    assert (one.oven_dry_kg, one.ranked_m3) == (two.oven_dry_kg, two.ranked_m3)


def test_a_load_is_taken_back_after_what_hangs_on_it(yard: Yard) -> None:
    before = yard.stock()
    load = yard.load()
    stack = yard.stack(load, 0.5, "A1")
    undo = UndoTakeIn(key=new_key(), load_id=load, reason="entered twice")
    with pytest.raises(
        RefusedError, match=r"Wood of load 1 stands in stack A1\. Take the stacking of A1 back first"
    ):
        undo_take_in(yard.desk, undo)
    undo_stack_up(yard.desk, UndoStackUp(key=new_key(), stack_id=stack, reason="wrong load"))
    reject_load(yard.desk, RejectLoad(key=new_key(), load_id=load, share=0.3, reason="nails"))
    number = yard.last_entry()
    with pytest.raises(RefusedError, match=f"went its way by entry {number}"):
        undo_take_in(yard.desk, undo)
    undo_moving(yard.desk, UndoMoving(key=new_key(), number=number, reason="it did not"))
    note_measure(yard.desk, NoteMeasure(key=new_key(), load_id=load, weight=WeightFigures(net_kg=20000.0)))
    follow_measures(yard.desk, FollowMeasures(key=new_key(), load_id=load, reason="the scales"))

    # What was refused was not done, so the same key may be sent again.
    assert undo_take_in(yard.desk, undo) == {"load_id": load, "number": 1, "offer_id": None}

    assert yard.stock() == before
    row = load_page(yard.desk, load).row
    assert (row.number, row.undone_for, row.left_share, row.shares) == (1, "entered twice", 0.0, ())
    assert load_page(yard.desk, yard.load()).row.number == 2
    with pytest.raises(ClashError, match="taken back already"):
        undo_take_in(yard.desk, UndoTakeIn(key=new_key(), load_id=load, reason="again"))


def test_what_came_in_is_not_what_came_back_from_a_stack(yard: Yard) -> None:
    load = yard.load()
    came = load_page(yard.desk, load).as_arrived.total
    stack = yard.stack(load, 0.5, "A1")
    undo_stack_up(yard.desk, UndoStackUp(key=new_key(), stack_id=stack, reason="wrong load"))

    page = load_page(yard.desk, load)
    assert page.as_arrived.total == came
    assert page.row.left_share == 1.0


def test_an_offer_is_open_again_when_its_load_is_taken_back(yard: Yard) -> None:
    facts = OfferFacts(
        source="Saltbox woodlot",
        harvest=HARVEST,
        offered_on=TODAY,
        quantity=20.0,
        shares=MAPLE,
        asked_minor=1,
    )
    offer_id = int(note_offer(yard.desk, NoteOffer(key=new_key(), facts=facts))["offer_id"])
    taken = take_offer(yard.desk, TakeOffer(key=new_key(), offer_id=offer_id, arrived_on=TODAY))

    undo = UndoTakeIn(key=new_key(), load_id=int(taken["load_id"]), reason="it never came")
    assert undo_take_in(yard.desk, undo)["offer_id"] == offer_id
    with yard.desk.book.read() as session:
        assert session.get_one(Offer, offer_id).state == "open"


def test_a_stacking_is_taken_back_and_its_name_is_free(yard: Yard) -> None:
    load = yard.load()
    before = yard.stock()
    stack = yard.stack(load, 0.5, "A1")
    outside = Dimensions(length_m=4.0, heights_m=(1.5,), rows=2)
    measure_stack(yard.desk, MeasureStack(key=new_key(), stack_id=stack, outside=outside))

    answer = undo_stack_up(yard.desk, UndoStackUp(key=new_key(), stack_id=stack, reason="wrong load"))

    assert answer == {"stack_id": stack, "name": "A1 ×1", "clashes": []}
    assert yard.stock() == before
    page = stack_page(yard.desk, stack)
    assert (page.undone_for, page.card.emptied_on, page.card.ranked_m3) == ("wrong load", TODAY, 0.0)
    assert stack_page(yard.desk, yard.stack(load, 0.4, "A1")).card.name == "A1"
    with pytest.raises(InputError, match="whose stacking was taken back"):
        reopen_stack(yard.desk, ReopenStack(key=new_key(), stack_id=stack, reason="no"))


def test_what_hangs_on_a_stack_is_said_by_name(yard: Yard) -> None:
    whole, other = yard.stood("A1"), yard.stood("B1")

    def refused(stack: int = whole) -> str:
        with pytest.raises(RefusedError) as error:
            undo_stack_up(yard.desk, UndoStackUp(key=new_key(), stack_id=stack, reason="wrong"))
        return str(error.value)

    order_id = yard.ordered(whole)
    assert "promised for order 1" in refused()
    ticket_id = yard.delivered(order_id, portions=((other, 3.0),))
    assert "sold on ticket 1" in refused(other)
    part = int(
        divide_stack(yard.desk, DivideStack(key=new_key(), stack_id=whole, share=0.4, name="C1"))["stack_id"]
    )
    assert "C1 was divided from A1" in refused()
    take_away(
        yard.desk, TakeAway(key=new_key(), left_for="lost", stack_id=part, share=0.5, reason="the flood")
    )
    assert f"by entry {yard.last_entry()}" in refused(part)
    undo_moving(yard.desk, UndoMoving(key=new_key(), number=yard.last_entry(), reason="it was found"))
    assert undo_stack_up(yard.desk, UndoStackUp(key=new_key(), stack_id=part, reason="no"))["name"] == "C1 ×1"
    empty_stack(yard.desk, EmptyStack(key=new_key(), stack_id=whole, reason="gone"))
    assert "A1 was closed" in refused()
    reopen_stack(yard.desk, ReopenStack(key=new_key(), stack_id=whole, reason="it stands"))
    undone(yard, ticket_id)
    assert "promised for order 1" in refused()


def test_wood_that_went_on_is_not_taken_back_from_under_it(yard: Yard) -> None:
    one, two = yard.stood("A1"), yard.stood("B1")
    before = yard.stock()
    put_onto(yard.desk, PutOnto(key=new_key(), sources=((one, 1.0),), stack_id=two))
    merged = yard.last_entry()
    take_away(yard.desk, TakeAway(key=new_key(), left_for="own_use", stack_id=two, share=0.9, reason="ours"))
    used = yard.last_entry()
    undo = UndoMoving(key=new_key(), number=merged, reason="the other row")
    with pytest.raises(RefusedError, match=f"went on from stack B1 since, last by entry {used}"):
        undo_moving(yard.desk, undo)
    undo_moving(yard.desk, UndoMoving(key=new_key(), number=used, reason="we did not"))

    assert undo_moving(yard.desk, undo)["stacks"] == [one, two]
    assert yard.stock() == before
    assert [card.name for card in stacks(yard.desk)] == ["A1", "B1"]


def test_other_entries_say_where_they_are_taken_back(yard: Yard) -> None:
    yard.load()
    with pytest.raises(InputError, match="on the page of its load or stack"):
        undo_moving(yard.desk, UndoMoving(key=new_key(), number=yard.last_entry(), reason="so"))
    with pytest.raises(InputError, match="the number of an entry"):
        undo_moving(yard.desk, UndoMoving(key=new_key(), number=99, reason="so"))


@pytest.mark.parametrize(
    ("damage", "code"),
    [
        (lambda session: session.query(Undoing).delete(), "ticket_half_cancelled"),
        (lambda session: session.execute(update(Order).values(state="delivered")), "order_without_ticket"),
    ],
    ids=["half cancelled", "without ticket"],
)
def test_the_check_finds_a_ticket_that_is_half_cancelled(book: Book, damage, code: str) -> None:
    yard = Yard(book)
    undone(yard, yard.delivered(yard.ordered(yard.stood("A1"))))
    assert check(book).problems == ()
    with book.write() as session:
        triggers.unprotect(session.connection())
        damage(session)
        triggers.protect(session.connection())

    assert code in {problem.code for problem in check(book).faults}


def test_the_check_finds_a_ticket_on_an_open_order(book: Book) -> None:
    yard = Yard(book)
    yard.delivered(yard.ordered(yard.stood("A1")))
    with book.write() as session:
        session.execute(update(Order).values(state="asked"))

    # And it was no deed.
    assert {problem.code for problem in check(book).faults} == {"ticket_of_open_order", "seal_broken"}
