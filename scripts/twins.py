"""Twin experiments: stacks of a second world (scripts/truth), forecast by `season` from what a yard would know.

The forecast is given the species, the thickness as its owner says it, the place, the day of stacking, weather made
from normals, and readings; never the real hours that the stacks dried in, nor what was drawn for them.
`python scripts/twins.py --write` runs everything and writes tests/season/data/twins*.csv, which the accuracy page
shows; without `--write` it prints a summary. A full run took an hour of one core;
`--stacks 8 --settings 1 --members 32`, which the kept files were made with, ten minutes.
Nothing in `season` may be tuned on what comes out.
"""

from __future__ import annotations

import argparse
import csv
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date, timedelta
from functools import cache, cached_property
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from truth import hours, worlds
from truth.wedge import Grid
from twins_cases import CaseRow, against_cases

from rickyard import season, weather

DATA = Path(__file__).resolve().parent.parent / "tests" / "season" / "data"
TARGET_WET, TARGET_DB = 0.20, 0.25
HORIZON_DAYS, HORIZON_OAK_DAYS = 400, 540
THREE_WEEKS = 21
YEAR = 2025  # of the forecast; plain, and no year of the files
#: Days on which moistures are compared.
MARKS = (60, 120, 180)
#: What is measured: an oven sample on the day of stacking, and days of weighing.
SCHEDULES: dict[str, tuple[bool, tuple[int, ...]]] = {
    "nothing": (False, ()),
    "oven": (True, ()),
    "oven+30": (True, (30,)),
    "oven+30+60": (True, (30, 60)),
    "oven+30+60+90": (True, (30, 60, 90)),
}
#: Days on which the odds of two stacks are compared with what became of them.
JOINT_DAYS = tuple(range(30, HORIZON_OAK_DAYS + 1, 30))
WEIGHED = "oven+30"
#: Days among which weighings of oak are sought, how many at most, and times as many members as a forecast has.
SEARCH_DAYS, SEARCH_MOST, SEARCH_TIMES = (15, 30, 45, 60, 75, 90, 120), 4, 4
ENOUGH = 0.75
#: Of a mass ratio in the search: scale and choice of pieces. What `season` itself takes is in its readings.
SEARCH_RATIO_SD, SEARCH_START_SD_WET = 0.015, 0.02


#: Grid and step of the second world here; tests/season/test_second_world.py holds them to within about a point.
GRID = Grid(step_hours=6)


@dataclass(frozen=True)
class Plan:
    """What is run: stacks of each species and climate (a multiple of four), members, seed, and a part of it all."""

    stacks: int = 8
    members: int = 64
    seed: int = 1
    species: tuple[str, ...] = tuple(kind.id for kind in worlds.KINDS)
    climates: tuple[str, ...] = tuple(hours.CLIMATES)
    schedules: tuple[str, ...] = tuple(SCHEDULES)
    grid: Grid = GRID
    settings: int = 2  # of each climate
    search: bool = True
    cases: bool = True


@dataclass(frozen=True)
class Row:
    """One stack forecast after one schedule. Days since stacking, -1 beyond the horizon; moistures of total mass."""

    species: str
    climate: str
    stacked: str
    stack: int
    schedule: str
    horizon: int
    ready: int
    p10: int
    p50: int
    p90: int
    true_60: float
    p10_60: float
    p50_60: float
    p90_60: float
    true_120: float
    p10_120: float
    p50_120: float
    p90_120: float
    true_180: float
    p10_180: float
    p50_180: float
    p90_180: float

    @property
    def hit(self) -> bool:
        """Whether the middle date is within three weeks; never ready counts as hit when that was forecast."""
        if self.ready < 0 or self.p50 < 0:
            return self.ready == self.p50
        return abs(self.p50 - self.ready) <= THREE_WEEKS

    @property
    def inside(self) -> bool:
        """Whether the ready day lies in the 10 to 90 % band; beyond the horizon is later than every day."""
        ready, low, high = (10**6 if day < 0 else day for day in (self.ready, self.p10, self.p90))
        return low <= ready <= high


@dataclass(frozen=True)
class JointRow:
    """Odds that two stacks of a pair are dry by a day, and whether they were."""

    species: str
    climate: str
    stacked: str
    pair: int
    measured: str  # nothing, first, both
    day: int
    odds_a: float
    odds_b: float
    odds_both: float
    dry_a: int
    dry_b: int


@dataclass(frozen=True)
class OakRow:
    """A schedule of weighings of oak, beside an oven sample: share of dates within three weeks."""

    weighings: int
    days: str
    how: str  # searched, confirmed
    stacks: int
    hits: int


@dataclass(frozen=True)
class Found:
    rows: list[Row]
    joint: list[JointRow]
    oak: list[OakRow]
    cases: list[CaseRow]


