"""Measures in any order leave the journal as if they had come in time; what does not fit is kept as a clash."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from rickyard.book import StockKey, stock
from rickyard.book.models import Clash, Entry, Stack
from rickyard.book.running import NEGATIVE_G
from rickyard.desk.clashes import SettleClash, clash, clashes, settle_clash
from rickyard.desk.closing import EmptyStack, ReopenStack, empty_stack, reopen_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.readings import AddReading, add_reading, readings
from rickyard.desk.remeasure import OVERDRAWN
from rickyard.desk.stacking import (
    Dimensions,
    MeasureStack,
    OpeningStack,
    PiecesFacts,
    measure_stack,
    opening_stack,
)
from rickyard.desk.stacks import StackCard, stack_page, stacks
from rickyard.desk.wood_in import Harvest
from rickyard.errors import ClashError, InputError

MANY = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
DAYS = (date(2026, 6, 1), date(2026, 7, 1), date(2026, 8, 1), date(2026, 9, 1))


def outside(length_m: float) -> Dimensions:
    return Dimensions(length_m=length_m, heights_m=(1.5,), rows=3)


def measure(
    desk: Desk, stack: int, day: date, length_m: float, *, stock_taking: bool = True
) -> dict[str, object]:
    return measure_stack(
        desk,
        MeasureStack(
            key=new_key(),
            stack_id=stack,
            outside=outside(length_m),
            measured_on=day,
            stock_taking=stock_taking,
        ),
    )


def held(desk: Desk, stack: int, at: datetime | None = None) -> dict[StockKey, int]:
    with desk.book.read() as session:
        return stock(session, session.get_one(Stack, stack).spot_id, at=at)


def evening(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 23, tzinfo=UTC)


def twin(desk: Desk, pieces: PiecesFacts) -> int:
    """A stack that stood here before the book began; all of them hold the same wood to the gram."""
    return int(
        opening_stack(
            desk,
            OpeningStack(
                key=new_key(),
                shares=(("sugar maple", 0.6), ("yellow birch", 0.4)),
                harvest=Harvest(country="CA", subdivision="NB"),
                pieces=replace(pieces, name=new_key()[:20]),
                outside=outside(8.0),
            ),
        )["stack_id"]
    )


@pytest.fixture
def two_stacks(desk: Desk, pieces: PiecesFacts) -> tuple[int, int]:
    return twin(desk, pieces), twin(desk, pieces)


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))), ids=str)
def test_any_order_of_arrival_ends_the_same(
    desk: Desk, two_stacks: tuple[int, int], order: tuple[int, ...]
) -> None:
    """At every moment, kind by kind, to the gram."""
    in_time, late = two_stacks
    taken = [(DAYS[0], 7.0), (DAYS[1], 6.2), (DAYS[2], 6.6)]
    for day, length_m in taken:
        measure(desk, in_time, day, length_m)
    for index in order:
        measure(desk, late, *taken[index])

    for day in DAYS:
        assert held(desk, late, evening(day)) == held(desk, in_time, evening(day))
    assert held(desk, late) == held(desk, in_time)
    one, other = stack_page(desk, in_time), stack_page(desk, late)
    seen = [[(line.happened_at, line.outside_m3) for line in page.measures] for page in (one, other)]
    assert seen[0] == seen[1]
    assert other.card.outside_m3 == pytest.approx(outside_m3(6.6), rel=1e-4)
    assert other.card.length_m == 6.6
    assert clashes(desk) == []


def test_a_late_measure_posts_nothing_twice(desk: Desk, stack: int) -> None:
    measure(desk, stack, DAYS[2], 9.0)
    before, number = held(desk, stack), entries(desk)

    answer = measure(desk, stack, DAYS[0], 12.0)

    assert answer["difference_g"] == 0
    assert held(desk, stack) == before
    # To the late measure and back again: two entries that cancel out, at the two moments.
    assert entries(desk) == number + 2
    assert stack_page(desk, stack).card.length_m == 9.0


@MANY
@given(
    lengths=st.lists(st.floats(3.0, 14.0), min_size=2, max_size=4),
    counts=st.lists(st.booleans(), min_size=4, max_size=4),
    data=st.data(),
)
def test_the_newest_measure_decides_whatever_came_when(
    desk: Desk, pieces: PiecesFacts, lengths: list[float], counts: list[bool], data: st.DataObject
) -> None:
    """Stock-takings and mere looks, in any order: as in time, to the gram, at every moment."""
    order = data.draw(st.permutations(range(len(lengths))))
    in_time, late = twin(desk, pieces), twin(desk, pieces)
    for index, length_m in enumerate(lengths):
        measure(desk, in_time, DAYS[index], length_m, stock_taking=counts[index])
    for index in order:
        measure(desk, late, DAYS[index], lengths[index], stock_taking=counts[index])

    for day in DAYS:
        assert held(desk, late, evening(day)) == held(desk, in_time, evening(day))
    assert held(desk, late) == held(desk, in_time)


def test_wood_sold_between_two_measures(desk: Desk, stack: int, ware: int, on: Callable[..., Desk]) -> None:
    """A measure of before the sale that comes after it leaves what was measured after the sale."""
    measure(desk, stack, DAYS[0], 15.0)
    sale_day = on(desk, DAYS[1])
    sell_at_gate(
        sale_day,
        SellAtGate(key=new_key(), ware_id=ware, stack_id=stack, ranked_m3=3.0, paid_in_full=True),
    )
    volume = stack_page(desk, stack).card.outside_m3
    assert volume == pytest.approx(outside_m3(15.0) - 3.0, rel=1e-3)

    measure(desk, stack, date(2026, 6, 15), 14.0)

    # By then it was smaller than thought; the sale is taken off that.
    assert stack_page(desk, stack).card.outside_m3 == pytest.approx(outside_m3(14.0) - 3.0, rel=2e-3)


def test_a_measure_of_before_a_recorded_sale_keeps_the_sale(
    desk: Desk, stack: int, ware: int, on: Callable[..., Desk]
) -> None:
    sell_at_gate(
        on(desk, DAYS[1]),
        SellAtGate(key=new_key(), ware_id=ware, stack_id=stack, ranked_m3=3.0, paid_in_full=True),
    )

    measure(desk, stack, DAYS[0], 15.0)

    assert stack_page(desk, stack).card.outside_m3 == pytest.approx(outside_m3(15.0) - 3.0, rel=2e-3)


def test_a_sale_told_late_is_not_taken_off_what_was_measured_after_it(
    desk: Desk, stack: int, ware: int
) -> None:
    """The measure saw the stack without the wood that was sold before it; the sale's report comes a month late."""
    measure(desk, stack, DAYS[1], 14.0)
    sell_at_gate(
        desk,
        SellAtGate(
            key=new_key(),
            ware_id=ware,
            stack_id=stack,
            ranked_m3=3.0,
            paid_in_full=True,
            happened_at=evening(DAYS[0]),
        ),
    )

    assert stack_page(desk, stack).card.outside_m3 == pytest.approx(outside_m3(14.0), rel=2e-3)
    day_before = evening(date(2026, 5, 31))
    assert sum(held(desk, stack, evening(DAYS[0])).values()) < sum(held(desk, stack, day_before).values())


