"""Monthly normals of a place, and how far they may be wrong.

A listed place has its own row.
A point between is interpolated from the four nearest places by inverse square of √(km² + (height difference/10 m)²);
temperature is shifted by -6.5 K/km and dew point by -2.5 K/km, and humidity follows the shifted pair where heights
differ by more than 150 m.

Departures from the tables as printed: relative humidity of United States rows is raised by 2 points
(`us_rh_correction`), because those rows run low (by 1.7 points on average against 13 hourly files).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from rickyard.weather.humidity import psat_water_pa
from rickyard.weather.places import QUALITY_ORDER, Place, distances_km
from rickyard.weather.tables import coordinates, monthly_tables, place_rows, row_numbers

Floats = npt.NDArray[np.floating[Any]]

DAYS_IN_MONTH = np.array([31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0])
"""Mean days of each month [d]."""
US_RH_CORRECTION_PCT = 2.0
"""Added to the relative humidity of United States rows [points]; see the head of this module."""
RH_SPREAD = 0.26
"""Day-to-day SD of relative humidity over √(RH(100-RH)) [unitless].

Seen: Pacific coast 0.18-0.20, Chicago 0.22, Montréal 0.23-0.27, Pittsburgh 0.27, New York 0.29-0.34, Aurora CO 0.41.
Normals do not tell it, so it is a setting of the place.
"""
TEMP_LAPSE_K_PER_M = -0.0065
DEW_LAPSE_K_PER_M = -0.0025
HEIGHT_FOR_RH_M = 150.0
DONORS = 4
TWIN_KM = 5.0
"""A listed place this near to one of better quality gives nothing to points between."""


@dataclass(frozen=True)
class NormalsError:
    """Standard deviations of the error of a place's normals, the same all year.

    Attributes
    ----------
    temp_k
        Of temperature [K].
    rh_points
        Of relative humidity [points of percent].
    wind_share
        Of wind [fraction].
    """

    temp_k: float
    rh_points: float
    wind_share: float


HONEST_ERROR = NormalsError(temp_k=1.0, rh_points=5.0, wind_share=0.25)
"""Even at a listed place: with these SDs a 10-90 % band of drying held the result of a real or typical year in 77 %
of trials, with the weather's noise alone in 36 %."""

# Leave-one-out mean absolute error by distance of the nearest donor; × 1.25 makes a normal SD of it.
# Below 60 km humidity and wind were not tabled; they are taken to fall to nothing at the place itself.
_ERROR_KM = np.array([0.0, 1.0, 15.0, 45.0, 80.0, 150.0, 300.0, 1000.0])
_ERROR_TEMP_K = np.array([0.0, 0.2, 0.5, 0.6, 0.7, 1.3, 1.8, 4.0])
_ERROR_RH = np.array([0.0, 0.3, 1.0, 1.9, 2.5, 3.3, 5.6, 10.0])
_ERROR_WIND = np.array([0.0, 0.03, 0.08, 0.11, 0.12, 0.14, 0.16, 0.25])
_SD_PER_MAE = 1.25
# By quality, added in quadrature: reanalysis temperature misses five Canadian stations by -2.2 to +1.7 K by month and
# humidity by -6 to +1 points (C and D); wind of D comes from a station of similar climate elsewhere, and 0.35 for it
# is a guess without a source.
_QUALITY_ERROR = {
    "A": NormalsError(0.0, 0.0, 0.0),
    "B": NormalsError(0.0, 0.0, 0.0),
    "C": NormalsError(1.0, 3.0, 0.15),
    "D": NormalsError(1.0, 3.0, 0.35),
}


