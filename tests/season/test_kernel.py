"""The compiled kernel against its plain twin and against the other packages' physics."""

from __future__ import annotations

import numpy as np
import pytest

from rickyard import weather, wood
from rickyard.season import kernel_terms, reference
from rickyard.season.models import FiniteVolumes, PieceShape
from rickyard.season.reference import PlainVolumes


@pytest.mark.parametrize("bark_faces", [1, 3])
@pytest.mark.parametrize(("step_hours", "tolerance"), [(1, 4e-4), (24, 2e-3)])
def test_agrees_with_the_plain_twin(constants, benchmark_problem, bark_faces, step_hours, tolerance):
    """On one grid both give the same moistures: hourly to 0.04 points, in usual steps to 0.2."""
    shape = PieceShape(0.10, 0.10, 0.35, bark_faces)
    plain = PlainVolumes(first_m=0.003, growth=2.0, counts=(4, 6, 4))
    fast = FiniteVolumes(
        step_hours=step_hours,
        first_m=0.003,
        first_end_m=0.003,
        first_bark_m=0.003,
        growth=2.0,
        growth_end=2.0,
        counts=(4, 6, 4),
        bark_cells=3,
        lift=0.0,
    )
    made = constants(
        k_d_m2_s=[1e-10, 3e-10, 2e-10],
        phi=[0.3, 0.6, 1.2],
        k_free=[0.3, 0.4, 1.7],
        rain_share=[0.0, 0.0, 0.1],
    )
    air = benchmark_problem.air._replace(rain_mm=np.where(np.arange(8760) % 100 < 5, 1.0, 0.0)[:, None])

    slow_run = plain.run(shape, made, air, 12)
    fast_run = fast.run(shape, made, air, 12)

    assert slow_run.mean_db[-1].max() < 0.66
    np.testing.assert_allclose(fast_run.mean_db, slow_run.mean_db, atol=tolerance)


def test_vector_exponential():
    """Where it is used: to 2e-5 of its value up to |x| = 6; below -6 it only has to vanish."""
    x = np.linspace(-20.0, 6.0, 2001).astype(np.float32)
    made = np.array([kernel_terms.exp(value) for value in x])

    np.testing.assert_allclose(made, np.exp(x.astype(np.float64)), rtol=2e-5, atol=1e-7)


def test_short_exponential():
    """Inside the piece, -6 <= x <= 0: to 2e-4, which is less than any coefficient is known."""
    x = np.linspace(-6.0, 0.0, 601).astype(np.float32)
    made = np.array([kernel_terms.exp_short(value) for value in x])

    np.testing.assert_allclose(made, np.exp(x.astype(np.float64)), rtol=0.015, atol=2e-4)
    assert np.all(np.diff(made) > 0.0)


@pytest.mark.parametrize("temp_c", [-10.0, 0.0, 20.0, 38.0])
def test_isotherm_is_that_of_the_wood_package(temp_c):
    """Two codings of Wood Handbook eq. 4-5; the wood package's is held to the 342 printed cells."""
    h = np.linspace(0.05, 0.95, 19)
    ours = reference.emc(h, np.full_like(h, temp_c))

    np.testing.assert_allclose(ours, wood.emc_db(h, temp_c), atol=2.5e-4)


def test_vapour_pressures_are_those_of_the_weather_package():
    t = np.linspace(-30.0, 40.0, 50)

    np.testing.assert_allclose(reference.psat_water_pa(t), weather.psat_water_pa(t), rtol=1e-6)
    np.testing.assert_allclose(reference.psat_ice_pa(t[t < 0]), weather.psat_ice_pa(t[t < 0]), rtol=1e-6)


@pytest.mark.parametrize("along", [False, True])
def test_potentials_are_integrals_of_the_coefficient(along):
    """Differences of the potential against a sum over the coefficient itself."""
    beta, k_free, r_l = 2.8, 0.4, 4.0
    m = np.linspace(0.0, 0.9, 90001)
    u = np.maximum(0.30 - m, 0.0) / 0.30
    d = np.where(m < 0.30, np.exp(-beta * u), k_free) * (r_l * (1 + 4 * u) if along else 1.0)
    summed = np.concatenate([[0.0], np.cumsum(0.5 * (d[1:] + d[:-1]) * np.diff(m))])[::9000]
    at = m[::9000]
    potential = (
        reference.potential_along(at, beta, k_free, r_l)
        if along
        else reference.potential_across(at, beta, k_free)
    )

    np.testing.assert_allclose(potential - potential[0], summed, atol=1e-5 * (r_l if along else 1.0))
