"""How a phone comes to the yard: the pages that show it, inside the application and beside it.

A phone cannot take the certificate over the connection that the certificate is for. So a second, plain listener
gives a start page: the certificate, its fingerprint, a how-to and the address to go to. It knows nothing of the
book.
"""

from __future__ import annotations

import io
import re
from typing import Any

import segno
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from rickyard.text import T_
from rickyard.web.assets import Assets
from rickyard.web.https import Door, Https
from rickyard.web.security import Guard
from rickyard.web.visit import render, voice_of

# The first that is found in the browser's own description; an iPad calls itself a Macintosh.
_KINDS = (("android", "Android"), ("apple", "iPhone|iPad|iPod"), ("windows", "Windows"), ("mac", "Macintosh"))


def kind_of(agent: str) -> str:
    """Whose steps to open first: android, apple, windows, mac or linux."""
    return next((kind for kind, sign in _KINDS if re.search(sign, agent)), "linux")


def qr_svg(text: str) -> bytes:
    """A QR code as a drawing by itself, black on white with its quiet zone, without scripts or styles."""
    drawn = io.BytesIO()
    # "m" stands a smeared screen and still keeps the modules of a short address large.
    segno.make(text, error="m", micro=False).save(
        drawn, kind="svg", border=4, dark="#000", light="#fff", omitsize=True, svgclass=None, lineclass=None
    )
    return drawn.getvalue()


def door_of(request: Request, https: Https | None) -> Door:
    """404 while HTTPS is off."""
    if https is None:
        raise HTTPException(404)
    return https.door(request.headers.get("host", ""))


def certificate(https: Https | None) -> Response:
    """The authority's certificate, in the form and media type that every system knows what to do with."""
    if https is None:
        raise HTTPException(404)
    # Not as an attachment: an iPhone installs it only from its own question, and so does Firefox.
    return Response(https.authority.der, media_type="application/x-x509-ca-cert")


def qr_answer(request: Request, name: str, https: Https | None) -> Response:
    """The drawing of one of the two addresses: `authority` or `yard`."""
    if https is None and name == "yard" and request.url.scheme == "https":
        return _drawing(str(request.base_url))
    door = door_of(request, https)
    texts = {"authority": door.certificate_url, "yard": door.yard_url}
    if name not in texts:
        raise HTTPException(404)
    return _drawing(texts[name])


def _drawing(text: str) -> Response:
    return Response(qr_svg(text), media_type="image/svg+xml")


def page_values(request: Request, https: Https | None) -> dict[str, Any]:
    """What `parts/phone.html` shows."""
    return {
        "door": https.door(request.headers.get("host", "")) if https is not None else None,
        "kind": kind_of(request.headers.get("user-agent", "")),
        "secure_address": str(request.base_url) if request.url.scheme == "https" else "",
    }


def start_app(https: Https) -> ASGIApp:
    """The plain application that brings phones: a page, a certificate, two drawings, the style. No book."""
    assets = Assets()

    def page(request: Request) -> Response:
        return render(request, voice_of(request, None), None, "start.html", **page_values(request, https))

    def file(request: Request) -> Response:
        return assets.serve(request.path_params["version"], request.path_params["name"])

    def crt(_request: Request) -> Response:
        return certificate(https)

    def qr(request: Request) -> Response:
        return qr_answer(request, request.path_params["name"], https)

    def to_page(_request: Request) -> Response:
        return RedirectResponse("/", 303)

    def refused(request: Request, error: Exception) -> Response:
        status = error.status_code if isinstance(error, HTTPException) else 500
        words = T_("There is no such page here. The page for phones is at /.")
        return PlainTextResponse(voice_of(request, None).text(words), status)

    app = Starlette(
        routes=[
            Route("/", page),
            Route("/phone", to_page),
            Route("/rickyard.crt", crt),
            Route("/qr/{name}.svg", qr),
            Route("/static/{version}/{name:path}", file),
        ],
        exception_handlers={HTTPException: refused},
    )
    app.state.assets = assets
    return Guard(app, https.certificate.hosts)
