"""Without signal: pages open, what is typed is kept, and each deed is done exactly once, over a bad road.

The road (`road.py`) is a proxy between the browser and the application that loses, delays, doubles and spoils.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, suppress
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect
from sqlalchemy import select

from rickyard.book.models import Deed
from rickyard.desk.access import EndSignIn, SetPassword, end_sign_in, people_rows, set_password
from rickyard.desk.clashes import clashes
from rickyard.desk.closing import EmptyStack, empty_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.loads import loads
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.photos import photos_of_stack
from rickyard.desk.readings import readings
from rickyard.web.app import create_app
from rickyard.web.assets import ROOT, Assets

pytestmark = pytest.mark.browser

KEPT = "async () => (await caches.match('/kept-at')) !== undefined"
HELD = """async () => {
  const name = (await caches.keys()).find((name) => name.startsWith("rickyard-"));
  const requests = await (await caches.open(name)).keys();
  return requests.map((request) => new URL(request.url).pathname);
}"""
ENTRIES = """() => new Promise((resolve) => {
  const open = indexedDB.open("rickyard", 1);
  open.onsuccess = () => {
    const all = open.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => {
      open.result.close();
      resolve(all.result.map(({ key, state, tries }) => ({ key, state, tries })));
    };
  };
})"""


@pytest.fixture
def yard(browser: Browser, road: Any) -> Iterator[BrowserContext]:
    """A phone in the yard, at the end of the bad road."""
    context = phone_on(browser, road)
    yield context
    context.close()


def phone_on(browser: Browser, road: Any) -> BrowserContext:
    context = browser.new_context(
        base_url=road.address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(20_000)
    return context


def visited(context: BrowserContext) -> Page:
    """A page after the one visit with signal: the worker rules and has kept the yard's pages."""
    page = context.new_page()
    page.goto("/")
    page.locator("html[data-outbox-ready]").wait_for()
    page.evaluate("navigator.serviceWorker.ready.then(() => undefined)")
    until(page, KEPT)
    until(page, "navigator.serviceWorker.controller !== null")
    return page


def until(page: Page, condition: str, seconds: float = 90) -> None:
    """Waits for a condition in the page (the policy forbids the driver's own way, which evaluates in the page)."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        try:
            if page.evaluate(condition):
                return
        except Error as error:
            if "Execution context was destroyed" not in error.message:
                raise
        page.wait_for_timeout(100)
    raise AssertionError(condition)


def type_load(page: Page, source: str, quantity: str = "2 cords") -> None:
    page.goto("/wood-in/new")
    page.locator("html[data-outbox-ready]").wait_for()
    page.fill("[name=quantity]", quantity)
    page.fill("[name=wood]", "sugar maple")
    page.fill("[name=source]", source)
    # The application's own clock stands on another day than the browser's.
    page.fill("[name=arrived_on]", "2026-11-20")


def take_in(page: Page) -> None:
    page.get_by_role("button", name="Take it in").tap()
    page.wait_for_url(re.compile(r"/outbox$|/wood-in/\d+$"))


def try_now(page: Page) -> None:
    """As the browser does when signal is back (the button for it may go while it is tapped: a timer tries too)."""
    page.evaluate("dispatchEvent(new Event('online'))")


def settle(page: Page, seconds: float = 60) -> None:
    """Waits until nothing waits or is being sent any more."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        states = {entry["state"] for entry in page.evaluate(ENTRIES)}
        if not states & {"waiting", "sending"}:
            return
        page.wait_for_timeout(200)
    raise AssertionError(page.evaluate(ENTRIES))


def sources(desk: Desk) -> Counter[str]:
    return Counter(row.source for row in loads(desk))


def test_the_yard_s_pages_open_after_one_visit(yard: BrowserContext, road: Any, small_yard: Any) -> None:
    page = visited(yard)
    road.state = "closed"

    for path, heading in (
        ("/", "November"),
        ("/wood-in/new", "A load comes in"),
        ("/wood-in/logs", "A load log by log"),
        ("/stacks", "Stacks"),
        ("/readings/new", "Which stack"),
        (f"/stacks/{small_yard.mixed}", "B2"),
        (f"/stacks/{small_yard.mixed}/reading", "A reading of"),
        (f"/stacks/{small_yard.mixed}/reading?kind=oven", "A reading of"),
        (f"/stacks/{small_yard.mixed}/measure", "again"),
        ("/outbox", "Outbox"),
    ):
        page.goto(path)
        expect(page.locator("h1")).to_contain_text(heading)
        expect(page.locator("#notices")).to_contain_text("as of")
    page.goto(f"/stacks/{small_yard.mixed}/reading?kind=oven")
    expect(page.locator("[name=wet_mass]")).to_be_visible()
    page.goto(f"/stacks/{small_yard.mixed}")
    assert "as of" in (page.locator(".stat").first.get_attribute("title") or "")


