"""The geometry of the pictures of answers: the inside of a piece, and the months in which a stack becomes dry.

As in `rickyard.web.charts`, templates draw them, so that they stand in print and without scripts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from rickyard.desk.forecasts import StackOutlook
from rickyard.season import Section, Sections, months_of
from rickyard.wood import db_from_wet

# Steps of the scale [water / total mass]; the colours go from light (dry) to dark (wet), evenly in lightness, from
# yellow to blue, which every kind of colour sight keeps apart.
STEPS = (0.15, 0.20, 0.25, 0.30, 0.35, 0.40)
MOST_MONTHS = 14


@dataclass(frozen=True)
class Tile:
    """Cells of one step side by side."""

    x: float
    y: float
    width: float
    height: float
    step: int


@dataclass(frozen=True)
class Note:
    """A figure written in the picture."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class Cut:
    """One cut through the piece. `core` is the outline of what is wetter than the target; `bark` a line or none."""

    width: float
    height: float
    tiles: tuple[Tile, ...]
    core: str
    bark: str
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class Inside:
    """Both cuts of one day."""

    section: Section
    across: Cut
    along: Cut


@dataclass(frozen=True)
class MonthBar:
    """A month: odds of becoming dry in it, and of having become so by its end."""

    month: date
    within: float
    by_end: float
    x: float
    width: float
    before_y: float
    top_y: float
    label: str


def step_of(mc_wet: float) -> int:
    """Place on the scale, 0 the driest."""
    return int(np.searchsorted(STEPS, mc_wet, side="right"))


def inside(
    found: Sections,
    number: int,
    target_mc_wet: float,
    *,
    say: Callable[[float], str],
    across_px: float = 210.0,
    along_px: float = 380.0,
) -> Inside:
    """The pictures of the day at place `number`; `say` writes a moisture with its basis."""
    section = found.days[number]
    x, y, z = (np.asarray(edges) for edges in (section.x_m, section.y_m, section.z_m))
    scale = across_px / max(x[-1], y[-1])
    wide = along_px / z[-1]
    # Lengthwise a long piece would be a thread: its thickness is drawn to the same scale, but not below 70 units.
    tall = max(wide, 70.0 / x[-1])
    bark = {
        "one": f"M0 0V{x[-1] * scale:.1f}",
        "half": f"M{y[-1] * scale:.1f} 0H0V{x[-1] * scale:.1f}H{y[-1] * scale:.1f}",
        "all": f"M0 0H{y[-1] * scale:.1f}V{x[-1] * scale:.1f}H0Z",
    }.get(found.bark, "")
    long_bark = (
        f"M0 0H{along_px:.1f}M0 {x[-1] * tall:.1f}H{along_px:.1f}" if found.bark in ("half", "all") else ""
    )
    size = (y[-1] * scale, x[-1] * scale)
    length = (along_px, x[-1] * tall)
    core, face = say(section.core[1]), say(section.face[1])
    end = say(float(section.along[section.along.shape[0] // 2, 0]))
    return Inside(
        section=section,
        across=_cut(
            section.across,
            y * scale,
            x * scale,
            size,
            target_mc_wet,
            bark,
            (Note(size[0] / 2, size[1] / 2 + 5, core), Note(size[0] / 2, size[1] - 9, face)),
        ),
        along=_cut(
            section.along,
            z * wide,
            x * tall,
            length,
            target_mc_wet,
            long_bark,
            (Note(length[0] / 2, length[1] / 2 + 5, core), Note(46.0, length[1] / 2 + 5, end)),
        ),
    )


def _cut(
    values: NDArray[np.float64],
    across: NDArray[np.float64],
    down: NDArray[np.float64],
    size: tuple[float, float],
    target_mc_wet: float,
    bark: str,
    notes: tuple[Note, ...],
) -> Cut:
    """Rows of `values` lie between the edges `down`, columns between the edges `across`."""
    steps = np.searchsorted(STEPS, values, side="right")
    tiles: list[Tile] = []
    for row in range(steps.shape[0]):
        column = 0
        while column < steps.shape[1]:
            last = column
            while last + 1 < steps.shape[1] and steps[row, last + 1] == steps[row, column]:
                last += 1
            tiles.append(
                Tile(
                    float(across[column]),
                    float(down[row]),
                    float(across[last + 1] - across[column]),
                    float(down[row + 1] - down[row]),
                    int(steps[row, column]),
                )
            )
            column = last + 1
    wet = values > target_mc_wet
    lines: list[str] = []
    for row in range(wet.shape[0]):
        for column in range(wet.shape[1]):
            if column + 1 < wet.shape[1] and wet[row, column] != wet[row, column + 1]:
                lines.append(f"M{across[column + 1]:.1f} {down[row]:.1f}V{down[row + 1]:.1f}")
            if row + 1 < wet.shape[0] and wet[row, column] != wet[row + 1, column]:
                lines.append(f"M{across[column]:.1f} {down[row + 1]:.1f}H{across[column + 1]:.1f}")
    return Cut(size[0], size[1], tuple(tiles), "".join(lines), bark, notes)


def month_bars(
    look: StackOutlook,
    today: date,
    *,
    label: Callable[[date], str],
    width: float = 400.0,
    height: float = 120.0,
) -> tuple[MonthBar, ...]:
    """Month by month from today's on until it is as good as certain; empty if it is so already."""
    rows = [
        row
        for row in months_of(look.dates, ready_days(look))
        if (row[0].year, row[0].month) >= (today.year, today.month)
    ]
    sure = next((place for place, (_, _, by) in enumerate(rows) if by >= 0.985), len(rows) - 1)
    # The last month of the forecast may be cut short.
    rows = rows[: min(sure + 1, MOST_MONTHS)]
    if not rows or rows[0][2] - rows[0][1] >= 0.985:
        return ()
    step = width / max(len(rows), 5)
    return tuple(
        MonthBar(
            month=month,
            within=within,
            by_end=by_end,
            x=place * step + 0.1 * step,
            width=0.8 * step,
            before_y=height - (by_end - within) * height,
            top_y=height - by_end * height,
            label=label(month),
        )
        for place, (month, within, by_end) in enumerate(rows)
    )


def ready_days(look: StackOutlook) -> NDArray[np.int64]:
    """For each member the place of its first day at or below the stack's target; -1 for none."""
    below = look.mc_db <= db_from_wet(look.target_mc_wet)
    return np.where(below.any(axis=0), below.argmax(axis=0), -1)
