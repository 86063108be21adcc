"""What to look at next: information gained per effort.

For a character c not yet asked that can be seen in the present situations:

    P(s)    = sum over trees of post * Q(s | tree),   Q = (1 - e) p + e / K
    gain(c) = sum over s of P(s) * (H(post) - H(post given s))

A tree that has not the part leaves the P(s) short of 1; the rest is "cannot see it", which changes nothing.
The gain is divided by sqrt(n + 1), n the answers given in the character's block, and by its effort.
Gains under 0.03 bit are left out. Characters that settle a pair of look-alikes in the lead come first;
with neither bark nor twig at hand porosity, rays and late pores come next.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from rickyard.identify.posterior import GRAIN, Posterior, grains
from rickyard.identify.tables import (
    SITUATIONS,
    Bools,
    Character,
    Floats,
    LookAlikes,
    expected_answers,
    seen_in,
)

LEAST_GAIN_BITS = 0.03
IN_PLAY = 0.01
"""A character must apply to a species so probable, or half as probable as the leading one."""

PAIR_LEADS = 0.6
LENS_FIRST = ("porosity", "rays", "late_pores")
NEXT_LOOKS = 3


@dataclass(frozen=True)
class Look:
    """Something worth looking at.

    `gain_bits` is what it tells on average; `score` that per effort, lessened by answers about the same organ;
    `settles` says that it settles the leading pair of look-alikes.
    """

    character: Character
    gain_bits: float
    score: float
    settles: bool


def leading_pair(post: Posterior) -> LookAlikes | None:
    """The two leading species if they are taken for one another and hold more than 0.6 together."""
    first, second = post.ranking[:2]
    if grains(post.species[first] + post.species[second]) <= grains(PAIR_LEADS):
        return None
    ids = frozenset(post.key.species[place].key_id for place in (first, second))
    return post.key.by_pair.get(ids)


def next_looks(
    post: Posterior,
    situations: Iterable[str] = (),
    *,
    not_seen: Iterable[str] = (),
    limit: int = NEXT_LOOKS,
) -> list[Look]:
    """The looks that tell most, the best first.

    Parameters
    ----------
    situations
        What is in front of the user (`leaf`, `winter`, `log`, `split`, `lens`); none means anything.
    not_seen
        Characters that the user said cannot be seen.
    """
    letters = "".join(SITUATIONS[name] for name in situations)
    skip = post.asked | set(not_seen)
    pair = leading_pair(post)
    settling = frozenset(pair.settling) if pair else frozenset()
    found = [
        Look(character, gain, score, character.id in settling)
        for character, gain, score in zip(post.key.characters, *_gains(post), strict=True)
        if character.id not in skip
        and seen_in(character, letters)
        and grains(gain) >= grains(LEAST_GAIN_BITS)
    ]
    places = post.key.at
    turns = lens_turns(letters)
    found.sort(
        key=lambda look: (
            not look.settles,
            turns.get(look.character.id, len(LENS_FIRST)),
            -grains(look.score),
            places[look.character.id],
        )
    )
    return found[:limit]


def lens_turns(letters: str) -> dict[str, int]:
    """The turn of the characters of the end grain where there is neither bark nor twig; else none."""
    bare = bool(letters) and not set(letters) - set("de")
    return {name: turn for turn, name in enumerate(LENS_FIRST)} if bare else {}


@lru_cache(maxsize=4)
def _gains(post: Posterior) -> tuple[Sequence[float], Sequence[float]]:
    """Gain in bits and score of every character; a gain of 0 where it applies to no tree in play."""
    key = post.key
    shares = np.append(post.species, post.not_listed)
    p = species_table(post)
    q, q_logs = key.usual_answers if p is None else expected_answers(key, p)
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.where(shares > 0.0, shares * np.log(shares), 0.0)
    entropy = -float(logs.sum())
    seen = shares @ q
    told = entropy * seen + logs @ q + shares @ q_logs - seen * np.log(seen)
    gains = np.add.reduceat(told, key.starts) / math.log(2.0)
    gains[~_in_play(post)] = 0.0
    in_block = Counter(key.characters[key.at[one.character]].block for one in post.answers)
    scores = [
        float(gain) / math.sqrt(in_block[character.block] + 1) / character.effort
        for character, gain in zip(key.characters, gains, strict=True)
    ]
    return [float(gain) for gain in gains], scores


def species_table(post: Posterior) -> Floats | None:
    """p of each species, one with variants by what is thought of each of them; None if no variant is in play."""
    key = post.key
    if not post.rows[len(key.species) :].any():
        return None
    table = key.p[: len(key.species)].copy()
    for own in {key.species_at[variant.key_id] for variant in key.variants}:
        if post.species[own] > 0.0:
            mine = np.flatnonzero(key.species_of == own)
            table[own] = (post.rows[mine] / post.species[own]) @ key.p[mine]
    return table


def _in_play(post: Posterior) -> Bools:
    """Which characters apply to a species that is still in play."""
    threshold = min(IN_PLAY, 0.5 * float(post.species.max()))
    in_play = np.floor(post.species / GRAIN + 0.5) > grains(threshold)
    return np.asarray(post.key.applicable[: len(in_play)][in_play].any(axis=0))
