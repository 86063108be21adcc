"""The journal: entries balance, lots follow, reversals undo, portions are exact, numbers have no gaps."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import event, select

from rickyard.book import (
    Book,
    Move,
    StockKey,
    check,
    next_number,
    portion,
    post,
    reverse,
    stock,
    stock_by_spot,
)
from rickyard.book.models import Entry, Posting, Spot
from rickyard.errors import BookError, ClashError, InputError

KINDS = st.builds(
    StockKey,
    st.sampled_from(["acer_saccharum", "quercus_rubra", "betula_alleghaniensis"]),
    st.sampled_from(["split", "bark"]),
    st.integers(1, 3),
)
STOCKS = st.dictionaries(KINDS, st.integers(-(10**6), 10**9), max_size=8)


def posted(yard, moves: list[Move], *, kind: str = "take_in", at: datetime | None = None) -> int:
    """Posts in a transaction of its own; gives the entry's id."""
    with yard.book.write() as session:
        entry = post(
            session,
            yard.yard_id,
            kind=kind,
            happened_at=at or yard.start,
            recorded_at=yard.start + timedelta(days=30),
            moves=moves,
        )
        return entry.id


class TestPost:
    def test_keeps_the_measurement_as_taken(self, yard) -> None:
        went, came = yard.came_in(1000)
        came = Move(
            came.spot_id,
            came.species_id,
            came.form,
            came.lot_id,
            came.mass_g,
            quantity=10.0,
            unit="stacked_m3",
            method="tape",
            sd_share=0.1,
            basic_density_kg_m3=560.0,
        )
        entry_id = posted(yard, [went, came])

        with yard.book.read() as session:
            kept = session.scalars(
                select(Posting).where(Posting.entry_id == entry_id).order_by(Posting.id)
            ).all()

        assert [posting.mass_g for posting in kept] == [-1000, 1000]
        assert (kept[1].quantity, kept[1].unit, kept[1].method) == (10.0, "stacked_m3", "tape")
        assert (kept[1].sd_share, kept[1].basic_density_kg_m3) == (0.1, 560.0)

    def test_a_log_may_become_splits_kerf_and_waste(self, yard) -> None:
        """A change of form within one species balances: 1000 = 940 + 40 + 20."""
        key = ("acer_saccharum", yard.lot)
        posted(
            yard,
            [Move(yard.outside, key[0], "log", key[1], -1000), Move(yard.load, key[0], "log", key[1], 1000)],
        )
        posted(
            yard,
            [
                Move(yard.load, key[0], "log", key[1], -1000),
                Move(yard.stack, key[0], "split", key[1], 940),
                Move(yard.loss, key[0], "kerf", key[1], 40),
                Move(yard.loss, key[0], "waste", key[1], 20),
            ],
            kind="stack",
        )

        with yard.book.read() as session:
            assert stock(session, yard.load) == {}
            assert stock(session, yard.stack) == {StockKey(key[0], "split", key[1]): 940}
            assert sum(stock(session, yard.loss).values()) == 60

    @pytest.mark.parametrize("case", ["mass", "species", "lot", "nothing", "zeros"])
    def test_refuses_what_does_not_balance(self, yard, case: str) -> None:
        acer, oak = "acer_saccharum", "quercus_rubra"
        moves = {
            "mass": [
                Move(yard.outside, acer, "split", yard.lot, -10),
                Move(yard.stack, acer, "split", yard.lot, 9),
            ],
            "species": [
                Move(yard.outside, acer, "split", yard.lot, -10),
                Move(yard.stack, oak, "split", yard.lot, 10),
            ],
            "lot": [
                Move(yard.outside, acer, "split", yard.lot, -10),
                Move(yard.stack, acer, "split", yard.other_lot, 10),
            ],
            "nothing": [],
            "zeros": [Move(yard.stack, acer, "split", yard.lot, 0)],
        }[case]

        with pytest.raises(BookError) as caught:
            posted(yard, moves)

        assert caught.value.code == "unbalanced"
        with yard.book.read() as session:
            assert session.scalar(select(Entry.id)) is None

    @pytest.mark.parametrize("mass", [1.0, True, "5"])
    def test_refuses_masses_that_are_no_whole_grams(self, yard, mass: object) -> None:
        with pytest.raises(TypeError, match="whole grams"):
            posted(yard, [Move(yard.stack, "acer_saccharum", "split", yard.lot, mass)])

    def test_a_new_name_goes_out_and_in_through_outside(self, yard) -> None:
        """Per species the sum stays zero, and what the yard holds has the new name."""
        posted(yard, yard.came_in(1000, "unnamed"))
        posted(
            yard,
            [
                Move(yard.stack, "unnamed", "split", yard.lot, -1000),
                Move(yard.outside, "unnamed", "split", yard.lot, 1000),
                Move(yard.outside, "quercus_rubra", "split", yard.lot, -1100),
                Move(yard.stack, "quercus_rubra", "split", yard.lot, 1100),
            ],
            kind="name",
        )

        with yard.book.read() as session:
            assert stock(session, yard.stack) == {StockKey("quercus_rubra", "split", yard.lot): 1100}
        assert check(yard.book).ok

    def test_physical_reports_are_never_refused(self, yard) -> None:
        """More was taken than the book held: it is posted, and `check` shows the clash."""
        acer = "acer_saccharum"
        posted(yard, yard.came_in(5000))
        posted(
            yard,
            [
                Move(yard.stack, acer, "split", yard.lot, -9000),
                Move(yard.loss, acer, "split", yard.lot, 9000),
            ],
            kind="empty",
        )

        with yard.book.read() as session:
            assert sum(stock(session, yard.stack).values()) == -4000
        assert [problem.code for problem in check(yard.book).problems] == ["negative_stock"]


