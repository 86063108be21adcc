"""Measurements move a forecast the right way, by the right amount, and never change whose member is whose."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from rickyard import weather, wood
from rickyard.errors import InputError
from rickyard.season import Pieces, Reading, forecast
from rickyard.season.ensemble import member_constants, member_hours
from rickyard.season.models import AirHours, FiniteVolumes
from rickyard.season.readings import evidence

START = date(2026, 4, 1)
OAK = Pieces("quercus_rubra", "split", 0.41, 0.12, stacked_on=START)
MEMBERS = 24


def day(n):
    return START + timedelta(days=n)


@pytest.fixture(scope="module")
def air():
    return weather.generate_air(weather.find_place("Fredericton"), START, 130, members=MEMBERS, seed=2)


@pytest.fixture(scope="module")
def plain(air):
    return forecast(OAK, air, members=MEMBERS, seed=2)


def told(air, *readings):
    return forecast(OAK, air, members=MEMBERS, seed=2, readings=readings)


def spread(made, n):
    return made.p90[n] - made.p10[n]


def test_a_low_reading_makes_it_earlier_and_a_high_one_later(air, plain):
    usual = float(np.median(plain.mc_db[60]))
    low = told(air, Reading("oven", day(60), (usual - 0.08) / (1 + usual - 0.08)))
    high = told(air, Reading("oven", day(60), (usual + 0.08) / (1 + usual + 0.08)))

    assert low.p50[120] < plain.p50[120] - 0.005
    assert high.p50[120] > plain.p50[120] + 0.005


def test_the_band_narrows_and_takes_the_reading_in(air, plain):
    usual = float(np.median(plain.mc_db[60]))
    made = told(air, Reading("oven", day(60), usual / (1 + usual)))

    assert spread(made, 60) < 0.6 * spread(plain, 60)
    assert spread(made, 120) < spread(plain, 120)
    assert made.p10[60] - 0.01 < usual / (1 + usual) < made.p90[60] + 0.01


def test_an_oven_sample_at_the_start_settles_the_start(air, plain):
    made = told(air, Reading("oven", day(0), 0.47))

    assert spread(made, 0) < 0.6 * spread(plain, 0)
    assert made.p50[0] == pytest.approx(0.47, abs=0.015)


def test_a_weighing_tells_most_when_the_start_is_known(air, plain):
    """Oven sample and one weighing narrow the band more than either alone (the model's twin experiment)."""
    truth = plain.mc_db[:, 5]
    ratio = Reading("weighed", day(40), float((1 + truth[40]) / (1 + truth[0])))
    oven = Reading("oven", day(0), float(truth[0] / (1 + truth[0])))
    both, weighed, dried = told(air, oven, ratio), told(air, ratio), told(air, oven)

    assert spread(both, 100) < spread(weighed, 100)
    assert spread(both, 100) < spread(dried, 100)
    assert both.p50[100] == pytest.approx(truth[100] / (1 + truth[100]), abs=0.03)


def test_members_keep_their_weather_and_order(air, plain):
    """After a reading, column j is still weather j: only the wood was moved."""
    made = told(air, Reading("oven", day(60), 0.22))
    moved = member_constants(OAK, wood.get_species(OAK.species_id), made.ensemble)
    hours = AirHours(air.air_c, air.vapour_pa, air.wind_m_s, air.sun_w_m2, air.rain_mm)

    run = FiniteVolumes().run(OAK.shape, moved, member_hours(OAK, made.ensemble, hours), 130)

    np.testing.assert_array_equal(run.mean_db, made.mc_db)
    assert not np.allclose(made.ensemble.log_k_d, plain.ensemble.log_k_d)
    np.testing.assert_array_equal(made.ensemble.log_k_d_shared, plain.ensemble.log_k_d_shared)


def test_beyond_the_meters_range_is_a_bound_not_a_value(air, plain):
    """60 % on a meter in April says wet, nothing more; in thin birch in July it says wetter than forecast."""
    early = told(air, Reading("meter", day(2), 60.0))
    thin = replace(OAK, species_id="betula_papyrifera", thickness_m=0.07)
    usual = forecast(thin, air, members=MEMBERS, seed=2)
    late = forecast(thin, air, members=MEMBERS, seed=2, readings=[Reading("meter", day(90), 60.0)])

    np.testing.assert_allclose(early.p50, plain.p50, atol=0.004)
    assert usual.p50[90] < 0.20
    assert late.p50[90] > usual.p50[90] + 0.005
    assert any("beyond the meter" in str(text) for text in early.warnings)


def test_a_wrong_entry_is_questioned_not_obeyed(air, plain):
    """Bone dry after ten days (a typing error) moves little and says so; two good readings outweigh it."""
    wrong = told(air, Reading("oven", day(10), 0.06))
    assert any("far from what everything else says" in str(text) for text in wrong.warnings)
    assert wrong.p50[60] > 0.6 * plain.p50[60]

    usual = plain.mc_db.astype(float).mean(axis=1)
    good = [Reading("oven", day(n), float(usual[n] / (1 + usual[n]))) for n in (0, 30)]
    mixed = told(air, *good, Reading("weighed", day(31), 0.45))
    np.testing.assert_allclose(mixed.p50[60], told(air, *good).p50[60], atol=0.03)
    assert any("weighed" in str(text) for text in mixed.warnings)


def test_same_readings_same_forecast(air):
    one = told(air, Reading("meter", day(70), 24.0))
    two = told(air, Reading("meter", day(70), 24.0))

    np.testing.assert_array_equal(one.mc_db, two.mc_db)


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        ("guess", 20.0),
        ("oven", 20.0),
        ("oven", 0.0),
        ("weighed", 2.0),
        ("weighed", 0.0),
        ("meter", 0.2),
        ("meter", 400.0),
        ("meter", float("nan")),
    ],
)
def test_readings_that_make_no_sense(kind, value):
    with pytest.raises(InputError) as caught:
        Reading(kind, START, value)
    assert caught.value.field in ("kind", "reading")


def test_a_reading_before_the_stacking_or_after_the_end(air):
    with pytest.raises(InputError) as caught:
        told(air, Reading("oven", day(-1), 0.4))
    assert caught.value.field == "reading"
    with pytest.raises(InputError):
        told(air, Reading("oven", day(400), 0.2))


def test_evidence_of_each_kind():
    oak = wood.get_species("quercus_rubra")
    oven = evidence(Reading("oven", day(3), 0.20), oak, START)
    weighed = evidence(Reading("weighed", day(3), 0.8), oak, START)
    meter = evidence(Reading("meter", day(3), 20.0), oak, START)

    assert (oven.day, oven.value) == (3, pytest.approx(0.25))
    moistures = np.array([[0.6, 0.8]] * 3 + [[0.28, 0.35]], dtype=np.float32)
    np.testing.assert_allclose(weighed.predicted(moistures), [1.28 / 1.6, 1.35 / 1.8], rtol=1e-6)
    # Red oak needs next to no correction (James 1988, from memory).
    assert meter.value == pytest.approx(0.20, abs=0.003)


def test_known_start_and_reading_go_together(air):
    made = forecast(
        replace(OAK, start_mc_db=0.78), air, members=MEMBERS, seed=2, readings=[Reading("oven", day(0), 0.44)]
    )

    assert made.p50[0] == pytest.approx(0.44, abs=0.02)