def test_leafing_through_pages_fetches_the_yard_s_pages_once(yard: BrowserContext) -> None:
    """However fast pages follow each other: rounds side by side would keep the page that is looked at waiting."""
    page = visited(yard)
    fetched: Counter[str] = Counter()
    under_way: set[Any] = set()
    most = 0

    def begins(request: Any) -> None:
        nonlocal most
        if request.service_worker:
            fetched[request.url] += 1
            under_way.add(request)
            most = max(most, len(under_way))

    yard.on("request", begins)
    for end in ("requestfinished", "requestfailed"):
        yard.on(end, lambda request: under_way.discard(request))
    page.evaluate("""async () => {
      const name = (await caches.keys()).find((name) => name.startsWith("rickyard-"));
      await (await caches.open(name)).delete("/kept-at");
      for (let i = 0; i < 6; i++) navigator.serviceWorker.controller.postMessage("keep");
    }""")
    until(page, KEPT)
    for path in ("/stacks", "/wood-in/new", "/"):
        page.goto(path)

    rounds = {url: count for url, count in fetched.items() if "/stacks/" in url}
    assert rounds
    assert set(rounds.values()) == {1}
    assert most <= 3  # two pages, and one that is looked at


def test_it_can_be_installed(yard: BrowserContext, road: Any) -> None:
    """The browser's own judgement of manifest, icons and worker."""
    page = visited(yard)
    devtools = yard.new_cdp_session(page)
    manifest = devtools.send("Page.getAppManifest")
    errors = devtools.send("Page.getInstallabilityErrors")["installabilityErrors"]

    assert manifest["errors"] == []
    assert manifest["url"] == f"{road.address}/manifest.webmanifest"
    # A test's browser keeps nothing after it is closed, and says so.
    assert [error["errorId"] for error in errors if error["errorId"] != "in-incognito"] == []


def test_every_page_says_whether_it_works_without_signal(yard: BrowserContext, road: Any) -> None:
    """The audit page, against what the phone really holds."""
    page = visited(yard)
    held = set(page.evaluate(HELD))
    page.goto("/offline")
    rows = page.locator("tbody tr")
    said = {row.locator("td").nth(0).inner_text(): row.inner_text() for row in rows.all()}

    assert "a reading" in said["/stacks/{stack_id}/reading"]
    assert "says so kindly" in said["/orders"]
    for path, words in said.items():
        # One kept page stands in for every name; numbers have a page each.
        named = re.escape(path).replace(r"\{name\}", "[^/]+")
        pattern = re.compile(re.sub(r"\\\{.*?\\\}", r"\\d+", named) + "$")
        kept = any(pattern.match(address) for address in held)
        assert kept == ("says so kindly" not in words), path


def test_other_pages_say_so_kindly(yard: BrowserContext, road: Any) -> None:
    page = visited(yard)
    road.state = "closed"
    page.goto("/orders")

    expect(page.locator("h1")).to_have_text("No signal here")
    page.get_by_role("link", name="A load comes in").tap()
    expect(page.locator("h1")).to_have_text("A load comes in")


def test_a_deed_without_signal_is_done_when_there_is_some(
    yard: BrowserContext, road: Any, desk_of: Desk
) -> None:
    page = visited(yard)
    road.state = "closed"
    type_load(page, "Otter Creek lot")
    take_in(page)
    expect(page.locator("[data-state=waiting]")).to_contain_text("Otter Creek lot")
    expect(page.locator("#outbox-badge")).to_have_text("1 to send")
    page.reload()
    expect(page.locator("[data-state=waiting]")).to_contain_text("Otter Creek lot")
    assert sources(desk_of)["Otter Creek lot"] == 0

    road.state = "open"
    try_now(page)
    settle(page)

    expect(page.locator("[data-state=done]")).to_be_visible()
    assert sources(desk_of)["Otter Creek lot"] == 1
    page.get_by_role("link", name="Look at it").tap()
    expect(page.locator("h1")).to_be_visible()
    assert re.search(r"/wood-in/\d+$", page.url)