def test_a_late_measure_that_leaves_less_than_was_sold_since(
    desk: Desk, stack: int, ware: int, on: Callable[..., Desk]
) -> None:
    """Both were seen in the yard, so both stay; the book says that they cannot both be so, and says it once."""
    sold = on(desk, DAYS[2])
    sell_at_gate(
        sold, SellAtGate(key=new_key(), ware_id=ware, stack_id=stack, ranked_m3=6.0, paid_in_full=True)
    )

    first = measure(desk, stack, DAYS[1], 1.0)

    assert sum(held(desk, stack).values()) < -NEGATIVE_G
    (number,) = first["clashes"]
    told = clash(desk, number)
    assert told.code == OVERDRAWN
    assert "less than was taken from it" in told.sentence
    assert measure(desk, stack, DAYS[1], 1.5)["clashes"] == [number]

    # What the sentence advises: the right size for the same day, or to close what is gone.
    assert measure(desk, stack, DAYS[1], 15.0)["clashes"] == []
    assert min(held(desk, stack).values()) > 0
    measure(desk, stack, DAYS[1], 1.0)
    empty_stack(desk, EmptyStack(key=new_key(), stack_id=stack, reason="gone"))
    assert held(desk, stack) == {}


def test_a_measure_on_the_day_of_the_stacking_counts(desk: Desk, stack: int) -> None:
    """The stacking stands for noon; who measures that morning measures after it."""
    early = replace(desk, clock=lambda: datetime(2026, 4, 15, 12, tzinfo=UTC))
    measure_stack(early, MeasureStack(key=new_key(), stack_id=stack, outside=outside(15.0)))

    assert stack_page(desk, stack).card.length_m == 15.0


