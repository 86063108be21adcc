"""How woods burn: the table's shape, and what its sources are known to disagree on."""

from __future__ import annotations

import re

import pytest

from rickyard.heat import QUALITIES, RATINGS, all_ratings, burning, burning_sources, by_rating
from rickyard.wood import all_groups, all_species, get_species


def test_the_table_is_whole() -> None:
    """Every rating is one of its quality's, every wood one of the house's, every source listed and used."""
    woods = {wood.id for wood in (*all_species(), *all_groups())}
    for rating in all_ratings():
        assert rating.quality in QUALITIES
        assert rating.rating in RATINGS[rating.quality], rating
        assert set(rating.woods) <= woods, rating
        assert rating.as_printed
        assert rating.printed
    assert {rating.source.id for rating in all_ratings()} == set(burning_sources())
    assert len(all_ratings()) > 750


def test_private_pages_stay_off_the_screen() -> None:
    """Screens cite handbooks, agencies and societies; what a private page says is in the table only."""
    shown = {rating.source for wood in all_species() for said in burning(wood).values() for rating, _ in said}
    assert shown
    for source in shown:
        assert source.on_screen
        assert not re.search(r"forum|private|\.com", source.short)
    everything = burning(get_species("fagus_grandifolia"), on_screen=False)["splitting"]
    assert any(not rating.source.on_screen for rating, _ in everything)


def test_beech_splits_easily_or_hard_by_whom_one_asks() -> None:
    """The old USDA line calls beech easy to split, Utah State and the western table call it hard."""
    said = by_rating(burning(get_species("fagus_grandifolia"))["splitting"])

    assert [name for name, _ in said] == ["easy", "hard"]
    assert {rating.source.id for rating, _ in said[0][1]} == {"FPLSAC"}
    assert {rating.source.id for rating, _ in said[1][1]} == {"USU", "CRFD"}


@pytest.mark.parametrize(
    ("wood", "quality", "rating"),
    [
        ("ulmus_americana", "splitting", "hard"),  # K-State and Utah State
        ("maclura_pomifera", "sparks", "many"),  # K-State: not in an open fireplace
        ("malus_domestica", "fragrance", "excellent"),
    ],
)
def test_where_all_agree(wood: str, quality: str, rating: str) -> None:
    assert [name for name, _ in by_rating(burning(get_species(wood))[quality])] == [rating]


def test_a_species_without_ratings_of_its_own_has_those_of_its_group() -> None:
    ((rating, of), *_) = burning(get_species("quercus_rubra"))["splitting"]

    assert of.id == "red_oak_group"
    assert "Red" in rating.printed


def test_british_sycamore_is_a_maple() -> None:
    """The Royal Forestry Society's sycamore is Acer pseudoplatanus; the American tables' is Platanus."""
    british = [
        rating for rating in all_ratings() if rating.source.id == "RFS" and "sycamore" in rating.printed
    ]

    assert british
    assert all("acer_pseudoplatanus" in rating.woods for rating in british)
    assert not any("platanus_occidentalis" in rating.woods for rating in british)