@pytest.mark.parametrize("state", ["late", "cut", "half", "twice", "spoilt", "foreign"])
def test_each_mishap_on_the_way_leaves_one_deed(
    yard: BrowserContext, road: Any, desk_of: Desk, state: str
) -> None:
    """Answer late, lost after the write, broken off, asked twice, a failing server, somebody else's page."""
    page = visited(yard)
    type_load(page, "Otter Creek lot")
    road.state = state
    take_in(page)
    page.wait_for_timeout(300)
    road.state = "open"
    settle(page)

    assert sources(desk_of)["Otter Creek lot"] == 1
    assert [entry["state"] for entry in page.evaluate(ENTRIES)] == ["done"]
    assert any(seen == state for _, seen in road.changes)


def test_a_refusal_opens_the_form_with_what_was_typed(yard: BrowserContext, road: Any, desk_of: Desk) -> None:
    page = visited(yard)
    road.state = "closed"
    type_load(page, "Otter Creek lot", quantity="2 face cords")
    take_in(page)
    road.state = "open"
    try_now(page)
    settle(page)

    expect(page.locator("#outbox-badge")).to_have_text("1 to put right")
    expect(page.locator("[data-state=needs]")).to_contain_text("has no fixed size")
    page.get_by_role("link", name="Put it right").tap()
    expect(page.locator("[data-errors]")).to_contain_text("has no fixed size")
    assert page.input_value("[name=quantity]") == "2 face cords"
    assert page.input_value("[name=source]") == "Otter Creek lot"
    page.fill("[name=quantity]", "2 cords")
    take_in(page)
    settle(page)

    assert sources(desk_of)["Otter Creek lot"] == 1
    assert len(page.evaluate(ENTRIES)) == 1


def test_a_key_used_for_something_else_needs_the_person(
    yard: BrowserContext, road: Any, desk_of: Desk
) -> None:
    """A 409 of the real server: the same key with other contents."""
    page = visited(yard)
    type_load(page, "Otter Creek lot")
    take_in(page)
    settle(page)
    page.evaluate(
        """() => new Promise((resolve) => {
          const open = indexedDB.open("rickyard", 1);
          open.onsuccess = () => {
            const table = open.result.transaction("entries", "readwrite").objectStore("entries");
            table.getAll().onsuccess = (event) => {
              const { id, ...entry } = event.target.result[0];
              const fields = Object.entries({ quantity: "3 cords", wood: "white ash", source: "Another lot",
                arrived_on: "2026-11-20", harvest_region: "CA-NB" });
              table.add({ ...entry, state: "waiting", fields }).onsuccess = () => { open.result.close(); resolve(); };
            };
          };
        })"""
    )
    page.goto("/outbox")
    settle(page)

    expect(page.locator("[data-state=needs]")).to_contain_text("sent before with other contents")
    assert sources(desk_of)["Another lot"] == 0


def test_what_was_typed_and_not_sent_is_there_again(yard: BrowserContext, road: Any) -> None:
    page = visited(yard)
    type_load(page, "Otter Creek lot")
    page.wait_for_timeout(600)
    page.goto("/stacks")
    page.goto("/wood-in/new")

    expect(page.locator("form .warn")).to_contain_text("typed here before")
    assert page.input_value("[name=source]") == "Otter Creek lot"
    page.get_by_role("button", name="Start afresh").tap()
    expect(page.locator("[name=source]")).to_have_value("")


def test_logs_one_by_one_without_signal(yard: BrowserContext, road: Any, desk_of: Desk) -> None:
    """More lines than the kept page has, added on the phone; the file of a list goes along."""
    page = visited(yard)
    road.state = "closed"
    page.goto("/wood-in/logs")
    page.locator("html[data-outbox-ready]").wait_for()
    page.fill("[name=source]", "Otter Creek lot")
    page.fill("[name=arrived_on]", "2026-11-20")
    page.get_by_role("button", name="More lines").tap()
    for line in range(6):
        page.fill(f"[name=species-{line}]", "white ash")
        page.fill(f"[name=log_length-{line}]", "12")
        page.fill(f"[name=log_mid-{line}]", "10")
    page.set_input_files(
        "[name=file]",
        {
            "name": "more.csv",
            "mimeType": "text/csv",
            "buffer": b"species,length,mid\nsugar maple,4 m,30 cm\n",
        },
    )
    take_in(page)
    road.state = "open"
    try_now(page)
    settle(page)

    row = next(row for row in loads(desk_of) if row.source == "Otter Creek lot")
    page.get_by_role("link", name="Look at it").tap()
    expect(page.locator("main")).to_contain_text("white ash")
    expect(page.locator("main")).to_contain_text("sugar maple")
    assert {species.id for species, _ in row.shares} == {"fraxinus_americana", "acer_saccharum"}


