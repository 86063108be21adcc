"""Fills what everybody knows of a genus and no page was cited for: `python scripts/fill_identify.py`.

A tree whose leaf kind, leaf arrangement, simple or compound leaf, or fruit is in no row of the key's table would pass
any answer about them, and so lead queries it has no business in. Where all other trees of its genus in the table
show the same single state, that state is written for it, as from memory (code M); what the genus does not settle is
printed, and stays for a person to read up. Running it again changes nothing.
"""

from __future__ import annotations

import csv
import io
import sys
from collections import defaultdict
from pathlib import Path

from rickyard.identify.schema import BASIC
from rickyard.identify.tables import EPS, NO_STATE, NOT_APPLICABLE, NOT_APPLICABLE_P, Row, chances

OF_MEMORY = {(name, "leaf_comp"): "simple" for name in ("acpe", "acni5", "acps")}
"""Of these maples only boxelder has compound leaves."""

DATA = Path(__file__).resolve().parent.parent / "src" / "rickyard" / "identify" / "data"


def read(name: str) -> list[Row]:
    return list(csv.DictReader((DATA / name).read_text(encoding="utf-8").splitlines()))


def main() -> int:
    states: dict[str, list[str]] = defaultdict(list)
    for row in read("characters.csv"):
        states[row["character_id"]].append(row["state_id"])
    species = {row["species_id"]: row for row in read("species.csv")}
    rows = read("species_characters.csv")
    cells: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows:
        cells[row["species_id"], row["character_id"]].append(row)
    added = []
    for name, about in species.items():
        for character in BASIC:
            if (name, character) in cells:
                continue
            if (name, character) in OF_MEMORY:
                added.append(made(name, character, OF_MEMORY[name, character], states[character]))
                continue
            kin = {
                tuple(
                    row["state_id"]
                    for row in cells[other, character]
                    if row["frequency"] in ("usually", NOT_APPLICABLE)
                )
                for other, one in species.items()
                if one["genus"] == about["genus"] and (other, character) in cells
            }
            if len(kin) == 1 and len(shared := kin.pop()) == 1:
                added.append(made(name, character, shared[0], states[character]))
            else:
                print(
                    f"{name} ({about['latin']}): {character} is not known, and its genus does not settle it"
                )
    order = {name: place for place, name in enumerate(states)}
    by_species: dict[str, list[Row]] = defaultdict(list)
    for row in (*rows, *added):
        by_species[row["species_id"]].append(row)
    for name in {row["species_id"] for row in added}:
        by_species[name].sort(key=lambda row: order[row["character_id"]])
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    for group in by_species.values():
        writer.writerows(group)
    (DATA / "species_characters.csv").write_text(out.getvalue(), encoding="utf-8")
    print(f"{len(added)} cells written")
    return 0


def made(species: str, character: str, state: str, states: list[str]) -> Row:
    absent = state == NO_STATE
    p = (
        NOT_APPLICABLE_P
        if absent
        else chances((8 if one == state else 0 for one in states), EPS["memory"])[states.index(state)]
    )
    return {
        "species_id": species,
        "character_id": character,
        "state_id": state,
        "frequency": NOT_APPLICABLE if absent else "usually",
        "p": f"{p:g}" if absent else f"{p:.3f}",
        "basis": "logic" if absent else "memory",
        "source": "" if absent else "M",
        "page": "",
    }


if __name__ == "__main__":
    sys.exit(main())
