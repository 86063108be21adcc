"""A real HTTP server on this computer that stands in for a weather service, with all the ways services fail."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest

from rickyard.feeds import Client


@dataclass
class StandIn:
    """The service: what was asked, and what each of the next answers does. After the last it goes on with it."""

    url: str = ""
    asked: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    agents: list[str] = field(default_factory=list)
    plan: list[Callable[[BaseHTTPRequestHandler, str, dict[str, str]], None]] = field(default_factory=list)

    def then(self, *steps: Callable[[BaseHTTPRequestHandler, str, dict[str, str]], None]) -> StandIn:
        self.plan = list(steps)
        return self


def send(handler: BaseHTTPRequestHandler, status: int, body: bytes, **headers: str) -> None:
    handler.send_response(status)
    for name, value in headers.items():
        handler.send_header(name.replace("_", "-"), value)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    handler.wfile.write(body)


def ok(body: bytes) -> Callable[..., None]:
    return lambda handler, path, query: send(handler, 200, body)


def answers(make: Callable[[str, dict[str, str]], bytes]) -> Callable[..., None]:
    return lambda handler, path, query: send(handler, 200, make(path, query))


def status(code: int, body: object = None, **headers: str) -> Callable[..., None]:
    return lambda handler, path, query: send(handler, code, json.dumps(body).encode(), **headers)


def late(handler: BaseHTTPRequestHandler, path: str, query: dict[str, str]) -> None:
    """Nothing for longer than the client waits."""
    time.sleep(0.6)
    handler.close_connection = True


def cut(body: bytes) -> Callable[..., None]:
    """Half of the answer, then the line goes dead."""

    def give(handler: BaseHTTPRequestHandler, path: str, query: dict[str, str]) -> None:
        handler.send_response(200)
        handler.send_header("Content-Length", str(len(body)))
        handler.end_headers()
        handler.wfile.write(body[: len(body) // 2])
        handler.wfile.flush()
        handler.close_connection = True

    return give


@contextmanager
def stand_in() -> Iterator[StandIn]:
    service = StandIn()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            parts = urlsplit(self.path)
            query = {name: values[0] for name, values in parse_qs(parts.query).items()}
            service.asked.append((parts.path, query))
            service.agents.append(self.headers["User-Agent"])
            step = service.plan.pop(0) if len(service.plan) > 1 else service.plan[0]
            step(self, parts.path, query)

        def log_message(self, *_: object) -> None:
            """Quiet."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    service.url = f"http://127.0.0.1:{server.server_address[1]}"
    yield service
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.fixture
def service() -> Iterator[StandIn]:
    with stand_in() as one:
        yield one


@dataclass
class Waits:
    """What the client waited, counted and not slept."""

    seconds: list[float] = field(default_factory=list)
    now: float = 0.0

    def wait(self, seconds: float) -> None:
        self.seconds.append(seconds)
        self.now += seconds

    def clock(self) -> float:
        return self.now


@pytest.fixture
def waits() -> Waits:
    return Waits()


@pytest.fixture
def client(waits: Waits) -> Client:
    return Client(wait=waits.wait, clock=waits.clock, connect_s=1.0, read_s=0.3)
