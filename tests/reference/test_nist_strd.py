"""Least squares against NIST StRD certified values (Longley; the data come with statsmodels)."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

# NIST Statistical Reference Datasets, Longley: certified estimates and standard deviations (from memory).
CERTIFIED = np.array([
    -3482258.63459582, 15.0618722713733, -0.358191792925910e-01, -2.02022980381683,
    -1.03322686717359, -0.511041056535807e-01, 1829.15146461355,
])  # fmt: skip
CERTIFIED_SD = np.array([
    890420.383607373, 84.9149257747669, 0.334910077722432e-01, 0.488399681651699,
    0.214274163161675, 0.226073200069370, 455.478499142212,
])  # fmt: skip


def test_least_squares_reaches_the_certified_digits() -> None:
    data = sm.datasets.longley.load_pandas()
    design = sm.add_constant(data.exog.to_numpy(float))
    fit = sm.OLS(data.endog.to_numpy(float), design).fit()
    np.testing.assert_allclose(fit.params, CERTIFIED, rtol=1e-7)
    np.testing.assert_allclose(fit.bse, CERTIFIED_SD, rtol=1e-7)


def test_our_burn_curve_without_outliers_is_that_least_squares() -> None:
    """Huber's loss with every residual inside its elbow is ordinary least squares: the two must agree."""
    from analyser.burn_curve import fit_burn_curve

    rng = np.random.default_rng(2)
    speed = rng.uniform(40_000.0, 120_000.0, 400)
    top = float(speed.max())
    burn = 60.0 + 440.0 * (speed / top) ** 3 + rng.normal(0.0, 5.0, speed.size)
    curve = fit_burn_curve("left", speed, burn)
    assert curve is not None
    fit = sm.OLS(burn, sm.add_constant((speed / top) ** 3)).fit()
    assert curve.floor_ml_per_min == pytest.approx(fit.params[0], rel=1e-3)
    assert curve.cubic_ml_per_min == pytest.approx(fit.params[1], rel=1e-3)
    assert curve.scatter_ml_per_min == pytest.approx(5.0, rel=0.2)
