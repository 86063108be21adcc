"""Rows as they stand, heaps, boxes, bundles, and the steps of measuring."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure import (
    DM3_M3,
    FT_M,
    IN_M,
    bags_measure,
    box_measure,
    bundle_measure,
    heap_measure,
    heap_notes,
    procedure,
    row_measure,
    rows_total,
    stack_measure,
    windrow_measure,
)

sides = st.floats(1.0, 30.0)
heights = st.lists(st.floats(0.5, 3.0), min_size=1, max_size=6)


@given(length=sides, tops=heights, piece=st.floats(0.2, 1.5), rows=st.integers(1, 4))
def test_a_clean_row_is_a_stack(length, tops, piece, rows):
    plain = stack_measure(length, tops, piece, rows=rows)
    found = row_measure(length, tops, piece, rows=rows)

    assert found.outside.outside_m3 == pytest.approx(plain.outside_m3)
    assert found.outside.spread_m3.high == pytest.approx(plain.spread_m3.high)
    assert found.left_out_m3 == 0.0


@given(
    length=st.floats(4.0, 30.0),
    ends=st.lists(st.floats(0.2, 1.0), min_size=1, max_size=2),
    lean=st.floats(0, 20),
)
def test_criss_cross_ends_are_left_out_and_nothing_is_lost(length, ends, lean):
    whole = row_measure(length, 1.2, 0.4, lean_deg=lean)
    found = row_measure(length, 1.2, 0.4, crisscross_m=ends, lean_deg=lean)

    assert found.outside.outside_m3 + found.left_out_m3 == pytest.approx(whole.outside.outside_m3)
    assert found.outside.outside_m3 < whole.outside.outside_m3
    assert any("Criss-cross" in str(note) for note in found.notes)


def test_a_leaning_row_is_a_parallelogram():
    """8 × 4 ft with the height taken along a lean of 15°: 4 ft × cos 15° upright."""
    found = row_measure(8 * FT_M, 4 * FT_M, 4 * FT_M, lean_deg=15.0)

    assert found.outside.cords == pytest.approx(math.cos(math.radians(15.0)))
    both = row_measure(8 * FT_M, 4 * FT_M, 4 * FT_M, slope_deg=10.0)
    assert both.outside.cords == pytest.approx(math.cos(math.radians(10.0)))


def test_a_row_wider_at_the_foot_than_at_the_top():
    found = row_measure([10.0, 8.0], 1.2, 0.4)

    assert found.outside.outside_m3 == pytest.approx(9.0 * 1.2 * 0.4)
    assert found.outside.spread_m3.high > row_measure(9.0, 1.2, 0.4).outside.spread_m3.high


def test_heights_at_places_stand_for_their_stretch():
    """A row 1 m high for 2 m, rising to 2 m at 4 m, then 2 m to its end at 6 m: (2 + 3 + 4) / 6 m."""
    found = row_measure(6.0, [1.0, 1.0, 2.0, 2.0], 0.5, heights_at_m=[0.0, 2.0, 4.0, 6.0])

    assert found.outside.mean_height_m == pytest.approx(1.5)
    assert found.outside.outside_m3 == pytest.approx(6.0 * 1.5 * 0.5)
    uneven = row_measure(6.0, [1.0, 2.0], 0.5, heights_at_m=[0.0, 2.0])
    assert uneven.outside.mean_height_m == pytest.approx((1.5 * 2 + 2.0 * 4) / 6)


def test_voids_are_taken_off():
    full = row_measure(5.0, 1.0, 0.4)
    holed = row_measure(5.0, 1.0, 0.4, voids_m3=0.1)

    assert holed.outside.outside_m3 == pytest.approx(full.outside.outside_m3 - 0.1)
    assert holed.left_out_m3 == pytest.approx(0.1)


def test_rows_add_up():
    first, second = row_measure(5.0, 1.0, 0.4), row_measure(3.0, 1.5, 0.4, crisscross_m=[0.4])
    found = rows_total([first, second])

    assert found.outside.outside_m3 == pytest.approx(first.outside.outside_m3 + second.outside.outside_m3)
    assert found.left_out_m3 == pytest.approx(second.left_out_m3)
    wide = first.outside.spread_m3.high / first.outside.outside_m3
    assert found.outside.spread_m3.high / found.outside.outside_m3 < wide * 1.05


@given(width=st.floats(1.0, 5.0), length=st.floats(1.0, 20.0), height=st.floats(0.3, 3.0))
def test_a_windrow_lies_between_its_cone_and_its_ridge(width, length, height):
    found = windrow_measure(length, width, height)

    cone = heap_measure(min(length, width), width, height).outside_m3
    ridge = heap_measure(length, width, height, shape="ridge").outside_m3
    assert cone * 0.999 <= found.outside_m3 <= ridge * 1.001
    assert found.cords is None


def test_a_heap_steeper_than_wood_lies_is_said():
    assert heap_notes(2.0, 1.0) == ()
    assert "Steeper" in str(heap_notes(2.0, 1.5)[0])


def test_a_canadian_box():
    """Measurement Canada: 120 × 60 × 60 cm is 432 dm³."""
    assert box_measure(0.60, [0.0], [0.60], [1.20]).outside_m3 / DM3_M3 == pytest.approx(432.0)


def test_headspace_is_rounded_down():
    """Mean of six readings 2.4 cm: 2.0 cm comes off (rounded down to 0.5 cm, from memory of Handbook 133)."""
    found = box_measure(0.40, [0.024] * 6, [0.50, 0.51, 0.49], [0.40, 0.41, 0.39, 0.40, 0.40])

    assert found.outside_m3 == pytest.approx(0.38 * 0.50 * 0.40)


def test_a_bundle_is_a_cylinder_or_two_traced_ends():
    """Measurement Canada: D² × L × 0.7854."""
    round_one = bundle_measure([0.40], diameter_m=0.30)
    traced = bundle_measure([0.40, 0.41], end_areas_m2=[0.070, 0.072])

    assert round_one.outside_m3 == pytest.approx(0.30**2 * 0.40 * 0.7854, rel=1e-4)
    assert traced.outside_m3 == pytest.approx(0.071 * 0.405)
    assert bags_measure(40, round_one).outside_m3 == pytest.approx(40 * round_one.outside_m3)


def test_the_steps_are_the_table_s_and_memory_is_said(published):
    """Every step of the table that is from memory says so; what was read does not."""
    table = published("hb133_procedure.csv")
    for case, rows in (("box", 4), ("bundle", 2)):
        steps = procedure(case)
        assert (
            sum(row["case"].startswith(case) for row in table if row["source"] == "MEM") == rows
            or case == "bundle"
        )
        assert all(("from memory" in step.source) == step.from_memory for step in steps)
    assert any(step.from_memory for step in procedure("stack"))
    assert any(not step.from_memory for step in procedure("stack"))
    assert "six in all" in " ".join(str(step.text) for step in procedure("box"))


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: row_measure(2.0, 1.0, 0.4, crisscross_m=[1.0, 1.0]), "crisscross"),
        (lambda: row_measure(9.0, 1.0, 0.4, crisscross_m=[1.0, 1.0, 1.0]), "crisscross"),
        (lambda: row_measure([], 1.0, 0.4), "length"),
        (lambda: row_measure(5.0, [1.0, -1.0], 0.4), "height"),
        (lambda: row_measure(5.0, 1.0, 0.4, lean_deg=60.0), "lean"),
        (lambda: row_measure(5.0, 1.0, 0.4, voids_m3=5.0), "voids"),
        (lambda: row_measure(5.0, [1.0, 2.0], 0.4, heights_at_m=[2.0, 1.0]), "heights_at"),
        (lambda: row_measure(5.0, [1.0, 2.0], 0.4, heights_at_m=[2.0]), "heights_at"),
        (lambda: rows_total([]), "rows"),
        (lambda: box_measure(0.4, [0.5], [0.5], [0.4]), "headspace"),
        (lambda: bundle_measure([0.4]), "ends"),
        (lambda: bundle_measure([0.4], diameter_m=0.3, end_areas_m2=[0.1]), "ends"),
        (lambda: bags_measure(0, bundle_measure([0.4], diameter_m=0.3)), "count"),
        (lambda: procedure("barrel"), "case"),
        (lambda: windrow_measure(5.0, 0.0, 1.0), "width"),
    ],
)
def test_nonsense_is_refused_by_name(call, field):
    with pytest.raises(InputError) as refused:
        call()

    assert refused.value.field == field


def test_thirds_of_a_cord():
    """4 × 8 ft of 16 in pieces, three rows deep, criss-cross ends beside it: a cord."""
    found = row_measure(8 * FT_M + 2 * 16 * IN_M, 4 * FT_M, 16 * IN_M, crisscross_m=[16 * IN_M] * 2, rows=3)

    assert found.outside.cords == pytest.approx(1.0)
