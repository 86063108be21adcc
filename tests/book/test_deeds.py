"""Deeds are done once, however often they are sent."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import func, select

from rickyard.book import do_once, post, stock
from rickyard.book.deeds import body_hash
from rickyard.book.models import Deed, Entry
from rickyard.errors import ClashError, RefusedError
from rickyard.text import T_


def send(
    yard, key: str, body: dict[str, Any], *, kind: str = "take_in", fails: bool = False
) -> dict[str, Any]:
    def run(deed: Deed) -> dict[str, Any]:
        entry = post(
            session,
            yard.yard_id,
            kind=kind,
            happened_at=deed.happened_at,
            recorded_at=deed.recorded_at,
            moves=yard.came_in(body["grams"]),
            deed_id=deed.id,
        )
        if fails:
            raise RefusedError(T_("No."))
        return {"entry": entry.number, "pair": (1, 2)}

    with yard.book.write() as session:
        return do_once(
            session,
            yard.yard_id,
            client_key=key,
            kind=kind,
            body=body,
            happened_at=yard.start,
            recorded_at=yard.start,
            run=run,
        )


def entries(yard) -> int:
    with yard.book.read() as session:
        return session.scalar(select(func.count()).select_from(Entry))


def test_the_same_key_gives_the_first_answer_and_does_nothing(yard) -> None:
    first = send(yard, "key-0001", {"grams": 5, "note": "é"})
    again = send(yard, "key-0001", {"note": "é", "grams": 5})

    assert first == again == {"entry": 1, "pair": [1, 2]}
    assert entries(yard) == 1


def test_another_key_does_it_again(yard) -> None:
    send(yard, "key-0001", {"grams": 5})

    assert send(yard, "key-0002", {"grams": 5})["entry"] == 2


@pytest.mark.parametrize(("body", "kind"), [({"grams": 6}, "take_in"), ({"grams": 5}, "opening")])
def test_the_same_key_with_something_else_is_refused(yard, body: dict[str, Any], kind: str) -> None:
    send(yard, "key-0001", {"grams": 5})

    with pytest.raises(ClashError) as caught:
        send(yard, "key-0001", body, kind=kind)

    assert caught.value.code == "key_used"
    assert entries(yard) == 1


def test_a_refused_deed_leaves_its_key_unused(yard) -> None:
    """The phone may send it again when what stood against it has changed."""
    with pytest.raises(RefusedError):
        send(yard, "key-0001", {"grams": 5}, fails=True)
    assert entries(yard) == 0

    assert send(yard, "key-0001", {"grams": 7})["entry"] == 1


def test_yards_do_not_share_keys(yard, found) -> None:
    other = found(yard.book, "Another yard")
    send(yard, "key-0001", {"grams": 5})
    send(other, "key-0001", {"grams": 9})

    with yard.book.read() as session:
        assert sum(stock(session, other.stack).values()) == 9


def test_the_entry_knows_its_deed(yard) -> None:
    send(yard, "key-0001", {"grams": 5})

    with yard.book.read() as session:
        deed = session.scalars(select(Deed)).one()
        assert session.scalars(select(Entry.deed_id)).one() == deed.id
        assert deed.happened_at == yard.start


NUMBERS = st.integers(-(2**60), 2**60) | st.floats(allow_nan=False, allow_infinity=False)
JSON = st.recursive(
    st.none() | st.booleans() | NUMBERS | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(body=st.dictionaries(st.text(), JSON, max_size=5))
def test_the_order_of_keys_does_not_matter(body: dict[str, Any]) -> None:
    assert body_hash("a", dict(reversed(body.items()))) == body_hash("a", body)


def test_one_is_one_but_true_is_not() -> None:
    """JSON has one kind of number: a phone may send 1.0 as 1."""
    assert body_hash("a", {"x": 1.0}) == body_hash("a", {"x": 1})
    assert body_hash("a", {"x": True}) != body_hash("a", {"x": 1})
    assert body_hash("a", {"x": [1, (2,)]}) == body_hash("a", {"x": [1, [2]]})


def test_what_json_cannot_carry_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON"):
        body_hash("a", {"x": float("nan")})
