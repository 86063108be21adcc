from __future__ import annotations

import numpy as np
import pytest

from rickyard.season.draws import key_number, normal_draws


def test_same_key_same_draws_whatever_is_asked_for():
    few = normal_draws(("own", 3, "stack 7"), 10, 4)
    many = normal_draws(("own", 3, "stack 7"), 200, 4)

    np.testing.assert_array_equal(few, many[:10])


def test_keys_do_not_run_together():
    """('a', 'b') and ('ab',) are two keys; the number is fixed for good, not Python's own hash."""
    assert key_number("a", "b") != key_number("ab")
    assert key_number("shared", 1, "quercus_rubra") == key_number("shared", 1, "quercus_rubra")
    assert key_number("x") == 0x442A44457137672B3218C1007DC8F76A


def test_members_are_spread_evenly():
    """The mean of 64 even draws is far nearer to zero than that of 64 random ones (0.125)."""
    means = [normal_draws(("even", seed), 64, 4).mean(axis=0) for seed in range(20)]

    assert np.abs(means).max() < 0.05
    assert normal_draws(("even", 0), 64, 4).std(axis=0) == pytest.approx(1.0, abs=0.06)


def test_two_keys_are_independent():
    """Correlation of two stacks' own draws over j: nothing but the chance of 64 pairs, on average none."""
    first = [normal_draws(("own", seed, "a"), 64, 1)[:, 0] for seed in range(60)]
    second = [normal_draws(("own", seed, "b"), 64, 1)[:, 0] for seed in range(60)]
    correlations = [np.corrcoef(a, b)[0, 1] for a, b in zip(first, second, strict=True)]

    assert abs(np.mean(correlations)) < 0.06
    assert np.std(correlations) == pytest.approx(0.126, abs=0.05)
