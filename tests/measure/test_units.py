"""Exact sizes of the units, against the published unit table."""

import math
from fractions import Fraction

import pytest

from rickyard.errors import InputError
from rickyard.measure import (
    BTU_J,
    CORD_FACE_M2,
    CORD_FT3,
    CORD_M3,
    DM3_M3,
    FT2_M2,
    FT3_M3,
    FT_M,
    IN3_M3,
    IN_M,
    KWH_J,
    LB_FT3_KG_M3,
    LB_KG,
    MILLION_BTU_MJ,
    SHORT_TON_KG,
    TRADE_UNITS,
    face_m3,
)


def test_definitions_are_exact():
    """International foot and pound of 1959, in whole decimals by definition."""
    foot, inch = Fraction("0.3048"), Fraction("0.0254")

    assert Fraction(12) * inch == foot
    assert (float(foot), float(inch)) == (FT_M, IN_M)
    assert float(foot**2) == pytest.approx(FT2_M2, rel=1e-15)
    assert float(foot**3) == FT3_M3
    assert float(inch**3) == IN3_M3
    assert float(128 * foot**3) == CORD_M3
    assert LB_KG == 0.45359237
    # International Table Btu: 1 cal (4.1868 J) per gram and kelvin, for a pound and a degree Fahrenheit.
    assert float(Fraction("4.1868") * Fraction("453.59237") / Fraction("1.8")) == pytest.approx(
        BTU_J, rel=1e-11
    )
    assert MILLION_BTU_MJ == BTU_J
    assert KWH_J == 3_600_000


def test_published_unit_table(published):
    """Every row of the table, to the last figure that it prints."""
    rows = {(row["unit"], row["in"]): row["value"] for row in published("units.csv")}
    ours = {
        ("cubic foot", "m3"): FT3_M3,
        ("cord", "ft3"): CORD_FT3,
        ("cord", "stacked m3"): CORD_M3,
        ("stacked cubic metre", "ft3"): 1.0 / FT3_M3,
        ("stacked cubic metre", "cord"): 1.0 / CORD_M3,
        ("stere", "stacked m3"): 1.0,
        ("cubic decimetre", "in3"): DM3_M3 / IN3_M3,
        ("cubic inch", "in3 per ft3"): FT3_M3 / IN3_M3,
        ("face cord, 12 in pieces", "ft3"): face_m3(12 * IN_M) / FT3_M3,
        ("face cord, 16 in pieces", "ft3"): face_m3(16 * IN_M) / FT3_M3,
        ("face cord, 18 in pieces", "ft3"): face_m3(18 * IN_M) / FT3_M3,
        ("face cord, 20 in pieces", "ft3"): face_m3(20 * IN_M) / FT3_M3,
        ("face cord, 24 in pieces", "ft3"): face_m3(24 * IN_M) / FT3_M3,
        ("short ton", "lb"): SHORT_TON_KG / LB_KG,
    }

    assert ours.keys() == rows.keys()
    for key, value in rows.items():
        half_a_place = 0.5 * 10.0 ** -len(value.partition(".")[2])
        assert ours[key] == pytest.approx(float(value), abs=half_a_place), key


def test_a_face_is_a_third_or_half_a_cord():
    """16 in pieces a third, 24 in pieces half (Maine Forest Service, Firewood Facts)."""
    assert face_m3(16 * IN_M) == pytest.approx(CORD_M3 / 3)
    assert face_m3(24 * IN_M) == pytest.approx(CORD_M3 / 2)
    assert face_m3(4 * FT_M) == pytest.approx(CORD_M3)
    assert pytest.approx(32 * FT2_M2) == CORD_FACE_M2


def test_a_pound_per_cubic_foot():
    """Water at 1000 kg/m³ is 62.43 lb/ft³ (Wood Handbook, chapter 4)."""
    assert pytest.approx(62.43, abs=0.005) == 1000.0 / LB_FT3_KG_M3


def test_trade_units_have_names_in_both_languages_and_a_size():
    assert len({unit.id for unit in TRADE_UNITS}) == len(TRADE_UNITS)
    for unit in TRADE_UNITS:
        assert unit.name_en
        assert unit.name_fr
        assert unit.size > 0


@pytest.mark.parametrize("length", [0.0, -0.4, math.nan, math.inf])
def test_a_piece_without_length_is_refused(length):
    with pytest.raises(InputError) as refused:
        face_m3(length)

    assert refused.value.field == "piece_length"
