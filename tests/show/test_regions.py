"""Names of countries, provinces and states on papers."""

from __future__ import annotations

import pytest

from rickyard.show.regions import SUBDIVISIONS, country_name, place_name, subdivision_name


def test_counts_of_provinces_and_states():
    """Ten provinces and three territories; fifty states and the District of Columbia (ISO 3166-2)."""
    assert len(SUBDIVISIONS["CA"]) == 13
    assert len(SUBDIVISIONS["US"]) == 51


def test_names_by_language():
    assert country_name("US", "fr_CA") == "États-Unis"
    assert subdivision_name("CA", "NB", "en_CA") == "New Brunswick"
    assert subdivision_name("CA", "NB", "fr_CA") == "Nouveau-Brunswick"
    assert subdivision_name("US", "NC", "en_US") == "North Carolina"
    assert subdivision_name("US", "NC", "fr_CA") == "Caroline du Nord"
    assert subdivision_name("US", "ME", "fr_CA") == "Maine"
    assert subdivision_name("CA", "ZZ", "fr_CA") == "ZZ"


@pytest.mark.parametrize("locale", ["en_CA", "fr_CA", "en_US", "fr_FR", "en_XA"])
def test_a_place_of_harvest_names_county_and_state(locale):
    """Minnesota asks for county and state of harvest on every ticket (Minn. Stat. 239.092)."""
    said = place_name("US", "MN", "Aitkin County", locale)
    assert "Aitkin County" in said
    assert subdivision_name("US", "MN", locale) in said
