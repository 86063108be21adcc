"""Simulated users of the tree key: `python scripts/simulate_identify.py [--runs N] [--seed S] [--why]`.

A user stands before a tree drawn from the table and answers by the table itself: of each character the tree shows one
state, drawn by its chances, and the user reads it wrong as often as the table says (`observer_error`). They answer
the first look offered, say "can't see it" where the tree has not the part, and look once again at an answer that
surprises. They stop at a probability of 0.9, after twelve answers, or when nothing is left to look at.
This checks the machinery only: it is no evidence that the table is right.

Writes tests/identify/data/simulation.csv (summaries) and simulation_reliability.csv; docs/accuracy.md shows both.
With --why it writes simulation_why.csv instead: where what the key states and what is so part, found by taking the
key's cautions away one after another. The users draw every character by itself, so with each character a block of its
own and no second look the key's model is the users' own, and what is stated must be so.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import random
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from rickyard.identify import (
    FLAT,
    Answer,
    Confirmed,
    Key,
    Posterior,
    Prior,
    calibration_error,
    fit_exponent,
    next_looks,
    packed,
    posterior,
    reliability,
    surprises,
    the_key,
    verdict,
)
from rickyard.identify.tables import read_tables

FOLDER = Path(__file__).resolve().parent.parent / "tests" / "identify" / "data"
SETTINGS: dict[str, tuple[str, ...]] = {
    "leaf": ("leaf",),
    "winter": ("winter",),
    "log": ("log",),
    "split": ("split",),
    "lens": ("lens",),
    "log, twig": ("log", "winter"),
    "log, cut end": ("log", "lens"),
    "log, twig, cut end": ("log", "winter", "lens"),
    "split, cut end": ("split", "lens"),
}
"""Situations alone and mixed, by the name under which they are tabled."""

ENOUGH, MOST = 0.9, 12


class Tree:
    """A tree of a species: of each character it shows one state, or has not the part."""

    def __init__(self, key: Key, place: int, dice: random.Random) -> None:
        self.key, self.place, self.dice = key, place, dice
        self._shows: dict[str, str] = {}

    def has(self, name: str) -> bool:
        return bool(self.key.applicable[self.place, self.key.at[name]])

    def shows(self, name: str) -> str:
        if name not in self._shows:
            states = self.key.characters[self.key.at[name]].states
            chances = self.key.p[self.place, self.key.span[name]]
            self._shows[name] = self.dice.choices(states, weights=[float(chance) for chance in chances])[0]
        return self._shows[name]

    def read(self, name: str) -> Answer:
        """What the user reads: a random state as often as the table says, else what is there."""
        character = self.key.characters[self.key.at[name]]
        if self.dice.random() < character.error:
            return Answer(name, (self.dice.choice(character.states),))
        return Answer(name, (self.shows(name),))

    def read_right(self, name: str) -> Answer:
        """A state that the table lists for the tree, by its weight."""
        character = self.key.characters[self.key.at[name]]
        cell = self.key.cell(self.key.species[self.place].key_id, name)
        weights = cell.weights if cell else (1,) * len(character.states)
        return Answer(name, (self.dice.choices(character.states, weights)[0],))

    def misread(self, name: str) -> Answer:
        """A state that the table does not list for the tree."""
        character = self.key.characters[self.key.at[name]]
        cell = self.key.cell(self.key.species[self.place].key_id, name)
        weights = cell.weights if cell else (0,) * len(character.states)
        bare = [state for state, weight in zip(character.states, weights, strict=True) if not weight]
        return Answer(name, (self.dice.choice(bare or character.states),))


@dataclass(frozen=True)
class Run:
    """How one query ended."""

    place: int
    answers: tuple[Answer, ...]
    post: Posterior
    level: str
    right: bool
    right_group: bool


def ask(
    key: Key,
    tree: Tree,
    situations: tuple[str, ...],
    *,
    prior: Prior = FLAT,
    exponent: float = 1.0,
    enough: float = ENOUGH,
    again: bool = True,
) -> Run:
    """Answers the first look offered until it is enough; `again` looks once more at what surprises."""
    answers: dict[str, Answer] = {}
    not_seen: list[str] = []
    looked_again: set[str] = set()
    while True:
        post = posterior(key, answers.values(), prior, exponent=exponent)
        odd = [post.answers[place].character for place in surprises(post)]
        if again and (unsure := [name for name in odd if name not in looked_again]):
            looked_again.add(unsure[0])
            answers[unsure[0]] = tree.read(unsure[0])
            continue
        if post.species.max() >= enough or len(answers) >= MOST:
            break
        looks = next_looks(post, situations, not_seen=not_seen)
        if not looks:
            break
        name = looks[0].character.id
        if tree.has(name):
            answers[name] = tree.read(name)
        else:
            not_seen.append(name)
    said = verdict(post, situations)
    leader, true = key.species[post.ranking[0]], key.species[tree.place]
    group = said.name if said.level == "group" else leader.group
    right_group = group in (true.group, true.genus)
    return Run(tree.place, tuple(answers.values()), post, said.level, leader is true, right_group)


def runs(key: Key, situations: tuple[str, ...], count: int, seed: int, **how: object) -> list[Run]:
    """As many queries, each with a tree of the next species in a shuffled round."""
    dice = random.Random(f"{seed} {situations}")
    round_: list[int] = []
    done = []
    for _ in range(count):
        if not round_:
            round_ = list(range(len(key.species)))
            dice.shuffle(round_)
        done.append(ask(key, Tree(key, round_.pop(), dice), situations, **how))  # type: ignore[arg-type]
    return done


def stated(done: Iterable[Run]) -> list[tuple[float, bool]]:
    """Probability of the leading species, and whether it is right."""
    return [(float(run.post.species.max()), run.right) for run in done]


def share(values: Iterable[bool]) -> float:
    """Share of true ones; nan of none."""
    values = list(values)
    return sum(values) / len(values) if values else float("nan")


def one_wrong_of_six(key: Key, situations: tuple[str, ...], count: int, seed: int) -> float:
    """Six looks answered rightly but for one: how often the tree is among the first three."""
    dice = random.Random(f"wrong {seed} {situations}")
    kept = []
    for number in range(count):
        tree = Tree(key, number % len(key.species), dice)
        wrong = dice.randrange(6)
        answers: list[Answer] = []
        not_seen: list[str] = []
        while len(answers) < 6:
            looks = next_looks(posterior(key, answers), situations, not_seen=not_seen)
            if not looks:
                break
            name = looks[0].character.id
            if not tree.has(name):
                not_seen.append(name)
                continue
            answers.append(tree.misread(name) if len(answers) == wrong else tree.read_right(name))
        if len(answers) == 6:
            kept.append(tree.place in posterior(key, answers).ranking[:3])
    return share(kept)


def fitted(key: Key, count: int, seed: int) -> float:
    """The exponent that a yard would fit from so many confirmed records of mixed situations."""
    done = [run for name, mix in SETTINGS.items() for run in runs(key, mix, count // len(SETTINGS), seed)]
    return fit_exponent(key, [Confirmed(run.answers, key.species[run.place].key_id) for run in done])


def summary(name: str, done: list[Run], exponent: float, wrong: float) -> dict[str, object]:
    named = [run for run in done if run.level == "species"]
    spoken = [run for run in done if run.level != "undecided"]
    return {
        "situations": name,
        "exponent": round(exponent, 3),
        "runs": len(done),
        "questions": round(sum(len(run.answers) for run in done) / len(done), 2),
        "right": round(share(run.right for run in done), 3),
        "top_three": round(share(run.place in run.post.ranking[:3] for run in done), 3),
        "group_right": round(share(run.right_group for run in done), 3),
        "named": round(len(named) / len(done), 3),
        "right_when_named": round(share(run.right for run in named), 3),
        "group_or_named": round(len(spoken) / len(done), 3),
        "right_when_said": round(share(run.right_group for run in spoken), 3),
        "ece": round(calibration_error(reliability(stated(done))), 3),
        "one_wrong_top_three": round(wrong, 3),
    }


def of_table() -> str:
    """Fingerprint of the tables and constants that the runs were made with."""
    return hashlib.sha256(packed()).hexdigest()[:12]


OFTEN_NAMED = ("leaf", "winter", "log, twig", "log, twig, cut end")
SHARPER = 5
"""So many times the runs where most trees get named: of 400 named a share of 0.95 is known to a hundredth only."""

ONE_ORGAN = {
    "rays": "pores", "ray_flake": "pores", "resin_can": "pores", "ew_lw": "pores", "sapwood": "colour",
    "bark_slice": "bark", "inner_bark": "bark", "inner_feel": "bark",
}  # fmt: skip
"""The blocks as they were before rays, resin canals, sapwood and inner bark stood apart."""


def reblocked(blocks: Mapping[str, str]) -> Key:
    """The key with other blocks."""
    tables = read_tables()
    rows = [{**row, "block": blocks.get(row["character_id"], row["block"])} for row in tables["characters"]]
    return Key({**tables, "characters": rows})


def why(count: int, seed: int) -> list[dict[str, object]]:
    """What is stated and what is so, over all situations, as the key's cautions go."""
    alone = {character.id: character.id for character in the_key().characters}
    ways = (
        ("one block an organ, as it was", reblocked(ONE_ORGAN), True),
        ("blocks as they are", the_key(), True),
        ("each character a block of its own", reblocked(alone), True),
        ("and no second look at what surprises", reblocked(alone), False),
    )
    rows: list[dict[str, object]] = []
    for name, key, again in ways:
        done = [run for mix in SETTINGS.values() for run in runs(key, mix, count, seed, again=again)]
        rows.append(
            {
                "way": name,
                "runs": len(done),
                "stated": round(sum(float(run.post.species.max()) for run in done) / len(done), 3),
                "right": round(share(run.right for run in done), 3),
                "ece": round(calibration_error(reliability(stated(done))), 3),
                "right_when_named": round(share(run.right for run in done if run.level == "species"), 3),
                "seed": seed,
                "table": of_table(),
            }
        )
        print(rows[-1], flush=True)
    return rows


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=624, help="queries a situation")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", help="one of the settings")
    parser.add_argument("--why", action="store_true", help="as the key's cautions go, a third of the runs")
    given = parser.parse_args(arguments)
    if given.why:
        write("simulation_why.csv", why(given.runs // 3, given.seed))
        return 0
    key = the_key()
    settings = {name: mix for name, mix in SETTINGS.items() if given.only in (None, name)}
    gamma = fitted(key, 450, given.seed + 1)
    rows, curve = [], []
    for exponent in (1.0, gamma):
        every: list[Run] = []
        for name, mix in settings.items():
            times = SHARPER if exponent == 1.0 and name in OFTEN_NAMED else 1
            done = runs(key, mix, times * given.runs, given.seed, exponent=exponent)
            every += done[: given.runs]
            wrong = one_wrong_of_six(key, mix, given.runs, given.seed) if exponent == 1.0 else float("nan")
            rows.append(summary(name, done, exponent, wrong))
            print(rows[-1], flush=True)
        rows.append(summary("all", every, exponent, float("nan")))
        print(rows[-1], flush=True)
        curve += [
            {"exponent": round(exponent, 3), "low": b.low, "high": b.high, "count": b.count,
             "stated": round(b.stated, 3), "right": round(b.right, 3)}
            for b in reliability(stated(every))
        ]  # fmt: skip
    if given.only is None:
        write(
            "simulation.csv",
            [{**row, "seed": given.seed, "species": len(key.species), "table": of_table()} for row in rows],
        )
        write("simulation_reliability.csv", curve)
    return 0


def write(name: str, rows: list[dict[str, object]]) -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    with (FOLDER / name).open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    sys.exit(main())
