"""When the wheels leave the ground and when they come back, told from height and speed, and how sharply.

A height of a few metres is surely flight, but it is passed seconds after lift-off and left seconds before touch-down.
From there the height is followed to where it bends into the ground: two straight lines that meet. The ground is the one
stood on before the flight and the one rolled on after it; what an altimeter drifted in between is laid on a line from
one to the other, and what it may have strayed from that line near an end is a walk pinned there.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.events import runs_of
from analyser.core.figures import Z95, FloatArray
from analyser.core.statistics.robust import median, robust_sd

LEAST_LOW_M = 0.6
"""As low as this an aircraft may be on its wheels: bumps, slopes of the field, a nose that lifts."""
NOISES = 2.0
"""Below so many standard deviations of its own wavering a height says nothing of the ground."""
CLIMBED_M = 3.0
"""From this far above, the height is followed down to the ground."""
LONGEST_S = 8.0
"""From the ground to a surely flown height, or back, no aircraft takes longer."""
LEAST_SLOPE_M_S = 0.3
ROLLING_OFF_S = 1.2
"""Wheels leave and touch over about this time, and sensors are late by some of it (common practice, no source)."""
LEAST_DRIFT_M = 1.0
"""What an altimeter is taken to drift over a flight though it came back to nought (assumed)."""
MOST_DRIFT_M = 15.0
"""A ground so much higher or lower after the flight is another place, or no ground."""
NEAR_S = 10.0
"""Seconds on the ground next to the flight whose median is the ground."""
LONGEST_WAIT = 6
"""So many times as long tells how an altimeter wavers on the ground."""


class Ground(Struct, frozen=True, eq=False):
    """Height over the ground, and how well it is known.

    Parameters
    ----------
    height_m : ndarray, shape (n,)
        On an even grid, nought on the ground before and after the flight.
    noise_m : float
        By how much the height on the ground wavers from one near instant to another, standard deviation.
    drift_m : float
        What the altimeter had drifted from one ground to the other.
    from_s, to_s : float
        Last instant on the ground before the flight, first one after it; ``to_s`` is infinite where the log ends first.
    seen_s : ndarray, shape (m,)
        When the height was read: between two readings nobody knows.
    """

    height_m: FloatArray
    noise_m: float
    drift_m: float
    from_s: float
    to_s: float
    seen_s: FloatArray

    def error_m(self, at_s: float) -> float:
        """Standard error of the height at one instant near an end: noise, and a walk pinned to both grounds."""
        span = max(min(self.to_s, 3_600.0) - self.from_s, 1.0)
        away = min(abs(at_s - self.from_s), abs(self.to_s - at_s))
        return float(np.hypot(self.noise_m, max(abs(self.drift_m), LEAST_DRIFT_M) * np.sqrt(min(away / span, 1.0))))

    def unseen_s(self, at_s: float) -> float:
        """How far apart the readings around an instant are, s."""
        k = int(np.clip(np.searchsorted(self.seen_s, at_s), 1, max(self.seen_s.size - 1, 1)))
        return float(self.seen_s[k] - self.seen_s[k - 1]) if self.seen_s.size > 1 else 0.0


def over_ground(grid: FloatArray, height_m: FloatArray, slow: npt.NDArray[np.bool_], seen_s: FloatArray) -> Ground:
    """Lay a height on the grounds before and after the flight.

    Parameters
    ----------
    grid, height_m : ndarray, shape (n,)
        Even instants, s, and height over the ground before the flight.
    slow : ndarray of bool, shape (n,)
        Where the aircraft is surely too slow to fly; some of it lies before its first fast instant.
    seen_s : ndarray, shape (m,)
        When the height was read.

    Returns
    -------
    Ground
        Without a slow stretch of two seconds after the flight the height is left as it is.
    """
    step = float(grid[1] - grid[0])
    fast = np.flatnonzero(~slow)
    if fast.size == 0:
        return Ground(height_m, 0.0, 0.0, float(grid[-1]), np.inf, seen_s)
    before, after = np.arange(fast[0]), np.arange(fast[-1] + 1, grid.size)
    start = float(grid[max(fast[0] - 1, 0)])
    near = round(NEAR_S / step)
    # An altimeter drifts on the ground too: the last seconds there count, not the whole wait.
    waiting, landed = height_m[before[-near:]], height_m[after[:near]]
    first = median(waiting) if waiting.size else 0.0
    last = median(landed) if landed.size * step >= 2.0 else np.inf
    noise = max(
        _wavering(height_m[part], near) for part in (before[-LONGEST_WAIT * near :], after[: LONGEST_WAIT * near])
    )
    if abs(last - first) > MOST_DRIFT_M:
        return Ground(height_m - first, noise, 0.0, start, np.inf, seen_s)
    end = float(grid[after[0]])
    line = first + (last - first) * np.clip((grid - start) / max(end - start, step), 0.0, 1.0)
    return Ground(height_m - line, noise, last - first, start, end, seen_s)


def _wavering(height_m: FloatArray, near: int) -> float:
    """Root mean square of what the height changes by over :data:`NEAR_S` while it should not, m."""
    if height_m.size < 2 * near:
        return robust_sd(height_m - median(height_m)) if height_m.size > near // 5 else 0.0
    return float(np.sqrt(np.mean((height_m[near:] - height_m[:-near]) ** 2)))


def to_the_wheels(
    grid: FloatArray, ground: Ground, fast: npt.NDArray[np.bool_], air: npt.NDArray[np.bool_]
) -> tuple[npt.NDArray[np.bool_], tuple[float, float], tuple[float, float]]:
    """Carry every spell of sure flight to the instants its wheels left and touched.

    Parameters
    ----------
    grid : ndarray, shape (n,)
    ground : Ground
        Of the same instants.
    fast : ndarray of bool, shape (n,)
        Fast enough to fly: wheels neither leave nor touch outside.
    air : ndarray of bool, shape (n,)
        Surely flying.

    Returns
    -------
    ndarray of bool, shape (n,)
        Off the ground.
    (float, float), (float, float)
        Half the 95 % interval before and after the first lift-off, and of the last touch-down, s.
    """
    out = air.copy()
    first, last = (ROLLING_OFF_S, ROLLING_OFF_S), (ROLLING_OFF_S, ROLLING_OFF_S)
    hops = runs_of(air)
    for k, (a, b) in enumerate(hops):  # a loop over hops, of which a flight has few
        up, half = _wheels(grid, ground, fast, a, -1)
        first = (half, half) if k == 0 else first
        down, half = _wheels(grid, ground, fast, b - 1, 1)
        last = (half, half)
        # The bend may lie within the spell too, where an altimeter that wavers told of height on the ground.
        up, down = (up, down) if up < down else (min(up, a), max(down, b - 1))
        out[a:b] = False
        out[up : down + 1] = True
    return out, first, last


def _wheels(grid: FloatArray, ground: Ground, fast: npt.NDArray[np.bool_], at: int, way: int) -> tuple[int, float]:
    """From sure flight at ``at`` backwards (−1) or onwards (+1) to the ground: its position, and half its interval."""
    step = float(grid[1] - grid[0])
    reach = round(LONGEST_S / step)
    path = at + way * np.arange(-reach, reach + 1)
    path = path[(path >= 0) & (path < grid.size)]
    outside = np.flatnonzero((way * (path - at) > 0) & ~fast[path])
    path = path[: outside[0]] if outside.size else path
    height = ground.height_m[path]
    low = max(LEAST_LOW_M, NOISES * ground.noise_m)
    # Inwards to where it surely climbs or sinks, then outwards to where it is low.
    sure = np.flatnonzero((height > low + max(CLIMBED_M, NOISES * ground.noise_m)) & (way * (path - at) <= 0))
    high = int(sure[-1]) if sure.size else 0
    under = np.flatnonzero(height[high:] < low)
    if path.size < 2 or under.size == 0:
        # Never seen near the ground: somewhere on the way to where it is too slow.
        last = int(path[-1]) if path.size else at
        return last, float(max(abs(last - at) * step / 2.0, ROLLING_OFF_S))
    k, slope = _bend(height[high:], step)
    where = int(path[high + k])
    error = Z95 * ground.error_m(float(grid[where])) / max(slope, LEAST_SLOPE_M_S)
    half = float(np.hypot(np.hypot(ROLLING_OFF_S, error), ground.unseen_s(float(grid[where]))))
    return where, min(half, LONGEST_S)


def _bend(height_m: FloatArray, step_s: float) -> tuple[int, float]:
    """Where a height that falls bends into one that hardly does, and how steeply it fell, m/s.

    Two straight lines that meet, by least squares for every place where they may; a field slopes and an altimeter
    settles, so the second need not be level, but no steeper than half the first.
    """
    n = height_m.size
    if n < 6:
        return n - 1, float(height_m[0] - height_m[-1]) / max((n - 1) * step_s, step_s)
    away = np.arange(n)[None, :] - np.arange(2, n - 2)[:, None]
    rows = np.stack([np.ones_like(away), np.minimum(away, 0), np.maximum(away, 0)], axis=1).astype(float)
    right = rows @ height_m
    lines = np.linalg.solve(rows @ rows.swapaxes(1, 2), right[:, :, None])[:, :, 0]
    square = float(height_m @ height_m) - (lines * right).sum(axis=1)
    falls = (lines[:, 1] < 0) & (np.abs(lines[:, 2]) < 0.5 * np.abs(lines[:, 1]))
    best = int(np.where(falls, square, np.inf).argmin()) if falls.any() else int(square.argmin())
    return best + 2, float(abs(lines[best, 1])) / step_s
