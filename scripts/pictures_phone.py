"""Makes docs/images/phone-*.png: the start page at phone size, for docs/phone.md."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Page, sync_playwright

IMAGES = Path(__file__).resolve().parent.parent / "docs" / "images"
# Names for the pictures; those of the computer that makes them are nobody's business.
NAME = "yard.local"
COMPUTER = "shed"
PHONE = (
    "Mozilla/5.0 (Linux; Android 15) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140 Mobile Safari/537.36"
)
MOST_BYTES = 150_000


def main() -> None:
    IMAGES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "book.sqlite"
        command = [sys.executable, "-m", "rickyard", "serve", "--https", "--json", "--name", NAME]
        server = subprocess.Popen(
            [*command, "--book", str(book), "--host", "127.0.0.1"], stdout=subprocess.PIPE, text=True
        )
        try:
            assert server.stdout is not None
            address = json.loads(server.stdout.readline())["start_url"]
            take(address)
        finally:
            server.terminate()
            server.wait()


def take(address: str) -> None:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=found,
            args=[
                "--no-sandbox",
                "--disable-background-networking",
                f"--host-resolver-rules=MAP {urlsplit(address).hostname} 127.0.0.1",
            ],
        )
        page = chromium.new_page(
            viewport={"width": 390, "height": 844}, device_scale_factor=1.35, user_agent=PHONE
        )
        page.goto(address)
        page.locator(".quiet [translate=no]").evaluate(
            "(item, computer) => item.textContent = item.textContent.replace(/ .* /, ` ${computer} `)",
            COMPUTER,
        )
        picture(page, "phone-take", "h1")
        picture(page, "phone-compare", "h2:text('2.')")
        picture(page, "phone-open", "h2:text('3.')")
        chromium.close()


def picture(page: Page, name: str, top: str) -> None:
    page.locator(top).evaluate("item => item.closest('.card, .head').scrollIntoView({block: 'start'})")
    page.wait_for_timeout(300)
    path = IMAGES / f"{name}.png"
    page.screenshot(path=path)
    if path.stat().st_size > MOST_BYTES:
        raise SystemExit(f"{path} is larger than {MOST_BYTES} bytes")


if __name__ == "__main__":
    main()
