"""What every drying model must keep to, whatever its scheme: one checker over all that stand behind `DryingModel`.

Each property is a function of the model and of the fixtures' makers; `PROPERTIES` lists them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from rickyard.season.models import AirHours, DryingModel, FiniteVolumes, PieceShape
from rickyard.season.physics import damp_hours
from rickyard.season.reduced import ReducedVolumes
from rickyard.season.reference import PlainVolumes, psat_ice_pa, psat_water_pa

SPLIT = PieceShape(0.08, 0.08, 0.30, 1)
ROUND = PieceShape(0.10, 0.10, 0.30, 4)
HALF = PieceShape(0.10, 0.05, 0.30, 3)
STICK = PieceShape(0.008, 0.020, 0.060, 0)


def changing_air(days, members=1, rain=False):
    """A rough spring: cold nights below freezing, warm days, sun, now and then rain."""
    hour = np.arange(24 * days)
    temp = 6.0 + 9.0 * np.sin((hour - 9) / 24 * 2 * np.pi) + 4.0 * np.sin(hour / 100)
    columns = [
        temp,
        # Never more vapour than fits, over ice in frost.
        np.minimum(650.0, 0.97 * np.minimum(psat_water_pa(temp), psat_ice_pa(temp))),
        2.0 + np.sin(hour / 17) ** 2 * 3,
        np.clip(600 * np.sin((hour - 6) / 24 * 2 * np.pi), 0, None),
        np.where(hour % 90 < 8, 1.0, 0.0) if rain else np.zeros_like(temp),
    ]
    return AirHours(*(np.repeat(c[:, None], members, axis=1).astype(np.float32) for c in columns))


def water_is_conserved(model, constants, still_air):
    """What left through the faces and what stayed sum to the start, to 1e-6 of the dry mass."""
    for shape in (SPLIT, ROUND, HALF, STICK):
        made = constants(rain_share=[0.0, 0.1, 0.3], size_xy=[1.0, 0.9, 1.2])
        # The plain twin creeps through thin sticks.
        days = 8 if isinstance(model, FiniteVolumes) else 1
        run = model.run(shape, made, changing_air(days), days)

        assert run.mean_db.shape == (days + 1, 3)
        np.testing.assert_allclose(run.mean_db + run.lost_db, 0.7, atol=1e-6)
        assert np.all(run.lost_db[-1] > 0.0004 * days)


def goes_to_the_air_s_equilibrium_from_both_sides(model, constants, still_air):
    """At 20 deg C and 65 % wood goes to 12.0 % (Wood Handbook eq. 4-5, its printed worked value)."""
    run = model.run(STICK, constants(start_db=[0.28, 0.04]), still_air(20.0, 0.65, 14), 14)

    drying, wetting = run.mean_db[:, 0], run.mean_db[:, 1]
    np.testing.assert_allclose([drying[-1], wetting[-1]], 0.120, atol=0.004)
    assert np.all(np.diff(drying) < 1e-6)
    assert np.all(np.diff(wetting) > -1e-6)
    assert drying.min() >= 0.1195
    assert wetting.max() <= 0.1205


def thicker_and_longer_pieces_are_wetter(model, constants, still_air):
    constants_of_three = constants(size_xy=[0.8, 1.0, 1.3, 1.0, 1.0], size_z=[1.0, 1.0, 1.0, 0.6, 1.8])
    last = model.run(SPLIT, constants_of_three, changing_air(12), 12).mean_db[-1]

    assert last[0] < last[1] < last[2]
    assert last[3] < last[1] < last[4]


def size_factors_are_sizes(model, constants, still_air):
    """A factor on the size is a piece of that size, up to the difference of the grids."""
    factored = model.run(SPLIT, constants(size_xy=1.25, size_z=0.8), changing_air(10), 10)
    made = model.run(PieceShape(0.10, 0.10, 0.24, 1), constants(), changing_air(10), 10)

    tolerance = 0.002 if is_fine(model) else 0.02
    np.testing.assert_allclose(factored.mean_db, made.mean_db, atol=tolerance)


def colder_or_damper_air_dries_slower(model, constants, still_air):
    air = still_air([25.0, 15.0, 5.0, 15.0, 15.0], [0.6, 0.6, 0.6, 0.4, 0.85], 12)
    last = model.run(SPLIT, constants(start_db=[0.7] * 5), air, 12).mean_db[-1]

    assert last[0] < last[1] < last[2]
    assert last[3] < last[1] < last[4]


def bark_holds_water_back(model, constants, still_air):
    """Bark on no, one, three and all long faces, and bark that lets less through."""
    bare, one, three, full = (
        model.run(replace(SPLIT, bark_faces=n), constants(bark=[0.06, 0.01]), changing_air(6), 6).mean_db[-1]
        for n in (0, 1, 3, 4)
    )

    assert np.all(bare < one)
    assert np.all(one < three)
    assert np.all(three < full)
    for held in (one, three, full):
        assert held[0] < held[1]


def frost_holds_water(model, constants, still_air):
    """At -15 deg C in air saturated over ice nothing leaves, however wet the wood."""
    air = still_air(-15.0, 0.5, 6)
    saturated = air._replace(vapour_pa=np.full_like(air.vapour_pa, psat_ice_pa(np.float64(-15.0))))
    run = model.run(SPLIT, constants(start_db=[0.3, 0.7, 1.5]), saturated, 6)

    assert np.all(np.abs(run.lost_db) < 1e-6)


def thickness_and_width_are_alike(model, constants, still_air):
    """A bare piece lying on its side dries the same, up to the difference of the grids."""
    lying = model.run(PieceShape(0.06, 0.10, 0.3, 0), constants(), changing_air(10), 10)
    standing = model.run(PieceShape(0.10, 0.06, 0.3, 0), constants(), changing_air(10), 10)

    tolerance = 0.001 if is_fine(model) else 0.012
    np.testing.assert_allclose(lying.mean_db, standing.mean_db, atol=tolerance)


def a_member_does_not_mind_its_company(model, constants, still_air):
    """Alone or among faster and slower ones: the stages of a step may differ, the answer hardly.

    Either is within 0.05 points of hourly steps on this run, so they may differ by 0.1.
    """
    alone = model.run(SPLIT, constants(), changing_air(10), 10).mean_db[:, 0]
    among = model.run(SPLIT, constants(k_d_m2_s=[6e-10, 2e-10, 5e-11]), changing_air(10), 10).mean_db[:, 1]

    np.testing.assert_allclose(alone, among, atol=1e-3)


def rain_wets_dry_wood_and_cover_keeps_it_off(model, constants, still_air):
    """The more of the surface rain reaches, the wetter the wood, dry or green."""
    made = constants(start_db=[0.15] * 3 + [0.7] * 3, rain_share=[0.0, 0.02, 0.2] * 2)
    last = model.run(SPLIT, made, changing_air(8, rain=True), 8).mean_db[-1]

    assert np.all(np.diff(last[:3]) > 0.0)
    assert np.all(np.diff(last[3:]) > 0.0)
    assert last[2] > last[0] + 0.001


def damper_stacks_are_wetter(model, constants, still_air):
    """The share of the deficit that is missing in a stack acts on every model through its air."""
    air = damp_hours(changing_air(6, members=3), np.array([0.0, 0.1, 0.4]))
    last = model.run(SPLIT, constants(start_db=[0.3] * 3), air, 6).mean_db[-1]

    assert np.all(np.diff(last) > 1e-4)


def grid_and_step_have_converged(model, constants, still_air):
    """Grid and step: twice as many cells along each axis, and steps half as long."""
    usual = model.run(SPLIT, constants(), changing_air(10), 10).mean_db
    if isinstance(model, FiniteVolumes):
        finer, tolerance = replace(model, parts=2), 0.0055 if is_fine(model) else 0.03
        shorter = replace(model, step_hours=model.step_hours // 2)
        assert np.abs(shorter.run(SPLIT, constants(), changing_air(10), 10).mean_db - usual).max() < tolerance
    else:
        # The plain twin takes the steps its stability asks for.
        finer, tolerance = PlainVolumes(), 0.03
    better = finer.run(SPLIT, constants(), changing_air(10), 10).mean_db

    assert 0.0 < np.abs(better - usual).max() < tolerance


def is_fine(model: DryingModel) -> bool:
    """The model that promises are made on, not one for a quick look or for reading."""
    return isinstance(model, FiniteVolumes) and not isinstance(model, ReducedVolumes)


PROPERTIES: list[Callable[..., None]] = [
    water_is_conserved,
    goes_to_the_air_s_equilibrium_from_both_sides,
    thicker_and_longer_pieces_are_wetter,
    size_factors_are_sizes,
    colder_or_damper_air_dries_slower,
    bark_holds_water_back,
    frost_holds_water,
    thickness_and_width_are_alike,
    a_member_does_not_mind_its_company,
    rain_wets_dry_wood_and_cover_keeps_it_off,
    damper_stacks_are_wetter,
    grid_and_step_have_converged,
]
