"""Seals of deeds, papers and measures: which quiet edits show, what the database refuses, what may be forgotten."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import sqlalchemy as sa
from sqlalchemy import Connection
from tests.book.whole import SAMPLES, fill

from rickyard.book import Book, Kept, check, post, seals
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import triggers
from rickyard.book.models import Deed, Entry, EntryLink, Load, Payment, RowSeal, Spot, StackMeasure, Ticket
from rickyard.desk.context import Desk
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.forgetting import ForgetReason, forget_reason
from rickyard.desk.tickets import ticket, ticket_pdf
from rickyard.errors import InputError

# What somebody might do with another program, and which tables then say so.
EDITS = {
    "UPDATE deed SET person_id = NULL": ["changed deed"],
    "UPDATE deed SET recorded_at = happened_at": ["changed deed"],
    "UPDATE deed SET kind = 'pay'": ["changed deed"],
    "UPDATE deed SET answer = '{}'": ["changed deed"],
    "DELETE FROM payment WHERE id = 1": ["gone payment"],
    "UPDATE payment SET amount_minor = amount_minor / 2 WHERE id = 1": ["changed payment"],
    "UPDATE payment SET paid_on = '2020-01-01' WHERE id = 1": ["changed payment"],
    "UPDATE ticket SET price_minor = 15000, tax_minor = 2250, total_minor = 17250": ["changed ticket"],
    "UPDATE ticket SET currency = 'USD'": ["changed ticket"],
    "UPDATE ticket SET household_id = NULL": ["changed ticket"],
    "UPDATE ticket SET delivered_on = '2020-01-01'": ["changed ticket"],
    """UPDATE ticket SET facts = '{"words": "others"}'""": ["changed ticket"],
    "UPDATE orders SET outside_m3 = 2, total_minor = 20000": ["changed orders"],
    "UPDATE load SET paid_minor = 1": ["changed load"],
    "UPDATE load SET source = 'another'": ["changed load"],
    "UPDATE log_piece SET volume_m3 = 0.1": ["changed load"],
    "DELETE FROM log_piece": ["changed load"],
    "UPDATE stack_measure SET length_m = 1 WHERE id = 1": ["changed stack_measure"],
    "UPDATE reading SET value = 1": ["changed reading"],
    "UPDATE stack SET stacked_on = '2020-01-01'": ["changed stack"],
    "UPDATE spot SET kind = CASE kind WHEN 'loss' THEN 'own_use' ELSE 'loss' END WHERE kind IN ('loss', 'gate')": [
        "changed spot",
        "changed spot",
    ],
    "INSERT INTO payment (id, yard_id, ticket_id, amount_minor, method, paid_on) "
    "VALUES (77, 1, 1, 5, 'cash', '2026-03-01')": ["unsealed payment"],
    "DELETE FROM row_seal WHERE table_name = 'payment' AND row_id = 1": ["link ", "unsealed payment"],
    f"UPDATE row_seal SET hash = '{'a' * 64}' WHERE table_name = 'payment' AND row_id = 1": [
        "link ",
        "changed payment",
    ],
    "UPDATE row_seal SET salt = '' WHERE table_name = 'ticket'": ["changed ticket"],
    f"UPDATE row_link SET previous = '{'a' * 64}' WHERE number = 2": ["link "],
}


@contextmanager
def undone(book: Book) -> Iterator[Connection]:
    """A connection past all protection, whose work is undone in the end."""
    made = make_engine(book_url(book.target), writing=True, foreign_keys=False)
    with made.connect() as connection:
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        triggers.unprotect(connection)
        yield connection
        connection.rollback()
    made.dispose()


def broken(connection: Connection) -> list[str]:
    return sorted(f"{found.what} {found.table}" for found in seals.breaks(connection))


def codes(book: Book, *kept: Kept) -> list[str]:
    """What check says; that nobody named a folder for the photos of a book on a server is no matter here."""
    return [problem.code for problem in check(book, kept).problems if problem.code != "no_files_folder"]


def test_quiet_edits_show(yard) -> None:
    fill(yard)
    assert codes(yard.book) == []
    for statement, said in EDITS.items():
        with undone(yard.book) as connection:
            assert connection.exec_driver_sql(statement).rowcount > 0, statement
            assert broken(connection) == sorted(said), statement
    assert codes(yard.book) == []


def test_a_row_sealed_anew_without_a_deed_shows(yard) -> None:
    """Whoever changes a payment and seals it as the program would, without a deed; or a deed again."""
    fill(yard)
    for name, statement in (
        ("payment", "UPDATE payment SET amount_minor = 1 WHERE id = 1"),
        ("deed", "UPDATE deed SET kind = 'x' WHERE id = 1"),
    ):
        with undone(yard.book) as connection:
            connection.exec_driver_sql(statement)
            seals.seal_rows(connection, [(name, 1)])
            assert broken(connection) == [f"again {name}"]


def test_what_was_written_down_of_the_links(yard) -> None:
    fill(yard)
    ((number, head),) = check(yard.book).links.values()
    with yard.book.write() as session:
        session.add(Payment(yard_id=1, ticket_id=1, amount_minor=1, method="cash", paid_on=yard.start.date()))

    def said(number: int, hashed: str) -> list[str]:
        found = codes(yard.book, Kept(yard.yard_id, number, hashed, "link"))
        return [code for code in found if code != "paid_too_much"]

    assert said(number, head) == []
    assert said(number, "a" * 64) == ["links_rewritten"]
    assert said(number + 2, head) == ["links_shorter"]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE deed SET person_id = NULL",
        "DELETE FROM deed",
        "UPDATE ticket SET price_minor = 1, total_minor = 4501",
        "UPDATE ticket SET facts = '{}'",
        "DELETE FROM ticket",
        "UPDATE payment SET amount_minor = 1",
        "DELETE FROM payment",
        "UPDATE row_seal SET salt = 'x' WHERE salt <> ''",
        "UPDATE entry_link SET reason_salt = 'x' WHERE reason_salt <> ''",
        "UPDATE entry SET reason = ''",
        "UPDATE entry SET reason = 'another'",
    ],
)
def test_the_database_refuses(yard, statement: str) -> None:
    fill(yard)
    with pytest.raises(sa.exc.IntegrityError, match="append-only"), yard.book.write() as session:
        session.execute(sa.text(statement))


def test_a_trigger_that_does_nothing_is_none(yard) -> None:
    made = make_engine(book_url(yard.book.target), writing=True)
    with made.begin() as connection:
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("DROP TRIGGER payment_no_delete")
            connection.exec_driver_sql(
                "CREATE TRIGGER payment_no_delete BEFORE DELETE ON payment BEGIN SELECT 1; END"
            )
        else:
            connection.exec_driver_sql(
                "CREATE OR REPLACE FUNCTION refuse_payment_no_delete() RETURNS trigger LANGUAGE plpgsql "
                "AS $$ BEGIN RETURN OLD; END $$"
            )
        assert triggers.missing(connection) == ["payment_no_delete"]
    made.dispose()
    assert [problem.code for problem in check(yard.book).problems] == ["unprotected"]


def test_a_reason_is_taken_out_and_the_chain_holds(yard) -> None:
    with yard.book.write() as session:
        when = {"happened_at": yard.start, "recorded_at": yard.start}
        for reason in ("Delphine took it", "", "somebody else"):
            post(session, 1, kind="opening", moves=yard.came_in(5), reason=reason, **when)
    before = check(yard.book).chain

    desk = Desk(yard.book, yard.yard_id)
    answer = forget_reason(desk, ForgetReason(key="k" * 8, entry=1))

    report = check(yard.book, [Kept(1, *before[1])])
    assert (answer, report.problems, report.chain) == ({"entry": 1}, (), before)
    with yard.book.read() as session:
        assert session.scalars(sa.select(Entry.reason).order_by(Entry.number)).all() == [
            "",
            "",
            "somebody else",
        ]
        assert session.scalar(sa.select(EntryLink.reason_salt).where(EntryLink.number == 1)) == ""
    for number in (1, 2, 9):
        with pytest.raises(InputError, match="has a reason"):
            forget_reason(desk, ForgetReason(key=f"k{number}" * 8, entry=number))


def test_a_reason_taken_out_without_a_deed_shows(yard) -> None:
    with yard.book.write() as session:
        when = {"happened_at": yard.start, "recorded_at": yard.start}
        post(session, 1, kind="opening", moves=yard.came_in(5), reason="theft", **when)
    with yard.book.write() as session:
        session.execute(sa.update(EntryLink).values(reason_salt=""))
        session.execute(sa.update(Entry).values(reason=""))

    assert [problem.code for problem in check(yard.book).problems] == ["chain_broken"]


def test_a_person_can_be_forgotten_and_the_links_hold(yard) -> None:
    """The salts go, a deed changes the text and seals it anew; money and what was written down hold as before."""
    fill(yard, words="Delphine Rousselle")
    ((number, head),) = check(yard.book).links.values()

    with yard.book.write() as session:
        connection = session.connection()
        seals.forget_words(connection, "ticket", 1)
        seals.forget_words(connection, "load", 1)
        session.get_one(Ticket, 1).facts = {"words": "", "nothing": None}
        session.get_one(Load, 1).source = ""
        when = {"happened_at": yard.start, "recorded_at": yard.start}
        session.add(Deed(yard_id=1, client_key="f" * 8, kind="forget", body_hash="0" * 64, answer={}, **when))

    assert codes(yard.book, Kept(1, number, head, "link")) == []
    with yard.book.read() as session:
        of_ticket = session.execute(
            sa.select(RowSeal.salt, RowSeal.words_hash)
            .where(RowSeal.table_name == "ticket")
            .order_by(RowSeal.link_id)
        ).all()
        assert [salt != "" for salt, _ in of_ticket] == [False, True]
    with pytest.raises(sa.exc.IntegrityError, match="append-only"), yard.book.write() as session:
        session.get_one(Ticket, 1).facts = {"words": "somebody else"}


def test_two_yards_have_two_chains(yard, found) -> None:
    other = found(yard.book, "Another yard")
    with yard.book.write() as session:
        session.add_all([Spot(yard_id=1, kind="load"), Spot(yard_id=other.yard_id, kind="load")])

    assert {number: found[0] for number, found in check(yard.book).links.items()} == {1: 2, other.yard_id: 2}
    assert check(yard.book).problems == ()


def test_an_upgrade_seals_what_is_there(tmp_path) -> None:
    target = tmp_path / "old.sqlite"
    target.write_bytes(gzip.decompress((SAMPLES / "0014.sqlite.gz").read_bytes()))
    Book.upgrade(target)
    with Book.open(target) as book:
        book.target = str(target)
        assert {number for number, _ in check(book).links.values()} == {1}
        with undone(book) as connection:
            connection.exec_driver_sql("UPDATE payment SET amount_minor = 1")
            assert broken(connection) == ["changed payment"]


def test_a_ticket_is_issued_with_a_folder_for_its_paper_and_without_one(yard) -> None:
    with yard.book.write() as session:
        when = {"happened_at": yard.start, "recorded_at": yard.start}
        post(session, 1, kind="opening", moves=yard.came_in(3_600_000), **when)
        measure = {
            "piled": "ranked",
            "length_m": 6.0,
            "heights_m": [1.5],
            "outside_m3": 9.0,
            "mass_g": 3_600_000,
        }
        session.add(StackMeasure(yard_id=1, stack_id=yard.stack_id, happened_at=yard.start, **measure))
    desk = Desk(yard.book, yard.yard_id)

    command = SellAtGate(key="k" * 8, stack_id=yard.stack_id, ware_id=yard.ware_id, ranked_m3=1.0)
    ticket_id = sell_at_gate(desk, command)["ticket_id"]

    paper = ticket(desk, ticket_id).facts["paper"]
    assert ("sha256" in paper) == yard.book.has_files
    assert paper.items() >= {"locale": "en_CA", "units": "imperial", "timezone": "America/Moncton"}.items()
    assert ticket_pdf(desk, ticket_id).startswith(b"%PDF")
    assert check(yard.book).problems == ()
