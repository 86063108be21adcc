"""Places by name, by id and by point."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError, UnknownNameError
from rickyard.weather import all_places, find_place, picked_places, place_at, suggest_places
from rickyard.weather.places import distances_km
from rickyard.weather.tables import place_rows, regions


def test_all_places_of_the_reference_tables_are_packed() -> None:
    """Counts as stated in the notes of the reference tables."""
    countries = Counter(place.country for place in all_places())

    assert len(all_places()) == 3191
    assert len(picked_places()) == 711
    assert (countries["US"], countries["CA"]) == (2755, 108)
    assert sum(countries.values()) - countries["US"] - countries["CA"] == 328
    assert Counter(place.quality for place in all_places())["A"] == 191
    assert len({place.id for place in all_places()}) == 3191


def test_every_place_keeps_its_sources() -> None:
    for row in place_rows():
        assert row.source
        assert row.wind_source
        assert row.normals_source in ("USDA-CLIGEN-2015", "Fullhart2021", "ECCC-CWEC2016+Fullhart2021")


def test_every_region_of_a_place_has_a_name() -> None:
    named = {(area.country, area.region) for area in regions()}

    for place in all_places():
        assert (place.country, place.region) in named or not place.region
        assert (place.country, "") in named


@pytest.mark.parametrize(
    ("text", "place_id"),
    [
        ("Fredericton, NB", "ca-cwec-717000"),
        ("Fredericton", "ca-cwec-717000"),  # two stations side by side: the better one
        ("  fredericton,  nb ", "ca-cwec-717000"),
        ("Fredericton, Nouveau-Brunswick", "ca-cwec-717000"),
        ("Fredericton NB", "ca-cwec-717000"),
        ("FREDERICTON, Canada", "ca-cwec-717000"),
        ("Montréal", "ca-cwec-716270"),
        ("Madison, WI", "us-wi474961"),
        ("madison wisconsin", "us-wi474961"),
        ("us-wi474961", "us-wi474961"),
        ("St. John's, NL", "ca-cwec-718010"),
        ("Saint John, NB", "ca-ca008104900"),
        ("London, CA", "ca-cwec-716230"),  # CA is Canada as well as California
        ("Jena", "de-gm000004204"),
    ],
)
def test_a_name_finds_its_place(text: str, place_id: str) -> None:
    assert find_place(text).id == place_id


def test_every_listed_place_is_found_by_its_id() -> None:
    for place in all_places():
        assert find_place(place.id) is place


def test_a_label_finds_the_place_or_one_beside_it() -> None:
    """Stations of one name side by side are one place; apart from them a label is unique."""
    for place in all_places():
        found = find_place(place.label)

        assert (
            distances_km(place.lat, place.lon, [r for r in place_rows() if r.place_id == found.id])[0] < 50.0
        )


def test_an_ambiguous_name_lists_the_places_that_bear_it() -> None:
    with pytest.raises(UnknownNameError) as caught:
        find_place("Madison")

    assert {"Madison, WI", "Madison, FL", "Madison, IN", "Madison, ME", "Madison, WV"} <= set(
        caught.value.nearest
    )
    assert caught.value.field == "place"


def test_an_unknown_name_lists_the_closest() -> None:
    with pytest.raises(UnknownNameError) as caught:
        find_place("Frederikton")

    assert "Fredericton, NB" in caught.value.nearest
    assert "Frederikton" in str(caught.value)


@pytest.mark.parametrize("text", ["", "   ", ",", "?!", "12", "1,2,3,4", "43.07,-89.40,abc"])
def test_nonsense_is_no_place(text: str) -> None:
    with pytest.raises(InputError):
        find_place(text)


def test_a_point_is_a_place_between() -> None:
    place = find_place("43.07,-89.40")

    assert place.id == "43.0700,-89.4000"
    assert (place.country, place.region, place.near) == ("US", "WI", "Madison, WI")
    assert not place.listed
    assert 5.0 < place.distance_km < 12.0  # Madison's station lies at 43.13 N, 89.33 W: 0.06° and 0.07° away
    assert find_place("43.07,-89.40,310").elev_m == 310.0
    assert find_place("43.07; -89.40; 310 m").id == "43.0700,-89.4000,310"


@pytest.mark.parametrize(
    ("text", "got"),
    [
        ("95,-89", "95"),
        ("43,-189", "-189"),
        ("43,-89,9000", "9000"),
        ("43,-89,-500", "-500"),
        ("35.00,100.00", "35.0000,100.0000"),  # the minus forgotten: western China, far from every place
        ("0,0", "0.0000,0.0000"),
    ],
)
def test_a_point_out_of_range_is_refused(text: str, got: str) -> None:
    with pytest.raises(InputError) as caught:
        find_place(text)

    assert got in str(caught.value)


@given(
    lat=st.floats(min_value=30.0, max_value=60.0),
    lon=st.floats(min_value=-120.0, max_value=-70.0),
    elev=st.one_of(st.none(), st.floats(min_value=-100.0, max_value=3000.0)),
)
def test_the_id_of_a_point_finds_the_same_place(lat: float, lon: float, elev: float | None) -> None:
    place = place_at(lat, lon, elev)

    assert find_place(place.id) == place


def test_suggestions_begin_with_what_was_typed() -> None:
    labels = [place.label for place in suggest_places("freder")]

    assert labels[0] == "Fredericton, NB"
    assert all(label.lower().startswith("freder") for label in labels)
    assert suggest_places("Madson, WI")[0].label == "Madison, WI"
    assert [place.id for place in suggest_places("43.07,-89.40")] == ["43.0700,-89.4000"]
    assert suggest_places("") == []
    assert suggest_places("0,0") == []
    assert len(suggest_places("s", limit=4)) == 4
