"""Finding a species by any of its names, and suggesting some while a name is typed."""

from __future__ import annotations

import difflib
from collections import defaultdict
from dataclasses import dataclass, field
from functools import cache

from rickyard.errors import UnknownNameError
from rickyard.text import T_
from rickyard.wood.groups import group_table, spare_key_ids
from rickyard.wood.names import plain, words
from rickyard.wood.species import Species
from rickyard.wood.table import species_table

NEAREST = 5
"""How many near names an error lists."""

LONGEST_NAME = 200
"""Letters of a typed name that are looked at."""


class AmbiguousNameError(UnknownNameError):
    """A name that several species bear; `nearest` lists them with their Latin names."""

    code = "ambiguous_name"


def all_species() -> tuple[Species, ...]:
    """The 179 species of the table, without the wider names."""
    return species_table()


def all_groups() -> tuple[Species, ...]:
    """The wider names: genera, trade groups, and the three "not named yet"."""
    return group_table()


@cache
def _by_id() -> dict[str, Species]:
    return {s.id: s for s in (*species_table(), *group_table())}


def get_species(species_id: str) -> Species:
    """The species or wider name with this id. Raises KeyError: an id that is not ours is a bug, not a slip."""
    return _by_id()[species_id]


@dataclass
class _Index:
    """Who bears a plain name, in the order in which names count."""

    exact: dict[str, Species] = field(default_factory=dict)
    main: dict[str, list[Species]] = field(default_factory=lambda: defaultdict(list))
    wider: dict[str, list[Species]] = field(default_factory=lambda: defaultdict(list))
    other: dict[str, list[Species]] = field(default_factory=lambda: defaultdict(list))
    spelt: dict[str, tuple[str, Species]] = field(default_factory=dict)

    def find(self, name: str) -> list[Species]:
        if name in self.exact:
            return [self.exact[name]]
        for level in (self.main, self.wider, self.other):
            if level.get(name):
                return level[name]
        return []


def _bear(level: dict[str, list[Species]], name: str, species: Species) -> None:
    if species not in level[plain(name)]:
        level[plain(name)].append(species)


@cache
def _index() -> _Index:
    index = _Index()
    for species in species_table():
        for name in (species.id, species.scientific, species.key_id or ""):
            if name:
                index.exact[plain(name)] = species
        for name in (species.common_en, species.common_fr):
            _bear(index.main, name, species)
        for name in (species.common_fr_fr, *species.other_names):
            _bear(index.other, name, species)
    for wide in group_table():
        # Latin for a trade group of one genus reads as the genus itself, so it is no name of the group.
        latin = wide.scientific if wide.rank == "genus" else ""
        for name in (wide.id, latin, wide.common_en, wide.common_fr, wide.common_fr_fr, *wide.other_names):
            if name:
                _bear(index.wider, name, wide)
    for key, group_id in spare_key_ids().items():
        index.exact[plain(key)] = _by_id()[group_id]
    for species in (*species_table(), *group_table()):
        for name in _shown_names(species):
            index.spelt.setdefault(plain(name), (name, species))
    return index


def _shown_names(species: Species) -> tuple[str, ...]:
    names = (
        species.common_en,
        species.common_fr,
        species.scientific if species.rank in ("species", "genus") else "",
        species.common_fr_fr,
        *species.other_names,
    )
    return tuple(name for name in names if name)


def species_named(name: str) -> tuple[Species, ...]:
    """All that bear this name, without an error: none if unknown, several if the name is ambiguous."""
    return tuple(_index().find(plain(name.strip()[:LONGEST_NAME])))


def find_species(name: str, *, field: str = "species") -> Species:
    """The species or wider name that bears this name.

    Scientific name, common name in English or French, id, short id of the tree key, genus or trade group;
    without regard to case, accents, hyphens and spaces.
    A main name (English, French of Canada) counts before a wider name, and that before a further name.

    Raises UnknownNameError with the nearest names, or AmbiguousNameError if several species bear the name;
    both name `field`.
    """
    typed = name.strip()
    found = species_named(typed)
    if len(found) == 1:
        return found[0]
    if found:
        raise AmbiguousNameError(
            field,
            wanted=T_("one species; this name is borne by several"),
            got=typed,
            nearest=[f"{s.common_en} ({s.scientific})" for s in found],
        )
    raise UnknownNameError(
        field,
        wanted=T_("a species, genus or trade group by its English, French or Latin name"),
        got=typed[:LONGEST_NAME] or '""',
        nearest=_nearest(typed),
    )


def _nearest(typed: str) -> list[str]:
    """Names closest to what was typed, each of another species."""
    sought = plain(typed[:LONGEST_NAME])
    if not sought:
        return []
    spelt = _index().spelt
    near = {species: species.common_en for species in _offer(typed)[:NEAREST]}
    for key in difflib.get_close_matches(sought, spelt, n=4 * NEAREST, cutoff=0.7):
        shown, species = spelt[key]
        near.setdefault(species, shown)
    return list(near.values())[:NEAREST]


def suggest_species(text: str, limit: int = 8) -> list[Species]:
    """Species and wider names to offer while a name is typed, the likeliest first.

    A name that begins with what was typed comes first, then one with a word that does, then one that holds it,
    then one that holds every word typed, then near spellings. Nothing typed gives nothing.
    """
    offered = _offer(text)[:limit]
    sought = plain(text[:LONGEST_NAME])
    if len(offered) < limit and len(sought) > 2:
        spelt = _index().spelt
        for key in difflib.get_close_matches(sought, spelt, n=limit, cutoff=0.7):
            if spelt[key][1] not in offered:
                offered.append(spelt[key][1])
    return offered[:limit]


def _offer(text: str) -> list[Species]:
    """Everything that some reading of the typed text fits, the closest first."""
    sought = plain(text[:LONGEST_NAME])
    if not sought:
        return []
    parts = words(text[:LONGEST_NAME])
    ranked: dict[Species, tuple[int, int]] = {}
    for place, species in enumerate((*group_table(), *species_table())):
        best = min(
            (
                _closeness(sought, parts, name)
                for name in (species.key_id or "", *_shown_names(species))
                if name
            ),
            default=9,
        )
        if best < 9:
            ranked[species] = (best, place)
    return sorted(ranked, key=lambda species: ranked[species])


def _closeness(sought: str, parts: tuple[str, ...], name: str) -> int:
    whole = plain(name)
    if whole == sought:
        return 0
    if whole.startswith(sought):
        return 1
    own = words(name)
    if any(word.startswith(sought) for word in own):
        return 2
    if len(sought) > 2 and sought in whole:
        return 3
    if len(parts) > 1 and all(any(word.startswith(part) for word in own) for part in parts):
        return 4
    return 9


UNNAMED = get_species("unnamed")
"""Wood of which nothing is known yet."""

UNNAMED_HARDWOOD = get_species("unnamed_hardwood")
"""Wood known to be a hardwood, and no more."""

UNNAMED_SOFTWOOD = get_species("unnamed_softwood")
"""Wood known to be a softwood, and no more."""
