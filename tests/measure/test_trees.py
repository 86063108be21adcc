"""Standing trees: the printed examples of the national equations, other tables as far as they agree, and properties."""

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure import FT3_M3, FT_M, IN_M, LB_KG, huber_m3, measure_tree
from rickyard.measure.tree_equations import (
    beers_cords,
    canada_parts,
    canada_row_id,
    jenkins_parts,
    jenkins_total_kg,
    merchantable_share,
    nsvb_knows,
    nsvb_parts,
    nsvb_quantity,
    nsvb_wood_lb,
    read_table,
    stem_d_m,
    tree_codes,
    usual_height_m,
)
from rickyard.wood import all_groups, all_species, find_species, get_species

CODES = tree_codes()
ANY_CODE = st.sampled_from(sorted(CODES))
ANY_SPECIES = st.sampled_from([species.id for species in all_species()])
DBH = st.floats(0.05, 0.9)

TABLE_OF = {
    "stem wood volume": "1",
    "bark volume": "2",
    "stem bark dry weight": "6",
    "branch dry weight": "7",
    "total above-ground": "8",
    "foliage": "9",
}


def test_every_worked_example_of_a_tree(published):
    """Westfall et al. 2023, examples 1 and 2, printed with 12 digits; the released coefficients carry about 6.

    The printed bark volume of the Douglas-fir, 13.1914, does not follow from the released table, which gives 13.1971:
    a known miss, and the row says so.
    """
    seen = 0
    for row in published("worked_examples.csv"):
        if row["object"] != "tree":
            continue
        seen += 1
        printed = float(row["answer"].split()[0])
        if row["method"].startswith("Beers"):
            assert beers_cords(10 * IN_M, 26 * FT_M) == pytest.approx(printed, abs=5e-7)
            continue
        if "Douglas-fir" in row["inputs"]:
            code, dbh, height, division = CODES["pseudotsuga_menziesii"], 20.0 * IN_M, 110 * FT_M, "240"
        else:
            code, dbh, height, division = CODES["acer_rubrum"], 11.1 * IN_M, 38 * FT_M, ""
        if "stem wood dry weight" in row["method"] or "CULL" in row["inputs"]:
            wood = nsvb_quantity("1", code, dbh, height, division)
            cull = 0.03 if "CULL" in row["inputs"] else 0.0
            ours = nsvb_wood_lb(wood, code.wood_gravity, cull=cull, density_left=0.54)
        else:
            (table,) = [number for words, number in TABLE_OF.items() if words in row["method"]]
            ours = nsvb_quantity(table, code, dbh, height, division)
        released = re.search(r"released give ([\d.]+)", row["answer"])
        assert ours == pytest.approx(float(released[1]) if released else printed, rel=1e-6), row["method"]
    assert seen == 16


def test_huber_on_a_cone_like_butt_is_the_trap_it_is_said_to_be(published):
    """A worked trap: cutting the thin end off a log raises Huber's volume. Printed with 0.8 for π/4."""
    (row,) = [row for row in published("worked_examples.csv") if row["object"] == "huber trap"]
    whole, cut = (float(value) for value in row["answer"].split(" / "))

    assert huber_m3(12, 0.5) / (math.pi / 4) * 0.8 == pytest.approx(whole)
    assert huber_m3(10, 0.55) / (math.pi / 4) * 0.8 == pytest.approx(cut)


def test_the_command_s_figures_are_the_printed_ones():
    found = measure_tree(get_species("acer_rubrum"), 11.1 * IN_M, 38 * FT_M)

    assert found.wood_m3 / FT3_M3 == pytest.approx(9.427112777611, rel=1e-6)
    assert found.bark_m3 / FT3_M3 == pytest.approx(2.155106401987, rel=1e-6)
    assert found.oven_dry_kg / LB_KG == pytest.approx(532.584798820042, rel=1e-6)
    parts = found.parts_kg
    assert parts["wood"] + parts["bark"] + parts["branches"] == pytest.approx(found.oven_dry_kg)
    douglas = measure_tree(get_species("pseudotsuga_menziesii"), 20 * IN_M, 110 * FT_M, division="240")
    assert douglas.oven_dry_kg / LB_KG == pytest.approx(3154.5539926725, rel=1e-6)


