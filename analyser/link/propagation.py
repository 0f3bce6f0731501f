"""What distance alone does to a signal: free-space loss (ITU-R P.525), two-ray ground effect, a fitted exponent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray
from analyser.core.statistics.distributions import student_quantile

LIGHT_M_S = 299_792_458.0
LEAST_SPREAD_DB = 0.5
NEAREST_M = 3.0
"""Closer than this the far-field relation says nothing; ranges are held at it."""
SHOWS = 3.3
"""Standard errors by which the ground ray must show: several predictions are tried, so more than the usual two."""
DEFAULT_MHZ = 2440.0
"""Middle of the 2.4 GHz band, assumed where the owner gave no frequency; it moves every level alike."""


def free_space_loss_db(range_m: FloatArray, mhz: float) -> FloatArray:
    """Free-space basic transmission loss between isotropic antennas (ITU-R P.525), dB.

    ``Lbf = 32.4 + 20 log10 f(MHz) + 20 log10 d(km)``; ranges under :data:`NEAREST_M` are held there.

    Raises
    ------
    ValueError
        If ``mhz`` is not positive.
    """
    if not mhz > 0:
        raise ValueError(f"frequency must be positive, got {mhz}")
    d_km = np.maximum(np.asarray(range_m, float), NEAREST_M) / 1000.0
    return np.asarray(32.4 + 20 * np.log10(mhz) + 20 * np.log10(d_km))


def two_ray_gain_db(
    ground_range_m: FloatArray, height_m: FloatArray, pilot_height_m: float, mhz: float, reflection: float = -0.9,
    height_error_m: float = 0.0,
) -> FloatArray:  # fmt: skip
    """Direct plus ground-reflected ray against the direct ray alone, dB (two-ray model; Rappaport, ch. 4).

    ``reflection`` is the ground's coefficient; near −1 at grazing incidence. ``height_error_m`` is how far the height
    may be off (standard deviation): where that turns the ground ray's phase about, its mean effect in decibels fades
    to nothing (Jensen's formula).
    """
    d = np.maximum(np.asarray(ground_range_m, float), NEAREST_M)
    h = np.maximum(np.asarray(height_m, float), 0.0)
    direct = np.hypot(d, h - pilot_height_m)
    bounced = np.hypot(d, h + pilot_height_m)
    phase = 2 * np.pi * (bounced - direct) * mhz * 1e6 / LIGHT_M_S
    ground = reflection * (direct / bounced)
    # For a Gaussian error of phase the mean of its cosine shrinks by exp(−σ²/2).
    turned = 4 * np.pi * pilot_height_m * height_error_m / d * mhz * 1e6 / LIGHT_M_S
    known = np.exp(-0.5 * turned**2)
    power = 1 + known * (2 * ground * np.cos(phase) + ground**2)
    return np.asarray(10 * np.log10(np.maximum(power, 1e-6)))


@dataclass(frozen=True, slots=True)
class DistanceFit:
    """How a signal really fell with distance, direction held equal.

    ``exponent`` is 2 in free space; ``low`` … ``high`` its 95 % interval from blocks of 10 s and from directions.
    ``two_ray_gain`` is the regression of the residual on the two-ray prediction (1 where the ground shows as predicted,
    0 where it doesn't), ``left_db`` the standard deviation the fit leaves, ``height_error_m`` the error of height the
    prediction allowed for.
    """

    exponent: float
    low: float
    high: float
    two_ray_gain: float
    two_ray_shows: bool
    left_db: float = float("nan")
    height_error_m: float = 0.0


def fit_distance(
    level_db: FloatArray,
    range_m: FloatArray,
    direction: npt.NDArray[np.intp],
    block: npt.NDArray[np.intp],
    two_ray_db: FloatArray | None = None,
) -> DistanceFit | None:
    """Fit the exponent left over after free-space loss, with an intercept of its own for every body direction.

    Parameters
    ----------
    level_db : ndarray, shape (n,)
        Signal plus free-space loss.
    range_m : ndarray, shape (n,)
        Slant range.
    direction : ndarray of int, shape (n,)
        Bin of body direction: distance is judged only between samples seen from the same side.
    block : ndarray of int, shape (n,)
        Samples of one block (a few seconds) resemble each other; the error is worked out from block sums.
    two_ray_db : ndarray, shape (n,), optional
        The two-ray prediction at each sample.

    Returns
    -------
    DistanceFit or None
        ``None`` where the ranges seen are too alike to tell (standard
        deviation under :data:`LEAST_SPREAD_DB` within directions).
    """
    log_d = 10 * np.log10(np.maximum(range_m, NEAREST_M))
    columns = [log_d] if two_ray_db is None else [log_d, two_ray_db]
    count = np.maximum(np.bincount(direction), 1)

    def within(v: FloatArray) -> FloatArray:
        return np.asarray(v - (np.bincount(direction, v) / count)[direction])

    x = np.column_stack([within(c) for c in columns])
    y = within(np.clip(level_db, *np.quantile(level_db, [0.02, 0.98]))) if level_db.size else level_db
    if level_db.size < 50 or float(x[:, 0].std()) < LEAST_SPREAD_DB:
        return None
    cross = x.T @ x
    if np.linalg.cond(cross) > 1e8:
        return None
    beta = np.linalg.solve(cross, x.T @ y)

    def variance(groups: npt.NDArray[np.intp]) -> tuple[FloatArray, int]:
        """Variance of the slopes by leaving out one group after the other, and how many groups there are."""
        at, inverse = np.unique(groups, return_inverse=True)
        n = at.size
        squares = np.stack([[np.bincount(inverse, a * b, n) for b in x.T] for a in x.T])  # (c, c, n)
        products = np.stack([np.bincount(inverse, a * y, n) for a in x.T])  # (c, n)
        rest = cross[:, :, None] - squares
        fair = np.abs(np.linalg.det(np.moveaxis(rest, 2, 0))) > 1e-9 * np.abs(np.linalg.det(cross))
        left = np.linalg.solve(np.moveaxis(rest, 2, 0)[fair], ((x.T @ y)[:, None] - products).T[fair][:, :, None])
        off = left[:, :, 0] - beta
        return np.asarray((n - 1) / n * (off**2).sum(axis=0), float), n

    # What a direction's bin hides of the pattern repeats with every lap, so samples resemble each other by time and by
    # direction: clusters both ways (Cameron, Gelbach and Miller, J. Business & Economic Statistics
    # 29, 2011; reference [4] of ``statsmodels.stats.sandwich_covariance``), each by leaving one out, because the plain
    # sum over few uneven clusters is too small.
    by_time, blocks = variance(block)
    by_direction, bins = variance(direction)
    by_both, _ = variance(block * (int(direction.max()) + 1) + direction)
    se = np.sqrt(by_time + np.maximum(by_direction - by_both, 0.0))
    exponent = 2.0 - float(beta[0])
    half = float(student_quantile(0.975, max(min(blocks, bins) - 2, 2)) * se[0])
    gain = float(beta[1]) if two_ray_db is not None else 0.0
    shows = two_ray_db is not None and gain > SHOWS * float(se[1]) and gain > 0.3
    left = float((y - x @ beta).std())
    return DistanceFit(exponent, exponent - half, exponent + half, gain, bool(shows), left)
