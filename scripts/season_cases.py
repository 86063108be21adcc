"""Runs the published drying cases through the drying model: for the fit and for the accuracy page.

A case is run with the sizes, start moisture and days of its row, and with the weather of its place's
monthly normals (never the actual year, so year-to-year weather is part of every error).
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rickyard import weather, wood
from rickyard.season.ensemble import PHI_OF_FORM
from rickyard.season.models import AirHours, DryingModel, FiniteVolumes, MemberConstants, PieceShape
from rickyard.season.physics import Physics, Surroundings, damp_hours, matter, surroundings, wet_hours, zoned
from rickyard.season.pieces import BOARD_WIDTH_M, ROUND_SIDE

DATA = Path(__file__).resolve().parent.parent / "tests" / "season" / "data"
SEED = 11
#: Weathers of a case, and step between the months of a whole year's case; a rough look takes fewer.
WEATHERS, MONTHS = 6, 1
NORMAL_YEAR = 2015

#: The cases' species by the id of our table; a genus where the species has no row.
SPECIES = {
    "Quercus sp.": "quercus",
    "Quercus rubra": "quercus_rubra",
    "Acer saccharum": "acer_saccharum",
    "Betula neoalaskana/kenaica": "betula_papyrifera",
    "Betula pubescens/pendula": "betula_pendula",
    "Pseudotsuga menziesii": "pseudotsuga_menziesii",
    "Picea abies": "picea_abies",
    "Pinus sylvestris": "pinus_sylvestris",
    "Alnus incana": "alnus",
    "Alnus glutinosa": "alnus_glutinosa",
    "Salix caprea": "salix",
    "Populus tremula": "populus_tremula",
    "Populus x euramericana": "populus",
    "Fagus sylvatica": "fagus_sylvatica",
    "Robinia pseudoacacia": "robinia_pseudoacacia",
    "Pinus radiata": "pinus",
    "Eucalyptus urophylla": "eucalyptus",
}
#: Where the places of the cases lie; heights only where the map's neighbours lie much higher or lower.
PLACES = {
    "KENAI": "60.56,-151.25,26",
    "LACROSSE": "43.87,-91.25,200",
    "PORTLAND": "45.5,-122.9,60",
    "AAS": "59.66,10.78,90",
    "TURIN": "45.0,7.6,240",
    "UPMICH": "46.3,-87.4,430",
}
#: The southern places borrow what normals from memory leave out (day-to-day scatter) from here.
SCATTER_FROM = "-37.7,144.9,100"
MEMORY = ("CANTERBURY", "SOUTHLAND", "BOTUCATU")
SUN_OPEN, WIND_OPEN = 0.05, 0.25
#: "Piles" of splits are taken to be three rows deep; every other stack one.
ROWS = {"MANZONE_2018": 3}
#: Pieces whose place in the stack is told. Of the sun every case takes in what a mean piece of a single row does.
LAYER = {"HEARTH_OR_DOUGFIR": "top"}
#: Covered by a sheet or boards on top; every other covered case stands under a roof.
TOP_COVER = ("VISSER_2014",)


@dataclass(frozen=True)
class Case:
    """One observation, ready to be run. Moistures in fractions; `start` is the first day."""

    id: str
    source: str
    grade: str
    form: str
    species_id: str
    shape: PieceShape
    start_db: float
    start: date
    day: int
    quantity: str
    observed: float
    low: float | None
    high: float | None
    used_for: str
    climate: str
    cover: str

    @property
    def calibrates(self) -> bool:
        return self.used_for.startswith("calibration")

    @property
    def key(self) -> tuple[object, ...]:
        """Cases with the same key are one run, looked at on several days."""
        return (
            self.id,
            self.form,
            self.species_id,
            self.shape,
            self.start_db,
            self.start,
            self.climate,
            self.cover,
        )


def _number(text: str) -> float | None:
    return float(text) if text else None


@cache
def all_cases() -> tuple[Case, ...]:
    """The rows that can be run: with a size, a start, a climate and a quantity the model gives."""
    found = []
    with (DATA / "cases.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            form = row["form"]
            runnable = (
                form in PHI_OF_FORM
                and row["thickness_m"]
                and row["length_m"]
                and row["mc0_db_pct"]
                and row["observed"]
                and (row["day"] or row["quantity"].startswith("days_to"))
                and row["latin"] in SPECIES
            )
            if not runnable:
                continue
            thickness, length = float(row["thickness_m"]), float(row["length_m"])
            width = _number(row["width_m"])
            bark = {"yes": True, "partly": True}.get(row["bark"], False)
            if form == "round":
                side = ROUND_SIDE * thickness
                shape = PieceShape(side, side, length, 4 if bark else 0)
            elif form == "board":
                shape = PieceShape(thickness, width or BOARD_WIDTH_M, length, 0)
            else:
                shape = PieceShape(thickness, width or thickness, length, 1 if bark else 0)
            start = date(2015, 1, 15) if row["start_date"] == "various" else _day(row["start_date"])
            date_like = row["quantity"] in ("ready_date_wb20", "not_ready_by")
            found.append(
                Case(
                    id=row["case_id"],
                    source=row["source_key"],
                    grade=row["grade"],
                    form=form,
                    species_id=SPECIES[row["latin"]],
                    shape=shape,
                    start_db=float(row["mc0_db_pct"]) / 100,
                    start=start,
                    day=int(float(row["day"])) if row["day"] else 0,
                    quantity=row["quantity"],
                    observed=0.0 if date_like else float(row["observed"]),
                    low=None if date_like else _number(row["obs_lo"]),
                    high=None if date_like else _number(row["obs_hi"]),
                    used_for=row["used_for"],
                    climate=row["normals_key"].split(" ")[0].strip()
                    + (" garage" if "garage" in row["normals_key"] else ""),
                    cover=_cover(row["covered"], row["source_key"]),
                )
            )
    return tuple(found)


def _cover(covered: str, source: str) -> str:
    if covered == "no":
        return "none"
    return "top" if source in TOP_COVER else "shed"


def _day(text: str) -> date:
    year, month, day = (int(part) for part in text.split("-"))
    return date(year, month, day)


def _shifted(day: date) -> date:
    """The day in a plain year, so that all cases of a place share one weather."""
    return date(NORMAL_YEAR, day.month, min(day.day, 28))


@cache
def air_of(climate: str, start: date, days: int) -> AirHours:
    """Hours of `WEATHERS` members of a case's air."""
    name = climate.split(" ")[0]
    if name == "CONST":
        # The only case with constant air that can be run stood in a heated room, 26 deg C and 30 %.
        air = weather.constant_air(26.0, 30.0, start, days, wind_m_s=0.0)
    elif name in MEMORY:
        air = weather.generate_air(
            weather.find_place(SCATTER_FROM),
            start,
            days,
            members=WEATHERS,
            seed=SEED,
            normals_error=False,
            normals=_from_memory(name),
        )
    else:
        place = weather.find_place(PLACES[name])
        air = weather.generate_air(place, start, days, members=WEATHERS, seed=SEED, normals_error=False)
    hours = AirHours(air.air_c, air.vapour_pa, air.wind_m_s, air.sun_w_m2, air.rain_mm)
    if climate.endswith("garage"):
        # A closed garage: no sun, air creeping at 0.3 m/s.
        hours = hours._replace(
            wind_m_s=np.full_like(hours.wind_m_s, 0.3 / WIND_OPEN), sun_w_m2=np.zeros_like(hours.sun_w_m2)
        )
    return hours


