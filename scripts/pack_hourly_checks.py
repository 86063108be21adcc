"""Packs hours of the whole-year station files for the accuracy page: tests/weather/data/hourly_checks.npz.

Run by hand: python scripts/pack_hourly_checks.py FOLDER_OF_CLIMATE_DATA
Temperature in tenths of °C, humidity in percent, wind in tenths of m/s; -32768 where missing.
The files are read with the package's own readers; docs/notice.d/weather.md says where they come from.
"""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path

import numpy as np

from rickyard.weather import FileMeaning, WeatherRecord, read_weather

OUT = Path(__file__).resolve().parent.parent / "tests" / "weather" / "data" / "hourly_checks.npz"
MONTREAL, JFK = (45.47, -73.75, 36.0), (40.64, -73.78, 4.0)


def main() -> None:
    hourly = Path(sys.argv[1]) / "hourly"
    arrays: dict[str, np.ndarray] = {}
    about: list[dict[str, object]] = []
    for name, record, where in _records(hourly):
        first = len(about)
        about.append(
            {
                "name": name,
                "kind": record.kind,
                "start": record.start.isoformat(),
                "lat": where[0],
                "lon": where[1],
                "elev_m": where[2],
            }
        )
        columns = (record.air_c * 10.0, record.rh_pct, record.wind_m_s * 10.0)
        packed = [
            np.where(np.isfinite(c), np.round(np.nan_to_num(c)), -32768).astype(np.int16) for c in columns
        ]
        arrays[f"hours{first}"] = np.stack(packed)
    arrays["about"] = np.array(json.dumps(about))
    np.savez_compressed(OUT, **arrays)
    print(OUT, OUT.stat().st_size)


def _records(hourly: Path) -> list[tuple[str, WeatherRecord, tuple[float, float, float]]]:
    found: list[tuple[str, WeatherRecord, tuple[float, float, float]]] = []
    name = "ECCC_hourly_Montreal_2012.csv"
    found.append(("Montréal Trudeau 2012", read_weather((hourly / name).read_bytes(), name), MONTREAL))
    out = io.StringIO()
    write = csv.writer(out)
    write.writerow(["time_hour", "temp °F", "humidity %", "wind speed (mph)"])
    with (hourly / "NYC_airports_hourly_2013.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["origin"] == "JFK":
                write.writerow([row["time_hour"], row["temp"], row["humid"], row["wind_speed"]])
    jfk = read_weather(out.getvalue().encode(), "JFK", meaning=FileMeaning(zone="America/New_York"))
    found.append(("New York JFK 2013", jfk, JFK))
    for path in sorted([*hourly.glob("*.epw"), *hourly.glob("*TMY3.csv")]):
        record = read_weather(path.read_bytes(), path.name)
        assert record.lat is not None
        assert record.lon is not None
        assert record.elev_m is not None
        words = record.station.title() + (" CWEC" if path.name.startswith("CAN") else " TMY3")
        found.append((words, record, (record.lat, record.lon, record.elev_m)))
    return found


if __name__ == "__main__":
    main()
