"""How often a sensor is read."""

from __future__ import annotations

import weakref

import numpy as np

from analyser.core.figures import FloatArray
from analyser.core.statistics.robust import median

_KNOWN: dict[int, tuple[weakref.ref[FloatArray], float]] = {}
"""By identity of an array that nobody changes: every analysis asks the same of the same instants."""


def usual_step_s(time_s: FloatArray) -> float:
    """The median time between two samples, s.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Strictly increasing, two samples or more. Of one that is read-only, as a telemetry's are, the answer is kept.

    Examples
    --------
    >>> usual_step_s(np.array([0.0, 0.2, 0.4, 5.0]))
    0.2
    """
    if time_s.flags.writeable:
        return median(np.diff(time_s))
    key = id(time_s)
    known = _KNOWN.get(key)
    if known is None or known[0]() is not time_s:
        known = weakref.ref(time_s, lambda _: _KNOWN.pop(key, None)), median(np.diff(time_s))
        _KNOWN[key] = known
    return known[1]
