"""Rules of measure by place: units, words, sizes of a cord, ticket fields, sources."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError, UnknownNameError
from rickyard.rules import (
    all_places,
    find_place,
    movement_note,
    place_rules,
    quantity_in_lawful_units,
    ticket_fields,
)
from rickyard.rules.law import FIELD_LABELS, source_ids
from rickyard.rules.tables import table

FT3 = 0.3048**3
codes = [place.code for place in all_places()]


class TestPlaces:
    @pytest.mark.parametrize(
        ("typed", "code"),
        [
            ("CA-NB", "CA-NB"),
            ("us_mn", "US-MN"),
            ("UK-ENG", "GB-ENG"),
            ("New Brunswick", "CA-NB"),
            ("Québec", "CA-QC"),
            (" massachusetts ", "US-MA"),
            ("US-WA-EVERETT", "US-WA-EVERETT"),
        ],
    )
    def test_codes_and_names(self, typed, code):
        assert find_place(typed).code == code

    def test_a_subdivision_inherits_from_its_country(self):
        assert find_place("CA-NB").lineage == ("CA-NB", "CA")
        assert place_rules("CA-NB").units_allowed == place_rules("CA").units_allowed

    @pytest.mark.parametrize("code", ["US-PA", "US-AZ", "US-CT", "US-MD"])
    def test_states_under_the_model_regulation(self, code):
        """The four that the reading names as following NIST Handbook 130."""
        assert place_rules(code).standing == "read"
        assert place_rules(code).units_allowed == place_rules("US-HB130").units_allowed

    @pytest.mark.parametrize(
        "typed", ["XX", "CA-ZZ", "US-MINN", "Massachusets", "", "nowhere at all", "CA-NB-X-Y"]
    )
    def test_what_is_no_place_is_refused(self, typed):
        with pytest.raises(UnknownNameError) as caught:
            place_rules(typed)

        assert caught.value.field == "place"

    def test_a_misspelt_name_lists_the_nearest(self):
        with pytest.raises(UnknownNameError, match="US-MA"):
            place_rules("Massachusets")

    @pytest.mark.parametrize("code", ["DE", "DE-BY", "GB-SCT", "FR", "AU"])
    def test_a_place_of_which_nothing_was_read_says_so(self, code):
        rules = place_rules(code)

        assert rules.standing == "none"
        assert not rules.known
        assert rules.units_allowed == ("stacked_m3",)
        assert "no rules were read" in str(rules.advice)

    def test_an_american_state_not_read_shows_the_model_regulation_and_says_so(self):
        rules = place_rules("US-CO")

        assert rules.standing == "model"
        assert "Colorado were not read" in str(rules.advice)
        assert rules.words_forbidden == place_rules("US-HB130").words_forbidden


class TestMeasureRules:
    def test_canada(self):
        """Measurement Canada, Selling firewood: stacked cubic metre asked for, cubic foot, cord of 128 ft³."""
        rules = place_rules("CA-NB")

        assert rules.units_allowed[0] == "stacked_m3"
        assert set(rules.units_allowed) == {"stacked_m3", "cord", "ft3"}
        assert {
            "face cord",
            "stove cord",
            "apartment cord",
            "furnace cord",
            "short cord",
            "tossed cord",
        } <= set(rules.words_forbidden)
        assert {"corde de poêle", "petite corde", "corde d'appartement"} <= set(rules.words_forbidden)
        assert rules.cord_ft3 == {"ranked": 128.0}

    def test_massachusetts_has_no_cord(self):
        """General Laws ch. 94 s. 298: cubic feet or cubic metres only; cord itself may not be used."""
        rules = place_rules("US-MA")

        assert rules.units_allowed == ("ft3", "stacked_m3")
        assert "cord" in rules.words_forbidden
        assert rules.cord_ft3 == {}

    def test_maine_has_loose_cords(self):
        """10 MRSA 2302: 128 ft³ ranked, thrown loose 180 (12 or 16 in) and 195 (24 in)."""
        assert place_rules("US-ME").cord_ft3 == {"ranked": 128.0, "loose": 180.0, "loose_24in": 195.0}

    def test_minnesota_has_a_cord_for_each_form(self):
        """Statutes 239.33: 128 in four-foot lengths, 110 sawed, 120 sawed and split, loose 160 and 175 ft³."""
        assert place_rules("US-MN").cord_ft3 == {
            "ranked": 128.0,
            "ranked_sawed": 110.0,
            "ranked_sawed_split": 120.0,
            "loose_sawed": 160.0,
            "loose": 175.0,
        }

    def test_everett_has_a_loose_unit(self):
        """Everett Municipal Code 9.70.330: 192 ft³ thrown at random."""
        assert place_rules("US-WA-EVERETT").cord_ft3["loose"] == 192.0

    def test_handbook_130(self):
        """NIST Handbook 130: cord and its fractions, cubic metre; four terms barred."""
        rules = place_rules("US-PA")

        assert rules.units_allowed == ("cord", "stacked_m3")
        assert rules.words_forbidden == ("face cord", "rack", "pile", "truckload")

    @pytest.mark.parametrize("code", codes)
    def test_every_rule_has_a_source_that_is_listed_and_a_day(self, code):
        rules = place_rules(code)
        listed = {source.id for source in rules.sources}

        for rule in (*rules.rules, *rules.ticket_fields):
            assert set(source_ids(rule.source)) <= listed
            assert rule.read_on <= rules.read_on
        assert isinstance(rules.read_on, date)
        assert rules.standing in ("none",) or rules.sources

    @pytest.mark.parametrize("code", codes)
    def test_every_place_says_it_is_no_legal_advice_and_whom_to_ask(self, code):
        rules = place_rules(code)

        assert str(rules.advice).startswith("Not legal advice")
        assert rules.authority in str(rules.advice)

    def test_no_row_of_any_table_lacks_its_source(self):
        known = {row["id"] for row in table("sources")}
        for name in (
            "units",
            "forbidden_terms",
            "ticket_fields",
            "statements",
            "legal_cord_volumes",
            "law_rules",
        ):
            for row in table(name):
                assert set(source_ids(row["source"])) <= known, row
                assert date.fromisoformat(row["read_on"]), row
                assert row["place"] in codes, row


class TestTicketFields:
    def test_minnesota_wants_place_of_harvest_and_who_measured(self):
        """Statutes 239.092."""
        required = {field.name for field in ticket_fields("US-MN") if field.required}

        assert {"harvest_county_state", "measured_by_name_address", "date_delivered"} <= required

    def test_the_model_regulation_wants_parties_date_quantity_price_and_identity(self):
        """Summit County Ord. 86-486, in the words of Handbook 130."""
        required = {field.name for field in ticket_fields("US-PA") if field.required}

        assert required >= {
            "seller_name", "seller_address", "buyer_name", "buyer_address", "date_delivered",
            "quantity_delivered", "price", "identity_species",
        }  # fmt: skip

    def test_what_is_owed_only_sometimes_says_when(self):
        fields = {field.name: field for field in ticket_fields("US-PA")}

        assert fields["quantity_price_is_based_on"].when == "if it differs from the quantity delivered"
        assert fields["price"].when == ""

    def test_every_field_has_a_name_for_people(self):
        assert {row["field"] for row in (*table("ticket_fields"), *table("statements"))} == set(FIELD_LABELS)

    def test_canada_has_advice_to_buyers_and_no_list_in_law(self):
        """Measurement Canada, Buying firewood."""
        fields = ticket_fields("CA-NB")

        assert {field.basis for field in fields} == {"advice"}
        assert {"seller_name", "quantity_delivered", "price", "vehicle_plate"} <= {
            field.name for field in fields if field.required
        }

    def test_where_no_list_was_read_there_is_none(self):
        assert ticket_fields("DE") == ()


class TestQuantityInLawfulUnits:
    def test_canada_stacked_metres_first_then_cords(self):
        """128 ft³ is a cord and 3.6246 m³."""
        assert quantity_in_lawful_units("CA-NB", 128 * FT3) == [
            ("stacked_m3", pytest.approx(3.6246, abs=1e-4)),
            ("cord", pytest.approx(1.0)),
        ]

    def test_massachusetts_never_a_cord(self):
        assert quantity_in_lawful_units("US-MA", 128 * FT3) == [
            ("ft3", pytest.approx(128.0)),
            ("stacked_m3", pytest.approx(3.6246, abs=1e-4)),
        ]

    def test_a_rhode_island_ticket_is_in_cubic_feet(self):
        """General Laws 47-12-4."""
        assert [unit for unit, _ in quantity_in_lawful_units("US-RI", 1.0)] == ["ft3", "stacked_m3"]

    @pytest.mark.parametrize(
        ("form", "ft3"), [("split", 120), ("round", 110), ("log", 128), ("kindling", 120)]
    )
    def test_minnesota_by_the_form_measured(self, form, ft3):
        """Statutes 239.33."""
        assert quantity_in_lawful_units("US-MN", ft3 * FT3, form=form) == [
            ("cord", pytest.approx(1.0)),
            ("ft3", pytest.approx(ft3)),
        ]

    @given(st.sampled_from(codes), st.floats(0.0, 1000.0))
    def test_only_allowed_units_and_all_the_same_wood(self, code, stacked_m3):
        allowed = place_rules(code).units_allowed
        sizes = {"stacked_m3": 1.0, "ft3": FT3, "cord": (120 if code == "US-MN" else 128) * FT3}

        printed = quantity_in_lawful_units(code, stacked_m3)

        assert printed
        for unit, value in printed:
            assert unit in allowed
            assert value * sizes[unit] == pytest.approx(stacked_m3)

    @pytest.mark.parametrize("stacked_m3", [-1.0, float("nan"), float("inf")])
    def test_a_volume_that_makes_no_sense_is_refused(self, stacked_m3):
        with pytest.raises(InputError) as caught:
            quantity_in_lawful_units("CA-NB", stacked_m3)

        assert caught.value.field == "stacked_m3"

    def test_a_form_that_is_none_is_refused(self):
        with pytest.raises(InputError) as caught:
            quantity_in_lawful_units("CA-NB", 1.0, form="pile")

        assert caught.value.field == "form"


def test_the_movement_note_sends_to_the_agency():
    assert "not checked" in str(movement_note())
    assert "plant-health agency" in str(movement_note())
