"""Sheets of trees and comparisons on a phone: every tree from one kept table, without signal, and on paper."""

from __future__ import annotations

import importlib.util
import io
import random
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect
from pypdf import PdfReader

from rickyard.identify import differences, the_key
from rickyard.web.assets import Assets

pytestmark = pytest.mark.browser

WITHIN = 1e-9
MOST_BYTES = 450_000
MOST_SENT = 110_000


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"web_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


offline, browser_tests, naming = _beside("test_offline"), _beside("test_browser"), _beside("test_tree")
DIFFERENCES = """async ([script, table, asked]) => {
  const { differences } = await import(script);
  const key = await (await fetch(table)).json();
  return asked.map((trees) => differences(key, trees));
}"""


def show(page: Page, path: str) -> None:
    page.goto(path, timeout=30_000)
    page.locator("html[data-species-ready]").wait_for()


def test_the_table_is_small_and_holds_every_tree(client: httpx.Client) -> None:
    answer = client.get("/species/table.json")
    table = answer.json()

    assert {sheet[0] for sheet in table["sheets"]} == {tree.id for tree in the_key().species}
    assert len(answer.content) < MOST_BYTES
    assert int(answer.headers["content-length"]) < MOST_SENT
    assert answer.headers["content-encoding"] == "gzip"


def test_the_phone_separates_trees_as_the_key_does(page: Page) -> None:
    """300 random pairs and triples: the same characters, in the same order, with the same bits."""
    key = the_key()
    dice = random.Random(20_262)
    asked = [dice.sample(range(len(key.species)), dice.choice((2, 3))) for _ in range(300)]
    assets = Assets()
    page.goto("/offline", timeout=30_000)
    found = page.evaluate(
        DIFFERENCES, [assets.url("js/species/compare.js"), assets.url("tables/identify.json"), asked]
    )

    for trees, theirs in zip(asked, found, strict=True):
        ours = differences(key, [key.species[tree].key_id for tree in trees])
        assert [key.at[one.character.id] for one in ours] == [one["character"] for one in theirs]
        for one, other in zip(ours, theirs, strict=True):
            assert abs(one.gain_bits - other["bits"]) < WITHIN
    assert sum(len(one) for one in found) > 3_000


def test_a_sheet_tells_how_to_know_it_and_what_it_is_worth(page: Page) -> None:
    show(page, "/species/robinia_pseudoacacia")

    expect(page.locator("h1")).to_have_text("black locust")
    assert page.title() == "black locust · Rickyard"
    expect(page.locator("#part-leaf")).to_contain_text("leaflets along a stalk")
    expect(page.locator("#part-heat")).to_contain_text("million Btu")
    expect(page.locator("#part-drying")).to_contain_text("of dry mass")
    expect(page.locator(".species-dry li")).to_have_count(12)
    expect(page.locator(".species-dries")).to_contain_text("Worked out on")
    expect(page.locator("#part-lasting")).to_contain_text("more than 30 years")
    picture = page.locator("#part-leaf img").first
    assert picture.evaluate("one => one.decode().then(() => one.naturalWidth > 0)")
    page.locator("#sources summary").tap()
    expect(page.locator("#sources")).to_contain_text("Michigan Trees")
    page.locator("#part-log summary").tap()
    assert browser_tests.axe(page) == []
    assert page.evaluate(browser_tests.SMALL_TARGETS) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_trees_are_chosen_from_the_list_and_compared(page: Page) -> None:
    page.goto("/species", timeout=30_000)
    page.locator("#species-find-field").wait_for()
    assert browser_tests.axe(page) == []
    assert page.evaluate(browser_tests.SMALL_TARGETS) == []
    for name in ("black locust", "honeylocust"):
        page.fill("#species-find", name)
        page.locator(".species-list li:visible .species-tick").tap()
    page.get_by_role("button", name="Compare two or three").tap()
    page.locator("html[data-species-ready]").wait_for()

    expect(page.locator("h1")).to_have_text("Comparing black locust / honeylocust")
    expect(page.locator(".species-pair").first).to_contain_text("8-18 in, twisted")
    expect(page.locator("main")).to_contain_text("Both glow under ultraviolet")
    expect(page.locator("main")).to_contain_text("Heat of a cord")
    assert browser_tests.axe(page) == []
    assert page.evaluate(browser_tests.SMALL_TARGETS) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("link", name="honeylocust").tap()
    expect(page.locator("h1")).to_have_text("honeylocust")


@pytest.fixture
def yard(browser: Browser, road: Any) -> Iterator[BrowserContext]:
    context = offline.phone_on(browser, road)
    yield context
    context.close()


def test_without_signal_the_verdict_leads_to_sheets_and_comparisons(yard: BrowserContext, road: Any) -> None:
    """Trees that were never looked at with signal, from the one table that the phone kept."""
    page = offline.visited(yard)
    road.state = "closed"
    naming.begin(page, "leaf")
    naming.name_osage_orange(page)
    page.get_by_role("link", name="Its sheet").tap()
    page.locator("html[data-species-ready]").wait_for()

    expect(page.locator("h1")).to_have_text("osage-orange")
    expect(page.locator("#notices")).to_contain_text("as of")
    expect(page.locator("#part-lasting")).to_contain_text("52 years")
    expect(page.locator(".species-dries")).to_contain_text("before the signal went")
    assert page.locator("#part-leaf img").first.evaluate(
        "one => one.decode().then(() => one.naturalWidth > 0)"
    )
    page.locator("#part-alike").get_by_role("link", name="Compare them").first.tap()
    page.locator("html[data-species-ready]").wait_for()
    expect(page.locator("h1")).to_contain_text("Comparing osage-orange /")
    assert page.locator(".species-pair").count() > 5


def test_unknown_trees_and_too_few(page: Page, client: httpx.Client) -> None:
    show(page, "/species/compare?of=rops")
    expect(page.locator("main")).to_contain_text("Choose two or three")

    assert client.get("/species/no_such_tree").status_code == 404
    assert client.get("/species/no_such_tree.pdf").status_code == 404


@pytest.mark.parametrize("lang", ["en_CA", "fr_CA"])
def test_the_sheet_to_print_says_the_same(client: httpx.Client, lang: str) -> None:
    client.cookies.set("lang", lang)
    answer = client.get("/species/gltr.pdf?paper=a4")
    text = " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages).split()
    )

    assert answer.headers["content-type"] == "application/pdf"
    for words in ("Gleditsia triacanthos", "Btu", "%", "Otis, Charles Herbert", "[1]"):
        assert words in text
    assert text.startswith("honeylocust" if lang == "en_CA" else "févier épineux")
