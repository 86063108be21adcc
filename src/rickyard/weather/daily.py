"""Files of days: GHCN-Daily by station, and the daily files of Environment and Climate Change Canada.

They hold the day's extremes of temperature and its precipitation, no humidity.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
import numpy.typing as npt

from rickyard.text import T_
from rickyard.weather.air import FIRST_YEAR, LAST_YEAR
from rickyard.weather.degree_days import daily_temp_sd_k
from rickyard.weather.normals import normals_at
from rickyard.weather.places import Place
from rickyard.weather.record import Note, said_lines
from rickyard.weather.screen import HALF_EMPTY, SIX_SD
from rickyard.weather.tabular import Table, _numbers
from rickyard.weather.year import daily_from_monthly, year_day

Floats = npt.NDArray[np.float64]

_ELEMENTS = {"TMAX": "high", "TMIN": "low", "PRCP": "rain"}


@dataclass
class DayTable:
    """Days of a station by date, in the order of the file, and what is wrong with them."""

    station: str
    lines: dict[date, int]
    low: dict[date, float]
    high: dict[date, float]
    rain: dict[date, float]
    faults: list[Note]
    notes: list[Note]


def is_ghcn(text: str) -> bool:
    """Whether the first line is `ID,YYYYMMDD,ELEMENT,VALUE,...`."""
    first = text.lstrip().split("\n", 1)[0].split(",")
    return (
        len(first) >= 4
        and len(first[0].strip()) == 11
        and first[1].strip().isdigit()
        and len(first[1].strip()) == 8
        and len(first[2].strip()) == 4
        and first[2].strip().isupper()
    )


def read_ghcn(text: str) -> DayTable:
    """A by-station file of GHCN-Daily: tenths of °C and mm; values with a quality flag are left out."""
    table = DayTable("", {}, {}, {}, {}, [], [])
    places = {"low": table.low, "high": table.high, "rain": table.rain}
    seen: set[tuple[str, str]] = set()
    bad: list[int] = []
    twice: list[int] = []
    flagged = 0
    stations: set[str] = set()
    reader = csv.reader(io.StringIO(text))
    for row in reader:
        if not row:
            continue
        if len(row) < 4:
            bad.append(reader.line_num)
            continue
        stations.add(row[0].strip())
        kind = _ELEMENTS.get(row[2].strip())
        if kind is None:
            continue
        if (row[1], row[2]) in seen:
            twice.append(reader.line_num)
            continue
        seen.add((row[1], row[2]))
        if len(row) > 5 and row[5].strip():
            flagged += 1
            continue
        try:
            day = datetime.strptime(row[1].strip(), "%Y%m%d").date()  # noqa: DTZ007 - a day, no moment
            value = float(row[3]) / 10.0
            if not (np.isfinite(value) and FIRST_YEAR <= day.year < LAST_YEAR):
                raise ValueError
        except ValueError:
            bad.append(reader.line_num)
            continue
        if row[3].strip() == "-9999":
            continue
        places[kind][day] = value
        table.lines.setdefault(day, reader.line_num)
    table.station = ", ".join(sorted(stations)[:3])
    if len(stations) > 1:
        table.faults.append(
            Note("several_stations", T_("Several stations in one file: {names}.", names=table.station))
        )
    _fault(
        table,
        "bad_line",
        T_("Lines {lines}: not a day of weather as the format has it.", lines=said_lines(bad)),
        bad,
    )
    _fault(
        table,
        "duplicated",
        T_("Lines {lines}: a day that stands in the file before.", lines=said_lines(twice)),
        twice,
    )
    if flagged:
        text_ = T_("{count} values that failed the archive's own checks were left out.", count=flagged)
        table.notes.append(Note("flagged", text_))
    return table


def read_days(table: Table, station: str) -> DayTable:
    """The daily table of ECCC."""
    made = DayTable(station, {}, {}, {}, {}, [], [])
    at = table.columns.at
    day_at = at.get("time", at.get("date", 0))
    lines = table.lines
    values = {name: _numbers(table.rows, lines, at.get(name), _WORDS[name], made.faults) for name in _WORDS}
    bad: list[int] = []
    twice: list[int] = []
    back: list[int] = []
    before: date | None = None
    for i, row in enumerate(table.rows):
        try:
            day = date.fromisoformat(row[day_at].strip()[:10].replace("/", "-"))
            if not FIRST_YEAR <= day.year < LAST_YEAR:
                raise ValueError
        except (ValueError, IndexError):
            bad.append(lines[i])
            continue
        if day in made.lines:
            twice.append(lines[i])
            continue
        if before is not None and day < before:
            back.append(lines[i])
        before = day
        made.lines[day] = lines[i]
        for name, store in (("low", made.low), ("high", made.high), ("rain", made.rain)):
            if np.isfinite(values[name][i]):
                store[day] = float(values[name][i])
    _fault(made, "bad_time", T_("Lines {lines}: the date cannot be read.", lines=said_lines(bad)), bad)
    _fault(
        made,
        "duplicated",
        T_("Lines {lines}: a day that stands in the file before.", lines=said_lines(twice)),
        twice,
    )
    _fault(
        made,
        "unsorted",
        T_("Lines {lines}: the days run back. Sort the file by date.", lines=said_lines(back)),
        back,
    )
    return made


_WORDS = {"low": "temp", "high": "temp", "rain": "rain"}


def screen_days(table: DayTable, place: Place | None) -> tuple[date, Floats, Floats, Floats]:
    """First day and arrays of low, high [°C] and rain [mm] by day, nan where missing; faults go to the table."""
    none = np.zeros(0)
    days = sorted(set(table.low) & set(table.high))
    if not days:
        table.faults.append(Note("empty", T_("There is no day with a lowest and a highest temperature.")))
    if table.faults:
        return date(1970, 1, 1), none, none, none
    first, last = days[0], days[-1]
    count = (last - first).days + 1
    low, high, rain = (np.full(count, np.nan) for _ in range(3))
    for values, store in ((low, table.low), (high, table.high), (rain, table.rain)):
        for day, value in store.items():
            if first <= day <= last:
                values[(day - first).days] = value
    have = np.isfinite(low) & np.isfinite(high)
    low[~have] = high[~have] = np.nan
    _clean(
        table,
        first,
        low,
        high,
        have & (low > high),
        "low_above_high",
        T_("the lowest above the highest temperature"),
    )
    out = have & ((low < -70.0) | (high > 57.0))
    _clean(table, first, low, high, out, "out_of_range", T_("temperature outside -70 to 57 °C"))
    if have.sum() < HALF_EMPTY * count:
        share = 100.0 * float(have.sum()) / count
        table.faults.append(
            Note(
                "half_empty",
                T_("Only {share:.0f} % of the days from first to last have temperatures.", share=share),
            )
        )
    if place is not None and not table.faults:
        _against_normals(table, place, first, low, high)
    return first, low, high, rain


def _clean(
    table: DayTable,
    first: date,
    low: Floats,
    high: Floats,
    at: npt.NDArray[np.bool_],
    code: str,
    what: object,
) -> None:
    count = int(at.sum())
    if not count:
        return
    lines = [table.lines[first + timedelta(days=int(i))] for i in np.flatnonzero(at)]
    if count > max(3, 0.01 * len(at)):
        _fault(table, code, T_("Lines {lines}: {what}.", lines=said_lines(lines), what=what), lines)
        return
    low[at] = high[at] = np.nan
    table.notes.append(
        Note(code, T_("Lines {lines}: {what}; left out.", lines=said_lines(lines), what=what), tuple(lines))
    )


def _against_normals(table: DayTable, place: Place, first: date, low: Floats, high: Floats) -> None:
    usual = normals_at(place)
    at = np.array([year_day(first + timedelta(days=i)) for i in range(len(low))], dtype=np.intp)
    apart = 0.5 * (low + high) - daily_from_monthly(usual.temp_c)[at]
    in_f = (0.5 * (low + high) - 32.0) / 1.8 - daily_from_monthly(usual.temp_c)[at]
    middle = float(np.nanmedian(apart))
    if abs(middle) > 12.0 and abs(float(np.nanmedian(in_f))) < 0.4 * abs(middle):
        table.faults.append(Note("wrong_unit", T_("Temperatures look like °F, and the format has °C.")))
    elif abs(middle) > SIX_SD * 0.5 * float(np.mean(daily_temp_sd_k(usual))):
        table.faults.append(
            Note(
                "far_from_normals",
                T_(
                    "Temperatures are {off:+.0f} K from the normals of {place}: check the place and the station.",
                    off=middle,
                    place=place.label,
                ),
            )
        )


def _fault(table: DayTable, code: str, text: object, lines: list[int]) -> None:
    if lines:
        table.faults.append(Note(code, text, tuple(lines)))  # type: ignore[arg-type]
