"""Trends and steps over flights, robust against a few odd flights, always with an interval.

Slopes are Theil (1950) and Sen (1968): the median of all pairwise slopes, with the interval of Sen's rank
argument. A step is the difference of medians before and after; its chance level holds
for flights in any order and for flights that are alike from one to the next.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace
from scipy import linalg, ndimage

from analyser.core.codes import CoreCode
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Text, say
from analyser.core.statistics.distributions import normal_quantile

FEWEST = 4
"""Points below which no trend is stated."""


ALL_PAIRS_TO = 600
"""Points up to which every pair is taken."""
_PAIRS = 400_000
_AT_ONCE = 2_000_000
"""Values that random orders and draws hold at a time."""


def robust_trend(x: FloatArray, y: FloatArray, unit: str, label: Text, per: str = "flight", digits: int = 2) -> Figure:
    """Theil–Sen slope of ``y`` over ``x`` with its 95 % interval.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Position (flight number, cycle, hours) and value; pairs with NaN are left out.
    unit, label, per : str
        Unit of ``y``, plain words, and what one step of ``x`` is.

    Returns
    -------
    Figure
        Slope in ``unit`` per ``per``; unavailable with fewer than four usable points or no spread in ``x``.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    good = np.isfinite(x) & np.isfinite(y)
    x, y = x[good], y[good]
    slope_unit = f"{unit}/{per}"
    if x.size < FEWEST or np.ptp(x) == 0:
        return Figure.unavailable(
            label, slope_unit, say(CoreCode.TREND_NEEDS, fewest=FEWEST, per=per, there=int(x.size))
        )
    slope, low, high = _theil_sen(x, y)
    return Figure(
        label,
        slope,
        slope_unit,
        Method.ESTIMATED,
        low=low,
        high=high,
        how=say(CoreCode.THEIL_SEN, n=int(x.size), per=per),
        digits=digits,
    )


def _theil_sen(x: FloatArray, y: FloatArray) -> tuple[float, float, float]:
    """Median of all pairwise slopes with Sen's 95 % interval; of long histories, from pairs drawn at random.

    The pairs of 10,000 flights would fill gigabytes. Drawn ones have the same quantiles; that they are drawn moves a
    bound by a tenth of the interval's half width at most, and the interval is widened by that.
    """
    n = x.size
    # Sen's variance of the rank sum with its correction for ties (Sen 1968, eq. 2.6).
    ties = sum(float((k * (k - 1) * (2 * k + 5)).sum()) for k in (_repeats(x), _repeats(y)))
    variance = (n * (n - 1) * (2 * n + 5) - ties) / 18.0
    if n <= ALL_PAIRS_TO:
        i, j = np.triu_indices(n, 1)
        apart = x[i] != x[j]
        i, j = i[apart], j[apart]
        slopes = np.sort((y[j] - y[i]) / (x[j] - x[i]))
        off = normal_quantile(0.975) * np.sqrt(max(variance, 0.0))
        first = max(round((slopes.size - off) / 2.0) - 1, 0)
        last = min(round((slopes.size + off) / 2.0), slopes.size - 1)
        return float(np.median(slopes)), float(slopes[first]), float(slopes[last])
    rng = np.random.default_rng(n)
    i, j = rng.integers(0, n, _PAIRS), rng.integers(0, n, _PAIRS)
    apart = x[i] != x[j]
    i, j = i[apart], j[apart]
    slopes = np.sort((y[j] - y[i]) / (x[j] - x[i]))
    pairs = n * (n - 1) / 2 - float((k := _repeats(x)) @ (k - 1)) / 2
    spread = np.sqrt(variance) / (2.0 * pairs)  # as a share of all pairs
    drawn = 0.5 / np.sqrt(slopes.size)
    half = normal_quantile(0.975) * np.hypot(spread, drawn)
    low, middle, high = np.quantile(slopes, [0.5 - half, 0.5, 0.5 + half])
    return float(middle), float(low), float(high)


def _repeats(values: FloatArray) -> FloatArray:
    """How often each value that comes more than once does."""
    counts = np.unique(values, return_counts=True)[1]
    return np.asarray(counts[counts > 1], float)


def grain(values: FloatArray) -> float:
    """Find the step that values were read in, where some come more than once; 0 where none does.

    Examples
    --------
    >>> round(grain(np.array([27.2, 27.4, 27.2, 28.0])), 6)
    0.2
    """
    different = np.unique(values[np.isfinite(values)].round(6))  # a difference of two times is not exact
    return float(np.diff(different).min()) if 1 < different.size < values.size else 0.0


