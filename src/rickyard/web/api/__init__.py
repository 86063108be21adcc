"""The same things as JSON under /api/: views by GET, deeds by POST, suggestions, health."""

from fastapi import APIRouter

from rickyard.web.api import access, deeds, downloads, drawings, health, identify, offers, sheets, sums, views

api_router = APIRouter()
for _part in (health, views, sheets, drawings, deeds, access, downloads, sums, identify, offers):
    api_router.include_router(_part.router)
"""Router of the whole API."""
