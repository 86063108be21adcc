"""The checks that every weather file goes through: what is wrong refuses the whole file, what is odd is noted.

A fault refuses the file; a note takes single values out, or only speaks.
Bounds: humidity 1 to 100 %; temperature and months within six standard deviations of the place's normals; dew point
not above temperature; no sensor stuck for more than twelve hours; warmest hour between 13 and 16 h local standard time.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from rickyard.text import T_, Text
from rickyard.weather.degree_days import daily_temp_sd_k
from rickyard.weather.humidity import dew_point_c, psat_water_pa
from rickyard.weather.normals import Normals, normals_at
from rickyard.weather.places import EARTH_RADIUS_KM, Place
from rickyard.weather.record import Note, said_lines
from rickyard.weather.times import EPOCH, HOUR_MIN
from rickyard.weather.year import daily_from_monthly, year_day

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

DAY_MIN = 24 * HOUR_MIN
FEW = 0.01
"""Share of the lines that may be left out for nonsense in them; with more the file is refused."""
HALF_EMPTY = 0.5
"""A file with less of its hours than this is refused."""
STUCK_MIN = 12 * HOUR_MIN
STUCK_ALONE_MIN = 36 * HOUR_MIN
"""One of temperature and humidity alone may well stand still for a day, in fog or while snow melts."""
MOST_STUCK = 0.25
SIX_SD = 6.0
MONTH_SHARE = 0.5
"""SD of a month's mean over that of a day's: days remember each other (lag 1 about 0.75, and a slow part)."""
WARMEST_H = (12.0, 17.5)
"""Bounds of the mean warmest hour; 13 to 16 h are usual, and a mean over days and a coast need some room."""
NEAR_KM, FAR_KM = 50.0, 300.0
COUNTED_DAYS = 5
"""Days a month needs before its mean is held against the normals."""


@dataclass
class Samples:
    """Lines of a file on our clock, before they are put into hours; nan where missing."""

    lines: npt.NDArray[np.int64]
    minutes: npt.NDArray[np.int64]
    air_c: Floats
    rh_pct: Floats
    dew_c: Floats
    wind_m_s: Floats
    sun_w_m2: Floats
    rain_mm: Floats
    faults: list[Note] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    @property
    def step_min(self) -> int:
        """The usual step between lines."""
        steps = np.diff(self.minutes)
        return int(np.median(steps)) if len(steps) else HOUR_MIN

    def fault(self, code: str, text: Text, at: Any = None) -> None:
        self.faults.append(Note(code, text, self._lines(at)))

    def note(self, code: str, text: Text, at: Any = None) -> None:
        self.notes.append(Note(code, text, self._lines(at)))

    def _lines(self, at: Any) -> tuple[int, ...]:
        return () if at is None else tuple(int(line) for line in self.lines[at])

    def said(self, at: Any) -> str:
        return said_lines(self._lines(at))


def screen(
    samples: Samples,
    *,
    place: Place | None,
    lat: float | None,
    lon: float | None,
    fahrenheit: bool,
    far_ok: bool = False,
    typical: bool = False,
    steps: int | None = None,
) -> None:
    """Looks at everything; faults and notes are added to the samples, nonsense is made missing.

    Parameters
    ----------
    place
        Whose normals the file is held against; None: only what needs none.
    lat, lon
        Of the station, where the file says.
    fahrenheit
        Whether temperatures were taken as °F, for the words of a fault.
    far_ok
        Takes a station however far away.
    typical
        A typical year: its months are of different years.
    steps
        Minutes between lines, if the format says.
    """
    if not len(samples.minutes):
        samples.fault("empty", T_("There is no line with weather in it."))
        return
    _order(samples, typical)
    if samples.faults:
        return
    _units(samples, place, fahrenheit)
    if samples.faults:
        return
    _bounds(samples)
    _dew(samples)
    _stuck(samples)
    _half_empty(samples, steps)
    _warmest_hour(samples)
    if place is not None:
        _distance(samples, place, lat, lon, far_ok)
        if not samples.faults:
            _normals(samples, place, lat, lon)


def distance_km(place: Place, lat: float, lon: float) -> float:
    """Great-circle distance [km]."""
    a, b = np.radians([place.lat, place.lon]), np.radians([lat, lon])
    half = np.sin((b[0] - a[0]) / 2) ** 2 + np.cos(a[0]) * np.cos(b[0]) * np.sin((b[1] - a[1]) / 2) ** 2
    return float(2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(min(half, 1.0))))


def _order(samples: Samples, typical: bool) -> None:
    """Times must run on. Newest first is turned round; anything else is refused."""
    steps = np.diff(samples.minutes)
    if len(steps) and (steps < 0).all():
        for name in ("lines", "minutes", "air_c", "rh_pct", "dew_c", "wind_m_s", "sun_w_m2", "rain_mm"):
            setattr(samples, name, getattr(samples, name)[::-1])
        samples.note("newest_first", T_("The newest line stands first; the order was turned round."))
        steps = np.diff(samples.minutes)
    same, back = np.flatnonzero(steps == 0) + 1, np.flatnonzero(steps < 0) + 1
    if len(back):
        samples.fault(
            "unsorted",
            T_(
                "Lines {lines}: the time runs back. Sort the file by time, or read its parts one by one.",
                lines=samples.said(back),
            ),
            back,
        )
    # A time that comes again later in the file is a double too, wherever it stands.
    order = np.argsort(samples.minutes, kind="stable")
    again = order[1:][np.diff(samples.minutes[order]) == 0]
    if len(same) or len(again):
        at = np.unique(np.concatenate([same, again]))
        samples.fault(
            "duplicated",
            T_(
                "Lines {lines}: a time that stands in the file before. Take one of the two out.",
                lines=samples.said(at),
            ),
            at,
        )
    if typical and len(steps) and (steps > HOUR_MIN).any():
        at = np.flatnonzero(steps > HOUR_MIN) + 1
        samples.fault(
            "missing_hours",
            T_(
                "Lines {lines}: hours are missing before them; a typical year has all.",
                lines=samples.said(at),
            ),
            at,
        )


def _units(samples: Samples, place: Place | None, fahrenheit: bool) -> None:
    rh = samples.rh_pct[np.isfinite(samples.rh_pct)]
    if len(rh) and np.nanmax(rh) <= 1.5:
        samples.fault(
            "fraction",
            T_(
                "Humidity runs from {low:.2f} to {high:.2f}: that is a fraction, not percent. "
                "Say that humidity is a fraction.",
                low=rh.min(),
                high=rh.max(),
            ),
        )
    air = samples.air_c[np.isfinite(samples.air_c)]
    if not len(air):
        samples.fault("no_temperature", T_("No line has a temperature."))
        return
    as_read, other = ("°F", "°C") if fahrenheit else ("°C", "°F")
    if fahrenheit:
        turned = samples.air_c * 1.8 + 32.0
    else:
        turned = (samples.air_c - 32.0) / 1.8
    looks_other = not fahrenheit and bool(np.quantile(air, 0.95) > 50.0)
    if place is not None and not looks_other:
        usual = _usual_by_line(samples, normals_at(place))
        apart, apart_turned = np.nanmedian(samples.air_c - usual), np.nanmedian(turned - usual)
        looks_other = bool(abs(apart) > 12.0 and abs(apart_turned) < 0.3 * abs(apart))
    if looks_other:
        samples.fault(
            "wrong_unit",
            T_(
                "Temperatures were read as {unit} and run from {low:.0f} to {high:.0f} °C: they look like {other}. "
                "Say the unit.",
                unit=as_read,
                low=air.min(),
                high=air.max(),
                other=other,
            ),
        )


def _usual_by_line(samples: Samples, usual: Normals) -> Floats:
    daily = daily_from_monthly(usual.temp_c)
    return np.asarray(daily[_year_days(samples.minutes)])


def _year_days(minutes: npt.NDArray[np.int64]) -> npt.NDArray[np.intp]:
    days, back = np.unique(minutes // DAY_MIN, return_inverse=True)
    at = [year_day(EPOCH.date() + timedelta(days=int(day))) for day in days]
    return np.array(at, dtype=np.intp)[back]


def _bounds(samples: Samples) -> None:
    """Values that no weather has; a sensor's 101 % is 100."""
    over = (samples.rh_pct > 100.0) & (samples.rh_pct <= 105.0)
    samples.rh_pct[over] = 100.0
    for name, low, high, words in (
        ("air_c", -65.0, 57.0, T_("temperature")),
        ("rh_pct", 1.0, 100.0, T_("humidity")),
        ("wind_m_s", 0.0, 60.0, T_("wind")),
        ("sun_w_m2", -10.0, 1500.0, T_("radiation")),
        ("rain_mm", 0.0, 250.0, T_("rain")),
    ):
        values = getattr(samples, name)
        _leave_out(
            samples,
            np.isfinite(values) & ((values < low) | (values > high)),
            (name,),
            "out_of_range",
            T_("{what} outside {low:g} to {high:g}", what=words, low=low, high=high),
        )
    samples.sun_w_m2 = np.maximum(samples.sun_w_m2, 0.0)


