"""Random deeds of the desk in random order on both databases: the book stays sound, and an undo is an undo."""

from __future__ import annotations

import os
from collections import defaultdict
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import func, select

from rickyard.book import Book, StockKey, check, stock_by_spot
from rickyard.book.models import (
    Clash,
    Entry,
    Load,
    Payment,
    Posting,
    Spot,
    Stack,
    StackMeasure,
    Ticket,
    Yard,
)
from rickyard.book.running import EARLY_CODES, NEGATIVE_G, shortfalls
from rickyard.desk.closing import EmptyStack, ReopenStack, empty_stack, reopen_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import Deliver, SellAtGate, deliver, sell_at_gate
from rickyard.desk.fingerprints import Fingerprints, fingerprints
from rickyard.desk.households import SetHousehold, household, set_household
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
from rickyard.desk.moving_views import returns
from rickyard.desk.orders import PlaceOrder, place_order
from rickyard.desk.remeasure import OVERDRAWN
from rickyard.desk.split_stacks import FINER, SplitStack, split_stack
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
from rickyard.desk.stacks import WENT, stack_card
from rickyard.desk.tickets import tickets
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
    undoing_of,
)
from rickyard.desk.undoing_measures import UndoMeasure, undo_measure
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import Harvest, TakeInRough, take_in_rough
from rickyard.errors import InputError, RefusedError, RickyardError

NOW = datetime(2026, 10, 1, 15, tzinfo=UTC)
SHARE = st.sampled_from([0.01, 0.3, 0.5, 0.999, 1.0])
WOODS = st.sampled_from([(("sugar maple", 60.0), ("red oak", 40.0)), (("balsam fir", 1.0),)])
# A new stack's name: its own, or one that another may have. Days about that on which the loads come.
NAMES = st.sampled_from(["", "", "A1"])
DAYS = st.sampled_from([date(2026, 5, 1), date(2026, 5, 1), date(2026, 2, 1)])
TOLD = st.sampled_from([None, None, 2.0, 500.0])
# `make prove-deeds` asks for many more.
EXAMPLES, STEPS = int(os.environ.get("RICKYARD_EXAMPLES", "6")), int(os.environ.get("RICKYARD_STEPS", "12"))
PLACES = st.sampled_from([Harvest(country="CA", subdivision="NB", county=c) for c in ("York", "Kent")])


def amounts(entry: Entry) -> dict[tuple[int, str, str, int], int]:
    """Grams by place and kind of wood."""
    found: dict[tuple[int, str, str, int], int] = defaultdict(int)
    for posting in entry.postings:
        found[posting.spot_id, posting.species_id, posting.form, posting.lot_id] += posting.mass_g
    return dict(found)


