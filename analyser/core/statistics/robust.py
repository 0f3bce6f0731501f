"""Scatter of the bulk, whatever a few odd values do."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from analyser.core.figures import FloatArray

NORMAL_MAD = NormalDist().inv_cdf(0.75)
"""Median absolute deviation of a normal distribution of standard deviation 1."""
MEDIAN_SE = float(np.sqrt(np.pi / 2.0))
"""A median's standard error over a mean's, for normal scatter and many values."""


def median(values: FloatArray) -> float:
    """The middle value, or the mean of the two in the middle; NaN of nothing, and where a value is.

    Examples
    --------
    >>> median(np.array([3.0, 1.0, 2.0, 10.0]))
    2.5
    """
    # As np.median, whose checks take ten times as long as a few dozen values.
    size = values.size
    if not size:
        return float("nan")
    ordered = np.partition(values, ((size - 1) // 2, size // 2, size - 1))
    if np.isnan(ordered[-1]):
        return float("nan")
    return float(0.0 + ordered[(size - 1) // 2] + ordered[size // 2]) / 2.0  # nought itself is written without a sign


def robust_sd(left: FloatArray) -> float:
    """Standard deviation of residuals about nought by their median absolute value, for a normal bulk."""
    return median(np.abs(left)) / NORMAL_MAD


def quantiles(values: FloatArray, *shares: float) -> tuple[float, ...]:
    """Quantiles, on a straight line between neighbouring values, one a share from 0 to 1; NaN where a value is.

    Examples
    --------
    >>> quantiles(np.array([3.0, 1.0, 2.0, 5.0]), 0.5, 1.0)
    (2.5, 5.0)
    """
    # As np.quantile, whose checks take ten times as long as a few hundred values.
    last = values.size - 1
    below = [int(last * share) for share in shares]
    ordered = np.partition(values, sorted({last, *below, *(min(k + 1, last) for k in below)}))
    if np.isnan(ordered[-1]):
        return (float("nan"),) * len(shares)
    out = []
    for share, k in zip(shares, below, strict=True):
        low, high, part = float(ordered[k]), float(ordered[min(k + 1, last)]), last * share - k
        out.append(low + (high - low) * part if part < 0.5 else high - (high - low) * (1.0 - part))
    return tuple(out)


ELBOW = 1.345
"""Standard deviations from which Huber's mean counts a value less: 95 % efficient for normal scatter."""


def huber_mean(values: FloatArray, *, least: float, weights: FloatArray | None = None) -> tuple[float, FloatArray]:
    """Huber's mean (1964), and how much it counted each value, 0 … 1; two values are counted alike.

    Parameters
    ----------
    values : ndarray, shape (n,)
        At least one.
    least : float
        A standard deviation that the scatter is never taken to be below.
    weights : ndarray, shape (n,), optional
        Of the values beside how far off they lie; alike where not given.
    """
    given = np.ones(values.size) if weights is None else weights
    counted = np.ones(values.size)
    if values.size < 3:
        return float(given @ values / given.sum()), counted
    mean = median(values)
    for _ in range(5):
        spread = max(robust_sd(values - mean), least)
        counted = np.minimum(1.0, ELBOW * spread / np.maximum(np.abs(values - mean), 1e-12))
        mean = float((given * counted) @ values / (given @ counted))
    return mean, counted
