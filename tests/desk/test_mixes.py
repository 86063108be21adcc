"""How a load's wood is said in a breath."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.desk.mixes import names_of, read_mix
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.wood import UNNAMED, all_groups, all_species, find_species

NAMES = ("sugar maple", "yellow birch", "white ash", "northern red oak", "eastern hophornbeam", "red spruce")


@pytest.mark.parametrize(
    ("said", "shares"),
    [
        ("sugar maple and yellow birch 60/40", (0.6, 0.4)),
        ("sugar maple, yellow birch 60/40", (0.6, 0.4)),
        ("60/40 sugar maple and yellow birch", (0.6, 0.4)),
        ("sugar maple / yellow birch", (0.5, 0.5)),
        ("60% sugar maple, 40% yellow birch", (0.6, 0.4)),
        ("sugar maple 60 %, yellow birch 40 %", (0.6, 0.4)),
        ("70% sugar maple, yellow birch", (0.7, 0.3)),
        ("sugar maple 70, yellow birch", (0.7, 0.3)),
        ("Sugar Maple + yellow birch 2/98", (0.02, 0.98)),
    ],
)
def test_ways_of_saying_it(said: str, shares: tuple[float, float]) -> None:
    mix = read_mix(said)

    assert [name for name, _ in mix] == [find_species("sugar maple").id, find_species("yellow birch").id]
    assert [share for _, share in mix] == pytest.approx(shares)


def test_one_wood_and_french() -> None:
    assert read_mix("white ash") == ((find_species("white ash").id, 1.0),)
    assert dict(read_mix("érable à sucre et bouleau jaune 60/40")) == dict(
        read_mix("sugar maple and yellow birch 60/40")
    )


def test_wider_names_and_none() -> None:
    """The brief example of the trade: maple and birch, nobody knows which."""
    maple, birch = read_mix("maple and birch 60/40")

    assert find_species("maple").id == maple[0]
    assert find_species("birch").id == birch[0]
    assert read_mix("not named yet") == ((UNNAMED.id, 1.0),)


@pytest.mark.parametrize(
    "said",
    [
        "",
        "   ",
        "unobtainium",
        "sugar maple and yellow birch 60/60",
        "sugar maple and yellow birch 60/30/10",
        "60% sugar maple, 60% yellow birch",
        "100% sugar maple, yellow birch",
        "0% sugar maple, 100% yellow birch",
        "sugar maple and sugar maple 50/50",
        "sugar maple, érable à sucre",
        "60/40",
        "---",
    ],
)
def test_nonsense_is_refused_with_its_field(said: str) -> None:
    with pytest.raises(InputError) as caught:
        read_mix(said, "wood")
    assert caught.value.field == "wood"


@given(
    names=st.lists(st.sampled_from(NAMES), min_size=1, max_size=4, unique=True),
    weights=st.lists(st.integers(1, 60), min_size=4, max_size=4),
)
def test_shares_sum_to_one_and_keep_their_order(names: list[str], weights: list[int]) -> None:
    parts = weights[: len(names)]
    scaled = [round(100 * part / sum(parts)) for part in parts]
    scaled[-1] = 100 - sum(scaled[:-1])
    if min(scaled) < 1:
        return
    said = ", ".join(f"{share}% {name}" for share, name in zip(scaled, names, strict=True))

    mix = read_mix(said)

    assert [name for name, _ in mix] == [find_species(name).id for name in names]
    assert sum(share for _, share in mix) == pytest.approx(1.0)
    assert [share for _, share in mix] == pytest.approx([share / 100 for share in scaled])


@given(st.text(max_size=60))
def test_any_text_gives_shares_or_a_complaint(said: str) -> None:
    try:
        mix = read_mix(said)
    except InputError:
        return
    assert sum(share for _, share in mix) == pytest.approx(1.0)


@pytest.mark.parametrize("locale", ["en_CA", "fr_CA", "en_US", "fr_FR"])
def test_what_the_pages_call_a_wood_is_that_wood(locale: str) -> None:
    """Alone and in a mix, though some names join several: "apple, pear and hawthorn"."""
    voice = Voice(locale)
    for wood in (*all_species(), *all_groups()):
        other = find_species("white ash") if wood is UNNAMED else UNNAMED
        mix = [(wood, 0.6), (other, 0.4)]

        assert read_mix(voice.species(wood)) == ((wood.id, 1.0),)
        assert dict(read_mix(voice.shares((voice.species(one), share) for one, share in mix))) == {
            one.id: pytest.approx(share) for one, share in mix
        }
        assert names_of(f"{voice.species(other)}\n{voice.species(wood)}")[1:] in (
            [voice.species(wood)],
            [wood.id],
        )


def test_two_woods_are_two_where_that_makes_sense() -> None:
    assert dict(read_mix("poplar and aspen 60/40")) == {"populus": 0.6, "aspens": 0.4}
    assert names_of("red oak, apple, pear and hawthorn, white ash") == [
        "red oak",
        "apple_and_pear",
        "white ash",
    ]
