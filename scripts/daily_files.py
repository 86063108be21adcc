"""Reads the daily station files that the slow part of the weather generator is fitted on and checked against.

The files themselves are not part of the repository; docs/notice.d/weather.md says where each comes from.
"""

from __future__ import annotations

import csv
import gzip
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np

MEASURABLE_MM = 0.25


@dataclass(frozen=True)
class Record:
    """Whole years of days; arrays [years, 365], leap days left out.

    Daymet has 365 days in every year by leaving out 31 December of leap years.
    """

    name: str
    lat: float
    lon: float
    elev_m: float
    first_year: int
    tmax_c: np.ndarray
    tmin_c: np.ndarray
    rain_mm: np.ndarray

    @property
    def month(self) -> np.ndarray:
        """Month of each day [365], from 0."""
        return np.array([(date(2015, 1, 1) + timedelta(days=i)).month - 1 for i in range(365)])


def read_daymet(path: Path) -> Record:
    with gzip.open(path, "rt", encoding="utf-8") as file:
        lines = file.read().splitlines()
    lat, lon = (float(part.split()[0]) for part in lines[0].split(": ")[1:])
    elev = float(lines[3].split()[1])
    begin = next(i for i, line in enumerate(lines) if line.startswith("year,yday"))
    rows = np.array([[float(v) for v in row] for row in csv.reader(lines[begin + 1 :])])
    years = len(rows) // 365
    rain, tmax, tmin = (rows[: years * 365, k].reshape(years, 365) for k in (2, 3, 4))
    name = path.name.split("_")[-1].removesuffix(".csv.gz")
    return Record(name, lat, lon, elev, int(rows[0, 0]), tmax, tmin, rain)
