"""The yard over HTTPS by its own authority, as phones meet it: real TLS, a real Chromium that trusts it by its store.

No certificate error is ignored anywhere here.
"""

from __future__ import annotations

import asyncio
import hashlib
import ipaddress
import json
import os
import re
import shutil
import ssl
import subprocess
import sys
import threading
import warnings
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlsplit

import cv2
import httpx
import numpy as np
import pytest
from cryptography import x509
from fastapi import FastAPI
from playwright.sync_api import Browser, Error, Page

from rickyard.desk.access import SetPassword, set_password
from rickyard.desk.context import new_key
from rickyard.desk.housekeeping import open_book
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.yards import open_desk
from rickyard.errors import InputError
from rickyard.show import find_raw_english
from rickyard.web.authority import open_authority
from rickyard.web.https import Https
from rickyard.web.phones import kind_of, qr_svg, start_app
from rickyard.web.security import HEADERS
from rickyard.web.server import _look

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text()
NAME = "yard.local"
PASSWORD = "larch and heron by the gate"
T = TypeVar("T")
FLAGS = ["--no-sandbox", "--disable-background-networking", "--disable-component-update", "--no-first-run"]
WORKER = "'serviceWorker' in navigator"


@dataclass(frozen=True)
class Yard:
    """A served yard: the first line it printed, its ports, its authority's certificate as taken from the start page."""

    said: dict[str, str]
    port: int
    start_port: int
    der: bytes

    @property
    def trusting(self) -> ssl.SSLContext:
        """A client that trusts this authority and nothing else."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.load_verify_locations(cadata=self.der)
        return context


@pytest.fixture(scope="module")
def yard(small_yard_file: object, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Yard]:
    """`rickyard serve --https` on a copy of the small yard, as a person starts it."""
    folder = tmp_path_factory.mktemp("https")
    book = folder / "book.sqlite"
    shutil.copy(small_yard_file.target, book)  # type: ignore[attr-defined]
    lock(str(book))
    command = [sys.executable, "-m", "rickyard", "serve", "--https", "--json", "--name", NAME]
    server = subprocess.Popen(
        [*command, "--book", str(book), "--port", "0", "--start-port", "0"], stdout=subprocess.PIPE, text=True
    )
    assert server.stdout is not None
    try:
        said = json.loads(server.stdout.readline())
        port, start_port = (int(urlsplit(said[key]).port or 0) for key in ("url", "start_url"))
        der = httpx.get(f"http://127.0.0.1:{start_port}/rickyard.crt").content
        yield Yard(said, port, start_port, der)
        assert (folder / "book.sqlite.https" / "authority.pem").exists()
    finally:
        server.terminate()
        server.wait(timeout=60)
        server.stdout.close()


@pytest.fixture
def start(yard: Yard) -> Iterator[httpx.Client]:
    """The start page, plain."""
    with httpx.Client(base_url=f"http://127.0.0.1:{yard.start_port}") as client:
        yield client


@pytest.fixture
def inside(yard: Yard) -> Iterator[httpx.Client]:
    """The application over HTTPS."""
    with httpx.Client(base_url=f"https://127.0.0.1:{yard.port}", verify=yard.trusting) as client:
        came = client.post("/sign-in", data={"person": "Ottilie", "password": PASSWORD})
        assert came.status_code == 303
        yield client


def lock(target: str) -> None:
    """Gives the book an owner with a password; a book without one is not served to others."""
    book = open_book(target)
    desk = open_desk(book)
    assert desk is not None
    owner = add_person(desk, AddPerson(key=new_key(), name="Ottilie", role="owner"))["person_id"]
    set_password(desk, SetPassword(key=new_key(), who_id=owner), PASSWORD)
    book.close()


def alone(work: Callable[[], Coroutine[Any, Any, T]]) -> T:
    """Runs it in a thread, for the driver of the browser keeps this one's event loop to itself."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(lambda: asyncio.run(work())).result()