@dataclass(frozen=True)
class Normals:
    """What a usual year is like at a place; arrays are [12] by month, January first.

    Attributes
    ----------
    temp_c, tmax_c, tmin_c
        Mean temperature and mean daily extremes [°C].
    sd_tmax_c, sd_tmin_c
        Day-to-day standard deviation of the daily extremes [K].
    rh_pct
        Mean relative humidity over water [%].
    tdew_c
        Mean dew point as tabled [°C]; the generator works from `rh_pct`.
    wind_m_s
        Mean wind at 10 m in the open [m/s].
    precip_mm, wet_days
        Precipitation [mm per month] and days with measurable precipitation [d per month].
    p_ww, p_wd
        Chance of a wet day after a wet and after a dry one [fraction].
    wetday_mean_mm, wetday_sd_mm
        Mean and SD of precipitation on a wet day [mm].
    sun_mj_m2_d
        Mean global radiation on the horizontal [MJ/m² per day].
    lat, lon, elev_m, quality, distance_km
        As in `Place`.
    error
        How far these normals may be from the truth here; never less than `HONEST_ERROR`.
    rh_spread
        See `RH_SPREAD`.
    source
        Where the numbers come from, in a line.
    """

    temp_c: Floats
    tmax_c: Floats
    tmin_c: Floats
    sd_tmax_c: Floats
    sd_tmin_c: Floats
    rh_pct: Floats
    tdew_c: Floats
    wind_m_s: Floats
    precip_mm: Floats
    wet_days: Floats
    p_ww: Floats
    p_wd: Floats
    wetday_mean_mm: Floats
    wetday_sd_mm: Floats
    sun_mj_m2_d: Floats
    lat: float
    lon: float
    elev_m: float
    quality: str
    distance_km: float
    error: NormalsError
    rh_spread: float = RH_SPREAD
    source: str = ""

    def shifted(self, *, temp_k: float = 0.0, rh_points: float = 0.0, wind_factor: float = 1.0) -> Normals:
        """The normals moved by a yard's own offsets: temperature [K], humidity [points], wind [factor]."""
        return replace(
            self,
            temp_c=self.temp_c + temp_k,
            tmax_c=self.tmax_c + temp_k,
            tmin_c=self.tmin_c + temp_k,
            rh_pct=np.clip(self.rh_pct + rh_points, 1.0, 99.0),
            wind_m_s=self.wind_m_s * wind_factor,
        )


# Our names of the columns of the packed tables.
_COLUMNS = {
    "temp_c": "tmean_c",
    "tmax_c": "tmax_c",
    "tmin_c": "tmin_c",
    "sd_tmax_c": "sd_tmax_c",
    "sd_tmin_c": "sd_tmin_c",
    "rh_pct": "rh_pct",
    "tdew_c": "tdew_c",
    "wind_m_s": "wind_ms",
    "precip_mm": "precip_mm",
    "wet_days": "wetdays",
    "p_ww": "p_ww",
    "p_wd": "p_wd",
    "wetday_mean_mm": "wetday_mean_mm",
    "wetday_sd_mm": "wetday_sd_mm",
    "sun_mj_m2_d": "rad_mj_m2_d",
}


@lru_cache(maxsize=64)
def normals_at(place: Place, *, us_rh_correction: bool = True) -> Normals:
    """Monthly normals of a listed place, or interpolated at a point.

    Parameters
    ----------
    place
        From `find_place`.
    us_rh_correction
        Whether to add `US_RH_CORRECTION_PCT` to rows of the United States; off gives the tables as printed.
    """
    row = row_numbers().get(place.id)
    if row is not None:
        values = {name: table[row] for name, table in _tables(us_rh_correction).items()}
        source = place_rows()[row].source
    else:
        donors, weights = _donors(place)
        values = _blend(place, donors, weights, us_rh_correction)
        source = "; ".join(place_rows()[i].label for i in donors)
    for value in values.values():
        value.setflags(write=False)
    return _made(place, values, place.distance_km, place.quality, source)


def interpolate_normals(place: Place, *, leave_out: frozenset[str] = frozenset()) -> Normals:
    """Normals as for a point, even at a listed place, without the listed places in `leave_out`.

    For checking the interpolation against places it has not seen.
    """
    donors, weights = _donors(place, leave_out)
    values = _blend(place, donors, weights, True)
    rows = [place_rows()[i] for i in donors]
    km = distances_km(place.lat, place.lon, rows)
    nearest = int(np.argmin(km))
    source = "; ".join(row.label for row in rows)
    return _made(place, values, float(km.min()), rows[nearest].quality, source)


def _made(place: Place, values: dict[str, Floats], distance_km: float, quality: str, source: str) -> Normals:
    arrays: dict[str, Any] = values
    return Normals(
        **arrays,
        lat=place.lat,
        lon=place.lon,
        elev_m=place.elev_m,
        quality=quality,
        distance_km=distance_km,
        error=_error(distance_km, quality),
        source=source,
    )


