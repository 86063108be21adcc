"""Who did what: each deed with the thing it was about, how much, and the way to it; a page at a time."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page

from rickyard.book.models import Deed
from rickyard.desk.access import SetPassword, set_password, sign_in
from rickyard.desk.audit import DEEDS_A_PAGE, DeedLine, _Rows, deeds_done
from rickyard.desk.context import Desk, new_key
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.photos import RemovePhoto, remove_photo
from rickyard.desk.tickets import Pay, pay, ticket
from rickyard.desk.undoing import UndoPayment, undo_payment

PASSWORD = "larch and heron by the gate"


def rows_of(page: str) -> list[str]:
    """The rows as words, with the address that each leads to first."""
    found = []
    for row in page.split('<ul class="rows">')[1].split("</ul>")[0].split("<li>")[1:]:
        address = re.search(r'href="([^"]+)"', row)
        found.append(" ".join(f"{address[1] if address else '-'} {re.sub('<[^>]+>', ' ', row)}".split()))
    return found


@pytest.fixture
def paid(small_yard: Any, desk_of: Desk) -> DeedLine:
    command = Pay(key=new_key(), ticket_id=small_yard.ticket, amount_minor=12_345, paid_on=date(2026, 11, 24))
    pay(desk_of, command)
    return deeds_done(desk_of, limit=1)[0]


def test_each_row_names_the_thing_and_how_much(
    client: httpx.Client, small_yard: Any, desk_of: Desk, paid: DeedLine
) -> None:
    """Deliveries, payments, orders, loads, stacks, readings, offers: number or name, amount, link."""
    rows: list[str] = []
    path = "/people/deeds"
    while path:
        page = client.get(path).text
        found = rows_of(page)
        assert len(found) <= DEEDS_A_PAGE
        rows += found
        older = re.search(r'href="(/people/deeds\?[^"]*before=[^"]*)"', page)
        path = older[1].replace("&amp;", "&") if older else ""
    card = client.get(f"/api/tickets/{small_yard.ticket}").json()
    owed = f"${card['owed_minor'] / 100:,.2f}"

    assert rows[0].startswith(
        f"/tickets/{small_yard.ticket} a payment · Ticket 1 $123.45 · {owed} left to pay"
    )
    wanted = (
        f"/tickets/{small_yard.ticket} a delivery · Ticket 1 1 cord · ${card['total_minor'] / 100:,.2f}",
        f"/orders/{small_yard.promised} an order · Order 2 1.5 cords · $",
        f"/wood-in/{small_yard.rough_load} a load · Load 1 10 cords · $1,200.00",
        f"/wood-in/{small_yard.logs_load} a load, log by log · Load 2 6 logs",
        f"/stacks/{small_yard.mixed} wood stacked B2 ",
        f"/stacks/{small_yard.mixed} a moisture reading B2 pin meter, 24 % shown",
        f"/stacks/{small_yard.mixed} a moisture reading B2 24.0% of total mass",
        f"/offers/{small_yard.offer} an offer · Offer 1 $500.00",
        f"/cutting/{small_yard.cut} a cut sheet · Cut sheet 1 6 logs",
        f"/splitting/{small_yard.split} a splitting sheet · Splitting sheet 1",
        f"/tree/seen/{small_yard.kept} what was seen of a tree",
        "/splitting/times work timed 3 h",
        f"/households/{small_yard.home} a household's facts · Perpetua Ashgrove",
        f"/wares/{small_yard.ware} what is sold · Dry hardwood, 16 in $380.00",
    )
    for start in wanted:
        assert any(row.replace("&#39;", "'").startswith(start) for row in rows), start
    assert len(rows) == len(deeds_done(desk_of, limit=1000)) > DEEDS_A_PAGE


def test_a_payment_of_an_earlier_version_says_its_amount(desk_of: Desk, paid: DeedLine) -> None:
    """Its deed told only what was left to pay."""
    with desk_of.book.read() as session, session.no_autoflush:
        deed = session.get_one(Deed, paid.id)
        # What is kept of a deed cannot be changed; this one is only looked at so.
        deed.answer = {name: value for name, value in deed.answer.items() if name != "paid_minor"}
        assert _Rows(session, [deed]).amount(deed, "CAD") == paid.amount
    assert paid.amount.money_minor == 12_345


def test_a_payment_taken_back_says_its_amount(desk_of: Desk, small_yard: Any, paid: DeedLine) -> None:
    payment = ticket(desk_of, small_yard.ticket).payments[-1]
    undo_payment(desk_of, UndoPayment(key=new_key(), payment_id=payment.id, reason="on another ticket"))

    undone = deeds_done(desk_of, limit=1)[0]
    assert (undone.thing, undone.amount.money_minor) == (paid.thing, 12_345)


def test_what_was_taken_out_still_leads_somewhere(desk_of: Desk, small_yard: Any) -> None:
    remove_photo(desk_of, RemovePhoto(key=new_key(), photo_id=small_yard.photo))

    removed = deeds_done(desk_of, limit=1)[0]
    assert removed.thing is not None
    assert (removed.kind, removed.thing.kind, removed.thing.name) == ("remove_photo", "stack", "B2")


def test_of_one_person_page_by_page(client: httpx.Client, desk_of: Desk) -> None:
    """The choice stays on the next page and back on the newest."""
    who = add_person(desk_of, AddPerson(key=new_key(), name="Osric"))["person_id"]
    for number in range(DEEDS_A_PAGE + 2):
        add_person(desk_of, AddPerson(key=new_key(), name=f"Hand {number}", person_id=who))

    first = client.get(f"/people/deeds?person={who}").text
    older = re.search(rf'href="(/people/deeds\?[^"]*person={who}[^"]*)"', first)
    assert older is not None
    second = client.get(older[1].replace("&amp;", "&")).text
    assert len(rows_of(first)) == DEEDS_A_PAGE
    assert rows_of(second) == [
        next(row for row in rows_of(second) if f"Hand {number}" in row) for number in (1, 0)
    ]
    assert f'href="/people/deeds?person={who}"' in second
    assert f'<option value="{who}" translate="no" selected>' in second


def test_a_bookkeeper_reads_what_they_may_not_open(client: httpx.Client, desk_of: Desk) -> None:
    for role in ("owner", "bookkeeper"):
        who = add_person(desk_of, AddPerson(key=new_key(), name=role.title(), role=role))["person_id"]
        set_password(desk_of, SetPassword(key=new_key(), who_id=who), PASSWORD)
    client.cookies.set("session", sign_in(desk_of, "bookkeeper", PASSWORD, address="192.0.2.7", device=""))
    rows = rows_of(client.get("/people/deeds").text)

    assert any(row.startswith("- somebody new · Bookkeeper") for row in rows)
    assert any(row.startswith("/offers/") for row in rows)


def test_it_is_short_on_a_phone(page: Page) -> None:
    """A hundred rows of four lines were 17,680 px."""
    page.goto("/people/deeds")
    assert page.locator(".rows > li").count() == DEEDS_A_PAGE
    height, width = page.evaluate(
        "[document.documentElement.scrollHeight, document.documentElement.scrollWidth]"
    )
    assert width == 390
    assert height < 4_000
    page.locator(".rows a.row").first.click()
    page.wait_for_url("**/splitting/times")
