"""Density, mass and shrinkage against published examples, and what never changes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.wood import (
    all_groups,
    all_species,
    density_at,
    density_kg_m3,
    dry_mass_at_kg,
    dry_mass_kg,
    estimated_shrinkage_pct,
    get_species,
    green_mass_with_bark_kg,
    green_to_dry_with_bark,
    mass_kg,
    most_water_db,
    shrinkage_share,
    sinks_above_db,
    solid_volume_factor,
)

LB_FT3 = 0.45359237 / 0.3048**3
names = st.sampled_from([s.id for s in (*all_species(), *all_groups())])
moistures = st.floats(0.0, 2.0)


def test_published_examples(published):
    """University of Missouri wood density page (D. R. Larsen, 2015): specific gravity 0.40 at 12 %.

    The page gives the gravity at the moisture itself, so nothing is left to shrink.
    It prints 27.968 lb/ft³, 0.4 × 62.43 × 1.12 with water at 62.43 lb/ft³: agreement to that rounding.
    """
    rows = [
        row for row in published("density_check.csv") if row["kind"] == "published" and row["sg_basic_or_Gx"]
    ]
    for row in rows:
        kg_m3 = density_at(1000.0 * float(row["sg_basic_or_Gx"]), 0.0, float(row["mc_pct"]) / 100.0)
        got = kg_m3 / LB_FT3 if row["unit"] == "lb/ft3" else kg_m3

        assert got == pytest.approx(float(row["expected"]), rel=2e-4), row
    assert len(rows) == 2


def test_grid_of_the_handbook_equations(published):
    """Worked by others than this package from Wood Handbook 2021 Eq. 4-9, 4-11, 4-12, 4-14; printed to 0.01."""
    rows = [row for row in published("density_check.csv") if row["kind"] == "computed by us"]
    rows = [row for row in rows if row["case"] == "Gb with S0=26.5*Gb" and row["unit"] == "lb/ft3"]
    for row in rows:
        basic = 1000.0 * float(row["sg_basic_or_Gx"])

        got = density_at(basic, estimated_shrinkage_pct(basic), float(row["mc_pct"]) / 100.0) / LB_FT3

        assert got == pytest.approx(float(row["expected"]), rel=3e-4, abs=0.006), row
    assert len(rows) >= 90


def test_worked_oaks():
    """Northern red and white oak at 20 %: the steps of the handbook's equations, with Table 4-3's shrinkage.

    S 4.57 %, G 0.587, 43.96 lb/ft³; white oak S 5.43 %, G 0.634, 47.5 lb/ft³.
    """
    red, white = get_species("quercus_rubra"), get_species("quercus_alba")
    assert 100.0 * shrinkage_share(red.shrinkage_vol_pct, 0.20) == pytest.approx(4.57, abs=0.005)
    assert density_kg_m3(red, 0.20) / 1.20 / 1000.0 == pytest.approx(0.587, abs=0.0005)
    assert density_kg_m3(red, 0.20) / LB_FT3 == pytest.approx(43.96, abs=0.02)
    assert 100.0 * shrinkage_share(white.shrinkage_vol_pct, 0.20) == pytest.approx(5.43, abs=0.005)
    assert density_kg_m3(white, 0.20) / LB_FT3 == pytest.approx(47.5, abs=0.05)


def test_shipping_weights_keep_their_order(published):
    """Oregon State University's average shipping weights: figures of the trade, so only the order is checked.

    Air dry: pairs of species whose printed weights differ by 3 lb/ft³ or more lie the same way round.
    """
    ids = {
        "Douglas-fir": "pseudotsuga_menziesii",
        "western larch": "larix_occidentalis",
        "Engelmann spruce": "picea_engelmannii",
        "western hemlock": "tsuga_heterophylla",
        "noble fir": "abies_procera",
        "grand fir": "abies_grandis",
        "Pacific silver fir": "abies_amabilis",
        "California red fir": "abies_magnifica",
    }
    printed = {}
    for row in published("density_check.csv"):
        name, _, what = row["case"].partition(": average shipping weight, ")
        if what == "air dry" and name in ids:
            printed[name] = float(row["expected"])
    ours = {name: density_kg_m3(get_species(ids[name]), 0.12) / LB_FT3 for name in printed}
    pairs = [(a, b) for a in printed for b in printed if printed[a] - printed[b] >= 3.0]

    assert len(printed) == 8
    assert len(pairs) > 10
    assert [pair for pair in pairs if ours[pair[0]] <= ours[pair[1]]] == []


def test_green_weight_of_wood_and_bark(published):
    """USDA Forest Service, table REF_SPECIES: green / dry weight of wood and bark together, 131 species.

    Tolerance 0.002 of the ratio: the moistures are printed to five figures, the gravities to two.
    """
    rows = published("green_weight_check.csv")
    off = {}
    for row in rows:
        got = green_to_dry_with_bark(
            float(row["sg_basic"]),
            float(row["bark_sg"]),
            float(row["bark_vol_pct_of_wood"]) / 100.0,
            float(row["mc_wood"]) / 100.0,
            float(row["mc_bark"]) / 100.0,
        )
        off[row["id"]] = abs(got - float(row["published_green_to_dry_weight_ratio"]))

    assert len(rows) == 131
    assert max(off.values()) <= 0.002, max(off, key=off.get)


def test_stamms_rule_against_measured_shrinkage():
    """26.5 × basic specific gravity (Stamm 1964) against the species of the table with a measured shrinkage.

    The handbook's rows alone, as the notes of the table count them: 111, mean +0.6 (measured less the rule), sd 2.2
    points. The spread is what `SHRINKAGE_ESTIMATE_SD_PCT` carries, so this is a check of the table, not of the rule.
    """
    handbook = "Wood Handbook"
    measured = [s for s in all_species() if s.sources["shrinkage_vol_pct"].startswith(handbook)]
    off = np.array([s.shrinkage_vol_pct - estimated_shrinkage_pct(s.basic_density_kg_m3) for s in measured])

    assert len(measured) == 111
    assert off.mean() == pytest.approx(0.6, abs=0.05)
    assert off.std() == pytest.approx(2.2, abs=0.05)


@given(species_id=names, first=moistures, second=moistures, green_m3=st.floats(0.001, 100.0))
def test_dry_mass_is_conserved_under_moisture_and_shrinkage(species_id, first, second, green_m3):
    """The volume a piece has at any moisture holds the dry mass that it held green."""
    species = get_species(species_id)
    dry_kg = dry_mass_kg(species, green_m3)
    for mc_db in (first, second):
        shrunk_m3 = green_m3 * solid_volume_factor(species, mc_db)

        assert dry_mass_at_kg(species, shrunk_m3, mc_db) == pytest.approx(dry_kg)
        assert shrunk_m3 * density_kg_m3(species, mc_db) == pytest.approx(mass_kg(species, green_m3, mc_db))
        assert mass_kg(species, green_m3, mc_db) == pytest.approx(dry_kg * (1.0 + mc_db))


@given(species_id=names, first=moistures, second=moistures)
def test_wood_swells_and_grows_heavier_with_water(species_id, first, second):
    species = get_species(species_id)
    low, high = sorted((first, second))

    assert solid_volume_factor(species, low) <= solid_volume_factor(species, high) <= 1.0
    assert mass_kg(species, 1.0, low) <= mass_kg(species, 1.0, high)


@given(species_id=names)
def test_green_wood_holds_no_more_than_its_hollows(species_id):
    """Ceiling of Wood Handbook 2021 Eq. 4-3, for the species; a group's mean of moistures lies below its mean's."""
    species = get_species(species_id)

    assert species.fibre_saturation_db < species.green_mc_db <= most_water_db(species.basic_density_kg_m3)


def test_the_most_water_and_sinking():
    """Wood Handbook Eq. 4-3 with a cell wall of 1.54, by hand: 268 % at gravity 0.30 and 46 % at 0.90.

    The handbook prints 267 and 44 % beside it, which is what 1.50 would give: a miss of 2 points that stays.
    """
    assert most_water_db(300.0) == pytest.approx(2.684, abs=0.001)
    assert most_water_db(900.0) == pytest.approx(0.462, abs=0.001)
    assert sinks_above_db(500.0) == pytest.approx(1.0)


def test_bark_adds_its_own_mass():
    """Wood and bark in green logs, term by term."""
    maple = get_species("acer_saccharum")
    wood_kg = 560.0 * (1.0 + maple.green_mc_db)
    bark_kg = 0.156 * 540.0 * (1.0 + maple.bark_green_mc_db)

    assert green_mass_with_bark_kg(maple, 1.0) == pytest.approx(wood_kg + bark_kg)
    assert green_mass_with_bark_kg(maple, 1.0, 0.0) == pytest.approx(560.0 + bark_kg)


@pytest.mark.parametrize(("volume", "mc_db", "field"), [(-1.0, 0.2, "green_volume_m3"), (1.0, 25.0, "mc_db")])
def test_nonsense_is_refused_by_name(volume, mc_db, field):
    with pytest.raises(InputError) as refused:
        mass_kg(get_species("acer_saccharum"), volume, mc_db)

    assert refused.value.field == field


def test_arrays_of_moisture():
    maple = get_species("acer_saccharum")
    mc_db = np.array([[0.0, 0.15], [0.30, 0.80]])

    got = density_kg_m3(maple, mc_db)

    assert got.shape == (2, 2)
    assert got[1, 1] == pytest.approx(density_kg_m3(maple, 0.80))
