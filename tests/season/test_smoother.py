"""The smoother by itself, on wood that dries by a formula: calibrated, one-sided where only a bound is known,
the same whatever the order, and never obeying a wrong entry."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from rickyard import wood
from rickyard.errors import InputError
from rickyard.season.ensemble import draw
from rickyard.season.pieces import Pieces
from rickyard.season.readings import Reading, cautions, evidence, mean_shown
from rickyard.season.smoother import assimilate

START = date(2026, 4, 1)
OAK = wood.get_species("quercus_rubra")
PIECES = Pieces("quercus_rubra", "split", 0.41, 0.12, stacked_on=START)
MEMBERS, DAYS = 64, 200
FIELDS = ("log_k_d", "log_phi", "log_size", "start_db", "log_k_d_shared")


def day(n):
    return START + timedelta(days=n)


def drying(weather, days_of=120):
    """An exponential towards 0.15 whose pace the wood, the air, the size and each member's weather set."""

    def simulate(ensemble, days):
        pace = np.exp(ensemble.log_k_d + 0.4 * ensemble.log_phi - 2 * ensemble.log_size + weather) / days_of
        gone = np.exp(-pace * np.arange(days + 1)[:, None])
        return (0.15 + (ensemble.start_db - 0.15) * gone).astype(np.float32)

    return simulate


def members_of(n, members=MEMBERS):
    return draw(PIECES, OAK, members, n, "stack"), 0.08 * np.random.default_rng(n).standard_normal(members)


def read_off(truth, kind, on, rng, latents, **said):
    """A reading of the truth with an error as the error model has it."""
    plain = {"oven": 0.4, "weighed": 0.8, "meter": 20.0}[kind]
    model = evidence(Reading(kind, day(on), plain, **said), OAK, START)
    seen = float(model.predicted(truth, latents)[0] + model.sd * rng.standard_normal())
    value = {"oven": seen / (1 + seen), "weighed": seen, "meter": 100 * seen}[kind]
    return Reading(kind, day(on), float(np.clip(value, 0.25 if kind != "meter" else 3, 149)), **said)


def told(n, readings, members=MEMBERS, days_of=120):
    ensemble, weather = members_of(n, members)
    taken = [evidence(reading, OAK, START) for reading in readings]
    simulate = drying(weather, days_of)
    heard = assimilate(ensemble, taken, simulate, ("test", n))
    return heard, simulate(heard.ensemble, DAYS)


SCHEDULES = {
    "oven and a weighing": [("oven", 0, {}), ("weighed", 30, {})],
    "oven of a marked piece, two weighings": [
        ("oven", 0, {"own": True, "pieces": 3}),
        ("weighed", 30, {"pieces": 3}),
        ("weighed", 60, {"pieces": 3}),
    ],
    "two readings of a meter": [("meter", 90, {"pieces": 4}), ("meter", 110, {"pieces": 4})],
}


@pytest.mark.parametrize("schedule", SCHEDULES.values(), ids=list(SCHEDULES))
def test_the_band_holds_as_often_as_it_says(schedule):
    """Truths drawn as the members are, read with the errors assumed: 10 to 90 % holds 8 in 10, within the
    two-sided 99.8 % interval of a binomial of 60."""
    held, count = 0, 60
    for n in range(count):
        rng = np.random.default_rng(900 + n)
        pool = draw(PIECES, OAK, MEMBERS, 7000 + n, "truth")
        one = replace(pool, **{name: getattr(pool, name)[n : n + 1] for name in FIELDS})
        truth = drying(0.08 * rng.standard_normal(1))(one, DAYS)
        latents = {name: rng.standard_normal(1) for name in ("meter", "start 0", "pace 0")}
        readings = [read_off(truth, kind, on, rng, latents, **said) for kind, on, said in schedule]
        _, after = told(n, readings)
        low, high = np.percentile(after[150], (10, 90))
        held += bool(low <= truth[150, 0] <= high)
    low, high = binom.interval(0.998, count, 0.8)
    assert low <= held <= high


