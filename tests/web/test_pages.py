"""Every page answers, without scripts, in every language, in both systems of units; none is forgotten."""

from __future__ import annotations

import re

import httpx
import pytest
from fastapi import FastAPI
from starlette.routing import Route

from rickyard.show import find_raw_english

# Routes that are no pages: files, the paper, what the worker asks for, the page before there is a yard (tested
# by itself).
NO_PAGES = {
    "/static/{version}/{name:path}",
    "/tickets/{ticket_id:int}.pdf",
    "/calendar.pdf",
    "/species/{name}.pdf",
    "/species/{name}/drying.json",
    "/species/table.json",
    "/h/{token}/tickets/{ticket_id:int}.pdf",
    "/photos/{photo_id:int}",
    "/photos/{photo_id:int}/small",
    "/set-up",
    "/sw.js",
    "/manifest.webmanifest",
    "/offline/keep.json",
    "/rickyard.crt",
    "/downloads/bookkeeping.zip",
    "/downloads/book.zip",
    "/downloads/backup.zip",
    "/qr/{name}.svg",
    "/weather/map.svg",
    "/cutting/{sheet_id:int}/sheet.pdf",
    "/splitting/{sheet_id:int}/sheet.pdf",
    "/weather/files/{file_id:int}",
    "/lists/example/{kind}.{ending}",
}


def test_no_page_is_forgotten(app: FastAPI, paths: dict[str, str]) -> None:
    """Each GET route outside the API has an address in `paths`, so the checks below see it."""
    routes = {
        route.path
        for route in _routes(app.routes)
        if "GET" in (route.methods or ()) and not route.path.startswith(("/api", "/health"))
    }

    assert routes - NO_PAGES == {name.split(" ")[0] for name in paths}


def test_pages_answer(client: httpx.Client, paths: dict[str, str]) -> None:
    """Plain GETs without scripts or cookies give whole pages."""
    for name, path in paths.items():
        answer = client.get(path)
        assert answer.status_code == 200, path
        if name not in (
            "/progress",
            "/species-options",
            "/place-options",
            "/household-options",
            "/load-options",
        ):
            assert answer.text.startswith("<!doctype html>"), path
            assert answer.text.count("<h1") == 1, path
            assert "<style" not in answer.text, path
            assert " style=" not in answer.text, path
            assert not re.search(r"<script(?![^>]* src=)", answer.text), path
            assert not re.search(r" on[a-z]+=", answer.text), path


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_no_raw_english(
    client: httpx.Client, paths: dict[str, str], typed: tuple[str, ...], units: str
) -> None:
    """In the pseudo-language every word on every page has gone through the catalogue."""
    found = {
        path: raw
        for path in paths.values()
        if (raw := find_raw_english(_with(client, path, lang="en_XA", units=units), typed))
    }

    assert found == {}


def test_raw_english_would_be_found(client: httpx.Client, typed: tuple[str, ...]) -> None:
    """The check above can fail: the same page in English is full of raw words."""
    assert len(find_raw_english(_with(client, "/", lang="en_CA"), typed)) > 10


def test_no_raw_english_in_complaints(client: httpx.Client, typed: tuple[str, ...]) -> None:
    """Complaints of forms are sentences of the catalogue too."""
    client.cookies.set("lang", "en_XA")
    for path in ("/wood-in/new", "/wood-in/logs", "/stacks/new", "/stacks/opening", "/wares/new", "/gate"):
        answer = client.post(path, data={"key": "k" * 12, "quantity": "xx", "wood": "zzz"})
        assert answer.status_code == 422, path
        assert find_raw_english(answer.text, (*typed, "xx", "zzz")) == [], path


@pytest.mark.parametrize("lang", ["fr_CA", "en_US", "en_GB", "fr_FR"])
def test_other_languages(client: httpx.Client, paths: dict[str, str], lang: str) -> None:
    for path in paths.values():
        answer = client.get(path, params=None if "?" in path else {"lang": lang, "units": "metric"})
        assert answer.status_code == 200, path
    assert f'lang="{lang.replace("_", "-")}"' in _with(client, "/", lang=lang)


def test_language_is_kept_on_the_device(client: httpx.Client) -> None:
    """`?lang=` sets a cookie; what is no language of ours changes nothing."""
    client.get("/", params={"lang": "fr_CA"})
    assert 'lang="fr-CA"' in client.get("/").text

    client.get("/", params={"lang": "tlh"})
    assert 'lang="fr-CA"' in client.get("/").text


def test_metric_yard_sees_no_cords_first(client: httpx.Client, small_yard: object) -> None:
    text = _with(client, "/stacks", units="metric")
    assert "stacked\xa0m³" in text
    assert "cords" not in text


def test_unknown_things_are_404(client: httpx.Client) -> None:
    for path in (
        "/nothing",
        "/stacks/999999",
        "/wood-in/999999",
        "/orders/999999",
        "/tickets/999999",
        "/tickets/999999.pdf",
        "/households/999999",
        "/wares/999999",
    ):
        answer = client.get(path)
        assert answer.status_code == 404, path
        assert "<h1" in answer.text, path


def test_a_new_book_asks_for_the_yard_first(empty_client: httpx.Client) -> None:
    for path in ("/", "/stacks", "/wood-in/new"):
        answer = empty_client.get(path)
        assert answer.status_code == 303
        assert answer.headers["location"] == "/set-up"

    page = empty_client.get("/set-up", params={"lang": "en_XA"})
    assert page.status_code == 200
    assert find_raw_english(page.text, ("Rickyard",)) == []
    assert "<nav" not in page.text


def test_setting_up_a_yard(empty_client: httpx.Client) -> None:
    facts = {
        "key": "k" * 12,
        "name": "Brindlemoor Yard",
        "region": "CA-NB",
        "climate_place": "Fredericton, NB",
        "units": "imperial",
        "target": "20",
    }
    bad = empty_client.post("/set-up", data=facts | {"climate_place": "Nowhere at all", "target": "80"})
    assert bad.status_code == 422
    assert 'value="Nowhere at all"' in bad.text
    assert 'id="climate_place-error"' in bad.text or 'id="target-error"' in bad.text

    assert empty_client.post("/set-up", data=facts).headers["location"] == "/"
    assert "Brindlemoor Yard" in empty_client.get("/").text
    assert empty_client.get("/set-up").headers["location"] == "/"


def test_ticket_on_paper(client: httpx.Client, paths: dict[str, str]) -> None:
    answer = client.get(f"{paths['/tickets/{ticket_id:int}']}.pdf")

    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


def _with(client: httpx.Client, path: str, **choices: str) -> str:
    joined = "&".join(f"{name}={value}" for name, value in choices.items())
    return client.get(f"{path}{'&' if '?' in path else '?'}{joined}").text


def _routes(routes: object) -> list[Route]:
    found: list[Route] = []
    for route in routes:  # type: ignore[attr-defined]
        inner = getattr(getattr(route, "original_router", None), "routes", None)
        if inner is not None:
            found += _routes(inner)
        elif isinstance(route, Route):
            found.append(route)
    return found
