"""The posterior is the method's, against a slow reckoning straight from the table's rows."""

from __future__ import annotations

import math
import random
from collections import Counter

import pytest

from rickyard.errors import InputError, UnknownNameError
from rickyard.identify import Answer, Prior, posterior, read_answer
from rickyard.identify.tables import read_tables

WEIGHT = {"usually": 8, "sometimes": 3, "rarely": 1}
EPS = {"source": 0.03, "genus": 0.05, "memory": 0.05, "assumed": 0.08}


@pytest.fixture(scope="module")
def slow():
    """The method in plain Python: (answers, priors by short id) to (probability by short id, not listed)."""
    tables = read_tables()
    about: dict[str, dict[str, str]] = {}
    states: dict[str, list[str]] = {}
    for row in tables["characters"]:
        about[row["character_id"]] = row
        states.setdefault(row["character_id"], []).append(row["state_id"])
    cells: dict[tuple[str, str], list[dict[str, str]]] = {}
    for row in tables["species_characters"]:
        cells.setdefault((row["species_id"], row["character_id"]), []).append(row)

    def p(species: str, name: str, state: str) -> float:
        rows = cells.get((species, name))
        if rows is None:
            return 1 / len(states[name])
        if rows[0]["frequency"] == "not applicable":
            return 0.02
        weights = {row["state_id"]: WEIGHT[row["frequency"]] for row in rows}
        left_out = len(states[name]) - len(weights)
        eps = EPS[rows[0]["basis"]] if left_out else 0.0
        return (1 - eps) * weights[state] / sum(weights.values()) if state in weights else eps / left_out

    def reckon(answers: list[Answer], prior: dict[str, float]) -> tuple[dict[str, float], float]:
        answers = [one for one in answers if len(set(one.states)) < len(states[one.character])]
        blocks = Counter(about[one.character]["block"] for one in answers)
        likely = dict.fromkeys(prior, 1.0)
        other = 0.03
        for one in answers:
            k, n = len(states[one.character]), blocks[about[one.character]["block"]]
            e = float(about[one.character]["observer_error"])
            wrong = min(e + (1 - e) * one.doubt, 0.9)
            for species in likely:
                named = sum(p(species, one.character, state) for state in set(one.states))
                likely[species] *= ((1 - wrong) * named + wrong * len(set(one.states)) / k) ** (n**-0.5)
            other *= (len(set(one.states)) / k) ** (n**-0.5)
        whole = sum(prior.values())
        joint = {species: 0.97 * prior[species] / whole * likely[species] for species in prior}
        total = sum(joint.values()) + other
        return {species: value / total for species, value in joint.items()}, other / total

    return reckon


def random_answers(key, dice: random.Random) -> list[Answer]:
    names = dice.sample(sorted(key.at), dice.randint(0, 9))
    found = []
    for name in names:
        states = key.characters[key.at[name]].states
        picked = dice.sample(states, dice.randint(1, len(states) if dice.random() < 0.2 else 2))
        found.append(Answer(name, tuple(picked), dice.choice([0.0, 0.3, 0.6, 1.0])))
    return found


def test_it_is_the_method(key, slow) -> None:
    dice = random.Random(4)
    for _ in range(25):
        answers = random_answers(key, dice)
        post = posterior(key, answers)
        wanted, other = slow(answers, {species.key_id: 1.0 for species in key.species})

        assert post.not_listed == pytest.approx(other, rel=1e-9)
        for species, share in zip(key.species, post.species, strict=True):
            assert share == pytest.approx(wanted[species.key_id], rel=1e-9)


def test_region_and_the_yards_own_counts(key, slow) -> None:
    """Common 1, occasional 0.3, not listed 0.03; times the yard's count plus one."""
    answers = [read_answer(key, "arr=opposite")]
    frequency = {"c": 1.0, "o": 0.3}
    prior = {s.key_id: frequency.get(s.regions.get("GP", ""), 0.03) for s in key.species}
    prior["acsa2"] *= 8

    post = posterior(key, answers, Prior(region="GP", counts={"acsa2": 7}))

    wanted, _ = slow(answers, prior)
    for species, share in zip(key.species, post.species, strict=True):
        assert share == pytest.approx(wanted[species.key_id], rel=1e-9)


def test_nothing_said_is_the_prior(key, ask) -> None:
    post = ask()

    assert post.species == pytest.approx([0.97 / len(key.species)] * len(key.species))
    assert post.not_listed == pytest.approx(0.03)
    assert post.ranking == list(range(len(key.species)))


def test_all_states_say_nothing(key, ask) -> None:
    """And do not count as evidence about their block."""
    every = "|".join(key.characters[key.at["leaf_edge"]].states)
    one = ask("leaf_comp=simple")
    two = ask("leaf_comp=simple", f"leaf_edge={every}?")

    assert two.species.tolist() == one.species.tolist()
    assert two.asked == {"leaf_comp", "leaf_edge"}


def test_the_order_of_answers_does_not_matter(key) -> None:
    dice = random.Random(8)
    for _ in range(20):
        answers = random_answers(key, dice)
        shuffled = [
            Answer(one.character, tuple(dice.sample(one.states, len(one.states))), one.doubt)
            for one in dice.sample(answers, len(answers))
        ]
        assert posterior(key, answers).species.tolist() == posterior(key, shuffled).species.tolist()


def test_doubt_tends_to_no_information_and_never_vetoes(ask, of) -> None:
    sure, fairly, guess = (ask(f"arr=opposite{marks}") for marks in ("", "?", "??"))

    assert of(sure, "acsa3") > of(fairly, "acsa3") > of(guess, "acsa3") > of(ask(), "acsa3")
    assert of(sure, "qual") < of(fairly, "qual") < of(guess, "qual") < of(ask(), "qual")


