"""Whole loads: lists added up, trucks, weighbridges, two measures made one."""

import math
import time
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure import (
    CORD_M3,
    FT3_M3,
    FT_M,
    IN_M,
    LB_KG,
    TO_10_90,
    Spread,
    log_list_total,
    odd_sizes,
    product,
    read_log_list,
    reconcile,
    solid_share,
    truck_measure,
    weighed_load,
    with_bark_by_species,
)
from rickyard.measure.bark import BARK_VOLUME_SD, ONE_TABLE_SD, bark_shares, bark_volume_sd
from rickyard.measure.loglist import LogListError
from rickyard.measure.logs import HAND_SD_SHARE
from rickyard.wood import (
    find_species,
    get_species,
    green_mass_with_bark_kg,
    mass_kg,
)

spreads = st.tuples(st.floats(0.5, 50.0), st.floats(1.02, 1.5)).map(
    lambda s: Spread(s[0] / s[1], s[0], s[0] * s[1])
)


def test_a_list_is_the_sum_of_its_logs():
    rows = read_log_list(
        "species,length_ft,mid_in,small_in,large_in,defects\n"
        "sugar maple,16,12,10,14,0-2:hollow=6in\n"
        "sugar maple,16,12,10,14,\n"
        "red oak,8,11,,,7-8:metal\n",
        defects=True,
    )
    total = log_list_total(rows)

    assert total.logs == 3
    assert total.gross_m3 == pytest.approx(sum(row.volume().volume_m3 for row in rows))
    assert total.net_m3.mid == pytest.approx(total.gross_m3 - sum(total.lost_m3.values()))
    assert total.lost_m3["hollow"] == pytest.approx(math.pi / 4 * (6 * IN_M) ** 2 * 2 * FT_M)
    assert total.lost_m3["metal"] == pytest.approx(rows[2].volume().volume_m3 / 8)
    assert sum(part.net_m3.mid for part in total.species) == pytest.approx(total.net_m3.mid)
    assert total.bark_m3 == 0.0


def test_bark_by_species_is_taken_off_and_counted():
    rows = read_log_list("species,length_ft,mid_in,bark_in\nblack locust,8,12,\nblack locust,8,12,0.5\n")
    bare, told = with_bark_by_species(rows)

    assert told.bark_thickness_m == pytest.approx(0.5 * IN_M)
    assert 2 * bare.bark_thickness_m == pytest.approx((12 - 10.33) * IN_M, abs=1e-4)
    total = log_list_total([bare, told])
    over = sum(row.volume_over_bark_m3() for row in rows)
    assert total.gross_m3 + total.bark_m3 == pytest.approx(over)


def test_errors_of_logs_measured_alike_do_not_all_cancel():
    one = log_list_total(read_log_list("length_m,mid_cm\n4,30\n")).net_m3
    many = log_list_total(read_log_list("length_m,mid_cm,count\n4,30,100\n")).net_m3

    # The hand's twentieth is common to all, half the variance of the formula's 2 % too; the reading cancels.
    common = math.hypot(TO_10_90 * HAND_SD_SHARE, math.sqrt(0.5) * 0.02)
    assert many.high / many.mid - 1 == pytest.approx(common, rel=0.02)
    assert one.high / one.mid - 1 > 1.15 * common


def test_a_log_alone_and_in_a_list_and_in_the_yard_has_one_spread():
    """By hand for a log of 30 cm over 4 m, Huber: 2 % of the formula; 0.5 cm of 30 twice over and 2 cm of 4 m of the
    tape; a twentieth of the hand; bark of the locust as far as its tables part."""
    (row,) = read_log_list("species,length_m,mid_cm\nsugar maple,4,30\n")
    tape = math.hypot(2 * 0.5 / 30, 0.02 / 4)
    expected = math.hypot(0.02, TO_10_90 * math.hypot(tape, 0.05))

    assert row.net().spread_m3.high / row.net().net_m3 - 1 == pytest.approx(expected)
    for text in ("sugar maple,4,30,,", "black locust,4,30,,", "black locust,4,,28,33", "ash,4,30,28,33"):
        rows = read_log_list(f"species,length_m,mid_cm,small_cm,large_cm\n{text}\n")
        for over_bark in (False, True):
            (one,) = with_bark_by_species(rows) if over_bark else rows
            assert log_list_total([one]).net_m3 == one.net().spread_m3 == one.volume().spread_m3


