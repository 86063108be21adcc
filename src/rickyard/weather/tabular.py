"""Weather tables with one line a moment: a yard's logger, and ECCC's hourly files."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rickyard.text import T_
from rickyard.weather.columns import RAIN_FACTORS, WIND_FACTORS, Columns, find_columns, plain
from rickyard.weather.record import Note, said_lines
from rickyard.weather.screen import Samples
from rickyard.weather.times import Times, read_times

Floats = npt.NDArray[np.float64]

MOST_PREAMBLE = 60
MOST_ROWS = 600_000
EMPTY = frozenset(
    (
        "",
        "-",
        "--",
        "---",
        "na",
        "n/a",
        "nan",
        "null",
        "none",
        "#n/a",
        "m",
        "error",
        "err",
        "erreur",
        "nd",
        "ovrange",
    )
)
MISSING = (-9999.0, -999.0, -99.9, -999.9, 999.9, 9999.0, -9900.0, 99999.0)
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?")
_NEGLIGIBLE = "\u00a0 \t%°CFcf"


@dataclass(frozen=True)
class Table:
    """A table as text: its heads, rows with their line numbers, and how it is written."""

    heads: list[str]
    rows: list[list[str]]
    lines: list[int]
    delimiter: str
    columns: Columns
    preamble: str


def find_table(text: str) -> Table | None:
    """The table in a text that may begin with lines of its own; None if no line is a head that we know."""
    lines = text.splitlines()
    for at, line in enumerate(lines[:MOST_PREAMBLE]):
        delimiter = max((";", "\t", ","), key=line.count)
        if not line.count(delimiter):
            continue
        heads = next(csv.reader([line], delimiter=delimiter), [])
        columns = find_columns(heads)
        known = {*columns.at, *columns.clash}
        has_time = "time" in known or "date" in known or "clock" in known
        if has_time and known & {"temp", "dew", "low", "high"}:
            reader = csv.reader(io.StringIO("\n".join(lines[at + 1 :])), delimiter=delimiter)
            rows: list[list[str]] = []
            numbers: list[int] = []
            for row in reader:
                if any(cell.strip() for cell in row):
                    rows.append(row)
                    numbers.append(at + 1 + reader.line_num)
                    if len(rows) > MOST_ROWS:
                        break
            return Table(heads, rows, numbers, delimiter, columns, "\n".join(lines[:at]))
    return None


def read_table(
    table: Table,
    *,
    zone: str,
    lon: float | None,
    clock: str,
    temp_unit: str,
    humidity_unit: str,
    station: bool,
) -> tuple[Samples, bool]:
    """Samples of a table, and whether its temperatures were taken as °F.

    `station`: whether it is ECCC's, whose wind is in km/h, whose rain is in mm, and whose clock keeps standard time.
    """
    columns = table.columns
    faults: list[Note] = []
    notes: list[Note] = []
    for name, heads in columns.clash.items():
        words = {"temp": T_("temperature"), "rh": T_("humidity"), "dew": T_("dew point")}[name]
        faults.append(
            Note(
                "two_columns",
                T_(
                    "Several columns may be the outdoor {what}: {heads}. Take out all but one.",
                    what=words,
                    heads="; ".join(heads),
                ),
            )
        )
    if len(table.rows) > MOST_ROWS:
        faults.append(
            Note("too_long", T_("More than {most} lines. Cut the file into years.", most=MOST_ROWS))
        )
    if not {"rh", "dew"} & {*columns.at, *columns.clash}:
        faults.append(
            Note("no_humidity", T_("No column is humidity. Wood dries by temperature and humidity."))
        )
    if faults:
        return _empty(faults), False
    rows, lines = _whole_rows(table, faults)
    times = _times(
        table, rows, lines, zone=zone, lon=lon, clock="standard" if station and not clock else clock
    )
    if times.bad:
        text = T_("Lines {lines}: the date or time cannot be read.", lines=said_lines(times.bad))
        faults.append(Note("bad_time", text, times.bad))
    faults.extend(times.faults)
    notes.extend(times.notes)
    if faults:
        return _empty(faults), False
    values = {
        name: _numbers(rows, lines, columns.at.get(name), name, faults) for name in ("temp", "rh", "dew")
    }
    for name in ("wind", "rain", "sun"):
        values[name] = _numbers(rows, lines, columns.at.get(name), name, faults)
    if faults:
        return _empty(faults), False
    unit = temp_unit or columns.units.get("temp", "") or columns.units.get("dew", "")
    fahrenheit = unit == "F"
    if not unit:
        notes.append(Note("unit_taken", T_("The file says no unit of temperature: taken as °C.")))
    for name in ("temp", "dew"):
        own = temp_unit or columns.units.get(name, "") or unit
        if own == "F":
            values[name] = (values[name] - 32.0) / 1.8
    if humidity_unit == "fraction":
        values["rh"] = values["rh"] * 100.0
    values["wind"] = _scaled(values["wind"], "wind", columns, WIND_FACTORS, "km/h" if station else "", notes)
    values["rain"] = _scaled(values["rain"], "rain", columns, RAIN_FACTORS, "mm", notes)
    samples = Samples(
        lines=np.array(lines, dtype=np.int64),
        minutes=times.minutes,
        air_c=values["temp"],
        rh_pct=values["rh"],
        dew_c=values["dew"],
        wind_m_s=values["wind"],
        sun_w_m2=values["sun"],
        rain_mm=values["rain"],
        notes=notes,
    )
    _end_without_values(samples)
    return samples, fahrenheit


def _whole_rows(table: Table, faults: list[Note]) -> tuple[list[list[str]], list[int]]:
    """Rows with all columns that count. A last line cut short is what a broken copy leaves."""
    needed = max(
        i for name, i in table.columns.at.items() if name in ("time", "date", "clock", "temp", "rh", "dew")
    )
    short = [line for row, line in zip(table.rows, table.lines, strict=True) if len(row) <= needed]
    if short:
        text = T_("Lines {lines}: fewer columns than the head of the table.", lines=said_lines(short))
        faults.append(Note("short_line", text, tuple(short)))
        keep = [(row, line) for row, line in zip(table.rows, table.lines, strict=True) if len(row) > needed]
        return [row for row, _ in keep], [line for _, line in keep]
    return table.rows, table.lines


def _times(
    table: Table, rows: list[list[str]], lines: list[int], *, zone: str, lon: float | None, clock: str
) -> Times:
    at = table.columns.at
    # A single column called Time or Date may well hold both.
    names = ["time"] if "time" in at else [name for name in ("date", "clock") if name in at]
    where = [at[name] for name in names]
    texts = [" ".join(row[i].strip() for i in where) for row in rows]
    head = " ".join(table.heads[i] for i in where)
    return read_times(texts, lines, head=head, clock=clock, zone=zone, lon=lon)


def _numbers(
    rows: list[list[str]], lines: list[int], at: int | None, name: str, faults: list[Note]
) -> Floats:
    """A column as floats, nan where empty; cells that are no numbers are a fault."""
    values = np.full(len(rows), np.nan)
    if at is None:
        return values
    bad: list[int] = []
    for i, row in enumerate(rows):
        cell = row[at].strip() if at < len(row) else ""
        if plain(cell) in EMPTY:
            continue
        bare = cell.strip(_NEGLIGIBLE)
        if not _NUMBER.fullmatch(bare):
            bad.append(lines[i])
            continue
        value = float(bare.replace(",", "."))
        if not np.isfinite(value):
            bad.append(lines[i])
        elif value not in MISSING:
            values[i] = value
    if bad:
        words = {
            "temp": T_("temperature"),
            "rh": T_("humidity"),
            "dew": T_("dew point"),
            "wind": T_("wind"),
            "rain": T_("rain"),
            "sun": T_("radiation"),
        }[name]
        text = T_("Lines {lines}: the {what} is no number.", lines=said_lines(bad), what=words)
        faults.append(Note("bad_number", text, tuple(bad)))
    return values


def _scaled(
    values: Floats, name: str, columns: Columns, factors: dict[str, float], usual: str, notes: list[Note]
) -> Floats:
    if name not in columns.at:
        return values
    unit = columns.units.get(name, "") or usual
    if not unit:
        notes.append(Note("wind_unit", T_("The wind's unit is not said in its head: left out.")))
        return np.full_like(values, np.nan)
    return values * factors[unit]


def _end_without_values(samples: Samples) -> None:
    """ECCC's files of the running month have lines up to its end, empty from now on: they are no gap."""
    have = np.flatnonzero(
        np.isfinite(samples.air_c) | np.isfinite(samples.rh_pct) | np.isfinite(samples.dew_c)
    )
    if len(have) and have[-1] + 1 < len(samples.minutes):
        last = int(have[-1]) + 1
        for name in ("lines", "minutes", "air_c", "rh_pct", "dew_c", "wind_m_s", "sun_w_m2", "rain_mm"):
            setattr(samples, name, getattr(samples, name)[:last])


def _empty(faults: list[Note]) -> Samples:
    none = np.zeros(0)
    whole = np.zeros(0, dtype=np.int64)
    return Samples(whole, whole, none, none, none, none, none, none, faults=list(faults))
