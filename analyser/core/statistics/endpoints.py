"""Where a figure over flights stands today and where it began, each with its standard error, robust to odd flights."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyser.core.figures import Figure, FloatArray
from analyser.core.statistics.robust import MEDIAN_SE, robust_sd

LATE = 3
"""How many of the first, or the last, flights stand for the beginning, or for today."""


class Standing(Struct, frozen=True):
    """A value, its standard error by the flights' scatter alone, and over how many flights."""

    value: float
    se: float
    flights: int


def at_last(order: FloatArray, values: FloatArray, trend: Figure) -> Standing | None:
    """The end of the robust line, or the last three's median where there is no line; NaNs are left out."""
    good = np.isfinite(values)
    x, y = order[good], values[good]
    if y.size == 0:
        return None
    if trend.value is None:
        recent = y[-LATE:]
        spread = float(np.std(recent, ddof=1)) if recent.size > 1 else 0.1 * abs(float(recent[0]))
        return Standing(float(np.median(recent)), spread, int(y.size))
    line = float(np.median(y - trend.value * x)) + trend.value * x
    # A straight line's end is twice as uncertain as its middle.
    spread = robust_sd(y - line) * 2.0 * MEDIAN_SE / float(np.sqrt(y.size))
    return Standing(float(line[-1]), max(spread, 1e-9), int(y.size))


def at_first(values: FloatArray) -> Standing | None:
    """Median of the first three known values; its error by the scatter from one flight to the next."""
    known = values[np.isfinite(values)]
    if known.size == 0:
        return None
    first = known[:LATE]
    # Half the squared differences of neighbours: a trend adds nothing to it.
    step = np.diff(known)
    scatter = robust_sd(step - np.median(step)) / np.sqrt(2.0) if step.size > 1 else 0.0
    return Standing(float(np.median(first)), MEDIAN_SE * float(scatter) / float(np.sqrt(first.size)), int(known.size))
