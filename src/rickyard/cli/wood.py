"""`rickyard species`, `heat`, `measure log`, `measure stack`: what wood is, how much, what it is worth in heat."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from rickyard.cli import measuring
from rickyard.cli.output import Json, give, mass_range, outside_lines, solid_range, table
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.text import T_

PIECE = (0.05, 2.6)
Moisture = Annotated[
    str | None, typer.Option("--moisture-wet", help="Water / total mass: 0.20, or 20%, or '25% dry'.")
]


def add_to(app: typer.Typer) -> None:
    app.command("species")(species)
    app.command("heat")(heat)
    measure = typer.Typer(
        help="How much wood is it: trees, logs, loads, stacks.", no_args_is_help=True, rich_markup_mode=None
    )
    measure.command("log")(measure_log)
    measure.command("stack")(measure_stack)
    measuring.add_to(measure)
    app.add_typer(measure, name="measure")


def species(
    name: Annotated[str | None, typer.Argument(help="Scientific, common (en, fr) or short name.")] = None,
    pdf: Annotated[
        Path | None, typer.Option(help="Write the sheet of a tree of the key to this file, to print.")
    ] = None,
    paper: Annotated[str, typer.Option(help="letter or a4.")] = "letter",
    language: Annotated[str, typer.Option(help="Locale of the sheet, e.g. en_CA or fr_CA.")] = "en_CA",
    units: Annotated[str, typer.Option(help="imperial or metric.")] = "imperial",
    json_: Json = False,
) -> None:
    """Species with density, shrinkage, green moisture, bark and decay class, each with its source."""
    from rickyard.wood import all_species, find_species

    if pdf is not None:
        _write_sheet(name or "", pdf, paper=paper, voice=Voice(language, units))
    found = [find_species(name, field="name")] if name else list(all_species())
    voice = Voice()
    rows = [
        [
            wood.common_en,
            wood.scientific,
            voice.density(wood.basic_density_kg_m3),
            voice.moisture_dry(wood.green_mc_db),
        ]
        for wood in found
    ]
    give(
        {"species": [_species_json(wood) for wood in found]},
        table(rows, ["name", "scientific", "basic density", "green moisture"]),
        json_,
    )


def _write_sheet(name: str, pdf: Path, *, paper: str, voice: Voice) -> None:
    """The sheet without drying, which belongs to a yard's place (`season calendar` has that)."""
    from rickyard.identify import the_key
    from rickyard.paper import render_sheet
    from rickyard.web.sheets import sheet_data

    tree = the_key().named(name)
    if tree is None:
        raise InputError(
            "name",
            wanted=T_("a tree of the key, by its id, its short id or its name"),
            got=name or "nothing",
            next_move=T_("`rickyard identify` lists the trees of the key."),
        )
    page: Literal["a4", "letter"] = "a4" if paper == "a4" else "letter"
    made = render_sheet(sheet_data(voice, tree.id, made_at=datetime.now(UTC), page=page))
    try:
        pdf.write_bytes(made)
    except OSError as error:
        raise InputError(
            "pdf",
            wanted=T_("a file that can be written"),
            got=str(pdf),
            next_move=T_("{why}. Give another path.", why=error.strerror or str(error)),
        ) from error


def heat(
    names: Annotated[
        list[str], typer.Argument(help="One or more species, genera or groups.", metavar="NAME...")
    ],
    moisture_wet: Moisture = None,
    solid_m3_per_cord: Annotated[
        float | None,
        typer.Option(help="Solid wood in a stacked cord [m³]; the stated convention if not said."),
    ] = None,
    basis: Annotated[str, typer.Option(help="net (water leaves as vapour) or gross.")] = "net",
    json_: Json = False,
) -> None:
    """Heat of a cord, a stacked and a solid cubic metre, and a kilogram, at a moisture."""
    from rickyard.heat import heat_row
    from rickyard.wood import find_species

    mc_wet = _moisture(moisture_wet, 0.20)
    rows = [
        heat_row(
            find_species(name, field="name"), mc_wet=mc_wet, solid_m3_per_cord=solid_m3_per_cord, basis=basis
        )
        for name in names
    ]
    voice = Voice()
    lines = [
        f"{row.common_en}: {row.million_btu_per_cord:.1f} million Btu a cord "
        f"({voice.heat(row.low, 'MJ')} to {voice.heat(row.high, 'MJ')}), "
        f"{row.kwh_per_stacked_m3:.0f} kWh a stacked m³, {row.mj_per_kg:.1f} MJ/kg; "
        f"{row.basis}, {row.solid_m3_per_cord:.2f} solid m³ a cord, {voice.moisture(row.moisture_wet)}"
        for row in rows
    ]
    give({"rows": rows}, lines, json_)


