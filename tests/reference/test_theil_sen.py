"""The robust slope against others' arithmetic, and its interval against its promise.

Sources: Theil (1950), A rank-invariant method of linear and polynomial regression analysis; Sen (1968), Estimates of
the regression coefficient based on Kendall's tau, J. Am. Stat. Assoc. 63, 1379-1389. The published example is Sen's
own, as scipy's tests of ``scipy.stats.mstats.theilslopes`` carry it, with its 93 % interval of 3.71 to 4.38.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import signal, stats

from analyser.core.statistics.trends import find_step, robust_trend

CHECKS = ("season.packs.*.trend", "season.fuel.*.trend", "season.engines.*_trend")


def test_sens_own_example() -> None:
    x = np.array([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0])
    y = np.array([9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0])
    figure = robust_trend(x, y, "mL", "burn")
    assert figure.value == 4.0


@pytest.mark.parametrize("n", [4, 5, 12, 31])
def test_slope_is_the_median_of_all_pairwise_slopes(n: int) -> None:
    rng = np.random.default_rng(n)
    x = np.sort(rng.integers(0, n, n)).astype(float)
    x[-1] += 1.0
    y = 0.3 * x + rng.standard_t(2, n)
    slopes = [(y[j] - y[i]) / (x[j] - x[i]) for i, j in combinations(range(n), 2) if x[j] != x[i]]
    figure = robust_trend(x, y, "mL", "burn")
    assert figure.value == pytest.approx(float(np.median(slopes)))
    assert figure.value == pytest.approx(float(stats.siegelslopes(y, x).slope), abs=3.0)


@pytest.mark.parametrize("ties", [False, True])
def test_a_long_history_is_told_as_all_its_pairs_tell_it(ties: bool) -> None:
    """scipy's own sum over every pair, at a length that still fits."""
    rng = np.random.default_rng(7)
    for n in (700, 1500):
        x = np.arange(float(n)) // (3 if ties else 1)
        y = 0.01 * x + rng.standard_t(3, n)
        if ties:
            y = np.round(y, 1)
        whole = stats.theilslopes(y, x, alpha=0.95)
        figure = robust_trend(x, y, "mL", "burn")
        width = whole.high_slope - whole.low_slope
        assert figure.value == pytest.approx(whole.slope, abs=0.06 * width)
        assert figure.low == pytest.approx(whole.low_slope, abs=0.1 * width)
        assert figure.high == pytest.approx(whole.high_slope, abs=0.1 * width)


def test_ten_thousand_flights_are_no_matter() -> None:
    rng = np.random.default_rng(8)
    n = 10_000
    y = rng.normal(size=n)
    y[6000:] += 0.5
    step = find_step(y, resamples=199)
    assert step is not None
    assert step.p_value < 0.01
    assert abs(step.index - 6000) < 60
    trend = robust_trend(np.arange(float(n)), 0.002 * np.arange(n) + rng.normal(size=n), "V", "v")
    assert trend.low is not None
    assert trend.high is not None
    assert trend.low <= 0.002 <= trend.high


def test_without_outliers_it_is_close_to_least_squares_and_with_them_it_is_not_moved() -> None:
    rng = np.random.default_rng(1)
    x = np.arange(30.0)
    y = 2.0 + 0.5 * x + rng.normal(0, 0.3, x.size)
    least_squares = sm.OLS(y, sm.add_constant(x)).fit().params[1]
    assert robust_trend(x, y, "V", "v").value == pytest.approx(least_squares, abs=0.01)
    y[[3, 11, 29]] += [80.0, -60.0, 100.0]
    moved = sm.OLS(y, sm.add_constant(x)).fit().params[1]
    assert abs(moved - 0.5) > 0.2
    assert robust_trend(x, y, "V", "v").value == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize("n", [6, 12, 25])
def test_interval_holds_the_true_slope_about_as_often_as_it_says(n: int) -> None:
    rng = np.random.default_rng(n)
    held, trials = 0, 400
    x = np.arange(float(n))
    for _ in range(trials):
        figure = robust_trend(x, 0.7 * x + rng.normal(0, 2.0, n), "V", "v")
        assert figure.low is not None
        assert figure.high is not None
        held += figure.low <= 0.7 <= figure.high
    # Ranks are few, so that the interval errs to the wide side; four standard errors of the count are allowed.
    assert held / trials > 0.95 - 4 * np.sqrt(0.95 * 0.05 / trials)


def test_chance_level_of_a_step_is_even_where_there_is_none() -> None:
    """Among unlike flights unchanged, a chance level below p turns up in a share p of seasons (Kolmogorov-Smirnov)."""
    rng = np.random.default_rng(5)
    found = [find_step(rng.normal(size=12), resamples=199, seed=k) for k in range(250)]
    levels = np.array([s.p_by_order for s in found if s is not None])
    assert levels.size == 250
    assert stats.kstest(levels, "uniform").pvalue > 0.001
    assert np.mean(levels <= 0.05) < 0.05 + 4 * np.sqrt(0.05 * 0.95 / 250)
    # The level to judge by also allows for flights that are alike, so that among unlike ones it errs to the safe side.
    judged = np.array([s.p_value for s in found if s is not None])
    assert (judged >= levels).all()


@pytest.mark.parametrize("flights", [8, 12, 30])
@pytest.mark.parametrize("alike", [0.0, 0.3, 0.6])
def test_a_step_is_claimed_no_oftener_than_stated_where_flights_are_alike(flights: int, alike: float) -> None:
    """First-order autoregressive habits (Box & Jenkins) without a change; 5 % of them at most show a step at 5 %."""
    rng = np.random.default_rng(int(10 * alike) + flights)
    seasons = 200
    rows = signal.lfilter([1.0], [1.0, -alike], rng.normal(size=(seasons, 100 + flights)), axis=1)[:, 100:]
    found = [find_step(row, resamples=199) for row in rows]
    claimed = np.mean([s.p_value < 0.05 for s in found if s is not None])
    assert claimed < 0.05 + 3 * np.sqrt(0.05 * 0.95 / seasons)


@pytest.mark.parametrize("at", [5, 12, 20])
def test_a_step_is_where_ruptures_puts_it(at: int) -> None:
    """The best single change of mean by exhaustive search (ruptures 1.1, Dynp with the l2 cost)."""
    ruptures = pytest.importorskip("ruptures")
    rng = np.random.default_rng(at)
    y = rng.normal(0.0, 1.0, 26) + 3.0 * (np.arange(26) >= at)
    theirs = ruptures.Dynp(model="l2", min_size=3, jump=1).fit(y[:, None]).predict(n_bkps=1)[0]
    step = find_step(y)
    assert step is not None
    assert step.index == theirs
    assert step.p_by_order < 0.02
