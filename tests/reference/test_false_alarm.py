"""On identical layouts the comparison cries wolf no oftener than it states (5 %), by simulation; its interval covers.

Sources: the definition of a test's level, bounds from the binomial spread of the number of draws; Student's and Welch's
tests as scipy has them. A longer run is `python -m benchmarks.moved_antenna`, quoted in docs/link.md.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analyser.link.directions import LEVEL_EDGES_DB, RANGE_EDGES_M, DirectionBins
from analyser.link.sphere import AZIMUTHS, EDGES_AZIMUTH_DEG, EDGES_SIN_ELEVATION, ELEVATIONS
from analyser.season.link.comparison import Change, compare_bins
from reports.words.catalogue import text

CHECKS = ("season.layouts.comparisons",)

DRAWS = 100


def flight(rng: np.random.Generator, level_db: float = 0.0, day_db: float = 1.0) -> DirectionBins:
    """One flight on the bins: a day's offset, a wobble by direction, and a mix of directions of its own."""
    cells = (AZIMUTHS, ELEVATIONS)
    mean = 5 + level_db + rng.normal(0, day_db) + rng.normal(0, 0.5, cells)
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


def bound(share: float, draws: int) -> float:
    """A share of the draws and three of its standard deviations."""
    return share * draws + 3 * float(np.sqrt(draws * share * (1 - share)))


@pytest.mark.parametrize(("before", "after"), [(3, 3), (3, 9), (9, 3), (6, 6)])
def test_false_alarms_and_coverage(before: int, after: int) -> None:
    rng = np.random.default_rng(42)
    flights = [flight(rng) for _ in range(150)]
    alarms, outside_db, outside_lost = 0, 0, 0
    for _ in range(DRAWS):
        drawn = [flights[i] for i in rng.permutation(len(flights))[: before + after]]
        made = compare_bins("a", "x", "y", drawn[:before], drawn[before:])
        alarms += not text(made.verdict).startswith("Can't tell")
        db, lost = made.difference_db, made.difference_lost_per_min
        assert db.low is not None
        assert db.high is not None
        assert lost.low is not None
        assert lost.high is not None
        outside_db += not db.low <= 0 <= db.high
        outside_lost += not lost.low <= 0 <= lost.high
    # None at all would mean intervals too wide to tell anything.
    assert alarms <= bound(0.05, DRAWS), alarms
    assert outside_db <= bound(0.05, DRAWS), outside_db
    assert 1 <= outside_lost + outside_db <= 2 * bound(0.05, DRAWS), outside_lost


@pytest.mark.parametrize(("m", "n", "spread"), [(3, 3, 1.0), (3, 9, 1.0), (3, 9, 2.0), (9, 3, 2.0), (6, 6, 2.0)])
@pytest.mark.parametrize("level", [0.05, 0.025, 0.025 / 6])
def test_the_wider_of_two_intervals_holds_its_level(m: int, n: int, spread: float, level: float) -> None:
    """Handfuls of normal numbers alone: the wider of the two holds where either by itself may not.

    Only where three flights scatter twice as widely as nine others is the smallest rate passed, up to twice.
    """
    rng = np.random.default_rng(1)
    draws = 4000
    old, new = rng.normal(0, spread, (draws, m)), rng.normal(0, 1.0, (draws, n))
    alarms = sum(Change(a, b).p_value < level for a, b in zip(old, new, strict=True))
    allowed = level if spread == 1.0 or m >= n else 1.3 * level if level > 0.01 else 2.2 * level
    assert alarms <= bound(allowed, draws), alarms / draws


def test_both_tests_are_the_textbooks() -> None:
    rng = np.random.default_rng(3)
    old, new = rng.normal(0, 1, 4), rng.normal(0.5, 3, 7)
    made = Change(old, new)
    both = [stats.ttest_ind(new, old, equal_var=equal) for equal in (True, False)]
    assert made.p_value == pytest.approx(max(r.pvalue for r in both))
    assert made.half == pytest.approx(max(r.confidence_interval(0.95).high for r in both) - made.value)


@pytest.mark.parametrize("after", [2, 9])
def test_two_flights_are_not_compared(after: int) -> None:
    rng = np.random.default_rng(44)
    made = compare_bins("a", "x", "y", [flight(rng) for _ in range(2)], [flight(rng, 9.0) for _ in range(after)])
    assert made.difference_db.value is None
    assert "needs 3 flights" in text(made.verdict)


def test_a_real_difference_is_found() -> None:
    rng = np.random.default_rng(5)
    made = compare_bins("a", "x", "y", [flight(rng) for _ in range(8)], [flight(rng, 5.0) for _ in range(4)])
    assert text(made.verdict).startswith("Moving receiver a helped")
    assert made.difference_db.low is not None
    assert made.difference_db.high is not None
    assert made.difference_db.low < 5.0 < made.difference_db.high


def test_six_decibels_are_found_with_four_flights_each_and_one_is_not() -> None:
    """Days that differ by 1 dB: two means of four differ by 0.7 dB; t of 6 at 2.5 % is 3.0, so from some 3 dB on."""
    rng = np.random.default_rng(6)
    found = dict.fromkeys((1.0, 6.0), 0)
    for level in found:
        for _ in range(20):
            old, new = [flight(rng) for _ in range(4)], [flight(rng, level) for _ in range(4)]
            found[level] += text(compare_bins("a", "x", "y", old, new).verdict).startswith("Moving receiver a helped")
    assert found[6.0] >= 19
    assert found[1.0] <= 10


def test_what_a_flight_did_not_see_is_not_held_against_it() -> None:
    """Flights that looked only at the weak half are not weaker flights."""
    rng = np.random.default_rng(7)
    weak = np.zeros((AZIMUTHS, ELEVATIONS))
    weak[: AZIMUTHS // 2] = -12.0

    def one(half: bool) -> DirectionBins:
        made = flight(rng, weak)  # type: ignore[arg-type]
        if half:
            made.histogram[AZIMUTHS // 2 + 3 :] = 0
            for seen in (made.seconds, made.lost, made.seconds_by_range, made.lost_by_range):
                seen[AZIMUTHS // 2 + 3 :] = 0.0
        return made

    made = compare_bins("a", "x", "y", [one(k > 1) for k in range(4)], [one(k > 0) for k in range(4)])
    assert made.difference_db.value == pytest.approx(0.0, abs=2.0)
    assert made.difference_db.low is not None
    assert made.difference_db.high is not None
    assert made.difference_db.high - made.difference_db.low < 8.0
