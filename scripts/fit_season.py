"""Fits the drying model's constants on the published cases, on the solver's converged grid.

    python scripts/fit_season.py [--write | --switches [NAME ...]]

Maximum a posteriori: the sum of squared misses of the rows marked for calibration, each over its standard
deviation, and of the logarithms of the constants' departures from their priors. Derivatives are finite
differences, all taken in one run of the ensemble: each set of constants is a member.
Prints what was fitted and what the data told; `--write` puts it into src/rickyard/season/data/constants.csv
and the cross-validation by source into tests/season/data/fit.csv; `--switches` measures what each switch of
the physics is worth, into tests/season/data/switches.csv.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import season_cases
from numpy.typing import NDArray
from scipy.optimize import least_squares
from season_cases import DATA, Case, Runs, all_cases, wet_percent

from rickyard.season.constants import all_constants, prior_values
from rickyard.season.models import DryingModel, FiniteVolumes
from rickyard.season.physics import Physics

CONSTANTS = Path(__file__).resolve().parent.parent / "src" / "rickyard" / "season" / "data" / "constants.csv"
#: What the model cannot do better than, whatever its constants [points of total mass]: weather of the year,
#: pieces that are not the mean piece, start moisture. Assumed.
MODEL_SD = 2.5
STEP = 0.03
#: Five splits of one stack under one sky are not five independent observations.
SHARED = {"FHC_ALASKA_BIRCH": 5**0.5}

MOISTURES = ("mc_db_pct", "mc_wb_pct", "mass_loss_frac")
#: Steps towards the best constants without a source.
CHORDS = 4
#: Steps of the fit, begun at the constants in use; run the script again until they stay.
TRIES = 4
SWITCHES = [field.name for field in fields(Physics)]
COARSE = FiniteVolumes(counts=(6, 10, 7), bark_cells=4, first_m=0.0014, first_end_m=0.003)

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
    """The objective over the cases that calibrate, under some physics."""

    def __init__(
        self,
        cases: Sequence[Case],
        physics: Physics = Physics(),
        model: DryingModel = FiniteVolumes(),
    ) -> None:
        self.cases = list(cases)
        self.physics, self.model = physics, model
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

    def runs(self, points: Sequence[Floats]) -> Runs:
        return Runs([self.values(x) for x in points], self.physics, self.model)

    def misses(self, points: Sequence[Floats]) -> Floats:
        """Residuals of the cases, shape (cases, points)."""
        runs = self.runs(points)
        return np.array([residual(case, runs.answer(case)) for case in self.cases])

    def evaluate(self, x: Floats) -> tuple[Floats, Floats]:
        """Residuals and their derivatives, priors last."""
        if self._at is not None and self._value is not None and np.array_equal(self._at, x):
            return self._value
        steps = np.eye(len(x)) * (STEP / self.sd)
        table = self.misses([x, *(x + step for step in steps)])
        slopes = (table[:, 1:] - table[:, :1]) / (STEP / self.sd)
        self._at = x.copy()
        self._value = np.concatenate([table[:, 0], x]), np.vstack([slopes, np.eye(len(x))])
        print(f"  objective {float(self._value[0] @ self._value[0]):.2f}", flush=True)
        return self._value

    def run(self, x: Floats, tries: int) -> Floats:
        found = least_squares(
            lambda p: self.evaluate(p)[0],
            x,
            jac=lambda p: self.evaluate(p)[1],
            max_nfev=tries,
            xtol=2e-3,
            ftol=2e-3,
        )
        return np.asarray(found.x)

    def without(self, best: Floats, rounds: int = CHORDS) -> dict[str, Floats]:
        """For each source, the best constants without it.

        Gauss-Newton steps from the common best, all sources side by side, with the derivatives taken there;
        a step that does not lower a source's objective is halved.
        """
        slopes = self.evaluate(best)[1][: len(self.cases)]
        sources = sorted({case.source for case in self.cases})
        kept = [np.array([case.source != source for case in self.cases]) for source in sources]
        at = [best.copy() for _ in sources]
        misses = np.repeat(self.misses([best]), len(sources), axis=1)
        worth = [float(misses[k, n] @ misses[k, n] + at[n] @ at[n]) for n, k in enumerate(kept)]
        length = np.ones(len(sources))
        for _ in range(rounds):
            steps = []
            for n, k in enumerate(kept):
                normal = slopes[k].T @ slopes[k] + np.eye(len(best))
                steps.append(-length[n] * np.linalg.solve(normal, slopes[k].T @ misses[k, n] + at[n]))
            tried = self.misses([x + step for x, step in zip(at, steps, strict=True)])
            for n, k in enumerate(kept):
                x = at[n] + steps[n]
                now = float(tried[k, n] @ tried[k, n] + x @ x)
                if now < worth[n]:
                    at[n], misses[:, n], worth[n] = x, tried[:, n], now
                else:
                    length[n] *= 0.5
        return dict(zip(sources, at, strict=True))


def looked_at(weathers: int, months: int) -> None:
    """How many weathers and months the cases are run with from now on."""
    season_cases.WEATHERS, season_cases.MONTHS = weathers, months
    season_cases.air_of.cache_clear()


def scores(
    fit: Fit, best: Floats, everything: Sequence[Case], fuller: tuple[int, int] | None = None
) -> tuple[list[list[str]], Floats]:
    """Each source foretold by constants fitted without it: rows for the file, and the misses of the moistures.

    `fuller`: weathers and months to foretell with, if other than those of the fit.
    """
    rows, off = [], []
    left_out = fit.without(best)
    if fuller is not None:
        looked_at(*fuller)
    runs = fit.runs(list(left_out.values()))
    for n, source in enumerate(left_out):
        for case in everything:
            if case.source != source:
                continue
            answer = float(runs.answer(case)[n])
            rows.append([case.id, case.quantity, str(case.day), source, f"{answer:.4f}"])
            if case.calibrates and case.quantity in MOISTURES and case.grade != "C":
                off.append(wet_percent(case, answer) - wet_percent(case, case.observed))
    return rows, np.array(off)


def main() -> None:
    cases = [case for case in all_cases() if case.calibrates]
    if "--switches" in sys.argv[1:]:
        switches(cases, [name for name in SWITCHES if name in sys.argv[1:]] or SWITCHES)
        return
    print(f"{len(cases)} observations of {len({case.source for case in cases})} sources")
    # Half the weathers and months move a case by less than a tenth of its doubt, and double the speed.
    fuller = season_cases.WEATHERS, season_cases.MONTHS
    looked_at(3, 2)
    fit = Fit(cases)
    fitted = all_constants()
    begin = np.array([np.log(fitted[n].fitted / fitted[n].prior) for n in fit.names]) / fit.sd
    best = fit.run(begin, TRIES)
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
    rows, off = scores(fit, best, all_cases(), fuller)
    print(f"left out: bias {off.mean():+.2f}, MAE {np.abs(off).mean():.2f} of {len(off)}")
    if "--write" in sys.argv[1:]:
        write_constants(values, dict(zip(fit.names, after, strict=True)), told)
        with (DATA / "fit.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(["case_id", "quantity", "day", "left_out_source", "answer"])
            writer.writerows(rows)


def switches(cases: Sequence[Case], names: Sequence[str]) -> None:
    """What each switch of the physics is worth: fitted and cross-validated anew with it turned over.

    On a coarser grid than the one in use, with fewer weathers and months; only differences are looked at.
    Rows of switches not named stay as they are in the file.
    """
    with (DATA / "switches.csv").open(encoding="utf-8", newline="") as file:
        header, *kept = csv.reader(file)
    rows = {row[0]: row for row in kept}
    looked_at(2, 3)
    usual = Physics()
    usual_best: Floats | None = None
    tried: list[tuple[str, Physics]] = [("as used", usual)]
    tried += [(name, replace(usual, **{name: not getattr(usual, name)})) for name in names]
    for name, physics in tried:
        fit = Fit(cases, physics, COARSE)
        best = fit.run(np.zeros(len(fit.names)), 8) if usual_best is None else fit.run(usual_best, 3)
        usual_best = best if usual_best is None else usual_best
        residuals = fit.evaluate(best)[0]
        _, off = scores(fit, best, cases)
        own = fit.runs([best])
        fitted_off = np.array(
            [
                wet_percent(case, float(own.answer(case)[0])) - wet_percent(case, case.observed)
                for case in cases
                if case.quantity in MOISTURES and case.grade != "C"
            ]
        )
        state = "-" if name == "as used" else "on" if getattr(physics, name) else "off"
        row = [name, state, f"{residuals @ residuals:.2f}"]
        row += [f"{value:.2f}" for o in (fitted_off, off) for value in (o.mean(), np.abs(o).mean())]
        rows[name] = row
        print(*row, {n: round(v, 4) for n, v in fit.values(best).items() if n in fit.names}, flush=True)
        with (DATA / "switches.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(header)
            writer.writerows(rows.values())


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
