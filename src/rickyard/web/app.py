"""The web application, put together."""

from __future__ import annotations

import logging
import os
import threading
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from typing import Any
from urllib.parse import quote

from fastapi import Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp

from rickyard import __version__
from rickyard.desk.context import Desk
from rickyard.desk.housekeeping import open_book
from rickyard.desk.yards import open_desk, yard_facts
from rickyard.errors import BookError, ClashError, RefusedError, RickyardError
from rickyard.jobs import Answers, Copier, ForecastWorker, WeatherFetcher
from rickyard.text import T_, Text
from rickyard.web.api import api_router
from rickyard.web.assets import Assets
from rickyard.web.permissions import NotAllowedError, SignInNeededError, permit
from rickyard.web.screens import screen_routers
from rickyard.web.security import Guard
from rickyard.web.visit import NoYardError, go, render, sent_by_outbox, voice_of

log = logging.getLogger(__name__)

CODE_HEADER = "X-Rickyard-Code"

_WORDS: dict[int, Text] = {
    400: T_("This could not be understood."),
    403: T_("This is not allowed."),
    404: T_("There is no such page."),
    405: T_("This page cannot be used that way."),
    409: T_("This cannot be done as things stand."),
    413: T_("That is too much at once."),
    503: T_("The book cannot be read or written just now."),
}


def _now() -> datetime:
    return datetime.now(UTC)


def named_hosts() -> list[str]:
    """The host names of RICKYARD_HOSTS, parted by commas."""
    return [name for part in os.environ.get("RICKYARD_HOSTS", "").split(",") if (name := part.strip())]


class Office:
    """The book that is served: its desk once a yard is set up, and the worker that makes forecasts."""

    def __init__(self, target: str, *, worker: bool, clock: Callable[[], datetime]) -> None:
        self.book = open_book(target)
        self.clock = clock
        self._wants_worker = worker
        self._worker: ForecastWorker | None = None
        self._fetcher: WeatherFetcher | None = None
        self._desk: Desk | None = None
        self._first = threading.Lock()

    def desk(self) -> Desk | None:
        if self._desk is None:
            with self._first:
                self._desk = self._desk or open_desk(self.book, self.clock)
                if self._desk is not None:
                    self._start_worker(self._desk)
        return self._desk

    def nudge(self) -> None:
        if self._worker is not None:
            self._worker.nudge()
        if self._fetcher is not None:
            self._fetcher.nudge()

    def close(self) -> None:
        if self._fetcher is not None:
            self._fetcher.stop()
        if self._worker is not None:
            self._worker.stop()
        self.book.close()

    def _start_worker(self, desk: Desk) -> None:
        if self._wants_worker and self._worker is None:
            self._worker = ForecastWorker(desk)
            self._worker.start()
            # Asks nothing of anybody until the owner turns a weather service on.
            self._fetcher = WeatherFetcher(desk, fetched=self._worker.nudge)
            self._fetcher.start()


class _Guarded(FastAPI):
    """FastAPI with the guard outside everything, so that even the page of a failure carries its headers."""

    def __init__(self, hosts: Sequence[str], **settings: Any) -> None:
        self._hosts = hosts
        super().__init__(**settings)

    def build_middleware_stack(self) -> ASGIApp:
        return Guard(super().build_middleware_stack(), self._hosts)


