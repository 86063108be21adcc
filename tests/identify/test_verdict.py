"""What may be said: species, group, genus, nothing; what to look at again; answers that contradict."""

from __future__ import annotations

import pytest

from rickyard.identify import by_genus, by_group, contradictions, look_again, surprises, verdict

OSAGE = ("fruit=green_ball", "thorns=single", "water_tint=yellow", "heart_col=bright_yellow")


def test_a_clear_case_is_named(ask) -> None:
    said = verdict(ask(*OSAGE), ["leaf"])

    assert (said.level, said.name) == ("species", "osage-orange")
    assert said.wood.id == "maclura_pomifera"
    assert said.probability >= 0.8
    assert said.advice is None


def test_bare_wood_of_a_red_oak_is_the_group_and_no_more(ask) -> None:
    post = ask("porosity=ring", "rays=broad", "plugged=open", "late_pores=rad_round", "heart_col=pinkish")
    said = verdict(post, ["lens"])

    assert (said.level, said.name) == ("group", "red oak group")
    assert said.wood.id == "red_oak_group"
    assert {species.genus for species in said.species} == {"Quercus"}
    assert said.advice is not None
    assert said.elsewhere is not None
    assert "e" not in said.elsewhere.character.situations


def test_the_genus_is_said_where_the_trade_group_cannot(ask) -> None:
    """An oak by its acorn, red or white unknown."""
    said = verdict(ask("fruit=acorn", "rays=broad", "porosity=ring"), ["lens"])

    assert (said.level, said.name) == ("group", "Quercus")
    assert said.wood.id == "quercus"


@pytest.mark.parametrize(
    ("texts", "group"),
    [
        (("late_pores=short_lines", "early_row=two_four", "weight=heavy", "split_way=clean"), "ash"),
        (("fine_lines=yes", "early_row=broken", "weight=vheavy", "split_way=stringy"), "hickory"),
        (("rays=fine_clear", "heart_col=bright_yellow", "air_change=browns", "uv_glow=none"), "mulberry"),
    ],
)
def test_what_a_split_cannot_part_is_never_named(ask, texts, group) -> None:
    """White and green ash, the hickories, red and white mulberry: their group leads, none of them is named."""
    post = ask("porosity=ring", *texts)

    assert by_group(post)[0].name == group
    assert verdict(post, ["split", "lens"]).level != "species"


def test_little_said_is_undecided_with_five_to_look_at_and_a_move(ask) -> None:
    said = verdict(ask("bark_tex=deep_furrows"), ["log"])

    assert (said.level, said.name) == ("undecided", "")
    assert len(said.species) == 5
    assert str(said.advice).startswith(("Find a twig", "Find a leaf", "Look for fruits"))
    assert not said.stop


def test_undecided_wood_is_still_known_to_be_soft(ask) -> None:
    assert verdict(ask("porosity=no_pores", "leaf_kind=needle")).wood.id == "unnamed_softwood"
    assert verdict(ask()).wood.id == "unnamed"


def test_twelve_answers_are_enough(key, ask) -> None:
    texts = [f"{c.id}={'|'.join(c.states)}" for c in key.characters[:12]]

    assert verdict(ask(*texts)).stop
    assert not verdict(ask(*texts[:11])).stop


def test_groups_sum_to_one_with_not_listed(ask) -> None:
    post = ask("arr=opposite", "leaf_comp=pinnate")

    for shares in (by_group(post), by_genus(post)):
        assert sum(share.probability for share in shares) + post.not_listed == pytest.approx(1.0)
        assert [s.probability for s in shares] == sorted((s.probability for s in shares), reverse=True)
    assert by_group(post)[0].name == "ash"


def test_an_answer_that_does_not_fit_the_leader_is_to_be_looked_at_again(ask) -> None:
    """Then not even 0.8 names the species."""
    post = ask(*OSAGE, "arr=opposite")

    assert [post.answers[place].character for place in surprises(post)] == ["arr"]
    assert [item.character for item in look_again(post)] == ["arr"]
    assert "osage-orange" in str(look_again(post)[0].why)
    assert verdict(post).level == "group"
    assert surprises(ask(*OSAGE)) == []


def test_a_doubted_answer_is_no_surprise(ask) -> None:
    assert surprises(ask(*OSAGE, "arr=opposite??")) == []


def test_contradicting_answers_are_named_as_a_pair(ask) -> None:
    post = ask("acorn_cup=fringed", "porosity=no_pores", "bark_col=grey_brown")
    (found,) = contradictions(post)

    assert set(found.characters) == {"acorn_cup", "porosity"}
    assert "acorn_cup=fringed" in str(found.why)
    assert "porosity=no_pores" in str(found.why)
    again = {item.character: str(item.why) for item in look_again(post)}
    assert "porosity" in again or "acorn_cup" in again


def test_answers_that_fit_together_contradict_nothing(ask) -> None:
    assert contradictions(ask(*OSAGE)) == []
    assert contradictions(ask("acorn_cup=fringed", "porosity=no_pores??")) == []
    assert contradictions(ask()) == []


def test_what_fits_no_tree_is_shown(ask) -> None:
    post = ask(
        "leaf_hold=evergreen",
        "arr=whorled",
        "needle_bundle=tuft",
        "late_pores=nests",
        "crush_smell=root_beer",
    )
    assert post.not_listed > 0.2

    assert len(look_again(post)) >= 2


def test_a_planted_honeylocust_without_thorns_is_no_surprise(ask) -> None:
    """Its species' own row fits too; what counts is the form that fits best."""
    texts = ("pod=long_twist", "thorns=branched", "leaf_comp=bipinnate")

    assert surprises(ask(*texts, street=True)) == []
