"""Writes the species of `flora_notes/species.txt` into the tree key's tables; run twice it changes nothing."""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass, field

from flora_tables import NOTES, Row, absent, cell, counted, read, states, write

OF_A_GROUP = {"R", "G", "F", "T", "B", "C", "W"}
"""Sources that speak of genera or groups, so that what they say holds for another species of the group."""
MINED = {"DB", "DM", "IL", "SN", "N", "SM"}
"""Books that speak of single species: what a lender now has from one of them is no longer lent."""
CODES = {"M": "memory", "D": "assumed", "G": "genus"}
COLUMN = {1: "latin", 2: "common_name", 3: "trade_group", 4: "genus", 5: "kind", 6: "regions"}


@dataclass
class Note:
    """One species of the notes."""

    row: Row
    like: str
    """The species that lends what holds for the group, if any; a mark ! lends only what is absent or assumed."""
    cells: dict[str, list[Row]] = field(default_factory=dict)


def notes(characters: dict[str, list[str]]) -> list[Note]:
    """The species of the notes, each with the cells that the notes give."""
    found: list[Note] = []
    for file in sorted(NOTES.glob("species*.txt")):
        for line in file.read_text(encoding="utf-8").splitlines():
            if line.startswith("+ "):
                parts = [part.strip() for part in line[2:].split("|")]
                row = {"species_id": parts[0], **{COLUMN[i]: parts[i] for i in COLUMN}}
                found.append(Note(row, parts[7]))
            elif line.strip() and not line.startswith("#"):
                _note(found[-1], line.strip(), characters)
    return found


def _note(note: Note, line: str, characters: dict[str, list[str]]) -> None:
    species = note.row["species_id"]
    said, _, cited = line.partition("@")
    name, _, listed = said.strip().partition("=")
    if name not in characters:
        raise SystemExit(f"{species}: there is no character {name}")
    if listed.strip() == "n/a":
        note.cells[name] = [absent(species, name)]
        return
    found = states(listed)
    unknown = set(found) - set(characters[name])
    if unknown:
        raise SystemExit(f"{species} {name}: there is no state {', '.join(sorted(unknown))}")
    *codes, page = _cited(cited.split())
    basis = CODES.get(codes[0], "source")
    source = " ".join(codes)
    note.cells[name] = cell(species, name, found, basis, source, page, len(characters[name]))


def _cited(words: list[str]) -> list[str]:
    """Codes, then the page: "O N O p.95; N p.136" is O, N and the rest."""
    codes = [words[0]]
    rest = words[1:]
    while len(rest) > 1 and all(re.fullmatch(r"[A-Z]{1,2}", word) for word in rest[:2]):
        if rest[0] in codes:
            break
        codes.append(rest.pop(0))
    return [*codes, " ".join(rest)]


def lent(note: Note, like: dict[str, list[Row]]) -> dict[str, list[Row]]:
    """The cells taken over from the species named as like."""
    species = note.row["species_id"]
    found: dict[str, list[Row]] = {}
    for name, rows in like.items():
        first = rows[0]
        basis, page = first["basis"], ""
        if basis in ("source", "genus"):
            if note.like.endswith("!") or not set(first["source"].split()) <= OF_A_GROUP:
                continue
            basis, page = "genus", first["page"]
        elif basis == "memory" and note.like.endswith("!"):
            continue
        found[name] = [{**row, "species_id": species, "basis": basis, "page": page} for row in rows]
    return found


def _kept(own: dict[str, list[Row]], like: dict[str, list[Row]]) -> dict[str, list[Row]]:
    """What was lent before the lender's own cell was read in a book that speaks of the lender alone."""
    return {
        name: rows
        for name, rows in own.items()
        if rows[0]["basis"] != "source"
        and name in like
        and like[name][0]["basis"] == "source"
        and set(like[name][0]["source"].split()) & MINED
    }


def main() -> int:
    """Replaces the rows of the species of the notes."""
    columns, table = read("species")
    cell_columns, cells = read("species_characters")
    characters: dict[str, list[str]] = {}
    for row in read("characters")[1]:
        characters.setdefault(row["character_id"], []).append(row["state_id"])
    found = notes(characters)
    ours = {note.row["species_id"] for note in found}
    table = [row for row in table if row["species_id"] not in ours]
    before: dict[str, dict[str, list[Row]]] = {}
    for row in cells:
        if row["species_id"] in ours:
            before.setdefault(row["species_id"], {}).setdefault(row["character_id"], []).append(row)
    cells = [row for row in cells if row["species_id"] not in ours]
    by_species: dict[str, dict[str, list[Row]]] = {}
    for row in cells:
        by_species.setdefault(row["species_id"], {}).setdefault(row["character_id"], []).append(row)
    for note in found:
        like = by_species[note.like.rstrip("!")] if note.like else {}
        merged = {**_kept(before.get(note.row["species_id"], {}), like), **lent(note, like), **note.cells}
        rows = [
            row for name in characters for row in _recomputed(merged.get(name, []), characters.get(name, []))
        ]
        counted(note.row, rows)
        by_species[note.row["species_id"]] = merged
        table.append(note.row)
        cells.extend(rows)
    write("species", columns, table)
    write("species_characters", cell_columns, cells)
    sys.stdout.write(f"{len(found)} species of the notes, {len(table)} in all, {len(cells)} rows\n")
    return 0


def _recomputed(rows: list[Row], known: list[str]) -> list[Row]:
    """The rows with `p` anew, since a basis that changed changes it."""
    if not rows or rows[0]["frequency"] == "not applicable":
        return rows
    first = rows[0]
    listed = {row["state_id"]: row["frequency"] for row in rows}
    return cell(
        first["species_id"],
        first["character_id"],
        listed,
        first["basis"],
        first["source"],
        first["page"],
        len(known),
    )


if __name__ == "__main__":
    sys.exit(main())
