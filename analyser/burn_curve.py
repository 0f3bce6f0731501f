"""An engine's burn against shaft speed: ``q(n) = q0 + q3 (n / n_max)³``.

A turbine's shaft power to its compressor grows with the cube of speed (the fan laws, from memory; any text on
turbomachinery), and fuel flow follows power over a floor that keeps it alight. Two constants describe an
engine well between idle and full speed; more would follow the sensor's noise. The fit is by Huber's loss
(``scipy.optimize.least_squares``), so a few seconds of acceleration do not bend it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize

from analyser.figures import FloatArray


@dataclass(frozen=True, slots=True)
class BurnCurve:
    """A fitted curve: ``floor`` and ``cubic`` in mL/min at ``max_rpm``, with scatter and the share of time covered."""

    engine: str
    floor_ml_per_min: float
    cubic_ml_per_min: float
    max_rpm: float
    scatter_ml_per_min: float
    seconds: float

    def at(self, speed_rpm: FloatArray) -> FloatArray:
        """Burn at these shaft speeds, mL/min, same shape; zero where the engine stands."""
        share = np.asarray(speed_rpm, float) / self.max_rpm
        return np.where(share > 0.1, self.floor_ml_per_min + self.cubic_ml_per_min * share**3, 0.0)


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
    scale = max(float(np.median(np.abs(burn - np.median(burn)))), 1.0)

    def misfit(p: FloatArray) -> FloatArray:
        return np.asarray((p[0] + p[1] * x - burn) / scale, float)

    fit = optimize.least_squares(misfit, x0=[float(burn.min()), float(np.ptp(burn))], loss="huber")
    left = burn - (fit.x[0] + fit.x[1] * x)
    return BurnCurve(
        engine, float(fit.x[0]), float(fit.x[1]), top, float(1.4826 * np.median(np.abs(left))), float(speed.size)
    )
