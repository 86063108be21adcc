"""Degree days and equilibrium moisture from the normals, against published values."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.weather import all_places, cooling_degree_days, find_place, heating_degree_days, normals_at
from rickyard.weather.normals import DAYS_IN_MONTH
from rickyard.weather.tables import monthly_tables


@given(base=st.floats(min_value=-20.0, max_value=40.0), row=st.integers(min_value=0, max_value=3190))
def test_heating_less_cooling_is_the_mean(base: float, row: int) -> None:
    """Whatever the spread: the positive part less the negative part of a number is the number."""
    normals = normals_at(all_places()[row])
    difference = heating_degree_days(normals, base) - cooling_degree_days(normals, base)

    assert difference == pytest.approx(DAYS_IN_MONTH * (base - normals.temp_c), abs=1e-6)


@given(low=st.floats(min_value=-10.0, max_value=20.0), step=st.floats(min_value=0.1, max_value=10.0))
def test_a_higher_base_makes_more_degree_days(low: float, step: float) -> None:
    normals = normals_at(find_place("Fredericton, NB"))

    assert np.all(heating_degree_days(normals, low + step) > heating_degree_days(normals, low))
    assert np.all(heating_degree_days(normals, low) >= 0.0)


def test_they_agree_with_the_tabled_degree_days() -> None:
    """The column `hdd18` of the tables was made by the same method with another ratio of the SDs.

    Vancouver alone was summed over hours and stands 2 % off.
    """
    ours = np.array([heating_degree_days(normals_at(place)).sum() for place in all_places()])
    tabled = monthly_tables()["hdd18"].sum(axis=1)
    cold = tabled > 1000.0
    off = np.abs(ours[cold] / tabled[cold] - 1.0)

    assert off.mean() < 0.005
    assert off.max() < 0.025


def test_degree_days_err_as_stated(accuracy: ModuleType) -> None:
    """The notes on the climate tables state, for annual degree days below 18 °C:

    National Building Code of Canada, 26 places: mean -2.6 %, absolute 3.3 %; Daymet 1991-2020, 17 places: absolute
    6.7 %; summed hourly years, 7 places: absolute 6.2 %.
    Which listed place stood for which is not said there; single places differ by 3 %, so 0.5 % of the mean of some
    25 places is allowed for another pairing.
    """
    errors = {
        group: np.array([error for _, error, _ in rows])
        for group, rows in accuracy.degree_day_errors().items()
    }
    code, daymet, hourly = (
        errors[group] for group in ("National Building Code", "Daymet 1991-2020", "hourly years")
    )

    assert (len(code), len(daymet), len(hourly)) == (27, 17, 7)
    assert code.mean() == pytest.approx(-2.6, abs=0.5)
    assert np.abs(code).mean() < 3.3 + 0.5
    assert np.abs(daymet).mean() < 6.7 + 0.5
    assert np.abs(hourly).mean() < 6.2 + 0.5


def test_equilibrium_moisture_of_the_printed_cities(accuracy: ModuleType) -> None:
    """Simpson 1998 (FPL-RN-0268, from memory), against which the notes state r = 0.97, absolute 0.61, bias -0.32.

    Those are for the tables as they are; with humidity raised by 2 points the bias must shrink.
    """
    printed, raw, corrected = accuracy.printed_emc()
    off = raw - printed

    assert np.corrcoef(raw.ravel(), printed.ravel())[0, 1] == pytest.approx(0.97, abs=0.01)
    assert np.abs(off).mean() == pytest.approx(0.61, abs=0.06)
    assert off.mean() == pytest.approx(-0.32, abs=0.1)
    assert abs((corrected - printed).mean()) < abs(off.mean())
