"""Weather as the book's rows keep it: records packed and unpacked, and all that is known as one `weather.Sky`."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from datetime import date, datetime
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Yard
from rickyard.book.sky_tables import WeatherFile, WeatherHours, WeatherIssue, WeatherService
from rickyard.desk.texts import text_from_json, text_to_json
from rickyard.weather import Issue, Note, Offsets, Sky, WeatherRecord, find_place

_T = TypeVar("_T")


def sky_of(session: Session, yard: Yard) -> Sky:
    """All that the book knows of the weather over the yard, as one object; the same one while nothing changes."""
    place = find_place(yard.climate_place)
    hours = list(
        session.execute(
            select(WeatherHours.id, WeatherHours.source, WeatherHours.digest, WeatherHours.kind)
            .where(WeatherHours.yard_id == yard.id)
            .order_by(WeatherHours.id.desc())
        )
    )
    issue = session.execute(
        select(WeatherIssue.id, WeatherIssue.digest, WeatherIssue.issued_at)
        .where(WeatherIssue.yard_id == yard.id)
        .order_by(WeatherIssue.issued_at.desc())
        .limit(1)
    ).first()
    offsets = _offsets_in_use(session, yard.id)
    if not hours and issue is None and offsets is None:
        return Sky(place)
    key = (place.id, tuple((row.source, row.digest) for row in hours), issue and issue.digest, offsets)

    def make() -> Sky:
        records = {row.source: _record_of(session, row.id) for row in hours}
        ranked = sorted(hours, key=lambda row: (_rank(row.source, records[row.source]), -row.id))
        typical = [records[row.source] for row in hours if row.kind == "typical"]
        return Sky(
            place=place,
            offsets=offsets,
            observed=tuple(records[row.source] for row in ranked if row.kind == "observed"),
            climate=typical[0] if typical else None,
            issue=None if issue is None else Issue(_issue_of(session, issue.id), issue.issued_at),
        )

    return _skies.get(key, make)


def sky_print(sky: Sky, start: date, days: int) -> str:
    """The fingerprint of a sky for these days; "" where nothing is known but the place."""
    if sky.plain:
        return ""
    return _prints.get((id(sky), start, days), lambda: (sky, sky.fingerprint(start, days)))[1]


def put_hours(
    session: Session,
    yard_id: int,
    source: str,
    record: WeatherRecord,
    moment: datetime,
    *,
    file_id: int | None = None,
) -> None:
    """Keeps a source's hours in place of those before."""
    row = session.scalar(
        select(WeatherHours).where(WeatherHours.yard_id == yard_id, WeatherHours.source == source)
    )
    if row is None:
        row = WeatherHours(yard_id=yard_id, source=source, weather_file_id=file_id)
        session.add(row)
    row.format, row.kind, row.station = record.format, record.kind, record.station[:200]
    row.latitude_deg, row.longitude_deg, row.elevation_m = record.lat, record.lon, record.elev_m
    row.first_day, row.last_day = record.start, record.last
    row.digest, row.packed, row.updated_at = record.sha256, record.packed(), moment
    row.notes = notes_json(record.notes)


def hours_of_source(session: Session, yard_id: int, source: str) -> WeatherRecord | None:
    """What a source observed so far."""
    row_id = session.scalar(
        select(WeatherHours.id).where(WeatherHours.yard_id == yard_id, WeatherHours.source == source)
    )
    return None if row_id is None else _record_of(session, row_id)


def service_row(session: Session, yard_id: int, service: str) -> WeatherService:
    row = session.scalar(
        select(WeatherService).where(WeatherService.yard_id == yard_id, WeatherService.service == service)
    )
    if row is None:
        row = WeatherService(yard_id=yard_id, service=service, is_on=False, error={})
        session.add(row)
    return row


class _Kept:
    """The last few things made, by what they were made from; shared by threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._made: OrderedDict[Any, Any] = OrderedDict()
        self._turn = threading.Lock()

    def get(self, key: Any, make: Callable[[], _T]) -> _T:
        with self._turn:
            if key in self._made:
                self._made.move_to_end(key)
                return self._made[key]  # type: ignore[no-any-return]
        made = make()
        with self._turn:
            made = self._made.setdefault(key, made)
            while len(self._made) > self._most:
                self._made.popitem(last=False)
        return made


_skies = _Kept(8)
# A print is kept with its sky, so that the sky's id stays its own.
_prints = _Kept(2000)


def _rank(source: str, record: WeatherRecord) -> int:
    """The yard's own logger is believed first, then a station's file, then observations and models of services."""
    if source.startswith("file-"):
        return 0 if record.format == "logger" else 1 if record.hourly else 4
    return 2 if source == "eccc" else 3


def _offsets_in_use(session: Session, yard_id: int) -> Offsets | None:
    """Those of the file with the most days."""
    found = [
        Offsets(**said)
        for said in session.scalars(
            select(WeatherFile.offsets)
            .where(
                WeatherFile.yard_id == yard_id,
                WeatherFile.use_offsets.is_(True),
                WeatherFile.taken_back_at.is_(None),
            )
            .order_by(WeatherFile.id)
        )
    ]
    return max(found, key=lambda offsets: offsets.days, default=None)


def _record_of(session: Session, row_id: int) -> WeatherRecord:
    row = session.get_one(WeatherHours, row_id)
    return WeatherRecord(
        format=row.format,
        kind=row.kind,
        station=row.station,
        lat=row.latitude_deg,
        lon=row.longitude_deg,
        elev_m=row.elevation_m,
        start=row.first_day,
        notes=notes_of(row.notes),
    ).unpacked(row.packed)


def _issue_of(session: Session, row_id: int) -> WeatherRecord:
    row = session.get_one(WeatherIssue, row_id)
    return WeatherRecord(
        format=row.format,
        kind="forecast",
        station=row.station,
        lat=row.latitude_deg,
        lon=row.longitude_deg,
        elev_m=row.elevation_m,
        start=row.first_day,
    ).unpacked(row.packed)


def notes_json(notes: tuple[Note, ...]) -> list[Any]:
    return [
        {"code": note.code, "text": text_to_json(note.text), "lines": list(note.lines[:50])} for note in notes
    ]


def notes_of(items: list[Any]) -> tuple[Note, ...]:
    return tuple(Note(item["code"], text_from_json(item["text"]), tuple(item["lines"])) for item in items)
