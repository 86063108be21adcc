"""What must hold of the tables: the shape of each, and rules between them.

`problems(tables)` lists every breach in words; the tests run it over the packaged tables.
Whoever adds species or cells runs `python -m rickyard.identify.schema`.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations

from rickyard.identify.tables import (
    EPS,
    NO_STATE,
    NOT_APPLICABLE,
    NOT_APPLICABLE_P,
    REGIONS,
    SITUATIONS,
    WEIGHTS,
    Key,
    LookAlikes,
    Row,
    chances,
    read_tables,
    settled,
)

COLUMNS: dict[str, tuple[str, ...]] = {
    "characters": (
        "character_id", "group", "question", "how_to_look", "situations", "state_id", "state_label", "applies_to",
        "block", "observer_error",
    ),
    "species": (
        "species_id", "latin", "common_name", "trade_group", "genus", "kind", "regions", "sources_used", "cells",
        "cells_sourced", "cells_memory", "cells_assumed",
    ),
    "species_characters": (
        "species_id", "character_id", "state_id", "frequency", "p", "basis", "source", "page",
    ),
    "lookalikes": (
        "species_a", "species_b", "situations", "settling_characters", "plain_note", "source",
    ),
    "glossary": ("term", "kind", "definition"),
    "sources": ("code", "citation", "how_used"),
    "efforts": ("character_id", "effort", "why"),
    "variants": ("variant_id", "species_id", "name", "street_share", "basis", "source", "note"),
    "variant_characters": (
        "variant_id", "character_id", "state_id", "frequency", "p", "basis", "source", "page",
    ),
    "street": ("species_id", "basis", "source", "note"),
    "gaps": ("species_id", "situation", "reason"),
}  # fmt: skip
"""Columns that a table must have; more are allowed."""

MAY_BE_EMPTY = {"gaps"}
BASES = {*EPS, "logic"}
MANY_STATES, FEW_STATES = 40, 2
FEWEST = 8
"""So many characters a species must have in every situation, or say in the table `gaps` why not."""

BASIC = ("leaf_kind", "arr", "leaf_comp", "fruit")
"""Characters so plain that no species may be without them: an unknown one passes any answer, and so leads
queries that it has no business in."""

CLEARLY = 3.0
"""A settling state speaks clearly for a species that shows it so many times as often as its look-alike."""

P_ROUNDING = 0.0011
"""`p` is rounded to three places; some cells were rounded after their sum."""

_ID = re.compile(r"^[a-z0-9_.]+$")

Tables = Mapping[str, Sequence[Row]]


def problems(tables: Tables) -> list[str]:
    """Every breach of shape or rule; empty if the tables are sound."""
    shape = [text for name in COLUMNS for text in _columns(name, tables.get(name, ()))]
    if shape:
        return shape
    found = [
        *_characters(tables),
        *_species(tables),
        *_cells(tables, "species_characters", "species_id", {row["species_id"] for row in tables["species"]}),
        *_cells(
            tables, "variant_characters", "variant_id", {row["variant_id"] for row in tables["variants"]}
        ),
        *_references(tables),
    ]
    return found or [*_of_the_key(tables)]


def _columns(name: str, rows: Sequence[Row]) -> Iterator[str]:
    if not rows and name not in MAY_BE_EMPTY:
        yield f"{name}: no rows"
        return
    missing = set(COLUMNS[name]) - set(rows[0]) if rows else set()
    if missing:
        yield f"{name}: no column {', '.join(sorted(missing))}"
    for place, row in enumerate(rows, start=2):
        if None in row or None in row.values():
            yield f"{name}, line {place}: too few or too many fields"


def _repeated(values: Iterable[object]) -> list[object]:
    return [value for value, count in Counter(values).items() if count > 1]


def _characters(tables: Tables) -> Iterator[str]:
    rows = tables["characters"]
    for repeated in _repeated((row["character_id"], row["state_id"]) for row in rows):
        yield f"characters: {repeated} stands twice"
    same = ("group", "question", "how_to_look", "situations", "applies_to", "block", "observer_error")
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(row["character_id"], []).append(row)
    for name, states in grouped.items():
        if len({tuple(row[column] for column in same) for row in states}) > 1:
            yield f"characters: {name} differs from line to line"
        first = states[0]
        if not FEW_STATES <= len(states) <= MANY_STATES:
            yield f"characters: {name} has {len(states)} states"
        if not first["situations"] or set(first["situations"]) - set(SITUATIONS.values()):
            yield f"characters: {name} has situations {first['situations']!r}"
        if first["applies_to"] not in ("hardwood", "softwood", "all"):
            yield f"characters: {name} applies to {first['applies_to']!r}"
        if not 0.0 < float(first["observer_error"]) < 0.5:
            yield f"characters: {name} has observer_error {first['observer_error']}"
        for row in states:
            if not (_ID.match(name) and _ID.match(row["state_id"])):
                yield f"characters: the id {name}={row['state_id']} is not plain"
            if not (row["question"] and row["how_to_look"] and row["state_label"]):
                yield f"characters: {name}={row['state_id']} lacks words"
    efforts = {row["character_id"]: row["effort"] for row in tables["efforts"]}
    for name in grouped.keys() ^ efforts.keys():
        yield f"efforts and characters do not both have {name}"
    for name, effort in efforts.items():
        if effort not in ("1", "2", "3"):
            yield f"efforts: {name} costs {effort!r}"


def _species(tables: Tables) -> Iterator[str]:
    rows = tables["species"]
    for column in ("species_id", "latin"):
        for repeated in _repeated(row[column] for row in rows):
            yield f"species: {column} {repeated} stands twice"
    for row in rows:
        name = row["species_id"]
        if not (row["common_name"] and row["trade_group"] and row["genus"]):
            yield f"species: {name} lacks a name, trade group or genus"
        if row["kind"] not in ("hardwood", "softwood"):
            yield f"species: {name} is of kind {row['kind']!r}"
        for part in row["regions"].split():
            region, _, often = part.partition(":")
            if region not in REGIONS or often not in ("c", "o"):
                yield f"species: {name} has region {part!r}"
        if not row["regions"].split():
            yield f"species: {name} grows nowhere"


def _cells(tables: Tables, table: str, column: str, owners: set[str]) -> Iterator[str]:
    states: dict[str, list[str]] = {}
    for row in tables["characters"]:
        states.setdefault(row["character_id"], []).append(row["state_id"])
    codes = {row["code"] for row in tables["sources"]}
    for repeated in _repeated((r[column], r["character_id"], r["state_id"]) for r in tables[table]):
        yield f"{table}: {repeated} stands twice"
    grouped: dict[tuple[str, str], list[Row]] = {}
    for row in tables[table]:
        grouped.setdefault((row[column], row["character_id"]), []).append(row)
    for (owner, name), rows in grouped.items():
        where = f"{table}: {owner} {name}"
        if owner not in owners:
            yield f"{where}: {owner} is not in the list"
        if name not in states:
            yield f"{where}: there is no such character"
            continue
        yield from _cell(where, rows, states[name], codes)


def _cell(where: str, rows: list[Row], states: list[str], codes: set[str]) -> Iterator[str]:
    for row in rows:
        unread = set(row["source"].split()) - codes
        if unread:
            yield f"{where}: source code {', '.join(sorted(unread))} is not in sources.csv"
        if row["basis"] not in BASES:
            yield f"{where}: basis {row['basis']!r}"
        if row["basis"] in EPS and not row["source"]:
            yield f"{where}: basis {row['basis']} without a source code"
    absent = [row for row in rows if row["frequency"] == NOT_APPLICABLE]
    if absent:
        if len(rows) > 1 or rows[0]["state_id"] != NO_STATE or rows[0]["basis"] != "logic":
            yield f"{where}: not applicable stands alone, with state {NO_STATE} and basis logic"
        if float(rows[0]["p"]) != NOT_APPLICABLE_P:
            yield f"{where}: p of not applicable is {NOT_APPLICABLE_P}"
        return
    for row in rows:
        if row["state_id"] not in states:
            yield f"{where}: there is no state {row['state_id']}"
        if row["frequency"] not in WEIGHTS:
            yield f"{where}: frequency {row['frequency']!r}"
        if row["basis"] not in EPS:
            yield f"{where}: basis {row['basis']!r} with a state"
    if any(row["frequency"] not in WEIGHTS or row["basis"] not in EPS for row in rows):
        return
    if len({row["basis"] for row in rows}) > 1:
        yield f"{where}: one cell, one basis"
    weight = {row["state_id"]: WEIGHTS[row["frequency"]] for row in rows}
    reckoned = dict(
        zip(states, chances((weight.get(s, 0) for s in states), EPS[rows[0]["basis"]]), strict=True)
    )
    if abs(sum(reckoned.values()) - 1.0) > 1e-12:
        yield f"{where}: probabilities sum to {sum(reckoned.values())}"
    for row in rows:
        if abs(float(row["p"]) - reckoned.get(row["state_id"], 0.0)) > P_ROUNDING:
            yield f"{where}: p of {row['state_id']} is {row['p']}, its class says {reckoned.get(row['state_id'])}"


def _references(tables: Tables) -> Iterator[str]:
    species = {row["species_id"] for row in tables["species"]}
    codes = {row["code"] for row in tables["sources"]}
    states = {(row["character_id"], row["state_id"]) for row in tables["characters"]}
    for row in tables["lookalikes"]:
        pair = (row["species_a"], row["species_b"])
        for name in pair:
            if name not in species:
                yield f"lookalikes: {name} is not in the list"
        if set(row["source"].split()) - codes:
            yield f"lookalikes: {pair}: source {row['source']!r}"
        if not row["plain_note"]:
            yield f"lookalikes: {pair} has no note"
        for name, sides in settled(row["settling_characters"]):
            for state, whose in sides.items():
                if (name, state) not in states:
                    yield f"lookalikes: {pair}: there is no {name}={state}"
                if whose not in pair:
                    yield f"lookalikes: {pair}: {name}={state} speaks of {whose}"
    for repeated in _repeated(frozenset((r["species_a"], r["species_b"])) for r in tables["lookalikes"]):
        yield f"lookalikes: {repeated} stands twice"
    for row in (*tables["variants"], *tables["street"]):
        if row["species_id"] not in species:
            yield f"variants or street: {row['species_id']} is not in the list"
    for repeated in _repeated([*species, *(row["variant_id"] for row in tables["variants"])]):
        yield f"variants: the id {repeated} is taken"
    shares: Counter[str] = Counter()
    for row in tables["variants"]:
        shares[row["species_id"]] += float(row["street_share"])  # type: ignore[assignment]
    for name, share in shares.items():
        if not 0.0 < share <= 1.0:
            yield f"variants: the shares of {name} sum to {share}"


def _of_the_key(tables: Tables) -> Iterator[str]:
    """Rules that need the whole: ids, look-alikes that differ, something to look at everywhere."""
    key = Key(tables)
    for repeated in _repeated(species.id for species in key.species):
        yield f"species: two species have the id {repeated}"
    gaps = {(row["species_id"], row["situation"]) for row in tables["gaps"] if row["reason"]}
    for species in key.species:
        if species.wood.rank == "unnamed" and (species.key_id, "wood") not in gaps:
            yield f"species: {species.key_id}: the wood table knows neither {species.scientific} nor its genus"
        for name in BASIC:
            if key.cell(species.key_id, name) is None and (species.key_id, name) not in gaps:
                yield f"species: {species.key_id} has no {name}, and no reason in gaps.csv"
    for item in key.look_alikes:
        yield from _separable(key, item)
    for place, species in enumerate(key.species):
        for word, letter in SITUATIONS.items():
            seen = [j for j, c in enumerate(key.characters) if letter in c.situations and key.known[place, j]]
            if len(seen) < FEWEST and (species.key_id, word) not in gaps:
                yield f"species: {species.key_id} has {len(seen)} characters for {word}, and no reason in gaps.csv"
    for first, second in combinations(range(len(key.species)), 2):
        if (key.p[first] == key.p[second]).all():
            yield f"species: {key.species[first].key_id} and {key.species[second].key_id} are the same in every cell"


def _separable(key: Key, item: LookAlikes) -> Iterator[str]:
    """No settling state speaks for the other species, and each of the two has one that clearly speaks for it."""
    a, b = item.pair
    best = dict.fromkeys(item.pair, 1.0)
    for name, sides in item.settling.items():
        for state, whose in sides.items():
            other = b if whose == a else a
            column = key.span[name].start + key.characters[key.at[name]].states.index(state)
            own, theirs = (key.p[key.species_at[who], column] for who in (whose, other))
            best[whose] = max(best[whose], float(own / theirs))
            if own < 0.9 * theirs:  # cells of another basis differ a little at equal frequency
                yield f"lookalikes: {name}={state} is less likely in {whose} than in {other}"
    for whose, ratio in best.items():
        if ratio < CLEARLY:
            yield f"lookalikes: {item.pair}: nothing clearly speaks for {whose}"


def main() -> int:
    """Prints every breach; 1 if there is any."""
    found = problems(read_tables())
    sys.stdout.writelines(f"{text}\n" for text in found)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
