"""What stands in a stack: by hand, and its range made of the tape's, the stowing's, the density's and the heat's."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.heat import heat_of_dry_mass, stack_content
from rickyard.measure import CORD_M3, row_measure, solid_share, stack_measure
from rickyard.wood import db_from_wet, dry_mass_at_kg, find_species

FT_M = 0.3048
ASH = find_species("white ash")


def test_a_cord_of_ash_step_by_step() -> None:
    """8 by 4 by 4 ft: 128 ft³ outside (the statutes' cord); each step by the function that is tested by itself."""
    found = stack_content(8 * FT_M, [4 * FT_M], 4 * FT_M, species=ASH, mc_wet=0.25)

    assert found.outside.outside_m3 == pytest.approx(CORD_M3)
    share = solid_share("ranked", "split", 4 * FT_M)
    assert found.solid_m3.mid == pytest.approx(CORD_M3 * share.mid)
    held = found.of_wood
    assert held is not None
    dry_kg = dry_mass_at_kg(ASH, found.solid_m3.mid, db_from_wet(0.25))
    assert held.oven_dry_kg.mid == pytest.approx(dry_kg)
    assert held.oven_dry_kg.mid == pytest.approx(0.75 * held.kg.mid), "a quarter of its mass is water"
    assert held.net_mj.mid == pytest.approx(heat_of_dry_mass(ASH, dry_kg, mc_wet=0.25, basis="net").mid)


def test_the_range_holds_the_tape_and_the_stowing() -> None:
    """Independent errors add as squares of their logarithms."""
    heights = (1.0, 1.25, 1.1)
    found = stack_content(3.0, heights, 0.4)
    tape, share = stack_measure(3.0, heights, 0.4).spread_m3, solid_share("ranked", "split", 0.4)
    above = math.hypot(math.log(tape.high / tape.mid), math.log(share.high / share.mid))
    assert math.log(found.solid_m3.high / found.solid_m3.mid) == pytest.approx(above)
    assert found.solid_m3.high / found.solid_m3.mid > share.high / share.mid


def test_a_leaning_row_with_crossed_ends_is_the_rows_own_measure() -> None:
    row = row_measure(3.0, (1.2,), 0.4, crisscross_m=(0.4,), lean_deg=10.0)
    found = stack_content(3.0, (1.2,), 0.4, crisscross_m=(0.4,), lean_deg=10.0)
    assert found.outside == row.outside
    assert (found.left_out_m3, found.notes) == (row.left_out_m3, row.notes)
    assert found.left_out_m3 > 0.0
    assert found.of_wood is None


@given(
    st.floats(0.5, 10.0), st.floats(0.5, 2.0), st.floats(0.2, 1.2), st.floats(0.08, 0.5), st.floats(0.01, 0.1)
)
def test_drier_wood_of_the_same_outside_is_lighter_and_holds_as_much_wood(
    length_m: float, height_m: float, piece_m: float, mc_wet: float, more: float
) -> None:
    dry = stack_content(length_m, (height_m,), piece_m, species=ASH, mc_wet=mc_wet)
    wet = stack_content(length_m, (height_m,), piece_m, species=ASH, mc_wet=mc_wet + more)
    assert dry.of_wood is not None
    assert wet.of_wood is not None
    assert dry.of_wood.kg.mid < wet.of_wood.kg.mid
    # Drier wood has shrunk: the same outside holds more of it, and never less.
    assert dry.of_wood.oven_dry_kg.mid >= wet.of_wood.oven_dry_kg.mid * (1.0 - 1e-12)
    for spread in (dry.solid_m3, dry.of_wood.oven_dry_kg, dry.of_wood.kg, dry.of_wood.net_mj):
        assert 0.0 < spread.low < spread.mid < spread.high


def test_a_word_that_is_not_known_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        stack_content(3.0, (1.2,), 0.4, straightness="bent")
    assert caught.value.field == "straightness"
