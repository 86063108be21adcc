"""Loads to choose from: the last ones are shown, every other is reached by its number or its source."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page

from rickyard.desk.context import Desk, new_key
from rickyard.desk.loads import loads
from rickyard.desk.stacks import stack_named, stacks
from rickyard.desk.wood_in import Harvest, TakeInRough, take_in_rough
from rickyard.web.load_choice import SHOWN

PIECES = {
    "kind": "stack",
    "piece_form": "split",
    "piece_length": "16",
    "thickness": "4",
    "length": "8",
    "height": "4",
    "rows": "1",
    "cover": "top",
    "exposure": "normal",
    "stacked_on": "2026-11-20",
    "bark": "on",
}


@pytest.fixture
def many_loads(desk_of: Desk, small_yard: Any) -> list[int]:
    """More loads than the form shows, all of them after those of the small yard; their numbers."""
    return [
        int(
            take_in_rough(
                desk_of,
                TakeInRough(
                    key=new_key(),
                    source=f"Cobble lane {place}",
                    harvest=Harvest(country="CA", subdivision="NB"),
                    arrived_on=date(2026, 10, 2) + timedelta(days=place),
                    quantity=4.0,
                    shares=(("white ash", 1.0),),
                ),
            )["number"]
        )
        for place in range(SHOWN)
    ]


def ticks(page: str) -> dict[int, bool]:
    """The loads that a form lists, and whether each is ticked."""
    found = re.findall(r'name="load" value="(\d+)"( checked)?', page)
    return {int(number): bool(ticked) for number, ticked in found}


def test_an_old_load_is_found_without_scripts(
    client: httpx.Client, desk_of: Desk, small_yard: Any, many_loads: list[int]
) -> None:
    old = small_yard.rough_load
    shown = ticks(client.get("/stacks/new").text)
    assert len(shown) == SHOWN
    assert old not in shown

    number = next(row.number for row in loads(desk_of) if row.id == old)
    form = PIECES | {"key": "old-load-0001", "stack_name": "Z1"}
    before = len(stacks(desk_of))
    looked = client.post("/stacks/new", data=form | {"look": "on", "load_search": "saltbox", "length": "7"})
    assert looked.status_code == 200
    assert ticks(looked.text)[old] is False
    assert 'value="7"' in looked.text
    by_number = client.post("/stacks/new", data=form | {"look": "on", "load_search": str(number)})
    assert ticks(by_number.text)[old] is True
    nothing = client.post("/stacks/new", data=form | {"look": "on", "load_search": "no such place"})
    assert nothing.status_code == 422
    assert 'id="load_search-error"' in nothing.text

    # Found, and not ticked: nobody guesses which one is meant, though another load is ticked.
    unsure = form | {"load_search": "saltbox", "load": str(min(shown)), f"share-{min(shown)}": "100"}
    refused = client.post("/stacks/new", data=unsure)
    assert refused.status_code == 422
    assert old in ticks(refused.text)
    assert len(stacks(desk_of)) == before

    # The number says which one, whatever the page showed.
    done = client.post("/stacks/new", data=form | {"load_search": str(number)})
    assert done.status_code == 303
    stack = stack_named(desk_of, "Z1")
    assert {wood.id for card in stacks(desk_of) if card.id == stack for wood, _ in card.shares} == {
        "acer_saccharum",
        "betula_alleghaniensis",
    }


def test_options_while_a_load_is_typed(
    client: httpx.Client, desk_of: Desk, small_yard: Any, many_loads: list[int]
) -> None:
    by_source = client.get("/load-options", params={"load_search": "saltbox"}).text
    assert by_source.count("<option") == 1
    assert "Saltbox woodlot" in by_source
    number = next(row.number for row in loads(desk_of) if row.id == small_yard.rough_load)
    by_number = client.get("/load-options", params={"load_search": str(number)}).text
    assert by_number.startswith(f'<option value="{number}">')
    assert client.get("/load-options", params={"load_search": " "}).text.strip() == ""


def test_an_old_load_on_the_phone(page: Page, address: str, small_yard: Any, many_loads: list[int]) -> None:
    """The found load comes into the list, ticked, and what was typed stays; Enter is not the search."""
    page.goto(f"{address}/stacks/new")
    page.locator("#stack_name").fill("Z2")
    page.get_by_text("Another load").click()
    page.locator("#load_search").fill("saltb")
    page.locator("#load-list option").wait_for(state="attached")
    number = page.locator("#load-list option").get_attribute("value")
    page.locator("#load_search").fill(str(number))
    page.get_by_role("button", name="Find it").click()
    tick = page.locator(f'input[name="load"][value="{small_yard.rough_load}"]')
    tick.wait_for()
    assert tick.is_checked()
    assert page.locator("#stack_name").input_value() == "Z2"
    page.locator("#stack_name").press("Enter")
    page.locator("#errors").wait_for()
