"""Water vapour: saturation pressures, relative humidity, dew point.

Relative humidity is over liquid water at every temperature, as weather stations report it.
The saturation formulas are the Magnus form with the coefficients the drying model uses, so that weather and drying
agree to the last digit.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.floating[Any]]

PSAT_0C_PA = 611.2
"""Saturation pressure at 0 °C [Pa]."""
WATER_A, WATER_B_C = 17.62, 243.12
"""Magnus coefficients over water, [unitless] and [°C]."""
ICE_A, ICE_B_C = 22.46, 272.62
"""Magnus coefficients over ice, [unitless] and [°C]."""


def psat_water_pa(temp_c: npt.ArrayLike) -> Floats:
    """Saturation pressure over liquid water [Pa] at `temp_c` [°C]; any shape, the dtype of a float array is kept."""
    temp = _floats(temp_c)
    return np.asarray(PSAT_0C_PA * np.exp(WATER_A * temp / (WATER_B_C + temp)))


def psat_ice_pa(temp_c: npt.ArrayLike) -> Floats:
    """Saturation pressure over ice [Pa] at `temp_c` [°C], meant for 0 °C and below."""
    temp = _floats(temp_c)
    return np.asarray(PSAT_0C_PA * np.exp(ICE_A * temp / (ICE_B_C + temp)))


def ice_share(temp_c: npt.ArrayLike) -> Floats:
    """Relative humidity over water [fraction] of air saturated over ice; 1 at 0 °C and above.

    Air outdoors is hardly ever damper: below -5 °C the 99 % point of humidity stays within 1.07 of ice saturation in
    12 of 14 hourly station files; Prince George and Aurora CO report up to 1.09 and 1.22.
    """
    temp = _floats(temp_c)
    return np.asarray(
        np.exp(np.minimum(ICE_A * temp / (ICE_B_C + temp) - WATER_A * temp / (WATER_B_C + temp), 0.0))
    )


def dew_point_c(vapour_pa: npt.ArrayLike) -> Floats:
    """Dew point over water [°C] of air holding `vapour_pa` [Pa] of vapour; the inverse of `psat_water_pa`."""
    log = np.log(_floats(vapour_pa) / PSAT_0C_PA)
    return np.asarray(WATER_B_C * log / (WATER_A - log))


def relative_humidity(temp_c: npt.ArrayLike, vapour_pa: npt.ArrayLike) -> Floats:
    """Relative humidity over water [fraction]."""
    return np.asarray(_floats(vapour_pa) / psat_water_pa(temp_c))


def _floats(value: npt.ArrayLike) -> Floats:
    array = np.asarray(value)
    return array if array.dtype in (np.float32, np.float64) else array.astype(np.float64)
