"""How often a sensor is read."""

from __future__ import annotations

import weakref

from analyser.core.figures import FloatArray
from analyser.core.statistics.robust import median

_KNOWN: dict[int, tuple[weakref.ref[FloatArray], float, float]] = {}
"""By identity of an array that nobody changes: every analysis asks the same of the same instants."""


def usual_step_s(time_s: FloatArray) -> float:
    """The median time between two samples, s.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Strictly increasing, two samples or more. Of one that is read-only, as a telemetry's are, the answer is kept.

    Examples
    --------
    >>> import numpy as np
    >>> usual_step_s(np.array([0.0, 0.2, 0.4, 5.0]))
    0.2
    """
    return _steps_of(time_s)[0]


def longest_pause_s(time_s: FloatArray) -> float:
    """The longest time between two samples, s; as :func:`usual_step_s`.

    Examples
    --------
    >>> import numpy as np
    >>> longest_pause_s(np.array([0.0, 0.2, 0.5, 5.0]))
    4.5
    """
    return _steps_of(time_s)[1]


def _steps_of(time_s: FloatArray) -> tuple[float, float]:
    """The usual and the longest step."""
    key = id(time_s)
    known = _KNOWN.get(key)
    if known is not None and known[0]() is time_s:
        return known[1:]
    steps = time_s[1:] - time_s[:-1]
    found = median(steps), float(steps.max(initial=0.0))
    if not time_s.flags.writeable:
        _KNOWN[key] = weakref.ref(time_s, lambda _: _KNOWN.pop(key, None)), *found
    return found
