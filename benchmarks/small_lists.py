"""How far plans of the column method are from the best, on small lists: `python -m benchmarks.small_lists`.

The best is the programme over all sequences, which `plan_cuts` itself takes where there are few enough; the column
method is asked of the same lists. Lists are invented (benchmarks/cutting.py).
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from benchmarks.cutting import KINDS, SAW, population, wares
from rickyard.cut import quotas
from rickyard.cut.logs import CutLog, Ware
from rickyard.cut.plan import plan_value
from rickyard.cut.reach import track

LISTS, LONGEST_S = 30, 1.0


def small_list(seed: int) -> tuple[list[CutLog], list[Ware]]:
    """4 to 20 logs of at most 3.2 m and three to six wares, of which most are wanted in part."""
    rng = np.random.default_rng(seed)
    kind = KINDS[(0, 2)[seed % 2]]
    logs = [log for log in population(kind, 120, seed) if log.length_m <= 3.2]
    logs = logs[: int(rng.integers(4, 21))]
    chosen = sorted(rng.choice(6, int(rng.integers(3, 7)), replace=False))
    every = wares(float(rng.uniform(0.1, 0.3)), logs)
    return logs, [every[int(place)] for place in chosen if every[int(place)].length_m > 0.3]


def _volumes(chosen: quotas.Chosen, kinds: int) -> list[float]:
    return [
        float(sum(one))
        for one in zip(*(quotas.volumes_of(cuts, kinds) for cuts in chosen.sequences), strict=True)
    ]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.small_lists", description=__doc__)
    parser.add_argument("--lists", type=int, default=LISTS)
    asked = parser.parse_args()
    ways = {"as for long lists": 0, "as for small lists": quotas.SMALL}
    off: dict[str, list[float]] = {way: [] for way in ways}
    proven: dict[str, list[float]] = {way: [] for way in ways}
    seconds: dict[str, list[float]] = {way: [] for way in ways}
    quotas.MOST_SEQUENCES_IN_ALL, quotas.LONGEST_S = 15_000, LONGEST_S
    seed, done, left_out = 0, 0, 0
    while done < asked.lists:
        seed += 1
        logs, kinds = small_list(seed)
        prices = np.array([ware.value_per_m3 for ware in kinds])
        wanted = np.array([np.inf if ware.wanted_m3 is None else ware.wanted_m3 for ware in kinds])
        if len(kinds) < 3 or np.isinf(wanted).all():
            continue
        tracks = [track(log, kinds, SAW) for log in logs]
        exact = quotas.choose(tracks, kinds)
        best = plan_value(kinds, _volumes(exact, len(kinds)))
        if exact.method != "every_sequence" or exact.bound - best > 2.0 * quotas.EXACT * exact.bound:
            left_out += exact.method == "every_sequence"
            continue
        done += 1
        for way, small in ways.items():
            quotas.SMALL = small
            began = time.perf_counter()
            found = quotas.by_columns(tracks, prices, wanted)
            seconds[way].append(time.perf_counter() - began)
            value = plan_value(kinds, _volumes(found, len(kinds)))
            off[way].append(100.0 * max(0.0, best - value) / best)
            proven[way].append(100.0 * max(0.0, found.bound - value) / found.bound)
        said = ", ".join(f"{off[way][-1]:.4f} % in {seconds[way][-1]:.1f} s" for way in ways)
        print(f"list {seed}: {len(logs)} logs, {len(kinds)} wares: {said}", flush=True)
    print(f"left out, the best not proven in {LONGEST_S:g} s: {left_out}")
    for way in ways:
        print(
            f"{way}: off the best, mean {np.mean(off[way]):.4f} %, median {np.median(off[way]):.4f} %, "
            f"most {max(off[way]):.4f} %; gap that it gives, mean {np.mean(proven[way]):.4f} %, "
            f"most {max(proven[way]):.4f} %; seconds, mean {np.mean(seconds[way]):.2f}, most {max(seconds[way]):.2f}"
        )


if __name__ == "__main__":
    main()
