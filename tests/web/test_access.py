"""Who may come in: the table of permissions walked route by route, signing in, links of households."""

from __future__ import annotations

import ast
import asyncio
import re
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from rickyard.desk.access import LASTS, MOST_WRONG, SetPassword, SetRole, set_password, set_role
from rickyard.desk.context import Desk, new_key
from rickyard.desk.housekeeping import open_book
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.yards import open_desk
from rickyard.web import permissions
from rickyard.web.app import create_app
from rickyard.web.names import NAMES
from rickyard.web.offline import _routes
from rickyard.web.permissions import OPEN, PERMISSIONS
from rickyard.web.screens.sign_in import own_path

PASSWORD = "larch and heron by the gate"
ROLES = ("owner", "helper", "driver", "bookkeeper")


def routes_of(app: FastAPI) -> list[tuple[str, str]]:
    return [(method, route.path) for route in _routes(app) for method in sorted(route.methods or ())]


class Hand:
    """A clock that the test moves by hand."""

    def __init__(self, began: datetime) -> None:
        self.moment = began

    def __call__(self) -> datetime:
        return self.moment

    def move(self, by: timedelta) -> None:
        self.moment += by


@pytest.fixture
def clock_of(now: Callable[[], datetime]) -> Hand:
    return Hand(now())


@pytest.fixture
def app_client(small_yard: Any, clock_of: Hand, serve: Any) -> Iterator[httpx.Client]:
    """The small yard, which nobody has locked."""
    app = create_app(str(small_yard.target), worker=False, clock=clock_of)
    with serve(app) as address, httpx.Client(base_url=address, timeout=30) as client:
        yield client


