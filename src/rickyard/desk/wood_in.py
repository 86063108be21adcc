"""Wood in: loads as they come, from "ten cords, maple and birch" to every log measured."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import ScalarSelect, func, select
from sqlalchemy.orm import Session

from rickyard.book import Move, StockKey, next_number, post, stock, stock_by_spot
from rickyard.book.models import Entry, Load, LogPiece, Lot, Posting, Spot
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
from rickyard.desk.paging import after_row, contains, is_number
from rickyard.desk.spots import yard_spot
from rickyard.errors import InputError
from rickyard.measure import LogRow, LogVolume, log_volume, solid_share
from rickyard.text import T_
from rickyard.wood import Species, find_species, get_species

ROUND_FORMS = ("log", "round")
QUANTITY_KINDS = ("stacked_m3", "loose_m3", "solid_m3", "green_kg")
# Standard deviation of the oven-dry mass of a load, as a share, by how it was measured.
# Common practice, no source: a look at a truck is good to a fifth, scaled logs to a twentieth;
# the species' own spread in density is added where the mass is made.
ROUGH_SD_SHARE = 0.20
LOGS_SD_SHARE = 0.05
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
    """A load whose logs were measured one by one."""

    source: str
    harvest: Harvest
    arrived_on: date
    logs: tuple[LogRow, ...]
    paid_minor: int | None = None
    note: str = ""


@dataclass(frozen=True)
class LoadRow:
    """One line of the list of loads."""

    id: int
    number: int
    source: str
    arrived_on: date
    detail: str
    typed: str
    shares: tuple[tuple[Species, float], ...]
    left_share: float
    left_kg: float


@dataclass(frozen=True)
class LogLine:
    number: int
    species: Species
    length_m: float
    small_d_m: float | None
    large_d_m: float | None
    mid_d_m: float | None
    bark_thickness_m: float
    formula: str
    volume_m3: float


@dataclass(frozen=True)
class LoadPage:
    row: LoadRow
    harvest: Harvest
    note: str
    paid_minor: int | None
    logs: tuple[LogLine, ...]
    as_arrived: Expectation
    left: Expectation


def take_in_rough(desk: Desk, command: TakeInRough) -> Answer:
    """Takes in a load by its whole quantity. Answer: load_id, number."""
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

    return do(desk, "take_in_rough", command, run)


def take_in_logs(desk: Desk, command: TakeInLogs) -> Answer:
    """Takes in a load log by log. Answer: load_id, number."""
    measured_logs = _measured(command.logs)

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
            mass_sd_share=LOGS_SD_SHARE,
        )
        volume_by_species: dict[str, float] = defaultdict(float)
        for number, (row, measured) in enumerate(zip(command.logs, measured_logs, strict=True), start=1):
            stage.session.add(
                LogPiece(
                    yard_id=stage.yard.id,
                    load_id=load.id,
                    number=number,
                    species_id=row.species_id,
                    length_m=row.length_m,
                    small_d_m=row.small_d_m,
                    large_d_m=row.large_d_m,
                    mid_d_m=row.mid_d_m,
                    bark_thickness_m=row.bark_thickness_m,
                    formula=measured.formula,
                    volume_m3=measured.volume_m3,
                )
            )
            volume_by_species[row.species_id] += measured.volume_m3
        moves: list[Move] = []
        for species_id, solid_m3 in sorted(volume_by_species.items()):
            moves += _wood_and_bark(
                load,
                get_species(species_id),
                solid_m3,
                quantity=solid_m3,
                unit="solid_m3",
                method="log formulas",
                sd_share=LOGS_SD_SHARE,
            )
        return _take_in(stage, load, moves)

    return do(desk, "take_in_logs", command, run)


def expect_rough(command: TakeInRough, *, piece_length_m: float = 0.406, mc_wet: float = 0.20) -> Expectation:
    """What a rough load would give, before it is taken in. Writes nothing; the same arithmetic."""
    grams: dict[StockKey, int] = {}
    for wood, solid_m3, _ in _solid_parts(command, _checked_rough(command)):
        grams |= _grams_of(wood, solid_m3, lot_id=0)
    return expectation(grams, ROUGH_SD_SHARE, piece_length_m=piece_length_m, mc_wet=mc_wet)


def expect_logs(
    logs: tuple[LogRow, ...], *, piece_length_m: float = 0.406, mc_wet: float = 0.20
) -> Expectation:
    """What measured logs would give, before they are taken in. Writes nothing; the same arithmetic."""
    volumes: dict[str, float] = defaultdict(float)
    for row, measured in zip(logs, _measured(logs), strict=True):
        volumes[row.species_id] += measured.volume_m3
    grams: dict[StockKey, int] = {}
    for species_id, solid_m3 in volumes.items():
        grams |= _grams_of(get_species(species_id), solid_m3, lot_id=0)
    return expectation(grams, LOGS_SD_SHARE, piece_length_m=piece_length_m, mc_wet=mc_wet)


def loads(
    desk: Desk,
    *,
    with_wood_only: bool = False,
    search: str = "",
    before: int | None = None,
    limit: int | None = None,
) -> list[LoadRow]:
    """All loads, newest first; those after the load `before` in that order, at most `limit`, if said.

    `search` is part of the source, of what was typed as the quantity or of the note, or the load's number.
    """
    with desk.book.read() as session:
        query = select(Load).where(Load.yard_id == desk.yard_id)
        if with_wood_only:
            query = query.where(_wood_left() > 0)
        if search.strip():
            found = contains(search, Load.source, Load.typed, Load.note)
            number = search.strip()
            query = query.where(found | (Load.number == int(number)) if is_number(number) else found)
        query = after_row(query, Load, before, Load.arrived_on, Load.id, descending=True).limit(limit)
        page = session.scalars(query).all()
        spots = [load.spot_id for load in page]
        held = stock_by_spot(session, desk.yard_id, spots=spots)
        came = _came_in(session, desk.yard_id, spots)
        rows = [_row(load, held.get(load.spot_id, {}), came.get(load.spot_id, {})) for load in page]
    return [row for row in rows if row.left_share > 0.001] if with_wood_only else rows


def count_loads(desk: Desk) -> int:
    with desk.book.read() as session:
        query = select(func.count()).select_from(Load).where(Load.yard_id == desk.yard_id)
        return session.scalar(query) or 0


def sources(desk: Desk, most: int = 20) -> list[str]:
    """Where wood came from, the last first, each once."""
    with desk.book.read() as session:
        last = func.max(Load.arrived_on)
        query = select(Load.source).where(Load.yard_id == desk.yard_id).group_by(Load.source)
        return list(session.scalars(query.order_by(last.desc(), func.max(Load.id).desc()).limit(most)))


def _wood_left() -> ScalarSelect[int]:
    """Grams of wood without bark that a load of the query still holds."""
    left = select(func.sum(Posting.mass_g)).where(Posting.spot_id == Load.spot_id, Posting.form != "bark")
    return left.correlate(Load).scalar_subquery()


def load_page(desk: Desk, load_id: int, *, piece_length_m: float = 0.406, mc_wet: float = 0.20) -> LoadPage:
    """A load with what it was, what is left, and what to expect of it split at a piece length."""
    with desk.book.read() as session:
        load = session.get(Load, load_id)
        if load is None or load.yard_id != desk.yard_id:
            raise unknown_load(load_id)
        left = stock(session, load.spot_id)
        came = _came_in(session, desk.yard_id, (load.spot_id,)).get(load.spot_id, {})
        return LoadPage(
            row=_row(load, left, came),
            harvest=Harvest(
                country=load.lot.country,
                subdivision=load.lot.subdivision,
                county=load.lot.county,
                certificate=load.lot.certificate,
            ),
            note=load.note,
            paid_minor=load.paid_minor,
            logs=tuple(
                LogLine(
                    log.number,
                    get_species(log.species_id),
                    log.length_m,
                    log.small_d_m,
                    log.large_d_m,
                    log.mid_d_m,
                    log.bark_thickness_m,
                    log.formula,
                    log.volume_m3,
                )
                for log in load.logs
            ),
            as_arrived=expectation(came, load.mass_sd_share, piece_length_m=piece_length_m, mc_wet=mc_wet),
            left=expectation(left, load.mass_sd_share, piece_length_m=piece_length_m, mc_wet=mc_wet),
        )


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


def _measured(logs: tuple[LogRow, ...]) -> list[LogVolume]:
    if not logs:
        raise InputError(
            "logs",
            wanted=T_("at least one log"),
            got=T_("none"),
            next_move=T_("Type, paste or upload the logs."),
        )
    for number, row in enumerate(logs, start=1):
        if row.defects or row.sweep_m:
            raise InputError(
                "logs",
                wanted=T_("logs without defects and sweep, which the book cannot take off yet"),
                got=T_("log {number} with defects or sweep", number=number),
                next_move=T_("Give the size of its sound wood, and leave defects and sweep out."),
            )
    return [
        log_volume(
            row.length_m,
            mid_d_m=row.mid_d_m,
            small_d_m=row.small_d_m,
            large_d_m=row.large_d_m,
            bark_thickness_m=row.bark_thickness_m,
        )
        for row in logs
    ]


def _grams_of(wood: Species, solid_m3: float, *, lot_id: int) -> dict[StockKey, int]:
    """Oven-dry grams of so much solid wood inside bark, and of the bark that goes with it."""
    stem = max(1, round(1000 * solid_m3 * wood.basic_density_kg_m3))
    bark = round(1000 * solid_m3 * wood.bark_volume_ratio * wood.bark_basic_density_kg_m3)
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
    load: Load, wood: Species, solid_m3: float, *, quantity: float, unit: str, method: str, sd_share: float
) -> list[Move]:
    moves = []
    for key, grams in _grams_of(wood, solid_m3, lot_id=load.lot_id).items():
        bark = key.form == "bark"
        moves.append(
            Move(
                load.spot_id,
                wood.id,
                key.form,
                key.lot_id,
                grams,
                quantity=solid_m3 * wood.bark_volume_ratio if bark else quantity,
                unit="solid_m3" if bark else unit,
                method="bark ratio of the species" if bark else method,
                sd_share=BARK_SD_SHARE if bark else sd_share,
                basic_density_kg_m3=wood.bark_basic_density_kg_m3 if bark else wood.basic_density_kg_m3,
            )
        )
    return moves


def _take_in(stage: Stage, load: Load, moves: list[Move]) -> Answer:
    outside = yard_spot(stage.session, stage.yard.id, "outside")
    moves += [Move(outside, move.species_id, move.form, move.lot_id, -move.mass_g) for move in moves]
    post(
        stage.session,
        stage.yard.id,
        kind="opening" if load.detail == "opening" else "take_in",
        happened_at=noon_utc(stage.yard, load.arrived_on),
        recorded_at=stage.recorded_at,
        moves=moves,
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


def _came_in(session: Session, yard_id: int, spots: Sequence[int]) -> dict[int, dict[StockKey, int]]:
    """What each load (by its spot) held once it had come in and been named: all that was posted, but not what went."""
    rows = session.execute(
        select(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id, func.sum(Posting.mass_g))
        .join(Entry, Posting.entry_id == Entry.id)
        .join(Load, Load.spot_id == Posting.spot_id)
        .where(
            Load.yard_id == yard_id,
            Posting.spot_id.in_(spots),
            Entry.kind.in_(("opening", "take_in", "name", "reverse")),
        )
        .group_by(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id)
    )
    came: dict[int, dict[StockKey, int]] = defaultdict(dict)
    for spot_id, species_id, form, lot_id, grams in rows:
        if grams:
            came[spot_id][StockKey(species_id, form, lot_id)] = int(grams)
    return came


def _row(load: Load, held: dict[StockKey, int], came: dict[StockKey, int]) -> LoadRow:
    wood: dict[str, int] = defaultdict(int)
    for key, grams in came.items():
        if key.form != "bark":
            wood[key.species_id] += grams
    total = sum(wood.values())
    left = sum(grams for key, grams in held.items() if key.form != "bark")
    return LoadRow(
        id=load.id,
        number=load.number,
        source=load.source,
        arrived_on=load.arrived_on,
        detail=load.detail,
        typed=load.typed,
        shares=tuple(
            (get_species(species_id), grams / total)
            for species_id, grams in sorted(wood.items(), key=lambda item: -item[1])
            if grams > 0
        ),
        left_share=left / total if total else 0.0,
        left_kg=left / 1000,
    )
