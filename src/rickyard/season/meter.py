"""Pin meters: from the percent shown to the moisture of the wood, with doubt.

Meters show moisture of oven-dry mass and are commonly scaled to Douglas-fir near 24 deg C.
Temperature is corrected first (Pfaff and Garrahan 1986, from memory, temperature part only), then the
species (resistance table of James 1988, FPL-GTR-6, from memory; `data/meter.csv`).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rickyard.errors import InputError
from rickyard.text import T_, Text

if TYPE_CHECKING:
    from rickyard.wood import Species

#: Where conductance follows moisture: below about 30 % (FPL-GTR-6 abstract); the floor of 6 % is from memory.
RANGE_PCT = (6.0, 30.0)
#: What a meter can show at all [%].
SHOWN_PCT = (3.0, 150.0)
TEMPERATURE_C = (-40.0, 60.0)
REFERENCE_C = 20.0
#: Below this ice in the wood hides its water from the pins [deg C]; what it may be off by then [points], assumed.
FROZEN_C, FROZEN_SD = 0.0, 4.0
# Standard deviations in points, assumed: meter and piece together; more without a species row, more far
# from room temperature, where the equation and the rule of thumb part by 2 to 3 points at -10 deg C.
SD_CORRECTED, SD_UNCORRECTED, SD_PER_K, SD_SHARE = 1.5, 2.5, 0.05, 0.06


@dataclass(frozen=True)
class MeterReading:
    """What a reading says.

    `mc_db` and `sd_db` [water / oven-dry mass]; `correction` [points], to be added to what was shown;
    outside the range `mc_db` is only a bound (`beyond`: "above" or "below").
    """

    mc_db: float
    sd_db: float
    correction: float
    within_range: bool
    beyond: str
    source: Text

    @property
    def mc_wet(self) -> float:
        return self.mc_db / (1.0 + self.mc_db)


def meter_mc(species: Species, percent: float, temp_c: float | None = None) -> MeterReading:
    """Moisture from the percent a pin meter shows.

    Parameters
    ----------
    species
        The wood; without a row in the table the reading stays uncorrected for species.
    percent
        As shown [% of oven-dry mass].
    temp_c
        Temperature of the wood [deg C]; None: not known, taken as 20.

    Raises
    ------
    InputError
        For a percent no meter shows, or a temperature no yard has.
    """
    low, high = SHOWN_PCT
    if not low <= percent <= high:
        raise InputError(
            "reading",
            wanted=T_("a meter reading from {low:g} to {high:g} percent", low=low, high=high),
            got=f"{percent:g}",
            next_move=T_("Type the percent as the meter shows it."),
        )
    cold, hot = TEMPERATURE_C
    if temp_c is not None and not cold <= temp_c <= hot:
        raise InputError(
            "temperature",
            wanted=T_("{low:g} to {high:g} degrees Celsius", low=cold, high=hot),
            got=f"{temp_c:g}",
            next_move=T_("Give the temperature of the wood, or leave it out."),
        )
    warm = percent if temp_c is None else temperature_corrected(percent, temp_c)
    row = _row_of(species)
    corrected = warm if row is None else warm + _species_correction(row, warm)
    away = 0.0 if temp_c is None else abs(temp_c - REFERENCE_C)
    base = SD_UNCORRECTED if row is None else SD_CORRECTED
    sd = float(np.hypot(base + SD_PER_K * away, SD_SHARE * corrected))
    floor, ceiling = RANGE_PCT
    beyond = "below" if percent < floor else "above" if percent > ceiling else ""
    if row is None and temp_c is None:
        source = T_("uncorrected: no published row for this species, temperature not given")
    elif row is None:
        source = T_(
            "uncorrected for species: no published row; "
            "temperature after Pfaff and Garrahan 1986, from memory"
        )
    elif temp_c is None:
        source = T_(
            "species after James 1988, FPL-GTR-6, row {row}, from memory; temperature not given", row=row
        )
    else:
        source = T_(
            "temperature after Pfaff and Garrahan 1986, species after James 1988, FPL-GTR-6, row {row}; "
            "both from memory",
            row=row,
        )
    if beyond:
        # Past its range a meter only tells wet from dry: the bound is what is known.
        corrected = max(corrected, ceiling) if beyond == "above" else min(corrected, floor)
    return MeterReading(
        mc_db=max(corrected, 1.0) / 100.0,
        sd_db=sd / 100.0,
        correction=round(max(corrected, 1.0) - percent, 3),
        within_range=not beyond,
        beyond=beyond,
        source=source,
    )


def temperature_corrected(percent: float, temp_c: float) -> float:
    """The reading at the meter's own temperature [%].

    Pfaff and Garrahan 1986 with a = 1, b = 0, from memory.
    """
    return float((percent + 0.567 - 0.0260 * temp_c + 0.000051 * temp_c**2) / (0.881 * 1.0056**temp_c))


@cache
def _rows() -> dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """By row name: readings on the Douglas-fir scale and the true moistures [%], ascending."""
    text = files("rickyard.season").joinpath("data/meter.csv").read_text(encoding="utf-8")
    pairs: dict[str, list[tuple[float, float]]] = {}
    for line in csv.DictReader(text.splitlines()):
        if line["reading_on_douglas_fir_scale"]:
            pairs.setdefault(line["row"], []).append(
                (float(line["reading_on_douglas_fir_scale"]), float(line["mc_pct"]))
            )
    return {row: (np.array([r for r, _ in p]), np.array([m for _, m in p])) for row, p in pairs.items()}


@cache
def _assigned() -> dict[str, str]:
    text = files("rickyard.season").joinpath("data/meter_species.csv").read_text(encoding="utf-8")
    return {line["species_or_genus"]: line["row"] for line in csv.DictReader(text.splitlines())}


def _row_of(species: Species) -> str | None:
    """The row of a species or group, of its genus, or of a group whose members all have the same one."""
    assigned = _assigned()
    if species.id in assigned:
        return assigned[species.id]
    rows = {
        assigned.get(member) or assigned.get(member.split("_")[0])
        for member in (species.members or (species.id,))
    }
    return rows.pop() if len(rows) == 1 else None


def _species_correction(row: str, reading: float) -> float:
    """What to add [points]; beyond the ends of the row, as at its end."""
    readings, true = _rows()[row]
    return float(np.interp(reading, readings, true - readings))