def reading(kind: str, on: date, value: float, pieces: int) -> season.Reading:
    """A reading as the yard types it, with the number of pieces where that can be told."""
    return season.Reading(kind, on, value, pieces=pieces)


class Cell:
    """Stacks of one species in one setting, their forecasts, and what is common to them."""

    def __init__(self, plan: Plan, climate: str, setting: hours.Setting, stacks: worlds.Stacks) -> None:
        self.plan, self.kind, self.climate, self.stacks = plan, stacks.kind, climate, stacks
        self.start = date(YEAR, setting.month, setting.day)
        self.pairs = stacks.mean_db.shape[1] // 2
        self.longest = len(stacks.mean_db) - 1
        self.ready = self.stacks.ready_day(TARGET_DB)
        self.pieces = season.Pieces(
            self.kind.id, "split", worlds.LENGTH_M, self.kind.thickness_m, cover="top", stacked_on=self.start
        )
        self.place = weather.find_place(f"{setting.lat:g},{setting.lon:g},{setting.elev_m:g}")

    @cached_property
    def air(self) -> weather.HourlyAir:
        return _air(self.place, self.start, self.plan.members, self.plan.seed)

    @cached_property
    def unmeasured(self) -> list[season.Forecast]:
        """With nothing measured all stacks of one name are forecast alike."""
        return [self.told(name, ()) for name in ("a", "b")]

    @cached_property
    def horizon(self) -> int:
        """As far as the forecast is looked at: well beyond where nine in ten members are dry."""
        late = [made.ready(TARGET_WET).p90 for made in self.unmeasured]
        days = [self.longest if day is None else (day - self.start).days + 60 for day in late]
        return min(self.longest, max(MARKS[-1] + 20, *days))

    def told(
        self,
        name: str,
        readings: Sequence[season.Reading],
        *,
        days: int = 0,
        lessons: Sequence[season.Lesson] = (),
    ) -> season.Forecast:
        return season.forecast(
            self.pieces,
            self.air,
            members=self.plan.members,
            seed=self.plan.seed,
            readings=readings,
            until=self.start + timedelta(days=days or self.longest),
            stack_key=name,
            lessons=lessons,
            layers=False,
        )

    def readings(self, stack: int, oven: bool, days: Sequence[int]) -> list[season.Reading]:
        found = [reading("oven", self.start, self.stacks.oven(stack), 2)] if oven else []
        return found + [
            reading("weighed", self.start + timedelta(days=day), self.stacks.weighed(stack, day), 3)
            for day in days
        ]

    def row(self, stack: int, schedule: str, made: season.Forecast) -> Row:
        ready = made.ready(TARGET_WET)
        true = self.stacks.mean_db[:, stack]
        moistures: dict[str, float] = {}
        for day in MARKS:
            moistures[f"true_{day}"] = _4(true[day] / (1.0 + true[day]))
            for name, band in (("p10", made.p10), ("p50", made.p50), ("p90", made.p90)):
                moistures[f"{name}_{day}"] = _4(band[day])
        seen = int(self.ready[stack])
        return Row(
            species=self.kind.id,
            climate=self.climate,
            stacked=f"{self.start:%m-%d}",
            stack=stack,
            schedule=schedule,
            horizon=self.horizon,
            ready=seen if seen <= self.horizon else -1,
            p10=self._day(ready.p10),
            p50=self._day(ready.p50),
            p90=self._day(ready.p90),
            **moistures,
        )

    def _day(self, day: date | None) -> int:
        count = -1 if day is None else (day - self.start).days
        return count if count <= self.horizon else -1

    def run(self) -> tuple[list[Row], list[JointRow]]:
        rows: list[Row] = []
        joint: list[JointRow] = []
        for pair in range(self.pairs):
            made: list[dict[str, season.Forecast]] = [{}, {}]
            for side, name in enumerate(("a", "b")):
                stack = 2 * pair + side
                for schedule in self.plan.schedules:
                    oven, days = SCHEDULES[schedule]
                    readings = self.readings(stack, oven, days)
                    made[side][schedule] = (
                        self.told(name, readings, days=self.horizon) if readings else self.unmeasured[side]
                    )
                    rows.append(self.row(stack, schedule, made[side][schedule]))
            if {"nothing", WEIGHED} <= set(self.plan.schedules):
                joint += self.together(pair, made)
        return rows, joint

    def together(self, pair: int, made: list[dict[str, season.Forecast]]) -> Iterator[JointRow]:
        """Odds of the pair with nothing measured, the first measured, both measured."""
        first, second = made
        lesson = first[WEIGHED].lesson
        # What the first stack's readings teach of the second; too few members teach nothing.
        heard = (
            self.told("b", (), days=self.horizon, lessons=(lesson,))
            if lesson is not None
            else second["nothing"]
        )
        for measured, a, b in (
            ("nothing", first["nothing"], second["nothing"]),
            ("first", first[WEIGHED], heard),
            ("both", first[WEIGHED], second[WEIGHED]),
        ):
            dry = [np.logical_or.accumulate(which.below(TARGET_WET), axis=0) for which in (a, b)]
            for day in JOINT_DAYS:
                if day > self.horizon:
                    break
                seen = [bool(0 <= self.ready[2 * pair + side] <= day) for side in (0, 1)]
                yield JointRow(
                    species=self.kind.id,
                    climate=self.climate,
                    stacked=f"{self.start:%m-%d}",
                    pair=pair,
                    measured=measured,
                    day=day,
                    odds_a=_4(dry[0][day].mean()),
                    odds_b=_4(dry[1][day].mean()),
                    odds_both=_4((dry[0][day] & dry[1][day]).mean()),
                    dry_a=int(seen[0]),
                    dry_b=int(seen[1]),
                )


