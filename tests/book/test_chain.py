"""The chain over the journal: what it covers, and what the database refuses."""

from __future__ import annotations

import pytest
import sqlalchemy as sa

from rickyard.book import Book, check, post
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import triggers
from rickyard.book.models import Deed, Entry, EntryLink, Posting


def posted(yard, grams: int, reason: str = "") -> int:
    with yard.book.write(yard.yard_id) as session:
        when = {"happened_at": yard.start, "recorded_at": yard.start}
        return post(
            session, yard.yard_id, kind="opening", moves=yard.came_in(grams), reason=reason, **when
        ).id


def links(book: Book) -> list[EntryLink]:
    with book.read() as session:
        return list(session.scalars(sa.select(EntryLink).order_by(EntryLink.yard_id, EntryLink.number)))


def test_each_hangs_on_the_one_before_yard_by_yard(yard, found) -> None:
    other = found(yard.book, "Another yard")
    for _ in range(2):
        posted(yard, 5)
        posted(other, 5)

    chain = links(yard.book)

    assert [(link.yard_id, link.number) for link in chain] == [(1, 1), (1, 2), (2, 1), (2, 2)]
    assert [link.previous for link in chain] == ["", chain[0].hash, "", chain[2].hash]
    assert len({link.hash for link in chain}) == 4
    report = check(yard.book)
    assert report.problems == ()
    assert report.chain == {1: (2, chain[1].hash), 2: (2, chain[3].hash)}


def test_a_posting_after_the_seal_is_refused(yard) -> None:
    entry_id = posted(yard, 5)
    row = {"yard_id": yard.yard_id, "species_id": "acer_saccharum", "form": "split", "lot_id": yard.lot}
    with pytest.raises(sa.exc.IntegrityError, match="sealed"), yard.book.write() as session:
        session.add(Posting(entry_id=entry_id, spot_id=yard.stack, mass_g=5, **row))


def test_the_database_seals_only_what_balances_and_in_its_turn(yard) -> None:
    """By whatever program it was written."""
    posted(yard, 5)
    row = {"yard_id": yard.yard_id, "species_id": "acer_saccharum", "form": "split", "lot_id": yard.lot}
    when = {"happened_at": yard.start, "recorded_at": yard.start}

    def seal(number: int, previous: str, grams: int) -> None:
        with yard.book.write() as session:
            entry = Entry(yard_id=yard.yard_id, number=2, kind="opening", **when)
            entry.postings = [
                Posting(spot_id=spot, mass_g=mass, **row)
                for spot, mass in ((yard.stack, 5), (yard.outside, grams))
            ]
            session.add(entry)
            session.flush()
            link = {"entry_id": entry.id, "yard_id": yard.yard_id, "number": number}
            session.add(EntryLink(previous=previous, hash="a" * 64, reason_salt="", reason_hash="", **link))

    first = links(yard.book)[0].hash
    with pytest.raises(sa.exc.IntegrityError, match="balance"):
        seal(2, first, -4)
    for number, previous in ((2, "b" * 64), (2, ""), (3, first), (1, "")):
        with pytest.raises(sa.exc.IntegrityError):
            seal(number, previous, -5)
    seal(2, first, -5)


def test_no_person_is_in_it_and_a_changed_reason_shows(yard) -> None:
    """Another text shows, and so does another salt. `test_seals` takes a reason out as it ought to be."""
    entry_id = posted(yard, 5, reason="Delphine took it")
    made = make_engine(book_url(yard.book.target), writing=True)
    with made.begin() as connection:
        triggers.unprotect(connection)
        connection.execute(sa.update(Entry).where(Entry.id == entry_id).values(reason="somebody else"))
    assert [problem.code for problem in check(yard.book).problems if problem.code != "unprotected"] == [
        "chain_broken"
    ]
    with made.begin() as connection:
        connection.execute(sa.update(Entry).where(Entry.id == entry_id).values(reason=""))
        connection.execute(sa.text("UPDATE entry_link SET reason_salt = 'x' WHERE number = 1"))
    assert "chain_broken" in [problem.code for problem in check(yard.book).problems]
    made.dispose()


def test_who_did_it_may_be_forgotten(yard) -> None:
    with yard.book.write() as session:
        deed = Deed(
            yard_id=yard.yard_id,
            client_key="k" * 8,
            kind="x",
            body_hash="0" * 64,
            answer={},
            person_id=None,
            happened_at=yard.start,
            recorded_at=yard.start,
        )
        session.add(deed)
        session.flush()
        when = {"happened_at": yard.start, "recorded_at": yard.start}
        post(session, yard.yard_id, kind="opening", moves=yard.came_in(3), deed_id=deed.id, **when)
        deed.answer = {"name": "taken out"}

    assert check(yard.book).problems == ()
