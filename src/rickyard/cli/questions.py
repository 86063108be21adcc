"""`rickyard season what-if`, `backwards`, `keeping`, `calendar`: what to do to be dry in time, and how wood keeps."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rickyard.cli.output import Json, Seed, give, table
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.season import Pieces, Window

AHEAD_DAYS = 400

Species = Annotated[str, typer.Option(help="Species, genus or group.")]
PieceLength = Annotated[str, typer.Option(help="Length of the pieces, e.g. 16in or 41cm.")]
Thickness = Annotated[str, typer.Option(help="Smaller side of the cross-section, e.g. 12cm.")]
Place = Annotated[str, typer.Option(help="A name from the list, or LAT,LON[,METRES above the sea].")]
StackedOn = Annotated[str, typer.Option(help="Day of stacking, e.g. 2026-04-01.")]
Form = Annotated[str, typer.Option(help="split or round.")]
Cover = Annotated[str, typer.Option(help="none, top or shed.")]
Exposure = Annotated[str, typer.Option(help="sheltered, normal or windy.")]
StartMoisture = Annotated[
    str | None, typer.Option(help="Moisture when stacked, water / total mass; green if not said.")
]
Target = Annotated[str, typer.Option(help="What counts as dry, water / total mass.")]
Members = Annotated[int, typer.Option(help="Members of the ensemble.", min=8, max=500)]


def add_to(season: typer.Typer) -> None:
    """Adds the commands to the group `season`."""
    season.command("what-if")(what_if)
    season.command("backwards")(backwards)
    season.command("keeping")(keeping)
    season.command("calendar")(calendar)


def what_if(
    species: Species,
    piece_length: PieceLength,
    thickness: Thickness,
    place: Place,
    stacked_on: StackedOn,
    form: Form = "split",
    cover: Cover = "top",
    exposure: Exposure = "normal",
    start_moisture_wet: StartMoisture = None,
    target_moisture_wet: Target = "0.20",
    by: Annotated[str | None, typer.Option(help="A day by which it should be dry.")] = None,
    today: Annotated[
        str | None, typer.Option(help="The wood stands already and is changed on this day.")
    ] = None,
    members: Members = 32,
    seed: Seed = 0,
    json_: Json = False,
) -> None:
    """What if it were split finer or coarser, sawn shorter, covered, moved, stacked a month sooner or later."""
    from rickyard import season, weather
    from rickyard.season.labour import SOURCE
    from rickyard.season.wording import change_words, labour_words, sooner_words
    from rickyard.show.units import parse_date

    pieces = _pieces(species, form, piece_length, thickness, cover, exposure, stacked_on, start_moisture_wet)
    target = _target(target_moisture_wet)
    day = parse_date(by, "by") if by else None
    now = parse_date(today, "today") if today else None
    changes = season.usual_changes(pieces, standing=now is not None)
    first = min([pieces.stacked_on, *(change.of(pieces).stacked_on for change in changes)])
    until = max(pieces.stacked_on, day or first, now or first) + timedelta(days=AHEAD_DAYS)
    where = weather.find_place(place)
    air = weather.generate_air(where, first, (until - first).days + 1, members=members, seed=seed)
    found = season.what_if(
        [(1.0, pieces)],
        changes,
        air,
        target_mc_wet=target,
        until=until,
        by=day,
        today=now,
        members=members,
        seed=seed,
    )
    voice = Voice()
    lines = []
    for outcome in found.outcomes:
        words = str(
            change_words(outcome.change.id, outcome.pieces, thickness=voice.thickness, length=voice.length)
        )
        own = outcome is found.outcomes[0]
        lines.append(
            [
                words,
                _day(outcome.p50),
                f"{_day(outcome.p10)} to {_day(outcome.p90)}",
                "" if own else str(sooner_words(outcome)),
                "" if outcome.odds_by is None else voice.odds(outcome.odds_by),
                "" if own else str(labour_words(outcome, number=lambda hours: voice.number(hours, 2))),
            ]
        )
    give(
        {
            "place": where.label,
            "target_moisture_wet": target,
            "by": day,
            "changes": [
                {
                    "change": outcome.change.id,
                    "thickness_m": outcome.pieces.thickness_m,
                    "piece_length_m": outcome.pieces.length_m,
                    "cover": outcome.pieces.cover,
                    "exposure": outcome.pieces.exposure,
                    "stacked_on": outcome.pieces.stacked_on,
                    "ready": {"p10": outcome.p10, "p50": outcome.p50, "p90": outcome.p90},
                    "sooner_days": dict(zip(("p10", "p50", "p90"), outcome.sooner_days, strict=True)),
                    "at_least": outcome.open_ended,
                    "odds_by": outcome.odds_by,
                    "odds_a_month_later": outcome.odds_later,
                    "hours_per_cord": None
                    if outcome.labour is None
                    else {
                        "low": outcome.labour.low_h,
                        "mid": outcome.labour.mid_h,
                        "high": outcome.labour.high_h,
                    },
                }
                for outcome in found.outcomes
            ],
            "labour_source": str(SOURCE),
            "model": found.model,
            "members": members,
            "warnings": [str(text) for text in found.warnings],
        },
        [
            f"dry at {voice.moisture(target)}, {where.label}, model {found.model}, {members} members",
            *table(
                lines,
                ["change", "as likely as not", "8 in 10 between", "against as it is", "by then", "work"],
            ),
            f"note: {SOURCE}",
            *(f"note: {text}" for text in found.warnings),
        ],
        json_,
    )


def backwards(
    species: Species,
    piece_length: PieceLength,
    thickness: Thickness,
    place: Place,
    stacked_on: StackedOn,
    by: Annotated[str, typer.Option(help="The day by which it must be dry.")],
    odds: Annotated[float, typer.Option(help="With these odds, from 0.05 to 0.99.")] = 0.90,
    form: Form = "split",
    cover: Cover = "top",
    exposure: Exposure = "normal",
    start_moisture_wet: StartMoisture = None,
    target_moisture_wet: Target = "0.20",
    members: Members = 32,
    seed: Seed = 0,
    json_: Json = False,
) -> None:
    """To be dry by a day with given odds: split no thicker than, stack no later than."""
    from rickyard import season, weather
    from rickyard.season.backwards import EARLIEST_DAYS
    from rickyard.season.wording import start_words, thickness_words
    from rickyard.show.units import parse_date

    pieces = _pieces(species, form, piece_length, thickness, cover, exposure, stacked_on, start_moisture_wet)
    target = _target(target_moisture_wet)
    day = parse_date(by, "by")
    first = min(pieces.stacked_on, day - timedelta(days=EARLIEST_DAYS))
    where = weather.find_place(place)
    days = max(1, (day - first).days) + 1
    air = weather.generate_air(where, first, days, members=members, seed=seed)
    found = season.backwards(pieces, air, by=day, odds=odds, target_mc_wet=target, members=members, seed=seed)
    voice = Voice()
    give(
        {
            "place": where.label,
            "by": day,
            "odds": odds,
            "target_moisture_wet": target,
            "thickness": {
                "state": found.thickness.state,
                "thickness_m": found.thickness.thickness_m,
                "tolerance_m": found.thickness.tolerance_m,
                "odds": found.thickness.odds,
            },
            "start": {
                "state": found.start.state,
                "stacked_on": found.start.start,
                "tolerance_days": found.start.tolerance_days,
                "odds": found.start.odds,
            },
            "model": found.model,
            "members": members,
        },
        [
            f"dry at {voice.moisture(target)} by {day.isoformat()} with odds of {voice.odds(odds)}, {where.label}",
            str(thickness_words(found.thickness, thickness=voice.thickness, odds=voice.odds)),
            str(start_words(found.start, day=lambda day: day.isoformat(), odds=voice.odds)),
        ],
        json_,
    )


def keeping(
    species: Species,
    place: Place,
    stacked_on: StackedOn = "2026-04-15",
    piece_length: PieceLength = "41cm",
    thickness: Thickness = "12cm",
    form: Form = "split",
    cover: Cover = "top",
    exposure: Exposure = "normal",
    members: Members = 32,
    seed: Seed = 0,
    json_: Json = False,
) -> None:
    """How wood keeps: mass lost to rot while it dries and after, by cover and ground; weak evidence, said so."""
    import numpy as np

    from rickyard import season, weather
    from rickyard.wood import get_species

    pieces = _pieces(species, form, piece_length, thickness, cover, exposure, stacked_on, None)
    wood = get_species(pieces.species_id)
    where = weather.find_place(place)
    until = pieces.stacked_on + timedelta(days=366)
    air = weather.generate_air(where, pieces.stacked_on, 367, members=members, seed=seed)
    made = season.forecast(
        pieces, air, members=members, seed=seed, until=until, model=season.screening_model()
    )
    median = np.median(made.mc_db.astype(np.float64), axis=1)
    kept = season.keeping(wood, weather.normals_at(where), cover=cover, dates=made.dates, mc_db=median)
    voice = Voice()
    give(
        {
            "place": where.label,
            "species": wood.id,
            "cover": cover,
            "scheffer_index": kept.scheffer,
            "hazard": kept.hazard,
            "decay_class": wood.decay_class,
            "lost_first_year": kept.first_year,
            "lost_per_year_after": kept.per_year,
            "lost_per_year_on_ground": kept.ground_per_year,
            "years_to_a_tenth": kept.years_to_tenth,
            "warnings": [str(text) for text in kept.warnings],
        },
        [
            f"{wood.common_en}, {where.label}: climate for rot {kept.hazard} (Scheffer index {kept.scheffer:.0f})",
            *(
                f"  {words}: {voice.percent(loss.mid, 1)} of the dry wood "
                f"({voice.percent(loss.low, 1)} to {voice.percent(loss.high, 1)})"
                for words, loss in (
                    ("lost in the first year", kept.first_year),
                    ("each year after", kept.per_year),
                    ("a bottom row on bare soil, each year", kept.ground_per_year),
                )
            ),
            f"  a tenth is lost after {kept.years_to_tenth.mid:.0f} years "
            f"({kept.years_to_tenth.low:.0f} to {kept.years_to_tenth.high:.0f})",
            *(f"note: {text}" for text in kept.warnings),
        ],
        json_,
    )


def calendar(
    place: Place,
    species: Annotated[
        list[str], typer.Option("--species", help="Species, genus or group; may be repeated.")
    ] = ["red oak", "sugar maple", "white ash", "paper birch"],  # noqa: B006 - Typer copies it
    thickness: Annotated[
        list[str], typer.Option("--thickness", help="Thickness of the pieces; may be repeated.")
    ] = ["10cm", "15cm"],  # noqa: B006
    piece_length: PieceLength = "41cm",
    cover: Cover = "top",
    target_moisture_wet: Target = "0.20",
    members: Members = 24,
    seed: Seed = 0,
    pdf: Annotated[Path | None, typer.Option(help="Write the calendar to this file, to print.")] = None,
    paper: Annotated[str, typer.Option(help="letter or a4.")] = "letter",
    units: Annotated[str, typer.Option(help="imperial or metric, on the paper.")] = "imperial",
    language: Annotated[str, typer.Option(help="Locale of the paper, such as en_CA or fr_CA.")] = "en_CA",
    json_: Json = False,
) -> None:
    """The drying calendar of a place: stacked in this month, dry in that one (10th, 50th, 90th percentile)."""
    import sys

    from rickyard import paper as papers
    from rickyard import season, weather
    from rickyard.season.calendar import DAYS, YEAR, years_later
    from rickyard.show import LOCALES
    from rickyard.show.units import parse_length
    from rickyard.wood import find_species, get_species

    for name, got, allowed in (
        ("paper", paper, ("letter", "a4")),
        ("units", units, ("imperial", "metric")),
        ("language", language, tuple(LOCALES)),
    ):
        if got not in allowed:
            raise InputError(
                name,
                wanted=T_("one of {names}", names=", ".join(allowed)),
                got=got,
                next_move=T_("Choose one of them."),
            )
    if pdf is not None and not pdf.parent.is_dir():
        # Said before the work, not after it.
        raise InputError(
            "pdf",
            wanted=T_("a file in a folder that exists"),
            got=str(pdf),
            next_move=T_("Give another path."),
        )
    target = _target(target_moisture_wet)
    length_m = parse_length(piece_length, "piece_length")
    where = weather.find_place(place)
    many = [
        season.Pieces(
            species_id=find_species(name, field="species").id,
            form="split",
            length_m=length_m,
            thickness_m=parse_length(size, "thickness"),
            cover=cover,
        )
        for name in dict.fromkeys(species)
        for size in dict.fromkeys(thickness)
    ]
    air = weather.generate_air(where, date(YEAR, 1, 1), DAYS, members=members, seed=seed)
    rows = []
    for row in season.calendar_rows(many, air, target_mc_wet=target, seed=seed, members=members):
        rows.append(row)
        if sys.stderr.isatty():
            print(f"{len(rows)} of {len(many)}", file=sys.stderr)

    def month(day: date | None) -> tuple[int, int] | None:
        return None if day is None else (day.month, years_later(day))

    blocks: dict[str, list[Any]] = {}
    for row in rows:
        entries = tuple(
            papers.CalendarEntry(
                p10=month(cell.p10), p50=month(cell.p50), p90=month(cell.p90), parted=cell.parted
            )
            for cell in row.cells
        )
        blocks.setdefault(row.species_id, []).append((row.thickness_m, entries))
    voice = Voice(language, units)
    if pdf is not None:
        covers = {"none": T_("no cover"), "top": T_("top covered"), "shed": T_("in a shed")}
        made = papers.render_calendar(
            papers.CalendarData(
                place=where.label,
                blocks=tuple(
                    papers.CalendarBlock(species=voice.species(get_species(id_)), rows=tuple(found))
                    for id_, found in blocks.items()
                ),
                piece_length_m=length_m,
                cover=covers[cover],
                target_mc_wet=target,
                model=rows[0].model,
                members=members,
                made_at=datetime.now(UTC),
                locale=language,
                units=units,
                page="a4" if paper == "a4" else "letter",
            )
        )
        try:
            pdf.write_bytes(made)
        except OSError as error:
            raise InputError(
                "pdf",
                wanted=T_("a file that can be written"),
                got=str(pdf),
                next_move=T_("{why}. Give another path.", why=error.strerror or str(error)),
            ) from error
    lines = []
    for id_, found in blocks.items():
        for thickness_m, entries in found:
            cells = [" ".join(papers.entry_words(voice, entry)) for entry in entries]
            lines += [
                f"{voice.species(get_species(id_))}, {voice.thickness(thickness_m)} thick:",
                *(
                    f"  stacked in {voice.short_month(date(YEAR, number, 1))}: {words}"
                    for number, words in enumerate(cells, start=1)
                ),
            ]
    give(
        {
            "place": where.label,
            "target_moisture_wet": target,
            "piece_length_m": length_m,
            "cover": cover,
            "rows": [
                {
                    "species": row.species_id,
                    "thickness_m": row.thickness_m,
                    "months": [
                        {
                            "stacked_in": cell.month,
                            "p10": _month_json(cell.p10),
                            "p50": _month_json(cell.p50),
                            "p90": _month_json(cell.p90),
                            "parted": cell.parted,
                        }
                        for cell in row.cells
                    ],
                }
                for row in rows
            ],
            "pdf": None if pdf is None else str(pdf),
            "model": rows[0].model,
            "members": members,
        },
        [*lines, *([] if pdf is None else [f"written: {pdf}"])],
        json_,
    )


def windows_json(found: tuple[Window, ...]) -> list[dict[str, Any]]:
    """Windows of readiness as JSON."""
    return [
        {"first": one.first, "middle": one.middle, "last": one.last, "probability": one.odds} for one in found
    ]


def _month_json(day: date | None) -> dict[str, int] | None:
    """A month and how many years after the stacking; None beyond 540 days."""
    from rickyard.season.calendar import years_later

    return None if day is None else {"month": day.month, "years_later": years_later(day)}


def _pieces(
    species: str,
    form: str,
    piece_length: str,
    thickness: str,
    cover: str,
    exposure: str,
    stacked_on: str,
    start_moisture_wet: str | None,
) -> Pieces:
    from rickyard import season
    from rickyard.show.units import parse_date, parse_length, parse_percent
    from rickyard.wood import db_from_wet, find_species

    start_mc = None
    if start_moisture_wet is not None:
        start_mc = db_from_wet(
            parse_percent(
                start_moisture_wet, "start_moisture_wet", basis="wet", bare="fraction", low=0.05, high=0.75
            )
        )
    return season.Pieces(
        species_id=find_species(species, field="species").id,
        form=form,
        length_m=parse_length(piece_length, "piece_length"),
        thickness_m=parse_length(thickness, "thickness"),
        cover=cover,
        exposure=exposure,
        stacked_on=parse_date(stacked_on, "stacked_on"),
        start_mc_db=start_mc,
    )


def _target(text: str) -> float:
    from rickyard.show.units import parse_percent

    return parse_percent(text, "target_moisture_wet", basis="wet", bare="fraction", low=0.05, high=0.6)


def _day(day: date | None) -> str:
    return "later" if day is None else day.isoformat()
