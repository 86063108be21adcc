"""Today: what needs doing; and the progress of the forecasts behind it."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.forecasts import progress
from rickyard.desk.loads import loads
from rickyard.desk.offer_views import open_offers
from rickyard.desk.today import today
from rickyard.web.offline import works_offline
from rickyard.web.visit import Here

router = APIRouter(include_in_schema=False)


@router.get("/")
@works_offline()
def today_page(visit: Here) -> Response:
    page = today(visit.desk)
    may = visit.access.may
    return visit.page(
        "today.html",
        page=page if may("/orders") else page.without_orders(),
        waiting=loads(visit.desk, with_wood_only=True) if may("/wood-in") else [],
        offered=open_offers(visit.desk) if may("/offers") else [],
    )


@router.get("/progress")
def progress_part(visit: Here) -> Response:
    """The bar alone; htmx asks for it again and again until all forecasts are made."""
    return visit.page("parts/progress.html", progress=progress(visit.desk))
