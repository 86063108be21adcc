"""Sheets of trees: whole for every tree of the key, every statement sourced, figures those of their packages."""

from __future__ import annotations

import pytest

from rickyard.desk.sheets import Part, Sheet, sheet, sheet_ids, tree_of
from rickyard.heat import heat_row
from rickyard.show import Voice
from rickyard.wood import get_species

VOICE = Voice("en_CA", "imperial")
UNSOURCED = {"english", "french", "french_fr", "latin", "other", "rare"}
"""Names are no claims; "not noted for any region" has no source either."""


def of(name: str, voice: Voice = VOICE) -> Sheet:
    tree = tree_of(name)
    assert tree is not None
    return sheet(voice, tree)


def part(one: Sheet, name: str) -> Part:
    return next(part for part in one.parts if part.id == name)


def words(one: Sheet, name: str, row: str) -> str:
    found = next(line for line in part(one, name).rows if line.key == row)
    return "; ".join(claim.words for claim in found.claims)


@pytest.mark.parametrize(
    "voice", [VOICE, Voice("fr_CA", "metric")], ids=["English, cords", "French, cubic metres"]
)
def test_every_tree_has_a_whole_sheet_with_its_sources(voice: Voice) -> None:
    assert len(sheet_ids()) >= 156
    for name in sheet_ids():
        one = of(name, voice)
        ids = [part.id for part in one.parts]
        assert {"names", "heat", "drying", "splitting", "burning", "lasting", "cautions", "moving"} <= set(
            ids
        )
        assert len({"leaf", "winter", "log", "split", "lens"} & set(ids)) == 5, name
        assert len(one.sources) == len(set(one.sources))
        for found in one.parts:
            assert found.rows or found.looks or found.notes
            for row in found.rows:
                for claim in row.claims:
                    assert claim.words, (name, row.key)
                    if row.key not in UNSOURCED and "life" not in row.key:
                        assert claim.refs or (row.key == "en350" and one.stands_in), (name, row.key)
                    assert all(1 <= ref <= len(one.sources) for ref in claim.refs)
            for look in found.looks:
                assert look.usual or look.also
                assert all(1 <= ref <= len(one.sources) for ref in look.refs)


def test_heat_is_that_of_the_heat_package() -> None:
    row = heat_row(get_species("fraxinus_americana"))
    said = words(of("fram2"), "heat", "heat")

    assert said == VOICE.range(row.low, row.mj_per_cord, row.high, "million_btu")
    assert "kWh" in words(of("fram2", Voice("en_CA", "metric")), "heat", "heat")


def test_every_moisture_says_its_basis() -> None:
    """Both bases in one: water of a fresh red oak is 44% of total mass and 79% of dry mass."""
    said = words(of("quru"), "drying", "green")

    assert "of total mass" in said
    assert "of dry mass" in said


def test_sources_that_disagree_stand_beside_one_another() -> None:
    row = next(row for row in part(of("fagr"), "splitting").rows if row.key == "splitting")

    assert [claim.words for claim in row.claims] == ["easy", "hard"]
    assert "disagree" in row.note
    assert row.claims[0].refs != row.claims[1].refs


def test_what_stands_in_is_said() -> None:
    """A species of its own, a genus that stands in, and a tree of whose wood nothing was found."""
    assert of("fram2").stands_in == ""
    assert "willow" in of("safr").stands_in
    assert "any hardwood" in of("ceca4").stands_in
    assert "No source" in part(of("ceca4"), "burning").notes[0]


def test_what_it_is_good_for_needs_a_source() -> None:
    """Posts by a trial, kindling where light splitting and lighting are rated, nothing for a tree nobody rates."""
    assert {row.key for row in part(of("rops"), "uses").rows} >= {"posts", "overnight"}
    assert "uses" not in [part.id for part in of("ceca4").parts]
    for name in sheet_ids():
        for found in of(name).parts:
            if found.id == "uses":
                assert all(claim.refs for row in found.rows for claim in row.claims)


def test_cautions_name_thorns_poison_and_pests() -> None:
    locust, walnut, ash = of("rops"), of("juni"), of("fram2")

    assert part(locust, "cautions").looks[0].usual == ("paired",)
    assert any("horses" in claim.words for row in part(walnut, "cautions").rows for claim in row.claims)
    assert part(ash, "moving").rows[0].key == "pest-EAB"
    assert "Signs" in part(ash, "moving").rows[0].note


def test_look_alikes_lead_to_their_sheets() -> None:
    names = {alike.id: alike for alike in of("rops").alike}

    assert "gleditsia_triacanthos" in names
    assert names["gleditsia_triacanthos"].note
    assert names["gleditsia_triacanthos"].refs
