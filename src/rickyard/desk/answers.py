"""Questions that take seconds: what if, the inside of a piece, how thick and how late, the drying calendar.

A question is a frozen dataclass of plain values that knows its own `key`; `answer()` is pure, so another process
can work it out. Nothing of this is kept in the book: the same question has the same answer.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any, Protocol

import numpy as np

from rickyard import season, weather
from rickyard.book import stock
from rickyard.desk.context import Desk
from rickyard.desk.forecast_inputs import ForecastInputs, readings_for
from rickyard.desk.forecasts import StackOutlook, wanted
from rickyard.desk.loads import load_page
from rickyard.desk.stacks import StackCard
from rickyard.desk.wood_in import TRUCK_LOG_LENGTH_M, load_spot
from rickyard.season.backwards import EARLIEST_DAYS
from rickyard.season.calendar import DAYS as CALENDAR_DAYS
from rickyard.season.calendar import MEMBERS as CALENDAR_MEMBERS
from rickyard.season.calendar import YEAR as CALENDAR_YEAR
from rickyard.season.screening import MEMBERS, screening_model
from rickyard.season.section import MEMBERS as SECTION_MEMBERS

# How far beyond the day asked for, or today, comparisons look.
AHEAD_DAYS = 400
CALENDAR_DEFAULT_LENGTH_M = 0.41
# The mean log of a load that nobody measured log by log, and how deep a pile of logs lies; assumed.
LOG_DIAMETER_M, LOG_PILE_ROWS = 0.25, 3


class Question(Protocol):
    """Something that takes seconds to answer. `patient` ones wait behind the others."""

    @property
    def key(self) -> str: ...

    @property
    def patient(self) -> bool: ...

    def answer(self) -> Any: ...


@dataclass(frozen=True)
class _Asked:
    """What all questions share: a key made of the kind and every value."""

    @property
    def key(self) -> str:
        plain = json.dumps([type(self).__name__, self.__dict__], sort_keys=True, default=str)
        return hashlib.sha256(f"{season.MODEL_VERSION}{plain}".encode()).hexdigest()

    @property
    def patient(self) -> bool:
        return False


@dataclass(frozen=True)
class StackWhatIf(_Asked):
    """What can still be done to a stack that stands, as of a day."""

    inputs: ForecastInputs
    today: date
    by: date | None = None

    def answer(self) -> season.WhatIf:
        inputs = self.inputs
        first: date = inputs.pieces["stacked_on"]
        until = max(first, self.today, self.by or self.today) + timedelta(days=AHEAD_DAYS)
        air = _air(inputs, first, until, MEMBERS)
        parts = [(share, _pieces(inputs, species_id)) for species_id, share in inputs.shares]
        return season.what_if(
            parts,
            season.usual_changes(parts[0][1], standing=True),
            air,
            target_mc_wet=inputs.target_mc_wet,
            until=until,
            by=self.by,
            today=max(first, self.today),
            readings=[readings_for(inputs, species_id) for species_id, _ in inputs.shares],
            members=MEMBERS,
            seed=inputs.seed,
            stack_key=str(inputs.stack_id),
            more=_more(inputs),
        )


@dataclass(frozen=True)
class StackSections(_Asked):
    """The inside of the typical piece of a stack's slowest (or only) species, on several days."""

    inputs: ForecastInputs
    species_id: str
    days: tuple[date, ...]

    def answer(self) -> season.Sections:
        inputs = self.inputs
        first: date = inputs.pieces["stacked_on"]
        readings = readings_for(inputs, self.species_id)
        last = max(*self.days, first + timedelta(days=1), *(reading.on for reading in readings))
        air = _air(inputs, first, last, SECTION_MEMBERS)
        return season.sections(
            _pieces(inputs, self.species_id),
            air,
            self.days,
            seed=inputs.seed,
            readings=readings,
            stack_key=str(inputs.stack_id),
            more=_more(inputs),
        )


