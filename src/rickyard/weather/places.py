"""Places: the listed ones, found by name, and any point of the map in between.

A listed place is a climate station with monthly normals.
A point typed as `LAT,LON[,METRES]` becomes a place whose normals are interpolated (see `normals`).
Every place's `id` finds the same place again.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from rickyard.errors import InputError, UnknownNameError
from rickyard.text import T_
from rickyard.weather.tables import PlaceRow, coordinates, place_rows, regions, row_numbers

Floats = npt.NDArray[np.floating[Any]]

EARTH_RADIUS_KM = 6371.0
SAME_PLACE_KM = 50.0
"""Stations of one name nearer to each other than this are one place; the best of them is taken."""
TOO_FAR_KM = 1000.0
"""Beyond this distance from the nearest listed place there is no climate to speak of, and the point is refused."""
QUALITY_ORDER = "ABCD"

_POINT = re.compile(
    r"^\s*([-+]?\d{1,4}(?:\.\d*)?)\s*[,;]\s*([-+]?\d{1,4}(?:\.\d*)?)\s*(?:[,;]\s*([-+]?\d{1,6}(?:\.\d*)?)\s*(?:m)?\s*)?$"
)


@dataclass(frozen=True)
class Place:
    """Where a yard is, as far as the weather goes.

    Attributes
    ----------
    id
        Finds the place again: the id of a listed place, or `LAT,LON[,METRES]`.
    name, label
        Short name, and the name with its state, province or country.
    country, region
        Two-letter codes; `region` is empty outside the United States and Canada.
        For a point they are those of the nearest listed place, which may lie across a border.
    lat, lon
        Degrees north and east.
    elev_m
        Height above the sea [m]. For a point given without height: that of the places around it, by distance.
    quality
        Of humidity and wind, A (station mean) to D (reanalysis, borrowed wind); for a point, of the nearest place.
    distance_km
        To the nearest listed place [km]; 0 for a listed one.
    near
        Label of that nearest listed place; empty for a listed one.
    """

    id: str
    name: str
    label: str
    country: str
    region: str
    lat: float
    lon: float
    elev_m: float
    quality: str
    distance_km: float = 0.0
    near: str = ""

    @property
    def listed(self) -> bool:
        """Whether this is a climate station of the list rather than a point between."""
        return self.id in row_numbers()


@cache
def all_places() -> tuple[Place, ...]:
    """The 3,191 listed places."""
    return tuple(_listed(row) for row in place_rows())


@cache
def picked_places() -> tuple[Place, ...]:
    """The 711 listed places marked for a short list to choose from."""
    return tuple(_listed(row) for row in place_rows() if row.pick)


def find_place(text: str, *, field: str = "place") -> Place:
    """The place of a name, an id or `LAT,LON[,METRES]`.

    Case, accents and punctuation do not matter; a state, province or country may follow the name, by code or in
    English or French.

    Raises
    ------
    UnknownNameError
        No such name, or several places far apart bear it; `nearest` holds the labels to choose from.
    InputError
        Latitude, longitude or height out of range, or a point too far from every listed place.
    """
    row = row_numbers().get(text.strip().lower())
    if row is not None:
        return all_places()[row]
    point = _POINT.match(text)
    if point:
        lat, lon, height = point.groups()
        return place_at(float(lat), float(lon), None if height is None else float(height), field=field)
    found = _named(text)
    if not found:
        raise UnknownNameError(
            field,
            wanted=T_("the name of a listed place, or latitude,longitude[,metres]"),
            got=text,
            nearest=[place.label for place in suggest_places(text, limit=6)],
        )
    best = min(found, key=_rank)
    apart = [row for row in found if distances_km(best.lat, best.lon, [row])[0] > SAME_PLACE_KM]
    if apart:
        raise UnknownNameError(
            field,
            wanted=T_("the name of one place; several bear this one"),
            got=text,
            nearest=_labels(found, limit=12),
        )
    return all_places()[row_numbers()[best.place_id]]


def suggest_places(text: str, limit: int = 10) -> list[Place]:
    """Places for a look-up box while someone types: names that begin so, then that hold it, then similar ones."""
    if _POINT.match(text):
        try:
            return [find_place(text)]
        except InputError:
            return []
    if not _key(text):
        return []
    rows: list[PlaceRow] = []
    for name, codes in _readings(text):
        if not name:
            continue
        entries = [entry for entry in _index() if _lies_in(entry.row, codes)]
        rows += sorted((e.row for e in entries if any(k.startswith(name) for k in e.keys)), key=_rank)
        rows += sorted((e.row for e in entries if any(f" {name}" in f" {k}" for k in e.keys)), key=_rank)
    if not rows:
        rows = _similar(*_readings(text)[-1], limit) or _similar(_key(text.split(",")[0]), None, limit)
    chosen = list({row.label: row for row in reversed(rows)}.values())[::-1]
    return [all_places()[row_numbers()[row.place_id]] for row in chosen[:limit]]


def place_at(lat: float, lon: float, elev_m: float | None = None, *, field: str = "place") -> Place:
    """The place at a point of the map.

    Parameters
    ----------
    lat, lon
        Degrees north and east, -90 to 90 and -180 to 180.
    elev_m
        Height above the sea [m], -450 to 6000; without it that of the places around.
    """
    _check_range(field, T_("latitude"), lat, -90.0, 90.0)
    _check_range(field, T_("longitude"), lon, -180.0, 180.0)
    if elev_m is not None:
        _check_range(field, T_("height in metres"), elev_m, -450.0, 6000.0)
    lat, lon = round(lat, 4) + 0.0, round(lon, 4) + 0.0
    point_id = f"{lat:.4f},{lon:.4f}"
    if elev_m is not None:
        elev_m = round(elev_m) + 0.0
        point_id += f",{elev_m:.0f}"
    km = distances_km(lat, lon)
    # Of stations side by side the best one counts as the nearest.
    beside = [row for row, there in zip(place_rows(), km, strict=True) if there < km.min() + 1.0]
    nearest = min(beside, key=_rank)
    if km.min() > TOO_FAR_KM:
        raise InputError(
            field,
            wanted=T_("a point within {limit:.0f} km of a listed place", limit=TOO_FAR_KM),
            got=T_("{point}, {km:.0f} km from {near}", point=point_id, km=km.min(), near=nearest.label),
            next_move=T_("Check the signs: west and south are negative. Latitude comes first."),
        )
    if elev_m is None:
        four = np.argsort(km, kind="stable")[:4]
        weights = 1.0 / np.maximum(km[four], 0.1) ** 2
        elev_m = float(np.sum(weights * [place_rows()[i].elev_m for i in four]) / np.sum(weights))
    return Place(
        id=point_id,
        name=f"{lat:.2f}, {lon:.2f}",
        label=f"{lat:.4f}, {lon:.4f}",
        country=nearest.country,
        region=nearest.region,
        lat=lat,
        lon=lon,
        elev_m=elev_m,
        quality=nearest.quality,
        distance_km=float(km.min()),
        near=nearest.label,
    )


def distances_km(lat: float, lon: float, rows: Sequence[PlaceRow] | None = None) -> Floats:
    """Great-circle distances [km] from a point to listed places, all without `rows` (haversine on a sphere)."""
    there = np.radians(coordinates() if rows is None else np.array([(row.lat, row.lon) for row in rows]))
    here = np.radians([lat, lon])
    half = np.sin((there[:, 0] - here[0]) / 2) ** 2
    half += np.cos(there[:, 0]) * np.cos(here[0]) * np.sin((there[:, 1] - here[1]) / 2) ** 2
    return np.asarray(2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.minimum(half, 1.0))))


def nearest_places(lat: float, lon: float, count: int = 4) -> list[tuple[Place, float]]:
    """The listed places nearest to a point and their distances [km]; of stations side by side the best one."""
    km = distances_km(lat, lon)
    found: list[tuple[Place, float]] = []
    for i in np.argsort(km, kind="stable")[: 8 * count]:
        row, far = place_rows()[int(i)], float(km[i])
        beside = [
            k for k, (place, _) in enumerate(found) if distances_km(place.lat, place.lon, [row])[0] < 1.0
        ]
        if not beside:
            found.append((_listed(row), far))
        elif QUALITY_ORDER.index(row.quality) < QUALITY_ORDER.index(found[beside[0]][0].quality):
            found[beside[0]] = (_listed(row), far)
    return found[:count]


@dataclass(frozen=True)
class _Entry:
    row: PlaceRow
    keys: tuple[str, ...]  # the town as labelled, the station's own name


@cache
def _index() -> tuple[_Entry, ...]:
    return tuple(
        _Entry(row, tuple(dict.fromkeys((_key(row.label.rsplit(", ", 1)[0]), _key(row.name)))))
        for row in place_rows()
    )


@cache
def _codes_by_name() -> dict[str, frozenset[tuple[str, str]]]:
    """The (country, region) pairs that a code or name may mean: `ca` is California and Canada."""
    meant: dict[str, set[tuple[str, str]]] = {}
    for area in regions():
        for name in (area.region or area.country, area.name_en, area.name_fr):
            meant.setdefault(_key(name), set()).add((area.country, area.region))
    for name, country in (("usa", "US"), ("u s a", "US"), ("uk", "GB"), ("great britain", "GB")):
        meant.setdefault(name, set()).add((country, ""))
    return {name: frozenset(codes) for name, codes in meant.items()}


def _key(text: str) -> str:
    """A name without case, accents, apostrophes and punctuation; `saint` and `st` are one word."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(c for c in plain if not unicodedata.combining(c) and c not in "'’`")
    words = re.sub(r"[^0-9a-z]+", " ", plain).split()
    return " ".join("st" if word in ("saint", "ste", "sainte") else word for word in words)


