"""The drying calendar of a place: stacked in this month, dry in that one.

One year stands for all: the weather is that of usual years with their spread, so only months matter.
One species and thickness is worked out at a time, over all months of stacking; the weather is made once and shared.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from rickyard.season.forecast import HORIZON_DAYS, forecast
from rickyard.season.pieces import Pieces
from rickyard.season.screening import screening_model
from rickyard.season.windows import windows

if TYPE_CHECKING:
    from rickyard.season.models import DryingModel
    from rickyard.weather import HourlyAir

#: The year that stands for all; no leap day falls into the two years looked at.
YEAR = 2001
MEMBERS = 24
DAYS = 366 + HORIZON_DAYS


@dataclass(frozen=True)
class CalendarCell:
    """Stacked on the first of `month` (1 to 12): the days by which a tenth, half and nine tenths are dry.

    Days are of the standing year `YEAR` or those after it; None beyond 540 days.
    `parted` if it is one season or another with little between.
    """

    month: int
    p10: date | None
    p50: date | None
    p90: date | None
    parted: bool


@dataclass(frozen=True)
class CalendarRow:
    """All months of stacking for one species and thickness."""

    species_id: str
    thickness_m: float
    cells: tuple[CalendarCell, ...]
    model: str
    members: int


def years_later(day: date) -> int:
    """How many years after the standing one a day of a calendar lies."""
    return day.year - YEAR


def calendar_row(
    pieces: Pieces,
    air: HourlyAir,
    *,
    target_mc_wet: float = 0.20,
    seed: int = 0,
    members: int = MEMBERS,
    model: DryingModel | None = None,
) -> CalendarRow:
    """When these pieces are dry, for every month of stacking; their own day of stacking does not matter.

    Parameters
    ----------
    pieces
        Species, size, cover and exposure.
    air
        Hours of the sky from the first of January `YEAR`, `DAYS` long.
    target_mc_wet, seed, members, model
        As in `forecast`; no model: the quick one.
    """
    model = screening_model() if model is None else model
    cells = []
    for month in range(1, 13):
        start = date(YEAR, month, 1)
        made = forecast(
            replace(pieces, stacked_on=start),
            air,
            members=members,
            seed=seed,
            until=start + timedelta(days=HORIZON_DAYS),
            model=model,
            layers=False,
        )
        ready = made.ready(target_mc_wet)
        cells.append(
            CalendarCell(
                month=month,
                p10=ready.p10,
                p50=ready.p50,
                p90=ready.p90,
                parted=windows(made.dates, made.ready_day(target_mc_wet)).parted,
            )
        )
    return CalendarRow(pieces.species_id, pieces.thickness_m, tuple(cells), model.name, members)


def calendar_rows(
    many: Sequence[Pieces],
    air: HourlyAir,
    *,
    target_mc_wet: float = 0.20,
    seed: int = 0,
    members: int = MEMBERS,
) -> Iterator[CalendarRow]:
    """The rows one after another, as they are ready, all from the same weather."""
    for pieces in many:
        yield calendar_row(pieces, air, target_mc_wet=target_mc_wet, seed=seed, members=members)
