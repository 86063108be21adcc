"""Asking weather services for a yard: which are due, and what their answers do to the book.

Nothing is asked while the book is written: a row says that a service is being asked, then it is, then its answer is
kept whole. An answer that is no good leaves what was known, and says why.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from rickyard.book.models import Stack
from rickyard.book.sky_tables import WeatherIssue, WeatherService
from rickyard.desk.context import Desk
from rickyard.desk.sky_rows import hours_of_source, put_hours, service_row
from rickyard.desk.texts import text_to_json
from rickyard.errors import FeedError
from rickyard.feeds import SERVICES, Access, Client, fetch_forecast, fetch_history
from rickyard.weather import Place, WeatherRecord, find_place, merged

FORECAST_EVERY = timedelta(hours=6)
HISTORY_EVERY = timedelta(days=1)
AGAIN_AFTER = timedelta(hours=1)
"""When a service is asked again that failed."""
REFUSED_AGAIN_AFTER = timedelta(days=1)
OVERLAP = timedelta(days=10)
"""How much of what is known is asked for again: services put right their last days."""
BEFORE_STACKING = timedelta(days=14)


def due(desk: Desk) -> list[str]:
    """Services that are on and should be asked now."""
    now = desk.now()
    with desk.book.read() as session:
        rows = session.scalars(
            select(WeatherService).where(
                WeatherService.yard_id == desk.yard_id, WeatherService.is_on.is_(True)
            )
        )
        return [row.service for row in rows if _is_due(row, now)]


def fetch(desk: Desk, service: str, client: Client) -> bool:
    """Asks one service and keeps its answer; whether it answered well."""
    now = desk.now()
    with desk.book.write(desk.yard_id) as session:
        yard = desk.yard(session)
        row = service_row(session, yard.id, service)
        row.asked_at, row.error_code, row.error = now, "", {}
        access = Access(row.address, row.history_address, row.access_key, row.station)
        place, zone = find_place(yard.climate_place), yard.timezone
        known = hours_of_source(session, yard.id, service)
        wants_history = row.history_at is None or now - row.history_at >= HISTORY_EVERY
        first = _first_wanted(session, yard.id, now, known, place)
    try:
        past: WeatherRecord | None = None
        ahead: WeatherRecord | None = None
        if wants_history:
            past = fetch_history(client, service, access, place, first, now, zone=zone).past
        if SERVICES[service].forecasts:
            answer = fetch_forecast(client, service, access, place, now, zone=zone)
            ahead = answer.ahead
            if answer.past is not None:
                past = answer.past if past is None else merged(answer.past, past)
    except FeedError as error:
        _keep_error(desk, service, error, now)
        return False
    with desk.book.write(desk.yard_id) as session:
        yard = desk.yard(session)
        row = service_row(session, yard.id, service)
        row.answered_at, row.again_at = desk.now(), None
        if wants_history:
            row.history_at = now
        if not row.is_on or find_place(yard.climate_place) != place:
            # Turned off, or moved elsewhere, while it was being asked.
            row.history_at = None
            return True
        if past is not None:
            known = hours_of_source(session, yard.id, service)
            if known is not None and (known.lat, known.lon) != (past.lat, past.lon):
                known = None
            put_hours(session, yard.id, service, merged(known, past), now)
        if ahead is not None:
            session.add(
                WeatherIssue(
                    yard_id=yard.id,
                    service=service,
                    issued_at=now,
                    format=ahead.format,
                    station=ahead.station[:200],
                    latitude_deg=ahead.lat,
                    longitude_deg=ahead.lon,
                    elevation_m=ahead.elev_m,
                    first_day=ahead.start,
                    last_day=ahead.last,
                    digest=ahead.sha256,
                    packed=ahead.packed(),
                )
            )
    return True


def _is_due(row: WeatherService, now: datetime) -> bool:
    if row.again_at is not None:
        return now >= row.again_at
    every = FORECAST_EVERY if SERVICES[row.service].forecasts else HISTORY_EVERY
    return row.answered_at is None or row.history_at is None or now - row.answered_at >= every


def _first_wanted(
    session: Session, yard_id: int, now: datetime, known: WeatherRecord | None, place: Place
) -> date:
    """From the oldest standing stack on; what is known already is asked for again only at its end."""
    oldest = session.scalar(
        select(func.min(Stack.stacked_on)).where(Stack.yard_id == yard_id, Stack.emptied_on.is_(None))
    )
    first: date = (oldest or now.date()) - BEFORE_STACKING
    if known is not None and known.start <= first:
        return max(first, known.last - OVERLAP)
    return first


def _keep_error(desk: Desk, service: str, error: FeedError, now: datetime) -> None:
    wait = AGAIN_AFTER
    if error.again_s is not None:
        wait = timedelta(seconds=max(error.again_s, 60.0))
    elif error.code == "feed_refused":
        wait = REFUSED_AGAIN_AFTER
    with desk.book.write(desk.yard_id) as session:
        row = service_row(session, desk.yard_id, service)
        row.error_code, row.error = error.code, text_to_json(error.text)
        row.again_at = now + min(wait, timedelta(days=2))
