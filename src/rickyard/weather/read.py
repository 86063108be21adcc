"""The front door for weather files: knows the format by what stands in it, reads it, and checks it.

Formats: EPW, TMY3, hourly and daily CSV of Environment and Climate Change Canada, GHCN-Daily by station, a yard's own
logger (CSV with free heads in English or French) and Open-Meteo's JSON; each may be gzipped.
A file with a fault is refused whole, with everything that is wrong in it and the lines where it stands.
"""

from __future__ import annotations

import csv
import gzip
import json
import zlib
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from zoneinfo import available_timezones

import numpy as np

from rickyard.errors import InputError
from rickyard.text import T_, Text
from rickyard.weather.columns import plain
from rickyard.weather.daily import is_ghcn, read_days, read_ghcn, screen_days
from rickyard.weather.places import Place
from rickyard.weather.record import Note, Singles, WeatherFileError, WeatherRecord
from rickyard.weather.screen import DAY_MIN, Samples, screen
from rickyard.weather.tabular import Table, find_table, read_table
from rickyard.weather.times import CLOCKS, EPOCH, HOUR_MIN, read_times
from rickyard.weather.typical import NOMINAL_YEAR, YearFile, read_epw, read_tmy3

MOST_BYTES = 40_000_000
"""Largest text taken, unpacked [B]; a century of GHCN-Daily is about 12 MB."""
SHORT_GAP_H = 3
"""Gaps up to this many hours are filled on a straight line; longer ones are left to the members."""
TEMP_UNITS = ("", "C", "F")
HUMIDITY_UNITS = ("", "percent", "fraction")


@dataclass(frozen=True)
class FileMeaning:
    """What a person says of a file beyond what stands in it. Empty means: find out.

    Attributes
    ----------
    zone
        Name of the time zone whose clock the file keeps; the yard's own.
    clock
        `local` (with summer time), `standard` (all year) or `utc`.
    temp_unit, humidity_unit
        `C` or `F`; `percent` or `fraction`.
    far_ok
        The station is meant, however far away it is.
    """

    zone: str = ""
    clock: str = ""
    temp_unit: str = ""
    humidity_unit: str = ""
    far_ok: bool = False


def read_weather(
    data: bytes, name: str = "", *, place: Place | None = None, meaning: FileMeaning | None = None
) -> WeatherRecord:
    """A weather file as a record.

    Parameters
    ----------
    data
        The file's bytes.
    name
        Its name, for words; the format is known by the content.
    place
        The yard's place: the file is held against its normals and its distance.
    meaning
        What a person says of the file.

    Raises
    ------
    WeatherFileError
        If anything in it is wrong; nothing of it is taken. `faults` holds all that was found.
    InputError
        If `meaning` makes no sense.
    """
    said = FileMeaning() if meaning is None else meaning
    _check(said)
    text = _text(data, name)
    try:
        return _by_format(text, name, place, said)
    except csv.Error as error:
        fault = T_("The table cannot be taken apart: {reason}.", reason=str(error))
        raise WeatherFileError(name, (Note("broken_table", fault),)) from error


def _by_format(text: str, name: str, place: Place | None, said: FileMeaning) -> WeatherRecord:
    where: dict[str, Any] = {"place": place, "said": said, "name": name}
    start = text.lstrip("\ufeff \r\n\t")
    if start.startswith("LOCATION,"):
        return _year_record("epw", read_epw(start), **where)
    if "Date (MM/DD/YYYY)" in start[:4000]:
        return _year_record("tmy3", read_tmy3(start), **where)
    if start.startswith("{"):
        return _json_record(start, **where)
    if is_ghcn(start):
        table = read_ghcn(start)
        return _day_record("ghcn_daily", table, None, None, None, **where)
    found = find_table(text)
    if found is None:
        raise WeatherFileError(name, (Note("unknown_format", _unknown()),))
    if {"low", "high"} <= {*found.columns.at} and "temp" not in _hourly_heads(found):
        station, lat, lon, elev = _station_of(found)
        return _day_record("eccc_daily", read_days(found, station), lat, lon, elev, **where)
    return _table_record(found, **where)


