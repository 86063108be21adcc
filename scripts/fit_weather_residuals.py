"""Fits the residuals of the weather generator and writes src/rickyard/weather/data/residuals.json.

`python scripts/fit_weather_residuals.py FOLDER`, where FOLDER holds `hourly/` and `daily/`.

- Correlations of the four daily residuals on one day and with the day before: six observed stations (Montréal 2012,
  Kamloops and Prince George half of 2016, New York EWR, JFK and LGA 2013; the last three count as one).
  The seasonal course is taken out by two harmonics (half years: a parabola), the wet-day step of humidity and of ln
  range by the generator's constants, and each series is scaled to an SD of 1 by station.
- Slow share and temperature SD: Daymet pixels `al015478` and `mn214026`. The other three pixels are kept for checks.
- Strength of the slow component in the wet chain: the same two pixels, by simulation.
- Radiation: typical years Chicago, Greensboro, Montréal-McTavish and Sand Point. The other five are kept for checks.
"""

from __future__ import annotations

import json
import sys
import warnings
from pathlib import Path

import numpy as np
from daily_files import MEASURABLE_MM, Record, read_daymet
from hourly_files import Station, all_stations, observed_stations

from rickyard.weather.draws import SLOW_DAYS, wet_days
from rickyard.weather.generator import RANGE_WET_LOG, RH_WET_STEP
from rickyard.weather.normals import RH_SPREAD
from rickyard.weather.residuals import SERIES
from rickyard.weather.year import daily_from_monthly

TARGET = Path(__file__).resolve().parent.parent / "src" / "rickyard" / "weather" / "data" / "residuals.json"
FIT_PIXELS = ("al015478", "mn214026")
FIT_SUN = ("Chicago", "Greensboro", "Montreal-McTavish", "Sand Point")


