"""Wood that goes its way without being sold, on the phone; a household found among many; what each role's day shows."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect

from rickyard.book import check, stock
from rickyard.book.models import Entry, Spot
from rickyard.desk.access import SetPassword, set_password
from rickyard.desk.clashes import clashes
from rickyard.desk.context import Desk, new_key
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.housekeeping import open_book
from rickyard.desk.loads import load_page
from rickyard.desk.moving_views import returns
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.stacks import stack_page
from rickyard.desk.yards import open_desk
from rickyard.measure import CORD_M3
from rickyard.web.permissions import PERMISSIONS

PASSWORD = "larch and heron by the gate"
ROLES = ("owner", "helper", "driver", "bookkeeper")


@pytest.fixture
def web(app: FastAPI, serve: Any) -> Iterator[httpx.Client]:
    with serve(app) as address, httpx.Client(base_url=address, timeout=30) as client:
        yield client


def send(web: httpx.Client, path: str, **typed: str) -> httpx.Response:
    return web.post(path, data={"key": new_key(), **typed})


def ranked(desk: Desk, stack_id: int) -> float:
    return stack_page(desk, stack_id).card.ranked_m3


def kinds(desk: Desk) -> list[str]:
    with desk.book.read() as session:
        return [entry.kind for entry in session.query(Entry).order_by(Entry.number)]


def words(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def test_half_of_a_stack_goes_onto_another(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    """First only said, then done; the stack it came to shows that the pieces are unlike."""
    before = ranked(desk_of, small_yard.mixed)
    form = {"onto": "a1", "share_of": "0.5"}
    page = web.get(f"/stacks/{small_yard.mixed}/onto")
    half = before / 2 / CORD_M3
    assert f"half of it · {half:.3g} cords (" in words(page)

    looked = send(web, f"/stacks/{small_yard.mixed}/onto", **form, look="on")
    assert looked.status_code == 200
    assert "From B2 to A1" in words(looked)
    assert "forecast will speak of those of A1 alone" in words(looked)
    assert "More is promised from B2 than stays there" not in words(looked)
    assert ranked(desk_of, small_yard.mixed) == pytest.approx(before)

    done = send(web, f"/stacks/{small_yard.mixed}/onto", **form)
    assert done.headers["location"] == f"/stacks/{small_yard.dry}"
    assert ranked(desk_of, small_yard.mixed) == pytest.approx(before / 2, rel=1e-4)
    assert kinds(desk_of)[-1] == "merge"
    shown = words(web.get(done.headers["location"]))
    assert "it does not fit what the book says" in shown
    assert "the pieces are unlike" in shown
    assert [line.code for line in clashes(desk_of, stack_id=small_yard.dry)] == ["unlike_pieces"]


def test_a_part_stands_on_its_own_as_a_bin_and_is_filled(
    web: httpx.Client, small_yard: Any, desk_of: Desk
) -> None:
    before = ranked(desk_of, small_yard.dry)
    form = {"stack_name": "Bin 1", "kind": "bin", "other_amount": "1/2 cord"}
    assert "From A1 to Bin 1" in words(send(web, f"/stacks/{small_yard.dry}/divide", **form, look="on"))
    made = send(web, f"/stacks/{small_yard.dry}/divide", **form)
    assert re.fullmatch(r"/stacks/\d+", made.headers["location"])
    bin_id = int(made.headers["location"].rsplit("/", 1)[1])
    assert ranked(desk_of, bin_id) == pytest.approx(CORD_M3 / 2, rel=1e-3)

    again = send(web, f"/stacks/{small_yard.dry}/divide", **form)
    assert again.status_code == 422
    assert "a name that no other stack has" in words(again)
    assert 'value="1/2 cord"' in again.text

    assert "Fill the bin" in words(web.get(f"/stacks/{bin_id}"))
    assert f"/stacks/{small_yard.dry}/onto?to={bin_id}" in web.get(f"/stacks/{bin_id}/fill").text
    assert 'value="Bin 1"' in web.get(f"/stacks/{small_yard.dry}/onto?to={bin_id}").text
    send(web, f"/stacks/{small_yard.dry}/onto", onto="Bin 1", other_amount="25 %")
    assert kinds(desk_of)[-2:] == ["divide", "fill"]
    assert ranked(desk_of, bin_id) + ranked(desk_of, small_yard.dry) == pytest.approx(before, rel=1e-3)


def test_splits_are_split_finer_and_stand_in_a_bin(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    path, before = f"/stacks/{small_yard.dry}/split", ranked(desk_of, small_yard.dry)
    page = web.get(path)
    assert "Split it finer" in words(web.get(f"/stacks/{small_yard.dry}"))
    assert "Before you start" in words(page)
    form = {
        "stack_name": "Kindling 1",
        "kind": "bin",
        "piece_form": "kindling",
        "thickness": "1",
        "other_amount": "1/2 cord",
    }
    looked = send(web, path, **form, look="on")
    assert re.search(r"Goes from A1 [\d.]+ cords? \([\d.]+ to [\d.]+\)", words(looked)), words(looked)[-900:]
    assert re.search(r"Stands in Kindling 1 [\d.]+ cords?", words(looked))
    assert ranked(desk_of, small_yard.dry) == pytest.approx(before)
    refused = send(web, path, **(form | {"thickness": "", "piece_form": "round"}))
    assert refused.status_code == 422
    assert 'value="Kindling 1"' in refused.text

    made = send(web, path, **form)
    new = int(made.headers["location"].rsplit("/", 1)[1])
    assert "This is the new stack" in words(web.get(made.headers["location"]))
    card = stack_page(desk_of, new).card
    assert (card.form, card.kind) == ("kindling", "bin")
    assert ranked(desk_of, small_yard.dry) == pytest.approx(before - CORD_M3 / 2, rel=1e-3)
    assert kinds(desk_of)[-1] == "split"
    assert f"/stacks/{new}/split" not in web.get(f"/stacks/{new}").text


def test_a_stack_that_the_book_holds_empty_can_be_divided(
    web: httpx.Client, small_yard: Any, desk_of: Desk
) -> None:
    """What happened is taken; the part has a size, so that its page opens, and somebody is to look."""
    send(web, f"/stacks/{small_yard.dry}/empty", reason="Back row")
    made = send(web, f"/stacks/{small_yard.dry}/divide", stack_name="A9", kind="stack", share_of="0.5")
    assert made.headers["location"] == f"/stacks/{small_yard.dry}"
    assert "by the book nothing was left in it" in words(web.get(f"/stacks/{small_yard.dry}"))
    part = next(item for item in web.get("/api/stacks").json() if item["name"] == "A9")
    assert web.get(f"/stacks/{part['id']}").status_code == 200


def test_wood_of_a_load_goes_back_or_is_gone(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    load = small_yard.rough_load
    left = load_page(desk_of, load).row.left_share
    said = words(send(web, f"/wood-in/{load}/back", share_of="0.5", reason="Back row", look="on"))
    assert re.search(r"Goes [\d.]+ cords \([\d.]+ to [\d.]+\) Stays", said)

    done = send(web, f"/wood-in/{load}/back", share_of="0.5", reason="Back row")
    assert done.headers["location"] == f"/wood-in/{load}"
    assert load_page(desk_of, load).row.left_share == pytest.approx(left / 2, rel=1e-3)
    nothing = send(web, f"/wood-in/{load}/gone", reason="Back row")
    assert nothing.status_code == 422
    assert "What became of it" in words(nothing)
    assert "How much of it" in words(nothing)
    gone = send(web, f"/wood-in/{load}/gone", left_for="own_use", share_of="1", reason="Back row")
    assert gone.status_code == 303
    assert kinds(desk_of)[-2:] == ["reject", "own_use"]
    assert load_page(desk_of, load).row.left_share == 0
    assert f"/wood-in/{load}/back" not in web.get(f"/wood-in/{load}").text


def test_wood_of_a_stack_is_rotten(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    before = ranked(desk_of, small_yard.mixed)
    path = f"/stacks/{small_yard.mixed}/gone"
    form = {"left_for": "decay", "reason": "Back row"}
    too_much = send(web, path, **form, other_amount="90 cords")
    assert too_much.status_code == 422
    assert "a part of what is there by the book" in words(too_much)
    assert 'value="90 cords"' in too_much.text
    key = new_key()
    for _ in range(2):
        answer = web.post(path, data={"key": key, **form, "other_amount": "1 cord"})
        assert answer.status_code == 303
    assert ranked(desk_of, small_yard.mixed) == pytest.approx(before - CORD_M3, rel=1e-4)
    with desk_of.book.read() as session:
        lost = session.query(Spot).filter_by(kind="loss").one()
        assert sum(stock(session, lost.id).values()) > 0
    assert check(desk_of.book).ok


def test_what_came_back_stands_on_the_ticket_and_the_household(
    web: httpx.Client, small_yard: Any, desk_of: Desk
) -> None:
    ticket, home = small_yard.ticket, small_yard.home
    number = web.get(f"/api/tickets/{ticket}").json()["number"]
    assert "Came back" not in words(web.get(f"/tickets/{ticket}"))
    form = {"share_of": "0.25", "reason": "Back row"}
    looked = send(web, f"/tickets/{ticket}/came-back", onto="A1", **form, look="on")
    assert f"Of ticket {number} onto A1 0.25 cord (" in words(looked)
    assert kinds(desk_of)[-1] != "return"

    done = send(web, f"/tickets/{ticket}/came-back", onto="A1", **form)
    assert done.headers["location"] == f"/tickets/{ticket}"
    here = send(web, f"/stacks/{small_yard.mixed}/came-back", ticket_number=str(number), **form)
    assert here.headers["location"] == f"/stacks/{small_yard.mixed}"
    lines = returns(desk_of, ticket_id=ticket)
    assert [(line.stack_name, round(line.share, 3)) for line in lines] == [("B2", 0.25), ("A1", 0.25)]
    assert returns(desk_of, household_id=home) == lines
    for path in (f"/tickets/{ticket}", f"/households/{home}"):
        assert "Came back" in words(web.get(path))
        assert words(web.get(path)).count("0.25 cord") >= 2

    twice = send(web, f"/tickets/{ticket}/came-back", onto="A1", share_of="1", reason="Back row")
    assert twice.headers["location"] == f"/stacks/{small_yard.dry}"
    assert "Look whether the same return was entered twice" in words(web.get(twice.headers["location"]))
    unknown = send(web, f"/stacks/{small_yard.mixed}/came-back", ticket_number="4711", **form)
    assert "the number of a ticket of this yard" in words(unknown)


def test_the_ticket_typed_shows_how_much_all_of_it_is(web: httpx.Client, page: Page, small_yard: Any) -> None:
    """On the phone as soon as the number is typed, and what was tapped stays; by plain HTML once it was sent."""
    path = f"/stacks/{small_yard.mixed}/came-back"
    number = str(web.get(f"/api/tickets/{small_yard.ticket}").json()["number"])
    assert "half of it ·" not in words(web.get(path))
    sent = send(web, path, ticket_number=number, share_of="0.5")
    assert sent.status_code == 422
    assert "half of it · 0.5 cord" in words(sent)

    page.goto(path)
    page.locator(".choice", has_text="half of it").tap()
    page.locator("#ticket_number").fill(number)
    expect(page.locator("#share_of")).to_contain_text("half of it · 0.5 cord")
    assert page.locator("[name=share_of][value='0.5']").is_checked()


def test_a_preview_without_signal_says_so_kindly(page: Page, small_yard: Any) -> None:
    page.goto(f"/stacks/{small_yard.mixed}/onto")
    page.locator("html[data-outbox-ready]").wait_for(state="attached")
    page.locator("#onto").fill("A1")
    page.context.set_offline(True)
    look = page.get_by_role("button", name="What will it do?")
    for _ in range(2):
        look.tap()
        expect(page.locator("[data-unheard]")).to_contain_text("it is kept here and sent later")
    assert page.locator("#onto").input_value() == "A1"
    page.context.set_offline(False)
    look.tap()
    page.locator("#preview").wait_for()
    assert page.locator("[data-unheard]").count() == 0


def test_the_way_of_wood_is_linked(web: httpx.Client, small_yard: Any) -> None:
    for page, way in (
        (f"/wood-in/{small_yard.rough_load}", f"/wood/load/{small_yard.rough_load}/way"),
        (f"/stacks/{small_yard.mixed}", f"/wood/stack/{small_yard.mixed}/way"),
        (f"/tickets/{small_yard.ticket}", f"/wood/ticket/{small_yard.ticket}/way"),
        (f"/orders/{small_yard.delivered}", f"/wood/ticket/{small_yard.ticket}/way"),
        (f"/orders/{small_yard.promised}", f"/wood/stack/{small_yard.mixed}/way"),
        (f"/households/{small_yard.home}", f"/wood/household/{small_yard.home}/way"),
    ):
        assert f'href="{way}"' in web.get(page).text, page
        assert web.get(way).status_code == 200, way


def test_a_household_is_found_among_many(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    """By part of its name or address; two of one name are told apart; what was typed is never lost."""
    twins = [
        int(
            set_household(
                desk_of,
                SetHousehold(key=new_key(), name="Odile Fenwick", address=f"{number} Quarry Hollow Road"),
            )["household_id"]
        )
        for number in (7, 9)
    ]
    assert "Odile Fenwick" not in web.get("/orders/new").text
    options = web.get("/household-options", params={"home_name": "fenw"}).text
    assert options.count('value="Odile Fenwick"') == 2
    assert "9 Quarry Hollow Road" in options
    asked = {"ware": str(small_yard.ware), "order_quantity": "0.5 cord", "wanted_by": "2026-12-20"}

    page = web.get("/orders/new", params={**asked, "home_name": "fenwick"})
    assert page.status_code == 200
    assert 'value="fenwick"' in page.text
    for twin in twins:
        assert f'type="radio" name="household" value="{twin}"' in page.text
    unsure = send(web, "/orders/new", **asked, home_name="Odile Fenwick")
    assert unsure.status_code == 422
    assert "one household of this book" in words(unsure)
    strange = send(web, "/orders/new", **asked, home_name="Nobody Such")
    assert strange.status_code == 422
    assert 'value="Nobody Such"' in strange.text

    chosen = send(web, "/orders/new", **asked, home_name="fenwick", household=str(twins[1]))
    order = int(chosen.headers["location"].rsplit("/", 1)[1])
    assert web.get(f"/api/orders/{order}").json()["household_id"] == twins[1]
    # A name typed over that of another household is not booked to that one.
    other = send(web, "/orders/new", **asked, home_name="quentin marlowe-pye", household=str(twins[1]))
    order = int(other.headers["location"].rsplit("/", 1)[1])
    assert web.get(f"/api/orders/{order}").json()["household_name"] == "Quentin Marlowe-Pye"


@pytest.fixture
def signed(small_yard_file: Any, small_yard: Any, app: FastAPI, serve: Any) -> Iterator[httpx.Client]:
    """The small yard with one person of each role, locked."""
    shutil.copy(small_yard_file.target, small_yard.target)
    book = open_book(str(Path(small_yard.target)))
    desk = open_desk(book)
    assert desk is not None
    for role in ROLES:
        who = add_person(desk, AddPerson(key=new_key(), name=role.title(), role=role))["person_id"]
        set_password(desk, SetPassword(key=new_key(), who_id=who), PASSWORD)
    book.close()
    with serve(app) as address, httpx.Client(base_url=address, timeout=30) as client:
        yield client


def test_the_first_page_leads_nowhere_that_is_closed(signed: httpx.Client) -> None:
    """Every link of it opens, and every form of it may be sent, by whoever it is shown to."""
    seen: dict[str, set[str]] = {}
    for role in ROLES:
        signed.cookies.clear()
        assert signed.post("/sign-in", data={"person": role, "password": PASSWORD}).status_code == 303
        page = signed.get("/").text
        links = {link.split("#")[0] for link in re.findall(r'(?:href|hx-get)="(/[^"]*)"', page)}
        seen[role] = {link for link in links if link and not link.startswith("/static/")}
        for link in seen[role]:
            answer = signed.get(link.replace("&amp;", "&"), follow_redirects=True)
            assert answer.status_code == 200, (role, link, answer.status_code)
        for action in re.findall(r'action="(/[^"]*)"', page):
            route = "POST " + re.sub(r"/\d+", "/{clash_id:int}", action)
            assert role in PERMISSIONS[route], (role, action)
    assert any(link.startswith("/orders/") for link in seen["driver"])
    assert not any(link.startswith("/orders") for link in seen["helper"])
    assert any(link.startswith("/wood-in/") for link in seen["helper"])
    assert "/readings/new" not in seen["bookkeeper"]
    assert seen["owner"] > {"/wood-in/new", "/readings/new", "/gate", "/orders"}


@pytest.mark.browser
def test_wood_is_put_onto_a_stack_without_signal(
    browser: Browser, road: Any, small_yard: Any, desk_of: Desk
) -> None:
    """Typed in the yard without signal, kept on the phone, and in the book once when signal is back."""
    context = browser.new_context(
        base_url=road.address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(20_000)
    page = context.new_page()
    page.goto("/")
    page.locator("html[data-outbox-ready]").wait_for()
    page.evaluate("navigator.serviceWorker.ready.then(() => undefined)")
    for _ in range(900):
        if page.evaluate(
            "async () => (await caches.match('/kept-at')) !== undefined && navigator.serviceWorker.controller !== null"
        ):
            break
        page.wait_for_timeout(100)
    before = ranked(desk_of, small_yard.mixed)
    road.state = "closed"

    page.goto(f"/stacks/{small_yard.mixed}")
    page.get_by_role("link", name="Put it on another stack").tap()
    expect(page.locator("#notices")).to_contain_text("as of")
    page.get_by_label("Onto which stack").fill("C3")
    page.get_by_label("a quarter").tap()
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url(re.compile(r"/outbox$"))
    expect(page.get_by_text("Put wood of B2 on another stack")).to_be_visible()
    assert ranked(desk_of, small_yard.mixed) == pytest.approx(before)
    page.goto(f"/wood-in/{small_yard.rough_load}/back")
    expect(page.get_by_role("heading", name="Send load 1 back")).to_be_visible()

    road.state = "open"
    page.goto("/outbox")
    page.evaluate("dispatchEvent(new Event('online'))")
    for _ in range(300):
        if kinds(desk_of)[-1] == "merge":
            break
        page.wait_for_timeout(100)
    assert ranked(desk_of, small_yard.mixed) == pytest.approx(before * 0.75, rel=1e-4)
    assert kinds(desk_of).count("merge") == 1
    context.close()
