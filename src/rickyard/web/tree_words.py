"""What the page that names trees says: it gets all with the page, in the user's language, and needs no signal then."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from rickyard.desk.seen import UNTAUGHT, Taught
from rickyard.identify import Answer, Key, KeySpecies, the_key, wood_of_group
from rickyard.identify.verdict import FIND
from rickyard.show import Voice
from rickyard.text import T_, Text
from rickyard.web.assets import Assets
from rickyard.web.drawings import drawing
from rickyard.wood import UNNAMED, UNNAMED_HARDWOOD, UNNAMED_SOFTWOOD

# Doubts above this are guesses; the phone's script says the same.
HALF_WAY = 0.45

WORDS: dict[str, Text] = {
    "undecided": T_("Not settled yet"),
    "leading": T_("{name} leads with {share}.", name="{name}", share="{share}"),
    "species": T_("{name}, {share}", name="{name}", share="{share}"),
    "group": T_("{name}, {share}; more than that cannot be said yet.", name="{name}", share="{share}"),
    "start": T_("Say what you see; every answer narrows it down."),
    "notListed": T_("It may be a tree that is not in this list: {share}.", share="{share}"),
    "notListedRow": T_("not in this list"),
    "again": T_("Look again: {question} It does not fit {name}.", question="{question}", name="{name}"),
    "againNothing": T_("Look again: {question} It fits no tree of the list.", question="{question}"),
    "pair": T_(
        "These two answers fit no tree together: {first} {second}", first="{first}", second="{second}"
    ),
    "stop": T_("Twelve answers have not settled it; more will hardly do. Use the group, or ask somebody."),
    "nothingLeft": T_("Nothing that can be seen here would tell much more."),
    "lookAlikes": T_("Taken for one another: {first} and {second}.", first="{first}", second="{second}"),
    "settles": T_("settles it"),
    "cannotSee": T_("Can't see it"),
    "sure": T_("I am sure"),
    "fairly": T_("Not quite sure"),
    "guess": T_("A guess"),
    "either": T_("Either of several"),
    "done": T_("Done"),
    "change": T_("Change"),
    "takeBack": T_("Take back"),
    "or": T_("or"),
    "speaksFor": T_("speaks for it"),
    "speaksAgainst": T_("speaks against it"),
    "saysLittle": T_("says little"),
    "use": T_("A load of it comes in"),
    "sheet": T_("Its sheet"),
    "compare": T_("Compare the likeliest"),
    "unseen": T_("Not to be seen: {list}", list="{list}"),
    "askAgain": T_("Ask again"),
    "still": T_(
        "Still in: {count} of {whole}. The others are less than a hundredth as likely as the first.",
        count="{count}",
        whole="{whole}",
    ),
    "more": T_("More that are still in: {count}", count="{count}"),
    "out": T_("Out, and which answer put them out: {count}", count="{count}"),
    "outBy": T_("By “{answer}”", answer="{answer}"),
    "outBefore": T_("Rare there, or less likely on all answers together"),
    "odds": T_("{name} {share}", name="{name}", share="{share}"),
    "ruleOut": T_("Look-alikes to rule out"),
    "settleBy": T_("What settles it"),
    "answered": T_("{question} You said: {answer}.", question="{question}", answer="{answer}"),
    "howSure": T_("How sure are you?"),
    "useIt": T_("Use it for a load"),
    "keepIt": T_("Keep what you saw"),
    "willName": T_("The wood is then called {name} in the book.", name="{name}"),
    "willKeep": T_("It is kept with the photos, and can be used for a load later."),
    "notSettled": T_(
        "It is not settled yet: the wood stays unnamed, and what you saw is kept with the load until somebody knows."
    ),
    "noWood": T_(
        "The book has no wood of its own for {name}: it becomes {wood}, and what you saw is kept with the load.",
        name="{name}",
        wood="{wood}",
    ),
    "keptBefore": T_("These answers are in the book or the outbox already. The next tree: “Another tree”."),
}


def tree_words(voice: Voice, assets: Assets, known: Taught = UNTAUGHT) -> dict[str, Any]:
    """Questions, states, names and sentences, where the drawings lie, and what the yard has taught the key."""
    key = the_key()
    return {
        "ui": {name: voice.text(text) for name, text in WORDS.items()},
        "characters": {
            character.id: _character(voice, assets, key, character.id) for character in key.characters
        },
        "species": {species.id: [*_names(voice, species), species.scientific] for species in key.species},
        "groups": {name: _group(voice, key, name) for name in _groups(key)},
        "notes": [voice.gettext(item.note) for item in key.look_alikes],
        "advice": {group: voice.text(text) for group, text in FIND.items()},
        "kinds": {character.id: character.group for character in key.characters},
        "table": assets.url("tables/identify.json"),
        "counts": dict(known.counts),
        "exponent": known.exponent,
        "unnamed": [voice.species(wood) for wood in (UNNAMED, UNNAMED_HARDWOOD, UNNAMED_SOFTWOOD)],
    }


def has_own_wood(species: KeySpecies) -> bool:
    """Whether a tree is called as its wood is; others go by the key's own English name, or the scientific one."""
    return species.wood.rank == "species" or species.common_en == species.wood.common_en


def tree_name(voice: Voice, species: KeySpecies) -> str:
    """What a tree of the key is called."""
    return _names(voice, species)[0]


def answer_words(voice: Voice, answer: Answer) -> tuple[str, str]:
    """The question, and what was said to it: its states, and the doubt."""
    key = the_key()
    character = key.characters[key.at[answer.character]]
    labels = [
        voice.pgettext(character.id, label)
        for state, label in zip(character.states, character.labels, strict=True)
        if state in answer.states
    ]
    said = f" {voice.text(WORDS['or'])} ".join(labels)
    if answer.doubt > 0.0:
        doubt = WORDS["guess"] if answer.doubt > HALF_WAY else WORDS["fairly"]
        said = f"{said} ({voice.text(doubt)})"
    return voice.gettext(character.question), said


def _character(voice: Voice, assets: Assets, key: Key, name: str) -> dict[str, Any]:
    """The question, how to look, and each state with its label, picture and what the picture shows."""
    character = key.characters[key.at[name]]
    states = []
    for state, label in zip(character.states, character.labels, strict=True):
        shown = drawing(name, state)
        picture = [f"{assets.url(shown.file)}#{shown.view}", voice.text(shown.alt)] if shown else []
        states.append([state, voice.pgettext(name, label), *picture])
    return {
        "question": voice.gettext(character.question),
        "how": voice.gettext(character.how_to_look),
        "states": states,
    }


def _names(voice: Voice, species: KeySpecies) -> tuple[str, str]:
    """What the tree is called, and what its wood is called in the yard's book."""
    wood = voice.species(species.wood)
    if has_own_wood(species):
        return wood, wood
    return (species.scientific if voice.locale.startswith("fr") else species.common_en), wood


def _groups(key: Key) -> Iterable[str]:
    return dict.fromkeys(name for species in key.species for name in (species.group, species.genus))


def _group(voice: Voice, key: Key, name: str) -> str:
    """What a trade group or genus is called, in the book as well."""
    members = tuple(species for species in key.species if name in (species.group, species.genus))
    return voice.species(wood_of_group(name, members))
