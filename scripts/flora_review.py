"""Error rate of the reviewed cells, with a 95 % interval for a binomial share (Wilson)."""

from __future__ import annotations

import csv
import sys
from collections import Counter
from collections.abc import Iterable
from math import sqrt
from pathlib import Path

CHECKS = Path(__file__).resolve().parent.parent / "tests" / "identify" / "data"
REVIEWS = ("review", "review_second")
Z = 1.959964


def interval(found: int, of: int) -> tuple[float, float]:
    """Wilson's interval for a share."""
    share = found / of
    middle = share + Z * Z / (2 * of)
    half = Z * sqrt(share * (1 - share) / of + Z * Z / (4 * of * of))
    return (middle - half) / (1 + Z * Z / of), (middle + half) / (1 + Z * Z / of)


def verdicts(rows: Iterable[dict[str, str]]) -> Counter[str]:
    """How many cells got which verdict."""
    return Counter(row["verdict"] for row in rows)


def main() -> int:
    """Prints the rates over all cells read, and by basis."""
    for review in REVIEWS:
        with (CHECKS / f"{review}.csv").open(encoding="utf-8", newline="") as lines:
            rows = list(csv.DictReader(lines))
        for name in ("all", "source", "genus"):
            tally = verdicts(row for row in rows if name in ("all", row["basis"]))
            read = sum(tally.values()) - tally["unread"]
            for what, count in (
                ("wrong", tally["wrong"]),
                ("wrong or not found", tally["wrong"] + tally["not found"]),
            ):
                low, high = interval(count, read)
                sys.stdout.write(
                    f"{review:15}{name:8}{what:20}{count:4} of {read:4} {count / read:7.1%} "
                    f"(95 %: {low:.1%} to {high:.1%})\n"
                )
    return 0


if __name__ == "__main__":
    sys.exit(main())
