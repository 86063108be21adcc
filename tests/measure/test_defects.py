"""Hollow, rot and metal taken off; sweep, forks and odd pieces; bark by species."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure import (
    FT_M,
    IN_M,
    Defect,
    forked_volume,
    inside_bark,
    log_volume,
    net_volume,
    sunk_piece_m3,
    swept_length_m,
    weighed_piece_m3,
)
from rickyard.measure.cells import defects_from
from rickyard.wood import find_species, get_species

SIZES = {"small_d_m": 0.30, "mid_d_m": 0.34, "large_d_m": 0.40}
stretches = st.tuples(st.floats(0.0, 3.9), st.floats(0.05, 4.0)).map(lambda s: (s[0], min(4.0, s[0] + s[1])))


def test_a_sound_log_is_what_it_measures():
    assert net_volume(4.0, **SIZES).net_m3 == log_volume(4.0, **SIZES).volume_m3


def test_a_hollow_is_a_cylinder():
    found = net_volume(4.0, [Defect("hollow", 0.0, 1.5, diameter_m=0.20)], **SIZES)

    assert found.lost_m3["hollow"] == pytest.approx(math.pi / 4 * 0.2**2 * 1.5)
    assert found.net_m3 + found.lost_m3["hollow"] == pytest.approx(found.gross.volume_m3)


@pytest.mark.parametrize("sizes", [{"mid_d_m": 0.3}, {"small_d_m": 0.2, "large_d_m": 0.35}, SIZES])
def test_rot_through_and_through_leaves_nothing(sizes):
    """The log taken as the solid of its formula: what is taken off all along it is exactly its volume."""
    found = net_volume(4.0, [Defect("rot", 0.0, 4.0, share=1.0)], **sizes)

    assert found.lost_m3["rot"] == pytest.approx(found.gross.volume_m3, rel=1e-6)
    assert found.net_m3 == pytest.approx(0.0, abs=1e-6)
    assert found.notes


@given(first=stretches, second=stretches, share=st.floats(0.05, 1.0))
def test_overlapping_defects_count_once(first, second, share):
    """Never more than the sum, never less than the greater, whatever their order."""
    rot = Defect("rot", *first, share=share)
    metal = Defect("metal", *second)

    def lost(*defects):
        return sum(net_volume(4.0, defects, **SIZES).lost_m3.values())

    both = lost(rot, metal)
    assert both == pytest.approx(lost(metal, rot))
    assert max(lost(rot), lost(metal)) - 1e-9 <= both <= lost(rot) + lost(metal) + 1e-9
    overlap = min(first[1], second[1]) - max(first[0], second[0])
    said = net_volume(4.0, [rot, metal], **SIZES).notes
    assert any("overlap" in str(note) for note in said) == (overlap > 0)


@given(stretch=stretches, share=st.floats(0.05, 0.95))
def test_more_rot_leaves_less(stretch, share):
    some = net_volume(4.0, [Defect("rot", *stretch, share=share)], **SIZES)
    more = net_volume(4.0, [Defect("rot", *stretch, share=min(1.0, share + 0.05))], **SIZES)

    assert more.net_m3 < some.net_m3 < some.gross.volume_m3
    assert some.spread_m3.low <= some.net_m3 <= some.spread_m3.high


def test_forks_crooks_and_knots_are_wood():
    found = net_volume(4.0, [Defect("fork", 3.0, 4.0), Defect("knot", 0.0, 2.0)], **SIZES)

    assert found.net_m3 == found.gross.volume_m3
    assert found.notes == ()


def test_sweep_lengthens_a_log():
    """A circular arc, exactly: chord 4 m, sag 0.4 m, radius 5.2 m, arc 4.1056 m."""
    radius = (2.0**2 + 0.4**2) / (2 * 0.4)

    assert swept_length_m(4.0, 0.4) == pytest.approx(2 * radius * math.asin(2.0 / radius), rel=2e-3)
    assert net_volume(4.0, sweep_m=0.4, **SIZES).net_m3 > net_volume(4.0, **SIZES).net_m3


def test_a_fork_is_its_parts():
    stem, limb = net_volume(2.0, mid_d_m=0.4), net_volume(3.0, mid_d_m=0.2)

    found = forked_volume([stem, limb, limb])

    assert found.mid == pytest.approx(stem.net_m3 + 2 * limb.net_m3)
    with pytest.raises(InputError) as refused:
        forked_volume([stem, limb])
    assert refused.value.field == "parts"


def test_odd_pieces_by_scale_and_by_water():
    """Oven dry, 640 kg/m³ sugar maple shrunk: mass over density, back to the mass."""
    maple = get_species("acer_saccharum")
    found = weighed_piece_m3(50.0, maple, 0.20)

    assert found.low < found.mid < found.high
    assert weighed_piece_m3(100.0, maple, 0.20).mid == pytest.approx(2 * found.mid)
    assert weighed_piece_m3(50.0, maple, 0.40).mid < found.mid
    assert sunk_piece_m3(31.0) == pytest.approx(0.031)


@pytest.mark.parametrize(
    ("defect", "words"),
    [
        (Defect("rot", 3.0, 5.0, share=0.5), "within the log"),
        (Defect("rot", 2.0, 1.0, share=0.5), "begins"),
        (Defect("rot", -1.0, 1.0, share=0.5), "begins"),
        (Defect("rot", 0.0, float("nan"), share=0.5), "begins"),
        (Defect("rot", 0.0, 1.0, share=1.5), "share"),
        (Defect("rot", 0.0, 1.0, share=0.5, diameter_m=0.1), "either"),
        (Defect("hollow", 0.0, 4.0, diameter_m=0.35), "within the wood"),
        (Defect("worms", 0.0, 1.0), "one of"),
    ],
)
def test_defects_that_make_no_sense(defect, words):
    with pytest.raises(InputError) as refused:
        net_volume(4.0, [Defect("metal", 0.0, 0.1), defect], **SIZES)

    assert refused.value.field == "defects"
    assert words in str(refused.value)
    assert "defect 2" in str(refused.value)


def test_a_large_end_smaller_than_the_small_end_is_said_plainly():
    with pytest.raises(InputError, match="Swap the two ends"):
        net_volume(4.0, small_d_m=0.4, large_d_m=0.3)


def test_defects_as_they_are_typed():
    hollow, metal, rot = defects_from("0-2ft:hollow=6in|1.2-1.5m:metal|2 - 3:rot=50%")

    assert (hollow.from_m, hollow.to_m, hollow.diameter_m) == pytest.approx((0.0, 2 * FT_M, 6 * IN_M))
    assert (metal.kind, metal.to_m) == ("metal", pytest.approx(1.5))
    assert (rot.from_m, rot.share) == (pytest.approx(2.0), pytest.approx(0.5))
    for wrong in ("rot", "0-1:", "0-1:moss", "a-b:rot", "0-1:rot=half", "0:rot"):
        with pytest.raises(InputError):
            defects_from(wrong)


@pytest.mark.parametrize(
    ("name", "dob_in", "dib_in"),
    [
        # As printed in the tables, d.i.b. at 12 in: Clark et al. 1991; FVS Northeast for the birch.
        ("sugar maple", 12, 11.26),
        ("black locust", 12, 10.33),
        ("northern red oak", 12, 10.90),
        ("shagbark hickory", 12, 0.90 * 12),
        ("paper birch", 12, 0.948 * 12),
    ],
)
def test_bark_by_species(name, dob_in, dib_in):
    found = inside_bark(find_species(name), dob_in * IN_M)

    assert found.diameter_m / IN_M == pytest.approx(dib_in, abs=0.006)
    assert found.diameter_m + 2 * found.bark_thickness_m == pytest.approx(dob_in * IN_M)


@given(over=st.floats(0.01, 1.5))
def test_bark_leaves_wood(over):
    for name in ("acer_saccharum", "quercus_robur", "ulmus_americana"):
        assert 0.80 * over - 1e-12 <= inside_bark(get_species(name), over).diameter_m < over
