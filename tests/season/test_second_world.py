"""The model that makes the truth of the twin experiments, by itself: it must be right before it judges another.

The analytic solution is Crank's, The Mathematics of Diffusion (1975), equation 4.18, from memory: the mean of a plane
sheet with constant coefficient, both faces held at an end value.
"""

from __future__ import annotations

import ast
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
FOLDER = ROOT / "scripts" / "truth"


@pytest.fixture(scope="module")
def world(second_world: ModuleType) -> ModuleType:
    """scripts/truth with its modules loaded."""
    return second_world


def _pieces(world, count=1, **given):
    usual = {
        "radius_m": 0.13,
        "angle_rad": np.pi / 2,
        "length_m": 0.41,
        "gravity": 0.55,
        "across": 0.6,
        "along": 1.0,
        "free_heart": 0.5,
        "free_sap": 1.0,
        "heart_db": 0.70,
        "sap_db": 0.70,
        "sap_from": 0.75,
        "sorption": 1.0,
        "frozen": 0.5,
        "bark": 0.05,
    }
    assert set(given) <= {*usual, "stack", "oak"}
    rows = {
        key: np.broadcast_to(np.float64(given.get(key, value)), (count,)).copy()
        for key, value in usual.items()
    }
    return world.wedge.Pieces(
        stack=np.asarray(given.get("stack", np.arange(count))),
        oak=np.full(count, given.get("oak", False)),
        **rows,
    )


def _places(world, count=1, **given):
    usual = {"open_share": 0.5, "wind_share": 0.12, "depth_m": 0.6, "sun_share": 0.05, "rain_share": 0.0}
    return world.wedge.Stacks(**{key: np.full(count, given.get(key, value)) for key, value in usual.items()})


def _sky(world, days, count=1, temp_c=15.0, rh=0.65, wind=3.0, sun=0.0):
    temp = np.broadcast_to(np.float64(temp_c), (24 * days, count)).copy()
    full = np.full_like(temp, 1.0)
    return world.wedge.Sky(temp, rh * world.laws.saturation_pa(temp), wind * full, sun * full, 0.0 * full)