@cache
def _air(place: weather.Place, start: date, members: int, seed: int) -> weather.HourlyAir:
    return weather.generate_air(place, start, HORIZON_OAK_DAYS, members=members, seed=seed)


def run(plan: Plan, say: Any = None) -> Found:
    """Everything in the plan, in a fixed order."""
    found = Found([], [], [], [])
    oaks = []
    pairs = max(1, plan.stacks // 4)
    kinds = [kind for kind in worlds.KINDS if kind.id in plan.species]
    for climate in plan.climates:
        for setting in hours.CLIMATES[climate][: plan.settings]:
            quick = [(kind, plan.seed) for kind in kinds if not kind.oak]
            slow = [(kind, plan.seed) for kind in kinds if kind.oak]
            if plan.search:
                slow += [(kind, plan.seed + 1) for kind, _ in slow]
            made = []
            for wanted, days in ((quick, HORIZON_DAYS), (slow, HORIZON_OAK_DAYS)):
                made += worlds.grow(wanted, setting, pairs, days, plan.grid) if wanted else []
            cells = [Cell(plan, climate, setting, stacks) for stacks in made]
            for cell in cells[: len(kinds)]:
                rows, joint = cell.run()
                found.rows.extend(rows)
                found.joint.extend(joint)
                if say is not None:
                    used = time.process_time()
                    say(f"{cell.kind.name}, {climate}, {cell.start:%d %b}: {used:.0f} s of processor so far")
            if len(cells) > len(kinds):
                oaks.append((cells[-2], cells[-1]))
    if oaks:
        found.oak.extend(search(oaks))
    if plan.cases:
        found.cases.extend(against_cases(plan.grid))
    return found


# -- the cheapest schedule of oak ----------------------------------------------------------------------------


def search(oaks: Sequence[tuple[Cell, Cell]]) -> Iterator[OakRow]:
    """The best days for each number of weighings, and what the best cheap ones reach with the real thing.

    The search goes over hundreds of schedules with members weighted by what was measured (one ensemble of a place
    for all its stacks), on stacks that are used for nothing else. The cheapest schedule that reaches the goal there,
    or the best one if none does, and the next larger are then run on the other stacks by `season.forecast`.
    """
    hits: dict[tuple[int, ...], int] = {}
    count = 0
    for _, other in oaks:
        judge = _Judge(other)
        for stack in range(2 * other.pairs):
            count += 1
            for schedule in _schedules():
                hits[schedule] = hits.get(schedule, 0) + judge.hit(stack, schedule)
    best = []
    for size in range(1, SEARCH_MOST + 1):
        # Of equally good ones the one that ends first.
        days = min((s for s in hits if len(s) == size), key=lambda s: (-hits[s], s[-1], s))
        best.append(days)
        yield OakRow(size, _words(days), "searched", count, hits[days])
    enough = [days for days in best if hits[days] >= ENOUGH * count] or [
        max(best, key=lambda days: hits[days])
    ]
    at = best.index(enough[0])
    for days in best[at : at + 2]:
        rows = [
            cell.row(
                stack, "", cell.told("ab"[stack % 2], cell.readings(stack, True, days), days=cell.horizon)
            )
            for cell, _ in oaks
            for stack in range(2 * cell.pairs)
        ]
        yield OakRow(len(days), _words(days), "confirmed", len(rows), sum(row.hit for row in rows))


def _schedules() -> list[tuple[int, ...]]:
    return [s for size in range(1, SEARCH_MOST + 1) for s in combinations(SEARCH_DAYS, size)]


def _words(days: Sequence[int]) -> str:
    return "+".join(str(day) for day in days)


class _Judge:
    """Weighs the members of one large ensemble by what was measured of a stack."""

    def __init__(self, cell: Cell) -> None:
        self.cell = cell
        members = SEARCH_TIMES * cell.plan.members
        made = season.forecast(
            cell.pieces,
            _air(cell.place, cell.start, members, cell.plan.seed + 2),
            members=members,
            seed=cell.plan.seed + 2,
        )
        self.mc_db = made.mc_db.astype(np.float64)
        day = made.ready_day(TARGET_WET)
        self.ready = np.where(day < 0, 10**6, day)
        self.order = np.argsort(self.ready, kind="stable")

    def hit(self, stack: int, days: Sequence[int]) -> bool:
        start = self.mc_db[0]
        miss = (start / (1.0 + start) - self.cell.stacks.oven(stack)) / SEARCH_START_SD_WET
        log = -0.5 * miss**2
        for day in days:
            ratio = (1.0 + self.mc_db[day]) / (1.0 + start)
            log = log - 0.5 * ((ratio - self.cell.stacks.weighed(stack, day)) / SEARCH_RATIO_SD) ** 2
        weight: NDArray[np.float64] = np.exp(log - log.max())
        reached = np.cumsum(weight[self.order]) / weight.sum()
        due = int(self.ready[self.order][int(np.searchsorted(reached, 0.5))])
        seen = int(self.cell.ready[stack])
        if seen < 0 or due > self.cell.longest:
            return seen < 0 and due > self.cell.longest
        return abs(due - seen) <= THREE_WEEKS


# -- files ---------------------------------------------------------------------------------------------------

FILES: dict[str, tuple[str, type]] = {
    "rows": ("twins.csv", Row),
    "joint": ("twins_joint.csv", JointRow),
    "oak": ("twins_oak.csv", OakRow),
    "cases": ("twins_cases.csv", CaseRow),
}


def write(found: Found, plan: Plan) -> None:
    """Every row carries the model, the seed and the members it was made with."""
    head = {"model": season.MODEL_VERSION, "seed": plan.seed, "members": plan.members}
    for key, (name, made_of) in FILES.items():
        with (DATA / name).open("w", encoding="utf-8", newline="") as file:
            columns = [*head, *(field.name for field in fields(made_of))]
            writer = csv.DictWriter(file, columns, lineterminator="\n")
            writer.writeheader()
            writer.writerows(head | asdict(row) for row in getattr(found, key))


def read() -> tuple[Found, dict[str, str]]:
    """What was written, and the model, seed and members of it."""
    found: dict[str, list[Any]] = {}
    head: dict[str, str] = {}
    for key, (name, made_of) in FILES.items():
        with (DATA / name).open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        if key == "rows":
            head = {column: rows[0][column] for column in ("model", "seed", "members")}
        types = {
            field.name: {"int": int, "float": float, "str": str}[str(field.type)] for field in fields(made_of)
        }
        found[key] = [made_of(**{name: kind(row[name]) for name, kind in types.items()}) for row in rows]
    return Found(**found), head


def _4(value: Any) -> float:
    return round(float(value), 4)


def summary(found: Found) -> Iterator[str]:
    for species in dict.fromkeys(row.species for row in found.rows):
        for schedule in dict.fromkeys(row.schedule for row in found.rows):
            some = [row for row in found.rows if (row.species, row.schedule) == (species, schedule)]
            hits, inside = (sum(getattr(row, key) for row in some) for key in ("hit", "inside"))
            yield f"{species:<24}{schedule:<16}{hits:>3} of {len(some)} within 3 weeks, {inside} in the band"
    for row in found.oak:
        yield f"oak, oven and {row.days}: {row.how} {row.hits} of {row.stacks}"


def main(arguments: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="write tests/season/data/twins*.csv")
    parser.add_argument(
        "--stacks", type=int, default=Plan.stacks, help="of each species and climate; 4, 8, 12 ..."
    )
    parser.add_argument("--members", type=int, default=Plan.members)
    parser.add_argument("--seed", type=int, default=Plan.seed)
    parser.add_argument("--species", nargs="+", default=list(Plan.species), choices=Plan.species)
    parser.add_argument("--climates", nargs="+", default=list(Plan.climates), choices=Plan.climates)
    parser.add_argument("--settings", type=int, default=Plan.settings, choices=(1, 2), help="of each climate")
    parser.add_argument("--no-search", action="store_true", help="leave out the search of oak's schedules")
    parser.add_argument(
        "--no-cases", action="store_true", help="leave out the second world on the published cases"
    )
    given = parser.parse_args(arguments)
    plan = Plan(
        stacks=given.stacks,
        members=given.members,
        seed=given.seed,
        species=tuple(given.species),
        climates=tuple(given.climates),
        settings=given.settings,
        search=not given.no_search,
        cases=not given.no_cases,
    )
    found = run(plan, lambda text: print(text, file=sys.stderr, flush=True))
    for line in summary(found):
        print(line)
    if given.write:
        write(found, plan)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
