"""Who bought is forgotten: no name is left in the book, and wood, money and seals hold."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from tests.book.test_undoing import TODAY, Yard

from rickyard.book import Book, check
from rickyard.book.models import Ticket
from rickyard.cli.app import run
from rickyard.desk.audit import deeds_done
from rickyard.desk.context import new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.forgetting import (
    ForgetBuyer,
    ForgetHousehold,
    ForgetReason,
    forget_buyer,
    forget_household,
    forget_reason,
    forgettable_buyer,
    forgettable_household,
)
from rickyard.desk.household_links import MakeLink, household_of_link, links_of, make_link
from rickyard.desk.households import SetHousehold, household, households, set_household
from rickyard.desk.moving import ReturnWood, return_wood
from rickyard.desk.orders import PlaceOrder, place_order
from rickyard.desk.tickets import Pay, pay, ticket, ticket_pdf, tickets
from rickyard.desk.undoing import UndoMoving, undo_moving
from rickyard.errors import ClashError, InputError, RefusedError

NAME, ADDRESS, PHONE, NOTE = "Delphine Fernhollow", "12 Heron Lane", "506-555-0142", "the blue gate"
WORDS = (NAME, ADDRESS, PHONE, NOTE, "leave it at the barn")
WHY = "asked to be forgotten"


class BuyersYard(Yard):
    def __init__(self, book: Book) -> None:
        super().__init__(book)
        facts = {"name": NAME, "address": ADDRESS, "phone": PHONE, "note": NOTE}
        set_household(self.desk, SetHousehold(key=new_key(), household_id=self.home, **facts))

    def noted(self, stack: int) -> int:
        """An order with words of theirs, delivered."""
        command = PlaceOrder(
            key=new_key(),
            household_id=self.home,
            ware_id=self.ware,
            ranked_m3=1.0,
            wanted_by=TODAY,
            portions=((stack, 1.0),),
            note="leave it at the barn",
        )
        return self.delivered(int(place_order(self.desk, command)["order_id"]))

    def paid(self, ticket_id: int) -> None:
        owed = ticket(self.desk, ticket_id).owed_minor
        pay(self.desk, Pay(key=new_key(), ticket_id=ticket_id, amount_minor=owed, paid_on=TODAY))

    def sold(self, stack: int, **facts) -> int:
        command = SellAtGate(
            key=new_key(), stack_id=stack, ware_id=self.ware, ranked_m3=1.0, buyer="Odile Carrow", **facts
        )
        return int(sell_at_gate(self.desk, command)["ticket_id"])

    def forget(self):
        return forget_household(self.desk, ForgetHousehold(key=new_key(), household_id=self.home, reason=WHY))

    def named(self, *words: str) -> list[str]:
        """Tables in which one of these words stands, and files that hold it."""
        found = []
        with self.desk.book.read() as session:
            connection = session.connection()
            for table in sa.inspect(connection).get_table_names():
                for row in connection.exec_driver_sql(f'SELECT * FROM "{table}"'):
                    said = json.dumps(list(row), default=str, ensure_ascii=False)
                    if any(word in said for word in words):
                        found.append(table)
        return sorted(set(found))


@pytest.fixture
def yard(book: Book) -> Iterator[BuyersYard]:
    """The book is proved sound when the test ends."""
    yield BuyersYard(book)
    assert check(book).problems == ()


def test_nothing_names_a_household_that_is_forgotten(yard: BuyersYard) -> None:
    stack = yard.stood("A1")
    ticket_id = yard.noted(stack)
    yard.paid(ticket_id)
    _, token = make_link(yard.desk, MakeLink(key=new_key(), household_id=yard.home))
    before, stock = ticket(yard.desk, ticket_id), yard.stock()
    papers = [path for _, path in yard.desk.book.files.all()] if yard.desk.book.has_files else []
    assert set(yard.named(*WORDS)) >= {"household", "orders", "ticket"}
    assert forgettable_household(yard.desk, yard.home).tickets == 1
    command = ForgetHousehold(key=new_key(), household_id=yard.home, reason=WHY)

    answer = forget_household(yard.desk, command)

    assert forget_household(yard.desk, command) == answer
    mark = f"×{yard.home}"
    assert answer == {
        "household_id": yard.home,
        "name": mark,
        "tickets": [1],
        "reasons": [],
        "reason": WHY,
    }
    assert yard.named(*WORDS) == []
    home = household(yard.desk, yard.home)
    assert (home.name, home.address, home.phone, home.note, home.owed_minor) == (mark, "", "", "", 0)
    assert home.forgotten
    assert [card.id for card in households(yard.desk)] == [yard.home]
    assert household_of_link(yard.desk, token) is None
    assert links_of(yard.desk, yard.home) == []
    # Wood, money, days and numbers are as they were; the ticket still prints, from its facts.
    after = ticket(yard.desk, ticket_id)
    assert (after.buyer, after.total_minor, after.paid_minor, after.number) == (
        mark,
        before.total_minor,
        before.paid_minor,
        before.number,
    )
    assert yard.stock() == stock
    assert not any(path.exists() for path in papers)
    assert ticket_pdf(yard.desk, ticket_id).startswith(b"%PDF")
    assert forgettable_household(yard.desk, yard.home).done
    with pytest.raises(ClashError, match="forgotten already"):
        yard.forget()


def test_who_forgot_whom_when_and_why_stands_among_the_deeds(yard: BuyersYard) -> None:
    yard.paid(yard.noted(yard.stood("A1")))
    yard.forget()

    line = deeds_done(yard.desk)[0]

    assert (line.kind, line.reason) == ("forget_household", WHY)
    assert line.thing is not None
    assert (line.thing.kind, line.thing.name) == ("household", f"×{yard.home}")


def test_what_is_open_or_owed_comes_first(yard: BuyersYard) -> None:
    stack = yard.stood("A1")
    order_id = yard.ordered(stack, 1.0)
    with pytest.raises(RefusedError, match=rf"Order 1 of household {NAME} is open"):
        yard.forget()
    ticket_id = yard.delivered(order_id)
    with pytest.raises(RefusedError, match=r"On ticket 1 \d+\.\d\d CAD are owed"):
        yard.forget()
    assert "household" in yard.named(NAME)
    yard.paid(ticket_id)
    yard.forget()


def test_reasons_that_may_name_them_are_said_and_taken_out_one_by_one(yard: BuyersYard) -> None:
    stack = yard.stood("A1")
    ticket_id = yard.noted(stack)
    yard.paid(ticket_id)
    return_wood(
        yard.desk,
        ReturnWood(
            key=new_key(), ticket_id=ticket_id, share=0.5, stack_id=stack, reason=f"{NAME} found it wet"
        ),
    )
    returned = yard.last_entry()
    undo_moving(yard.desk, UndoMoving(key=new_key(), number=returned, reason="a slip"))
    undone = yard.last_entry()

    assert yard.forget()["reasons"] == [returned, undone]
    forget_reason(yard.desk, ForgetReason(key=new_key(), entry=returned, why="names a buyer"))

    assert yard.named(*WORDS) == []
    forgot, _, undid = deeds_done(yard.desk)[:3]
    assert (forgot.kind, forgot.reason) == ("forget_reason", "names a buyer")
    assert (undid.kind, undid.reason) == ("undo_moving", "a slip")


def test_a_buyer_at_the_gate_is_forgotten_on_the_ticket(yard: BuyersYard) -> None:
    stack = yard.stood("A1")
    owing, ticket_id = yard.sold(stack), yard.sold(stack, paid_in_full=True)
    with pytest.raises(RefusedError, match="are owed"):
        forget_buyer(yard.desk, ForgetBuyer(key=new_key(), ticket_id=owing, reason=WHY))
    command = ForgetBuyer(key=new_key(), ticket_id=ticket_id, reason=WHY)

    answer = forget_buyer(yard.desk, command)

    assert forget_buyer(yard.desk, command) == answer
    assert answer == {"ticket_id": ticket_id, "number": 2, "reasons": [], "reason": WHY}
    assert [card.buyer for card in tickets(yard.desk)] == ["", "Odile Carrow"]
    line = deeds_done(yard.desk)[0]
    assert (line.kind, line.reason, line.thing and line.thing.number) == ("forget_buyer", WHY, 2)
    assert forgettable_buyer(yard.desk, ticket_id).done
    with pytest.raises(ClashError, match="names no buyer"):
        forget_buyer(yard.desk, ForgetBuyer(key=new_key(), ticket_id=ticket_id, reason=WHY))
    delivered = yard.noted(stack)
    with pytest.raises(RefusedError, match="Forget the household on its page"):
        forget_buyer(yard.desk, ForgetBuyer(key=new_key(), ticket_id=delivered, reason=WHY))


def test_nonsense_is_refused(yard: BuyersYard) -> None:
    with pytest.raises(InputError, match="a household in this book"):
        forget_household(yard.desk, ForgetHousehold(key=new_key(), household_id=99, reason=WHY))
    with pytest.raises(InputError, match="a ticket of this yard"):
        forget_buyer(yard.desk, ForgetBuyer(key=new_key(), ticket_id=99, reason=WHY))
    with pytest.raises(InputError, match="reason"):
        forget_household(yard.desk, ForgetHousehold(key=new_key(), household_id=yard.home, reason=""))


def test_without_its_salts_a_ticket_is_sealed_anew(yard: BuyersYard) -> None:
    """What the paper said before can be guessed from no hash; what it says now is guarded as before."""
    ticket_id = yard.noted(yard.stood("A1"))
    yard.paid(ticket_id)
    yard.forget()
    with pytest.raises(sa.exc.IntegrityError, match="append-only"), yard.desk.book.write() as session:
        session.get_one(Ticket, ticket_id).facts = {}


def test_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "book.sqlite"
    with Book.open(str(path), create=True) as book:
        made = BuyersYard(book)
        stack = made.stood("A1")
        made.paid(made.noted(stack))
        made.sold(stack, paid_in_full=True)
        home = str(made.home)
    of = ["--book", str(path)]
    capsys.readouterr()

    assert run(["book", "forget-household", "--household", home, "--why", WHY, *of]) == 0
    said = capsys.readouterr().out
    assert f"Household {home} is called ×{home} now, also on its tickets (1)." in said
    assert "Backups and exports made before still hold who it was" in said
    assert run(["book", "forget-buyer", "--ticket", "2", "--why", WHY, *of, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["number"] == 2
    assert run(["book", "forget-buyer", "--ticket", "2", "--why", WHY, *of]) != 0
    assert "names no buyer" in capsys.readouterr().err
    assert run(["book", "forget-buyer", "--ticket", "7", "--why", WHY, *of]) != 0
    assert run(["book", "check", *of]) == 0
