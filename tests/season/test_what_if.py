"""What if: one change, the same members; and backwards, which must agree with looking forward."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from rickyard import season, weather
from rickyard.errors import InputError
from rickyard.season.backwards import THICKEST_M, THINNEST_M
from rickyard.season.labour import pieces_per_cord, splitting
from rickyard.season.what_if import AS_IT_IS, Change
from rickyard.weather import HourlyAir

MEMBERS = 8
# No shrinking: an example takes seconds.
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)
SPRING = date(2026, 4, 15)
LAST = date(2027, 6, 30)
ASH = season.Pieces(
    species_id="fraxinus_americana", form="split", length_m=0.41, thickness_m=0.12, stacked_on=SPRING
)


@pytest.fixture(scope="module")
def air() -> HourlyAir:
    place = weather.find_place("Fredericton")
    start = date(2025, 3, 1)
    return weather.generate_air(place, start, (LAST - start).days + 1, members=MEMBERS, seed=4)


def ask(air: HourlyAir, *changes: Change, pieces: season.Pieces = ASH, **more: object) -> season.WhatIf:
    return season.what_if([(1.0, pieces)], changes, air, until=LAST, members=MEMBERS, **more)  # type: ignore[arg-type]


def test_nothing_changed_is_the_forecast_itself(air: HourlyAir) -> None:
    found = ask(air, Change("same"), by=date(2026, 9, 15))
    model = season.screening_model()
    made = season.forecast(ASH, air, members=MEMBERS, until=LAST, model=model).ready(0.20)

    for outcome in found.outcomes:
        assert (outcome.p10, outcome.p50, outcome.p90) == (made.p10, made.p50, made.p90)
        assert outcome.sooner_days == (0, 0, 0)
    assert found.outcomes[0].change is AS_IT_IS
    assert found.model == model.name


@settings(
    max_examples=5, deadline=None, phases=PHASES, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    thickness_m=st.floats(0.06, 0.16),
    finer=st.floats(0.5, 0.9),
    length_m=st.sampled_from([0.25, 0.41]),
    species_id=st.sampled_from(["quercus_rubra", "betula_papyrifera", "pinus_strobus"]),
)
# Across the edge of a thickness class, which has a pace of its own.
@example(thickness_m=0.14188, finer=0.85069, length_m=0.25, species_id="quercus_rubra")
def test_finer_is_never_later(
    air: HourlyAir, thickness_m: float, finer: float, length_m: float, species_id: str
) -> None:
    pieces = replace(ASH, species_id=species_id, thickness_m=thickness_m, length_m=length_m)
    found = ask(air, Change("finer", {"thickness_m": thickness_m * finer}), pieces=pieces)
    base, changed = found.outcomes

    days = [np.where(np.array(o.ready_day) < 0, 9999, o.ready_day) for o in (base, changed)]
    # Another thickness is another grid: a day or two is not the wood's.
    assert (days[1] <= days[0] + 2).all()
    assert changed.sooner_days[1] >= 0


def test_a_later_start_is_never_drier(air: HourlyAir) -> None:
    month = timedelta(days=30)
    found = ask(
        air,
        Change("earlier", {"stacked_on": SPRING - month}),
        Change("later", {"stacked_on": SPRING + month}),
    )
    base, earlier, later = (np.where(np.array(o.ready_day) < 0, 9999, o.ready_day) for o in found.outcomes)

    assert (earlier <= base).all()
    assert (base <= later).all()


def test_odds_by_a_day_and_a_month_later(air: HourlyAir) -> None:
    first = ask(air, by=date(2026, 7, 1)).outcomes[0]

    assert first.odds_by is not None
    assert first.odds_later is not None
    days = np.array(first.ready_day)
    assert first.odds_by == np.mean((days >= 0) & (days <= (date(2026, 7, 1) - SPRING).days))
    assert first.odds_later >= first.odds_by


def test_a_stack_that_stands_is_changed_from_today_on(air: HourlyAir) -> None:
    """Nothing is dry before the change is made, and the stack left alone keeps its own forecast."""
    today = date(2026, 6, 1)
    oven = season.Reading(kind="oven", on=today, value=0.33)
    thick = replace(ASH, thickness_m=0.16)
    found = ask(air, Change("finer", {"thickness_m": 0.08}), pieces=thick, today=today, readings=[[oven]])
    base, finer = found.outcomes
    made = season.forecast(
        thick, air, members=MEMBERS, until=LAST, readings=[oven], model=season.screening_model()
    )

    assert base.p50 == made.ready(0.20).p50
    assert min(day for day in finer.ready_day if day >= 0) >= (today - SPRING).days
    assert finer.sooner_days[1] > 5


def test_mixed_stacks_change_as_a_whole(air: HourlyAir) -> None:
    oak = replace(ASH, species_id="quercus_rubra")
    found = season.what_if(
        [(0.5, ASH), (0.5, oak)],
        [Change("finer", {"thickness_m": 0.08})],
        air,
        until=LAST,
        today=date(2026, 5, 15),
        members=MEMBERS,
    )

    assert found.outcomes[1].sooner_days[1] > 0


def test_today_must_lie_in_the_forecast(air: HourlyAir) -> None:
    with pytest.raises(InputError, match="today"):
        ask(air, today=date(2025, 6, 1))


def test_usual_changes_leave_out_what_cannot_be_done() -> None:
    standing = {change.id for change in season.usual_changes(ASH, standing=True)}
    planned = {change.id for change in season.usual_changes(ASH, standing=False)}
    rounds = season.usual_changes(replace(ASH, form="round", thickness_m=0.2), standing=True)

    assert not standing & {"coarser", "earlier", "later"}
    assert planned >= {"finer", "coarser", "shorter", "cover_shed", "windier", "earlier", "later"}
    soon = season.usual_changes(ASH, standing=False, not_before=SPRING)
    assert "earlier" not in {change.id for change in soon}
    assert rounds[0].of(replace(ASH, form="round", thickness_m=0.2)).form == "split"


def test_hours_go_with_the_pieces() -> None:
    """A cord of the timed size takes the timed hours; finer from coarser takes the pieces that are added."""
    rounds = replace(ASH, form="round", thickness_m=0.24)
    whole = splitting(rounds, replace(ASH, thickness_m=0.12))
    again = splitting(ASH, replace(ASH, thickness_m=0.06))

    assert whole is not None
    assert whole.mid_h == pytest.approx(2.5)
    assert again is not None
    assert again.mid_h == pytest.approx(3 * 2.5)
    assert again.low_h < again.mid_h < again.high_h
    assert pieces_per_cord(ASH) == pytest.approx(408, rel=0.05)
    # Nobody timed sawing shorter, and coarser costs nothing to split.
    assert splitting(ASH, replace(ASH, length_m=0.30)) is None
    assert splitting(ASH, replace(ASH, thickness_m=0.15)) is None


@settings(
    max_examples=2, deadline=None, phases=PHASES, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    days=st.integers(120, 200),
    odds=st.sampled_from([0.5, 0.9]),
    species_id=st.sampled_from(["quercus_rubra", "betula_papyrifera"]),
)
def test_backwards_agrees_with_forward(air: HourlyAir, days: int, odds: float, species_id: str) -> None:
    """At the limit the forecast keeps the odds; a tolerance beyond it no longer."""
    by = SPRING + timedelta(days=days)
    pieces = replace(ASH, species_id=species_id)
    found = season.backwards(pieces, air, by=by, odds=odds, members=MEMBERS)
    model = season.screening_model()

    def share(what: season.Pieces) -> float:
        made = season.forecast(what, air, members=MEMBERS, until=by, model=model)
        return float(np.mean(made.ready_day(0.20) >= 0))

    limit = found.thickness
    assert share(replace(pieces, thickness_m=limit.thickness_m)) == limit.odds
    if limit.state == "found":
        assert limit.odds >= odds
        assert share(replace(pieces, thickness_m=limit.thickness_m + limit.tolerance_m)) < odds
    start = found.start
    assert share(replace(pieces, stacked_on=start.start)) == start.odds
    if start.state == "found":
        assert start.odds >= odds
        later = start.start + timedelta(days=start.tolerance_days + 1)
        assert share(replace(pieces, stacked_on=later)) < odds


def test_backwards_says_plainly_when_it_cannot_be(air: HourlyAir) -> None:
    short = season.backwards(ASH, air, by=SPRING + timedelta(days=4), members=MEMBERS)

    assert (short.thickness.state, short.thickness.thickness_m) == ("never", THINNEST_M)
    assert short.thickness.odds < 0.9


def test_backwards_says_plainly_when_anything_will_do(air: HourlyAir) -> None:
    dry = replace(ASH, start_mc_db=0.15)
    found = season.backwards(dry, air, by=SPRING + timedelta(days=30), members=MEMBERS)

    assert (found.thickness.state, found.thickness.thickness_m) == ("always", THICKEST_M)
    assert found.start.state == "always"


@pytest.mark.parametrize(("field", "more"), [("by", {"by": SPRING}), ("odds", {"by": LAST, "odds": 1.5})])
def test_backwards_refuses_nonsense(air: HourlyAir, field: str, more: dict[str, object]) -> None:
    with pytest.raises(InputError) as refused:
        season.backwards(ASH, air, members=MEMBERS, **more)  # type: ignore[arg-type]
    assert refused.value.field == field
