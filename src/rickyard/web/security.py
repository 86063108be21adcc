"""What guards every answer: headers, a check of where a change comes from, bounds on what is sent.

Changes (POST and the like) are taken only from our own pages: browsers say where a request comes from in
`Sec-Fetch-Site`, older ones in `Origin`; a program that is no browser sends neither and is let through.
No tokens stand in the pages, so a page kept on a phone stays valid.

A host name that is not ours is refused, or a foreign page could point its own name at this computer and read
the book through the browser of whoever looks at it. Addresses in figures, `localhost` and `*.local` are
always ours; others are given when the application is made.
"""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Sequence
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
# A list of a thousand logs is about 50 kB.
MOST_BYTES = 2_000_000
# A photo and what goes with it; in JSON its bytes are written as base64, a third longer.
MOST_BYTES_AT = {
    "/photos/new": 8_500_000,
    "/api/deeds/add-photo": 11_500_000,
    # A weather file of 20 MB and what goes with it.
    "/api/deeds/take-in-weather": 11_500_000,
    "/weather/look": 20_500_000,
    "/weather/files": 20_500_000,
    # A list of 5 MB and what goes with it.
    "/lists/look": 5_500_000,
    "/lists/take": 5_500_000,
}

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class Guard:
    """The outermost layer of the application.

    Parameters
    ----------
    app
        What is guarded.
    hosts
        Host names that are ours besides addresses, `localhost` and `*.local`; `*` allows any.
    """

    def __init__(self, app: ASGIApp, hosts: Sequence[str] = ()) -> None:
        self.app = app
        self.hosts = frozenset(host.lower() for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await _refuse(send, *refusal)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, _bounded(receive, most_bytes(scope)), send_guarded)

    def _refusal(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not self._is_ours(host):
            return 400, "unknown_host", "This yard is not served under that name."
        if scope["method"] not in SAFE_METHODS and not comes_from_us(headers, host):
            return 403, "foreign_origin", "Changes are taken from this yard's own pages only."
        length = headers.get("content-length", "")
        most = most_bytes(scope)
        if length.isdigit() and int(length) > most:
            return 413, "too_large", f"At most {most:,} bytes are taken at once."
        return None

    def _is_ours(self, host: str) -> bool:
        name = (urlsplit(f"//{host}").hostname or "").lower() if _plain_host(host) else ""
        if "*" in self.hosts or name in self.hosts or name == "localhost" or name.endswith(".local"):
            return True
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True


def comes_from_us(headers: Headers, host: str) -> bool:
    """Whether a change was sent by one of our own pages, or by a program that is no browser."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc.lower() == host.lower()


def _plain_host(host: str) -> bool:
    return all(sign.isalnum() or sign in ".-:[]_" for sign in host)


def most_bytes(scope: Scope) -> int:
    """How much a request to this path may carry."""
    return MOST_BYTES_AT.get(scope["path"], MOST_BYTES)


def _bounded(receive: Receive, most: int) -> Receive:
    """The same stream, broken off when it carries more than the bound (a body may come without its length)."""
    taken = 0

    async def bounded() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            raise HTTPException(413)
        return message

    return bounded


async def _refuse(send: Send, status: int, code: str, message: str) -> None:
    body = json.dumps({"error": {"code": code, "field": "", "message": message}}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    headers += [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
