"""Heat of a cord, of a cubic metre and of an oven-dry mass."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.heat import heat_of_dry_mass, heat_row
from rickyard.wood import UNNAMED, UNNAMED_HARDWOOD, UNNAMED_SOFTWOOD, all_species, get_species

MAPLE = get_species("acer_saccharum")
species = st.sampled_from(all_species())
moistures = st.floats(0.0, 0.8)
bases = st.sampled_from(["net", "gross"])


class TestHeatRow:
    def test_sugar_maple_by_hand(self):
        """Basic density 560 kg/m³, shrinkage 14.7 %, 20 % wet = 25 % dry: a sixth of the shrinkage is done.

        85 ft³ = 2.40693 m³; x 560 / (1 - 0.147/6) = 1381.7 kg dry, 1727.2 kg; net 14.465 MJ/kg.
        """
        row = heat_row(MAPLE)

        dry_kg = 85 * 0.3048**3 * 560 / (1 - 0.147 / 6)
        assert row.oven_dry_kg_per_cord == pytest.approx(dry_kg)
        assert row.kg_per_cord == pytest.approx(dry_kg / 0.8)
        assert row.mj_per_kg == pytest.approx(18.692 * 0.8 - 0.4886)
        assert row.mj_per_cord == pytest.approx(24983, rel=1e-4)
        assert row.million_btu_per_cord == pytest.approx(23.68, abs=0.01)

    def test_keys_of_the_heat_command(self):
        keys = {field.name for field in dataclasses.fields(heat_row(MAPLE))}

        assert keys >= {
            "species", "scientific", "moisture_wet", "basis", "solid_m3_per_cord", "oven_dry_kg_per_cord",
            "kg_per_cord", "mj_per_kg", "mj_per_cord", "million_btu_per_cord", "kwh_per_stacked_m3",
            "kwh_per_solid_m3", "low", "high",
        }  # fmt: skip

    @given(species, moistures, bases)
    def test_units_of_one_row_agree(self, one, mc_wet, basis):
        row = heat_row(one, mc_wet=mc_wet, basis=basis)

        assert row.mj_per_cord == pytest.approx(row.million_btu_per_cord * 1055.05585262)
        assert row.mj_per_cord == pytest.approx(row.kwh_per_stacked_m3 * 3.6 * 128 * 0.3048**3)
        assert row.mj_per_cord == pytest.approx(row.kwh_per_solid_m3 * 3.6 * row.solid_m3_per_cord)
        assert row.mj_per_cord == pytest.approx(row.kg_per_cord * row.mj_per_kg)
        assert row.oven_dry_kg_per_cord == pytest.approx(row.kg_per_cord * (1 - mc_wet))
        assert 0 < row.low < row.mj_per_cord < row.high

    @given(species, moistures, st.floats(0.5, 3.6))
    def test_heat_is_in_proportion_to_solid_wood(self, one, mc_wet, solid_m3):
        row, whole = (heat_row(one, mc_wet=mc_wet, solid_m3_per_cord=v) for v in (solid_m3, 1.0))

        assert row.mj_per_cord == pytest.approx(whole.mj_per_cord * solid_m3)

    def test_a_known_solid_content_narrows_the_range(self):
        row, known = heat_row(MAPLE), heat_row(MAPLE, solid_m3_per_cord=heat_row(MAPLE).solid_m3_per_cord)

        assert known.high / known.low < row.high / row.low

    @pytest.mark.parametrize(
        ("wide", "narrow"),
        [
            (get_species("quercus"), get_species("quercus_rubra")),
            (get_species("red_oak_group"), get_species("quercus_rubra")),
            (UNNAMED_HARDWOOD, get_species("acer_saccharum")),
            (UNNAMED_SOFTWOOD, get_species("picea_rubens")),
            (UNNAMED, UNNAMED_HARDWOOD),
        ],
    )
    def test_wider_names_are_accepted_with_wider_ranges(self, wide, narrow):
        broad, near = heat_row(wide), heat_row(narrow)

        assert broad.high / broad.low > near.high / near.low

    def test_wood_measured_dry_holds_more_than_wood_measured_green(self):
        """The same solid volume, shrunken: more dry mass in it; none is lost above fibre saturation."""
        green, dry = (heat_row(MAPLE, mc_wet=wet).oven_dry_kg_per_cord for wet in (0.45, 0.10))

        assert dry > green
        assert heat_row(MAPLE, mc_wet=0.40).oven_dry_kg_per_cord == pytest.approx(green)

    @pytest.mark.parametrize(
        ("field", "wrong"),
        [
            ("moisture_wet", {"mc_wet": 20.0}),  # a percent typed as a fraction
            ("moisture_wet", {"mc_wet": -0.1}),
            ("solid_m3_per_cord", {"solid_m3_per_cord": 85.0}),  # cubic feet
            ("solid_m3_per_cord", {"solid_m3_per_cord": -1.0}),
            ("solid_m3_per_cord", {"solid_m3_per_cord": math.nan}),
            ("basis", {"basis": "lower"}),
        ],
    )
    def test_nonsense_is_refused_by_field(self, field, wrong):
        with pytest.raises(InputError) as caught:
            heat_row(MAPLE, **wrong)

        assert caught.value.field == field


class TestHeatOfDryMass:
    def test_by_hand(self):
        """100 kg dry sugar maple at 20 % wet is 125 kg at 14.465 MJ/kg net, 16.0 gross."""
        assert heat_of_dry_mass(MAPLE, 100.0, 0.20, "net").mid == pytest.approx(125 * 14.465)
        assert heat_of_dry_mass(MAPLE, 100.0, 0.20, "gross").mid == pytest.approx(2000.0)

    @given(species, moistures, bases)
    def test_agrees_with_the_row(self, one, mc_wet, basis):
        row = heat_row(one, mc_wet=mc_wet, basis=basis)

        heat = heat_of_dry_mass(one, row.oven_dry_kg_per_cord, mc_wet, basis)

        assert heat.mid == pytest.approx(row.mj_per_cord)
        assert row.low < heat.low < heat.mid < heat.high < row.high

    def test_no_wood_no_heat(self):
        heat = heat_of_dry_mass(MAPLE, 0.0, 0.20, "net")

        assert (heat.low, heat.mid, heat.high) == (0.0, 0.0, 0.0)

    @pytest.mark.parametrize("dry_kg", [-1.0, math.nan, math.inf])
    def test_a_mass_that_makes_no_sense_is_refused(self, dry_kg):
        with pytest.raises(InputError) as caught:
            heat_of_dry_mass(MAPLE, dry_kg, 0.20, "net")

        assert caught.value.field == "dry_kg"
