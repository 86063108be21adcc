"""Next looks: the gain against a reckoning one state at a time, and the rules of the order."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rickyard.identify import Answer, Prior, leading_pair, next_looks, note, posterior, verdict


def entropy(shares) -> float:
    shares = np.asarray(shares)
    shares = shares[shares > 0]
    return float(-(shares * np.log2(shares)).sum())


def slow_gain(key, post, name: str) -> float:
    """Expected fall of entropy, by going through the states; "cannot see it" leaves all as it was."""
    character = key.characters[key.at[name]]
    k, e = len(character.states), character.error
    shares = np.append(post.species, post.not_listed)
    now, gain = entropy(shares), 0.0
    for column in range(key.span[name].start, key.span[name].stop):
        chance = np.append((1 - e) * key.p[: len(key.species), column] + e / k, 1 / k)
        joint = shares * chance
        gain += joint.sum() * (now - entropy(joint / joint.sum()))
    return gain


@pytest.mark.parametrize("texts", [(), ("arr=opposite",), ("fruit=acorn", "lobe_tip=bristle?")])
def test_the_gain_is_the_expected_fall_of_entropy(key, ask, texts) -> None:
    post = ask(*texts)
    looks = next_looks(post, limit=100)

    assert len(looks) > 20
    for look in looks:
        assert look.gain_bits == pytest.approx(slow_gain(key, post, look.character.id), rel=1e-9)


def test_where_every_tree_has_the_part_it_is_the_plain_formula(key, ask) -> None:
    """H(post) - sum of P(s) H(post given s): with no tree without the part the P(s) sum to 1."""
    post = ask("arr=opposite")
    j = key.at["bark_tex"]
    assert key.applicable[:, j].all()

    shares = np.append(post.species, post.not_listed)
    character = key.characters[j]
    k, e = len(character.states), character.error
    columns = np.vstack([key.p[: len(key.species), key.span["bark_tex"]], np.full(k, 1 / k)])
    joint = shares[:, None] * ((1 - e) * columns + e / k)
    after = sum(joint[:, s].sum() * entropy(joint[:, s] / joint[:, s].sum()) for s in range(k))
    assert joint.sum() == pytest.approx(1.0)

    (gain,) = [look.gain_bits for look in next_looks(post, limit=100) if look.character.id == "bark_tex"]
    assert gain == pytest.approx(entropy(shares) - after, rel=1e-9)


def test_three_for_the_present_situation(ask) -> None:
    for situation, letter in (("leaf", "a"), ("winter", "b"), ("log", "c"), ("split", "d"), ("lens", "e")):
        looks = next_looks(ask(), [situation])
        assert len(looks) == 3
        assert all(letter in look.character.situations for look in looks)


def test_situations_may_be_mixed(ask) -> None:
    found = {look.character.id for look in next_looks(ask(), ["log", "lens"], limit=100)}

    assert {"bark_tex", "rays"} <= found
    assert "leaf_shape" not in found


def test_what_was_answered_or_cannot_be_seen_is_not_asked(ask) -> None:
    first = next_looks(ask(), ["leaf"])[0].character.id

    assert first not in [
        look.character.id for look in next_looks(ask(), ["leaf"], not_seen=[first], limit=100)
    ]
    asked = next_looks(ask("fruit=acorn"), ["leaf"], limit=100)
    assert "fruit" not in [look.character.id for look in asked]


def test_what_cannot_be_seen_changes_nothing_else(key, ask) -> None:
    """The odds and what is said stay; the other looks keep their gain, their score and their order."""
    post = ask("arr=opposite", "bud_col=brown")
    said = verdict(post, ["winter"])
    looks = next_looks(post, ["winter"], limit=100)
    hidden = [looks[0].character.id, looks[3].character.id]

    after = next_looks(post, ["winter"], not_seen=hidden, limit=100)
    said_after = verdict(post, ["winter"], not_seen=hidden)

    assert after == [look for look in looks if look.character.id not in hidden]
    assert (said_after.level, said_after.name, said_after.probability) == (
        said.level,
        said.name,
        said.probability,
    )
    assert said_after.species == said.species
    everything = [character.id for character in key.characters]
    assert next_looks(post, ["winter"], not_seen=everything, limit=100) == []


def test_answers_about_the_organ_and_effort_lessen_the_score(ask) -> None:
    looks = next_looks(ask("bark_tex=shag", "bark_col=grey_brown"), ["log"], limit=100)

    for look in looks:
        answered = 2 if look.character.block == "bark" else 0
        assert look.score == pytest.approx(
            look.gain_bits / math.sqrt(answered + 1) / look.character.effort, rel=1e-12
        )
    free = [look for look in looks if not look.settles]
    assert [look.score for look in free] == sorted((look.score for look in free), reverse=True)


def test_little_gain_is_left_out(ask) -> None:
    """Of a tree that is all but named little is left to ask."""
    open_ = next_looks(ask("fruit=green_ball"), limit=100)
    settled = next_looks(ask("fruit=green_ball", "thorns=single", "water_tint=yellow"), limit=100)

    assert all(look.gain_bits >= 0.03 for look in (*open_, *settled))
    assert 0 < len(settled) < 0.75 * len(open_)


def test_an_acorn_cup_is_not_asked_of_maples(ask) -> None:
    looks = next_looks(ask("arr=opposite", "fruit=key_pair", "leaf_comp=simple"), ["leaf"], limit=100)

    assert not {"acorn_cup", "acorn_stalk", "needle_len"} & {look.character.id for look in looks}


def test_what_settles_look_alikes_comes_first(key, ask) -> None:
    """Two mulberries lead; their note is shown, and what settles them asked."""
    post = ask("heart_col=bright_yellow", "fruit=berry")
    pair = leading_pair(post)
    assert pair is not None
    leading = {key.species[place].key_id for place in post.ranking[:2]}
    assert set(pair.pair) == leading

    looks = next_looks(post, ["leaf"], limit=100)
    settling = [look.settles for look in looks]
    assert settling[0]
    assert settling == sorted(settling, reverse=True)
    assert note(post) == pair.note
    assert note(ask()) == ""


def test_the_lens_comes_first_where_there_is_neither_bark_nor_twig(ask) -> None:
    assert [look.character.id for look in next_looks(ask(), ["lens"])] == ["porosity", "rays", "late_pores"]
    assert next_looks(ask(), ["split"])[0].character.id == "porosity"
    with_bark = [look.character.id for look in next_looks(ask(), ["log", "lens"])]
    assert with_bark[0] != "porosity"


def test_no_species_need_hold_a_hundredth(key) -> None:
    """With many species alike each holds less than 0.01; the leading ones still count."""
    post = posterior(key)
    assert post.species.max() < 0.01

    assert next_looks(post)


def test_a_variant_is_no_news(key) -> None:
    """Telling the thornless form from its species gains nothing: the gain is that about species."""
    answers = [Answer("pod", ("long_twist",)), Answer("fruit", ("pod",)), Answer("leaf_comp", ("bipinnate",))]
    post = posterior(key, answers, Prior(street=True))
    thorns = key.characters[key.at["thorns"]]
    k, e = len(thorns.states), thorns.error
    now = np.append(post.species, post.not_listed)
    wanted = 0.0
    for column in range(key.span["thorns"].start, key.span["thorns"].stop):
        joint = np.zeros(len(now))
        np.add.at(joint, key.species_of, post.rows * ((1 - e) * key.p[:, column] + e / k))
        joint[-1] = post.not_listed / k
        wanted += joint.sum() * (entropy(now) - entropy(joint / joint.sum()))

    (gain,) = [look.gain_bits for look in next_looks(post, limit=100) if look.character.id == "thorns"]
    assert gain == pytest.approx(wanted, rel=1e-9)
