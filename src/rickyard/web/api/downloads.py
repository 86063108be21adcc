"""The book to take away: bookkeeping of a period, the whole book as tables, a backup."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import FileResponse, Response

from rickyard.web.api.common import ERRORS, TheDesk
from rickyard.web.downloads import MEDIA_TYPE, backup_archive, book_archive, bookkeeping_archive

_ZIP: dict[int | str, dict[str, Any]] = {
    200: {"content": {MEDIA_TYPE: {"schema": {"type": "string", "format": "binary"}}}}
}

router = APIRouter(
    prefix="/api/downloads", tags=["downloads"], responses={**ERRORS, **_ZIP}, default_response_class=Response
)


@router.get("/bookkeeping.zip")
def bookkeeping(
    request: Request,
    desk: TheDesk,
    first: Annotated[date | None, Query(description="First day; the book's first if not said.")] = None,
    last: Annotated[date | None, Query(description="Last day; today if not said.")] = None,
) -> FileResponse:
    """Tickets, payments, taxes, what is owed, wood bought and the journal of wood of a period, as CSV files.

    Nothing in it opens the book. For owners and bookkeepers; docs/export.md says the columns.
    """
    return bookkeeping_archive(request, desk, first, last)


@router.get("/book.zip")
def book(request: Request, desk: TheDesk) -> FileResponse:
    """The whole book as CSV files with its photos: what `rickyard book export` writes. For owners."""
    return book_archive(request, desk)


@router.get("/backup.zip")
def backup(
    request: Request,
    desk: TheDesk,
    anyway: Annotated[bool, Query(description="Also if the check finds faults in the book.")] = False,
) -> FileResponse:
    """A backup, restored on trial and proven before it is given: what `rickyard book backup` makes. For owners."""
    return backup_archive(request, desk, anyway=anyway)
