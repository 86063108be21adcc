"""Walks the outside tests and the transcribed keys through the tree key's tables, and prints how many are right.

    python scripts/flora_score.py [--misses]
"""

from __future__ import annotations

import sys
from pathlib import Path

from flora_model import Matrix, score

CHECKS = Path(__file__).resolve().parent.parent / "tests" / "identify" / "data"


def main(arguments: list[str]) -> int:
    """Prints a table; with --misses the species that are not among the first three."""
    matrix = Matrix()
    sys.stdout.write(f"{'table':28}{'situation':10}{'asked':>6}{'first':>8}{'top 3':>8}\n")
    for file in sorted([*CHECKS.glob("outside_*.csv"), *CHECKS.glob("keys_*.csv")]):
        for situation, tally in score(matrix, file).items():
            asked = tally["asked"]
            sys.stdout.write(
                f"{file.stem:28}{situation:10}{asked:6d}"
                f"{tally['first'] / asked:8.3f}{tally['top3'] / asked:8.3f}\n"
            )
            if "--misses" in arguments:
                sys.stdout.writelines(f"    {text}\n" for text in tally if text.startswith("missed"))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