def _from_memory(name: str) -> weather.Normals:
    with (DATA / "normals_from_memory.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["place"] == name]

    def column(key: str) -> NDArray[np.float64]:
        return np.array([float(row[key]) for row in rows])

    base = weather.normals_at(weather.find_place(SCATTER_FROM))
    temp, span, wet = column("temp_c"), column("range_k"), column("wet_days")
    share = wet / np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    return replace(
        base,
        temp_c=temp,
        tmax_c=temp + span / 2,
        tmin_c=temp - span / 2,
        rh_pct=column("rh_pct"),
        wind_m_s=column("wind_m_s"),
        precip_mm=column("precip_mm"),
        wet_days=wet,
        p_wd=0.75 * share,
        p_ww=0.25 + 0.75 * share,
        wetday_mean_mm=column("precip_mm") / wet,
        wetday_sd_mm=1.2 * column("precip_mm") / wet,
        sun_mj_m2_d=column("sun_mj_m2_d"),
        lat=float(rows[0]["lat"]),
        lon=float(rows[0]["lon"]),
        elev_m=float(rows[0]["elev_m"]),
    )


def around(case: Case, values: Mapping[str, float], physics: Physics) -> Surroundings:
    """What a case's stack does to the air; nothing indoors."""
    if case.climate.startswith("CONST") or case.climate.endswith("garage"):
        return Surroundings(1.0, 0.0, 0.0)
    return surroundings(
        ROWS.get(case.source, 1), "raised", case.cover, values, physics, LAYER.get(case.source)
    )


def constants_of(case: Case, sets: Sequence[Mapping[str, float]], physics: Physics) -> MemberConstants:
    """Constants of a case, `WEATHERS` members for each set of values, set by set."""
    species = wood.get_species(case.species_id)
    woods = [matter(species, v, physics, case.shape) for v in sets]
    stacks = [around(case, v, physics) for v in sets]
    outdoors = not case.climate.startswith("CONST")
    rows = [
        [w.k_d_m2_s for w in woods],
        [w.k_free for w in woods],
        [w.activation_k for w in woods],
        [w.beta for w in woods],
        [w.k_frost for w in woods],
        [w.r_l for w in woods],
        [v[PHI_OF_FORM[case.form]] * stack.phi for v, stack in zip(sets, stacks, strict=True)],
        [w.bark for w in woods],
        [w.rho0_kg_m3 for w in woods],
        [1.0] * len(sets),
        [1.0] * len(sets),
        [WIND_OPEN] * len(sets),
        [SUN_OPEN if outdoors else 0.0] * len(sets),
        [stack.rain for stack in stacks],
        [case.start_db] * len(sets),
    ]
    return MemberConstants(*(np.repeat(np.array(row, dtype=np.float32), WEATHERS) for row in rows))


def moistures(
    case: Case,
    sets: Sequence[Mapping[str, float]],
    days: int,
    start: date | None = None,
    physics: Physics = Physics(),
    model: DryingModel = FiniteVolumes(),
) -> NDArray[np.float64]:
    """Mean moisture over the weathers, shape (days + 1, sets)."""
    first = _shifted(case.start if start is None else start)
    air = wet_hours(air_of(case.climate, first, days), physics)
    if air.air_c.shape[1] > 1:
        air = AirHours(*(np.tile(series, (1, len(sets))) for series in air))
    damp = np.repeat([around(case, v, physics).damp for v in sets], WEATHERS)
    shape = zoned(case.shape, wood.get_species(case.species_id), physics)
    run = model.run(shape, constants_of(case, sets, physics), damp_hours(air, damp), days)
    return np.asarray(run.mean_db.astype(np.float64).reshape(days + 1, len(sets), WEATHERS).mean(axis=2))


def month_starts(case: Case) -> list[date]:
    """The middle of every month (every `MONTHS`-th), for cases that ran the whole year."""
    return [case.start + timedelta(days=round(30.44 * month)) for month in range(0, 12, MONTHS)]


@cache
def _longest() -> dict[tuple[object, ...], int]:
    days: dict[tuple[object, ...], int] = {}
    for case in all_cases():
        days[case.key] = max(days.get(case.key, 0), case.day)
    return days


@dataclass
class Runs:
    """Runs of several sets of values, each made once and looked at often."""

    sets: Sequence[Mapping[str, float]]
    physics: Physics = field(default_factory=Physics)
    model: DryingModel = field(default_factory=FiniteVolumes)

    def __post_init__(self) -> None:
        self._done: dict[tuple[object, ...], NDArray[np.float64]] = {}

    def _run(self, case: Case, days: int, start: date | None = None) -> NDArray[np.float64]:
        return moistures(case, self.sets, days, start, self.physics, self.model)

    def curve(self, case: Case, days: int | None = None) -> NDArray[np.float64]:
        """Moisture by day and set."""
        key = (case.key, days)
        if key not in self._done:
            self._done[key] = self._run(case, _longest()[case.key] if days is None else days)
        return self._done[key]

    def days_to(self, case: Case, mc_db: float, horizon: int = 330) -> NDArray[np.float64]:
        """Days to a moisture from each month's middle, shape (12, sets); the horizon where it is not met."""
        key = (case.key, "days_to")
        if key not in self._done:
            rows = []
            for start in month_starts(case):
                curve = self._run(case, horizon, start)
                rows.append([crossing(column, mc_db) for column in curve.T])
            self._done[key] = np.array(rows)
        return self._done[key]

    def answer(self, case: Case) -> NDArray[np.float64]:
        """What the model says where the case has its observation, in the case's own unit, by set.

        For dates: moisture of total mass in percent on the day.
        """
        if case.quantity.startswith("days_to"):
            days = self.days_to(case, 0.20)
            pick = {"min": np.min, "mean": np.mean, "max": np.max}[case.quantity.split("_")[-1]]
            return np.asarray(pick(days, axis=0))
        now = self.curve(case)[case.day]
        if case.quantity == "mc_db_pct":
            return np.asarray(100 * now)
        if case.quantity == "mass_loss_frac":
            return np.asarray((case.start_db - now) / (1 + case.start_db))
        return np.asarray(100 * now / (1 + now))


def crossing(curve: NDArray[np.float64], mc_db: float) -> float:
    """Day on which a daily curve first meets a moisture, between days; its last day if it does not."""
    below = np.flatnonzero(curve <= mc_db)
    if not len(below):
        return float(len(curve) - 1)
    day = int(below[0])
    if day == 0:
        return 0.0
    return day - 1 + float((curve[day - 1] - mc_db) / (curve[day - 1] - curve[day]))


def wet_percent(case: Case, value: float) -> float:
    """A case's moisture quantity as percent of total mass."""
    if case.quantity == "mc_db_pct":
        return 100 * value / (100 + value)
    if case.quantity == "mass_loss_frac":
        mc_db = case.start_db - value * (1 + case.start_db)
        return 100 * mc_db / (1 + mc_db)
    return value
