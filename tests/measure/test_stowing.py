"""Solid content by what the pieces are like, and the two kinds of cord."""

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure import FT3_M3, FT_M, IN_M, solid_share, stowing, two_cords
from rickyard.measure.stowing import CROOK_M_PER_M, DENSEST, USUAL_THICKNESS_M, usual_bark_ratio
from rickyard.wood import get_species

forms = st.sampled_from(["split", "round", "log", "kindling"])
piles = st.sampled_from(["ranked", "loose"])
lengths = st.floats(0.1, 3.0)
thicknesses = st.floats(0.05, 0.6)


@given(piled=piles, form=forms, length=lengths)
@example(piled="ranked", form="round", length=1.1005262427348577)
def test_a_usual_piece_has_the_usual_share(piled, form, length):
    # The same by two ways of reckoning: to the rounding of the last digits.
    share, usual = stowing(piled, form, length).share, solid_share(piled, form, length)
    assert (share.low, share.mid, share.high) == pytest.approx((usual.low, usual.mid, usual.high), rel=1e-12)


def test_the_statute_s_step_is_in_the_model():
    """Minn. Stat. 239.33, 128 to 110 ft³ when sawed, is what the crook was made from; 110 to 120 when split, and the
    loose 160 and 175: that they are joined rightly, not that they are true."""
    assert pytest.approx(math.sqrt(128 / 110)) == (1 + CROOK_M_PER_M * 4 * FT_M / 0.15) / (
        1 + CROOK_M_PER_M * 16 * IN_M / 0.15
    )
    whole = 80 * FT3_M3
    rounds = whole / stowing("ranked", "round", 4 * FT_M).share.mid
    sawed = whole / stowing("ranked", "round", 16 * IN_M).share.mid
    split = whole / stowing("ranked", "split", 16 * IN_M).share.mid
    assert (sawed / rounds, split / rounds) == (pytest.approx(110 / 128), pytest.approx(120 / 128))
    loose = whole / stowing("loose", "split", 16 * IN_M).share.mid
    assert split / loose == pytest.approx(120 / 175, rel=0.03)


def test_the_limit_it_leaves_is_the_densest_packing():
    """Not fitted: rounds of no length, with mean bark, 0.904 of the room; equal cylinders π/(2√3) = 0.907."""
    stove = solid_share("ranked", "round", 16 * IN_M).mid
    limit = (
        stove * (1 + CROOK_M_PER_M * 16 * IN_M / USUAL_THICKNESS_M["round"]) ** 2 * (1 + usual_bark_ratio())
    )

    assert limit == pytest.approx(DENSEST, abs=0.02)


def test_peeled_rounds_against_beers():
    """Central hardwoods, Beers 1964: 76 ft³ of wood and 92 of wood and bark a cord. Not fitted; peeled, ours hold 92
    ft³ of wood. Tolerance 4 ft³: the regional means differ by 7."""
    peeled = stowing("ranked", "round", 4 * FT_M, bark_left=0.0)

    assert peeled.share.mid * 128 == pytest.approx(92.0, abs=4.0)


def test_the_range_of_single_cords():
    """Lake States: 65 to 95 ft³ a cord, by diameter, roughness and crook. From 12 in straight rounds to 5 in crooked
    ones the model spans it, within 5 ft³."""
    best = (
        stowing("ranked", "round", 4 * FT_M, thickness_m=12 * IN_M, straightness="straight").share.mid * 128
    )
    worst = stowing("ranked", "round", 4 * FT_M, thickness_m=5 * IN_M, straightness="crooked").share.mid * 128

    assert best == pytest.approx(95.0, abs=5.0)
    assert worst == pytest.approx(65.0, abs=5.0)


@given(
    piled=piles,
    form=forms,
    length=lengths,
    thin=thicknesses,
    more=st.floats(1.05, 3.0),
    crook=st.floats(0.1, 4.0),
)
def test_thicker_straighter_barer_and_shorter_pack_closer(piled, form, length, thin, more, crook):
    def share(**options):
        return stowing(piled, form, length, **options).share.mid

    base = share(thickness_m=thin, straightness=crook)
    assert share(thickness_m=thin * more, straightness=crook) >= base
    assert share(thickness_m=thin, straightness=crook / more) >= base
    assert share(thickness_m=thin, straightness=crook, bark_left=0.5) >= base
    # Between stove length and 4 ft the base is a straight line and the crook is not: half a percent.
    longer = stowing(piled, form, length * more, thickness_m=thin, straightness=crook).share.mid
    assert longer <= base * 1.006
    assert 0.0 < base <= 0.95


def test_thick_bark_takes_room():
    thick, thin = get_species("robinia_pseudoacacia"), get_species("fagus_grandifolia")
    assert thick.bark_volume_ratio > thin.bark_volume_ratio

    shares = [stowing("ranked", "round", 0.4, species=species).share.mid for species in (thick, thin)]

    assert shares[0] < shares[1]
    assert shares[0] / shares[1] == pytest.approx(
        (1 + thin.bark_volume_ratio) / (1 + thick.bark_volume_ratio)
    )


def test_a_logger_s_cord_is_not_a_sold_cord():
    """79 ft³ of wood in one, 85 in the other: a cord of logs makes 0.93 sold cords, 0.88 with 5 % lost; by the
    Minnesota statute 120 ft³ are a cord sold, so that none is lost: 79.7 ft³ in both."""
    both = two_cords(79 * FT3_M3)

    assert both.logger.mid == pytest.approx(1.0)
    assert both.sold.mid == pytest.approx(79 / 85)
    assert both.sold_per_logger.mid == pytest.approx(79 / 85)
    assert two_cords(10.0, lost_share=0.05).sold_per_logger.mid == pytest.approx(0.95 * 79 / 85)
    minnesota = two_cords(10.0, sold_cord_ft3=120.0)
    assert minnesota.sold_per_logger.mid == pytest.approx(1.0, abs=0.01)
    assert both.sold_per_logger.low < 1.0 < both.sold_per_logger.high


@given(solid=st.floats(0.1, 300.0), form=forms, length=lengths)
def test_cords_and_back(solid, form, length):
    found = two_cords(solid, form=form, piece_length_m=length)

    assert found.sold.mid * 128 * FT3_M3 * solid_share("ranked", form, length).mid == pytest.approx(solid)
    assert found.sold.low <= found.sold.mid <= found.sold.high


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: stowing("ranked", "round", 0.4, thickness_m=0.0), "thickness"),
        (lambda: stowing("ranked", "round", 0.4, straightness="bent"), "straightness"),
        (lambda: stowing("ranked", "round", 0.4, straightness=-1.0), "straightness"),
        (lambda: stowing("ranked", "round", 0.4, bark_left=2.0), "bark_left"),
        (lambda: two_cords(-1.0), "solid_m3"),
        (lambda: two_cords(1.0, lost_share=1.0), "lost_share"),
        (lambda: two_cords(1.0, sold_cord_ft3=8.0), "sold_cord_ft3"),
    ],
)
def test_nonsense_is_refused_by_name(call, field):
    with pytest.raises(InputError) as refused:
        call()

    assert refused.value.field == field
