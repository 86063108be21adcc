"""The two bases of moisture and what weighing tells."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.wood import db_from_wet, mass_lost_share, mc_db_after_weighing, wet_from_db

moistures = st.floats(0.0, 4.9)


def test_the_figures_of_the_trade():
    """20 % wet is 25 % dry; 20 % dry is 16.7 % wet (definition of the two bases)."""
    assert db_from_wet(0.20) == pytest.approx(0.25)
    assert wet_from_db(0.20) == pytest.approx(1 / 6)


@given(moistures)
def test_round_trip(mc_db):
    assert db_from_wet(wet_from_db(mc_db)) == pytest.approx(mc_db, abs=1e-12)


@given(first=moistures, second=moistures)
def test_rises(first, second):
    low, high = sorted((first, second))

    assert wet_from_db(low) <= wet_from_db(high)


@given(start=moistures, end=moistures)
def test_what_is_lost_in_drying_is_water_only(start, end):
    """A kilogram green holds the same dry mass after, and the water is the difference."""
    dry_kg = 1.0 - wet_from_db(start)

    assert 1.0 - mass_lost_share(start, end) == pytest.approx(dry_kg * (1.0 + end))


@given(start=st.floats(0.1, 2.0), end=st.floats(0.0, 2.0))
def test_weighing_finds_the_moisture_again(start, end):
    ratio = 1.0 - mass_lost_share(start, end)

    assert mc_db_after_weighing(start, ratio) == pytest.approx(end, abs=1e-9)


def test_a_ratio_lighter_than_the_dry_wood_is_refused():
    with pytest.raises(InputError) as refused:
        mc_db_after_weighing(0.5, 0.6)

    assert refused.value.field == "mass_ratio"


@pytest.mark.parametrize("mc_wet", [-0.1, 1.0, 20.0, float("nan")])
def test_a_percent_or_nonsense_is_refused(mc_wet):
    with pytest.raises(InputError) as refused:
        db_from_wet(mc_wet)

    assert refused.value.field == "mc_wet"
    assert "wanted" in str(refused.value)


def test_arrays():
    assert wet_from_db(np.array([0.0, 0.25, 1.0])) == pytest.approx(np.array([0.0, 0.2, 0.5]))