@cache
def _tables(us_rh_correction: bool) -> dict[str, Floats]:
    tables = {ours: monthly_tables()[theirs] for ours, theirs in _COLUMNS.items()}
    if us_rh_correction:
        in_us = np.array([row.country == "US" for row in place_rows()])
        tables["rh_pct"] = np.where(
            in_us[:, None], np.minimum(tables["rh_pct"] + US_RH_CORRECTION_PCT, 98.0), tables["rh_pct"]
        )
    return tables


@cache
def _twins() -> npt.NDArray[np.bool_]:
    """Listed places that lie beside one of better quality, by place."""
    rows = place_rows()
    twin = np.zeros(len(rows), dtype=bool)
    for i, row in enumerate(rows):
        if row.quality in "CD":
            better = [other for other in _neighbours(row.lat, row.lon) if other.quality < row.quality]
            twin[i] = bool(better) and bool(distances_km(row.lat, row.lon, better).min() < TWIN_KM)
    return twin


def _neighbours(lat: float, lon: float) -> list[Any]:
    return [row for row in place_rows() if abs(row.lat - lat) < 0.1 and abs(row.lon - lon) < 0.5]


def _donors(place: Place, leave_out: frozenset[str] = frozenset()) -> tuple[list[int], Floats]:
    """Rows of the four nearest places, height counted, and their weights, which sum to 1."""
    km = distances_km(place.lat, place.lon)
    heights_m = coordinates()[:, 2] - place.elev_m
    apart = np.sqrt(km**2 + (heights_m / 10.0) ** 2)
    out = _twins().copy()
    for place_id in leave_out:
        out[row_numbers()[place_id]] = True
    apart[out] = np.inf
    chosen = np.argsort(apart, kind="stable")[:DONORS]
    weights = 1.0 / np.maximum(apart[chosen], 0.1) ** 2
    return [int(i) for i in chosen], weights / weights.sum()


def _blend(place: Place, donors: list[int], weights: Floats, us_rh_correction: bool) -> dict[str, Floats]:
    tables = _tables(us_rh_correction)
    values: dict[str, Floats] = {name: np.zeros(12) for name in _COLUMNS}
    for i, weight in zip(donors, weights, strict=True):
        row = {name: table[i] for name, table in tables.items()}
        rise_m = place.elev_m - place_rows()[i].elev_m
        moved = dict(row)
        for name in ("temp_c", "tmax_c", "tmin_c"):
            moved[name] = row[name] + TEMP_LAPSE_K_PER_M * rise_m
        moved["tdew_c"] = np.minimum(row["tdew_c"] + DEW_LAPSE_K_PER_M * rise_m, moved["temp_c"])
        if abs(rise_m) > HEIGHT_FOR_RH_M:
            # The tabled humidity is moved in the ratio of the two pairs', so that a station's own RH is kept.
            ratio = _rh_of_pair(moved) / _rh_of_pair(row)
            moved["rh_pct"] = np.clip(row["rh_pct"] * ratio, 5.0, 98.0)
        for name in values:
            values[name] = values[name] + weight * moved[name]
    return values


def _rh_of_pair(row: dict[str, Floats]) -> Floats:
    """Mean relative humidity [%] of a sinusoidal day with a constant dew point."""
    phase = np.cos(2.0 * np.pi * (np.arange(24) + 0.5) / 24.0)
    temp = row["temp_c"][:, None] + 0.5 * (row["tmax_c"] - row["tmin_c"])[:, None] * phase
    return np.asarray(
        np.minimum(psat_water_pa(row["tdew_c"])[:, None] / psat_water_pa(temp), 1.0).mean(axis=1) * 100
    )


def _error(distance_km: float, quality: str) -> NormalsError:
    """The honest width, grown by distance and by poor quality; independent parts add in quadrature."""
    if quality not in QUALITY_ORDER:
        raise ValueError(f"quality is one of {QUALITY_ORDER}, not {quality!r}")
    worse = _QUALITY_ERROR[quality]

    def total(base: float, by_distance: Floats, by_quality: float) -> float:
        moved = _SD_PER_MAE * float(np.interp(distance_km, _ERROR_KM, by_distance))
        return float(np.sqrt(base**2 + moved**2 + by_quality**2))

    return NormalsError(
        temp_k=total(HONEST_ERROR.temp_k, _ERROR_TEMP_K, worse.temp_k),
        rh_points=total(HONEST_ERROR.rh_points, _ERROR_RH, worse.rh_points),
        wind_share=total(HONEST_ERROR.wind_share, _ERROR_WIND, worse.wind_share),
    )
