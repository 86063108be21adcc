"""Pests that travel with firewood: their signs, what rules were read, what to do. By genus, for no area is known.

No list of regulated areas is complete here: every answer says to ask the authority, and when it was put down.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cache

from rickyard.rules.tables import table

PESTS_READ_ON = date(2026, 11, 26)
"""The day on which the table was put down; no rule in it is newer, most are older."""


@dataclass(frozen=True)
class Pest:
    """One pest; sentences are English, to be translated.

    `signs_basis` is `memory` where the signs were not read; `source` names what may be cited on screens.
    """

    id: str
    name: str
    latin: str
    genera: tuple[str, ...]
    species: tuple[str, ...]
    signs: str
    signs_basis: str
    says: str
    handling: str
    source: str
    basis: str


def _listed(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


@cache
def all_pests() -> tuple[Pest, ...]:
    """The whole table."""
    return tuple(
        Pest(
            id=row["id"],
            name=row["name"],
            latin=row["latin"],
            genera=_listed(row["genera"]),
            species=_listed(row["species"]),
            signs=row["signs"],
            signs_basis=row["signs_basis"],
            says=row["says"],
            handling=row["handling"],
            source=row["source"],
            basis=row["basis"],
        )
        for row in table("pests")
    )


def pests_of(genus: str, species_id: str) -> tuple[Pest, ...]:
    """Pests whose hosts are this genus or this species; those of the fewest genera first."""
    found = [pest for pest in all_pests() if genus in pest.genera or species_id in pest.species]
    return tuple(sorted(found, key=lambda pest: len(pest.genera)))