class TestReverse:
    def reverse(self, yard, entry_id: int) -> int:
        with yard.book.write() as session:
            entry = session.get_one(Entry, entry_id)
            return reverse(
                session, entry, reason="typed twice", happened_at=yard.start, recorded_at=yard.start
            ).id

    def test_undoes_exactly(self, yard) -> None:
        posted(yard, yard.came_in(700))
        twice = posted(yard, yard.came_in(700))

        undo = self.reverse(yard, twice)

        with yard.book.read() as session:
            assert sum(stock(session, yard.stack).values()) == 700
            assert session.get_one(Entry, undo).reverses_id == twice
            assert session.get_one(Entry, undo).reason == "typed twice"

    def test_only_once(self, yard) -> None:
        entry_id = posted(yard, yard.came_in(700))
        self.reverse(yard, entry_id)

        with pytest.raises(ClashError) as caught:
            self.reverse(yard, entry_id)

        assert caught.value.code == "already_reversed"

    def test_a_reversal_can_be_reversed(self, yard) -> None:
        undo = self.reverse(yard, posted(yard, yard.came_in(700)))

        self.reverse(yard, undo)

        with yard.book.read() as session:
            assert sum(stock(session, yard.stack).values()) == 700


class TestStock:
    def test_at_a_past_moment_counts_late_reports(self, yard) -> None:
        """What happened on day 1 counts on day 1, though it was reported after day 2."""
        day = timedelta(days=1)
        posted(yard, yard.came_in(10), at=yard.start + 2 * day)
        posted(yard, yard.came_in(1), at=yard.start + day)

        with yard.book.read() as session:
            seen = [
                sum(stock(session, yard.stack, at=yard.start + n * day - second).values())
                for n in (1, 2, 3)
                for second in (timedelta(seconds=1), timedelta(0))
            ]

        assert seen == [0, 1, 1, 11, 11, 11]

    def test_by_spot_agrees_with_each_spot(self, yard) -> None:
        posted(yard, yard.came_in(10))
        posted(yard, yard.came_in(20, "quercus_rubra", spot=yard.load))

        with yard.book.read() as session:
            by_spot = stock_by_spot(session, yard.yard_id)
            assert by_spot == {spot: stock(session, spot) for spot in (yard.outside, yard.stack, yard.load)}
            assert stock_by_spot(session, yard.yard_id, kinds=("stack",)) == {yard.stack: by_spot[yard.stack]}

    def test_another_yards_wood_is_not_counted(self, yard, found: Callable[..., object]) -> None:
        other = found(yard.book, "Another yard")
        posted(other, other.came_in(10))

        with yard.book.read() as session:
            assert stock_by_spot(session, yard.yard_id) == {}

    def test_a_busy_yard_in_one_query(self, yard) -> None:
        """40,000 postings over 1,500 stacks: one GROUP BY, well below a second."""
        with yard.book.write() as session:
            spots = [Spot(yard_id=yard.yard_id, kind="stack") for _ in range(1500)]
            session.add_all(spots)
            session.flush()
            when = {"happened_at": yard.start, "recorded_at": yard.start}
            post(session, yard.yard_id, kind="opening", moves=yard.came_in(1), **when)
            # Not sealed, so that it takes any postings.
            entry = Entry(yard_id=yard.yard_id, number=2, kind="opening", **when)
            session.add(entry)
            session.flush()
            row = {
                "yard_id": yard.yard_id,
                "entry_id": entry.id,
                "form": "split",
                "lot_id": yard.lot,
                "unit": "",
                "method": "",
            }
            species = ["acer_saccharum", "quercus_rubra", "betula_alleghaniensis"]
            session.execute(
                sa.insert(Posting),
                [
                    {**row, "spot_id": spots[n % 1500].id, "species_id": species[n % 3], "mass_g": 1 + n}
                    for n in range(40_000)
                ],
            )
        said: list[str] = []
        with yard.book.read() as session:
            connection = session.connection()
            event.listen(connection, "before_cursor_execute", lambda *args: said.append(args[2]))
            held = stock_by_spot(session, yard.yard_id, kinds=("stack",))

        assert len(said) == 1
        assert "GROUP BY" in said[0]
        assert len(held) == 1501
        assert sum(sum(kinds.values()) for kinds in held.values()) == 1 + 40_000 * 40_001 // 2


