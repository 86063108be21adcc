"""`rickyard season forecast` and `season meter`: when is it dry, and what does the meter say."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Annotated, Any

import typer

from rickyard.cli import questions
from rickyard.cli.output import Json, Seed, give
from rickyard.cli.skies import sky_of_file
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.text import T_, Text

HORIZON_DAYS = 540
READING_KINDS = ("meter", "oven", "weighed")


def add_to(app: typer.Typer) -> None:
    season = typer.Typer(help="When is it dry.", no_args_is_help=True, rich_markup_mode=None)
    season.command("forecast")(forecast)
    season.command("meter")(meter)
    questions.add_to(season)
    app.add_typer(season, name="season")


def forecast(
    species: Annotated[str, typer.Option(help="Species, genus or group.")],
    piece_length: Annotated[str, typer.Option(help="Length of the pieces, e.g. 16in or 41cm.")],
    thickness: Annotated[str, typer.Option(help="Smaller side of the cross-section, e.g. 12cm.")],
    stacked_on: Annotated[str, typer.Option(help="Day of stacking, e.g. 2026-04-01.")],
    width: Annotated[str | None, typer.Option(help="Larger side; as the thickness if not said.")] = None,
    place: Annotated[
        str | None, typer.Option(help="A name from the list, or LAT,LON[,METRES above the sea].")
    ] = None,
    air_c: Annotated[
        float | None, typer.Option(help="Constant air temperature [°C], in place of --place.")
    ] = None,
    air_rh: Annotated[float | None, typer.Option(help="Constant relative humidity [%].")] = None,
    form: Annotated[
        str, typer.Option(help="split, half, round, log (a pile waiting to be cut) or board.")
    ] = "split",
    bark: Annotated[str, typer.Option(help="on or off.")] = "on",
    cover: Annotated[str, typer.Option(help="none, top or shed.")] = "top",
    exposure: Annotated[str, typer.Option(help="sheltered, normal or windy.")] = "normal",
    rows: Annotated[int, typer.Option(help="Depth of the stack in rows.", min=1, max=20)] = 1,
    ground: Annotated[str, typer.Option(help="raised or soil.")] = "raised",
    start_moisture_wet: Annotated[
        str | None, typer.Option(help="Moisture when stacked, water / total mass; green if not said.")
    ] = None,
    target_moisture_wet: Annotated[str, typer.Option(help="What counts as ready.")] = "0.20",
    until: Annotated[str | None, typer.Option(help="Last day; 540 days after stacking if not said.")] = None,
    members: Annotated[int, typer.Option(help="Members of the ensemble.", min=2, max=2000)] = 100,
    seed: Seed = 0,
    weather_file: Annotated[
        Path | None,
        typer.Option("--weather", help="File of real weather, of any format that `weather read` knows."),
    ] = None,
    meter: Annotated[
        list[str], typer.Option("--meter", help="Pin-meter reading DATE:PERCENT[:TEMP_C]; may be repeated.")
    ] = [],  # noqa: B006 - Typer copies it
    oven: Annotated[
        list[str], typer.Option("--oven", help="Oven sample DATE:MOISTURE_WET; may be repeated.")
    ] = [],  # noqa: B006
    weighed: Annotated[
        list[str], typer.Option("--weighed", help="Weighing DATE:RATIO_TO_START; may be repeated.")
    ] = [],  # noqa: B006
    reading: Annotated[
        list[str],
        typer.Option(
            "--reading",
            help="Any reading, KIND:DATE:VALUE with the kind meter, oven or weighed; as the options of these names.",
        ),
    ] = [],  # noqa: B006
    json_: Json = False,
) -> None:
    """Moisture of the pieces day by day (10th, 50th, 90th percentile) and the odds of being ready."""
    from rickyard import season, weather
    from rickyard.show.units import parse_date, parse_length, parse_percent
    from rickyard.wood import db_from_wet, find_species

    wood = find_species(species, field="species")
    start = parse_date(stacked_on, "stacked_on")
    last = parse_date(until, "until") if until else start + timedelta(days=HORIZON_DAYS)
    if last <= start:
        raise InputError(
            "until",
            wanted=T_("a day after stacking on {day}", day=start.isoformat()),
            got=last.isoformat(),
            next_move=T_("Give a later day."),
        )
    days = (last - start).days + 1
    target = parse_percent(
        target_moisture_wet, "target_moisture_wet", basis="wet", bare="fraction", low=0.05, high=0.6
    )
    start_mc = (
        None
        if start_moisture_wet is None
        else db_from_wet(
            parse_percent(
                start_moisture_wet, "start_moisture_wet", basis="wet", bare="fraction", low=0.05, high=0.75
            )
        )
    )
    pieces = season.Pieces(
        species_id=wood.id,
        form=form,
        length_m=parse_length(piece_length, "piece_length"),
        thickness_m=parse_length(thickness, "thickness"),
        width_m=None if width is None else parse_length(width, "width"),
        bark=_on_off("bark", bark),
        cover=cover,
        exposure=exposure,
        stacked_on=start,
        start_mc_db=start_mc,
        rows=rows,
        ground=ground,
    )
    readings = [
        *(_reading("meter", text) for text in meter),
        *(_reading("oven", text) for text in oven),
        *(_reading("weighed", text) for text in weighed),
        *(_reading_of_kind(text) for text in reading),
    ]
    if (air_c is None) != (air_rh is None) or (place is None) == (air_c is None):
        raise InputError(
            "place",
            wanted=T_("either --place, or both --air-c and --air-rh"),
            got=T_("neither, or a mixture"),
            next_move=T_("Say where the stack stands, or the constant air around it."),
        )
    said: tuple[Text, ...] = ()
    physics = season.Physics()
    if air_c is not None and air_rh is not None:
        if weather_file is not None:
            raise InputError(
                "weather",
                wanted=T_("a weather file together with --place"),
                got=T_("one together with constant air"),
                next_move=T_("Leave out one of the two."),
            )
        label = f"{air_c:g} °C, {air_rh:g} %"
        air = weather.constant_air(air_c, air_rh, start, days)
        # What is said is the air between the pieces, as in a kiln or a room; no stack makes it damper.
        physics = season.Physics(stack_air=False)
    else:
        where = weather.find_place(place or "")
        label = where.label
        sky = weather.Sky(where) if weather_file is None else sky_of_file(weather_file, where, start, days)
        air = weather.air_for(sky, start, days, members=members, seed=seed)
        said = weather.sky_notes(sky, start, days)
    made = season.forecast(
        pieces, air, members=members, seed=seed, readings=readings, until=last, physics=physics
    )
    ready = made.ready(target)
    found = season.windows(made.dates, made.ready_day(target))
    result: dict[str, Any] = {
        "days": [
            {"date": day, "p10": float(low), "p50": float(mid), "p90": float(high)}
            for day, low, mid, high in zip(made.dates, made.p10, made.p50, made.p90, strict=True)
        ],
        "ready": {
            "target_moisture_wet": target,
            "p10": ready.p10,
            "p50": ready.p50,
            "p90": ready.p90,
            "odds": [{"date": day, "probability": float(odds)} for day, odds in ready.odds],
            "windows": questions.windows_json(found.windows),
            "beyond": found.beyond,
        },
        "model": made.model,
        "place": label,
        "members": members,
        "warnings": [str(text) for text in (*made.warnings, *said)],
    }
    voice = Voice()
    said_windows = season.window_words(found, voice.month, voice.odds)
    lines = [
        f"{wood.common_en}, {voice.thickness(pieces.thickness_m)} thick, {voice.length(pieces.length_m)} long, {label}",
        f"at or below {voice.moisture(target)}: half the odds by {_day(ready.p50)}, "
        f"one in ten by {_day(ready.p10)}, nine in ten by {_day(ready.p90)}",
        *([] if said_windows is None else [str(said_windows)]),
        *(
            f"  {day.isoformat()}  {voice.moisture_range(float(low), float(mid), float(high))}"
            for day, low, mid, high in list(zip(made.dates, made.p10, made.p50, made.p90, strict=True))[::30]
        ),
        *(f"note: {text}" for text in (*made.warnings, *said)),
    ]
    give(result, lines, json_)


def meter(
    species: Annotated[str, typer.Option(help="Species, genus or group.")],
    reading: Annotated[float, typer.Option(help="Percent that the pin meter shows (meters show dry basis).")],
    temperature_c: Annotated[float, typer.Option(help="Temperature of the wood [°C].")],
    json_: Json = False,
) -> None:
    """What a pin-meter reading means in this wood at this temperature."""
    from rickyard.season import Reading, cautions, meter_mc
    from rickyard.wood import find_species, wet_from_db

    wood = find_species(species, field="species")
    read = meter_mc(wood, reading, temperature_c)
    said = [str(text) for text in cautions(Reading("meter", date.min, reading, temp_c=temperature_c))]
    voice = Voice()
    give(
        {
            "mc_db": read.mc_db,
            "mc_wet": wet_from_db(read.mc_db),
            "correction": read.correction,
            "within_range": read.within_range,
            "source": str(read.source),
            "sd_db": read.sd_db,
            "warnings": said,
        },
        [
            f"{wood.common_en}: {voice.moisture(wet_from_db(read.mc_db), 1)}, "
            f"± {100 * read.sd_db:.1f} points of dry mass",
            *(
                []
                if read.within_range
                else ["beyond the range in which pin meters can be trusted (6 to 30 %, dry basis)"]
            ),
            *(f"note: {text}" for text in said),
            str(read.source),
        ],
        json_,
    )


def _on_off(field: str, text: str) -> bool:
    if text not in ("on", "off"):
        raise InputError(
            field, wanted=T_("on or off"), got=text, next_move=T_("Say whether the bark is on the pieces.")
        )
    return text == "on"


def _reading(kind: str, text: str) -> Any:
    from rickyard.season import Reading
    from rickyard.show.units import parse_date, parse_number

    parts = text.split(":")
    most = 3 if kind == "meter" else 2
    if not 2 <= len(parts) <= most:
        raise InputError(
            kind,
            wanted=T_("DATE:PERCENT or DATE:PERCENT:TEMP_C") if kind == "meter" else T_("DATE:VALUE"),
            got=text,
            next_move=T_("Separate the parts by colons, for example 2026-06-01:24."),
        )
    return Reading(
        kind=kind,
        on=parse_date(parts[0], kind),
        value=parse_number(parts[1], kind, low=0.0),
        temp_c=parse_number(parts[2], kind) if len(parts) == 3 else None,
    )


def _reading_of_kind(text: str) -> Any:
    kind, _, rest = text.partition(":")
    if kind not in READING_KINDS:
        raise InputError(
            "reading",
            wanted=T_("KIND:DATE:VALUE with the kind meter, oven or weighed"),
            got=text,
            next_move=T_("Begin with the kind, for example meter:2026-06-01:24."),
        )
    return _reading(kind, rest)


def _day(day: date | None) -> str:
    return "later than the horizon" if day is None else day.isoformat()
