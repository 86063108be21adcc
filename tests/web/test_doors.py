"""Every page for everybody who works here, and for a household: what it offers may be used by whoever sees it."""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from fastapi import FastAPI

from rickyard.desk.access import Comer, SetPassword, set_password
from rickyard.desk.context import new_key
from rickyard.desk.people import AddPerson, add_person
from rickyard.web.doors import open_doors
from rickyard.web.offline import _routes
from rickyard.web.permissions import OPEN, PERMISSIONS, Access

PASSWORD = "larch and heron by the gate"
ROLES = ("owner", "helper", "driver", "bookkeeper")
UNCLOSED = frozenset("area base br col embed hr img input link meta option source track wbr".split())
FETCHES = {"hx-get": "GET", "hx-post": "POST"}

Door = tuple[str, str]


class Doors(HTMLParser):
    """Every link, form and button of a page, with the forms around it; whether every element of it is closed."""

    def __init__(self, page: str, path: str) -> None:
        super().__init__()
        self.path, self.open = path, list[str]()
        self.found: dict[Door, set[Door | None]] = {}
        self.form: Door | None = None
        self.feed(page)
        self.close()
        assert self.open == [], path

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in UNCLOSED:
            self.open.append(tag)
        named = {name: value or "" for name, value in attrs}
        if tag == "a":
            self.add("GET", named.get("href"))
        if tag == "form":
            self.form = self.add(named.get("method", "get").upper(), named.get("action", ""))
        self.add("POST", named.get("formaction"))
        for name, method in FETCHES.items():
            self.add(method, named.get(name))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Closed at once, as in drawings."""

    def handle_endtag(self, tag: str) -> None:
        if tag not in UNCLOSED:
            assert self.open.pop() == tag, (self.path, self.getpos())
        if tag == "form":
            self.form = None

    def add(self, method: str, address: str | None) -> Door | None:
        parts = urlsplit(address or "")
        if address is None or parts.scheme or parts.netloc:
            return None
        door = (method, parts.path or self.path)
        self.found.setdefault(door, set()).add(self.form)
        return door


@pytest.fixture
def visitors(small_yard: Any, app: FastAPI, serve: Any, desk_of: Any) -> Iterator[dict[str, httpx.Client]]:
    """A browser of each role, signed in, and one of a household, which is not."""
    for role in ROLES:
        who = add_person(desk_of, AddPerson(key=new_key(), name=role.title(), role=role))["person_id"]
        set_password(desk_of, SetPassword(key=new_key(), who_id=who), PASSWORD)
    with serve(app) as address:
        found = {role: httpx.Client(base_url=address, timeout=60) for role in (*ROLES, "household")}
        for role in ROLES:
            came = found[role].post("/sign-in", data={"person": role.title(), "password": PASSWORD})
            assert came.status_code == 303
        yield found
        for client in found.values():
            client.close()


def test_every_page_offers_what_may_be_used_and_nothing_else(
    visitors: dict[str, httpx.Client], paths: dict[str, str], app: FastAPI
) -> None:
    """No door that would be refused; and every door that the owner sees there and that is open to them."""
    routes = [(method, route) for route in _routes(app) for method in (route.methods or ())]

    def may(role: str, door: Door) -> bool:
        method, path = door
        route = next((item for of, item in routes if of == method and item.path_regex.match(path)), None)
        assert route is not None, door
        name = f"{method} {route.path}"
        return name in OPEN or role in PERMISSIONS[name]

    closed: list[tuple[str, str, Door]] = []
    missing: list[tuple[str, str, Door]] = []
    looked = dict.fromkeys(visitors, 0)
    offered: dict[str, dict[Door, set[Door | None]]] = {}
    for role, client in visitors.items():
        for name, path in paths.items():
            own = urlsplit(path).path
            if not may(role, ("GET", own)):
                continue
            answer = client.get(path)
            assert answer.status_code == 200, (role, path)
            if not answer.headers["content-type"].startswith("text/html"):
                continue
            found = Doors(answer.text, own).found
            closed += [(role, name, door) for door in sorted(found) if not may(role, door)]
            if role == "owner":
                offered[name] = found
            elif role != "household":
                missing += [
                    (role, name, door)
                    for door, forms in sorted(offered[name].items())
                    if door not in found
                    and may(role, door)
                    # What belongs to a form goes with it.
                    and any(form is None or may(role, form) for form in forms)
                ]
            looked[role] += 1
    assert closed == [], "\n".join(map(str, closed))
    assert missing == [], "\n".join(map(str, missing))
    assert min(looked[role] for role in ROLES) > 40
    assert looked["household"] >= 2


def test_kept_pages_are_those_that_open(visitors: dict[str, httpx.Client]) -> None:
    """What a phone fetches to have it without signal, whoever is signed in on it."""
    kept = {role: visitors[role].get("/offline/keep.json").json() for role in ROLES}
    assert kept["driver"]
    assert set(kept["driver"]) < set(kept["owner"])
    for role in ROLES:
        answers = {path: visitors[role].get(path).status_code for path in kept[role]}
        assert {path for path, status in answers.items() if status != 200} == set()


@pytest.mark.browser
def test_scripts_bear_what_is_left_out(visitors: dict[str, httpx.Client], browser: Any, paths: Any) -> None:
    """Pages with scripts of their own, as a driver and a bookkeeper see them; the browser allows no service worker."""
    for role in ("driver", "bookkeeper"):
        address = str(visitors[role].base_url)
        context = browser.new_context(base_url=address, service_workers="block")
        held = [
            {"name": name, "value": value, "url": address} for name, value in visitors[role].cookies.items()
        ]
        context.add_cookies(held)
        page = context.new_page()
        errors: list[str] = []
        page.on("pageerror", lambda error, errors=errors: errors.append(str(error)))
        names = ["/tree", "/stacks/{stack_id:int}", "/weather", "/outbox"]
        if role == "bookkeeper":
            names += ["/wood-in/{load_id:int} logs", "/cutting/{sheet_id:int}", "/splitting/{sheet_id:int}"]
        for number, name in enumerate(names):
            page.goto(paths[name])
            page.wait_for_selector("html[data-outbox-ready]", state="attached")
            # Said kindly on the first page, and where somebody looks for what works without signal.
            if number == 0 or name == "/outbox":
                page.wait_for_selector("#notices .warn")
                assert "keeps no pages" in page.inner_text("#notices")
        assert errors == []
        context.close()


def test_the_map_of_places_is_for_all_and_choosing_for_the_owner(
    visitors: dict[str, httpx.Client],
) -> None:
    for role in ROLES:
        client = visitors[role]
        assert 'href="/weather/map"' in client.get("/weather").text, role
        picked = client.get("/weather/map", params={"pick": "45.9,-66.6"}).text
        assert "Error to expect of the usual weather" in picked
        assert ("Use this place" in picked) == (role == "owner"), role


DRIVER = Access(locked=True, comer=Comer(person_id=1, name="Driver", role="driver", sign_in_id=1))


@pytest.mark.parametrize(
    ("written", "left"),
    [
        (
            '<a class="button" href="/gate">Sell &amp; go</a>',
            '<a class="button" href="/gate">Sell &amp; go</a>',
        ),
        ('<div class="buttons">\n<a class="button is-main" href="/wood-in/new"><svg/>In</a>\n</div>', ""),
        ('<p>of <a href="/wood-in/3">load 3</a>.</p>', "<p>of <span>load 3</span>.</p>"),
        ('<li><a class="row" href="/wood-in/3?x=1">3</a></li>', '<li><span class="row">3</span></li>'),
        (
            '<a class="row" href="/wood-in/3"><b><svg class="icon"></svg>3</b><svg class="icon"><g></g></svg></a>',
            '<span class="row"><b><svg class="icon"></svg>3</b></span>',
        ),
        ('<nav><ol><li>‹<a href="/cutting">Cut</a></li></ol></nav>', "<nav><ol><li>‹</li></ol></nav>"),
        ('<nav><ol><li><svg class="icon"></svg><a href="/cutting">Cut</a></li></ol></nav>', ""),
        ('<p>Now: <a class="tap" href="/orders/new">ask</a></p>', "<p>Now: </p>"),
        ('<form method="post" action="/orders/1/cancel"><input name="x"><b>?</b></form><i>!</i>', "<i>!</i>"),
        ('<form action="/stacks/new"><button>Stack</button></form>', ""),
        (
            '<details><summary>More</summary><div class="inside"><p class="hint">Why.</p>'
            '<form method="post" action="/yard"></form></div></details>',
            "",
        ),
        (
            '<section><h2>It</h2><p>Stays.</p><a class="button" href="/people">P</a></section>',
            "<section><h2>It</h2><p>Stays.</p></section>",
        ),
        ('<section hx-get="/people" hx-trigger="load" id="x">1</section>', '<section id="x">1</section>'),
        ('<a href="tel:506">506</a><a href="#here">x</a>', '<a href="tel:506">506</a><a href="#here">x</a>'),
        (
            "<p>&lt;a href=&quot;/people&quot;&gt; &#39;</p>",
            "<p>&lt;a href=&quot;/people&quot;&gt; &#39;</p>",
        ),
    ],
)
def test_what_is_closed_goes_and_the_rest_stays_as_it_was(written: str, left: str) -> None:
    assert open_doors(written, DRIVER, "/") == left


def test_owners_and_open_books_get_the_page_as_it_is() -> None:
    page = '<a class="button" href="/people">P</a>'
    assert open_doors(page, Access(locked=False, comer=None), "/") is page
    owner = Comer(person_id=1, name="Owner", role="owner", sign_in_id=1)
    assert open_doors(page, Access(locked=True, comer=owner), "/") is page
