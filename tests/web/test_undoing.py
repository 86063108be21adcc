"""What was entered wrongly is taken back from its own page: what it will do is said first, and roles are kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from playwright.sync_api import Page, expect

from rickyard.book import check
from rickyard.desk.context import Desk, new_key
from rickyard.desk.households import household
from rickyard.desk.loads import load_page
from rickyard.desk.orders import order
from rickyard.desk.stacks import stack_page
from rickyard.desk.tickets import ticket
from rickyard.web.permissions import PERMISSIONS


@pytest.fixture
def web(app: FastAPI, serve: Any) -> Iterator[httpx.Client]:
    with serve(app) as address, httpx.Client(base_url=address, timeout=30) as client:
        yield client


def send(web: httpx.Client, path: str, reason: str = "the wrong household") -> httpx.Response:
    return web.post(path, data={"key": new_key(), "reason": reason})


def words(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def test_a_payment_and_then_its_ticket_are_taken_back(
    web: httpx.Client, small_yard: Any, desk_of: Desk
) -> None:
    page = f"/tickets/{small_yard.ticket}"
    shown = web.get(page).text
    assert f'href="/payments/{small_yard.payment}/undo"' in shown
    assert f'href="{page}/undo"' in shown
    hanging = web.get(f"{page}/undo")
    assert "stands a payment of 50.00 CAD. Take the payment back first" in words(hanging)
    assert 'name="reason"' not in hanging.text
    assert send(web, f"{page}/undo").status_code == 422

    before = words(web.get(f"/payments/{small_yard.payment}/undo"))
    assert "$50.00" in before
    assert f"Owed then {_money(ticket(desk_of, small_yard.ticket).total_minor)}" in before
    assert send(web, f"/payments/{small_yard.payment}/undo", "").status_code == 422
    assert send(web, f"/payments/{small_yard.payment}/undo", "never came").headers["location"] == page
    assert "taken back" in words(web.get(page))

    will = words(web.get(f"{page}/undo"))
    assert "Stack A1 1 cord" in will
    assert "keeps its number and is marked as cancelled" in will
    assert f"Order {order(desk_of, small_yard.delivered).number} is open again" in will
    done = send(web, f"{page}/undo")
    assert done.headers["location"] == page
    after = web.get(page)
    assert "the order is open again with what was promised for it" in words(after)
    assert "the wrong household" in words(after)
    assert f"{page}/undo" not in after.text
    assert "/pay" not in after.text
    assert order(desk_of, small_yard.delivered).state == "promised"
    assert household(desk_of, small_yard.home).owed_minor == 0
    assert "cancelled" in words(web.get(f"/households/{small_yard.home}"))
    assert "cancelled" in words(web.get(f"/h/{small_yard.link}"))
    assert check(desk_of.book).faults == ()


def _money(minor: int) -> str:
    return f"${minor / 100:.2f}"


def test_a_stack_and_then_its_load_are_taken_back(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    load, stack = f"/wood-in/{small_yard.rough_load}", f"/stacks/{small_yard.mixed}"
    assert "Take the stacking of B2 back first" in words(web.get(f"{load}/undo"))
    assert "promised for order 2" in words(web.get(f"{stack}/undo"))
    web.post(f"/orders/{small_yard.promised}/cancel", data={"key": new_key(), "reason": "so"})
    assert re.search(r"Load 1 \+[\d, ]+ lb", words(web.get(f"{stack}/undo")))

    assert send(web, f"{stack}/undo", "the other load").headers["location"] == stack
    shown = words(web.get(stack))
    assert "Its stacking was taken back" in shown
    assert "the other load" in shown
    assert "It stands after all" not in shown
    assert load_page(desk_of, small_yard.rough_load).row.left_share == 1.0
    assert send(web, f"{load}/undo", "entered twice").headers["location"] == load
    shown = words(web.get(load))
    assert "entered twice" in shown
    assert "taken back since" in shown
    assert "Cut and stack it" not in shown
    assert "taken back" in words(web.get("/wood-in"))
    assert "already" in words(web.get(f"{load}/undo"))


def test_what_went_is_taken_back_from_the_book_of_its_stack(
    web: httpx.Client, small_yard: Any, desk_of: Desk
) -> None:
    undo = f"/journal/{small_yard.gone}/undo"
    assert f'href="{undo}"' in web.get(f"/stacks/{small_yard.heap}").text
    before = stack_page(desk_of, small_yard.heap).card.oven_dry_kg
    assert re.search(r"Stack C3 \+[\d.,]+ lb", words(web.get(undo)))

    assert send(web, undo, "found again").headers["location"] == f"/stacks/{small_yard.heap}"

    page = stack_page(desk_of, small_yard.heap)
    assert page.card.oven_dry_kg == pytest.approx(before / 0.998)
    assert undo not in web.get(f"/stacks/{small_yard.heap}").text
    assert web.get(undo).status_code in (409, 422)
    assert web.get("/journal/1/undo").status_code == 422


def test_a_measure_is_taken_back_from_the_page_of_its_stack(
    web: httpx.Client, small_yard: Any, desk_of: Desk
) -> None:
    stack = f"/stacks/{small_yard.heap}"
    assert "Its measures" not in words(web.get(stack)), "the one of the stacking is no list"
    before = stack_page(desk_of, small_yard.heap)
    size = {"length": "1 m", "height": "1 m", "rows": "1", "measured_on": "2026-11-24"}
    sent = web.post(f"{stack}/measure", data={"key": new_key(), **size})
    assert sent.status_code == 303, words(sent)
    line = stack_page(desk_of, small_yard.heap).measures[-1]
    undo = f"/measures/{line.id}/undo"
    shown = web.get(stack)
    assert "Its measures" in words(shown)
    assert f'href="{undo}"' in shown.text
    assert f'href="/measures/{before.measures[0].id}/undo"' not in shown.text
    will = words(web.get(undo))
    assert "Take a measure of stack C3 back" in will
    assert re.search(r"Stack C3 \+[\d.,]+ lb", will)
    assert "What counts then" in will
    assert "was stacked with this measure" in words(web.get(f"/measures/{before.measures[0].id}/undo"))
    assert web.get("/measures/9999/undo").status_code in (404, 422)
    assert send(web, undo, "").status_code == 422

    assert send(web, undo, "that was another heap").headers["location"] == stack

    after = web.get(stack)
    assert "the measure before it counts again" in words(after)
    assert "that was another heap" in words(after)
    assert f'href="{undo}"' not in after.text
    assert stack_page(desk_of, small_yard.heap).card == before.card
    assert "already" in words(web.get(undo))
    assert check(desk_of.book).faults == ()


def test_the_api_takes_back_and_says_what_is(web: httpx.Client, small_yard: Any) -> None:
    def deed(path: str, **body: Any) -> httpx.Response:
        return web.post(f"/api/deeds/{path}", json={"key": new_key(), "reason": "a slip", **body})

    refused = deed("undo-delivery", ticket_id=small_yard.ticket)
    assert (refused.status_code, refused.json()["error"]["code"]) == (409, "hangs_on_it")
    assert deed("undo-payment", payment_id=small_yard.payment).status_code == 200
    undone = deed("undo-delivery", ticket_id=small_yard.ticket).json()
    assert undone["order_state"] == "promised"
    out = web.get(f"/api/tickets/{small_yard.ticket}").json()
    assert (out["cancelled_for"], out["owed_minor"], out["paid_minor"]) == ("a slip", 0, 0)
    assert out["payments"][0]["undone_for"] == "a slip"
    outside = {"length_m": 1.0, "heights_m": [1.0]}
    measured = web.post(
        "/api/deeds/measure-stack",
        json={"key": new_key(), "stack_id": small_yard.heap, "outside": outside},
    ).json()
    again = deed("undo-measure", measure_id=measured["measure_id"]).json()
    assert (again["stack_id"], again["difference_g"]) == (small_yard.heap, -measured["difference_g"])
    lines = web.get(f"/api/stacks/{small_yard.heap}").json()["measures"]
    assert [(line["first"], line["undone_for"]) for line in lines] == [(True, ""), (False, "a slip")]
    assert deed("undo-moving", number=small_yard.gone).json()["stacks"] == [small_yard.heap]
    assert deed("undo-take-in", load_id=small_yard.logs_load).json()["offer_id"] is None
    assert web.get(f"/api/loads/{small_yard.logs_load}").json()["row"]["undone_for"] == "a slip"
    assert deed("undo-stack-up", stack_id=small_yard.heap).json()["name"] == "C3 ×1"
    assert web.get(f"/api/stacks/{small_yard.heap}").json()["undone_for"] == "a slip"


def test_who_enters_a_thing_may_take_it_back() -> None:
    """Deliveries and money: owner and driver. Wood, loads and stacks: owner and helper. The bookkeeper: nothing."""
    for path in ("delivery", "payment"):
        assert PERMISSIONS[f"POST /api/deeds/undo-{path}"] == PERMISSIONS["POST /api/deeds/deliver"]
    for path in ("take-in", "stack-up", "measure", "moving"):
        assert PERMISSIONS[f"POST /api/deeds/undo-{path}"] == PERMISSIONS["POST /api/deeds/stack-up"]


def test_on_a_phone_a_cancelled_ticket_is_three_taps_away(page: Page, address: str, small_yard: Any) -> None:
    page.goto(f"{address}/tickets/{small_yard.ticket}")
    page.locator(f'a[href="/payments/{small_yard.payment}/undo"]').click()
    page.get_by_label("Why").fill("not paid")
    page.get_by_role("button", name="Take the payment back").click()
    page.get_by_role("link", name="It was entered wrongly").click()
    page.get_by_label("Why").fill("entered twice")
    page.get_by_role("button", name="Take it back and cancel the ticket").click()
    expect(page.get_by_text("Cancelled", exact=False).first).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
