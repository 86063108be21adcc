"""EPW and TMY3: years of hours for building engineers, mostly pieced together of typical months of different years.

Columns, missing values and the hour's end in the stamp follow the formats' handbooks (EnergyPlus Auxiliary Programs,
from memory; NREL/TP-581-43156, from memory); the values were held against pvlib 0.16.1's own reading.
Our own reader, because pvlib brings pandas, h5py and itself into every installation: 137 MB and 1.8 s of import.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from rickyard.text import T_
from rickyard.weather.air import FIRST_YEAR, LAST_YEAR
from rickyard.weather.record import Note, said_lines
from rickyard.weather.screen import Samples
from rickyard.weather.times import EPOCH, HOUR_MIN

NOMINAL_YEAR = 2001
"""The year without a 29th of February that typical years are put on."""
_TYPICAL = re.compile(r"tmy|cwec|wyec|iwec|swec|typical|ctmy|ashrae", re.IGNORECASE)
_TMY3_COLUMNS = {
    "air_c": "Dry-bulb (C)",
    "dew_c": "Dew-point (C)",
    "rh_pct": "RHum (%)",
    "wind_m_s": "Wspd (m/s)",
    "sun_w_m2": "GHI (W/m^2)",
}
_EPW_COLUMNS = {
    "air_c": (6, 99.9),
    "dew_c": (7, 99.9),
    "rh_pct": (8, 999.0),
    "sun_w_m2": (13, 9999.0),
    "wind_m_s": (21, 999.0),
}


@dataclass(frozen=True)
class YearFile:
    """Samples of a year file and what its head says."""

    samples: Samples
    typical: bool
    station: str
    lat: float | None
    lon: float | None
    elev_m: float | None


def read_epw(text: str) -> YearFile:
    """An EPW file: eight lines of head, then 35 columns an hour, stamped with the hour's number from 1."""
    rows = csv.reader(io.StringIO(text))
    head: list[str] = []
    notes_of_head = ""
    hours: list[tuple[int, list[str]]] = []
    for row in rows:
        if row and row[0] == "LOCATION":
            head = row
        elif row and row[0].strip().isdigit():
            hours.append((rows.line_num, row))
        elif row:
            notes_of_head += " ".join(row[:2])
    years = {row[0].strip() for _, row in hours}
    typical = len(years) > 1 or bool(_TYPICAL.search(" ".join(head) + notes_of_head))
    values: dict[str, list[float]] = {name: [] for name in _EPW_COLUMNS}
    minutes: list[int] = []
    lines: list[int] = []
    bad: list[int] = []
    for line, row in hours:
        try:
            year, month, day, hour = (int(cell) for cell in row[:4])
            if not 1 <= hour <= 24 or len(row) < 22:
                raise ValueError
            if typical and (month, day) == (2, 29):
                continue
            if not FIRST_YEAR <= year < LAST_YEAR:
                raise ValueError
            stamp = _minute(NOMINAL_YEAR if typical else year, month, day, hour - 1)
            numbers = {name: _or_nan(row[at], missing) for name, (at, missing) in _EPW_COLUMNS.items()}
        except (ValueError, OverflowError, IndexError):
            bad.append(line)
            continue
        lines.append(line)
        minutes.append(stamp)
        for name, number in numbers.items():
            values[name].append(number)
    samples = _samples(lines, minutes, values, bad, typical)
    where = [_number(head, i) for i in (6, 7, 9)]
    return YearFile(samples, typical, ", ".join(cell.strip() for cell in head[1:4] if cell.strip()), *where)


def read_tmy3(text: str) -> YearFile:
    """A TMY3 file: a line of the site, the heads, then hours stamped with their end, 01:00 to 24:00."""
    rows = csv.reader(io.StringIO(text))
    site = next(rows, [])
    heads = next(rows, [])
    at = {name: heads.index(head) if head in heads else -1 for name, head in _TMY3_COLUMNS.items()}
    values: dict[str, list[float]] = {name: [] for name in _TMY3_COLUMNS}
    minutes: list[int] = []
    lines: list[int] = []
    bad: list[int] = []
    for row in rows:
        if not row:
            continue
        try:
            month, day, _year = (int(part) for part in row[0].split("/"))
            hour = int(row[1].split(":")[0])
            if not 1 <= hour <= 24:
                raise ValueError
            if (month, day) == (2, 29):
                continue
            stamp = _minute(NOMINAL_YEAR, month, day, hour - 1)
            numbers = {name: _or_nan(row[i], -9900.0) if i >= 0 else np.nan for name, i in at.items()}
        except (ValueError, OverflowError, IndexError):
            bad.append(rows.line_num)
            continue
        lines.append(rows.line_num)
        minutes.append(stamp)
        for name, number in numbers.items():
            values[name].append(number)
    samples = _samples(lines, minutes, values, bad, typical=True)
    where = [_number(site, i) for i in (4, 5, 6)]
    return YearFile(samples, True, ", ".join(cell.strip() for cell in site[1:3]), *where)


def _minute(year: int, month: int, day: int, hour: int) -> int:
    return ((date(year, month, day) - EPOCH.date()).days * 24 + hour) * HOUR_MIN


def _or_nan(cell: str, missing: float) -> float:
    value = float(cell)
    return np.nan if value == missing or not np.isfinite(value) else value


def _number(row: list[str], at: int) -> float | None:
    try:
        value = float(row[at])
    except (ValueError, IndexError):
        return None
    return value if np.isfinite(value) else None


def _samples(
    lines: list[int], minutes: list[int], values: dict[str, list[float]], bad: list[int], typical: bool
) -> Samples:
    arrays: dict[str, Any] = {name: np.array(column) for name, column in values.items()}
    samples = Samples(
        lines=np.array(lines, dtype=np.int64),
        minutes=np.array(minutes, dtype=np.int64),
        rain_mm=np.full(len(lines), np.nan),
        **arrays,
    )
    if bad:
        text = T_("Lines {lines}: not an hour of weather as the format has it.", lines=said_lines(bad))
        samples.faults.append(Note("bad_line", text, tuple(bad)))
    elif typical and len(lines) != 8760 and len(lines):
        samples.faults.append(
            Note(
                "half_empty",
                T_(
                    "{hours} hours where a typical year has 8,760: the file is cut or doubled.",
                    hours=len(lines),
                ),
            )
        )
    # Rain of these files is all zero or mostly missing: no rain is better than wrong rain.
    return samples
