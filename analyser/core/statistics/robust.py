"""Scatter of the bulk, whatever a few odd values do."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from analyser.core.figures import FloatArray

NORMAL_MAD = NormalDist().inv_cdf(0.75)
"""Median absolute deviation of a normal distribution of standard deviation 1."""
MEDIAN_SE = float(np.sqrt(np.pi / 2.0))
"""A median's standard error over a mean's, for normal scatter and many values."""


def robust_sd(left: FloatArray) -> float:
    """Standard deviation of residuals about nought by their median absolute value, for a normal bulk."""
    return float(np.median(np.abs(left))) / NORMAL_MAD
