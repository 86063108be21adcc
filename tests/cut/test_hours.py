"""Hours and pieces a cord that a yard learns, worked out by hand step by step.

Numbers used throughout: a ranked cord is 3.6246 m³; splits 0.41 m long fill 0.65 of it or so (`solid_share`), which
cancels wherever two sizes of one length are compared. The hydraulic splitter's published 2.5 h are taken to be of
pieces 12 cm by 12 cm by 41 cm.
"""

from __future__ import annotations

import math

import pytest

from rickyard.cut import Rounds, Session, cord_of, expected_pieces, learn_splitting, split_round
from rickyard.cut.hours import TIMED_LENGTH_M, TIMED_THICKNESS_M
from rickyard.measure import CORD_M3, solid_share

THICK, LONG = 0.12, 0.41
PUBLISHED = expected_pieces(THICK, LONG)
METHOD = "hydraulic_splitter"


def timed(hours: float, cords: float, thickness_m: float | None = None, pieces: int | None = None) -> Session:
    by_size = None if thickness_m is None else expected_pieces(thickness_m, LONG)
    return Session(METHOD, cords, hours, pieces, piece_length_m=LONG, by_size=by_size)


def test_without_records_the_published_hours_go_by_the_number_of_pieces() -> None:
    """Pieces half as thick are four times as many: 2.5 h become 10 h, and at twice the thickness a quarter."""
    assert (TIMED_THICKNESS_M, TIMED_LENGTH_M) == (THICK, LONG)
    assert (
        pytest.approx(CORD_M3 * solid_share("ranked", "split", LONG).mid / (0.12 * 0.12 * 0.41)) == PUBLISHED
    )
    learnt = learn_splitting(METHOD)

    assert learnt.hours_for(PUBLISHED).mid == pytest.approx(2.5)
    assert learnt.hours_for(expected_pieces(0.06, LONG)).mid == pytest.approx(10.0)
    assert learnt.hours_for(expected_pieces(0.24, LONG)).mid == pytest.approx(0.625)
    assert learnt.pieces_for(PUBLISHED).mid == pytest.approx(PUBLISHED)
    assert (learnt.hours.own_share, learnt.counted.own_share, learnt.counted.sessions) == (0.0, 0.0, 0)


def test_one_session_of_known_thickness() -> None:
    """Three cords of 12 cm pieces in 12 h: 4 h a cord.

    Prior: log 2.5, variance 0.5² = 0.25, weight 4. Session: log 4, variance 0.3² (1 + 1/3) = 0.12, weight 8.3333.
    Mean: log 2.5 + 8.3333 / 12.3333 · log(4 / 2.5) = log 2.5 + 0.67568 · 0.47000, so 2.5 · e^0.31757 = 3.4344 h.
    Variance 1 / 12.3333 = 0.081081, sd 0.28475; ±1.28155 sd is a factor of e^0.36492 = 1.44040.
    The yard's say: 1 - 0.081081 / 0.25 = 0.67568.
    """
    rate = learn_splitting(METHOD, [timed(12.0, 3.0, THICK)]).hours

    assert rate.per_cord.mid == pytest.approx(3.4344, abs=1e-3)
    assert rate.per_cord.high / rate.per_cord.mid == pytest.approx(1.4404, abs=1e-3)
    assert rate.own_share == pytest.approx(0.67568, abs=1e-4)
    assert rate.sessions == 1


@pytest.mark.parametrize("pieces", [None, 500, 700, 1400])
def test_a_count_of_pieces_of_known_thickness_leaves_the_hours_alone(pieces: int | None) -> None:
    """However many pieces were counted: they took 4 h a cord, and pieces of the same size will again."""
    alone = learn_splitting(METHOD, [timed(12.0, 3.0, THICK)]).hours

    assert learn_splitting(METHOD, [timed(12.0, 3.0, THICK, pieces)]).hours.per_cord.mid == pytest.approx(
        alone.per_cord.mid
    )


def test_hours_of_other_pieces_than_those_that_were_timed() -> None:
    """A session of 24 cm pieces at 1 h a cord is one of 4 h for 12 cm: a quarter of the pieces. So both teach alike,
    and a cord of 24 cm pieces takes a quarter of what one of 12 cm does."""
    coarse = learn_splitting(METHOD, [timed(3.0, 3.0, 0.24, 240)])
    same = learn_splitting(METHOD, [timed(12.0, 3.0, THICK)])

    assert coarse.hours.per_cord.mid == pytest.approx(same.hours.per_cord.mid)
    assert coarse.hours_for(expected_pieces(0.24, LONG)).mid == pytest.approx(same.hours.per_cord.mid / 4.0)


def test_counts_teach_how_many_more_pieces_there_are_than_the_size_says() -> None:
    """One cord, 1.5 times the pieces that its size says, counted once.

    Prior: log 1, variance 0.35² = 0.1225, weight 8.1633. Count: log 1.5, variance 0.3² (0.25 + 0.25) = 0.045, weight
    22.2222. Mean 22.2222 / 30.3855 · log 1.5 = 0.73134 · 0.40547 = 0.29653: a factor of 1.34518, for pieces of every
    size alike.
    """
    counted = round(1.5 * expected_pieces(0.08, LONG))
    learnt = learn_splitting(METHOD, [timed(5.0, 1.0, 0.08, counted)])

    assert learnt.counted.per_cord.mid == pytest.approx(1.34518, rel=1e-3)
    for thickness in (0.05, 0.08, 0.20):
        by_size = expected_pieces(thickness, LONG)
        assert learnt.pieces_for(by_size).mid == pytest.approx(1.34518 * by_size, rel=1e-3)


