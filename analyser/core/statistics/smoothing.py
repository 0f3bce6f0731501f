"""A total that only grows, seen through noise, slosh and coarse steps: the total and its rate, with a band.

The estimator, in order:

1. means over one-second bins (samples within a second share the same slosh);
2. Savitzky & Golay (1964) local straight line over a window: its value is the total, its slope the rate; the value
   of a local parabola stands instead where the total bends by more than that costs in noise;
3. isotonic least squares, because a tank does not fill itself in flight (``scipy.optimize.isotonic_regression``):
   of the smoothed total, and of the bins before their slope is taken. The total is smoothed first, since isotonic
   regression of raw bins runs out low at the first of them and high at the last, and so adds to the whole.

The band comes from the bins' scatter about the local parabola, enlarged for their autocorrelation (slosh is
slower than a second): the variance of a straight line's slope over ``n`` even points is
``12 σ² / (n (n² − 1) Δt²)``, that of its value ``d`` steps off the middle ``σ² / n · (1 + 12 d² / (n² − 1))``; a
parabola's is 9/4 of it in the middle and at the ends alike.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from msgspec import Struct
from scipy import ndimage

from analyser.core.figures import FloatArray
from analyser.core.statistics.robust import median, robust_sd
from analyser.core.statistics.sampling import usual_step_s

BIN_S = 1.0
WINDOW_S = 15.0


class Smoothed(Struct, frozen=True, eq=False):
    """A growing total on even one-second steps.

    Parameters
    ----------
    time_s, total, rate_per_s : ndarray, shape (n,)
        Grid, smoothed total and its slope per second.
    total_se, rate_se : float
        Standard error of one value of either, half a window or more from the ends.
    noise : float
        Scatter of a one-second mean about the local line.
    raw_falls : float
        Share of the whole rise that the raw bins fell back by, beyond the scatter: large means it is no total.
    window : int
        Length of the local line, in steps of the grid.
    walk_per_s : float
        Variance that a second adds to a rise, where the total was summed from a noisy rate.
    step : float
        Coarseness of the samples: the usual distance between two readings that differ.
    """

    time_s: FloatArray
    total: FloatArray
    rate_per_s: FloatArray
    total_se: float
    rate_se: float
    noise: float
    raw_falls: float
    window: int
    walk_per_s: float = 0.0
    step: float = 0.0

    def alike(self, rate: FloatArray) -> FloatArray:
        """Average another quantity on the same grid exactly as ``rate_per_s`` averages the true rate.

        The slope of a local line is a weighted mean of the rate over the window; whatever is set against it must be
        averaged alike, or a fit between the two is bent wherever the power moves quickly.
        """
        rate = np.nan_to_num(rate)
        # Half a step back, because a running sum stands at the end of each step and not at its middle.
        centred = (np.cumsum(rate) - 0.5 * rate) * BIN_S
        return np.asarray(local_polynomial(centred, self.window, 1, slope_per=BIN_S), float)

    def between(self, start_s: FloatArray | float, end_s: FloatArray | float) -> FloatArray:
        """Rise from ``start_s`` to ``end_s``, of each pair of instants."""
        a, b = (np.interp(at, self.time_s, self.total) for at in (start_s, end_s))
        return np.asarray(b - a, float)

    def se_at(self, time_s: FloatArray) -> FloatArray:
        """Standard error of the total at each instant.

        Near its ends the local line stands on one leg, and a coarse gauge was read there on one step only.
        """
        half = 0.5 * (self.window - 1) * BIN_S
        inside = np.minimum(time_s - self.time_s[0], self.time_s[-1] - time_s)
        off = np.minimum(np.maximum(half - inside, 0.0), half) / BIN_S
        leaning = self.total_se**2 * (1.0 + 12.0 * off**2 / (self.window**2 - 1.0))
        return np.asarray(np.sqrt(leaning + (self.step * off / max(half, BIN_S)) ** 2 / 12.0), float)

    def between_se(self, ends_s: FloatArray) -> FloatArray:
        """Standard error of each rise: two independent ends, and the sum of a noisy rate's errors in between.

        ``ends_s`` has shape (2, n), the result (n,).
        """
        walked = self.walk_per_s * np.maximum(ends_s[1] - ends_s[0], 0.0)
        return np.asarray(np.sqrt((self.se_at(ends_s) ** 2).sum(axis=0) + walked), float)


def walk_of(time_s: FloatArray, rate_per_s: FloatArray) -> float:
    """Variance a second adds when a noisy rate is summed: that of one sample times the sample interval.

    The noise is told from neighbouring samples' differences (their variance is twice a sample's), by the median
    absolute difference, so that changes of power do not count as noise. Whole steps of a coarse rate add a twelfth of
    their square, alike for about a second.
    """
    if time_s.size < 3:
        return 0.0
    step = usual_step_s(time_s)
    variance = robust_sd(np.diff(rate_per_s)) ** 2 / 2.0
    return variance * step + coarseness(rate_per_s) ** 2 / 12.0 * max(step, 2.0 * BIN_S)


def coarseness(values: FloatArray) -> float:
    """The usual distance between two readings that differ: a gauge's step where it reads in steps, else next to 0."""
    between = np.diff(np.unique(values))
    return median(between) if between.size else 0.0