def test_a_photo_follows_its_reading(yard: BrowserContext, road: Any, desk_of: Desk, small_yard: Any) -> None:
    """Without signal: a reading of a stack with a photo; the photo is sent after it, small, and hangs on it."""
    page = visited(yard)
    road.state = "closed"
    page.goto(f"/stacks/{small_yard.dry}/reading")
    page.locator("html[data-outbox-ready]").wait_for()
    page.fill("[name=reading]", "17")
    page.fill("[name=happened_on]", "2026-11-20")
    shot = io.BytesIO()
    Image.new("RGB", (2600, 1300), "sienna").save(shot, "JPEG")
    page.set_input_files(
        "[name=photo]", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": shot.getvalue()}
    )
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url("**/outbox")
    expect(page.locator("[data-state=waiting]")).to_have_count(2)
    road.state = "open"
    try_now(page)
    settle(page)

    assert [line.value for line in readings(desk_of, small_yard.dry)] == [17.0]
    found = photos_of_stack(desk_of, small_yard.dry)
    assert [(card.width_px, card.height_px, card.subject_kind) for card in found] == [(2000, 1000, "reading")]


def test_a_reading_of_a_stack_closed_meanwhile_is_taken(
    yard: BrowserContext, road: Any, desk_of: Desk, small_yard: Any
) -> None:
    """What physically happened is never refused: the clash is shown instead."""
    page = visited(yard)
    road.state = "closed"
    page.goto(f"/stacks/{small_yard.dry}/reading")
    page.locator("html[data-outbox-ready]").wait_for()
    page.fill("[name=reading]", "17")
    page.fill("[name=happened_on]", "2026-11-20")
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url("**/outbox")
    before = len(clashes(desk_of))
    empty_stack(desk_of, EmptyStack(key=new_key(), stack_id=small_yard.dry, reason="sold out"))
    road.state = "open"
    try_now(page)
    settle(page)

    expect(page.locator("[data-state=done]")).to_be_visible()
    assert len(readings(desk_of, small_yard.dry)) == 1
    assert len(clashes(desk_of)) == before + 1


# A page that was left while it sent something leaves it marked so.
CUT_OFF_ON_ITS_WAY = """
() => new Promise((done) => {
  const open = indexedDB.open("rickyard", 1);
  open.onsuccess = () => {
    const table = open.result.transaction("entries", "readwrite").objectStore("entries");
    table.getAll().onsuccess = (event) => {
      for (const entry of event.target.result) table.put({ ...entry, state: "sending" });
    };
    table.transaction.oncomplete = () => { open.result.close(); done(); };
  };
})
"""


def test_nothing_is_sent_under_another_s_name(yard: BrowserContext, road: Any, desk_of: Desk) -> None:
    """Ann types without signal, Bram takes the phone: hers waits until she is back, his goes."""
    ann, bram = (
        int(add_person(desk_of, AddPerson(key=new_key(), name=name))["person_id"]) for name in ("Ann", "Bram")
    )
    page = visited(yard)
    yard.add_cookies([{"name": "who", "value": str(ann), "url": road.address}])
    page.reload()  # a page that says who uses the phone; those kept since before do not
    page.locator("html[data-who-name=Ann][data-outbox-ready]").wait_for()
    road.state = "closed"
    type_load(page, "Ann's lot")
    take_in(page)
    yard.add_cookies([{"name": "who", "value": str(bram), "url": road.address}])
    page.evaluate(CUT_OFF_ON_ITS_WAY)
    type_load(page, "Bram's lot")
    take_in(page)
    road.state = "open"
    try_now(page)
    expect(page.locator("[data-state=done]")).to_have_count(1)
    expect(page.locator("[data-state=waiting]")).to_contain_text("waits for Ann")
    assert (sources(desk_of)["Ann's lot"], sources(desk_of)["Bram's lot"]) == (0, 1)

    yard.add_cookies([{"name": "who", "value": str(ann), "url": road.address}])
    page.reload()
    settle(page)
    assert sources(desk_of)["Ann's lot"] == 1
    with desk_of.book.read() as session:
        typed = session.scalars(
            select(Deed).where(Deed.kind == "take_in_rough").order_by(Deed.id.desc()).limit(2)
        )
        assert [deed.person_id for deed in typed] == [ann, bram]