class TestPortion:
    def test_by_hand(self) -> None:
        """10 g of 3 + 3 + 1: exact shares 4.29, 4.29, 1.43; the largest remainder gets the gram that is left."""
        held = {StockKey("a", "split", 1): 3, StockKey("b", "split", 1): 3, StockKey("c", "split", 1): 1}

        assert portion(held, 10) == dict(zip(held, (4, 4, 2), strict=True))
        assert portion(held, 2) == dict(zip(held, (1, 1, 0), strict=True))

    @given(held=STOCKS, mass_g=st.integers(0, 2 * 10**9))
    def test_is_exact_and_fair(self, held: dict[StockKey, int], mass_g: int) -> None:
        whole = sum(grams for grams in held.values() if grams > 0)
        if mass_g and not whole:
            with pytest.raises(InputError):
                portion(held, mass_g)
            return

        shares = portion(held, mass_g)

        assert list(shares) == list(held)
        assert sum(shares.values()) == mass_g
        for key, grams in held.items():
            there = max(grams, 0)
            # Within one gram of the exact share: |share·whole − mass·there| < whole
            assert abs(shares[key] * whole - mass_g * there) < max(whole, 1)
            if mass_g <= whole:
                assert 0 <= shares[key] <= there

    @given(held=STOCKS)
    def test_all_of_it_is_all_of_it(self, held: dict[StockKey, int]) -> None:
        there = {key: max(grams, 0) for key, grams in held.items()}

        assert portion(held, sum(there.values())) == there

    @given(held=STOCKS, mass_g=st.integers(1, 10**6))
    def test_does_not_depend_on_the_order(self, held: dict[StockKey, int], mass_g: int) -> None:
        if any(grams > 0 for grams in held.values()):
            assert portion(dict(reversed(held.items())), mass_g) == portion(held, mass_g)

    def test_less_than_nothing_is_refused(self) -> None:
        with pytest.raises(InputError):
            portion({StockKey("a", "split", 1): 3}, -1)


class TestNextNumber:
    def test_counts_from_one_for_each_kind_and_yard(self, yard, found: Callable[..., object]) -> None:
        other = found(yard.book, "Another yard")
        with yard.book.write() as session:
            numbers = [
                next_number(session, owner, kind)
                for owner, kind in [
                    (yard.yard_id, "load"),
                    (yard.yard_id, "load"),
                    (yard.yard_id, "ticket"),
                    (other.yard_id, "load"),
                ]
            ]

        assert numbers == [1, 2, 1, 1]

    def test_a_number_is_given_back_when_the_deed_fails(self, yard) -> None:
        posted(yard, yard.came_in(1))
        with pytest.raises(sa.exc.IntegrityError):
            posted(
                yard, [Move(yard.outside, "a", "split", yard.lot, -1), Move(99999, "a", "split", yard.lot, 1)]
            )
        posted(yard, yard.came_in(1))

        with yard.book.read() as session:
            assert list(session.scalars(select(Entry.number).order_by(Entry.number))) == [1, 2]


