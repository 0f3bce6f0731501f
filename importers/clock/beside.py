"""A clock heard against another that only counts: where one is set, it leaps and the other goes on."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from importers.clock.order import GAP_S

FloatArray = npt.NDArray[np.float64]

LEAP_S = 1.5
"""Two clocks of whole seconds differ by less from row to row."""
HALF_DAY_S = 43_200.0


class Leaps(Struct, frozen=True):
    """``at`` which steps the clock leaps, bool, and ``by`` how many seconds it does there; both shape (n - 1,)."""

    at: npt.NDArray[np.bool_]
    by: FloatArray


def leaps(x: FloatArray, y: FloatArray, *, of_day: bool) -> Leaps:
    """Where a clock leaps while another goes on by a few of its usual steps.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Seconds of both.
    of_day : bool
        Whether the first one begins anew at midnight or noon.

    Examples
    --------
    >>> found = leaps(np.array([0.0, 1.0, 19.0, 20.0]), np.array([5.0, 6.0, 7.0, 8.0]), of_day=False)
    >>> found.by[found.at]
    array([17.])
    """
    steps = np.diff(y)
    by = np.diff(x) - steps
    if of_day:
        by = by - HALF_DAY_S * np.rint(by / HALF_DAY_S)
    ahead = steps[steps > 0]
    step = float(np.median(ahead)) if ahead.size else 0.0
    at = (np.abs(by) > max(LEAP_S, 3 * step)) & (by < GAP_S) & (steps >= 0) & (steps <= 5 * step + 1)
    return Leaps(at, by)


class Beside(Struct):
    """The same block by block: readings of a clock without its leaps.

    ``even`` where the count is even to the last digit: it may count rows, and a leap ahead be a pause.
    """

    of_day: bool
    even: bool
    moved: float = 0.0
    mended: int = 0
    _last: tuple[float, float] | None = None

    def settled(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Seconds of the clock, later ones moved by what it leapt; ``y`` is NaN where the count has no reading."""
        there = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
        if not there.size:
            return x + self.moved if self.moved else x
        first = [] if self._last is None else [self._last]
        own = np.concatenate([[f[0] for f in first], x[there]])
        other = np.concatenate([[f[1] for f in first], y[there]])
        self._last = float(own[-1]), float(other[-1])
        found = leaps(own, other, of_day=self.of_day)
        at = found.at & (found.by < 0) if self.even else found.at
        if not (at.any() or self.moved):
            return x
        moves = np.zeros(x.size)
        where = there[1 - len(first) :][at]
        moves[where] = -found.by[at]
        self.mended += int(at.sum())
        total = self.moved + np.cumsum(moves)
        self.moved = float(total[-1])
        return np.asarray(x + total)
