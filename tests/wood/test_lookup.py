"""Finding a species by what people call it."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError, UnknownNameError
from rickyard.wood import (
    AmbiguousNameError,
    all_groups,
    all_species,
    find_species,
    get_species,
    plain,
    suggest_species,
)


def test_every_species_by_id_latin_english_french_and_key():
    for s in all_species():
        for name in (s.id, s.scientific, s.common_en, s.common_fr, s.key_id or s.id):
            assert find_species(name) == s, name


def test_every_wider_name_by_its_english_name():
    for group in all_groups():
        assert find_species(group.common_en) == group


@pytest.mark.parametrize(
    ("typed", "species_id"),
    [
        ("Quercus rubra", "quercus_rubra"),
        ("  quercus   RUBRA ", "quercus_rubra"),
        ("quru", "quercus_rubra"),
        ("Quercus", "quercus"),
        ("Quercus spp.", "quercus"),
        ("red oak group", "red_oak_group"),
        ("red oak", "red_oak_group"),
        ("white oak", "quercus_alba"),
        ("honey-locust", "gleditsia_triacanthos"),
        ("Honey Locust", "gleditsia_triacanthos"),
        ("chene rouge", "quercus_rubra"),
        ("CHÊNE ROUGE", "quercus_rubra"),
        ("pruche de l'Est", "tsuga_canadensis"),
        ("pruche de l’Est", "tsuga_canadensis"),
        ("épicéa", "picea"),
        ("hard maple", "hard_maple"),
        ("soft maple", "soft_maple"),
        ("ironwood", "ironwoods"),
        ("bois de fer", "ironwoods"),
        ("hop-hornbeam", "ostrya"),
        ("tulip poplar", "liriodendron_tulipifera"),
        ("sycamore", "platanus_occidentalis"),
        ("Alaska cedar", "callitropsis_nootkatensis"),
        ("not named yet", "unnamed"),
        ("hardwood", "unnamed_hardwood"),
        ("résineux", "unnamed_softwood"),
    ],
)
def test_as_people_write(typed, species_id):
    assert find_species(typed).id == species_id


@pytest.mark.parametrize(
    ("key_id", "species_id"),
    [
        ("pram", "prunus"),
        ("pyca80", "apple_and_pear"),
        ("crat", "apple_and_pear"),
        ("aegl", "aesculus"),
        ("abgr", "grand_and_white_fir"),
        ("juoc", "western_and_utah_juniper"),
    ],
)
def test_trees_of_the_key_without_a_row_have_a_wider_name(key_id, species_id):
    assert find_species(key_id).id == species_id


@pytest.mark.parametrize(
    ("typed", "either", "other"),
    [
        ("merisier", "yellow birch", "sweet cherry"),  # the birch in Québec, the cherry in France
        ("black birch", "sweet birch", "river birch"),
        ("bouleau blanc", "paper birch", "silver birch"),
        ("locust", "black locust", "honeylocust"),
    ],
)
def test_a_name_of_several_species_is_not_guessed(typed, either, other):
    with pytest.raises(AmbiguousNameError) as refused:
        find_species(typed, field="name")

    assert refused.value.field == "name"
    assert refused.value.code == "ambiguous_name"
    assert either in str(refused.value)
    assert other in str(refused.value)


@pytest.mark.parametrize(
    ("typed", "near"),
    [
        ("sugar mapel", "sugar maple"),
        ("shagbrk hickory", "shagbark hickory"),
        ("Quercus ruba", "Quercus rubra"),
    ],
)
def test_a_slip_lists_the_nearest(typed, near):
    with pytest.raises(UnknownNameError) as refused:
        find_species(typed)

    assert near in refused.value.nearest
    assert typed in str(refused.value)
    assert refused.value.code == "unknown_name"


@pytest.mark.parametrize("typed", ["", "   ", "xqzvw", "-", "¤" * 5000, "a" * 100_000])
def test_nonsense_is_refused_not_crashed_on(typed):
    with pytest.raises(UnknownNameError):
        find_species(typed)


@given(st.text(max_size=40))
def test_any_text_finds_or_is_refused(text):
    try:
        found = find_species(text)
    except InputError as refused:
        assert refused.field == "species"  # noqa: PT017
    else:
        assert get_species(found.id) is found


@given(st.text(alphabet=string.ascii_letters + "éèêçœ -'’", max_size=30))
def test_plain_is_stable_and_blind_to_case(text):
    assert plain(plain(text)) == plain(text)
    assert plain(text.upper()) == plain(text.lower())


def test_suggestions_begin_with_what_was_typed():
    assert suggest_species("sugar m")[0].id == "acer_saccharum"
    assert suggest_species("map")[0].id == "acer"
    assert suggest_species("érable à s")[0].id == "acer_saccharum"
    assert suggest_species("acsa3")[0].id == "acer_saccharum"
    assert "quercus_rubra" in [s.id for s in suggest_species("rubra", limit=20)]
    assert suggest_species("whte ash")[0].id == "fraxinus_americana"


def test_suggestions_are_limited_and_none_for_nothing():
    assert len(suggest_species("a", limit=5)) == 5
    assert suggest_species("") == []
    assert suggest_species("   ") == []
    assert suggest_species("qqqqqq") == []


def test_weak_names_do_not_stand_for_a_species():
    """Remarked wrong ("cyprès" for jack pine) or generic ("orme" for cedar elm) in the names' own notes."""
    with pytest.raises(UnknownNameError):
        find_species("cyprès")
    assert find_species("orme").id == "ulmus"
