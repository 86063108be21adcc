"""Today: what needs doing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from rickyard.desk.clashes import ClashLine, clashes
from rickyard.desk.context import Desk
from rickyard.desk.forecasts import Progress, StackOutlook, outlooks, progress_of
from rickyard.desk.measuring import ReadingWanted, what_to_measure
from rickyard.desk.orders import GOOD_ODDS, OrderCard, orders
from rickyard.desk.stacks import StackCard, stacks

READY_SOON_DAYS = 30
DUE_SOON_DAYS = 14


@dataclass(frozen=True)
class StackNote:
    stack: StackCard
    outlook: StackOutlook


@dataclass(frozen=True)
class TodayPage:
    day: date
    progress: Progress
    ready_soon: tuple[StackNote, ...]
    ready_now: tuple[StackNote, ...]
    at_risk: tuple[OrderCard, ...]
    due: tuple[OrderCard, ...]
    unpromised: tuple[OrderCard, ...]
    readings_wanted: tuple[ReadingWanted, ...]
    ranked_m3: float
    promised_m3: float
    ready_m3: float
    clashes: tuple[ClashLine, ...]
    #: Stacks with a reading that stands far from everything else, to be confirmed or set aside.
    questioned: tuple[StackNote, ...]

    def without_orders(self) -> TodayPage:
        """For whoever may not see who ordered what."""
        return replace(self, at_risk=(), due=(), unpromised=())


def today(desk: Desk) -> TodayPage:
    """What needs doing: clashes to settle, stacks about to be ready, promises at risk, deliveries, readings wanted."""
    day = desk.today()
    cards = stacks(desk)
    looks = outlooks(desk)
    open_orders = orders(desk, looks=looks)
    with desk.book.read() as session:
        wanted = what_to_measure(session, day, cards, looks, open_orders)
    ready_now, ready_soon, questioned = [], [], []
    for card in cards:
        look = looks[card.id]
        if not look.known:
            continue
        if look.doubted and not look.stale:
            questioned.append(StackNote(card, look))
        odds = look.odds_on(day, look.target_mc_wet) or 0.0
        soon = look.odds_on(day + timedelta(days=READY_SOON_DAYS), look.target_mc_wet) or 0.0
        if odds >= GOOD_ODDS:
            ready_now.append(StackNote(card, look))
        elif soon >= GOOD_ODDS:
            ready_soon.append(StackNote(card, look))
    promised = [order for order in open_orders if order.state == "promised"]
    return TodayPage(
        day=day,
        progress=progress_of(desk, cards, looks),
        ready_soon=tuple(ready_soon),
        ready_now=tuple(ready_now),
        at_risk=tuple(
            order for order in promised if order.odds_now is not None and order.odds_now < GOOD_ODDS
        ),
        due=tuple(order for order in promised if order.wanted_by <= day + timedelta(days=DUE_SOON_DAYS)),
        unpromised=tuple(order for order in open_orders if order.state == "asked"),
        readings_wanted=tuple(wanted),
        ranked_m3=sum(card.ranked_m3 for card in cards),
        promised_m3=sum(card.promised_m3 for card in cards),
        ready_m3=sum(note.stack.ranked_m3 for note in ready_now),
        clashes=tuple(clashes(desk)),
        questioned=tuple(questioned),
    )