def measure_log(
    length: Annotated[str, typer.Option(help="Length, e.g. 16ft or 4.88 (m).")],
    mid: Annotated[str | None, typer.Option(help="Diameter at mid length, e.g. 12in or 0.30 (m).")] = None,
    ends: Annotated[
        tuple[str, str] | None, typer.Option(help="Diameters of the two ends.", metavar="D D")
    ] = None,
    bark_thickness: Annotated[
        str | None, typer.Option(help="Thickness of the bark; the volume is then inside bark.")
    ] = None,
    species: Annotated[
        str | None, typer.Option(help="What wood, if the diameters are over bark: its bark is taken off.")
    ] = None,
    sweep: Annotated[str | None, typer.Option(help="Greatest sag of a bent log, e.g. 4in.")] = None,
    defects: Annotated[
        str | None,
        typer.Option(help="From the thick end: '0-2ft:hollow=6in|3-4ft:rot=50%|5-6ft:metal'."),
    ] = None,
    json_: Json = False,
) -> None:
    """Volume of a log: Huber (mid), Smalian (ends) or Newton (ends and mid), less what is no wood."""
    from rickyard.measure import FT3_M3, LogRow, defects_from, with_bark_by_species
    from rickyard.show.units import parse_length
    from rickyard.wood import UNNAMED, find_species

    diameters = sorted(parse_length(text, "ends") for text in ends) if ends else [None, None]
    row = LogRow(
        UNNAMED.id if species is None else find_species(species, field="species").id,
        parse_length(length, "length"),
        mid_d_m=None if mid is None else parse_length(mid, "mid"),
        small_d_m=diameters[0],
        large_d_m=diameters[1],
        bark_thickness_m=0.0 if bark_thickness is None else parse_length(bark_thickness, "bark_thickness"),
        sweep_m=0.0 if sweep is None else parse_length(sweep, "sweep"),
        defects=() if defects is None else defects_from(defects),
    )
    row.volume()
    if species is not None:
        (row,) = with_bark_by_species([row])
    found = row.net()
    measured, net = found.gross, found.spread_m3
    volume_ft3 = measured.volume_m3 / FT3_M3
    bark = "without bark" if row.bark_thickness_m else "as taped, no bark taken off"
    lines = [f"{solid_range(measured.spread_m3)} ({measured.formula}, {bark})"]
    if row.defects:
        lines.append(f"net {solid_range(net)}")
    if species is None and not row.bark_thickness_m:
        lines.append("measured over bark? Say --species, or how thick the bark is.")
    give(
        {
            "formula": measured.formula,
            "volume_m3": measured.volume_m3,
            "volume_ft3": volume_ft3,
            "volume_spread_m3": measured.spread_m3,
            "errors_m3": {
                "formula": {"below": measured.errors.below, "above": measured.errors.above},
                "tape_sd": measured.errors.read_sd,
                "hand_sd": measured.errors.hand_sd,
                "bark_sd": measured.errors.bark_sd,
            },
            "bark_thickness_m": row.bark_thickness_m,
            "net_m3": net,
            "lost_m3": found.lost_m3,
            "notes": [str(note) for note in found.notes],
        },
        [*lines, *map(str, found.notes)],
        json_,
    )