def widened(trend: Figure, feigned: float) -> Figure:
    """A trend whose interval also holds what one error common to all points may feign, in the trend's unit."""
    if trend.value is None or trend.low is None or trend.high is None:
        return trend
    low = trend.value - float(np.hypot(trend.value - trend.low, feigned))
    high = trend.value + float(np.hypot(trend.high - trend.value, feigned))
    return replace(trend, low=low, high=high)


class Step(Struct, frozen=True):
    """A change of level: from ``index`` on (position in the input), by ``size``, with interval and chance level.

    ``p_by_order`` is the chance level if flights came in any order, ``p_value`` the larger of it and the level in
    sequences alike from one flight to the next: the one to judge by.
    """

    index: int
    size: float
    low: float
    high: float
    p_value: float
    p_by_order: float = 1.0


LIKENESS = np.array([0.0, 0.2, 0.4, 0.6, 0.8])
"""How alike one flight may be to the one before (lag-one correlation) where nothing changed."""
LIKENESS_PRIOR = np.array([1.0, 1.0, 1.0, 1.0, 2.0])
"""Weights of these before the flights are seen: likeness is hard to see in few flights, so it is given the doubt."""
_EXACT_BELOW = 40
_DRAWS = 2000


def find_step(y: FloatArray, *, fewest: int = 3, resamples: int = 1000, seed: int = 0) -> Step | None:
    """Find the one change of level that best splits a sequence of flights.

    Every split with at least ``fewest`` flights on either side is tried; the one with the largest difference of
    means over its standard error is kept (the likelihood ratio test for one change in the mean, Hawkins 1977). A lone
    odd flight is drawn in towards its neighbours first. The chance level is the larger of two: the share of random
    orders of the same flights in which *some* split does as well, and the share of unchanged sequences that are alike
    from one flight to the next (autoregressive, of first order) in which some split does, averaged over how alike
    these flights are by their residuals.

    Parameters
    ----------
    y : ndarray, shape (n,)
        One value a flight, oldest first, without NaN.

    Returns
    -------
    Step or None
        ``None`` with fewer than ``2 * fewest`` values. ``size`` is the difference of medians; the interval is a 95 %
        bootstrap within the sides, widened for likeness. The cost grows in proportion to n.
    """
    y = np.asarray(y, float)
    n = y.size
    if n < 2 * fewest:
        return None
    rng = np.random.default_rng(seed)
    calm = _calmed(y[None, :])
    strengths = _strengths(calm, fewest)[0]
    strength, best = float(strengths.max()), int(strengths.argmax()) + fewest
    as_strong = 0
    for rows in _blocks(resamples, n):
        orders = rng.permuted(np.tile(calm, (rows, 1)), axis=1)
        as_strong += int((_strengths(orders, fewest).max(axis=1) >= strength - 1e-9).sum())
    by_order = (1 + as_strong) / (resamples + 1)
    alike, by_likeness = _by_likeness(calm[0], best, strength, fewest)
    before, after = y[:best], y[best:]
    draws = _drawn_medians(rng, after, resamples) - _drawn_medians(rng, before, resamples)
    size = float(np.median(after) - np.median(before))
    low, high = size + np.sqrt((1.0 + alike) / (1.0 - alike)) * (np.quantile(draws, [0.025, 0.975]) - size)
    return Step(
        best, size, min(float(low), size), max(float(high), size), max(by_order, by_likeness), p_by_order=by_order
    )


