"""What was seen of a tree, kept as a row of the book, and what the yard's confirmed rows teach the key."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from rickyard.book.models import Load, Naming
from rickyard.desk.checks import some_text, within
from rickyard.desk.context import Desk, Stage
from rickyard.errors import InputError, UnknownNameError
from rickyard.identify import (
    LEAST_EXPONENT,
    LEAST_RECORDS,
    MOST_EXPONENT,
    Answer,
    Confirmed,
    Key,
    Posterior,
    Prior,
    Verdict,
    checked_region,
    checked_situations,
    packed,
    posterior,
    the_key,
    verdict,
    yard_exponent,
)
from rickyard.identify.answers import checked_all
from rickyard.text import T_

MOST_NOTE = 300


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What somebody answered about one tree.

    `counts` and `exponent` are what the phone reckoned with, which may be older than what the yard knows by now;
    left out, they are the yard's own.
    """

    answers: tuple[Answer, ...]
    situations: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    region: str = ""
    street: bool = False
    counts: tuple[tuple[str, float], ...] | None = None
    exponent: float | None = None


@dataclass(frozen=True)
class Taught:
    """What the yard's confirmed records teach the key: how often each tree was met (by short id), the exponent,
    and from how many records; a record whose tree the key does not have counts for neither."""

    counts: Mapping[str, float]
    exponent: float
    records: int

    @property
    def is_fitted(self) -> bool:
        """Whether there are enough records for an exponent of the yard's own."""
        return self.records >= LEAST_RECORDS


UNTAUGHT = Taught({}, 1.0, 0)


def taught(desk: Desk) -> Taught:
    """What this yard has taught the key so far."""
    with desk.book.read() as session:
        return taught_by(session, desk.yard_id)


def taught_by(session: Session, yard_id: int) -> Taught:
    records = []
    for row in confirmed_rows(session, yard_id):
        tree = row.truths[-1].key_id
        # A tree that a later version of the tables calls otherwise teaches nothing.
        if tree in the_key().species_at and fits_the_key(row):
            records.append(_record(row, str(tree)))
    counts = Counter(tree for _, tree, *_ in records)
    return Taught(dict(sorted(counts.items())), _exponent(tuple(records)), len(records))


def confirmed_rows(session: Session, yard_id: int) -> list[Naming]:
    """The records whose tree somebody has confirmed or set right, oldest first."""
    query = (
        select(Naming)
        .where(Naming.yard_id == yard_id, Naming.truths.any())
        .options(selectinload(Naming.truths))
        .order_by(Naming.id)
    )
    return list(session.scalars(query))


def answers_of(row: Naming) -> tuple[Answer, ...]:
    return tuple(Answer(one["character"], tuple(one["states"]), one["doubt"]) for one in row.answers)


def fits_the_key(row: Naming) -> bool:
    """Whether the tables still have every character and state of a record."""
    key = the_key()
    return all(
        one.character in key.at and set(one.states) <= set(key.characters[key.at[one.character]].states)
        for one in answers_of(row)
    )


def reckoned(key: Key, seen: Seen, known: Taught) -> tuple[Posterior, Verdict]:
    """What the key says to it, with the prior of then."""
    counts = known.counts if seen.counts is None else dict(seen.counts)
    exponent = known.exponent if seen.exponent is None else seen.exponent
    prior = Prior(region=seen.region or None, counts=counts, street=seen.street)
    post = posterior(key, seen.answers, prior, exponent=exponent)
    return post, verdict(post, seen.situations, not_seen=seen.not_seen)


def checked_seen(seen: Seen) -> Seen:
    """As the key spells it. Raises InputError or UnknownNameError for what the key does not have."""
    key = the_key()
    if not seen.answers:
        raise InputError(
            "answers",
            wanted=T_("at least one answer"),
            got=T_("none"),
            next_move=T_("Say what you see of the tree, then keep it."),
        )
    lost = [name for name in seen.not_seen if name not in key.at]
    if lost:
        raise UnknownNameError("character", wanted=T_("a character of the key"), got=lost[0][:60], nearest=())
    if seen.exponent is not None:
        within("exponent", seen.exponent, (LEAST_EXPONENT, MOST_EXPONENT), "")
    checked = replace(
        seen,
        answers=checked_all(key, seen.answers),
        situations=checked_situations(seen.situations),
        region=checked_region(seen.region or None) or "",
    )
    # The rest (counts of unknown trees, doubts that are none) shows when it is reckoned: before anything is written.
    reckoned(key, checked, UNTAUGHT)
    return checked


def keep(stage: Stage, seen: Seen, *, load: Load | None = None, note: str = "") -> Naming:
    """Writes what was seen, as checked, with the key's verdict; the wood in the book is the caller's."""
    key = the_key()
    known = taught_by(stage.session, stage.yard.id)
    post, said = reckoned(key, seen, known)
    leader = key.species[post.ranking[0]]
    row = Naming(
        yard_id=stage.yard.id,
        deed_id=stage.deed.id,
        load_id=load.id if load else None,
        logs=[],
        situations=list(seen.situations),
        answers=[
            {"character": one.character, "states": list(one.states), "doubt": one.doubt}
            for one in seen.answers
        ],
        not_seen=list(seen.not_seen),
        region=seen.region,
        street=seen.street,
        counts=dict(known.counts if seen.counts is None else seen.counts),
        exponent=known.exponent if seen.exponent is None else seen.exponent,
        tables=tables_hash(),
        level=said.level,
        said=said.species[0].id if said.level == "species" else said.name,
        # A group's odds are a sum and may end a grain above 1.
        odds=min(1.0, said.probability),
        leader=leader.key_id,
        leader_odds=float(post.species[post.ranking[0]]),
        note=some_text("note", note, MOST_NOTE, needed=False),
    )
    stage.session.add(row)
    stage.session.flush()
    return row


@cache
def tables_hash() -> str:
    """Which tables a record was reckoned with."""
    return hashlib.sha256(packed()).hexdigest()[:12]


# A record as plain values, so that a fit is made once for the same records.
_Record = tuple[tuple[Answer, ...], str, str, bool, tuple[tuple[str, float], ...]]


def _record(row: Naming, tree: str) -> _Record:
    key = the_key()
    counts = tuple(sorted((name, float(n)) for name, n in row.counts.items() if name in key.species_at))
    return answers_of(row), tree, row.region, row.street, counts


@lru_cache(maxsize=8)
def _exponent(records: tuple[_Record, ...]) -> float:
    return yard_exponent(the_key(), _confirmed(records))


def _confirmed(records: Iterable[_Record]) -> list[Confirmed]:
    return [
        Confirmed(answers, tree, Prior(region=region or None, counts=dict(counts), street=street))
        for answers, tree, region, street, counts in records
    ]
