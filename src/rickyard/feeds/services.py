"""The weather services: what each gives, under which terms, and how it is asked.

Open-Meteo as its documentation says (`hourly.temperature_2m` and so on, `wind_speed_unit=ms`, archive from 1940).
Environment and Climate Change Canada by the monthly CSV of its download page, for one station.
Addresses can be changed: an owner may run an Open-Meteo of their own, and paid access has another host.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from urllib.parse import urlsplit

import numpy as np

from rickyard.errors import FeedError, InputError
from rickyard.feeds.http import Client
from rickyard.text import T_, Text
from rickyard.weather import FileMeaning, Place, WeatherFileError, WeatherRecord, merged, read_weather

FORECAST_DAYS = 14
PAST_DAYS = 31
"""Days of the service's own past that are asked for with a forecast, so that nothing is missing until now."""
ARCHIVE_LAG_DAYS = 6
"""The archive is made some five days after."""
MOST_HISTORY_DAYS = 800
HOURLY = "temperature_2m,relative_humidity_2m,wind_speed_10m,precipitation,shortwave_radiation"


@dataclass(frozen=True)
class Service:
    """A service as shown before it is turned on.

    `forecasts`: whether it gives forecasts beside history. `asks_station`: whether it is asked by a station's number.
    `takes_key`: whether a key may be entered. `addresses`: forecast and history, as known.
    """

    id: str
    name: str
    what: Text
    terms: Text
    credit: Text
    forecasts: bool
    asks_station: bool
    takes_key: bool
    addresses: tuple[str, str]
    page: str


SERVICES: dict[str, Service] = {
    "open_meteo": Service(
        id="open_meteo",
        name="Open-Meteo",
        what=T_("Hourly forecast for 14 days and history for any place of the world, from weather models."),
        terms=T_(
            "The free service is for non-commercial use only. A yard that sells wood needs a paid key "
            "(address https://customer-api.open-meteo.com), or an Open-Meteo server of its own. Data CC BY 4.0."
        ),
        credit=T_("Weather data by Open-Meteo.com, CC BY 4.0"),
        forecasts=True,
        asks_station=False,
        takes_key=True,
        addresses=("https://customer-api.open-meteo.com", "https://customer-archive-api.open-meteo.com"),
        page="https://open-meteo.com",
    ),
    "eccc": Service(
        id="eccc",
        name="Environment and Climate Change Canada",
        what=T_("Hourly observations of one Canadian station, month by month; no forecast."),
        terms=T_(
            "Open data under the licence of Environment and Climate Change Canada, also for business, with credit. "
            "The station's number is in the address of its page on climate.weather.gc.ca (StationID)."
        ),
        credit=T_("Data Source: Environment and Climate Change Canada"),
        forecasts=False,
        asks_station=True,
        takes_key=False,
        addresses=("", "https://climate.weather.gc.ca"),
        page="https://climate.weather.gc.ca",
    ),
}


@dataclass(frozen=True)
class Access:
    """How the owner lets a service be asked: addresses (empty: as known), key, station number."""

    address: str = ""
    history_address: str = ""
    key: str = ""
    station: str = ""


@dataclass(frozen=True)
class Answer:
    """What came: the past as an observed record, and (from a forecast) the days ahead with the moment of asking."""

    past: WeatherRecord | None
    ahead: WeatherRecord | None
    asked_at: datetime


def check_access(service: Service, access: Access) -> None:
    """InputError for an address that is none, or a station that is no number."""
    for field, address in (("address", access.address), ("history_address", access.history_address)):
        if address and not _is_address(address):
            raise InputError(
                field,
                wanted=T_("an address like https://weather.example.org"),
                got=address,
                next_move=T_("Leave it empty to use the usual one."),
            )
    if service.asks_station and not (access.station.isdigit() and len(access.station) < 8):
        raise InputError(
            "station",
            wanted=T_("the number of a station, like 49568"),
            got=access.station or T_("nothing"),
            next_move=T_("It stands in the address of the station's page as StationID."),
        )
    if len(access.key) > 200 or not access.key.isascii() or not (access.key.isprintable() or not access.key):
        raise InputError(
            "key",
            wanted=T_("a key as the service gave it"),
            got=T_("other signs"),
            next_move=T_("Copy it again."),
        )


def _is_address(text: str) -> bool:
    try:
        parts = urlsplit(text.strip())
        plain = text.isascii() and len(text) <= 200 and not parts.query and not parts.fragment
        return parts.scheme in ("https", "http") and bool(parts.hostname) and not parts.username and plain
    except ValueError:
        return False


