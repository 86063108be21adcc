"""Draws the cells for a review: `python scripts/flora_sample.py [COUNT] [SEED]`, `--second` the fresh draw.

Both are from cells with basis source or genus: the first from the matrix as it came (git revision in FROM), the second
from the mended one (AGAIN), without the cells that were reviewed before.
"""

from __future__ import annotations

import csv
import random
import subprocess
import sys
from collections import defaultdict
from io import StringIO
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
FROM = "df7190f"
AGAIN = "43bb6f0"
TABLE = "src/rickyard/identify/data/species_characters.csv"


def main(arguments: list[str]) -> int:
    """Prints species, character, states with their frequency, basis, source and page."""
    second = "--second" in arguments
    given = [int(word) for word in arguments if word != "--second"]
    count, seed = given or ((245, 1921) if second else (165, 1915))
    text = subprocess.run(
        ["git", "show", f"{AGAIN if second else FROM}:{TABLE}"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    cells: dict[tuple[str, str], list[dict[str, str]]] = defaultdict(list)
    for row in csv.DictReader(StringIO(text)):
        if row["basis"] in ("source", "genus"):
            cells[row["species_id"], row["character_id"]].append(row)
    names = sorted(cells)
    if second:
        with (ROOT / "tests" / "identify" / "data" / "review.csv").open(
            encoding="utf-8", newline=""
        ) as lines:
            before = {(row["species_id"], row["character_id"]) for row in csv.DictReader(lines)}
        names = [name for name in names if name not in before]
        random.Random(seed).shuffle(names)
        names = sorted(names[:count])
        drawn = np.arange(count)
    else:
        drawn = np.random.default_rng(seed).choice(len(names), size=count, replace=False)
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(("species_id", "character_id", "cell", "basis", "source", "page"))
    for place in sorted(drawn):
        rows = cells[names[place]]
        states = "; ".join(f"{row['state_id']} {row['frequency']}" for row in rows)
        out.writerow((*names[place], states, rows[0]["basis"], rows[0]["source"], rows[0]["page"]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
