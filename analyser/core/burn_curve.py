"""An engine's burn against shaft speed: ``q(n) = q0 + q3 (n / n_max)³``.

At one flow coefficient a compressor's power goes with the cube of its speed (the affinity laws of fans and pumps,
common practice, no source), and fuel flow follows power over a floor that keeps the engine alight. Two constants
describe an engine well between idle and full speed; more would follow the sensor's noise. How far flights lie off it is
learned from them and carried, so that nothing rests on the law alone. The fit is by Huber's loss
(``scipy.optimize.least_squares``) with its elbow at 1.345 times the residuals' own spread (Huber 1964), so a few
seconds of acceleration do not bend it.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyser.core.figures import FloatArray
from analyser.core.statistics.robust import robust_sd

STANDING_SHARE = 0.1
"""Below this share of full speed an engine burns nothing: it stands, is spun by the starter or cools."""
ELBOW = 1.345


class BurnCurve(Struct, frozen=True):
    """A fitted curve: ``floor`` and ``cubic`` in mL/min at ``max_rpm``, with scatter and the share of time covered."""

    engine: str
    floor_ml_per_min: float
    cubic_ml_per_min: float
    max_rpm: float
    scatter_ml_per_min: float
    seconds: float

    def at(self, speed_rpm: FloatArray) -> FloatArray:
        """Burn at these shaft speeds, mL/min, same shape; zero where the engine stands."""
        return _burn(speed_rpm, self.floor_ml_per_min, self.cubic_ml_per_min, self.max_rpm)

    def referred_to(self, max_rpm: float, factor: float = 1.0) -> tuple[float, float]:
        """Floor and cubic of ``factor`` times the same curve with another full speed, mL/min."""
        return factor * self.floor_ml_per_min, factor * self.cubic_ml_per_min * (max_rpm / self.max_rpm) ** 3


def fit_burn_curve(engine: str, speed_rpm: FloatArray, burn_ml_per_min: FloatArray) -> BurnCurve | None:
    """Fit a burn curve to one-second pairs of shaft speed and burn rate.

    Returns
    -------
    BurnCurve or None
        ``None`` with under 60 s of pairs or under a quarter of the speed range covered: a curve through one
        point would be a guess.
    """
    speed, burn = np.asarray(speed_rpm, float), np.asarray(burn_ml_per_min, float)
    good = np.isfinite(speed) & np.isfinite(burn) & (speed > 0)
    speed, burn = speed[good], burn[good]
    if speed.size < 60:
        return None
    top = float(speed.max())
    x = (speed / top) ** 3
    if np.ptp(speed) < 0.25 * top:
        return None
    design = np.column_stack([np.ones(x.size), x])
    start = np.linalg.lstsq(design, burn)[0]
    # To the last digit alike is a rounding artefact: the elbow never falls below a thousandth of the burn.
    elbow = ELBOW * max(robust_sd(burn - design @ start), 1e-3 * float(np.abs(burn).max()), 1e-9)

    def misfit(p: FloatArray) -> FloatArray:
        return np.asarray(design @ p - burn, float)

    def slopes(_: FloatArray) -> FloatArray:
        return design.copy()  # SciPy 1.14 weighs what it is given in place

    from scipy import optimize  # slow to load, and the importer needs the shape of a curve only

    fit = optimize.least_squares(misfit, x0=start, jac=slopes, loss="huber", f_scale=elbow, x_scale="jac")
    return BurnCurve(
        engine, float(fit.x[0]), float(fit.x[1]), top, robust_sd(burn - design @ fit.x), seconds=float(speed.size)
    )


def _burn(speed_rpm: FloatArray, floor: float, cubic: float, max_rpm: float) -> FloatArray:
    share = np.asarray(speed_rpm, float) / max_rpm
    return np.where(share > STANDING_SHARE, np.maximum(floor + cubic * share**3, 0.0), 0.0)


class LearnedCurve(Struct, frozen=True):
    """The burn curve that stands in for a fuel sensor, and how far one flight's own curve may lie from it.

    ``flights`` counts those it was learned over; 0 where the owner stated it. ``variance`` holds the variances of
    floor and cubic and, between them, their covariance, all in (mL/min)²; it is scaled so that 1.96 standard errors
    hold 95 % however few the flights. ``checked`` says whether the teaching sensor was checked by volumes put in.
    """

    engine: str
    floor_ml_per_min: float
    cubic_ml_per_min: float
    max_rpm: float
    flights: int
    variance: tuple[float, float, float]
    checked: bool = True

    def at(self, speed_rpm: FloatArray) -> FloatArray:
        """Burn at these shaft speeds, mL/min, same shape; zero where the engine stands."""
        return _burn(speed_rpm, self.floor_ml_per_min, self.cubic_ml_per_min, self.max_rpm)

    def half_percent(self, share: float) -> float:
        """Half width of the 95 % interval of one flight's burn at a share of full speed, percent of that burn."""
        v, c, w = self.variance
        se = np.sqrt(max(v + 2.0 * c * share**3 + w * share**6, 0.0))
        return float(100.0 * 1.959964 * se / max(self.floor_ml_per_min + self.cubic_ml_per_min * share**3, 1e-9))
