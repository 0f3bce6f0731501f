"""Clocks that are set while they log: a receiver of satellite time starts on a day of its own and then jumps.

Until it knows the time a receiver counts from 1970, 1980 or 2000, or from a far day such as 2036 or 2080; counters of
milliseconds since power-on become milliseconds since 1970. Such a jump is no silence, and the rows on both sides of it
belong to one flight.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct

KNOWN_FROM_NS = 1_104_537_600 * 10**9
"""2005-01-01: a clock that says an earlier day has not been set. Common practice, no source."""
KNOWN_TO_NS = 2_082_758_400 * 10**9
"""2036-01-01: so has one that says a later day."""
YEAR_S = 365.25 * 86_400
STAYS = 5
"""Rows that a clock must stay where it jumped to; fewer are strays."""


class Setting(Struct):
    """Which readings are of a clock that has been set.

    Parameters
    ----------
    low, high : float
        Readings from ``low`` and below ``high`` are.
    set : bool or None
        Whether the last reading seen was; None before the first.
    """

    low: float = -np.inf
    high: float = np.inf
    set: bool | None = None

    def jumps(
        self, raw: npt.NDArray[np.float64], last: float | None, step: float
    ) -> tuple[npt.NDArray[np.float64], bool]:
        """By how much the readings from each row on are to be moved so that a jump becomes usual steps, shape (n,).

        Parameters
        ----------
        raw : ndarray, shape (n,)
            Readings in native units.
        last : float or None
            The reading before them.
        step : float
            The usual step.

        Returns
        -------
        moves : ndarray, shape (n,)
        from_start : bool
            Whether the rows before the first jump are those to be moved (up to the clock that has been set), not the
            ones behind it.
        """
        none = np.zeros(raw.size), False
        first = self.set is None
        if raw.min() >= self.low and raw.max() < self.high and self.set is not False:
            self.set = True
            return none
        inside = (raw >= self.low) & (raw < self.high)
        edges = np.flatnonzero(np.diff(inside)) + 1
        starts = np.concatenate([[0], edges])
        stops = np.concatenate([edges, [raw.size]])
        long = (stops - starts >= STAYS) | ((starts == 0) & (not first) & (inside[0] == self.set))
        state, at = self.set, -1 if last is not None else None
        moves, turned = np.zeros(raw.size), False
        for a, b in zip(starts[long], stops[long], strict=True):  # runs of one state, not rows
            now = bool(inside[a])
            if state is not None and now != state and at is not None:
                before = float(raw[at]) if at >= 0 else float(last or 0.0)
                moves[a] = step * (a - at) - (float(raw[a]) - before)
                turned = turned or (first and not moves[:a].any() and now)
            state, at = now, int(b) - 1
        self.set = state
        return moves, turned