# -- clashes ---------------------------------------------------------------------------------------


def close(desk: Desk, stack: int, on: Callable[..., Desk], day: date) -> None:
    empty_stack(on(desk, day), EmptyStack(key=new_key(), stack_id=stack, reason="burnt in the shop"))


def test_a_closed_stack_that_was_measured(desk: Desk, stack: int, on: Callable[..., Desk]) -> None:
    close(desk, stack, on, DAYS[1])
    number = entries(desk)

    answer = measure(desk, stack, DAYS[2], 4.0)

    (line,) = clashes(desk)
    assert answer["clashes"] == [line.id]
    assert (line.code, line.subject_kind, line.stack_id) == ("stack_closed", "stack", stack)
    assert "was closed on 2026-07-01, but stood on 2026-08-01 with 7.3 m³" in line.sentence
    assert entries(desk) == number
    assert stack_page(desk, stack).measures[-1].outside_m3 == pytest.approx(outside_m3(4.0))
    assert stack_page(desk, stack).card.outside_m3 == 0


def test_opened_again_the_book_follows_what_was_measured(
    desk: Desk, stack: int, on: Callable[..., Desk]
) -> None:
    before = stack_page(desk, stack).card
    close(desk, stack, on, DAYS[1])
    measure(desk, stack, DAYS[2], 4.0)

    answer = reopen_stack(desk, ReopenStack(key=new_key(), stack_id=stack, reason="another was burnt"))

    card = stack_page(desk, stack).card
    assert card.emptied_on is None
    assert [item.id for item in stacks(desk)] == [stack]
    assert card.outside_m3 == pytest.approx(outside_m3(4.0), rel=1e-4)
    share = card.outside_m3 / before.outside_m3
    assert card.oven_dry_kg == pytest.approx(before.oven_dry_kg * share, rel=1e-3)
    assert answer["brought_back_g"] == pytest.approx(1000 * card.oven_dry_kg)
    with pytest.raises(InputError):
        reopen_stack(desk, ReopenStack(key=new_key(), stack_id=stack, reason="again"))


def test_opened_again_without_a_measure_all_comes_back(
    desk: Desk, stack: int, on: Callable[..., Desk]
) -> None:
    before = held(desk, stack)
    close(desk, stack, on, DAYS[1])

    reopen_stack(desk, ReopenStack(key=new_key(), stack_id=stack, reason="the wrong one"))

    assert held(desk, stack) == before


def test_a_measure_from_before_the_closing_changes_nothing(
    desk: Desk, stack: int, on: Callable[..., Desk]
) -> None:
    close(desk, stack, on, DAYS[1])

    measure(desk, stack, DAYS[0], 12.0)

    (line,) = clashes(desk)
    assert "came only after the stack was closed" in line.sentence
    assert sum(held(desk, stack).values()) == 0


def test_a_measure_from_before_the_stacking(desk: Desk, stack: int) -> None:
    before, card = held(desk, stack), stack_page(desk, stack).card

    measure(desk, stack, date(2026, 3, 1), 12.0)

    (line,) = clashes(desk)
    assert line.code == "before_stacking"
    assert held(desk, stack) == before
    after = stack_page(desk, stack)
    assert after.card == card
    assert after.measures[0].outside_m3 == pytest.approx(outside_m3(12.0))


def test_larger_than_its_wood_is_taken_with_a_clash(desk: Desk, stack: int) -> None:
    answer = measure(desk, stack, DAYS[0], 60.0)

    (line,) = clashes(desk)
    assert answer["clashes"] == [line.id]
    assert line.code == "larger_than_wood"
    assert stack_page(desk, stack).card.outside_m3 == pytest.approx(outside_m3(60.0), rel=1e-4)


@pytest.mark.parametrize("bad", [-3.0, 0.0, 1000.0])
def test_nonsense_is_still_refused(desk: Desk, stack: int, bad: float) -> None:
    with pytest.raises(InputError) as caught:
        measure(desk, stack, DAYS[0], bad)

    assert caught.value.field == "length"
    assert clashes(desk) == []


@pytest.mark.parametrize("day", [date(1989, 12, 31), date(2026, 10, 3)])
def test_days_out_of_this_world_are_refused(desk: Desk, stack: int, day: date) -> None:
    with pytest.raises(InputError) as caught:
        measure(desk, stack, day, 8.0)

    assert caught.value.field == "measured_on"