@dataclass(frozen=True)
class Plan(_Asked):
    """Wood not stacked yet: what if it were stacked otherwise, and how thick and how late at most."""

    place: str
    seed: int
    pieces: season.Pieces
    target_mc_wet: float
    by: date
    odds: float
    today: date

    def answer(self) -> tuple[season.WhatIf, season.Backwards]:
        place = weather.find_place(self.place)
        changes = season.usual_changes(self.pieces, standing=False, not_before=self.today)
        first = min([self.pieces.stacked_on, *(change.of(self.pieces).stacked_on for change in changes)])
        until = max(self.by, self.pieces.stacked_on) + timedelta(days=AHEAD_DAYS)
        start = min(first, self.by - timedelta(days=EARLIEST_DAYS))
        air = weather.generate_air(place, start, (until - start).days + 1, members=MEMBERS, seed=self.seed)
        changed = season.what_if(
            [(1.0, self.pieces)],
            changes,
            air,
            target_mc_wet=self.target_mc_wet,
            until=until,
            by=self.by,
            members=MEMBERS,
            seed=self.seed,
        )
        limits = season.backwards(
            self.pieces,
            air,
            by=self.by,
            odds=self.odds,
            target_mc_wet=self.target_mc_wet,
            members=MEMBERS,
            seed=self.seed,
        )
        return changed, limits


@dataclass(frozen=True)
class LogPile:
    """Logs as they lie: moisture of total mass on a day, and the days on which they are dry if nobody cuts them.

    Each of the threes is the 10th, 50th and 90th percentile of the members; no day: not by `horizon`.
    """

    on: date
    mc_wet: tuple[float, float, float]
    ready: tuple[date | None, date | None, date | None]
    horizon: date
    model: str
    members: int


@dataclass(frozen=True)
class LogsLying(_Asked):
    """The logs of a load that are not cut yet, in an open pile on the ground since they came."""

    place: str
    seed: int
    shares: tuple[tuple[str, float], ...]
    length_m: float
    diameter_m: float
    #: Whether the size is that of measured logs.
    measured: bool
    since: date
    today: date
    target_mc_wet: float

    def answer(self) -> LogPile:
        today = max(self.today, self.since)
        until = today + timedelta(days=AHEAD_DAYS)
        days = (until - self.since).days + 1
        air = weather.generate_air(
            weather.find_place(self.place), self.since, days, members=MEMBERS, seed=self.seed
        )
        parts = []
        for species_id, share in self.shares:
            pieces = season.Pieces(
                species_id=species_id,
                form="log",
                length_m=self.length_m,
                thickness_m=self.diameter_m,
                cover="none",
                rows=LOG_PILE_ROWS,
                ground="soil",
                stacked_on=self.since,
            )
            path = season.forecast(
                pieces,
                air,
                members=MEMBERS,
                seed=self.seed,
                until=until,
                model=screening_model(),
                layers=False,
            )
            parts.append((share, path))
        whole = season.mix(parts)
        ready = whole.ready(self.target_mc_wet)
        day = whole.dates.index(today)
        now = (float(whole.p10[day]), float(whole.p50[day]), float(whole.p90[day]))
        return LogPile(today, now, (ready.p10, ready.p50, ready.p90), until, screening_model().name, MEMBERS)


@dataclass(frozen=True)
class CalendarLine(_Asked):
    """One species and thickness of a place's drying calendar."""

    place: str
    seed: int
    species_id: str
    thickness_m: float
    length_m: float = CALENDAR_DEFAULT_LENGTH_M
    cover: str = "top"
    target_mc_wet: float = 0.20

    @property
    def patient(self) -> bool:
        return True

    def answer(self) -> season.CalendarRow:
        pieces = season.Pieces(
            species_id=self.species_id,
            form="split",
            length_m=self.length_m,
            thickness_m=self.thickness_m,
            cover=self.cover,
        )
        return season.calendar_row(
            pieces,
            _calendar_air(self.place, self.seed),
            target_mc_wet=self.target_mc_wet,
            members=CALENDAR_MEMBERS,
            seed=self.seed,
        )


@dataclass(frozen=True)
class HurriedLine(CalendarLine):
    """The same line, asked for by somebody who looks at it: it goes before patient ones, under the same key."""

    @property
    def key(self) -> str:
        return CalendarLine(**self.__dict__).key

    @property
    def patient(self) -> bool:
        return False


@lru_cache(maxsize=2)
def _calendar_air(place: str, seed: int) -> weather.HourlyAir:
    """The weather of a calendar, made once for all its lines."""
    return weather.generate_air(
        weather.find_place(place),
        date(CALENDAR_YEAR, 1, 1),
        CALENDAR_DAYS,
        members=CALENDAR_MEMBERS,
        seed=seed,
    )