def test_the_bark_s_doubt_reaches_every_table():
    """Black locust of 30 cm: 26 % of the log is bark by Clark, 19 % by the Northeast's ratio, 13 % by volume."""
    (over,) = read_log_list("species,length_m,mid_cm\nblack locust,4,30\n")
    (bare,) = with_bark_by_species([over])
    outside = over.volume().volume_m3
    found = bare.net()

    shares = bark_shares(get_species("robinia_pseudoacacia"), 0.30)
    assert len(shares) == 3
    assert max(shares) / min(shares) > 1.9
    for share in shares:
        assert abs(outside * (1.0 - share) - found.net_m3) <= found.errors.bark_sd * (1 + 1e-9)
    # Where they agree, a quarter; where only one knows the wood, what they part by elsewhere.
    assert bark_volume_sd(get_species("betula_papyrifera"), 0.30) == BARK_VOLUME_SD
    assert bark_volume_sd(get_species("unnamed_hardwood"), 0.30) >= ONE_TABLE_SD


def test_a_locust_load_by_list_and_by_weight_agrees():
    """The list takes one bark figure, the weight another: apart by their bark alone, they must not be said to clash."""
    locust = get_species("robinia_pseudoacacia")
    rows = read_log_list("species,length_m,mid_cm,count\nblack locust,4,30,40\n")
    by_list = log_list_total(with_bark_by_species(rows)).net_m3
    over = sum(row.volume_over_bark_m3() for row in rows)
    for share in bark_shares(locust, 0.30):
        solid = over * (1.0 - share)
        skin = solid * share / (1.0 - share)
        kg = solid * locust.basic_density_kg_m3 * (1 + locust.green_mc_db) + skin * (
            locust.bark_basic_density_kg_m3 * (1 + locust.bark_green_mc_db)
        )
        assert reconcile([("list", by_list), ("weight", weighed_load(kg, [(locust, 1.0)]).solid_m3)]).agree


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("length_ft,mid_in\n8,12\n8,11\n2.44,12\n8,13\n8,10\n8,12\n", [4]),
        ("length_m,mid_cm\n2.4,30\n2.4,28\n2.4,12\n2.4,31\n2.4,29\n2.4,27\n", [4]),
    ],
)
def test_another_unit_in_a_column_is_said_and_nothing_lost(text, lines):
    rows = read_log_list(text)
    (note,) = odd_sizes(rows)

    assert f"Lines {lines[0]}:" in str(note)
    assert log_list_total(rows).logs == 6
    assert note in log_list_total(rows).notes


def test_units_may_differ_from_cell_to_cell():
    rows = read_log_list("length,mid\n8ft,12in\n2.4384 m,30.48cm\n8 pi,12 po\n")

    assert {round(row.length_m, 6) for row in rows} == {2.4384}
    assert odd_sizes(rows) == []


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("0-20:rot", "within the log"),
        ("4-2:rot", "begins"),
        ("0-2:worms", "kinds are"),
        ("0-2:hollow=20in", "wood"),
    ],
)
def test_a_bad_defect_names_its_line(cell, words):
    with pytest.raises(LogListError) as refused:
        read_log_list(f"length_ft,mid_in,defects\n8,12,\n16,12,{cell}\n", defects=True)

    (problem,) = refused.value.problems
    assert (problem.line, problem.field) == (3, "defects")
    assert words in str(problem.text)


