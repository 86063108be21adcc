"""The tree key's posterior in a few lines of numpy, for the scripts that rank and check its cells.

The program has its own engine; this one is kept apart so that a slip in one is not a slip in both.
"""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt

DATA = Path(__file__).resolve().parent.parent / "src" / "rickyard" / "identify" / "data"
WEIGHTS = {"usually": 8, "sometimes": 3, "rarely": 1}
EPS = {"source": 0.03, "genus": 0.05, "memory": 0.05, "assumed": 0.08}
NOT_APPLICABLE_P = 0.02
REGION = {"c": 1.0, "o": 0.3}
UNLISTED = 0.03

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Answer:
    """A character, the states named for it and the doubt."""

    character: str
    states: tuple[str, ...]
    doubt: float


class Matrix:
    """Characters, species and the chance of each state."""

    def __init__(self, folder: Path = DATA) -> None:
        self.characters = _table(folder / "characters.csv")
        table = _table(folder / "species.csv")
        self.species = [row["species_id"] for row in table]
        self.regions = [dict(word.split(":") for word in row["regions"].split()) for row in table]
        self.rows = _table(folder / "species_characters.csv")
        self.states: dict[str, list[str]] = defaultdict(list)
        self.of: dict[str, dict[str, str]] = {}
        for row in self.characters:
            self.states[row["character_id"]].append(row["state_id"])
            self.of[row["character_id"]] = row
        self.cells: dict[tuple[str, str], list[dict[str, str]]] = defaultdict(list)
        for row in self.rows:
            self.cells[row["species_id"], row["character_id"]].append(row)

    @cached_property
    def chance(self) -> dict[str, Floats]:
        """By character: species by states."""
        found = {}
        for name, states in self.states.items():
            table = np.full((len(self.species), len(states)), 1.0 / len(states))
            for place, species in enumerate(self.species):
                rows = self.cells.get((species, name))
                if rows:
                    table[place] = chances(rows, states)
            found[name] = table
        return found

    def prior(self, region: str) -> Floats:
        """By how often a species is met in a region; flat where none is given."""
        if not region:
            return np.ones(len(self.species))
        return np.array([REGION.get(places.get(region, ""), UNLISTED) for places in self.regions])

    def posterior(
        self, answers: Iterable[Answer], chance: Mapping[str, Floats] | None = None, region: str = ""
    ) -> Floats:
        """Prior, then one answer after another, blocks weighed by the root of their count."""
        table = self.chance if chance is None else chance
        blocks: dict[str, list[Floats]] = defaultdict(list)
        for answer in answers:
            blocks[self.of[answer.character]["block"]].append(np.log(self.likelihood(answer, table)))
        total = np.log(self.prior(region))
        for logs in blocks.values():
            total += sum(logs) / np.sqrt(len(logs))
        odds = np.exp(total - total.max())
        return np.asarray(odds / odds.sum())

    def likelihood(self, answer: Answer, chance: Mapping[str, Floats]) -> Floats:
        """Chance of the answer, by species."""
        states = self.states[answer.character]
        error = float(self.of[answer.character]["observer_error"])
        error = min(0.9, error + (1.0 - error) * answer.doubt)
        named = [states.index(state) for state in answer.states]
        return np.asarray(
            (1.0 - error) * chance[answer.character][:, named].sum(axis=1) + error * len(named) / len(states)
        )


def chances(rows: Sequence[dict[str, str]], states: Sequence[str]) -> Floats:
    """Chance of each state from the rows of one cell."""
    if rows[0]["frequency"] == "not applicable":
        return np.full(len(states), NOT_APPLICABLE_P)
    weight = np.array(
        [
            next((WEIGHTS[row["frequency"]] for row in rows if row["state_id"] == state), 0)
            for state in states
        ],
        dtype=float,
    )
    absent = int((weight == 0).sum())
    eps = EPS[rows[0]["basis"]] if absent else 0.0
    share = (1.0 - eps) * weight / weight.sum()
    return np.where(weight == 0, eps / absent if absent else 0.0, share)


def paths(file: Path) -> dict[tuple[str, str, str], tuple[set[str], list[Answer]]]:
    """The queries of a table of answers: accepted species and answers by species, situation and, where given, entry."""
    found: dict[tuple[str, str, str], tuple[set[str], list[Answer]]] = {}
    for row in _table(file):
        entry = row["page"] if "accepted" in row else ""
        accepted = set(row.get("accepted", row["key_id"]).split("|"))
        _, answers = found.setdefault((row["key_id"], row["situation"], entry), (accepted, []))
        answers.append(Answer(row["character"], tuple(row["states"].split("|")), float(row["doubt"])))
    return found | together(found)


def together(
    of: Mapping[tuple[str, str, str], tuple[set[str], list[Answer]]],
) -> dict[tuple[str, str, str], tuple[set[str], list[Answer]]]:
    """All that a book says of a standing tree (its wood is not seen), where it says something in several situations."""
    found: dict[tuple[str, str, str], tuple[set[str], dict[str, Answer]]] = {}
    seen: dict[str, set[str]] = defaultdict(set)
    for (key_id, situation, _), (accepted, answers) in of.items():
        if situation == "wood":
            continue
        seen[key_id].add(situation)
        told = found.setdefault((key_id, "together", ""), (accepted, {}))[1]
        for answer in answers:
            told.setdefault(answer.character, answer)
    return {
        place: (accepted, list(told.values()))
        for place, (accepted, told) in found.items()
        if len(seen[place[0]]) > 1
    }


def score(matrix: Matrix, file: Path, region: str = "") -> dict[str, Counter[str]]:
    """By situation: how many queries, first right, right among three."""
    tally: dict[str, Counter[str]] = defaultdict(Counter)
    for (key_id, situation, entry), (accepted, answers) in paths(file).items():
        order = [
            matrix.species[i] for i in np.argsort(-matrix.posterior(answers, region=region), kind="stable")
        ]
        tally[situation]["asked"] += 1
        tally[situation]["first"] += order[0] in accepted
        tally[situation]["top3"] += bool(accepted & set(order[:3]))
        if not accepted & set(order[:3]):
            place = min(order.index(name) for name in accepted) + 1
            tally[situation][f"missed: {key_id} {entry} at {place} after {order[0]}"] += 1
    return tally


def _table(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))