def fetch_forecast(
    client: Client, service_id: str, access: Access, place: Place, now: datetime, *, zone: str = ""
) -> Answer:
    """The newest forecast, with the service's own last month before it.

    Raises FeedError if the service does not answer as documented.
    """
    service = SERVICES[service_id]
    if not service.forecasts:
        raise ValueError(f"{service_id} gives no forecast")
    body = client.get(
        _address(access.address or service.addresses[0], "/v1/forecast"),
        {**_point(place), **_key(access), "past_days": PAST_DAYS, "forecast_days": FORECAST_DAYS},
    )
    record = _read(service, body, place, zone)
    today = _day_there(now, zone, place)
    ahead_days = (record.last - today).days + 1
    if ahead_days < 3:
        raise FeedError(
            T_(
                "{name}: the forecast ends on {day}; it is old.",
                name=service.name,
                day=record.last.isoformat(),
            ),
            code="feed_nonsense",
        )
    past = record.between(record.start, (today - record.start).days)
    ahead = record.between(today, ahead_days)
    return Answer(past, None if ahead is None else replace(ahead, kind="forecast"), now)


def fetch_history(
    client: Client,
    service_id: str,
    access: Access,
    place: Place,
    first: date,
    now: datetime,
    *,
    zone: str = "",
) -> Answer:
    """Observations from `first` until as near to now as the service has them, at most 800 days.

    Raises FeedError if the service does not answer as documented.
    """
    service = SERVICES[service_id]
    today = _day_there(now, zone, place)
    first = max(first, today - timedelta(days=MOST_HISTORY_DAYS))
    if service.asks_station:
        return Answer(_station_months(client, service, access, place, first, today, zone), None, now)
    last = today - timedelta(days=ARCHIVE_LAG_DAYS)
    if last < first:
        return Answer(None, None, now)
    body = client.get(
        _address(access.history_address or service.addresses[1], "/v1/archive"),
        {**_point(place), **_key(access), "start_date": first.isoformat(), "end_date": last.isoformat()},
    )
    return Answer(_read(service, body, place, zone), None, now)


def _station_months(
    client: Client, service: Service, access: Access, place: Place, first: date, today: date, zone: str
) -> WeatherRecord | None:
    whole: WeatherRecord | None = None
    month = first.replace(day=1)
    while month <= today:
        body = client.get(
            _address(access.history_address or service.addresses[1], "/climate_data/bulk_data_e.html"),
            {
                "format": "csv",
                "stationID": access.station,
                "Year": month.year,
                "Month": month.month,
                "Day": 1,
                "timeframe": 1,
                "submit": "Download Data",
            },
        )
        try:
            whole = merged(whole, _read(service, body, place, zone))
        except FeedError:
            # The running month has only empty lines in its first hours.
            if month.year != today.year or month.month != today.month or whole is None:
                raise
        month = (month + timedelta(days=32)).replace(day=1)
    return whole


def _address(base: str, path: str) -> str:
    return base.rstrip("/") + path


def _point(place: Place) -> dict[str, str | int | float]:
    return {
        "latitude": round(place.lat, 4),
        "longitude": round(place.lon, 4),
        "elevation": round(place.elev_m),
        "hourly": HOURLY,
        "wind_speed_unit": "ms",
        "timezone": "GMT",
    }


def _key(access: Access) -> dict[str, str]:
    return {"apikey": access.key} if access.key else {}


def _day_there(now: datetime, zone: str, place: Place) -> date:
    from rickyard.weather.times import standard_offset_min

    return (now.astimezone(UTC) + timedelta(minutes=standard_offset_min(zone, place.lon))).date()


def _read(service: Service, body: bytes, place: Place, zone: str) -> WeatherRecord:
    """The answer read and checked as a file would be."""
    try:
        record = read_weather(body, service.name, place=place, meaning=FileMeaning(zone=zone))
    except WeatherFileError as error:
        raise FeedError(
            T_(
                "{name} answered, but not as documented: {fault}",
                name=service.name,
                fault=error.faults[0].text,
            ),
            code="feed_nonsense",
        ) from error
    if not record.hourly or not np.isfinite(record.air_c).any():
        raise FeedError(
            T_("{name} answered without any hour of weather.", name=service.name), code="feed_nonsense"
        )
    return record
