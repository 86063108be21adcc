"""How wood is traced, on histories made up leg by leg: shares by hand, and that nothing is lost or invented."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rickyard.desk.way_legs import BEFORE, LESS, MORE, SINKS, SOURCES, Bucket, History, Leg, Place
from rickyard.desk.way_trace import Trace, spread_of, trace

A, B, C = (Place("stack", number) for number in (1, 2, 3))
LOSS = Place("loss", 9)
BUYER = Place("ticket", 5)


def bucket(place: Place) -> Bucket:
    return Bucket(place, "acer-saccharum", 1)


def history(*moves: tuple[Place, Place, float], sd: float = 0.0) -> History:
    entries = [
        [Leg(bucket(start), bucket(end), grams, number, date(2026, 1, 1), sd if start in (BEFORE,) else 0.0)]
        for number, (start, end, grams) in enumerate(moves)
    ]
    return History(entries, {A, B, C}, {})


def sums(found: Trace) -> dict[tuple[Place, Place], float]:
    total: dict[tuple[Place, Place], float] = defaultdict(float)
    for flow in found.flows:
        total[flow.start, flow.end] += flow.grams
    return {ends: pytest.approx(grams, abs=0.1) for ends, grams in total.items()}


def test_what_left_before_is_not_on_the_way() -> None:
    """Half of A went to C before B's wood came to A; C has none of B's."""
    story = history((BEFORE, A, 100), (A, C, 50), (BEFORE, B, 50), (B, A, 50))

    assert sums(trace(story, frozenset({C}))) == {(BEFORE, A): 50, (A, C): 50}
    assert sums(trace(story, frozenset({B}))) == {(BEFORE, B): 50, (B, A): 50}


def test_mixed_wood_goes_by_its_share() -> None:
    story = history((BEFORE, A, 100), (BEFORE, B, 300), (B, A, 300), (A, BUYER, 200), (A, LOSS, 200))

    assert sums(trace(story, frozenset({BUYER}))) == {
        (BEFORE, A): 50,
        (BEFORE, B): 150,
        (B, A): 150,
        (A, BUYER): 200,
    }
    assert sums(trace(story, frozenset({B})))[A, LOSS] == 150


def test_a_round_trip_is_one_wood() -> None:
    """Of A's 100 half goes to B and back: it came once, and lies there whole."""
    story = history((BEFORE, A, 100), (A, B, 50), (B, A, 50))

    found = trace(story, frozenset({A}))

    assert sums(found) == {(BEFORE, A): 100, (A, B): 50, (B, A): 50}
    assert sum(flow.new_g for flow in found.flows) == pytest.approx(100)
    assert found.lying == {A: pytest.approx(100)}


def test_differences_carry_nothing() -> None:
    """A is found 40 less, B 40 more: nothing went from one to the other."""
    story = history((BEFORE, A, 100), (BEFORE, B, 100), (A, LESS, 40), (MORE, B, 40))

    assert sums(trace(story, frozenset({B}))) == {(BEFORE, B): 100, (MORE, B): 40}
    assert sums(trace(story, frozenset({A}))) == {(BEFORE, A): 100, (A, LESS): 40}


def test_what_left_before_it_came_is_a_difference_twice() -> None:
    story = history((A, BUYER, 30), (BEFORE, A, 100))

    found = trace(story, frozenset({A}))

    assert sums(found) == {(BEFORE, A): 100, (A, LESS): 30}
    assert {flow.cause for flow in found.flows if flow.end == LESS} == {"beyond"}
    assert sums(trace(story, frozenset({BUYER}))) == {(MORE, BUYER): 30}
    assert found.lying == {A: pytest.approx(70)}


def test_spreads_of_one_load_go_together_and_of_two_do_not() -> None:
    one = trace(history((BEFORE, A, 100), (A, B, 40), (B, C, 40), (A, C, 60), sd=0.1), frozenset({C}))
    two = trace(history((BEFORE, A, 50), (BEFORE, B, 50), (A, C, 50), (B, C, 50), sd=0.1), frozenset({C}))

    into = [[flow.error for flow in found.flows if flow.end == C] for found in (one, two)]
    assert spread_of(into[0]) == pytest.approx(10.0)
    assert spread_of(into[1]) == pytest.approx(50**0.5)


def test_a_measured_taking_is_unsure_all_the_way_back() -> None:
    story = history((BEFORE, A, 100), (A, BUYER, 50))
    story.entries[1] = [Leg(bucket(A), bucket(BUYER), 50, 1, date(2026, 1, 1), 0.2)]

    found = trace(story, frozenset({BUYER}))

    assert [spread_of([flow.error]) for flow in found.flows] == [pytest.approx(10.0), pytest.approx(10.0)]


_PLACES = st.sampled_from([A, B, C])
_MOVE = st.one_of(
    st.tuples(st.sampled_from([BEFORE, MORE]), _PLACES),
    st.tuples(_PLACES, st.sampled_from([LESS, LOSS, BUYER])),
    st.tuples(_PLACES, _PLACES).filter(lambda ends: ends[0] != ends[1]),
    st.just((BUYER, C)),
)


@settings(max_examples=150, deadline=None)
@given(moves=st.lists(st.tuples(_MOVE, st.integers(1, 1000)), min_size=1, max_size=14))
def test_sources_and_differences_make_up_what_is_there(moves) -> None:
    """Whatever went, in whatever order: at each place of each way, what came is what left and what lies there."""
    story = history(*((start, end, float(grams)) for (start, end), grams in moves))
    book: dict[Place, float] = defaultdict(float)
    for (start, end), grams in moves:
        book[start] -= grams
        book[end] += grams
    for focus in (A, B, C, BUYER):
        found = trace(story, frozenset({focus}))
        came: dict[Place, float] = defaultdict(float)
        left: dict[Place, float] = defaultdict(float)
        for flow in found.flows:
            assert flow.start.kind not in SINKS
            assert flow.end.kind not in SOURCES
            assert flow.grams > 0
            came[flow.end] += flow.grams
            left[flow.start] += flow.grams
        for place in {A, B, C, BUYER}:
            assert came[place] - left[place] == pytest.approx(found.lying.get(place, 0.0), abs=0.1)
        assert found.lying.get(focus, 0.0) == pytest.approx(max(0.0, book[focus]), abs=0.1)
        assert sum(flow.new_g for flow in found.flows) <= came[focus] + 0.1
