"""Serves the application until it is stopped."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import logging
import socket
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn

from rickyard.errors import InputError, RickyardError
from rickyard.text import T_, Text
from rickyard.web.app import create_app, named_hosts
from rickyard.web.https import LOOK_SECONDS, Https
from rickyard.web.machine import is_loopback
from rickyard.web.phones import start_app

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class OwnHttps:
    """What is wanted of HTTPS by the yard's own authority.

    `folder` keeps the authority, `names` are host names beside the machine's own, `start_port` is where phones
    find the start page (0 takes a free one).
    """

    folder: Path
    names: Sequence[str] = ()
    start_port: int = 8041


@dataclass(frozen=True)
class Served:
    """Where the application answers; with HTTPS also where phones begin, what they compare, what to know."""

    url: str
    start_url: str = ""
    # The start page on this computer itself.
    own_start_url: str = ""
    authority_sha256: str = ""
    fingerprint: tuple[str, ...] = ()
    notes: tuple[Text, ...] = ()


class _Announcing(uvicorn.Server):
    """Says its address once it answers, and keeps the certificate fresh."""

    def __init__(self, config: uvicorn.Config, announce: Callable[[], None], https: Https | None) -> None:
        super().__init__(config)
        self._announce = announce
        self._https = https
        self._looking: asyncio.Task[None] | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets=sockets)
        if self.started:
            if self._https is not None:
                self._looking = asyncio.create_task(_look(self._https))
            self._announce()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        if self._looking is not None:
            self._looking.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._looking
        await super().shutdown(sockets=sockets)


async def _look(https: Https, every_s: float = LOOK_SECONDS) -> None:
    """Follows the computer from network to network and the certificate from year to year.

    In the server's own loop, so that no connection begins while the certificate changes; it takes milliseconds.
    """
    while True:
        await asyncio.sleep(every_s)
        try:
            https.refresh()
        except RickyardError as error:
            log.warning("the certificate could not be made again: %s", error)


def reaches_others(host: str) -> bool:
    """Whether other machines can reach what listens on a host; InputError if the name leads nowhere."""
    try:
        return not is_loopback(host)
    except OSError as error:
        raise InputError(
            "host",
            wanted=T_("an address of this computer"),
            got=host,
            next_move=T_("127.0.0.1 is this computer alone, 0.0.0.0 with --https is every address it has."),
        ) from error


def plain_http_error(host: str) -> InputError:
    """Why plain HTTP is not served where other machines can reach it, and how to go on."""
    return InputError(
        "host",
        wanted=T_("127.0.0.1 or localhost for plain HTTP"),
        got=host,
        next_move=T_(
            "Over plain HTTP other devices would have no pages without signal and no outbox for what is typed "
            "there, and anyone on the network could read what is sent. Add --https; or keep 127.0.0.1 and put a "
            "reverse proxy with a certificate before it (docs/phone.md); or say --plain-http if you want it all "
            "the same."
        ),
        code="plain_http",
    )


def run_server(
    target: str,
    *,
    host: str,
    port: int,
    announce: Callable[[Served], None],
    https: OwnHttps | None = None,
    proxies: Sequence[str] = (),
    worker: bool = True,
) -> None:
    """Serves a book until a signal stops it; `announce` is called with the addresses once it answers.

    Port 0 takes a free one. Without `worker` no forecasts are made in the background. Forwarded headers (the
    visitor's address, HTTPS or not) count only if they come from one of `proxies`, addresses or networks. Whether
    plain HTTP will do is the caller's to check.

    Raises
    ------
    BookError
        If the book cannot be opened.
    InputError
        If a port is taken, or HTTPS is not to be had with that folder, host or name.
    """
    with ExitStack() as stack:
        listener = stack.enter_context(_listener(host, port, "port"))
        bound = _port_of(listener)
        if https is None:
            app = create_app(target, worker=worker)
            own = None
            served = Served(url=f"http://{_shown(host)}:{bound}/")
        else:
            beside = stack.enter_context(_listener(host, https.start_port, "start_port"))
            own = Https(https.folder, host=host, names=https.names, port=bound, start_port=_port_of(beside))
            app = create_app(target, worker=worker, hosts=[*named_hosts(), *own.certificate.hosts])
            app.state.https = own
            served = _secured(own)
            stack.enter_context(_start_page(own, beside))
        config = _config(
            app,
            proxy_headers=bool(proxies),
            forwarded_allow_ips=list(proxies),
            ssl_context_factory=None if own is None else lambda _config, _usual: own.context,
        )
        spare_what_stays()
        _Announcing(config, lambda: announce(served), own).run(sockets=[listener])


def spare_what_stays() -> None:
    """What is loaded by now stays loaded: Python need not look through it for waste again.

    A look through all of it takes a quarter of a second, in the middle of a page that makes many rows.
    """
    gc.collect()
    gc.freeze()


def _secured(own: Https) -> Served:
    door = own.door()
    return Served(
        url=door.yard_url,
        start_url=door.start_url,
        own_start_url=f"http://{_shown(own.host)}:{own.start_port}/",
        authority_sha256=own.authority.sha256,
        fingerprint=door.fingerprint,
        notes=tuple(own.notes()),
    )


def _config(app: Any, **settings: Any) -> uvicorn.Config:
    return uvicorn.Config(app, log_level="warning", access_log=False, timeout_graceful_shutdown=5, **settings)


@contextmanager
def _listener(host: str, port: int, field: str) -> Iterator[socket.socket]:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, port))
        except OSError as error:
            raise InputError(
                field,
                wanted=T_("a free port on an address of this computer"),
                got=T_(
                    "{host}, port {port}: {reason}", host=host, port=str(port), reason=str(error.strerror)
                ),
                next_move=T_("Say another port, 0 for any free one, or another address with --host."),
            ) from error
        yield listener


def _port_of(listener: socket.socket) -> int:
    return int(listener.getsockname()[1])


def _shown(host: str) -> str:
    return "127.0.0.1" if host in ("0.0.0.0", "::") else f"[{host}]" if ":" in host else host


@contextmanager
def _start_page(own: Https, listener: socket.socket) -> Iterator[None]:
    """The start page beside the application, in a thread of its own."""
    server = uvicorn.Server(_config(start_app(own), lifespan="off", proxy_headers=False))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, name="start page")
    thread.start()
    while not server.started:
        thread.join(0.02)
        if not thread.is_alive():
            raise RuntimeError("the start page did not start")
    try:
        yield
    finally:
        server.should_exit = True
        thread.join()
