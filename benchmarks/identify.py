"""Milliseconds of an answer's update of the tree key: `python -m benchmarks.identify [--species 200] [--keep]`.

With --keep the figures go to tests/identify/data/speed.csv, which docs/accuracy.md shows.
"""

from __future__ import annotations

import argparse
import csv
import random
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from rickyard.identify import Answer, Key, look_again, next_looks, posterior, verdict
from rickyard.identify.tables import Row, read_tables

ANSWERS = 8
KEPT = Path(__file__).resolve().parent.parent / "tests" / "identify" / "data" / "speed.csv"


def enlarged(count: int) -> Key:
    """The packaged key with species copied under other ids until there are as many."""
    tables: dict[str, list[Row]] = {name: list(rows) for name, rows in read_tables().items()}
    originals = list(tables["species"])
    cells: dict[str, list[Row]] = {}
    for row in tables["species_characters"]:
        cells.setdefault(row["species_id"], []).append(row)
    for number in range(max(0, count - len(originals))):
        model = originals[number % len(originals)]
        name = f"{model['species_id']}_{number}"
        tables["species"].append({**model, "species_id": name})
        tables["species_characters"] += [{**row, "species_id": name} for row in cells[model["species_id"]]]
    return Key(tables)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.identify", description=__doc__)
    parser.add_argument("--species", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--keep", action="store_true", help="write the figures for docs/accuracy.md")
    given = parser.parse_args()
    key = enlarged(given.species)
    dice = random.Random(1)
    queries = [
        [
            Answer(name, (dice.choice(key.characters[key.at[name]].states),), dice.choice([0.0, 0.3]))
            for name in dice.sample(sorted(key.at), ANSWERS)
        ]
        for _ in range(given.rounds)
    ]
    posts = [posterior(key, answers) for answers in queries]
    parts: dict[str, Callable[[int], object]] = {
        "posterior": lambda i: posterior(key, queries[i]),
        "next looks": lambda i: next_looks(posts[i], ["log"]),
        "verdict and what to look at again": lambda i: (verdict(posts[i], ["log"]), look_again(posts[i])),
    }
    print(f"{len(key.species)} species, {ANSWERS} answers, median of {given.rounds} queries")
    rows = []
    for name, part in parts.items():
        times = []
        for i in range(given.rounds):
            began = time.perf_counter()
            part(i)
            times.append(time.perf_counter() - began)
        half, most = (1000 * float(np.percentile(times, at)) for at in (50, 95))
        print(f"{name:<40}{half:>8.2f} ms, 95 in 100 under {most:.2f} ms")
        rows.append((name, len(key.species), ANSWERS, given.rounds, f"{half:.2f}", f"{most:.2f}"))
    if given.keep:
        with KEPT.open("w", encoding="utf-8", newline="") as file:
            kept = csv.writer(file, lineterminator="\n")
            kept.writerow(("part", "species", "answers", "queries", "median_ms", "p95_ms"))
            kept.writerows(rows)


if __name__ == "__main__":
    main()
