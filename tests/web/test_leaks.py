"""Requests of every kind, made from the OpenAPI document, by nobody, by each role and by households' own links.

Every answer is looked through: no 5xx; 401 or 403 to whom the table of permissions leaves out; and none of the words
that were planted in what a visitor may not see. `make prove-api` does the same with many more requests.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

import httpx
import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings

from rickyard.desk.access import SetPassword, set_password
from rickyard.desk.context import new_key
from rickyard.desk.deliveries import Deliver, deliver
from rickyard.desk.household_links import MakeLink, make_link
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.housekeeping import open_book
from rickyard.desk.offers import NoteOffer, OfferFacts, note_offer
from rickyard.desk.orders import PlaceOrder, place_order
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import open_desk
from rickyard.web.offline import _routes
from rickyard.web.permissions import OPEN, PERMISSIONS

EXAMPLES = int(os.environ.get("RICKYARD_FUZZ", "2"))
PASSWORD = "larch and heron by the gate"
ROLES = ("helper", "driver", "bookkeeper", "owner")
# Words that stand nowhere else, planted in the data of each household and in an offer.
HOMES = ("Zwirbelquist", "Yttermolk")
OFFERED = "Xanthobrook"
# What may not be in any answer to a visitor. A helper sees neither households nor prices, a driver no offers.
HIDDEN: dict[str | None, tuple[str, ...]] = {
    None: (*HOMES, OFFERED),
    "helper": (*HOMES, OFFERED),
    "driver": (OFFERED,),
    "bookkeeper": (),
    "owner": (),
}


class Planted:
    """The yard with two households of planted words, both with an order delivered and one waiting."""

    def __init__(self, target: str, clock: Callable[[], datetime], yard: Any) -> None:
        book = open_book(target)
        desk = open_desk(book, clock)
        assert desk is not None
        for role in ROLES[::-1]:
            who = add_person(desk, AddPerson(key=new_key(), name=role.title(), role=role))["person_id"]
            set_password(desk, SetPassword(key=new_key(), who_id=who), PASSWORD)
        self.homes, self.links, self.tickets = [], [], []
        for word in HOMES:
            told = SetHousehold(
                key=new_key(), name=f"{word} Home", address=f"1 {word} Lane", phone="506-555-0101", note=word
            )
            self.homes.append(int(set_household(desk, told)["household_id"]))
            self.links.append(make_link(desk, MakeLink(key=new_key(), household_id=self.homes[-1]))[1])
            placed = [
                PlaceOrder(
                    key=new_key(),
                    household_id=self.homes[-1],
                    ware_id=yard.ware,
                    ranked_m3=0.5,
                    wanted_by=clock().date(),
                    typed=f"half of {word}",
                    note=f"behind the {word} barn",
                    portions=((yard.dry, 0.5),) if now else (),
                    despite_odds=True,
                )
                for now in (True, False)
            ]
            first, _ = (int(place_order(desk, told)["order_id"]) for told in placed)
            sold = Deliver(key=new_key(), order_id=first, delivered_on=clock().date(), driver="Somebody")
            self.tickets.append(int(deliver(desk, sold)["ticket_id"]))
        facts = OfferFacts(
            source=f"{OFFERED} lot",
            harvest=Harvest(country="CA", subdivision="NB"),
            offered_on=clock().date(),
            quantity=8.0,
            shares=(("sugar maple", 1.0),),
            asked_minor=5000,
            note=OFFERED,
        )
        note_offer(desk, NoteOffer(key=new_key(), facts=facts))
        book.close()


@pytest.fixture
def planted(small_yard: Any, now: Callable[[], datetime], make_forecasts: Callable[[], None]) -> Planted:
    made = Planted(str(small_yard.target), now, small_yard)
    make_forecasts()
    return made


@pytest.fixture
def doors(
    planted: Planted, app: FastAPI, serve: Any
) -> Iterator[tuple[str, dict[str | None, dict[str, str]]]]:
    """The application's address, and of nobody and each role the cookies of a sign-in."""
    with serve(app) as address:
        cookies: dict[str | None, dict[str, str]] = {None: {}}
        for role in ROLES:
            with httpx.Client(base_url=address, timeout=30) as client:
                came = client.post("/sign-in", data={"person": role.title(), "password": PASSWORD})
                assert came.status_code == 303
                cookies[role] = dict(client.cookies)
        yield address, cookies


def shown(answer: httpx.Response, words: tuple[str, ...]) -> list[str]:
    text = answer.text.casefold()
    return [word for word in words if word.casefold() in text]


def routes_by_name(app: FastAPI) -> set[str]:
    return {f"{method} {route.path}" for route in _routes(app) for method in (route.methods or ())}