def _dew(samples: Samples) -> None:
    """A dew point above the temperature, or one that does not go with the humidity."""
    above = samples.dew_c > samples.air_c + 0.5
    _leave_out(samples, above, ("air_c", "rh_pct"), "dew_above", T_("dew point above the temperature"))
    missing = np.isnan(samples.rh_pct) & np.isfinite(samples.dew_c) & np.isfinite(samples.air_c)
    if missing.any():
        rh = 100.0 * psat_water_pa(samples.dew_c[missing]) / psat_water_pa(samples.air_c[missing])
        samples.rh_pct[missing] = np.clip(rh, 1.0, 100.0)
    both = np.isfinite(samples.rh_pct) & np.isfinite(samples.dew_c) & np.isfinite(samples.air_c)
    if both.sum() >= 24:
        rh = np.clip(samples.rh_pct[both], 1.0, 100.0)
        dew = dew_point_c(psat_water_pa(samples.air_c[both]) * rh / 100.0)
        apart = float(np.median(np.abs(dew - samples.dew_c[both])))
        if apart > 3.0:
            samples.fault(
                "dew_and_humidity",
                T_(
                    "Temperature, humidity and dew point do not go together (dew point off by {apart:.0f} K): "
                    "check the units and the columns.",
                    apart=apart,
                ),
            )