@pytest.fixture(scope="session")
def locked_file(small_yard_file: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small yard with one person of each role, all with the same password: hashing is slow by design."""
    file = tmp_path_factory.mktemp("locked") / "book.sqlite"
    shutil.copy(small_yard_file.target, file)
    book = open_book(str(file))
    desk = open_desk(book)
    assert desk is not None
    for role in ROLES:
        who = add_person(desk, AddPerson(key=new_key(), name=role.title(), role=role))["person_id"]
        set_password(desk, SetPassword(key=new_key(), who_id=who), PASSWORD)
    book.close()
    return file


@pytest.fixture
def locked(locked_file: Path, small_yard: Any, desk_of: Desk) -> Desk:
    """The desk of a locked copy of the small yard, in its own place."""
    desk_of.book.close()
    shutil.copy(locked_file, small_yard.target)
    return desk_of


@pytest.fixture
def gate(locked: Desk, app_client: httpx.Client) -> httpx.Client:
    """The locked yard, with nobody signed in."""
    return app_client


def sign_in(client: httpx.Client, name: str, password: str = PASSWORD, **more: str) -> httpx.Response:
    return client.post("/sign-in", data={"person": name, "password": password, **more})


def address_of(path: str) -> str:
    """A path with numbers and names put in: there need not be such a thing."""
    return re.sub(r"\{[^}]*\}", "999999", path)


def test_every_route_stands_in_the_table(app: FastAPI) -> None:
    """No route is left out, and the table speaks of none that is gone."""
    assert {f"{method} {path}" for method, path in routes_of(app)} == set(PERMISSIONS) | OPEN


def test_every_route_for_every_role(gate: httpx.Client, app: FastAPI) -> None:
    """Each route answers 403 to exactly the roles that the table leaves out, 401 or the sign-in to nobody."""
    walked = 0
    for role in (None, *ROLES):
        gate.cookies.clear()
        if role:
            assert sign_in(gate, role).status_code == 303
        cookies = dict(gate.cookies)
        for method, path in routes_of(app):
            if path in ("/sign-in", "/sign-out"):
                continue
            gate.cookies.clear()
            gate.cookies.update(cookies)
            answer = gate.request(method, address_of(path))
            name = f"{method} {path}"
            refused = answer.status_code in (401, 403) or answer.headers.get("location", "").startswith(
                "/sign-in"
            )
            allowed = name in OPEN or (role is not None and role in PERMISSIONS[name])
            assert refused is not allowed, (role, name, answer.status_code)
            if role is None and not allowed and path.startswith("/api/"):
                assert answer.json()["error"]["code"] == "sign_in"
            if role is not None and not allowed:
                assert answer.status_code == 403, (role, name)
            assert answer.status_code < 500, (role, name)
            walked += 1
    assert walked > 5 * 150


def asked_from(app: FastAPI, address: str, path: str, method: str = "GET", **more: Any) -> httpx.Response:
    """One request as it would come from another machine."""

    async def ask() -> httpx.Response:
        transport = httpx.ASGITransport(app, client=(address, 5))
        async with httpx.AsyncClient(transport=transport, base_url="https://127.0.0.1") as client:
            return await client.request(method, path, **more)

    # In a thread, for the driver of the browser keeps this one's event loop to itself.
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(lambda: asyncio.run(ask())).result()


def test_an_open_book_asks_nobody_here_and_answers_nobody_from_elsewhere(app: FastAPI) -> None:
    assert asked_from(app, "127.0.0.1", "/people").status_code == 200
    assert asked_from(app, "::1", "/people").status_code == 200
    answer = asked_from(app, "192.168.1.20", "/api/stacks")
    assert (answer.status_code, answer.json()["error"]["code"]) == (403, "no_owner_password")
    assert asked_from(app, "192.168.1.20", "/health").status_code == 200


def test_signing_in_leads_on_and_out_again(gate: httpx.Client) -> None:
    asked = gate.get("/orders?state=promised")
    assert asked.headers["location"] == "/sign-in?next=%2Forders%3Fstate%3Dpromised"
    page = gate.get(asked.headers["location"])
    assert 'value="/orders?state=promised"' in page.text
    came = sign_in(gate, "owner", next="/orders?state=promised")
    assert (came.status_code, came.headers["location"]) == (303, "/orders?state=promised")
    session = next(line for line in came.headers.get_list("set-cookie") if line.startswith("session="))
    assert "HttpOnly" in session
    assert "SameSite=lax" in session
    assert gate.get("/orders").status_code == 200
    assert "Owner" in gate.get("/who").text
    old = dict(gate.cookies)
    assert gate.post("/sign-out").headers["location"] == "/sign-in?out=1"
    gate.cookies.update(old)
    assert gate.get("/orders").status_code == 303


def test_a_cookie_is_for_https_only_over_https(locked: Desk, app: FastAPI) -> None:
    came = asked_from(app, "192.168.1.20", "/sign-in", "POST", data={"person": "owner", "password": PASSWORD})
    cookies = came.headers.get_list("set-cookie")
    assert len(cookies) == 2
    assert all("Secure" in line for line in cookies)


@pytest.mark.parametrize(
    "typed", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "%2F%2Fx", "x", ""]
)
def test_nobody_is_led_elsewhere(typed: str) -> None:
    assert own_path(typed) == "/"
    assert own_path("/orders?state=asked") == "/orders?state=asked"


def test_wrong_ones_are_borne_a_few_times(gate: httpx.Client, clock_of: Hand) -> None:
    """The name that nobody has and the wrong password are answered alike; then it is time to wait."""
    first = sign_in(gate, "owner", "wrong wrong wrong")
    nobody = sign_in(gate, "no such person", "wrong wrong wrong")
    assert (first.status_code, nobody.status_code) == (422, 422)
    words = "Name and password do not belong together"
    assert words in first.text
    assert words in nobody.text
    assert "wrong wrong wrong" not in first.text
    for _ in range(MOST_WRONG["pair"] - 1):
        sign_in(gate, "owner", "wrong wrong wrong")
    assert "Too many wrong sign-ins" in sign_in(gate, "owner").text
    assert sign_in(gate, "helper").status_code == 303
    clock_of.move(timedelta(minutes=16))
    assert sign_in(gate, "owner").status_code == 303


def test_a_sign_in_ends_unused_and_at_the_owner_s_word(gate: httpx.Client, clock_of: Hand) -> None:
    sign_in(gate, "helper")
    clock_of.move(LASTS - timedelta(days=1))
    assert gate.get("/stacks").status_code == 200
    clock_of.move(LASTS - timedelta(days=1))
    assert gate.get("/stacks").status_code == 200
    clock_of.move(LASTS + timedelta(days=1))
    assert gate.get("/stacks").status_code == 303

    sign_in(gate, "helper")
    helper = dict(gate.cookies)
    gate.cookies.clear()
    sign_in(gate, "owner")
    page = gate.get("/people").text
    ends = re.findall(r"/people/sign-ins/(\d+)/end", page)
    assert len(ends) == 2
    for number in ends:
        gate.post(f"/people/sign-ins/{number}/end", data={"key": new_key()})
    gate.cookies.clear()
    gate.cookies.update(helper)
    assert gate.get("/stacks").status_code == 303


def test_another_password_ends_all_sign_ins(gate: httpx.Client, locked: Desk) -> None:
    sign_in(gate, "driver")
    driver = int(gate.cookies["who"])
    set_password(locked, SetPassword(key=new_key(), who_id=driver), "quite another row of words")
    assert gate.get("/tickets").status_code == 303
    assert sign_in(gate, "driver").status_code == 422
    assert sign_in(gate, "driver", "quite another row of words").status_code == 303


def test_the_last_owner_stays(gate: httpx.Client, locked: Desk) -> None:
    sign_in(gate, "owner")
    owner = int(gate.cookies["who"])
    for path, form in (("role", {"role": "helper"}), ("lock-out", {})):
        answer = gate.post(f"/people/{owner}/{path}", data={"key": new_key(), **form})
        assert answer.status_code == 422
        assert "only owner with a password" in answer.text
    helper = next(row for row in gate.get("/api/people").json() if row["name"] == "Helper")["id"]
    set_role(locked, SetRole(key=new_key(), who_id=helper, role="owner"))
    assert gate.post(f"/people/{owner}/lock-out", data={"key": new_key()}).status_code == 303
    assert gate.get("/people").status_code == 303


def test_the_first_password_is_an_owner_s(small_yard: Any, desk_of: Desk, app_client: httpx.Client) -> None:
    who = add_person(desk_of, AddPerson(key=new_key(), name="Ann"))["person_id"]
    short = app_client.post(f"/people/{who}/password", data={"key": new_key(), "password": "short"})
    assert short.status_code == 422
    assert "10 to 200 characters" in short.text
    helper = app_client.post(f"/people/{who}/password", data={"key": new_key(), "password": PASSWORD})
    assert helper.status_code == 422
    assert "Make Ann an owner" in helper.text
    app_client.post(f"/people/{who}/role", data={"key": new_key(), "role": "owner"})
    same = app_client.post(f"/people/{who}/password", data={"key": new_key(), "password": PASSWORD})
    assert same.status_code == 303
    assert app_client.get("/people").status_code == 303


def test_what_is_done_stands_under_whoever_is_signed_in(gate: httpx.Client, locked: Desk) -> None:
    """A body that names another person does not make them the doer; the owner's list shows who it was."""
    sign_in(gate, "helper")
    helper = int(gate.cookies["who"])
    stack = gate.get("/api/stacks").json()[0]["id"]
    body = {
        "key": new_key(),
        "stack_id": stack,
        "kind": "meter",
        "value": 17.0,
        "happened_on": "2026-11-24",
        "person_id": helper - 1,
    }
    assert gate.post("/api/deeds/add-reading", json=body).status_code == 200
    gate.cookies.clear()
    sign_in(gate, "owner")
    page = gate.get("/people/deeds").text
    assert "a moisture reading" in page
    first = page[page.index('<ul class="rows">') :].split("</li>")[0]
    assert "Helper" in first
    assert "a moisture reading" in first


def test_a_household_sees_its_own_and_nothing_else(gate: httpx.Client, small_yard: Any) -> None:
    sign_in(gate, "owner")
    homes = gate.get("/api/households").json()
    bought = next(card for card in gate.get("/api/tickets").json() if card["household_id"])
    home = bought["household_id"]
    page = gate.post(f"/households/{home}/link", data={"key": new_key()}).text
    address = re.search(r"/h/[\w-]{32,}", page)
    assert address is not None
    other = next(item for item in homes if item["id"] != home)
    elsewhere = re.search(
        r"/h/[\w-]{32,}", gate.post(f"/households/{other['id']}/link", data={"key": new_key()}).text
    )
    assert elsewhere is not None
    gate.cookies.clear()

    own = gate.get(address[0])
    assert own.status_code == 200
    assert own.headers["referrer-policy"] == "no-referrer"
    assert "noindex" in own.headers["x-robots-tag"]
    name = next(item["name"] for item in homes if item["id"] == home)
    assert name in own.text
    assert other["name"] not in own.text
    assert "/orders" not in own.text
    assert 'href="/stacks"' not in own.text
    assert gate.get(f"{address[0]}/tickets/{bought['id']}.pdf").content.startswith(b"%PDF")
    assert gate.get(f"{elsewhere[0]}/tickets/{bought['id']}.pdf").status_code == 404
    assert gate.get("/h/" + "x" * 32).status_code == 404

    sign_in(gate, "owner")
    number = re.search(r"/link/(\d+)/end", gate.get(f"/households/{home}").text)
    assert number is not None
    gate.post(f"/households/{home}/link/{number[1]}/end", data={"key": new_key()})
    gate.cookies.clear()
    assert gate.get(address[0]).status_code == 404


def test_no_secret_is_kept(gate: httpx.Client, locked: Desk, small_yard: Any) -> None:
    """Neither a password nor what a browser holds stands anywhere in the book's file."""
    sign_in(gate, "owner")
    home = gate.get("/api/households").json()[0]["id"]
    link = re.search(r"/h/([\w-]{32,})", gate.post(f"/households/{home}/link", data={"key": new_key()}).text)
    assert link is not None
    kept = b"".join(
        path.read_bytes() for path in Path(small_yard.target).parent.glob("*.sqlite*") if path.is_file()
    )
    for secret in (PASSWORD, gate.cookies["session"], link[1]):
        assert secret.encode() not in kept


def test_every_deed_has_words() -> None:
    """Whatever a deed is called in the book, the owner's list can say it."""
    kinds: set[str] = set()
    for path in (Path(permissions.__file__).parents[1] / "desk").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "do":
                kinds |= {arg.value for arg in node.args[1:2] if isinstance(arg, ast.Constant)}
    assert kinds
    assert kinds <= set(NAMES["deed"])
