"""Log formulas against worked answers and the solids they are exact for."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure import (
    FT3_M3,
    FT_M,
    IN_M,
    cone_frustum_m3,
    huber_m3,
    log_volume,
    neiloid_frustum_m3,
    newton_m3,
    smalian_m3,
)

lengths = st.floats(0.2, 12.0)
diameters = st.floats(0.02, 1.5)


def solid(power: float, length: float, small: float, large: float) -> tuple[float, float]:
    """Mid diameter and true volume of a stem whose radius goes as (distance from the tip) to a power.

    power 0.5 is a paraboloid, 1 a cone, 1.5 a neiloid; integrated by hand, nothing taken from the package.
    """
    if small == large:
        return small, math.pi / 4 * small**2 * length
    # d = k x^p with x the distance from the tip; the log lies from a to b = a + length.
    ratio = (small / large) ** (1 / power)
    b = length / (1 - ratio)
    a = b - length
    k = large / b**power
    mid = k * ((a + b) / 2) ** power
    q = 2 * power + 1
    return mid, math.pi / 4 * k**2 * (b**q - a**q) / q


def ends(draw_small: float, draw_large: float) -> tuple[float, float]:
    small, large = sorted((draw_small, draw_large))
    return (small, large) if large > 1.02 * small else (small, small)


def test_worked_answers(published):
    """D. R. Larsen, University of Missouri: ends 10 and 12 in, 16 ft, printed to 0.001 ft³.

    The neiloid comes out at 10.5689, printed 10.568: cut, it seems, not rounded. A miss of 0.0009.
    """
    rows = {row["method"]: row for row in published("worked_examples.csv") if row["object"] == "log"}
    sizes = (16 * FT_M, 10 * IN_M, 12 * IN_M)

    assert smalian_m3(*sizes) / FT3_M3 == pytest.approx(
        float(rows["Smalian (paraboloid)"]["answer"]), abs=0.0005
    )
    assert cone_frustum_m3(*sizes) / FT3_M3 == pytest.approx(
        float(rows["frustum of cone"]["answer"]), abs=0.0005
    )
    neiloid_ft3 = neiloid_frustum_m3(*sizes) / FT3_M3
    assert neiloid_ft3 == pytest.approx(float(rows["frustum of neiloid"]["answer"]), abs=0.001)


def test_the_trap_of_a_butt_cut_like_a_cone():
    """A worked trap: cutting 2 m off a cone-like trunk raises what Huber says, 2.40 m³ to 2.42 m³ (with 0.8 d²h).

    By Huber's own π/4 the figures are 2.356 and 2.376; the wood itself only grew less.
    """
    whole, cut = huber_m3(12.0, 0.5), huber_m3(10.0, 0.55)

    assert whole * 0.8 / (math.pi / 4) == pytest.approx(2.40, abs=0.005)
    assert cut * 0.8 / (math.pi / 4) == pytest.approx(2.42, abs=0.005)
    assert cut > whole
    assert cone_frustum_m3(10.0, 0.3, 0.8) < cone_frustum_m3(12.0, 0.2, 0.8)


@given(length=lengths, first=diameters, second=diameters)
def test_huber_and_smalian_are_exact_on_a_paraboloid(length, first, second):
    """Exact for a paraboloid (Larsen; Goulding 1979)."""
    small, large = ends(first, second)
    mid, true_m3 = solid(0.5, length, small, large)

    assert huber_m3(length, mid) == pytest.approx(true_m3, rel=1e-9)
    assert smalian_m3(length, small, large) == pytest.approx(true_m3, rel=1e-9)


@pytest.mark.parametrize("power", [0.5, 1.0, 1.5])
@given(length=lengths, first=diameters, second=diameters)
def test_newton_is_exact_on_all_the_usual_solids(power, length, first, second):
    """Exact for cylinder, paraboloid, cone and neiloid (Goulding 1979)."""
    small, large = ends(first, second)
    mid, true_m3 = solid(power, length, small, large)

    assert newton_m3(length, small, mid, large) == pytest.approx(true_m3, rel=1e-7)


@given(length=lengths, first=diameters, second=diameters)
def test_frustums_are_exact_on_their_solids(length, first, second):
    small, large = ends(first, second)

    assert cone_frustum_m3(length, small, large) == pytest.approx(
        solid(1.0, length, small, large)[1], rel=1e-7
    )
    assert neiloid_frustum_m3(length, small, large) == pytest.approx(
        solid(1.5, length, small, large)[1], rel=1e-7
    )


@given(length=lengths, first=diameters, second=diameters)
def test_on_a_cone_huber_falls_short_and_smalian_overstates(length, first, second):
    small, large = ends(first, second)
    mid, true_m3 = solid(1.0, length, small, large)

    assert huber_m3(length, mid) <= true_m3 * (1 + 1e-9)
    assert smalian_m3(length, small, large) >= true_m3 * (1 - 1e-9)


def test_the_formula_follows_from_what_was_measured():
    assert log_volume(4.0, mid_d_m=0.30).formula == "huber"
    assert log_volume(4.0, small_d_m=0.28, large_d_m=0.32).formula == "smalian"
    assert log_volume(4.0, small_d_m=0.28, large_d_m=0.32, mid_d_m=0.30).formula == "newton"


@given(length=lengths, mid=st.floats(0.1, 1.5), bark=st.floats(0.0, 0.04))
def test_bark_is_taken_off_both_sides(length, mid, bark):
    got = log_volume(length, mid_d_m=mid, bark_thickness_m=bark)

    assert got.volume_m3 == pytest.approx(math.pi / 4 * (mid - 2 * bark) ** 2 * length)
    assert got.spread_m3.low <= got.volume_m3 <= got.spread_m3.high


@pytest.mark.parametrize(
    ("length", "given_", "field"),
    [
        (0.0, {"mid_d_m": 0.3}, "length"),
        (-4.0, {"mid_d_m": 0.3}, "length"),
        (math.nan, {"mid_d_m": 0.3}, "length"),
        (400.0, {"mid_d_m": 0.3}, "length"),  # centimetres typed as metres
        (4.0, {"mid_d_m": -0.3}, "mid"),
        (4.0, {"mid_d_m": 30.0}, "mid"),  # centimetres typed as metres
        (4.0, {"small_d_m": 0.3}, "ends"),
        (4.0, {"large_d_m": 0.3}, "ends"),
        (4.0, {"small_d_m": 0.32, "large_d_m": 0.28}, "ends"),
        (4.0, {"small_d_m": 0.28, "large_d_m": 0.32, "mid_d_m": 0.40}, "mid"),
        (4.0, {"small_d_m": 0.28, "large_d_m": 0.32, "mid_d_m": 0.20}, "mid"),
        (4.0, {}, "mid"),
        (4.0, {"mid_d_m": 0.3, "bark_thickness_m": -0.01}, "bark_thickness"),
        (4.0, {"mid_d_m": 0.3, "bark_thickness_m": 0.15}, "bark_thickness"),
        (4.0, {"mid_d_m": 0.3, "bark_thickness_m": math.inf}, "bark_thickness"),
    ],
)
def test_what_makes_no_log_is_refused_by_name(length, given_, field):
    with pytest.raises(InputError) as refused:
        log_volume(length, **given_)

    assert refused.value.field == field
    assert "wanted" in str(refused.value)
    assert "got" in str(refused.value)
