"""The sky of a yard in one piece: observed until now, forecast for the days ahead, members of the climate beyond.

Observed hours are the same for all members.
A forecast counts whole up to its 7th day and fades out by its 12th.
Into what is not known an anomaly is carried as far as weather remembers (`bridge`), so that there is no jump; beyond
twelve days a member's hour is exactly the generator's.
So the hour at time t of member j depends on (place, seed, j, t) and what the sky knows, never on the window.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from rickyard.text import T_, Text
from rickyard.weather.air import HourlyAir, check_window
from rickyard.weather.bridge import FADE_DAYS, MEMORY_DAYS, MOST_GAP_DAYS, bridged, edges, fade, weights
from rickyard.weather.climate import RH_LOWEST_PCT, members_about
from rickyard.weather.hours import _between_noons
from rickyard.weather.humidity import dew_point_c, ice_share, psat_water_pa
from rickyard.weather.normals import DEW_LAPSE_K_PER_M, TEMP_LAPSE_K_PER_M
from rickyard.weather.offsets import Offsets, difference
from rickyard.weather.places import Place
from rickyard.weather.read import SHORT_GAP_H
from rickyard.weather.record import FORMATS, WeatherRecord

Floats = npt.NDArray[np.floating[Any]]
Singles = npt.NDArray[np.float32]

MARGIN_DAYS = int(MOST_GAP_DAYS) + 2
"""Days looked at on either side of a window, so that it does not matter where the window ends."""
HEIGHT_M = 50.0
"""A station this much higher or lower than the yard is put to the yard's height."""
STALE_DAYS = 3
"""Age of a forecast from which it is called old [d]."""
NOTHING_NEW_DAYS = 14


@dataclass(frozen=True)
class Issue:
    """A forecast and the moment it was issued (UTC); `record` begins with the day of the issue."""

    record: WeatherRecord
    issued_at: datetime


@dataclass(frozen=True)
class Sky:
    """What is known of the weather over a yard.

    Attributes
    ----------
    place
        Where it is.
    offsets
        What its own logger says of the place's normals.
    observed
        Records of hours or days; where two say something, the first is believed, and the others are put right by
        their mean difference to it.
    climate
        A typical year to use in place of the normals.
    issue
        The newest forecast.
    """

    place: Place
    offsets: Offsets | None = None
    observed: tuple[WeatherRecord, ...] = ()
    climate: WeatherRecord | None = None
    issue: Issue | None = None

    @property
    def plain(self) -> bool:
        """Whether nothing is known but the place."""
        return self.offsets is None and not self.observed and self.climate is None and self.issue is None

    def as_plain(self, start: date, days: int) -> dict[str, Any]:
        """What the weather of these days hangs on, as JSON can carry it."""
        first, count = start - timedelta(days=MARGIN_DAYS), days + 2 * MARGIN_DAYS
        observed = [record.digest(first, count) for record in self.observed]
        said: dict[str, Any] = {"place": self.place.id, "observed": [digest for digest in observed if digest]}
        if self.offsets is not None:
            said["offsets"] = [
                round(self.offsets.temp_k, 3),
                round(self.offsets.rh_points, 2),
                self.offsets.days,
            ]
        if self.climate is not None:
            said["climate"] = self.climate.sha256
        if self.issue is not None:
            digest = self.issue.record.digest(first, count)
            if digest:
                said["issue"] = [self.issue.issued_at.astimezone(UTC).isoformat(), digest]
        return said

    def fingerprint(self, start: date, days: int) -> str:
        """Changes when the weather of these days changes."""
        return hashlib.sha256(json.dumps(self.as_plain(start, days), sort_keys=True).encode()).hexdigest()


def air_for(sky: Sky, start: date, days: int, *, members: int, seed: int) -> HourlyAir:
    """The weather of these days, members 0 to members - 1.

    Raises InputError if days, members, start or seed are out of range.
    """
    check_window(start, days, members)
    first, count = start - timedelta(days=MARGIN_DAYS), days + 2 * MARGIN_DAYS
    records = [cut for record in _aligned(sky) if (cut := record.between(first, count)) is not None]
    issue = None if sky.issue is None else _issue_record(sky).between(first, count)
    if not records and issue is None:
        return members_about(sky.place, sky.offsets, sky.climate, start, days, members=members, seed=seed)
    base = members_about(sky.place, sky.offsets, sky.climate, first, count, members=members, seed=seed)
    for record in records:
        if not record.hourly:
            base = _with_days(base, record)
    joined = _with_hours(base, [record for record in records if record.hourly], issue, sky)
    cut_hours = slice(24 * MARGIN_DAYS, 24 * (MARGIN_DAYS + days))
    return HourlyAir(
        start,
        *(
            np.ascontiguousarray(values[cut_hours])
            for values in (joined.air_c, joined.vapour_pa, joined.wind_m_s, joined.sun_w_m2, joined.rain_mm)
        ),
    )


