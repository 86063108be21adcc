"""What to measure next: which stack, how, and what it would settle."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from rickyard.book.models import Reading, Stack, Witness
from rickyard.desk.forecasts import StackOutlook
from rickyard.desk.orders import OrderCard
from rickyard.desk.stacks import StackCard
from rickyard.desk.witness import WitnessPage, page_of, page_without_marks
from rickyard.season import Question, Worth, errors_of, worth

READING_OLD_DAYS = 45
# A band narrower than this (of total mass, 10th to 90th percentile) needs no reading to be firm enough.
WIDE_BAND_MC = 0.05
#: Until so many days after the stacking an oven sample still tells the start.
START_DAYS = 21
# Above this (of total mass) most of a stack is past a pin meter's range.
METER_UP_TO_WET = 0.23
#: Worth less than this share of what hangs on a stack is not worth the walk.
LEAST_SAVED_SHARE = 0.005
MOST = 6


@dataclass(frozen=True)
class ReadingWanted:
    """A stack that is worth measuring.

    `action`: `mark` (mark pieces and make an oven sample), `oven`, `weigh` or `meter`. `due`: a month has passed since
    the marked pieces were on the scale. `last`: its last reading, if any. `at_stake_m3`: what is promised from it with
    a condition on its moisture; `worth`: what measuring it would do for these promises.
    """

    stack: StackCard
    outlook: StackOutlook
    last: date | None
    band_mc: float
    action: str
    due: bool
    days_since: int | None
    at_stake_m3: float
    worth: Worth


def what_to_measure(
    session: Session,
    today: date,
    cards: Sequence[StackCard],
    looks: Mapping[int, StackOutlook],
    open_orders: Sequence[OrderCard],
) -> list[ReadingWanted]:
    """Stacks by what measuring them would do for the promises that hang on them; the best first, a few."""
    standing = [card.id for card in cards if card.emptied_on is None]
    pages = _pages(session, standing, today)
    read = _read(session, standing)
    found = []
    for card in cards:
        look = looks.get(card.id)
        if look is None or not look.known or card.emptied_on is not None:
            continue
        readings = read.get(card.id, [])
        page = pages.get(card.id) or page_without_marks(readings)
        action = _action(card, look, page, today)
        questions = questions_of(card.id, looks, open_orders, today)
        stake = math.fsum(question.volume_m3 for question in questions)
        predicted, sd = foreseen(look, action, page, today)
        value = worth(predicted, sd, questions)
        band = look.moisture_on(today)
        width = band[2] - band[0] if band else 0.0
        last = max((reading.happened_on for reading in readings), default=None)
        old = last is None or (today - last).days > READING_OLD_DAYS
        open_still = (look.odds_on(today, look.target_mc_wet) or 0.0) < 0.99
        wide = old and width > WIDE_BAND_MC and open_still
        due = page.weigh_now and open_still
        decides = value.saved_m3 > LEAST_SAVED_SHARE * stake and value.saved_m3 > 0.0
        if due or decides or wide:
            found.append(ReadingWanted(card, look, last, width, action, due, page.days_since, stake, value))
    found.sort(key=lambda item: (-item.worth.saved_m3, not item.due, -item.stack.promised_m3, -item.band_mc))
    return found[:MOST] + [item for item in found[MOST:] if item.due]


def _pages(session: Session, stack_ids: Sequence[int], today: date) -> dict[int, WitnessPage]:
    """Of the stacks that have marked pieces, what these tell."""
    marked: dict[int, list[Witness]] = defaultdict(list)
    pieces = select(Witness).where(Witness.stack_id.in_(stack_ids))
    for piece in session.scalars(pieces.order_by(Witness.marked_on, Witness.id)):
        marked[piece.stack_id].append(piece)
    if not marked:
        return {}
    stacks = session.scalars(
        select(Stack)
        .where(Stack.id.in_(list(marked)))
        .options(selectinload(Stack.readings).selectinload(Reading.weights))
    )
    return {stack.id: page_of(stack, marked[stack.id], today) for stack in stacks}


class _Read(NamedTuple):
    """What is asked here of a reading: as objects those of all stacks would take several times as long."""

    stack_id: int
    kind: str
    trust: str
    happened_on: date


def _read(session: Session, stack_ids: Sequence[int]) -> dict[int, list[_Read]]:
    found: dict[int, list[_Read]] = defaultdict(list)
    query = select(Reading.stack_id, Reading.kind, Reading.trust, Reading.happened_on)
    for row in session.execute(query.where(Reading.stack_id.in_(stack_ids))):
        found[row.stack_id].append(_Read(*row))
    return found


def questions_of(
    stack_id: int, looks: Mapping[int, StackOutlook], open_orders: Sequence[OrderCard], today: date
) -> list[Question]:
    """The promises that hang on a stack's moisture, each with the members in which all its wood is dry by then."""
    found = []
    for order in open_orders:
        stacks = [line.stack_id for line in order.promises if line.state == "open"]
        dry_at = order.ware.max_mc_wet
        if order.state != "promised" or stack_id not in stacks or dry_at is None:
            continue
        if not all(number in looks and looks[number].known for number in stacks):
            continue
        day = max(order.wanted_by, today)
        dry = np.stack([looks[number].members_dry_on(day, dry_at) for number in stacks])
        found.append(Question(np.asarray(dry.all(axis=0)), order.ranked_m3))
    return found


def foreseen(look: StackOutlook, action: str, page: WitnessPage, today: date) -> tuple[np.ndarray, float]:
    """What each member says a measurement of today would show, and its error."""
    row = min(max((today - look.dates[0]).days, 0), len(look.dates) - 1)
    now = look.mc_db[row].astype(np.float64)
    if action == "weigh":
        marked = max(line.marked_on for line in page.pieces)
        since = min(max((marked - look.dates[0]).days, 0), row)
        then = look.mc_db[since].astype(np.float64)
        return (1.0 + now) / (1.0 + then), errors_of("weighed", float(now.mean()), len(page.pieces))
    kind = "meter" if action == "meter" else "oven"
    return now, errors_of(kind, float(now.mean()), 1)


def _action(card: StackCard, look: StackOutlook, page: WitnessPage, today: date) -> str:
    """The measurement that tells most of a stack as it stands."""
    young = (today - card.stacked_on).days <= START_DAYS
    if page.pieces and not (young and not page.oven_known):
        return "weigh"
    if page.pieces:
        return "oven"
    if young and not page.oven_known:
        return "mark"
    band = look.moisture_on(today)
    return "meter" if band is not None and band[1] <= METER_UP_TO_WET else "oven"
