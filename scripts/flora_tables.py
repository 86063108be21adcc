"""Reading and writing the tree key's tables for the scripts that extend and mend them."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

from flora_model import DATA, EPS, WEIGHTS

NOTES = Path(__file__).resolve().parent / "flora_notes"
CHECKS = Path(__file__).resolve().parent.parent / "tests" / "identify" / "data"
"""Tables of answers that check the key."""
MARKS = {"*": "sometimes", "-": "rarely"}
Row = dict[str, str]


def read(name: str) -> tuple[list[str], list[Row]]:
    """Column names and rows of a table."""
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        table = csv.DictReader(lines)
        rows = list(table)
    return list(table.fieldnames or ()), rows


def write(name: str, columns: Sequence[str], rows: Iterable[Row]) -> None:
    """Writes a table back as it was: same columns, same order."""
    with (DATA / f"{name}.csv").open("w", encoding="utf-8", newline="") as lines:
        table = csv.DictWriter(lines, columns, lineterminator="\n", restval="")
        table.writeheader()
        table.writerows(rows)


def states(text: str) -> dict[str, str]:
    """Reads "thin_flakes blocks* shag-" as state and frequency."""
    found = {}
    for word in text.split():
        mark = MARKS.get(word[-1])
        found[word[:-1] if mark else word] = mark or "usually"
    return found


def cell(
    species: str, character: str, listed: dict[str, str], basis: str, source: str, page: str, width: int
) -> list[Row]:
    """The rows of one cell, with `p` from the frequency classes."""
    total = sum(WEIGHTS[often] for often in listed.values())
    eps = EPS[basis] if len(listed) < width else 0.0
    return [
        {
            "species_id": species,
            "character_id": character,
            "state_id": state,
            "frequency": often,
            "p": f"{(1.0 - eps) * WEIGHTS[often] / total:.3f}",
            "basis": basis,
            "source": source,
            "page": page,
        }
        for state, often in listed.items()
    ]


def absent(species: str, character: str) -> Row:
    """A part that the species has not."""
    return {
        "species_id": species,
        "character_id": character,
        "state_id": "(none)",
        "frequency": "not applicable",
        "p": "0.02",
        "basis": "logic",
        "source": "",
        "page": "",
    }


def counted(species: Row, rows: Sequence[Row]) -> None:
    """Fills in the columns of species.csv that count cells and name sources."""
    cells = {row["character_id"]: row for row in rows}
    bases = [row["basis"] for row in cells.values() if row["basis"] != "logic"]
    codes = {code for row in rows for code in row["source"].split()}
    species["sources_used"] = " ".join(sorted(codes))
    species["cells"] = str(len(bases))
    species["cells_sourced"] = str(bases.count("source") + bases.count("genus"))
    species["cells_memory"] = str(bases.count("memory"))
    species["cells_assumed"] = str(bases.count("assumed"))