def _check(said: FileMeaning) -> None:
    for field, value, allowed in (
        ("clock", said.clock, ("", *CLOCKS)),
        ("temp_unit", said.temp_unit, TEMP_UNITS),
        ("humidity_unit", said.humidity_unit, HUMIDITY_UNITS),
    ):
        if value not in allowed:
            raise InputError(
                field,
                wanted=T_("one of {choices}", choices=", ".join(item for item in allowed if item)),
                got=value,
                next_move=T_("Leave it out to have it found out."),
            )
    if said.zone and said.zone not in available_timezones():
        raise InputError(
            "zone",
            wanted=T_("a time zone name such as America/Moncton"),
            got=said.zone,
            next_move=T_("Choose one from the list."),
        )


def _text(data: bytes, name: str) -> str:
    if data[:2] == b"\x1f\x8b":
        try:
            opened = zlib.decompressobj(wbits=31)
            data = opened.decompress(data, MOST_BYTES + 1)
            if not opened.eof and len(data) <= MOST_BYTES:
                raise EOFError
        except (zlib.error, EOFError, gzip.BadGzipFile) as error:
            text = T_("The packed file is damaged or cut. Copy it again.")
            raise WeatherFileError(name, (Note("damaged", text),)) from error
    if len(data) > MOST_BYTES:
        text = T_("More than {most} MB. Cut the file into years.", most=MOST_BYTES // 1_000_000)
        raise WeatherFileError(name, (Note("too_long", text),))
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _unknown() -> Text:
    return T_(
        "No format that is read: EPW, TMY3, hourly or daily CSV of Environment and Climate Change Canada, "
        "GHCN-Daily by station, Open-Meteo JSON, or a logger's CSV with heads for time, temperature and humidity."
    )


def _hourly_heads(table: Table) -> set[str]:
    """Heads of moments: a mean temperature beside the extremes is a day's."""
    heads = [plain(head) for head in table.heads]
    return {"temp"} if any("hum" in head and "indic" not in head for head in heads) else set()


def _station_of(table: Table) -> tuple[str, float | None, float | None, float | None]:
    """Name and place of the station, where columns say them."""

    def number(name: str) -> float | None:
        at = table.columns.at.get(name)
        try:
            value = None if at is None else float(table.rows[0][at].replace(",", "."))
        except (ValueError, IndexError):
            return None
        return value if value is not None and abs(value) < 10_000.0 else None

    at = table.columns.at.get("station")
    station = table.rows[0][at].strip() if at is not None and table.rows and at < len(table.rows[0]) else ""
    return station, number("lat"), number("lon"), number("elev")


def _year_record(
    kind: str, year: YearFile, *, place: Place | None, said: FileMeaning, name: str
) -> WeatherRecord:
    samples = year.samples
    if not samples.faults:
        screen(
            samples,
            place=place,
            lat=year.lat,
            lon=year.lon,
            fahrenheit=False,
            far_ok=said.far_ok,
            typical=year.typical,
            steps=HOUR_MIN,
        )
    if year.typical:
        samples.note(
            "typical",
            T_(
                "A typical year of months of different years: used as a year of climate, put on the years asked for."
            ),
        )
    return _record(
        kind,
        samples,
        "typical" if year.typical else "observed",
        year.station or name,
        year.lat,
        year.lon,
        year.elev_m,
        name,
    )


def _table_record(table: Table, *, place: Place | None, said: FileMeaning, name: str) -> WeatherRecord:
    station, lat, lon, elev = _station_of(table)
    heads = " ".join(plain(head) for head in table.heads)
    eccc = any(
        words in heads
        for words in (
            "climate id",
            "climate_id",
            "id climatologique",
            "stn press",
            "pression a la station",
            "rel hum (%)",
        )
    )
    where = lon if lon is not None else place.lon if place is not None else None
    samples, fahrenheit = read_table(
        table,
        zone=said.zone,
        lon=where,
        clock=said.clock,
        temp_unit=said.temp_unit,
        humidity_unit=said.humidity_unit,
        station=eccc,
    )
    if not samples.faults:
        screen(samples, place=place, lat=lat, lon=lon, fahrenheit=fahrenheit, far_ok=said.far_ok)
    kind = "eccc_hourly" if eccc else "logger"
    return _record(kind, samples, "observed", station or name, lat, lon, elev, name)


def _json_record(text: str, *, place: Place | None, said: FileMeaning, name: str) -> WeatherRecord:
    """Open-Meteo's hourly answer; units are read from it, times are as `utc_offset_seconds` says."""
    try:
        body: Any = json.loads(text)
        hourly, units = body["hourly"], body.get("hourly_units", {})
        stamps = [str(stamp) for stamp in hourly["time"]]
        shift = int(body.get("utc_offset_seconds", 0)) // 60
        lat, lon = float(body["latitude"]), float(body["longitude"])
        elev = None if body.get("elevation") is None else float(body["elevation"])
        if not (abs(lat) <= 90.0 and abs(lon) <= 180.0 and abs(shift) <= 24 * HOUR_MIN):
            raise ValueError
        if elev is not None and not abs(elev) < 10_000.0:
            raise ValueError
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise WeatherFileError(name, (Note("unknown_format", _unknown()),)) from error
    lines = list(range(1, len(stamps) + 1))
    times = read_times(stamps, lines, head="UTC", clock="utc", zone=said.zone, lon=lon)
    faults = list(times.faults)
    if times.bad:
        faults.append(Note("bad_time", T_("A time in the answer cannot be read."), times.bad))
    columns: dict[str, Any] = {}
    for ours, theirs, units_known in (
        ("air_c", "temperature_2m", {"°C": 1.0, "°F": 0.0}),
        ("rh_pct", "relative_humidity_2m", {"%": 1.0}),
        (
            "wind_m_s",
            "wind_speed_10m",
            {"m/s": 1.0, "km/h": 1 / 3.6, "mp/h": 0.44704, "mph": 0.44704, "kn": 0.514444},
        ),
        ("rain_mm", "precipitation", {"mm": 1.0, "inch": 25.4}),
        ("sun_w_m2", "shortwave_radiation", {"W/m²": 1.0}),
    ):
        values = hourly.get(theirs) if isinstance(hourly, dict) else None
        if values is None:
            columns[ours] = np.full(len(stamps), np.nan)
            continue
        unit = str(
            units.get(theirs) if isinstance(units, dict) and theirs in units else next(iter(units_known))
        )
        if unit not in units_known or not isinstance(values, list) or len(values) != len(stamps):
            faults.append(Note("bad_column", T_("The answer's {name} is not as documented.", name=theirs)))
            continue
        try:
            numbers = np.array([np.nan if value is None else float(value) for value in values])
        except (TypeError, ValueError, OverflowError):
            faults.append(Note("bad_column", T_("The answer's {name} is not as documented.", name=theirs)))
            continue
        columns[ours] = (numbers - 32.0) / 1.8 if unit == "°F" else numbers * units_known[unit]
    if faults:
        raise WeatherFileError(name, tuple(faults))
    count = len(times.minutes)
    # `read_times` took the stamps as UTC; an answer in local time says by how much it is ahead.
    samples = Samples(
        lines=np.array(lines, dtype=np.int64)[:count],
        minutes=times.minutes - shift,
        dew_c=np.full(count, np.nan),
        **columns,
    )
    screen(samples, place=place, lat=lat, lon=lon, fahrenheit=False, far_ok=said.far_ok, steps=HOUR_MIN)
    return _record("open_meteo", samples, "observed", "Open-Meteo", lat, lon, elev, name)


def _record(
    kind: str,
    samples: Samples,
    role: str,
    station: str,
    lat: float | None,
    lon: float | None,
    elev_m: float | None,
    name: str,
) -> WeatherRecord:
    if samples.faults:
        raise WeatherFileError(name, tuple(samples.faults))
    start, hours = _hours(samples, NOMINAL_YEAR if role == "typical" else None)
    _note_gaps(samples, start, hours)
    return WeatherRecord(
        format=kind,
        kind=role,
        station=station,
        lat=lat,
        lon=lon,
        elev_m=elev_m,
        start=start,
        notes=tuple(samples.notes),
        **hours,
    )


def _hours(samples: Samples, year: int | None) -> tuple[date, dict[str, Singles]]:
    """Samples put into hours: means of what lies in each, sums of rain; whole days from first to last."""
    first = int(samples.minutes[0]) // DAY_MIN
    last = int(samples.minutes[-1]) // DAY_MIN
    if year is not None:
        first = (date(year, 1, 1) - EPOCH.date()).days
        last = first + 364
    at = samples.minutes // HOUR_MIN - 24 * first
    count = 24 * (last - first + 1)
    out: dict[str, Singles] = {}
    for name in ("air_c", "rh_pct", "wind_m_s", "sun_w_m2", "rain_mm"):
        values = getattr(samples, name)
        have = np.isfinite(values)
        total = np.bincount(at[have], weights=values[have], minlength=count)
        number = np.bincount(at[have], minlength=count)
        with np.errstate(invalid="ignore", divide="ignore"):
            hours = total if name == "rain_mm" else total / number
        out[name] = np.where(number > 0, hours, np.nan).astype(np.float32)
    return EPOCH.date() + timedelta(days=first), out


def _note_gaps(samples: Samples, start: date, hours: dict[str, Singles]) -> None:
    """Says where hours are missing, between the first and the last that have values."""
    have = np.isfinite(hours["air_c"]) & np.isfinite(hours["rh_pct"])
    held = np.flatnonzero(have)
    inside = ~have[held[0] : held[-1] + 1]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(np.int8)))
    lengths = edges[1::2] - edges[::2]
    short, long = lengths[lengths <= SHORT_GAP_H], lengths[lengths > SHORT_GAP_H]
    if len(short):
        samples.note(
            "short_gaps",
            T_(
                "{count} gaps of up to {most} hours ({hours} hours in all): filled on a straight line.",
                count=len(short),
                most=SHORT_GAP_H,
                hours=int(short.sum()),
            ),
        )
    if len(long):
        begin = held[0] + edges[::2][lengths > SHORT_GAP_H][int(np.argmax(long))]
        samples.note(
            "long_gaps",
            T_(
                "{count} longer gaps ({hours} hours in all, the longest from {day}): filled by generated weather "
                "that fits on either side.",
                count=len(long),
                hours=int(long.sum()),
                day=(start + timedelta(days=int(begin) // 24)).isoformat(),
            ),
        )


def _day_record(
    kind: str,
    table: Any,
    lat: float | None,
    lon: float | None,
    elev_m: float | None,
    *,
    place: Place | None,
    said: FileMeaning,
    name: str,
) -> WeatherRecord:
    first, low, high, rain = screen_days(table, place)
    if table.faults:
        raise WeatherFileError(name, tuple(table.faults))
    missing = int(np.isnan(low).sum())
    if missing:
        table.notes.append(
            Note("missing_days", T_("{count} days are missing: filled by generated weather.", count=missing))
        )
    table.notes.append(
        Note(
            "no_humidity",
            T_("Days without humidity: humidity, wind and sun are generated, and fit the temperature."),
        )
    )
    return WeatherRecord(
        format=kind,
        kind="observed",
        station=table.station or name,
        lat=lat,
        lon=lon,
        elev_m=elev_m,
        start=first,
        low_c=low.astype(np.float32),
        high_c=high.astype(np.float32),
        day_rain_mm=rain.astype(np.float32),
        notes=tuple(table.notes),
    )
