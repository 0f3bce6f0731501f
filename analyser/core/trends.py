"""Trends and steps over flights, robust against a few odd flights, always with an interval.

Slopes are Theil (1950) and Sen (1968): the median of all pairwise slopes, with the interval of Sen's rank
argument (``scipy.stats.theilslopes``). A step is the difference of medians before and after, its chance
level by permutation over flights.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from analyser.core.codes import CoreCode
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Text, say

FEWEST = 4
"""Points below which no trend is stated."""


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
    fit = stats.theilslopes(y, x, alpha=0.95)
    return Figure(
        label,
        float(fit.slope),
        slope_unit,
        Method.ESTIMATED,
        float(fit.low_slope),
        float(fit.high_slope),
        how=say(CoreCode.THEIL_SEN, n=int(x.size), per=per),
        digits=digits,
    )


def widened(trend: Figure, feigned: float) -> Figure:
    """A trend whose interval also holds what one error common to all points may feign, in the trend's unit."""
    if trend.value is None or trend.low is None or trend.high is None:
        return trend
    low = trend.value - float(np.hypot(trend.value - trend.low, feigned))
    high = trend.value + float(np.hypot(trend.high - trend.value, feigned))
    return replace(trend, low=low, high=high)


@dataclass(frozen=True, slots=True)
class Step:
    """A change of level: from ``index`` on (position in the input), by ``size``, with interval and chance level."""

    index: int
    size: float
    low: float
    high: float
    p_value: float


def find_step(y: FloatArray, *, fewest: int = 3, resamples: int = 2000, seed: int = 0) -> Step | None:
    """Find the one change of level that best splits a sequence of flights.

    Every split with at least ``fewest`` flights on either side is tried; the one with the largest difference
    of medians, scaled by the pooled spread within the two sides, is kept. The chance level is the share of
    random orders of the same flights in which *some* split does as well, so trying many splits is paid for.

    Parameters
    ----------
    y : ndarray, shape (n,)
        One value a flight, oldest first, without NaN.

    Returns
    -------
    Step or None
        ``None`` with fewer than ``2 * fewest`` values. The interval is a 95 % bootstrap within the sides.
    """
    y = np.asarray(y, float)
    n = y.size
    if n < 2 * fewest:
        return None
    rng = np.random.default_rng(seed)
    best, strength = _best_split(y, fewest)
    orders = rng.permuted(np.tile(y, (resamples, 1)), axis=1)
    by_chance = _strengths(orders, fewest).max(axis=1)
    p_value = (1 + int((by_chance >= strength - 1e-12).sum())) / (resamples + 1)
    before, after = y[:best], y[best:]
    draws = np.median(rng.choice(after, (resamples, after.size)), axis=1) - np.median(
        rng.choice(before, (resamples, before.size)), axis=1
    )
    low, high = np.quantile(draws, [0.025, 0.975])
    return Step(best, float(np.median(after) - np.median(before)), float(low), float(high), p_value)


def _strengths(rows: FloatArray, fewest: int) -> FloatArray:
    """Scaled difference of medians for every split of every row; shape (rows, splits)."""
    n = rows.shape[1]
    out = []
    for k in range(fewest, n - fewest + 1):  # a loop over splits (flights), never over samples
        a, b = rows[:, :k], rows[:, k:]
        ma, mb = np.median(a, axis=1, keepdims=True), np.median(b, axis=1, keepdims=True)
        spread = np.concatenate([np.abs(a - ma), np.abs(b - mb)], axis=1).mean(axis=1)
        scale = np.sqrt(k * (n - k) / n)
        out.append(scale * np.abs(ma - mb)[:, 0] / np.maximum(spread, 1e-12))
    return np.stack(out, axis=1)


def _best_split(y: FloatArray, fewest: int) -> tuple[int, float]:
    strengths = _strengths(y[None, :], fewest)[0]
    k = int(strengths.argmax())
    return k + fewest, float(strengths[k])


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
