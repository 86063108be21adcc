"""Named trees as pages show them: what was seen, what it came to, what it was; and how far the key can be trusted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from scipy.special import betaincinv
from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from rickyard.book.models import Deed, Load, Naming, NamingTruth, Person
from rickyard.desk.context import Desk
from rickyard.desk.loads import LoadRow, load_page, loads
from rickyard.desk.naming import unknown_naming
from rickyard.desk.paging import after_row
from rickyard.desk.photos import PhotoCard, photos
from rickyard.desk.seen import Taught, answers_of, confirmed_rows, fits_the_key, taught_by
from rickyard.identify import (
    Answer,
    KeySpecies,
    Prior,
    ReliabilityBin,
    posterior,
    reliability,
    the_key,
    wood_of_group,
)
from rickyard.wood import Species, get_species

CANDIDATES = 8
BINS = 5
TENTH, NINETIETH = 0.1, 0.9


@dataclass(frozen=True)
class Truth:
    """What a tree turned out to be (None: one that the key does not have), how that is known, and who said so."""

    tree: KeySpecies | None
    how: str
    by_whom: str
    note: str
    person: str
    happened_at: datetime


@dataclass(frozen=True)
class NamingLine:
    """One line of the list of named trees.

    `tree` is the species or the likeliest one; `group` the wood of a group that was named. `is_right`: whether what
    was said holds (None: nothing was said, or it is not known yet).
    """

    id: int
    level: str
    tree: KeySpecies | None
    group: Species | None
    odds: float
    leader_odds: float
    happened_at: datetime
    person: str
    load_id: int | None
    load_number: int | None
    logs: tuple[int, ...]
    booked_as: Species | None
    truth: Truth | None
    is_right: bool | None
    note: str


@dataclass(frozen=True)
class NamingPage:
    """`candidates`: the likeliest trees by what was answered, with their odds of then."""

    line: NamingLine
    answers: tuple[Answer, ...]
    region: str
    street: bool
    candidates: tuple[tuple[KeySpecies, float], ...]
    truths: tuple[Truth, ...]
    photos: tuple[PhotoCard, ...]


@dataclass(frozen=True)
class SureLine:
    """Records whose likeliest tree was said with odds from `bin.low` to `bin.high`: how often it was that tree.

    `low`, `high`: the 10th and 90th percentile of the true share, by the count (Jeffreys' prior).
    """

    bin: ReliabilityBin
    right: int
    low: float
    high: float


@dataclass(frozen=True)
class HowSure:
    """How the key did here: by the odds said, and by what was named; `not_in_key` of the trees it does not have."""

    taught: Taught
    met: tuple[tuple[KeySpecies, int], ...]
    lines: tuple[SureLine, ...]
    species: tuple[int, int]
    groups: tuple[int, int]
    not_in_key: int
    confirmed: int
    kept: int


@dataclass(frozen=True)
class LoadPart:
    """Wood of a load that is not named as a species yet; `logs` are those of it, if they were measured."""

    load: LoadRow
    wood: Species
    share: float
    logs: tuple[tuple[int, float, float | None], ...]


def namings(
    desk: Desk,
    *,
    load_id: int | None = None,
    confirmed: bool | None = None,
    before: int | None = None,
    limit: int | None = None,
) -> list[NamingLine]:
    """What was seen in this yard (or of one load), newest first; only what was confirmed or was not, if said.

    Those before the record `before`, at most `limit`, if said.
    """
    with desk.book.read() as session:
        query = (
            select(Naming)
            .where(Naming.yard_id == desk.yard_id)
            .options(joinedload(Naming.deed), selectinload(Naming.truths).joinedload(NamingTruth.deed))
        )
        if load_id is not None:
            query = query.where(Naming.load_id == load_id)
        if confirmed is not None:
            query = query.where(Naming.truths.any() if confirmed else ~Naming.truths.any())
        query = after_row(query, Naming, before, Naming.id, descending=True).limit(limit)
        rows = list(session.scalars(query))
        return _lines(session, desk.yard_id, rows)


def count_namings(desk: Desk, *, confirmed: bool) -> int:
    with desk.book.read() as session:
        query = select(func.count()).select_from(Naming).where(Naming.yard_id == desk.yard_id)
        return session.scalar(query.where(Naming.truths.any() if confirmed else ~Naming.truths.any())) or 0


def naming_page(desk: Desk, naming_id: int) -> NamingPage:
    """One record; InputError if the yard has no such."""
    key = the_key()
    with desk.book.read() as session:
        row = session.get(Naming, naming_id)
        if row is None or row.yard_id != desk.yard_id:
            raise unknown_naming(naming_id)
        (line,) = _lines(session, desk.yard_id, [row])
        people = _people(session, desk.yard_id)
        answers = answers_of(row) if fits_the_key(row) else ()
        counts = {name: float(n) for name, n in row.counts.items() if name in key.species_at}
        prior = Prior(region=row.region or None, counts=counts, street=row.street)
        post = posterior(key, answers, prior, exponent=row.exponent)
        truths = tuple(_truth(one, people) for one in reversed(row.truths))
        region, street = row.region, row.street
    return NamingPage(
        line=line,
        answers=answers,
        region=region,
        street=street,
        candidates=tuple(
            (key.species[place], float(post.species[place])) for place in post.ranking[:CANDIDATES]
        ),
        truths=truths,
        photos=tuple(photos(desk, "naming", naming_id)),
    )


def load_parts(desk: Desk, limit: int | None = None) -> list[LoadPart]:
    """What could be named: wood in loads that the book knows by a wider name than a species', newest load first.

    `limit`: of so many loads.
    """
    found = []
    for row in loads(desk, with_wood_only=True, not_named_only=True, limit=limit):
        page = load_page(desk, row.id)
        for item in page.left.species:
            if item.species.rank == "species":
                continue
            share = next((share for wood, share in row.shares if wood.id == item.species.id), 0.0)
            logs = tuple(
                (log.number, log.length_m, log.mid_d_m or log.large_d_m or log.small_d_m)
                for log in page.logs
                if log.species.id == item.species.id
            )
            found.append(LoadPart(row, item.species, share, logs))
    return found


def how_sure(desk: Desk) -> HowSure:
    """Said odds beside what came true, over the yard's confirmed records."""
    key = the_key()
    with desk.book.read() as session:
        known = taught_by(session, desk.yard_id)
        rows = confirmed_rows(session, desk.yard_id)
        kept = len(session.scalars(select(Naming.id).where(Naming.yard_id == desk.yard_id)).all())
        cases = [(row.leader_odds, row.leader == row.truths[-1].key_id) for row in rows]
        by_level = {
            level: [bool(_is_right(row, row.truths[-1].key_id)) for row in rows if row.level == level]
            for level in ("species", "group")
        }
        outside = sum(row.truths[-1].key_id is None for row in rows)
    met = sorted(known.counts.items(), key=lambda item: (-item[1], item[0]))
    return HowSure(
        taught=known,
        met=tuple((key.species[key.species_at[name]], int(count)) for name, count in met),
        lines=tuple(_sure(one) for one in reliability(cases, BINS)),
        species=(sum(by_level["species"]), len(by_level["species"])),
        groups=(sum(by_level["group"]), len(by_level["group"])),
        not_in_key=outside,
        confirmed=len(rows),
        kept=kept,
    )


def _sure(one: ReliabilityBin) -> SureLine:
    right = round(one.right * one.count)
    a, b = right + 0.5, one.count - right + 0.5
    return SureLine(one, right, float(betaincinv(a, b, TENTH)), float(betaincinv(a, b, NINETIETH)))


def _is_right(row: Naming, truth: str | None) -> bool | None:
    """Whether what was said holds: the species, or the group that the tree belongs to."""
    key = the_key()
    if row.level == "undecided":
        return None
    if truth not in key.species_at:
        return False
    tree = key.species[key.species_at[str(truth)]]
    return row.said == tree.id if row.level == "species" else row.said in (tree.group, tree.genus)


def _lines(session: Session, yard_id: int, rows: Iterable[Naming]) -> list[NamingLine]:
    people = _people(session, yard_id)
    rows = list(rows)
    loads_of = {row.load_id for row in rows if row.load_id is not None}
    numbers = dict(session.execute(select(Load.id, Load.number).where(Load.id.in_(loads_of))).all())
    return [_line(row, people, numbers) for row in rows]


def _line(row: Naming, people: dict[int, str], numbers: dict[int, int]) -> NamingLine:
    key = the_key()
    truth = row.truths[-1] if row.truths else None
    members = tuple(one for one in key.species if row.said in (one.group, one.genus))
    return NamingLine(
        id=row.id,
        level=row.level,
        tree=key.named(row.said if row.level == "species" else row.leader),
        group=wood_of_group(row.said, members) if row.level == "group" and members else None,
        odds=row.odds,
        leader_odds=row.leader_odds,
        happened_at=row.deed.happened_at,
        person=_who(row.deed, people),
        load_id=row.load_id,
        load_number=None if row.load_id is None else numbers[row.load_id],
        logs=tuple(int(number) for number in row.logs),
        booked_as=get_species(row.booked_as) if row.booked_as else None,
        truth=_truth(truth, people) if truth else None,
        is_right=_is_right(row, truth.key_id) if truth else None,
        note=row.note,
    )


def _truth(row: NamingTruth, people: dict[int, str]) -> Truth:
    tree = the_key().named(row.key_id) if row.key_id else None
    return Truth(tree, row.how, row.by_whom, row.note, _who(row.deed, people), row.deed.happened_at)


def _people(session: Session, yard_id: int) -> dict[int, str]:
    return dict(session.execute(select(Person.id, Person.name).where(Person.yard_id == yard_id)).all())


def _who(deed: Deed, people: dict[int, str]) -> str:
    return "" if deed.person_id is None else people[deed.person_id]