def sky_notes(sky: Sky, start: date, days: int, *, as_of: date | None = None) -> tuple[Text, ...]:
    """What of these days was observed, forecast, filled, and what is old, for people.

    `as_of` is the day on which it is read; without it nothing is called old.
    """
    said: list[Text] = []
    end = start + timedelta(days=days - 1)
    last_seen: date | None = None
    for record in sky.observed:
        cut = record.between(start, days)
        if cut is None or not cut.hours_held:
            continue
        last = cut.start + timedelta(hours=cut.end_hour - 1)
        last_seen = last if last_seen is None else max(last, last_seen)
        said.append(
            T_(
                "Observed from {first} to {last} ({what}, {station}).",
                first=max(start, cut.start).isoformat(),
                last=last.isoformat(),
                what=FORMATS[record.format],
                station=record.station or "-",
            )
        )
        said.extend(note.text for note in record.notes if note.code in _TOLD)
    if sky.observed and last_seen is None:
        said.append(
            T_(
                "What was observed lies outside {first} to {last}.",
                first=start.isoformat(),
                last=end.isoformat(),
            )
        )
    if sky.issue is not None and sky.issue.record.between(start, days) is not None:
        issued = sky.issue.issued_at.date()
        until = min(sky.issue.record.last, issued + timedelta(days=int(FADE_DAYS[1])))
        said.append(
            T_(
                "Forecast of {day}, until {until}, fading from its 7th day on.",
                day=issued.isoformat(),
                until=until.isoformat(),
            )
        )
        if as_of is not None and (as_of - issued).days >= STALE_DAYS:
            said.append(T_("The weather forecast is {days} days old.", days=(as_of - issued).days))
    elif (
        as_of is not None and last_seen is not None and (min(as_of, end) - last_seen).days > NOTHING_NEW_DAYS
    ):
        said.append(
            T_(
                "Nothing was observed after {day}: from there on the usual weather counts.",
                day=last_seen.isoformat(),
            )
        )
    if sky.climate is not None:
        said.extend(note.text for note in sky.climate.notes if note.code in ("typical", "other_years"))
    if sky.offsets is not None:
        said.append(
            T_(
                "The place's normals are moved by {temp:+.1f} K and {rh:+.0f} points of humidity, from {days} days of "
                "the yard's own logger.",
                temp=sky.offsets.temp_k,
                rh=sky.offsets.rh_points,
                days=sky.offsets.days,
            )
        )
    return tuple(said)


_TOLD = ("short_gaps", "long_gaps", "missing_days", "no_humidity", "far_station", "stuck", "unit_taken")


def _aligned(sky: Sky) -> list[WeatherRecord]:
    """The observed records at the yard's height, the later ones put right by their mean difference to the first."""
    records = [_at_height(record, sky.place) for record in sky.observed if record.kind != "typical"]
    for i in range(1, len(records)):
        apart = difference(records[0], records[i])
        if apart is not None:
            records[i] = _moved(records[i], *apart)
    return records


def _issue_record(sky: Sky) -> WeatherRecord:
    """The forecast, put right by what its service's past differs from the yard's own observations."""
    assert sky.issue is not None
    record = _at_height(sky.issue.record, sky.place)
    own = [item for item in sky.observed if item.hourly and item.format != record.format]
    past = [item for item in sky.observed if item.hourly and item.format == record.format]
    if own and past:
        apart = difference(_at_height(own[0], sky.place), _at_height(past[0], sky.place))
        if apart is not None:
            return _moved(record, *apart)
    return record


def _moved(record: WeatherRecord, temp_k: float, rh_points: float) -> WeatherRecord:
    return replace(
        record,
        air_c=record.air_c + np.float32(temp_k),
        rh_pct=np.clip(record.rh_pct + np.float32(rh_points), 1.0, 100.0),
    )


def _at_height(record: WeatherRecord, place: Place) -> WeatherRecord:
    """A station's temperatures at the yard's height; a logger hangs in the yard."""
    if record.elev_m is None or record.format == "logger" or abs(record.elev_m - place.elev_m) < HEIGHT_M:
        return record
    rise = place.elev_m - record.elev_m
    warmer = np.float32(TEMP_LAPSE_K_PER_M * rise)
    if not record.hourly:
        return replace(record, low_c=record.low_c + warmer, high_c=record.high_c + warmer)
    rh = np.clip(record.rh_pct, 1.0, 100.0)
    dew = dew_point_c(psat_water_pa(record.air_c) * rh / 100.0) + DEW_LAPSE_K_PER_M * rise
    air = record.air_c + warmer
    moved = np.clip(100.0 * psat_water_pa(dew) / psat_water_pa(air), 1.0, 100.0)
    return replace(record, air_c=air.astype(np.float32), rh_pct=moved.astype(np.float32))


