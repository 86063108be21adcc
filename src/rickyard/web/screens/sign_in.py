"""Signing in and out. While the book is open there is nothing to sign in to."""

from __future__ import annotations

import re
from urllib.parse import unquote

from fastapi import APIRouter, Request
from starlette.responses import Response

from rickyard.desk.access import LASTS, sign_in, sign_out, signed_in
from rickyard.errors import RefusedError
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.permissions import SESSION_COOKIE
from rickyard.web.visit import WHO_COOKIE, WHO_SECONDS, Here, Sent, Visit

router = APIRouter(include_in_schema=False)


@router.get("/sign-in")
def sign_in_page(visit: Here, next: str = "/", out: str = "") -> Response:
    return _page(visit, visit.form(next=own_path(next)), signed_out=bool(out))


@router.post("/sign-in")
def come_in(visit: Here, sent: Sent) -> Response:
    # What the form says of who used the phone before does not matter here.
    form = Form.sent(visit.voice, sent)
    try:
        name = form.text("person", needed=True)
        form.check()
        with form.asking():
            token = sign_in(
                visit.desk,
                name,
                form.value("password"),
                address=_address(visit.request),
                device=device_words(visit.request.headers.get("user-agent", "")),
            )
    except FormProblem:
        return _page(visit, form, status=422)
    comer = signed_in(visit.desk, token)
    if comer is None:
        raise RefusedError(T_("The sign-in was ended at once. Try again."), code="wrong_sign_in")
    answer = visit.go(own_path(form.value("next") or "/"))
    secure = visit.request.url.scheme == "https"
    answer.set_cookie(
        SESSION_COOKIE,
        token,
        max_age=int(LASTS.total_seconds()),
        samesite="lax",
        httponly=True,
        secure=secure,
    )
    # The outbox reads it, to send nothing under another's name. It opens nothing.
    answer.set_cookie(WHO_COOKIE, str(comer.person_id), max_age=WHO_SECONDS, samesite="lax", secure=secure)
    return answer


@router.post("/sign-out")
def go_out(visit: Here) -> Response:
    sign_out(visit.desk, visit.request.cookies.get(SESSION_COOKIE, ""))
    answer = visit.go("/sign-in?out=1")
    answer.delete_cookie(SESSION_COOKIE)
    answer.delete_cookie(WHO_COOKIE)
    return answer


def own_path(typed: str) -> str:
    """A path of ours to go on to, or the first page: never another site's."""
    path = unquote(typed)
    if not path.startswith("/") or path.startswith(("//", "/\\")) or re.search(r"[\x00-\x1f\\]", path):
        return "/"
    return path


def device_words(agent: str) -> str:
    """Which browser on what, in words for the owner's list; nothing else of the description is kept."""
    systems = ("Android", "iPhone", "iPad", "Windows", "Macintosh", "CrOS", "Linux")
    browsers = (("Edg", "Edge"), ("Firefox", "Firefox"), ("Chrome", "Chrome"), ("Safari", "Safari"))
    system = next((name for name in systems if name in agent), "")
    browser = next((name for sign, name in browsers if sign in agent), "")
    return " · ".join(part for part in (browser, system) if part) or agent.split("/")[0][:40] or "?"


def _address(request: Request) -> str:
    return request.client.host if request.client is not None else ""


def _page(visit: Visit, form: Form, *, status: int = 200, signed_out: bool = False) -> Response:
    return visit.page("sign_in.html", status, form=form, signed_out=signed_out)
