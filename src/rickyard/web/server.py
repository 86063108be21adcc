"""Serves the application until it is stopped."""

from __future__ import annotations

import socket
from collections.abc import Callable

import uvicorn

from rickyard.web.app import create_app


class _Announcing(uvicorn.Server):
    """Says its address once it answers."""

    def __init__(self, config: uvicorn.Config, announce: Callable[[], None]) -> None:
        super().__init__(config)
        self._announce = announce

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets=sockets)
        if self.started:
            self._announce()


def run_server(target: str, *, host: str, port: int, announce: Callable[[str], None]) -> None:
    """Serves a book until a signal stops it; `announce` is called with the address once it answers.

    Port 0 takes a free one. Raises BookError if the book cannot be opened, OSError if the port is taken.
    """
    app = create_app(target)
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listener.bind((host, port))
    shown = "127.0.0.1" if host in ("0.0.0.0", "::") else f"[{host}]" if ":" in host else host
    url = f"http://{shown}:{listener.getsockname()[1]}/"
    config = uvicorn.Config(app, log_level="warning", access_log=False, timeout_graceful_shutdown=5)
    _Announcing(config, lambda: announce(url)).run(sockets=[listener])