def asked(app: Any, address: str) -> httpx.Response:
    """An answer of an application under any address, without a server."""

    async def get() -> httpx.Response:
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app)) as client:
            return await client.get(address)

    return alone(get)


def read_qr(browser: Browser, svg: bytes) -> str:
    """What a camera would read off the screen."""
    page = browser.new_page(viewport={"width": 400, "height": 400})
    page.set_content(f"<body style='margin:0'>{svg.decode().partition('?>')[2]}</body>")
    shot = np.frombuffer(page.screenshot(), np.uint8)
    page.close()
    found, *_ = cv2.QRCodeDetector().detectAndDecode(cv2.imdecode(shot, cv2.IMREAD_GRAYSCALE))
    return str(found)


# -- TLS ----------------------------------------------------------------------------------------
def test_says_where_and_by_which_authority(yard: Yard) -> None:
    assert set(yard.said) == {"url", "start_url", "authority_sha256"}
    assert yard.said["url"] == f"https://{NAME}:{yard.port}/"
    assert yard.said["start_url"] == f"http://{NAME}:{yard.start_port}/"
    assert yard.said["authority_sha256"] == hashlib.sha256(yard.der).hexdigest()


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost"])
def test_a_client_that_trusts_the_authority_comes_in(yard: Yard, host: str) -> None:
    answer = httpx.get(f"https://{host}:{yard.port}/sign-in", verify=yard.trusting)

    assert answer.status_code == 200
    assert "Brindlemoor Yard" in answer.text
    assert answer.headers["content-security-policy"] == HEADERS["Content-Security-Policy"]


def test_a_client_that_does_not_is_warned(yard: Yard) -> None:
    with pytest.raises(httpx.ConnectError, match="CERTIFICATE_VERIFY_FAILED"):
        httpx.get(f"https://127.0.0.1:{yard.port}/", verify=ssl.create_default_context())


@pytest.mark.parametrize(("version", "taken"), [("TLSv1_1", False), ("TLSv1_2", True), ("TLSv1_3", True)])
def test_old_tls_is_refused(yard: Yard, version: str, taken: bool) -> None:
    context = yard.trusting
    context.set_ciphers("ALL:@SECLEVEL=0")  # or our own side would not speak TLS 1.1 at all
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        context.minimum_version = context.maximum_version = ssl.TLSVersion[version]
    if taken:
        assert httpx.get(f"https://127.0.0.1:{yard.port}/health", verify=context).status_code == 200
    else:
        with pytest.raises(httpx.ConnectError, match=r"(?i)protocol.version|unexpected.eof"):
            httpx.get(f"https://127.0.0.1:{yard.port}/health", verify=context)


def test_plain_requests_get_nothing_at_the_https_port(yard: Yard) -> None:
    with pytest.raises(httpx.RemoteProtocolError):
        httpx.get(f"http://127.0.0.1:{yard.port}/")


def test_changes_are_taken_over_https(inside: httpx.Client, yard: Yard) -> None:
    """The check of where a change comes from holds with an https origin too."""
    own = f"https://127.0.0.1:{yard.port}"
    assert inside.post("/households/new", headers={"Origin": own}).status_code == 422
    assert inside.post("/households/new", headers={"Origin": "https://elsewhere.example"}).status_code == 403


# -- the start page -----------------------------------------------------------------------------
def test_start_page_has_nothing_of_the_book(
    start: httpx.Client, typed: tuple[str, ...], paths: dict[str, str]
) -> None:
    """Every page and interface of the application is missing there; what is there names nothing typed."""
    secret = [words for words in typed if words != "Rickyard"]
    asked = [*paths.values(), "/set-up", "/health", "/api/today", "/api/stacks", "/api/openapi.json"]
    for path in (*asked, "/tickets/1.pdf", "/", "/rickyard.crt", "/qr/authority.svg", "/qr/yard.svg"):
        answer = start.get(path)
        if path in asked and path not in ("/", "/phone"):
            assert answer.status_code == 404, path
        assert [words for words in secret if words.encode() in answer.content] == [], path
    assert start.post("/gate", data={"quantity": "1"}).status_code in (404, 405)


