"""Degree days from monthly normals.

Daily mean temperature is taken to be normally distributed within a month (Schoenau & Kehrig 1990, from memory), so
that degree days to any base follow from its mean and standard deviation.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from rickyard.weather.normals import DAYS_IN_MONTH, Normals
from rickyard.weather.residuals import residuals

Floats = npt.NDArray[np.floating[Any]]


def heating_degree_days(normals: Normals, base_c: float = 18.0) -> Floats:
    """Heating degree days by month [12] [K·d]: the sum over days of how far they stay below `base_c` [°C]."""
    return DAYS_IN_MONTH * _mean_positive(base_c - normals.temp_c, daily_temp_sd_k(normals))


def cooling_degree_days(normals: Normals, base_c: float = 18.0) -> Floats:
    """Cooling degree days by month [12] [K·d]: the sum over days of how far they rise above `base_c` [°C]."""
    return DAYS_IN_MONTH * _mean_positive(normals.temp_c - base_c, daily_temp_sd_k(normals))


def daily_temp_sd_k(normals: Normals) -> Floats:
    """SD of a day's mean temperature within a month [12] [K], from the SDs of the daily extremes.

    The course of the year within the month is part of it, as it is of the tabled SDs.
    """
    extremes = 0.5 * (normals.sd_tmax_c + normals.sd_tmin_c)
    return np.asarray(np.maximum(residuals().temp_sd_over_extremes * extremes, 0.1))


def _mean_positive(mean: Floats, sd: Floats) -> Floats:
    """Mean of the positive part of normal numbers."""
    x = mean / sd
    return np.asarray(mean * ndtr(x) + sd * np.exp(-0.5 * x**2) / np.sqrt(2.0 * np.pi))
