"""The demo yard sells: orders come, are delivered or cancelled, and wood goes over the gate."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from rickyard.desk.closing import EmptyStack, empty_stack
from rickyard.desk.deliveries import Deliver, SellAtGate, deliver, sell_at_gate
from rickyard.desk.demo_story import OpenOrder, Story
from rickyard.desk.orders import CancelOrder, PlaceOrder, cancel_order, place_order
from rickyard.desk.stacks import StackCard, stack_card, stacks
from rickyard.desk.tickets import Pay, pay
from rickyard.desk.wares import WareCard, wares
from rickyard.measure import CORD_M3


def order_comes(story: Story, day: date) -> None:
    rng = story.rng
    desk = story.at(day)
    known = wares(desk)
    chances = np.array([0.45, 0.15, 0.12, 0.12, 0.10, 0.06])
    by_name = {card.name: card for card in known}
    names = sorted(by_name, key=lambda name: by_name[name].id)
    ware = by_name[names[int(rng.choice(len(names), p=chances))]]
    cords = float(rng.choice([1, 1, 1.5, 2, 2, 3, 4]))
    wanted = day + timedelta(days=int(rng.integers(6, 90)))
    ranked = cords * CORD_M3
    portions = _portions(ware, stacks(desk), ranked, wanted)
    answer = place_order(
        desk,
        PlaceOrder(
            key=story.key(),
            household_id=int(rng.choice(story.homes)),
            ware_id=ware.id,
            ranked_m3=ranked,
            wanted_by=wanted,
            typed=f"{cords:g} cords" if cords != 1 else "1 cord",
            portions=portions,
            despite_odds=True,
        ),
    )
    order_id = int(answer["order_id"])
    if portions:
        story.open_orders.append(OpenOrder(order_id, wanted, tuple(stack_id for stack_id, _ in portions)))
    elif wanted < story.as_of:
        later = min(day + timedelta(days=9), story.as_of)
        cancel_order(
            story.at(later),
            CancelOrder(key=story.key(), order_id=order_id, reason="nothing suitable was left"),
        )


def _portions(
    ware: WareCard, cards: list[StackCard], ranked_m3: float, wanted: date
) -> tuple[tuple[int, float], ...]:
    """What the owner would do by rule of thumb: the oldest fitting stacks, a summer old if it must be dry."""
    least_age = 0 if ware.max_mc_wet is None else 150
    fitting = [
        card
        for card in cards
        if ware.fits_pieces(card) and card.free_m3 > 0.3 and (wanted - card.stacked_on).days >= least_age
    ]
    taken: list[tuple[int, float]] = []
    left = ranked_m3
    for card in sorted(fitting, key=lambda card: card.stacked_on):
        part = min(left, card.free_m3)
        taken.append((card.id, part))
        left -= part
        if left < 1e-9:
            return tuple(taken)
    return ()


def deliver_order(story: Story, due: OpenOrder, day: date) -> None:
    rng = story.rng
    # The last days' deliveries are still to be made when the demo ends.
    if (story.as_of - day).days < 6 and rng.random() < 0.6:
        return
    story.open_orders.remove(due)
    desk = story.at(day, hour=17)
    pay_now = rng.random() < 0.6
    answer = deliver(
        desk,
        Deliver(
            key=story.key(),
            order_id=due.order_id,
            delivered_on=day,
            vehicle="one-ton dump truck",
            driver="Osric Millbrae",
        ),
    )
    if pay_now:
        pay(
            desk,
            Pay(
                key=story.key(),
                ticket_id=int(answer["ticket_id"]),
                amount_minor=int(answer["total_minor"]),
                method=str(rng.choice(["cash", "transfer", "cheque"])),
                paid_on=day,
            ),
        )
    for stack_id in due.stack_ids:
        left = stack_card(desk, stack_id)
        if left.emptied_on is None and left.ranked_m3 < 0.25 and left.promised_m3 < 0.01:
            empty_stack(
                desk,
                EmptyStack(key=story.key(), stack_id=left.id, reason="odds and ends, used in the shop stove"),
            )


def sale_at_gate(story: Story, day: date) -> None:
    desk = story.at(day, hour=18)
    standing = sorted(stacks(desk), key=lambda card: card.stacked_on)
    for ware in wares(desk):
        for card in standing:
            old_enough = (day - card.stacked_on).days > 170
            if ware.max_mc_wet is not None and old_enough and ware.fits_pieces(card) and card.free_m3 > 1.5:
                sell_at_gate(
                    desk,
                    SellAtGate(
                        key=story.key(),
                        stack_id=card.id,
                        ware_id=ware.id,
                        ranked_m3=CORD_M3 / 4,
                        typed="1/4 cord",
                        paid_minor=0,
                    ),
                )
                return
