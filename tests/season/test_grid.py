from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.season.grid import full_cells, graded_cells, half_cells
from rickyard.season.models import FiniteVolumes, PieceShape


@given(
    length=st.floats(0.003, 4.0),
    first=st.floats(0.0005, 0.01),
    count=st.integers(3, 30),
    growth=st.floats(1.1, 3.0),
)
def test_cells_fill_the_length_and_widen_inward(length, first, count, growth):
    cells = graded_cells(length, first, count, growth)

    assert cells.shape == (count,)
    assert cells.sum() == pytest.approx(length)
    assert np.all(np.diff(cells) >= -1e-9 * length)
    assert cells[0] <= first * 1.001


def test_halves_and_wholes():
    half = half_cells(0.06, 0.001, 9, 2.5)
    whole = full_cells(0.12, 0.001, 17, 2.5)

    assert half[-1] == pytest.approx(0.001)
    assert half[0] == half.max()
    assert len(whole) == 18
    np.testing.assert_allclose(whole, whole[::-1])


@pytest.mark.parametrize("thickness", [0.02, 0.07, 0.12, 0.30])
def test_outermost_cells_are_thin(thickness):
    """At most 2 mm at bare long faces, as the benchmark's lessons ask; ends and bark may be coarser."""
    x, y, z = FiniteVolumes().cells(PieceShape(thickness, thickness, 0.41, 1))

    assert max(x[-1], y[-1]) <= 0.002 + 1e-9
    assert z[-1] <= 0.0025 + 1e-9
    assert y[0] <= 0.004 + 1e-9
