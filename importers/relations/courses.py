"""The course of columns alone: which of them rise and fall together, whatever their units."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np

from importers.relations.opinion import LEAST, FloatArray, Opinion, Opinions

_LOST = 1e-6
"""What is left of a sum of squares after the mean is taken off must be a larger share of it to be trusted."""


class Course(StrEnum):
    """What of columns may rise and fall together."""

    VALUES = "values"
    STEPS = "steps"


def correlation(one: FloatArray, other: FloatArray) -> float | None:
    """Pearson's, of the pairs that are whole; None where there are too few, or one of them hardly moves."""
    good = np.isfinite(one) & np.isfinite(other)
    if np.count_nonzero(good) < LEAST:
        return None
    a, b = one[good], other[good]
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0 and _moves(a) and _moves(b) else None


def _moves(x: FloatArray) -> bool:
    """Whether there are more than four different values; most columns show it with their first ones."""
    for some in (x[:32], x):
        ordered = np.sort(some)
        if int(np.count_nonzero(ordered[1:] != ordered[:-1])) > 3:
            return True
    return False


def alike(columns: FloatArray, course: Course) -> FloatArray:
    """How far every two columns go along with each other or against, 0 … 1, all at once.

    Parameters
    ----------
    columns : ndarray, shape (m, n)
        NaN where empty.

    Returns
    -------
    ndarray, shape (m, m)
        Size of what :func:`correlation` says of them, to a millionth: 0 where it has nothing to say, NaN where rounding
        leaves it open.
    """
    values = np.diff(columns) if course is Course.STEPS else columns
    good = np.isfinite(values)
    with np.errstate(all="ignore"):
        middle = np.where(good, values, 0.0).sum(axis=1) / good.sum(axis=1)
        values, there = np.where(good, values - middle[:, None], 0.0), good.astype(float)
        count, sums, squares = there @ there.T, values @ there.T, values**2 @ there.T
        left = squares - sums**2 / count
        size = np.abs(values @ values.T - sums * sums.T / count) / np.sqrt(left * left.T)
        trusted = (left > _LOST * squares) & (left.T > _LOST * squares.T)
    silent = (count < LEAST) | (squares == 0.0) | (squares.T == 0.0)
    return np.where(silent, 0.0, np.where(trusted, size, np.nan))


def follows(some: Sequence[FloatArray], _seconds: FloatArray | None = None, *, against: bool = True) -> Opinions:
    """One rises and falls with the other."""
    r = correlation(*some)
    if r is None:
        return ()
    return (Opinion(max(r, 0.0), 1 if r > 0.6 else -1 if against and r < -0.6 else 0),)
