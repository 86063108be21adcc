"""What the commands `species`, `heat`, `measure`, `season meter` and `rules` compute, under the same keys.

In SI: lengths in metres, temperatures in °C, moistures as fractions.
The forecast command has no twin here: a forecast takes seconds and belongs to the worker.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel

from rickyard.heat import heat_row, stack_content
from rickyard.measure import FT3_M3, MILLION_BTU_MJ, log_volume
from rickyard.rules import check_wording, place_rules
from rickyard.season import meter_mc
from rickyard.web.api.bodies import PlainText
from rickyard.web.api.common import ERRORS
from rickyard.web.api.models import Out, SpreadOut
from rickyard.wood import find_species

router = APIRouter(
    prefix="/api", tags=["computations"], responses={code: ERRORS[code] for code in (404, 422)}
)

Length = Annotated[float, Query(gt=0, le=200, allow_inf_nan=False)]
Diameter = Annotated[float | None, Query(gt=0, le=10, allow_inf_nan=False)]
Angle = Annotated[float, Query(ge=0.0, le=90.0, allow_inf_nan=False)]
Moisture = Annotated[float, Query(ge=0.0, le=0.8)]
Name = Annotated[PlainText, Query(min_length=1)]


class SpeciesPageOut(Out):
    """A kind of wood, each value with its source."""

    id: str
    key_id: str
    scientific: str
    common_en: str
    common_fr: str
    group: str
    rank: str
    basic_density_kg_m3: float
    basic_density_sd_kg_m3: float
    shrinkage_vol_pct: float | None
    fibre_saturation_db: float
    green_mc_db: float
    green_mc_db_sd: float
    bark_volume_ratio: float
    decay_class: str | None
    sources: dict[str, str]


class HeatRowOut(Out):
    """Heat under one stated convention; `low` and `high` belong to `mj_per_cord`."""

    species: str
    scientific: str
    common_en: str
    moisture_wet: float
    basis: str
    solid_m3_per_cord: float
    oven_dry_kg_per_cord: float
    kg_per_cord: float
    mj_per_kg: float
    mj_per_cord: float
    million_btu_per_cord: float
    kwh_per_stacked_m3: float
    kwh_per_solid_m3: float
    low: float
    high: float


class HeatOut(BaseModel):
    rows: list[HeatRowOut]


class LogOut(BaseModel):
    formula: str
    volume_m3: float
    volume_ft3: float
    volume_spread_m3: SpreadOut


class StackSumOut(BaseModel):
    """Mass and heat only when the species was given; `cords` is null for a loose pile."""

    outside_m3: float
    outside_ft3: float
    cords: float | None
    solid_m3: SpreadOut
    left_out_m3: float
    notes: list[str]
    oven_dry_kg: float | None = None
    kg: float | None = None
    million_btu: float | None = None
    heat_basis: str | None = None
    moisture_wet: float | None = None
    kg_spread: SpreadOut | None = None
    million_btu_spread: SpreadOut | None = None


class MeterOut(BaseModel):
    mc_db: float
    mc_wet: float
    correction: float
    within_range: bool
    source: str


class TicketFieldOut(Out):
    name: str
    required: bool


class SourceOut(Out):
    """What a rule was read in, and how."""

    id: str
    citation: str
    edition: str
    address: str
    how_read: str


class RulesOut(Out):
    """`standing` says how far the place's own rules were read: read, part, model or none."""

    standing: str
    units_allowed: tuple[str, ...]
    words_forbidden: tuple[str, ...]
    cord_ft3: dict[str, float]
    ticket_fields: tuple[TicketFieldOut, ...]
    sources: tuple[SourceOut, ...]
    read_on: date
    authority: str


class ProblemOut(BaseModel):
    word: str
    rule: str
    instead: str


class WordingOut(BaseModel):
    ok: bool
    problems: list[ProblemOut]


@router.get("/species/{name}", response_model=SpeciesPageOut)
def species_page(name: str) -> Any:
    """A kind of wood by its scientific, common (English or French) or short name."""
    return find_species(name, field="name")


@router.get("/heat", response_model=HeatOut)
def heat(
    name: Annotated[list[PlainText], Query(min_length=1, max_length=50)],
    moisture_wet: Moisture = 0.20,
    solid_m3_per_cord: Annotated[float | None, Query(gt=0.3, le=3.6)] = None,
    basis: Annotated[str, Query(pattern="^(net|gross)$")] = "net",
) -> Any:
    """Heat of a cord, a stacked and a solid cubic metre, and a kilogram, at a moisture."""
    return {
        "rows": [
            heat_row(
                find_species(item, field="name"),
                mc_wet=moisture_wet,
                solid_m3_per_cord=solid_m3_per_cord,
                basis=basis,
            )
            for item in name
        ]
    }


