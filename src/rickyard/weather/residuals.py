"""The fitted numbers of the weather generator, with where they come from.

The fit is made by `scripts/fit_weather_residuals.py`, which writes `data/residuals.json`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.floating[Any]]
Complexes = npt.NDArray[np.complexfloating[Any, Any]]

SERIES = ("temp", "rh", "ln_wind", "ln_range")
"""Order of the four daily residuals."""


@dataclass(frozen=True)
class Residuals:
    """Fitted constants.

    Attributes
    ----------
    lag0, lag1
        Correlations [4, 4] of the daily residuals in the order of `SERIES`, on one day and with the day before
        (row: today, column: yesterday).
    temp_sd_over_extremes
        SD of a day's mean temperature within a month over the mean of the SDs of its extremes [fraction].
    slow_share
        Share of the variance of temperature and humidity in the slow component [fraction].
    wet_slow
        Strength of the slow component in the wet-day chain [probits].
    clearness_rh, clearness_range
        Change of a day's radiation over its normal per SD of humidity, and per unit of ln daily range.
    provenance
        Files, days and formulas.
    """

    lag0: Floats
    lag1: Floats
    temp_sd_over_extremes: float
    slow_share: float
    wet_slow: float
    clearness_rh: float
    clearness_range: float
    provenance: str

    def modes(self) -> tuple[Complexes, Complexes, Complexes]:
        """The four-series AR(1) z = A z' + B e as independent series y = λ y' + C e with z = V y.

        Returns
        -------
        V [4, 4], λ [4], C [4, 4]
            Complex, as A may have a pair of complex modes; z is real up to rounding.
            A = M1 M0⁻¹ and B Bᵀ = M0 - A M1ᵀ (Richardson 1981).
        """
        a = self.lag1 @ np.linalg.inv(self.lag0)
        b = np.linalg.cholesky(self.lag0 - a @ self.lag1.T)
        growth, v = np.linalg.eig(a)
        return v.astype(complex), growth.astype(complex), np.linalg.inv(v).astype(complex) @ b


@cache
def residuals() -> Residuals:
    """The constants as packed."""
    text = (files("rickyard.weather") / "data" / "residuals.json").read_text(encoding="utf-8")
    packed = json.loads(text)
    return Residuals(
        lag0=np.array(packed["lag0"]),
        lag1=np.array(packed["lag1"]),
        temp_sd_over_extremes=packed["temp_sd_over_extremes"],
        slow_share=packed["slow_share"],
        wet_slow=packed["wet_slow"],
        clearness_rh=packed["clearness_rh"],
        clearness_range=packed["clearness_range"],
        provenance=packed["provenance"],
    )
