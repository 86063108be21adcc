"""Equilibrium moisture against the Wood Handbook's table and equations, and its properties."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.wood import emc_db, emc_range_db, fibre_saturation_db, rh_at_emc

CURVES = ("simpson_f", "simpson_c", "glass")
humidities = st.floats(0.0, 1.0)
temperatures = st.floats(-50.0, 95.0)


@pytest.mark.parametrize("curve", ["simpson_f", "simpson_c"])
def test_every_cell_of_the_handbook_table(published, curve):
    """Wood Handbook 2010 (FPL-GTR-190) Table 4-2, 342 cells printed to 0.1 point.

    Tolerance 0.1 point: half the last digit of the print (0.05) and as much again for the fit.
    """
    rows = published("emc.csv")
    temp_c = (np.array([float(row["temp_f"]) for row in rows]) - 32.0) / 1.8
    rh = np.array([float(row["rh_pct"]) for row in rows]) / 100.0
    printed = np.array([float(row["emc_pct"]) for row in rows])

    off = 100.0 * emc_db(rh, temp_c, curve=curve) - printed

    assert len(rows) == 342
    assert np.abs(off).max() <= 0.1


def test_worked_values_of_all_three_curves(published):
    """Values worked from Wood Handbook 2021 (FPL-GTR-282) Eq. 4-5 and 4-6, printed to 0.01 point."""
    columns = {"simpson_c": "emc_hh_C_form", "simpson_f": "emc_hh_F_form", "glass": "emc_glass2014"}
    for row in published("emc_check.csv"):
        for curve, column in columns.items():
            # The Fahrenheit column is given to 0.1 degree, which moves the last digit by at most 0.002.
            got = 100.0 * emc_db(float(row["rh_fraction"]), float(row["temp_c"]), curve=curve)

            assert got == pytest.approx(float(row[column]), abs=0.012), (curve, row)


def test_the_curves_part_in_the_cold():
    """-10 °C and 80 %: 16.4 against 19.0 points, from the same equations."""
    low, high = emc_range_db(0.80, -10.0)

    assert (100.0 * float(low), 100.0 * float(high)) == pytest.approx((16.43, 19.03), abs=0.02)


@pytest.mark.parametrize("curve", CURVES)
@given(rh=humidities, temp_c=temperatures)
def test_air_to_wood_and_back(curve, rh, temp_c):
    """What the wood comes to in some air is kept by that air."""
    there = emc_db(rh, temp_c, curve=curve)

    assert rh_at_emc(there, temp_c, curve=curve) == pytest.approx(rh, abs=1e-9)


@pytest.mark.parametrize("curve", CURVES)
@given(mc_db=st.floats(0.0, 2.0), temp_c=temperatures)
def test_wood_to_air_and_back(curve, mc_db, temp_c):
    """Up to saturation; wetter wood is in balance with saturated air only."""
    air = rh_at_emc(mc_db, temp_c, curve=curve)

    back = emc_db(air, temp_c, curve=curve)
    assert back == pytest.approx(min(mc_db, emc_db(1.0, temp_c, curve=curve)), abs=1e-9)


@pytest.mark.parametrize("curve", CURVES)
@given(first=humidities, second=humidities, temp_c=temperatures)
def test_damper_air_wetter_wood(curve, first, second, temp_c):
    low, high = sorted((first, second))

    assert emc_db(low, temp_c, curve=curve) <= emc_db(high, temp_c, curve=curve)


@given(first=st.floats(20.0, 95.0), second=st.floats(20.0, 95.0), rh=st.floats(0.05, 0.95))
def test_warmer_air_drier_wood_above_room_temperature(first, second, rh):
    """As in the table from 70 °F up, down every column."""
    low, high = sorted((first, second))

    assert emc_db(rh, high) <= emc_db(rh, low) + 1e-12


def test_dry_air_dries_out_and_saturated_air_saturates():
    assert emc_db(0.0, 20.0) == 0.0
    assert rh_at_emc(0.0, 20.0) == pytest.approx(0.0, abs=1e-12)
    assert emc_db(1.0, 20.0) == pytest.approx(0.30)
    assert rh_at_emc(0.9, 20.0) == 1.0


def test_arrays_broadcast_and_floats_stay_floats():
    grid = emc_db(np.array([[0.3], [0.6]]), np.array([0.0, 20.0, 40.0]))

    assert grid.shape == (2, 3)
    assert grid[1, 1] == pytest.approx(emc_db(0.6, 20.0))
    assert isinstance(emc_db(0.6, 20.0), float)
    assert rh_at_emc(grid, np.array([0.0, 20.0, 40.0])) == pytest.approx(
        np.array([[0.3] * 3, [0.6] * 3]), abs=1e-9
    )


def test_fibre_saturation_falls_with_temperature():
    """A tenth of a point per degree about 20 °C: from memory, no source read."""
    assert fibre_saturation_db(20.0) == pytest.approx(0.30)
    assert fibre_saturation_db(40.0) == pytest.approx(0.28)
    assert fibre_saturation_db(0.0, at_20_c=0.22) == pytest.approx(0.24)


@pytest.mark.parametrize(
    ("rh", "temp_c", "field"),
    [
        (65.0, 20.0, "rh"),  # a percent where a fraction is wanted
        (-0.01, 20.0, "rh"),
        (float("nan"), 20.0, "rh"),
        (0.5, 500.0, "temp_c"),
        (0.5, float("nan"), "temp_c"),
    ],
)
def test_nonsense_is_refused_by_name(rh, temp_c, field):
    with pytest.raises(InputError) as refused:
        emc_db(rh, temp_c)

    assert refused.value.field == field


def test_one_bad_value_in_an_array_is_refused():
    with pytest.raises(InputError, match=r"1\.5"):
        emc_db(np.array([0.5, 1.5]), 20.0)
