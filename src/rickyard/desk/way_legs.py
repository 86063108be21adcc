"""The part of the journal that the way of some wood hangs on, as legs from place to place.

Read is what the wood came through and what it went through, spot by spot, and of each of those its whole history:
what else lay there says what share of it went on. Where it neither came from nor went to is not read.

The spot "outside" is no place. What comes from it or goes to it is told apart by why: wood that arrived, that stood
there before the book began, that was sent back, and differences, which are wood that the book had not known or had
known too much of. Nothing leads from one of them to another. Nor does wood come out of own use or losses again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from sqlalchemy import select, union
from sqlalchemy.orm import Session

from rickyard.book.models import Deed, Entry, Posting, Spot, Ticket


class Place(NamedTuple):
    """Where wood can be. `id`: of the ticket, else of the spot; 0 where there is only one."""

    kind: str
    id: int


class Bucket(NamedTuple):
    """Wood of one species and lot that lies together (a load: of any). It is taken to be mixed."""

    place: Place
    species_id: str
    lot_id: int


ARRIVED: Final = Place("arrived", 0)
BEFORE: Final = Place("before", 0)
MORE: Final = Place("more", 0)
LESS: Final = Place("less", 0)
SENT_BACK: Final = Place("sent_back", 0)

#: Where wood comes from and nothing goes to; where wood goes to and nothing comes from.
SOURCES: Final = frozenset({"arrived", "before", "more"})
SINKS: Final = frozenset({"less", "sent_back", "own_use", "loss"})
DIFFERENCES: Final = frozenset({"more", "less"})
_HISTORIES: Final = frozenset({"load", "stack"})
_BUYERS: Final = frozenset({"household", "gate"})
_ARRIVALS: Final = frozenset({"take_in", "opening"})
# Why an entry found more or less wood than the book held; of the others it was measured.
_CAUSES: Final = {"name": "named", "empty": "closed"}


@dataclass(frozen=True)
class Leg:
    """Oven-dry grams that an entry moved.

    `sd_share`: the spread of its measure, zero if none was kept; `cause`: of a difference.
    """

    start: Bucket
    end: Bucket
    grams: float
    entry_id: int
    day: date
    sd_share: float = 0.0
    cause: str = ""


@dataclass
class History:
    """All legs by entry, in the order in which they happened, and what they hang on.

    `read`: places whose whole history is there. `buyer_of`: where the wood of a ticket went.
    """

    entries: list[list[Leg]] = field(default_factory=list)
    read: set[Place] = field(default_factory=set)
    buyer_of: dict[int, Place] = field(default_factory=dict)


@dataclass
class _Row:
    """An entry as it was read."""

    number: int
    happened_at: datetime
    kind: str
    reverses_id: int | None
    deed_id: int | None
    postings: list[tuple[str, int, int, str, int, float | None]] = field(default_factory=list)


class Reader:
    """Reads history piece by piece; `history` is what is known by then."""

    def __init__(self, session: Session, zone: ZoneInfo) -> None:
        self._session, self._zone = session, zone
        self._rows: dict[int, _Row] = {}
        self._tickets: dict[int, int] = {}
        self._returned: dict[int, int] = {}
        self._asked_returns: set[int] = set()
        self._made: dict[int, list[Leg]] = {}
        self.history = History()

    def follow(self, focus: Iterable[Place], *, entries: Iterable[int] = ()) -> None:
        """Reads all that the wood at the focus came through and went through. `entries`: those to begin with."""
        up, down = set(focus), set(focus)
        sales, buyers = set(entries), set[int]()
        asked = {place.id for place in up if place.kind == "ticket"} if sales else set[int]()
        places = {place for place in up if place.kind in _HISTORIES}
        while places or sales or buyers:
            self._read(places, sales, buyers)
            grew = True
            while grew:
                before = len(up), len(down)
                for leg in (leg for entry in self.history.entries for leg in entry):
                    if leg.end.place in up and leg.start.place.kind not in SOURCES:
                        up.add(leg.start.place)
                    if leg.start.place in down and leg.end.place.kind not in SINKS:
                        down.add(leg.end.place)
                grew = before != (len(up), len(down))
            ahead = up | down
            places = {place for place in ahead - self.history.read if place.kind in _HISTORIES}
            tickets = {place.id for place in ahead if place.kind == "ticket"}
            sales = self._sales(tickets - asked - set(self._tickets.values()))
            asked |= tickets
            # Of what came back only the buyer's spot tells; that it came from these tickets shows when it is read.
            known = self.history.buyer_of
            buyers = {known[number].id for number in tickets & known.keys()} - self._asked_returns

    def _read(self, places: set[Place], entries: set[int], buyers: set[int]) -> None:
        spots = {place.id for place in places}
        touched = select(Posting.entry_id).where(Posting.spot_id.in_(spots))
        if buyers:
            # What came back is asked for first: it is little, but of all that went to the gate in ten years a database
            # guesses that it is much, and reads the whole journal.
            back = select(Posting.entry_id).where(Posting.spot_id.in_(buyers), Posting.mass_g < 0)
            entries = {*entries, *self._session.scalars(back)}
        begun = select(Entry.id).where(Entry.id.in_(entries))
        # One list of entries, found by spot: an "or" of several, or the yard, would read it too.
        ids = union(touched, begun) if spots and entries else touched if spots else begun
        rows = self._session.execute(
            select(
                Entry.id,
                Entry.number,
                Entry.happened_at,
                Entry.kind,
                Entry.reverses_id,
                Entry.deed_id,
                Posting.species_id,
                Posting.lot_id,
                Posting.spot_id,
                Spot.kind,
                Posting.mass_g,
                Posting.sd_share,
            )
            .join(Entry, Entry.id == Posting.entry_id)
            .join(Spot, Spot.id == Posting.spot_id)
            .where(Posting.entry_id.in_(ids))
            .order_by(Posting.id)
        )
        fresh: dict[int, _Row] = {}
        for entry_id, number, happened_at, kind, reverses_id, deed_id, *posting in rows:
            if entry_id in self._rows:
                continue
            if entry_id not in fresh:
                fresh[entry_id] = _Row(number, happened_at, kind, reverses_id, deed_id)
            species_id, lot_id, spot_id, spot_kind, grams, sd_share = posting
            fresh[entry_id].postings.append((species_id, lot_id, spot_id, spot_kind, grams, sd_share))
        self._rows |= fresh
        self._asked_returns |= buyers
        self._read_papers(fresh)
        self.history.read |= places
        self.history.entries = list(self._legs())

    def _sales(self, tickets: set[int]) -> set[int]:
        if not tickets:
            return set()
        return set(self._session.scalars(select(Ticket.entry_id).where(Ticket.id.in_(tickets))))

    def _read_papers(self, fresh: dict[int, _Row]) -> None:
        """Which ticket the wood left on, and of which it came back."""
        sold = [
            entry_id
            for entry_id, row in fresh.items()
            if row.reverses_id is None and any(p[3] in _BUYERS and p[4] > 0 for p in row.postings)
        ]
        if sold:
            found = self._session.execute(select(Ticket.entry_id, Ticket.id).where(Ticket.entry_id.in_(sold)))
            self._tickets |= {entry_id: ticket_id for entry_id, ticket_id in found}  # noqa: C416
        for entry_id in sold:
            for _, _, spot_id, kind, grams, _ in fresh[entry_id].postings:
                if kind in _BUYERS and grams > 0 and entry_id in self._tickets:
                    self.history.buyer_of[self._tickets[entry_id]] = Place(kind, spot_id)
        deeds = {
            row.deed_id: entry_id
            for entry_id, row in fresh.items()
            if row.kind == "return" and row.deed_id is not None
        }
        if deeds:
            answers = self._session.execute(select(Deed.id, Deed.answer).where(Deed.id.in_(deeds)))
            for deed_id, answer in answers:
                if "ticket_id" in answer:
                    self._returned[deeds[deed_id]] = int(answer["ticket_id"])

    def _legs(self) -> Iterator[list[Leg]]:
        reversed_by = {
            row.reverses_id: entry_id for entry_id, row in self._rows.items() if row.reverses_id is not None
        }

        def stands(entry_id: int) -> bool:
            by = reversed_by.get(entry_id)
            return by is None or not stands(by)

        for entry_id, row in sorted(
            self._rows.items(), key=lambda item: (item[1].happened_at, item[1].number)
        ):
            # A reversal is no way of wood: it only says whether the entry it reverses was one.
            if row.reverses_id is None and stands(entry_id):
                if entry_id not in self._made:
                    self._made[entry_id] = self._of_entry(entry_id, row)
                yield self._made[entry_id]

    def _of_entry(self, entry_id: int, row: _Row) -> list[Leg]:
        # Wood that is named otherwise stays where it is; only what it weighs by the book is another.
        sums: dict[tuple[int, str], dict[Bucket | None, int]] = defaultdict(lambda: defaultdict(int))
        spreads: dict[tuple[int, str], list[tuple[int, float]]] = defaultdict(list)
        for species_id, lot_id, spot_id, kind, grams, sd_share in row.postings:
            group = lot_id, "" if row.kind == "name" else species_id
            place = None if kind == "outside" else self._place(entry_id, spot_id, kind, grams)
            bucket = None if place is None else _bucket(place, species_id, lot_id)
            sums[group][bucket] += grams
            if sd_share is not None:
                spreads[group].append((abs(grams), sd_share))
        day = row.happened_at.astimezone(self._zone).date()
        legs: list[Leg] = []
        for group, by_bucket in sums.items():
            lot_id, species_id = group
            known = spreads[group]
            sd_share = sum(g * sd for g, sd in known) / sum(g for g, _ in known) if known else 0.0
            went = {bucket: -grams for bucket, grams in by_bucket.items() if grams < 0}
            came = {bucket: grams for bucket, grams in by_bucket.items() if grams > 0}
            whole = sum(came.values())
            less = SENT_BACK if row.kind == "reject" else LESS
            for start, grams in went.items():
                for end, part in came.items():
                    first = start or Bucket(self._source(row.kind, end), species_id, lot_id)
                    if first.place.kind in SINKS:
                        first = Bucket(MORE, species_id, lot_id)
                    last = end or Bucket(less, species_id, lot_id)
                    differs = MORE in (first.place, last.place) or LESS in (first.place, last.place)
                    cause = _CAUSES.get(row.kind, "measured") if differs else ""
                    legs.append(Leg(first, last, grams * part / whole, entry_id, day, sd_share, cause))
        return legs

    def _place(self, entry_id: int, spot_id: int, kind: str, grams: int) -> Place:
        if kind in _BUYERS:
            of = self._tickets if grams > 0 else self._returned
            if entry_id in of:
                return Place("ticket", of[entry_id])
        return Place(kind, spot_id)

    @staticmethod
    def _source(kind: str, end: Bucket | None) -> Place:
        if kind not in _ARRIVALS:
            return MORE
        return ARRIVED if end is not None and end.place.kind == "load" else BEFORE


def _bucket(place: Place, species_id: str, lot_id: int) -> Bucket:
    """A load is one bucket: nothing came to it from elsewhere, and its wood may be named after some of it was cut."""
    return Bucket(place, "" if place.kind == "load" else species_id, lot_id)
