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

from rickyard.book import check as book_check
from rickyard.desk.context import Desk
from rickyard.desk.loads import load_page, loads
from rickyard.desk.photos import photos_of_load
from rickyard.desk.seen import taught
from rickyard.desk.trees import namings
from rickyard.identify import REGIONS, Answer, Prior, posterior, the_key
from rickyard.web.regions import REGIONS as PLACES
from rickyard.web.screens.tree import region_of
from rickyard.wood import UNNAMED, find_species

pytestmark = pytest.mark.browser


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"web_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


offline, browser_tests = _beside("test_offline"), _beside("test_browser")


def begin(page: Page, *situations: str, at: str = "/tree") -> None:
    if at:
        page.goto(at, timeout=30_000)  # on a busy machine the first page of an application takes its time
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
    card(page, "fruit").get_by_role("button", name="A guess").tap()
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
    page.locator("#tree-use > summary").tap()
    page.select_option("#part", index=1)
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
    (line,) = namings(desk_of, load_id=load.id)
    assert line.tree is not None
    assert line.tree.key_id == "mapo"


def test_a_verdict_is_used_for_logs_of_a_load_when_there_is_signal_again(
    yard: BrowserContext, road: Any, desk_of: Desk, small_yard: Any, a_photo: Any
) -> None:
    """Named offline, with a photo, for two logs of a load; sent over a bad road; in the book once."""
    page = offline.visited(yard)
    page.goto(f"/wood-in/{small_yard.logs_load}")
    before = len(namings(desk_of))
    road.state = "closed"
    page.get_by_role("link", name="Which tree is it?").tap()
    begin(page, "leaf", "log", at="")
    name_osage_orange(page)
    page.locator("#tree-use > summary").tap()
    expect(page.locator("#part")).to_have_value(f"{small_yard.logs_load}:{UNNAMED.id}")
    for number in (1, 3):
        page.locator("label.choice:visible", has=page.locator(f"[name=log_numbers][value='{number}']")).tap()
    expect(page.locator("#tree-use-note")).to_contain_text("osage-orange")
    page.set_input_files(
        "#tree-use [name=photo]", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": a_photo()}
    )
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url(re.compile("/outbox$"))
    assert len(namings(desk_of)) == before

    # Done, and the answer lost; then asked for twice.
    road.state = "cut"
    offline.try_now(page)
    while not any(seen == "cut" for _, seen in road.changes):
        page.wait_for_timeout(50)
    road.state = "twice"
    offline.settle(page)
    (line,) = namings(desk_of)[: len(namings(desk_of)) - before]
    assert (line.logs, line.load_id, line.level) == ((1, 3), small_yard.logs_load, "species")
    assert line.booked_as == find_species("osage-orange")
    named = [log.number for log in load_page(desk_of, line.load_id).logs if log.species == line.booked_as]
    assert named == [1, 3]
    (card_,) = [one for one in photos_of_load(desk_of, small_yard.logs_load) if one.subject_kind == "naming"]
    assert card_.subject_id == line.id
    assert book_check(desk_of.book).problems == ()

    begin(page)
    expect(page.locator("#tree-use-note")).to_contain_text("in the book or the outbox already")


def test_a_kept_record_is_used_and_confirmed(page: Page, small_yard: Any, desk_of: Desk) -> None:
    page.goto(f"/tree/seen/{small_yard.kept}")
    page.select_option("#use-form [name=part]", f"{small_yard.logs_load}:{UNNAMED.id}")
    page.get_by_role("button", name="Use it", exact=True).tap()
    expect(page.get_by_role("status").first).to_contain_text("what you saw is kept with the load")
    page.get_by_role("button", name="That is what it was").tap()
    expect(page.locator("#confirm-form [data-errors]")).to_contain_text("How that is known")
    page.select_option("#confirm-form [name=tree]", "quercus_velutina")
    page.locator("#confirm-form .choice", has_text="once it was split").tap()
    page.get_by_role("button", name="That is what it was").tap()
    expect(page.get_by_role("status").first).to_contain_text("named anew")
    held = {species.id for species, _ in loads(desk_of, with_wood_only=True)[0].shares}
    assert held == {"quercus_velutina"}

    page.goto("/tree/trust")
    expect(page.locator(".stats")).to_contain_text("2 of 2")
    expect(page.locator("table")).to_contain_text("0 of 1")
    expect(page.locator("main")).to_contain_text("until 50 records are confirmed; there are 2")


