"""Speed and error of the drying model beside general solvers: `python -m benchmarks [--quick] [--write]`."""

from __future__ import annotations

import argparse
import importlib
import importlib.metadata
import importlib.util
import math
import os
import platform
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks import first_start, pages
from benchmarks.cutting import report as cutting
from benchmarks.general import General
from benchmarks.ladder import GENERAL, SOLVERS
from benchmarks.problem import DAYS, MARKS, Problem, load
from benchmarks.refresh import refresh
from benchmarks.rival import Rival, TookTooLongError
from rickyard.season import MODEL_VERSION
from rickyard.season.models import FiniteVolumes
from rickyard.season.reduced import REDUCED

PAGE = Path(__file__).resolve().parent.parent / "docs" / "speed.md"
#: A rival errs no more than we do if it is within this of our worst mark [points] and of our day [days].
SLACK_POINTS, SLACK_DAYS = 0.02, 0.2
#: A rival that takes longer for a member-year is given up, and its ladder is not climbed further.
LONGEST_S = 180.0
REFRESH_STACKS, REFRESH_GOAL_S = 100, 180.0
GOAL_POINTS, GOAL_DAYS, GOAL_MS, GOAL_TIMES = 0.3, 3.0, 20.0, 100.0


@dataclass
class Entry:
    """One line of the table; `run` gives the daily means and the seconds of a member-year."""

    name: str
    run: Callable[[], tuple[NDArray[np.float64], float]]
    points: list[float] = field(default_factory=list)
    late: float = math.nan
    seconds: list[float] = field(default_factory=list)
    note: str = ""

    @property
    def ms(self) -> float:
        return 1000.0 * float(np.median(self.seconds))

    @property
    def worst(self) -> float:
        return max(abs(point) for point in self.points)

    def once(self, problem: Problem) -> None:
        mean, seconds = self.run()
        self.points, self.late = problem.errors(mean)
        self.seconds.append(seconds)


def ours(problem: Problem, model: Any, members: int) -> Entry:
    """The base member tells the error; a member's time is that of all divided by their number."""
    constants = problem.members(members)

    def run() -> tuple[NDArray[np.float64], float]:
        began = time.process_time()
        made = model.run(problem.shape, constants, problem.air, DAYS)
        seconds = (time.process_time() - began) / members
        return np.asarray(made.mean_db[:, 0], dtype=np.float64), seconds

    model.run(problem.shape, constants, problem.air, 1)
    counts = getattr(model, "counts", ())
    size = f", {model.step_hours} h, {'x'.join(map(str, counts))} cells" if counts else ""
    return Entry(f"{MODEL_VERSION} {model.name}{size}, {members} members", run)


def climb(
    problem: Problem, steps: Sequence[Rival | General], target: Entry, say: Callable[[str], None]
) -> Entry:
    """The first of the steps, from cheap to dear, that errs no more than the target.

    Else the last that came to its end, saying so; one that never did has no figures.
    """
    last = Entry(steps[0].name, lambda: steps[0].run(problem, DAYS, LONGEST_S))
    for step in steps:
        entry = Entry(step.name, lambda step=step: step.run(problem, DAYS, LONGEST_S))  # type: ignore[misc]
        try:
            entry.once(problem)
        except TookTooLongError as why:
            last.note = f"still errs more; {entry.name}: {why}" if last.seconds else str(why)
            say(f"{entry.name}: {why}")
            return last
        last = entry
        say(line(entry, target))
        if entry.worst <= target.worst + SLACK_POINTS and abs(entry.late) <= abs(target.late) + SLACK_DAYS:
            return entry
    last.note = "still errs more"
    return last


def line(entry: Entry, target: Entry) -> str:
    if not entry.seconds:
        return f"| {entry.name} | - | - | - | more than {1000 * LONGEST_S / target.ms:.3g} | {entry.note} |"
    words = " ".join(f"{point:+.2f}" for point in entry.points)
    days = "not ready" if math.isnan(entry.late) else f"{entry.late:+.1f}"
    times = entry.ms / target.ms
    return (
        f"| {entry.name} | {entry.ms:.3g} | {words} | {days} | {times:.3g} |"
        f"{' ' + entry.note if entry.note else ''} |"
    )


