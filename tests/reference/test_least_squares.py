"""Our own least squares against exact arithmetic: normal equations of the same binary numbers in whole fractions.

The burn curve is the one plain least squares of a model in the analyser (by Huber's loss, whose minimum is ordinary
least squares while every residual lies inside the elbow); the smoother's slope is the other, stated as a straight
line's least squares over each window. Fractions hold a float exactly, so the reference has no rounding of its own.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from analyser.core.burn_curve import fit_burn_curve
from analyser.core.figures import FloatArray
from analyser.core.statistics.smoothing import smooth_total

CHECKS = ("season.fuel.tanks.normalised_rates", "fuel.tanks.burn.rate")


def _exact_line(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Intercept and slope of the least-squares line, without rounding until the end."""
    xs, ys = [Fraction(float(v)) for v in x], [Fraction(float(v)) for v in y]
    n, sx, sy = len(xs), sum(xs), sum(ys)
    sxx, sxy = sum(v * v for v in xs), sum(a * b for a, b in zip(xs, ys, strict=True))
    slope = (n * sxy - sx * sy) / (n * sxx - sx * sx)
    return float((sy - slope * sx) / n), float(slope)


@pytest.mark.parametrize("amount", [1e-6, 5.0])
def test_burn_curve_is_the_exact_least_squares_while_no_residual_leaves_the_elbow(amount: float) -> None:
    rng = np.random.default_rng(2)
    speed = rng.uniform(40_000.0, 120_000.0, 400)
    x = (speed / speed.max()) ** 3
    # Residuals of one size lie inside 1.345 × 1.4826 times their own median, all of them.
    burn = 60.0 + 440.0 * x + amount * rng.choice([-1.0, 1.0], speed.size)
    curve = fit_burn_curve("left", speed, burn)
    assert curve is not None
    floor, cubic = _exact_line(x, burn)
    assert curve.floor_ml_per_min == pytest.approx(floor, rel=1e-8)
    assert curve.cubic_ml_per_min == pytest.approx(cubic, rel=1e-8)
    assert curve.scatter_ml_per_min == pytest.approx(1.4826 * amount, rel=0.05)


def test_a_burst_of_acceleration_does_not_bend_the_curve_as_it_bends_that_least_squares() -> None:
    rng = np.random.default_rng(5)
    speed = rng.uniform(40_000.0, 120_000.0, 400)
    x = (speed / speed.max()) ** 3
    burn = 60.0 + 440.0 * x + rng.normal(0.0, 5.0, speed.size)
    burn[:12] += 250.0
    curve = fit_burn_curve("left", speed, burn)
    assert curve is not None
    truth = 60.0 + 440.0 * 0.75**3
    ours = curve.floor_ml_per_min + curve.cubic_ml_per_min * 0.75**3
    floor, cubic = _exact_line(x, burn)
    assert abs(ours - truth) < 1.0
    assert abs(floor + cubic * 0.75**3 - truth) > 5.0


def test_the_smoothers_slope_is_the_exact_line_through_each_window() -> None:
    t = np.arange(90.0)
    total = 4.0 * t + np.random.default_rng(7).uniform(0.0, 2.0, t.size)  # grows from bin to bin: pooling leaves it
    smooth = smooth_total(t, total)
    assert smooth is not None
    for middle in (20, 45, 70):
        window = slice(middle - 7, middle + 8)
        _, slope = _exact_line(t[window], total[window])
        assert smooth.rate_per_s[middle] == pytest.approx(slope, rel=1e-12)
