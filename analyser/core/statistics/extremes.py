"""How far a quantity may have gone between its samples, beyond the highest of them.

What is seen above a high level is taken to fall off exponentially, as normal and gamma-like tails nearly do. Values
near in time are one event: they resemble each other for as long as neighbouring samples show, and what lies between two
samples further apart than that was not seen. Of so many unseen events, each over a level with an exponential's chance,
the greatest follows.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray
from analyser.core.statistics.robust import quantiles
from analyser.core.statistics.sampling import usual_step_s

TAIL = 0.1
"""Share of the samples that tell the tail."""
FEWEST = 30
CHANCE = 0.025
"""Chance that the unseen went further than told: one end of a 95 % interval."""


def unseen_excess(time_s: FloatArray, values: FloatArray, quickest_s: float) -> float:
    """How much more than its highest sample a quantity may have reached between samples, 97.5 % sure.

    Parameters
    ----------
    time_s, values : ndarray, shape (n,)
        Samples, time strictly increasing, without NaN.
    quickest_s : float
        What is over sooner than this does not happen.

    Returns
    -------
    float
        In the unit of ``values``, 0 or more; 0 with fewer than 30 samples that differ (nothing tells a tail).

    Examples
    --------
    >>> t = np.arange(0.0, 100.0, 0.01)
    >>> unseen_excess(t, np.sin(t), 0.2) < 0.02
    True
    """
    if values.size < FEWEST or not np.ptp(values) > 0.0:
        return 0.0
    (level,) = quantiles(values, 1.0 - TAIL)
    above = values > level
    over = values[above] - level
    if over.size < 3:
        return 0.0
    scale = float(over.mean()) * (1.0 + 1.0 / np.sqrt(over.size))
    gaps = np.diff(time_s)
    lasts = max(_lasts(gaps, usual_step_s(time_s), values, above), quickest_s)
    seen = float((1.0 - np.exp(-gaps / lasts)).sum()) + 1.0
    unseen = max(float(gaps.sum()) / lasts + 1.0 - seen, 0.0) / seen
    # Samples of one event count once: the tail's rate is that of events.
    events = over.size * seen / values.size
    reach = scale * float(np.log(max(unseen * events / -np.log1p(-CHANCE), 1e-300)))
    return float(max(reach - float(over.max()), 0.0))


def _lasts(gaps: FloatArray, usual_s: float, values: FloatArray, above: npt.NDArray[np.bool_]) -> float:
    """How long values resemble each other, s: by the correlation of neighbours, or high ones by what follows them.

    Both as an exponential's; the shorter, for what stands high is often over sooner.
    """
    near = gaps <= 2.0 * usual_s
    off = values - values.mean()
    alike = float((off[1:] * off[:-1]) @ near) / int(np.count_nonzero(near)) / float(off @ off / off.size)
    share, begun = float(above.mean()), above[:-1] & near
    stays = int(np.count_nonzero(above[1:] & begun)) / max(int(np.count_nonzero(begun)), 1)
    alike = min(alike, (stays - share) / (1.0 - share))
    return usual_s / -float(np.log(np.clip(alike, 1e-6, 1.0 - 1e-6)))
