"""`rickyard measure ...` beyond one log and one stack: trees, lists, trucks, weights, two measures, heaps, packages."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rickyard.cli.output import (
    Json,
    give,
    mass_range,
    outside_lines,
    solid_range,
    solid_said,
    table,
    voice_of,
)
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.measure import Spread, StackMeasure


def add_to(measure: typer.Typer) -> None:
    measure.command("tree")(tree)
    measure.command("list")(log_list)
    measure.command("truck")(truck)
    measure.command("weight")(weight)
    measure.command("reconcile")(reconcile)
    measure.command("heap")(heap)
    measure.command("box")(box)
    measure.command("bundle")(bundle)
    measure.command("steps")(steps)
    measure.command("cords")(cords)


def tree(
    species: Annotated[str, typer.Option(help="What tree: any of its names.")],
    dbh: Annotated[
        str, typer.Option(help="Diameter at breast height (1.3 m) over bark, e.g. 14in, 36cm or 0.36 (m).")
    ],
    height: Annotated[
        str | None, typer.Option(help="Total height, e.g. 60ft or 18 (m); estimated if not said.")
    ] = None,
    country: Annotated[str, typer.Option(help="Whose equations: US or CA.")] = "US",
    method: Annotated[str | None, typer.Option(help="nsvb, canada or jenkins instead.")] = None,
    grown: Annotated[str, typer.Option(help="forest, or open for a street or yard tree.")] = "forest",
    division: Annotated[str, typer.Option(help="Ecodivision of the United States, e.g. 240 or M220.")] = "",
    units: Annotated[str, typer.Option(help="Of the lines for people: imperial or metric.")] = "imperial",
    json_: Json = False,
) -> None:
    """Wood, bark, mass and cords of a standing tree, by the national equations."""
    from rickyard.measure import LOGGERS_CORD_FT3, log_spread, measure_tree
    from rickyard.measure.units import FT3_M3
    from rickyard.show.units import parse_length
    from rickyard.wood import find_species

    wood = find_species(species, field="species")
    found = measure_tree(
        wood,
        parse_length(dbh, "dbh"),
        None if height is None else parse_length(height, "height"),
        country=country.upper(),
        method=method,
        grown=grown,
        division=division.upper(),
    )
    voice = voice_of(units)
    green = found.green_kg / found.oven_dry_kg
    guess = " (estimated)" if found.height_estimated else ""
    stem = {
        name: log_spread(m3, found.log_sd) for name, m3 in (("wood", found.wood_m3), ("bark", found.bark_m3))
    }
    green_kg = found.oven_dry_spread_kg.scaled(green)
    lines = [
        f"{wood.common_en}, {voice.thickness(found.dbh_m)}, {voice.dimension(found.height_m)} tall{guess}",
        f"stem wood: {solid_said(voice, stem['wood'])}",
        f"stem bark: {solid_said(voice, stem['bark'])}",
        f"above ground without leaves, oven dry: {mass_range(voice, found.oven_dry_spread_kg)}",
        f"the same green: {mass_range(voice, green_kg)}",
        f"stacked stove wood from the stem to 4 in: {found.cords.mid:.2f} cords "
        f"({found.cords.low:.2f} to {found.cords.high:.2f})",
        f"branches and top: at most {found.branch_cords_most:.2f} cords more",
        f"source: {found.source}",
        *map(voice.text, found.warnings),
    ]
    give(
        {
            "method": found.method,
            "source": found.source,
            "id": wood.id,
            "key_id": wood.key_id,
            "scientific": wood.scientific,
            "common_en": wood.common_en,
            "common_fr": wood.common_fr,
            "country": country.upper(),
            "dbh_m": found.dbh_m,
            "height_m": found.height_m,
            "height_estimated": found.height_estimated,
            "wood_m3": found.wood_m3,
            "bark_m3": found.bark_m3,
            "wood_spread_m3": stem["wood"],
            "bark_spread_m3": stem["bark"],
            "oven_dry_kg": found.oven_dry_kg,
            "oven_dry_of": "stem wood, stem bark and branches above ground, without leaves",
            "oven_dry_with_leaves_kg": found.oven_dry_kg + found.parts_kg["foliage"],
            "green_kg": found.green_kg,
            "oven_dry_spread_kg": found.oven_dry_spread_kg,
            "green_spread_kg": green_kg,
            "parts_kg": found.parts_kg,
            "usable_m3": found.usable_m3,
            "cords": found.cords,
            "branch_cords_most": found.branch_cords_most,
            "logger_cords": found.usable_m3 / (LOGGERS_CORD_FT3.mid * FT3_M3),
            "compared_kg": found.compared_kg,
            "warnings": [str(warning) for warning in found.warnings],
        },
        lines,
        json_,
    )


def log_list(
    file: Annotated[
        str,
        typer.Argument(
            help="A CSV of logs, at most 10 000, or - for standard input; lists for `cut plan` are taken too.",
            metavar="FILE",
        ),
    ],
    species: Annotated[str | None, typer.Option(help="For logs that the list does not name.")] = None,
    over_bark: Annotated[
        bool,
        typer.Option(
            "--over-bark", help="Diameters are over bark: the species' bark is taken off where none is given."
        ),
    ] = False,
    json_: Json = False,
) -> None:
    """A list of logs added up: gross, bark, hollow, rot and metal taken off, net with its spread."""
    from rickyard.measure import log_list_total, read_log_list, with_bark_by_species
    from rickyard.wood import find_species, get_species

    wood = None if species is None else find_species(species, field="species").id
    rows = read_log_list(_text_of(file), default_species=wood, defects=True)
    total = log_list_total(with_bark_by_species(rows) if over_bark else rows)
    lines = table(
        [
            [
                get_species(part.species_id).common_en,
                str(part.logs),
                f"{part.gross_m3:.2f}",
                f"{part.bark_m3:.2f}",
                f"{part.net_m3.mid:.2f}",
            ]
            for part in total.species
        ],
        ["species", "logs", "gross m³", "bark m³", "net m³"],
    )
    lines.append(f"net {solid_range(total.net_m3, 2)}, {total.logs} logs")
    give(
        {
            "logs": total.logs,
            "gross_m3": total.gross_m3,
            "bark_m3": total.bark_m3,
            "net_m3": total.net_m3,
            "lost_m3": total.lost_m3,
            "species": total.species,
            "notes": [str(note) for note in total.notes],
        },
        [*lines, *map(str, total.notes)],
        json_,
    )


def truck(
    width: Annotated[str, typer.Option(help="Inner width of the bed, or between the stakes.")],
    height: Annotated[str, typer.Option(help="Height of the load at one or more places: 6ft,6.5ft.")],
    piece_length: Annotated[str, typer.Option(help="Length of the logs or pieces.")],
    length: Annotated[
        str | None, typer.Option(help="Length of the bed; logs along it need --tiers instead.")
    ] = None,
    tiers: Annotated[int, typer.Option(help="Piles of logs one behind the other.")] = 1,
    piled: Annotated[str, typer.Option(help="ranked or loose.")] = "ranked",
    form: Annotated[str, typer.Option(help="log, round, split or kindling.")] = "log",
    json_: Json = False,
) -> None:
    """A whole truck by the dimensions of its bed and how full it is."""
    from rickyard.measure import truck_measure
    from rickyard.show.units import parse_length, parse_lengths

    found = truck_measure(
        parse_length(width, "width"),
        parse_lengths(height, "height", comma="separator"),
        parse_length(piece_length, "piece_length"),
        length_m=None if length is None else parse_length(length, "length"),
        tiers=tiers,
        piled=piled,
        form=form,
    )
    _give_outside(found.outside, json_, solid=found.solid_m3, notes=found.notes)


def weight(
    net: Annotated[str, typer.Option(help="Weight of the load: gross less tare, e.g. 12.4t or 27000lb.")],
    species: Annotated[
        list[str], typer.Option(help="What wood; several with their shares: oak:0.6 --species ash:0.4.")
    ],
    moisture_wet: Annotated[
        str | None, typer.Option("--moisture-wet", help="Water / total mass; freshly felled if not said.")
    ] = None,
    peeled: Annotated[bool, typer.Option("--peeled", help="Without bark.")] = False,
    at: Annotated[
        str | None, typer.Option(help="Country or subdivision whose law is asked, e.g. US-ME.")
    ] = None,
    json_: Json = False,
) -> None:
    """Solid wood in a load from a weighbridge ticket; for your own reckoning only."""
    from rickyard.measure import weighed_load
    from rickyard.rules import weight_notes
    from rickyard.show.units import parse_mass, parse_percent

    mc_wet = (
        None
        if moisture_wet is None
        else parse_percent(moisture_wet, "moisture_wet", basis="wet", bare="fraction", low=0.0, high=0.8)
    )
    found = weighed_load(
        parse_mass(net, "net"), [_shared(text) for text in species], mc_wet=mc_wet, bark=not peeled
    )
    warnings = [str(text) for text in (*found.warnings, *(weight_notes(at) if at else ()))]
    give(
        {
            "net_kg": found.net_kg,
            "solid_m3": found.solid_m3,
            "oven_dry_kg": found.oven_dry_kg,
            "warnings": warnings,
        },
        [
            f"solid wood {solid_range(found.solid_m3, 2)}",
            f"oven dry, without bark: {mass_range(Voice('en_CA', 'metric'), found.oven_dry_kg)} = "
            f"{mass_range(Voice(), found.oven_dry_kg)}",
            *warnings,
        ],
        json_,
    )


def reconcile(
    of: Annotated[
        list[str],
        typer.Option(
            help="Solid wood by one measure with its spread, low:mid:high: list=9.6:10:10.4.",
            metavar="NAME=L:M:H",
        ),
    ],
    unit: Annotated[str, typer.Option(help="What the figures are in: m3 or ft3 of solid wood.")] = "m3",
    json_: Json = False,
) -> None:
    """The same load measured several ways as one estimate; says when they disagree."""
    from rickyard.measure import FT3_M3
    from rickyard.measure import reconcile as made_one

    size = {"m3": 1.0, "m³": 1.0, "ft3": FT3_M3, "ft³": FT3_M3}.get(unit.casefold())
    if size is None:
        raise InputError(
            "unit",
            wanted=T_("m3 or ft3 of solid wood"),
            got=unit,
            next_move=T_(
                "Cords and loose volumes hold air: turn them into solid wood first (measure stack, truck)."
            ),
        )
    spreads = [_named_spread(text) for text in of]
    found = made_one([(name, spread.scaled(size)) for name, spread in spreads])
    give(
        {
            "solid_m3": found.solid_m3,
            "agree": found.agree,
            "weights": found.weights,
            "apart": found.apart,
            "notes": [str(note) for note in found.notes],
        },
        [
            f"solid wood {solid_range(found.solid_m3)}",
            *map(str, found.notes),
        ],
        json_,
    )


def heap(
    length: Annotated[str, typer.Option(help="Length of the base.")],
    width: Annotated[str, typer.Option(help="Width of the base.")],
    height: Annotated[str, typer.Option(help="Height in the middle.")],
    shape: Annotated[str, typer.Option(help="cone, ridge, dome or windrow.")] = "cone",
    piece_length: Annotated[str, typer.Option(help="Length of the pieces.")] = "16in",
    json_: Json = False,
) -> None:
    """A loose heap by the solid it looks most like."""
    from rickyard.measure import heap_measure, heap_notes, product, solid_share, windrow_measure
    from rickyard.show.units import parse_length

    sides = (parse_length(length, "length"), parse_length(width, "width"), parse_length(height, "height"))
    found = windrow_measure(*sides) if shape == "windrow" else heap_measure(*sides, shape=shape)
    solid = product(
        found.spread_m3, solid_share("loose", "split", parse_length(piece_length, "piece_length"))
    )
    _give_outside(found, json_, solid=solid, notes=heap_notes(min(sides[0], sides[1]), sides[2]))


def box(
    inner_height: Annotated[str, typer.Option(help="Inner height of the box.")],
    width: Annotated[str, typer.Option(help="Inner width at one or more places: 60cm,60.5cm.")],
    piece_length: Annotated[str, typer.Option(help="Lengths of the thickest pieces: 40cm,41cm.")],
    headspace: Annotated[str, typer.Option(help="Air above the wood at one or more places.")] = "0",
    form: Annotated[str, typer.Option(help="split, round or kindling.")] = "split",
    json_: Json = False,
) -> None:
    """Wood ranked in a box, in litres (dm³); the steps are shown by `measure steps box`."""
    from rickyard.measure import box_measure
    from rickyard.show.units import parse_length, parse_lengths

    found = box_measure(
        parse_length(inner_height, "inner_height"),
        parse_lengths(headspace, "headspace", comma="separator"),
        parse_lengths(width, "width", comma="separator"),
        lengths := parse_lengths(piece_length, "piece_length", comma="separator"),
    )
    _give_package(found, form, lengths, json_)


def bundle(
    piece_length: Annotated[str, typer.Option(help="Lengths of the thickest pieces: 40cm,41cm.")],
    diameter: Annotated[str, typer.Option(help="Diameter of the strapped bundle.")],
    count: Annotated[int, typer.Option(help="Bundles or bags alike.")] = 1,
    form: Annotated[str, typer.Option(help="split, round or kindling.")] = "split",
    json_: Json = False,
) -> None:
    """A strapped bundle or a bag as a cylinder, in litres (dm³); the steps are shown by `measure steps bundle`."""
    from rickyard.measure import bags_measure, bundle_measure
    from rickyard.show.units import parse_length, parse_lengths

    lengths = parse_lengths(piece_length, "piece_length", comma="separator")
    one = bundle_measure(lengths, diameter_m=parse_length(diameter, "diameter"))
    _give_package(bags_measure(count, one), form, lengths, json_, count=count)


def steps(
    case: Annotated[str, typer.Argument(help="stack, heap, box or bundle.")],
    json_: Json = False,
) -> None:
    """How to measure it, step by step; what is from memory is said."""
    from rickyard.measure import procedure

    found = procedure(case)
    give(
        {
            "steps": [
                {"text": str(step.text), "source": step.source, "from_memory": step.from_memory}
                for step in found
            ]
        },
        [f"{place}. {step.text} ({step.source})" for place, step in enumerate(found, start=1)],
        json_,
    )


def cords(
    solid: Annotated[float, typer.Option("--solid-m3", help="Solid wood without bark [m³].")],
    piece_length: Annotated[str, typer.Option(help="Length of the pieces sold.")] = "16in",
    form: Annotated[str, typer.Option(help="split, round or kindling.")] = "split",
    lost: Annotated[str, typer.Option(help="Share that kerf and waste take, e.g. 5%.")] = "0",
    cord_ft3: Annotated[
        float, typer.Option(help="A sold cord's outside volume by the law of the place.")
    ] = 128.0,
    json_: Json = False,
) -> None:
    """A logger's cord is not a sold cord: the same wood in both."""
    from rickyard.measure import two_cords
    from rickyard.show.units import parse_length, parse_percent

    found = two_cords(
        solid,
        form=form,
        piece_length_m=parse_length(piece_length, "piece_length"),
        lost_share=parse_percent(lost, "lost", bare="fraction"),
        sold_cord_ft3=cord_ft3,
    )
    give(
        {
            "logger_cords": found.logger,
            "sold_cords": found.sold,
            "sold_per_logger": found.sold_per_logger,
        },
        [
            f"{found.logger.mid:.2f} cords of logs ({found.logger.low:.2f} to {found.logger.high:.2f})",
            f"{found.sold.mid:.2f} cords to sell ({found.sold.low:.2f} to {found.sold.high:.2f})",
            f"a cord of logs makes {found.sold_per_logger.mid:.2f} cords to sell "
            f"({found.sold_per_logger.low:.2f} to {found.sold_per_logger.high:.2f})",
        ],
        json_,
    )


