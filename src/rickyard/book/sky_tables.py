"""The book's tables of weather: files taken in, hours observed by source, services and what they forecast."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import ForeignKey, LargeBinary, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from rickyard.book.base import Base, check, one_of

WEATHER_KINDS = ("observed", "typical")
WEATHER_SERVICES = ("open_meteo", "eccc")


class WeatherFile(Base):
    """A weather file as it was taken in; the original lies beside the book under its hash.

    `notes` are sentences (msgid, values, code, lines); `meaning` is what was said of it; `offsets` is what a
    logger's month says of the place, used while `use_offsets`.
    Taken back, it keeps its row and its original, and nothing hangs on it any more.
    """

    __tablename__ = "weather_file"
    __table_args__ = (
        one_of("kind", WEATHER_KINDS),
        check("first_before_last", "first_day <= last_day"),
        check("share_is_share", "complete >= 0 AND complete <= 1"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"), index=True)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    name: Mapped[str] = mapped_column(String(200))
    format: Mapped[str] = mapped_column(String(20))
    kind: Mapped[str] = mapped_column(String(10))
    station: Mapped[str] = mapped_column(String(200))
    first_day: Mapped[date]
    last_day: Mapped[date]
    complete: Mapped[float]
    meaning: Mapped[dict[str, Any]]
    notes: Mapped[list[Any]]
    offsets: Mapped[dict[str, Any]]
    use_offsets: Mapped[bool] = mapped_column(default=False)
    added_at: Mapped[datetime]
    taken_back_at: Mapped[datetime | None]


class WeatherHours(Base):
    """Weather of one source, packed: of a file, or what a service observed so far.

    `digest` changes whenever the values do.
    """

    __tablename__ = "weather_hours"
    __table_args__ = (UniqueConstraint("yard_id", "source"), one_of("kind", WEATHER_KINDS))

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    weather_file_id: Mapped[int | None] = mapped_column(ForeignKey("weather_file.id"), index=True)
    source: Mapped[str] = mapped_column(String(40))
    format: Mapped[str] = mapped_column(String(20))
    kind: Mapped[str] = mapped_column(String(10))
    station: Mapped[str] = mapped_column(String(200))
    latitude_deg: Mapped[float | None]
    longitude_deg: Mapped[float | None]
    elevation_m: Mapped[float | None]
    first_day: Mapped[date]
    last_day: Mapped[date]
    digest: Mapped[str] = mapped_column(String(64))
    notes: Mapped[list[Any]]
    packed: Mapped[bytes] = mapped_column(LargeBinary)
    updated_at: Mapped[datetime]


class WeatherService(Base):
    """A service that the owner turned on or off, and how it went the last time.

    `error` is a sentence (msgid, values), empty when all is well; `again_at` is when it may be asked again.
    """

    __tablename__ = "weather_service"
    __table_args__ = (UniqueConstraint("yard_id", "service"), one_of("service", WEATHER_SERVICES))

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    service: Mapped[str] = mapped_column(String(20))
    is_on: Mapped[bool] = mapped_column(default=False)
    address: Mapped[str] = mapped_column(String(200), default="")
    history_address: Mapped[str] = mapped_column(String(200), default="")
    access_key: Mapped[str] = mapped_column(String(200), default="")
    station: Mapped[str] = mapped_column(String(20), default="")
    asked_at: Mapped[datetime | None]
    answered_at: Mapped[datetime | None]
    history_at: Mapped[datetime | None]
    again_at: Mapped[datetime | None]
    error_code: Mapped[str] = mapped_column(String(40), default="")
    error: Mapped[dict[str, Any]]


class WeatherIssue(Base):
    """A forecast as a service issued it; kept, so that it can be held against what came."""

    __tablename__ = "weather_issue"
    __table_args__ = (
        UniqueConstraint("yard_id", "service", "issued_at"),
        one_of("service", WEATHER_SERVICES),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    service: Mapped[str] = mapped_column(String(20))
    issued_at: Mapped[datetime]
    format: Mapped[str] = mapped_column(String(20))
    station: Mapped[str] = mapped_column(String(200))
    latitude_deg: Mapped[float | None]
    longitude_deg: Mapped[float | None]
    elevation_m: Mapped[float | None]
    first_day: Mapped[date]
    last_day: Mapped[date]
    digest: Mapped[str] = mapped_column(String(64))
    packed: Mapped[bytes] = mapped_column(LargeBinary)
