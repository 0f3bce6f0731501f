"""What distance alone does to a signal: free-space loss (ITU-R P.525), two-ray ground effect, a fitted exponent."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.figures import FloatArray
from analyser.core.statistics.distributions import student_quantile
from analyser.core.statistics.robust import quantiles

LIGHT_M_S = 299_792_458.0
LEAST_SPREAD_DB = 0.5
NEAREST_M = 3.0
"""Closer than this the far-field relation says nothing; ranges are held at it."""
SHOWS = 3.3
"""Standard errors by which the ground ray must show: several predictions are tried, so more than the usual two."""
LEAST_GAIN = 0.3
"""Share of its prediction at which the ground ray must show."""
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


class DistanceFit(Struct, frozen=True):
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


class Alike(Struct, frozen=True, eq=False):
    """Which samples resemble each other: those of one body direction and those of one block of time.

    ``direction``, shape (n,), is each sample's bin, ``count`` how many samples each bin has, one at least; ``groups``
    holds, by time and by direction, each sample's group and how many there are.
    """

    direction: npt.NDArray[np.intp]
    count: npt.NDArray[np.intp]
    groups: tuple[tuple[npt.NDArray[np.intp], int], ...]

    @classmethod
    def of(cls, direction: npt.NDArray[np.intp], block: npt.NDArray[np.intp]) -> Alike:
        """Sort samples by bin of direction and by block of time, both of shape (n,)."""
        sorted_by = (np.unique(one, return_inverse=True) for one in (block, direction))
        groups = tuple((inverse, at.size) for at, inverse in sorted_by)
        return cls(direction, np.maximum(np.bincount(direction), 1), groups)

    def within(self, values: FloatArray) -> FloatArray:
        """Values less their mean over the samples of one direction, shape (n,)."""
        return np.asarray(values - (np.bincount(self.direction, values) / self.count)[self.direction], float)


def bulk(level_db: FloatArray) -> FloatArray:
    """A level (signal plus free-space loss) held within its bulk, shape (n,)."""
    low, high = quantiles(level_db, 0.02, 0.98)
    return np.minimum(np.maximum(level_db, low), high)


class Distances(Struct, frozen=True, eq=False, dict=True):
    """What levels are set against: distance and perhaps the ground ray, less their means over one direction.

    Made once for all antennas that are heard at the same instants.

    Parameters
    ----------
    alike : Alike
        Distance is judged only between samples seen from the same side; samples of one block of time (a few seconds)
        resemble each other, and the error is worked out from sums over these.
    x : ndarray, shape (1 or 2, n)
        Ten times the logarithm of the distance, and the two-ray prediction where it is tried.
    cross : ndarray, shape (c, c)
        Sums of their products.
    """

    alike: Alike
    x: FloatArray
    cross: FloatArray

    @classmethod
    def of(cls, range_m: FloatArray, alike: Alike, two_ray_db: FloatArray | None = None) -> Distances | None:
        """Lay out slant ranges, and the two-ray prediction at each sample, both of shape (n,).

        Returns
        -------
        Distances or None
            ``None`` with under 50 samples, where the ranges seen are too alike to tell (standard deviation under
            :data:`LEAST_SPREAD_DB` within directions), and where the two predictors are too alike to tell.
        """
        log_d = alike.within(10 * np.log10(np.maximum(range_m, NEAREST_M)))
        if range_m.size < 50 or float(log_d.std()) < LEAST_SPREAD_DB:
            return None
        x = np.stack([log_d] if two_ray_db is None else [log_d, alike.within(two_ray_db)])
        cross = x @ x.T
        if len(x) > 1 and np.linalg.cond(cross) > 1e8:
            return None
        return cls(alike, x, cross)

    def exponent(self, level: FloatArray) -> float:
        """The exponent alone of :meth:`fit`, without how sure it is."""
        return 2.0 - float(self._read @ level)

    @cached_property
    def _read(self) -> FloatArray:
        """What each sample counts in the slope over distance; its means over directions count nothing, shape (n,)."""
        return np.asarray(np.linalg.solve(self.cross, self.x)[0], float)

    def fit(self, level: FloatArray) -> DistanceFit | None:
        """Fit the exponent left over after free-space loss, with an intercept of its own for every body direction.

        Parameters
        ----------
        level : ndarray, shape (n,)
            Less its means over the samples of one direction.

        Returns
        -------
        DistanceFit or None
            ``None`` where the ground is tried and does not show as predicted.
        """
        beta = np.asarray(np.linalg.solve(self.cross, self.x @ level), float)
        grounded = len(beta) > 1
        if grounded and not beta[1] > LEAST_GAIN:
            return None
        # What a direction's bin hides of the pattern repeats with every lap, so samples resemble each other by time and
        # by direction: clusters both ways (Cameron, Gelbach and Miller, J. Business & Economic Statistics
        # 29, 2011; reference [4] of ``statsmodels.stats.sandwich_covariance``), each by leaving one out, because the
        # plain sum over few uneven clusters is too small. What both share is not taken off: the wave leans with the
        # bank, laps bank where they did before, and an interval without it kept 80 to 88 % where antennas heard that.
        by_time, by_direction = (groups.variance(self.x, level, beta) for groups in self._groups)
        se = np.sqrt(by_time + by_direction)
        if grounded and not beta[1] > SHOWS * se[1]:
            return None
        exponent = 2.0 - float(beta[0])
        fewest = min(n for _, n in self.alike.groups)
        half = float(student_quantile(0.975, max(fewest - 2, 2)) * se[0])
        left = float((level - beta @ self.x).std())
        return DistanceFit(exponent, exponent - half, exponent + half, float(beta[1:].sum()), grounded, left)

    @cached_property
    def _groups(self) -> tuple[_LeftOut, ...]:
        return tuple(_LeftOut.of(self.x, self.cross, *group) for group in self.alike.groups)


class _LeftOut(Struct, frozen=True, eq=False):
    """Least squares with one group of samples after the other left out, as far as the predictors alone go.

    ``group``, shape (n,), is each sample's, of ``count``; ``fair``, shape (count,), says which may be left out;
    ``rest``, shape (fair, c, c), holds sums of products without them.
    """

    group: npt.NDArray[np.intp]
    count: int
    fair: npt.NDArray[np.bool_]
    rest: FloatArray

    @classmethod
    def of(cls, x: FloatArray, cross: FloatArray, group: npt.NDArray[np.intp], count: int) -> _LeftOut:
        """Sum up group by group."""
        rest = np.empty((count, len(x), len(x)))
        for i, a in enumerate(x):
            for j, b in enumerate(x[: i + 1]):
                rest[:, i, j] = rest[:, j, i] = cross[i, j] - np.bincount(group, a * b, count)
        fair = np.abs(np.linalg.det(rest)) > 1e-9 * np.abs(np.linalg.det(cross))
        return cls(group, count, fair, rest[fair])

    def variance(self, x: FloatArray, level: FloatArray, beta: FloatArray) -> FloatArray:
        """Variance of the slopes ``beta``, shape (c,)."""
        lost = np.stack([np.bincount(self.group, a * level, self.count) for a in x])  # (c, count)
        left = np.linalg.solve(self.rest, ((x @ level)[:, None] - lost).T[self.fair][:, :, None])
        return np.asarray((self.count - 1) / self.count * ((left[:, :, 0] - beta) ** 2).sum(axis=0), float)
