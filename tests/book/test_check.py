"""`check` finds what it says it finds: each kind of fault is put into a sound book, and only it is reported."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable
from datetime import timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session
from tests.book.whole import SAMPLES

from rickyard.book import (
    Book,
    Kept,
    Move,
    Problem,
    back_up,
    chain,
    check,
    export_book,
    kept_in,
    next_number,
    post,
    restore,
    reverse,
    seals,
)
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import triggers
from rickyard.book.models import (
    CutSheet,
    CutSheetLog,
    CutTick,
    Deed,
    Load,
    Offer,
    Order,
    Payment,
    Promise,
    Reading,
    SplittingSheet,
    StackMeasure,
    Ticket,
)
from rickyard.errors import BookError
from rickyard.text import Text

ACER = "acer_saccharum"


@pytest.fixture
def day(yard):
    """A small sound day: a load, its stacking and measuring, a promised order, a delivery, a gate sale, an undo."""
    start, acer = yard.start, ACER
    when = {"happened_at": start, "recorded_at": start}
    with yard.book.write() as session:
        session.add(
            Load(
                yard_id=yard.yard_id,
                number=next_number(session, yard.yard_id, "load"),
                spot_id=yard.load,
                lot_id=yard.lot,
                source="A farm",
                arrived_on=start.date(),
                detail="rough",
                mass_sd_share=0.2,
            )
        )
        post(
            session,
            yard.yard_id,
            kind="take_in",
            moves=[
                Move(yard.outside, acer, "log", yard.lot, -4_000_000),
                Move(yard.load, acer, "log", yard.lot, 4_000_000),
            ],
            **when,
        )
        post(
            session,
            yard.yard_id,
            kind="stack",
            moves=[
                Move(yard.load, acer, "log", yard.lot, -4_000_000),
                Move(yard.stack, acer, "split", yard.lot, 3_600_000),
                Move(yard.loss, acer, "kerf", yard.lot, 400_000),
            ],
            **when,
        )
        session.add(
            StackMeasure(
                yard_id=yard.yard_id,
                stack_id=yard.stack_id,
                happened_at=start,
                piled="ranked",
                length_m=6.0,
                heights_m=[1.5],
                rows=1,
                outside_m3=9.0,
                mass_g=3_600_000,
            )
        )
        mistake = post(session, yard.yard_id, kind="opening", moves=yard.came_in(50), **when)
        reverse(session, mistake, reason="not mine", **when)
        orders = [
            Order(
                yard_id=yard.yard_id,
                number=next_number(session, yard.yard_id, "order"),
                household_id=yard.household_id,
                ware_id=yard.ware_id,
                typed="",
                outside_m3=volume,
                asked_on=start.date(),
                wanted_by=start.date(),
                state=state,
                total_minor=30000,
            )
            for volume, state in ((3.0, "delivered"), (5.0, "promised"))
        ]
        session.add_all(orders)
        session.flush()
        session.add(
            Promise(
                yard_id=yard.yard_id,
                order_id=orders[1].id,
                stack_id=yard.stack_id,
                outside_m3=5.0,
                odds=0.9,
                made_at=start,
                state="open",
            )
        )
        for order, to, volume in ((orders[0], yard.home, 3.0), (None, yard.gate, 0.5)):
            grams = round(volume * 400_000)
            entry = post(
                session,
                yard.yard_id,
                kind="deliver" if order else "gate_sale",
                moves=[
                    Move(yard.stack, acer, "split", yard.lot, -grams),
                    Move(to, acer, "split", yard.lot, grams, quantity=volume, unit="stacked_m3"),
                ],
                **when,
            )
            session.add(
                Ticket(
                    yard_id=yard.yard_id,
                    number=next_number(session, yard.yard_id, "ticket"),
                    order_id=order.id if order else None,
                    household_id=yard.household_id if order else None,
                    entry_id=entry.id,
                    issued_at=start,
                    delivered_on=start.date(),
                    outside_m3=volume,
                    price_minor=30000,
                    tax_minor=4500,
                    total_minor=34500,
                    currency="CAD",
                    facts={
                        "tax_rate": 0.15,
                        "order_number": order.number if order else None,
                        "lines": [{"ranked_m3": volume, "shares": [[acer, 1.0]]}],
                        "harvests": [
                            {"country": "CA", "subdivision": "NB", "county": "York", "certificate": ""}
                        ],
                    },
                )
            )
        session.add(
            Reading(
                yard_id=yard.yard_id,
                stack_id=yard.stack_id,
                happened_on=start.date(),
                kind="meter",
                value=31.0,
                typed={},
            )
        )
        papers(session, yard)
    return yard


def papers(session: Session, yard) -> None:
    """A payment, an open offer, a cut sheet with a report, a splitting sheet that waits."""
    own = {"yard_id": yard.yard_id}
    deed = Deed(
        client_key="k" * 8,
        kind="x",
        body_hash="0" * 64,
        answer={},
        happened_at=yard.start,
        recorded_at=yard.start,
        **own,
    )
    session.add(deed)
    session.flush()
    offer = Offer(
        deed_id=deed.id,
        number=next_number(session, yard.yard_id, "offer"),
        source="A farm",
        offered_on=yard.start.date(),
        kind="rough",
        quantity=5.0,
        quantity_kind="solid_m3",
        shares=[[ACER, 1.0]],
        logs=[],
        trees=[],
        harvest={},
        **own,
    )
    sheet = CutSheet(
        deed_id=deed.id,
        load_id=1,
        number=next_number(session, yard.yard_id, "cut_sheet"),
        wares=[{"name": "Short", "length_m": 0.4}],
        kerf_m=0.01,
        trim_m=0.0,
        **own,
    )
    splitting = SplittingSheet(
        deed_id=deed.id,
        load_id=1,
        number=next_number(session, yard.yard_id, "splitting_sheet"),
        species_id=ACER,
        piece_length_m=0.4,
        stacked_on=yard.start.date(),
        wanted_by=yard.start.date(),
        odds=0.9,
        target_mc_wet=0.2,
        cover="top",
        exposure="normal",
        method="by_hand",
        rounds=[{"diameter_m": 0.3, "rounds": 4, "solid_m3": 0.1}],
        patterns=[],
        **own,
    )
    session.add_all(
        [
            offer,
            sheet,
            splitting,
            Payment(ticket_id=1, amount_minor=34500, method="cash", paid_on=yard.start.date(), **own),
        ]
    )
    session.flush()
    log = CutSheetLog(
        sheet_id=sheet.id,
        number=1,
        label="1",
        length_m=1.0,
        large_d_m=0.3,
        small_d_m=0.2,
        defects=[],
        cuts=[[0.0, 0.4, 0, 0.02], [0.41, 0.81, 0, 0.02]],
        **own,
    )
    session.add(log)
    session.flush()
    session.add(CutTick(log_id=log.id, deed_id=deed.id, kind="cut", from_m=0.0, to_m=0.4, **own))


def spoil(book: Book, *statements: str) -> None:
    """Writes to the tables as no part of the program would: keys unchecked, the journal unprotected meanwhile."""
    made = make_engine(book_url(book.target), writing=True, foreign_keys=False)
    with made.begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        triggers.unprotect(connection)
        whole = (
            r"CAST(REPLACE(CAST(facts AS VARCHAR), \1) AS JSON)"
            if connection.dialect.name == "postgresql"
            else r"REPLACE(facts, \1)"
        )
        for statement in statements:
            connection.exec_driver_sql(re.sub(r"SWAPPED\((.*?)\)", whole, statement))
        # As somebody would who makes the seals anew as well: each of these tests is of another part of the check.
        connection.exec_driver_sql("DELETE FROM row_seal")
        connection.exec_driver_sql("DELETE FROM row_link")
        seals.seal_present(connection)
        triggers.unseal(connection)
        triggers.protect(connection)
    made.dispose()


def codes(book: Book) -> list[str]:
    return [problem.code for problem in check(book).problems]


def test_an_empty_book_is_sound(book: Book) -> None:
    report = check(book)

    assert (report.ok, report.problems, report.entries, report.balance_g) == (True, (), 0, 0)


def test_a_sound_day_is_sound(day) -> None:
    report = check(day.book)

    assert report.problems == ()
    assert (report.ok, report.entries, report.balance_g) == (True, 6, 0)


FAULTS = {
    "a mass changed": (
        "UPDATE posting SET mass_g = mass_g + 1 WHERE id = 2",
        ["species_unbalanced", "entry_unbalanced", "chain_broken"],
    ),
    # What came as wood of one place of harvest left as wood of another.
    "a lot changed": (
        "UPDATE posting SET lot_id = 2 WHERE id = 2",
        ["entry_unbalanced", "entry_unbalanced", "chain_broken", "negative_stock"],
    ),
    "an entry gone": (
        "DELETE FROM posting WHERE entry_id = 4; DELETE FROM entry WHERE id = 4",
        ["orphan", "chain_broken", "chain_broken", "number_gap"],
    ),
    "postings gone": (
        "DELETE FROM posting WHERE entry_id = 3",
        ["entry_empty", "reversal_differs", "chain_broken"],
    ),
    "a reversal that does less": (
        "UPDATE posting SET mass_g = sign(mass_g) * 49 WHERE entry_id = 4",
        ["reversal_differs", "chain_broken"],
    ),
    # Nothing of this shows in the sums.
    "a reason put in": ("UPDATE entry SET reason = 'as told' WHERE id = 2", ["chain_broken"]),
    "another kind": (
        "UPDATE entry SET kind = 'opening' WHERE id = 2",
        ["chain_broken"],
    ),
    "another harvest place": (
        "UPDATE lot SET county = 'Queens' WHERE id = 1",
        ["chain_broken"] * 6 + ["ticket_facts"] * 2,
    ),
    "a seal gone": ("DELETE FROM entry_link WHERE number = 6", ["chain_broken"]),
    "a seal made anew": (
        "UPDATE entry_link SET hash = reason_salt || '{}' WHERE number = 6".format("a" * 64),
        ["chain_broken"],
    ),
    "a lost household": ("UPDATE orders SET household_id = 77 WHERE id = 2", ["orphan"]),
    "a load number gone": ("UPDATE serial SET next = 3 WHERE kind = 'load'", ["number_gap"]),
    "an order renumbered": ("UPDATE orders SET number = 5 WHERE id = 2", ["number_gap"]),
    "a ticket renumbered": ("UPDATE ticket SET number = 3 WHERE id = 2", ["number_gap"]),
    "a ticket that says more": (
        "UPDATE ticket SET outside_m3 = 3.1 WHERE id = 1",
        ["ticket_differs", "ticket_facts"],
    ),
    "a ticket of another entry": ("UPDATE ticket SET entry_id = 1 WHERE id = 2", ["ticket_differs"]),
    "a ticket for somebody else": ("UPDATE ticket SET household_id = 1 WHERE id = 2", ["ticket_differs"]),
    "a delivery without a ticket": (
        "UPDATE ticket SET order_id = NULL WHERE id = 1",
        ["order_without_ticket", "ticket_of_another", "ticket_facts"],
    ),
    "a promise that was forgotten": (
        "UPDATE orders SET state = 'cancelled' WHERE id = 2",
        ["promise_of_closed_order"],
    ),
    # 9 m³ were measured, 3.5 m³ left: 5.5 m³ stand.
    "a promise of what is not there": (
        "UPDATE promise SET outside_m3 = 5.6 WHERE id = 1",
        ["promised_too_much"],
    ),
    "a reading before the stack": (
        "UPDATE stack SET stacked_on = '2026-03-02' WHERE id = 1",
        ["reading_before_stacking"],
    ),
    "a tax put down": (
        "UPDATE ticket SET tax_minor = 4400, total_minor = 34400 WHERE id = 2",
        ["ticket_money"],
    ),
    "a price put down": (
        "UPDATE ticket SET price_minor = 20000, total_minor = 24500 WHERE id = 2",
        ["ticket_money"],
    ),
    "a paper that says more": (
        """UPDATE ticket SET facts = SWAPPED('"ranked_m3": 3.0', '"ranked_m3": 3.2') """
        "WHERE id = 1",
        ["ticket_facts"],
    ),
    "a paper that says other wood": (
        "UPDATE ticket SET facts = SWAPPED('acer_saccharum', 'fagus_grandifolia') WHERE id = 1",
        ["ticket_facts"],
    ),
    "a paper that says another place": (
        "UPDATE ticket SET facts = SWAPPED('York', 'Kent') WHERE id = 1",
        ["ticket_facts"],
    ),
    "a paper of another order": (
        """UPDATE ticket SET facts = SWAPPED('"order_number": 1', '"order_number": 2') """
        "WHERE id = 1",
        ["ticket_facts"],
    ),
    "an order for somebody else": (
        "INSERT INTO spot (id, yard_id, kind) VALUES (99, 1, 'household'); "
        "INSERT INTO household (id, yard_id, spot_id, name, address, phone, note) VALUES (9, 1, 99, 'N', '', '', ''); "
        "UPDATE orders SET household_id = 9 WHERE id = 1",
        ["ticket_of_another"],
    ),
    "paid twice": (
        "INSERT INTO payment (id, yard_id, ticket_id, amount_minor, method, paid_on) "
        "VALUES (9, 1, 1, 100, 'cash', '2026-03-02')",
        ["paid_too_much"],
    ),
    "an offer refused by nobody": ("UPDATE offer SET state = 'refused' WHERE id = 1", ["offer_half_settled"]),
    "an open offer settled": ("UPDATE offer SET settled_deed_id = 1 WHERE id = 1", ["offer_half_settled"]),
    "an offer of nothing": ("UPDATE offer SET shares = '[]' WHERE id = 1", ["offer_empty"]),
    "an offer renumbered": ("UPDATE offer SET number = 4 WHERE id = 1", ["number_gap"]),
    "a cut sheet gone": (
        "DELETE FROM cut_tick; DELETE FROM cut_sheet_log; DELETE FROM cut_sheet",
        ["number_gap"],
    ),
    "a log of a sheet renumbered": ("UPDATE cut_sheet_log SET number = 2 WHERE id = 1", ["sheet_logs"]),
    "a log that was not measured": ("UPDATE cut_sheet_log SET log_number = 7 WHERE id = 1", ["sheet_logs"]),
    "cuts beyond the log": ("UPDATE cut_sheet_log SET length_m = 0.7 WHERE id = 1", ["sheet_cuts"]),
    "cuts through each other": (
        "UPDATE cut_sheet_log SET cuts = '[[0.0,0.4,0,0.02],[0.3,0.7,0,0.02]]' WHERE id = 1",
        ["sheet_cuts"],
    ),
    "cuts for no ware": ("UPDATE cut_sheet SET wares = '[]' WHERE id = 1", ["sheet_cuts"]),
    "a cut shorter than its ware": (
        "UPDATE cut_sheet_log SET cuts = '[[0.0,0.36,0,0.02]]' WHERE id = 1",
        ["sheet_cuts"],
    ),
    "a report beyond the log": ("UPDATE cut_tick SET to_m = 1.4 WHERE id = 1", ["sheet_reports"]),
    "patterns without a limit": (
        """UPDATE splitting_sheet SET patterns = '[{"problem": "x"}]' WHERE id = 1""",
        ["sheet_patterns"],
    ),
    "a limit without patterns": (
        "UPDATE splitting_sheet SET state = 'found', limit_m = 0.1 WHERE id = 1",
        ["sheet_patterns"],
    ),
    "a splitting sheet renumbered": ("UPDATE splitting_sheet SET number = 2 WHERE id = 1", ["number_gap"]),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_found(day, fault: str) -> None:
    statements, wanted = FAULTS[fault]

    spoil(day.book, *statements.split("; "))

    report = check(day.book)
    assert [problem.code for problem in report.problems] == wanted
    assert not report.ok
    assert all(isinstance(problem, Problem) and isinstance(problem, Text) for problem in report.problems)
    assert all("{" not in str(problem) for problem in report.problems)


def test_money_is_said_with_its_currency(day) -> None:
    spoil(
        day.book,
        "INSERT INTO payment (id, yard_id, ticket_id, amount_minor, method, paid_on) "
        "VALUES (9, 1, 1, 100, 'cash', '2026-03-02')",
        "UPDATE ticket SET tax_minor = 4400, total_minor = 34400 WHERE id = 2",
    )

    said = " ".join(str(problem) for problem in check(day.book).problems)

    assert "says 44.00 CAD of tax" in said
    assert "of its price of 300.00 CAD is something else" in said
    assert re.search(r"On ticket 1 of \d+\.\d\d CAD stand payments of \d+\.\d\d CAD\.", said)


def test_the_balance_is_given_to_the_gram(day) -> None:
    spoil(day.book, "UPDATE posting SET mass_g = mass_g + 17 WHERE id = 2")

    assert check(day.book).balance_g == 17


def test_another_yards_rows_are_found(day, found: Callable[..., object]) -> None:
    other = found(day.book, "Another yard")
    spoil(day.book, f"UPDATE reading SET stack_id = {other.stack_id} WHERE id = 1")

    assert codes(day.book) == ["other_yard"]


@pytest.mark.parametrize(
    ("had", "took", "found_out"),
    [
        (0, 1000, False),  # one kilogram is allowed
        (0, 1001, True),
        (1_000_000, 1_010_000, False),  # so is one percent of what came
        (1_000_000, 1_011_000, True),
    ],
)
def test_negative_stock_beyond_the_tolerance(yard, had: int, took: int, found_out: bool) -> None:
    with yard.book.write() as session:
        when = {"happened_at": yard.start, "recorded_at": yard.start + timedelta(hours=1)}
        if had:
            post(session, yard.yard_id, kind="opening", moves=yard.came_in(had), **when)
        post(
            session,
            yard.yard_id,
            kind="empty",
            moves=[
                Move(yard.stack, ACER, "split", yard.lot, -took),
                Move(yard.loss, ACER, "split", yard.lot, took),
            ],
            **when,
        )

    report = check(yard.book)

    assert [problem.code for problem in report.problems] == ["negative_stock"] * found_out
    assert all("stack A1" in str(problem) for problem in report.problems)


@pytest.mark.parametrize(
    ("came", "undone", "found_out"),
    [
        (timedelta(hours=2), 0, False),  # the same day: noon stands for an hour that nobody said
        (timedelta(days=2), 0, True),
        (timedelta(days=2), 1, False),  # taken back: it never left
        (timedelta(days=2), 2, True),  # and that taken back: it left all the same
    ],
)
def test_wood_that_left_before_it_came(yard, came: timedelta, undone: int, found_out: bool) -> None:
    """In the end all is right; whatever came last was told first."""
    told = yard.start + timedelta(days=3)
    gone = [
        Move(yard.stack, ACER, "split", yard.lot, -5000),
        Move(yard.loss, ACER, "split", yard.lot, 5000),
    ]
    with yard.book.write() as session:
        when = {"happened_at": yard.start + came, "recorded_at": told}
        post(session, yard.yard_id, kind="opening", moves=yard.came_in(9000), **when)
        when["happened_at"] = yard.start
        entry = post(session, yard.yard_id, kind="lost", moves=gone, **when)
        for _ in range(undone):
            entry = reverse(session, entry, reason="a slip", **when)

    report = check(yard.book)

    assert [problem.code for problem in report.problems] == ["taken_before_it_was_there"] * found_out
    assert all("5.0 kg more" in str(problem) and "stack A1" in str(problem) for problem in report.problems)
    assert report.faults == ()


def test_a_fraction_in_a_column_of_money_is_found_on_sqlite(day) -> None:
    """PostgreSQL refuses it by itself."""
    statement = "UPDATE orders SET total_minor = 10.5 WHERE id = 1"
    if not day.book.url.endswith(".sqlite"):
        spoil(day.book, statement)
        with day.book.read() as session:
            assert session.scalar(sa.select(Order.total_minor).where(Order.id == 1)) in (10, 11)
        return

    spoil(day.book, statement)

    assert codes(day.book) == ["not_whole"]


def test_a_missing_protection_is_found(day) -> None:
    made = make_engine(book_url(day.book.target), writing=True)
    with made.begin() as connection:
        triggers.unprotect(connection, ("entry",)) if connection.dialect.name == "sqlite" else (
            connection.exec_driver_sql("ALTER TABLE entry DISABLE TRIGGER USER")
        )
    made.dispose()

    assert set(codes(day.book)) == {"unprotected"}


class TestHeldAgainst:
    """A book and what was kept of it elsewhere: a hash on paper, a backup, an export."""

    def test_what_was_written_down(self, day) -> None:
        ((number, head),) = check(day.book).chain.values()
        when = {"happened_at": day.start, "recorded_at": day.start}
        with day.book.write() as session:
            post(session, day.yard_id, kind="opening", moves=day.came_in(5), **when)

        def said(*kept: Kept) -> list[str]:
            return [problem.code for problem in check(day.book, kept).problems]

        assert said(Kept(day.yard_id, number, head)) == []
        assert said(Kept(day.yard_id, number - 1, head)) == ["journal_rewritten"]
        assert said(Kept(day.yard_id, number + 2, head)) == ["journal_shorter"]
        assert said(Kept(day.yard_id + 7, number, head)) == ["journal_shorter"]

    def test_a_journal_that_was_sealed_anew(self, day, tmp_path) -> None:
        """Whoever makes the whole chain anew is not found by the chain itself, but by a backup."""
        copies = [tmp_path / "safe.zip", tmp_path / "out"]
        back_up(day.book.target, copies[0])
        export_book(day.book.target, copies[1])
        kept = [head for copy in copies for head in kept_in(copy)]
        # Of each copy the journal's last entry, and the last link over deeds and papers.
        assert len(kept) == 4
        assert check(day.book, kept).problems == ()

        made = make_engine(book_url(day.book.target), writing=True, foreign_keys=False)
        with made.begin() as connection:
            if connection.dialect.name == "postgresql":
                connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
            triggers.unprotect(connection)
            connection.exec_driver_sql("UPDATE posting SET mass_g = mass_g * 2 WHERE entry_id = 1")
            connection.exec_driver_sql("DELETE FROM entry_link")
            chain.seal_all(connection)
            triggers.unseal(connection)
            triggers.protect(connection)
        made.dispose()

        assert codes(day.book) == []
        assert [problem.code for problem in check(day.book, kept).problems] == ["journal_rewritten"] * 2

    def test_an_older_book(self, day, tmp_path) -> None:
        back_up(day.book.target, tmp_path / "old.zip")
        when = {"happened_at": day.start, "recorded_at": day.start}
        with day.book.write() as session:
            post(session, day.yard_id, kind="opening", moves=day.came_in(5), **when)
        back_up(day.book.target, tmp_path / "new.zip")
        restore(tmp_path / "old.zip", tmp_path / "brought.sqlite")

        with Book.open(tmp_path / "brought.sqlite") as brought:
            kept = kept_in(tmp_path / "new.zip")
            assert [problem.code for problem in check(brought, kept).problems] == ["journal_shorter"]
            assert check(brought, kept_in(tmp_path / "old.zip")).problems == ()

    def test_a_copy_of_a_version_without_a_chain(self, tmp_path) -> None:
        old = tmp_path / "book.sqlite"
        old.write_bytes(gzip.decompress((SAMPLES / "0006.sqlite.gz").read_bytes()))
        back_up(old, tmp_path / "old.zip", anyway=True)

        with pytest.raises(BookError) as caught:
            kept_in(tmp_path / "old.zip")
        assert caught.value.code == "no_chain"


def test_check_writes_nothing(day) -> None:
    def everything() -> list[tuple[object, ...]]:
        with day.book.read() as session:
            return [
                tuple(row)
                for name in ("entry", "posting", "ticket", "serial", "deed")
                for row in session.execute(sa.text(f"SELECT * FROM {name}"))
            ]

    before = everything()
    check(day.book)

    assert everything() == before