class RandomDays(RuleBasedStateMachine):
    """Random posts, portions and reversals, in random order of happening, beside a plain dictionary.

    After each step the stock agrees with the dictionary; at the end the book is proven.
    """

    book: Book
    found: Callable[..., object]

    @initialize()
    def begin(self) -> None:
        self.yard = self.found(self.book)
        self.spots = (self.yard.outside, self.yard.load, self.yard.stack, self.yard.home, self.yard.loss)
        self.lots = (self.yard.lot, self.yard.other_lot)
        self.expected: dict[int, dict[StockKey, int]] = defaultdict(lambda: defaultdict(int))
        self.entries: list[tuple[int, datetime, list[Move]]] = []
        self.undone: set[int] = set()

    def keep(self, moves: list[Move], days: int) -> None:
        at = self.yard.start + timedelta(days=days)
        self.entries.append((posted(self.yard, moves, at=at), at, moves))
        self.count(moves)

    def count(self, moves: list[Move]) -> None:
        for move in moves:
            self.expected[move.spot_id][StockKey(move.species_id, move.form, move.lot_id)] += move.mass_g

    @rule(
        ends=st.permutations(range(5)),
        species=st.sampled_from(["acer_saccharum", "quercus_rubra"]),
        forms=st.tuples(*[st.sampled_from(["log", "split", "bark"])] * 2),
        lot=st.integers(0, 1),
        grams=st.integers(1, 10**7),
        days=st.integers(-400, 0),
    )
    def move_wood(
        self, ends: list[int], species: str, forms: tuple[str, str], lot: int, grams: int, days: int
    ) -> None:
        place = self.lots[lot]
        self.keep(
            [
                Move(self.spots[ends[0]], species, forms[0], place, -grams),
                Move(self.spots[ends[1]], species, forms[1], place, grams),
            ],
            days,
        )

    @rule(share=st.integers(1, 100), days=st.integers(-400, 0))
    def deliver_a_share(self, share: int, days: int) -> None:
        with self.book.read() as session:
            held = stock(session, self.yard.stack)
        whole = sum(grams for grams in held.values() if grams > 0)
        taken = {key: grams for key, grams in portion(held, whole * share // 100).items() if grams}
        moves = [
            Move(spot, *key, sign * grams)
            for key, grams in taken.items()
            for spot, sign in ((self.yard.stack, -1), (self.yard.home, 1))
        ]
        if moves:
            self.keep(moves, days)
        with self.book.read() as session:
            left = stock(session, self.yard.stack)
        assert all(left.get(key, 0) >= 0 for key in taken)

    @precondition(lambda self: len(self.undone) < len(self.entries))
    @rule(data=st.data())
    def undo(self, data: st.DataObject) -> None:
        entry_id, at, moves = data.draw(st.sampled_from([e for e in self.entries if e[0] not in self.undone]))
        back = [Move(m.spot_id, m.species_id, m.form, m.lot_id, -m.mass_g) for m in moves]
        with self.book.write() as session:
            made = reverse(
                session,
                session.get_one(Entry, entry_id),
                reason="a mistake",
                happened_at=at,
                recorded_at=at,
            )
            self.entries.append((made.id, at, back))
        self.undone.add(entry_id)
        self.count(back)

    @rule(days=st.integers(-400, 0))
    def look_back(self, days: int) -> None:
        at = self.yard.start + timedelta(days=days)
        wanted: dict[StockKey, int] = defaultdict(int)
        for _, happened_at, moves in self.entries:
            if happened_at <= at:
                for move in moves:
                    if move.spot_id == self.yard.stack:
                        wanted[StockKey(move.species_id, move.form, move.lot_id)] += move.mass_g
        with self.book.read() as session:
            assert stock(session, self.yard.stack, at=at) == {k: g for k, g in wanted.items() if g}

    def teardown(self) -> None:
        if not hasattr(self, "yard"):
            return
        with self.book.read() as session:
            seen = stock_by_spot(session, self.yard.yard_id)
        wanted = {spot: {key: g for key, g in kinds.items() if g} for spot, kinds in self.expected.items()}
        assert seen == {spot: kinds for spot, kinds in wanted.items() if kinds}
        assert sum(sum(kinds.values()) for kinds in seen.values()) == 0
        report = check(self.book)
        assert {problem.code for problem in report.problems} <= {
            "negative_stock",
            "taken_before_it_was_there",
        }
        assert report.balance_g == 0


def test_random_days_balance_and_undo(book: Book, found: Callable[..., object]) -> None:
    machine = type("Days", (RandomDays,), {"book": book, "found": staticmethod(found)})

    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=15,
            stateful_step_count=12,
            deadline=None,
            suppress_health_check=[HealthCheck.too_slow],
        ),
    )