def _with_hours(
    base: HourlyAir, records: list[WeatherRecord], issue: WeatherRecord | None, sky: Sky
) -> HourlyAir:
    """The base with known hours put in and the rest led up to them."""
    if not records and issue is None:
        return base
    trust = _trust(base, sky.issue) if sky.issue is not None and issue is not None else None
    air = _joined(base, "air_c", base.air_c, records, issue, trust)
    rh_base = 100.0 * base.vapour_pa / psat_water_pa(base.air_c)
    rh = _joined(base, "rh_pct", rh_base, records, issue, trust)
    changed = np.zeros(len(base.air_c), dtype=bool)
    for made, before in ((air, base.air_c), (rh, rh_base)):
        if made is not before:
            changed |= (made != before).any(axis=1)
    vapour = base.vapour_pa.copy()
    highest = np.maximum(100.0 * ice_share(air[changed]), RH_LOWEST_PCT)
    known_rh = _known(base, "rh_pct", records)[0][changed]
    # Stations report a little above saturation over ice; what was observed is kept up to saturation over water.
    top = np.where(known_rh[:, None], 100.0, highest)
    vapour[changed] = psat_water_pa(air[changed]) * np.clip(rh[changed], 1.0, top) / 100.0
    wind = np.maximum(_joined(base, "wind_m_s", base.wind_m_s, records, issue, trust), 0.0)
    sun, rain = base.sun_w_m2, base.rain_mm
    for name, before in (("sun_w_m2", sun), ("rain_mm", rain)):
        known, values = _known(base, name, records if issue is None else [*records, issue])
        if known.any():
            put = before.copy()
            put[known] = values[known]
            if name == "sun_w_m2":
                sun = put
            else:
                rain = put
    return HourlyAir(base.start, air, vapour, wind.astype(np.float32), sun, rain)


def _known(base: HourlyAir, name: str, records: list[WeatherRecord]) -> tuple[npt.NDArray[np.bool_], Singles]:
    """Which hours of a quantity are known, and their values [hours, 1 or members]; short gaps are filled straight."""
    count, members = base.air_c.shape
    wide = any(getattr(record, name).ndim > 1 for record in records)
    values = np.full((count, members if wide else 1), np.nan, dtype=np.float32)
    for record in records:
        own = getattr(record, name)
        if own.ndim > 1:
            own = own[:, np.arange(members) % own.shape[1]]
        else:
            own = own[:, None]
        at = 24 * (record.start - base.start).days
        part = values[at : at + len(own)]
        np.copyto(part, own, where=np.isnan(part) & np.isfinite(own))
    if name in ("air_c", "rh_pct", "wind_m_s"):
        _fill_short(values)
    return np.asarray(np.isfinite(values).all(axis=1)), values


def _fill_short(values: Singles) -> None:
    known = np.asarray(np.isfinite(values).all(axis=1))
    before, after = edges(known)
    length = after - before - 1
    short = np.flatnonzero(~known & (before >= 0) & (after < len(known)) & (length <= SHORT_GAP_H))
    if len(short):
        share = ((short - before[short]) / (after[short] - before[short])).astype(np.float32)[:, None]
        values[short] = (1.0 - share) * values[before[short]] + share * values[after[short]]


def _trust(base: HourlyAir, issue: Issue) -> Singles:
    """How far a forecast counts by hour: 1 to its 7th day, 0 from its 12th on."""
    zero = datetime(base.start.year, base.start.month, base.start.day, tzinfo=UTC)
    days = (zero - issue.issued_at.astimezone(UTC)).total_seconds() / 86400.0 + np.arange(
        len(base.air_c)
    ) / 24.0
    return fade(np.maximum(days, 0.0)).astype(np.float32)