def test_no_page_shows_what_a_role_may_not_see(
    doors: tuple[str, dict[str | None, dict[str, str]]],
    planted: Planted,
    paths: dict[str, str],
    small_yard: Any,
    app: FastAPI,
) -> None:
    """Every page and every view of the API, with ids of what is really there."""
    address, cookies = doors
    asked = {route: {path} for route, path in paths.items()}
    for ids, route in (
        (planted.homes, "/households/{household_id:int}"),
        (planted.tickets, "/tickets/{ticket_id:int}"),
        (planted.tickets, "/tickets/{ticket_id:int}.pdf"),
        (range(1, 8), "/orders/{order_id:int}"),
        (range(1, 8), "/offers/{offer_id:int}"),
    ):
        path = route.split("{")[0]
        asked[route] = {f"{path}{number}{'.pdf' if route.endswith('.pdf') else ''}" for number in ids}
    for name in routes_by_name(app):
        method, route = name.split()
        if method == "GET" and route.startswith("/api/") and name in PERMISSIONS:
            kinds = range(1, 3) if "{" in route else (0,)
            asked[route] = {
                "/".join(str(number) if part.startswith("{") else part for part in route.split("/"))
                for number in kinds
            }
    seen: dict[str | None, set[str]] = {role: set() for role in cookies}
    leaks: list[tuple[str | None, str, str]] = []
    looked = 0
    for role, its in cookies.items():
        with httpx.Client(base_url=address, cookies=its, timeout=60) as client:
            for route, addresses in asked.items():
                name = f"GET {route.split()[0]}"
                if name in OPEN:
                    continue
                for path in addresses:
                    answer = client.get(path)
                    assert answer.status_code < 500, (role, path)
                    if name in PERMISSIONS and role not in PERMISSIONS[name]:
                        away = answer.headers.get("location", "").startswith("/sign-in")
                        assert answer.status_code in (401, 403) or away, (role, path)
                    leaks += [(role, path, word) for word in shown(answer, HIDDEN[role])]
                    seen[role].update(shown(answer, (*HOMES, OFFERED)))
                    looked += 1
    assert leaks == []
    # The words are where they should be, so that looking for them can fail.
    assert seen["owner"] == seen["bookkeeper"] == {*HOMES, OFFERED}
    assert seen["driver"] == set(HOMES)
    assert looked > 5 * 130


def test_a_link_of_a_household_shows_its_own_and_nothing_of_another(
    doors: tuple[str, dict[str | None, dict[str, str]]], planted: Planted
) -> None:
    address, _ = doors
    with httpx.Client(base_url=address, timeout=30) as client:
        for place, link in enumerate(planted.links):
            own, other = HOMES[place], HOMES[1 - place]
            page = client.get(f"/h/{link}")
            assert page.status_code == 200
            assert own in page.text
            assert shown(page, (other, OFFERED)) == []
            for number in range(1, 2 + max(planted.tickets)):
                paper = client.get(f"/h/{link}/tickets/{number}.pdf")
                assert (paper.status_code == 200) == (number == planted.tickets[place]), number
                assert shown(paper, (other, OFFERED)) == []
            # The link opens nothing else, and is no sign-in.
            for path in ("/orders", "/households", f"/households/{planted.homes[place]}", "/api/orders", "/"):
                assert client.get(path).status_code in (303, 401)
                assert shown(client.get(path), (*HOMES, OFFERED)) == []


@pytest.mark.slow
def test_made_up_requests_leak_nothing(
    doors: tuple[str, dict[str | None, dict[str, str]]], app: FastAPI
) -> None:
    """Each request is sent by nobody, by each role, and last by the owner."""
    address, cookies = doors
    headers = {
        role: {"Cookie": "; ".join(f"{name}={value}" for name, value in its.items())}
        for role, its in cookies.items()
    }
    schema = schemathesis.openapi.from_url(f"{address}/api/openapi.json", headers=headers["owner"])
    few = settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    asked: dict[str | None, int] = dict.fromkeys(headers, 0)
    for operation in (result.ok() for result in schema.get_all_operations()):
        if operation.label in OPEN:
            continue

        def ask(case: schemathesis.Case) -> None:
            name = case.operation.label
            # Numbers of what is there, for numbers that are made up hardly ever are.
            for part, value in (case.path_parameters or {}).items():
                if isinstance(value, int):
                    case.path_parameters[part] = 1 + value % 4
            for role, its in headers.items():
                answer = case.call(headers=its)
                where = (role, name, answer.status_code)
                assert answer.status_code < 500, where
                if role is None or role not in PERMISSIONS[name]:
                    assert answer.status_code == (401 if role is None else 403), where
                body = answer.content.decode(errors="replace").casefold()
                assert [word for word in HIDDEN[role] if word.casefold() in body] == [], where
                asked[role] += 1

        few(given(case=operation.as_strategy())(ask))()
    assert min(asked.values()) > 60
