"""Fits the drying model's constants on the published cases, on the solver's converged grid.

    python scripts/fit_season.py [--write]

Maximum a posteriori: the sum of squared misses of the rows marked for calibration, each over its standard
deviation, and of the logarithms of the constants' departures from their priors. Derivatives are finite
differences, all taken in one run of the ensemble: each set of constants is a member.
Prints what was fitted and what the data told; `--write` puts it into src/rickyard/season/data/constants.csv
and the cross-validation by source into tests/season/data/fit.csv.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from season_cases import DATA, Case, Runs, all_cases, wet_percent

from rickyard.season.constants import all_constants, prior_values

CONSTANTS = Path(__file__).resolve().parent.parent / "src" / "rickyard" / "season" / "data" / "constants.csv"
#: What the model cannot do better than, whatever its constants [points of total mass]: weather of the year,
#: pieces that are not the mean piece, start moisture. Assumed.
MODEL_SD = 2.5
STEP = 0.03
#: Five splits of one stack under one sky are not five independent observations.
SHARED = {"FHC_ALASKA_BIRCH": 5**0.5}

Floats = NDArray[np.float64]


def fitted_names() -> list[str]:
    return [name for name, constant in all_constants().items() if constant.group == "fitted"]


def residual(case: Case, answer: Floats) -> Floats:
    """Miss over its standard deviation, by set."""
    if case.quantity.startswith("days_to"):
        return np.asarray(np.log(answer / case.observed) / 0.2)
    if case.quantity == "ready_date_wb20":
        # "Dry by early June" says nothing against drier wood; it counts only when the model is late.
        return np.asarray(np.maximum(answer - 20.0, 0.0) / 3.0)
    seen = wet_percent(case, case.observed)
    told = np.array([wet_percent(case, value) for value in answer])
    spread = MODEL_SD
    if case.low is not None and case.high is not None:
        edges = wet_percent(case, case.low), wet_percent(case, case.high)
        spread = float(np.hypot(MODEL_SD, abs(edges[1] - edges[0]) / 2 / 1.28))
    return np.asarray((told - seen) / (spread * SHARED.get(case.source, 1.0)))


class Fit:
    """The objective over a set of cases."""

    def __init__(self, cases: Sequence[Case]) -> None:
        self.cases = list(cases)
        self.names = fitted_names()
        self.prior = prior_values()
        self.sd = np.array([all_constants()[name].prior_log_sd or 1.0 for name in self.names])
        self._at: Floats | None = None
        self._value: tuple[Floats, Floats] | None = None

    def values(self, x: Floats) -> dict[str, float]:
        """Constants from standardised departures."""
        moved = {
            n: self.prior[n] * float(np.exp(s * d)) for n, s, d in zip(self.names, self.sd, x, strict=True)
        }
        return {**self.prior, **moved}

    def evaluate(self, x: Floats) -> tuple[Floats, Floats]:
        """Residuals and their derivatives, priors last."""
        if self._at is not None and self._value is not None and np.array_equal(self._at, x):
            return self._value
        steps = np.eye(len(x)) * (STEP / self.sd)
        runs = Runs([self.values(x)] + [self.values(x + step) for step in steps])
        table = np.array([residual(case, runs.answer(case)) for case in self.cases])
        data = table[:, 0]
        slopes = (table[:, 1:] - table[:, :1]) / (STEP / self.sd)
        self._at = x.copy()
        self._value = np.concatenate([data, x]), np.vstack([slopes, np.eye(len(x))])
        print(f"  objective {float(self._value[0] @ self._value[0]):.2f}", flush=True)
        return self._value

    def run(self, x: Floats, tries: int) -> Floats:
        found = least_squares(
            lambda p: self.evaluate(p)[0],
            x,
            jac=lambda p: self.evaluate(p)[1],
            max_nfev=tries,
            xtol=1e-3,
            ftol=1e-3,
        )
        return np.asarray(found.x)


def main() -> None:
    cases = [case for case in all_cases() if case.calibrates]
    print(f"{len(cases)} observations of {len({case.source for case in cases})} sources")
    fit = Fit(cases)
    best = fit.run(np.zeros(len(fit.names)), 12)
    _, slopes = fit.evaluate(best)
    covariance = np.linalg.inv(slopes.T @ slopes)
    after = np.sqrt(np.diag(covariance)) * fit.sd
    values = fit.values(best)
    print(f"{'constant':<18}{'prior':>10}{'log sd':>8}{'fitted':>12}{'log sd':>8}  told by data")
    told = {}
    for name, sd, now in zip(fit.names, fit.sd, after, strict=True):
        ratio = now / sd
        told[name] = "yes" if ratio < 0.5 else "partly" if ratio < 0.8 else "weakly" if ratio < 0.95 else "no"
        print(f"{name:<18}{fit.prior[name]:>10.4g}{sd:>8.2f}{values[name]:>12.5g}{now:>8.2f}  {told[name]}")
    rows = cross_validate(fit, best, cases)
    if "--write" in sys.argv[1:]:
        write_constants(values, dict(zip(fit.names, after, strict=True)), told)
        with (DATA / "fit.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(["case_id", "quantity", "day", "left_out_source", "answer"])
            writer.writerows(rows)


def cross_validate(fit: Fit, best: Floats, cases: Sequence[Case]) -> list[list[str]]:
    """Each source foretold by constants fitted without it."""
    rows = []
    for source in sorted({case.source for case in cases}):
        print(f"without {source}")
        others = Fit([case for case in cases if case.source != source])
        x = others.run(best, 3)
        runs = Runs([others.values(x)])
        rows += [
            [case.id, case.quantity, str(case.day), source, f"{runs.answer(case)[0]:.4f}"]
            for case in all_cases()
            if case.source == source
        ]
    return rows


def write_constants(values: dict[str, float], sds: dict[str, float], told: dict[str, str]) -> None:
    with CONSTANTS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        if row["id"] in sds:
            row["fitted"] = f"{values[row['id']]:.5g}"
            row["log_sd"] = f"{sds[row['id']]:.2f}"
            row["told_by_data"] = told[row["id"]]
    with CONSTANTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
