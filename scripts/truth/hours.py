"""Real hours for the second world, and how gaps in them are filled.

The packed years lie in tests/season/data/hours. What a station did not record is made here: radiation from the day's
temperature range (Hargreaves and Samani, FAO-56 equation 50, with the sky's radiation after FAO-56 equation 21),
spread over the day by the sun's height; hours of rain are those of 90 % humidity or more on wet days, or of 95 %
where the file does not know wet days.
"""

from __future__ import annotations

import csv
import gzip
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from truth import laws
from truth.wedge import Sky

Floats = NDArray[np.float64]

FOLDER = Path(__file__).resolve().parent.parent.parent / "tests" / "season" / "data" / "hours"
YEAR_DAYS = 365


@dataclass(frozen=True)
class Year:
    """8,760 hours from 1 January, local standard time."""

    temp_c: Floats
    rh_pct: Floats
    wind_m_s: Floats
    sun_w_m2: Floats
    raining: Floats


@dataclass(frozen=True)
class Setting:
    """A place, the day of stacking and the real hours that follow: the first file's year, then the others'."""

    lat: float
    lon: float
    elev_m: float
    month: int
    day: int
    years: tuple[str, ...]

    @property
    def first_day(self) -> int:
        """Days from 1 January."""
        return sum((31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)[: self.month - 1]) + self.day - 1


#: Two settings for each climate; the files' years follow one another in turn.
CLIMATES: dict[str, tuple[Setting, Setting]] = {
    "Montreal": (
        Setting(45.47, -73.75, 36.0, 4, 15, ("montreal_2012", "montreal_typical")),
        Setting(45.50, -73.58, 73.0, 5, 20, ("montreal_typical", "montreal_2012")),
    ),
    "New York": (
        Setting(40.78, -73.87, 7.0, 4, 15, ("la_guardia_2013", "kennedy_typical")),
        Setting(40.69, -74.17, 5.0, 5, 20, ("newark_2013", "la_guardia_2013")),
    ),
    "Vancouver": (
        Setting(49.20, -123.18, 4.0, 4, 15, ("vancouver_typical",)),
        Setting(49.20, -123.18, 4.0, 5, 20, ("vancouver_typical",)),
    ),
}


@cache
def year(name: str, lat: float) -> Year:
    with gzip.open(FOLDER / f"{name}.csv.gz", "rt", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    temp, rh, wind = (np.array([float(row[key]) for row in rows]) for key in ("temp_c", "rh_pct", "wind_m_s"))
    if rows[0]["sun_w_m2"]:
        sun = np.array([float(row["sun_w_m2"]) for row in rows])
    else:
        sun = sun_from_range(temp.reshape(-1, 24), lat).ravel()
    if rows[0]["wet_day"]:
        raining = (rh >= 90.0) & (np.array([row["wet_day"] == "1" for row in rows]))
    else:
        raining = rh >= 95.0
    return Year(temp, rh, wind, sun, raining.astype(np.float64))


def sun_from_range(temp_c: Floats, lat: float) -> Floats:
    """Hourly radiation [W/m2] of days [days, 24] from the range of their temperatures [days, 24]."""
    day = np.arange(1, len(temp_c) + 1)
    phi = np.radians(lat)
    tilt = 0.409 * np.sin(2.0 * np.pi * day / 365.0 - 1.39)
    sunset = np.arccos(np.clip(-np.tan(phi) * np.tan(tilt), -1.0, 1.0))
    distance = 1.0 + 0.033 * np.cos(2.0 * np.pi * day / 365.0)
    sky_mj = (
        24.0 * 60.0 / np.pi * 0.0820 * distance
        * (sunset * np.sin(phi) * np.sin(tilt) + np.cos(phi) * np.cos(tilt) * np.sin(sunset))
    )  # fmt: skip
    daily_mj = 0.16 * np.sqrt(np.ptp(temp_c, axis=1)) * sky_mj
    angle = np.radians(15.0) * (np.arange(24) + 0.5 - 12.0)
    height = np.maximum(
        np.sin(phi) * np.sin(tilt)[:, None] + np.cos(phi) * np.cos(tilt)[:, None] * np.cos(angle), 0.0
    )
    return np.asarray(daily_mj[:, None] * 1e6 / 3600.0 * height / height.sum(axis=1, keepdims=True))


def sky(setting: Setting, days: int, copies: int = 1) -> Sky:
    """The hours from the day of stacking on, the same for `copies` stacks."""
    count = -(-(setting.first_day + days) // YEAR_DAYS)
    names = [setting.years[i % len(setting.years)] for i in range(count)]
    found = [year(name, setting.lat) for name in names]
    rows = slice(24 * setting.first_day, 24 * (setting.first_day + days))

    def joined(key: str) -> Floats:
        hours = np.concatenate([getattr(one, key) for one in found])[rows]
        return np.repeat(hours[:, None], copies, axis=1)

    temp = joined("temp_c")
    return Sky(
        air_c=temp,
        vapour_pa=joined("rh_pct") / 100.0 * laws.saturation_pa(temp),
        wind_m_s=joined("wind_m_s"),
        sun_w_m2=joined("sun_w_m2"),
        raining=joined("raining"),
    )