def bin_means(time_s: FloatArray, values: FloatArray, step_s: float = BIN_S) -> tuple[FloatArray, FloatArray]:
    """Mean time and value of every ``step_s`` bin that holds a sample; shapes (m,), (m,)."""
    if time_s.size == 0:
        return np.empty(0), np.empty(0)
    index = np.floor((time_s - time_s[0]) / step_s).astype(np.intp)
    count = np.bincount(index)
    held = count > 0
    return (
        np.bincount(index, time_s)[held] / count[held],
        np.bincount(index, values)[held] / count[held],
    )


def smooth_total(
    time_s: FloatArray, total: FloatArray, *, window_s: float = WINDOW_S, monotone: bool = True, walk_per_s: float = 0.0
) -> Smoothed | None:
    """Estimate a growing total and its rate from noisy samples.

    Parameters
    ----------
    time_s, total : ndarray, shape (n,)
        Samples, time strictly increasing, no NaN.
    window_s : float
        Length of the local line, s.
    monotone : bool
        Leave out step 2 for a total that may truly fall.
    walk_per_s : float
        From :func:`walk_of`, for a total summed from a noisy rate.

    Returns
    -------
    Smoothed or None
        ``None`` with less than 10 s of samples.
    """
    t, y = bin_means(np.asarray(time_s, float), np.asarray(total, float))
    if t.size < 5 or t[-1] - t[0] < 10.0:
        return None
    grid = np.arange(t[0], t[-1] + BIN_S / 2, BIN_S)
    even = np.interp(grid, t, y)
    # A slow sensor gives fewer independent points than the grid has; the window must hold several of them.
    spacing = max(BIN_S, median(np.diff(t)))
    window = round(max(window_s, 5 * spacing) / BIN_S) | 1
    window = min(window, grid.size if grid.size % 2 else grid.size - 1)
    line, parabola = (local_polynomial(even, window, order) for order in (1, 2))
    scatter = even - parabola
    noise = float(np.sqrt(np.mean(scatter**2) * window / max(window - 3, 1)))
    inflation = _inflation(scatter) * spacing / BIN_S
    variance = noise**2 * inflation / window
    # By how much the two differ beyond noise is how far the straight line misses a total that bends.
    bend = max(float(np.mean((parabola - line) ** 2)) - 1.25 * variance, 0.0)
    bends = bend > 1.25 * variance
    raw = parabola if bends else line
    rose = np.maximum.accumulate(even)
    fell = float((rose - even).max())
    rise = float(even.max() - even.min())
    falls = max(0.0, fell - 4 * noise) / rise if rise > 0 else 0.0
    n = window
    # A straight line's slope through a random walk of variance w a second has variance 6 w / (5 n Δt).
    walk = 1.2 * walk_per_s / (n * BIN_S)
    rate = local_polynomial(_pooled(even) if monotone else even, n, 1, slope_per=BIN_S)
    return Smoothed(
        time_s=grid,
        total=_pooled(raw) if monotone else raw,
        rate_per_s=np.maximum(rate, 0.0) if monotone else rate,
        total_se=float(np.sqrt(2.25 * variance if bends else variance + bend)),
        rate_se=float(np.sqrt(12.0 * noise**2 * inflation / (n * (n * n - 1.0)) / BIN_S**2 + walk)),
        noise=noise,
        raw_falls=falls,
        window=window,
        walk_per_s=walk_per_s,
        step=0.0 if walk_per_s else coarseness(total),
    )


