"""What offers are worth: with today's price list, the yard's costs, and the months that the drying calendar says.

Months come from questions that take seconds (`months_question`); who asks hands in what is known by now, and what
is not known is the usual.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from functools import cached_property, lru_cache

from sqlalchemy import func, select

from rickyard.book.models import Offer
from rickyard.cut import Session
from rickyard.desk.answers import CalendarLine, HurriedLine, calendar_line
from rickyard.desk.context import Desk
from rickyard.desk.costs import CostFacts, cost_facts
from rickyard.desk.offers import OfferFacts, facts_of, unknown_offer, wood_of, woods_of
from rickyard.desk.paging import after_row
from rickyard.desk.timed import timed_sessions
from rickyard.desk.wares import priced_wares, wares
from rickyard.desk.yard_factor import yard_factor
from rickyard.desk.yards import yard_facts
from rickyard.errors import InputError, RickyardError
from rickyard.measure import Spread, YardFactor
from rickyard.season import CalendarRow
from rickyard.season.calendar import YEAR
from rickyard.season.forecast import HORIZON_DAYS
from rickyard.text import T_, Text
from rickyard.wood import Species, get_species
from rickyard.worth import Months, PricedWare, Worth, worth_of

DAYS_A_MONTH = 365.25 / 12.0
COVER = "top"
FEWEST_COMPARED, MOST_COMPARED = 2, 4
KEPT = 200


@dataclass(frozen=True)
class OfferCard:
    """An offer with what it is worth; `trouble` says why it cannot be reckoned."""

    id: int
    number: int
    state: str
    reason: str
    load_id: int | None
    facts: OfferFacts
    shares: tuple[tuple[Species, float], ...]
    worth: Worth | None
    trouble: Text | None

    @property
    def kind(self) -> str:
        return self.facts.kind

    @property
    def asked_minor(self) -> int | None:
        return self.facts.asked_minor

    @property
    def odds(self) -> float | None:
        """Odds that the chosen margin is left at the price that is asked."""
        if self.worth is None or self.asked_minor is None:
            return None
        return self.worth.odds(self.asked_minor)


def offers(
    desk: Desk,
    *,
    open_only: bool = False,
    months: Mapping[str, Months] | None = None,
) -> list[OfferCard]:
    """All offers: the open ones first, each kind newest first."""
    with desk.book.read() as session:
        query = select(Offer).where(Offer.yard_id == desk.yard_id)
        if open_only:
            query = query.where(Offer.state == "open")
        rows = session.scalars(query.order_by(Offer.offered_on.desc(), Offer.id.desc())).all()
        plain = [_plain(row) for row in rows]
    means = _means(desk)
    cards = [_card(row, means, months or {}) for row in plain]
    return sorted(cards, key=lambda card: card.state != "open")


def offer(desk: Desk, offer_id: int, *, months: Mapping[str, Months] | None = None) -> OfferCard:
    with desk.book.read() as session:
        row = session.get(Offer, offer_id)
        if row is None or row.yard_id != desk.yard_id:
            raise unknown_offer(offer_id)
        plain = _plain(row)
    return _card(plain, _means(desk), months or {})


def compare(
    desk: Desk, offer_ids: Sequence[int], *, months: Mapping[str, Months] | None = None
) -> list[OfferCard]:
    """Two to four offers side by side, in the order asked."""
    asked = tuple(dict.fromkeys(offer_ids))
    if not FEWEST_COMPARED <= len(asked) <= MOST_COMPARED:
        raise InputError(
            "of",
            wanted=T_("two to four offers"),
            got=str(len(asked)),
            next_move=T_("Tick two to four in the list of offers."),
        )
    return [offer(desk, offer_id, months=months) for offer_id in asked]


def settled_offers(desk: Desk, *, before: int | None = None, limit: int | None = None) -> list[OfferCard]:
    """Offers that were answered, without their worth, newest first; those after the offer `before`, at most `limit`."""
    with desk.book.read() as session:
        query = select(Offer).where(Offer.yard_id == desk.yard_id, Offer.state != "open")
        query = after_row(query, Offer, before, Offer.offered_on, Offer.id, descending=True).limit(limit)
        return [_unreckoned(_plain(row)) for row in session.scalars(query)]


def count_settled_offers(desk: Desk) -> int:
    with desk.book.read() as session:
        query = select(func.count()).select_from(Offer)
        return session.scalar(query.where(Offer.yard_id == desk.yard_id, Offer.state != "open")) or 0


def offer_facts(desk: Desk, offer_id: int) -> OfferFacts:
    """What was said of an offer, without reckoning."""
    with desk.book.read() as session:
        row = session.get(Offer, offer_id)
        if row is None or row.yard_id != desk.yard_id:
            raise unknown_offer(offer_id)
        return facts_of(row)


def open_offers(desk: Desk) -> list[OfferCard]:
    """Open offers without their worth, newest first: for pages that must not wait for it."""
    with desk.book.read() as session:
        rows = session.scalars(
            select(Offer)
            .where(Offer.yard_id == desk.yard_id, Offer.state == "open")
            .order_by(Offer.offered_on.desc(), Offer.id.desc())
        )
        return [_unreckoned(_plain(row)) for row in rows]


def offer_of_load(desk: Desk, load_id: int) -> int | None:
    """The offer that a load came of."""
    with desk.book.read() as session:
        return session.scalar(select(Offer.id).where(Offer.yard_id == desk.yard_id, Offer.load_id == load_id))


def offered_woods(desk: Desk, offer_ids: Sequence[int] = ()) -> list[Species]:
    """Kinds of wood in these offers (in all open ones, if none are said) that a drying calendar can tell of."""
    with desk.book.read() as session:
        query = select(Offer).where(Offer.yard_id == desk.yard_id)
        query = query.where(Offer.id.in_(offer_ids)) if offer_ids else query.where(Offer.state == "open")
        names = [name for row in session.scalars(query) for name in woods_of(facts_of(row))]
    found = [get_species(name) for name in dict.fromkeys(names)]
    return [wood for wood in found if wood.rank != "unnamed"]


def months_question(desk: Desk, wood: Species, thickness_m: float) -> CalendarLine:
    """The question whose answer says how long this wood takes here; patient. `HurriedLine` for one looked at."""
    return calendar_line(desk, wood.id, thickness_m, cover=COVER)


def hurried(line: CalendarLine) -> HurriedLine:
    return HurriedLine(**line.__dict__)


def months_of(row: CalendarRow, today: date) -> Months:
    """Months from today to dry, if it is stacked on the first of the month to come; a judgement of how soon."""
    month = today.month % 12 + 1
    first = date(today.year + today.month // 12, month, 1)
    cell, start = row.cells[month - 1], date(YEAR, month, 1)
    wait = float((first - today).days)
    later = float(HORIZON_DAYS)
    days = sorted(
        later if day is None else float((day - start).days) for day in (cell.p10, cell.p50, cell.p90)
    )
    low, mid, high = ((wait + one) / DAYS_A_MONTH for one in days)
    return Months(Spread(low, mid, high))


@dataclass(frozen=True)
class _Plain:
    """A row of the book, read."""

    id: int
    number: int
    state: str
    reason: str
    load_id: int | None
    facts: OfferFacts


def _plain(row: Offer) -> _Plain:
    return _Plain(row.id, row.number, row.state, row.reason, row.load_id, facts_of(row))


def _unreckoned(row: _Plain) -> OfferCard:
    return OfferCard(
        row.id, row.number, row.state, row.reason, row.load_id, row.facts, _shares(row.facts), None, None
    )


@dataclass(frozen=True)
class _Means:
    """What the yard sells, what its work costs, and what its own work and stacks have taught."""

    priced: tuple[PricedWare, ...]
    costs: CostFacts
    country: str
    sessions: tuple[Session, ...]
    factor: YardFactor

    @cached_property
    def mark(self) -> str:
        """The same for another process or day in the same words: of the key of what is kept. Once for a list of
        offers, for the work of ten years is said in it."""
        prices = [[repr(replace(ware, species=None)), sorted(ware.species or ())] for ware in self.priced]
        learnt = [repr(self.factor.factor), repr(sorted(self.factor.kinds.items())), self.factor.loads]
        return _hashed([prices, asdict(self.costs), self.country, repr(self.sessions), learnt])


def _means(desk: Desk) -> _Means:
    with desk.book.read() as session:
        timed = tuple(timed_sessions(session, desk.yard_id))
    return _Means(
        priced_wares(wares(desk)), cost_facts(desk), yard_facts(desk).country, timed, yard_factor(desk)
    )


def _card(row: _Plain, means: _Means, months: Mapping[str, Months]) -> OfferCard:
    card = _unreckoned(row)
    mine = {name: months[name] for name in woods_of(row.facts) if name in months}
    try:
        worth = _RECKONED.get(row.facts, means, mine, row.id)
    except RickyardError as error:
        # Nothing sold takes it, or it was said wrong: the offer stands, with what is in the way.
        return replace(card, trouble=_why(error))
    return replace(card, worth=worth)


def _why(error: RickyardError) -> Text:
    """What is in the way, without the name of a field: nobody typed one here."""
    if not isinstance(error, InputError):
        return error.text
    return T_(
        "Wanted {wanted}, got {got}. {next_move}",
        wanted=error.wanted,
        got=error.got,
        next_move=error.next_move,
    )


class _Reckoned:
    """The latest results, so that a page shown again costs nothing; the same inputs have the same result."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Worth] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, facts: OfferFacts, means: _Means, months: Mapping[str, Months], seed: int) -> Worth:
        key = _hashed([asdict(facts), means.mark, repr(sorted(months.items())), seed])
        with self._lock:
            known = self._kept.get(key)
            if known is not None:
                self._kept.move_to_end(key)
                return known
        made = worth_of(
            wood_of(facts, country=means.country),
            means.priced,
            costs=means.costs.costs(),
            margin=means.costs.wanted(),
            haul_minor=facts.haul_minor,
            months=months,
            sessions=means.sessions,
            factor=means.factor,
            seed=seed,
        )
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return made


_RECKONED = _Reckoned()


def _hashed(asked: object) -> str:
    return hashlib.sha256(json.dumps(asked, default=str, sort_keys=True).encode()).hexdigest()


@lru_cache(maxsize=KEPT)
def _tree_solid(species_id: str, dbh_m: float, height_m: float | None) -> float:
    from rickyard.measure import measure_tree

    return measure_tree(get_species(species_id), dbh_m, height_m).usable_m3


def _shares(facts: OfferFacts) -> tuple[tuple[Species, float], ...]:
    """Kinds of wood with their shares of the solid volume, the largest first."""
    sums: dict[str, float] = {}
    for name, share in facts.shares:
        sums[name] = sums.get(name, 0.0) + share
    for log in facts.logs:
        sums[log.species_id] = sums.get(log.species_id, 0.0) + log.net().net_m3
    for tree in facts.trees:
        sums[tree.species] = sums.get(tree.species, 0.0) + tree.count * _tree_solid(
            tree.species, tree.dbh_m, tree.height_m
        )
    whole = sum(sums.values()) or 1.0
    return tuple(
        (get_species(name), volume / whole)
        for name, volume in sorted(sums.items(), key=lambda item: -item[1])
    )
