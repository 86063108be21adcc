"""Water vapour."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.weather import dew_point_c, psat_ice_pa, psat_water_pa, relative_humidity
from rickyard.weather.humidity import ice_share


@pytest.mark.parametrize(
    ("temp_c", "pa"), [(0.0, 611.2), (10.0, 1228.0), (20.0, 2339.0), (30.0, 4247.0), (40.0, 7384.0)]
)
def test_saturation_over_water(temp_c: float, pa: float) -> None:
    """Steam tables (IAPWS, from memory). The Magnus form loses up to 0.35 % by 30 °C."""
    assert float(psat_water_pa(temp_c)) == pytest.approx(pa, rel=0.0035)


@pytest.mark.parametrize(("temp_c", "pa"), [(0.0, 611.2), (-10.0, 259.9), (-20.0, 103.3), (-30.0, 38.0)])
def test_saturation_over_ice(temp_c: float, pa: float) -> None:
    """Tables of vapour pressure over ice (IAPWS, from memory); the Magnus form is good to 0.5 %."""
    assert float(psat_ice_pa(temp_c)) == pytest.approx(pa, rel=0.005)


def test_ice_saturation_in_humidity_over_water() -> None:
    """About 82 % at -20 °C (notes on the climate tables)."""
    assert float(ice_share(-20.0)) == pytest.approx(0.82, abs=0.005)
    assert float(ice_share(5.0)) == 1.0


@given(st.floats(min_value=-45.0, max_value=50.0))
def test_the_dew_point_inverts_saturation(temp_c: float) -> None:
    assert float(dew_point_c(psat_water_pa(temp_c))) == pytest.approx(temp_c, abs=1e-9)


@given(st.floats(min_value=-40.0, max_value=-0.01))
def test_ice_holds_less_than_water(temp_c: float) -> None:
    assert float(psat_ice_pa(temp_c)) < float(psat_water_pa(temp_c))


def test_single_precision_stays_single() -> None:
    temp = np.zeros(3, dtype=np.float32)

    assert psat_water_pa(temp).dtype == np.float32
    assert relative_humidity(temp, psat_water_pa(temp)) == pytest.approx([1.0, 1.0, 1.0])
