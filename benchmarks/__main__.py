"""Prints milliseconds per member-year and errors: `python -m benchmarks [--quick]`."""

from __future__ import annotations

import argparse
import math
import time

import numpy as np

from benchmarks.problem import DAYS, MARKS, Problem, load
from benchmarks.rival import Rival
from rickyard.season.models import FiniteVolumes
from rickyard.season.reduced import REDUCED

RIVALS = (
    Rival("RK23", (5, 8, 6), 0.002, 1e-3),
    Rival("BDF", (5, 8, 6), 0.002, 1e-3),
    Rival("LSODA", (5, 8, 6), 0.002, 1e-3),
    Rival("RK23", (12, 18, 10), 0.0015, 1e-3),
)
QUICK = (Rival("RK23", (5, 8, 6), 0.002, 1e-3),)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer members and one rival, for a first look")
    parser.add_argument("--rounds", type=int, default=3, help="timing rounds; the median is printed")
    args = parser.parse_args()
    problem = load()
    marks = "/".join(str(day) for day in MARKS)
    print("One red oak split, one year; one core. Errors in points dry basis at days")
    print(f"{marks} and days late at 25 %, against the extrapolated reference.")
    print(f"{'method':<58}{'ms/member-year':>15}   errors")
    members = 32 if args.quick else 100
    for model in (FiniteVolumes(), FiniteVolumes(step_hours=4), REDUCED):
        ours(problem, model, members, 1 if args.quick else args.rounds)
    for rival in QUICK if args.quick else RIVALS:
        mean, seconds = rival.run(problem, DAYS)
        line(rival.name, 1000 * seconds, problem, mean)


def ours(problem: Problem, model: FiniteVolumes, members: int, rounds: int) -> None:
    """Times a model of the package over the members of the problem; the base member tells the error."""
    constants = problem.members(members)
    model.run(problem.shape, constants, problem.air, 1)
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        run = model.run(problem.shape, constants, problem.air, DAYS)
        times.append(time.perf_counter() - began)
    cells = "x".join(str(n) for n in model.counts)
    name = f"rickyard {model.name}, {model.step_hours} h, {cells} cells, {members} members"
    line(name, 1000 * float(np.median(times)) / members, problem, run.mean_db[:, 0])


def line(name: str, ms: float, problem: Problem, mean: np.ndarray) -> None:
    points, late = problem.errors(mean)
    words = " ".join(f"{point:+.2f}" for point in points)
    days = "not ready" if math.isnan(late) else f"{late:+.1f} d"
    print(f"{name:<58}{ms:>15.1f}   {words}, {days}", flush=True)


if __name__ == "__main__":
    main()
