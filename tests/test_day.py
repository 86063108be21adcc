"""The first working day, step 1 to 7, in a phone-sized browser on an empty book.

Logs come in as a CSV list, are stacked, forecast, read, promised, delivered with a ticket, and the journal balances
to the gram. It runs twice: on the list kept beside this file and on one made at random. What the logs should amount
to comes from the arithmetic below, which imports nothing from the package under test.
"""

from __future__ import annotations

import csv
import io
import json
import math
import random
import re
import subprocess
import sys
import time
import urllib.request
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

pytestmark = pytest.mark.browser

KEPT_LIST = Path(__file__).parent / "data" / "day_logs.csv"
FT, IN = 0.3048, 0.0254
CORD_M3 = 128 * FT**3

# Basic specific gravity (oven-dry mass / green volume): Wood Handbook, chapter 5, as FIA's REF_SPECIES table has it.
GRAVITY = {
    "sugar maple": 0.56,
    "yellow birch": 0.55,
    "white ash": 0.55,
    "northern red oak": 0.56,
    "paper birch": 0.48,
    "American beech": 0.56,
}
# Net heat of dry hardwood: 20.0 MJ/kg gross less 0.2122 MJ/kg for each percent of hydrogen (6.0); less 2.443 MJ for
# each kilogram of water. Form of ISO 18125, constants from memory in its notes. Per kg of dry wood at 20 % wet.
NET_MJ_PER_DRY_KG = (20.0 - 0.2122 * 6.0) - 2.443 * 0.25


@dataclass(frozen=True)
class Expected:
    """Solid volume inside bark [m³], oven-dry mass [kg] and net heat at 20 % wet [MJ] of a log list."""

    solid_m3: float
    dry_kg: float
    heat_mj: float
    by_species: dict[str, float]


def random_list(seed: int) -> str:
    """A log list in inches and feet, every way of measuring among them."""
    chance = random.Random(seed)
    rows = ["species,length_ft,mid_in,small_in,large_in,bark_in,count"]
    for _ in range(25):
        middle = chance.uniform(7, 18)
        small, large = middle - chance.uniform(0.2, 1.5), middle + chance.uniform(0.2, 2.5)
        way = chance.choice(["mid", "ends", "all"])
        mid = "" if way == "ends" else f"{middle:.1f}"
        ends = ("", "") if way == "mid" else (f"{small:.1f}", f"{large:.1f}")
        name = chance.choice(sorted(GRAVITY))
        rows.append(
            f"{name},{chance.choice([8, 12, 16])},{mid},{ends[0]},{ends[1]},{chance.choice([0.2, 0.4])},"
            f"{chance.randint(1, 3)}"
        )
    return "\n".join(rows) + "\n"


def arithmetic(text: str) -> Expected:
    """Huber, Smalian or Newton on diameters inside bark; mass by specific gravity; heat by the formula above."""
    volume: dict[str, float] = defaultdict(float)
    for row in csv.DictReader(io.StringIO(text)):
        bark = float(row["bark_in"])

        def area(name: str, row: dict[str, str] = row, bark: float = bark) -> float:
            return math.pi / 4 * ((float(row[name]) - 2 * bark) * IN) ** 2

        length = float(row["length_ft"]) * FT
        if row["mid_in"] and row["small_in"]:
            solid = length * (area("small_in") + 4 * area("mid_in") + area("large_in")) / 6
        elif row["mid_in"]:
            solid = length * area("mid_in")
        else:
            solid = length * (area("small_in") + area("large_in")) / 2
        volume[row["species"]] += solid * int(row["count"])
    dry = sum(cubic * 1000 * GRAVITY[name] for name, cubic in volume.items())
    return Expected(sum(volume.values()), dry, dry * NET_MJ_PER_DRY_KG, dict(volume))


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A server of its own on an empty book; its address."""
    book = tmp_path / "book.sqlite"
    rickyard = [sys.executable, "-m", "rickyard"]
    subprocess.run([*rickyard, "book", "new", "--book", str(book)], check=True, capture_output=True)
    server = subprocess.Popen(
        [*rickyard, "serve", "--book", str(book), "--port", "0", "--json"], stdout=subprocess.PIPE, text=True
    )
    assert server.stdout is not None
    try:
        yield json.loads(server.stdout.readline())["url"].rstrip("/")
    finally:
        server.terminate()
        server.wait(timeout=60)
        server.stdout.close()
    checked = subprocess.run(
        [*rickyard, "book", "check", "--book", str(book), "--json"],
        check=True,
        capture_output=True,
        text=True,
    )
    report = json.loads(checked.stdout)
    assert report["ok"], report["problems"]
    assert report["balance_g"] == 0
    assert report["entries"] >= 3


def get(address: str, path: str) -> Any:
    with urllib.request.urlopen(address + path) as answer:
        return json.load(answer)


def fill(page: Page, **fields: str) -> None:
    for name, value in fields.items():
        page.locator(f"[name='{name}']").first.fill(value)


def go_on(page: Page, button: str) -> None:
    page.get_by_role("button", name=button, exact=True).first.click()


def arrive(page: Page, path: str) -> None:
    """Waits for a page by its path; what was said on the way (`?said=`) may follow."""
    page.wait_for_url(re.compile(path + r"(\?.*)?$"))


def forecasts_made(address: str) -> None:
    """Waits until every stack's forecast is up to date; the model itself takes seconds."""
    deadline = time.monotonic() + 240
    while time.monotonic() < deadline:
        progress = get(address, "/api/forecasts/progress")
        assert progress["failed"] == 0
        if progress["wanted"] and progress["done"] == progress["wanted"]:
            return
        time.sleep(0.5)
    raise AssertionError("the forecast was not made in four minutes")