@pytest.mark.parametrize(
    ("species", "height_m", "kg"),
    [
        # By hand from the printed coefficients of Lambert et al. 2005, D = 20 cm: wood + bark + branches.
        ("abies_balsamea", None, 0.0534 * 20**2.403 + 0.0115 * 20**2.3484 + 0.007 * 20**2.5406),
        ("acer_rubrum", None, 0.1014 * 20**2.3448 + 0.0291 * 20**2.0893 + 0.0175 * 20**2.4846),
        (
            "abies_balsamea",
            15.0,
            0.0294 * 20**1.8357 * 15**0.864
            + 0.0053 * 20**2.0876 * 15**0.5842
            + 0.0117 * 20**3.5097 * 15**-1.3006,
        ),
        # Ung et al. 2008 takes the place of 2005 where it has the species.
        ("betula_papyrifera", None, 0.0604 * 20**2.4959 + 0.014 * 20**2.3923 + 0.0147 * 20**2.5227),
    ],
)
def test_canadian_equations_by_hand(species, height_m, kg):
    assert canada_parts(CODES[species], 0.20, height_m).without_leaves_kg == pytest.approx(kg, rel=1e-12)


def test_no_canadian_row_holds_standard_errors_for_coefficients():
    """The released 2005 row of all hardwoods with height does (wood 0.0009, 0.01, 0.0168); that of 2008 stands here.

    A coefficient row gives a 20 cm tree more than 50 kg of stem wood, one of standard errors gives none.
    """
    rows = read_table("canada.csv")
    assert len(rows) == 88
    for row in rows:
        height = 15.0 ** float(row["wood3"]) if row["model"] == "DBHHT" else 1.0
        wood = float(row["wood1"]) * 20.0 ** float(row["wood2"]) * height
        assert 40.0 < wood < 250.0, (row["id"], row["model"])


def test_jenkins_by_hand():
    """exp(-2.0127 + 2.4342 ln 30): hard maple, oak, hickory, beech, 30 cm; the parts are shares of it."""
    assert jenkins_total_kg("9", 0.30) == pytest.approx(math.exp(-2.0127 + 2.4342 * math.log(30)))
    parts = jenkins_parts(CODES["quercus_alba"], 0.30)
    whole = parts.without_leaves_kg + parts.foliage_kg
    assert whole == pytest.approx(jenkins_total_kg("9", 0.30))
    assert parts.wood_kg / whole == pytest.approx(math.exp(-0.3065 - 5.424 / 30))


OFF_CORDS = {
    "12 in, 60 ft total height hardwood": -0.350,
    "eastern white pine 18 in, 75 ft, 4 in top (New Brunswick)": 0.061,
    "red pine 13 in, 60 ft, 4 in top": 0.001,
    "eastern white pine 12 in, 65 ft, 4 in top": 0.282,
    "red pine 10 in, 56 ft, 4 in top": 0.029,
    "southern pine rule D=8": -0.155,
    "southern pine rule D=10": -0.179,
    "southern pine rule D=12": -0.078,
    "southern pine rule D=14": 0.065,
    "southern pine rule D=16": 0.239,
    "southern pine rule D=18": 0.430,
    "southern pine rule D=20": 0.639,
    "southern pine rule D=24": 1.106,
    "Beers D=6 merch H=16": 0.314,
    "Beers D=8 merch H=24": 0.205,
    "Beers D=10 merch H=32": 0.093,
    "Beers D=12 merch H=40": 0.012,
    "Beers D=14 merch H=48": -0.044,
    "Beers D=16 merch H=48": 0.003,
    "Beers D=18 merch H=56": -0.041,
    "Beers D=20 merch H=56": -0.009,
    "Beers D=24 merch H=64": -0.015,
}
"""How far ours is off each published row, misses included: what a change of the model moves must be written here."""


