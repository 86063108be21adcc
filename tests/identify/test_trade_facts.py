"""What woodcutters say of black locust and honey-locust (common practice, no source), and the floras of the pods.

Given those characters as a user would give them, the right one of the two comes first: by bark alone, by wood alone.
"""

from __future__ import annotations

import pytest

BLACK_LOCUST = {
    "bark: a mesh of crossing, very thick ribs": ("bark_tex=diamond|deep_furrows", "bark_thick=thick"),
    "bark: the mesh alone": ("bark_tex=diamond",),
    "bark: thick ribs alone": ("bark_tex=deep_furrows",),
    "bark: mesh and thickness, with doubt": ("bark_tex=diamond?", "bark_thick=thick?"),
    "wood: mustard yellow, distinct rings, splits easily": (
        "heart_col=bright_yellow|greenish",
        "porosity=ring",
        "split_way=clean",
    ),
    "wood: mustard yellow as bright yellow": ("heart_col=bright_yellow",),
    "wood: mustard yellow as greenish": ("heart_col=greenish", "split_way=clean"),
    "leaves: facing pairs of leaflets, small paired thorns": ("leaf_comp=pinnate", "thorns=paired"),
    "standing: tall and narrow": ("form=columnar", "thorns=paired|none"),
    "the pod of the floras: short and thin": ("pod=short_thin",),
}

HONEY_LOCUST = {
    "bark: nearly flat, separate plates, thin": (
        "bark_tex=flat_ridges|thick_plates",
        "bark_thick=thin|medium",
    ),
    "bark: plates": ("bark_tex=thick_plates",),
    "bark: nearly flat": ("bark_tex=flat_ridges",),
    "bark: flat and thin": ("bark_tex=flat_ridges", "bark_thick=thin"),
    "wood: reddish under pale sapwood": ("heart_col=reddish", "contrast=strong"),
    "wood: reddish, wide sapwood": ("heart_col=reddish|pinkish", "sapwood=medium|wide"),
    "thorns: branched, 6 to 10 in": ("thorns=branched",),
    "leaflets: many, small": ("leaflet_n=over23", "leaf_comp=pinnate|bipinnate"),
    "a street cultivar: no thorns": ("thorns=none", "leaf_comp=bipinnate"),
    "the pod of the floras: long and twisting": ("pod=long_twist",),
}


@pytest.mark.parametrize("texts", BLACK_LOCUST.values(), ids=BLACK_LOCUST)
def test_black_locust_comes_before_honey_locust(ask, of, texts) -> None:
    post = ask(*texts)

    assert of(post, "rops") > 1.2 * of(post, "gltr")


@pytest.mark.parametrize("texts", HONEY_LOCUST.values(), ids=HONEY_LOCUST)
@pytest.mark.parametrize("street", [False, True], ids=["wild", "street"])
def test_honey_locust_comes_before_black_locust(ask, of, texts, street) -> None:
    post = ask(*texts, street=street)

    assert of(post, "gltr") > 1.2 * of(post, "rops")


def test_a_street_tree_without_thorns_is_still_a_honey_locust(ask, of) -> None:
    """Bark or wood with "no thorns" does not turn it into a black locust."""
    post = ask("thorns=none", "bark_tex=thick_plates", "heart_col=reddish", street=True)

    assert of(post, "gltr") > 3 * of(post, "rops")
