"""Whether the application answers and can read its book."""

from __future__ import annotations

from fastapi import APIRouter, Request

from rickyard import __version__
from rickyard.desk.context import Desk
from rickyard.web.api.common import ERRORS
from rickyard.web.api.models import HealthOut

router = APIRouter(tags=["health"])


@router.get("/health", responses={503: ERRORS[503]})
def health(request: Request) -> HealthOut:
    """Reads the book once: `status` is `ok`, or the answer is an error."""
    desk: Desk | None = request.app.state.desk()
    if desk is not None:
        desk.today()
    return HealthOut(status="ok", version=__version__, yard=desk is not None)
