"""What may be said: the species, only the group, or not yet; and which answer to look at again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from rickyard.identify.looks import IN_PLAY, Look, leading_pair, next_looks
from rickyard.identify.posterior import Posterior, grains
from rickyard.identify.tables import SITUATIONS, Bools, KeySpecies
from rickyard.text import T_, Text
from rickyard.wood import UNNAMED, UNNAMED_HARDWOOD, UNNAMED_SOFTWOOD, Species, species_named

Level = Literal["species", "group", "undecided"]

NAMED = 0.8
NOT_LISTED_SAYS = 0.2
SURPRISE = 1.0 / 3.0
"""An answer surprises if it is less likely than this part of a wild guess."""

KIND_SURE = 0.9
"""So sure the key must be that a tree is a hardwood (or a softwood) for its wood to be booked as one."""

MOST_QUESTIONS = 12
SHOWN = 5

FIND: dict[str, Text] = {
    "leaf": T_("Find a leaf, on the tree or on the ground under it."),
    "needle": T_("Find a twig with needles, or a cone under the tree."),
    "fruit": T_("Look for fruits under the tree; make sure that they fell from this one."),
    "twig": T_("Find a twig."),
    "habit": T_("Look at the whole tree, if it still stands."),
    "bark": T_("Find a piece with bark."),
    "wood": T_("Split a piece and look at the fresh face."),
    "end": T_("Cut an end clean with a sharp knife, wet it, and look with a lens."),
}
"""Where to look further, by the group of the character that would help most."""


@dataclass(frozen=True)
class Share:
    """A name and how probable it is."""

    name: str
    probability: float


@dataclass(frozen=True)
class LookAgain:
    """An answer to check before anything else: how it fits the leading species, and what it contradicts."""

    character: str
    why: Text


@dataclass(frozen=True)
class Contradiction:
    """Two answers that fit no tree of the key together, though each fits some."""

    characters: tuple[str, str]
    why: Text


@dataclass(frozen=True)
class Verdict:
    """What may be said.

    Attributes
    ----------
    level, name, probability
        The species by name, the trade group (or genus) by name, or nothing (empty name, probability of the
        leading species).
    species
        The named species; the members in play of a named group; up to five if undecided.
    wood
        What the house may reckon with: the species' wood, that of the group or genus, or "not named yet".
    elsewhere
        The look that would help most beyond the present situations, if there is one; `advice` puts it in words.
    stop
        Twelve answers have not settled it: no more questions.
    """

    level: Level
    name: str
    probability: float
    species: tuple[KeySpecies, ...]
    wood: Species
    elsewhere: Look | None
    advice: Text | None
    stop: bool


def by_group(post: Posterior) -> list[Share]:
    """Probability of each trade group, the likeliest first; with "not in this list" they sum to 1."""
    return _summed(post, [species.group for species in post.key.species])


def by_genus(post: Posterior) -> list[Share]:
    """As `by_group`, by genus."""
    return _summed(post, [species.genus for species in post.key.species])


def _summed(post: Posterior, names: list[str]) -> list[Share]:
    sums: dict[str, float] = defaultdict(float)
    for name, share in zip(names, post.species, strict=True):
        sums[name] += float(share)
    first = {name: place for place, name in reversed(list(enumerate(names)))}
    return [
        Share(name, sums[name]) for name in sorted(sums, key=lambda name: (-grains(sums[name]), first[name]))
    ]


def surprises(post: Posterior) -> list[int]:
    """Places of the answers that fit the leading species badly."""
    leader = post.ranking[0]
    return [place for place, bad in enumerate(_bad(post)) if bad[leader]]


def contradictions(post: Posterior) -> list[Contradiction]:
    """Pairs of answers that fit no tree together, though each fits some."""
    bad = _bad(post)
    found = []
    for (a, first), (b, second) in combinations(enumerate(post.answers), 2):
        if (bad[a] | bad[b]).all() and not bad[a].all() and not bad[b].all():
            pair = (first.character, second.character)
            why = T_(
                "No tree of the key shows both {first} and {second}.",
                first=f"{pair[0]}={'|'.join(first.states)}",
                second=f"{pair[1]}={'|'.join(second.states)}",
            )
            found.append(Contradiction(pair, why))
    return found


def _bad(post: Posterior) -> Bools:
    """Whether an answer fits a species badly [answers, species]; a species by its best form."""
    species = len(post.key.species)
    least = np.array([SURPRISE * post.chance(place) for place in range(len(post.answers))])
    bad = post.q < least[:, None]
    found: Bools = bad[:, :species].copy()
    for place, row in enumerate(post.key.species_of[species:], start=species):
        if post.rows[place] > 0.0:
            found[:, row] &= bad[:, place]
    return found


def look_again(post: Posterior) -> list[LookAgain]:
    """Answers to check first: those that fit the leading species badly, and those that fit nothing well."""
    found: dict[str, Text] = {}
    leader = post.key.species[post.ranking[0]]
    bad = _bad(post)
    against: dict[str, list[str]] = defaultdict(list)
    for item in contradictions(post):
        first, second = item.characters
        against[first].append(second)
        against[second].append(first)
    for place in surprises(post):
        name = post.answers[place].character
        if name in against:
            found[name] = T_(
                "It does not fit {species}, which leads, and contradicts {others}.",
                species=leader.names,
                others=", ".join(against[name]),
            )
        else:
            found[name] = T_("It does not fit {species}, which leads.", species=leader.names)
    if grains(post.not_listed) > grains(NOT_LISTED_SAYS):
        for place, one in enumerate(post.answers):
            if bad[place].all():
                found[one.character] = T_("It fits no tree of the key.")
        for name, others in against.items():
            found.setdefault(
                name, T_("It contradicts {others}: together they fit no tree.", others=", ".join(others))
            )
    return [LookAgain(name, why) for name, why in found.items()]


def verdict(post: Posterior, situations: Iterable[str] = (), *, not_seen: Iterable[str] = ()) -> Verdict:
    """What may be said after these answers."""
    situations, not_seen = tuple(situations), tuple(not_seen)
    order = post.ranking
    species = post.key.species
    first = species[order[0]]
    top = float(post.species[order[0]])
    if grains(top) >= grains(NAMED) and not surprises(post):
        return Verdict("species", first.common_en, top, (first,), first.wood, None, None, False)
    group, genus = by_group(post)[0], by_genus(post)[0]
    for share, names in ((group, [s.group for s in species]), (genus, [s.genus for s in species])):
        if grains(share.probability) >= grains(NAMED):
            members = tuple(species[i] for i in order if names[i] == share.name)
            return Verdict(
                "group", share.name, share.probability, _in_play(post, members), wood_of_group(share.name, members),
                *_elsewhere(post, situations, not_seen), _stop(post),
            )  # fmt: skip
    leading = tuple(species[i] for i in order[:SHOWN])
    return Verdict(
        "undecided", "", top, leading, _wood_of_all(post),
        *_elsewhere(post, situations, not_seen), _stop(post),
    )  # fmt: skip


def _stop(post: Posterior) -> bool:
    return len(post.asked) >= MOST_QUESTIONS


def wood_of_group(name: str, members: tuple[KeySpecies, ...]) -> Species:
    """The wood of a group by its name or by the genus of its members; else merely hard or soft."""
    genera = {one.genus for one in members}
    for wider in (name, genera.pop() if len(genera) == 1 else name):
        found = species_named(wider)
        if len(found) == 1 and (found[0].rank != "species" or len(members) == 1):
            return found[0]
    return UNNAMED_HARDWOOD if members[0].kind == "hardwood" else UNNAMED_SOFTWOOD


def _wood_of_all(post: Posterior) -> Species:
    """Hardwood or softwood where the trees in question are so, else nothing known."""
    for kind, wood in (("hardwood", UNNAMED_HARDWOOD), ("softwood", UNNAMED_SOFTWOOD)):
        shares = (float(s) for one, s in zip(post.key.species, post.species, strict=True) if one.kind == kind)
        if sum(shares) >= KIND_SURE:
            return wood
    return UNNAMED


def _in_play(post: Posterior, members: tuple[KeySpecies, ...]) -> tuple[KeySpecies, ...]:
    at = post.key.species_at
    kept = [one for one in members if post.species[at[one.key_id]] >= IN_PLAY]
    return tuple(kept[:SHOWN])


def _elsewhere(
    post: Posterior, situations: tuple[str, ...], not_seen: tuple[str, ...]
) -> tuple[Look | None, Text | None]:
    """The best look that the present situations do not offer."""
    others = [name for name in SITUATIONS if name not in situations] if situations else []
    present = "".join(SITUATIONS[name] for name in situations)
    if not others:
        return None, None
    looks = next_looks(post, others, not_seen=not_seen, limit=len(post.key.characters))
    for look in looks:
        if not set(look.character.situations) & set(present):
            return look, FIND[look.character.group]
    return None, None


def note(post: Posterior) -> str:
    """What settles the leading pair of look-alikes, in the table's words; empty if no such pair leads."""
    pair = leading_pair(post)
    return pair.note if pair else ""