def _give_outside(
    outside: StackMeasure, json_: bool, *, solid: Spread | None = None, notes: tuple[Any, ...] = ()
) -> None:
    said = [str(note) for note in notes]
    result: dict[str, Any] = {
        "piled": outside.piled,
        "outside_m3": outside.outside_m3,
        "outside_ft3": outside.outside_ft3,
        "outside_spread_m3": outside.spread_m3,
        "cords": outside.cords,
        "notes": said,
    }
    lines = outside_lines(outside)
    if solid is not None:
        result["solid_m3"] = solid
        lines.append(f"solid wood {solid_range(solid, 2)}")
    give(result, [*lines, *map(Voice().text, notes)], json_)


def _give_package(
    outside: StackMeasure, form: str, lengths_m: list[float], json_: bool, *, count: int = 1
) -> None:
    """What is sold by the piece, in litres, as packages are labelled."""
    from rickyard.measure import DM3_M3, product, solid_share

    solid = product(outside.spread_m3, solid_share("ranked", form, sum(lengths_m) / len(lengths_m)))
    litres, wood = outside.spread_m3.scaled(1.0 / DM3_M3), solid.scaled(1.0 / DM3_M3)
    feet = outside.spread_m3.scaled(outside.outside_ft3 / outside.outside_m3)
    lines = [
        f"{litres.mid:.1f} dm³ (litres) outside ({litres.low:.1f} to {litres.high:.1f}) = "
        f"{feet.mid:.2f} ft³ ({feet.low:.2f} to {feet.high:.2f})",
        f"solid wood {wood.mid:.1f} dm³ ({wood.low:.1f} to {wood.high:.1f})",
    ]
    if count > 1:
        lines.append(
            f"{count} alike, each {litres.mid / count:.1f} dm³ outside, {wood.mid / count:.1f} dm³ solid"
        )
    give(
        {
            "piled": outside.piled,
            "outside_m3": outside.outside_m3,
            "outside_dm3": outside.outside_m3 / DM3_M3,
            "outside_ft3": outside.outside_ft3,
            "outside_spread_m3": outside.spread_m3,
            "cords": outside.cords,
            "solid_m3": solid,
            "solid_dm3": wood,
            "notes": [],
        },
        lines,
        json_,
    )