def test_who_keeps_sizes_alone_refuses_defects():
    """A load's list keeps no defects yet: rather refused than lost unseen."""
    with pytest.raises(LogListError) as refused:
        read_log_list("length_ft,mid_in,defects,sweep_in\n16,12,0-2:rot,\n")

    assert [problem.field for problem in refused.value.problems] == ["defects", "sweep_in"]


def test_ten_thousand_logs_are_quick():
    """A few seconds would be felt; a tenth of what is allowed here is usual."""
    names = ("sugar maple", "red oak", "yellow birch")
    text = "species,length_ft,mid_in,small_in,large_in\n" + "".join(
        f"{names[i % 3]},{8 + i % 9},{12 + i % 7 / 3:.2f},{10 + i % 7 / 3:.2f},{14 + i % 7 / 3:.2f}\n"
        for i in range(10_000)
    )
    begun = time.process_time()
    rows = with_bark_by_species(read_log_list(text))
    total = log_list_total(rows)

    assert total.logs == 10_000
    assert total.net_m3.low < total.net_m3.mid < total.net_m3.high
    assert time.process_time() - begun < 10.0
    with pytest.raises(LogListError):
        read_log_list(text + "ash,8,12,10,14\n")


@pytest.mark.parametrize(
    ("truck", "least", "most"),
    [
        # Full-size pickup, 8 ft bed, loaded level: 1/3 to 1/2 cord (Nebraska); 5.5 × 8 ft, 20 in deep: 1/3 (Indiana).
        # By its dimensions the latter holds 0.57 cord stacked and 0.4 thrown and restacked.
        ({"width_m": 5.5 * FT_M, "length_m": 8 * FT_M, "fill_heights_m": 20 * IN_M}, 0.33, 0.60),
    ],
)
def test_a_pickup_by_its_bed(truck, least, most):
    ranked = truck_measure(**truck, piece_length_m=16 * IN_M, form="split")
    loose = truck_measure(**truck, piece_length_m=16 * IN_M, form="split", piled="loose")

    assert least < ranked.outside.cords < most
    assert loose.outside.cords is None
    cords_when_ranked = loose.solid_m3.mid / ranked.solid_m3.mid * ranked.outside.cords
    assert least < cords_when_ranked < ranked.outside.cords


def test_a_semi_trailer_of_logs():
    """13 cords, about 33 tons (a trade article): two bunks of 16 ft logs, 8 ft wide, 6.5 ft high.

    33 short tons over 13 cords are 5077 lb. By weight, half red oak and half sugar maple (our reading, as on the
    accuracy page), the ranges meet, and 13 cords of 79 ft³ lie above the weight's: a miss that stays.
    """
    by_bed = truck_measure(8 * FT_M, 6.5 * FT_M, 16 * FT_M, tiers=2)
    by_weight = weighed_load(
        66_000 * LB_KG, [(find_species("northern red oak"), 0.5), (find_species("sugar maple"), 0.5)]
    )

    assert by_bed.outside.cords == pytest.approx(13.0)
    assert by_bed.notes
    assert by_weight.solid_m3.low < by_bed.solid_m3.high
    assert by_bed.solid_m3.low < by_weight.solid_m3.high
    assert by_weight.solid_m3.mid / (13 * 79 * FT3_M3) - 1 == pytest.approx(-0.113, abs=6e-4)


def test_what_the_body_takes_is_taken_off():
    free = truck_measure(2.0, 1.0, 0.4, length_m=2.0)
    arched = truck_measure(2.0, 1.0, 0.4, length_m=2.0, taken_by_body_m3=0.4)

    assert arched.outside.outside_m3 == pytest.approx(free.outside.outside_m3 - 0.4)
    assert arched.solid_m3.mid == pytest.approx(free.solid_m3.mid * 0.9)


