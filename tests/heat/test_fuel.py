"""Heat per kilogram: gross, net, and what is known of the species."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.heat import gross_mj_per_kg, heat_value, net_mj_per_kg
from rickyard.wood import UNNAMED, UNNAMED_HARDWOOD, UNNAMED_SOFTWOOD, all_species, get_species

moistures = st.floats(0.0, 0.8)


class TestFormula:
    def test_net_step_by_step(self):
        """ISO 18125 form, constants from memory: 20.0 - 0.2122 x 6 - 0.0008 x 43.5 = 18.692; x 0.8 - 2.443 x 0.2."""
        assert net_mj_per_kg(20.0, 0.0) == pytest.approx(18.692)
        assert net_mj_per_kg(20.0, 0.2) == pytest.approx(18.692 * 0.8 - 0.4886)

    def test_gross_is_dry_heat_times_dry_share(self):
        assert gross_mj_per_kg(20.0, 0.25) == 15.0

    @given(moistures, moistures)
    def test_wetter_wood_gives_less(self, one, other):
        drier, wetter = sorted((one, other))

        assert net_mj_per_kg(20.0, wetter) <= net_mj_per_kg(20.0, drier)
        assert gross_mj_per_kg(20.0, wetter) <= gross_mj_per_kg(20.0, drier)

    @given(moistures)
    def test_net_is_below_gross_and_above_zero(self, mc_wet):
        assert 0.0 < net_mj_per_kg(20.0, mc_wet) < gross_mj_per_kg(20.0, mc_wet)

    @pytest.mark.parametrize("mc_wet", [-0.01, 0.81, math.nan, math.inf, 20.0])
    def test_a_moisture_that_makes_no_sense_is_refused(self, mc_wet):
        with pytest.raises(InputError) as caught:
            net_mj_per_kg(20.0, mc_wet)

        assert caught.value.field == "moisture_wet"


class TestHeatValue:
    def test_class_values(self):
        """Porankiewicz et al. 2016: thirteen deciduous species, mean 19.93 MJ/kg, SD 0.706."""
        oak = heat_value(get_species("quercus_alba"))

        assert oak.hhv_mj_kg == pytest.approx(19.93, abs=0.1)
        assert oak.sd_mj_kg == pytest.approx(0.706, abs=0.01)

    def test_a_determination_counts_once_beside_the_class(self):
        """Texas A&M Forest Service: white ash 8,033 and 8,013 Btu/lb, 18.66 MJ/kg; class 20.0."""
        ash = heat_value(get_species("fraxinus_americana"))

        assert ash.hhv_mj_kg == pytest.approx((8023 * 1055.05585262 / 0.45359237 / 1e6 + 20.0) / 2)
        assert ash.sd_mj_kg == pytest.approx(0.7 / math.sqrt(2))
        assert "Texas" in ash.source

    def test_a_trade_group_and_a_genus_lend_theirs(self):
        """Howard 1973: southern pines 8,600 Btu/lb; Energies 2022: pines 20.06 MJ/kg."""
        assert heat_value(get_species("pinus_taeda")).hhv_mj_kg == pytest.approx(
            (20.004 + 20.5) / 2, abs=0.001
        )
        assert heat_value(get_species("pinus_strobus")).hhv_mj_kg == pytest.approx((20.06 + 20.5) / 2)

    def test_wider_names_have_wider_spreads(self):
        members = [heat_value(get_species(name)) for name in get_species("fraxinus").members]
        genus = heat_value(get_species("fraxinus"))

        assert min(one.hhv_mj_kg for one in members) < genus.hhv_mj_kg < max(one.hhv_mj_kg for one in members)
        assert genus.sd_mj_kg > min(one.sd_mj_kg for one in members)
        assert heat_value(UNNAMED).sd_mj_kg > heat_value(UNNAMED_HARDWOOD).sd_mj_kg

    def test_unnamed_wood_has_its_class(self):
        assert heat_value(UNNAMED_SOFTWOOD).hhv_mj_kg == 20.5
        assert heat_value(UNNAMED_HARDWOOD).hhv_mj_kg == 20.0

    @pytest.mark.parametrize("species", all_species(), ids=lambda species: species.id)
    def test_every_species_has_one_within_published_extremes(self, species):
        """7,695 Btu/lb (green ash, Texas) to 9,700 (western redcedar): 17.9 to 22.6 MJ/kg."""
        value = heat_value(species)

        assert 17.9 <= value.hhv_mj_kg <= 22.6
        assert value.source
