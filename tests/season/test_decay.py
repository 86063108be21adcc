"""Keeping quality: the index by its formula, and losses that go the right way and own up to their doubt."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard import season, weather
from rickyard.season.decay import HEARTWOOD, hazard_of
from rickyard.wood import all_species, get_species

START = date(2026, 4, 1)
DATES = [START + timedelta(days=i) for i in range(540)]
MAPLE = get_species("acer_saccharum")


def moistures(days_wet: int) -> np.ndarray:
    return np.where(np.arange(len(DATES)) < days_wet, 0.60, 0.18)


def test_index_of_a_made_up_climate() -> None:
    """The sum done by hand in degrees Fahrenheit, (T-35)(D-3)/30: 42.8."""
    temp_f = np.array([20, 22, 32, 45, 56, 65, 70, 68, 60, 49, 38, 26])
    wet_days = np.array([13, 11, 12, 11, 12, 11, 10, 10, 10, 10, 12, 13])
    by_hand = (np.maximum(temp_f - 35, 0) * (wet_days - 3)).sum() / 30

    assert by_hand == pytest.approx(42.8, abs=0.1)
    # 35 °F is 1.7 °C; the metric form rounds it to 2.
    assert season.scheffer_index((temp_f - 32) / 1.8, wet_days) == pytest.approx(by_hand, abs=1.5)


@pytest.mark.parametrize(
    ("place", "expected"), [("45.87,-66.53", 39.0), ("us-wi474961", 42.0), ("us-ak502177", 44.0)]
)
def test_index_from_the_tables(place: str, expected: float) -> None:
    """Against the same formula done by another hand on the same normals: a check of the reading of tables."""
    found = weather.find_place(place) if "," in place else None
    if found is None:
        by_id = {"us-wi474961": "43.13,-89.33", "us-ak502177": "60.5,-145.5"}
        found = weather.find_place(by_id[place])
    normals = weather.normals_at(found)

    assert season.scheffer_index(normals.temp_c, normals.wet_days) == pytest.approx(expected, abs=3.0)


def test_cold_or_dry_months_count_nothing() -> None:
    assert season.scheffer_index(np.full(12, 1.0), np.full(12, 20.0)) == 0.0
    assert season.scheffer_index(np.full(12, 20.0), np.full(12, 2.0)) == 0.0


def test_hazards() -> None:
    assert [hazard_of(index) for index in (10, 35, 65, 66)] == ["low", "moderate", "moderate", "high"]


@given(wet=st.integers(0, 500), more=st.integers(0, 39))
def test_wet_longer_never_keeps_better(wet: int, more: int) -> None:
    normals = weather.normals_at(weather.find_place("Fredericton"))
    one, two = (
        season.keeping(MAPLE, normals, cover="top", dates=DATES, mc_db=moistures(days))
        for days in (wet, wet + more)
    )

    assert one.first_year.mid <= two.first_year.mid + 1e-12
    assert one.years_to_tenth.mid >= two.years_to_tenth.mid - 1e-9
    assert one.first_year.low <= one.first_year.mid <= one.first_year.high < 0.25


def test_cover_ground_and_class_order() -> None:
    normals = weather.normals_at(weather.find_place("Fredericton"))
    kept = {
        cover: season.keeping(MAPLE, normals, cover=cover, dates=DATES, mc_db=moistures(120))
        for cover in ("none", "top", "shed")
    }
    assert kept["none"].per_year.mid > kept["top"].per_year.mid > kept["shed"].per_year.mid
    assert kept["none"].ground_per_year.mid > kept["none"].per_year.mid
    by_class = [
        season.keeping(
            replace(MAPLE, decay_class=name), normals, cover="none", dates=DATES, mc_db=moistures(120)
        ).per_year.mid
        for name in ("R+", "R", "M", "S")
    ]
    assert by_class == sorted(by_class)
    assert len(set(by_class)) == 4


def test_what_is_assumed_is_said() -> None:
    normals = weather.normals_at(weather.find_place("Fredericton"))
    unknown = replace(MAPLE, decay_class=None)
    said = [
        str(text)
        for text in season.keeping(unknown, normals, cover="top", dates=DATES, mc_db=moistures(90)).warnings
    ]

    assert any("assumed" in text for text in said)
    assert any("No decay class is known" in text for text in said)


def test_every_class_of_the_table_is_known() -> None:
    assert {species.decay_class for species in all_species()} <= {*HEARTWOOD, None}
