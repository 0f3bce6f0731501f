"""Intervals of a step, a forecast and the timer under drift beside the textbooks' for clean normal data.

Ours are robust, search for their step and know drift from wear only by the flights, so that they may be wider than a
formula that is told all this; they may not be much narrower.

Sources: Welch's interval for a difference of means (scipy, ``ttest_ind``); the Nile series (statsmodels; Cobb 1978);
Fieller (1954), the interval of a ratio, for where a fitted line meets a limit (Draper and Smith, Applied Regression
Analysis, inverse regression), with coefficients and covariance by statsmodels; the one-sided prediction bound of a
regression for one more observation (Hahn and Meeker, Statistical Intervals, ch. 4 for a mean; statsmodels,
``get_prediction`` for a line).
"""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.datasets import nile

from analyser.core.figures import Figure, Method
from analyser.core.statistics.trends import find_step
from analyser.season.fuel.timer import PastFlights, timer_curve
from tests.reference.test_retirement_simulation import NEW_MOHM, RULE, forecast

CHECKS = (
    "season.fuel.tanks.burn.step",
    "season.fuel.imbalance.step",
    "season.packs.flights_to_retirement",
    "season.fuel.timer",
)


def welch(y: np.ndarray, at: int) -> tuple[float, float]:
    found = stats.ttest_ind(y[at:], y[:at], equal_var=False).confidence_interval(0.95)
    return float(found.low), float(found.high)


def test_the_step_of_the_nile_holds_what_is_published() -> None:
    """Means of 1871 to 1898 and of the years since: 1097.75 and 849.97 (Cobb 1978)."""
    y = np.asarray(nile.load_pandas().data["volume"], float)
    step = find_step(y)
    assert step is not None
    assert step.index == 28
    low, high = welch(y, 28)
    assert step.low <= 849.97 - 1097.75 <= step.high
    assert 0.8 <= (step.high - step.low) / (high - low) <= 2.5


@pytest.mark.parametrize(("flights", "size"), [(12, 12.0), (24, 6.0)])
def test_a_steps_interval_is_no_narrower_than_welchs(flights: int, size: float) -> None:
    rng = np.random.default_rng(flights)
    wider, kept = [], 0
    for _ in range(40):
        y = rng.normal(100.0, 2.0, flights) + size * (np.arange(flights) >= flights // 2)
        step = find_step(y, resamples=300)
        assert step is not None
        low, high = welch(y, flights // 2)
        wider.append((step.high - step.low) / (high - low))
        kept += step.low <= size <= step.high
    assert 0.9 <= float(np.median(wider)) <= 2.0
    assert stats.binomtest(kept, 40).proportion_ci(0.95, "exact").high >= 0.95


def fieller(y: np.ndarray, limit: float) -> tuple[float, float, float]:
    """Flights from the last one to where the fitted line meets the limit: low, point, high."""
    x = np.arange(1.0, y.size + 1.0) - y.size
    fit = sm.OLS(y, sm.add_constant(x)).fit()
    (a, b), v = fit.params, np.asarray(fit.cov_params())
    t2 = stats.t.ppf(0.975, y.size - 2) ** 2
    # Where (limit − a − b x)² = t² var(a + b x): a quadratic in x.
    c2, c1, c0 = b**2 - t2 * v[1, 1], 2 * (b * (a - limit) - t2 * v[0, 1]), (a - limit) ** 2 - t2 * v[0, 0]
    low, high = sorted(np.roots([c2, c1, c0]).real)
    return low, (limit - a) / b, high


def test_the_forecast_to_a_limit_is_fiellers_or_wider() -> None:
    rng = np.random.default_rng(12)
    ratios, inside = [], 0
    for seed in rng.integers(0, 2**31, 40):
        figure, _ = forecast(np.random.default_rng(seed), 20, 0.03, 0.02)
        drawn = np.random.default_rng(seed).normal(0.0, 0.02, 20)
        y = NEW_MOHM * (1.0 + 0.03 * np.arange(20)) * (1.0 + drawn)
        low, point, high = fieller(y, RULE * NEW_MOHM)
        assert figure.low is not None
        assert figure.high is not None
        inside += figure.low <= point <= figure.high
        ratios.append((figure.high - figure.low) / (high - low))
    assert inside >= 39
    assert 0.9 <= float(np.median(ratios)) <= 2.5


@pytest.mark.parametrize(("flights", "wear"), [(12, 0.01), (30, 0.01), (30, 0.0)])
def test_the_timer_under_drift_is_the_regressions_bound_or_shorter(flights: int, wear: float) -> None:
    """One more flight with 95 %: ours knows neither that the burn drifts nor that it does not."""
    rng = np.random.default_rng(flights)
    start, reserve, ground = 4000.0, 800.0, 200.0
    shorter = []
    for _ in range(4):
        rate = 320.0 * (1.0 + wear * np.arange(flights)) * rng.normal(1.0, 0.02, flights)
        x = sm.add_constant(np.arange(float(flights)))
        ahead = sm.OLS(rate, x).fit().get_prediction(np.array([[1.0, float(flights)]]))
        bound = float(ahead.conf_int(obs=True, alpha=0.10)[0, 1])
        past = PastFlights(rate, np.full(flights, ground), np.full(flights, 6.0), np.arange(flights))
        full = Figure("On board at start", start, "mL", Method.ENTERED, how="stated")
        made = timer_curve(past, full, reserve, "left")
        assert made is not None
        assert made.advised.value is not None
        shorter.append(made.advised.value / ((start - reserve - ground) / bound))
    assert max(shorter) <= 1.01
    assert float(np.median(shorter)) >= 0.9
