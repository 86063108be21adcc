"""Name the tree on a phone: by taps, with doubt, undone, without signal, and into the book."""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from rickyard.desk.context import Desk
from rickyard.desk.wood_in import loads
from rickyard.identify import REGIONS, the_key
from rickyard.web.regions import REGIONS as PLACES
from rickyard.web.screens.tree import region_of

pytestmark = pytest.mark.browser


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"web_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


offline, browser_tests = _beside("test_offline"), _beside("test_browser")


def begin(page: Page, *situations: str) -> None:
    page.goto("/tree", timeout=30_000)  # on a busy machine the first page of an application takes its time
    page.locator("html[data-tree-ready]").wait_for()
    for name in situations:
        page.locator(".choice", has=page.locator(f"[name=situation][value={name}]")).tap()


def card(page: Page, character: str) -> Any:
    return page.locator(f"[data-character={character}]")


def tap_state(page: Page, character: str, state: str) -> None:
    """Opens the question if it is closed, and answers it."""
    if card(page, character).get_attribute("open") is None:
        card(page, character).locator("summary").tap()
    card(page, character).locator(f"[data-state={state}]").tap()


def asked(page: Page) -> list[str]:
    return [
        str(name)
        for name in page.locator("[data-character]").evaluate_all(
            "all => all.map(one => one.dataset.character)"
        )
    ]


def name_osage_orange(page: Page) -> None:
    """Answers what is asked as the table would of an osage-orange, until it is named."""
    key = the_key()
    for _ in range(8):
        if page.get_by_role("link", name="A load of it comes in").count():
            return
        name = asked(page)[0]
        states = key.characters[key.at[name]].states
        tap_state(page, name, states[int(key.p[key.species_at["mapo"], key.span[name]].argmax())])


def test_three_looks_for_what_is_at_hand(page: Page) -> None:
    key = the_key()
    begin(page, "log")

    assert len(asked(page)) == 3
    assert all("c" in key.characters[key.at[name]].situations for name in asked(page))
    page.locator(".choice", has=page.locator("[name=situation][value=lens]")).tap()
    page.locator(".choice", has=page.locator("[name=situation][value=log]")).tap()
    assert asked(page) == ["porosity", "rays", "late_pores"]


def test_answers_doubts_cannot_see_and_undo(page: Page) -> None:
    begin(page, "leaf")
    first = asked(page)[0]
    assert first == "fruit"
    tap_state(page, "fruit", "green_ball")
    verdict = page.locator("#tree-verdict")
    expect(verdict).to_contain_text("osage-orange")
    sure = page.locator("#tree-ranking .odds-words").first.inner_text()
    expect(page.locator("#tree-said li")).to_have_count(1)

    page.locator("#tree-said").get_by_role("button", name="Change").tap()
    card(page, "fruit").get_by_role("button", name="I am sure").tap()
    card(page, "fruit").get_by_role("button", name="Not quite sure").tap()
    card(page, "fruit").get_by_role("button", name="Done").tap()
    expect(page.locator("#tree-said")).to_contain_text("A guess")
    assert page.locator("#tree-ranking .odds-words").first.inner_text() != sure

    page.get_by_role("button", name="Undo").tap()
    assert page.locator("#tree-ranking .odds-words").first.inner_text() == sure
    unseen = asked(page)[0]
    before = page.locator("#tree-ranking").inner_text()
    card(page, unseen).get_by_role("button", name="Can't see it").tap()
    assert unseen not in asked(page)
    assert page.locator("#tree-ranking").inner_text() == before
    page.get_by_role("button", name="Take back").tap()
    expect(page.locator("#tree-said li")).to_have_count(0)


def test_either_of_several(page: Page) -> None:
    begin(page, "leaf")
    card(page, "fruit").get_by_role("button", name="Either of several").tap()
    for state in ("acorn", "nut_husk"):
        tap_state(page, "fruit", state)
    card(page, "fruit").get_by_role("button", name="Done").tap()

    expect(page.locator("#tree-said")).to_contain_text("acorn or nut in a husk")


