"""Outside volume of rows, bins and heaps."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure import CORD_M3, DM3_M3, FT_M, IN_M, bin_measure, heap_measure, stack_measure

sides = st.floats(0.2, 30.0)
heights = st.floats(0.3, 4.0)


@pytest.mark.parametrize(
    ("length_ft", "height_ft", "piece_ft"),
    [
        (8, 4, 4),  # 4 ft × 4 ft × 8 ft: NIST Handbook 130
        (16, 4, 2),  # 2 ft × 4 ft × 16 ft: federal notice, Canada, 1993
    ],
)
def test_published_stacks_of_one_cord(length_ft, height_ft, piece_ft):
    got = stack_measure(length_ft * FT_M, height_ft * FT_M, piece_ft * FT_M)

    assert got.cords == pytest.approx(1.0)
    assert got.outside_ft3 == pytest.approx(128.0)


def test_published_package():
    """Measurement Canada: a box 120 × 60 × 60 cm holds 432 dm³."""
    assert bin_measure(1.20, 0.60, 0.60).outside_m3 / DM3_M3 == pytest.approx(432.0)


def test_three_rows_of_16_inches_make_the_cord_that_one_face_is_a_third_of():
    """Common practice, no source: three faces of 16 in pieces to the cord."""
    one = stack_measure(8 * FT_M, 4 * FT_M, 16 * IN_M)
    three = stack_measure(8 * FT_M, 4 * FT_M, 16 * IN_M, rows=3)

    assert one.outside_m3 == pytest.approx(CORD_M3 / 3)
    assert three.cords == pytest.approx(1.0)


@given(length=sides, tops=st.lists(heights, min_size=1, max_size=6), piece=st.floats(0.1, 2.0))
def test_mean_height_counts(length, tops, piece):
    got = stack_measure(length, tops, piece)

    assert got.mean_height_m == pytest.approx(sum(tops) / len(tops))
    assert got.outside_m3 == pytest.approx(length * sum(tops) / len(tops) * piece)
    assert got.spread_m3.low < got.outside_m3 < got.spread_m3.high
    assert got.cords == pytest.approx(got.outside_m3 / CORD_M3)


def test_uneven_heights_widen_the_spread():
    even = stack_measure(6.0, [1.2, 1.2, 1.2], 0.4)
    uneven = stack_measure(6.0, [0.8, 1.2, 1.6], 0.4)

    assert uneven.outside_m3 == pytest.approx(even.outside_m3)
    assert uneven.spread_m3.high > even.spread_m3.high


def test_loose_wood_has_no_cords():
    assert stack_measure(6.0, 1.2, 0.4, piled="loose").cords is None
    assert bin_measure(2.0, 1.0, [0.9, 1.1]).cords is None
    assert heap_measure(4.0, 3.0, 1.5).cords is None


def test_heaps_by_geometry():
    """A round cone of base 3 m and height 1.5 m, a ridge, half a ball of 2 m."""
    cone = heap_measure(3.0, 3.0, 1.5, shape="cone")
    assert cone.outside_m3 == pytest.approx(math.pi * 1.5**2 * 1.5 / 3)
    assert cone.spread_m3.low < cone.outside_m3 < cone.spread_m3.high
    assert heap_measure(5.0, 3.0, 1.5, shape="ridge").outside_m3 == pytest.approx(5.0 * 3.0 * 1.5 / 2)
    assert heap_measure(2.0, 2.0, 1.0, shape="dome").outside_m3 == pytest.approx(2 / 3 * math.pi)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: stack_measure(0.0, 1.2, 0.4), "length"),
        (lambda: stack_measure(6.0, [1.2, -1.0], 0.4), "height"),
        (lambda: stack_measure(6.0, [], 0.4), "height"),
        (lambda: stack_measure(6.0, 120.0, 0.4), "height"),
        (lambda: stack_measure(6.0, 1.2, 0.0), "piece_length"),
        (lambda: stack_measure(6.0, 1.2, math.nan), "piece_length"),
        (lambda: stack_measure(6.0, 1.2, 0.4, piled="thrown"), "piled"),
        (lambda: stack_measure(6.0, 1.2, 0.4, rows=0), "rows"),
        (lambda: stack_measure(6.0, [1.0] * 201, 0.4), "height"),
        (lambda: bin_measure(2.0, -1.0, 1.0), "width"),
        (lambda: heap_measure(2.0, 2.0, 1.0, shape="mountain"), "shape"),
    ],
)
def test_nonsense_is_refused_by_name(call, field):
    with pytest.raises(InputError) as refused:
        call()

    assert refused.value.field == field
