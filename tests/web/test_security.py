"""Headers on every answer, changes only from our own pages, host names, size.

CSRF: `Sec-Fetch-Site` is the W3C's Fetch Metadata Request Headers; `Origin` is RFC 6454, section 7.
"""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
from fastapi import FastAPI

from rickyard.web.security import HEADERS, MOST_BYTES


def test_headers_everywhere(client: httpx.Client) -> None:
    """Pages, files, JSON, redirects, refusals and missing pages alike."""
    answers = [
        client.get(path) for path in ("/", "/nothing", "/api/today", "/health", "/set-up", "/api/nothing")
    ]
    answers.append(client.post("/gate", headers={"Sec-Fetch-Site": "cross-site"}))
    for answer in answers:
        for name, value in HEADERS.items():
            assert answer.headers[name] == value, answer.request.url


def test_policy_is_strict(client: httpx.Client) -> None:
    policy = client.get("/").headers["Content-Security-Policy"]

    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "http:" not in policy


def test_a_failure_carries_headers_and_no_trace(app: FastAPI, client: httpx.Client) -> None:
    @app.get("/fails")
    def fails() -> None:
        raise ZeroDivisionError("a secret of the inside")

    answer = client.get("/fails")

    assert answer.status_code == 500
    assert answer.headers["Content-Security-Policy"]
    assert "<h1" in answer.text
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text


@pytest.mark.parametrize(
    ("headers", "taken"),
    [
        ({"Sec-Fetch-Site": "same-origin"}, True),
        ({"Sec-Fetch-Site": "none"}, True),
        ({"Sec-Fetch-Site": "cross-site"}, False),
        ({"Sec-Fetch-Site": "same-site"}, False),
        ({"Sec-Fetch-Site": "same-site", "Origin": "SELF"}, False),
        ({"Origin": "SELF"}, True),
        ({"Origin": "https://elsewhere.example"}, False),
        ({"Origin": "null"}, False),
        ({}, True),
    ],
)
def test_changes_only_from_our_own_pages(client: httpx.Client, headers: dict[str, str], taken: bool) -> None:
    """Refused with 403 before anything is read; what is taken fails later, on its empty form."""
    own = str(client.base_url).rstrip("/")
    sent = {name: own if value == "SELF" else value for name, value in headers.items()}

    for path in ("/households/new", "/api/deeds/set-household"):
        answer = client.post(path, headers=sent)
        assert (answer.status_code != 403) is taken
        if not taken:
            assert answer.json()["error"]["code"] == "foreign_origin"


def test_reading_is_free_of_that_check(client: httpx.Client) -> None:
    assert client.get("/", headers={"Sec-Fetch-Site": "cross-site"}).status_code == 200


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("127.0.0.1:8040", 200),
        ("[::1]:8040", 200),
        ("192.168.1.7", 200),
        ("localhost:8040", 200),
        ("shed.local", 200),
        ("elsewhere.example", 400),
        ("127.0.0.1.elsewhere.example", 400),
        ("localhost.elsewhere.example", 400),
        ("", 400),
    ],
)
def test_host_names(client: httpx.Client, host: str, status: int) -> None:
    """A foreign name that points here is refused: its page could read the book (DNS rebinding)."""
    assert client.get("/health", headers={"Host": host}).status_code == status


def test_too_large_is_refused(client: httpx.Client) -> None:
    """Said with its length or not, a body beyond the bound is not taken."""
    piece = b"x" * 65536

    def endless() -> Iterator[bytes]:
        for _ in range(MOST_BYTES // len(piece) + 3):
            yield piece

    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    assert client.post("/gate", content=b"x" * (MOST_BYTES + 1), headers=kind).status_code == 413
    try:
        status = client.post("/gate", content=endless(), headers=kind).status_code
    except (httpx.RemoteProtocolError, httpx.WriteError):
        status = 413  # the server hung up while we were still sending, which refuses as well
    assert status in (400, 413)


def test_cookies_are_closed_to_scripts(client: httpx.Client) -> None:
    cookie = client.get("/", params={"lang": "fr_CA"}).headers["set-cookie"]

    assert "HttpOnly" in cookie
    assert "samesite=lax" in cookie.lower()
