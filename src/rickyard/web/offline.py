"""Which pages work without signal: they say so themselves, with a mark on their function.

The service worker keeps marked pages once they were visited; those with fixed paths, and those of every
standing stack where the mark says so, are fetched beforehand. Unmarked pages answer without signal with a
kind word (`/offline/away`). What the worker keeps of files is all that is packaged, by hash: no list is kept
by hand.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar

from fastapi import FastAPI, Request
from fastapi.routing import APIRoute

from rickyard.text import Text
from rickyard.web.assets import Assets, served

WORKER = Path(__file__).parent / "worker" / "worker.js"
AWAY = "/offline/away"
KEEP = "/offline/keep.json"
STAND_INS = {"/species/": "/species/sheet"}
"""Addresses that begin so have one kept page for all, which its script fills by the address."""
HEADER = "X-Works-Offline"
"""Header of a page that the worker may keep; its value says for what: `fixed`, `stack`, `load`, a sheet of the saw."""

NO_PAGES = {
    AWAY,
    "/photos/{photo_id:int}",
    "/photos/{photo_id:int}/small",
    "/progress",
    "/species-options",
    "/place-options",
    "/household-options",
    "/load-options",
}
"""Pictures and parts of pages, and the page that stands in for those that do not work without signal."""

Each = Literal["fixed", "stack", "load", "cut_sheet", "splitting_sheet", "stood_in"]
_Screen = TypeVar("_Screen", bound=Callable[..., object])


@dataclass(frozen=True)
class Mark:
    """That a page works without signal.

    `each` is `fixed` (one page), `stack` (one for every standing stack), `load` (one for each of the last loads with
    wood left), `cut_sheet` or `splitting_sheet` (one for each that is being worked on) or `stood_in` (one kept page
    stands in for it, by `STAND_INS`); `queries` are the variants kept beforehand (`?kind=oven`; `{stack_id}` stands for
    a stack's number); `queues` says what its form puts into the outbox, if it has one.
    """

    each: Each
    queries: tuple[str, ...]
    queues: Text | None


def works_offline(
    *,
    each: Each = "fixed",
    queries: tuple[str, ...] = ("",),
    queues: Text | None = None,
) -> Callable[[_Screen], _Screen]:
    """Marks the function of a page; stands under `@router.get(...)`."""

    def mark(screen: _Screen) -> _Screen:
        screen.works_offline = Mark(each, queries, queues)  # type: ignore[attr-defined]
        return screen

    return mark


def mark_of(request: Request) -> Mark | None:
    """The mark of the page that is asked for."""
    route = request.scope.get("route")
    return _mark(route) if isinstance(route, APIRoute) else None


def _mark(route: APIRoute) -> Mark | None:
    found: Mark | None = getattr(route.endpoint, "works_offline", None)
    return found


def pages(app: FastAPI) -> list[tuple[str, Mark | None]]:
    """Every page (a GET that is no file, no part of a page and no API) with its mark."""
    return [
        (route.path, _mark(route))
        for route in _routes(app)
        if "GET" in (route.methods or ())
        and not route.path.startswith(("/api", "/static", "/health"))
        and "." not in route.path
        and route.path not in NO_PAGES
    ]


def keep_paths(
    app: FastAPI, stack_ids: Iterable[int], other_ids: Mapping[str, Iterable[int]] | None = None
) -> list[str]:
    """What the worker fetches beforehand; `other_ids`: of loads and sheets, by the word of their mark."""
    ids = list(stack_ids)
    found: list[str] = []
    for route in _routes(app):
        mark = _mark(route)
        if mark is None:
            continue
        if mark.each == "fixed":
            found += [route.path + query for query in mark.queries]
        elif mark.each == "stack":
            found += [
                (route.path.replace("{stack_id:int}", "{stack_id}") + query).replace(
                    "{stack_id}", str(number)
                )
                for number in ids
                for query in mark.queries
            ]
        elif mark.each != "stood_in":
            found += [
                route.path.replace("{sheet_id:int}", str(number)).replace("{load_id:int}", str(number))
                + query
                for number in (other_ids or {}).get(mark.each, ())
                for query in mark.queries
            ]
    return found


def worker_text(assets: Assets) -> str:
    """The service worker of this version: the packaged files' addresses, then what to do with them."""
    text = served(WORKER)
    shell = assets.urls()
    version = hashlib.sha256(json.dumps([shell, text]).encode()).hexdigest()[:12]
    given = {"VERSION": version, "SHELL": shell, "AWAY": AWAY, "KEEP": KEEP, "STAND_INS": STAND_INS}
    return "".join(f"const {name} = {json.dumps(value)};\n" for name, value in given.items()) + text


def _routes(app: FastAPI) -> list[APIRoute]:
    return [route for route in _flat(app.routes) if isinstance(route, APIRoute)]


def _flat(routes: Iterable[object]) -> Iterable[object]:
    """Included routers stand in the list as one item each."""
    for route in routes:
        inner = getattr(getattr(route, "original_router", None), "routes", None)
        if inner is None:
            yield route
        else:
            yield from _flat(inner)
