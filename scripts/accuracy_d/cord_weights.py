"""Every row of the published cord weights beside ours, or the reason why it is not looked at.

The page and the tests read it, so that neither can leave a row out unseen.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean

from rickyard.measure import FT3_M3, LB_KG
from rickyard.wood import Species, get_species, green_mass_with_bark_kg, mass_kg

DATA = Path(__file__).resolve().parents[2] / "tests" / "measure" / "data"

DRY_U = 0.20
"""What "air dried" and "at 20 % moisture" are taken for: water / oven-dry mass, as wood science counts it. The tables
do not say; by the wet basis ours are 4 % heavier."""

SOLID_FT3 = {"pulpwood": 79.0, "pulpwood 74": 74.0}
CORDWOOD_FT3 = 80.0

BOUNDS = {"dry": (-0.14, 0.10), "green": (-0.12, 0.12)}
"""The disagreement of the tables as found with the densities of another table: no wider."""


@dataclass(frozen=True)
class Looked:
    """One published figure beside ours: lb a cord, or percent of weight lost (`kind` "lost")."""

    name: str
    source: str
    kind: str
    species: str
    printed: str
    ours: float | None
    off: float | None
    why_not: str = ""

    @property
    def within(self) -> bool:
        low, high = BOUNDS["dry" if self.kind in ("dry", "class") else "green"]
        return self.off is not None and low - 1e-9 <= self.off <= high + 1e-9


def figures() -> list[Looked]:
    """All of them: one for each figure of each row, for each species of a class."""
    found: list[Looked] = []
    with (DATA / "cord_weights.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with (DATA / "cord_weight_woods.csv").open(encoding="utf-8", newline="") as file:
        woods = {(row["species"], row["source"]): row for row in csv.DictReader(file)}
    for row in rows:
        wood = woods[row["species"], row["source"]]
        for column in ("dry", "green"):
            if not row[column]:
                continue
            kind = wood["kind"] or column
            if not wood["ids"]:
                found.append(
                    Looked(row["species"], row["source"], kind, "", row[column], None, None, wood["why_not"])
                )
            elif kind == "class":
                found += [_one(row, kind, column, [name]) for name in wood["ids"].split("|")]
            else:
                found.append(_one(row, kind, column, wood["ids"].split("|")))
    return found


def _one(row: dict[str, str], kind: str, column: str, names: list[str]) -> Looked:
    species = [get_species(name) for name in names]
    ours = fmean(_ours(one, kind) for one in species)
    printed = row[column]
    said = ", ".join(one.common_en for one in species)
    if kind == "lost":
        off = ours / (-float(printed.removesuffix(" %")) / 100.0) - 1.0
    elif kind == "class":
        low, high = (float(part) for part in printed.split("-"))
        off = min(0.0, ours / low - 1.0) + max(0.0, ours / high - 1.0)
    else:
        off = ours / float(printed) - 1.0
    return Looked(row["species"], row["source"], kind, said, printed, ours, off)


def _ours(species: Species, kind: str) -> float:
    volume = CORDWOOD_FT3 * FT3_M3
    if kind == "lost":
        # Of sawn wood, from green to 20 % of its dry mass.
        return 1.0 - (1.0 + DRY_U) / (1.0 + species.green_mc_db)
    if kind in SOLID_FT3:
        return green_mass_with_bark_kg(species, SOLID_FT3[kind] * FT3_M3) / LB_KG
    if kind == "green":
        return mass_kg(species, volume, species.green_mc_db) / LB_KG
    return mass_kg(species, volume, DRY_U) / LB_KG
