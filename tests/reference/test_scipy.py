"""What is worked out without the parts of scipy that are slow to load, against those parts of scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, signal, stats

from analyser.core.statistics import distributions
from analyser.core.statistics.control import mean_range
from analyser.core.statistics.smoothing import local_polynomial
from analyser.core.statistics.trends import robust_trend
from analyser.packs.circuit import _means_of_relaxing, relaxing
from analyser.programme import remedies

CHECKS = ("season.packs.*.trend", "season.fuel.*.trend")

P = np.array([0.001, 0.025, 0.3, 0.5, 0.8, 0.975, 0.9999])


def test_quantiles_and_tails() -> None:
    np.testing.assert_allclose(distributions.normal_quantile(P), stats.norm.ppf(P), rtol=1e-12)
    for freedom in (1, 2.5, 7, 120):
        np.testing.assert_allclose(distributions.student_quantile(P, freedom), stats.t.ppf(P, freedom), rtol=1e-9)
        for t in (0.0, -0.4, 2.1, 30.0):
            assert distributions.student_beyond(t, freedom) == pytest.approx(2 * stats.t.sf(abs(t), freedom), rel=1e-9)
    for a, b in ((1.0, 4.0), (12.0, 0.5), (80.5, 33.0)):
        assert distributions.beta_quantile(0.025, a, b) == pytest.approx(stats.beta.ppf(0.025, a, b), rel=1e-9)


def test_ranks() -> None:
    values = np.random.default_rng(1).integers(0, 9, 60).astype(float)
    np.testing.assert_array_equal(distributions.ranks(values), stats.rankdata(values))


@pytest.mark.parametrize("n", [4, 11, 60])
@pytest.mark.parametrize("ties", [False, True])
def test_slope_and_its_interval(n: int, ties: bool) -> None:
    rng = np.random.default_rng(n)
    x = np.arange(float(n)) // (2 if ties else 1)
    y = 0.2 * x + rng.standard_t(3, n)
    if ties:
        y = np.round(y)
    found, whole = robust_trend(x, y, "mL", "burn"), stats.theilslopes(y, x, alpha=0.95)
    assert (found.value, found.low, found.high) == (whole.slope, whole.low_slope, whole.high_slope)


@pytest.mark.parametrize(("window", "order"), [(3, 1), (15, 1), (15, 2), (61, 2), (200 - 1, 1)])
def test_local_polynomials_ends_included(window: int, order: int) -> None:
    values = np.cumsum(np.random.default_rng(2).normal(size=200)) + 400.0
    value, slope = local_polynomial(values, window, order), local_polynomial(values, window, order, slope_per=0.5)
    np.testing.assert_allclose(value, signal.savgol_filter(values, window, order), rtol=1e-10)
    np.testing.assert_allclose(slope, signal.savgol_filter(values, window, order, deriv=1, delta=0.5), atol=1e-9)


def test_current_through_a_relaxing_pair() -> None:
    current = np.random.default_rng(3).gamma(2.0, size=500)
    keep = np.exp(-0.2 / 3.0)
    expected = signal.lfilter([1.0 - keep], [1.0, -keep], current)
    np.testing.assert_allclose(relaxing(current, 0.2, np.array([3.0]))[0], expected, rtol=1e-11)


def test_mean_range_of_two_needs_no_integral() -> None:
    n = 2
    whole = integrate.quad(lambda x: 1.0 - stats.norm.cdf(x) ** n - stats.norm.sf(x) ** n, -np.inf, np.inf)[0]
    assert mean_range(n) == pytest.approx(whole, rel=1e-9)


def test_means_of_a_relaxing_pair_under_even_current() -> None:
    """Source: scipy's linear simulation (``scipy.signal.lsim``) of τ x' = i − x, a thousand times as fine."""
    step, tau, fine = 0.1, 2.0, 1000
    current = np.random.default_rng(1).gamma(1.5, 2.0, 60)
    t = np.arange(current.size * fine + 1) * step / fine
    held = np.append(np.repeat(current, fine), current[-1])
    _, x, _ = signal.lsim(([1.0], [tau, 1.0]), held, t, interp=False)
    means = (x[:-1] + x[1:]).reshape(-1, fine).mean(axis=1) / 2.0
    taus = np.array([tau])
    (made,) = _means_of_relaxing(current, relaxing(current, step, taus), step, taus)
    np.testing.assert_allclose(made, means, rtol=1e-6)


@pytest.mark.parametrize(("n", "m"), [(3, 4), (6, 30), (12, 9), (40, 25)])
def test_difference_of_trimmed_means(n: int, m: int) -> None:
    """Source: ``scipy.stats.ttest_ind`` with ``trim`` (Yuen 1974) and ``trim_mean``."""
    rng = np.random.default_rng(n)
    before, after = rng.standard_t(3, n), 0.4 + rng.standard_t(3, m)
    trim = remedies.TRIM if min(n, m) >= remedies.TRIMMED_FROM else 0.0
    change, half = remedies.shift(before, after)
    assert change == pytest.approx(stats.trim_mean(after, trim) - stats.trim_mean(before, trim), rel=1e-12)
    interval = stats.ttest_ind(after, before, equal_var=False, trim=trim).confidence_interval(0.95)
    assert half / remedies._wider(before, after) == pytest.approx((interval.high - interval.low) / 2.0, rel=1e-9)
