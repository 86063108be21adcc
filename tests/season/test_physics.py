"""What acts on the pieces besides diffusion: wood classes, stack air, rain and snow, layers, switches."""

from __future__ import annotations

import csv
from dataclasses import fields, replace
from datetime import date
from importlib.resources import files

import numpy as np
import pytest

from rickyard import weather, wood
from rickyard.season import LAYERS, Physics, Pieces, forecast, mix
from rickyard.season.constants import fitted_values
from rickyard.season.models import AirHours
from rickyard.season.physics import DAMP_MOST, damp_hours, matter, surroundings, wet_hours, wood_class
from rickyard.season.reference import psat_ice_pa, psat_water_pa

START = date(2026, 4, 1)
BIRCH = Pieces("betula_papyrifera", "split", 0.41, 0.10, stacked_on=START)
NOTHING = Physics(**{field.name: False for field in fields(Physics)})


@pytest.fixture(scope="module")
def air():
    return weather.generate_air(weather.find_place("Fredericton"), START, 150, members=8, seed=5)


def hours(temp_c, rain_mm, rh=0.7):
    temp = np.asarray(temp_c, dtype=np.float32)[:, None]
    rain = np.asarray(rain_mm, dtype=np.float32)[:, None]
    vapour = (rh * psat_water_pa(temp)).astype(np.float32)
    return AirHours(temp, vapour, np.full_like(temp, 2.0), np.zeros_like(temp), rain)


class TestClasses:
    def test_every_name_in_the_table_is_a_wood_of_ours_and_has_a_source(self):
        known = {species.id for species in wood.all_species()}
        genera = {species.id.split("_")[0] for species in wood.all_species()}
        text = files("rickyard.season").joinpath("data/wood_classes.csv").read_text(encoding="utf-8")
        for row in csv.DictReader(text.splitlines()):
            assert row["name"] in known | genera, row["name"]
            assert 0.0 < float(row["strength"]) <= 1.0
            assert row["source"]

    def test_some_woods(self):
        told = {
            name: wood_class(wood.find_species(name)) for name in ("Ulmus americana", "Robinia pseudoacacia")
        }

        assert 0.0 < told["Ulmus americana"].wet_wood < wood_class(wood.find_species("aspen")).wet_wood
        assert told["Robinia pseudoacacia"].tyloses
        assert wood_class(wood.find_species("Betula lenta")).closed_bark
        assert not wood_class(wood.UNNAMED_HARDWOOD).closed_bark

    def test_a_group_is_of_a_class_when_all_its_members_are(self):
        white, red, any_oak = (
            wood_class(wood.find_species(name)) for name in ("white oak group", "red oak group", "Quercus")
        )

        assert (white.oak, red.oak, any_oak.oak) == (True, True, True)
        assert not red.tyloses
        assert not any_oak.tyloses

    @pytest.mark.parametrize(
        ("switch", "name", "constant"),
        [
            ("bark_groups", "Betula papyrifera", "bark"),
            ("wet_wood", "Populus tremuloides", "k_d_m2_s"),
            ("tyloses", "Robinia pseudoacacia", "k_free"),
            ("shrinkage", "Acer saccharum", "beta"),
            ("frost", "Acer saccharum", "k_frost"),
        ],
    )
    def test_a_switch_turns_its_constant_and_no_other(self, switch, name, constant):
        species, values = wood.find_species(name), fitted_values()
        off = matter(species, values, NOTHING)
        on = matter(species, values, replace(NOTHING, **{switch: True}))

        changed = {field.name for field in fields(off) if getattr(off, field.name) != getattr(on, field.name)}
        assert changed == {constant}


class TestAirInTheStack:
    def test_damp_takes_its_share_of_what_is_missing(self):
        air = hours([20.0], [0.0], rh=0.6)
        damp = damp_hours(air, np.array([0.0, 0.25, 5.0]))

        full = psat_water_pa(np.float64(20.0))
        np.testing.assert_allclose(damp.vapour_pa[0] / full, [0.6, 0.7, 0.6 + 0.4 * DAMP_MOST], rtol=1e-4)
        assert damp_hours(air, 0.0) is air

    def test_ice_saturated_air_stays_as_it_is(self):
        air = hours([-15.0], [0.0])._replace(vapour_pa=np.float32([[psat_ice_pa(np.float64(-15.0))]]))

        np.testing.assert_allclose(damp_hours(air, 0.5).vapour_pa, air.vapour_pa, rtol=1e-5)

    def test_deep_stacks_and_soil_are_damper_and_the_bottom_most(self):
        values = fitted_values()

        def at(rows=1, ground="raised", layer=None):
            return surroundings(rows, ground, "top", values, Physics(), layer)

        top, middle, bottom = (at(layer=layer) for layer in LAYERS)
        assert top.damp < middle.damp < bottom.damp
        assert top.phi > middle.phi > bottom.phi
        assert at(rows=5).damp > at().damp
        assert at(rows=5).phi < at().phi
        assert at(rows=5).sun < at().sun == 1.0
        assert at(ground="soil", layer="bottom").damp > bottom.damp
        assert at(ground="soil", layer="top").damp == top.damp
        # Weighed by nothing but their number: each layer a third of the stack.
        assert at().damp == pytest.approx((top.damp + middle.damp + bottom.damp) / 3)

    def test_without_it_the_open_air_is_all_there_is(self):
        around = surroundings(6, "soil", "none", fitted_values(), replace(Physics(), stack_air=False))

        assert (around.phi, around.damp) == (1.0, 0.0)
        assert around.rain == pytest.approx(fitted_values()["rain_open"])

    def test_rain_by_cover(self):
        none, top, shed = (
            surroundings(1, "raised", cover, fitted_values(), Physics()).rain
            for cover in ("none", "top", "shed")
        )

        assert none > top > shed == 0.0


