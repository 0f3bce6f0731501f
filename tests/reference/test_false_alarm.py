"""On identical layouts the comparison cries wolf as often as it states (5 %), by simulation; and its interval covers.

Source: the definition of a test's level; bound from the binomial spread of the number of repetitions.
"""

from __future__ import annotations

import numpy as np

from analyser.antenna import (
    AZIMUTHS,
    EDGES_AZIMUTH_DEG,
    EDGES_SIN_ELEVATION,
    ELEVATIONS,
    LEVEL_EDGES_DB,
    RANGE_EDGES_M,
    DirectionBins,
)
from analyser.layouts import compare_bins

REPEATS = 120


def flight(rng: np.random.Generator, level_db: float = 0.0) -> DirectionBins:
    """One flight on the bins: a day's offset, a wobble by direction, and a mix of directions of its own."""
    cells = (AZIMUTHS, ELEVATIONS)
    mean = 5 + level_db + rng.normal(0, 1.0) + rng.normal(0, 0.5, cells)
    samples = rng.poisson(rng.gamma(2.0, 10.0, cells))
    middle = (LEVEL_EDGES_DB[:-1] + LEVEL_EDGES_DB[1:]) / 2
    share = np.exp(-0.5 * ((middle - mean[..., None]) / 3.0) ** 2)
    histogram = rng.poisson(samples[..., None] * share / share.sum(-1, keepdims=True)).astype(np.int32)
    ranges = RANGE_EDGES_M.size - 1
    by_range = np.repeat((samples / 10.0 / ranges)[..., None], ranges, axis=-1)
    lost = rng.poisson(by_range * 0.5 * np.exp(rng.normal(0, 0.3))).astype(float)
    return DirectionBins(
        EDGES_AZIMUTH_DEG, EDGES_SIN_ELEVATION, LEVEL_EDGES_DB, histogram, by_range.sum(-1), lost.sum(-1),
        seconds_by_range=by_range, lost_by_range=lost, counted=True,
    )  # fmt: skip


def test_false_alarms_and_coverage() -> None:
    rng = np.random.default_rng(42)
    alarms, outside_db, outside_lost = 0, 0, 0
    for k in range(REPEATS):
        made = compare_bins("a", "x", "y", [flight(rng) for _ in range(6)], [flight(rng) for _ in range(4)], seed=k)
        alarms += not made.verdict.startswith("Can't tell")
        db, lost = made.difference_db, made.difference_lost_per_min
        assert db.low is not None
        assert db.high is not None
        assert lost.low is not None
        assert lost.high is not None
        outside_db += not db.low <= 0 <= db.high
        outside_lost += not lost.low <= 0 <= lost.high
    # 5 % of 120 is 6, standard deviation 2.4; three of them above, and never none at all.
    bound = 0.05 * REPEATS + 3 * np.sqrt(REPEATS * 0.05 * 0.95)
    assert alarms <= bound, alarms
    assert 1 <= outside_db <= bound, outside_db
    assert 1 <= outside_lost <= bound, outside_lost


def test_three_flights_against_many_cry_wolf_no_oftener() -> None:
    rng = np.random.default_rng(43)
    alarms = 0
    for k in range(REPEATS // 2):
        made = compare_bins("a", "x", "y", [flight(rng) for _ in range(3)], [flight(rng) for _ in range(9)], seed=k)
        alarms += not made.verdict.startswith("Can't tell")
    assert alarms <= 0.05 * REPEATS / 2 + 3 * np.sqrt(REPEATS / 2 * 0.05 * 0.95), alarms


def test_two_flights_are_not_compared() -> None:
    rng = np.random.default_rng(44)
    made = compare_bins("a", "x", "y", [flight(rng) for _ in range(2)], [flight(rng, 9.0) for _ in range(9)])
    assert made.difference_db.value is None
    assert "needs 3 flights" in made.verdict


def test_a_real_difference_is_found() -> None:
    rng = np.random.default_rng(5)
    made = compare_bins("a", "x", "y", [flight(rng) for _ in range(8)], [flight(rng, 5.0) for _ in range(4)])
    assert made.verdict.startswith("Moving a helped")
    assert made.difference_db.low is not None
    assert made.difference_db.high is not None
    assert made.difference_db.low < 5.0 < made.difference_db.high
