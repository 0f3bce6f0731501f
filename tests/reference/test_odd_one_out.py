"""How rarely something is said to stand out where nothing is amiss: bounds simulated again, and other distributions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.distance import pdist

from analyser.fleet.odd import BOUNDS, FALSE_ALARM, FEWEST, FREEDOM, LEVELS, bound, distances, stand_out

CHECKS = ("fleet.odd",)


def test_the_spread_is_the_median_of_all_distances() -> None:
    """Bickel and Lehmann (1979); the distances by scipy."""
    values = np.random.default_rng(4).normal(3.0, 2.0, 25)
    ours = np.abs(values - np.median(values)) / np.median(pdist(values[:, None]))
    np.testing.assert_allclose(distances(values), ours)


def test_of_many_things_some_have_the_same_spread() -> None:
    values = np.random.default_rng(5).normal(0.0, 1.0, 1500)
    far = np.abs(values - np.median(values)) / np.median(pdist(values[:, None]))
    np.testing.assert_allclose(distances(values), far, rtol=0.01)


@pytest.mark.parametrize("things", [6, 12, 30])
def test_the_bounds_are_what_a_simulation_gives(things: int) -> None:
    runs, rng = 3000, np.random.default_rng(things)
    values = rng.standard_t(FREEDOM, (runs, things))
    largest = np.array([distances(v).max() for v in values])
    for chance, limit in zip(LEVELS[:3], BOUNDS[things][:3], strict=True):
        kept = float(np.mean(largest > limit))
        assert abs(kept - chance) < 4.0 * np.sqrt(chance / runs), chance
    assert bound(things, LEVELS[2]) == pytest.approx(BOUNDS[things][2])


@pytest.mark.parametrize(
    ("draw", "most"),
    [
        (lambda rng, n: rng.normal(0.0, 1.0, n), FALSE_ALARM),
        (lambda rng, n: rng.uniform(0.0, 1.0, n), FALSE_ALARM),
        (lambda rng, n: rng.logistic(0.0, 1.0, n), 1.5 * FALSE_ALARM),  # tails of about 9 degrees of freedom
        (lambda rng, n: 20.0 + rng.gamma(9.0, 1.0, n), 2.0 * FALSE_ALARM),  # leaning to one side
    ],
)
def test_a_sound_fleet_is_left_in_peace(draw, most: float) -> None:
    """Ten figures over fleets of 6 to 24 things, drawn from distributions that the bounds were not made from."""
    rng = np.random.default_rng(11)
    runs = 200
    alarms = sum(
        any(stand_out([(draw(rng, int(rng.integers(FEWEST, 25))), 0.0) for _ in range(10)])) for _ in range(runs)
    )
    assert alarms / runs <= most + 2.0 * np.sqrt(most / runs)


def test_what_is_far_off_is_found() -> None:
    rng = np.random.default_rng(12)
    found = 0
    for _ in range(100):
        sets = [(rng.normal(0.0, 1.0, 18), 0.0) for _ in range(10)]
        sets[3][0][5] += 12.0
        found += 5 in stand_out(sets)[3]
    assert found > 95
