"""A bad road between phone and yard: a proxy that loses, delays, doubles and spoils what goes over it.

Browsers call it localhost, so pages on it may keep things; and its address stays while the yard's computer is
restarted behind it.
"""

from __future__ import annotations

import http.client
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

#: What can happen on the way.
#: `open`: nothing. `closed`: no answer to anything. The rest befall changes (POST) only:
#: `late`: the answer comes after a while; `cut`: it was done, but the answer is lost; `half`: the answer breaks off;
#: `twice`: the request arrives two times; `spoilt`: the server fails before doing it; `foreign`: somebody else's
#: page answers, as in a hotel.
STATES = ("open", "closed", "late", "cut", "half", "twice", "spoilt", "foreign")
LATE_S = 1.5


class Road:
    def __init__(self, target: str) -> None:
        self.target = target
        self.state = "open"
        self.changes: list[tuple[str, str]] = []
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self._server.daemon_threads = True
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.05})
        self._thread.start()

    @property
    def address(self) -> str:
        return f"http://localhost:{self._server.server_port}"

    def close(self) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        road = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def log_message(self, *_args: object) -> None:
                """Quiet."""

            def do_GET(self) -> None:
                self._go(b"")

            def do_POST(self) -> None:
                self._go(self.rfile.read(int(self.headers.get("Content-Length", 0))))

            def _go(self, body: bytes) -> None:
                change = self.command == "POST" and "x-outbox" in self.headers
                state = road.state
                if change:
                    road.changes.append((self.path, state))
                if state == "closed":
                    self.close_connection = True
                    self.connection.close()
                    return
                if not change:
                    state = "open"
                if state == "late":
                    time.sleep(LATE_S)
                if state == "spoilt":
                    self._answer(500, [("Content-Type", "text/html")], b"<h1>broken</h1>")
                    return
                if state == "foreign":
                    self._answer(200, [("Content-Type", "text/html")], b"<h1>Welcome to our guests</h1>")
                    return
                if state == "twice":
                    self._forward(body)
                status, headers, content = self._forward(body)
                if state == "cut":
                    self.close_connection = True
                    self.connection.close()
                    return
                self._answer(status, headers, content, half=state == "half")

            def _forward(self, body: bytes) -> tuple[int, list[tuple[str, str]], bytes]:
                there = urlsplit(road.target)
                connection = http.client.HTTPConnection(there.hostname or "", there.port, timeout=30)
                headers = {
                    name: value for name, value in self.headers.items() if name.lower() != "connection"
                }
                try:
                    connection.request(self.command, self.path, body or None, headers)
                    answer = connection.getresponse()
                    return answer.status, answer.getheaders(), answer.read()
                except OSError:
                    # The yard's computer is off: the phone sees no answer.
                    return 502, [("Content-Type", "text/html")], b"off"
                finally:
                    connection.close()

            def _answer(
                self, status: int, headers: list[tuple[str, str]], content: bytes, half: bool = False
            ) -> None:
                self.send_response_only(status)
                for name, value in headers:
                    if name.lower() not in ("connection", "transfer-encoding", "content-length"):
                        self.send_header(name, value)
                self.send_header("Content-Length", str(len(content)))
                self.end_headers()
                self.wfile.write(content[: len(content) // 2] if half else content)
                if half:
                    self.wfile.flush()
                    self.close_connection = True
                    self.connection.close()

        return Handler


@contextmanager
def bad_road(target: str) -> Iterator[Road]:
    road = Road(target)
    try:
        yield road
    finally:
        road.close()
