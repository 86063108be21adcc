"""What tells trees apart: the characters of the key by their power to separate, for sheets and comparisons.

For n trees thought equally likely, a character c tells on average

    gain(c) = log2(n) - sum over states s of P(s) * H(tree given s),   Q = (1 - e) p + e / K

as for the next look (`looks`), with the observer's error in it. Only trees count of which the character is known
and that have the part. The script on the phone (`web/static/js/species/compare.js`) reckons the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from rickyard.identify.looks import LEAST_GAIN_BITS
from rickyard.identify.posterior import grains
from rickyard.identify.tables import SITUATIONS, Character, Floats, Key, read_tables

NEAREST = 8
"""Beside its look-alikes a tree is told from so many that are hardest to tell from it in the situation."""

ASSUMED = "assumed"


@dataclass(frozen=True)
class Difference:
    """A character that separates some trees, and how much it tells of which is which [bits]."""

    character: Character
    gain_bits: float


@dataclass(frozen=True)
class CellSource:
    """Where a cell comes from: `basis` as in species_characters.csv, the source's code and page."""

    basis: str
    code: str
    page: str


def differences(key: Key, key_ids: Sequence[str]) -> list[Difference]:
    """Characters that separate these trees, the most telling first; those under 0.03 bit are left out."""
    rows = [key.species_at[name] for name in key_ids]
    found = [Difference(character, gain_of(key, character, rows)) for character in key.characters]
    found = [one for one in found if grains(one.gain_bits) >= grains(LEAST_GAIN_BITS)]
    found.sort(key=lambda one: (-grains(one.gain_bits), key.at[one.character.id]))
    return found


def gain_of(key: Key, character: Character, rows: Sequence[int]) -> float:
    """What the character tells of these rows [bits]; 0 where it is known of fewer than two."""
    column = key.at[character.id]
    known = [row for row in rows if key.known[row, column]]
    if len(known) < 2:
        return 0.0
    width = len(character.states)
    p = key.p[known, key.span[character.id]]
    q = (1.0 - character.error) * p + character.error / width
    return _information(q)


def _information(q: Floats) -> float:
    """Bits that a state tells of which of n rows it comes from, each as likely."""
    count = len(q)
    mean = q.sum(axis=0) / count
    return float((q * np.log2(q / mean)).sum() / count)


def telling(key: Key, key_id: str, situation: str) -> list[Difference]:
    """Characters that tell a tree from its look-alikes and nearest others in a situation, the most telling first.

    The gain is the mean over those others, per effort. Left out is what is not known of the tree, what it has not,
    and what is only assumed of it.
    """
    row = key.species_at[key_id]
    letter = SITUATIONS[situation]
    gains = _pair_gains(key, row)
    seen = [place for place, character in enumerate(key.characters) if letter in character.situations]
    others = _others(key, row, gains[:, seen].sum(axis=1))
    assumed = {name for name, source in cell_sources(key_id).items() if source.basis == ASSUMED}
    found = [
        Difference(key.characters[place], float(gains[others, place].mean()) / key.characters[place].effort)
        for place in seen
        if key.known[row, place] and key.characters[place].id not in assumed
    ]
    found = [one for one in found if grains(one.gain_bits) >= grains(LEAST_GAIN_BITS)]
    found.sort(key=lambda one: (-grains(one.gain_bits), key.at[one.character.id]))
    return found


def _others(key: Key, row: int, apart: Floats) -> list[int]:
    """Look-alikes of the tree, and those of its kind that the characters hold least apart from it."""
    own = key.species[row]
    alike = {
        key.species_at[name]
        for pair in key.look_alikes
        if own.key_id in pair.pair
        for name in pair.pair
        if name != own.key_id
    }
    kin = [place for place, other in enumerate(key.species) if other.kind == own.kind and place != row]
    kin.sort(key=lambda place: (grains(float(apart[place])), place))
    return sorted(alike | set(kin[:NEAREST]))


@lru_cache(maxsize=256)
def _pair_gains(key: Key, row: int) -> Floats:
    """What each character tells of this tree and each other one [bits], by species and character."""
    count = len(key.species)
    gains = np.zeros((count, len(key.characters)))
    for place, character in enumerate(key.characters):
        if not key.known[row, place]:
            continue
        p = key.p[:count, key.span[character.id]]
        q = (1.0 - character.error) * p + character.error / len(character.states)
        mean = 0.5 * (q + q[row])
        told = 0.5 * ((q * np.log2(q / mean)).sum(axis=1) + (q[row] * np.log2(q[row] / mean)).sum(axis=1))
        gains[:, place] = np.where(key.known[:count, place], told, 0.0)
    return gains


@lru_cache(maxsize=1)
def _all_sources() -> dict[str, dict[str, CellSource]]:
    found: dict[str, dict[str, CellSource]] = {}
    for row in read_tables()["species_characters"]:
        cells = found.setdefault(row["species_id"], {})
        cells.setdefault(row["character_id"], CellSource(row["basis"], row["source"], row["page"]))
    return found


def cell_sources(key_id: str) -> dict[str, CellSource]:
    """By character: where the cell of a tree of the key comes from (that of its first listed state)."""
    return _all_sources().get(key_id, {})


@lru_cache(maxsize=1)
def key_sources() -> dict[str, tuple[str, str]]:
    """Source codes of the key: the citation and how it was used."""
    return {row["code"]: (row["citation"], row["how_used"]) for row in read_tables()["sources"]}