def test_cords_per_tree(published, looked_at):
    """Every row has its own figure. No tolerance is printed but what the published sets differ by among themselves for
    a 12 in hardwood, 40 % (0.235 Beers, 0.33 Maryland): a hardwood further off would be a miss of ours, and none is."""
    figures = looked_at("cords_of_trees").figures()

    assert [one.case for one in figures] == [row["case"] for row in published("cords_per_tree.csv")]
    assert {one.case for one in figures if one.off is None} == set(looked_at("cords_of_trees").NOT_LOOKED_AT)
    assert all(one.why_not for one in figures if one.off is None)
    assert {one.case: one.off for one in figures if one.off is not None} == pytest.approx(OFF_CORDS, abs=6e-4)
    assert all(abs(off) < 0.40 for case, off in OFF_CORDS.items() if "hardwood" in case or "Beers" in case)


def test_beers_function_gives_its_own_table(published):
    for row in published("cords_per_tree.csv"):
        sized = re.fullmatch(r"Beers D=(\d+) merch H=(\d+)", row["case"])
        if sized:
            ours = beers_cords(int(sized[1]) * IN_M, int(sized[2]) * FT_M)
            assert ours == pytest.approx(float(row["value_or_formula"]), abs=6e-4)


def test_the_southern_rule_gives_its_own_table(published):
    """90/(4 (D - 6)) trees a cord, printed with it."""
    for row in published("cords_per_tree.csv"):
        sized = re.fullmatch(r"southern pine rule D=(\d+)", row["case"])
        if sized and row["value_or_formula"] != "-":
            assert 4 * (int(sized[1]) - 6) / 90 == pytest.approx(float(row["value_or_formula"]), abs=6e-4)


@pytest.mark.parametrize("species", ["acer_saccharum", "quercus_rubra", "pinus_strobus", "abies_balsamea"])
def test_the_stem_s_form_gives_back_its_girth(species):
    """The share below a height is from memory; its slope at 4.5 ft gives the diameter back within 10 %."""
    code = CODES[species]
    for dbh in (0.2, 0.3, 0.45):
        assert stem_d_m(code, dbh, usual_height_m(code, dbh), 4.5 * FT_M) == pytest.approx(dbh, rel=0.10)


HONER = {
    "PINU.STR": "pinus_strobus",
    "PINU.RES": "pinus_resinosa",
    "PINU.BAN": "pinus_banksiana",
    "PINU.CON": "pinus_contorta",
    "PICE.MAR": "picea_mariana",
    "PICE.RUB": "picea_rubens",
    "PICE.GLA": "picea_glauca",
    "ABIE.BAL": "abies_balsamea",
    "THUJ.OCC": "thuja_occidentalis",
    "TSUG.CAN": "tsuga_canadensis",
    "POPU.TRE": "populus_tremuloides",
    "POPU.BAL": "populus_balsamifera",
    "BETU.PAP": "betula_papyrifera",
    "BETU.ALL": "betula_alleghaniensis",
    "ACER.SPP": "acer_saccharum",
    "TILI.AME": "tilia_americana",
    "FAGU.GRA": "fagus_grandifolia",
    "PRUN.SER": "prunus_serotina",
    "ULMU.AME": "ulmus_americana",
    "OSTR.VIR": "ostrya_virginiana",
    "QUER.RUB": "quercus_rubra",
}