@pytest.mark.parametrize("which", ["kept", "random"])
def test_the_whole_day(address: str, browser: Browser, tmp_path: Path, which: str) -> None:
    text = KEPT_LIST.read_text() if which == "kept" else random_list(20260401)
    expected = arithmetic(text)
    path = tmp_path / "logs.csv"
    path.write_text(text)
    today = date.today()  # noqa: DTZ011 - the browser's own day
    arrived, stacked = today - timedelta(days=420), today - timedelta(days=410)

    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.set_default_timeout(20_000)

    # 1. New book: the yard is set up.
    page.goto(address)
    expect(page).to_have_url(re.compile("/set-up$"))
    fill(page, name="Thornbeck Wood Yard", climate_place="Fredericton, NB")
    page.locator("[name='region']").select_option("CA-NB")
    go_on(page, "Open the yard")
    arrive(page, "/")
    page.goto(f"{address}/wares/new")
    fill(page, ware_name="Dry hardwood, 16 in", piece_length="16", price="380")
    go_on(page, "Save")
    arrive(page, "/wares")
    page.goto(f"{address}/households/new")
    fill(page, name="Perrine Larchmond", address="37 Quarry Hollow Road")
    go_on(page, "Save")
    arrive(page, r"/households/\d+")

    # 2. Wood in: the CSV list, and at once what it amounts to.
    page.goto(f"{address}/wood-in/logs")
    fill(page, source="Harrowmere woodlot", arrived_on=arrived.isoformat())
    page.locator("[name='file']").set_input_files(path)
    go_on(page, "Take it in")
    arrive(page, r"/wood-in/\d+")
    load = get(address, "/api/loads/1")["as_arrived"]
    total = load["total"]
    # Volumes are kept as whole grams of dry wood per species: exact to a gram in tonnes.
    assert total["solid_m3"]["mid"] == pytest.approx(expected.solid_m3, rel=1e-5)
    assert total["oven_dry_kg"] == pytest.approx(expected.dry_kg, rel=1e-5)
    # Species differ in heating value by a few percent (13 deciduous species: 19.0 to 21.7 MJ/kg).
    assert total["heat_mj"]["mid"] == pytest.approx(expected.heat_mj, rel=0.05)
    by_name = {item["species"]["common_en"]: item["solid_m3"]["mid"] for item in load["species"]}
    assert by_name == pytest.approx(expected.by_species, rel=1e-5)

    # 3. Stacked: the outside is what such wood fills at 85 ft³ solid in the cord, two rows deep.
    outside = expected.solid_m3 * 0.96 * 128 / 85
    length = outside / (1.5 * 2 * 16 * IN)
    page.goto(f"{address}/stacks/new?load=1")
    box = page.locator("[name='load'][value='1']")
    if not box.is_checked():
        box.check(force=True)
    fill(
        page,
        piece_length="16",
        thickness="4",
        length=f"{length / FT:.2f}",
        height=f"{1.5 / FT:.2f}",
        rows="2",
        stack_name="A1",
        stacked_on=stacked.isoformat(),
    )
    go_on(page, "Put the stack in the book")
    arrive(page, r"/stacks/\d+")
    card = get(address, "/api/stacks/1")["card"]
    assert card["outside_m3"] == pytest.approx(outside, rel=0.005)
    shares = {item["species"]["common_en"]: item["share"] for item in card["shares"]}
    dry = {name: cubic * GRAVITY[name] for name, cubic in expected.by_species.items()}
    assert shares == pytest.approx({name: mass / sum(dry.values()) for name, mass in dry.items()}, abs=2e-3)

    # 4. Forecast: odds after a year and more, and a reading that moves it.
    forecasts_made(address)
    before = get(address, "/api/stacks/1/outlook")
    assert before["dates"][0] == stacked.isoformat()
    page.goto(f"{address}/stacks/1/reading?kind=meter")
    fill(page, reading="17", temperature="15")
    page.locator("[name='read_species']").first.select_option(index=1)
    go_on(page, "Put it in the book")
    arrive(page, r"/stacks/1")
    forecasts_made(address)
    after = get(address, "/api/stacks/1/outlook")
    assert after["p50"] != before["p50"]
    assert after["p90"][410] - after["p10"][410] < before["p90"][410] - before["p10"][410]
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_be_visible()

    # 5. Promised: the desk says yes with odds, and the wood is reserved.
    page.goto(f"{address}/orders/new")
    page.fill("[name='home_name']", "Perrine Larchmond")
    page.locator("[name='ware']").first.check(force=True)
    fill(page, order_quantity="1 cord", wanted_by=(today + timedelta(days=3)).isoformat())
    go_on(page, "What can we say?")
    expect(page.locator("#answer")).to_be_visible()
    go_on(page, "Promise it")
    arrive(page, r"/orders/\d+")
    order = get(address, "/api/orders/1")
    assert order["state"] == "promised"
    assert 0.5 <= order["promises"][0]["odds_then"] <= 1.0
    assert get(address, "/api/stacks/1")["card"]["promised_m3"] == pytest.approx(CORD_M3)

    # 7, before 6: today says that the delivery is due.
    page.goto(address)
    expect(page.get_by_text("Perrine Larchmond").first).to_be_visible()

    # 6. Delivered: the ticket as a PDF, the journal moves the wood, the money is owed.
    page.goto(f"{address}/orders/1/deliver")
    go_on(page, "Deliver and make the ticket")
    arrive(page, r"/tickets/\d+")
    with urllib.request.urlopen(f"{address}/tickets/1.pdf") as answer:
        pdf = PdfReader(io.BytesIO(answer.read()))
    said = " ".join(" ".join(sheet.extract_text() for sheet in pdf.pages).split())
    for words in (
        "Thornbeck Wood Yard",
        "Perrine Larchmond",
        "Movement not checked",
        "3.62",
        "New Brunswick",
    ):
        assert words in said
    assert not re.search(r"\brick\b|face cord", said, re.IGNORECASE)
    left = get(address, "/api/stacks/1")["card"]
    assert left["ranked_m3"] == pytest.approx(card["ranked_m3"] - CORD_M3, rel=1e-4)
    ticket = get(address, "/api/tickets/1")
    assert ticket["price_minor"] == 38000
    assert ticket["total_minor"] - ticket["paid_minor"] == ticket["total_minor"] > 0
    fill(page, amount=f"{ticket['total_minor'] / 100:.2f}")
    go_on(page, "Put the payment in the book")
    # The same page again, so its address says nothing: nothing is owed when the form is gone.
    expect(page.get_by_role("button", name="Put the payment in the book", exact=True)).to_have_count(0)
    assert get(address, "/api/tickets/1")["paid_minor"] == ticket["total_minor"]

    # A sale at the gate without a promise: two taps.
    page.goto(f"{address}/gate")
    page.locator("form button").first.click()
    arrive(page, r"/tickets/2")

    # 7. Today: nothing is due any more.
    page.goto(address)
    assert get(address, "/api/today")["due"] == []
    context.close()
