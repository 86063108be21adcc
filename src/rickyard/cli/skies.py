"""`rickyard weather read`: what a weather file holds and what is wrong with it; and the sky that a file makes."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rickyard.cli.output import Json, give
from rickyard.errors import InputError
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.weather import FileMeaning, Place, Sky, WeatherRecord

MOST_BYTES = 60_000_000


def add_to(app: typer.Typer) -> None:
    weather = typer.Typer(help="The sky over the yard.", no_args_is_help=True, rich_markup_mode=None)
    weather.command("read")(read)
    weather.callback()(_group)
    app.add_typer(weather, name="weather")


def _group() -> None:
    """The sky over the yard."""


def read(
    file: Annotated[
        Path, typer.Argument(help="EPW, TMY3, ECCC, GHCN-Daily, Open-Meteo JSON or a logger's CSV.")
    ],
    place: Annotated[
        str | None, typer.Option(help="Holds the file against this place: a name, or LAT,LON[,METRES].")
    ] = None,
    zone: Annotated[str, typer.Option(help="Time zone of a logger's clock, e.g. America/Moncton.")] = "",
    clock: Annotated[
        str, typer.Option(help="local (summer time), standard or utc; found out if not said.")
    ] = "",
    temperature_unit: Annotated[str, typer.Option(help="C or F, where the file does not say.")] = "",
    humidity_unit: Annotated[str, typer.Option(help="percent or fraction.")] = "",
    far_ok: Annotated[bool, typer.Option("--far-ok", help="The station is meant, however far away.")] = False,
    json_: Json = False,
) -> None:
    """What a weather file holds, by month, and what was noted; or everything that is wrong with it."""
    from rickyard import weather

    meaning = weather.FileMeaning(
        zone=zone, clock=clock, temp_unit=temperature_unit, humidity_unit=humidity_unit, far_ok=far_ok
    )
    where = None if place is None else weather.find_place(place)
    record = read_file(file, where, meaning)
    result: dict[str, Any] = {
        "format": record.format,
        "kind": record.kind,
        "station": record.station,
        "lat": record.lat,
        "lon": record.lon,
        "elev_m": record.elev_m,
        "step": "hour" if record.hourly else "day",
        "first": record.start,
        "last": record.last,
        "complete": record.complete,
        "months": [
            {
                "month": row.month,
                "temp_c": None if row.temp_c is None else round(row.temp_c, 2),
                "rh_pct": None if row.rh_pct is None else round(row.rh_pct, 2),
            }
            for row in record.months()
        ],
        "notes": [{"code": note.code, "text": str(note.text), "lines": note.lines} for note in record.notes],
    }
    lines = [
        f"{weather.FORMATS[record.format]}, {record.station or '-'}",
        f"{record.start.isoformat()} to {record.last.isoformat()}, {100 * record.complete:.1f} % of the "
        + ("hours" if record.hourly else "days"),
        *(
            f"  {row['month']}  {row['temp_c']:.1f} °C"
            + ("" if row["rh_pct"] is None else f"  {row['rh_pct']:.0f} %")
            for row in result["months"][:36]
            if row["temp_c"] is not None
        ),
        *(f"note: {note.text}" for note in record.notes),
    ]
    give(result, lines, json_)


def read_file(file: Path, place: Place | None, meaning: FileMeaning | None = None) -> WeatherRecord:
    """A weather file from the disk; InputError says every fault in it."""
    from rickyard import weather

    try:
        if file.stat().st_size > MOST_BYTES:
            raise _no_file(file, T_("larger than {most} MB", most=MOST_BYTES // 1_000_000))
        data = file.read_bytes()
    except OSError as error:
        raise _no_file(file, error.strerror or str(error)) from error
    try:
        return weather.read_weather(data, file.name, place=place, meaning=meaning)
    except weather.WeatherFileError as error:
        raise InputError(
            "weather",
            wanted=T_("a weather file that can be trusted"),
            got=T_(
                "{name}: {faults}", name=file.name, faults=" ".join(str(item.text) for item in error.faults)
            ),
            next_move=T_(
                "Nothing was taken; `rickyard weather read FILE` has options that say what a file means."
            ),
            code=error.code,
        ) from error


def sky_of_file(file: Path, place: Place, start: date, days: int) -> Sky:
    """The place's sky with a file in it: hours and days where it has them, a year of climate where it is one.

    An observed year of another time than asked for is used as a year of climate; a shorter record is refused.
    """
    from rickyard import weather

    record = read_file(file, place)
    if record.kind == "typical":
        return weather.Sky(place, climate=record)
    if record.between(start, days) is not None:
        return weather.Sky(place, observed=(record,))
    year = weather.as_year(record)
    if year is None:
        raise InputError(
            "weather",
            wanted=T_(
                "weather of {first} to {last}, or of a whole year",
                first=start.isoformat(),
                last=(start + timedelta(days=days - 1)).isoformat(),
            ),
            got=T_("{first} to {last}", first=record.start.isoformat(), last=record.last.isoformat()),
            next_move=T_("Give a file of that time, or another day of stacking."),
        )
    return weather.Sky(place, climate=year)


def _no_file(file: Path, why: Any) -> InputError:
    return InputError(
        "weather",
        wanted=T_("a weather file that can be read"),
        got=T_("{name}: {why}", name=str(file), why=why),
        next_move=T_("Check the path."),
        code="no_file",
    )