def test_why_a_tree_is_in_and_what_contradicts(page: Page) -> None:
    begin(page, "leaf", "lens")
    tap_state(page, "fruit", "acorn")
    page.locator("#tree-ranking summary").first.tap()
    expect(page.locator("#tree-ranking details").first).to_contain_text("acorn: speaks for it")

    for box in ("leaf", "lens", "split"):
        page.locator(".choice", has=page.locator(f"[name=situation][value={box}]")).tap()
    tap_state(page, "porosity", "no_pores")
    expect(page.locator("#tree-verdict")).to_contain_text("fit no tree together")
    page.locator("#tree-verdict").get_by_role("button", name="Change").first.tap()
    assert len(asked(page)) == 1


def test_it_is_accessible_in_use(page: Page) -> None:
    """Answered, opened, with drawings: no violation, large targets, nothing sticks out."""
    begin(page, "leaf")
    tap_state(page, "fruit", "acorn")
    page.locator("#tree-ranking summary").first.tap()

    assert browser_tests.axe(page) == []
    assert page.evaluate(browser_tests.SMALL_TARGETS) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_drawings_are_shown_and_load(page: Page) -> None:
    begin(page, "leaf")
    tap_state(page, "fruit", "acorn")
    for one in page.locator("[data-character] > summary").all()[1:]:
        one.tap()
    pictures = page.locator(".tree-state img")
    assert pictures.count() > 5

    for picture in pictures.all():
        picture.scroll_into_view_if_needed()
        assert picture.evaluate("one => one.decode().then(() => one.naturalWidth > 0)")
        assert len(picture.get_attribute("alt") or "") > 8


@pytest.fixture
def yard(browser: Browser, road: Any) -> Iterator[BrowserContext]:
    context = offline.phone_on(browser, road)
    yield context
    context.close()


def test_a_log_is_named_without_signal_and_its_load_comes_into_the_book(
    yard: BrowserContext, road: Any, desk_of: Desk
) -> None:
    page = offline.visited(yard)
    road.state = "closed"
    begin(page, "leaf", "log")
    name_osage_orange(page)
    expect(page.locator("#tree-verdict h2")).to_contain_text("osage-orange")
    page.get_by_role("link", name="A load of it comes in").tap()
    page.locator("html[data-outbox-ready]").wait_for()
    expect(page.locator("[name=wood]")).to_have_value("osage-orange")
    page.fill("[name=quantity]", "2 cords")
    page.fill("[name=source]", "Saltbox hedge")
    page.fill("[name=arrived_on]", "2026-11-20")
    offline.take_in(page)
    road.state = "open"
    offline.try_now(page)
    offline.settle(page)

    (load,) = [row for row in loads(desk_of) if row.source == "Saltbox hedge"]
    assert [species.id for species, _ in load.shares] == ["maclura_pomifera"]


def test_an_unnamed_load_is_offered_what_the_key_said(page: Page, small_yard: Any) -> None:
    begin(page, "leaf")
    name_osage_orange(page)
    page.goto(f"/wood-in/{small_yard.logs_load}")
    page.get_by_role("button", name="The key says: osage-orange").tap()

    expect(page.locator("#now")).to_have_value("osage-orange")
    page.get_by_role("button", name="Name it").tap()
    expect(page.get_by_role("status").first).to_contain_text("The wood is named")


def test_every_yard_has_a_region(client: httpx.Client) -> None:
    """States and provinces where trees are felled for firewood are counted to a region of the key."""
    none = {place.code for place in PLACES if not region_of(*place.code.split("-"))}

    assert none <= {"CA-NT", "CA-NU", "CA-YT", "US-HI", "US-PR"}
    assert {region_of(*place.code.split("-")) for place in PLACES} - {""} == set(REGIONS)
    assert re.search(r'<option value="NE" selected', client.get("/tree").text)