def machine() -> str:
    """The kind of processor in general words."""
    flags = ""
    info = Path("/proc/cpuinfo")
    if info.exists():
        text = info.read_text(encoding="utf-8")
        found = [name for name in ("avx512f", "avx2", "avx") if f" {name} " in text]
        flags = f", vectors: {found[0] if found else 'SSE'}"
    return f"{platform.machine()}, {os.cpu_count()} cores{flags}, {platform.system()}"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="the model and one solver, for a first look")
    parser.add_argument(
        "--rounds", type=int, default=5, help="interleaved rounds of timing; medians are printed"
    )
    parser.add_argument(
        "--stacks", type=int, default=REFRESH_STACKS, help="of the yard that is refreshed; 0 leaves it out"
    )
    parser.add_argument(
        "--decade",
        default="",
        metavar="BOOK",
        help="the book of ten years; made there if it is not, in a quarter of an hour",
    )
    parser.add_argument("--no-pages", action="store_true", help="without the pages on a book of ten years")
    parser.add_argument("--write", action="store_true", help="keep what is printed in docs/speed.md")
    args = parser.parse_args()
    lines: list[str] = []

    def say(text: str = "") -> None:
        print(text, flush=True)
        lines.append(text)

    def aside(text: str) -> None:
        print(f"  {text}", flush=True)

    versions = ", ".join(
        f"{name} {importlib.metadata.version(name)}" for name in ("numpy", "numba", "scipy", "fipy")
    )
    say("# Speed")
    say()
    say("Made by `make bench`; do not edit by hand. Never part of the tests.")
    say()
    say(
        f"Measured on {datetime.now(UTC).date().isoformat()} on {machine()}; "
        f"load {os.getloadavg()[0]:.1f} before. {versions}."
    )
    say()
    solvers(args.quick, args.rounds, say, aside)
    if args.stacks and not args.quick:
        say()
        yard(args.stacks, say, aside)
    if not args.quick:
        say()
        cutting(say)
        say()
        first_start.report(say)
    if not args.quick and not args.no_pages:
        say()
        pages.report(args.decade, say, aside)
    if args.write:
        PAGE.write_text("\n".join(lines) + "\n", encoding="utf-8")


def solvers(quick: bool, rounds: int, say: Callable[[str], None], aside: Callable[[str], None]) -> None:
    problem = load()
    used = FiniteVolumes()
    target = ours(problem, used, 64)
    target.once(problem)
    aside(line(target, target))
    mine = [target]
    if not quick:
        mine += [ours(problem, model, 64) for model in (FiniteVolumes(step_hours=1), REDUCED)]
    ladders: list[Sequence[Rival | General]] = (
        list(SOLVERS.values())[:1] if quick else [*SOLVERS.values(), GENERAL]
    )
    rivals = [climb(problem, steps, target, aside) for steps in ladders]
    # What was timed while climbing does not count: all are timed in turn, so that a busy moment hits all alike.
    timed = [*mine, *(entry for entry in rivals if entry.seconds)]
    for entry in timed:
        entry.seconds.clear()
    for number in range(1 if quick else rounds):
        for entry in timed:
            # A rival that takes a minute and more is not asked again and again.
            if number == 0 or entry.ms < 60_000.0:
                entry.once(problem)
    say("## One piece for a year")
    say()
    for text in (
        "One red oak split for a year (benchmarks/data), one core, processor time, "
        f"medians of {1 if quick else rounds} interleaved rounds.",
        f"Errors in points dry basis on days {', '.join(map(str, MARKS))} and in the day of 25 %, "
        "against the reference.",
        "Each rival is given the coarsest cells and the loosest tolerance of its ladder (benchmarks/ladder.py) "
        "that errs no more than the model in use.",
        "BDF and Radau know which cells are neighbours, LSODA the band.",
        "Their right-hand side, and what FiPy cannot know, are compiled like ours.",
        "A rival solves one member at a time; one that takes a minute or more is timed once.",
    ):
        say(text)
    say()
    say("| method | ms a member-year | errors, points | days late | times our time | |")
    say("|---|---|---|---|---|---|")
    for entry in (*mine, *rivals):
        say(line(entry, target))
    say()
    fastest = min([entry.ms for entry in rivals if entry.seconds] or [1000.0 * LONGEST_S]) / target.ms
    for name, reached, wanted, good in (
        (
            "error at the marks, points",
            f"{target.worst:.2f}",
            f"{GOAL_POINTS:g}",
            target.worst <= GOAL_POINTS,
        ),
        (
            "error of the ready day, days",
            f"{abs(target.late):.1f}",
            f"{GOAL_DAYS:g}",
            abs(target.late) <= GOAL_DAYS,
        ),
        ("milliseconds a member-year", f"{target.ms:.1f}", f"{GOAL_MS:g}", target.ms <= GOAL_MS),
        ("times faster than the fastest rival", f"{fastest:.0f}", f"{GOAL_TIMES:g}", fastest >= GOAL_TIMES),
    ):
        say(f"- {name}: {reached}; goal {wanted}: {'met' if good else 'missed'}.")


def yard(stacks: int, say: Callable[[str], None], aside: Callable[[str], None]) -> None:
    seconds, members, days = refresh(stacks, aside)
    say("## A whole yard")
    say()
    say(
        f"{stacks} stacks, {members} members, {days} days, every forecast made anew by the server's own worker, "
        f"SQLite book and all, in {seconds:.0f} s "
        f"(goal for {REFRESH_STACKS} stacks on 2 cores: {REFRESH_GOAL_S:.0f} s: "
        f"{'met' if seconds * REFRESH_STACKS / stacks <= REFRESH_GOAL_S else 'missed'})."
    )


if __name__ == "__main__":
    main()
