"""The packaged tables of the key, read once and made into arrays.

A cell says how often a species shows each state of a character: *usually* (weight 8), *sometimes* (3), *rarely* (1).
Its listed states share 1 - eps by these weights, the others share eps, by how well the cell is known (`EPS`).
A character without a row for a species is unknown: every state alike.
One that the species has not (an elm has no acorn cup) is not applicable: 0.02 for any state.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from rickyard.text import T_, Text, TreeName
from rickyard.wood import UNNAMED_HARDWOOD, UNNAMED_SOFTWOOD, Species, species_named

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Row = dict[str, str]

SITUATIONS = {"leaf": "a", "winter": "b", "log": "c", "split": "d", "lens": "e"}
"""What is in front of the user: their words for the letters of characters.csv."""

SITUATION_WORDS: dict[str, Text] = {
    "leaf": T_("tree in leaf"),
    "winter": T_("tree in winter"),
    "log": T_("log with bark"),
    "split": T_("split without bark"),
    "lens": T_("cut end with a lens"),
}

REGIONS: dict[str, Text] = {
    "NE": T_("Northeast"),
    "LS": T_("Lake states and Midwest"),
    "SE": T_("Southeast"),
    "GP": T_("Great Plains"),
    "RM": T_("Rocky Mountains"),
    "SW": T_("Southwest"),
    "PC": T_("Pacific coast"),
}

WEIGHTS = {"usually": 8, "sometimes": 3, "rarely": 1}
EPS = {"source": 0.03, "genus": 0.05, "memory": 0.05, "assumed": 0.08}
NOT_APPLICABLE = "not applicable"
NO_STATE = "(none)"
NOT_APPLICABLE_P = 0.02


@dataclass(frozen=True)
class Character:
    """Something to look at.

    Attributes
    ----------
    id, group, question, how_to_look
        As in characters.csv.
    situations
        Letters a to e in which it can be seen.
    states, labels
        Ids of its states and what they look like.
    applies_to
        hardwood, softwood or all.
    block
        Characters of one block repeat the same evidence.
    error
        Chance that a careful amateur names a wrong state.
    effort
        1 a look, 2 a cut or a scrape, 3 lens, water, lamp or waiting.
    """

    id: str
    group: str
    question: str
    how_to_look: str
    situations: str
    states: tuple[str, ...]
    labels: tuple[str, ...]
    applies_to: str
    block: str
    error: float
    effort: int


@dataclass(frozen=True)
class KeySpecies:
    """A tree of the key; `id` is the slug of its scientific name, `wood` what the house knows of its wood.

    `regions` maps a region to `c` (common) or `o` (occasional).
    """

    id: str
    key_id: str
    scientific: str
    common_en: str
    common_fr: str
    group: str
    genus: str
    kind: str
    regions: Mapping[str, str]
    wood: Species

    @property
    def names(self) -> TreeName:
        """To fill a place of a sentence: the reader sees the name of their language."""
        return TreeName(self.scientific, self.common_en, self.common_fr)


@dataclass(frozen=True)
class Variant:
    """A planted form that differs from its species; it takes part where the log comes from a street or a yard."""

    id: str
    key_id: str
    name: str
    street_share: float


@dataclass(frozen=True)
class LookAlikes:
    """Two species that are taken for one another (ids of the key), and the characters that settle them.

    `settling` maps a character to the states as the table states them: state to key id.
    """

    pair: tuple[str, str]
    situations: str
    settling: Mapping[str, Mapping[str, str]]
    note: str
    source: str


@dataclass(frozen=True)
class Cell:
    """What is known of a character of a species: weight of each state (0 not listed) and eps; None if unknown.

    `applicable` is False where the part does not exist.
    """

    weights: tuple[int, ...]
    eps: float
    applicable: bool = True

    @property
    def p(self) -> tuple[float, ...]:
        """Probability of each state."""
        if not self.applicable:
            return (NOT_APPLICABLE_P,) * len(self.weights)
        return chances(self.weights, self.eps)


def chances(weights: Iterable[int], eps: float) -> tuple[float, ...]:
    """Probability of each state by its weight; the script on the phone reckons in the same order."""
    weights = tuple(weights)
    total = sum(weights)
    bare = sum(1 for weight in weights if weight == 0)
    if total == 0:
        return (1.0 / len(weights),) * len(weights)
    if bare == 0:
        return tuple(weight / total for weight in weights)
    return tuple((1.0 - eps) * weight / total if weight else eps / bare for weight in weights)


class Key:
    """The tables as arrays.

    Rows of `p` are the species in the table's order, then the variants; columns are all states of all
    characters, one character after another (`span` gives a character's columns).
    """

    def __init__(self, tables: Mapping[str, Iterable[Row]]) -> None:
        self.characters = tuple(_characters(tables["characters"], tables["efforts"]))
        self.species = tuple(_species(tables["species"]))
        self.variants = tuple(
            Variant(row["variant_id"], row["species_id"], row["name"], float(row["street_share"]))
            for row in tables["variants"]
        )
        self.look_alikes = tuple(_look_alikes(tables["lookalikes"]))
        self.street = frozenset(row["species_id"] for row in tables["street"])
        self.at = {character.id: place for place, character in enumerate(self.characters)}
        self.species_at = {species.key_id: place for place, species in enumerate(self.species)}
        self._cells = self._read_cells(tables)
        self._fill()

    def _read_cells(self, tables: Mapping[str, Iterable[Row]]) -> dict[tuple[str, str], Cell]:
        cells = _cells(self.characters, tables["species_characters"], "species_id")
        own = _cells(self.characters, tables["variant_characters"], "variant_id")
        for variant in self.variants:
            for character in self.characters:
                name = (variant.id, character.id)
                found = own.get(name) or cells.get((variant.key_id, character.id))
                if found is not None:
                    cells[name] = found
        return cells

    def _fill(self) -> None:
        widths = [len(character.states) for character in self.characters]
        starts = np.concatenate([[0], np.cumsum(widths)])
        self.span = {c.id: slice(int(starts[i]), int(starts[i + 1])) for i, c in enumerate(self.characters)}
        self.starts = starts[:-1].astype(np.intp)
        self.widths = np.array(widths)
        rows = self.row_ids
        self.p: Floats = np.repeat(1.0 / self.widths, self.widths)[None, :].repeat(len(rows), axis=0)
        self.known: Bools = np.zeros((len(rows), len(self.characters)), dtype=bool)
        self.applicable: Bools = np.ones_like(self.known)
        for i, row_id in enumerate(rows):
            for j, character in enumerate(self.characters):
                cell = self._cells.get((row_id, character.id))
                if cell is not None:
                    self.p[i, self.span[character.id]] = cell.p
                    self.known[i, j] = cell.applicable
                    self.applicable[i, j] = cell.applicable
        self.species_of = np.array(
            [*range(len(self.species)), *(self.species_at[variant.key_id] for variant in self.variants)]
        )

    @property
    def row_ids(self) -> tuple[str, ...]:
        """Ids of the rows: species (short ids), then variants."""
        return (*(s.key_id for s in self.species), *(v.id for v in self.variants))

    def cell(self, row_id: str, character_id: str) -> Cell | None:
        """What is known of a character of a species or variant; None if nothing."""
        return self._cells.get((row_id, character_id))

    @cached_property
    def errors(self) -> Floats:
        """The error of each state's character."""
        return np.repeat([character.error for character in self.characters], self.widths)

    @cached_property
    def usual_answers(self) -> tuple[Floats, Floats]:
        """`expected_answers` of the species as they are without variants."""
        return expected_answers(self, self.p[: len(self.species)])

    @cached_property
    def by_pair(self) -> dict[frozenset[str], LookAlikes]:
        """Look-alikes by their two species."""
        return {frozenset(item.pair): item for item in self.look_alikes}

    def named(self, name: str) -> KeySpecies | None:
        """The species of the key with this id, short id, wood or name; None if the key does not have it."""
        for species in self.species:
            if name in (species.id, species.key_id):
                return species
        of_wood = {wood.id for wood in species_named(name)}
        found = [species for species in self.species if species.wood.id in of_wood]
        return found[0] if len(found) == 1 else None


def expected_answers(key: Key, p: Floats) -> tuple[Floats, Floats]:
    """Chance q of each answer that names one state, by species and by "not in this list"; and q log q."""
    wild = np.repeat(1.0 / key.widths, key.widths)
    q = (1.0 - key.errors) * np.vstack([p, wild]) + key.errors * wild
    return q, q * np.log(q)


def seen_in(character: Character, letters: str) -> bool:
    """Whether a character can be seen in any of these situations; no letters means all."""
    return not letters or any(letter in character.situations for letter in letters)


def read_tables() -> dict[str, tuple[Row, ...]]:
    """The packaged tables by name."""
    names = (
        "characters", "species", "species_characters", "lookalikes", "glossary", "sources",
        "efforts", "variants", "variant_characters", "street", "gaps",
    )  # fmt: skip
    folder = files("rickyard.identify").joinpath("data")
    return {
        name: tuple(csv.DictReader(folder.joinpath(f"{name}.csv").read_text(encoding="utf-8").splitlines()))
        for name in names
    }


@cache
def the_key() -> Key:
    """The key as packaged."""
    return Key(read_tables())


def _characters(rows: Iterable[Row], efforts: Iterable[Row]) -> Iterator[Character]:
    effort = {row["character_id"]: int(row["effort"]) for row in efforts}
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(row["character_id"], []).append(row)
    for name, states in grouped.items():
        first = states[0]
        yield Character(
            id=name,
            group=first["group"],
            question=first["question"],
            how_to_look=first["how_to_look"],
            situations=first["situations"],
            states=tuple(row["state_id"] for row in states),
            labels=tuple(row["state_label"] for row in states),
            applies_to=first["applies_to"],
            block=first["block"],
            error=float(first["observer_error"]),
            effort=effort[name],
        )


def _species(rows: Iterable[Row]) -> Iterator[KeySpecies]:
    for row in rows:
        wood = _wood(row)
        # One row of the key may stand for two species that the house's wood table has a joint name for.
        exact = wood.rank == "species" or "/" in row["latin"]
        latin = row["latin"].removesuffix(" spp.")
        yield KeySpecies(
            id=wood.id if exact else latin.lower().replace(" ", "_").replace("-", "_"),
            key_id=row["species_id"],
            scientific=wood.scientific if wood.rank == "species" else row["latin"],
            common_en=wood.common_en if exact else row["common_name"],
            common_fr=wood.common_fr,
            group=row["trade_group"],
            genus=row["genus"],
            kind=row["kind"],
            regions=dict(part.split(":") for part in row["regions"].split()),
            wood=wood,
        )


def _wood(row: Row) -> Species:
    """The house's wood of a tree: by its Latin name, its short id, its genus, or else merely hard or soft."""
    for name in (row["latin"], row["species_id"], row["genus"]):
        found = species_named(name)
        if len(found) == 1:
            return found[0]
    return UNNAMED_HARDWOOD if row["kind"] == "hardwood" else UNNAMED_SOFTWOOD


def _cells(
    characters: tuple[Character, ...], rows: Iterable[Row], column: str
) -> dict[tuple[str, str], Cell]:
    states = {character.id: character.states for character in characters}
    grouped: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        grouped.setdefault((row[column], row["character_id"]), []).append(row)
    cells = {}
    for (row_id, name), listed in grouped.items():
        width = len(states[name])
        if listed[0]["frequency"] == NOT_APPLICABLE:
            cells[row_id, name] = Cell((0,) * width, 0.0, applicable=False)
            continue
        weight: dict[str, int] = {row["state_id"]: WEIGHTS[row["frequency"]] for row in listed}
        eps = max(EPS[row["basis"]] for row in listed)
        cells[row_id, name] = Cell(tuple(weight.get(state, 0) for state in states[name]), eps)
    return cells


def _look_alikes(rows: Iterable[Row]) -> Iterator[LookAlikes]:
    for row in rows:
        yield LookAlikes(
            pair=(row["species_a"], row["species_b"]),
            situations=row["situations"].replace(" ", ""),
            settling=dict(settled(row["settling_characters"])),
            note=row["plain_note"],
            source=row["source"],
        )


def settled(text: str) -> Iterator[tuple[str, dict[str, str]]]:
    """Reads "thorns: paired = rops, branched = gltr; pod: ..." as character and {state: key id}."""
    for part in text.split(";"):
        name, _, sides = part.partition(":")
        pairs: dict[str, str] = {}
        for side in sides.split(","):
            state, _, whose = side.partition("=")
            pairs[state.strip()] = whose.strip()
        yield name.strip(), pairs