@given(volume=st.floats(0.5, 40.0), name=st.sampled_from(["acer_saccharum", "quercus", "pinus_strobus"]))
def test_weight_and_back(volume, name):
    species = get_species(name)
    green = weighed_load(green_mass_with_bark_kg(species, volume), [(species, 1.0)])
    dry = weighed_load(mass_kg(species, volume, 0.25), [(species, 3.0)], mc_wet=0.20, bark=False)

    assert green.solid_m3.mid == pytest.approx(volume)
    assert dry.solid_m3.mid == pytest.approx(volume)
    assert green.solid_m3.low < volume < green.solid_m3.high
    assert green.oven_dry_kg.mid == pytest.approx(volume * species.basic_density_kg_m3)
    assert any("no measure to sell by" in str(text) for text in green.warnings)


def test_minnesota_s_cord_by_weight():
    """Minn. Stat. 239.33 counts 79 ft³ of solid wood a cord; aspen, fresh, 4300 lb on 74 ft³ before 2005 (a bill of
    1999): 58.1 lb a ft³, bark and all. Ours by species within its spread."""
    aspen = weighed_load(4300 * LB_KG, [(find_species("quaking aspen"), 1.0)])

    assert aspen.solid_m3.low / FT3_M3 < 74.0 < aspen.solid_m3.high / FT3_M3


def test_two_measures_that_agree_are_narrower_than_either():
    found = reconcile([("logs", Spread(9.5, 10.0, 10.5)), ("scale", Spread(9.4, 10.4, 11.5))])

    assert found.agree
    assert 10.0 < found.solid_m3.mid < 10.2
    assert found.solid_m3.high / found.solid_m3.low < 10.5 / 9.5
    assert sum(found.weights) == pytest.approx(1.0)
    assert found.notes == ()


def test_two_measures_that_disagree_are_named_and_widen():
    found = reconcile([("logs", Spread(9.8, 10.0, 10.2)), ("scale", Spread(12.7, 13.0, 13.3))])

    assert not found.agree
    assert found.solid_m3.high / found.solid_m3.low > 1.2
    assert "logs and scale disagree" in str(found.notes[0])


def test_smalian_leans_low_and_is_believed_lower():
    """Smalian's own spread is 0 to 8 % below: half of that is taken off before it is weighed."""
    found = reconcile([("logs", Spread(9.2, 10.0, 10.0))])

    assert found.solid_m3.mid == pytest.approx(math.sqrt(9.2 * 10.0))


@given(measures=st.lists(spreads, min_size=1, max_size=4), shared=st.floats(0.0, 0.2))
def test_one_estimate_lies_among_its_measures(measures, shared):
    found = reconcile([(str(i), spread) for i, spread in enumerate(measures)], shared_log_sd=shared)

    assert min(s.mid for s in measures) - 1e-9 <= found.solid_m3.mid <= max(s.mid for s in measures) + 1e-9
    assert found.solid_m3.low < found.solid_m3.mid < found.solid_m3.high
    assert math.log(found.solid_m3.high / found.solid_m3.mid) >= 1.28 * shared - 1e-9


@given(first=spreads, second=spreads)
def test_a_product_is_wider_than_its_factors(first, second):
    found = product(first, second)

    assert found.mid == pytest.approx(first.mid * second.mid)
    assert found.high / found.mid >= max(first.high / first.mid, second.high / second.mid) - 1e-9


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: log_list_total([]), "logs"),
        (lambda: truck_measure(2.0, 1.0, 0.4, tiers=0), "tiers"),
        (lambda: truck_measure(2.0, 1.0, 0.4, length_m=2.0, taken_by_body_m3=4.0), "taken_by_body"),
        (lambda: truck_measure(0.0, 1.0, 0.4), "width"),
        (lambda: weighed_load(-5.0, [(get_species("acer"), 1.0)]), "net"),
        (lambda: weighed_load(500.0, []), "species"),
        (lambda: weighed_load(500.0, [(get_species("acer"), 0.0)]), "species"),
        (lambda: weighed_load(500.0, [(get_species("acer"), 1.0)], mc_wet=0.9), "mc_wet"),
        (lambda: reconcile([]), "measures"),
        (lambda: reconcile([("a", Spread(0.0, 1.0, 2.0))]), "measures"),
    ],
)
def test_nonsense_is_refused_by_name(call, field):
    with pytest.raises(InputError) as refused:
        call()

    assert refused.value.field == field