def test_one_slip_cannot_exclude_the_tree(ask, of) -> None:
    """Five true answers outweigh a wrong one."""
    true = ("leaf_kind=broad", "acorn_cup=bowl", "lobe_tip=rounded", "bark_col=light_grey", "porosity=ring")

    assert of(ask(*true, "arr=opposite"), "qual") > of(ask(), "qual")
    assert ask(*true, "arr=opposite").q.min() > 0.0


def test_absent_parts_do_not_let_softwoods_float_to_the_top_of_an_oak_query(key, ask) -> None:
    post = ask("acorn_cup=bowl", "acorn_stalk=short", "fruit=acorn")

    leading = [key.species[place] for place in post.ranking[:10]]
    assert all(species.kind == "hardwood" for species in leading)
    assert leading[0].genus in ("Quercus", "Notholithocarpus")


def test_answers_about_one_organ_weigh_less_than_answers_about_several(ask, of) -> None:
    """The same two answers apart would multiply; in one block each counts n^-1/2."""
    one, other, both = (
        ask(*texts)
        for texts in (("bark_tex=shag",), ("bark_col=grey_brown",), ("bark_tex=shag", "bark_col=grey_brown"))
    )
    base = math.log(of(ask(), "caov2") / ask().not_listed)

    def moved(post) -> float:
        return math.log(of(post, "caov2") / post.not_listed) - base

    assert moved(both) == pytest.approx((moved(one) + moved(other)) / math.sqrt(2), rel=1e-9)


def test_what_fits_no_tree_of_the_list_is_said(ask) -> None:
    """Needles in tufts, opposite lobed leaves, a banana's smell of bay, and a bean: nothing here is that."""
    post = ask(
        "needle_bundle=tuft", "arr=opposite", "crush_smell=camphor", "fruit=long_bean", "water_tint=yellow"
    )

    assert post.not_listed > 0.2


def test_a_street_tree_flattens_the_region_and_lifts_what_is_planted(ask, of) -> None:
    wild, street = ask(region="NE"), ask(region="NE", street=True)

    assert of(street, "pyca80") > of(wild, "pyca80")
    assert of(street, "prgl2") > of(wild, "prgl2")
    assert of(street, "acpl") > of(street, "prgl2")


def test_a_planted_honeylocust_has_no_thorns(key, ask, of) -> None:
    """The thornless form takes part for street trees only, within its species' share."""
    thornless = key.row_ids.index("gltr_thornless")
    wild, street = ask("thorns=none", "pod=long_twist"), ask("thorns=none", "pod=long_twist", street=True)

    assert wild.rows[thornless] == 0.0
    assert street.rows[thornless] > 0.9 * of(street, "gltr")
    assert of(street, "gltr") > of(wild, "gltr")
    thorny = ask("thorns=branched", "pod=long_twist", street=True)
    assert thorny.rows[thornless] < 0.7 * of(thorny, "gltr")
    assert of(street, "gltr") == pytest.approx(
        street.rows[thornless] + street.rows[key.species_at["gltr"]], rel=1e-12
    )


def test_the_exponent_sharpens_and_flattens(ask, of) -> None:
    texts = ("arr=opposite", "leaf_comp=simple", "sinus=round_u")
    flat, plain, sharp = (of(ask(*texts, exponent=g), "acsa3") for g in (0.5, 1.0, 2.0))

    assert flat < plain < sharp
    assert ask(exponent=2.0).species.tolist() == ask().species.tolist()


@pytest.mark.parametrize(
    ("text", "field", "near"),
    [
        ("thorn=none", "character", "thorns"),
        ("bark=shag", "character", "bark_tex"),
        ("arr=oposite", "arr", "opposite"),
        ("bark_tex=mesh", "bark_tex", ""),
        ("arr", "answers", ""),
        ("arr=", "answers", ""),
        ("=opposite", "character", ""),
        ("arr=opposite???", "answers", ""),
        ("arr=opposite|", "arr", "alternate"),
    ],
)
def test_what_the_key_does_not_have_is_named_with_the_nearest(key, text: str, field: str, near: str) -> None:
    with pytest.raises(InputError) as refused:
        read_answer(key, text)

    assert refused.value.field == field
    if near:
        assert isinstance(refused.value, UnknownNameError)
        assert near in refused.value.nearest


def test_answers_are_read_as_people_type_them(key) -> None:
    assert read_answer(key, " Leaf-Comp = Pinnate | bipinnate ?") == Answer(
        "leaf_comp", ("pinnate", "bipinnate"), 0.3
    )
    assert read_answer(key, "arr=whorled|opposite|whorled??") == Answer("arr", ("opposite", "whorled"), 0.6)


@pytest.mark.parametrize(
    "refused",
    [
        lambda key: posterior(key, [Answer("arr", ("opposite",)), Answer("arr", ("alternate",))]),
        lambda key: posterior(key, [Answer("arr", ("opposite",), 1.5)]),
        lambda key: posterior(key, [Answer("arr", ("opposite",), math.nan)]),
        lambda key: posterior(key, [Answer("arr", ())]),
        lambda key: posterior(key, [], Prior(region="Atlantis")),
        lambda key: posterior(key, [], Prior(counts={"acsa3": -1})),
        lambda key: posterior(key, [], Prior(counts={"baobab": 1})),
        lambda key: posterior(key, [], exponent=0.0),
    ],
)
def test_nonsense_is_refused(key, refused) -> None:
    with pytest.raises(InputError):
        refused(key)
