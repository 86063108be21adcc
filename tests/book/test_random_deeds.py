"""Random deeds of the desk in random order on both databases: the book stays sound, and an undo is an undo."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, timedelta

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
from sqlalchemy import select

from rickyard.book import Book, check, reverse, stock_by_spot
from rickyard.book.models import Clash, Entry, Load, Posting, Spot, Stack, Yard
from rickyard.book.running import EARLY_CODES, NEGATIVE_G, shortfalls
from rickyard.desk.closing import EmptyStack, ReopenStack, empty_stack, reopen_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.moving import (
    DivideStack,
    PutOnto,
    RejectLoad,
    TakeAway,
    divide_stack,
    put_onto,
    reject_load,
    take_away,
)
from rickyard.desk.remeasure import OVERDRAWN
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
from rickyard.desk.wood_in import Harvest, TakeInRough, take_in_rough

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
        self.number = 0

    def ids(self, table: type[Load] | type[Stack]) -> list[int]:
        with self.book.read() as session:
            return list(session.scalars(select(table.id).where(table.yard_id == self.desk.yard_id)))

    def some(self, data: st.DataObject, table: type[Load] | type[Stack]) -> int:
        return data.draw(st.sampled_from(self.ids(table)))

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
        self.do(reopen_stack, ReopenStack(key=new_key(), stack_id=stack_id, reason="it stands"))
        assert self.stock() == before

    @precondition(lambda self: self.entries())
    @rule(data=st.data())
    def undo_and_redo(self, data: st.DataObject) -> None:
        """A reversal takes exactly its entry away again; reversed itself, all is as it was."""
        entry_id = data.draw(st.sampled_from(self.entries()))
        before = self.stock()
        for _ in range(2):
            with self.book.write(self.desk.yard_id) as session:
                entry = session.get_one(Entry, entry_id)
                moved = {(p.spot_id, p.species_id, p.form, p.lot_id) for p in entry.postings}
                back = reverse(
                    session, entry, reason="a slip", happened_at=entry.happened_at, recorded_at=NOW
                )
                entry_id = back.id
            between = self.stock()
            changed = {
                (spot, *key)
                for spot in {*before, *between}
                for key in {*before.get(spot, {}), *between.get(spot, {})}
                if before.get(spot, {}).get(key, 0) != between.get(spot, {}).get(key, 0)
            }
            assert changed <= moved
        assert self.stock() == before

    def entries(self) -> list[int]:
        with self.book.read() as session:
            undone = select(Entry.reverses_id).where(Entry.reverses_id.is_not(None))
            query = select(Entry.id).where(Entry.yard_id == self.desk.yard_id, Entry.id.not_in(undone))
            return list(session.scalars(query.order_by(Entry.id)))

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

    def teardown(self) -> None:
        report = check(self.book)
        assert report.balance_g == 0
        assert report.faults == ()
        # Wherever wood left before it was there, somebody was told, but where it was undone by the library's hand.
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
            undone = session.scalar(select(Entry.id).where(Entry.reverses_id.is_not(None)).limit(1))
        assert undone or {one.spot_id for one in short} <= told


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
