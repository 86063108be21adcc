"""The check of wording on texts of our own, in the words of the rules it stands for."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError, UnknownNameError
from rickyard.rules import all_places, check_wording, place_rules, wording_cautions
from rickyard.rules.amounts import amounts, moisture_percents, stack_ft3
from rickyard.rules.terms import flat

codes = [place.code for place in all_places()]

UNLAWFUL = [
    # place, text, the word reported: terms that Handbook 130 bars, in any spelling
    ("US-PA", "FACECORD OAK $90", "FACECORD"),
    ("US-PA", "Face-cords from $90", "Face-cords"),
    ("US-CT", "Half rack $60, delivered", "rack"),
    ("US-AZ", "Truck-load of pine $100", "Truck-load"),
    ("US-AZ", "$80 per pile, you pick up", "pile"),
    ("US-PA", "Two piles of split oak, $50 each", "piles"),
    # other bulk units than cord and cubic metre
    ("US-PA", "Oak $75 a rick", "rick"),
    ("US-PA", "Pickup load of maple, $100", "Pickup load"),
    ("US-PA", "Oak, $120 a ton", "ton"),
    ("US-PA", "Oak, 64 cubic feet, $150", "cubic feet"),
    # Measurement Canada
    ("CA-ON", "Bush cord of maple $400", "Bush cord"),
    ("CA-ON", "Stove cords, 16 in, $120", "Stove cords"),
    ("CA-NB", "furnace cord $200", "furnace cord"),
    ("CA-NB", "Tossed cord of birch, $200", "Tossed cord"),
    ("CA-NS", "Hardwood by the pickup load, $80", "pickup load"),
    ("CA-AB", "Pine, 2 cubic yards, $100", "cubic yards"),
    ("CA-NB", "Face cord ou corde pleine de 128 pieds cubes", "Face cord"),
    # La Presse 2005, reporting Mesures Canada
    ("CA-QC", "Corde courte d'érable 120 $", "Corde courte"),
    ("CA-QC", "Cordes de fournaise, 22 po", "Cordes de fournaise"),
    ("CA-QC", "Corde d’appartement, 110 $", "Corde d’appartement"),
    # Massachusetts: cord itself
    ("US-MA", "Cords of oak available", "Cords"),
    ("US-MA", "Split ash, half-cord $200", "cord"),
    ("US-MA", "Facecord of ash", "Facecord"),
    # California (county and newspaper notice), Maine
    ("US-CA", "Almond, $300 a tier", "tier"),
    ("US-CA", "Racks of almond $90", "Racks"),
    ("US-ME", "Truckloads of birch", "Truckloads"),
    ("US-ME", "Face cord of birch $100", "Face cord"),
]

LAWFUL = [
    ("US-PA", "We stack and pile it neatly for you. Oak, $250 a cord."),
    ("US-PA", "Call Rick Patrick, 12 Pile Road. Seasoned ash, half cord $140."),
    ("US-CA", "Rick's Firewood, Tier Street. Almond, 1/2 cord $220"),
    ("US-CA", "Half a cord of dry oak, stacked on a pallet, $200"),
    ("US-AZ", "Oak, 3.6 cubic meters stacked (1 cord), $300"),
    ("US-PA", "One cord (128 cubic feet), 4 ft x 4 ft x 8 ft, $220"),
    ("US-PA", "We deliver with a 1-ton dump truck. Maple $230/cord"),
    ("US-PA", "A top-tier, first-rank supplier of oak, $240 per cord"),
    ("US-PA", "First load of the day, 2 cords on the truck, $480"),
    ("CA-NB", "Hardwood 1/3 cord (8 ft x 4 ft x 16 in), $120"),
    ("CA-ON", "Firewood by the cord or 64 cubic feet, $250"),
    ("CA-QC", "Bois de chauffage, demi-corde, 200 $"),
    ("US-ME", "One cord, 128 cubic feet, stacked. Or a loose cord of 24 inch wood, 195 cubic feet."),
    ("US-MN", "Split oak, 1 cord ranked (120 cubic feet), $250"),
    ("US-MN", "Split oak, loose thrown cord of 175 cubic feet, $230"),
    ("US-MA", "Kindling by the bushel. Firewood, 100 cubic feet, closely stacked. Extension cord lent."),
    ("US-MA", "Cordwood and cord wood, 256 cubic feet, from Cord Street Farm"),
    ("GB-ENG", "Kiln dried ash logs, 1.5 m3 loose, moisture 18 %, £150"),
    ("GB-ENG", "Unseasoned logs, 3 m3 loose, with the notice on drying, £150"),
    ("US-MD", "1 cord seasoned oak $250"),
    ("US-WI", "Oak $300 a cord, 128 cubic feet"),
    ("US-PA", "Oak, $300 for one cord of 128 cubic feet; half a cord (64 cubic feet) $160"),
    ("US-WA-EVERETT", "Unit of 16 inch fir, 192 cubic feet thrown, $200"),
]

WRONG_NUMBERS = [
    # place, text, the number reported
    ("US-PA", "Full cord (100 cubic feet) of oak, $200", "100 cubic feet"),
    ("US-PA", "One full cord, 4x8x16 inches, $200", "4x8x16 inches"),
    ("CA-NB", "1/2 cord (8 ft x 4 ft x 16 in) $140", "8 ft x 4 ft x 16 in"),
    ("CA-QC", "Érable sec, 1 corde (85 pieds cubes), 300 $", "85 pieds cubes"),
    ("US-ME", "Loose cord of 16 inch wood, 150 cubic feet, $200", "150 cubic feet"),
    ("US-ME", "Loose cord of 24 inch wood (180 cubic feet), $200", "180 cubic feet"),
    ("US-MN", "Split oak, 1 cord ranked (110 cubic feet)", "110 cubic feet"),
    ("US-MN", "Loose cord of split oak, 150 cubic feet", "150 cubic feet"),
    ("US-MN", "One cord of split oak, thrown loosely into your trailer, 128 cubic feet", "128 cubic feet"),
    ("GB-ENG", "Logs, 1 m3 loose, 30% moisture, £90", "30% moisture"),
]


def language(place: str) -> str:
    return "fr" if place == "CA-QC" else "en"


class TestWords:
    @pytest.mark.parametrize(("place", "text", "word"), UNLAWFUL)
    def test_an_unlawful_word_is_reported_as_typed(self, place, text, word):
        problems = check_wording(place, text, language(place))

        assert [problem.word for problem in problems] == [word]
        assert text[problems[0].start : problems[0].end] == word
        assert str(problems[0].instead).startswith("Say ")

    @pytest.mark.parametrize(("place", "text"), LAWFUL)
    def test_a_lawful_text_is_left_alone(self, place, text):
        assert check_wording(place, text, language(place)) == []

    @pytest.mark.parametrize(
        ("text", "lawful", "unlawful"),
        [
            ("Oak, $300 a cord", "US-PA", "US-MA"),
            ("One loose cord, thrown, $220", "US-ME", "CA-ON"),
            ("Split oak, 64 cubic feet", "US-MA", "US-CA"),
        ],
    )
    def test_the_place_decides(self, text, lawful, unlawful):
        assert check_wording(lawful, text) == []
        assert check_wording(unlawful, text) != []

    def test_an_explanation_does_not_cure_a_term(self):
        """Reading 3 of the judged texts."""
        assert check_wording("US-PA", "Face cord (42.7 cubic feet, a third of a cord)")[0].word == "Face cord"

    def test_the_longest_term_is_reported_once(self):
        assert [one.word for one in check_wording("US-MA", "A face cord of oak")] == ["face cord"]

    def test_a_state_that_was_not_read_is_told_of_the_model_regulation(self):
        (problem,) = check_wording("US-CO", "Face cord of pine, $100")

        assert "was not read" in str(problem.rule)

    def test_a_named_term_is_direct_and_another_unit_derived(self):
        assert check_wording("US-PA", "Face cord $90")[0].support == "direct"
        assert check_wording("US-PA", "Oak $75 a rick")[0].support == "derived"

    @given(
        st.sampled_from(codes),
        st.sampled_from(["{}", "{} of oak, $90", "Two {}s of oak", "By the {}: $50"]),
        st.data(),
    )
    def test_every_forbidden_word_of_every_place_is_found(self, code, frame, data):
        rules = place_rules(code)
        english = [word for word in rules.words_forbidden if "corde" not in word]
        if code == "US-MO" or not english:
            return  # Missouri's words bind on its bill of sale only
        word = data.draw(st.sampled_from(english))
        text = frame.format(word)
        if text == word and " " not in word and word not in ("truckload", "cord"):
            return  # a bare "pile" is no measure

        assert [problem.word.rstrip("s") for problem in check_wording(code, text, kind="words")] == [word]

    @given(st.sampled_from(codes), st.text(max_size=80), st.sampled_from(["en", "fr"]))
    def test_any_text_is_answered_with_words_of_its_own(self, code, text, spoken):
        for problem in check_wording(code, text, spoken, kind="words"):
            assert text[problem.start : problem.end] == problem.word

    @given(st.text(max_size=60))
    def test_flat_text_keeps_every_place(self, text):
        assert len(flat(text)) == len(text)


class TestNumbers:
    @pytest.mark.parametrize(("place", "text", "word"), WRONG_NUMBERS)
    def test_a_lawful_word_with_a_wrong_number(self, place, text, word):
        (problem,) = check_wording(place, text, language(place))

        assert (problem.why, problem.word) == ("number", word)

    @given(st.integers(1, 12), st.sampled_from(["CA-NB", "US-PA", "US-CA", "US-ME"]))
    def test_cords_of_128_cubic_feet_are_right_and_of_100_wrong(self, cords, place):
        """Every place read has 128 ft³ ranked for wood of any length but Minnesota."""
        text = "Oak, {n} cords ({v} cubic feet), dry"

        assert check_wording(place, text.format(n=cords, v=128 * cords)) == []
        assert [one.why for one in check_wording(place, text.format(n=cords, v=100 * cords))] == ["number"]

    @pytest.mark.parametrize(
        ("text", "unit", "count"),
        [
            ("1 1/2 cords", "cord", 1.5),
            ("1½ cords", "cord", 1.5),
            ("one third of a cord", "cord", 1 / 3),
            ("two thirds of a cord", "cord", 2 / 3),
            ("half a cord", "cord", 0.5),
            ("1/3 de corde", "cord", 1 / 3),
            ("3,6 mètres cubes empilés", "stacked_m3", 3.6),
            ("two loose cords", "loose_cord", 2.0),
            ("$300/cord", "cord", 1.0),
        ],
    )
    def test_numbers_as_people_write_them(self, text, unit, count):
        (amount,) = amounts(text)

        assert (amount.unit, amount.count) == (unit, pytest.approx(count))

    @pytest.mark.parametrize(
        ("text", "ft3"),
        [
            ("8 ft x 4 ft x 16 in", 42.667),
            ("4x8x16", 42.667),
            ("4' x 8' x 16\"", 42.667),
            ("4 x 4 x 8 ft", 128.0),
            ("8 pi x 4 pi x 16 po", 42.667),
            ("8 feet long, 4 feet high, 16 inches deep", 42.667),
            ("8 ft x 48 in x 16 in", 42.667),
        ],
    )
    def test_sizes_of_a_stack(self, text, ft3):
        (found,) = stack_ft3(text)

        assert found[0] == pytest.approx(ft3, abs=0.01)

    def test_moistures(self):
        text = "Moisture content below 20%; ash at 25 % moisture"

        assert [percent for percent, _ in moisture_percents(text)] == [20, 25]


TICKET = (
    "Bill of sale. 3 Oct 2026. Seller A. Dahl, 4 Ridge Lane. Buyer R. Teel, 9 Elm Street. "
    "1 cord of red oak, dry, $240."
)


class TestMissing:
    def test_a_whole_ticket_lacks_nothing(self):
        assert check_wording("US-PA", TICKET) == []

    @pytest.mark.parametrize(
        ("left_out", "said"),
        [
            ("3 Oct 2026. ", "date of delivery"),
            ("Buyer R. Teel, 9 Elm Street. ", "buyer's name"),
            (", $240", "price"),
            (" of red oak", "kind of wood"),
        ],
    )
    def test_what_the_model_regulation_wants_is_missed(self, left_out, said):
        """Summit County Ord. 86-486, in the words of Handbook 130."""
        problems = check_wording("US-PA", TICKET.replace(left_out, ""))

        assert f"missing: {said}" in [problem.word for problem in problems]

    def test_minnesota_wants_the_county_of_harvest_and_who_measured(self):
        """Statutes 239.092."""
        words = [problem.word for problem in check_wording("US-MN", TICKET, kind="ticket")]

        assert words == ["missing: county and state of harvest", "missing: name and address of who measured"]

    def test_what_is_only_advice_is_not_missed(self):
        """Measurement Canada tells buyers to note the plate; no list of fields in law was read."""
        assert check_wording("CA-NB", TICKET, kind="ticket") == []

    def test_a_line_of_a_ticket_lacks_nothing(self):
        assert check_wording("US-MN", "1 cord of red oak, $240 per cord", kind="words") == []
        assert check_wording("US-MD", "$240 per cord", kind="words") == []

    def test_a_maryland_offer_says_green_or_dry_and_what_wood(self):
        """Maryland Department of Agriculture."""
        assert [one.word for one in check_wording("US-MD", "1 cord oak $250")] == [
            "missing: green (unseasoned) or dry"
        ]
        assert len(check_wording("US-MD", "Split oak, 1 cord")) == 1
        assert [one.word for one in check_wording("US-MD", "Dry, 1 cord $250")] == ["missing: species group"]

    def test_a_canadian_package_is_in_cubic_decimetres(self):
        """Measurement Canada, Selling firewood; cubic feet may be added."""
        label = "Campfire wood. Maple Ridge Wood, 3 Mill Road. Net quantity {}"

        assert check_wording("CA-ON", label.format("21 dm3 (0.75 cubic feet)")) == []
        assert [one.why for one in check_wording("CA-ON", label.format("0.75 cubic feet"))] == ["missing"]

    def test_a_small_english_package_is_certified(self):
        """Air Quality (Domestic Solid Fuels Standards) (England) Regulations 2020."""
        good = "Ready to Burn. Kiln dried logs, moisture 18 %, net 0.05 m3. Supplier no. WS123/00001"

        assert check_wording("GB-ENG", good, kind="label") == []
        assert len(check_wording("GB-ENG", "Logs, net 0.05 m3", kind="label")) == 2


class TestCautions:
    @pytest.mark.parametrize(
        ("place", "text", "word"),
        [
            ("CA-QC", "Hêtre, 5 stères", "stères"),
            ("US-MO", "Oak, $80 a rick", "rick"),
            ("FR", "2 stères de charme", "stères"),
        ],
    )
    def test_what_is_not_settled_is_a_caution_and_no_problem(self, place, text, word):
        spoken = "en" if place == "US-MO" else "fr"

        assert check_wording(place, text, spoken) == []
        assert [one.word for one in wording_cautions(place, text, spoken)] == [word]

    def test_what_is_a_problem_is_no_caution_too(self):
        ticket = "Delivery ticket 2 Nov 2026. Seller A. Nunes, 8 Dock Street. Buyer T. Silva, 2 Bay Road. 1 cord, $380."

        assert [one.word for one in check_wording("US-RI", ticket)] == ["cord"]
        assert wording_cautions("US-RI", ticket) == []


class TestBadInput:
    def test_an_unknown_place(self):
        with pytest.raises(UnknownNameError):
            check_wording("nowhere", "Oak, 1 cord")

    @pytest.mark.parametrize(
        ("field", "wrong"), [("language", {"language": "de"}), ("kind", {"kind": "poster"})]
    )
    def test_a_language_or_kind_that_is_none(self, field, wrong):
        with pytest.raises(InputError) as caught:
            check_wording("CA-NB", "Oak, 1 cord", **wrong)

        assert caught.value.field == field
