"""The yardstick: one red oak split, one year under cover, with a reference solution."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rickyard.season.models import GAS_J_MOL_K, AirHours, MemberConstants, PieceShape, siau_m2_s

DATA = Path(__file__).parent / "data"
DAYS = 365
MARKS = (90, 180, 365)


def _columns(name: str) -> dict[str, NDArray[np.float64]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}


@dataclass(frozen=True)
class Problem:
    """Shape, weather [hours, 1] and reference; `members(n)` gives the constants of the first n members."""

    raw: dict[str, Any]
    shape: PieceShape
    air: AirHours
    reference_pct: NDArray[np.float64]

    def members(self, count: int) -> MemberConstants:
        c = self.raw["constants"]
        table = {key: values[:count] for key, values in _columns("members.csv").items()}
        one = np.ones(count)
        values = (
            c["k_D"] * siau_m2_s(c["G"]) * table["k_D_factor"],
            c["k_free"] * table["k_free_factor"],
            c["E_J_mol"] / GAS_J_MOL_K * one,
            c["beta"] * one,
            c["k_frost"] * one,
            c["r_L"] * one,
            c["phi"] * table["phi_factor"],
            c["bark"] * one,
            c["rho0"] * one,
            table["thickness_factor"],
            one,
            c["wind_share"] * one,
            c["f_sun"] * one,
            0.0 * one,
            table["M0"],
        )
        return MemberConstants(*(np.asarray(value, dtype=np.float32) for value in values))

    def errors(self, mean_db: NDArray[Any]) -> tuple[list[float], float]:
        """Points (dry basis) above the reference at the marks reached, and days late at 25 %."""
        percent = 100.0 * np.asarray(mean_db, dtype=np.float64)
        points = [
            percent[day] - exact
            for day, exact in zip(MARKS, self.raw["reference"]["M_percent_day_90_180_365"], strict=True)
            if day < len(percent)
        ]
        if percent.min() > 25.0:
            return points, float("nan")
        day = int(np.argmax(percent <= 25.0))
        crossing = day - 1 + (percent[day - 1] - 25.0) / (percent[day - 1] - percent[day])
        return points, crossing - self.raw["reference"]["ready_day"]


def load() -> Problem:
    """The problem as it lies in `data`."""
    raw = json.loads((DATA / "problem.json").read_text(encoding="utf-8"))
    piece = raw["piece"]
    weather = _columns("weather_hourly.csv")
    hours = [weather[key].astype(np.float32)[:, None] for key in ("T_C", "pv_Pa", "wind_m_s", "sun_W_m2")]
    return Problem(
        raw=raw,
        shape=PieceShape(piece["thickness_x_m"], piece["width_y_m"], piece["length_z_m"], 1),
        air=AirHours(*hours, rain_mm=np.zeros_like(hours[0])),
        reference_pct=_columns("reference_daily.csv")["mean_M_percent"],
    )
