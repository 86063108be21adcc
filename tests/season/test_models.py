"""The drying models held to what every one of them must keep to, and the solver under random constants."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from season_properties import PROPERTIES, SPLIT, changing_air

from rickyard import wood
from rickyard.season.models import FiniteVolumes, PieceShape, siau_m2_s


@pytest.mark.parametrize("holds", PROPERTIES, ids=lambda holds: holds.__name__)
def test_every_model_keeps_to(holds, model, constants, still_air):
    holds(model, constants, still_air)


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


class TestField:
    def test_its_mean_is_the_mean(self, constants):
        made = constants(k_d_m2_s=[1e-10, 3e-10])
        for shape in (SPLIT, PieceShape(0.10, 0.05, 0.30, 3)):
            inside = FiniteVolumes().field(shape, made, changing_air(9), 9)
            run = FiniteVolumes().run(shape, made, changing_air(9), 9)

            np.testing.assert_allclose(inside.mean_db(), run.mean_db[9], atol=1e-5)
            assert inside.mc_db.shape == (len(inside.x_m), len(inside.y_m), len(inside.z_m), 2)

    def test_the_core_is_wetter_than_the_faces(self, constants):
        inside = FiniteVolumes().field(SPLIT, constants(), changing_air(9), 9)

        middle = len(inside.y_m) // 3
        assert inside.mc_db[0, middle, 0, 0] > inside.mc_db[-1, middle, 0, 0] + 0.1
        assert inside.mc_db[0, 0, 0, 0] > inside.mc_db[0, -1, 0, 0] + 0.1

    def test_the_wettest_part(self, constants):
        inside = FiniteVolumes().field(SPLIT, constants(), changing_air(9), 9)

        assert inside.wettest_db(1.0) == pytest.approx(inside.mean_db(), abs=1e-6)
        assert (
            inside.mc_db.max() >= inside.wettest_db(0.1)[0] > inside.wettest_db(0.5)[0] > inside.mean_db()[0]
        )

    def test_before_the_first_day_it_is_the_start(self, constants):
        inside = FiniteVolumes().field(SPLIT, constants(start_db=[0.5, 0.8]), changing_air(1), 0)

        np.testing.assert_allclose(inside.mc_db[0, 0, 0], [0.5, 0.8], rtol=1e-6)


def test_siau_at_half():
    """Specific gravity 0.5 gives 3.1e-10 m2/s (worked figure of the model's notes)."""
    assert siau_m2_s(0.5) == pytest.approx(3.1e-10, rel=0.02)
