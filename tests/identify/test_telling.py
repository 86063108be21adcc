"""What tells trees apart, against the method's own next look and against what is known of the two locusts."""

from __future__ import annotations

import numpy as np
import pytest

from rickyard.identify import (
    SITUATIONS,
    Prior,
    cell_sources,
    differences,
    key_sources,
    next_looks,
    posterior,
    telling,
    the_key,
)


def test_the_power_to_separate_is_that_of_the_next_look() -> None:
    """With two trees in play and no other, the gain is what `next_looks` reckons for the first question."""
    key = the_key()
    pair = ("quru", "qual")
    post = posterior(key, [], Prior(counts=dict.fromkeys(pair, 10**12)))
    looks = {look.character.id: look.gain_bits for look in next_looks(post, limit=100)}
    # "Not in this list" keeps its share, which spreads the odds a little and tells a little by itself.
    found = differences(key, pair)

    # Floras part red from white oaks by the bristles of their lobes.
    assert found[0].character.id == "lobe_tip"
    assert len(found) > 10
    for one in found[:10]:
        assert looks[one.character.id] == pytest.approx(one.gain_bits, abs=0.08)


def test_a_character_known_of_one_tree_only_tells_nothing() -> None:
    key = the_key()
    found = {one.character.id for one in differences(key, ("acsa3", "pist"))}

    assert "needle_bundle" not in found
    assert {"leaf_kind", "porosity"} <= found


def test_the_two_locusts_are_told_apart_as_floras_tell_them() -> None:
    """Floras give the long twisting pod and branched thorns to honey-locust; both glow, so the lamp comes last."""
    names = [one.character.id for one in differences(the_key(), ("rops", "gltr"))]

    assert names[0] == "pod"
    assert names.index("thorns") < 5
    assert "uv_glow" not in names[:10]


def test_the_order_of_trees_changes_nothing() -> None:
    key = the_key()
    one = differences(key, ("rops", "gltr", "moal"))
    other = differences(key, ("moal", "rops", "gltr"))

    assert [d.character.id for d in one] == [d.character.id for d in other]
    assert np.allclose([d.gain_bits for d in one], [d.gain_bits for d in other], atol=1e-12)


@pytest.mark.parametrize("situation", SITUATIONS)
def test_every_tree_has_something_to_know_it_by(situation: str) -> None:
    """Only what can be seen there and is known of the tree by more than an assumption."""
    key = the_key()
    for tree in key.species:
        found = telling(key, tree.key_id, situation)
        assert found, tree.key_id
        for one in found:
            assert SITUATIONS[situation] in one.character.situations
            assert cell_sources(tree.key_id)[one.character.id].basis != "assumed"


def test_every_cell_names_sources_that_are_listed() -> None:
    known = set(key_sources())
    for tree in the_key().species:
        for name, source in cell_sources(tree.key_id).items():
            assert set(source.code.split()) <= known, (tree.key_id, name)
