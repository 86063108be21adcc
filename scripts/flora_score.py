"""Walks the outside tests and the transcribed keys through the tree key's tables, and prints how many are right.

python scripts/flora_score.py [--misses] [--keep FILE]

`together` is all that a book says of a tree in any situation, as of a standing tree that has its leaves. --keep writes
the figures as CSV, so that what was found before cells were changed stays on record.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

from flora_model import Matrix, score

CHECKS = Path(__file__).resolve().parent.parent / "tests" / "identify" / "data"
REGIONS = {
    "keys_dame_brooks": "NE",
    "keys_otis": "LS",
    "outside_deam": "LS",
    "keys_deam": "LS",
    "outside_huntington": "NE",
    "keys_illinois": "LS",
    "outside_west_virginia": "NE",
}
"""Where the user of a handbook of one region stands; wood may come from anywhere."""


def main(arguments: list[str]) -> int:
    """Prints a table; with --misses the species that are not among the first three under a flat prior."""
    matrix = Matrix()
    rows: list[list[str]] = []
    heads = f"{'first':>8}{'top 3':>8}"
    sys.stdout.write(f"{'':38}{'':>6}{'flat prior':>16}{'region':>16}\n")
    sys.stdout.write(f"{'table':28}{'situation':10}{'asked':>6}{heads}{heads}\n")
    for file in sorted([*CHECKS.glob("outside_*.csv"), *CHECKS.glob("keys_*.csv")]):
        region = REGIONS.get(file.stem, "")
        there = score(matrix, file, region)
        for situation, tally in score(matrix, file).items():
            shares = [tally[what] / tally["asked"] for what in ("first", "top3")]
            if region:
                shares += [there[situation][what] / tally["asked"] for what in ("first", "top3")]
            figures = "".join(f"{share:8.3f}" for share in shares)
            for prior, counts in (("flat", tally), (region, there[situation])):
                if prior:
                    found = [str(counts[what]) for what in ("asked", "first", "top3")]
                    rows.append([file.stem, situation, prior, *found])
            sys.stdout.write(f"{file.stem:28}{situation:10}{tally['asked']:6d}{figures}\n")
            if "--misses" in arguments:
                sys.stdout.writelines(f"    {text}\n" for text in tally if text.startswith("missed"))
    if "--keep" in arguments:
        with (CHECKS / arguments[arguments.index("--keep") + 1]).open(
            "w", encoding="utf-8", newline=""
        ) as out:
            writer = csv.writer(out, lineterminator="\n")
            writer.writerow(["table", "situation", "prior", "asked", "first", "among_three"])
            writer.writerows(rows)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
