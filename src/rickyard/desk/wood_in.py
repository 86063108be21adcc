"""Wood in: loads as they come, from "ten cords, maple and birch" to every log measured."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from rickyard.book import Move, StockKey, next_number, post
from rickyard.book.models import Load, LogPiece, Lot, Spot
from rickyard.desk.checks import (
    EARLIEST,
    LOAD_GREEN_KG,
    LOAD_OUTSIDE_M3,
    day_between,
    one_of,
    shares_to_one,
    some_text,
    within,
)
from rickyard.desk.context import Answer, Command, Desk, Stage, do, noon_utc
from rickyard.desk.expectations import Expectation, expectation
from rickyard.desk.log_lists import GaugedLogs, defects_as_json, gauge_logs
from rickyard.desk.spots import yard_spot
from rickyard.errors import InputError
from rickyard.measure import LogRow, YardFactor, solid_share
from rickyard.text import T_
from rickyard.wood import Species, find_species, get_species

# Why less came in than the logs measure; the page of names knows it.
DEFECTS_OFF = "logs measured: defects taken off"
ROUND_FORMS = ("log", "round")
QUANTITY_KINDS = ("stacked_m3", "loose_m3", "solid_m3", "green_kg")
# Standard deviation of the oven-dry mass of a load, as a share, by how it was measured.
# Common practice, no source: a look at a truck is good to a fifth, scaled logs to a twentieth (`log_lists`).
ROUGH_SD_SHARE = 0.20
BARK_SD_SHARE = 0.30
# Logs on a truck lie in about this length; solid content changes little with it beyond 2 m.
TRUCK_LOG_LENGTH_M = 2.4


@dataclass(frozen=True, kw_only=True)
class Harvest:
    """Where the trees stood. Minnesota, for one, wants county and state on every ticket."""

    country: str
    subdivision: str = ""
    county: str = ""
    certificate: str = ""


def harvest_of(lot: Lot) -> Harvest:
    """The place of harvest that a lot stands for."""
    return Harvest(
        country=lot.country, subdivision=lot.subdivision, county=lot.county, certificate=lot.certificate
    )


@dataclass(frozen=True, kw_only=True)
class TakeInRough(Command):
    """A load by its outside volume, solid volume or green mass, with shares of species by volume.

    `quantity` is in the unit of `quantity_kind`; `typed` keeps the words as typed ("10 cords").
    `opening` marks wood that lay in the yard before the book began.
    """

    source: str
    harvest: Harvest
    arrived_on: date
    quantity: float
    quantity_kind: str = "stacked_m3"
    shares: tuple[tuple[str, float], ...]
    typed: str = ""
    paid_minor: int | None = None
    note: str = ""
    opening: bool = False


@dataclass(frozen=True, kw_only=True)
class TakeInLogs(Command):
    """A load whose logs were measured one by one; sweep and defects are reckoned with.

    `over_bark`: the diameters were over bark, and the species' own is taken off where a log tells none.
    """

    source: str
    harvest: Harvest
    arrived_on: date
    logs: tuple[LogRow, ...]
    over_bark: bool = False
    paid_minor: int | None = None
    note: str = ""


def take_in_rough(desk: Desk, command: TakeInRough) -> Answer:
    """Takes in a load by its whole quantity. Answer: load_id, number."""
    return do(desk, "take_in_rough", command, taking_in_rough(command))


def taking_in_rough(command: TakeInRough) -> Callable[[Stage], Answer]:
    """What taking in a load by its whole quantity does, for a deed that does more than that."""
    woods = _checked_rough(command)

    def run(stage: Stage) -> Answer:
        load = _new_load(
            stage,
            command.source,
            command.harvest,
            command.arrived_on,
            detail="opening" if command.opening else "rough",
            typed=command.typed,
            paid_minor=command.paid_minor,
            note=command.note,
            mass_sd_share=ROUGH_SD_SHARE,
        )
        moves: list[Move] = []
        for wood, solid_m3, taken in _solid_parts(command, woods):
            moves += _wood_and_bark(
                load,
                wood,
                solid_m3,
                quantity=taken,
                unit=command.quantity_kind,
                method=f"rough {command.quantity_kind}",
                sd_share=ROUGH_SD_SHARE,
            )
        return _take_in(stage, load, moves)

    return run


def take_in_logs(desk: Desk, command: TakeInLogs) -> Answer:
    """Takes in a load log by log. Answer: load_id, number."""
    return do(desk, "take_in_logs", command, taking_in_logs(command))


def taking_in_logs(command: TakeInLogs) -> Callable[[Stage], Answer]:
    """What taking in a load log by log does, for a deed that does more than that."""
    gauged = gauge_logs(command.logs, over_bark=command.over_bark)

    def run(stage: Stage) -> Answer:
        load = _new_load(
            stage,
            command.source,
            command.harvest,
            command.arrived_on,
            detail="logs",
            typed="",
            paid_minor=command.paid_minor,
            note=command.note,
            mass_sd_share=gauged.sd_share,
        )
        stage.session.execute(
            # With the columns that a row lacks: else each run of rows that lack the same is a statement of its own.
            insert(LogPiece).execution_options(render_nulls=True),
            [
                {
                    "yard_id": stage.yard.id,
                    "load_id": load.id,
                    "number": number,
                    "species_id": row.species_id,
                    "length_m": row.length_m,
                    "small_d_m": row.small_d_m,
                    "large_d_m": row.large_d_m,
                    "mid_d_m": row.mid_d_m,
                    "bark_thickness_m": row.bark_thickness_m,
                    "formula": net.gross.formula,
                    "volume_m3": net.net_m3,
                    "gross_m3": net.gross.volume_m3,
                    "sweep_m": row.sweep_m,
                    "defects": defects_as_json(row.defects),
                    "bark_by_species": by_species,
                }
                for number, (row, net, by_species) in enumerate(
                    zip(gauged.rows, gauged.nets, gauged.by_species, strict=True), start=1
                )
            ],
        )
        moves: list[Move] = []
        for species_id, solid_m3 in sorted(gauged.net_m3.items()):
            lost = gauged.gross_m3[species_id] - solid_m3
            moves += _wood_and_bark(
                load,
                get_species(species_id),
                solid_m3,
                quantity=solid_m3,
                unit="solid_m3",
                method=f"log formulas, less {lost:.3f} m³ lost" if lost > 0.0005 else "log formulas",
                sd_share=gauged.sd_share,
                bark_of_m3=gauged.gross_m3[species_id],
            )
        return _take_in(stage, load, moves, DEFECTS_OFF if gauged.lost_m3 else "")

    return run


def expect_rough(
    command: TakeInRough,
    *,
    piece_length_m: float = 0.406,
    mc_wet: float = 0.20,
    factor: YardFactor | None = None,
) -> Expectation:
    """What a rough load would give, before it is taken in. Writes nothing; the same arithmetic."""
    grams: dict[StockKey, int] = {}
    for wood, solid_m3, _ in _solid_parts(command, _checked_rough(command)):
        grams |= _grams_of(wood, solid_m3, lot_id=0)
    return expectation(grams, ROUGH_SD_SHARE, piece_length_m=piece_length_m, mc_wet=mc_wet, factor=factor)


def expect_logs(
    gauged: GaugedLogs,
    *,
    piece_length_m: float = 0.406,
    mc_wet: float = 0.20,
    factor: YardFactor | None = None,
) -> Expectation:
    """What measured logs would give, before they are taken in. Writes nothing; the same arithmetic."""
    grams: dict[StockKey, int] = {}
    for species_id, solid_m3 in gauged.net_m3.items():
        grams |= _grams_of(
            get_species(species_id), solid_m3, lot_id=0, bark_of_m3=gauged.gross_m3[species_id]
        )
    return expectation(grams, gauged.sd_share, piece_length_m=piece_length_m, mc_wet=mc_wet, factor=factor)


def load_spot(session: Session, load_id: int) -> int:
    """The spot on which a load lies."""
    load = session.get(Load, load_id)
    if load is None:
        raise unknown_load(load_id)
    return load.spot_id


def find_load(stage: Stage, load_id: int) -> Load:
    load = stage.session.get(Load, load_id)
    if load is None or load.yard_id != stage.yard.id:
        raise unknown_load(load_id)
    return load


def unknown_load(load_id: int) -> InputError:
    return InputError(
        "load",
        wanted=T_("a load of this yard"),
        got=load_id,
        next_move=T_("Choose it from the list of loads."),
        code="unknown_load",
    )


def _checked_rough(command: TakeInRough) -> list[tuple[Species, float]]:
    shares = shares_to_one("shares", command.shares)
    woods = [(find_species(name, field="shares"), share) for name, share in shares]
    if len({wood.id for wood, _ in woods}) != len(woods):
        shares_to_one("shares", tuple((wood.id, share) for wood, share in woods))
    one_of("quantity_kind", command.quantity_kind, QUANTITY_KINDS)
    bounds = LOAD_GREEN_KG if command.quantity_kind == "green_kg" else LOAD_OUTSIDE_M3
    within("quantity", command.quantity, bounds, "kg" if command.quantity_kind == "green_kg" else "m³")
    return woods


def _grams_of(
    wood: Species, solid_m3: float, *, lot_id: int, bark_of_m3: float | None = None
) -> dict[StockKey, int]:
    """Oven-dry grams of so much solid wood inside bark, and of its bark: a hollow log has that of a whole one."""
    stem = max(1, round(1000 * solid_m3 * wood.basic_density_kg_m3))
    within_bark = solid_m3 if bark_of_m3 is None else bark_of_m3
    bark = round(1000 * within_bark * wood.bark_volume_ratio * wood.bark_basic_density_kg_m3)
    parts = {StockKey(wood.id, "log", lot_id): stem}
    return parts | {StockKey(wood.id, "bark", lot_id): bark} if bark > 0 else parts


def _solid_parts(
    command: TakeInRough, woods: list[tuple[Species, float]]
) -> list[tuple[Species, float, float]]:
    """(species, solid m³ inside bark, its part of the quantity as taken) for a rough load."""
    if command.quantity_kind == "green_kg":
        # Shares are by volume; the common volume is found from the green mass of one solid m³ of the mix.
        per_m3 = sum(share * _green_kg_per_solid_m3(wood) for wood, share in woods)
        solid = command.quantity / per_m3
    elif command.quantity_kind == "solid_m3":
        solid = command.quantity
    else:
        piled = "ranked" if command.quantity_kind == "stacked_m3" else "loose"
        solid = command.quantity * solid_share(piled, "log", TRUCK_LOG_LENGTH_M).mid
    return [(wood, solid * share, command.quantity * share) for wood, share in woods]


def _green_kg_per_solid_m3(wood: Species) -> float:
    stem = wood.basic_density_kg_m3 * (1 + wood.green_mc_db)
    bark = wood.bark_volume_ratio * wood.bark_basic_density_kg_m3 * (1 + wood.bark_green_mc_db)
    return stem + bark


def _wood_and_bark(
    load: Load,
    wood: Species,
    solid_m3: float,
    *,
    quantity: float,
    unit: str,
    method: str,
    sd_share: float,
    bark_of_m3: float | None = None,
) -> list[Move]:
    within_bark = solid_m3 if bark_of_m3 is None else bark_of_m3
    moves = []
    for key, grams in _grams_of(wood, solid_m3, lot_id=load.lot_id, bark_of_m3=within_bark).items():
        bark = key.form == "bark"
        moves.append(
            Move(
                load.spot_id,
                wood.id,
                key.form,
                key.lot_id,
                grams,
                quantity=within_bark * wood.bark_volume_ratio if bark else quantity,
                unit="solid_m3" if bark else unit,
                method="bark ratio of the species" if bark else method,
                sd_share=BARK_SD_SHARE if bark else sd_share,
                basic_density_kg_m3=wood.bark_basic_density_kg_m3 if bark else wood.basic_density_kg_m3,
            )
        )
    return moves


def _take_in(stage: Stage, load: Load, moves: list[Move], reason: str = "") -> Answer:
    outside = yard_spot(stage.session, stage.yard.id, "outside")
    moves += [Move(outside, move.species_id, move.form, move.lot_id, -move.mass_g) for move in moves]
    post(
        stage.session,
        stage.yard.id,
        kind="opening" if load.detail == "opening" else "take_in",
        happened_at=noon_utc(stage.yard, load.arrived_on),
        recorded_at=stage.recorded_at,
        moves=moves,
        reason=reason,
        deed_id=stage.deed.id,
    )
    return {"load_id": load.id, "number": load.number}


def _new_load(
    stage: Stage,
    source: str,
    harvest: Harvest,
    arrived_on: date,
    *,
    detail: str,
    typed: str,
    paid_minor: int | None,
    note: str,
    mass_sd_share: float,
) -> Load:
    arrived_on = stage.day_said(arrived_on)
    day_between("arrived_on", arrived_on, EARLIEST, stage.last_day)
    if paid_minor is not None:
        within("paid", paid_minor / 100, (-1e6, 1e6), stage.yard.currency)
    lot = new_lot(stage, harvest)
    spot = Spot(yard_id=stage.yard.id, kind="load")
    stage.session.add(spot)
    stage.session.flush()
    load = Load(
        yard_id=stage.yard.id,
        number=next_number(stage.session, stage.yard.id, "load"),
        spot_id=spot.id,
        lot_id=lot.id,
        source=some_text("source", source, 120),
        arrived_on=arrived_on,
        detail=detail,
        typed=some_text("quantity", typed, 200, needed=False),
        mass_sd_share=mass_sd_share,
        paid_minor=paid_minor,
        note=some_text("note", note, 500, needed=False),
    )
    stage.session.add(load)
    stage.session.flush()
    return load


def new_lot(stage: Stage, harvest: Harvest) -> Lot:
    """The lot of this place of harvest and certificate; one row however often it comes."""
    facts = {
        "country": some_text("country", harvest.country, 2).upper(),
        "subdivision": some_text("subdivision", harvest.subdivision, 8, needed=False).upper(),
        "county": some_text("county", harvest.county, 80, needed=False),
        "certificate": some_text("certificate", harvest.certificate, 80, needed=False),
    }
    known = stage.session.scalar(select(Lot).filter_by(yard_id=stage.yard.id, **facts))
    if known is not None:
        return known
    lot = Lot(yard_id=stage.yard.id, **facts)
    stage.session.add(lot)
    stage.session.flush()
    return lot
