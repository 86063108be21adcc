"""Ranks the cells by how much they could change verdicts: `python scripts/flora_rank.py [COUNT] [basis ...]`.

Queries are simulated: a species by a flat draw, a situation, seven of its characters, answers by the matrix with the
observers' errors. For every answer and species the posterior of that species is reckoned again with the cell unknown
(every state alike); the cell's weight is the mean change, over all queries of all situations. A cell that matters
is one that is asked often, of a species that is in the running, and far from what ignorance would say.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict

import numpy as np
from flora_model import Matrix

SITUATIONS = "abcde"
QUERIES = 600
ANSWERS = 7
SEED = 20261126


def weights(matrix: Matrix, queries: int = QUERIES, seed: int = SEED) -> dict[tuple[str, str], float]:
    """Mean change of the posterior by species and character, in thousandths a query."""
    random = np.random.default_rng(seed)
    found: dict[tuple[str, str], float] = defaultdict(float)
    for situation in SITUATIONS:
        seen = [name for name, row in matrix.of.items() if situation in row["situations"]]
        for _ in range(queries):
            truth = int(random.integers(len(matrix.species)))
            known = [name for name in seen if _applies(matrix, truth, name)]
            asked = random.choice(known, size=min(ANSWERS, len(known)), replace=False)
            _one_query(matrix, truth, [str(name) for name in asked], random, found)
    return {cell: 1000.0 * total / (queries * len(SITUATIONS)) for cell, total in found.items()}


def _applies(matrix: Matrix, place: int, name: str) -> bool:
    rows = matrix.cells.get((matrix.species[place], name))
    return not rows or rows[0]["frequency"] != "not applicable"


def _one_query(
    matrix: Matrix,
    truth: int,
    asked: list[str],
    random: np.random.Generator,
    found: dict[tuple[str, str], float],
) -> None:
    blocks = Counter(matrix.of[name]["block"] for name in asked)
    logs, ratios = [], []
    for name in asked:
        count = len(matrix.states[name])
        error = float(matrix.of[name]["observer_error"])
        chance = (1.0 - error) * matrix.chance[name] + error / count
        own = chance[truth] / chance[truth].sum()
        state = int(random.choice(count, p=own))
        weight = blocks[matrix.of[name]["block"]] ** -0.5
        logs.append(weight * np.log(chance[:, state]))
        ratios.append((1.0 / count / chance[:, state]) ** weight)
    total = np.sum(logs, axis=0)
    posterior = np.exp(total - total.max())
    posterior /= posterior.sum()
    for name, ratio in zip(asked, ratios, strict=True):
        changed = posterior * ratio / (1.0 - posterior + posterior * ratio)
        for place in np.flatnonzero(np.abs(changed - posterior) > 1e-4):
            found[matrix.species[place], name] += float(abs(changed[place] - posterior[place]))


def main(arguments: list[str]) -> int:
    """Prints the weightiest cells of the bases named (memory and assumed if none), and the share of each basis."""
    count = int(arguments[0]) if arguments else 60
    bases = set(arguments[1:]) or {"memory", "assumed"}
    matrix = Matrix()
    ranked = sorted(weights(matrix).items(), key=lambda item: -item[1])
    basis = {cell: rows[0]["basis"] for cell, rows in matrix.cells.items()}
    by_basis: Counter[str] = Counter()
    for cell, weight in ranked:
        by_basis[basis.get(cell, "unknown")] += weight  # type: ignore[assignment]
    cells = Counter(basis.values())
    sys.stdout.write("basis        cells   share of cells   share of weight\n")
    for name in ("source", "genus", "memory", "assumed", "logic"):
        sys.stdout.write(
            f"{name:10}{cells[name]:8d}{cells[name] / sum(cells.values()):17.3f}"
            f"{by_basis[name] / sum(by_basis.values()):18.3f}\n"
        )
    listed = [(cell, weight) for cell, weight in ranked if basis.get(cell) in bases][:count]
    for (species, character), weight in listed:
        states = ", ".join(f"{r['state_id']} {r['frequency']}" for r in matrix.cells[species, character])
        sys.stdout.write(f"{weight:7.3f}  {basis[species, character]:8} {species:8}{character:14}{states}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