def _text_of(file: str) -> str:
    if file == "-":
        return sys.stdin.read()
    try:
        return Path(file).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            "file",
            wanted=T_("a readable text file of logs"),
            got=file,
            next_move=T_(
                "{reason}. Check the path, or save the list as CSV in UTF-8.", reason=_reason(error)
            ),
        ) from error


def _reason(error: OSError | UnicodeDecodeError) -> str:
    return error.strerror or type(error).__name__ if isinstance(error, OSError) else "not UTF-8"


def _shared(text: str) -> tuple[Any, float]:
    """A species with its share: `ash:0.4`, or `ash` alone."""
    from rickyard.show.units import parse_percent
    from rickyard.wood import find_species

    name, colon, share = text.rpartition(":")
    if not colon:
        name, share = text, "1"
    return find_species(name, field="species"), parse_percent(share, "species", bare="fraction")


def _named_spread(text: str) -> tuple[str, Spread]:
    from rickyard.measure import Spread

    name, _, figures = text.partition("=")
    try:
        low, mid, high = (float(part) for part in figures.split(":"))
        return name, Spread(low, mid, high)
    except ValueError as error:
        raise InputError(
            "of",
            wanted=T_("a name and low:mid:high, rising, such as list=9.6:10:10.4"),
            got=text,
            next_move=T_("Give 10th percentile, figure and 90th percentile in the same unit for all."),
        ) from error
