"""The sheet of a tree: how to know it, what its wood is worth and how it behaves, each statement with its source.

A sheet is made of parts, a part of rows and of looks; the web, the phone without signal and the paper show the same.
Numbers in a sheet come from the packages that own them and from nowhere else; what is not known is said.
Nothing here reads the book. How it dries at the yard's place takes a second to work out and is asked for apart
(`answers.calendar_line`); the sheet names the wood that it is asked for.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache

from rickyard import rules
from rickyard.desk import sheet_wood
from rickyard.desk.sheet_rows import Claim, Footnotes, Look, Part, Row
from rickyard.identify import (
    REGIONS,
    SITUATIONS,
    KeySpecies,
    cell_sources,
    key_sources,
    telling,
    the_key,
)
from rickyard.identify.tables import WEIGHTS
from rickyard.show import Voice
from rickyard.text import T_, Text
from rickyard.wood import wood_cautions

MOST_LOOKS = 6
TITLES: dict[str, Text] = {
    "leaf": T_("The tree in leaf"),
    "winter": T_("The tree in winter"),
    "log": T_("The log with its bark"),
    "split": T_("The split face"),
    "lens": T_("The cut end, with a lens"),
}


@dataclass(frozen=True)
class Alike:
    """A tree that this one is taken for, and how to settle it."""

    id: str
    name: str
    note: str
    refs: tuple[int, ...]


@dataclass(frozen=True)
class Sheet:
    """All of one tree.

    Attributes
    ----------
    id, key_id, name, scientific
        Names; `name` is the one in the user's language.
    parts
        What is said of it, in the order in which it is read.
    alike
        Trees that it is taken for.
    wood
        Id of the wood that figures are given for: the species, or what stands in for it.
    stands_in
        A sentence that says so; empty if the figures are the species' own.
    sources
        What the numbers in `refs` stand for, from 1.
    """

    id: str
    key_id: str
    name: str
    scientific: str
    parts: tuple[Part, ...]
    alike: tuple[Alike, ...]
    wood: str
    stands_in: str
    sources: tuple[str, ...] = field(default=())


def name_of(voice: Voice, species: KeySpecies) -> str:
    """What a tree of the key is called; a tree without wood of its own has no French name, only its Latin one."""
    wood = species.wood
    if wood.rank == "species" or species.common_en == wood.common_en:
        return voice.species(wood)
    return voice.species(replace(species, common_fr=""))


def sheet_ids() -> tuple[str, ...]:
    """The trees that have a sheet: all of the key."""
    return tuple(species.id for species in the_key().species)


def tree_of(name: str) -> KeySpecies | None:
    """The tree of the key with this id or short id; None if there is none."""
    return next((tree for tree in the_key().species if name in (tree.id, tree.key_id)), None)


def sheet(voice: Voice, tree: KeySpecies) -> Sheet:
    """The sheet of a tree of the key in the user's words and units."""
    return _sheet(voice.locale, voice.units, tree.id)


@lru_cache(maxsize=1024)
def _sheet(locale: str, units: str, tree_id: str) -> Sheet:
    voice = Voice(locale, units)
    tree = tree_of(tree_id)
    if tree is None:
        raise KeyError(tree_id)
    notes = Footnotes(_citations())
    parts = [_names(voice, tree, notes)]
    parts += [part for name in SITUATIONS for part in _how_to_know(voice, tree, name, notes)]
    alike = tuple(_alike(voice, tree, notes))
    stands_in = _stands_in(voice, tree)
    parts += sheet_wood.parts(voice, tree.wood, notes)
    parts += [_cautions(voice, tree, notes), _moving(voice, tree, notes)]
    return Sheet(
        id=tree.id,
        key_id=tree.key_id,
        name=name_of(voice, tree),
        scientific=tree.scientific,
        parts=tuple(part for part in parts if part.rows or part.looks or part.notes),
        alike=alike,
        wood=tree.wood.id,
        stands_in=stands_in,
        sources=notes.listed(),
    )


def _citations() -> dict[str, str]:
    return {code: citation for code, (citation, _) in key_sources().items()}


def _names(voice: Voice, tree: KeySpecies, notes: Footnotes) -> Part:
    """What it is called in both languages, and where it grows."""
    wood = tree.wood
    rows: list[Row] = []

    def row(key: str, label: Text, words: str, refs: tuple[int, ...] = (), note: str = "") -> None:
        if words:
            rows.append(Row(key, voice.text(label), (Claim(words, refs),), note))

    own = wood.rank == "species"
    row("english", T_("English"), tree.common_en)
    french = wood.common_fr if own else ""
    row("french", T_("French"), french)
    if own and wood.common_fr_fr and wood.common_fr_fr != french:
        row("french_fr", T_("French of France"), wood.common_fr_fr)
    row("latin", T_("Latin"), tree.scientific)
    if own:
        row("other", T_("Also called"), ", ".join(wood.other_names))
    common = [voice.text(REGIONS[name]) for name, how in tree.regions.items() if how == "c"]
    rare = [voice.text(REGIONS[name]) for name, how in tree.regions.items() if how != "c"]
    memory = notes.text(voice.text(T_("From memory and judgement; nothing was read for it.")))
    if common:
        row("common", T_("Common in"), voice.list_of(common), (memory,))
    if rare:
        row("rare", T_("Now and then in"), voice.list_of(rare), (memory,))
    if not tree.regions:
        row("rare", T_("Where it grows"), voice.text(T_("not noted for any region of the key")))
    return Part("names", voice.text(T_("Names and where it grows")), tuple(rows))