class RandomDeeds(RuleBasedStateMachine):
    book: Book

    @initialize()
    def begin(self) -> None:
        with self.book.write() as session:
            yard = Yard(
                name="Y",
                country="CA",
                subdivision="NB",
                climate_place="Fredericton, NB",
                timezone="America/Moncton",
                currency="CAD",
                created_at=NOW,
            )
            session.add(yard)
            session.flush()
            session.add_all(
                Spot(yard_id=yard.id, kind=kind) for kind in ("outside", "loss", "gate", "own_use")
            )
        self.desk = Desk(self.book, yard.id, lambda: NOW)
        self.known = Fingerprints()
        self.number = 0
        facts = WareFacts(
            name="Wood",
            species=("sugar maple", "red oak", "balsam fir"),
            piece_length_m=0.4,
            max_mc_wet=None,
            price_minor=30000,
        )
        self.ware = set_ware(self.desk, SetWare(key=new_key(), facts=facts))["ware_id"]
        self.home = set_household(self.desk, SetHousehold(key=new_key(), name="Somebody"))["household_id"]

    def ids(self, table: type[Load] | type[Stack] | type[StackMeasure]) -> list[int]:
        with self.book.read() as session:
            # In order: PostgreSQL gives rows as they lie, and a story that is told again must draw the same.
            query = select(table.id).where(table.yard_id == self.desk.yard_id)
            return list(session.scalars(query.order_by(table.id)))

    def some(self, data: st.DataObject, table: type[Load] | type[Stack]) -> int:
        return data.draw(st.sampled_from(self.ids(table)))

    def unmade(self, stack_id: int) -> bool:
        """Whether the stacking of it was taken back."""
        with self.book.read() as session:
            return undoing_of(session, stack_id=stack_id) is not None

    def cancelled(self, ticket_id: int) -> bool:
        """Whether the delivery was taken back."""
        with self.book.read() as session:
            ticket = session.get_one(Ticket, ticket_id)
            return session.scalar(select(Entry.id).where(Entry.reverses_id == ticket.entry_id)) is not None

    def pieces(self, name: str = "", day: date = date(2026, 5, 1)) -> PiecesFacts:
        self.number += 1
        return PiecesFacts(
            name=name or f"S{self.number}", piece_length_m=0.4, thickness_m=0.1, stacked_on=day
        )

    def do(self, deed, command) -> None:
        """Sent twice, as a phone does. All of it happened, so none of it is refused, whatever the book says."""
        assert deed(self.desk, command) == deed(self.desk, command)

    @rule(woods=WOODS, place=PLACES, volume=st.floats(0.5, 60))
    def come(self, woods, place: Harvest, volume: float) -> None:
        self.do(
            take_in_rough,
            TakeInRough(
                key=new_key(),
                source="A farm",
                harvest=place,
                arrived_on=date(2026, 3, 1),
                quantity=volume,
                shares=woods,
            ),
        )

    @rule(woods=WOODS, place=PLACES, length=st.floats(0.5, 20), name=NAMES)
    def stood(self, woods, place: Harvest, length: float, name: str) -> None:
        outside, pieces = Dimensions(length_m=length, heights_m=(1.2,)), self.pieces(name)
        self.do(
            opening_stack,
            OpeningStack(key=new_key(), shares=woods, harvest=place, pieces=pieces, outside=outside),
        )

    @precondition(lambda self: self.ids(Load))
    @rule(data=st.data(), share=SHARE, length=st.floats(0.3, 10), name=NAMES, day=DAYS)
    def cut(self, data: st.DataObject, share: float, length: float, name: str, day: date) -> None:
        """Also of loads that are used up, larger than they give, before they came, and under a name that is taken."""
        outside, pieces = Dimensions(length_m=length, heights_m=(1.0,)), self.pieces(name, day)
        loads = self.ids(Load)
        of = data.draw(st.lists(st.sampled_from(loads), min_size=1, max_size=2, unique=True))
        sources = tuple((load_id, share) for load_id in of)
        self.do(stack_up, StackUp(key=new_key(), sources=sources, pieces=pieces, outside=outside))

    @precondition(lambda self: self.ids(Load))
    @rule(data=st.data(), share=SHARE, told=TOLD)
    def reject(self, data: st.DataObject, share: float, told: float | None) -> None:
        load_id = self.some(data, Load)
        self.do(
            reject_load,
            RejectLoad(key=new_key(), load_id=load_id, share=share, ranked_m3=told, reason="wire"),
        )

    @precondition(lambda self: self.ids(Load))
    @rule(data=st.data(), share=SHARE, days=st.integers(0, 300))
    def go_from_a_load(self, data: st.DataObject, share: float, days: int) -> None:
        command = TakeAway(
            key=new_key(),
            left_for="own_use",
            load_id=self.some(data, Load),
            share=share,
            reason="so",
            happened_at=NOW - timedelta(days=days),
        )
        self.do(take_away, command)

    @precondition(lambda self: len(self.ids(Stack)) > 1)
    @rule(data=st.data(), share=SHARE)
    def merge(self, data: st.DataObject, share: float) -> None:
        one, two = data.draw(st.permutations(self.ids(Stack)))[:2]
        self.do(put_onto, PutOnto(key=new_key(), sources=((one, share),), stack_id=two))

    @precondition(lambda self: self.ids(Stack))
    @rule(data=st.data(), kind=st.sampled_from(["", "heap", "bin"]))
    def divide(self, data: st.DataObject, kind: str) -> None:
        name = self.pieces().name
        self.do(
            divide_stack,
            DivideStack(key=new_key(), stack_id=self.some(data, Stack), share=0.4, name=name, kind=kind),
        )

    @precondition(lambda self: self.ids(Stack))
    @rule(data=st.data(), share=SHARE, finer=st.sampled_from(["split", "kindling"]), told=TOLD)
    def split(self, data: st.DataObject, share: float, finer: str, told: float | None) -> None:
        stack_id = self.some(data, Stack)
        with self.book.read() as session:
            form = session.get_one(Stack, stack_id).form
        self.number += 1
        command = SplitStack(
            key=new_key(),
            stack_id=stack_id,
            share=share,
            ranked_m3=told,
            name=f"F{self.number}",
            form=finer if finer in FINER[form] else "kindling",
            thickness_m=0.05,
        )
        self.do(split_stack, command)

    @precondition(lambda self: self.ids(Stack))
    @rule(
        data=st.data(),
        share=SHARE,
        why=st.sampled_from(["own_use", "decay", "lost"]),
        days=st.integers(0, 300),
        told=TOLD,
    )
    def go(self, data: st.DataObject, share: float, why: str, days: int, told: float | None) -> None:
        stack_id = self.some(data, Stack)
        then = NOW - timedelta(days=days)
        command = TakeAway(
            key=new_key(),
            left_for=why,
            stack_id=stack_id,
            share=share,
            ranked_m3=told,
            reason="so",
            happened_at=then,
        )
        self.do(take_away, command)

    @precondition(lambda self: self.ids(Stack))
    @rule(data=st.data(), length=st.floats(0.5, 20), days=st.integers(0, 100))
    def measure(self, data: st.DataObject, length: float, days: int) -> None:
        outside = Dimensions(length_m=length, heights_m=(1.0,))
        then = NOW - timedelta(days=days)
        stack_id = self.some(data, Stack)
        self.do(
            measure_stack, MeasureStack(key=new_key(), stack_id=stack_id, outside=outside, happened_at=then)
        )

    @precondition(lambda self: self.ids(Stack))
    @rule(data=st.data())
    def close_and_open(self, data: st.DataObject) -> None:
        stack_id = self.some(data, Stack)
        before = self.stock()
        self.do(empty_stack, EmptyStack(key=new_key(), stack_id=stack_id, reason="gone"))
        opening = ReopenStack(key=new_key(), stack_id=stack_id, reason="it stands")
        if self.unmade(stack_id):  # it cannot be opened: its wood is where it was before
            with pytest.raises(InputError) as caught:
                reopen_stack(self.desk, opening)
            assert caught.value.code == "already_undone"
            return
        self.do(reopen_stack, opening)
        assert self.stock() == before

    @precondition(lambda self: self.ids(Stack))
    @rule(data=st.data(), share=SHARE, paid=st.booleans())
    def sell(self, data: st.DataObject, share: float, paid: bool) -> None:
        self.told(sell_at_gate, self.sale(data, share, paid))

    @precondition(lambda self: self.ids(Stack))
    @rule(data=st.data(), share=SHARE, paid=st.booleans(), promised=st.booleans())
    def order_and_deliver(self, data: st.DataObject, share: float, paid: bool, promised: bool) -> None:
        stack_id = self.some(data, Stack)
        m3 = max(0.05, self.ranked(stack_id) * share)
        portions = ((stack_id, m3),)
        order = self.told(
            place_order,
            PlaceOrder(
                key=new_key(),
                household_id=self.home,
                ware_id=self.ware,
                ranked_m3=m3,
                wanted_by=NOW.date(),
                portions=portions if promised else (),
            ),
        )
        if order is not None:
            self.told(
                deliver,
                Deliver(
                    key=new_key(),
                    order_id=order["order_id"],
                    delivered_on=NOW.date(),
                    portions=() if promised else portions,
                    paid_in_full=paid,
                ),
            )

    @precondition(lambda self: self.tickets())
    @rule(data=st.data(), share=SHARE)
    def come_back(self, data: st.DataObject, share: float) -> None:
        ticket_id = data.draw(st.sampled_from(self.tickets()))
        if returns(self.desk, ticket_id=ticket_id) or self.cancelled(ticket_id):
            return  # twice, or what never went, is a clash of its own, and leaves the buyer below zero
        stack_id = self.some(data, Stack)
        self.do(
            return_wood,
            ReturnWood(key=new_key(), ticket_id=ticket_id, share=share, stack_id=stack_id, reason="wet"),
        )

    @precondition(lambda self: self.ids(Load) and self.ids(Stack))
    @rule(
        data=st.data(),
        share=SHARE,
        what=st.sampled_from(["load", "stack", "part", "went", "onto", "sale", "measure"]),
    )
    def done_and_undone(self, data: st.DataObject, share: float, what: str) -> None:
        """Taken back at once, everything is as it was: every gram at every place, and what is owed."""
        before, owed = self.stock(), self.owed()
        undo = self.begun(data, share, what)
        if undo is not None:
            deed, command = undo
            assert deed(self.desk, command) == deed(self.desk, command)
        assert self.stock() == before
        assert self.owed() == owed

    def begun(self, data: st.DataObject, share: float, what: str):
        """Something done, and the deed that takes it back; None if it was refused."""
        key, why = {"key": new_key()}, {"reason": "a slip"}
        outside = Dimensions(length_m=2.0, heights_m=(1.0,))
        if what == "load":
            command = TakeInRough(
                source="B",
                harvest=Harvest(country="CA", subdivision="NB", county="Kent"),
                arrived_on=date(2026, 3, 2),
                quantity=7.0,
                shares=(("red oak", 1.0),),
                **key,
            )
            load_id = take_in_rough(self.desk, command)["load_id"]
            return undo_take_in, UndoTakeIn(key=new_key(), load_id=load_id, **why)
        if what in ("stack", "part"):
            if what == "stack":
                sources = ((self.some(data, Load), share),)
                made = self.told(
                    stack_up, StackUp(sources=sources, pieces=self.pieces(), outside=outside, **key)
                )
            else:
                whole = self.some(data, Stack)
                if not self.ranked(whole):
                    return None  # an empty one stays open only with a clash
                name = self.pieces().name
                made = self.told(divide_stack, DivideStack(stack_id=whole, share=0.3, name=name, **key))
            if made is None:
                return None
            return undo_stack_up, UndoStackUp(key=new_key(), stack_id=made["stack_id"], **why)
        if what == "measure":
            taken = measure_stack(
                self.desk, MeasureStack(stack_id=self.some(data, Stack), outside=outside, **key)
            )
            return undo_measure, UndoMeasure(key=new_key(), measure_id=taken["measure_id"], **why)
        if what == "sale":
            sold = self.told(sell_at_gate, self.sale(data, share, paid=False))
            return sold and (undo_delivery, UndoDelivery(key=new_key(), ticket_id=sold["ticket_id"], **why))
        stack_id = self.some(data, Stack)
        if what == "went":
            command = TakeAway(left_for="lost", stack_id=stack_id, share=share, reason="so", **key)
            done = take_away(self.desk, command)
        else:
            others = [one for one in self.ids(Stack) if one != stack_id]
            if not others:
                return None
            onto = data.draw(st.sampled_from(others))
            done = put_onto(self.desk, PutOnto(sources=((stack_id, share),), stack_id=onto, **key))
        if not done["mass_g"]:
            return None
        kinds = ("lost",) if what == "went" else ("merge", "fill")
        return undo_moving, UndoMoving(key=new_key(), number=self.live(kinds)[-1], **why)

    @rule(data=st.data())
    def undo(self, data: st.DataObject) -> None:
        """Something done before is taken back: exactly its entries, reversed; or refused, and nothing is changed."""
        every = [
            *((undo_take_in, UndoTakeIn, "load_id", one) for one in self.ids(Load)),
            *((undo_stack_up, UndoStackUp, "stack_id", one) for one in self.ids(Stack)),
            *((undo_delivery, UndoDelivery, "ticket_id", one) for one in self.tickets()),
            *((undo_payment, UndoPayment, "payment_id", one) for one in self.payments()),
            *((undo_moving, UndoMoving, "number", one) for one in self.live(WENT)),
            *((undo_measure, UndoMeasure, "measure_id", one) for one in self.ids(StackMeasure)),
        ]
        if not every:
            return
        deed, make, name, of = data.draw(st.sampled_from(every))
        command = make(key=new_key(), reason="a slip", **{name: of})
        before, owed, last = self.stock(), self.owed(), self.last_entry()
        try:
            answer = deed(self.desk, command)
        except RickyardError as error:
            if error.code not in ("hangs_on_it", "already_undone"):
                raise
            assert (self.stock(), self.owed(), self.last_entry()) == (before, owed, last)
            return
        assert deed(self.desk, command) == answer
        self.is_undone(deed, answer, before, owed, last)

    def is_undone(self, deed, answer, before, owed: int, last: int) -> None:
        expected = {spot: dict(kinds) for spot, kinds in before.items()}
        with self.book.read() as session:
            query = select(Entry).where(Entry.yard_id == self.desk.yard_id, Entry.number > last)
            for entry in session.scalars(query):
                assert entry.kind in ("reverse", "remeasure")
                if entry.kind == "reverse":
                    undone = session.get_one(Entry, entry.reverses_id)
                    assert entry.happened_at == undone.happened_at
                    assert amounts(entry) == {key: -grams for key, grams in amounts(undone).items()}
                for (spot, *key), grams in amounts(entry).items():
                    held = expected.setdefault(spot, {})
                    held[StockKey(*key)] = held.get(StockKey(*key), 0) + grams
            billed = 0
            if deed is undo_delivery:
                ticket = session.get_one(Ticket, answer["ticket_id"])
                billed = -ticket.total_minor if ticket.household_id else 0
            elif deed is undo_payment:
                payment = session.get_one(Payment, answer["payment_id"])
                billed = payment.amount_minor if payment.ticket.household_id else 0
        clean = {
            spot: {key: grams for key, grams in kinds.items() if grams} for spot, kinds in expected.items()
        }
        assert self.stock() == {spot: kinds for spot, kinds in clean.items() if kinds}
        assert self.owed() == owed + billed

    def sale(self, data: st.DataObject, share: float, paid: bool) -> SellAtGate:
        stack_id = self.some(data, Stack)
        m3 = max(0.05, self.ranked(stack_id) * share)
        return SellAtGate(
            key=new_key(),
            stack_id=stack_id,
            ware_id=self.ware,
            ranked_m3=m3,
            price_minor=5000,
            paid_in_full=paid,
        )

    def told(self, deed, command):
        """Sent twice; None where stock or promises forbid it."""
        try:
            first = deed(self.desk, command)
        except RefusedError as error:
            if error.code not in ("not_enough", "wrong_ware"):
                raise
            return None
        except InputError as error:
            if error.field not in ("load", "length", "quantity", "portions"):
                raise
            return None
        assert deed(self.desk, command) == first
        return first

    def ranked(self, stack_id: int) -> float:
        return stack_card(self.desk, stack_id).ranked_m3

    def owed(self) -> int:
        return household(self.desk, self.home).owed_minor

    def tickets(self) -> list[int]:
        return [card.id for card in tickets(self.desk)][::-1]

    def payments(self) -> list[int]:
        return sorted(line.id for card in tickets(self.desk) for line in card.payments)

    def last_entry(self) -> int:
        with self.book.read() as session:
            return (
                session.scalar(select(func.max(Entry.number)).where(Entry.yard_id == self.desk.yard_id)) or 0
            )

    def live(self, kinds) -> list[int]:
        """Numbers of the entries of these kinds that were not taken back."""
        with self.book.read() as session:
            undone = select(Entry.reverses_id).where(Entry.reverses_id.is_not(None))
            query = select(Entry.number).where(
                Entry.yard_id == self.desk.yard_id, Entry.kind.in_(kinds), Entry.id.not_in(undone)
            )
            return list(session.scalars(query.order_by(Entry.number)))

    def stock(self):
        with self.book.read() as session:
            return stock_by_spot(session, self.desk.yard_id)

    @invariant()
    def nothing_is_below_zero(self) -> None:
        if not hasattr(self, "desk"):
            return
        """But where what was measured and what was taken away contradict each other, and the book says so."""
        with self.book.read() as session:
            said = select(Clash.subject_id).where(Clash.subject_kind == "stack", Clash.code == OVERDRAWN)
            excused = set(session.scalars(select(Spot.id).where(Spot.kind == "outside")))
            excused |= set(session.scalars(select(Stack.spot_id).where(Stack.id.in_(said))))
        held = self.stock()
        assert sum(sum(kinds.values()) for kinds in held.values()) == 0
        assert [
            (spot, key, grams)
            for spot, kinds in held.items()
            if spot not in excused
            for key, grams in kinds.items()
            if grams < -NEGATIVE_G
        ] == []

    @invariant()
    def what_is_remembered_of_forecasts_is_what_the_book_says(self) -> None:
        # Now and then: it reads every stack twice.
        self.steps = getattr(self, "steps", 0) + 1
        if hasattr(self, "desk") and self.steps % 4 == 0:
            self.remembered_as_it_is()

    def remembered_as_it_is(self) -> None:
        with self.book.read() as session:
            yard, ids = self.desk.yard(session), list(session.scalars(select(Stack.id)))
            told = [
                fingerprints(session, yard, NOW.date(), ids, known) for known in (self.known, Fingerprints())
            ]
        assert told[0] == told[1]

    def teardown(self) -> None:
        self.remembered_as_it_is()
        report = check(self.book)
        assert report.balance_g == 0
        assert report.faults == ()
        # Wherever wood left before it was there, somebody was told.
        with self.book.read() as session:
            short = shortfalls(session, self.desk.yard_id, "America/Moncton")
            told = set(
                session.scalars(
                    select(Posting.spot_id)
                    .join(Entry, Entry.id == Posting.entry_id)
                    .join(Clash, Clash.deed_id == Entry.deed_id)
                    .where(Clash.code.in_((*EARLY_CODES, OVERDRAWN)))
                )
            )
        assert {one.spot_id for one in short} <= told


def test_random_deeds_leave_a_sound_book(book: Book) -> None:
    run_state_machine_as_test(
        type("Deeds", (RandomDeeds,), {"book": book}),
        settings=settings(
            max_examples=EXAMPLES,
            stateful_step_count=STEPS,
            deadline=None,
            suppress_health_check=[HealthCheck.too_slow],
        ),
    )
