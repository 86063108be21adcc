"""Balances as they ran: what lay where on each day, by when things happened and not by when they were told.

A late report changes the past that the journal tells, and only that: what counts is the whole journal of today, in
the order in which things happened. An entry that was reversed never was, and neither was its reversal. Within a day
the order is not asked for, because noon stands for a day whose hour nobody said. What closing a stack brought in,
because more was taken from it than the book held, was there all along; so was what got its name later.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.journal import StockKey
from rickyard.book.models import Entry, Posting, Spot

# How far below zero a kind of wood at a spot may stand before it is a problem: rounding and estimates, not thefts.
NEGATIVE_G = 1000
NEGATIVE_SHARE = 0.01
# Codes of the clashes that say it of a stack, a load, or wood that a buyer gave back.
EARLY_CODES = ("before_stacking", "before_arrival", "before_it_was_there", "returned_early")


@dataclass(frozen=True)
class Shortfall:
    """More of a kind of wood had left a spot by `day` than had come to it; `missing_g` at the worst, on that day."""

    spot_id: int
    key: StockKey
    day: date
    missing_g: int


@dataclass(frozen=True)
class _Line:
    spot_id: int
    key: StockKey
    day: date
    mass_g: int
    deed_id: int | None


def shortfalls(
    session: Session, yard_id: int, timezone: str, *, spots: Collection[int] | None = None
) -> list[Shortfall]:
    """Where wood left before it was there, beyond the tolerance, though in the end the balance is right again."""
    return _short(_lines(session, yard_id, timezone, spots))


def worsened_by(session: Session, yard_id: int, timezone: str, spot_id: int, deed_id: int) -> list[Shortfall]:
    """The shortfalls of a spot that a deed made, or made greater than the tolerance allows."""
    lines = _lines(session, yard_id, timezone, (spot_id,))
    before = {
        short.key: short.missing_g for short in _short(line for line in lines if line.deed_id != deed_id)
    }
    return [short for short in _short(lines) if short.missing_g > before.get(short.key, 0) + NEGATIVE_G]


def _lines(session: Session, yard_id: int, timezone: str, spots: Collection[int] | None) -> list[_Line]:
    zone = _zone(timezone)
    days: dict[datetime, date] = {}
    undone = _never_were(session, yard_id)
    query = (
        select(
            Posting.spot_id,
            Posting.species_id,
            Posting.form,
            Posting.lot_id,
            Posting.mass_g,
            Entry.id,
            Entry.happened_at,
            Entry.deed_id,
            Entry.kind,
        )
        .join(Entry, Entry.id == Posting.entry_id)
        .join(Spot, Spot.id == Posting.spot_id)
        .where(Spot.yard_id == yard_id, Spot.kind != "outside")
    )
    if spots is not None:
        query = query.where(Posting.spot_id.in_(tuple(spots)))
    lines: list[_Line] = []
    for spot_id, species_id, form, lot_id, mass_g, entry_id, happened_at, deed_id, kind in session.execute(
        query
    ):
        if entry_id in undone:
            continue
        if happened_at not in days:
            days[happened_at] = happened_at.astimezone(zone).date()
        key = StockKey(species_id, form, lot_id)
        day = date.min if kind in ("empty", "name") and mass_g > 0 else days[happened_at]
        lines.append(_Line(spot_id, key, day, mass_g, deed_id))
    return lines


def _zone(timezone: str) -> tzinfo:
    """A book with a zone that nobody knows is looked through all the same."""
    try:
        return ZoneInfo(timezone)
    except (ZoneInfoNotFoundError, ValueError):
        return UTC


def _never_were(session: Session, yard_id: int) -> set[int]:
    """Reversals, and the entries that a reversal in force has undone."""
    rows = session.execute(
        select(Entry.id, Entry.reverses_id).where(Entry.yard_id == yard_id, Entry.reverses_id.is_not(None))
    )
    undone_by = {reverses_id: entry_id for entry_id, reverses_id in rows if reverses_id is not None}
    reversals = set(undone_by.values())
    gone = set(reversals)
    for entry_id in undone_by.keys() - reversals:
        links, at = 0, entry_id
        while at in undone_by:
            links, at = links + 1, undone_by[at]
        # Undone, undone again: an even number of times leaves it as it was.
        if links % 2:
            gone.add(entry_id)
    return gone


def _short(lines: Iterable[_Line]) -> list[Shortfall]:
    by_kind: dict[tuple[int, StockKey], dict[date, int]] = defaultdict(lambda: defaultdict(int))
    came: dict[tuple[int, StockKey], int] = defaultdict(int)
    for line in lines:
        by_kind[line.spot_id, line.key][line.day] += line.mass_g
        came[line.spot_id, line.key] += max(0, line.mass_g)
    found: list[Shortfall] = []
    for (spot_id, key), days in sorted(by_kind.items()):
        allowed = max(NEGATIVE_G, NEGATIVE_SHARE * came[spot_id, key])
        lowest, worst, held = 0, date.min, 0
        for day in sorted(days):
            held += days[day]
            if held < lowest:
                lowest, worst = held, day
        if -lowest > allowed and -held <= allowed:
            found.append(Shortfall(spot_id, key, worst, -lowest))
    return found