def _joined(
    base: HourlyAir,
    name: str,
    before: Floats,
    records: list[WeatherRecord],
    issue: WeatherRecord | None,
    trust: Singles | None,
) -> Floats:
    """One quantity [hours, members]: known where known, led over elsewhere; `before` itself if nothing is known."""
    observed, values = _known(base, name, records)
    known = observed
    if issue is not None and trust is not None:
        ahead, theirs = _known(base, name, [issue])
        # The forecast speaks for what comes after the last observation.
        seen = np.flatnonzero(observed)
        if len(seen):
            ahead[: seen[-1] + 1] = False
        known = observed | ahead
        if ahead.any():
            values = np.broadcast_to(values, (len(before), max(values.shape[1], theirs.shape[1]))).copy()
            values[ahead] = _led_over(theirs, ahead, values, observed)
    if not known.any():
        return before
    anomaly = np.zeros(before.shape)
    anomaly[known] = values[known] - before[known]
    carried, touched = bridged(anomaly, known)
    out = before.copy()
    out[observed] = values[observed]
    rest = (known & ~observed) | touched
    if trust is not None:
        seen = np.flatnonzero(observed)
        after = np.arange(len(known)) > (seen[-1] if len(seen) else -1)
        weight = np.where(after, trust, 1.0)
    else:
        weight = np.ones(len(known))
    rest &= weight > 0.0
    whole = np.where(known[:, None], anomaly, carried)[rest]
    out[rest] = before[rest] + weight[rest, None] * whole
    return np.asarray(out, dtype=before.dtype)


def _led_over(
    theirs: Singles, ahead: npt.NDArray[np.bool_], values: Singles, observed: npt.NDArray[np.bool_]
) -> Floats:
    """A forecast that begins where the last observation ends: what it is off by there is forgotten in half a day."""
    seen = np.flatnonzero(observed)
    first = int(np.flatnonzero(ahead)[0])
    at = np.flatnonzero(ahead)
    if not len(seen) or first - int(seen[-1]) > 6:
        return theirs[at]
    off = values[int(seen[-1])] - theirs[first]
    return np.asarray(theirs[at] + np.exp(-(at - first + 1) / 12.0)[:, None] * off)


def _with_days(base: HourlyAir, record: WeatherRecord) -> HourlyAir:
    """Members led through a record's daily extremes, each keeping its own course within the day and its humidity."""
    members = base.members
    at = (record.start - base.start).days
    count = base.days
    low, high = np.full(count, np.nan), np.full(count, np.nan)
    rain = np.full(count, np.nan)
    low[at : at + record.days] = record.low_c
    high[at : at + record.days] = record.high_c
    rain[at : at + record.days] = record.day_rain_mm
    known = np.isfinite(low) & np.isfinite(high)
    hours = base.air_c.reshape(count, 24, members).astype(np.float64)
    middle = 0.5 * (hours.min(axis=1) + hours.max(axis=1))
    wide = np.maximum(hours.max(axis=1) - hours.min(axis=1), 0.5)
    off = np.zeros_like(middle)
    log_wide = np.zeros_like(middle)
    off[known] = 0.5 * (low + high)[known, None] - middle[known]
    log_wide[known] = np.log(np.clip((high - low)[known, None] / wide[known], 0.2, 5.0))
    left, right = weights(known, 1.0, MEMORY_DAYS)
    before, after = edges(known)
    for values in (off, log_wide):
        ends = values.copy()
        values += left[:, None] * ends[np.maximum(before, 0)]
        values += right[:, None] * ends[np.minimum(after, count - 1)]
    touched = known | (left > 0.0) | (right > 0.0)
    around = touched.copy()
    around[1:] |= touched[:-1]
    around[:-1] |= touched[1:]
    centre = _between_noons(middle.astype(np.float32)).astype(np.float64)
    moved = _between_noons(off.astype(np.float32)).astype(np.float64)
    factor = np.exp(_between_noons(log_wide.astype(np.float32)).astype(np.float64))
    made = centre + moved + (hours - centre) * factor
    by_day = base.air_c.copy().reshape(count, 24, members)
    by_day[around] = made[around].astype(np.float32)
    air = by_day.reshape(count * 24, members)
    rows = np.repeat(around, 24)
    vapour = base.vapour_pa.copy()
    rh = base.vapour_pa[rows] / psat_water_pa(base.air_c[rows])
    vapour[rows] = psat_water_pa(air[rows]) * np.minimum(rh, ice_share(air[rows]))
    return HourlyAir(base.start, air, vapour, base.wind_m_s, base.sun_w_m2, _day_rain(base, rain))


def _day_rain(base: HourlyAir, rain: Floats) -> Singles:
    """The day's observed rain in the member's own rain hours, or in six hours of the afternoon where it has none."""
    out = base.rain_mm.copy().reshape(base.days, 24, base.members)
    known = np.isfinite(rain)
    total = out.sum(axis=1)
    shape = np.zeros((24, 1), dtype=np.float32)
    shape[12:18] = 1.0 / 6.0
    for day in np.flatnonzero(known):
        own = total[day] > 0.0
        share = np.where(own, out[day] / np.where(own, total[day], 1.0), shape)
        out[day] = (rain[day] * share).astype(np.float32)
    return out.reshape(-1, base.members)
