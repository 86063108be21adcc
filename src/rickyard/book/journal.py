"""The journal of wood: double-entry, append-only, in integer grams of oven-dry mass.

An entry is a set of postings that sum to zero for every species and, within it, every lot: wood that arrives
somewhere left somewhere else, and its place of harvest goes with it. Its form may change on the way (a log becomes
splits, kerf and waste). What is new to the book comes from the spot "outside", which therefore stands below zero;
a re-naming or a better measurement goes out and in through it.

Entries are never edited; a mistake is reversed. Each is sealed into the chain (`chain`) as it is written.
What physically happened is never refused, even where it makes a spot go below zero: `check` reports that.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Select, bindparam, exists, func, insert, select, update
from sqlalchemy.orm import Session, aliased

from rickyard.book.base import Base
from rickyard.book.chain import seal_entry
from rickyard.book.models import Entry, Posting, Spot
from rickyard.book.types import UtcDateTime
from rickyard.errors import BookError, ClashError, InputError
from rickyard.text import T_


class StockKey(NamedTuple):
    """What kind of wood: whose, in what form, and where it grew."""

    species_id: str
    form: str
    lot_id: int


@dataclass(frozen=True)
class Move:
    """Wood into (+) or out of (−) a spot, and how it was measured.

    Parameters
    ----------
    mass_g
        Oven-dry mass [g], a whole number; zero moves nothing and is left out.
    quantity, unit, method
        The measurement as taken, without a sign.
    sd_share
        Standard deviation of the mass as a share of it [fraction].
    basic_density_kg_m3
        Density that made the mass from a volume [kg oven-dry per m³ green].
    """

    spot_id: int
    species_id: str
    form: str
    lot_id: int
    mass_g: int
    quantity: float | None = None
    unit: str = ""
    method: str = ""
    sd_share: float | None = None
    basic_density_kg_m3: float | None = None


def post(
    session: Session,
    yard_id: int,
    *,
    kind: str,
    happened_at: datetime,
    recorded_at: datetime,
    moves: Iterable[Move],
    reason: str = "",
    deed_id: int | None = None,
) -> Entry:
    """Writes an entry under the yard's next number.

    Raises
    ------
    BookError
        If the moves do not sum to zero for every species and lot, or nothing moves (`unbalanced`).
    TypeError
        If a mass is not a whole number.
    """
    return _post(session, yard_id, kind, happened_at, recorded_at, list(moves), reason, deed_id, None)


def reverse(
    session: Session,
    entry: Entry,
    *,
    reason: str,
    happened_at: datetime,
    recorded_at: datetime,
    deed_id: int | None = None,
) -> Entry:
    """Undoes an entry by another one with the opposite masses. A reversal can itself be reversed.

    Raises ClashError (`already_reversed`) if somebody undid it before.
    """
    undone_by = session.scalar(select(Entry.number).where(Entry.reverses_id == entry.id))
    if undone_by is not None:
        raise ClashError(
            T_(
                "Entry {number} was reversed already, by entry {other}. Look at the journal before you go on.",
                number=entry.number,
                other=undone_by,
            ),
            code="already_reversed",
        )
    moves = [
        Move(
            posting.spot_id,
            posting.species_id,
            posting.form,
            posting.lot_id,
            -posting.mass_g,
            posting.quantity,
            posting.unit,
            posting.method,
            posting.sd_share,
            posting.basic_density_kg_m3,
        )
        for posting in entry.postings
    ]
    return _post(
        session, entry.yard_id, "reverse", happened_at, recorded_at, moves, reason, deed_id, entry.id
    )


def _post(
    session: Session,
    yard_id: int,
    kind: str,
    happened_at: datetime,
    recorded_at: datetime,
    moves: list[Move],
    reason: str,
    deed_id: int | None,
    reverses_id: int | None,
) -> Entry:
    moving = [move for move in moves if move.mass_g != 0]
    _balanced(kind, moving)
    entry = Entry(
        yard_id=yard_id,
        number=next_number(session, yard_id, "entry"),
        deed_id=deed_id,
        kind=kind,
        reason=reason,
        happened_at=happened_at,
        recorded_at=recorded_at,
        reverses_id=reverses_id,
    )
    session.add(entry)
    session.flush()
    # All at once and without their ids, which nobody asks for here: one by one they cost most of a deed. Into the
    # table and not by the class, which would send a statement for each run of rows that lack the same columns.
    session.execute(
        _INSERT_POSTINGS,
        [
            {
                "yard_id": yard_id,
                "entry_id": entry.id,
                "spot_id": move.spot_id,
                "species_id": move.species_id,
                "form": move.form,
                "lot_id": move.lot_id,
                "mass_g": move.mass_g,
                "quantity": move.quantity,
                "unit": move.unit,
                "method": move.method,
                "sd_share": move.sd_share,
                "basic_density_kg_m3": move.basic_density_kg_m3,
            }
            for move in moving
        ],
    )
    seal_entry(session.connection(), entry.id)
    return entry


def _balanced(kind: str, moves: list[Move]) -> None:
    sums: dict[tuple[str, int], int] = defaultdict(int)
    for move in moves:
        if type(move.mass_g) is not int:
            raise TypeError(f"the mass of a move must be whole grams, not {move.mass_g!r}")
        sums[move.species_id, move.lot_id] += move.mass_g
    wrong = [(key, grams) for key, grams in sums.items() if grams]
    if not moves or wrong:
        if wrong:
            (species_id, lot_id), grams = wrong[0]
            what = T_(
                "{species_id} of lot {lot_id} is off by {grams} g",
                species_id=species_id,
                lot_id=lot_id,
                grams=grams,
            )
        else:
            what = T_("no wood moves")
        raise BookError(
            T_(
                'The entry "{kind}" does not balance: {what}. Nothing was written; this is a fault of the program.',
                kind=kind,
                what=what,
            ),
            code="unbalanced",
        )


def stock(session: Session, spot_id: int, *, at: datetime | None = None) -> dict[StockKey, int]:
    """What lies at a spot: grams oven-dry by kind of wood, kinds that cancel out left out.

    `at` counts only what happened up to and at that moment, whenever it was recorded.
    """
    values: dict[str, Any] = {"spot_id": spot_id} if at is None else {"spot_id": spot_id, "at": at}
    found = session.execute(_stock_query(at is not None), values)
    return {StockKey(species_id, form, lot_id): int(grams) for species_id, form, lot_id, grams in found}


@cache
def _stock_query(dated: bool) -> Select[str, str, int, int]:
    """Made once, for every deed asks several times."""
    query = (
        select(Posting.species_id, Posting.form, Posting.lot_id, func.sum(Posting.mass_g))
        .where(Posting.spot_id == bindparam("spot_id"))
        .group_by(Posting.species_id, Posting.form, Posting.lot_id)
        .having(func.sum(Posting.mass_g) != 0)
        .order_by(Posting.species_id, Posting.form, Posting.lot_id)
    )
    if not dated:
        return query
    return query.join(Entry, Entry.id == Posting.entry_id).where(
        Entry.happened_at <= bindparam("at", type_=UtcDateTime())
    )


def not_taken_back() -> ColumnElement[bool]:
    """Of a query over entries: those that no other has reversed. Asked by entry, not of all reversals of ten years."""
    other = aliased(Entry)
    return ~exists().where(other.reverses_id == Entry.id)


def stock_by_spot(
    session: Session,
    yard_id: int,
    *,
    kinds: Iterable[str] | None = None,
    spots: Iterable[int] | Select[int] | None = None,
    at: datetime | None = None,
) -> dict[int, dict[StockKey, int]]:
    """What lies at every spot of a yard (of these kinds; of these `spots`, by id): one query. Empty ones are left out.

    `at` as in `stock`. Ten years of spots are many: a page that shows some of them names them.
    """
    named = spots is not None and not isinstance(spots, Select)
    query = _by_spot_query(kinds is not None, at is not None, named)
    values: dict[str, Any] = {"yard_id": yard_id}
    if at is not None:
        values["at"] = at
    if kinds is not None:
        values["kinds"] = tuple(kinds)
    if isinstance(spots, Select):
        query = query.where(Posting.spot_id.in_(spots))
    elif spots is not None:
        values["spots"] = tuple(spots)
    held: dict[int, dict[StockKey, int]] = defaultdict(dict)
    for spot_id, species_id, form, lot_id, grams in session.execute(query, values):
        held[spot_id][StockKey(species_id, form, lot_id)] = int(grams)
    return dict(held)


@cache
def _by_spot_query(of_kinds: bool, dated: bool, of_spots: bool) -> Select[int, str, str, int, int]:
    query = (
        select(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id, func.sum(Posting.mass_g))
        .join(Spot, Spot.id == Posting.spot_id)
        .where(Spot.yard_id == bindparam("yard_id"))
        .group_by(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id)
        .having(func.sum(Posting.mass_g) != 0)
        .order_by(Posting.spot_id, Posting.species_id, Posting.form, Posting.lot_id)
    )
    if of_kinds:
        query = query.where(Spot.kind.in_(bindparam("kinds", expanding=True)))
    if dated:
        query = query.join(Entry, Entry.id == Posting.entry_id).where(
            Entry.happened_at <= bindparam("at", type_=UtcDateTime())
        )
    if of_spots:
        query = query.where(Posting.spot_id.in_(bindparam("spots", expanding=True)))
    return query


def portion(stock: Mapping[StockKey, int], mass_g: int) -> dict[StockKey, int]:
    """Shares `mass_g` over a stock pro rata, in whole grams that sum exactly to it (largest remainder).

    Kinds of wood that stand at or below zero give nothing. No kind gives more than it has unless `mass_g` is more
    than there is in all; then every kind gives more than it has, in proportion, because the wood is evidently there.

    Raises InputError if the mass is negative, or positive while the stock holds nothing.
    """
    there = {key: grams for key, grams in stock.items() if grams > 0}
    whole = sum(there.values())
    if mass_g < 0 or (mass_g > 0 and not whole):
        raise InputError(
            "mass",
            wanted=T_("wood out of what is there, {grams} g oven-dry", grams=whole),
            got=f"{mass_g} g",
            next_move=T_("Measure what is there, or take it in first."),
        )
    shares = dict.fromkeys(stock, 0)
    if mass_g == 0:
        return shares
    for key, grams in there.items():
        shares[key] = mass_g * grams // whole
    # Equal remainders are broken by the key, so that the same stock always gives the same portion.
    by_remainder = sorted(there, key=lambda key: (-(mass_g * there[key] % whole), key))
    for key in by_remainder[: mass_g - sum(shares.values())]:
        shares[key] += 1
    return shares


def next_number(session: Session, yard_id: int, kind: str) -> int:
    """The yard's next number of a kind of paper ("entry", "load", "order", "ticket"), from 1 on, without gaps.

    It is given back if the transaction fails, because it is taken inside it.
    """
    following: int | None = session.execute(_TAKE_NUMBER, {"of_yard": yard_id, "of_kind": kind}).scalar()
    if following is None:
        session.execute(_FIRST_NUMBER, {"yard_id": yard_id, "kind": kind, "next": 2})
        return 1
    return following - 1


_INSERT_POSTINGS = insert(Base.metadata.tables["posting"])
_SERIAL = Base.metadata.tables["serial"]
# One statement, read and written: nobody comes between, and no row is looked at first.
_TAKE_NUMBER = (
    update(_SERIAL)
    .where(_SERIAL.c.yard_id == bindparam("of_yard"), _SERIAL.c.kind == bindparam("of_kind"))
    .values(next=_SERIAL.c.next + 1)
    .returning(_SERIAL.c.next)
)
_FIRST_NUMBER = insert(_SERIAL)
