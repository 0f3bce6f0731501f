"""Quantiles and tails of the usual distributions, from :mod:`scipy.special` alone.

``scipy.stats`` says the same and takes half a second to load, which every command would wait for.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import special

from analyser.core.figures import FloatArray


def normal_quantile(p: Any) -> Any:
    """Quantile of the standard normal distribution; a number for a number, an array for an array.

    Examples
    --------
    >>> round(float(normal_quantile(0.975)), 4)
    1.96
    """
    return special.ndtri(p)


def student_quantile(p: Any, freedom: Any) -> Any:
    """Quantile of Student's t with so many degrees of freedom; a number for numbers, an array for arrays.

    Examples
    --------
    >>> round(float(student_quantile(0.975, 4)), 3)
    2.776
    """
    return special.stdtrit(freedom, p)


def student_beyond(t: float, freedom: float) -> float:
    """Chance that Student's t lies farther from nought than ``t``, on either side.

    Examples
    --------
    >>> round(student_beyond(2.776, 4), 3)
    0.05
    """
    return float(2.0 * special.stdtr(freedom, -abs(t)))


def beta_quantile(p: float, a: float, b: float) -> float:
    """Quantile of the beta distribution.

    Examples
    --------
    >>> round(beta_quantile(0.5, 1.0, 1.0), 3)
    0.5
    """
    return float(special.betaincinv(a, b, p))


def ranks(values: FloatArray) -> FloatArray:
    """Ranks from 1; equal values share the mean of theirs.

    Examples
    --------
    >>> ranks(np.array([3.0, 1.0, 3.0])).tolist()
    [2.5, 1.0, 2.5]
    """
    _, which, count = np.unique(values, return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(count) - (count - 1) / 2.0)[which], float)