def main(folder: Path) -> None:
    lag0, lag1, pairs, notes = fit_correlations(observed_stations(folder))
    pixels = [read_daymet(folder / "daily" / f"Daymet_V4R1_{name}.csv.gz") for name in FIT_PIXELS]
    total_lag1 = float(lag1[SERIES.index("temp"), SERIES.index("temp")])
    share, temp_ratio, temp_lag1 = fit_slow(pixels, total_lag1)
    slow_memory = float(np.exp(-1.0 / SLOW_DAYS))
    # The stations' series hold the slow component too; the fast part's own memory is what is left.
    for name in ("temp", "rh"):
        i = SERIES.index(name)
        notes[f"lag1_total_{name}"] = round(float(lag1[i, i]), 3)
        lag1[i, i] = (lag1[i, i] - share * slow_memory) / (1.0 - share)
    wet_slow = fit_wet(pixels)
    clear_rh, clear_range, r2 = fit_clearness([s for s in all_stations(folder) if s.name.startswith(FIT_SUN)])
    packed = {
        "order": list(SERIES),
        "lag0": lag0.round(3).tolist(),
        "lag1": lag1.round(3).tolist(),
        "temp_sd_over_extremes": round(temp_ratio, 3),
        "slow_share": round(share, 3),
        "wet_slow": round(wet_slow, 3),
        "clearness_rh": round(clear_rh, 3),
        "clearness_range": round(clear_range, 3),
        "provenance": (
            f"scripts/fit_weather_residuals.py. Correlations: {pairs} day pairs of six observed hourly stations "
            "(ECCC Montreal Trudeau 2012, Kamloops and Prince George first half of 2016; NOAA New York EWR, JFK, LGA "
            f"2013). Slow share, temperature SD, wet chain: Daymet V4R1 pixels {' and '.join(FIT_PIXELS)}, 1980-2025. "
            "Radiation: typical years of Chicago, Greensboro, Sand Point (TMY3) and Montreal-McTavish (CWEC2016). "
            f"Seen on the way: lag-1 of temperature {temp_lag1:.2f} in the pixels; R2 of radiation {r2:.2f}; "
            + "; ".join(f"{key} {value}" for key, value in notes.items())
            + "."
        ),
    }
    TARGET.write_text(json.dumps(packed, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(packed, indent=1))


def daily(station: Station) -> dict[str, np.ndarray]:
    """Daily series [days], nan on days with fewer than 20 hours."""
    whole = (~np.isnan(station.temp_c + station.rh_pct + station.wind_m_s)).sum(axis=1) >= 20

    def of(values: np.ndarray) -> np.ndarray:
        return np.where(whole, values, np.nan)

    with np.errstate(all="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # days without any hour come out nan, as they should
        return {
            "temp": of(np.nanmean(station.temp_c, axis=1)),
            "rh": of(np.nanmean(station.rh_pct, axis=1)),
            "ln_wind": of(np.log(np.maximum(np.nanmean(station.wind_m_s, axis=1), 0.3))),
            "ln_range": of(
                np.log(np.maximum(np.nanmax(station.temp_c, 1) - np.nanmin(station.temp_c, 1), 0.5))
            ),
        }


def season(values: np.ndarray) -> np.ndarray:
    """The seasonal course by least squares: two harmonics of a whole year, a parabola of half a year."""
    t = np.arange(len(values)) / 365.0
    if len(values) > 300:
        columns = [np.ones_like(t)]
        columns += [f(2.0 * np.pi * k * t) for k in (1, 2) for f in (np.cos, np.sin)]
    else:
        columns = [np.ones_like(t), t, t**2]
    design = np.stack(columns, axis=1)
    good = ~np.isnan(values)
    return design @ np.linalg.lstsq(design[good], values[good], rcond=None)[0]


def fit_correlations(stations: list[Station]) -> tuple[np.ndarray, np.ndarray, int, dict[str, float]]:
    today, before, counted = [], [], []
    steps, range_steps, range_sd, wind_sd, spreads = [], [], [], [], []
    for station in stations:
        series = daily(station)
        wet = station.wet.astype(float)
        z = {}
        for name, values in series.items():
            usual = season(values)
            off = values - usual
            if name == "rh":
                off /= np.sqrt(np.clip(usual, 5.0, 95.0) * (100.0 - np.clip(usual, 5.0, 95.0)))
                spreads.append(np.nanstd(off))
                off /= np.nanstd(off)
                steps.append(np.nanmean(off[wet == 1]) - np.nanmean(off[wet == 0]))
                off -= RH_WET_STEP * (wet - wet.mean())
            if name == "ln_range":
                range_steps.append(np.nanmean(off[wet == 1]) - np.nanmean(off[wet == 0]))
                off -= RANGE_WET_LOG * (wet - wet.mean())
                range_sd.append(np.nanstd(off))
            if name == "temp":
                # Winters swing more: scale by a seasonal SD.
                off /= np.sqrt(np.maximum(season(off**2), 0.25 * np.nanvar(off)))
            if name == "ln_wind":
                wind_sd.append(np.nanstd(off))
            z[name] = (off - np.nanmean(off)) / np.nanstd(off)
        matrix = np.stack([z[name] for name in SERIES], axis=1)
        good = ~np.isnan(matrix).any(axis=1)
        both = good[1:] & good[:-1]
        today.append(matrix[1:][both])
        before.append(matrix[:-1][both])
        # The three airports of New York see one weather: together they count as one station.
        counted.append(np.full(both.sum(), 1.0 / 3.0 if station.name.startswith("New York") else 1.0))
    now, then = np.concatenate(today), np.concatenate(before)
    pairs = len(now)
    weight = np.concatenate(counted)[:, None]
    lag0 = (now.T @ (weight * now) + then.T @ (weight * then)) / 2.0
    scale = np.sqrt(np.diag(lag0))
    lag0 /= np.outer(scale, scale)
    lag1 = now.T @ (weight * then) / np.outer(scale, scale)
    notes = {
        "wet step of RH [SD]": round(float(np.mean(steps)), 2),
        "wet step of ln range": round(float(np.mean(range_steps)), 2),
        "SD of ln range": round(float(np.mean(range_sd)), 2),
        "SD of ln wind": round(float(np.mean(wind_sd)), 2),
        "RH spread": round(float(np.mean(spreads)), 2),
    }
    return lag0, lag1, pairs, notes


def block_growth(memory: float, days: int) -> float:
    """Variance of the mean of `days` days of an AR(1) series over that of a day."""
    lag = np.arange(1, days)
    return (1.0 + 2.0 * np.sum((1.0 - lag / days) * memory**lag)) / days


def fit_slow(records: list[Record], total_lag1: float) -> tuple[float, float, float]:
    """Share of variance in the 60-day component; SD ratio; lag-1.

    The share is the one with which series of the stations' lag-1 correlation have 60-day means as variable as the
    pixels' are.
    """
    shares, ratios, lags = [], [], []
    slow = float(np.exp(-1.0 / SLOW_DAYS))
    for record in records:
        mean = 0.5 * (record.tmax_c + record.tmin_c)
        z = standardised(mean)
        lag1 = float(np.mean(z.ravel()[1:] * z.ravel()[:-1]))
        blocks = z[:, :360].reshape(-1, 60).mean(axis=1)
        wanted = float(np.var(blocks))
        tried = np.linspace(0.0, 0.4, 401)
        fast = (total_lag1 - tried * slow) / (1.0 - tried)
        made = [
            (1 - s) * block_growth(f, 60) + s * block_growth(slow, 60)
            for s, f in zip(tried, fast, strict=True)
        ]
        print("variance of 60-day and 365-day means", wanted, float(np.var(z.mean(axis=1))))
        shares.append(float(tried[np.argmin(np.abs(np.array(made) - wanted))]))
        lags.append(lag1)
        month = record.month
        for m in range(12):
            here = month == m
            extremes = 0.5 * (record.tmax_c[:, here].std() + record.tmin_c[:, here].std())
            ratios.append(float(mean[:, here].std() / extremes))
    print("slow shares", shares, "lags", lags)
    return float(np.mean(shares)), float(np.mean(ratios)), float(np.mean(lags))


def seasonal_mean(values: np.ndarray) -> np.ndarray:
    """Smooth mean course of the year [365] of [years, 365], three harmonics."""
    t = np.arange(365) / 365.0
    columns = [np.ones_like(t), *[f(2.0 * np.pi * k * t) for k in (1, 2, 3) for f in (np.cos, np.sin)]]
    design = np.stack(columns, axis=1)
    return design @ np.linalg.lstsq(design, values.mean(axis=0), rcond=None)[0]


def standardised(values: np.ndarray) -> np.ndarray:
    """Departures [years, 365] from the smooth course over their smooth SD."""
    off = values - seasonal_mean(values)
    return off / np.sqrt(np.maximum(seasonal_mean(off**2), 0.1))


def chain(record: Record) -> tuple[np.ndarray, np.ndarray]:
    """Chance of a wet day by month after a wet and after a dry one [12] each."""
    wet = (record.rain_mm >= MEASURABLE_MM).ravel()
    month = np.tile(record.month, len(record.rain_mm))[1:]
    p_ww, p_wd = np.empty(12), np.empty(12)
    for m in range(12):
        here = month == m
        p_ww[m] = wet[1:][here & wet[:-1]].mean()
        p_wd[m] = wet[1:][here & ~wet[:-1]].mean()
    return p_ww, p_wd


def wet_count_variance(wet: np.ndarray) -> float:
    """Variance of 60-day counts of wet days of [years, 365], seasonal course of the counts taken out."""
    counts = wet[:, :360].reshape(len(wet), 6, 60).sum(axis=2)
    return float(np.var(counts - counts.mean(axis=0), axis=0, ddof=1).mean())


def fit_wet(records: list[Record]) -> float:
    """Strength at which 60-day counts vary as in the records, both pixels together."""
    tried = np.linspace(0.0, 0.8, 17)
    missing = np.zeros(len(tried))
    random = np.random.default_rng(20)
    numbers = random.standard_normal((732, 400, 1))
    slow = np.empty_like(numbers)
    memory = float(np.exp(-1.0 / SLOW_DAYS))
    slow[0] = random.standard_normal((400, 1))
    for day in range(1, 732):
        slow[day] = memory * slow[day - 1] + np.sqrt(1 - memory**2) * random.standard_normal((400, 1))
    for record in records:
        seen = wet_count_variance(record.rain_mm >= MEASURABLE_MM)
        p_ww, p_wd = (np.clip(daily_from_monthly(p), 0.0, 0.995) for p in chain(record))
        for i, strength in enumerate(tried):
            made = wet_days(numbers, slow, p_ww, p_wd, float(strength))[:365, :, 0].T
            missing[i] += np.log(wet_count_variance(made) / seen)
    print("wet slow", dict(zip(tried.round(2).tolist(), missing.round(2).tolist(), strict=True)))
    return float(np.interp(0.0, missing, tried))


def fit_clearness(stations: list[Station]) -> tuple[float, float, float]:
    """Regression of a day's radiation over its seasonal mean on humidity [SD] and ln range."""
    rows, wanted = [], []
    for station in stations:
        series = daily(station)
        sun = station.sun_w_m2.mean(axis=1)
        usual_rh = season(series["rh"])
        rh_z = (series["rh"] - usual_rh) / (RH_SPREAD * np.sqrt(usual_rh * (100.0 - usual_rh)))
        range_off = series["ln_range"] - season(series["ln_range"])
        clear = sun / season(sun) - 1.0
        good = season(sun) > 20.0
        rows.append(np.stack([rh_z[good], range_off[good]], axis=1))
        wanted.append(clear[good])
    x, y = np.concatenate(rows), np.concatenate(wanted)
    slope = np.linalg.lstsq(x, y, rcond=None)[0]
    r2 = 1.0 - np.var(y - x @ slope) / np.var(y)
    return float(slope[0]), float(slope[1]), float(r2)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
