"""What a weather file or service gives once it has been read: hours (or days) of one station, and what was noted.

A record is on the clock of `HourlyAir`: local standard time all year, hour i from `start` 00:00 plus i hours.
Missing values are nan; a reader leaves gaps open and says so, the join fills them.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from rickyard.errors import InputError
from rickyard.text import T_, Text

Singles = npt.NDArray[np.float32]

FORMATS: dict[str, Text] = {
    "epw": T_("EPW weather file"),
    "tmy3": T_("TMY3 weather file"),
    "eccc_hourly": T_("hourly file of Environment and Climate Change Canada"),
    "eccc_daily": T_("daily file of Environment and Climate Change Canada"),
    "ghcn_daily": T_("GHCN-Daily station file"),
    "logger": T_("logger file"),
    "open_meteo": T_("Open-Meteo answer"),
}
KINDS = ("observed", "typical", "forecast")
HOURLY = ("air_c", "rh_pct", "wind_m_s", "sun_w_m2", "rain_mm")
DAILY = ("low_c", "high_c", "day_rain_mm")


@dataclass(frozen=True)
class Note:
    """Something found in a file. `lines` are line numbers from 1; `code` is stable, for programs."""

    code: str
    text: Text
    lines: tuple[int, ...] = ()


@dataclass(frozen=True)
class Month:
    """Means of a calendar month (`2026-05`): temperature [°C], relative humidity [%]; None where there is none."""

    month: str
    temp_c: float | None
    rh_pct: float | None


class WeatherFileError(InputError):
    """A weather file that cannot be taken; `faults` holds everything that is wrong with it."""

    code = "bad_weather_file"

    def __init__(self, name: str, faults: tuple[Note, ...]) -> None:
        self.faults = faults
        more = T_(" (and {count} more)", count=len(faults) - 1) if len(faults) > 1 else ""
        super().__init__(
            "weather",
            wanted=T_("a weather file that can be trusted"),
            got=T_('{name}: "{fault}"{more}', name=name, fault=faults[0].text, more=more),
            next_move=T_(
                "Nothing was taken. Put it right in the file, or say what it means, and read it again."
            ),
        )


def _none() -> Singles:
    return np.zeros(0, dtype=np.float32)


@dataclass(frozen=True)
class WeatherRecord:
    """Weather of one station or point.

    Attributes
    ----------
    format
        One of `FORMATS`.
    kind
        `observed`, `forecast`, or `typical`: a year pieced together of typical months, on the days of `start`'s year,
        which has no 29th of February.
    station
        Name in the file, or the file's own.
    lat, lon, elev_m
        Degrees and metres, where known.
    start
        First day.
    air_c, rh_pct, wind_m_s, sun_w_m2, rain_mm
        By hour, nan where missing: temperature [°C], relative humidity over water [%], wind at 10 m [m/s], global
        radiation [W/m²], precipitation [mm]. [hours], or [hours, members] in a forecast of several members.
        Empty in a record of days.
    low_c, high_c, day_rain_mm
        By day, in a record of days: extremes [°C] and precipitation [mm].
    notes
        What was noted while reading.
    """

    format: str
    kind: str
    station: str
    lat: float | None
    lon: float | None
    elev_m: float | None
    start: date
    air_c: Singles = field(default_factory=_none)
    rh_pct: Singles = field(default_factory=_none)
    wind_m_s: Singles = field(default_factory=_none)
    sun_w_m2: Singles = field(default_factory=_none)
    rain_mm: Singles = field(default_factory=_none)
    low_c: Singles = field(default_factory=_none)
    high_c: Singles = field(default_factory=_none)
    day_rain_mm: Singles = field(default_factory=_none)
    notes: tuple[Note, ...] = ()

    @property
    def hourly(self) -> bool:
        """Whether it holds hours rather than days."""
        return len(self.air_c) > 0

    @property
    def days(self) -> int:
        """Whole days from the first to the last."""
        return len(self.air_c) // 24 if self.hourly else len(self.low_c)

    @property
    def last(self) -> date:
        """Last day."""
        return self.start + timedelta(days=max(self.days - 1, 0))

    @property
    def complete(self) -> float:
        """Share of the hours (or days) from first to last value that have temperature, and humidity if hourly."""
        have = self._have
        held = np.flatnonzero(have)
        return float(have[held[0] : held[-1] + 1].mean()) if len(held) else 0.0

    @property
    def hours_held(self) -> int:
        """Hours (or days) with values."""
        return int(self._have.sum())

    @property
    def _have(self) -> npt.NDArray[np.bool_]:
        if not self.hourly:
            return np.isfinite(self.low_c) & np.isfinite(self.high_c)
        both = np.isfinite(self.air_c) & np.isfinite(self.rh_pct)
        return np.asarray(both if both.ndim == 1 else both.any(axis=1))

    @property
    def end_hour(self) -> int:
        """Hours (24 a day in a record of days) from the start to just after the last value."""
        held = np.flatnonzero(self._have)
        return 0 if not len(held) else (int(held[-1]) + 1) * (1 if self.hourly else 24)

    @cached_property
    def sha256(self) -> str:
        """Of what it says of the weather; names and notes are left out."""
        return self.digest(self.start, self.days)

    def digest(self, start: date, days: int) -> str:
        """SHA-256 of what it says of the days from `start`; "" if it says nothing of them."""
        cut = self.between(start, days)
        if cut is None:
            return ""
        total = hashlib.sha256(f"{cut.kind} {cut.start} {cut.lat} {cut.lon} {cut.elev_m}".encode())
        for name in (*HOURLY, *DAILY):
            total.update(name.encode())
            total.update(np.ascontiguousarray(getattr(cut, name)).tobytes())
        return total.hexdigest()

    def between(self, start: date, days: int) -> WeatherRecord | None:
        """The part of it on the days from `start`; None if there is none. A typical year stays whole."""
        if self.kind == "typical":
            return self
        first = max(start, self.start)
        count = (min(start + timedelta(days=days), self.start + timedelta(days=self.days)) - first).days
        if count <= 0:
            return None
        skip = (first - self.start).days
        cut: dict[str, Any] = {name: getattr(self, name)[24 * skip : 24 * (skip + count)] for name in HOURLY}
        cut |= {name: getattr(self, name)[skip : skip + count] for name in DAILY}
        return replace(self, start=first, **cut)

    def months(self) -> tuple[Month, ...]:
        """Means by calendar month, for looking at."""
        days = [self.start + timedelta(days=i) for i in range(self.days)]
        keys = np.array([day.strftime("%Y-%m") for day in days])
        if self.hourly:
            temp = self.air_c.reshape(self.days, -1)
            rh = self.rh_pct.reshape(self.days, -1)
        else:
            temp = 0.5 * (self.low_c + self.high_c)[:, None]
            rh = np.full_like(temp, np.nan)

        def mean(values: Singles) -> float | None:
            held = values[np.isfinite(values)]
            return float(held.mean(dtype=np.float64)) if held.size else None

        return tuple(
            Month(str(key), mean(temp[keys == key]), mean(rh[keys == key]))
            for key in dict.fromkeys(keys.tolist())
        )

    def packed(self) -> bytes:
        """Its values as bytes, for a database: float16 would lose tenths, so float32, compressed."""
        out = io.BytesIO()
        arrays = {name: getattr(self, name) for name in (*HOURLY, *DAILY) if getattr(self, name).size}
        np.savez_compressed(out, allow_pickle=False, **arrays)
        return out.getvalue()

    def unpacked(self, content: bytes) -> WeatherRecord:
        """The same record with the values of `packed`."""
        with np.load(io.BytesIO(content)) as arrays:
            values: dict[str, Any] = {name: arrays[name] for name in arrays.files}
        return replace(self, **values)


def said_lines(lines: tuple[int, ...] | list[int], most: int = 8) -> str:
    """Line numbers as words: `12, 13, 17 ... (240 in all)`."""
    shown = ", ".join(str(line) for line in lines[:most])
    return shown if len(lines) <= most else f"{shown} ... ({len(lines)})"


def merged(old: WeatherRecord | None, new: WeatherRecord) -> WeatherRecord:
    """Two observed records of one source as one; where both have a value the newer counts.

    Notes are those of the newer, its place and name too.
    """
    if old is None or not old.days:
        return new
    if old.hourly != new.hourly:
        raise ValueError("hours and days are not one record")
    first = min(old.start, new.start)
    days = (max(old.last, new.last) - first).days + 1
    values: dict[str, Any] = {}
    for name in (*HOURLY, *DAILY):
        each = 24 if name in HOURLY else 1
        if old.hourly != (name in HOURLY):
            continue
        whole = np.full(each * days, np.nan, dtype=np.float32)
        for record in (old, new):
            own = getattr(record, name)
            part = whole[each * (record.start - first).days :][: len(own)]
            np.copyto(part, own, where=np.isfinite(own))
        values[name] = whole
    return replace(new, start=first, **values)