def test_start_page_is_guarded(start: httpx.Client) -> None:
    for path in ("/", "/nothing", "/rickyard.crt", "/qr/yard.svg"):
        answer = start.get(path)
        for name, value in HEADERS.items():
            assert answer.headers[name] == value, path
    assert start.get("/", headers={"Host": "elsewhere.example"}).status_code == 400
    assert start.get("/", headers={"Host": NAME}).status_code == 200


def test_the_certificate_is_as_phones_take_it(start: httpx.Client, inside: httpx.Client, yard: Yard) -> None:
    for client in (start, inside):
        answer = client.get("/rickyard.crt")
        assert answer.headers["content-type"] == "application/x-x509-ca-cert"
        assert answer.content == yard.der
    certificate = x509.load_der_x509_certificate(yard.der)
    assert certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca


def test_page_shows_the_fingerprint(start: httpx.Client, inside: httpx.Client, yard: Yard) -> None:
    whole = yard.said["authority_sha256"].upper()
    groups = [":".join(whole[at + i : at + i + 2] for i in range(0, 8, 2)) for at in range(0, 64, 8)]
    for answer in (start.get("/"), inside.get("/phone")):
        assert all(f"<code>{group}</code>" in answer.text for group in groups)


@pytest.mark.parametrize(
    ("agent", "title"),
    [
        ("Mozilla/5.0 (Linux; Android 14) Chrome/130 Mobile Safari/537.36", "Android"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) Safari/604.1", "iPhone and iPad"),
        ("Mozilla/5.0 (Windows NT 10.0; Win64; x64) Chrome/130", "Laptop with Windows"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) Safari/605.1.15", "Laptop with macOS"),
        ("Mozilla/5.0 (X11; Linux x86_64; rv:130.0) Firefox/130.0", "Laptop with Linux, Chrome or Chromium"),
        ("", "Laptop with Linux, Chrome or Chromium"),
    ],
)
def test_the_askers_own_steps_are_open(start: httpx.Client, agent: str, title: str) -> None:
    page = start.get("/", headers={"User-Agent": agent}).text
    opened = page.partition('<details class="more" open>')[2].partition("</summary>")[0]

    assert opened.partition("<summary>")[2] == title
    assert page.count(" open>") == 1
    assert kind_of(agent) in ("android", "apple", "windows", "mac", "linux")


def test_no_raw_english(start: httpx.Client, inside: httpx.Client, typed: tuple[str, ...]) -> None:
    for client, path in ((start, "/"), (inside, "/phone")):
        page = client.get(path, params={"lang": "en_XA"}).text
        assert find_raw_english(page, (*typed, "Rickyard")) == []
        assert "<style" not in page
        assert " style=" not in page
    assert "<script" not in start.get("/").text


@pytest.mark.browser
@pytest.mark.parametrize("path", ["/qr/authority.svg", "/qr/yard.svg"])
def test_qr_codes_lead_where_they_should(
    browser: Browser, start: httpx.Client, inside: httpx.Client, yard: Yard, path: str
) -> None:
    """Seen on the computer itself they name the address for phones, not `localhost`."""
    wanted = {
        "/qr/authority.svg": f"http://{NAME}:{yard.start_port}/rickyard.crt",
        "/qr/yard.svg": f"https://{NAME}:{yard.port}/",
    }[path]
    for client in (start, inside):
        answer = client.get(path)
        assert answer.headers["content-type"].startswith("image/svg+xml")
        assert read_qr(browser, answer.content) == wanted
    assert start.get("/qr/book.svg").status_code == 404


@pytest.mark.browser
def test_another_qr_code_reads_otherwise(browser: Browser) -> None:
    """The reader above does read."""
    assert read_qr(browser, qr_svg("https://10.0.0.9:1/")) == "https://10.0.0.9:1/"