def test_a_session_of_unknown_thickness_has_less_say_and_its_count_tells_the_size() -> None:
    """Three cords in 12 h, nobody said how thick.

    Without a count: variance 0.12 + 0.25 of the size = 0.37, weight 2.7027; mean log 2.5 + 2.7027 / 6.7027 · 0.47
    = log 2.5 + 0.18952, so 3.0217 h: nearer the published than the 3.4344 h of a known size.

    With a count, x: logarithm of the hours over the published; y: of pieces over what 12 cm says. Their errors share
    that of the size: [[0.12 + 0.25, 0.25], [0.25, 0.3² (0.25 + 0.25 / 3) + 0.25]] = [[0.37, 0.25], [0.25, 0.28]],
    determinant 0.0411; inverse [[6.8127, -6.0827], [-6.0827, 9.0024]]. With priors 4 and 8.1633 on the diagonal:
    [[10.8127, -6.0827], [-6.0827, 17.1657]], determinant 148.608.
    Half as many pieces as 12 cm says: y = -log 2 = -0.69315, x = 0.47000. Right sides: 6.8127 · 0.47 + 6.0827 · 0.69315
    = 7.4182; -6.0827 · 0.47 - 9.0024 · 0.69315 = -9.0989.
    x = (17.1657 · 7.4182 - 6.0827 · 9.0989) / 148.608 = (127.338 - 55.346) / 148.608 = 0.48444: 4.0583 h for 12 cm.
    y = (10.8127 · -9.0989 + 6.0827 · 7.4182) / 148.608 = (-98.384 + 45.123) / 148.608 = -0.35840: 0.69880.
    """
    blind = learn_splitting(METHOD, [timed(12.0, 3.0)])
    assert blind.hours.per_cord.mid == pytest.approx(3.0217, abs=1e-3)

    few = learn_splitting(METHOD, [timed(12.0, 3.0, pieces=round(1.5 * PUBLISHED))])
    assert few.hours.per_cord.mid == pytest.approx(4.0583, rel=2e-3)
    assert few.counted.per_cord.mid == pytest.approx(0.69880, rel=2e-3)
    # Fewer pieces were thicker ones, and thinner ones will take longer: a count never makes a slow yard fast.
    assert few.hours.per_cord.mid > blind.hours.per_cord.mid


def test_many_records_of_every_kind_take_over() -> None:
    """A yard that takes 0.8 min a piece and counts a fifth more pieces than sizes say: 12 cm, 1.2 · 0.8 min each."""
    told = []
    for thickness in (0.07, 0.10, 0.14, 0.20) * 15:
        count = 1.2 * expected_pieces(thickness, LONG)
        told.append(timed(2.0 * count * 0.8 / 60.0, 2.0, thickness, round(2.0 * count)))
    learnt = learn_splitting(METHOD, told)

    assert learnt.hours.per_cord.mid == pytest.approx(1.2 * PUBLISHED * 0.8 / 60.0, rel=0.02)
    assert learnt.counted.per_cord.mid == pytest.approx(1.2, rel=0.01)
    assert learn_splitting("splitting_maul", told) == learn_splitting("splitting_maul"), "each way by itself"


def test_wood_left_whole_takes_no_hours() -> None:
    """Rounds of 10 cm and 40 cm long left whole lie as rounds: pieces by the share of round wood."""
    whole = split_round(0.10, 0.127)
    assert len(whole.pieces) == 1
    cord = cord_of([Rounds(0.10, 1)], 0.40)
    learnt = learn_splitting(METHOD, [timed(12.0, 3.0, THICK, 2000)])
    rounds = CORD_M3 * solid_share("ranked", "round", 0.40).mid / (math.pi / 4 * 0.10**2 * 0.40)

    assert (cord.hours(learnt).low, cord.hours(learnt).mid, cord.hours(learnt).high) == (0.0, 0.0, 0.0)
    assert cord.pieces(learnt).mid == pytest.approx(rounds), "whole rounds are not counted as splits are"
    share = solid_share("ranked", "round", 0.40)
    assert cord.pieces(learnt).high / cord.pieces(learnt).mid == pytest.approx(share.high / share.mid)
    assert cord.split_share == 0.0


def test_a_cord_of_whole_and_split_rounds_counts_each_by_its_wood() -> None:
    """1 m³ of 10 cm rounds left whole, 2 m³ of 30 cm rounds in quarters, 40 cm long.

    They fill 1 / r and 2 / s with the shares r of rounds and s of splits. Of that whole, 2 / s is split: its quarters
    have 0.0706858 m² / 4 · 0.4 m = 0.00706858 m³ each, so 282.94 of them make 2 m³; a round has 0.00785398 m² · 0.4 m
    = 0.00314159 m³, and 318.31 make 1 m³.
    """
    r, s = (solid_share("ranked", form, 0.40).mid for form in ("round", "split"))
    cords = (1.0 / r + 2.0 / s) / CORD_M3
    cord = cord_of([Rounds(0.10, 1, 1.0), Rounds(0.30, 4, 2.0)], 0.40)
    learnt = learn_splitting(METHOD)

    assert cord.split_share == pytest.approx(2.0 / s / (1.0 / r + 2.0 / s))
    assert cord.pieces(learnt).mid == pytest.approx((282.94 + 318.31) / cords, rel=1e-4)
    # 2.5 h for the published number of pieces; only the quarters take any.
    assert cord.hours(learnt).mid == pytest.approx(2.5 * 282.94 / cords / PUBLISHED, rel=1e-4)
