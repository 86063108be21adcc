"""A ticket that was handed out does not change: what the yard sets later, the paper itself, and what proves it."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa

from rickyard.book import Book, back_up, check, export_book, restore
from rickyard.book.models import Yard
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.tickets import paper_of, ticket, ticket_pdf
from rickyard.errors import BookError
from rickyard.measure import CORD_M3


@pytest.fixture
def sold(desk: Desk, stack: int, ware: int) -> int:
    command = SellAtGate(
        key=new_key(), stack_id=stack, ware_id=ware, ranked_m3=0.25 * CORD_M3, buyer="Odile Carrow"
    )
    return int(sell_at_gate(desk, command)["ticket_id"])


def set_otherwise(desk: Desk) -> None:
    with desk.book.write() as session:
        session.execute(sa.update(Yard).values(units="metric", locale="fr_CA", timezone="Europe/Paris"))


def test_what_the_yard_sets_later_does_not_change_it(desk: Desk, sold: int) -> None:
    issued = ticket_pdf(desk, sold)
    english = paper_of(desk, ticket(desk, sold), locale="en_US")

    set_otherwise(desk)

    assert ticket_pdf(desk, sold) == issued
    assert paper_of(desk, ticket(desk, sold), locale="en_US") == english
    assert (english.units, english.timezone) == ("imperial", "America/Moncton")
    # In another language it is printed from the same facts.
    assert ticket_pdf(desk, sold, locale="fr_CA") != issued


def test_a_ticket_of_before_prints_as_before(desk: Desk, sold: int) -> None:
    """Its facts say nothing of how it is printed: as the yard is today."""
    card = ticket(desk, sold)
    old = replace(card, facts={name: fact for name, fact in card.facts.items() if name != "paper"})

    assert paper_of(desk, old) == paper_of(desk, card)
    set_otherwise(desk)
    data = paper_of(desk, old)
    assert (data.units, data.locale, data.timezone) == ("metric", "fr_CA", "Europe/Paris")


def test_the_paper_is_kept_by_its_hash_and_proven(desk: Desk, sold: int, tmp_path: Path) -> None:
    issued = ticket_pdf(desk, sold)
    sha256 = ticket(desk, sold).facts["paper"]["sha256"]
    assert hashlib.sha256(issued).hexdigest() == sha256
    path = desk.book.files.path(sha256)
    assert path.read_bytes() == issued

    export_book(desk.book.url, tmp_path / "out")
    assert (tmp_path / "out" / "files" / sha256[:2] / sha256[2:]).read_bytes() == issued
    back_up(desk.book.url, tmp_path / "safe.zip")
    restore(tmp_path / "safe.zip", tmp_path / "again.sqlite")
    with Book.open(tmp_path / "again.sqlite") as again:
        assert ticket_pdf(Desk(again, desk.yard_id), sold) == issued

    path.write_bytes(issued + b" ")
    assert [problem.code for problem in check(desk.book).problems] == ["paper_damaged"]
    with pytest.raises(BookError, match="not what was kept"):
        ticket_pdf(desk, sold)
    path.unlink()
    assert [problem.code for problem in check(desk.book).problems] == ["paper_missing"]
    path.write_bytes(issued)
