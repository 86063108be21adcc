"""What every drying model must keep to, checked over all of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rickyard import wood
from rickyard.season.models import AirHours, FiniteVolumes, PieceShape, siau_m2_s
from rickyard.season.reference import psat_ice_pa, psat_water_pa

SPLIT = PieceShape(0.08, 0.08, 0.30, 1)
ROUND = PieceShape(0.10, 0.10, 0.30, 4)
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


@pytest.mark.parametrize("shape", [SPLIT, ROUND, STICK], ids=["split", "round", "stick"])
def test_water_is_conserved(model, constants, shape):
    """What left through the faces and what stayed sum to the start, to 1e-6 of the dry mass."""
    run = model.run(shape, constants(rain_share=[0.0, 0.1, 0.3], size_xy=[1.0, 0.9, 1.2]), changing_air(8), 8)

    assert run.mean_db.shape == (9, 3)
    np.testing.assert_allclose(run.mean_db + run.lost_db, 0.7, atol=1e-6)
    assert np.all(run.lost_db[-1] > 0.003)


def test_goes_to_the_air_s_equilibrium_from_both_sides(model, constants, still_air):
    """At 20 deg C and 65 % wood goes to 12.0 % (Wood Handbook eq. 4-5, its printed worked value)."""
    run = model.run(STICK, constants(start_db=[0.28, 0.04]), still_air(20.0, 0.65, 14), 14)

    drying, wetting = run.mean_db[:, 0], run.mean_db[:, 1]
    np.testing.assert_allclose([drying[-1], wetting[-1]], 0.120, atol=0.004)
    assert np.all(np.diff(drying) < 1e-6)
    assert np.all(np.diff(wetting) > -1e-6)
    assert drying.min() >= 0.1195
    assert wetting.max() <= 0.1205


def test_thicker_and_longer_pieces_are_wetter(model, constants):
    constants_of_three = constants(size_xy=[0.8, 1.0, 1.3, 1.0, 1.0], size_z=[1.0, 1.0, 1.0, 0.6, 1.8])
    last = model.run(SPLIT, constants_of_three, changing_air(12), 12).mean_db[-1]

    assert last[0] < last[1] < last[2]
    assert last[3] < last[1] < last[4]


def test_size_factors_are_sizes(model, constants):
    """A factor on the size is a piece of that size, up to the difference of the grids."""
    factored = model.run(SPLIT, constants(size_xy=1.25, size_z=0.8), changing_air(10), 10)
    made = model.run(PieceShape(0.10, 0.10, 0.24, 1), constants(), changing_air(10), 10)

    tolerance = 0.002 if isinstance(model, FiniteVolumes) else 0.01
    np.testing.assert_allclose(factored.mean_db, made.mean_db, atol=tolerance)


def test_colder_or_damper_air_dries_slower(model, constants, still_air):
    air = still_air([25.0, 15.0, 5.0, 15.0, 15.0], [0.6, 0.6, 0.6, 0.4, 0.85], 12)
    last = model.run(SPLIT, constants(start_db=[0.7] * 5), air, 12).mean_db[-1]

    assert last[0] < last[1] < last[2]
    assert last[3] < last[1] < last[4]


def test_bark_holds_water_back(model, constants):
    """Bark on no, one and all long faces, and bark that lets less through."""
    bare, one, full = (
        model.run(replace(SPLIT, bark_faces=n), constants(bark=[0.06, 0.01]), changing_air(12), 12).mean_db[
            -1
        ]
        for n in (0, 1, 4)
    )

    assert np.all(bare < one)
    assert np.all(one < full)
    assert one[0] < one[1]
    assert full[0] < full[1]


def test_frost_holds_water(model, constants, still_air):
    """At -15 deg C in air saturated over ice nothing leaves, however wet the wood."""
    air = still_air(-15.0, 0.5, 6)
    saturated = air._replace(vapour_pa=np.full_like(air.vapour_pa, psat_ice_pa(np.float64(-15.0))))
    run = model.run(SPLIT, constants(start_db=[0.3, 0.7, 1.5]), saturated, 6)

    assert np.all(np.abs(run.lost_db) < 1e-6)


def test_thickness_and_width_are_alike(model, constants):
    """A bare piece lying on its side dries the same, up to the difference of the grids."""
    lying = model.run(PieceShape(0.06, 0.10, 0.3, 0), constants(), changing_air(10), 10)
    standing = model.run(PieceShape(0.10, 0.06, 0.3, 0), constants(), changing_air(10), 10)

    tolerance = 0.001 if isinstance(model, FiniteVolumes) else 0.005
    np.testing.assert_allclose(lying.mean_db, standing.mean_db, atol=tolerance)


def test_a_member_does_not_mind_its_company(model, constants):
    """Alone or among faster and slower ones: the stages of a step may differ, the answer hardly.

    Either is within 0.05 points of hourly steps on this run, so they may differ by 0.1.
    """
    alone = model.run(SPLIT, constants(), changing_air(10), 10).mean_db[:, 0]
    among = model.run(SPLIT, constants(k_d_m2_s=[6e-10, 2e-10, 5e-11]), changing_air(10), 10).mean_db[:, 1]

    np.testing.assert_allclose(alone, among, atol=1e-3)


@settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    thickness=st.floats(0.01, 0.4),
    length=st.floats(0.1, 4.0),
    k_d=st.floats(2e-11, 2e-9),
    k_free=st.floats(0.05, 5.0),
    phi=st.floats(0.05, 3.0),
    start=st.floats(0.06, 2.5),
    bark=st.sampled_from([0, 1, 4]),
)
def test_never_wetter_than_the_start_nor_drier_than_the_air(
    constants, still_air, thickness, length, k_d, k_free, phi, start, bark
):
    """Any piece in any company of constants stays between its start and the air's equilibrium."""
    shape = PieceShape(thickness, thickness, length, bark)
    made = constants(k_d_m2_s=k_d, k_free=k_free, phi=phi, start_db=start)
    run = FiniteVolumes().run(shape, made, still_air(30.0, 0.5, 5), 5)
    settled = float(wood.emc_db(0.5, 30.0))

    assert np.all(np.isfinite(run.mean_db))
    low, high = min(start, settled), max(start, settled)
    # The flux is a table with a node every two points: its zero lies up to 0.05 points beside the equilibrium
    # (worst of some thousand draws). Evaporation cools wet wood, and cooler wood settles a little higher.
    assert np.all(run.mean_db >= low - 1e-3)
    assert np.all(run.mean_db <= high + 0.012)
    np.testing.assert_allclose(run.mean_db + run.lost_db, np.float32(start), rtol=2e-6, atol=1e-6)