def test_a_load_of_a_cord():
    assert truck_measure(4 * FT_M, 4 * FT_M, 8 * FT_M).outside.outside_m3 == pytest.approx(CORD_M3)


MISSED_WEIGHTS = {
    ("Ash, green", "USU", "dry"): 0.103,
    ("Basswood (linden)", "USU", "green"): -0.247,
    ("Catalpa", "USU", "green"): -0.280,
    ("Cottonwood", "USU", "green"): -0.204,
    ("Elm, Siberian", "USU", "green"): 0.167,
    ("Cedar, eastern red", "USU-COPY", "dry"): 0.280,
    ("Oak, white", "USU-COPY", "dry"): -0.144,
    ("Willow", "MEM", "dry"): -0.240,
    ("Willow", "MEM", "green"): -0.155,
    ("Birch, gray", "FPL20", "dry"): -0.152,
    ("Cherry", "FPL20", "dry"): -0.165,
    ("Hickory", "BUTT", "dry"): -0.163,
    ("White birch", "BUTT", "dry"): 0.219,
    ("Pitch pine", "BUTT", "dry"): 0.479,
    ("Lombardy poplar", "BUTT", "dry"): 0.193,
    ("Yellow (black) oak", "BUTT", "dry"): 0.150,
    ("Black cherry", "NELA", "lost"): -0.222,
}
"""Rows outside the disagreement of the tables, each with its own figure; what a change of the model moves must be
written here."""


def test_cord_weights(published, looked_at):
    """Every figure of every row: within -14 to +10 % dry and 12 % green, as the tables were found to disagree, or a
    miss that is kept by name. Nothing is tuned to them."""
    figures = looked_at("cord_weights").figures()

    rows = published("cord_weights.csv")
    assert {(one.name, one.source) for one in figures} == {(row["species"], row["source"]) for row in rows}
    assert looked_at("cord_weights").BOUNDS == {"dry": (-0.14, 0.10), "green": (-0.12, 0.12)}
    assert {(one.name, one.why_not) for one in figures if one.off is None} == {
        ("Juniper, Rocky Mountain", "Juniperus scopulorum is not in the species list")
    }
    misses = {
        (one.name, one.source, one.kind): one.off for one in figures if one.off is not None and not one.within
    }
    assert misses == pytest.approx(MISSED_WEIGHTS, abs=6e-4)
    assert sum(one.off is not None for one in figures) == 135
    for kind in ("dry", "green"):
        assert abs(median(one.off for one in figures if one.off is not None and one.kind == kind)) < 0.06


def test_statutes_volumes(published):
    """Each law's loose cord as the ranked stack it makes: Maine's 180 ft³ restack to 115 to 124 by the state's own
    guidance; Everett's 192 and Minnesota's 175 are a lawful ranked cord. Their mean is in the figures: 8 %."""
    for row in published("legal_cord_volumes.csv"):
        if "loose" not in row["unit"]:
            continue
        loose = float(row["value"].split("-")[0])
        inches = 24 if row["piece_length"].startswith("24") else 16
        form = "round" if row["form"].startswith("sawed wood") else "split"
        shares = [solid_share(piled, form, inches * IN_M).mid for piled in ("loose", "ranked")]
        if "restacked" in row["form"]:
            assert 115 <= 180 * shares[0] / shares[1] <= 124
        else:
            ranked = {"Minnesota": 110.0 if form == "round" else 120.0}.get(row["jurisdiction"], 128.0)
            assert loose * shares[0] / shares[1] == pytest.approx(ranked, rel=0.08), row["jurisdiction"]