def _readings(text: str) -> list[tuple[str, frozenset[tuple[str, str]] | None]]:
    """The ways to read a text as (town, states or countries it may lie in); the plainest first."""
    head, *tail = [part for part in text.split(",") if part.strip()] or [""]
    codes = _codes_by_name()
    readings: list[tuple[str, frozenset[tuple[str, str]] | None]] = []
    for part in reversed(tail):
        if _key(part) in codes:
            readings.append((_key(head), codes[_key(part)]))
            break
    else:
        readings.append((_key(text), None))
    words = _key(head).split()
    for cut in range(1, min(4, len(words))):
        end = " ".join(words[-cut:])
        if end in codes and not tail:
            readings.append((" ".join(words[:-cut]), codes[end]))
    return readings


def _lies_in(row: PlaceRow, codes: frozenset[tuple[str, str]] | None) -> bool:
    return codes is None or (row.country, row.region) in codes or (row.country, "") in codes


def _named(text: str) -> list[PlaceRow]:
    """Listed places that bear a name: exactly, or, for well-known ones, as the beginning of a longer name."""
    for name, codes in _readings(text):
        if not name:
            continue
        entries = [entry for entry in _index() if _lies_in(entry.row, codes)]
        exact = [e.row for e in entries if name in e.keys]
        begin = [e.row for e in entries if any(k.startswith(name + " ") for k in e.keys)]
        found = exact + [row for row in begin if row.pick] or begin
        if found:
            return found
    return []