def test_it_shares_no_code_with_the_package():
    """Neither it nor what it imports of the scripts reaches `rickyard`."""
    for path in sorted(FOLDER.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [item.name for item in node.names]
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0
                names = [node.module]
            for name in names:
                assert name.split(".")[0] in {"numpy", "scipy", "truth", *sys.stdlib_module_names}, (
                    path.name,
                    name,
                )


def test_water_is_conserved_through_frost_rain_and_sun(world):
    rng = np.random.default_rng(3)
    sky = _sky(world, 40, 2, temp_c=rng.normal(0.0, 8.0, (960, 2)), sun=100.0)
    sky = replace(sky, raining=(rng.random((960, 2)) < 0.1) * 1.0)

    run = world.wedge.dry(_pieces(world, 2), _places(world, 2, rain_share=0.1), sky, 40)

    assert np.ptp(run.mean_db) > 0.05
    np.testing.assert_allclose(
        run.mean_db + run.lost_db, np.broadcast_to(run.mean_db[0], (41, 2)), atol=1e-12
    )


def test_wet_and_dry_wood_meet_the_airs_equilibrium(world):
    """Thin pieces from both sides; the end is Nelson's desorption isotherm at 20 deg C and 65 %, 13.7 %."""
    pieces = _pieces(world, 2, radius_m=0.03, heart_db=[0.6, 0.05], sap_db=[0.6, 0.05])

    run = world.wedge.dry(pieces, _places(world, 2), _sky(world, 200, 2, temp_c=20.0), 200)

    assert run.mean_db[-1] == pytest.approx([0.1368, 0.1368], abs=0.003)
    assert (np.diff(run.mean_db[:, 0]) < 1e-9).all()
    assert (np.diff(run.mean_db[:, 1]) > -1e-9).all()


def test_wet_wood_stays_in_ice_saturated_frost(world):
    temp = np.full((24 * 30, 1), -15.0)
    full = np.ones_like(temp)
    sky = world.wedge.Sky(temp, world.laws.saturation_ice_pa(temp), 3.0 * full, 0.0 * full, 0.0 * full)

    run = world.wedge.dry(_pieces(world), _places(world), sky, 30)

    assert abs(run.lost_db[-1, 0]) < 1e-3


def test_thicker_longer_barked_colder_moister_and_deeper_stacked_wood_dries_later(world):
    base = _pieces(world, 6)
    pieces = replace(
        base,
        radius_m=base.radius_m * [1, 1.3, 1, 1, 1, 1],
        length_m=base.length_m * [1, 1, 2, 1, 1, 1],
        bark=np.array([0.6, 0.6, 0.6, 0.01, 0.6, 0.6]),
    )
    sky = _sky(world, 60, 6, temp_c=np.array([15, 15, 15, 15, 5, 15.0]))
    sky = replace(sky, vapour_pa=sky.vapour_pa * [1, 1, 1, 1, 1, 1.25])

    left = world.wedge.dry(pieces, _places(world, 6), sky, 60).mean_db[-1]

    assert (left[1:] > left[0] + 0.005).all()
    deep = world.wedge.dry(
        base, _places(world, 6, depth_m=8.0, wind_share=0.02), _sky(world, 60, 6), 60
    ).mean_db[-1]
    open_ = world.wedge.dry(
        base, _places(world, 6, depth_m=0.4, wind_share=0.02), _sky(world, 60, 6), 60
    ).mean_db[-1]
    assert (deep > open_ + 0.005).all()


def test_finer_grids_and_steps_agree(world):
    """The grid of the twin experiments is within a point of one with eight times the nodes and a third of the step."""
    sky = _sky(world, 90)
    wave = 15.0 + 6.0 * np.sin(2 * np.pi * (np.arange(24 * 90) % 24 - 9) / 24)[:, None]
    sky = replace(
        sky, air_c=wave, wind_m_s=sky.wind_m_s * (1 + 0.5 * np.sin(np.arange(24 * 90) / 30))[:, None]
    )
    finest, middle, used = (
        world.wedge.dry(_pieces(world), _places(world), sky, 90, grid).mean_db[:, 0]
        for grid in (
            world.wedge.Grid(11, 11, 13, step_hours=2),
            world.wedge.Grid(8, 8, 10, step_hours=3),
            world.wedge.Grid(step_hours=6),
        )
    )

    off = [float(np.abs(some - finest).max()) for some in (used, middle)]
    assert off[0] < 0.012
    assert off[1] < 0.6 * off[0]


def test_one_step_by_hand(world):
    """Three nodes, D 2e-10 m2/s, film 1e-8 m/s towards 0.12, one day: the linear system solved by a general solver."""
    x = np.array([0.0, 0.03, 0.05])
    capacity = np.array([0.015, 0.025, 0.010])
    axis = world.wedge._Axis(0, capacity[:, None], 1.0 / np.diff(x)[:, None], np.ones(1))
    m = np.array([[0.7], [0.6], [0.4]])
    dt, d, film, goal = 86400.0, 2e-10, 1e-8, 0.12
    link = dt * d / np.diff(x)
    matrix = np.diag(capacity)
    for i in range(2):
        matrix[i : i + 2, i : i + 2] += link[i] * np.array([[1, -1], [-1, 1]])
    matrix[2, 2] += dt * film
    exact = np.linalg.solve(matrix, capacity * m[:, 0] + [0, 0, dt * film * goal])

    lost = axis.sweep(m, np.full((3, 1), d), dt, np.full(1, film), np.full(1, goal))

    np.testing.assert_allclose(m[:, 0], exact, rtol=1e-12)
    assert lost[0] == pytest.approx(dt * film * (exact[2] - goal), rel=1e-12)
    assert lost[0] == pytest.approx(capacity @ ([0.7, 0.6, 0.4] - exact), rel=1e-9)


def test_a_plane_sheet_with_constant_diffusion_follows_crank(world):
    """Long along one axis alone: faces held at zero, mean by Crank's series, over a tenth to nine tenths of drying."""
    count, half, d = 25, 0.05, 1e-9
    x = half * np.tanh(2.2 * np.linspace(0, 1, count)) / np.tanh(2.2)
    capacity = np.diff(world.wedge._controls(x))
    axis = world.wedge._Axis(0, capacity[:, None], 1.0 / np.diff(x)[:, None], np.ones(1))
    m = np.ones((count, 1))
    dt = 3600.0
    steps = int(1.0 * half**2 / d / dt)
    means = []
    for _ in range(steps):
        axis.sweep(m, np.full((count, 1), d), dt, np.full(1, 1.0), np.zeros(1))
        means.append(float(capacity @ m[:, 0] / half))
    t = dt * np.arange(1, steps + 1)
    odd = np.arange(1, 200, 2)[:, None]
    exact = (8 / np.pi**2 * np.exp(-(odd**2) * np.pi**2 * d * t / (4 * half**2)) / odd**2).sum(axis=0)

    within = (exact < 0.9) & (exact > 0.1)
    assert within.sum() > 100
    assert np.abs(np.array(means) - exact)[within].max() < 0.004


def test_diffusion_is_siaus(world):
    """Values at 20 deg C and specific gravity 0.4 oven dry, computed elsewhere from the same equations with another
    isotherm (whose slope enters): 8.77e-11 and 2.56e-10 m2/s across at 10 and 20 %, 3.65e-9 along at 10 %."""
    basic = 0.4 / (1 + 0.265 * 0.4)
    across, along = world.laws.siau_m2_s(np.array([0.10, 0.20]), np.float64(20.0), np.float64(basic))

    assert across == pytest.approx([8.769e-11, 2.555e-10], rel=0.06)
    assert along[0] == pytest.approx(3.652e-9, rel=0.06)
    assert float(world.laws.oak_m2_s(np.float64(0.20), np.float64(20.0))) == pytest.approx(3.6e-11, rel=0.02)


def test_packed_hours_are_whole_and_filled(world):
    for climate in world.hours.CLIMATES.values():
        for setting in climate:
            sky = world.hours.sky(setting, 540)
            assert sky.air_c.shape == (540 * 24, 1)
            assert np.isfinite([sky.air_c, sky.vapour_pa, sky.wind_m_s, sky.sun_w_m2, sky.raining]).all()
            by_day = sky.sun_w_m2.reshape(540, 24).sum(axis=1) * 0.0036
            assert 8.0 < by_day.mean() < 18.0  # MJ/m2: the year's mean lies near 13 at 40 to 50 degrees north
            assert (sky.vapour_pa <= 1.001 * world.laws.saturation_pa(sky.air_c)).all()
