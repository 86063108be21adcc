"""The packed tables of places and monthly normals, read once."""

from __future__ import annotations

import csv
import gzip
import io
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.floating[Any]]


@dataclass(frozen=True)
class PlaceRow:
    """A row of the places table as packed."""

    place_id: str
    name: str
    label: str
    region: str
    country: str
    lat: float
    lon: float
    elev_m: float
    quality: str
    pick: bool
    record_years: str
    source: str
    wind_source: str
    normals_source: str


@dataclass(frozen=True)
class Region:
    """A country (`region` empty) or one of its states or provinces, with its names."""

    country: str
    region: str
    name_en: str
    name_fr: str


def _data(name: str) -> bytes:
    return (files("rickyard.weather") / "data" / name).read_bytes()


@cache
def place_rows() -> tuple[PlaceRow, ...]:
    """All places in the order of the normals."""
    text = gzip.decompress(_data("places.csv.gz")).decode("utf-8")
    return tuple(
        PlaceRow(
            place_id=row["place_id"],
            name=row["name"],
            label=row["label"],
            region=row["region"],
            country=row["country"],
            lat=float(row["lat"]),
            lon=float(row["lon"]),
            elev_m=float(row["elev_m"]),
            quality=row["quality"],
            pick=row["pick"] == "1",
            record_years=row["record_years"],
            source=row["source"],
            wind_source=row["wind_source"],
            normals_source=row["normals_source"],
        )
        for row in csv.DictReader(io.StringIO(text))
    )


@cache
def row_numbers() -> dict[str, int]:
    """The place of each place id in the tables."""
    return {row.place_id: i for i, row in enumerate(place_rows())}


@cache
def coordinates() -> Floats:
    """Latitude and longitude [°] and height [m] of all places [places, 3]."""
    return np.array([(row.lat, row.lon, row.elev_m) for row in place_rows()])


@cache
def monthly_tables() -> dict[str, Floats]:
    """Monthly quantities by column name, each [places, 12], raw as in the reference tables."""
    with np.load(io.BytesIO(_data("normals.npz"))) as packed:
        steps = dict(zip(packed["names"].tolist(), packed["steps"].tolist(), strict=True))
        return {name: packed[name] * step for name, step in steps.items()}


@cache
def regions() -> tuple[Region, ...]:
    """Countries, states and provinces with their English and French names."""
    text = _data("regions.csv").decode("utf-8")
    return tuple(Region(**row) for row in csv.DictReader(io.StringIO(text)))
