"""Derives the small check tables in tests/weather/data from the hourly and daily station files.

`python scripts/derive_weather_checks.py FOLDER`, where FOLDER holds `hourly/`, `daily/` and `checks/`, writes

- `hourly_months.csv`, `hourly_stations.csv`: statistics of fifteen station years, six observed and nine typical;
- `daily_months.csv`, `daily_records.csv`: statistics of five Daymet pixels, 1980-2025;
- `heating_degree_days.csv`, `simpson_emc_us.csv`: copies of the check tables.

Equilibrium moisture is computed hour by hour with `rickyard.wood.emc_db`.
"""

from __future__ import annotations

import csv
import shutil
import sys
from pathlib import Path

import numpy as np
from accuracy_d.weather import spread_statistics
from daily_files import MEASURABLE_MM, Record, read_daymet
from hourly_files import Station, all_stations

from rickyard.weather.humidity import psat_water_pa
from rickyard.wood import emc_db

TARGET = Path(__file__).resolve().parent.parent / "tests" / "weather" / "data"


def main(folder: Path) -> None:
    TARGET.mkdir(parents=True, exist_ok=True)
    months, whole = [], []
    for station in all_stations(folder):
        of_months, of_all = station_statistics(station)
        months += of_months
        whole.append(of_all)
    write("hourly_months.csv", months)
    write("hourly_stations.csv", whole)
    months, whole = [], []
    for path in sorted((folder / "daily").glob("Daymet*.csv.gz")):
        record = read_daymet(path)
        months += record_months(record)
        whole.append(record_statistics(record))
    write("daily_months.csv", months)
    write("daily_records.csv", whole)
    for name in ("heating_degree_days.csv", "simpson_emc_us.csv"):
        shutil.copyfile(folder / "checks" / name, TARGET / name)
        (TARGET / name).chmod(0o644)


def write(name: str, rows: list[dict[str, object]]) -> None:
    with (TARGET / name).open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(
            {key: round(value, 4) if isinstance(value, float) else value for key, value in row.items()}
            for row in rows
        )


def station_statistics(station: Station) -> tuple[list[dict[str, object]], dict[str, object]]:
    whole = (~np.isnan(station.temp_c + station.rh_pct + station.wind_m_s)).all(axis=1)
    month = np.array([day.month for day in station.days])
    temp, rh, wind = station.temp_c, station.rh_pct, station.wind_m_s
    emc = np.full(temp.shape, np.nan)
    emc[whole] = 100.0 * emc_db(np.clip(rh[whole], 1.0, 100.0) / 100.0, temp[whole])
    vpd = psat_water_pa(temp) * (1.0 - rh / 100.0)
    rows: list[dict[str, object]] = []
    for m in range(1, 13):
        here = whole & (month == m)
        if here.sum() < 20:
            continue
        highest, lowest = temp[here].max(axis=1), temp[here].min(axis=1)
        rows.append(
            {
                "station": station.name,
                "month": m,
                "days": int(here.sum()),
                "temp_c": float(temp[here].mean()),
                "tmax_c": float(highest.mean()),
                "tmin_c": float(lowest.mean()),
                "sd_tmax_c": float(highest.std(ddof=1)),
                "sd_tmin_c": float(lowest.std(ddof=1)),
                "rh_pct": float(rh[here].mean()),
                "wind_m_s": float(wind[here].mean()),
                "sun_mj_m2_d": float("nan")
                if station.sun_w_m2 is None
                else float(station.sun_w_m2[here].sum(axis=1).mean() * 0.0036),
                "emc_pct": float(emc[here].mean()),
                "vpd_pa": float(vpd[here].mean()),
                "share_rh90": float((rh[here] >= 90.0).mean()),
            }
        )
    daily_emc = np.where(whole, emc.mean(axis=1), np.nan)
    both = whole[1:] & whole[:-1]
    daily_rh = rh[whole].mean(axis=1)
    return rows, {
        "station": station.name,
        "kind": station.kind,
        "lat": station.lat,
        "lon": station.lon,
        "elev_m": station.elev_m,
        "days": int(whole.sum()),
        "emc_pct": float(emc[whole].mean()),
        "emc_daily_sd": float(np.nanstd(daily_emc)),
        "emc_daily_p05": float(np.nanpercentile(daily_emc, 5)),
        "emc_daily_p50": float(np.nanpercentile(daily_emc, 50)),
        "emc_daily_p95": float(np.nanpercentile(daily_emc, 95)),
        "emc_lag1": float(np.corrcoef(daily_emc[1:][both], daily_emc[:-1][both])[0, 1]),
        "rh_daily_sd": float(daily_rh.std()),
        "vpd_april_september_pa": float(vpd[whole & (month >= 4) & (month <= 9)].mean()),
        "share_rh90": float((rh[whole] >= 90.0).mean()),
    }


def record_months(record: Record) -> list[dict[str, object]]:
    month = record.month
    wet = record.rain_mm >= MEASURABLE_MM
    flat_wet, flat_month = wet.ravel(), np.tile(month, len(wet))
    rows: list[dict[str, object]] = []
    for m in range(12):
        here = month == m
        after = (flat_month == m)[1:]
        amounts = record.rain_mm[:, here][wet[:, here]]
        rows.append(
            {
                "record": record.name,
                "month": m + 1,
                "temp_c": float(0.5 * (record.tmax_c[:, here] + record.tmin_c[:, here]).mean()),
                "tmax_c": float(record.tmax_c[:, here].mean()),
                "tmin_c": float(record.tmin_c[:, here].mean()),
                "sd_tmax_c": float(record.tmax_c[:, here].std(ddof=1)),
                "sd_tmin_c": float(record.tmin_c[:, here].std(ddof=1)),
                "precip_mm": float(record.rain_mm[:, here].sum(axis=1).mean()),
                "wet_days": float(wet[:, here].sum(axis=1).mean()),
                "p_ww": float(flat_wet[1:][after & flat_wet[:-1]].mean()),
                "p_wd": float(flat_wet[1:][after & ~flat_wet[:-1]].mean()),
                "wetday_mean_mm": float(amounts.mean()),
                "wetday_sd_mm": float(amounts.std(ddof=1)),
            }
        )
    return rows


def record_statistics(record: Record) -> dict[str, object]:
    mean = 0.5 * (record.tmax_c + record.tmin_c)
    return {
        "record": record.name,
        "lat": record.lat,
        "lon": record.lon,
        "elev_m": record.elev_m,
        "years": len(mean),
        **spread_statistics(mean, record.rain_mm >= MEASURABLE_MM, record.rain_mm, record.month),
    }


if __name__ == "__main__":
    main(Path(sys.argv[1]))