def test_what_waits_goes_once_its_person_is_signed_in_again(
    yard: BrowserContext, road: Any, desk_of: Desk
) -> None:
    """A locked book: typed without signal, the sign-in ended meanwhile; nothing is lost, nothing sent before."""
    password = "larch and heron by the gate"
    ann = int(add_person(desk_of, AddPerson(key=new_key(), name="Ann", role="owner"))["person_id"])
    set_password(desk_of, SetPassword(key=new_key(), who_id=ann), password)

    def sign_in(page: Page) -> None:
        page.locator("html[data-outbox-ready]").wait_for()
        page.fill("[name=person]", "Ann")
        page.fill("[name=password]", password)
        page.get_by_role("button", name="Sign in").tap()

    page = yard.new_page()
    page.goto("/wood-in/new")
    page.wait_for_url(re.compile("/sign-in"))
    sign_in(page)
    page.wait_for_url("**/wood-in/new")
    page.locator("html[data-outbox-ready]").wait_for()
    until(page, KEPT)
    until(page, "navigator.serviceWorker.controller !== null")
    road.state = "closed"
    # What was kept for her stays hers, also where the phone knows no more whom it kept pages for last.
    page.evaluate("localStorage.setItem('kept-for', ',,')")
    page.goto("/stacks")
    page.locator("html[data-outbox-ready]").wait_for()
    page.wait_for_timeout(500)
    assert {"/stacks", "/wood-in/new"} <= set(page.evaluate(HELD))
    type_load(page, "Ann's lot")
    take_in(page)
    for row in people_rows(desk_of):
        for one in row.sign_ins:
            end_sign_in(desk_of, EndSignIn(key=new_key(), sign_in_id=one.id))
    road.state = "open"
    try_now(page)
    expect(page.locator("#notices")).to_contain_text("goes once you are signed in")
    assert sources(desk_of)["Ann's lot"] == 0
    expect(page.locator("[data-state=waiting]")).to_have_count(1)

    page.get_by_role("button", name="Sign in").tap()
    page.wait_for_url(re.compile("/sign-in"))
    sign_in(page)
    page.wait_for_url(re.compile(r"[^=]/outbox$"))
    settle(page)
    assert sources(desk_of)["Ann's lot"] == 1

    # Out again: the pages kept for the yard leave the phone, the shell stays.
    page.goto("/who")
    page.get_by_role("button", name="Sign out").tap()
    page.wait_for_url(re.compile("/sign-in"))
    until(page, f"({HELD})().then((paths) => !paths.includes('/stacks') && paths.length > 10)")


@pytest.mark.parametrize("hours", [-400 * 24, 400 * 24])
def test_a_clock_that_is_wrong_by_a_year(yard: BrowserContext, road: Any, desk_of: Desk, hours: int) -> None:
    """The phone's clock jumps after typing or before; the deed is taken, and happened when it did."""
    yard.add_init_script(f"const real = Date.now.bind(Date); Date.now = () => real() + {hours * 3_600_000};")
    page = visited(yard)
    type_load(page, "Otter Creek lot")
    take_in(page)
    settle(page)

    assert sources(desk_of)["Otter Creek lot"] == 1
    with desk_of.book.read() as session:
        deed = session.scalars(select(Deed).order_by(Deed.id.desc()).limit(1)).one()
        assert abs((deed.happened_at - deed.recorded_at).total_seconds()) < 120


def test_flapping_every_second_with_fifty_deeds(
    yard: BrowserContext, road: Any, desk_of: Desk, small_yard: Any
) -> None:
    """A minute of signal coming and going: each of fifty deeds is in the book once."""
    page = visited(yard)
    stop = threading.Event()

    def flap() -> None:
        while not stop.wait(1.0):
            road.state = "closed" if road.state == "open" else "open"

    flapping = threading.Thread(target=flap)
    flapping.start()
    began = time.monotonic()
    try:
        for number in range(50):
            type_load(page, f"Lot {number}")
            take_in(page)
        page.wait_for_timeout(max(0.0, 60.0 - (time.monotonic() - began)) * 1000)
    finally:
        stop.set()
        flapping.join()
    road.state = "open"
    page.goto("/outbox")
    settle(page, 120)

    found = sources(desk_of)
    assert {f"Lot {number}": found[f"Lot {number}"] for number in range(50)} == {
        f"Lot {number}": 1 for number in range(50)
    }
    check(small_yard.target)


