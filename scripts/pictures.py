"""Makes docs/images from the demo yard: two screens at phone size and two tickets, for the README."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from datetime import date
from pathlib import Path

from playwright.sync_api import sync_playwright

from rickyard.desk.context import Desk
from rickyard.desk.housekeeping import open_book
from rickyard.desk.tickets import paper_of, ticket, tickets
from rickyard.desk.yards import open_desk
from rickyard.paper import picture_ticket

IMAGES = Path(__file__).resolve().parent.parent / "docs" / "images"
AS_OF = date(2026, 11, 25)


def main() -> None:
    IMAGES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "book.sqlite"
        rickyard = [sys.executable, "-m", "rickyard"]
        subprocess.run(
            [*rickyard, "book", "demo", "--book", str(book), "--as-of", AS_OF.isoformat()], check=True
        )
        server = subprocess.Popen(
            [*rickyard, "serve", "--book", str(book), "--port", "0", "--json"],
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            assert server.stdout is not None
            address = json.loads(server.stdout.readline())["url"].rstrip("/")
            wait_for_forecasts(address)
            screens(address)
        finally:
            server.terminate()
            server.wait()
        opened = open_book(str(book))
        desk = open_desk(opened)
        assert desk is not None
        papers(desk)
        opened.close()


def wait_for_forecasts(address: str, patience_s: float = 900.0) -> None:
    """Until all are made; after that long the promised stacks at least have theirs, and the pictures say the rest."""
    deadline = time.monotonic() + patience_s
    while time.monotonic() < deadline:
        with urllib.request.urlopen(f"{address}/api/forecasts/progress") as answer:
            progress = json.load(answer)
        print(f"{progress['done']} of {progress['wanted']} forecasts", flush=True)
        if progress["done"] == progress["wanted"]:
            return
        time.sleep(20)


def screens(address: str) -> None:
    with urllib.request.urlopen(f"{address}/api/stacks") as answer:
        stacks = json.load(answer)
    promised = max(stacks, key=lambda card: card["promised_m3"])
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=found, args=["--no-sandbox", "--disable-background-networking"]
        )
        page = chromium.new_page(viewport={"width": 390, "height": 844}, device_scale_factor=1.5)
        with urllib.request.urlopen(f"{address}/api/cut-sheets") as answer:
            cut = json.load(answer)[0]["id"]
        with urllib.request.urlopen(f"{address}/api/splitting-sheets") as answer:
            split = json.load(answer)[0]["id"]
        for name, path in (
            ("today", "/"),
            ("stack", f"/stacks/{promised['id']}"),
            ("cut-phone", f"/cutting/{cut}"),
            ("split-phone", f"/splitting/{split}"),
        ):
            page.goto(address + path)
            page.wait_for_timeout(800)
            # What is still worked out when the page is opened comes within a minute or two.
            for _ in range(60):
                if not page.get_by_role("button", name="Look again").count():
                    break
                page.wait_for_timeout(3000)
                page.reload()
                page.wait_for_timeout(800)
            page.screenshot(path=IMAGES / f"{name}.png")
        chromium.close()


def papers(desk: Desk) -> None:
    cards = tickets(desk, limit=500)
    one = next(card for card in cards if len(card.facts["lines"]) == 1 and card.household_id)
    two = next(card for card in cards if len(card.facts["lines"]) == 2)
    for name, card in (("ticket", one), ("ticket-two-stacks", two)):
        (IMAGES / f"{name}.png").write_bytes(
            picture_ticket(paper_of(desk, ticket(desk, card.id)), ppi=110)[0]
        )


if __name__ == "__main__":
    main()