def test_more_readings_narrow_on_average():
    """Mean width over twenty truths after nothing, an oven sample, one weighing, two."""
    widths = np.zeros(4)
    for n in range(20):
        rng = np.random.default_rng(n)
        pool = draw(PIECES, OAK, MEMBERS, 7000 + n, "truth")
        one = replace(pool, **{name: getattr(pool, name)[:1] for name in FIELDS})
        truth = drying(np.zeros(1))(one, DAYS)
        latents = {name: rng.standard_normal(1) for name in ("start 0", "pace 0")}
        readings = [
            read_off(truth, "oven", 0, rng, latents),
            read_off(truth, "weighed", 30, rng, latents),
            read_off(truth, "weighed", 60, rng, latents),
        ]
        for count in range(4):
            _, after = told(n, readings[:count])
            widths[count] += np.subtract(*np.percentile(after[120], (90, 10)))
    # The start alone tells little of day 120; with it, a weighing tells half.
    assert widths[1] < 1.05 * widths[0]
    assert widths[2] < 0.6 * widths[0]
    assert widths[3] < widths[2]


READING = st.one_of(
    st.builds(lambda n, v: Reading("oven", day(n), v), st.integers(0, 60), st.floats(0.15, 0.5)),
    st.builds(
        lambda n, v, p: Reading("weighed", day(n), v, pieces=p),
        st.integers(1, 90),
        st.floats(0.6, 1.0),
        st.integers(2, 6),
    ),
    st.builds(
        lambda n, v, face: Reading("meter", day(n), v, face=face),
        st.integers(20, 120),
        st.floats(8, 80),
        st.sampled_from(["split", "surface"]),
    ),
)


