"""How woods split, hours a cord, and what the trade says without a source."""

from __future__ import annotations

import pytest

from rickyard.cut import (
    Session,
    advice,
    ease_of,
    ease_words,
    hours_per_cord,
)
from rickyard.cut.ease import POOR
from rickyard.cut.hours import methods
from rickyard.errors import InputError
from rickyard.wood import find_species


def test_sources_that_disagree_are_all_shown() -> None:
    """Black locust: Good in Kentucky, difficult in Kansas."""
    ease = ease_of(find_species("black locust"))

    assert {"good", "difficult"} <= {rating.words for rating in ease.ratings}
    assert ease.disagree
    assert "disagree" in str(ease_words(ease))
    assert all(rating.source for rating in ease.ratings)


@pytest.mark.parametrize(
    ("name", "hardest", "related"),
    [
        ("white ash", 1, False),
        ("American elm", 4, False),
        ("shagbark hickory", 2, True),  # by the genus
        ("northern red oak", 3, True),  # by the trade group
        ("winged elm", 4, True),  # by its relatives
        ("elm", 4, True),
    ],
)
def test_ratings(name: str, hardest: int, related: bool) -> None:
    ease = ease_of(find_species(name))

    assert (ease.hardest, ease.related) == (hardest, related)


def test_a_wood_nobody_rated() -> None:
    ease = ease_of(find_species("larch"))

    assert ease.ratings == ()
    assert "not found" in str(ease_words(ease))


def test_forks_and_knots_come_first_and_the_worst_is_left() -> None:
    said = [str(text) for text in advice(ease_of(find_species("American elm")))]
    assert said[0].startswith("Forks, knots")
    assert "noodle saw" in said[-1]
    assert not any("noodle" in str(text) for text in advice(ease_of(find_species("white ash"))))
    assert any("noodle" in str(text) for text in advice(ease_of(find_species("white ash")), knotty=True))


def test_what_is_said_of_relatives_is_said_so_and_leaves_no_round() -> None:
    """Of paper birch nobody spoke; of yellow and black birch one forum did."""
    birch = ease_of(find_species("paper birch"))
    said = [str(text) for text in advice(birch)]

    assert (birch.related, birch.hardest) == (True, POOR)
    assert said[-1].startswith("Said of its group or of relatives, not of itself")
    assert not any("noodle" in text for text in said)
    assert "noodle" in str(advice(ease_of(find_species("yellow birch")))[-1])
    # A fork is a fork in any wood.
    assert any("noodle" in str(text) for text in advice(birch, knotty=True))


def test_published_hours_stand_until_the_yard_has_its_own() -> None:
    """Half an hour for a fifth of a cord by hydraulic splitter, 49 minutes by sledge and wedges."""
    assert methods()["hydraulic_splitter"].hours_per_cord == 2.5
    assert methods()["sledge_and_wedges"].hours_per_cord == pytest.approx(49 * 5 / 60, abs=0.01)
    assert all(method.source for method in methods().values())

    prior = hours_per_cord("splitting maul")
    assert prior.per_cord.mid == pytest.approx(2.83)
    assert prior.own_share == 0.0
    mine = [Session("splitting_maul", 2.0, 3.0)] * 8
    learnt = hours_per_cord("splitting_maul", mine)
    assert learnt.per_cord.mid == pytest.approx(1.5, rel=0.05)
    assert learnt.per_cord.high / learnt.per_cord.low < prior.per_cord.high / prior.per_cord.low
    # Another method's hours teach nothing about this one.
    assert hours_per_cord("felling_axe", mine).sessions == 0
    with pytest.raises(InputError, match="one of hydraulic_splitter"):
        hours_per_cord("teeth")


def test_black_locust_splits_easily_but_for_grown_together_stems() -> None:
    """Common practice, no source."""
    words = [r.words for r in ease_of(find_species("black locust")).ratings if r.kind == "practice"]

    assert words == ["easy except through grown-together stems"]


def test_the_worst_words_have_the_worst_rating() -> None:
    for name in ("yellow birch", "rock elm", "sycamore", "Siberian elm"):
        assert ease_of(find_species(name)).hardest == POOR
