"""One exponent from confirmed records, and how stated and true probabilities lie together."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from rickyard.errors import UnknownNameError
from rickyard.identify import (
    Answer,
    Confirmed,
    Prior,
    calibration_error,
    fit_exponent,
    posterior,
    reliability,
)

NAMES = ("arr", "leaf_shape", "bark_tex", "thorns", "porosity", "weight")


@pytest.fixture(scope="module")
def records(key):
    """Trees drawn evenly, answered by the table with its errors: characters of six blocks, so that 1 is right."""
    dice = random.Random(3)
    made = []
    for number in range(300):
        place = number % len(key.species)
        answers = []
        for name in NAMES:
            character = key.characters[key.at[name]]
            if not key.applicable[place, key.at[name]]:
                continue
            chances = (1 - character.error) * key.p[place, key.span[name]] + character.error / len(
                character.states
            )
            answers.append(Answer(name, (dice.choices(character.states, chances.tolist())[0],)))
        made.append(Confirmed(tuple(answers), key.species[place].key_id))
    return made


def test_what_the_table_itself_answers_needs_no_correction(key, records) -> None:
    assert fit_exponent(key, records) == pytest.approx(1.0, abs=0.12)


def test_the_fit_is_the_likeliest(key, records) -> None:
    """Neighbouring exponents make the confirmed species less likely, the pull towards 1 counted in."""
    some = [Confirmed(one.answers, one.key_id, Prior(street=True)) for one in records[:60]]
    best = fit_exponent(key, some)

    def loss(exponent: float) -> float:
        logs = [
            math.log(
                posterior(key, one.answers, one.prior, exponent=exponent).species[key.species_at[one.key_id]]
            )
            for one in some
        ]
        return 0.5 * (math.log(exponent) / 0.5) ** 2 - sum(logs)

    assert loss(best) < loss(best * 1.05)
    assert loss(best) < loss(best / 1.05)


def test_few_records_move_it_little(key, records) -> None:
    assert fit_exponent(key, []) == 1.0
    wrong = [Confirmed((Answer("arr", ("opposite",)),), "qual")]
    assert 0.6 < fit_exponent(key, wrong) < 1.0


def test_records_that_the_answers_miss_flatten(key, records) -> None:
    """If half the records are of other trees than the answers say, the probabilities were too sure."""
    dice = random.Random(5)
    spoilt = [
        Confirmed(one.answers, dice.choice(key.species).key_id) if number % 2 else one
        for number, one in enumerate(records)
    ]

    assert fit_exponent(key, spoilt) < 0.8


def test_a_record_of_an_unknown_species_is_refused(key) -> None:
    with pytest.raises(UnknownNameError):
        fit_exponent(key, [Confirmed((), "baobab")])


def test_the_reliability_table_by_hand() -> None:
    table = reliability([(0.05, False), (0.55, True), (0.58, False), (1.0, True)])

    assert [(item.low, item.count, item.right) for item in table] == [
        (0.0, 1, 0.0),
        (pytest.approx(0.5), 2, 0.5),
        (pytest.approx(0.9), 1, 1.0),
    ]
    assert table[1].stated == pytest.approx(0.565)
    assert calibration_error(table) == pytest.approx((0.05 + 2 * 0.065 + 0.0) / 4)
    assert calibration_error([]) == 0.0


def test_true_odds_have_no_calibration_error() -> None:
    dice = np.random.default_rng(2)
    stated = dice.random(20_000)

    assert calibration_error(reliability(zip(stated, dice.random(20_000) < stated, strict=True))) < 0.02
