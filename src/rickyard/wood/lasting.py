"""How long a wood lasted in the ground or above it, and what it does to people and beasts.

What only practitioners report stays in the tables (`basis` practitioner) and is not given out.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from rickyard.wood.groups import group_table
from rickyard.wood.species import Species

PRACTITIONER = "practitioner"
JOINT = 2


@dataclass(frozen=True)
class ServiceLife:
    """What a trial found: `use` is `post` (in the ground) or `above ground`; `says` and `where` in English.

    `of` is the id of the wood that the trial names: the species itself or a wider name.
    """

    of: str
    use: str
    says: str
    where: str
    source: str
    basis: str


@dataclass(frozen=True)
class WoodCaution:
    """What to take care of: `kind` is horses, livestock or dust; `says` in English; `of` as in `ServiceLife`."""

    of: str
    kind: str
    says: str
    source: str
    basis: str


def read_table(name: str) -> list[dict[str, str]]:
    """Rows of a packaged table."""
    text = files("rickyard.wood").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def _lives() -> tuple[ServiceLife, ...]:
    return tuple(
        ServiceLife(row["wood"], row["use"], row["says"], row["where"], row["source"], row["basis"])
        for row in read_table("service_life")
    )


@cache
def _cautions() -> tuple[WoodCaution, ...]:
    return tuple(
        WoodCaution(row["wood"], row["kind"], row["says"], row["source"], row["basis"])
        for row in read_table("cautions")
    )


def _names(species: Species, genus: str) -> set[str]:
    """The species and every wider name that holds it; the genus also where the table has no row for the tree.

    A name that joins two species ("western and Utah juniper") has what is told of each.
    """
    joint = species.members if species.rank == "trade_group" and len(species.members) == JOINT else ()
    return {
        species.id,
        *joint,
        genus.lower(),
        *(wide.id for wide in group_table() if wide.rank != "unnamed" and species.id in wide.members),
    }


def service_life(species: Species, genus: str) -> tuple[ServiceLife, ...]:
    """What trials say of this wood, posts first."""
    names = _names(species, genus)
    found = [row for row in _lives() if row.of in names and row.basis != PRACTITIONER]
    return tuple(sorted(found, key=lambda row: row.use != "post"))


def wood_cautions(species: Species, genus: str) -> tuple[WoodCaution, ...]:
    """What to take care of with this wood; not that there is nothing else."""
    names = _names(species, genus)
    return tuple(row for row in _cautions() if row.of in names and row.basis != PRACTITIONER)
