"""Hourly air: what every maker of weather gives and the drying model takes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt

from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.weather.humidity import psat_water_pa

Floats = npt.NDArray[np.floating[Any]]

MAX_DAYS = 40_000
MAX_MEMBERS = 100_000
FIRST_YEAR, LAST_YEAR = 1800, 2200


@dataclass(frozen=True)
class HourlyAir:
    """Weather by hour and member; all arrays are C-contiguous float32 [hours, members].

    Hour *i* lasts from `start` 00:00 plus *i* hours to one hour later, in local standard time all year, which is
    taken to be the sun's; values are those of its middle.

    Attributes
    ----------
    start
        First day.
    air_c
        Air temperature [°C].
    vapour_pa
        Partial pressure of water vapour [Pa], never above saturation over water.
    wind_m_s
        Wind at 10 m in the open [m/s]. Height of the stack and shelter are for the drying model.
    sun_w_m2
        Global radiation on the horizontal [W/m²].
    rain_mm
        Precipitation, rain or melted snow, in the hour [mm].
    """

    start: date
    air_c: npt.NDArray[np.float32]
    vapour_pa: npt.NDArray[np.float32]
    wind_m_s: npt.NDArray[np.float32]
    sun_w_m2: npt.NDArray[np.float32]
    rain_mm: npt.NDArray[np.float32]

    @property
    def days(self) -> int:
        """Whole days held."""
        return int(self.air_c.shape[0]) // 24

    @property
    def members(self) -> int:
        """Members held."""
        return int(self.air_c.shape[1])


def constant_air(
    air_c: float,
    rh_pct: float,
    start: date,
    days: int,
    members: int = 1,
    *,
    wind_m_s: float = 2.0,
    sun_w_m2: float = 0.0,
) -> HourlyAir:
    """Air that never changes, as in a kiln or a laboratory.

    Parameters
    ----------
    air_c
        Air temperature [°C], -60 to 120.
    rh_pct
        Relative humidity over water [%], 0 to 100. Below 1 a fraction was probably meant, and it is refused
        (0 itself is dry air).
    start, days, members
        First day, days and members to make.
    wind_m_s, sun_w_m2
        Wind at 10 m [m/s] and global radiation [W/m²].

    Raises
    ------
    InputError
        A value out of range.
    """
    check_window(start, days, members)
    if not -60.0 <= air_c <= 120.0:
        raise InputError(
            "air_c",
            wanted=T_("a temperature between -60 and 120 °C"),
            got=air_c,
            next_move=T_("Give degrees Celsius."),
        )
    if not (rh_pct == 0.0 or 1.0 <= rh_pct <= 100.0):
        raise InputError(
            "rh_pct",
            wanted=T_("a relative humidity between 1 and 100 percent"),
            got=rh_pct,
            next_move=T_("Give percent, like 65, not a fraction."),
        )
    for field, value in (("wind_m_s", wind_m_s), ("sun_w_m2", sun_w_m2)):
        if not 0.0 <= value <= 1500.0:
            raise InputError(
                field,
                wanted=T_("zero or a sensible positive number"),
                got=value,
                next_move=T_("Leave it out if it is not known."),
            )
    vapour = float(psat_water_pa(np.float64(air_c))) * rh_pct / 100.0

    def full(value: float) -> npt.NDArray[np.float32]:
        return np.full((24 * days, members), value, dtype=np.float32)

    return HourlyAir(start, full(air_c), full(vapour), full(wind_m_s), full(sun_w_m2), full(0.0))


def check_window(start: date, days: int, members: int) -> None:
    """Refuses windows of weather that make no sense."""
    if not 1 <= days <= MAX_DAYS:
        raise InputError(
            "days",
            wanted=T_("1 to {most} days", most=MAX_DAYS),
            got=days,
            next_move=T_("Ask for a shorter time."),
        )
    if not 1 <= members <= MAX_MEMBERS:
        raise InputError(
            "members",
            wanted=T_("1 to {most} members", most=MAX_MEMBERS),
            got=members,
            next_move=T_("100 members are usual."),
        )
    if start.year < FIRST_YEAR or start.year + days // 365 >= LAST_YEAR:
        raise InputError(
            "start",
            wanted=T_("days from {first} to {last}", first=FIRST_YEAR, last=LAST_YEAR),
            got=start.isoformat(),
            next_move=T_("Check the year."),
        )