def _blocks(resamples: int, n: int) -> list[int]:
    """Numbers of rows to take at a time, so that a long history needs no more memory than a short one."""
    rows = max(1, _AT_ONCE // n)
    return [min(rows, resamples - start) for start in range(0, resamples, rows)]


def _drawn_medians(rng: np.random.Generator, values: FloatArray, resamples: int) -> FloatArray:
    """Medians of values drawn with replacement, as many each time; shape (resamples,)."""
    blocks = _blocks(resamples, values.size)
    return np.concatenate([np.median(rng.choice(values, (rows, values.size)), axis=1) for rows in blocks])


def _calmed(rows: FloatArray) -> FloatArray:
    """Rows with every value at most four times the usual distance from the median of it and its two neighbours."""
    middle = ndimage.median_filter(rows, size=(1, 3), mode="nearest")
    off = rows - middle
    usual = np.maximum(np.median(np.abs(off), axis=1), np.abs(off).mean(axis=1))[:, None]
    return np.asarray(middle + np.clip(off, -4.0 * usual, 4.0 * usual), float)


def _strengths(rows: FloatArray, fewest: int) -> FloatArray:
    """Difference of means over its standard error for every split of every row; shape (rows, splits)."""
    n = rows.shape[1]
    k = np.arange(fewest, n - fewest + 1)
    spread = np.abs(rows).max(axis=1, keepdims=True)
    centred = rows - rows.mean(axis=1, keepdims=True)
    sums, squares = np.cumsum(centred, axis=1), np.cumsum(centred**2, axis=1)
    first, second = sums[:, k - 1], sums[:, -1:] - sums[:, k - 1]
    within = squares[:, -1:] - first**2 / k - second**2 / (n - k)
    # To the last digit alike is a rounding artefact.
    error = np.sqrt(np.maximum(within, 1e-18 * spread**2 + 1e-300) / (n - 2))
    return np.asarray(np.abs(second / (n - k) - first / k) * np.sqrt(k * (n - k) / n) / error, float)


def _lag_one(rows: FloatArray, splits: npt.NDArray[np.intp]) -> FloatArray:
    """Lag-one correlation of every row about the means of its two sides; shape (rows,)."""
    n = rows.shape[1]
    early = np.arange(n)[None, :] < splits[:, None]
    first = (rows * early).sum(axis=1) / splits
    second = (rows * ~early).sum(axis=1) / (n - splits)
    left = rows - np.where(early, first[:, None], second[:, None])
    return np.asarray((left[:, 1:] * left[:, :-1]).sum(axis=1) / np.maximum((left**2).sum(axis=1), 1e-300), float)


def _by_likeness(y: FloatArray, best: int, strength: float, fewest: int) -> tuple[float, float]:
    """How alike neighbouring flights are, and the chance level of a step's strength in such sequences."""
    n = y.size
    # The null distribution hardly changes from one length to the next, so long sequences share one.
    length = n if n < _EXACT_BELOW else round(_EXACT_BELOW * 1.2 ** round(np.log(n / _EXACT_BELOW) / np.log(1.2)))
    strongest, seen, scatter = _unchanged(length, fewest)
    z = (_lag_one(y[None, :], np.array([best]))[0] - seen) / scatter
    weights = LIKENESS_PRIOR * np.exp(-0.5 * z**2) / scatter
    weights = weights / weights.sum() if weights.sum() > 0 else LIKENESS_PRIOR / LIKENESS_PRIOR.sum()
    as_strong = (strongest >= strength).sum(axis=1)
    return float(weights @ LIKENESS), float(weights @ ((1 + as_strong) / (1 + strongest.shape[1])))


@lru_cache(maxsize=256)
def _unchanged(n: int, fewest: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What unchanged sequences show: strongest split, shape (likeness, draws); lag-one correlation, mean and spread."""
    rng = np.random.default_rng(n)
    # Of long sequences fewer are drawn: the chance level then is told to half a percent, in bounded time.
    draws = int(np.clip(1_200_000 // n, 250, _DRAWS))
    strongest, seen, scatter = [], [], []
    for alike in LIKENESS:
        drawn = rng.normal(size=(draws, n)).T
        drawn[0] /= np.sqrt(1.0 - alike**2)  # as if others had been before it
        band = np.array([[1.0], [-alike]]).repeat(n, axis=1)
        rows = linalg.solve_banded((1, 0), band, drawn).T  # each like the one before it
        strengths = _strengths(rows, fewest)
        strongest.append(strengths.max(axis=1))
        lag = _lag_one(rows, strengths.argmax(axis=1) + fewest)
        seen.append(float(lag.mean()))
        scatter.append(float(lag.std()))
    return np.stack(strongest), np.array(seen), np.array(scatter)


def bootstrap_by_flight(
    statistic: Callable[[FloatArray], float], flights: int, *, resamples: int = 1000, seed: int = 0
) -> FloatArray:
    """Draw flights with replacement and work out a statistic each time.

    Samples of one flight resemble each other, so resampling samples would claim too much; flights are the
    independent units (block bootstrap with the flight as block).

    Parameters
    ----------
    statistic : callable
        Given flight indices, shape (flights,), returns the statistic.
    flights : int
        How many flights there are.

    Returns
    -------
    ndarray, shape (resamples,)
    """
    rng = np.random.default_rng(seed)
    picks = rng.integers(0, flights, (resamples, flights))
    return np.array([statistic(row) for row in picks], float)