def _pooled(values: FloatArray) -> FloatArray:
    """The nearest line that never falls, by least squares."""
    if (np.diff(values) >= 0).all():
        return values
    from scipy import optimize  # slow to load, and a running total seldom falls

    return np.asarray(optimize.isotonic_regression(values).x, float)


def local_polynomial(values: FloatArray, window: int, order: int, slope_per: float = 0.0) -> FloatArray:
    """Value, or slope, of a polynomial fitted to the samples around each (Savitzky and Golay 1964).

    The first and last half window lie on the polynomial of the first and last whole one.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Evenly spaced.
    window : int
        Odd, n at most.
    slope_per : float
        Spacing of the samples, where the slope is wanted.
    """
    half, read = window // 2, _read_of_polynomial(window, order, slope_per)
    out = ndimage.correlate1d(values, read[half], mode="constant")
    out[:half], out[out.size - half :] = (read @ values[:window])[:half], (read @ values[-window:])[half + 1 :]
    return np.asarray(out, float)


@lru_cache(maxsize=64)
def _read_of_polynomial(window: int, order: int, slope_per: float) -> FloatArray:
    """What each sample of a window counts in the value, or slope, read at each of them; shape (window, window)."""
    half = window // 2
    place = np.arange(-half, half + 1) / max(half, 1)
    powers = np.vander(place, order + 1, increasing=True)
    fit = np.linalg.pinv(powers)
    if slope_per:
        fit = fit[1:] * np.arange(1.0, order + 1.0)[:, None] / (max(half, 1) * slope_per)
    return np.asarray(powers[:, : len(fit)] @ fit, float)


def _inflation(scatter: FloatArray) -> float:
    """(1 + r) / (1 − r) with the lag-one autocorrelation r: how many bins make one independent one; at least 1."""
    if scatter.size < 8 or not scatter.any():
        return 1.0
    r = float(np.dot(scatter[1:], scatter[:-1]) / np.dot(scatter, scatter))
    r = min(max(r, 0.0), 0.95)
    return (1 + r) / (1 - r)


def unwrap_counter(values: FloatArray) -> FloatArray:
    """A running count with its resets undone: after one it counts on from where it was.

    A fall to under half is a reset; a smaller one is a count that wavers, and stands as it is.
    """
    if values.size == 0:
        return values
    steps = np.diff(values)
    # After a reset the count restarts near zero, so the new value itself is what was added.
    steps = np.where(values[1:] < 0.5 * values[:-1], np.maximum(values[1:], 0.0), steps)
    out = summed(steps)
    out += values[0]
    return out


def longest_step_s(time_s: FloatArray) -> float:
    """Longest time between two samples that is no hole: three usual ones, or five seconds."""
    return max(5.0, 3.0 * usual_step_s(time_s)) if time_s.size > 1 else 5.0


def summed(steps: FloatArray) -> FloatArray:
    """Running sum of n steps from nought on, shape (n + 1,)."""
    out = np.zeros(steps.size + 1)
    np.cumsum(steps, out=out[1:])
    return out


def integrate(time_s: FloatArray, rate_per_s: FloatArray) -> FloatArray:
    """Running trapezoid of a rate, shape (n,); a hole (see :func:`longest_step_s`) adds nothing."""
    if time_s.size == 0:
        return np.empty(0)
    step = np.diff(time_s)
    area = np.where(step <= longest_step_s(time_s), 0.5 * (rate_per_s[1:] + rate_per_s[:-1]) * step, 0.0)
    return summed(area)