@pytest.mark.parametrize(
    ("finer", "tolerance"),
    [
        (FiniteVolumes(step_hours=1), 0.0010),
        (FiniteVolumes(step_hours=8), 0.0020),
        (FiniteVolumes(counts=(12, 20, 14), first_m=0.0008, first_end_m=0.0015), 0.0032),
        (FiniteVolumes(parts=2), 0.0045),
    ],
    ids=["hourly steps", "8-hour steps", "finer grid", "cells cut in two"],
)
def test_step_and_grid_have_converged(constants, finer, tolerance):
    """Halving cells or steps moves the moisture by less than half a point in the month that changes fastest."""
    usual = FiniteVolumes().run(SPLIT, constants(), changing_air(30), 30)
    better = finer.run(SPLIT, constants(), changing_air(30), 30)

    difference = np.abs(usual.mean_db - better.mean_db).max()
    assert 0.0 < difference < tolerance


def test_rain_wets_dry_wood_only_where_it_falls(model, constants):
    run = model.run(SPLIT, constants(start_db=0.15, rain_share=[0.0, 0.1]), changing_air(12, rain=True), 12)

    assert run.mean_db[-1, 1] > run.mean_db[-1, 0] + 0.002


def test_siau_at_half():
    """Specific gravity 0.5 gives 3.1e-10 m2/s (worked figure of the model's notes)."""
    assert siau_m2_s(0.5) == pytest.approx(3.1e-10, rel=0.02)
