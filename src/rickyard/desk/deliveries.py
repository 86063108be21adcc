"""Wood out: deliveries against orders, sales at the gate, tickets and payments."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book import Book, Move, next_number, portion, post, stock
from rickyard.book.models import Entry, Household, Stack, StackForecast, Ticket
from rickyard.desk.checks import ORDER_OUTSIDE_M3, day_between, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do, noon_utc
from rickyard.desk.households import find_household
from rickyard.desk.kept_forecasts import Kept, kept_of
from rickyard.desk.orders import GOOD_ODDS, find_order
from rickyard.desk.remeasure import follow_late
from rickyard.desk.spots import yard_spot
from rickyard.desk.spreads import density_of, sd_of, sd_of_stack
from rickyard.desk.stacks import StackCard, card_of, cards_in, find_stack, harvests_of, stacks
from rickyard.desk.ticket_paper import data_of, refuse_unlawful_words
from rickyard.desk.tickets import add_payment, prorate
from rickyard.desk.wares import WareCard, ware, ware_card, wares
from rickyard.errors import InputError, RefusedError
from rickyard.measure import CORD_M3
from rickyard.paper import render_ticket
from rickyard.text import T_

# A quarter of a cord: less is not worth walking to the stack for.
LEAST_GATE_M3 = CORD_M3 / 4
RECENT_DAYS = 31


@dataclass(frozen=True, kw_only=True)
class Deliver(Command):
    """Delivers an order. Without `portions` ((stack_id, ranked m³), ...) what was promised is taken."""

    order_id: int
    delivered_on: date
    portions: tuple[tuple[int, float], ...] = ()
    piled: str = "ranked"
    vehicle: str = ""
    driver: str = ""
    paid_minor: int = 0
    paid_in_full: bool = False
    pay_method: str = "cash"


@dataclass(frozen=True, kw_only=True)
class SellAtGate(Command):
    """Sells wood of a stack to whoever stands at the gate; no promise, no household needed."""

    stack_id: int
    ware_id: int
    ranked_m3: float
    typed: str = ""
    buyer: str = ""
    household_id: int | None = None
    price_minor: int | None = None
    paid_minor: int = 0
    paid_in_full: bool = False
    pay_method: str = "cash"


@dataclass(frozen=True)
class GateOffer:
    """What can be sold at the gate today: a ware, the stack to take it from, the odds that it is dry enough.

    `odds` is None for a ware that is sold green.
    """

    ware: WareCard
    stack: StackCard
    odds: float | None

    @property
    def free_m3(self) -> float:
        return self.stack.free_m3


def gate_offers(desk: Desk, standing: Sequence[StackCard] | None = None) -> list[GateOffer]:
    """For each ware the stack to sell from today: dry enough with good odds, the smallest that holds enough.

    `standing` are all standing stacks, if they are at hand.
    """
    today = desk.today()
    cards = [
        card for card in (stacks(desk) if standing is None else standing) if card.free_m3 >= LEAST_GATE_M3
    ]
    # The smallest first: the first that is dry enough is the one.
    cards.sort(key=lambda card: card.free_m3)
    fitting = [(sold, [card for card in cards if sold.fits_pieces(card)]) for sold in wares(desk)]
    with desk.book.read() as session:
        kept = _KeptSoFar(session, desk.book)
        found = (_gate_offer(sold, fits, kept, today) for sold, fits in fitting)
        return [offer for offer in found if offer is not None]


class _KeptSoFar:
    """Forecasts as they are kept, read some at a time: of a long list mostly the first few are asked for."""

    AT_ONCE = 8

    def __init__(self, session: Session, book: Book) -> None:
        self._session, self._book = session, book
        self._read: dict[int, Kept | None] = {}

    def odds(self, cards: Sequence[StackCard], place: int, day: date, max_mc_wet: float) -> float | None:
        """Odds that the stack at this place of the list is dry enough on the day; None without a forecast."""
        card = cards[place]
        if card.id not in self._read:
            some = [one.id for one in cards[place : place + self.AT_ONCE]]
            kept = kept_of(self._session, self._book, some)
            self._read |= {stack_id: kept.get(stack_id) for stack_id in some}
        found = self._read[card.id]
        return None if found is None else found.odds_on(day, max_mc_wet)


def _gate_offer(
    sold: WareCard, cards: Sequence[StackCard], kept: _KeptSoFar, today: date
) -> GateOffer | None:
    """The first of the stacks that is dry enough for what is sold."""
    if sold.max_mc_wet is None:
        return GateOffer(sold, cards[0], None) if cards else None
    for place, card in enumerate(cards):
        odds = kept.odds(cards, place, today, sold.max_mc_wet)
        if odds is not None and odds >= GOOD_ODDS:
            return GateOffer(sold, card, odds)
    return None


def deliver(desk: Desk, command: Deliver) -> Answer:
    """Moves the wood to the household, issues the ticket, closes the order. Answer: ticket_id, number, total_minor.

    Raises RefusedError if the order is closed or a stack does not hold so much.
    """

    def run(stage: Stage) -> Answer:
        order = find_order(stage, command.order_id)
        if order.state not in ("asked", "promised"):
            raise RefusedError(
                T_("Order {number} is cancelled: nothing can be delivered on it.", number=order.number)
                if order.state == "cancelled"
                else T_("Order {number} is delivered already.", number=order.number),
                field="order",
            )
        portions = command.portions or tuple(
            (promise.stack_id, promise.outside_m3) for promise in order.promises if promise.state == "open"
        )
        if not portions:
            raise InputError(
                "portions",
                wanted=T_("the stacks the wood was taken from"),
                got=T_("none"),
                next_move=T_("Choose the stacks and how much of each."),
            )
        day_between("delivered_on", command.delivered_on, order.asked_on, stage.happened_on)
        sold = ware_card(order.ware)
        ranked = sum(volume for _, volume in portions)
        price = (
            order.total_minor
            if abs(ranked - order.outside_m3) <= 0.005 * order.outside_m3
            else prorate(order.total_minor, ranked / order.outside_m3)
        )
        for promise in order.promises:
            if promise.state == "open":
                promise.state = "kept"
        order.state = "delivered"
        ticket = _issue(
            stage,
            desk.book,
            sold,
            portions,
            home=order.household,
            buyer=order.household.name,
            order_id=order.id,
            order_number=order.number,
            delivered_on=command.delivered_on,
            price_minor=price,
            piled=command.piled,
            vehicle=command.vehicle,
            driver=command.driver,
        )
        _pay_now(stage, ticket, command)
        return _answer(ticket)

    return do(desk, "deliver", command, run)


def sell_at_gate(desk: Desk, command: SellAtGate) -> Answer:
    """Sells from a stack without a promise. Answer as `deliver`.

    Raises RefusedError if the stack does not hold so much that nobody has been promised.
    """
    within("quantity", command.ranked_m3, ORDER_OUTSIDE_M3, "m³")
    sold = ware(desk, command.ware_id)

    def run(stage: Stage) -> Answer:
        home = (
            None
            if command.household_id is None
            else find_household(stage.session, stage.yard.id, command.household_id)
        )
        card = next(
            iter(cards_in(stage.session, stage.yard.id, stack_ids=(command.stack_id,))),
            None,
        )
        if card is None:
            find_stack(stage, command.stack_id)
            raise RefusedError(T_("That stack is empty."), field="stack", code="not_enough")
        if command.ranked_m3 > card.free_m3 + 0.01:
            raise RefusedError(
                T_(
                    "Stack {name} has {free:.2f} m³ that nobody has been promised; {asked:.2f} m³ were asked of it. "
                    "Take less of it, or another stack as well.",
                    name=card.name,
                    free=card.free_m3,
                    asked=command.ranked_m3,
                ),
                code="not_enough",
                field="quantity",
            )
        price = sold.price_of(command.ranked_m3) if command.price_minor is None else command.price_minor
        within("price", price / 100, (0.0, 1e6), stage.yard.currency)
        ticket = _issue(
            stage,
            desk.book,
            sold,
            ((command.stack_id, command.ranked_m3),),
            home=home,
            buyer=home.name if home else some_text("buyer", command.buyer, 120, needed=False),
            order_id=None,
            order_number=None,
            delivered_on=stage.happened_on,
            price_minor=price,
            piled="ranked",
            vehicle="",
            driver="",
        )
        _pay_now(stage, ticket, command)
        return _answer(ticket)

    return do(desk, "sell_at_gate", command, run)


def _issue(
    stage: Stage,
    book: Book,
    sold: WareCard,
    portions: tuple[tuple[int, float], ...],
    *,
    home: Household | None,
    buyer: str,
    order_id: int | None,
    order_number: int | None,
    delivered_on: date,
    price_minor: int,
    piled: str,
    vehicle: str,
    driver: str,
) -> Ticket:
    to_spot = home.spot_id if home else yard_spot(stage.session, stage.yard.id, "gate")
    moves: list[Move] = []
    lines: list[dict[str, Any]] = []
    lots: dict[tuple[str, str, str, str], int] = defaultdict(int)
    # Held here, so that the session need not read them again.
    sold_from: list[Stack] = []
    for stack_id, ranked in portions:
        within("portions", ranked, ORDER_OUTSIDE_M3, "m³")
        stack = find_stack(stage, stack_id)
        sold_from.append(stack)
        held = {key: grams for key, grams in stock(stage.session, stack.spot_id).items() if grams > 0}
        card = card_of(stack, held, 0.0) if stack.measures else None
        if card is None or ranked > card.ranked_m3 * 1.01 + 0.01:
            raise RefusedError(
                T_(
                    "Stack {name} holds {there:.2f} m³; {asked:.2f} m³ were to leave it. "
                    "Measure the stack again, or take the rest from another one.",
                    name=stack.name,
                    there=card.ranked_m3 if card else 0.0,
                    asked=ranked,
                ),
                code="not_enough",
                field="portions",
            )
        share = min(1.0, ranked / card.ranked_m3)
        taken = portion(held, round(sum(held.values()) * share))
        sd_share = sd_of_stack(stage, stack, held)
        for key, grams in taken.items():
            if grams:
                of_line = grams / sum(taken.values())
                moves += [
                    Move(stack.spot_id, key.species_id, key.form, key.lot_id, -grams),
                    Move(
                        to_spot,
                        key.species_id,
                        key.form,
                        key.lot_id,
                        grams,
                        quantity=ranked * of_line,
                        unit="stacked_m3",
                        method="share of the measured stack",
                        sd_share=sd_of(key, sd_share),
                        basic_density_kg_m3=density_of(key),
                    ),
                ]
        for harvest, part in harvests_of(stage.session, taken):
            place = (harvest.country, harvest.subdivision, harvest.county, harvest.certificate)
            lots[place] += round(part * sum(taken.values()))
        lines.append(_line(stage.session, stack, card, ranked, delivered_on))
    entry: Entry = post(
        stage.session,
        stage.yard.id,
        kind="deliver" if order_id else "gate_sale",
        happened_at=noon_utc(stage.yard, delivered_on) if order_id else stage.happened_at,
        recorded_at=stage.recorded_at,
        moves=moves,
        deed_id=stage.deed.id,
    )
    for stack in sold_from:
        follow_late(stage, stack, entry.happened_at)
        if not any(grams > 0 for grams in stock(stage.session, stack.spot_id).values()):
            stack.emptied_on = delivered_on
    tax = prorate(price_minor, stage.yard.tax_rate)
    ranked_total = sum(ranked for _, ranked in portions)
    number = next_number(stage.session, stage.yard.id, "ticket")
    yard = stage.yard
    issued = Ticket(
        yard_id=yard.id,
        number=number,
        order_id=order_id,
        household_id=home.id if home else None,
        entry_id=entry.id,
        issued_at=stage.recorded_at,
        delivered_on=delivered_on,
        outside_m3=ranked_total,
        price_minor=price_minor,
        tax_minor=tax,
        total_minor=price_minor + tax,
        currency=yard.currency,
        facts={
            "seller": {"name": yard.name, "address": yard.address, "phone": yard.phone},
            "buyer": {
                "name": buyer,
                "address": home.address if home else "",
                "phone": home.phone if home else "",
            },
            "place": {"country": yard.country, "subdivision": yard.subdivision},
            "order_number": order_number,
            "ware": sold.name,
            "form": sold.form,
            "piece_length_m": sold.piece_length_m,
            "piled": piled,
            "max_mc_wet": sold.max_mc_wet,
            "price_unit": sold.price_unit,
            "unit_price_minor": sold.price_minor,
            "tax_rate": yard.tax_rate,
            "vehicle": some_text("vehicle", vehicle, 60, needed=False),
            "driver": some_text("driver", driver, 80, needed=False),
            "lines": lines,
            "harvests": [
                {"country": place[0], "subdivision": place[1], "county": place[2], "certificate": place[3]}
                for place, _ in sorted(lots.items(), key=lambda item: -item[1])
            ],
            # As the paper is printed today: what the yard sets later does not change it.
            "paper": {"locale": yard.locale, "units": yard.units, "timezone": yard.timezone},
        },
    )
    data = data_of(issued)
    refuse_unlawful_words(data, yard.locale.partition("_")[0])
    if book.has_files:
        # On the disk before the book speaks of it. Without a folder the paper can still be printed from its facts.
        paper = {**issued.facts["paper"], "sha256": book.files.put(render_ticket(data))}
        issued.facts = {**issued.facts, "paper": paper}
    stage.session.add(issued)
    stage.session.flush()
    return issued


def _line(
    session: Session, stack: Stack, card: StackCard, ranked_m3: float, delivered_on: date
) -> dict[str, Any]:
    """One stack's part of a ticket: volume, shares of species, and what is known of its dryness."""
    last = stack.measures[-1]
    return {
        "stack": stack.name,
        "ranked_m3": ranked_m3,
        "shares": [[species.id, round(share, 3)] for species, share in card.shares],
        "piece_length_m": stack.piece_length_m,
        "measured_on": last.happened_at.date().isoformat(),
        "dryness": _dryness(session, stack, card, delivered_on),
    }


