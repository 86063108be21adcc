"""The page where the bookkeeper and the owner take records away."""

from __future__ import annotations

from datetime import date, timedelta

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.web.downloads import backup_archive, book_archive, bookkeeping_archive
from rickyard.web.forms import Form, FormProblem
from rickyard.web.visit import Here, Visit

router = APIRouter(include_in_schema=False)


@router.get("/downloads")
def downloads_page(visit: Here) -> Response:
    """Asks for last month at first: that is what a bookkeeper mostly wants."""
    last = visit.today.replace(day=1) - timedelta(days=1)
    first = last.replace(day=1)
    return _page(visit, visit.form(first_day=first.isoformat(), last_day=last.isoformat()))


@router.get("/downloads/bookkeeping.zip")
def bookkeeping(visit: Here) -> Response:
    form = Form(
        visit.voice, {name: visit.request.query_params.getlist(name) for name in ("first_day", "last_day")}
    )
    try:
        first, last = _day(visit, form, "first_day"), _day(visit, form, "last_day")
        form.check()
        with form.asking(first="first_day", last="last_day"):
            return bookkeeping_archive(visit.request, visit.desk, first, last)
    except FormProblem:
        return _page(visit, form, 422)


@router.get("/downloads/book.zip")
def book(visit: Here) -> Response:
    return book_archive(visit.request, visit.desk)


@router.get("/downloads/backup.zip")
def backup(visit: Here, anyway: str = "") -> Response:
    return backup_archive(visit.request, visit.desk, anyway=bool(anyway))


def _day(visit: Visit, form: Form, name: str) -> date | None:
    return form.day(name, visit.today) if form.value(name).strip() else None


def _page(visit: Visit, form: Form, status: int = 200) -> Response:
    return visit.page("downloads.html", status, form=form)