def _how_to_know(voice: Voice, tree: KeySpecies, situation: str, notes: Footnotes) -> Iterable[Part]:
    """The looks that tell it best from what it may be taken for; nothing where nothing but assumptions is known."""
    key = the_key()
    sources = cell_sources(tree.key_id)
    looks = []
    for found in telling(key, tree.key_id, situation)[:MOST_LOOKS]:
        character = found.character
        cell = key.cell(tree.key_id, character.id)
        if cell is None:
            continue
        by_weight = {
            weight: tuple(
                state for state, mine in zip(character.states, cell.weights, strict=True) if mine == weight
            )
            for weight in WEIGHTS.values()
        }
        usual = by_weight[WEIGHTS["usually"]]
        also = by_weight[WEIGHTS["sometimes"]] + by_weight[WEIGHTS["rarely"]]
        source = sources[character.id]
        looks.append(Look(character.id, usual, also, notes.codes(source.code, source.page)))
    if looks:
        yield Part(situation, voice.text(TITLES[situation]), looks=tuple(looks))


def _alike(voice: Voice, tree: KeySpecies, notes: Footnotes) -> Iterable[Alike]:
    key = the_key()
    for pair in key.look_alikes:
        if tree.key_id in pair.pair:
            (name,) = [name for name in pair.pair if name != tree.key_id]
            other = key.species[key.species_at[name]]
            yield Alike(
                id=other.id,
                name=name_of(voice, other),
                note=voice.gettext(pair.note),
                refs=notes.codes(pair.source, ""),
            )


def _stands_in(voice: Voice, tree: KeySpecies) -> str:
    wood = tree.wood
    if wood.rank == "species":
        return ""
    if wood.rank == "unnamed":
        return voice.text(
            T_(
                "Nothing was found about the wood of {tree}, nor about another of its genus. The figures are those of "
                "any {kind}, and their range is wide.",
                tree=name_of(voice, tree),
                kind=T_("hardwood") if wood.group == "hardwood" else T_("softwood"),
            )
        )
    return voice.text(
        T_(
            "No figures of {tree} itself were found. Those of a wider name stand in, with a wider range: {wood}.",
            tree=name_of(voice, tree),
            wood=voice.species(wood),
        )
    )


def _cautions(voice: Voice, tree: KeySpecies, notes: Footnotes) -> Part:
    """Thorns by the key, poison and dust by their sources, and the vine that may grow on any tree."""
    kinds = {"horses": T_("Horses"), "livestock": T_("Animals"), "dust": T_("Dust")}
    rows = [
        Row(
            f"caution-{place}",
            voice.text(kinds[found.kind]),
            (Claim(voice.gettext(found.says), (notes.text(_cited(voice, found.source, found.basis)),)),),
        )
        for place, found in enumerate(wood_cautions(tree.wood, tree.genus))
    ]
    vine = T_(
        "Poison ivy, poison oak or poison sumac on or among the logs: never burn them. "
        "Their oil on tools is enough for a rash."
    )
    source = notes.text("NIOSH, Poisonous Plants: Types of Exposure, 2016; NIOSH Science Blog, 4 May 2022")
    rows.append(Row("vine", voice.text(T_("On any tree")), (Claim(voice.text(vine), (source,)),)))
    looks: tuple[Look, ...] = ()
    thorns = the_key().cell(tree.key_id, "thorns")
    character = the_key().characters[the_key().at["thorns"]]
    if thorns is not None and thorns.applicable:
        armed = tuple(
            state
            for state, weight in zip(character.states, thorns.weights, strict=True)
            if weight and state != "none"
        )
        if armed:
            cell = cell_sources(tree.key_id)["thorns"]
            looks = (Look("thorns", armed, (), notes.codes(cell.code, cell.page)),)
    known = len(rows) > 1 or looks
    said = (
        ()
        if known
        else (
            voice.text(
                T_(
                    "No poison, thorn or harmful dust of this tree was found in what was read, which proves nothing."
                )
            ),
        )
    )
    return Part("cautions", voice.text(T_("Take care")), tuple(rows), looks, said)


def _moving(voice: Voice, tree: KeySpecies, notes: Footnotes) -> Part:
    """Pests of its genus, and that nobody has checked the rules of the place."""
    rows = [
        Row(
            f"pest-{pest.id}",
            voice.gettext(pest.name),
            (
                Claim(
                    voice.text(
                        T_(
                            "{rule} What to do: {handling}",
                            rule=voice.gettext(pest.says),
                            handling=voice.gettext(pest.handling),
                        )
                    ),
                    (notes.text(_cited(voice, pest.source, pest.basis)),),
                ),
            ),
            voice.text(
                T_("Signs (from memory): {signs}", signs=voice.gettext(pest.signs))
                if pest.signs_basis == "memory"
                else T_("Signs: {signs}", signs=voice.gettext(pest.signs))
            ),
        )
        for pest in rules.pests_of(tree.genus, tree.id)
    ]
    said = [
        voice.text(rules.movement_note()),
        voice.text(
            T_(
                "Put down on {day}; rules and areas change. No list of regulated areas here is complete.",
                day=rules.PESTS_READ_ON,
            )
        ),
    ]
    if not rows:
        said.insert(0, voice.text(T_("No pest of this genus is in the yard's table.")))
    return Part("moving", voice.text(T_("Moving it")), tuple(rows), notes=tuple(said))


def _cited(voice: Voice, source: str, basis: str) -> str:
    """A citation with how it was read, where it was not read itself."""
    if basis == "memory":
        return voice.text(T_("From memory; nothing was read for it."))
    if basis == "second-hand":
        return voice.text(T_("{source} (as quoted by others)", source=source))
    if basis == "abstract read":
        return voice.text(T_("{source} (abstract read)", source=source))
    return source


__all__ = [
    "Alike",
    "Claim",
    "Look",
    "Part",
    "Row",
    "Sheet",
    "name_of",
    "sheet",
    "sheet_ids",
    "tree_of",
]