def test_stems_against_honer(published):
    """Honer, Ker and Alemdag 1983, 21 Canadian species at 20, 30 and 45 cm: stem wood and its share to a 4 in top.

    Used for nothing else. No tolerance is printed; single species within 18 %, their mean within 3 %, the share within
    a tenth. The worst: trembling aspen and black cherry of 45 cm.
    """
    off = []
    rows = published("honer1983.csv")
    assert {row["code"] for row in rows} == set(HONER)
    for row in rows:
        b2, c1, c2, r1, r2, r3 = (float(row[name]) for name in ("b2", "c1", "c2", "r1", "r2", "r3"))
        for d in (20.0, 30.0, 45.0):
            h = usual_height_m(CODES[HONER[row["code"]]], d / 100)
            bend = (1 - 0.04365 * b2) ** 2
            honer_m3 = 0.0043891 * d * d * bend / (c1 + 0.3048 * c2 / h)
            x = (10.16 / d) ** 2 / bend * (1 + 0.3048 / h)
            found = measure_tree(get_species(HONER[row["code"]]), d / 100, h)
            off.append(math.log(found.wood_m3 / honer_m3))
            assert abs(off[-1]) < 0.18, (row["code"], d)
            assert found.usable_m3 / found.wood_m3 == pytest.approx(r1 + r2 * x + r3 * x * x, abs=0.10)
    assert sum(off) / len(off) == pytest.approx(0.0, abs=0.03)


def test_national_equations_agree_on_the_species_they_share():
    """On 39 species, with the same heights: root mean square of the logarithm 0.14, which the spread stands on."""
    off = []
    for code in CODES.values():
        if nsvb_knows(code) and canada_row_id(code)[1]:
            for dbh in (0.2, 0.3, 0.45):
                height = usual_height_m(code, dbh)
                american = nsvb_parts(code, dbh, height)
                if american.own:
                    canadian = canada_parts(code, dbh, height)
                    off.append(math.log(american.without_leaves_kg / canadian.without_leaves_kg))
    assert len(off) == 117
    assert math.sqrt(sum(x * x for x in off) / len(off)) == pytest.approx(0.14, abs=0.01)
    assert sum(off) / len(off) == pytest.approx(0.09, abs=0.01)


@settings(max_examples=60)
@given(species_id=ANY_SPECIES, dbh=DBH, step=st.floats(1.02, 1.5), country=st.sampled_from(["US", "CA"]))
def test_a_thicker_tree_holds_more(species_id, dbh, step, country):
    species = get_species(species_id)
    height = min(15.0, 2.4 * usual_height_m(CODES[species_id], dbh))
    thin, thick = (
        measure_tree(species, size, height, country=country) for size in (dbh, min(0.95, dbh * step + 0.01))
    )

    assert thick.wood_m3 > thin.wood_m3
    assert thick.oven_dry_kg > thin.oven_dry_kg
    assert thick.cords.mid >= thin.cords.mid
    assert thin.cords.low <= thin.cords.mid <= thin.cords.high


@settings(max_examples=60)
@given(species_id=ANY_SPECIES, dbh=DBH, height=st.floats(5.0, 30.0), step=st.floats(1.05, 1.4))
def test_a_taller_tree_holds_more_wood(species_id, dbh, height, step):
    species = get_species(species_id)
    height = min(height, 1.7 * usual_height_m(CODES[species_id], dbh))
    low, tall = (measure_tree(species, dbh, h) for h in (height, height * step))

    assert tall.wood_m3 >= low.wood_m3
    assert 0.0 <= low.usable_m3 <= low.wood_m3


@settings(max_examples=60)
@given(species_id=ANY_SPECIES, dbh=DBH, country=st.sampled_from(["US", "CA"]))
def test_parts_add_up_and_water_weighs(species_id, dbh, country):
    found = measure_tree(get_species(species_id), dbh, country=country)

    parts = found.parts_kg
    assert parts["wood"] + parts["bark"] + parts["branches"] == pytest.approx(found.oven_dry_kg)
    assert found.green_kg > found.oven_dry_kg
    assert found.height_estimated
    assert 2.0 < found.height_m < 70.0
    assert set(found.compared_kg) >= {"canada", "jenkins"}