def _dryness(session: Session, stack: Stack, card: StackCard, day: date) -> dict[str, Any] | None:
    """What may be said of the moisture: a meter or oven reading of the last month, else the forecast.

    A reading that does not fit the book (from before the stacking, of a wood not in it) is no word to a buyer.
    """
    held = {species.id for species, _ in card.shares}
    recent = [
        reading
        for reading in stack.readings
        if 0 <= (day - reading.happened_on).days <= RECENT_DAYS
        and reading.happened_on >= stack.stacked_on
        and (reading.species_id is None or reading.species_id in held)
        and (reading.kind == "oven" or (reading.kind == "meter" and reading.species_id))
    ]
    if recent:
        reading = recent[-1]
        return {
            "how": reading.kind,
            "on": reading.happened_on.isoformat(),
            "value": reading.value,
            "species_id": reading.species_id,
            "temp_c": reading.temp_c,
        }
    # Of the row only this: its members are tens of kilobytes.
    summary = session.scalar(select(StackForecast.summary).where(StackForecast.stack_id == stack.id))
    if not summary or not summary.get("dates"):
        return None
    first, count = date.fromisoformat(summary["dates"][0]), int(summary["dates"][1])
    index = min(max((day - first).days, 0), count - 1)
    return {
        "how": "forecast",
        "on": day.isoformat(),
        "mc_wet": [summary[name][index] for name in ("p10", "p50", "p90")],
    }


def _pay_now(stage: Stage, ticket: Ticket, command: Deliver | SellAtGate) -> None:
    amount_minor = ticket.total_minor if command.paid_in_full else command.paid_minor
    if amount_minor:
        add_payment(stage, ticket, amount_minor, command.pay_method, ticket.delivered_on)


def _answer(ticket: Ticket) -> Answer:
    return {"ticket_id": ticket.id, "number": ticket.number, "total_minor": ticket.total_minor}
