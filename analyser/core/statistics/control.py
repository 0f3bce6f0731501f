"""Control charts: the scatter from one value to the next, by ranges.

The constant that turns a range into a standard deviation is worked out from the distribution of the range (Tippett
1925), not copied from a table; ISO 7870-2 and Montgomery (Introduction to Statistical Quality Control) print the same.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from analyser.core.figures import FloatArray


@cache
def mean_range(n: int) -> float:
    """Mean range of ``n`` normal values over their standard deviation: d2 of control charts.

    Notes
    -----
    E(W) = ∫ 1 − Φ(x)ⁿ − (1 − Φ(x))ⁿ dx (Tippett 1925).

    Examples
    --------
    >>> round(mean_range(5), 3)
    2.326
    """
    if n < 2:
        raise ValueError(f"a range needs 2 values or more, got {n}")
    if n == 2:
        return 2.0 / math.sqrt(math.pi)
    from scipy import integrate, special  # slow to load, and charts of single values need n = 2 only

    return float(integrate.quad(lambda x: 1.0 - special.ndtr(x) ** n - special.ndtr(-x) ** n, -np.inf, np.inf)[0])


def moving_sd(values: FloatArray) -> float:
    """Standard deviation from one value to the next, by the mean moving range over d2 (individuals chart).

    Parameters
    ----------
    values : ndarray, shape (n,)
        In order, n of 2 or more; a range counts four times the middle one at most.
    """
    ranges = np.abs(np.diff(values))
    middle = float(np.median(ranges))
    usual = float(np.minimum(ranges, 4.0 * middle).mean()) if middle > 0 else float(ranges.mean())
    return usual / mean_range(2)
