"""The unit tests of our scripts, run in the browser; their types; their size."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route

from rickyard.web.assets import ROOT, Assets, made_files, served
from rickyard.web.offline import WORKER, worker_text

TESTS = Path(__file__).parent / "js"
MODULES = sorted((ROOT / "js").rglob("*.js"))
# What an old phone parses in a moment, and a thin signal brings in seconds.
MOST_BYTES = 30_000

RUN = """async ([test, base]) => {
  let count = 0;
  const load = (name) => import(base + name);
  const fresh = () => `unit-${test}-${Date.now()}-${count++}`;
  const cases = await (await import(`/unit/${test}`)).default({ load, fresh });
  const results = {};
  for (const [name, run] of Object.entries(cases)) {
    try { await run(); results[name] = ""; } catch (error) { results[name] = String(error.stack ?? error); }
  }
  return results;
}"""


@pytest.mark.parametrize("test", sorted(path.name for path in TESTS.glob("*_test.js")))
def test_scripts_in_the_browser(page: Page, test: str) -> None:
    """Each file gives named cases; every one must pass."""

    def serve(route: Route) -> None:
        name = route.request.url.rsplit("/", 1)[1]
        if name == "page.html":
            route.fulfill(body="<!doctype html><title>unit</title><body>", content_type="text/html")
        else:
            route.fulfill(path=TESTS / name, content_type="text/javascript")

    page.route("**/unit/*", serve)
    page.goto("/unit/page.html")
    results = page.evaluate(RUN, [test, Assets().url("js/rickyard.js").removesuffix("rickyard.js")])

    assert {name: error for name, error in results.items() if error} == {}
    assert len(results) >= 3


def test_every_script_is_checked_for_types() -> None:
    """`make lint` runs the type check over all of them; a script could opt out with one comment."""
    for path in [*MODULES, WORKER]:
        text = path.read_text()
        assert "@ts-check" in text.splitlines()[0], path
        assert "@ts-nocheck" not in text, path


def test_scripts_for_the_yard_are_small() -> None:
    """What makes pages work without signal is under 30 kB as sent, before compression."""
    ours = [path for path in MODULES if path.parent.name in ("outbox", "shell")]
    assert len(ours) >= 9

    sizes = {path.name: len(served(path).encode()) for path in ours}
    sizes["worker.js"] = len(served(WORKER).encode())
    assert sum(sizes.values()) < MOST_BYTES, sizes


def test_the_tree_keys_script_is_small() -> None:
    """The twin of `rickyard.identify` is at most 12 kB as sent, before compression."""
    ours = [path for path in MODULES if path.parent.name == "identify"]
    assert ours

    assert sum(len(served(path).encode()) for path in ours) <= 12_000


def test_the_worker_keeps_every_packaged_file() -> None:
    """The list is made from the files: each script, sheet, font and picture, by hashed address, once."""
    assets = Assets()
    found = re.match(r'const VERSION = "([0-9a-f]{12})";\nconst SHELL = (\[.*\]);\n', worker_text(assets))

    assert found is not None
    shell = json.loads(found[2])
    wanted = {
        f"/static/{assets.version}/{path.relative_to(ROOT).as_posix()}"
        for path in ROOT.rglob("*")
        if path.suffix in (".js", ".css", ".woff2", ".svg", ".png")
    } | {f"/static/{assets.version}/{name}" for name in made_files()}
    assert set(shell) == wanted
    assert len(shell) == len(set(shell))


def test_another_file_is_another_version(tmp_path: Path) -> None:
    for path in ROOT.rglob("*"):
        if path.is_file():
            copy = tmp_path / path.relative_to(ROOT)
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(path.read_bytes())
    same = worker_text(Assets(tmp_path))
    (tmp_path / "css" / "rickyard.css").write_text("body{}")

    assert same == worker_text(Assets())
    assert worker_text(Assets(tmp_path)).splitlines()[0] != same.splitlines()[0]