def _leave_out(samples: Samples, at: Flags, names: tuple[str, ...], code: str, what: Text) -> None:
    count = int(at.sum())
    if not count:
        return
    if count > max(3, FEW * len(samples.minutes)):
        samples.fault(code, T_("Lines {lines}: {what}.", lines=samples.said(at), what=what), at)
        return
    for name in names:
        getattr(samples, name)[at] = np.nan
    samples.note(code, T_("Lines {lines}: {what}; left out.", lines=samples.said(at), what=what), at)


def _stuck(samples: Samples) -> None:
    """The same figures hour after hour: a sensor that hangs, or a logger that repeats its last value."""
    out = np.zeros(len(samples.minutes), dtype=bool)
    rh_full = np.nan_to_num(samples.rh_pct, nan=0.0) >= 97.0
    together = np.isfinite(samples.air_c) & np.isfinite(samples.rh_pct)
    for same, longest in (
        (_runs(samples, (samples.air_c, samples.rh_pct), together), STUCK_MIN),
        (_runs(samples, (samples.air_c,), np.isfinite(samples.air_c)), STUCK_ALONE_MIN),
        (_runs(samples, (samples.rh_pct,), np.isfinite(samples.rh_pct) & ~rh_full), STUCK_ALONE_MIN),
    ):
        for first, last in same:
            if samples.minutes[last] - samples.minutes[first] > longest:
                out[first : last + 1] = True
    if not out.any():
        return
    words = T_("the sensor shows the same for more than {hours} hours", hours=STUCK_MIN // HOUR_MIN)
    if out.mean() > MOST_STUCK:
        samples.fault("stuck", T_("Lines {lines}: {what}.", lines=samples.said(out), what=words), out)
        return
    samples.air_c[out] = samples.rh_pct[out] = np.nan
    samples.note("stuck", T_("Lines {lines}: {what}; left out.", lines=samples.said(out), what=words), out)


def _runs(samples: Samples, series: tuple[Floats, ...], have: Flags) -> list[tuple[int, int]]:
    """First and last line of every run of equal values of more than two lines."""
    if len(have) < 3:
        return []
    same = have[1:] & have[:-1]
    for values in series:
        same &= values[1:] == values[:-1]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], same, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]


def _half_empty(samples: Samples, steps: int | None) -> None:
    have = np.isfinite(samples.air_c) & np.isfinite(samples.rh_pct)
    if not have.any():
        samples.fault("no_humidity", T_("No line has temperature and humidity together."))
        return
    step = max(steps or min(samples.step_min, DAY_MIN), 1)
    span = int(samples.minutes[-1] - samples.minutes[0]) // step + 1
    if step > 3 * HOUR_MIN:
        samples.fault(
            "too_seldom",
            T_(
                "One line every {hours:.0f} hours: at least one every 3 hours is needed.",
                hours=step / HOUR_MIN,
            ),
        )
    elif have.sum() < HALF_EMPTY * span:
        samples.fault(
            "half_empty",
            T_(
                "Only {share:.0f} % of the time from first to last line has temperature and humidity. "
                "Cut the file down to the time the logger ran.",
                share=100.0 * float(have.sum()) / span,
            ),
        )