class TestRainAndSnow:
    def test_water_stays_until_it_has_dried_off(self):
        """0.5 mm at 15 deg C and 70 %: gone after some hours, not at once and not after a day."""
        wet = wet_hours(hours([15.0] * 48, [0.0, 3.0] + [0.0] * 46), Physics()).rain_mm[:, 0]

        assert wet[0] == 0.0
        assert 3 <= wet.sum() <= 24
        assert np.all(np.diff(wet[1:]) <= 0.0)

    def test_it_stays_longer_in_damp_air(self):
        dry, damp = (
            wet_hours(hours([15.0] * 96, [1.0] + [0.0] * 95, rh), Physics()).rain_mm.sum()
            for rh in (0.4, 0.9)
        )

        assert damp > 2 * dry

    def test_snow_wets_when_it_melts(self):
        wet = wet_hours(hours([-5.0] * 24 + [4.0] * 24, [1.0] * 5 + [0.0] * 43), Physics()).rain_mm[:, 0]

        assert wet[:24].sum() == 0.0
        assert wet[24:].sum() >= 8

    def test_switched_off_or_dry_the_hours_stay_as_they_are(self):
        rainy = hours([15.0] * 3, [0.0, 2.0, 0.0])
        dry = hours([15.0] * 3, [0.0] * 3)

        assert wet_hours(rainy, replace(Physics(), wetting=False)) is rainy
        assert wet_hours(dry, Physics()) is dry


class TestLayers:
    def test_their_mean_is_the_stack(self, air):
        made = forecast(BIRCH, air, members=8, seed=5)

        assert made.layers_db.shape == (151, 3, 8)
        assert made.layers_db.dtype == np.float32
        np.testing.assert_allclose(made.layers_db.mean(axis=1), made.mc_db, atol=1e-5)
        assert made.layers_db.min() > 0.03

    def test_bottom_and_middle_lag_and_more_so_in_deep_stacks_on_soil(self, air):
        shallow = forecast(BIRCH, air, members=8, seed=5).layers_db[100].mean(axis=1)
        deep = (
            forecast(replace(BIRCH, rows=5, ground="soil"), air, members=8, seed=5)
            .layers_db[100]
            .mean(axis=1)
        )

        assert shallow[0] < shallow[1] < shallow[2]
        assert deep[2] - deep[0] > 1.5 * (shallow[2] - shallow[0])

    def test_deep_stacks_dry_later(self, air):
        one, four = (
            forecast(replace(BIRCH, rows=rows), air, members=8, seed=5, layers=False) for rows in (1, 4)
        )

        assert np.all(
            four.mc_db[[30, 60, 100, 150]].mean(axis=1) > one.mc_db[[30, 60, 100, 150]].mean(axis=1)
        )

    def test_mixed_stacks_have_them_too(self, air):
        birch = forecast(BIRCH, air, members=8, seed=5)
        oak = forecast(replace(BIRCH, species_id="quercus_rubra"), air, members=8, seed=5)
        both = mix([(3.0, birch), (1.0, oak)])

        np.testing.assert_allclose(both.layers_db, 0.75 * birch.layers_db + 0.25 * oak.layers_db, atol=1e-6)

    def test_not_asked_for(self, air):
        assert forecast(BIRCH, air, members=8, seed=5, layers=False).layers_db is None


@pytest.mark.parametrize("switch", ["stack_air", "wetting", "bark_groups", "frost"])
def test_a_switch_changes_the_forecast(air, switch):
    usual = forecast(replace(BIRCH, cover="none"), air, members=8, seed=5, layers=False)
    turned = forecast(
        replace(BIRCH, cover="none"),
        air,
        members=8,
        seed=5,
        layers=False,
        physics=replace(Physics(), **{switch: False}),
    )

    assert np.abs(usual.mc_db - turned.mc_db).max() > 5e-4
