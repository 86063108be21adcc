"""Makes docs/images/way.png from the demo yard: the way of one load on a phone."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path

from playwright.sync_api import sync_playwright

from rickyard.desk.housekeeping import open_book
from rickyard.desk.loads import loads
from rickyard.desk.ways import way_of
from rickyard.desk.yards import open_desk

IMAGES = Path(__file__).resolve().parent.parent / "docs" / "images"
AS_OF = date(2026, 11, 25)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        book = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(folder) / "book.sqlite"
        rickyard = [sys.executable, "-m", "rickyard"]
        if not book.exists():
            subprocess.run(
                [*rickyard, "book", "demo", "--book", str(book), "--as-of", AS_OF.isoformat()], check=True
            )
        with open_book(str(book)) as opened:
            desk = open_desk(opened)
            assert desk is not None
            # The one with the longest story that a phone still shows whole.
            chosen = max(
                (load.id for load in loads(desk)),
                key=lambda number: min(len(way_of(desk, "load", number).steps), 9),
            )
        server = subprocess.Popen(
            [*rickyard, "serve", "--book", str(book), "--port", "0", "--json"],
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            assert server.stdout is not None
            address = json.loads(server.stdout.readline())["url"].rstrip("/")
            found = shutil.which("chromium") or shutil.which("chromium-browser")
            with sync_playwright() as driver:
                chromium = driver.chromium.launch(
                    executable_path=found, args=["--no-sandbox", "--disable-background-networking"]
                )
                page = chromium.new_page(viewport={"width": 390, "height": 844}, device_scale_factor=1.5)
                page.goto(f"{address}/wood/load/{chosen}/way")
                page.wait_for_timeout(500)
                page.screenshot(path=IMAGES / "way.png")
                chromium.close()
        finally:
            server.terminate()
            server.wait()


if __name__ == "__main__":
    main()
