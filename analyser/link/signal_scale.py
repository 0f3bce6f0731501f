"""Percent and maker's counts are not dB. What one step is worth in dB may be learned from distance, as an estimate.

Over a flight the free-space loss at each instant is known; the typical percent at each loss, forced to fall as loss
grows (isotonic regression, pool-adjacent-violators), read backwards gives dB for a percent.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyser.core.figures import FloatArray
from analyser.core.statistics.distributions import ranks

FEWEST_SAMPLES = 100
STEP_DB = 1.0
WEAKEST_RANK_CORRELATION = 0.3


class Calibration(Struct, frozen=True, eq=False):
    """A monotone curve from a signal in percent or counts to a level in dB, up to one constant.

    ``signal`` (k,) rises strictly, ``level_db`` (k,) rises; the level is minus the free-space loss at which that signal
    is typical.
    """

    signal: FloatArray
    level_db: FloatArray

    def to_db(self, signal: FloatArray) -> FloatArray:
        """Levels for signals; beyond the learned span the curve goes on with its mean slope."""
        s, v = self.signal, self.level_db
        slope = (v[-1] - v[0]) / (s[-1] - s[0])
        inside = np.interp(signal, s, v)
        return np.asarray(
            np.where(
                signal < s[0],
                v[0] + (signal - s[0]) * slope,
                np.where(signal > s[-1], v[-1] + (signal - s[-1]) * slope, inside),
            )
        )


def learn_scale(signal: FloatArray, loss_db: FloatArray) -> Calibration | None:
    """Learn what a signal in percent or counts is worth from the free-space loss at each sample.

    Returns
    -------
    Calibration or None
        ``None`` with too few samples or where the signal does not fall with distance (rank correlation weaker than
        −0.3): then nothing can be learned, and the signal stays in its own unit.
    """
    if signal.size < FEWEST_SAMPLES or float(np.ptp(loss_db)) < 6.0 or float(np.ptp(signal)) <= 0:
        return None
    rho = float(np.corrcoef(ranks(signal), ranks(loss_db))[0, 1])
    if not rho < -WEAKEST_RANK_CORRELATION:
        return None
    bin_ = np.floor(loss_db / STEP_DB).astype(np.intp)
    order = np.lexsort((signal, bin_))
    bins, first, count = np.unique(bin_[order], return_index=True, return_counts=True)
    keep = count >= 10
    if keep.sum() < 4:
        return None
    middle = signal[order][first + count // 2][keep]
    from scipy import optimize  # slow to load, and few receivers need it

    # Isotonic in −loss: a stronger level never shows less signal.
    level = -(bins[keep] + 0.5) * STEP_DB
    level, middle, weight = level[::-1], middle[::-1], count[keep][::-1]
    rising = optimize.isotonic_regression(middle, weights=weight.astype(float)).x
    # Levels that share one signal value: their weighted mean, so that the curve can be read backwards.
    values, which = np.unique(rising, return_inverse=True)
    if values.size < 3:
        return None
    mean = np.bincount(which, level * weight) / np.bincount(which, weight)
    return Calibration(values, mean)
