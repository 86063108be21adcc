"""Inside a piece: what the picture shows adds up to what the forecast says."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from rickyard import season, weather
from rickyard.errors import InputError
from rickyard.weather import HourlyAir

START = date(2026, 4, 15)
BIRCH = season.Pieces(
    species_id="betula_papyrifera", form="split", length_m=0.41, thickness_m=0.12, stacked_on=START
)
DAYS = [START, date(2026, 6, 1), date(2026, 8, 1)]


@pytest.fixture(scope="module")
def air() -> HourlyAir:
    return weather.generate_air(weather.find_place("Fredericton"), START, 120, members=16, seed=2)


@pytest.fixture(scope="module")
def found(air: HourlyAir) -> season.Sections:
    return season.sections(BIRCH, air, DAYS, seed=2)


def test_starts_even_and_dries_from_the_faces(found: season.Sections) -> None:
    first, june, august = found.days

    assert np.ptp(first.across) < 1e-6
    assert june.core[1] > june.mean[1] > june.face[1]
    assert june.mean[1] > august.mean[1]
    assert [section.on for section in found.days] == DAYS


def test_the_means_are_those_of_the_forecast(found: season.Sections, air: HourlyAir) -> None:
    made = season.forecast(BIRCH, air, members=16, seed=2, until=date(2026, 8, 1))
    day = (DAYS[1] - START).days
    expected = np.percentile(made.mc_db[day].astype(float), (10, 50, 90))

    assert found.days[1].mean == pytest.approx(expected / (1 + expected), abs=2e-3)


def test_the_wettest_tenth_lies_between_mean_and_core(found: season.Sections) -> None:
    for section in found.days[1:]:
        assert section.mean[1] < section.wettest[1] <= section.core[2] + 1e-9


def test_the_cuts_are_whole_pieces(found: season.Sections) -> None:
    section = found.days[1]

    assert section.across.shape == (len(section.x_m) - 1, len(section.y_m) - 1)
    assert section.along.shape == (len(section.x_m) - 1, len(section.z_m) - 1)
    assert section.x_m[-1] == pytest.approx(0.12)
    assert section.y_m[-1] == pytest.approx(0.12)
    assert section.z_m[-1] == pytest.approx(0.41)
    # Mirrored across the thickness and along, but bark on one side keeps the other axis as it is.
    assert np.allclose(section.across, section.across[::-1])
    assert np.allclose(section.along, section.along[:, ::-1])
    assert found.bark == "one"
    assert section.across[10, 0] > section.across[10, -1]


def test_peeled_rounds_are_alike_on_all_sides(air: HourlyAir) -> None:
    peeled = replace(BIRCH, form="round", bark=False)
    section = season.sections(peeled, air, [DAYS[1]], seed=2).days[0]

    assert np.allclose(section.across, section.across[:, ::-1])


def test_a_day_before_the_stacking_is_refused(air: HourlyAir) -> None:
    with pytest.raises(InputError) as refused:
        season.sections(BIRCH, air, [date(2026, 4, 1)])
    assert refused.value.field == "on"


def test_days_worth_a_picture() -> None:
    today = date(2026, 7, 10)
    days = season.section_days(START, today, date(2026, 9, 20), date(2027, 9, 1))

    assert today in days
    assert days == sorted(set(days))
    assert len(days) <= 14
    assert days[0] == date(2026, 5, 1)
    assert days[-1] == date(2026, 10, 1)
    assert len(season.section_days(START, today, None, date(2028, 9, 1))) <= 14
