"""`rickyard serve`: what it refuses, what it says, whose forwarded headers it believes."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest

from rickyard.cli.app import run
from rickyard.desk.access import SetPassword, set_password
from rickyard.desk.context import new_key
from rickyard.desk.housekeeping import new_book, open_book
from rickyard.desk.people import people
from rickyard.desk.yards import YardFacts, set_up_yard


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "book.sqlite"


@pytest.fixture
def locked(book: Path) -> Path:
    """A book whose owner has a password: only such a one is served where others can reach it."""
    new_book(str(book))
    facts = YardFacts(
        name="Brindlemoor Yard",
        country="CA",
        subdivision="NB",
        timezone="America/Moncton",
        climate_place="Fredericton, NB",
    )
    desk = set_up_yard(open_book(str(book)), facts, owner="Ottilie")
    owner = people(desk)[0].id
    set_password(desk, SetPassword(key=new_key(), who_id=owner), "larch and heron by the gate")
    desk.book.close()
    return book


@contextmanager
def serving(book: Path, *options: str) -> Iterator[tuple[dict[str, str], list[str]]]:
    """The command in a process of its own; the object it printed, and what it had said on stderr when it ended."""
    command = [
        sys.executable,
        "-m",
        "rickyard",
        "serve",
        "--book",
        str(book),
        "--port",
        "0",
        "--json",
        *options,
    ]
    errors: list[str] = []
    server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert server.stdout is not None
    line = server.stdout.readline()
    try:
        assert line, server.communicate(timeout=60)
        yield json.loads(line), errors
    finally:
        server.terminate()
        errors += server.communicate(timeout=60)[1].splitlines()


def refusal(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, str]:
    code = run(["serve", *arguments, "--json"])
    printed = capsys.readouterr()
    assert code == 2
    assert printed.out == ""
    error = json.loads(printed.err)["error"]
    assert isinstance(error, dict)
    return error


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.7", "10.0.0.1"])
def test_plain_http_where_others_reach_it_is_refused(
    capsys: pytest.CaptureFixture[str], book: Path, host: str
) -> None:
    """The error says what would be lost and how to go on; no book has been made by then."""
    error = refusal(capsys, "--book", str(book), "--host", host)

    assert error["code"] == "plain_http"
    assert error["field"] == "host"
    for words in (
        "without signal",
        "outbox",
        "read what is sent",
        "--https",
        "reverse proxy",
        "--plain-http",
    ):
        assert words in error["message"]
    assert not book.exists()


def test_a_proxy_does_not_make_plain_http_safe(capsys: pytest.CaptureFixture[str], book: Path) -> None:
    error = refusal(capsys, "--book", str(book), "--host", "0.0.0.0", "--proxy", "192.168.1.2")

    assert error["code"] == "plain_http"


@pytest.mark.parametrize(
    ("arguments", "field", "words"),
    [
        (["--host", "no-such-host.invalid"], "host", "address of this computer"),
        (["--https", "--plain-http"], "https", "both"),
        (["--name", "yard.local"], "name", "Add --https"),
        (["--https-folder", "folder"], "https_folder", "Add --https"),
        (["--https", "--name", "yard"], "name", "yard.local"),
        (["--https", "--start-port", "70000"], "start_port", "65535"),
        (["--proxy", "proxy.example.org"], "proxy", "172.18.0.0/16"),
        (["--proxy", "*"], "proxy", "172.18.0.0/16"),
        (["--proxy", "192.168.1.1/24"], "proxy", "172.18.0.0/16"),
    ],
)
def test_what_does_not_go_together_is_said(
    capsys: pytest.CaptureFixture[str], book: Path, arguments: list[str], field: str, words: str
) -> None:
    error = refusal(capsys, "--book", str(book), "--port", "0", *arguments)

    assert error["field"] == field
    assert words in error["message"]
    assert not book.exists()


def test_a_database_needs_a_folder_for_the_authority(capsys: pytest.CaptureFixture[str]) -> None:
    error = refusal(capsys, "--database", "postgresql://nobody@127.0.0.1:1/none", "--https")

    assert error["field"] == "https_folder"
    assert "--https-folder FOLDER" in error["message"]


@pytest.mark.parametrize(("option", "field"), [("--port", "port"), ("--start-port", "start_port")])
def test_a_taken_port_is_said(
    capsys: pytest.CaptureFixture[str], book: Path, option: str, field: str
) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        ports = {"--port": "0", "--start-port": "0", option: str(taken.getsockname()[1])}
        error = refusal(
            capsys,
            "--book",
            str(book),
            "--https",
            "--host",
            "127.0.0.1",
            *(word for pair in ports.items() for word in pair),
        )

    assert error["field"] == field
    assert "in use" in error["message"]


@pytest.mark.parametrize(
    "options",
    [("--https", "--start-port", "0"), ("--plain-http", "--host", "0.0.0.0"), ("--proxy", "127.0.0.2")],
)
def test_others_are_let_in_only_where_an_owner_has_a_password(
    capsys: pytest.CaptureFixture[str], book: Path, options: tuple[str, ...]
) -> None:
    """A book without a yard, and one whose owner has no password: refused, with what to do."""
    error = refusal(capsys, "--book", str(book), "--port", "0", *options)
    assert error["code"] == "no_owner_password"
    assert "a book without a yard" in error["message"]
    assert "rickyard people password" in error["message"]


@pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX's")
def test_a_readable_key_stops_the_server(capsys: pytest.CaptureFixture[str], locked: Path) -> None:
    book = locked
    folder = Path(f"{book}.https")
    folder.mkdir(mode=0o755)
    error = refusal(capsys, "--book", str(book), "--https", "--port", "0", "--start-port", "0")

    assert error["code"] == "readable_key"
    assert f"chmod 700 '{folder}'" in error["message"]


def test_plain_http_is_served_when_asked_for_and_warned_of_once(locked: Path) -> None:
    """And nobody's forwarded headers are believed."""
    with serving(locked, "--host", "0.0.0.0", "--plain-http") as (said, errors):
        assert set(said) == {"url"}
        page = httpx.get(f"{said['url']}phone", headers={"X-Forwarded-Proto": "https"}).text
        assert "HTTPS is off" in page
        assert httpx.get(f"{said['url']}health").status_code == 200

    warned = [line for line in errors if "without HTTPS" in line]
    assert len(warned) == 1
    assert "outbox" in warned[0]