def test_what_the_yard_confirmed_counts_on_the_phone_too(page: Page, desk_of: Desk) -> None:
    """The page and the desk reckon with the same counts: the odds shown are those that are kept."""
    begin(page, "leaf")
    tap_state(page, "fruit", "acorn")
    first = page.locator("#tree-ranking .tree-row").first
    expect(first.locator(".tree-name")).to_have_text("northern red oak")
    shown = first.locator(".odds-words").inner_text()
    page.locator("#tree-use > summary").tap()
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url(re.compile(r"/tree/seen/\d+$"))
    line = namings(desk_of)[0]
    known = taught(desk_of)
    post = posterior(the_key(), [Answer("fruit", ("acorn",))], Prior(region="NE", counts=known.counts))

    assert known.counts == {"quru": 1}
    assert line.leader_odds == pytest.approx(float(post.species.max()), abs=1e-12)
    assert shown == f"{line.leader_odds:.0%}"


def test_who_is_out_and_what_settles_look_alikes(page: Page) -> None:
    begin(page, "leaf")
    tap_state(page, "fruit", "acorn")
    page.locator("#tree-ranking > details", has_text="Out, and which answer").locator("summary").tap()
    expect(page.locator("#tree-ranking")).to_contain_text("By “acorn”")
    pair = page.locator("#tree-leads .tree-pair").first
    question = pair.get_by_role("button").first.inner_text()
    pair.get_by_role("button").first.tap()

    assert len(asked(page)) == 1
    expect(page.locator("[data-character] summary")).to_contain_text(question)


def test_nonsense_from_a_phone_is_put_under_its_field(client: httpx.Client) -> None:
    for seen in ("", "{}", '{"answers": 3}', "[" * 30_000):
        answer = client.post("/tree/seen", data={"key": "k" * 12, "seen": seen})
        assert answer.status_code == 422
        assert "What you saw" in answer.text
    told = '{"answers": [{"character": "fruit", "states": ["acom"]}], "situations": [], "notSeen": [], "region": null'
    answer = client.post(
        "/tree/seen", data={"key": "k" * 12, "seen": told + ', "street": false, "counts": {}, "exponent": 1}'}
    )
    assert "Nearest: acorn" in answer.text


def test_a_load_that_is_not_in_the_list_is_used_by_its_number(
    client: httpx.Client, desk_of: Desk, small_yard: Any
) -> None:
    number = next(row.number for row in loads(desk_of) if row.id == small_yard.logs_load)
    path = f"/tree/seen/{small_yard.kept}/use"
    form = {
        "key": "by-number-0001",
        "now": "quercus_velutina",
        "part": f"{small_yard.rough_load}:{UNNAMED.id}",
    }
    none = client.post(path, data=form | {"load_number": "999"})
    assert none.status_code == 422
    assert 'id="load_number-error"' in none.text
    done = client.post(path, data=form | {"load_number": str(number)})
    assert done.status_code == 303
    assert [species.id for species, _ in load_page(desk_of, small_yard.logs_load).row.shares] == [
        "quercus_velutina"
    ]


def test_who_comes_from_a_load_that_the_kept_page_does_not_list(page: Page) -> None:
    begin(page, "leaf", at="/tree#load=9999&number=7")
    name_osage_orange(page)
    page.locator("#tree-use > summary").tap()
    expect(page.locator("#load_number")).to_have_value("7")
    expect(page.locator("#tree-use-note")).to_contain_text("osage-orange")
    expect(page.locator("[data-which-share] input")).to_be_visible()
    page.locator("#load_number").fill("")
    expect(page.locator("[data-which-share]")).to_be_hidden()
    expect(page.locator("#tree-use-note")).not_to_contain_text("osage-orange")


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


def test_the_api_keeps_names_and_confirms(client: httpx.Client, small_yard: Any) -> None:
    """The same deeds as JSON; what they teach is asked for by name."""
    plain = client.get("/api/identify", params={"answer": "fruit=acorn", "region": "NE"}).json()
    seen = {"answers": [{"character": "fruit", "states": ["acorn"], "doubt": 0.0}], "region": "NE"}
    body = {"load_id": small_yard.logs_load, "was": UNNAMED.id, "now": "oak", "logs": [5], "seen": seen}
    named = client.post("/api/deeds/name-wood", json={"key": "api-name-1", **body}).json()
    assert named["named"]
    told = {"key": "api-sure-1", "naming_id": named["naming_id"], "tree": "quru", "how": "wood"}
    assert client.post("/api/deeds/confirm-naming", json=told).json()["named"]
    with_yard = client.get(
        "/api/identify", params={"answer": "fruit=acorn", "region": "NE", "yard": True}
    ).json()

    assert plain == client.get("/api/identify", params={"answer": "fruit=acorn", "region": "NE"}).json()
    assert with_yard["ranking"][0]["key_id"] == "quru"
    assert with_yard["ranking"][0]["probability"] > 2 * plain["ranking"][0]["probability"]
    wrong = client.post("/api/deeds/keep-seen", json={"key": "api-kept-1", "seen": {"answers": []}})
    assert wrong.status_code == 422
