"""What readings of one stack teach of others: shared parts move once, members keep who they are."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.stats import binom

from rickyard import weather, wood
from rickyard.season import Pieces, Reading, forecast, learnt, related
from rickyard.season.draws import normal_draws
from rickyard.season.ensemble import draw
from rickyard.season.learning import Lesson, lesson_of, taught, thickness_class
from rickyard.season.readings import evidence
from rickyard.season.smoother import assimilate

START = date(2026, 4, 1)
OAK = wood.get_species("quercus_rubra")
PIECES = Pieces("quercus_rubra", "split", 0.41, 0.11, stacked_on=START)
MEMBERS = 64


def lesson(key="one", species="quercus_rubra", row="", pace=0.4, firm=40.0, klass="middle"):
    return Lesson(key, species, klass, row, pace, 0.0, (firm, 0.0, 4.0 if row else 0.0))


def members_of(key, pieces=PIECES, row="", seed=1, members=MEMBERS):
    species = wood.get_species(pieces.species_id)
    return draw(
        pieces,
        species,
        members,
        seed,
        key,
        thickness_class=thickness_class(pieces.thickness_m),
        row=row,
    )


def after(lessons, key="two", pieces=PIECES, row="", seed=1):
    return taught(members_of(key, pieces, row, seed), pieces, lessons, seed=seed, stack_key=key, row=row)


def test_a_fast_stack_makes_others_of_its_species_faster_but_by_less():
    before, now = members_of("two"), after([lesson()])
    moved = float((now.log_k_d - before.log_k_d).mean())
    thin = after([lesson()], pieces=replace(PIECES, thickness_m=0.07))
    thin_moved = float((thin.log_k_d - members_of("two", replace(PIECES, thickness_m=0.07)).log_k_d).mean())

    # Of 0.4 the species' share: 0.25^2 / (2 * 0.25^2 + season and error), and the class's a quarter more.
    assert 0.15 < moved < 0.30
    assert 0.5 * moved < thin_moved < 0.95 * moved
    assert now.log_k_d.std() < before.log_k_d.std()
    np.testing.assert_array_equal(now.start_db, before.start_db)


def test_another_species_hears_nothing_and_another_row_only_of_its_own():
    birch = replace(PIECES, species_id="betula_papyrifera")
    np.testing.assert_array_equal(after([lesson()], pieces=birch).log_k_d, members_of("two", birch).log_k_d)
    windy = Lesson("one", "quercus_rubra", "middle", "North", 0.0, 0.5, (1.0, 0.0, 30.0))
    here = after([windy], pieces=birch, row="North")
    there = after([windy], pieces=birch, row="South")

    assert (here.log_phi - members_of("two", birch, "North").log_phi).mean() > 0.1
    np.testing.assert_array_equal(there.log_phi, members_of("two", birch, "South").log_phi)


def test_a_stack_is_never_taught_by_itself():
    own = lesson("two")

    assert related([own, lesson("one")], PIECES, "two", "") == (lesson("one"),)
    np.testing.assert_array_equal(after([own]).log_k_d, members_of("two").log_k_d)


def test_many_stacks_teach_more_than_one_and_never_all():
    several = [lesson(f"s{n}") for n in range(8)]
    one, eight = after([lesson()]), after(several)
    base = members_of("two")

    gain = [float((made.log_k_d - base.log_k_d).mean()) for made in (one, eight)]
    assert gain[0] < gain[1] < 0.4
    # The stack's own part stays unknown, whatever the others say.
    assert eight.log_k_d.std() > 0.8 * 0.25 * 0.75**0.5
    np.testing.assert_array_equal(after(several[::-1]).log_k_d, eight.log_k_d)


def test_what_the_yard_knows_agrees_with_its_members():
    """The closed form shown on the page, against the mean and spread of 2048 members moved one by one."""
    lessons = [lesson("a", row="North"), lesson("b", pace=0.1, klass="fine"), lesson("c", pace=0.3)]
    known = {(item.kind, item.name): item for item in learnt(lessons)}
    base = members_of("z", members=2048)
    now = taught(base, PIECES, lessons, seed=1, stack_key="z", row="")
    species = now.log_k_d_shared

    assert species.mean() == pytest.approx(known["species", ""].mean, abs=0.015)
    assert species.std() == pytest.approx(known["species", ""].sd, rel=0.06)
    assert known["species", ""].stacks == 3
    assert known["thickness", "fine"].stacks == 1
    assert known["row", "North"].sd < known["row", "North"].prior_sd
    assert learnt([]) == ()


def test_no_reading_no_lesson():
    """Members that no reading touched teach nothing, though 64 of them have a spread of their own."""
    same = members_of("one")
    nothing = lesson_of(same, same, PIECES, "one", "North")

    assert nothing.empty
    np.testing.assert_array_equal(after([nothing]).log_k_d, members_of("two").log_k_d)


def test_a_mixed_stack_teaches_by_its_shares():
    whole = lesson()
    parts = [whole.weighed(0.6), whole.weighed(0.4)]

    assert sum(part.precision[0] for part in parts) == pytest.approx(whole.precision[0])


def drying(air):
    def simulate(ensemble, days):
        pace = np.exp(ensemble.log_k_d + 0.4 * ensemble.log_phi - 2 * ensemble.log_size + air) / 100
        gone = np.exp(-pace * np.arange(days + 1)[:, None])
        return (0.15 + (ensemble.start_db - 0.15) * gone).astype(np.float32)

    return simulate


def test_odds_of_a_stack_and_joint_odds_are_calibrated_when_only_its_neighbour_was_weighed():
    """A world of two oak stacks in one row, drawn as the members are; the first is weighed, both are judged.

    Bands of the second hold 8 in 10 (99.8 % interval of a binomial of 60), and its odds and the joint odds,
    added up over the worlds, come to what happened within three standard deviations.
    """
    held, count, day, dry = 0, 60, 150, 0.33
    said, said_joint, was, was_joint, spread, spread_joint = 0.0, 0.0, 0, 0, 0.0, 0.0
    shift = 0.0
    for n in range(count):
        rng = np.random.default_rng(n)
        air = 0.1 * normal_draws(("air", n), MEMBERS, 1)[:, 0]
        true_air = 0.1 * rng.standard_normal(1)
        truth, stacks = [], []
        for key in ("one", "two"):
            pool = members_of(key, row="North", seed=5000 + n)
            one = replace(
                pool,
                **{name: getattr(pool, name)[n : n + 1] for name in vars(pool)},
            )
            truth.append(drying(true_air)(one, 200)[:, 0])
            stacks.append(members_of(key, row="North", seed=n))
        readings = [
            Reading("oven", START, float(truth[0][0] / (1 + truth[0][0])), own=True, pieces=4),
            *(
                Reading(
                    "weighed",
                    START + timedelta(days=t),
                    float((1 + truth[0][t]) / (1 + truth[0][0]) + 0.012 * rng.standard_normal()),
                    pieces=4,
                )
                for t in (30, 60)
            ),
        ]
        simulate = drying(air)
        taken = [evidence(reading, OAK, START) for reading in readings]
        first = assimilate(stacks[0], taken, simulate, ("world", n)).ensemble
        told = lesson_of(stacks[0], first, PIECES, "one", "North")
        second = taught(stacks[1], PIECES, [told], seed=n, stack_key="two", row="North")
        shift += abs(float((second.log_k_d - stacks[1].log_k_d).mean()))
        paths = [simulate(ensemble, 200)[day] for ensemble in (first, second)]
        low, high = np.percentile(paths[1], (10, 90))
        held += bool(low <= truth[1][day] <= high)
        odds, joint = float((paths[1] <= dry).mean()), float(((paths[0] <= dry) & (paths[1] <= dry)).mean())
        said, said_joint = said + odds, said_joint + joint
        spread, spread_joint = spread + odds * (1 - odds), spread_joint + joint * (1 - joint)
        was += bool(truth[1][day] <= dry)
        was_joint += bool((truth[1][day] <= dry) and (truth[0][day] <= dry))
    least, most = binom.interval(0.998, count, 0.8)
    assert least <= held <= most
    assert abs(was - said) <= 3 * spread**0.5
    assert abs(was_joint - said_joint) <= 3 * spread_joint**0.5
    assert 5 < was < 55
    assert shift / count > 0.02


def test_weighing_one_oak_stack_moves_the_odds_of_another_by_less():
    """With the real model and weather: the weighed stack dried fast; the other is believed drier too, by less;
    birch beside them stays as it was. Without the lesson nothing moves."""
    air = weather.generate_air(weather.find_place("Fredericton"), START, 121, members=24, seed=2)
    until = START + timedelta(days=120)

    def made(key, readings=(), lessons=(), species="quercus_rubra"):
        pieces = replace(PIECES, species_id=species)
        return forecast(
            pieces,
            air,
            members=24,
            seed=2,
            stack_key=key,
            readings=readings,
            lessons=lessons,
            until=until,
        )

    one, two = made("one"), made("two")
    fast = np.percentile(one.mc_db.astype(float), 5, axis=1)
    readings = [
        Reading("oven", START, float(fast[0] / (1 + fast[0])), own=True, pieces=4),
        *(
            Reading("weighed", START + timedelta(days=t), float((1 + fast[t]) / (1 + fast[0])), pieces=4)
            for t in (30, 60)
        ),
    ]
    weighed = made("one", readings)
    assert weighed.lesson is not None
    other = made("two", lessons=(weighed.lesson,))
    birch = made("two", lessons=(weighed.lesson,), species="betula_papyrifera")
    own = float(np.median(one.mc_db[90]) - np.median(weighed.mc_db[90]))
    others = float(np.median(two.mc_db[90]) - np.median(other.mc_db[90]))

    assert weighed.lesson.pace > 0.1
    assert 0.003 < others < 0.8 * own
    np.testing.assert_array_equal(birch.mc_db, made("two", species="betula_papyrifera").mc_db)
    # Taught by others and read itself, it still teaches the same: a lesson is free of what was believed.
    again = made("one", readings, lessons=(lesson("three", pace=-0.5),))
    assert again.lesson == weighed.lesson
    assert not np.array_equal(again.mc_db, weighed.mc_db)
