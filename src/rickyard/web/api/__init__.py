"""The same things as JSON under /api/: views by GET, deeds by POST, suggestions, health."""

from fastapi import APIRouter

from rickyard.web.api import deeds, drawings, health, identify, sheets, sums, views

api_router = APIRouter()
for _part in (
    health.router,
    views.router,
    sheets.router,
    drawings.router,
    deeds.router,
    sums.router,
    identify.router,
):
    api_router.include_router(_part)
"""Router of the whole API."""
