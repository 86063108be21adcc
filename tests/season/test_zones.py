"""Sapwood and heartwood in one piece: geometry, conservation, and what the switch does to a forecast."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard import weather, wood
from rickyard.season import Physics, Pieces, forecast
from rickyard.season.constants import fitted_values
from rickyard.season.models import FiniteVolumes, PieceShape
from rickyard.season.physics import matter, zoned
from rickyard.season.reduced import REDUCED
from rickyard.season.zones import DEPTH_M, Zones, sapwood_share, start_profile, zones_of

START = date(2026, 4, 1)
FIR = Pieces("pseudotsuga_menziesii", "split", 0.41, 0.12, stacked_on=START)
ON = Physics(heartwood=True)


@pytest.fixture(scope="module")
def air():
    return weather.generate_air(weather.find_place("Fredericton"), START, 200, members=8, seed=5)


class TestSpecies:
    def test_every_name_in_the_table_is_a_wood_of_ours_and_has_a_source(self):
        known = {species.id for species in wood.all_species()}
        known |= {species.id.split("_")[0] for species in wood.all_species()}
        text = files("rickyard.season").joinpath("data/sapwood.csv").read_text(encoding="utf-8")
        for row in csv.DictReader(text.splitlines()):
            assert row["name"] in known, row["name"]
            assert 0.0 < float(row["depth_m"]) < 0.2
            assert row["source"]

    def test_douglas_fir_is_three_times_as_wet_outside(self):
        # Wood Handbook table 4-1 (printing of 1990): heartwood 37 %, sapwood 115 % of oven-dry mass.
        zones = zones_of(wood.get_species("pseudotsuga_menziesii"))
        assert zones.heart_over_sap == pytest.approx(37 / 115)
        assert zones.depth_m == DEPTH_M

    def test_sapwood_is_thin_in_black_locust_and_thick_in_maple(self):
        # Record, The Mechanical Properties of Wood (1914), names both.
        locust, maple = (
            zones_of(wood.get_species(name)) for name in ("robinia_pseudoacacia", "acer_saccharum")
        )
        assert locust.depth_m < 0.02 < 0.1 < maple.depth_m

    def test_a_wood_without_a_source_for_both_is_one_wood_in_its_water(self):
        # Black ash: the table has its heartwood only.
        assert zones_of(wood.get_species("fraxinus_nigra")).heart_over_sap == 1.0


class TestGeometry:
    @pytest.mark.parametrize(
        ("faces", "share"),
        [
            (0, 1.0),
            (1, 0.05 / 0.16),
            # A half: sapwood on both thin sides and behind the curved one.
            (3, 1.0 - (0.10 / 0.20) * (0.11 / 0.16)),
            (4, 1.0 - (0.10 / 0.20) * (0.06 / 0.16)),
        ],
    )
    def test_share_of_sapwood_by_arithmetic(self, faces, share):
        assert sapwood_share((0.20, 0.16, 0.4), faces, 0.05) == pytest.approx(share)

    def test_a_thin_piece_is_sapwood_through(self):
        assert sapwood_share((0.08, 0.04, 0.4), 1, 0.05) == 1.0
        assert sapwood_share((0.08, 0.08, 0.4), 4, 0.05) == 1.0

    @given(
        faces=st.sampled_from([0, 1, 3, 4]),
        thickness=st.floats(0.03, 0.4),
        width=st.floats(0.03, 0.4),
        depth=st.floats(0.005, 0.15),
        ratio=st.floats(0.2, 2.5),
    )
    def test_the_mean_stays_and_the_zones_stand_to_each_other_as_told(
        self, faces, thickness, width, depth, ratio
    ):
        shape = PieceShape(thickness, width, 0.4, faces)
        axes = FiniteVolumes().cells(shape)
        profile = start_profile(axes, faces, Zones(depth, ratio))
        volume = np.outer(axes[0], axes[1])[:, :, None]
        assert (profile * volume).sum() == pytest.approx(volume.sum())
        assert profile.max() / profile.min() <= max(ratio, 1.0 / ratio) * (1.0 + 1e-9)
        # The cells weigh what the arithmetic of the box says, though the border lies inside a cell.
        share = sapwood_share((thickness, width, 0.4), faces, depth)
        wettest = 1.0 / (share + (1.0 - share) * ratio)
        assert min(wettest, wettest * ratio) - 1e-9 <= profile.min()
        assert profile.max() <= max(wettest, wettest * ratio) + 1e-9

    def test_sapwood_lies_under_the_bark(self):
        shape = PieceShape(0.12, 0.12, 0.4, 1)
        profile = start_profile(FiniteVolumes().cells(shape), 1, Zones(0.04, 0.5))
        assert profile[0, 0, 0] == pytest.approx(2.0 * profile[0, -1, 0])
        round_ = replace(shape, bark_faces=4)
        profile = start_profile(FiniteVolumes().cells(round_), 4, Zones(0.02, 0.5))
        assert profile[-1, 0, 0] == profile[0, -1, 0] == pytest.approx(2.0 * profile[0, 0, 0])


class TestForecast:
    def run(self, air, pieces, physics, model=None):
        return forecast(
            pieces,
            air,
            members=8,
            seed=1,
            until=date(2026, 9, 30),
            physics=physics,
            model=model,
            layers=False,
        )

    @pytest.mark.parametrize("model", [None, REDUCED], ids=["finite-volumes", "reduced"])
    def test_starts_with_the_same_water_and_dries_otherwise(self, air, model):
        plain, apart = (self.run(air, FIR, physics, model).mc_db for physics in (Physics(), ON))
        np.testing.assert_allclose(apart[0], plain[0], rtol=1e-5)
        assert np.abs(apart[30] - plain[30]).max() > 0.002
        assert (apart[-1] > 0.0).all()
        assert (apart[-1] < 0.35).all()

    def test_off_changes_nothing(self):
        species = wood.get_species(FIR.species_id)
        assert zoned(FIR.shape, species, Physics()) == FIR.shape
        assert matter(species, fitted_values(), Physics(), FIR.shape) == matter(
            species, fitted_values(), Physics()
        )

    def test_a_piece_of_one_wood_is_not_touched(self, air):
        bare = replace(FIR, bark=False)
        plain, apart = (self.run(air, bare, physics).mc_db for physics in (Physics(), ON))
        np.testing.assert_array_equal(plain, apart)