@settings(max_examples=25, deadline=None)
@given(st.lists(READING, min_size=2, max_size=5), st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(readings, random):
    mixed = list(readings)
    random.shuffle(mixed)
    _, one = told(3, readings, 24)
    _, other = told(3, mixed, 24)

    np.testing.assert_array_equal(one, other)
    assert np.isfinite(one).all()


def test_a_bound_moves_only_the_members_that_break_it():
    """80 % on a pin meter in July: members that say drier are moved, those that say wetter stay as they are."""
    ensemble, weather = members_of(4)
    simulate = drying(weather)
    before = simulate(ensemble, DAYS)
    wet = evidence(Reading("meter", day(120), 80.0), OAK, START)
    heard = assimilate(ensemble, [wet], simulate, ("test", 4))
    after = simulate(heard.ensemble, DAYS)

    assert wet.bound == "above"
    safe = before[120] > 0.40
    assert 5 < safe.sum() < 60
    np.testing.assert_allclose(after[120, safe], before[120, safe], atol=1e-6)
    assert (after[120, before[120] < 0.25] > before[120, before[120] < 0.25]).mean() > 0.8
    assert any("beyond the meter" in str(text) for text in heard.warnings)


def test_repeated_weighings_of_the_same_pieces_do_not_pass_for_many_pieces():
    """Ten weighings in ten days of the same two pieces leave more doubt than one weighing of twenty."""
    many = [Reading("weighed", day(40 + n), 0.82 - 0.001 * n, pieces=2) for n in range(10)]
    one = [Reading("weighed", day(45), 0.815, pieces=20)]
    oven = Reading("oven", day(0), 0.42)
    _, repeated = told(5, [oven, *many])
    _, once = told(5, [oven, *one])

    assert np.std(repeated[120]) > np.std(once[120])


def test_a_surface_reading_says_only_how_wet_at_least():
    """Dry outside: nothing is learnt of the inside. Wet outside in wood thought dry: a little."""
    _, plain = told(6, [], days_of=60)
    _, dry = told(6, [Reading("meter", day(60), 12.0, face="surface")], days_of=60)
    _, wet = told(6, [Reading("meter", day(180), 28.0, face="surface")], days_of=60)
    _, inside = told(6, [Reading("meter", day(180), 28.0, pieces=5)], days_of=60)

    np.testing.assert_allclose(np.median(dry[60]), np.median(plain[60]), atol=0.002)
    assert np.median(plain[180]) < np.median(wet[180]) < np.median(inside[180])


def test_rain_on_the_pieces_is_a_bound():
    _, plain = told(8, [Reading("oven", day(0), 0.42)])
    _, wet = told(8, [Reading("oven", day(0), 0.42), Reading("weighed", day(30), 0.99, wet=True)])

    np.testing.assert_allclose(np.median(wet[120]), np.median(plain[120]), atol=0.01)


def test_a_wrong_entry_is_questioned_confirmed_or_set_aside():
    """A weighing with two figures swapped: questioned; it moves the forecast once it is confirmed; set aside
    it is as if it had never been."""
    good = [Reading("oven", day(0), 0.43, ref="1"), Reading("weighed", day(30), 0.90, ref="2")]
    wrong = Reading("weighed", day(60), 0.58, ref="3")
    _, without = told(9, good)
    questioned, robust = told(9, [*good, wrong])
    confirmed, obeyed = told(9, [*good, replace(wrong, trust="right")])
    _, aside = told(9, [*good, replace(wrong, trust="aside")])

    assert [reading.ref for reading in questioned.doubted] == ["3"]
    assert "far from what everything else says" in str(questioned.warnings[0])
    assert "3" not in [reading.ref for reading in confirmed.doubted]
    assert np.median(obeyed[90]) < np.median(robust[90]) - 0.02
    np.testing.assert_allclose(np.median(robust[90]), np.median(without[90]), atol=0.06)
    np.testing.assert_array_equal(aside, without)


def test_one_wrong_reading_alone_is_questioned():
    heard, after = told(10, [Reading("oven", day(5), 0.06, ref="x")])
    _, plain = told(10, [])

    assert [reading.ref for reading in heard.doubted] == ["x"]
    assert np.median(after[60]) > 0.6 * np.median(plain[60])


def test_pieces_and_scatter_make_a_meter_firmer():
    """The error of a mean falls with the pieces and grows with their scatter; the meter's own error stays."""

    def sd(**said):
        return evidence(Reading("meter", day(9), 20.0, **said), OAK, START)

    assert sd(pieces=9).sd < sd(pieces=3).sd < sd().sd
    assert sd(pieces=5, scatter=1.0).sd < sd(pieces=5, scatter=6.0).sd
    assert sd(pieces=100).latents["meter"] == sd().latents["meter"] > 0.008


def test_frozen_wood_and_coarse_scales_are_doubted():
    frozen = evidence(Reading("meter", day(9), 20.0, temp_c=-10.0), OAK, START)
    warm = evidence(Reading("meter", day(9), 20.0, temp_c=10.0), OAK, START)
    coarse = evidence(Reading("weighed", day(9), 0.9, step=0.1), OAK, START)

    assert frozen.sd > warm.sd + 0.015
    # Half of a tenth, rounded evenly: 0.1 / sqrt(12).
    assert coarse.sd == pytest.approx(np.hypot(0.012, 0.0289), rel=0.01)


def test_several_readings_come_to_one():
    """Past the meter's range the middle one counts, so that one wet piece does not drag the mean to nowhere."""
    assert mean_shown([20.0, 22.0, 24.0]) == (22.0, 2.0)
    assert mean_shown([18.0, 20.0, 80.0])[0] == 20.0
    assert mean_shown([21.0]) == (21.0, None)


def test_what_is_said_when_a_reading_is_taken():
    def said(percent, **more):
        return " ".join(str(text) for text in cautions(Reading("meter", day(1), percent, **more)))

    assert "wetter than that" in said(80.0)
    assert "drier than that" in said(4.0)
    assert "thaw" in said(20.0, temp_c=-5.0)
    assert "fresh face" in said(20.0, face="surface")
    assert said(20.0, temp_c=5.0) == ""
    assert cautions(Reading("oven", day(1), 0.2)) == ()


@pytest.mark.parametrize(
    "said",
    [
        {"face": "bark"},
        {"trust": "perhaps"},
        {"pieces": 0},
        {"pieces": 5000},
        {"scatter": -1.0},
        {"step": float("nan")},
    ],
)
def test_nonsense_beside_a_reading(said):
    with pytest.raises(InputError):
        Reading("meter", START, 20.0, **said)


def test_a_weighing_from_before_the_marking():
    with pytest.raises(InputError) as caught:
        evidence(Reading("weighed", day(10), 0.9, since=day(20)), OAK, START)
    assert caught.value.field == "reading"


def test_pieces_marked_later_are_compared_with_that_day():
    """A stack of old wood: pieces marked on day 60, oven sample of one of them then, weighed on day 90."""
    later = [
        Reading("oven", day(60), 0.30, own=True, pieces=3, since=day(60)),
        Reading("weighed", day(90), 0.95, pieces=3, since=day(60)),
    ]
    _, plain = told(11, [])
    _, after = told(11, later)

    assert np.subtract(*np.percentile(after[120], (90, 10))) < 0.7 * np.subtract(
        *np.percentile(plain[120], (90, 10))
    )
    assert np.median(after[60]) == pytest.approx(0.30 / 0.70, abs=0.05)
