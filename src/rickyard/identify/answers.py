"""What the user saw: one state or several of a character, with a doubt."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from rickyard.errors import InputError, UnknownNameError
from rickyard.identify.tables import REGIONS, SITUATIONS, Key
from rickyard.text import T_

SURE, FAIRLY_SURE, A_GUESS = 0.0, 0.3, 0.6
NEAREST = 5
LONGEST = 60


@dataclass(frozen=True)
class Answer:
    """One or more states of a character ("either / or"), with doubt from 0 (sure) to 1."""

    character: str
    states: tuple[str, ...]
    doubt: float = SURE


def read_answer(key: Key, text: str) -> Answer:
    """Reads `CHARACTER=STATE[|STATE...][?|??]`; one `?` means fairly sure, two mean a guess.

    Raises UnknownNameError with the nearest names for a character or state that is not in the key.
    """
    typed = text.strip()
    bare = typed.rstrip("?")
    marks = len(typed) - len(bare)
    name, equals, said = bare.partition("=")
    if not equals or not said.strip() or marks > 2:
        raise InputError(
            "answers",
            wanted=T_("CHARACTER=STATE, states parted by |, with ? or ?? for doubt"),
            got=typed[:LONGEST] or '""',
            next_move=T_("Write, for example, {example}.", example="arr=opposite|whorled?"),
        )
    states = tuple(part.strip() for part in said.split("|"))
    return checked(key, Answer(name.strip(), states, (SURE, FAIRLY_SURE, A_GUESS)[marks]))


def checked(key: Key, answer: Answer) -> Answer:
    """The answer with its ids as the key spells them, states in the key's order and named once.

    Raises UnknownNameError for a character or state that the key does not have, InputError for other nonsense.
    """
    name = _spelt(answer.character, key.at)
    if name is None:
        raise UnknownNameError(
            "character",
            wanted=T_("a character of the key"),
            got=answer.character[:LONGEST] or '""',
            nearest=_near_characters(key, answer.character),
        )
    character = key.characters[key.at[name]]
    found = set()
    for said in answer.states:
        state = _spelt(said, character.states)
        if state is None:
            raise UnknownNameError(
                name,
                wanted=T_("a state of {character}", character=name),
                got=said[:LONGEST] or '""',
                nearest=_near_states(said, character.states, character.labels),
            )
        found.add(state)
    if not found:
        raise InputError(
            name,
            wanted=T_("one state or more"),
            got='""',
            next_move=T_("Leave the character out if you cannot see it."),
        )
    if not 0.0 <= answer.doubt <= 1.0:
        raise InputError(
            name,
            wanted=T_("a doubt from 0 (sure) to 1"),
            got=f"{answer.doubt:g}",
            next_move=T_("0.3 is fairly sure, 0.6 a guess."),
        )
    return Answer(name, tuple(state for state in character.states if state in found), answer.doubt)


def checked_all(key: Key, answers: Iterable[Answer]) -> tuple[Answer, ...]:
    """The answers, each checked, in the key's order; a character answered twice is refused."""
    by_name: dict[str, Answer] = {}
    for answer in answers:
        one = checked(key, answer)
        if one.character in by_name:
            first = by_name[one.character]
            raise InputError(
                one.character,
                wanted=T_("one answer a character"),
                got=T_("{first} and {second}", first="|".join(first.states), second="|".join(one.states)),
                next_move=T_("If it may be either, part the states by |."),
            )
        by_name[one.character] = one
    return tuple(sorted(by_name.values(), key=lambda answer: key.at[answer.character]))


def checked_situations(names: Iterable[str]) -> tuple[str, ...]:
    """Situations as the key spells them, each once."""
    return tuple(dict.fromkeys(_one_of(name, SITUATIONS, "situation") for name in names))


def checked_region(name: str | None) -> str | None:
    """The region as the key spells it."""
    return None if name is None else _one_of(name, REGIONS, "region")


def _one_of(name: str, known: Collection[str], field: str) -> str:
    found = _spelt(name, known)
    if found is None:
        raise UnknownNameError(
            field,
            wanted=T_("one of {names}", names=", ".join(known)),
            got=name[:LONGEST] or '""',
            nearest=difflib.get_close_matches(name, list(known), n=NEAREST, cutoff=0.4),
        )
    return found


def _spelt(name: str, known: Collection[str]) -> str | None:
    """A known id, without regard to case, blanks, hyphens."""
    if name in known:
        return name
    sought = _flat(name)
    return next((one for one in known if _flat(one) == sought), None)


def _flat(name: str) -> str:
    return name.strip().casefold().replace("-", "_").replace(" ", "_")


def _near_characters(key: Key, name: str) -> list[str]:
    """Ids close to what was typed: near in spelling, sharing its beginning, or with the word in their question."""
    sought = _flat(name)[:LONGEST]
    near = difflib.get_close_matches(sought, key.at, n=3, cutoff=0.6)
    if len(sought) > 2:
        near += [one for one in key.at if sought in one or one in sought]
        near += [c.id for c in key.characters if sought.rstrip("s") in c.question.casefold()]
    near += difflib.get_close_matches(sought, key.at, n=3, cutoff=0.4)
    return list(dict.fromkeys(near))[:NEAREST]


def _near_states(name: str, states: tuple[str, ...], labels: tuple[str, ...]) -> list[str]:
    """States close to what was typed in spelling or in their label, then the others while there is room."""
    sought = _flat(name)[:LONGEST]
    near = difflib.get_close_matches(sought, states, n=NEAREST, cutoff=0.5)
    if len(sought) > 2:
        near += [
            state
            for state, label in zip(states, labels, strict=True)
            if sought in state or sought.replace("_", " ") in label.casefold()
        ]
    return list(dict.fromkeys([*near, *states]))[:NEAREST]
