"""Takes cells from a book that has served as outside test: `python scripts/flora_mine.py TABLE CODE`.

TABLE is the book's table of answers in tests/identify/data, CODE its source code. Writes flora_notes/mined_CODE.txt,
which `flora_mend.py` applies; cells that cite the book already are left as they are. Answers given with doubt teach
nothing.

- no cell, or one assumed: the book's states, usual;
- a cell from memory or of the genus: what both say is usual, what only the book says is met sometimes, what only the
  genus says sometimes and what only memory says rarely; where they share nothing the book's states are usual;
- a sourced cell: what the book alone says is added as met sometimes if the two share nothing (both readings are kept),
  and a state that the book alone gives goes up one class; otherwise nothing changes.
"""

from __future__ import annotations

import csv
import sys

from flora_tables import CHECKS, MARKS, NOTES, Row, read

UP = {"rarely": "sometimes", "sometimes": "usually", "usually": "usually"}
SIGNS = {often: mark for mark, often in MARKS.items()} | {"usually": ""}


def joined(rows: list[Row], said: list[str]) -> dict[str, str] | None:
    """State and frequency of the cell with the book's word added; None if nothing changes."""
    if not rows:
        return dict.fromkeys(said, "usually")
    basis, listed = rows[0]["basis"], {row["state_id"]: row["frequency"] for row in rows}
    shared = [state for state in said if state in listed]
    if basis == "logic":
        return None
    if basis == "assumed":
        return dict.fromkeys(said, "usually")
    if basis in ("memory", "genus"):
        usual = shared or said
        return {
            state: "usually" if state in usual else "sometimes" for state in dict.fromkeys([*said, *listed])
        }
    if not shared:
        return listed | dict.fromkeys(said, "sometimes")
    if len(said) == 1 and listed[said[0]] != "usually":
        return listed | {said[0]: UP[listed[said[0]]]}
    return None


def lines(table: str, code: str) -> list[str]:
    """Lines of notes, one a cell that the book changes."""
    cells: dict[tuple[str, str], list[Row]] = {}
    for row in read("species_characters")[1]:
        cells.setdefault((row["species_id"], row["character_id"]), []).append(row)
    with (CHECKS / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        answers = [row for row in csv.DictReader(file) if float(row["doubt"]) == 0.0]
    found: dict[tuple[str, str], str] = {}
    for answer in answers:
        place = (answer["key_id"], answer["character"])
        rows = cells.get(place, [])
        if place in found or (rows and code in rows[0]["source"].split()):
            continue
        new = joined(rows, answer["states"].split("|"))
        if new is None:
            continue
        page = f"{code} {answer['page']}"
        codes = code
        if rows and rows[0]["basis"] == "source":
            codes = f"{rows[0]['source']} {code}"
            page = f"{rows[0]['page'] or rows[0]['source']}; {page}"
        states = " ".join(f"{state}{SIGNS[often]}" for state, often in new.items())
        found[place] = f"{place[0]} {place[1]} = {states} @{codes} {page}\n"
    return list(found.values())


def main(arguments: list[str]) -> int:
    table, code = arguments
    file = NOTES / f"mined_{code}.txt"
    text = (
        file.read_text(encoding="utf-8")
        if file.exists()
        else f"# Cells taken from {table}.csv, code {code}.\n"
    )
    new = lines(table, code)
    file.write_text(text + "".join(new), encoding="utf-8")
    sys.stdout.write(f"{len(new)} cells\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
