"""`check` finds what it says it finds: each kind of fault is put into a sound book, and only it is reported."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
import sqlalchemy as sa

from rickyard.book import Book, Move, Problem, check, next_number, post, reverse
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import triggers
from rickyard.book.models import Load, Order, Promise, Reading, StackMeasure, Ticket
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
                    facts={},
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
    return yard


def spoil(book: Book, *statements: str) -> None:
    """Writes to the tables as no part of the program would: keys unchecked, the journal unprotected meanwhile."""
    made = make_engine(book_url(book.target), writing=True, foreign_keys=False)
    with made.begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        triggers.unprotect(connection)
        for statement in statements:
            connection.exec_driver_sql(statement)
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
        ["chain_broken"] * 6,
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
    "a ticket that says more": ("UPDATE ticket SET outside_m3 = 3.1 WHERE id = 1", ["ticket_differs"]),
    "a ticket of another entry": ("UPDATE ticket SET entry_id = 1 WHERE id = 2", ["ticket_differs"]),
    "a ticket for somebody else": ("UPDATE ticket SET household_id = 1 WHERE id = 2", ["ticket_differs"]),
    "a delivery without a ticket": (
        "UPDATE ticket SET order_id = NULL WHERE id = 1",
        ["order_without_ticket"],
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
