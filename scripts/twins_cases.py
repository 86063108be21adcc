"""The second world itself held against the published drying cases of split wood, before it judges a forecast."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import season_cases
from truth import wedge, worlds

from rickyard import wood

PAIRS, SEED, LONGEST_DAYS = 3, 5, 330


@dataclass(frozen=True)
class CaseRow:
    """One observation [percent of total mass], the mean of the stacks drawn, and the pace the law was given."""

    case: str
    species: str
    day: int
    pace: float
    observed: float
    second_world: float


def against_cases(grid: wedge.Grid) -> Iterator[CaseRow]:
    """Cases of split wood, graded A or B, with a moisture; hardwoods with each pace that was tried."""
    for case in season_cases.all_cases():
        wanted = case.form == "split" and not case.grade.startswith("C") and case.day <= LONGEST_DAYS
        if not wanted or case.quantity not in ("mc_db_pct", "mc_wb_pct", "mass_loss_frac"):
            continue
        for kind in _kinds(case):
            now = float(_dried(case, kind, grid).mean_db[case.day].mean())
            value = {
                "mc_db_pct": 100 * now,
                "mc_wb_pct": 100 * now / (1 + now),
                "mass_loss_frac": (case.start_db - now) / (1 + case.start_db),
            }[case.quantity]
            yield CaseRow(
                case=case.id,
                species=case.species_id,
                day=case.day,
                pace=kind.pace,
                observed=round(season_cases.wet_percent(case, case.observed), 1),
                second_world=round(season_cases.wet_percent(case, value), 1),
            )


def _kinds(case: season_cases.Case) -> list[worlds.Kind]:
    species = wood.get_species(case.species_id)
    plain = worlds.Kind(
        id=species.id,
        name=species.common_en,
        gravity=species.basic_density_kg_m3 / 1000.0,
        heart_db=case.start_db,
        sap_db=case.start_db,
        thickness_m=float(np.sqrt(case.shape.thickness_m * case.shape.width_m)),
    )
    if species.id.startswith("quercus"):
        return [replace(plain, free=worlds.FREE_OAK, pace=worlds.PACE_OAK, oak=True)]
    if species.group == "softwood":
        return [replace(plain, free=worlds.FREE_SOFTWOOD, pace=worlds.PACE_SOFTWOOD)]
    return [replace(plain, pace=pace) for pace in (1.0, 0.75, worlds.PACE_HARDWOOD)]


def _dried(case: season_cases.Case, kind: worlds.Kind, grid: wedge.Grid) -> worlds.Stacks:
    pieces, place = worlds.draw(kind, PAIRS, SEED, length_m=case.shape.length_m)
    start = np.full_like(pieces.heart_db, case.start_db)  # the case gives it
    pieces = replace(pieces, heart_db=start, sap_db=start)
    if not case.shape.bark_faces:
        pieces = replace(pieces, bark=np.ones_like(pieces.bark))
    if case.climate.startswith("CONST"):
        place = replace(place, sun_share=np.zeros_like(place.sun_share))
    air = season_cases.air_of(case.climate, season_cases._shifted(case.start), case.day)
    hours = [air.air_c, air.vapour_pa, air.wind_m_s, air.sun_w_m2, air.rain_mm > 0.1]
    sky = wedge.Sky(*(np.asarray(series[: 24 * case.day], dtype=np.float64) for series in hours))
    return worlds.dried([(kind, (SEED,), pieces, place)], sky, case.day, grid)[0]
