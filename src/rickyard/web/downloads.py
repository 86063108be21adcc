"""An archive of the book as an answer, for the pages and the API alike."""

from __future__ import annotations

import shutil
import weakref
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fastapi import Request
from starlette.responses import FileResponse

from rickyard.desk.bookkeeping import Period, checked_period
from rickyard.desk.context import Desk
from rickyard.desk.yards import yard_facts
from rickyard.jobs import Copier

MEDIA_TYPE = "application/zip"


def bookkeeping_archive(request: Request, desk: Desk, first: date | None, last: date | None) -> FileResponse:
    """The bookkeeping of a period; InputError (`first`, `last`) if it is none."""
    period = checked_period(first, last, desk.today())
    name = f"bookkeeping-{period.first.isoformat()}-to-{period.last.isoformat()}"
    return _answer(request, desk, "bookkeeping", name, period=period)


def book_archive(request: Request, desk: Desk) -> FileResponse:
    return _answer(request, desk, "book", f"book-{_stamp(desk)}")


def backup_archive(request: Request, desk: Desk, *, anyway: bool) -> FileResponse:
    return _answer(request, desk, "backup", f"backup-{_stamp(desk)}", anyway=anyway)


def _answer(
    request: Request,
    desk: Desk,
    kind: str,
    name: str,
    *,
    period: Period | None = None,
    anyway: bool = False,
) -> FileResponse:
    copier: Copier = request.app.state.copier
    archive = copier.make(kind, desk.yard_id, period=period, anyway=anyway)
    answer = FileResponse(archive, media_type=MEDIA_TYPE, filename=f"rickyard-{name}.zip")
    # With the answer goes the file, also when the browser went away before it was sent.
    weakref.finalize(answer, shutil.rmtree, archive.parent)
    return answer


def _stamp(desk: Desk) -> str:
    moment: datetime = desk.now().astimezone(ZoneInfo(yard_facts(desk).timezone))
    return moment.strftime("%Y-%m-%d-%H%M")
