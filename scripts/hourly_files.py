"""Reads the hourly station files that the weather generator is fitted on and checked against.

The files themselves are not part of the repository; docs/notice.d/weather.md says where each comes from.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

MPH_M_S, INCH_MM = 0.44704, 25.4
MEASURABLE_MM = 0.2


@dataclass(frozen=True)
class Station:
    """Hours of one station, in local standard time; arrays [days, 24], nan where missing.

    `kind` is `observed` or `typical` (a year pieced together of typical months).
    `wet` [days] is whether measurable precipitation fell, or None where the file cannot tell.
    """

    name: str
    kind: str
    lat: float
    lon: float
    elev_m: float
    days: list[datetime]
    temp_c: np.ndarray
    rh_pct: np.ndarray
    wind_m_s: np.ndarray
    sun_w_m2: np.ndarray | None
    wet: np.ndarray | None


def all_stations(folder: Path) -> list[Station]:
    """The fourteen files, six observed stations and nine typical years among them."""
    hourly = folder / "hourly"
    stations = [*observed_stations(folder)]
    stations += [read_epw(path) for path in sorted(hourly.glob("*.epw"))]
    stations += [read_tmy3_csv(path) for path in sorted(hourly.glob("*TMY3.csv"))]
    return stations


def observed_stations(folder: Path) -> list[Station]:
    """Montréal 2012, Kamloops and Prince George (half of 2016), and three New York airports 2013."""
    hourly = folder / "hourly"
    return [
        read_montreal(hourly / "ECCC_hourly_Montreal_2012.csv"),
        read_half_year(
            hourly / "ECCC_hourly_Kamloops_A_BC_2016H1.csv",
            folder / "hourly" / "ECCC_daily_Kamloops_A_BC_2016H1.csv",
        ),
        read_half_year(hourly / "ECCC_hourly_Prince_George_BC_2016H1.csv", None),
        *read_new_york(hourly / "NYC_airports_hourly_2013.csv"),
    ]


class _Grid:
    """Collects hours into arrays [days, 24]."""

    def __init__(self, first: datetime, days: int, names: tuple[str, ...]) -> None:
        self.first = first
        self.days = [first + timedelta(days=i) for i in range(days)]
        self.arrays = {name: np.full((days, 24), np.nan) for name in names}

    def put(self, when: datetime, **values: float) -> None:
        day, hour = (when - self.first).days, when.hour
        if 0 <= day < len(self.days):
            for name, value in values.items():
                self.arrays[name][day, hour] = value


def read_montreal(path: Path) -> Station:
    grid = _Grid(datetime(2012, 1, 1, tzinfo=UTC), 366, ("temp", "rh", "wind", "rain"))
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            words = row["Weather"]
            grid.put(
                _clock(row["Date/Time"]),
                temp=_number(row["Temp (C)"]),
                rh=_number(row["Rel Hum (%)"]),
                wind=_number(row["Wind Spd (km/h)"]) / 3.6,
                rain=float(any(word in words for word in ("Rain", "Snow", "Drizzle"))),
            )
    # The file has words only: two hours of rain or snow make a measurable day.
    return _station(
        "Montreal Trudeau 2012", "observed", 45.47, -73.75, 36.0, grid, wet=grid.arrays["rain"].sum(1) >= 2
    )


def read_half_year(path: Path, daily: Path | None) -> Station:
    grid = _Grid(datetime(2016, 1, 1, tzinfo=UTC), 182, ("temp", "rh", "wind", "rain"))
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            grid.put(
                _clock(row["time"]),
                temp=_number(row["temp"]),
                rh=_number(row["rel_hum"]),
                wind=_number(row["wind_spd"]) / 3.6,
                rain=_number(row["precip_amt"]),
            )
    lat, lon, elev = float(row["lat"]), float(row["lon"]), float(row["elev"])
    if daily is None:
        wet = np.nansum(grid.arrays["rain"], axis=1) >= MEASURABLE_MM
    else:
        with daily.open(encoding="utf-8", newline="") as file:
            rain = {r["date"]: _number(r["total_precip"]) for r in csv.DictReader(file)}
        wet = np.array([rain.get(day.date().isoformat(), np.nan) for day in grid.days]) >= MEASURABLE_MM
    return _station(f"{row['station_name'].title()} 2016, half", "observed", lat, lon, elev, grid, wet=wet)


def read_new_york(path: Path) -> list[Station]:
    where = {"EWR": (40.69, -74.17, 5.0), "JFK": (40.64, -73.78, 4.0), "LGA": (40.78, -73.87, 7.0)}
    grids = {
        name: _Grid(datetime(2013, 1, 1, tzinfo=UTC), 365, ("temp", "rh", "wind", "rain")) for name in where
    }
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            when = _clock(row["time_hour"].replace("Z", "")) - timedelta(hours=5)
            wind = _number(row["wind_speed"]) * MPH_M_S
            grids[row["origin"]].put(
                when,
                temp=(_number(row["temp"]) - 32.0) / 1.8,
                rh=_number(row["humid"]),
                wind=wind if wind < 40.0 else np.nan,
                rain=_number(row["precip"]) * INCH_MM,
            )
    return [
        _station(
            f"New York {name} 2013",
            "observed",
            *where[name],
            grid,
            wet=np.nansum(grid.arrays["rain"], axis=1) >= MEASURABLE_MM,
        )
        for name, grid in grids.items()
    ]


def read_epw(path: Path) -> Station:
    with path.open(encoding="utf-8", newline="") as file:
        head, *rows = list(csv.reader(file))
    hours = [row for row in rows if len(row) > 30 and row[0].isdigit()]
    grid = _Grid(datetime(2015, 1, 1, tzinfo=UTC), 365, ("temp", "rh", "wind", "sun"))
    for row in hours:
        grid.put(
            datetime(2015, int(row[1]), int(row[2]), int(row[3]) - 1, tzinfo=UTC),
            temp=float(row[6]),
            rh=float(row[8]),
            sun=float(row[13]),
            wind=float(row[21]),
        )
    name = f"{head[1]}, {head[2]}, {head[4].split('-')[0]}"
    return _station(
        name, "typical", float(head[6]), float(head[7]), float(head[9]), grid, sun=grid.arrays["sun"]
    )


def read_tmy3_csv(path: Path) -> Station:
    with path.open(encoding="utf-8", newline="") as file:
        head, columns, *rows = list(csv.reader(file))
    at = {name: i for i, name in enumerate(columns)}
    grid = _Grid(datetime(2015, 1, 1, tzinfo=UTC), 365, ("temp", "rh", "wind", "sun"))
    for row in rows:
        month, day = (int(part) for part in row[0].split("/")[:2])
        grid.put(
            datetime(2015, month, day, int(row[1].split(":")[0]) - 1, tzinfo=UTC),
            temp=float(row[at["Dry-bulb (C)"]]),
            rh=float(row[at["RHum (%)"]]),
            sun=float(row[at["GHI (W/m^2)"]]),
            wind=float(row[at["Wspd (m/s)"]]),
        )
    name = f"{head[1].title()}, {head[2]}, TMY3"
    return _station(
        name, "typical", float(head[4]), float(head[5]), float(head[6]), grid, sun=grid.arrays["sun"]
    )


def _station(
    name: str,
    kind: str,
    lat: float,
    lon: float,
    elev: float,
    grid: _Grid,
    *,
    wet: np.ndarray | None = None,
    sun: np.ndarray | None = None,
) -> Station:
    a = grid.arrays
    return Station(name, kind, lat, lon, elev, grid.days, a["temp"], a["rh"], a["wind"], sun, wet)


def _number(text: str) -> float:
    return float(text) if text not in ("", "NA") else np.nan


def _clock(text: str) -> datetime:
    """Clock time of a file, whatever its zone; UTC stands in so that differences are plain hours."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)