@router.get("/measure/log")
def measure_log(
    length_m: Length,
    mid_d_m: Diameter = None,
    small_d_m: Diameter = None,
    large_d_m: Diameter = None,
    bark_thickness_m: Annotated[float, Query(ge=0, le=1)] = 0.0,
) -> LogOut:
    """Volume of a log: Huber (middle), Smalian (both ends) or Newton (middle and ends)."""
    measured = log_volume(
        length_m,
        mid_d_m=mid_d_m,
        small_d_m=small_d_m,
        large_d_m=large_d_m,
        bark_thickness_m=bark_thickness_m,
    )
    return LogOut(
        formula=measured.formula,
        volume_m3=measured.volume_m3,
        volume_ft3=measured.volume_m3 / FT3_M3,
        volume_spread_m3=SpreadOut(**vars(measured.spread_m3)),
    )


@router.get("/measure/stack")
def measure_stack(
    length_m: Length,
    height_m: Annotated[list[Length], Query(min_length=1, max_length=20)],
    piece_length_m: Annotated[float, Query(ge=0.05, le=2.6)],
    piled: Annotated[str, Query(pattern="^(ranked|loose)$")] = "ranked",
    species: PlainText = "",
    moisture_wet: Moisture = 0.20,
    rows: Annotated[int, Query(ge=1, le=50)] = 1,
    crisscross_m: Annotated[list[Length] | None, Query(max_length=20)] = None,
    lean_deg: Angle = 0.0,
    slope_deg: Angle = 0.0,
    form: Annotated[str, Query(pattern="^(log|round|split|kindling)$")] = "split",
    thickness_m: Annotated[float | None, Query(gt=0, le=2, allow_inf_nan=False)] = None,
    straightness: Annotated[str, Query(pattern="^(straight|usual|crooked)$")] = "usual",
    peeled: bool = False,
) -> StackSumOut:
    """Outside volume, cords and solid wood of a stack or heap; with a species also mass and heat."""
    found = stack_content(
        length_m,
        tuple(height_m),
        piece_length_m,
        piled=piled,
        rows=rows,
        crisscross_m=tuple(crisscross_m or ()),
        lean_deg=lean_deg,
        slope_deg=slope_deg,
        form=form,
        thickness_m=thickness_m,
        straightness=straightness,
        peeled=peeled,
        species=find_species(species, field="species") if species else None,
        mc_wet=moisture_wet,
    )
    answer = StackSumOut(
        outside_m3=found.outside.outside_m3,
        outside_ft3=found.outside.outside_m3 / FT3_M3,
        cords=found.outside.cords,
        solid_m3=SpreadOut(**vars(found.solid_m3)),
        left_out_m3=found.left_out_m3,
        notes=[str(note) for note in found.notes],
    )
    held = found.of_wood
    if held is not None:
        warm = held.net_mj.scaled(1.0 / MILLION_BTU_MJ)
        answer.oven_dry_kg, answer.kg = held.oven_dry_kg.mid, held.kg.mid
        answer.kg_spread, answer.million_btu_spread = SpreadOut(**vars(held.kg)), SpreadOut(**vars(warm))
        answer.million_btu, answer.heat_basis = warm.mid, "net"
        answer.moisture_wet = held.mc_wet
    return answer


@router.get("/season/meter")
def season_meter(
    name: Name,
    reading: Annotated[float, Query(gt=0, le=100)],
    temperature_c: Annotated[float, Query(ge=-40, le=60)] = 20.0,
) -> MeterOut:
    """What a pin-meter reading (percent of dry mass as shown) means in this wood at this temperature."""
    read = meter_mc(find_species(name, field="name"), reading, temperature_c)
    return MeterOut(
        mc_db=read.mc_db,
        mc_wet=read.mc_wet,
        correction=read.correction,
        within_range=read.within_range,
        source=str(read.source),
    )


@router.get("/rules/measure/{place}", response_model=RulesOut)
def rules_measure(place: str) -> Any:
    """What was read of a place's law of measure: units, words, what a cord is, what a ticket carries."""
    return place_rules(place)


@router.get("/rules/wording/{place}")
def rules_wording(
    place: str, text: Name, language: Annotated[str, Query(pattern="^(en|fr)$")] = "en"
) -> WordingOut:
    """Whether a text breaks a rule that was read for the place."""
    problems = check_wording(place, text, language=language)
    return WordingOut(
        ok=not problems,
        problems=[
            ProblemOut(word=item.word, rule=str(item.rule), instead=str(item.instead)) for item in problems
        ],
    )
