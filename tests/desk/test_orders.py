"""Promises: what is promised is reserved, odds are joint, and only promises and sales are refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
import pytest

from rickyard.desk import forecast_inputs, forecasts
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import Deliver, SellAtGate, deliver, sell_at_gate
from rickyard.desk.orders import (
    CancelOrder,
    PlaceOrder,
    ask,
    cancel_order,
    joint_odds,
    order,
    orders,
    place_order,
)
from rickyard.desk.readings import AddReading, add_reading
from rickyard.desk.stacks import stack_page
from rickyard.desk.tickets import Pay, pay, ticket, ticket_pdf
from rickyard.desk.today import today
from rickyard.errors import InputError, RefusedError
from rickyard.measure import CORD_M3

BY = date(2026, 11, 1)


@pytest.fixture
def forecast(desk: Desk, stack: int, monkeypatch: pytest.MonkeyPatch) -> int:
    """The stack with its forecast made (a small ensemble: this is about promises)."""
    monkeypatch.setattr(forecast_inputs, "MEMBERS", 16)
    assert forecasts.refresh(desk) == 1
    assert forecasts.refresh(desk) == 0
    return stack


def place(
    desk: Desk, household: int, ware: int, stack: int, cords: float, **changes: object
) -> dict[str, object]:
    ranked = cords * CORD_M3
    command = PlaceOrder(
        key=new_key(),
        household_id=household,
        ware_id=ware,
        ranked_m3=ranked,
        wanted_by=BY,
        portions=((stack, ranked),),
        despite_odds=True,
        **changes,  # type: ignore[arg-type]
    )
    return place_order(desk, command)


def test_the_answer_names_stack_odds_and_price(desk: Desk, forecast: int, ware: int) -> None:
    reply = ask(desk, ware, 2 * CORD_M3, BY)

    assert reply.verdict in {"yes", "risky", "later"}
    assert reply.option is not None
    assert [portion.stack.id for portion in reply.option.portions] == [forecast]
    assert reply.price_minor == 2 * 38000
    outlook = forecasts.outlook(desk, forecast)
    assert reply.option.odds == outlook.odds_on(BY, 0.20)


def test_without_a_forecast_the_answer_says_so(desk: Desk, stack: int, ware: int) -> None:
    assert ask(desk, ware, CORD_M3, BY).verdict == "unknown"


def test_more_than_there_is_is_short(desk: Desk, forecast: int, ware: int) -> None:
    reply = ask(desk, ware, 50 * CORD_M3, BY)

    assert reply.verdict == "short"
    assert 0 < reply.free_m3 < 50 * CORD_M3


def test_a_promise_reserves_and_a_second_one_cannot_have_the_same_wood(
    desk: Desk, forecast: int, ware: int, household: int
) -> None:
    free = stack_page(desk, forecast).card.free_m3
    place(desk, household, ware, forecast, 3)

    assert stack_page(desk, forecast).card.free_m3 == pytest.approx(free - 3 * CORD_M3)
    with pytest.raises(RefusedError) as caught:
        place(desk, household, ware, forecast, free / CORD_M3 - 2)
    assert caught.value.code == "not_enough"


def test_cancelling_frees_the_wood(desk: Desk, forecast: int, ware: int, household: int) -> None:
    free = stack_page(desk, forecast).card.free_m3
    placed = place(desk, household, ware, forecast, 3)

    cancel_order(desk, CancelOrder(key=new_key(), order_id=int(placed["order_id"]), reason="moved away"))  # type: ignore[call-overload]

    assert stack_page(desk, forecast).card.free_m3 == pytest.approx(free)
    assert orders(desk) == []


def test_delivery_moves_the_wood_and_the_money(desk: Desk, forecast: int, ware: int, household: int) -> None:
    before = stack_page(desk, forecast).card
    placed = place(desk, household, ware, forecast, 2)

    done = deliver(desk, Deliver(key=new_key(), order_id=placed["order_id"], delivered_on=date(2026, 10, 1)))  # type: ignore[arg-type]

    after = stack_page(desk, forecast).card
    assert after.ranked_m3 == pytest.approx(before.ranked_m3 - 2 * CORD_M3, rel=1e-5)
    assert after.promised_m3 == 0
    card = ticket(desk, done["ticket_id"])
    assert (card.price_minor, card.tax_minor, card.total_minor) == (76000, 11400, 87400)
    assert order(desk, int(placed["order_id"])).state == "delivered"  # type: ignore[call-overload]
    assert ticket_pdf(desk, card.id).startswith(b"%PDF")
    pay(desk, Pay(key=new_key(), ticket_id=card.id, amount_minor=87400, paid_on=date(2026, 10, 1)))
    assert ticket(desk, card.id).owed_minor == 0
    with pytest.raises(InputError, match=r"more than zero and at most the 0\.00 CAD owed, got 0\.01 CAD"):
        pay(desk, Pay(key=new_key(), ticket_id=card.id, amount_minor=1, paid_on=date(2026, 10, 1)))
    with pytest.raises(RefusedError):
        deliver(desk, Deliver(key=new_key(), order_id=placed["order_id"], delivered_on=date(2026, 10, 1)))  # type: ignore[arg-type]


def test_a_sale_at_the_gate_leaves_what_is_promised(
    desk: Desk, forecast: int, ware: int, household: int
) -> None:
    free = stack_page(desk, forecast).card.free_m3
    place(desk, household, ware, forecast, free / CORD_M3 - 0.5)

    sell_at_gate(desk, SellAtGate(key=new_key(), stack_id=forecast, ware_id=ware, ranked_m3=0.25 * CORD_M3))
    with pytest.raises(RefusedError):
        sell_at_gate(
            desk, SellAtGate(key=new_key(), stack_id=forecast, ware_id=ware, ranked_m3=0.5 * CORD_M3)
        )


def test_joint_odds_count_members_not_products(desk: Desk, forecast: int) -> None:
    """Member j is the same weather for both: the same stack twice has the odds of one, not their square."""
    look = forecasts.outlook(desk, forecast)
    day = date(2026, 9, 1)
    one = joint_odds([look], day, 0.20)

    assert joint_odds([look, look], day, 0.20) == one
    assert one == float(np.mean(look.members_dry_on(day, 0.20)))


def test_a_reading_moves_the_forecast(desk: Desk, forecast: int, on: Callable[[Desk, date], Desk]) -> None:
    before = forecasts.outlook(desk, forecast)
    day = date(2026, 7, 1)
    middle = before.moisture_on(day)
    assert middle is not None

    add_reading(
        desk,
        AddReading(key=new_key(), stack_id=forecast, kind="oven", value=middle[1] + 0.05, happened_on=day),
    )

    assert forecasts.outlook(desk, forecast).stale
    assert forecasts.refresh(desk) == 1
    after = forecasts.outlook(desk, forecast)
    moved = after.moisture_on(day)
    assert moved is not None
    assert moved[1] > middle[1] + 0.01
    assert moved[2] - moved[0] < middle[2] - middle[0]


def test_today_lists_the_due_and_the_unpromised(desk: Desk, forecast: int, ware: int, household: int) -> None:
    placed = place(desk, household, ware, forecast, 1)
    near = PlaceOrder(
        key=new_key(), household_id=household, ware_id=ware, ranked_m3=CORD_M3, wanted_by=date(2026, 10, 5)
    )
    noted = place_order(desk, near)

    page = today(desk)

    assert [item.id for item in page.unpromised] == [noted["order_id"]]
    assert page.promised_m3 == pytest.approx(CORD_M3)
    assert placed["order_id"] not in [item.id for item in page.due]
    assert page.progress.done == page.progress.wanted == 1


def test_an_unlawful_name_never_reaches_a_ticket(desk: Desk, forecast: int, household: int) -> None:
    """Canada: Measurement Canada calls the face cord illegal (see rules/data/forbidden_terms.csv)."""
    from rickyard.desk.wares import SetWare, WareFacts, set_ware

    facts = WareFacts(name="Face cord of maple", piece_length_m=0.406, price_minor=14000)
    bad = set_ware(desk, SetWare(key=new_key(), facts=facts))["ware_id"]
    placed = place(desk, household, bad, forecast, 1)

    with pytest.raises(RefusedError) as caught:
        deliver(desk, Deliver(key=new_key(), order_id=placed["order_id"], delivered_on=date(2026, 10, 1)))  # type: ignore[arg-type]

    assert caught.value.code == "unlawful_wording"
    assert order(desk, int(placed["order_id"])).state == "promised"  # type: ignore[call-overload]
