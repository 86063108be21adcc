"""The numbers of the drying model: priors, fitted values, spreads, each with its source.

The table is `data/constants.csv`; the fitted column is written by `scripts/fit_season.py`.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True)
class Constant:
    """One constant: `prior` (median) and `fitted` in `unit`, spreads as log standard deviations."""

    id: str
    unit: str
    group: str
    prior: float
    prior_log_sd: float | None
    fitted: float
    log_sd: float | None
    told_by_data: str
    source: str


@cache
def all_constants() -> dict[str, Constant]:
    """Every constant by id."""
    text = files("rickyard.season").joinpath("data/constants.csv").read_text(encoding="utf-8")
    return {
        row["id"]: Constant(
            id=row["id"],
            unit=row["unit"],
            group=row["group"],
            prior=float(row["prior"]),
            prior_log_sd=float(row["prior_log_sd"]) if row["prior_log_sd"] else None,
            fitted=float(row["fitted"]),
            log_sd=float(row["log_sd"]) if row["log_sd"] else None,
            told_by_data=row["told_by_data"],
            source=row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    }


def fitted_values() -> dict[str, float]:
    """The values in use, by id."""
    return {name: constant.fitted for name, constant in all_constants().items()}


def prior_values() -> dict[str, float]:
    """The values before any drying case was seen, by id."""
    return {name: constant.prior for name, constant in all_constants().items()}
