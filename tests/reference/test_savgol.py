"""The local line's rate against the printed coefficients of Savitzky & Golay (1964)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from analyser.core.statistics.smoothing import smooth_total

CHECKS = ("fuel.tanks.burn.rate", "fuel.tanks.by_sensor.rate")


def test_first_derivative_coefficients_are_the_published_ones() -> None:
    """Table IV, first derivative, quadratic, 5 and 9 points: −2 … 2 over 10 and −4 … 4 over 60.

    They are least squares in closed form, ``i / Σ i²`` (10 and 60 for half widths of 2 and 4).
    """
    for n, norm in ((5, 10.0), (9, 60.0)):
        half = n // 2
        np.testing.assert_allclose(
            signal.savgol_coeffs(n, 2, deriv=1, use="dot"), np.arange(-half, half + 1) / norm, atol=1e-12
        )


def test_our_rate_is_that_filter_on_an_even_total() -> None:
    """On a total that already grows, the rate is the 15-point published filter: −7 … 7 over 280."""
    t = np.arange(120.0)
    total = 2.0 * t + 0.02 * t**2
    smooth = smooth_total(t, total)
    assert smooth is not None
    weights = np.arange(-7, 8) / 280.0
    expected = np.convolve(total, weights[::-1], mode="valid")
    np.testing.assert_allclose(smooth.rate_per_s[7:-7], expected, rtol=1e-9)


def test_standard_error_of_the_slope_is_the_textbook_one() -> None:
    """σ_b = σ √(12 / (n (n² − 1))): scatter of rates over many noisy ramps agrees within a quarter."""
    rng = np.random.default_rng(4)
    t = np.arange(600.0)
    smooth = smooth_total(t, 3.0 * t + rng.normal(0.0, 4.0, t.size), monotone=False)
    assert smooth is not None
    seen = float(np.std(smooth.rate_per_s[10:-10]))
    assert smooth.rate_se == pytest.approx(seen, rel=0.25)
    assert seen == pytest.approx(4.0 * np.sqrt(12 / (15 * (15**2 - 1))), rel=0.25)
