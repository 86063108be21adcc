"""How long a cutting plan takes, and how near it is proven to be to the best: `python -m benchmarks.cutting`.

The logs are invented. Lengths, thin ends and taper are drawn evenly between the limits of their kind; a share of
the logs has one or two defects of 5 to 25 cm at even places. The limits are judgements of what comes to a small
yard, not a published survey.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rickyard.cut.logs import CutLog, Defect, Saw, Ware
from rickyard.cut.plan import plan_cuts

LOGS, GOAL_S, GOAL_GAP = 200, 20.0, 0.01


@dataclass(frozen=True)
class Kind:
    """Limits of a population: lengths [m], thin ends [m], taper [m/m], share of logs with defects."""

    name: str
    length_m: tuple[float, float]
    small_m: tuple[float, float]
    taper: tuple[float, float]
    defects: float


KINDS = (
    Kind("thinnings", (2.4, 3.7), (0.09, 0.18), (0.008, 0.013), 0.05),
    Kind("tree lengths", (4.9, 7.3), (0.13, 0.30), (0.007, 0.012), 0.2),
    Kind("tree removals", (0.9, 2.5), (0.20, 0.55), (0.01, 0.03), 0.5),
)


def population(kind: Kind, count: int, seed: int) -> list[CutLog]:
    """So many logs of a kind; sizes to the millimetre, as a tape reads them."""
    rng = np.random.default_rng(seed)
    logs = []
    for number in range(count):
        length = round(rng.uniform(*kind.length_m), 3)
        small = round(rng.uniform(*kind.small_m), 3)
        large = round(small + length * rng.uniform(*kind.taper), 3)
        defects = []
        if rng.random() < kind.defects:
            for _ in range(int(rng.integers(1, 3))):
                start = round(rng.uniform(0.0, length - 0.3), 2)
                defects.append(Defect(start, round(start + rng.uniform(0.05, 0.25), 2), "rot"))
        logs.append(CutLog(f"L{number + 1:03d}", length, large, small, tuple(defects)))
    return logs


def wares(wanted_share: float | None, logs: list[CutLog]) -> list[Ware]:
    """Six wares; `wanted_share` of all wood is wanted of each of the five dearer ones (None: no limits)."""
    solid = sum(log.volume_m3() for log in logs)

    def wanted(part: float) -> float | None:
        return None if wanted_share is None else round(solid * wanted_share * part, 3)

    return [
        Ware("stove-25", 0.25, 150.0, wanted(0.5)),
        Ware("stove-33", 0.33, 135.0, wanted(1.0), 0.08),
        Ware("stove-40", 0.40, 125.0, wanted(1.2), 0.08),
        Ware("hearth-46", 0.46, 128.0, wanted(0.8), 0.12, 0.45),
        Ware("hearth-50", 0.50, 115.0, wanted(1.0), 0.10),
        Ware("boiler-100", 1.00, 80.0, None, None, 0.40),
    ]


SAW = Saw(0.008, 0.02)


def report(say: Callable[..., None], *, big: bool = True) -> None:
    say("## A cutting plan")
    say()
    say(
        f"{LOGS} invented logs (benchmarks/cutting.py) cut for six wares, five of them with wanted amounts; "
        f"goal: proven within {100 * GOAL_GAP:g} % in {GOAL_S:g} s."
    )
    say()
    say("| logs | count | way | seconds | proven within | |")
    say("|---|---|---|---|---|---|")
    plan_cuts(population(KINDS[0], 2, 0), wares(None, population(KINDS[0], 2, 0)), SAW)  # compiled beforehand
    cases = [(kind.name, population(kind, LOGS, 7)) for kind in KINDS]
    mixed = [log for kind in KINDS for log in population(kind, 67, 11)][:LOGS]
    cases.append(
        (
            "all three",
            [CutLog(f"M{n}", g.length_m, g.large_d_m, g.small_d_m, g.defects) for n, g in enumerate(mixed)],
        )
    )
    if big:
        cases.append(("thinnings", population(KINDS[0], 10_000, 5)))
    for name, logs in cases:
        began = time.perf_counter()
        plan = plan_cuts(logs, wares(0.18, logs), SAW)
        seconds = time.perf_counter() - began
        good = seconds <= GOAL_S and plan.gap <= GOAL_GAP
        goal = "" if len(logs) != LOGS else "met" if good else "missed"
        say(f"| {name} | {len(logs)} | {plan.method} | {seconds:.1f} | {100 * plan.gap:.3f} % | {goal} |")


if __name__ == "__main__":

    def show(text: str = "") -> None:
        print(text, flush=True)

    report(show)
