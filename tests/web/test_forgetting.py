"""Who bought is forgotten from the page, and who did it, when and why stands in *Who did what*."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from rickyard.book import check
from rickyard.desk.context import Desk, new_key
from rickyard.desk.households import household
from rickyard.desk.orders import CancelOrder, cancel_order, orders
from rickyard.desk.tickets import Pay, pay, ticket, tickets
from rickyard.web.permissions import PERMISSIONS


@pytest.fixture
def web(app: FastAPI, serve: Any) -> Iterator[httpx.Client]:
    with serve(app) as address, httpx.Client(base_url=address, timeout=30) as client:
        yield client


def words(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def send(web: httpx.Client, path: str, reason: str = "asked us to") -> httpx.Response:
    return web.post(path, data={"key": new_key(), "reason": reason})


def all_paid(desk: Desk) -> None:
    for card in tickets(desk):
        if card.owed_minor:
            command = Pay(
                key=new_key(), ticket_id=card.id, amount_minor=card.owed_minor, paid_on=desk.today()
            )
            pay(desk, command)


def test_a_household_is_forgotten_from_its_page(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    page = f"/households/{small_yard.home}"
    name = household(desk_of, small_yard.home).name
    assert f'href="{page}/forget"' in web.get(page).text
    assert "is open. Deliver it or cancel it first" in words(web.get(f"{page}/forget"))
    assert send(web, f"{page}/forget").status_code == 422
    for order in orders(desk_of, household_id=small_yard.home):
        cancel_order(desk_of, CancelOrder(key=new_key(), order_id=order.id, reason="so"))
    assert re.search(r"On ticket 1 [\d.]+ CAD are owed", words(web.get(f"{page}/forget")))
    all_paid(desk_of)
    will = words(web.get(f"{page}/forget"))
    assert f"Forget who {name} is" in will
    assert "also from their tickets (1) and orders" in will
    assert send(web, f"{page}/forget", "").status_code == 422

    assert send(web, f"{page}/forget").headers["location"] == page

    after = web.get(page)
    assert "Who this household was is forgotten" in words(after)
    assert f'href="{page}/forget"' not in after.text
    for path in (page, "/households", "/orders", "/tickets", f"/tickets/{small_yard.ticket}"):
        assert name not in web.get(path).text, path
    assert web.get(f"/h/{small_yard.link}").status_code == 404
    assert "forgotten already" in words(web.get(f"{page}/forget"))
    said = words(web.get("/people/deeds"))
    assert f"a household forgotten · ×{small_yard.home} Why: asked us to" in said
    assert check(desk_of.book).faults == ()


def test_a_buyer_is_forgotten_from_the_ticket(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    """A household's ticket says where that is done; the buyer's own has no other name on it."""
    assert "Forget the household on its page" in words(web.get(f"/tickets/{small_yard.ticket}/forget"))
    body = {"stack_id": small_yard.heap, "ware_id": small_yard.ware, "ranked_m3": 0.2, "price_minor": 900}
    sold = web.post(
        "/api/deeds/sell-at-gate",
        json={"key": new_key(), "buyer": "Odile Carrow", "paid_in_full": True, **body},
    ).json()
    page = f"/tickets/{sold['ticket_id']}"
    assert "Odile Carrow" in web.get(page).text
    assert f'href="{page}/forget"' in web.get(page).text

    assert send(web, f"{page}/forget").headers["location"] == page

    assert "Odile Carrow" not in web.get(page).text
    assert f'href="{page}/forget"' not in web.get(page).text
    assert ticket(desk_of, sold["ticket_id"]).buyer == ""
    assert "forgotten already" in words(web.get(f"{page}/forget"))
    assert web.get(f"{page}.pdf").content.startswith(b"%PDF")


def test_why_something_was_taken_back_stands_among_the_deeds(web: httpx.Client, small_yard: Any) -> None:
    web.post(
        f"/payments/{small_yard.payment}/undo", data={"key": new_key(), "reason": "paid on another ticket"}
    )
    web.post(f"/journal/{small_yard.gone}/undo", data={"key": new_key(), "reason": "found again"})

    said = words(web.get("/people/deeds"))

    assert "Why: paid on another ticket" in said
    assert "Why: found again" in said


def test_it_is_the_owners_alone() -> None:
    for path in ("household", "buyer"):
        assert PERMISSIONS[f"POST /api/deeds/forget-{path}"] == PERMISSIONS["POST /api/deeds/forget-reason"]
