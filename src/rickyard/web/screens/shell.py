"""What makes the pages installable and lets them work without signal: worker, manifest, outbox, what works where."""

from __future__ import annotations

from urllib.parse import urlsplit

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse, Response

from rickyard.desk.cut_sheets import open_cut_sheets
from rickyard.desk.loads import loads
from rickyard.desk.split_sheets import open_splitting_sheets
from rickyard.desk.stacks import stacks
from rickyard.web.offline import AWAY, KEEP, keep_paths, pages, worker_text, works_offline
from rickyard.web.visit import Here

router = APIRouter(include_in_schema=False)

# Loads with wood left whose pages a phone keeps, the last first.
LOADS_KEPT = 8
ICONS = (("icon-192.png", 192, "any"), ("icon-512.png", 512, "any"), ("icon-512-safe.png", 512, "maskable"))


@router.get("/sw.js")
def worker(request: Request) -> Response:
    """The service worker; asked for anew each time, so that a new version is seen at once."""
    return Response(
        worker_text(request.app.state.assets),
        media_type="text/javascript",
        headers={"Cache-Control": "no-cache"},
    )


@router.get("/manifest.webmanifest")
def manifest(visit: Here) -> Response:
    """The web application manifest (W3C): name, icons, how it opens from the home screen."""
    assets = visit.request.app.state.assets
    icons = [
        {"src": assets.url(f"img/{name}"), "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
        for name, size, purpose in ICONS
    ]
    facts = {
        "id": "/",
        "name": f"{visit.facts.name} · Rickyard",
        "short_name": visit.facts.name,
        "lang": visit.voice.html_lang,
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f3efe2",
        "theme_color": "#17402f",
        "icons": icons,
    }
    return JSONResponse(facts, media_type="application/manifest+json")


@router.get("/outbox")
@works_offline()
def outbox_page(visit: Here) -> Response:
    """The frame; what stands in it is known to the phone alone."""
    return visit.page("outbox.html")


@router.get("/offline")
@works_offline()
def what_works(visit: Here) -> Response:
    """Each page: whether it works without signal, what is kept of it, what its form puts into the outbox."""
    may = [page for page in pages(visit.request.app) if visit.access.may(page[0])]
    found = sorted(may, key=lambda page: page[1] is None)
    return visit.page("offline.html", pages=[(path.replace(":int}", "}"), mark) for path, mark in found])


@router.get(AWAY)
def away(visit: Here) -> Response:
    return visit.page("away.html")


@router.get(KEEP)
def keep(visit: Here) -> Response:
    """The pages that the worker fetches beforehand: those that this person may open."""
    others = {
        "load": [row.id for row in loads(visit.desk, with_wood_only=True, limit=LOADS_KEPT)],
        "cut_sheet": open_cut_sheets(visit.desk),
        "splitting_sheet": open_splitting_sheets(visit.desk),
    }
    paths = keep_paths(visit.request.app, [card.id for card in stacks(visit.desk)], others)
    comer = visit.access.comer
    return JSONResponse(
        [path for path in paths if visit.access.opens(urlsplit(path).path)],
        headers={"X-Kept-For": "" if comer is None else str(comer.person_id)},
    )
