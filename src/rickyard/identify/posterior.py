"""How probable each tree is, given what was seen.

An answer names a set A of a character's K states with doubt d:

    e' = min(e + (1 - e) d, 0.9)
    q(A | species) = (1 - e') * sum over s in A of p(s | species)  +  e' * |A| / K

    log posterior = log prior + g * sum over answers of  w * log q,   w = n^(-1/2)

n is the number of answers in the character's block, so that two or three answers about one organ do not count as
two or three organs; all answers of a block weigh alike, whichever came first. g is the yard's calibration exponent,
1 until it is fitted. "Not in this list" is one more hypothesis: prior 0.03, likelihood |A| / K.
Naming all states is no observation at all.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from rickyard.errors import InputError, UnknownNameError
from rickyard.identify.answers import Answer, checked_all, checked_region
from rickyard.identify.tables import Character, Floats, Key
from rickyard.text import T_

MOST_ERROR = 0.9
NOT_LISTED_PRIOR = 0.03
REGION_WEIGHT = {"c": 1.0, "o": 0.3, "": 0.03}
STREET_POWER = 0.5
"""A street tree's region weights are raised to this power: planters plant what does not grow there by itself."""

STREET_PLANTED = 3.0
"""Weight of the species that are planted along streets, for a street tree: a judgement, not measured."""

GRAIN = 1e-9
"""Probabilities and gains are compared in whole grains, so that Python and the script on the phone agree on ties;
of equals the first in the table's order comes first."""


@dataclass(frozen=True)
class Prior:
    """What is thought of the trees before looking.

    Attributes
    ----------
    region
        Where it grew; None: every tree alike.
    counts
        How often the yard has met each species, by short id; each weight is multiplied by the count plus one.
    street
        Whether it is an arborist's street or garden tree.
    """

    region: str | None = None
    counts: Mapping[str, float] = field(default_factory=dict)
    street: bool = False


FLAT = Prior()


@dataclass(frozen=True, eq=False)
class Posterior:
    """The state of a query.

    Attributes
    ----------
    answers
        Those that say something, in the key's order.
    asked
        Every character that an answer was given to, those that say nothing too.
    species
        Probability of each species of the key, in its order; with `not_listed` they sum to 1.
    rows
        The same of each row of the tables (species, then variants).
    q
        Likelihood of each answer for each row [answers, rows].
    """

    key: Key
    answers: tuple[Answer, ...]
    asked: frozenset[str]
    species: Floats
    not_listed: float
    rows: Floats
    q: Floats

    @cached_property
    def ranking(self) -> list[int]:
        """Places of the species, the likeliest first."""
        whole = np.floor(self.species / GRAIN + 0.5)
        return [int(place) for place in np.argsort(-whole, kind="stable")]

    def chance(self, answer: int) -> float:
        """|A| / K of an answer: how often a wild guess would name it."""
        one = self.answers[answer]
        return len(one.states) / len(self.key.characters[self.key.at[one.character]].states)


def grains(value: float) -> int:
    """The value in whole grains."""
    return math.floor(float(value) / GRAIN + 0.5)


def posterior(
    key: Key, answers: Iterable[Answer] = (), prior: Prior = FLAT, *, exponent: float = 1.0
) -> Posterior:
    """How probable each tree is.

    Raises InputError (or UnknownNameError) for answers and regions that the key does not have.
    """
    if not (math.isfinite(exponent) and exponent > 0.0):
        raise InputError(
            "exponent",
            wanted=T_("a positive number"),
            got=f"{exponent:g}",
            next_move=T_("1 means as reckoned; fit it from the yard's confirmed records."),
        )
    every = checked_all(key, answers)
    telling = tuple(one for one in every if len(one.states) < len(_character(key, one).states))
    in_block = Counter(_character(key, one).block for one in telling)
    with np.errstate(divide="ignore"):  # a row without prior stays at minus infinity
        rows = np.log(prior_weights(key, prior)) + math.log(1.0 - NOT_LISTED_PRIOR)
    other = math.log(NOT_LISTED_PRIOR)
    q = np.empty((len(telling), len(rows)))
    for place, one in enumerate(telling):
        character = _character(key, one)
        weight = exponent / math.sqrt(in_block[character.block])
        q[place], logs = likelihood(key, one)
        rows += weight * logs
        other += weight * math.log(len(one.states) / len(character.states))
    top = max(float(rows.max()), other)
    shares = np.exp(rows - top)
    rest = math.exp(other - top)
    whole = float(shares.sum()) + rest
    shares /= whole
    species = np.zeros(len(key.species))
    np.add.at(species, key.species_of, shares)
    return Posterior(
        key, telling, frozenset(one.character for one in every), species, rest / whole, shares, q
    )


@lru_cache(maxsize=4096)
def likelihood(key: Key, answer: Answer) -> tuple[Floats, Floats]:
    """q of an answer for each row of the tables, and its logarithm."""
    character = _character(key, answer)
    wrong = min(character.error + (1.0 - character.error) * answer.doubt, MOST_ERROR)
    first = key.span[character.id].start
    named = np.zeros(len(key.p))
    for state in answer.states:
        named += key.p[:, first + character.states.index(state)]
    guess: float = wrong * len(answer.states) / len(character.states)
    q = (1.0 - wrong) * named + guess
    return q, np.log(q)


def prior_weights(key: Key, prior: Prior) -> Floats:
    """Prior of each row of the tables; they sum to 1. Variants have none unless it is a street tree."""
    if not prior.counts:
        return _prior_without_counts(key, prior.region, prior.street)
    return _prior(key, prior)


@lru_cache(maxsize=32)
def _prior_without_counts(key: Key, region: str | None, street: bool) -> Floats:
    return _prior(key, Prior(region=region, street=street))


def _prior(key: Key, prior: Prior) -> Floats:
    region = checked_region(prior.region)
    unknown = [name for name in prior.counts if name not in key.species_at]
    if unknown:
        raise UnknownNameError("count", wanted=T_("a species of the key"), got=unknown[0], nearest=())
    weights = np.empty(len(key.species))
    for place, species in enumerate(key.species):
        weight = 1.0 if region is None else REGION_WEIGHT[species.regions.get(region, "")]
        if prior.street:
            weight = STREET_PLANTED if species.key_id in key.street else weight**STREET_POWER
        weights[place] = weight * (1.0 + _count(prior, species.key_id))
    weights /= weights.sum()
    rows = np.full(len(key.p), 0.0)
    rows[: len(weights)] = weights
    if prior.street:
        for place, variant in enumerate(key.variants, start=len(weights)):
            own = key.species_at[variant.key_id]
            rows[place] = weights[own] * variant.street_share
            rows[own] -= rows[place]
    return rows


def _count(prior: Prior, key_id: str) -> float:
    count = float(prior.counts.get(key_id, 0.0))
    if not (math.isfinite(count) and count >= 0.0):
        raise InputError(
            "count",
            wanted=T_("a number of logs or loads, 0 or more"),
            got=f"{count:g}",
            next_move=T_("Count what the yard has confirmed."),
        )
    return count


def _character(key: Key, answer: Answer) -> Character:
    return key.characters[key.at[answer.character]]