def _similar(name: str, codes: frozenset[tuple[str, str]] | None, limit: int) -> list[PlaceRow]:
    """Listed places whose name is spelt nearly so."""
    keys = {entry.keys[0]: entry.row for entry in reversed(_index()) if _lies_in(entry.row, codes)}
    return [keys[key] for key in difflib.get_close_matches(name, keys, n=limit, cutoff=0.6)]


def _rank(row: PlaceRow) -> tuple[bool, int, int, str]:
    return (not row.pick, QUALITY_ORDER.index(row.quality), len(row.label), row.label)


def _labels(rows: Iterable[PlaceRow], limit: int) -> list[str]:
    return list(dict.fromkeys(row.label for row in sorted(rows, key=_rank)))[:limit]


def _listed(row: PlaceRow) -> Place:
    return Place(
        id=row.place_id,
        name=row.label.rsplit(", ", 1)[0],
        label=row.label,
        country=row.country,
        region=row.region,
        lat=row.lat,
        lon=row.lon,
        elev_m=row.elev_m,
        quality=row.quality,
    )


def _check_range(field: str, what: Any, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise InputError(
            field,
            wanted=T_("{what} between {low:g} and {high:g}", what=what, low=low, high=high),
            got=f"{value:g}",
            next_move=T_("Give the place as latitude,longitude[,metres], like 45.87,-66.53."),
        )