# -- the page in the application without HTTPS ----------------------------------------------------
def test_without_https_the_page_says_how_to_switch_it_on(client: httpx.Client) -> None:
    assert "rickyard serve --https" in client.get("/phone").text
    for path in ("/rickyard.crt", "/qr/authority.svg", "/qr/yard.svg"):
        assert client.get(path).status_code == 404


def test_the_page_is_there_before_the_yard_is_set_up(empty_client: httpx.Client) -> None:
    assert "rickyard serve --https" in empty_client.get("/phone").text


# -- browsers -----------------------------------------------------------------------------------
@contextmanager
def chromium(browser: Browser, home: Path, der: bytes | None) -> Iterator[Browser]:
    """A Chromium of its own whose user has this home, with the authority in the user's store or without."""
    if der is not None:
        store = home / ".pki" / "nssdb"
        store.mkdir(parents=True)
        file = home / "rickyard.crt"
        file.write_bytes(der)
        for arguments in (["-N", "--empty-password"], ["-A", "-t", "C,,", "-n", "rickyard", "-i", str(file)]):
            subprocess.run(["certutil", "-d", f"sql:{store}", *arguments], check=True)
    launched = browser.browser_type.launch(
        executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
        env={**os.environ, "HOME": str(home)},
        args=[
            *FLAGS,
            "--host-resolver-rules=MAP *.local 127.0.0.1, MAP *.example 127.0.0.1, MAP 203.0.113.5 127.0.0.1",
        ],
    )
    yield launched
    launched.close()


def axe(page: Page) -> list[str]:
    page.evaluate(AXE)
    found = page.evaluate(
        """() => axe.run(document, {
             runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]},
             rules: {"color-contrast-enhanced": {enabled: true}},
           }).then((result) => result.violations)"""
    )
    return [f"{item['id']}: {node['target']}" for item in found for node in item["nodes"]]


