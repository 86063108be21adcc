"""Files served as they are, and what came from elsewhere among them."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import httpx
import pytest

import rickyard.web
from rickyard.web.assets import ROOT, Assets, tree_hash

TEST_VENDOR = Path(__file__).parent / "vendor"
WEB = Path(rickyard.web.__file__).parent


@pytest.mark.parametrize("folder", [ROOT / "vendor", TEST_VENDOR])
def test_vendored_files_are_what_the_manifest_says(folder: Path) -> None:
    """Each file has name, version, licence and hash; nothing else lies there."""
    listed = json.loads((folder / "manifest.json").read_text())["files"]

    for entry in listed:
        assert hashlib.sha256((folder / entry["file"]).read_bytes()).hexdigest() == entry["sha256"], entry[
            "file"
        ]
        assert entry["name"]
        assert re.fullmatch(r"\d+\.\d+\.\d+", entry["version"])
        assert entry["licence"] in ("0BSD", "MIT", "OFL-1.1", "MPL-2.0")
        assert (folder / entry["licence_file"]).stat().st_size > 200
    known = (
        {entry["file"] for entry in listed} | {entry["licence_file"] for entry in listed} | {"manifest.json"}
    )
    assert {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()} == known


def test_nothing_is_fetched_from_elsewhere() -> None:
    """No page, sheet or script of ours names another host (links to it, loads from it)."""
    for path in [*WEB.rglob("*.html"), *WEB.rglob("*.css"), *(ROOT / "js").rglob("*.js")]:
        found = re.findall(r"(?:https?:)?//[\w.-]+\.\w+", path.read_text())
        assert [host for host in found if "www.w3.org" not in host] == [], path


def test_address_changes_with_the_files(tmp_path: Path) -> None:
    (tmp_path / "a.css").write_text("a{}")
    before = tree_hash(tmp_path)
    (tmp_path / "a.css").write_text("b{}")

    assert tree_hash(tmp_path) != before
    assert tree_hash(tmp_path) == tree_hash(tmp_path)


def test_files_are_kept_for_a_year_under_their_hash_only(client: httpx.Client) -> None:
    now = client.get(Assets().url("css/rickyard.css"))
    old = client.get("/static/000000000000/css/rickyard.css")

    assert now.headers["content-type"].startswith("text/css")
    assert "immutable" in now.headers["cache-control"]
    assert old.status_code == 200
    assert old.headers["cache-control"] == "no-cache"
    assert client.get("/static/000000000000/css/none.css").status_code == 404
    assert client.get("/static/000000000000/..%2fapp.py").status_code == 404


def test_pages_are_not_kept(client: httpx.Client) -> None:
    assert client.get("/").headers["cache-control"] == "no-store"


def test_an_unknown_file_is_a_slip() -> None:
    with pytest.raises(KeyError):
        Assets().url("css/none.css")
