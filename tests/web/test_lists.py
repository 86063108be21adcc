"""The page that takes in lists: by plain HTTP, and on a phone with a real upload."""

from __future__ import annotations

import re
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect

from rickyard.desk.context import Desk, new_key
from rickyard.desk.households import SetHousehold, households, set_household
from rickyard.desk.lists.examples import example_list
from rickyard.desk.wares import wares

GOOD = "Who;Street;Town;Handset\nAlder & Söhne;1 Lane;Riverbank;506 555 0100\nBirch Fell;2 Lane;Riverbank;\n"


def sent(client: httpx.Client, path: str, content: bytes, **said: str) -> httpx.Response:
    data = {"key": "k" * 12, "list_kind": "households"} | said
    return client.post(path, data=data, files={"list_file": ("list.csv", content)})


def hidden(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found is not None
    return found[1]


def test_looked_at_matched_and_taken(client: httpx.Client, desk_of: Desk) -> None:
    before = len(households(desk_of))
    look = sent(client, "/lists/look", GOOD.encode("cp1252"))
    assert look.status_code == 200
    assert "Alder &amp; Söhne" in look.text
    assert "Not taken in:" in look.text
    seen, heads = hidden(look.text, "seen"), hidden(look.text, "heads")
    matched = {
        "heads": heads,
        "column-0": "name",
        "column-1": "address",
        "column-2": "address",
        "column-3": "phone",
    }
    # What was chosen since is another thing than what was seen: it is shown again first.
    stale = sent(client, "/lists/take", GOOD.encode("cp1252"), seen=seen, **matched)
    assert stale.status_code == 422
    assert "Nothing was written" in stale.text
    assert "Not taken in:" not in stale.text
    assert len(households(desk_of)) == before

    fresh = hidden(stale.text, "seen")
    for _ in range(2):
        taken = sent(client, "/lists/take", GOOD.encode("cp1252"), seen=fresh, **matched)
        assert (taken.status_code, taken.headers["location"]) == (303, "/households")
    assert [home.phone for home in households(desk_of, search="Söhne")] == ["506 555 0100"]
    assert len(households(desk_of)) == before + 2


def test_what_is_wrong_is_shown_and_nothing_is_taken(client: httpx.Client, desk_of: Desk) -> None:
    before = len(households(desk_of))
    bad = sent(client, "/lists/look", b"name,phone\n,1\nAlder,<b>" + b"2" * 60)
    assert bad.status_code == 422
    assert "Line 2, name: wanted a name, got nothing." in bad.text
    assert "Line 3, phone: wanted at most 40 characters, got &lt;b&gt;" in bad.text
    assert hidden(bad.text, "seen") == ""
    assert "Take in all of it" not in bad.text
    # Sent without having been looked at, it is shown first.
    unseen = sent(client, "/lists/take", GOOD.encode())
    assert "Nothing is written yet" in unseen.text
    for content, kind in ((b"", "households"), (b"PK\x03\x04rubbish", "prices"), (GOOD.encode(), "cats")):
        assert sent(client, "/lists/look", content, list_kind=kind).status_code == 422
    assert client.post("/lists/look", data={"key": "n" * 12, "list_kind": "prices"}).status_code == 422
    assert sent(client, "/lists/look", b"x" * 5_600_000).status_code == 413
    assert len(households(desk_of)) == before


def test_the_examples_are_given(client: httpx.Client) -> None:
    for kind in ("households", "stock", "prices"):
        for ending in ("csv", "xlsx"):
            answer = client.get(f"/lists/example/{kind}.{ending}")
            assert f'filename="rickyard-{kind}.{ending}"' in answer.headers["content-disposition"]
            look = sent(client, "/lists/look", answer.content, list_kind=kind)
            assert (look.status_code, "Take in all of it" in look.text) == (200, True), (kind, ending)
    assert client.get("/lists/example/cats.csv").status_code == 404
    assert client.get("/lists/example/stock.xls").status_code == 404


@pytest.mark.browser
def test_a_price_list_on_the_phone(page: Page, desk_of: Desk) -> None:
    page.goto("/lists?kind=prices")
    file: Any = {
        "name": "prices.xlsx",
        "mimeType": "application/octet-stream",
        "buffer": example_list("prices", "xlsx", "en_CA"),
    }
    page.get_by_label("The list (CSV or XLSX)").set_input_files(file)
    page.get_by_role("button", name="Look at it").tap()
    take = page.get_by_role("button", name="Take in all of it")
    expect(take).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    expect(page.locator("#looked")).to_contain_text("Sold at or below: 20.0% wet")

    # A column is taken for something else: looked at again, the file is still in its place.
    page.get_by_text("Columns, as they are understood").tap()
    page.get_by_label("kinds of wood").select_option("")
    page.get_by_role("button", name="Look again").tap()
    expect(page.locator("#looked")).to_contain_text("Not taken in: kinds of wood")
    expect(page.locator("#looked")).to_contain_text("any wood")
    take.tap()
    page.wait_for_url(re.compile(r"/wares$"))
    expect(page.get_by_role("status").last).to_contain_text("The list is taken in")
    assert "Dry hardwood, 16 in (example)" in [ware.name for ware in wares(desk_of)]


@pytest.mark.browser
def test_a_book_that_changed_on_the_phone(page: Page, desk_of: Desk) -> None:
    page.goto("/lists")
    file: Any = {"name": "c.csv", "mimeType": "text/csv", "buffer": GOOD.encode("utf-16")}
    page.get_by_label("The list (CSV or XLSX)").set_input_files(file)
    page.get_by_role("button", name="Look at it").tap()
    take = page.get_by_role("button", name="Take in all of it")
    expect(take).to_be_visible()
    set_household(desk_of, SetHousehold(key=new_key(), name="Birch Fell", address="2 Lane, Riverbank"))
    take.tap()
    expect(page.locator("[data-errors]")).to_contain_text("a book that has changed since")
    take.tap()
    page.wait_for_url(re.compile(r"/households$"))
    assert len(households(desk_of, search="Birch Fell")) == 1