def test_loopback_stays_as_it_was(book: Path) -> None:
    """Plain HTTP on this computer alone, without a word on stderr; what the first line says is `url` only."""
    with serving(book) as (said, errors):
        assert list(said) == ["url"]
        assert said["url"].startswith("http://127.0.0.1:")
        assert httpx.get(said["url"], follow_redirects=True).status_code == 200

    assert errors == []
    assert not Path(f"{book}.https").exists()


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have one loopback address")
def test_forwarded_headers_count_from_the_proxy_only(locked: Path) -> None:
    """The same request from 127.0.0.2, the proxy, and from 127.0.0.1, which is not."""
    with serving(locked, "--proxy", "127.0.0.2") as (said, _errors):
        pages = {}
        for source in ("127.0.0.1", "127.0.0.2"):
            with httpx.Client(transport=httpx.HTTPTransport(local_address=source)) as client:
                pages[source] = client.get(f"{said['url']}phone", headers={"X-Forwarded-Proto": "https"}).text
        port = urlsplit(said["url"]).port

    assert "HTTPS is off" in pages["127.0.0.1"]
    assert f"https://127.0.0.1:{port}/" in pages["127.0.0.2"]
    assert "HTTPS is off" not in pages["127.0.0.2"]


def test_https_keeps_its_authority_from_start_to_start(book: Path, tmp_path: Path) -> None:
    """In the folder that was said, and for people in words: both addresses and the fingerprint."""
    folder = tmp_path / "keys"
    options = ("--https", "--host", "127.0.0.1", "--start-port", "0", "--https-folder", str(folder))
    with serving(book, *options) as (first, errors):
        assert httpx.get(first["start_url"]).status_code == 200
    with serving(book, *options) as (second, _errors):
        assert second["authority_sha256"] == first["authority_sha256"]

    assert [line for line in errors if "no phone can come" in line]
    assert (folder / "authority.pem").exists()
    assert not Path(f"{book}.https").exists()


def test_people_are_told_in_words(locked: Path) -> None:
    book = locked
    command = [
        sys.executable,
        "-m",
        "rickyard",
        "serve",
        "--https",
        "--name",
        "yard.local",
        "--book",
        str(book),
    ]
    server = subprocess.Popen(
        [*command, "--port", "0", "--start-port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert server.stdout is not None
    try:
        lines = [server.stdout.readline() for _ in range(5)]
    finally:
        server.terminate()
        server.communicate(timeout=60)

    assert lines[0].startswith("Rickyard is at https://yard.local:")
    assert "http://127.0.0.1:" in lines[1]
    assert "http://yard.local:" in lines[2]
    assert len("".join(lines[3:]).split()) == 8
