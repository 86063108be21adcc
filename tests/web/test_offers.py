"""Wood on offer on the phone: noted without signal, its worth seen, taken in one step; answers that are waited for."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import replace
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page, expect

from rickyard.desk.context import Desk, new_key
from rickyard.desk.costs import cost_facts
from rickyard.desk.loads import load_page
from rickyard.desk.offer_views import offer, offers, open_offers
from rickyard.desk.yards import ChangeYard, change_yard, yard_facts
from rickyard.jobs import Answers
from rickyard.measure import CORD_M3
from rickyard.show import find_raw_english
from rickyard.web.app import create_app
from rickyard.web.cost_forms import KM_A_MILE, L_A_GALLON

SENT = {
    "key": "offers-test-0001",
    "source": "Otter Creek lot",
    "offered_on": "2026-11-24",
    "origin": "forest",
}
REGION = {"harvest_region": "CA-NB"}


@pytest.fixture
def phone(browser: Browser, address: str) -> Iterator[BrowserContext]:
    context = browser.new_context(
        base_url=address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(20_000)
    yield context
    context.close()


def kept(page: Page) -> bool:
    return bool(
        page.evaluate(
            "async () => navigator.serviceWorker.controller !== null"
            " && (await caches.match('/offers/new', { ignoreVary: true })) !== undefined"
        )
    )


@pytest.mark.browser
def test_offered_without_signal_reckoned_taken_and_paid(phone: BrowserContext, desk_of: Desk) -> None:
    """From "what is it worth" to "take it", at phone size."""
    page = phone.new_page()
    page.goto("/offers")
    page.locator("html[data-outbox-ready]").wait_for()
    page.evaluate("navigator.serviceWorker.ready.then(() => undefined)")
    for _ in range(200):
        if kept(page):
            break
        page.wait_for_timeout(100)
    assert kept(page)

    phone.set_offline(True)
    page.goto("/offers/new")
    page.locator("html[data-outbox-ready]").wait_for()
    page.fill("[name=quantity]", "6 cords")
    page.fill("[name=wood]", "sugar maple and yellow birch 70/30")
    page.fill("[name=source]", "Otter Creek lot")
    page.fill("[name=asked]", "300")
    # The application's own clock stands on another day than the browser's.
    page.get_by_text("Day, hauling").tap()
    page.fill("[name=offered_on]", "2026-11-20")
    page.get_by_role("button", name="What is it worth?").tap()
    page.wait_for_url("**/outbox")
    expect(page.locator("[data-state=waiting]")).to_contain_text("Otter Creek lot")
    assert "Otter Creek lot" not in {card.facts.source for card in offers(desk_of)}

    phone.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.get_by_role("link", name="Look at it").tap()
    page.wait_for_url(re.compile(r"/offers/\d+$"))
    expect(page.locator("#headline")).to_contain_text("Pay")
    expect(page.locator("#worth")).to_contain_text("8 times in 10")
    expect(page.locator("#worth")).to_contain_text("They ask $300.00")
    expect(page.locator("#worth")).to_contain_text("What makes it unsure")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    (card,) = [card for card in open_offers(desk_of) if card.facts.source == "Otter Creek lot"]
    assert card.facts.quantity == pytest.approx(6 * CORD_M3)

    expect(page.locator("#paid")).to_have_value("300.00")
    page.fill("#paid", "280")
    page.fill("#arrived_on", "2026-11-24")
    page.get_by_role("button", name="Take it").tap()
    page.wait_for_url(re.compile(r"/wood-in/\d+$"))
    expect(page.locator("#main")).to_contain_text("Taken: the load is in the book.")
    expect(page.locator("#main")).to_contain_text("$280.00")
    page.get_by_role("link", name="an offer").tap()
    expect(page.locator("#main")).to_contain_text("Taken.")
    taken = offer(desk_of, card.id)
    assert taken.load_id is not None
    assert load_page(desk_of, taken.load_id).paid_minor == 28000


def test_trees_and_logs_are_noted_and_changed_and_refused(
    client: httpx.Client, desk_of: Desk, typed: tuple[str, ...]
) -> None:
    trees = {"tree_species-0": "white ash", "dbh-0": "18", "tree_height-0": "60", "tree_count-0": "2"}
    answer = client.post("/offers/new", data=SENT | REGION | trees | {"asked": "-50", "origin": "yard"})
    assert answer.status_code == 303, answer.text
    page = answer.headers["location"]
    said = client.get(page, params={"lang": "en_XA"}).text
    assert find_raw_english(said, (*typed, "Otter Creek lot")) == []
    text = client.get(page, params={"lang": "en_CA", "units": "imperial"}).text
    assert "2 standing trees" in text
    assert "they pay $50.00" in text
    number = int(page.rsplit("/", 1)[1])
    assert offer(desk_of, number).facts.trees[0].dbh_m == pytest.approx(18 * 0.0254)

    form = client.get(f"{page}/change").text
    assert 'value="18"' in form
    listed = {"paste": "species,length_ft,mid_in,count\nwhite ash,8,12,5\n", "key": "offers-test-0002"}
    answer = client.post(f"{page}/change", data=SENT | REGION | listed)
    assert answer.status_code == 303, answer.text
    assert len(offer(desk_of, number).facts.logs) == 5
    # Without another list the logs stay.
    again = {"keep_logs": "on", "asked": "10", "key": "offers-test-0003"}
    assert client.post(f"{page}/change", data=SENT | REGION | again).status_code == 303
    assert (len(offer(desk_of, number).facts.logs), offer(desk_of, number).asked_minor) == (5, 1000)

    answer = client.post(f"{page}/refuse", data={"key": "offers-test-0004", "refusal": "nails"})
    assert answer.headers["location"] == "/offers"
    assert "nails" in client.get("/offers").text
    late = client.post(f"{page}/take", data={"key": "offers-test-0005", "arrived_on": "2026-11-24"})
    assert late.status_code == 422
    assert "still open" in late.text


def test_mistakes_stand_by_their_fields(client: httpx.Client, typed: tuple[str, ...]) -> None:
    client.cookies.set("lang", "en_XA")
    for wrong in (
        {},
        {"quantity": "xx", "wood": "zzz"},
        {"quantity": "2 cords", "wood": "maple", "paste": "zzz"},
        {"quantity": "2 cords", "wood": "maple", "tree_species-0": "maple", "dbh-0": "12"},
        {"tree_species-0": "zzz", "dbh-0": "xx"},
    ):
        answer = client.post("/offers/new", data=SENT | REGION | wrong)
        assert answer.status_code == 422, wrong
        assert (
            find_raw_english(answer.text, (*typed, "Otter Creek lot", "xx", "zzz", "2 cords", "maple")) == []
        )
    assert client.post("/yard/costs", data={"key": "c" * 12, "wage": "xx", "margin": "15"}).status_code == 422
    assert client.get("/offers/999999").status_code == 404
    assert client.get("/offers/compare?of=1").status_code == 422


def test_costs_are_set_and_move_what_offers_are_worth(
    client: httpx.Client, desk_of: Desk, small_yard: Any
) -> None:
    before = client.get(f"/api/offers/{small_yard.offer}").json()
    sent = {
        "key": "offers-test-0006",
        "margin_kind": "cord",
        "margin": "40",
        "wage": "30",
        "split_method": "splitting_maul",
        "delivery_distance": "10",
        "delivered_share": "50",
        "own_hours-stacking": "1.5",
    }
    assert client.post("/yard/costs", data=sent).status_code == 303
    facts = cost_facts(desk_of)
    assert (facts.wage_minor_h, facts.margin, facts.delivered_share) == (3000, 4000.0, 0.5)
    assert facts.delivery_km == pytest.approx(16.09, abs=0.01)
    assert facts.hours == (("stacking", 1.5),)
    assert 'value="30.00"' in client.get("/yard/costs").text
    after = client.get(f"/api/offers/{small_yard.offer}").json()
    assert after["worth"]["most_to_pay"] != before["worth"]["most_to_pay"]
    told = client.get("/api/costs").json()
    assert (told["wage_minor_h"], told["fuel_minor_l"], told["hours"]) == (3000, None, {"stacking": 1.5})
    assert {one["id"] for one in client.get("/api/offers?open_only=true").json()} == {
        small_yard.offer,
        small_yard.logs_offer,
    }


def test_costs_come_back_as_they_were_typed_in_each_trade(
    client: httpx.Client, desk_of: Desk, small_yard: Any
) -> None:
    """Miles and gallons in the United States, cubic metres with metres; the book keeps litres, kilometres, cords."""
    typed = {"fuel": "1.60", "vehicle_mile": "0.70", "space": "2.00", "trip_cords": "1.5"}
    sent = {"key": "offers-test-0007", "margin_kind": "cord", "margin": "40", "split_method": "processor"}
    hours = {"own_hours-splitting": "1.2"}
    imperial = {"units": "imperial"}
    assert client.post("/yard/costs", data=sent | typed | hours, params=imperial).status_code == 303
    facts = cost_facts(desk_of)
    assert (facts.fuel_minor_l, facts.trip_cords) == (160, 1.5)
    assert facts.vehicle_minor_km == pytest.approx(70 / KM_A_MILE, rel=1e-12)
    page = client.get("/yard/costs", params=imperial).text
    assert "if empty: 15 mi" in page.replace("\xa0", " ")
    assert "if empty: 1 cord" in page.replace("\xa0", " ")
    for name, value in (typed | hours | {"margin": "40.00"}).items():
        assert re.search(rf'name="{name}" type="text" value="{re.escape(value)}"', page), name

    page = client.get("/yard/costs", params={"units": "metric"}).text
    assert re.search(r'name="space_m3" type="text" value="0.55"', page)
    assert re.search(r'name="trip_m3" type="text" value="5.44"', page)
    assert re.search(r'name="own_hours_m3-splitting" type="text" value="0.33"', page)
    metric = {"key": "offers-test-0008", "margin_kind": "m3", "margin": "11.00", "split_method": "processor"}
    answer = client.post(
        "/yard/costs", data=metric | {"vehicle_km": "0.43", "space_m3": "0.55"}, params={"units": "metric"}
    )
    assert answer.status_code == 303
    facts = cost_facts(desk_of)
    # What was shown in other units and left alone stays as it was told; what is typed now counts.
    assert (facts.margin_kind, facts.space_minor_cord_month) == ("cord", 200)
    assert facts.vehicle_minor_km == pytest.approx(70 / KM_A_MILE, rel=1e-12)
    assert facts.margin == pytest.approx(1100 * CORD_M3)
    assert re.search(
        r'name="margin" type="text" value="11.00"', client.get("/yard/costs", params={"units": "metric"}).text
    )


def test_every_margin_is_said_with_its_range(client: httpx.Client, small_yard: Any) -> None:
    page = client.get(f"/offers/{small_yard.offer}").text
    facts = re.findall(r"<dt>([^<]*)</dt>\s*<dd>([^<]*)", page)
    told = {label: value for label, value in facts if "argin" in label and label != "Margin wanted"}
    assert len(told) == 4
    for label, value in told.items():
        assert re.fullmatch(r"\S+ \(\S+ to \S+\)", value.strip()), (label, value)


def test_what_is_typed_for_a_gallon_and_a_mile_comes_back(client: httpx.Client, desk_of: Desk) -> None:
    """Every cent of it, and other figures with every digit; the offers are reckoned by just that."""
    states = replace(yard_facts(desk_of), country="US", subdivision="VT", currency="USD")
    change_yard(desk_of, ChangeYard(key=new_key(), facts=states))
    typed = {
        "fuel_gallon": "4.19",
        "vehicle_mile": "0.67",
        "space": "1.99",
        "delivery_distance": "12.25",
        "trip_cords": "1.333",
        "own_hours-stacking": "0.375",
        "interest": "4.25",
        "delivered_share": "66.5",
        "margin": "12.75",
    }
    sent = {"key": "offers-test-0009", "margin_kind": "share", "split_method": "processor"}
    assert client.post("/yard/costs", data=sent | typed).status_code == 303
    for _ in range(2):
        page = client.get("/yard/costs").text
        for name, value in typed.items():
            assert re.search(rf'name="{name}" type="text" value="{re.escape(value)}"', page), name
        kept = cost_facts(desk_of)
        assert kept.fuel_minor_l == pytest.approx(419 / L_A_GALLON, rel=1e-12)
        assert kept.costs().minor("vehicle_minor_km") == pytest.approx(67 / KM_A_MILE, rel=1e-12)
        assert client.post("/yard/costs", data=sent | typed | {"key": new_key()}).status_code == 303
    assert cost_facts(desk_of) == kept


def test_the_page_does_not_wait_for_the_calendar(
    small_yard: Any, now: Callable[[], Any], serve: Callable[[FastAPI], AbstractContextManager[str]]
) -> None:
    """While the months are being worked out, the usual ones stand there and are said to be that."""
    answers = Answers(background=True)
    answers._start = lambda: None  # type: ignore[method-assign]  # nothing is worked out while the test looks
    app = create_app(small_yard.target, worker=False, clock=now, hosts=(), answers=answers)
    with serve(app) as address, httpx.Client(base_url=address, timeout=30) as client:
        text = client.get(f"/offers/{small_yard.offer}").text
        assert "being worked out" in text
        assert "the usual: the calendar is not worked out yet" in text
        assert f'hx-get="/offers/{small_yard.offer}"' in text
        assert (
            "being worked out"
            in client.get(f"/offers/compare?of={small_yard.offer}&of={small_yard.logs_offer}").text
        )
        assert client.get("/offers").status_code == 200