@pytest.mark.browser
def test_a_browser_that_trusts_the_authority_has_a_secure_context(
    browser: Browser, yard: Yard, tmp_path: Path
) -> None:
    """By a name that is not localhost, which browsers treat as secure in any case, and from link to link."""
    with chromium(browser, tmp_path, yard.der) as trusting:
        page = trusting.new_page(viewport={"width": 390, "height": 844})
        answer = page.goto(yard.said["start_url"])
        assert answer is not None
        assert answer.ok
        # The plain page is what offline pages are not allowed on.
        assert page.evaluate("isSecureContext") is False
        assert page.evaluate(WORKER) is False

        page.get_by_role("link", name="Open it on this device").click()
        # Others can reach the book, so they are asked who they are.
        page.wait_for_url(re.compile(r"/sign-in\?next=%2F$"))
        page.fill("[name=person]", "ottilie")
        page.fill("[name=password]", PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(yard.said["url"])
        assert page.evaluate("isSecureContext") is True
        assert page.evaluate(WORKER) is True
        assert "Brindlemoor Yard" in page.inner_text("body")
        # The page's own address works as well as the name.
        page.goto(f"https://127.0.0.1:{yard.port}/phone")
        assert page.evaluate("isSecureContext") is True


@pytest.mark.browser
def test_a_browser_without_the_authority_refuses(browser: Browser, yard: Yard, tmp_path: Path) -> None:
    with chromium(browser, tmp_path, None) as stranger:
        page = stranger.new_page()
        with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
            page.goto(yard.said["url"])


class _Page(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        body = b"<title>here</title>"
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_arguments: object) -> None:
        """Says nothing."""


class _Server(ThreadingHTTPServer):
    def handle_error(self, *_arguments: object) -> None:
        """A browser that refuses the certificate hangs up, which is what is looked at."""


@contextmanager
def shown(pem: Path) -> Iterator[int]:
    """An empty page served with any certificate; its port."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem)
    with _Server(("127.0.0.1", 0), _Page) as server:
        # The handshake is each thread's own, or one idle connection would keep all others waiting.
        server.socket = context.wrap_socket(server.socket, server_side=True, do_handshake_on_connect=False)
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield int(server.server_address[1])
        server.shutdown()
        thread.join()


@pytest.mark.browser
def test_a_browser_heeds_the_limits_of_the_authority(
    browser: Browser, tmp_path: Path, forge: Callable[..., tuple[x509.Certificate, bytes]]
) -> None:
    """With the stolen key itself nobody passes for a shop before a phone that trusts the yard."""
    authority = open_authority(tmp_path / "authority", hostname="shed", now=datetime.now(UTC))
    answers = {}
    with chromium(browser, tmp_path / "home", authority.der) as trusting:
        for host, name in (
            ("shed.local", x509.DNSName("shed.local")),
            ("127.0.0.1", x509.IPAddress(ipaddress.ip_address("127.0.0.1"))),
            ("www.shop.example", x509.DNSName("www.shop.example")),
            ("203.0.113.5", x509.IPAddress(ipaddress.ip_address("203.0.113.5"))),
        ):
            pem = tmp_path / f"{host}.pem"
            pem.write_bytes(forge(authority, name)[1])
            page = trusting.new_page()
            with shown(pem) as port:
                try:
                    page.goto(f"https://{host}:{port}/")
                    answers[host] = page.title()
                except Error as error:
                    answers[host] = str(error).partition("net::")[2].split()[0]
            page.close()

    assert answers == {
        "shed.local": "here",
        "127.0.0.1": "here",
        "www.shop.example": "ERR_CERT_INVALID",
        "203.0.113.5": "ERR_CERT_INVALID",
    }


@pytest.mark.browser
@pytest.mark.parametrize("width", [390, 1280])
def test_pages_are_accessible(browser: Browser, yard: Yard, tmp_path: Path, width: int) -> None:
    """The start page and the one in the application, with every how-to open; nothing sticks out sideways."""
    with chromium(browser, tmp_path, yard.der) as trusting:
        page = trusting.new_page(viewport={"width": width, "height": 844})
        complaints: list[str] = []
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda message: (
                complaints.append(message.text) if "Content Security Policy" in message.text else None
            ),
        )
        for address in (yard.said["start_url"], f"{yard.said['url']}phone"):
            page.goto(address)
            page.evaluate("document.querySelectorAll('details.more').forEach((item) => item.open = true)")
            assert page.locator(".qr img").first.evaluate("image => image.naturalWidth") > 0
            assert axe(page) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            small = page.locator("main .button, main summary").evaluate_all(
                "items => items.filter((item) => item.getBoundingClientRect().height < 48).length"
            )
            assert small == 0
        assert complaints == []


# -- while it runs ------------------------------------------------------------------------------
class Clock:
    def __init__(self) -> None:
        self.now = datetime.now(UTC)

    def __call__(self) -> datetime:
        return self.now


def https_in(folder: Path, clock: Clock, **more: Any) -> Https:
    return Https(folder, **{"host": "0.0.0.0", "port": 8040, "start_port": 8041, **more}, clock=clock)


def test_a_running_server_follows_the_clock(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Near its end the certificate is made again and shown to the next who connects; a failure is told, not final."""
    clock = Clock()
    own = https_in(tmp_path / "own", clock)
    first = own.certificate.certificate
    handed: list[x509.Certificate] = []

    async def connect(port: int) -> None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.load_verify_locations(cadata=own.authority.der)
        _reader, writer = await asyncio.open_connection("127.0.0.1", port, ssl=context)
        of_peer = writer.get_extra_info("ssl_object").getpeercert(binary_form=True)
        handed.append(x509.load_der_x509_certificate(of_peer))
        writer.close()
        await writer.wait_closed()

    async def run() -> None:
        async def answer(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            writer.close()

        server = await asyncio.start_server(answer, "127.0.0.1", 0, ssl=own.context)
        port = server.sockets[0].getsockname()[1]
        looking = asyncio.create_task(_look(own, every_s=0.01))
        await connect(port)
        (tmp_path / "own").chmod(0o755)
        # Not so far that OpenSSL, which knows the true time only, finds the next one to be of the future.
        clock.now = first.not_valid_before_utc + timedelta(days=2)
        await asyncio.sleep(0.1)
        (tmp_path / "own").chmod(0o700)
        (tmp_path / "own" / "server.pem").unlink()
        await asyncio.sleep(0.2)
        await connect(port)
        looking.cancel()
        server.close()
        await server.wait_closed()

    alone(run)

    assert handed[0] == first
    assert handed[1] == own.certificate.certificate != first
    assert "could not be made again" in caplog.text


def test_refresh_makes_another_near_the_end_only(tmp_path: Path) -> None:
    clock = Clock()
    own = https_in(tmp_path / "own", clock)

    assert own.refresh() is False
    clock.now += timedelta(days=300)
    assert own.refresh() is False
    clock.now += timedelta(days=80)
    assert own.refresh() is True
    assert own.certificate.certificate.not_valid_after_utc > clock.now + timedelta(days=390)


def test_a_renewed_authority_is_told(tmp_path: Path) -> None:
    """To the one who starts the server and to every phone, with the day by which it must be done."""
    clock = Clock()
    own = https_in(tmp_path / "own", clock)
    end = own.authority.certificate.not_valid_after_utc
    assert own.door().earlier_until is None
    clock.now = end - timedelta(days=200)
    later = https_in(tmp_path / "own", clock)

    assert later.door().earlier_until == end.date()
    assert any("must take the new one" in str(note) for note in later.notes())
    page = asked(start_app(later), "http://127.0.0.1:8041/").text
    assert "The certificate was renewed" in page
    assert str(end.year) in page


# -- which address ------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("came_by", "host"),
    [
        ("", NAME),
        ("localhost:8041", NAME),
        ("127.0.0.1:8041", NAME),
        ("[::1]:8041", NAME),
        ("elsewhere.example", NAME),
        ("8.8.8.8", NAME),
        (f"{NAME}:8041", NAME),
        ("second.local:8041", "second.local"),
    ],
)
def test_a_phone_is_sent_where_it_can_come(tmp_path: Path, came_by: str, host: str) -> None:
    """By the name it came by if the certificate holds for it; never to its own localhost, never elsewhere."""
    own = https_in(tmp_path / "own", Clock(), names=[NAME, "second.local"])

    assert own.reachable(came_by) == host
    assert own.door(came_by).yard_url == f"https://{host}:8040/"


def test_a_name_beyond_the_authority_is_refused(tmp_path: Path) -> None:
    https_in(tmp_path / "own", Clock())

    with pytest.raises(InputError, match="may speak for") as caught:
        https_in(tmp_path / "own", Clock(), names=["yard.example.org"])
    assert caught.value.field == "name"
    # Said when the authority is made, it may.
    own = https_in(tmp_path / "new", Clock(), names=["yard.example.org"])
    assert "yard.example.org" in own.certificate.hosts


def test_a_public_address_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="reverse proxy") as caught:
        https_in(tmp_path / "own", Clock(), host="203.0.113.5")
    assert caught.value.field == "host"


def test_a_single_address_is_certified_alone(tmp_path: Path) -> None:
    own = https_in(tmp_path / "own", Clock(), host="127.0.0.1")

    assert [str(address) for address in own.certificate.addresses] == ["127.0.0.1"]
    assert any("no phone can come" in str(note) for note in own.notes())


def test_https_behind_a_proxy_needs_nothing_installed(app: FastAPI) -> None:
    """An address with a public certificate is shown as it is."""
    try:
        page = asked(app, "https://yard.local/phone").text
        assert "https://yard.local/" in page
        assert "rickyard serve --https" not in page
        assert asked(app, "https://yard.local/qr/yard.svg").status_code == 200
        assert asked(app, "https://yard.local/qr/authority.svg").status_code == 404
    finally:
        app.state.office.close()