def check(target: str) -> None:
    checked = subprocess.run(
        [sys.executable, "-m", "rickyard", "book", "check", "--book", target],
        capture_output=True,
        text=True,
        check=False,
    )
    assert checked.returncode == 0, checked.stdout


def test_two_tabs_have_one_sender(yard: BrowserContext, road: Any, desk_of: Desk) -> None:
    first = visited(yard)
    second = yard.new_page()
    road.state = "closed"
    for number in range(4):
        tab = (first, second)[number % 2]
        type_load(tab, f"Lot {number}")
        take_in(tab)
    road.changes.clear()
    road.state = "open"
    for tab in (first, second):
        tab.evaluate("dispatchEvent(new Event('online'))")
    settle(first)

    found = sources(desk_of)
    assert [found[f"Lot {number}"] for number in range(4)] == [1] * 4
    assert len(road.changes) == 4
    expect(second.locator("[data-state=done]")).to_have_count(4)


def test_an_update_waits_for_the_person_and_loses_nothing(
    yard: BrowserContext,
    road: Any,
    desk_of: Desk,
    small_yard: Any,
    tmp_path: Path,
    serve: Callable[[FastAPI], AbstractContextManager[str]],
    app: FastAPI,
) -> None:
    page = visited(yard)
    versions = "caches.keys().then((names) => names.filter((name) => name.startsWith('rickyard-')))"
    before = page.evaluate(versions)
    road.state = "closed"
    type_load(page, "Otter Creek lot")
    take_in(page)
    root = tmp_path / "static"
    shutil.copytree(ROOT, root)
    (root / "css" / "rickyard.css").write_text(
        (root / "css" / "rickyard.css").read_text() + "\n.new { top: 0 }\n"
    )
    newer = create_app(
        small_yard.target, worker=False, clock=app.state.office.clock, hosts=(), assets=Assets(root)
    )
    with serve(newer) as address:
        road.target = address
        page.goto("/wood-in/new")
        page.fill("[name=source]", "half typed")
        page.wait_for_timeout(600)
        road.state = "open"
        page.evaluate("navigator.serviceWorker.getRegistration().then((found) => found.update())")
        notice = page.locator("#notices", has_text="new version")
        # All pages of the yard are fetched anew before the new version offers itself.
        expect(notice).to_be_visible(timeout=60_000)
        assert page.input_value("[name=source]") == "half typed"
        notice.get_by_role("button", name="Reload").tap()
        until(page, f"{versions}.then((now) => now.length === 1 && now[0] !== '{before[0]}')")
        expect(page.locator("[name=source]")).to_have_value("half typed")
        settle(page)
        assert sources(desk_of)["Otter Creek lot"] == 1
        road.state = "closed"
        page.goto("/stacks")
        expect(page.locator("h1")).to_contain_text("Stacks")
        road.target = ""


def cramped(browser: Browser, road: Any, quota_bytes: int) -> Page:
    """A new page on a phone with little room; the shell and the pages take about 1.5 MB, the reserve 5 MB.

    The bound is set before anything is kept: the browser looks at the room left only now and then.
    """
    context = phone_on(browser, road)
    page = context.new_page()
    context.new_cdp_session(page).send(
        "Storage.overrideQuotaForOrigin", {"origin": road.address, "quotaSize": quota_bytes}
    )
    return page


def test_full_storage_is_said_and_nothing_typed_is_lost(browser: Browser, road: Any) -> None:
    """More than fits, even when what is held in reserve has made way."""
    page = cramped(browser, road, 14_000_000)
    page.goto("/wood-in/logs")
    page.locator("html[data-outbox-ready]").wait_for()
    page.fill("[name=source]", "Otter Creek lot")
    page.set_input_files(
        "[name=file]",
        {"name": "long.csv", "mimeType": "text/csv", "buffer": b"species,length,mid\n".ljust(20_000_000)},
    )
    page.get_by_role("button", name="Take it in").tap()

    expect(page.locator("[data-errors]")).to_contain_text("storage is full")
    assert page.input_value("[name=source]") == "Otter Creek lot"
    assert page.evaluate("document.querySelector('[name=file]').files.length") == 1
    assert page.evaluate(ENTRIES) == []
    page.context.close()