def create_app(
    target: str,
    *,
    worker: bool = True,
    clock: Callable[[], datetime] = _now,
    hosts: Sequence[str] | None = None,
    assets: Assets | None = None,
    answers: Answers | None = None,
) -> FastAPI:
    """The application on a book.

    Parameters
    ----------
    target
        Path or database URL of the book; it must exist. BookError if it cannot be opened.
    worker
        Whether forecasts are made in the background; tests make them themselves.
    clock
        The present moment (UTC).
    hosts
        Host names served besides addresses, `localhost` and `*.local`; from RICKYARD_HOSTS (parted by
        commas) if not given.
    assets
        The files served as they are; those of the package if not given.
    answers
        Where long questions are worked out; in the background like the forecasts if not given.
    """
    answers = Answers(background=worker) if answers is None else answers
    office = Office(target, worker=worker, clock=clock)
    copier = Copier(target, background=worker)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        office.desk()
        yield
        answers.stop()
        copier.stop()
        office.close()

    app = _Guarded(
        named_hosts() if hosts is None else hosts,
        title="Rickyard",
        version=__version__,
        description="A firewood yard's records, forecasts, promises and tickets as JSON. Deeds are POSTed with "
        "a client key of 8 to 64 characters; the same key again gives the first answer and does nothing.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.office = office
    app.state.desk = office.desk
    app.state.nudge = office.nudge
    app.state.answers = answers
    app.state.copier = copier
    app.state.assets = assets or Assets()
    # Set by the server that shows the yard's own certificate (`rickyard.web.https.Https`).
    app.state.https = None

    @app.get("/static/{version}/{name:path}", include_in_schema=False)
    def static(version: str, name: str) -> Response:
        answer: Response = app.state.assets.serve(version, name)
        return answer

    guarded = [Depends(permit)]
    app.include_router(api_router, dependencies=guarded)
    for router in screen_routers:
        app.include_router(router, dependencies=guarded)
    _handle_errors(app)
    return app


def _handle_errors(app: FastAPI) -> None:
    @app.exception_handler(RickyardError)
    def refused(request: Request, error: RickyardError) -> Response:
        status = _status(error)
        if _wants_json(request):
            return JSONResponse({"error": error.as_dict()}, status)
        page = _error_page(request, status, error.text)
        # For what sends forms by itself: which refusal it was, in a word that does not change.
        page.headers[CODE_HEADER] = error.code
        if request.headers.get("hx-request") == "true":
            # The page of a refusal has no form to put in the place of the one that was sent: it takes all of it.
            page.headers.update({"HX-Retarget": "main", "HX-Reselect": "main", "HX-Reswap": "outerHTML"})
        return page

    @app.exception_handler(NoYardError)
    def no_yard(request: Request, _error: NoYardError) -> Response:
        if _wants_json(request):
            return _error_json(409, "no_yard", "", "The book has no yard yet. Set one up first.")
        return go(request, "/set-up")

    @app.exception_handler(SignInNeededError)
    def sign_in_first(request: Request, error: SignInNeededError) -> Response:
        if _wants_json(request) or request.url.path.endswith(".json"):
            return _error_json(401, "sign_in", "", "Somebody must sign in first.")
        return go(request, f"/sign-in?next={quote(error.back, safe='')}")

    @app.exception_handler(RequestValidationError)
    def invalid(request: Request, error: RequestValidationError) -> Response:
        if not _wants_json(request):
            return _error_page(request, 404, _WORDS[404])
        first = error.errors()[0]
        place = [str(part) for part in first["loc"] if part not in ("body", "query", "path")]
        return _error_json(422, "bad_input", ".".join(place), str(first["msg"]))

    @app.exception_handler(HTTPException)
    def http(request: Request, error: HTTPException) -> Response:
        if _wants_json(request):
            words = str(_WORDS.get(error.status_code, error.detail))
            answer = _error_json(error.status_code, f"http_{error.status_code}", "", words)
            answer.headers.update(error.headers or {})
            return answer
        return _error_page(
            request, error.status_code, _WORDS.get(error.status_code, T_("Something is wrong."))
        )

    @app.exception_handler(Exception)
    def unforeseen(request: Request, error: Exception) -> Response:
        # The route, not the address: in a household's link the address is the secret.
        where = getattr(request.scope.get("route"), "path", "no route")
        log.error("unforeseen failure at %s", where, exc_info=error)
        if _wants_json(request):
            return _error_json(500, "unforeseen", "", "Something went wrong that should not.")
        words = T_(
            "Something went wrong that should not. What you typed before was kept; try this once more."
        )
        return _error_page(request, 500, words)


def _status(error: RickyardError) -> int:
    if error.code.startswith("unknown_") and error.code not in ("unknown_name", "unknown_unit"):
        return 404
    if isinstance(error, NotAllowedError):
        return 403
    if isinstance(error, RefusedError | ClashError):
        return 409
    return 503 if isinstance(error, BookError) else 422


def _wants_json(request: Request) -> bool:
    return sent_by_outbox(request) or request.url.path.startswith("/api/") or request.url.path == "/health"


def _error_json(status: int, code: str, field: str, message: str) -> JSONResponse:
    return JSONResponse({"error": {"code": code, "field": field, "message": message}}, status)


def _error_page(request: Request, status: int, words: Text) -> Response:
    facts: Any = None
    if status not in (500, 503):
        desk = request.app.state.desk()
        if desk is None and status == 404:
            return RedirectResponse("/set-up", 303)
        facts = yard_facts(desk) if desk is not None else None
    voice = voice_of(request, facts)
    return render(request, voice, facts, "error.html", status, words=voice.text(words), status_code=status)