def _warmest_hour(samples: Samples) -> None:
    """The clock against the sun: the warmest hour of a mean day is early in the afternoon."""
    have = np.isfinite(samples.air_c)
    hours = (samples.minutes[have] % DAY_MIN) / HOUR_MIN
    if np.unique(samples.minutes[have] // DAY_MIN).size < COUNTED_DAYS:
        return
    air = samples.air_c[have]
    # The first harmonic of the mean day, from means by hour, so that missing nights do not pull it.
    by_hour = [air[(hours >= h) & (hours < h + 1)] for h in range(24)]
    if any(len(values) == 0 for values in by_hour):
        return
    wave = np.fft.rfft([values.mean() for values in by_hour])[1] / 12.0
    if abs(wave) < 0.7:
        return
    warmest = float((-np.angle(wave) * 24.0 / (2.0 * np.pi) + 0.5) % 24.0)
    if not WARMEST_H[0] <= warmest <= WARMEST_H[1]:
        samples.fault(
            "clock_shift",
            T_(
                "The warmest hour of the mean day is {hour:.0f} h; 13 to 16 h is right. The clock is off, or it is "
                "another zone's: say the time zone, or that times are UTC.",
                hour=warmest,
            ),
        )


def _distance(samples: Samples, place: Place, lat: float | None, lon: float | None, far_ok: bool) -> None:
    if lat is None or lon is None:
        return
    far = distance_km(place, lat, lon)
    if far > FAR_KM and not far_ok:
        samples.fault(
            "far_station",
            T_(
                "The station is {km:.0f} km from {place}. Take one within {most:.0f} km, or say that it is meant.",
                km=far,
                place=place.label,
                most=FAR_KM,
            ),
        )
    elif far > NEAR_KM:
        samples.note("far_station", T_("The station is {km:.0f} km from {place}.", km=far, place=place.label))


def _normals(samples: Samples, place: Place, lat: float | None, lon: float | None) -> None:
    """Single values and months against the normals of the place."""
    usual = normals_at(place)
    at = _year_days(samples.minutes)
    sd = daily_from_monthly(daily_temp_sd_k(usual))[at]
    half_range = 0.5 * daily_from_monthly(usual.tmax_c - usual.tmin_c)[at]
    apart = samples.air_c - daily_from_monthly(usual.temp_c)[at]
    wild = np.isfinite(apart) & (np.abs(apart) > SIX_SD * sd + half_range)
    words = T_("temperature more than six standard deviations from the normals of {place}", place=place.label)
    _leave_out(samples, wild, ("air_c",), "wild", words)
    months = _months(samples.minutes)
    wrong: list[Text] = []
    for month in np.unique(months):
        inside = months == month
        have = inside & np.isfinite(samples.air_c)
        if len(np.unique(samples.minutes[have] // DAY_MIN)) < COUNTED_DAYS:
            continue
        number = int(month % 12)
        t_sd = float(np.hypot(MONTH_SHARE * daily_temp_sd_k(usual)[number], usual.error.temp_k))
        t_off = float(np.nanmean(apart[have]))
        if abs(t_off) > SIX_SD * t_sd:
            wrong.append(T_("{month}: temperature {off:+.0f} K", month=_month_words(int(month)), off=t_off))
        humid = inside & np.isfinite(samples.rh_pct)
        spread = usual.rh_spread * float(np.sqrt(usual.rh_pct[number] * (100.0 - usual.rh_pct[number])))
        rh_sd = float(np.hypot(MONTH_SHARE * spread, usual.error.rh_points))
        rh_off = float(np.nanmean(samples.rh_pct[humid]) - usual.rh_pct[number]) if humid.any() else 0.0
        if abs(rh_off) > SIX_SD * rh_sd:
            wrong.append(
                T_("{month}: humidity {off:+.0f} points", month=_month_words(int(month)), off=rh_off)
            )
    if wrong:
        text = (
            wrong[0]
            if len(wrong) == 1
            else T_("{first} and {count} more", first=wrong[0], count=len(wrong) - 1)
        )
        samples.fault(
            "far_from_normals",
            T_(
                "{months} from the normals of {place}, more than six standard deviations: check the place, the units "
                "and where the sensor hangs.",
                months=text,
                place=place.label,
            ),
        )


def _months(minutes: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Months since 1970 of each line."""
    return (minutes * 60).astype("datetime64[s]").astype("datetime64[M]").astype(np.int64)


def _month_words(month: int) -> str:
    return date(1970 + month // 12, month % 12 + 1, 1).strftime("%Y-%m")
