"""How numbers, measures, odds and days are said."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.measure.units import CORD_M3
from rickyard.show import Voice, find_raw_english, voice_for
from rickyard.text import T_, Quantity

EN, FR = Voice("en_CA"), Voice("fr_CA")
NOON = datetime(2026, 11, 5, 18, 7, tzinfo=UTC)


def spaced(text: str) -> str:
    """Every kind of blank as a plain one."""
    return " ".join(text.split())


# -- conventions: Unicode CLDR for en-CA, fr-CA, en-US and fr-FR --------------------------------------


def test_numbers_by_locale():
    assert EN.decimal(1234.5, 1) == "1,234.5"
    assert FR.decimal(1234.5, 1) == "1\u00a0234,5"
    assert Voice("fr_FR").decimal(1234.5, 1) == "1\u202f234,5"


def test_money_by_locale():
    assert EN.money(123450) == "$1,234.50"
    assert FR.money(123450) == "1\u00a0234,50\u00a0$"
    assert Voice("fr_FR", currency="EUR").money(123450) == "1\u202f234,50\u00a0€"
    assert EN.money(500, "USD") == "US$5.00"
    assert EN.money(500, "JPY") == "JP¥500"


def test_percents_by_locale():
    assert EN.percent(0.18) == "18%"
    assert FR.percent(0.18) == "18\u00a0%"
    assert EN.percent(0.1825, 1) == "18.2%"


def test_dates_by_locale():
    day = NOON.date()
    assert EN.date(day, "short") == FR.date(day, "short") == "2026-11-05"
    assert Voice("fr_FR").date(day, "short") == "05/11/2026"
    assert EN.date(day, "long") == "November 5, 2026"
    assert FR.date(day, "long") == "5 novembre 2026"
    assert EN.day(day) == "Thu, Nov 5"


def test_times_are_told_in_the_yards_zone():
    atlantic = {"timezone": "America/Moncton"}
    assert spaced(Voice("en_CA", **atlantic).time(NOON)) == "2:07 p.m."
    assert spaced(Voice("fr_CA", **atlantic).time(NOON)) == "14 h 07"
    late = datetime(2026, 11, 6, 2, 30, tzinfo=UTC)
    assert spaced(Voice("en_CA", **atlantic).moment(late)).startswith("Nov 5, 2026, 10:30")
    with pytest.raises(ValueError, match="without a time zone"):
        EN.time(NOON.replace(tzinfo=None))


def test_unit_symbols_by_language():
    """ft, in, ft³ in English, pi, po, pi³ in French, without point or plural."""
    assert EN.dimension(2.54) == "8\u00a0ft\u00a04\u00a0in"
    assert FR.dimension(2.54) == "8\u00a0pi\u00a04\u00a0po"
    assert spaced(FR.amount(2 * 0.028316846592, "ft3")) == "2 pi³"


# -- measures -----------------------------------------------------------------------------------------


def test_lengths_in_both_systems():
    assert spaced(EN.length(0.4064)) == "16 in"
    assert spaced(Voice("en_CA", "metric").length(0.4064)) == "41 cm"
    assert spaced(EN.thickness(0.12)) == "4.7 in"
    assert spaced(EN.dimensions([2.4384, 1.2192, 0.4064])) == "8 ft × 4 ft × 16 in"
    assert spaced(EN.dimension(0.3048)) == "1 ft"
    assert spaced(EN.dimension(3.6575)) == "12 ft"  # 11 ft 11.996 in


def test_ranked_wood_is_told_in_cords_and_cubic_metres_loose_wood_never_in_cords():
    assert spaced(EN.volume(2 * CORD_M3)) == "2 cords (7.25 stacked m³)"
    assert spaced(Voice("en_CA", "metric").volume(2 * CORD_M3)) == "7.25 stacked m³ (2 cords)"
    assert spaced(EN.volume(1.2, "loose")) == "42.4 loose ft³ (1.2 loose m³)"
    assert "cord" not in Voice("en_CA", "metric").volume(1.2, "loose")
    assert spaced(EN.volume(2.2, "solid", both=False)) == "77.7 solid ft³"


def test_a_cord_has_its_plural():
    assert [spaced(EN.quantity(n, "cord")) for n in (0.2, 1, 2, 1.2)] == [
        "0.2 cord",
        "1 cord",
        "2 cords",
        "1.2 cords",
    ]


def test_halves_thirds_and_quarters_of_a_cord_are_fractions():
    said = [spaced(EN.cords(CORD_M3 * n)) for n in (1 / 3, 0.5, 0.75, 1.5, 2, 2.6667, 0.4, 0)]
    assert said == [
        "1/3 cord",
        "1/2 cord",
        "3/4 cord",
        "1 1/2 cords",
        "2 cords",
        "2 2/3 cords",
        "0.4 cord",
        "0 cords",
    ]


def test_mass_heat_density_temperature():
    metric = Voice("en_CA", "metric")
    assert spaced(EN.mass(1900)) == "4,190 lb"
    assert spaced(metric.mass(1900)) == "1,900 kg"
    assert spaced(metric.mass(19000)) == "19 t"
    assert spaced(EN.heat(25600)) == "24.3 million Btu"
    assert spaced(metric.heat(25600)) == "25.6 GJ"
    assert spaced(metric.heat(3600, "kWh")) == "1,000 kWh"
    assert spaced(metric.density(560)) == "560 kg/m³"
    assert spaced(EN.temperature(-4.4)) == "-4 °C"
    assert spaced(Voice("en_US").temperature(20)) == "68 °F"
    assert spaced(EN.warmth(1.04)) == "1.0 °C"
    assert spaced(Voice("en_US").warmth(1.0)) == "1.8 °F"


def test_figures_are_rounded_to_what_they_are_worth():
    assert EN.number(1234.5) == "1,230"
    assert EN.number(0.012345) == "0.0123"
    assert EN.number(2.0) == "2"
    assert EN.number(0) == "0"
    assert EN.number(999.9) == "1,000"
    assert EN.decimal(-0.001) == "0.00"
    assert EN.percent(-0.001) == "0%"


def test_ranges():
    assert spaced(EN.range(1.9 * CORD_M3, 2.1 * CORD_M3, 2.4 * CORD_M3, "cord")) == "2.1 cords (1.9 to 2.4)"
    assert spaced(EN.span(1.9 * CORD_M3, 2.4 * CORD_M3, "cord")) == "1.9–2.4 cords"
    assert spaced(EN.span(2 * CORD_M3, 2.0001 * CORD_M3, "cord")) == "2 cords"
    assert spaced(EN.moisture_range(0.17, 0.2, 0.24)) == "20% wet (17% to 24%)"


# -- moisture and odds --------------------------------------------------------------------------------


def test_a_moisture_never_goes_without_its_basis():
    """20 % of total mass is 25 % of dry mass."""
    assert EN.moisture(0.20) == "20% of total mass (25% of dry mass)"
    assert EN.moisture_short(0.20) == "20% wet"
    assert EN.moisture_dry(0.25) == "25% dry basis"
    with pytest.raises(ValueError, match="below 1"):
        EN.moisture(1.0)


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (1.0, "almost certain"),
        (0.99, "almost certain"),
        (0.95, "19 in 20"),
        (0.91, "9 in 10"),
        (0.5, "5 in 10"),
        (0.1, "1 in 10"),
        (0.05, "1 in 20"),
        (0.0, "almost no chance"),
    ],
)
def test_odds(p, said):
    assert EN.odds(p) == said


@given(st.floats(0.015, 0.984))
def test_odds_said_are_within_a_twentieth_of_the_probability(p):
    part, _, whole = EN.odds(p).partition(" in ")
    assert abs(int(part) / int(whole) - p) <= 0.0501


def test_odds_outside_zero_to_one_are_a_mistake():
    with pytest.raises(ValueError, match="between 0 and 1"):
        EN.odds(1.2)


# -- days ---------------------------------------------------------------------------------------------


def test_relative_days():
    today = date(2026, 11, 5)
    said = [EN.relative_day(today + timedelta(days=n), today) for n in (0, 1, -1, 3, 13, -20, 90)]
    assert said == ["today", "tomorrow", "yesterday", "in 3 days", "in 13 days", "3 weeks ago", "in 3 months"]
    assert FR.relative_day(today + timedelta(days=3), today) == "dans 3 jours"
    assert EN.days(1) == "1 day"
    assert EN.days(12) == "12 days"


# -- names --------------------------------------------------------------------------------------------

MAPLE = SimpleNamespace(scientific="Acer saccharum", common_en="sugar maple", common_fr="érable à sucre")


def test_names_of_species_by_language():
    assert EN.species(MAPLE) == "sugar maple"
    assert FR.species(MAPLE) == "érable à sucre"
    assert Voice("en_XA").species(MAPLE) == "⟦šúǧáŕ ɱáþĺé⟧"
    bare = SimpleNamespace(scientific="Acer nigrum", common_en="black maple", common_fr="")
    assert FR.species(bare) == "Acer nigrum"


def test_shares_and_lists():
    assert EN.shares([("yellow birch", 0.4), ("maple", 0.6)]) == "60% maple, 40% yellow birch"
    assert EN.shares([("maple", 1.0)]) == "maple"
    assert EN.list_of(["oak", "ash", "elm"]) == "oak, ash and elm"
    assert FR.list_of(["chêne", "frêne"]) == "chêne et frêne"
    assert Voice("en_XA").list_of(["Anne", "Bob"]) == "Anne áñđ Bob"


def test_a_voice_is_made_from_a_yard():
    yard = SimpleNamespace(locale="fr_CA", units="metric", currency="CAD", timezone="America/Moncton")
    assert voice_for(yard) == Voice("fr_CA", "metric", "CAD", "America/Moncton")
    assert voice_for(yard).html_lang == "fr-CA"


def test_nothing_a_voice_says_in_the_pseudo_language_is_raw_english():
    pseudo = Voice("en_XA", timezone="America/Moncton")
    day = NOON.date()
    said = [
        pseudo.volume(7.25),
        pseudo.volume(7.25, "loose"),
        pseudo.volume_range(6, 7, 8),
        pseudo.mass(1900),
        pseudo.heat(25600),
        pseudo.moisture(0.2),
        pseudo.moisture_short(0.2),
        pseudo.moisture_dry(0.2),
        pseudo.moisture_range(0.17, 0.2, 0.24),
        pseudo.odds(0.9),
        pseudo.odds(1.0),
        pseudo.date(day),
        pseudo.date(day, "full"),
        pseudo.day(day),
        pseudo.month(day),
        pseudo.moment(NOON),
        pseudo.relative_day(day, day),
        pseudo.relative_day(day, day + timedelta(days=9)),
        pseudo.days(3),
        pseudo.list_of([pseudo.odds(0.5), pseudo.length(0.4)]),
        pseudo.dimensions([2.4, 1.2, 0.4]),
        pseudo.temperature(20),
        pseudo.money(12345),
    ]
    assert {text: find_raw_english(f"<p>{text}</p>", strict=True) for text in said} == {
        text: [] for text in said
    }


def test_a_sentence_says_its_quantities_in_the_units_of_the_user() -> None:
    tree = T_(
        "The height is {height}; {more}",
        height=Quantity(12.2, "tall"),
        more=T_("a row of {side}.", side=Quantity(2.4384, "side")),
    )
    assert str(tree) == "The height is 12 m; a row of 2.44 m."
    assert Voice("en_CA", "imperial").text(tree).replace("\xa0", " ") == "The height is 40 ft; a row of 8 ft."
    assert Voice("en_CA", "metric").text(tree).replace("\xa0", " ") == "The height is 12 m; a row of 2.44 m."
    left = T_("{left} outside", left=Quantity(0.5, "outside"))
    assert Voice("en_CA", "imperial").text(left).replace("\xa0", " ") == "17.7 ft³ outside"
