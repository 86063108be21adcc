"""The solver against a reference solution made by another code on far finer grids.

Source: benchmarks/data (the project's own yardstick; its uncertainty is 0.12 to 0.16 points and 0.9 days).
Tolerances are what a user would not notice: more than half a point in moisture, less than a week.
Speed is for `python -m benchmarks`, never for a test.
"""

from __future__ import annotations

import numpy as np

from rickyard.season.models import FiniteVolumes


def test_meets_the_reference_through_the_year(benchmark_problem):
    run = FiniteVolumes().run(
        benchmark_problem.shape, benchmark_problem.members(1), benchmark_problem.air, 365
    )

    points, late = benchmark_problem.errors(run.mean_db[:, 0])
    assert len(points) == 3
    assert max(abs(point) for point in points) < 0.6
    assert abs(late) < 5.0
    off = 100 * run.mean_db[:, 0] - benchmark_problem.reference_pct
    assert float(np.sqrt(np.mean(off**2))) < 0.6


def test_finer_grids_come_closer(benchmark_problem):
    """Error after 60 days falls when cells are added at the faces and inside."""
    errors = []
    for counts, first in [((5, 8, 6), 0.002), ((9, 16, 11), 0.0012), ((14, 24, 16), 0.0009)]:
        grid = FiniteVolumes(counts=counts, first_m=first, first_end_m=1.6 * first)
        run = grid.run(benchmark_problem.shape, benchmark_problem.members(1), benchmark_problem.air, 60)
        errors.append(float(np.abs(100 * run.mean_db[1:, 0] - benchmark_problem.reference_pct[1:61]).mean()))

    assert errors[0] > 1.5 * errors[1]
    assert errors[1] > 1.2 * errors[2]
