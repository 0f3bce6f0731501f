"""What distance alone does to a signal: free-space loss (ITU-R P.525), two-ray ground effect, a fitted exponent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

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


@dataclass(frozen=True, slots=True, eq=False)
class Alike:
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


@dataclass(frozen=True, slots=True, eq=False)
class _Slopes:
    """Least squares of a level over its regressors, each less its mean over the samples of one direction."""

    x: FloatArray
    y: FloatArray
    cross: FloatArray
    beta: FloatArray

    def variance(self, group: npt.NDArray[np.intp], n: int) -> FloatArray:
        """Variance of the slopes by leaving out one of ``n`` groups after the other."""
        columns = np.ascontiguousarray(self.x.T)
        right = self.x.T @ self.y
        rest = np.empty((n, len(columns), len(columns)))
        for i, a in enumerate(columns):
            for j, b in enumerate(columns[: i + 1]):
                rest[:, i, j] = rest[:, j, i] = self.cross[i, j] - np.bincount(group, a * b, n)
        products = np.stack([np.bincount(group, a * self.y, n) for a in columns])  # (c, n)
        fair = np.abs(np.linalg.det(rest)) > 1e-9 * np.abs(np.linalg.det(self.cross))
        left = np.linalg.solve(rest[fair], (right[:, None] - products).T[fair][:, :, None])
        off = left[:, :, 0] - self.beta
        return np.asarray((n - 1) / n * (off**2).sum(axis=0), float)


@dataclass(frozen=True, slots=True, eq=False)
class Fall:
    """A level and the distance it was received from, each less its mean over the samples of one direction."""

    level: FloatArray
    log_d: FloatArray
    alike: Alike

    @classmethod
    def of(cls, level_db: FloatArray, range_m: FloatArray, alike: Alike) -> Fall | None:
        """Set a level against distance.

        Parameters
        ----------
        level_db : ndarray, shape (n,)
            Signal plus free-space loss.
        range_m : ndarray, shape (n,)
            Slant range.
        alike : Alike
            Distance is judged only between samples seen from the same side; samples of one block of time (a few
            seconds) resemble each other, and the error is worked out from sums over these.

        Returns
        -------
        Fall or None
            ``None`` with under 50 samples, and where the ranges seen are too alike to tell (standard deviation under
            :data:`LEAST_SPREAD_DB` within directions).
        """
        if level_db.size < 50:
            return None
        log_d = alike.within(10 * np.log10(np.maximum(range_m, NEAREST_M)))
        if float(log_d.std()) < LEAST_SPREAD_DB:
            return None
        low, high = quantiles(level_db, 0.02, 0.98)
        return cls(alike.within(np.clip(level_db, low, high)), log_d, alike)

    def exponent(self, two_ray_db: FloatArray | None = None) -> float | None:
        """The exponent alone of :meth:`fit`, without how sure it is."""
        found = self._slopes(two_ray_db)
        return None if found is None else 2.0 - float(found.beta[0])

    def fit(self, two_ray_db: FloatArray | None = None) -> DistanceFit | None:
        """Fit the exponent left over after free-space loss, with an intercept of its own for every body direction.

        Parameters
        ----------
        two_ray_db : ndarray, shape (n,), optional
            The two-ray prediction at each sample.

        Returns
        -------
        DistanceFit or None
            ``None`` where the two predictors are too alike to tell, and where the ground does not show as predicted.
        """
        found = self._slopes(two_ray_db)
        gain = float(found.beta[1]) if found is not None and two_ray_db is not None else 0.0
        if found is None or (two_ray_db is not None and not gain > LEAST_GAIN):
            return None
        # What a direction's bin hides of the pattern repeats with every lap, so samples resemble each other by time and
        # by direction: clusters both ways (Cameron, Gelbach and Miller, J. Business & Economic Statistics
        # 29, 2011; reference [4] of ``statsmodels.stats.sandwich_covariance``), each by leaving one out, because the
        # plain sum over few uneven clusters is too small. What both share is not taken off: the wave leans with the
        # bank, laps bank where they did before, and an interval without it kept 80 to 88 % where antennas heard that.
        groups = self.alike.groups
        by_time, by_direction = (found.variance(*group) for group in groups)
        se = np.sqrt(by_time + by_direction)
        if two_ray_db is not None and not gain > SHOWS * float(se[1]):
            return None
        exponent = 2.0 - float(found.beta[0])
        fewest = min(groups[0][1], groups[1][1])
        half = float(student_quantile(0.975, max(fewest - 2, 2)) * se[0])
        left = float((found.y - found.x @ found.beta).std())
        return DistanceFit(exponent, exponent - half, exponent + half, gain, two_ray_db is not None, left)

    def _slopes(self, two_ray_db: FloatArray | None) -> _Slopes | None:
        columns = [self.log_d] if two_ray_db is None else [self.log_d, self.alike.within(two_ray_db)]
        x = np.column_stack(columns)
        cross = x.T @ x
        if len(columns) > 1 and np.linalg.cond(cross) > 1e8:
            return None
        return _Slopes(x, self.level, cross, np.asarray(np.linalg.solve(cross, x.T @ self.level), float))
