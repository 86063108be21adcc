"""What a measurement would be worth, before it is taken."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from rickyard.season.worth import Question, worth

RNG = np.random.default_rng(1)
NOW = 0.30 + 0.04 * RNG.standard_normal(64)
# Dry by the day if drier now: whoever is measured is known.
DRY = NOW < 0.30


def test_a_measurement_that_decides_is_worth_most():
    """Odds even now: without a measurement the promise is given up, and half of that is needless."""
    good = worth(NOW, 0.005, [Question(DRY, 10.0)])
    poor = worth(NOW, 0.05, [Question(DRY, 10.0)])
    blind = worth(RNG.standard_normal(64), 0.2, [Question(DRY, 10.0)])

    assert good.saved_m3 > 2 * poor.saved_m3
    assert good.saved_m3 > 4 * blind.saved_m3
    # At most all of what giving up needlessly costs: a quarter of the half that would be dry.
    assert good.saved_m3 <= 0.25 * DRY.mean() * 10.0
    assert good.clear_then > 0.8


def test_nothing_is_worth_measuring_where_all_is_sure():
    sure = worth(NOW, 0.01, [Question(np.ones(64, bool), 10.0)])
    lost = worth(NOW, 0.01, [Question(np.zeros(64, bool), 10.0)])

    assert sure.saved_m3 == pytest.approx(0.0, abs=1e-9)
    assert lost.saved_m3 == pytest.approx(0.0, abs=1e-9)
    assert sure.clear_now == sure.clear_then == 1.0


def test_worth_grows_with_what_hangs_on_it():
    one = worth(NOW, 0.01, [Question(DRY, 5.0)])
    two = worth(NOW, 0.01, [Question(DRY, 5.0), Question(DRY, 5.0)])

    assert two.saved_m3 == pytest.approx(2 * one.saved_m3)


def test_it_agrees_with_counting_on_many_members():
    """Against brute force: 4000 truths, each judged by exact normal odds. Joint normal moisture and outcome."""
    members, sd, rho = 2000, 0.5, 0.8
    rng = np.random.default_rng(2)
    now = rng.standard_normal(members)
    late = rho * now + np.sqrt(1 - rho**2) * rng.standard_normal(members)
    found = worth(now, sd, [Question(late < 0.0, 1.0)])

    truth = rng.standard_normal(200_000)
    seen = truth + sd * rng.standard_normal(200_000)
    shrunk = seen / (1 + sd**2)
    spread = np.sqrt(rho**2 * sd**2 / (1 + sd**2) + 1 - rho**2)
    odds = norm.cdf(-rho * shrunk / spread)
    exact = min(0.5, 0.25 * 0.5) - np.minimum(1 - odds, 0.25 * odds).mean()

    assert found.saved_m3 == pytest.approx(exact, rel=0.15)


def test_without_promises_nothing_hangs_on_it():
    found = worth(NOW, 0.01, [])

    assert found.saved_m3 == 0.0
    assert found.sd_share > 1


def test_a_promise_counts_as_the_desk_counts_it():
    from rickyard.desk import orders
    from rickyard.season.worth import GOOD_ODDS

    assert orders.GOOD_ODDS == GOOD_ODDS