def measure_stack(
    length: Annotated[str, typer.Option(help="Length of the stack, e.g. 8ft.")],
    height: Annotated[str, typer.Option(help="One or more heights, e.g. 4ft or 4ft,3.9ft,4.1ft.")],
    piece_length: Annotated[str, typer.Option(help="Length of the pieces, e.g. 16in.")],
    piled: Annotated[str, typer.Option(help="ranked or loose.")] = "ranked",
    species: Annotated[str | None, typer.Option(help="What wood; adds mass and heat.")] = None,
    moisture_wet: Moisture = None,
    rows: Annotated[int, typer.Option(help="Rows one behind the other.")] = 1,
    crisscross: Annotated[
        str | None, typer.Option(help="Lengths of criss-cross ends, left out: 16in,16in.")
    ] = None,
    lean_deg: Annotated[float, typer.Option(help="Lean, if the heights were taken along it.")] = 0.0,
    slope_deg: Annotated[float, typer.Option(help="Slope, if the length was taken along it.")] = 0.0,
    form: Annotated[str, typer.Option(help="split, round, log or kindling.")] = "split",
    thickness: Annotated[
        str | None, typer.Option(help="Mean thickness of the pieces; usual for the form if not said.")
    ] = None,
    straightness: Annotated[str, typer.Option(help="straight, usual or crooked.")] = "usual",
    peeled: Annotated[bool, typer.Option("--peeled", help="Without bark.")] = False,
    json_: Json = False,
) -> None:
    """Outside volume, cords and solid wood of a stack or heap; with a species also mass and heat."""
    from rickyard.heat import stack_content
    from rickyard.measure import FT3_M3, MILLION_BTU_MJ
    from rickyard.show.units import parse_length, parse_lengths
    from rickyard.wood import find_species

    wood = None if species is None else find_species(species, field="species")
    found = stack_content(
        parse_length(length, "length"),
        tuple(parse_lengths(height, "height", comma="separator")),
        parse_length(piece_length, "piece_length"),
        piled=piled,
        rows=rows,
        crisscross_m=parse_lengths(crisscross, "crisscross", comma="separator") if crisscross else (),
        lean_deg=lean_deg,
        slope_deg=slope_deg,
        form=form,
        thickness_m=None if thickness is None else parse_length(thickness, "thickness"),
        straightness=straightness,
        peeled=peeled,
        species=wood,
        mc_wet=_moisture(moisture_wet, 0.20),
    )
    measured, held = found.outside, found.of_wood
    result: dict[str, Any] = {
        "outside_m3": measured.outside_m3,
        "outside_ft3": measured.outside_m3 / FT3_M3,
        "cords": measured.cords,
        "solid_m3": vars(found.solid_m3),
        "left_out_m3": found.left_out_m3,
        "notes": [str(note) for note in found.notes],
    }
    voice = Voice()
    lines = [
        *outside_lines(measured),
        f"solid wood {solid_range(found.solid_m3, 2)}",
        *map(voice.text, found.notes),
    ]
    if wood is not None and held is not None:
        warm = held.net_mj.scaled(1.0 / MILLION_BTU_MJ)
        result |= {
            "oven_dry_kg": held.oven_dry_kg.mid,
            "kg": held.kg.mid,
            "kg_spread": held.kg,
            "million_btu": warm.mid,
            "million_btu_spread": warm,
            "heat_basis": "net",
            "moisture_wet": held.mc_wet,
        }
        lines.append(
            f"{wood.common_en}: {mass_range(voice, held.kg)} at {voice.moisture(held.mc_wet)}, "
            f"{warm.mid:.1f} million Btu ({warm.low:.1f} to {warm.high:.1f}) net"
        )
    give(result, lines, json_)


def _moisture(text: str | None, default: float) -> float:
    from rickyard.show.units import parse_percent

    if text is None:
        return default
    return parse_percent(text, "moisture_wet", basis="wet", bare="fraction", low=0.0, high=0.8)


def _species_json(wood: Any) -> dict[str, Any]:
    names = (
        "id",
        "key_id",
        "scientific",
        "common_en",
        "common_fr",
        "group",
        "basic_density_kg_m3",
        "shrinkage_vol_pct",
        "fibre_saturation_db",
        "green_mc_db",
        "bark_volume_ratio",
        "decay_class",
        "sources",
        "rank",
        "basic_density_sd_kg_m3",
        "green_mc_db_sd",
    )
    return {name: getattr(wood, name) for name in names}
