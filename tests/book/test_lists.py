"""Long lists: a page after the other gives every row once and in order, also while rows come in; a search finds
what looking through all of them finds."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from tests.book.conftest import SmallYard, found_yard

from rickyard.book import Book, Move, next_number, post
from rickyard.book.models import Deed as DeedRow
from rickyard.book.models import Household, Load, Naming, Order, Spot, Stack, StackMeasure, Ticket
from rickyard.desk.audit import deeds_done
from rickyard.desk.context import Desk
from rickyard.desk.households import households
from rickyard.desk.loads import loads
from rickyard.desk.orders import orders
from rickyard.desk.paging import A_PAGE, MOST_SEARCH, ascii_lower, one_page, spellings
from rickyard.desk.stacks import stacks
from rickyard.desk.tickets import tickets
from rickyard.desk.trees import namings

DAY = date(2026, 3, 1)
NOW = datetime(2026, 11, 1, 15, tzinfo=UTC)
_numbers = itertools.count(1)
# Few values, so that rows tie and the id must part them.
values = st.integers(0, 3)
texts = st.text(alphabet="abAB %_\\éÉ'1", max_size=6)


def _spot(session: Any, yard_id: int, kind: str) -> int:
    spot = Spot(yard_id=yard_id, kind=kind)
    session.add(spot)
    session.flush()
    return spot.id


def add_household(yard: SmallYard, value: int, text: str = "") -> int:
    with yard.book.write(yard.yard_id) as session:
        home = Household(
            yard_id=yard.yard_id,
            spot_id=_spot(session, yard.yard_id, "household"),
            name=text or f"name {value}",
        )
        session.add(home)
        session.flush()
        return home.id


def add_load(yard: SmallYard, value: int, text: str = "somewhere") -> int:
    with yard.book.write(yard.yard_id) as session:
        load = Load(
            yard_id=yard.yard_id,
            number=next_number(session, yard.yard_id, "load"),
            spot_id=_spot(session, yard.yard_id, "load"),
            lot_id=yard.lot,
            source=text,
            arrived_on=DAY + timedelta(days=value),
            detail="rough",
            mass_sd_share=0.2,
        )
        session.add(load)
        session.flush()
        return load.id


def add_stack(yard: SmallYard, value: int, text: str = "") -> int:
    with yard.book.write(yard.yard_id) as session:
        stack = Stack(
            yard_id=yard.yard_id,
            spot_id=_spot(session, yard.yard_id, "stack"),
            name=f"S{value}-{next(_numbers)}",
            kind="stack",
            form="split",
            piece_length_m=0.4,
            thickness_m=0.1,
            cover="top",
            exposure="normal",
            stacked_on=DAY,
            target_mc_wet=0.2,
            note=text,
        )
        session.add(stack)
        session.flush()
        session.add(
            StackMeasure(
                yard_id=yard.yard_id,
                stack_id=stack.id,
                happened_at=NOW,
                piled="ranked",
                length_m=2.0,
                heights_m=[1.0],
                outside_m3=0.8,
                mass_g=1000,
            )
        )
        return stack.id


def add_order(yard: SmallYard, value: int, text: str = "") -> int:
    with yard.book.write(yard.yard_id) as session:
        order = Order(
            yard_id=yard.yard_id,
            number=next_number(session, yard.yard_id, "order"),
            household_id=yard.household_id,
            ware_id=yard.ware_id,
            typed="1 cord",
            outside_m3=3.6,
            asked_on=DAY,
            wanted_by=DAY + timedelta(days=value),
            state="asked",
            total_minor=100,
            note=text,
        )
        session.add(order)
        session.flush()
        return order.id


def add_ticket(yard: SmallYard, value: int, text: str = "") -> int:
    with yard.book.write(yard.yard_id) as session:
        moves = [
            Move(spot, "acer_saccharum", "split", yard.lot, g)
            for spot, g in ((yard.stack, -9), (yard.gate, 9))
        ]
        entry = post(session, yard.yard_id, kind="gate_sale", happened_at=NOW, recorded_at=NOW, moves=moves)
        ticket = Ticket(
            yard_id=yard.yard_id,
            number=next_number(session, yard.yard_id, "ticket"),
            entry_id=entry.id,
            issued_at=NOW,
            delivered_on=DAY + timedelta(days=value),
            outside_m3=1.0,
            price_minor=1,
            tax_minor=0,
            total_minor=1,
            currency="CAD",
            facts={"buyer": {"name": text}, "ware": "a ware"},
        )
        session.add(ticket)
        session.flush()
        return ticket.id


def add_deed(yard: SmallYard, value: int, text: str = "") -> int:
    with yard.book.write(yard.yard_id) as session:
        deed = DeedRow(
            yard_id=yard.yard_id,
            client_key=f"list-{next(_numbers):08d}",
            kind="pay",
            body_hash="0" * 64,
            answer={},
            happened_at=NOW,
            recorded_at=NOW,
        )
        session.add(deed)
        session.flush()
        return deed.id


def add_naming(yard: SmallYard, value: int, text: str = "") -> int:
    deed_id = add_deed(yard, value)
    with yard.book.write(yard.yard_id) as session:
        row = Naming(
            yard_id=yard.yard_id,
            deed_id=deed_id,
            logs=[],
            situations=[],
            answers=[],
            not_seen=[],
            counts={},
            exponent=1.0,
            tables="0" * 12,
            level="undecided",
            odds=0.5,
            leader="quru",
            leader_odds=0.5,
        )
        session.add(row)
        session.flush()
        return row.id


@dataclass(frozen=True)
class Listed:
    """How rows of a list come in, a page of it, what it is ordered by, and whether from the last one back."""

    add: Callable[[SmallYard, int], int]
    page: Callable[[Desk, int | None, int | None], list[Any]]
    key: Callable[[Any], tuple[Any, ...]]
    backwards: bool


LISTS = {
    "households": Listed(
        add_household,
        lambda desk, last, limit: households(desk, after=last, limit=limit),
        lambda row: (row.name, row.id),
        False,
    ),
    "loads": Listed(
        add_load,
        lambda desk, last, limit: loads(desk, before=last, limit=limit),
        lambda row: (row.arrived_on, row.id),
        True,
    ),
    "stacks": Listed(
        add_stack,
        lambda desk, last, limit: stacks(desk, after=last, limit=limit),
        lambda row: (row.name, row.id),
        False,
    ),
    "orders": Listed(
        add_order,
        lambda desk, last, limit: orders(desk, after=last, limit=limit),
        lambda row: (row.wanted_by, row.number),
        False,
    ),
    "orders, the last first": Listed(
        add_order,
        lambda desk, last, limit: orders(desk, newest_first=True, after=last, limit=limit),
        lambda row: (row.wanted_by, row.number),
        True,
    ),
    "tickets": Listed(
        add_ticket,
        lambda desk, last, limit: tickets(desk, before=last, limit=limit or 1000),
        lambda row: (row.number,),
        True,
    ),
    "named trees": Listed(
        add_naming,
        lambda desk, last, limit: namings(desk, confirmed=False, before=last, limit=limit),
        lambda row: (row.id,),
        True,
    ),
    "deeds": Listed(
        add_deed,
        lambda desk, last, limit: deeds_done(desk, before=last)[:limit],
        lambda row: (row.id,),
        True,
    ),
}
few = settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])


def fresh(book: Book) -> tuple[SmallYard, Desk]:
    """Another yard in the book, so that each example begins with empty lists."""
    yard = found_yard(book, f"Yard {next(_numbers)}")
    return yard, Desk(book, yard.yard_id, lambda: NOW)


@pytest.mark.parametrize("name", LISTS)
@few
@given(
    there=st.lists(values, max_size=8),
    coming=st.lists(st.lists(values, max_size=2), max_size=8),
    size=st.integers(1, 4),
)
def test_pages_give_every_row_once_and_in_order(
    book: Book, name: str, there: list[int], coming: list[list[int]], size: int
) -> None:
    listed = LISTS[name]
    yard, desk = fresh(book)
    for value in there:
        listed.add(yard, value)
    at_first = [listed.key(row) for row in listed.page(desk, None, None)]
    assert at_first == sorted(at_first, reverse=listed.backwards)
    assert len(at_first) >= len(there)

    seen: list[tuple[Any, ...]] = []
    last: int | None = None
    arrivals: Iterator[list[int]] = iter(coming)
    for _ in range(100):
        found, more = one_page(listed.page(desk, last, size + 1), size)
        seen += [listed.key(row) for row in found]
        if not more:
            break
        last = found[-1].id
        for value in next(arrivals, []):
            listed.add(yard, value)
    else:
        pytest.fail("the pages do not come to an end")

    assert seen == sorted(set(seen), reverse=listed.backwards)
    assert set(at_first) <= set(seen)


def test_nothing_comes_after_a_row_that_is_not_there(book: Book) -> None:
    yard, desk = fresh(book)
    add_load(yard, 1)
    assert loads(desk)
    assert loads(desk, before=2**31 - 1) == []


@few
@given(names=st.lists(texts.filter(str.strip), max_size=8), search=texts)
def test_a_search_finds_what_a_look_at_all_finds(book: Book, names: list[str], search: str) -> None:
    yard, desk = fresh(book)
    for name in names:
        add_household(yard, 0, name)
        add_load(yard, 0, name)
        add_stack(yard, 0, name)
        add_ticket(yard, 0, name)
    wanted = spellings(search)

    def holds(*fields: str) -> bool:
        return any(one in ascii_lower(field) for one in wanted for field in fields)

    is_number = search.strip().isdigit()

    def found(rows: list[Any]) -> set[int]:
        return {row.id for row in rows}

    assert found(households(desk, search=search)) == {
        row.id for row in households(desk) if holds(row.name, row.address, row.phone)
    }
    assert found(loads(desk, search=search)) == {
        row.id
        for row in loads(desk)
        if holds(row.source, row.typed) or (is_number and row.number == int(search))
    }
    assert found(tickets(desk, search=search)) == {
        row.id for row in tickets(desk) if holds(row.buyer) or (is_number and row.number == int(search))
    }
    with book.read() as session:
        notes = dict(session.execute(select(Stack.id, Stack.note)).all())
    assert found(stacks(desk, search=search)) == {
        row.id for row in stacks(desk) if holds(row.name, row.row_label, notes[row.id])
    }


def test_a_search_goes_on_by_pages_too(book: Book) -> None:
    yard, desk = fresh(book)
    for number in range(9):
        add_order(yard, number % 3, "by the mill" if number % 2 else "at the ferry")
    whole = [row.id for row in orders(desk, search="MILL")]
    assert len(whole) == 4
    first = orders(desk, search="MILL", limit=3)
    rest = orders(desk, search="MILL", after=first[-1].id, limit=3)
    assert [row.id for row in (*first, *rest)] == whole


def test_odd_searches_are_no_error(book: Book) -> None:
    yard, desk = fresh(book)
    add_household(yard, 0, "100 % Birch_Lane")
    for search in ("%", "_", "\\", "\0", "9" * 40, "x" * (MOST_SEARCH + 50)):
        for row in households(desk, search=search):
            assert search in ("%", "_", "\0") or row.name != "100 % Birch_Lane"
        loads(desk, search=search), orders(desk, search=search), tickets(desk, search=search)
    assert len(households(desk, search="% b")) == 1
    assert A_PAGE >= 20
