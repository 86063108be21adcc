"""Orders: what a household asks for, what the desk answers from stock, promises and odds, what is promised."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from sqlalchemy import func, select
from sqlalchemy.orm import selectinload

from rickyard.book import next_number
from rickyard.book.models import Household, Order, Promise
from rickyard.desk.checks import EARLIEST, ORDER_OUTSIDE_M3, day_between, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do, local_day
from rickyard.desk.forecasts import StackOutlook, outlooks
from rickyard.desk.households import HouseholdCard, find_household, household
from rickyard.desk.kept_forecasts import Kept, kept_of
from rickyard.desk.paging import after_row, contains, is_number
from rickyard.desk.stacks import StackCard, cards_in, stacks
from rickyard.desk.wares import WareCard, ware, ware_card, wares
from rickyard.errors import InputError, RefusedError
from rickyard.text import T_

# At or above these odds the desk says a plain yes; below the second it advises against. Common practice, no source.
GOOD_ODDS = 0.80
POOR_ODDS = 0.50
LOOK_AHEAD_DAYS = 400


@dataclass(frozen=True)
class Portion:
    """Part of a promise or delivery: so much ranked wood from this stack."""

    stack: StackCard
    ranked_m3: float


@dataclass(frozen=True)
class Option:
    """One way to serve an order: these stacks, the day, and the odds that all of it is dry enough by then.

    `odds` is None if the ware is sold green (no condition) or a forecast is still missing (`unknown`).
    """

    portions: tuple[Portion, ...]
    on: date
    odds: float | None
    unknown: bool
    mc_wet: tuple[float, float, float] | None


@dataclass(frozen=True)
class Reply:
    """The desk's answer. `verdict`: yes, risky, later, substitute, short, unknown or no.

    yes        `option` serves it by the day with good odds
    risky      `option` serves it, with odds below good
    later      nothing is dry by the day, but `earliest` is the first day with good odds
    substitute another ware (`substitutes`) can be had by the day
    short      not enough such wood is free, whatever the day; `free_m3` is what there is
    unknown    stock is there, its forecast is not made yet
    """

    ware: WareCard
    ranked_m3: float
    wanted_by: date
    verdict: str
    price_minor: int
    option: Option | None
    earliest: Option | None
    substitutes: tuple[tuple[WareCard, Option], ...]
    free_m3: float


@dataclass(frozen=True, kw_only=True)
class PlaceOrder(Command):
    """A household's order; with `portions` it is promised from these stacks, without it is only noted.

    `portions`: (stack_id, ranked m³). `despite_odds` lets the owner promise against poor odds.
    """

    household_id: int
    ware_id: int
    ranked_m3: float
    wanted_by: date
    typed: str = ""
    portions: tuple[tuple[int, float], ...] = ()
    despite_odds: bool = False
    asked_on: date | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class PromiseOrder(Command):
    """Promises a noted order, or promises it anew from other stacks."""

    order_id: int
    portions: tuple[tuple[int, float], ...]
    despite_odds: bool = False


@dataclass(frozen=True, kw_only=True)
class CancelOrder(Command):
    order_id: int
    reason: str


@dataclass(frozen=True)
class PromiseLine:
    stack_id: int
    stack_name: str
    ranked_m3: float
    odds_then: float | None
    state: str


@dataclass(frozen=True)
class OrderCard:
    """`odds_now`: odds that all promised wood is dry enough on the wanted day (today, if that has passed)."""

    id: int
    number: int
    household_id: int
    household_name: str
    ware: WareCard
    ranked_m3: float
    typed: str
    asked_on: date
    wanted_by: date
    state: str
    total_minor: int
    note: str
    promises: tuple[PromiseLine, ...]
    odds_now: float | None


def ask(desk: Desk, ware_id: int, ranked_m3: float, wanted_by: date) -> Reply:
    """What may be promised: from stock, open promises and the odds. Writes nothing."""
    within("quantity", ranked_m3, ORDER_OUTSIDE_M3, "m³")
    today = desk.today()
    day_between("wanted_by", wanted_by, today, today + timedelta(days=800))
    wanted = ware(desk, ware_id)
    cards = stacks(desk)
    looks = outlooks(desk)
    fitting = [card for card in cards if wanted.fits_pieces(card) and card.free_m3 > 0.01]
    free = sum(card.free_m3 for card in fitting)
    option = _best_option(wanted, fitting, looks, ranked_m3, wanted_by)
    earliest: Option | None = None
    substitutes: tuple[tuple[WareCard, Option], ...] = ()
    if free + 1e-9 < ranked_m3:
        verdict = "short"
    elif option is not None and option.unknown:
        verdict = "unknown"
    elif option is not None and (option.odds is None or option.odds >= GOOD_ODDS):
        verdict = "yes"
    else:
        earliest = _earliest(wanted, fitting, looks, ranked_m3, wanted_by)
        if option is not None and option.odds is not None and option.odds >= POOR_ODDS:
            verdict = "risky"
        elif earliest is not None:
            verdict = "later"
        else:
            verdict = "no"
    if verdict in ("short", "later", "no", "risky"):
        substitutes = _substitutes(desk, wanted, cards, looks, ranked_m3, wanted_by)
        if verdict in ("short", "no") and substitutes:
            verdict = "substitute"
    return Reply(
        ware=wanted,
        ranked_m3=ranked_m3,
        wanted_by=wanted_by,
        verdict=verdict,
        price_minor=wanted.price_of(ranked_m3),
        option=option,
        earliest=earliest,
        substitutes=substitutes,
        free_m3=free,
    )


def place_order(desk: Desk, command: PlaceOrder) -> Answer:
    """Notes an order and, with portions, promises it. Answer: order_id, number, state, odds.

    Raises RefusedError if a stack has not so much free wood, or the odds are poor and nobody insisted.
    """
    within("quantity", command.ranked_m3, ORDER_OUTSIDE_M3, "m³")
    sold = ware(desk, command.ware_id)

    def run(stage: Stage) -> Answer:
        asked_on = command.asked_on or stage.happened_on
        day_between("asked_on", asked_on, EARLIEST, stage.happened_on)
        day_between("wanted_by", command.wanted_by, asked_on, asked_on + timedelta(days=800))
        home = find_household(stage.session, stage.yard.id, command.household_id)
        order = Order(
            yard_id=stage.yard.id,
            number=next_number(stage.session, stage.yard.id, "order"),
            household_id=home.id,
            ware_id=sold.id,
            typed=some_text("quantity", command.typed, 60, needed=False),
            outside_m3=command.ranked_m3,
            asked_on=asked_on,
            wanted_by=command.wanted_by,
            state="asked",
            total_minor=sold.price_of(command.ranked_m3),
            note=some_text("note", command.note, 500, needed=False),
        )
        stage.session.add(order)
        stage.session.flush()
        odds = _promise(desk, stage, order, sold, command.portions, command.despite_odds)
        return {"order_id": order.id, "number": order.number, "state": order.state, "odds": odds}

    return do(desk, "place_order", command, run)


def promise_order(desk: Desk, command: PromiseOrder) -> Answer:
    """Promises an order from these stacks, in place of what was promised before. Answer as `place_order`."""

    def run(stage: Stage) -> Answer:
        order = find_order(stage, command.order_id)
        _still_open(order)
        if not command.portions:
            raise InputError(
                "portions",
                wanted=T_("at least one stack"),
                got=T_("none"),
                next_move=T_("Choose the stacks that this order is promised from."),
            )
        for promise in order.promises:
            if promise.state == "open":
                promise.state = "released"
        stage.session.flush()
        odds = _promise(desk, stage, order, ware_card(order.ware), command.portions, command.despite_odds)
        return {"order_id": order.id, "number": order.number, "state": order.state, "odds": odds}

    return do(desk, "promise_order", command, run)


def cancel_order(desk: Desk, command: CancelOrder) -> Answer:
    """Cancels an order and frees its wood. Answer: order_id."""
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        order = find_order(stage, command.order_id)
        _still_open(order)
        for promise in order.promises:
            if promise.state == "open":
                promise.state = "released"
        order.state = "cancelled"
        order.note = f"{order.note}\n{reason}".strip()[:500]
        return {"order_id": order.id}

    return do(desk, "cancel_order", command, run)


def orders(
    desk: Desk,
    *,
    states: Sequence[str] = ("asked", "promised"),
    household_id: int | None = None,
    search: str = "",
    newest_first: bool = False,
    after: int | None = None,
    limit: int | None = None,
    looks: Mapping[int, StackOutlook] | None = None,
) -> list[OrderCard]:
    """Orders in these states by the day they are wanted (or the last first), with their odds as they stand now.

    Those after the order `after` in that order, at most `limit`, if said. `search` is part of the household's name
    or of the note, or the order's number. `looks` are the outlooks of all standing stacks, if they are at hand.
    """
    with desk.book.read() as session:
        today = local_day(desk.yard(session), desk.now())
        query = (
            select(Order)
            .where(Order.yard_id == desk.yard_id, Order.state.in_(tuple(states)))
            .options(
                selectinload(Order.promises).selectinload(Promise.stack),
                selectinload(Order.household),
                selectinload(Order.ware),
            )
        )
        if household_id is not None:
            query = query.where(Order.household_id == household_id)
        if search.strip():
            found = contains(search, Household.name, Order.note)
            number = search.strip()
            query = query.join(Household, Household.id == Order.household_id).where(
                found | (Order.number == int(number)) if is_number(number) else found
            )
        query = after_row(
            query, Order, after, Order.wanted_by, Order.number, Order.id, descending=newest_first
        ).limit(limit)
        page = session.scalars(query).all()
        if looks is None:
            looks = outlooks(desk, _promised_stacks(page))
        return [_card(order, looks, today) for order in page]


def count_orders(desk: Desk, states: Sequence[str]) -> int:
    with desk.book.read() as session:
        query = select(func.count()).select_from(Order)
        return session.scalar(query.where(Order.yard_id == desk.yard_id, Order.state.in_(tuple(states)))) or 0


def order(desk: Desk, order_id: int) -> OrderCard:
    with desk.book.read() as session:
        found = session.get(Order, order_id)
        if found is None or found.yard_id != desk.yard_id:
            raise unknown_order(order_id)
        looks = outlooks(desk, _promised_stacks((found,)))
        return _card(found, looks, local_day(desk.yard(session), desk.now()))


def _promised_stacks(page: Iterable[Order]) -> list[int]:
    """The standing stacks of which wood is promised."""
    return sorted(
        {
            promise.stack_id
            for order in page
            for promise in order.promises
            if promise.state == "open" and promise.stack.emptied_on is None
        }
    )


def order_household(desk: Desk, card: OrderCard) -> HouseholdCard:
    return household(desk, card.household_id)


def joint_odds(looks: Sequence[StackOutlook | Kept], day: date, max_mc_wet: float) -> float | None:
    """Odds that all these stacks are dry enough on the day, counted over the members they share.

    Member j is the same weather for every stack, so stacks late together are counted as late together.
    None if a forecast is missing.
    """
    if not looks or not all(look.dates for look in looks):
        return None
    dry = np.stack([look.members_dry_on(day, max_mc_wet) for look in looks])
    return float(dry.all(axis=0).mean())


def find_order(stage: Stage, order_id: int) -> Order:
    found = stage.session.get(Order, order_id)
    if found is None or found.yard_id != stage.yard.id:
        raise unknown_order(order_id)
    return found


def unknown_order(order_id: int) -> InputError:
    return InputError(
        "order",
        wanted=T_("an order of this yard"),
        got=order_id,
        next_move=T_("Choose it from the list of orders."),
        code="unknown_order",
    )


def _still_open(order: Order) -> None:
    if order.state not in ("asked", "promised"):
        raise RefusedError(
            T_("Order {number} is cancelled and cannot be changed.", number=order.number)
            if order.state == "cancelled"
            else T_("Order {number} is delivered and cannot be changed.", number=order.number),
            field="order",
        )


def _promise(
    desk: Desk,
    stage: Stage,
    order: Order,
    sold: WareCard,
    portions: tuple[tuple[int, float], ...],
    despite_odds: bool,
) -> float | None:
    if not portions:
        return None
    asked = [stack_id for stack_id, _ in portions]
    cards = {card.id: card for card in cards_in(stage.session, stage.yard.id, stack_ids=asked)}
    total = sum(ranked for _, ranked in portions)
    if abs(total - order.outside_m3) > 0.005 * order.outside_m3 + 0.001:
        raise InputError(
            "portions",
            wanted=T_("{wanted:.2f} m³ in all", wanted=order.outside_m3),
            got=f"{total:.2f} m³",
            next_move=T_("Change what is taken from each stack."),
        )
    for stack_id, ranked in portions:
        within("portions", ranked, ORDER_OUTSIDE_M3, "m³")
        card = cards.get(stack_id)
        if card is None:
            raise InputError(
                "portions",
                wanted=T_("a standing stack"),
                got=stack_id,
                next_move=T_("Choose another stack."),
                code="unknown_stack",
            )
        if ranked > card.free_m3 + 0.01:
            raise RefusedError(
                T_(
                    "Stack {name} has {free:.2f} m³ that nobody has been promised; {asked:.2f} m³ were asked of it. "
                    "Take less of it, or another stack as well.",
                    name=card.name,
                    free=card.free_m3,
                    asked=ranked,
                ),
                code="not_enough",
                field="portions",
            )
        if not sold.fits_pieces(card):
            raise RefusedError(
                T_(
                    "Stack {name} is not {ware}: its wood, form or length differs.",
                    name=card.name,
                    ware=sold.name,
                ),
                code="wrong_ware",
                field="portions",
            )
    odds = None
    if sold.max_mc_wet is not None:
        kept = kept_of(stage.session, desk.book, asked)
        if all(stack_id in kept for stack_id in asked):
            odds = joint_odds([kept[stack_id] for stack_id in asked], order.wanted_by, sold.max_mc_wet)
        if odds is not None and odds < POOR_ODDS and not despite_odds:
            raise RefusedError(
                T_(
                    "The odds that this wood is dry enough by {day} are {odds:.0%}. "
                    "Promise a later day, another ware, or insist.",
                    day=order.wanted_by.isoformat(),
                    odds=odds,
                ),
                code="poor_odds",
                field="portions",
            )
    for stack_id, ranked in portions:
        stage.session.add(
            Promise(
                yard_id=stage.yard.id,
                order_id=order.id,
                stack_id=stack_id,
                outside_m3=ranked,
                odds=odds,
                made_at=stage.happened_at,
                state="open",
            )
        )
    order.state = "promised"
    return odds


def _best_option(
    wanted: WareCard,
    fitting: Sequence[StackCard],
    looks: dict[int, StackOutlook],
    ranked_m3: float,
    day: date,
) -> Option | None:
    """Stacks most likely dry by the day first; among equals the smaller, so that stacks get used up."""
    if sum(card.free_m3 for card in fitting) + 1e-9 < ranked_m3:
        return None
    green = wanted.max_mc_wet is None

    def rank(card: StackCard) -> tuple[bool, float, float]:
        odds = None if wanted.max_mc_wet is None else looks[card.id].odds_on(day, wanted.max_mc_wet)
        if green:
            # Green wood is sold from the wettest (newest) stack: dry wood is worth more.
            return (False, -card.stacked_on.toordinal(), card.free_m3)
        return (odds is None, -round(odds or 0.0, 2), card.free_m3)

    portions: list[Portion] = []
    left = ranked_m3
    for card in sorted(fitting, key=rank):
        take = min(left, card.free_m3)
        portions.append(Portion(card, take))
        left -= take
        if left <= 1e-9:
            break
    used = [looks[portion.stack.id] for portion in portions]
    odds = None if wanted.max_mc_wet is None else joint_odds(used, day, wanted.max_mc_wet)
    moistures = [look.moisture_on(day) for look in used]
    worst = max((m for m in moistures if m is not None), key=lambda m: m[1], default=None)
    return Option(tuple(portions), day, odds, unknown=not green and odds is None, mc_wet=worst)


def _earliest(
    wanted: WareCard,
    fitting: Sequence[StackCard],
    looks: dict[int, StackOutlook],
    ranked_m3: float,
    after: date,
) -> Option | None:
    for days in range(7, LOOK_AHEAD_DAYS, 7):
        option = _best_option(wanted, fitting, looks, ranked_m3, after + timedelta(days=days))
        if option is not None and option.odds is not None and option.odds >= GOOD_ODDS:
            return option
    return None


def _substitutes(
    desk: Desk,
    wanted: WareCard,
    cards: Sequence[StackCard],
    looks: dict[int, StackOutlook],
    ranked_m3: float,
    day: date,
) -> tuple[tuple[WareCard, Option], ...]:
    """Other wares, not wetter and not longer than asked, that can be had by the day with good odds."""
    found = []
    for other in wares(desk):
        if other.id == wanted.id or other.form != wanted.form:
            continue
        if wanted.max_mc_wet is not None and (
            other.max_mc_wet is None or other.max_mc_wet > wanted.max_mc_wet
        ):
            continue
        if other.piece_length_m > wanted.piece_length_m + wanted.length_tolerance_m:
            continue
        fitting = [card for card in cards if other.fits_pieces(card) and card.free_m3 > 0.01]
        option = _best_option(other, fitting, looks, ranked_m3, day)
        if option is not None and not option.unknown and (option.odds is None or option.odds >= GOOD_ODDS):
            found.append((other, option))
    return tuple(found)


def _card(order: Order, looks: Mapping[int, StackOutlook], today: date) -> OrderCard:
    card = ware_card(order.ware)
    open_promises = [promise for promise in order.promises if promise.state == "open"]
    odds = None
    if open_promises and card.max_mc_wet is not None:
        used = [looks[promise.stack_id] for promise in open_promises if promise.stack_id in looks]
        odds = joint_odds(used, max(order.wanted_by, today), card.max_mc_wet)
    return OrderCard(
        id=order.id,
        number=order.number,
        household_id=order.household_id,
        household_name=order.household.name,
        ware=card,
        ranked_m3=order.outside_m3,
        typed=order.typed,
        asked_on=order.asked_on,
        wanted_by=order.wanted_by,
        state=order.state,
        total_minor=order.total_minor,
        note=order.note,
        promises=tuple(
            PromiseLine(p.stack_id, p.stack.name, p.outside_m3, p.odds, p.state) for p in order.promises
        ),
        odds_now=odds,
    )
