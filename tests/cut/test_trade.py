"""What the trade says. Common practice, no source: all of it."""

from __future__ import annotations

from datetime import date

import pytest

from rickyard import season, weather
from rickyard.cut import WARE_EXAMPLE, kindling_words, read_wares, split_round
from rickyard.measure import IN_M
from rickyard.season import REDUCED
from rickyard.wood import find_species


def test_fireplaces_take_about_eighteen_inches() -> None:
    """Common practice, no source: it is in the example that a yard begins with."""
    hearth = next(ware for ware in read_wares(WARE_EXAMPLE).wares if ware.name.startswith("hearth"))

    assert hearth.length_m == pytest.approx(18 * IN_M)


def test_thinner_black_locust_and_the_six_to_eight_months_of_a_year() -> None:
    """Common practice, no source: thinner cutting takes it from a year to six to eight months.

    That is 0.50 to 0.67 of the time. For pieces out of one round split to halves and to eighths the screening model
    says 0.49, and it dries green locust sooner altogether: a miss that the accuracy page tells, kept by its figure.
    """
    air = weather.generate_air(weather.find_place("Columbus, Ohio"), date(2026, 4, 1), 365, members=8, seed=1)
    days = []
    for limit in (0.175, 0.10):
        thickness = split_round(0.30, limit).thickness_mean_m
        pieces = season.Pieces(
            species_id="robinia_pseudoacacia",
            form="split",
            length_m=0.41,
            thickness_m=thickness,
            stacked_on=date(2026, 4, 1),
        )
        made = season.forecast(pieces, air, members=8, seed=1, model=REDUCED)
        ready = made.ready(0.20).p50
        assert ready is not None
        days.append((ready - date(2026, 4, 1)).days)

    assert [len(split_round(0.30, limit).pieces) for limit in (0.175, 0.10)] == [2, 8]
    assert days[1] / days[0] == pytest.approx(0.493, abs=0.01)


def test_lighting() -> None:
    """Common practice, no source: honey locust lights slowly, black locust's bark and wood start a fire well."""
    honey = " ".join(map(str, kindling_words(find_species("honey locust"))))
    black = " ".join(map(str, kindling_words(find_species("black locust"))))

    assert "lights slowly" in honey
    assert "start a fire well" in black
    assert "locust" not in " ".join(map(str, kindling_words(find_species("white ash"))))