@given(species_id=ANY_CODE, dbh=st.floats(0.05, 1.5), height=st.floats(2.0, 50.0))
def test_the_usable_share_is_a_share(species_id, dbh, height):
    assert 0.0 <= merchantable_share(CODES[species_id], dbh, height) < 1.0


def test_every_species_and_wider_name_is_measured():
    assert set(CODES) == {species.id for species in all_species()}
    for species in (*all_species(), *all_groups()):
        found = measure_tree(species, 0.3, 18.0)
        assert 0.1 < found.wood_m3 < 1.5, species.id
        assert 60.0 < found.oven_dry_kg < 1300.0, species.id


def test_the_third_model_is_a_power():
    """Read as a factor, "oak spp." would give 0.013 m³ where every other oak gives 0.4 m³; the form is from memory."""
    oaks = [
        measure_tree(get_species(f"quercus_{name}"), 0.3, 18.0).wood_m3
        for name in ("alba", "rubra", "velutina")
    ]

    assert min(oaks) * 0.8 < measure_tree(get_species("quercus_robur"), 0.3, 18.0).wood_m3 < max(oaks) * 1.2


def test_a_genus_is_wider_than_its_species():
    assert (
        measure_tree(find_species("Quercus"), 0.3, 18.0).log_sd
        > measure_tree(get_species("quercus_rubra"), 0.3, 18.0).log_sd
    )


def test_what_is_not_known_is_said_and_widens():
    maple = get_species("acer_saccharum")
    known = measure_tree(maple, 0.3, 19.0)
    guessed = measure_tree(maple, 0.3)
    street = measure_tree(maple, 0.3, 19.0, grown="open")
    short = measure_tree(maple, 0.3, 8.0)
    huge = measure_tree(maple, 1.2, 25.0)

    assert known.log_sd < guessed.log_sd < street.log_sd
    assert any("height was not given" in str(text) for text in guessed.warnings)
    assert any("Open-grown" in str(text) for text in street.warnings)
    assert any("Short for its girth" in str(text) for text in short.warnings)
    assert short.log_sd == pytest.approx(street.log_sd, abs=0.02)
    assert any("Few trees so thick" in str(text) for text in huge.warnings)
    assert street.cords.high / street.cords.low > known.cords.high / known.cords.low


def test_a_report_that_contradicts_itself_is_told():
    """White spruce, 60 cm: the total of 2023 is 1.9 times the sum of the report's own parts."""
    found = measure_tree(get_species("picea_glauca"), 0.6, 24.0)

    assert any("contradicts itself" in str(text) for text in found.warnings)
    assert found.log_sd > measure_tree(get_species("pinus_resinosa"), 0.6, 24.0).log_sd


def test_woodland_trees_fall_back_on_jenkins():
    found = measure_tree(find_species("Utah juniper"), 0.2, 6.0)

    assert found.method == "jenkins"
    assert found.cords.mid > 0.0
    assert any("root collar" in str(text) for text in found.warnings)


@pytest.mark.parametrize(
    ("options", "field"),
    [
        ({"dbh_m": 0.0}, "dbh"),
        ({"dbh_m": 12.0}, "dbh"),
        ({"dbh_m": float("nan")}, "dbh"),
        ({"dbh_m": 0.3, "height_m": 1.0}, "height"),
        ({"dbh_m": 0.2, "height_m": 60.0}, "height"),
        ({"dbh_m": 0.3, "country": "FR"}, "country"),
        ({"dbh_m": 0.3, "method": "guess"}, "method"),
        ({"dbh_m": 0.3, "grown": "pot"}, "grown"),
        ({"dbh_m": 0.3, "division": "999"}, "division"),
    ],
)
def test_nonsense_is_refused_by_name(options, field):
    with pytest.raises(InputError) as refused:
        measure_tree(get_species("acer_rubrum"), **options)

    assert refused.value.field == field
