"""Trade units as typed, read into SI."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure.units import CORD_M3, FT3_M3, LB_KG
from rickyard.show import (
    Voice,
    parse_count,
    parse_length,
    parse_lengths,
    parse_mass,
    parse_money,
    parse_number,
    parse_percent,
    parse_temperature,
    parse_volume,
)
from rickyard.show.symbols import fold

LOCALES = ["en_CA", "fr_CA", "en_US", "fr_FR", "en_XA"]


def test_sizes_are_the_legal_ones():
    """Foot 0.3048 m and pound 0.45359237 kg exactly (international yard and pound agreement, 1959);
    a cord is 128 ft³ (NIST Handbook 130, Method of Sale of Commodities, fireplace and stove wood;
    Canada's Weights and Measures Act), 3.624556 m³ to six decimals."""
    assert pytest.approx(0.028316846592, rel=1e-12) == FT3_M3
    assert LB_KG == 0.45359237
    assert pytest.approx(3.624556, abs=5e-7) == CORD_M3


@pytest.mark.parametrize(
    ("typed", "metres"),
    [
        ("16in", 0.4064),
        ("16 in", 0.4064),
        ("16 in.", 0.4064),
        ("16 inches", 0.4064),
        ("16 po", 0.4064),
        ("16 POUCES", 0.4064),
        ('16 1/2"', 0.4191),
        ("16½ in", 0.4191),
        ("1/2 in", 0.0127),
        ("40cm", 0.40),
        ("8ft", 2.4384),
        ("8 pi", 2.4384),
        ("8' 4\"", 2.54),
        ("8’ 4”", 2.54),
        ("8′4″", 2.54),
        ("8' 4''", 2.54),
        ("8ft4in", 2.54),
        ("8 pi 4 po", 2.54),
        ("1.2 m", 1.2),
        ("1,2 m", 1.2),
        ("1,2 mètre", 1.2),
        ("0,125 m", 0.125),
        (".5 m", 0.5),
        ("1 200 mm", 1.2),
        ("1\u202f200 mm", 1.2),
        ("16", 0.4064),  # bare: the unit the caller says, here inches
        ("16\u00a0in", 0.4064),
    ],
)
def test_lengths(typed, metres):
    assert parse_length(typed, unit="in") == pytest.approx(metres, rel=1e-12)


def test_one_comma_before_three_digits_is_thousands_in_english_and_decimal_in_french():
    assert parse_length("1,200 mm", locale="en_CA") == pytest.approx(1.2)
    assert parse_length("1,200 mm", locale="fr_CA") == pytest.approx(0.0012)


@pytest.mark.parametrize(
    "typed",
    "|  |abc|16 parsecs|4 ft 13 in|4 m 3 in|1e5 m|nan|inf m|1.2.3 m|3/0 in|8 4|--2 m|-8' 4\"".split("|"),
)
def test_nonsense_lengths_are_refused_with_a_way_out(typed):
    with pytest.raises(InputError) as caught:
        parse_length(typed, "piece length", unit="in")
    error = caught.value
    assert error.field == "piece length"
    assert "16 in, 40 cm" in str(error) or "below 12" in str(error)
    assert (typed.strip() or "nothing") in str(error)


def test_a_bound_is_told_in_the_unit_typed():
    with pytest.raises(InputError) as caught:
        parse_length("120 in", "piece length", low=0.0508, high=2.54)
    assert str(caught.value) == (
        "piece length: wanted 2 to 100 in, got 120 in. Check the figure and its unit."
    )
    with pytest.raises(InputError, match=r"wanted 5\.08 to 254 cm"):
        parse_length("-40 cm", "piece length", low=0.0508, high=2.54)
    with pytest.raises(InputError, match="wanted at least 2 in"):
        parse_length("1 in", low=0.0508)
    with pytest.raises(InputError, match="wanted at most 100 po"):
        parse_length("120", unit="in", high=2.54, locale="fr_CA")


def test_both_bounds_are_allowed():
    assert parse_length("5 cm", low=0.05, high=2.6) == 0.05
    assert parse_length("2.6", low=0.05, high=2.6) == 2.6


def test_lists_of_lengths():
    assert parse_lengths("4ft; 4.5 ft;5", unit="ft") == pytest.approx([1.2192, 1.3716, 1.524])
    assert parse_lengths("4,4.5", unit="ft", comma="separator") == pytest.approx([1.2192, 1.3716])
    assert parse_lengths("1,2; 1,3", unit="m") == pytest.approx([1.2, 1.3])
    with pytest.raises(InputError):
        parse_lengths("4;;5", unit="ft")


@pytest.mark.parametrize(
    ("typed", "m3", "unit"),
    [
        ("1 cord", CORD_M3, "cord"),
        ("1/2 cord", CORD_M3 / 2, "cord"),
        ("½ cord", CORD_M3 / 2, "cord"),
        ("1 1/2 cords", CORD_M3 * 1.5, "cord"),
        ("1½ cords", CORD_M3 * 1.5, "cord"),
        ("1,5 corde", CORD_M3 * 1.5, "cord"),
        ("1/3 de corde", CORD_M3 / 3, "cord"),
        ("un tiers de corde", CORD_M3 / 3, "cord"),
        ("demi-corde", CORD_M3 / 2, "cord"),
        ("half a cord", CORD_M3 / 2, "cord"),
        ("a cord", CORD_M3, "cord"),
        ("three quarters of a cord", CORD_M3 * 0.75, "cord"),
        ("10 cords", CORD_M3 * 10, "cord"),
        ("2 stacked m3", 2.0, "stacked_m3"),
        ("2 m³ apparents", 2.0, "stacked_m3"),
        ("5 stères", 5.0, "stacked_m3"),
        ("2 m³", 2.0, "stacked_m3"),
        ("3 loose m3", 3.0, "loose_m3"),
        ("3 m³ en vrac", 3.0, "loose_m3"),
        ("64 ft³", 64 * FT3_M3, "ft3"),
        ("64 cu. ft.", 64 * FT3_M3, "ft3"),
        ("64 pi³", 64 * FT3_M3, "ft3"),
        ("180 loose ft3", 180 * FT3_M3, "loose_ft3"),
    ],
)
def test_volumes(typed, m3, unit):
    volume = parse_volume(typed)
    assert volume.m3 == pytest.approx(m3, rel=1e-12)
    assert (volume.unit, volume.typed) == (unit, typed)


def test_a_bare_volume_needs_the_caller_to_say_its_unit():
    assert parse_volume("2", unit="cord").m3 == pytest.approx(2 * CORD_M3)
    assert parse_volume("2 m3", plain_m3="loose_m3").unit == "loose_m3"
    with pytest.raises(InputError, match="Type a number and a unit"):
        parse_volume("2")


@pytest.mark.parametrize(
    "typed", ["2 face cords", "1 truckload", "2 petites cordes", "1 corde de poêle", "1 pallet"]
)
def test_measures_without_a_size_are_refused_and_told_why(typed):
    """Face, stove, short cords and the like have no legal size: NIST Handbook 130; Measurement Canada."""
    with pytest.raises(InputError, match="no fixed size"):
        parse_volume(typed)


def test_only_allowed_units_are_taken_and_bounds_hold():
    with pytest.raises(InputError, match="a volume in one of: cord, stacked m³"):
        parse_volume("2 solid m3")
    assert parse_volume("2 solid m3", allowed=("solid_m3",)).m3 == 2.0
    with pytest.raises(InputError, match=r"wanted 0\.002759 to 110\.4 cord"):
        parse_volume("-1 cord", low=0.01, high=400.0)
    with pytest.raises(InputError):
        parse_volume("999999 cords", low=0.01, high=400.0)


@pytest.mark.parametrize(
    ("typed", "kg"),
    [
        ("850kg", 850.0),
        ("1,900 lb", 1900 * LB_KG),
        ("1 900 livres", 1900 * LB_KG),
        ("1.2 t", 1200.0),
        ("1 tonne", 1000.0),
        ("2 tons", 4000 * LB_KG),
        ("500 g", 0.5),
        ("12", 12.0),
    ],
)
def test_masses(typed, kg):
    assert parse_mass(typed) == pytest.approx(kg, rel=1e-12)


def test_percents_keep_or_change_their_basis():
    """20 % of total mass is 25 % of dry mass, by the definition of the two bases."""
    assert parse_percent("20", basis="wet") == pytest.approx(0.20)
    assert parse_percent("20 % wet", basis="wet") == pytest.approx(0.20)
    assert parse_percent("25% dry", basis="wet") == pytest.approx(0.20)
    assert parse_percent("20 % sur brut", basis="dry") == pytest.approx(0.25)
    assert parse_percent("60%") == pytest.approx(0.6)
    assert parse_percent("0.2", bare="fraction") == pytest.approx(0.2)
    assert parse_percent("18,5 %", locale="fr_CA") == pytest.approx(0.185)
    for bad in ("-3%", "120", "20 % foo", "100% wet", "", "%"):
        with pytest.raises(InputError):
            parse_percent(bad, "moisture", basis="wet")
    with pytest.raises(InputError, match="wanted 5 to 60 %"):
        parse_percent("3%", "moisture", basis="wet", low=0.05, high=0.6)


def test_a_share_has_no_basis():
    with pytest.raises(InputError):
        parse_percent("20% wet", basis="share")


def test_temperatures():
    assert parse_temperature("20 C") == 20.0
    assert parse_temperature("68°F") == pytest.approx(20.0)
    assert parse_temperature("−5 °C") == -5.0
    assert parse_temperature("14", unit="F") == pytest.approx(-10.0)
    with pytest.raises(InputError, match="wanted -40 to 140 °F, got 200 F"):
        parse_temperature("200 F", low=-40.0, high=60.0)
    with pytest.raises(InputError):
        parse_temperature("20 K")


def test_money_is_exact_in_minor_units():
    assert parse_money("$1,234.50") == 123450
    assert parse_money("1 234,50 $", locale="fr_CA") == 123450
    assert parse_money("1\u00a0234,50\u00a0€", currency="EUR", locale="fr_FR") == 123450
    assert parse_money("240") == 24000
    assert parse_money("0.29") == 29  # 0.29 * 100 is 28.999... as a float
    assert parse_money("CA$5") == 500
    for bad in ("239.505", "€5", "-5", "abc", "", "1/2", "$"):
        with pytest.raises(InputError):
            parse_money(bad, "price")
    with pytest.raises(InputError, match="wanted 0 to 100 CAD"):
        parse_money("101", high_minor=10_000)


def test_numbers_and_counts():
    assert parse_number("2,5") == 2.5
    assert parse_count("12") == 12
    for bad in ("2.5", "-1", "x", ""):
        with pytest.raises(InputError):
            parse_count(bad, "trees")


def test_folding():
    assert fold("  Corde  de POÊLE ") == "corde de poele"
    assert fold("1½ m³") == "1 1/2 m3"


@given(st.floats(0.01, 90.0), st.sampled_from(LOCALES), st.sampled_from(["imperial", "metric"]))
def test_what_a_voice_says_of_a_length_can_be_typed_again(length_m, locale, units):
    """Within the rounding of what was shown: half an inch, half a centimetre or a twentieth of an inch."""
    voice = Voice(locale, units)
    assert parse_length(voice.dimension(length_m), locale=locale) == pytest.approx(length_m, abs=0.0128)
    assert parse_length(voice.thickness(length_m), locale=locale) == pytest.approx(length_m, abs=0.0013)


@given(
    st.integers(0, 10**11),
    st.sampled_from(["en_CA", "fr_CA", "en_US", "fr_FR"]),
    st.sampled_from(["CAD", "EUR"]),
)
def test_money_shown_can_be_typed_again_to_the_cent(minor, locale, currency):
    voice = Voice(locale, currency=currency)
    assert parse_money(voice.money(minor), currency=currency, locale=locale) == minor


READERS = (
    parse_length,
    parse_volume,
    parse_mass,
    parse_percent,
    parse_temperature,
    parse_number,
    parse_money,
)


def test_a_figure_without_end_is_refused():
    for typed in ("9" * 5000, "1/" + "9" * 5000, "9" * 39):
        with pytest.raises(InputError):
            parse_length(typed, high=100.0)


@given(st.text(max_size=30) | st.from_regex(r"[0-9 .,/'-]{1,9} ?[a-z³%$]{0,6}", fullmatch=True))
def test_any_text_is_read_or_refused_never_a_crash(text):
    for read in READERS:
        with contextlib.suppress(InputError):
            value = read(text, "field")
            assert math.isfinite(value[0] if isinstance(value, tuple) else value)