def stack_questions(
    desk: Desk, stack_id: int, look: StackOutlook, *, by: date | None = None
) -> tuple[StackWhatIf, StackSections] | None:
    """The questions of a stack; None if it stands no more, or the book does not say what wood stands in it."""
    inputs = next((inputs for inputs, _ in wanted(desk) if inputs.stack_id == stack_id), None)
    if inputs is None:
        return None
    today = desk.today()
    slowest = look.slowest.id if look.slowest is not None else inputs.shares[0][0]
    if slowest not in {species_id for species_id, _ in inputs.shares}:
        slowest = inputs.shares[0][0]
    first: date = inputs.pieces["stacked_on"]
    days = season.section_days(first, today, look.ready_p90, inputs.until)
    return StackWhatIf(inputs, today, by), StackSections(inputs, slowest, tuple(days))


def logs_question(desk: Desk, load_id: int) -> LogsLying | None:
    """The question of a load's logs; None when all are cut."""
    page = load_page(desk, load_id)
    with desk.book.read() as session:
        yard = desk.yard(session)
        place, seed, target = yard.climate_place, yard.seed, yard.target_mc_wet
        lying: dict[str, int] = {}
        for key, grams in stock(session, load_spot(session, load_id)).items():
            if key.form == "log" and grams > 0:
                lying[key.species_id] = lying.get(key.species_id, 0) + grams
    if not lying:
        return None
    whole = sum(lying.values())
    diameters = [
        (log.volume_m3, np.mean([d for d in (log.small_d_m, log.mid_d_m, log.large_d_m) if d is not None]))
        for log in page.logs
    ]
    volume = sum(part for part, _ in diameters)
    diameter = sum(part * float(d) for part, d in diameters) / volume if volume else LOG_DIAMETER_M
    length = sum(log.volume_m3 * log.length_m for log in page.logs) / volume if volume else TRUCK_LOG_LENGTH_M
    return LogsLying(
        place,
        seed,
        tuple((species_id, grams / whole) for species_id, grams in sorted(lying.items())),
        length_m=round(length, 2),
        diameter_m=round(diameter, 3),
        measured=bool(volume),
        since=page.row.arrived_on,
        today=desk.today(),
        target_mc_wet=target,
    )


def plan_of(desk: Desk, pieces: season.Pieces, *, by: date, odds: float) -> Plan:
    """The question of wood that is not stacked yet, at the yard's place and for its idea of dry."""
    with desk.book.read() as session:
        yard = desk.yard(session)
        return Plan(yard.climate_place, yard.seed, pieces, yard.target_mc_wet, by, odds, desk.today())


def calendar_line(desk: Desk, species_id: str, thickness_m: float, *, cover: str) -> CalendarLine:
    """One line of the calendar of the yard's place."""
    with desk.book.read() as session:
        yard = desk.yard(session)
        return CalendarLine(
            yard.climate_place,
            yard.seed,
            species_id,
            round(thickness_m, 4),
            cover=cover,
            target_mc_wet=yard.target_mc_wet,
        )


def keeping_of(place: str, card: StackCard, look: StackOutlook) -> season.Keeping | None:
    """How a stack keeps, by its least lasting wood; None while there is no forecast."""
    if not look.known or not card.shares:
        return None
    normals = weather.normals_at(weather.find_place(place))
    median = np.median(look.mc_db.astype(np.float64), axis=1)
    kept = [
        season.keeping(species, normals, cover=card.cover, dates=look.dates, mc_db=median)
        for species, share in card.shares
        if share >= 0.10
    ]
    return max(kept, key=lambda one: one.per_year.mid)


def yard_species(cards: Sequence[StackCard], most: int = 4) -> list[str]:
    """Ids of the species that stand in the yard, the most common first."""
    mass: dict[str, float] = {}
    for card in cards:
        for species, share in card.shares:
            if species.rank == "species":
                mass[species.id] = mass.get(species.id, 0.0) + share * card.oven_dry_kg
    return sorted(mass, key=lambda id_: -mass[id_])[:most]


def _air(inputs: ForecastInputs, first: date, last: date, members: int) -> weather.HourlyAir:
    """The same weather as the stack's forecast has: what was observed and forecast, where the yard knows it."""
    sky = inputs.sky or weather.Sky(weather.find_place(inputs.place))
    days = (last - first).days + 1
    return weather.air_for(sky, first, days, members=members, seed=inputs.seed)


def _more(inputs: ForecastInputs) -> dict[str, Any]:
    """What else the stack's forecast is made from: its row, and what other stacks' readings taught."""
    return {"row": inputs.row, "lessons": inputs.lessons, "teach": False}


def _pieces(inputs: ForecastInputs, species_id: str) -> season.Pieces:
    return season.Pieces(species_id=species_id, **inputs.pieces)