def test_an_unknown_stack_is_refused(desk: Desk) -> None:
    for report in (
        lambda: measure(desk, 999, DAYS[0], 8.0),
        lambda: add_reading(desk, a_reading(999)),
    ):
        with pytest.raises(InputError) as caught:
            report()
        assert caught.value.code == "unknown_stack"


def a_reading(stack: int, **changes: object) -> AddReading:
    command = AddReading(
        key=new_key(),
        stack_id=stack,
        kind="meter",
        value=22.0,
        happened_on=date(2026, 9, 1),
        species="sugar maple",
    )
    return replace(command, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "code", "words"),
    [
        ({"happened_on": date(2026, 2, 1)}, "before_stacking", "before it was stacked on 2026-04-15"),
        ({"species": "white ash"}, "species_not_held", "by the book none of it stands there"),
    ],
)
def test_readings_that_do_not_fit_are_taken(
    desk: Desk, stack: int, changes: dict[str, object], code: str, words: str
) -> None:
    answer = add_reading(desk, a_reading(stack, **changes))

    (line,) = clashes(desk, stack_id=stack)
    assert answer["clashes"] == [line.id]
    assert (line.code, line.subject_kind, line.subject_id) == (code, "reading", answer["reading_id"])
    assert words in line.sentence
    (kept,) = readings(desk, stack)
    assert kept.species is not None
    assert kept.species.common_en == changes.get("species", "sugar maple")


def test_a_reading_that_does_not_fit_moves_no_forecast_the_wrong_way(desk: Desk, stack: int) -> None:
    """One of before the stacking is left out; one of a wood that is not there counts for all of it."""
    from rickyard.desk.forecasts import wanted

    add_reading(desk, a_reading(stack, happened_on=date(2026, 2, 1)))
    add_reading(desk, a_reading(stack, species="white ash", happened_on=date(2026, 9, 2)))
    add_reading(desk, a_reading(stack))

    ((inputs, _),) = wanted(desk)
    assert [(reading.on, species) for species, reading in inputs.readings] == [
        (date(2026, 9, 1), "acer_saccharum"),
        (date(2026, 9, 2), None),
    ]


@pytest.mark.parametrize(("day", "words"), [(DAYS[0], "came only after"), (DAYS[2], "but was read on")])
def test_a_reading_of_a_closed_stack(
    desk: Desk, stack: int, on: Callable[..., Desk], day: date, words: str
) -> None:
    close(desk, stack, on, DAYS[1])

    add_reading(desk, a_reading(stack, happened_on=day))

    (line,) = clashes(desk)
    assert line.code == "stack_closed"
    assert words in line.sentence


def test_sent_again_a_report_raises_its_clash_once(desk: Desk, stack: int) -> None:
    command = a_reading(stack, species="white ash")
    first, second = add_reading(desk, command), add_reading(desk, command)

    assert first == second
    assert len(clashes(desk)) == 1


def test_settling(desk: Desk, stack: int) -> None:
    add_reading(desk, a_reading(stack, species="white ash"))
    (line,) = clashes(desk)

    settle_clash(desk, SettleClash(key=new_key(), clash_id=line.id, note="It was A2."))

    assert clashes(desk) == []
    after = clash(desk, line.id)
    assert after.note == "It was A2."
    assert after.settled_at == desk.now()
    assert stack_page(desk, stack).clashes == (after,)
    with desk.book.read() as session:
        assert session.scalars(select(Clash.settled_deed_id)).one() is not None
    with pytest.raises(ClashError) as caught:
        settle_clash(desk, SettleClash(key=new_key(), clash_id=line.id, note="Me too."))
    assert caught.value.code == "already_settled"
    with pytest.raises(InputError) as unknown:
        settle_clash(desk, SettleClash(key=new_key(), clash_id=999, note="What?"))
    assert unknown.value.code == "unknown_clash"


def outside_m3(length_m: float) -> float:
    return length_m * 1.5 * 3 * 0.406


def entries(desk: Desk) -> int:
    with desk.book.read() as session:
        return session.scalar(select(func.count()).select_from(Entry)) or 0


def test_cards_do_not_care_for_the_order(desk: Desk, two_stacks: tuple[int, int]) -> None:
    card: Callable[[int], StackCard] = lambda stack: stack_page(desk, stack).card  # noqa: E731
    first, second = two_stacks
    measure(desk, first, DAYS[0], 7.0)
    measure(desk, first, DAYS[1], 6.0)
    measure(desk, second, DAYS[1], 6.0)
    measure(desk, second, DAYS[0], 7.0)

    assert card(first).outside_m3 == pytest.approx(card(second).outside_m3)