def test_storage_nearly_full_is_said_before_it_bites(browser: Browser, road: Any, desk_of: Desk) -> None:
    """Room for some deeds, but not for what is held in reserve: warned, and still kept and sent."""
    page = cramped(browser, road, 3_000_000)
    type_load(page, "Otter Creek lot")
    expect(page.locator("#notices")).to_contain_text("nearly full")
    take_in(page)

    assert sources(desk_of)["Otter Creek lot"] == 1
    page.context.close()


def test_killed_between_typing_and_sending(
    road: Any, desk_of: Desk, tmp_path: Path, browser: Browser
) -> None:
    """The browser's process is killed with a deed waiting and another half typed; both are there afterwards."""
    profile = tmp_path / "profile"
    kind = browser.browser_type
    settings_ = {
        "executable_path": shutil.which("chromium") or shutil.which("chromium-browser"),
        "args": ["--no-sandbox", "--disable-background-networking"],
        "base_url": road.address,
        "viewport": {"width": 390, "height": 844},
        "has_touch": True,
        "is_mobile": True,
    }
    context = kind.launch_persistent_context(profile, **settings_)
    page = visited(context)
    road.state = "closed"
    type_load(page, "Otter Creek lot")
    take_in(page)
    type_load(page, "Half typed lot")
    page.wait_for_timeout(800)
    kill_browser(profile)
    with suppress(Error):  # the driver may know already that there is nothing left to close
        context.close()

    context = kind.launch_persistent_context(profile, **settings_)
    page = context.new_page()
    page.goto("/outbox")
    expect(page.locator("[data-state=waiting]")).to_contain_text("Otter Creek lot")
    page.goto("/wood-in/new")
    expect(page.locator("[name=source]")).to_have_value("Half typed lot")
    road.state = "open"
    page.evaluate("dispatchEvent(new Event('online'))")
    settle(page)
    context.close()

    assert sources(desk_of)["Otter Creek lot"] == 1
    assert sources(desk_of)["Half typed lot"] == 0


def kill_browser(profile: Path) -> None:
    """Kills every process of the browser that works on a profile, as a flat battery would."""
    killed = 0
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        try:
            words = (entry / "cmdline").read_bytes().split(b"\0")
        except OSError:
            # The process ended while we looked.
            continue
        if f"--user-data-dir={profile}".encode() in words:
            os.kill(int(entry.name), signal.SIGKILL)
            killed += 1
    assert killed


MISHAPS = st.sampled_from(["open", "closed", "cut", "half", "twice", "spoilt", "foreign"])
STEPS = st.lists(
    st.one_of(MISHAPS, st.just("deed"), st.just("deed"), st.just("reload"), st.just("wrong")),
    min_size=4,
    max_size=12,
)


def test_any_order_of_mishaps_and_deeds(browser: Browser, road: Any, desk_of: Desk, small_yard: Any) -> None:
    """Whatever befalls, in whatever order: each deed is in the book once, each wrong one waits to be put right."""
    count = 0

    @settings(
        max_examples=12,
        deadline=None,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(steps=STEPS)
    def run(steps: list[str]) -> None:
        nonlocal count
        road.state = "open"
        context = phone_on(browser, road)
        page = visited(context)
        right: list[str] = []
        wrong = 0
        for step in steps:
            if step in ("deed", "wrong"):
                count += 1
                name = f"Lot {count}"
                type_load(page, name, quantity="2 cords" if step == "deed" else "2 face cords")
                page.get_by_role("button", name="Take it in").tap()
                until(
                    page, "location.pathname !== '/wood-in/new' || !!document.querySelector('[data-errors]')"
                )
                if step == "deed":
                    right.append(name)
                else:
                    wrong += 1
            elif step == "reload":
                page.reload()
            else:
                road.state = step
        road.state = "open"
        page.goto("/outbox")
        settle(page)
        found = sources(desk_of)
        assert {name: found[name] for name in right} == dict.fromkeys(right, 1)
        states = Counter(entry["state"] for entry in page.evaluate(ENTRIES))
        assert states["needs"] == wrong
        context.close()

    run()
    check(small_yard.target)
