"""What all browser tests share: the system's own Chromium, driven without a download or background traffic."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, expect, sync_playwright

# How long an example takes says something of the machine, nothing of the code: speed is for the benchmarks.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
expect.set_options(timeout=30_000)

CHROMIUM_FLAGS = [
    "--no-sandbox",  # as root, in a container
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One headless Chromium for the whole run. `make test` installs it, so its absence is a failure."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        pytest.fail("Chromium is not installed: run make system")
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=found, args=CHROMIUM_FLAGS)
        yield chromium
        chromium.close()
