"""Weather in the book, on both databases: packed hours come back bit by bit, one row a source, one issue a moment."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from rickyard.book import Book
from rickyard.book.sky_tables import WeatherHours, WeatherIssue, WeatherService
from rickyard.desk.sky_rows import hours_of_source, put_hours, service_row
from rickyard.text import T_
from rickyard.weather import Note, WeatherRecord

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def record(days: int, level: float = 10.0) -> WeatherRecord:
    air = np.full(24 * days, level, dtype=np.float32) + np.arange(24 * days, dtype=np.float32) / 7
    air[5] = np.nan
    return WeatherRecord(
        "logger", "observed", "Woodshed", 45.9, -66.6, 20.0, date(2026, 5, 1),
        air_c=air, rh_pct=air + 40, wind_m_s=air * np.nan, sun_w_m2=air * np.nan, rain_mm=air * np.nan,
        notes=(Note("short_gaps", T_("{count} gaps", count=1), (7,)),),
    )  # fmt: skip


def test_hours_come_back_and_a_source_has_one_row(book: Book, yard: object) -> None:
    yard_id = int(yard.yard_id)  # type: ignore[attr-defined]
    with book.write(yard_id) as session:
        put_hours(session, yard_id, "file-1", record(3), NOW)
        put_hours(session, yard_id, "eccc", record(2), NOW)
    with book.write(yard_id) as session:
        put_hours(session, yard_id, "file-1", record(5, 12.0), NOW + timedelta(days=1))
    with book.read() as session:
        found = hours_of_source(session, yard_id, "file-1")
        assert hours_of_source(session, yard_id, "nobody") is None
        assert session.scalar(sa.select(sa.func.count()).select_from(WeatherHours)) == 2

    assert found is not None
    np.testing.assert_array_equal(found.air_c, record(5, 12.0).air_c)
    assert found.sha256 == record(5, 12.0).sha256
    assert str(found.notes[0].text) == "1 gaps"
    assert found.notes[0].lines == (7,)


def test_one_issue_a_moment_and_known_services_only(book: Book, yard: object) -> None:
    yard_id = int(yard.yard_id)  # type: ignore[attr-defined]

    def issue() -> WeatherIssue:
        made = record(4)
        return WeatherIssue(
            yard_id=yard_id, service="open_meteo", issued_at=NOW, format="open_meteo", station="", latitude_deg=None,
            longitude_deg=None, elevation_m=None, first_day=made.start, last_day=made.last, digest=made.sha256,
            packed=made.packed(),
        )  # fmt: skip

    with book.write(yard_id) as session:
        session.add(issue())
        service_row(session, yard_id, "open_meteo").is_on = True
    with pytest.raises(IntegrityError), book.write(yard_id) as session:
        session.add(issue())
    with pytest.raises(IntegrityError), book.write(yard_id) as session:
        session.add(WeatherService(yard_id=yard_id, service="nobody", error={}))
    with book.read() as session:
        row = session.scalars(sa.select(WeatherService)).one()
        assert (row.is_on, row.asked_at, row.error) == (True, None, {})
