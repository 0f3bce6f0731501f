"""What stands out among things that should be alike, and how rarely it is said where nothing is amiss.

Each value's distance from the median of all is divided by the median of all distances between two of them (Bickel and
Lehmann 1979, section 4: a spread that a quarter of odd values cannot spoil). How large the largest of these quotients
becomes by chance is known by simulation, from values of Student's distribution of 8 degrees of freedom: heavier tails
than a normal distribution, as between things that are built alike. Several figures are paid for as by Bonferroni.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.core.figures import FloatArray

FEWEST = 6
"""Things of one type below which nothing is said to stand out."""
FALSE_ALARM = 0.05
"""Chance that anything at all is named in a fleet where nothing is amiss."""
MOST = 400
"""Of more things than this, the distances between some are asked."""
FREEDOM = 8
"""Degrees of freedom of the distribution that the bounds are simulated from."""
LEVELS = (0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 0.0005)
"""Chances that the bounds below are for; a smaller one takes the last bound."""
BOUNDS: dict[int, tuple[float, ...]] = {
    6: (3.25, 4.27, 5.21, 6.33, 8.06, 9.69, 11.81),
    7: (3.29, 4.18, 4.97, 5.87, 7.19, 8.36, 9.87),
    8: (3.48, 4.39, 5.20, 6.04, 7.49, 8.67, 9.93),
    9: (3.53, 4.38, 5.11, 5.96, 7.23, 8.34, 9.58),
    10: (3.57, 4.38, 5.07, 5.82, 6.97, 7.92, 8.80),
    12: (3.72, 4.50, 5.15, 5.87, 6.89, 7.68, 8.70),
    15: (3.88, 4.65, 5.26, 5.92, 6.90, 7.72, 8.48),
    20: (4.07, 4.80, 5.42, 6.02, 7.00, 7.89, 8.68),
    25: (4.26, 5.00, 5.59, 6.27, 7.24, 7.96, 8.61),
    30: (4.39, 5.15, 5.73, 6.39, 7.37, 8.10, 8.71),
    40: (4.62, 5.36, 6.00, 6.67, 7.63, 8.34, 9.06),
    60: (4.95, 5.72, 6.36, 7.08, 8.06, 8.93, 9.78),
    100: (5.41, 6.26, 7.00, 7.74, 8.74, 9.61, 10.62),
    200: (5.97, 6.86, 7.62, 8.30, 9.61, 10.44, 11.05),
}  # fmt: skip
"""By the number of things: what the largest quotient stays below but for each chance of :data:`LEVELS`.

From 16,000 (of 200 things) to 200,000 (of few) simulated fleets; a test simulates some of them again.
"""


def distances(values: FloatArray, floor: float = 0.0) -> FloatArray:
    """How far each value lies from the median, in spreads of all.

    Parameters
    ----------
    values : ndarray, shape (n,)
    floor : float
        The spread is at least so large: what one value is uncertain by.

    Returns
    -------
    ndarray, shape (n,)
        Nought everywhere where more than half of the values are the same and there is no floor.

    Examples
    --------
    >>> distances(np.array([1.0, 2.0, 3.0, 4.0, 30.0])).round(2).tolist()
    [0.8, 0.4, 0.0, 0.4, 10.8]
    """
    some = np.sort(values)[:: 1 + values.size // MOST]  # evenly by rank: of many, some have the same spread
    first, second = np.triu_indices(some.size, 1)
    spread = max(float(np.median(np.abs(some[first] - some[second]))), floor)
    off = np.abs(values - np.median(values))
    return off / spread if spread > 0 else np.zeros_like(off)


def bound(things: int, chance: float) -> float:
    """What the largest distance of so many alike things stays below, but for this chance.

    Parameters
    ----------
    things : int
        :data:`FEWEST` or more; above 200 as at 200.
    chance : float
        Of one figure; between the simulated ones on a logarithmic scale.
    """
    sizes = np.array(sorted(BOUNDS))
    by_size = [
        float(np.interp(np.log(things), np.log(sizes), [BOUNDS[int(n)][k] for n in sizes])) for k in range(len(LEVELS))
    ]
    return float(np.interp(-np.log(chance), -np.log(LEVELS), by_size))


def stand_out(sets: Sequence[tuple[FloatArray, float]]) -> list[list[int]]:
    """Find what stands out in any of some figures, each of all things of one type.

    Parameters
    ----------
    sets : sequence of (ndarray, float)
        Values of a figure, one a thing, and what one of them is uncertain by.

    Returns
    -------
    list of list of int
        For each figure the places of what stands out; of fewer than :data:`FEWEST` things none.
    """
    judged = sum(values.size >= FEWEST for values, _ in sets)
    out: list[list[int]] = []
    for values, floor in sets:
        if values.size < FEWEST:
            out.append([])
            continue
        far = distances(values, floor)
        out.append(np.flatnonzero(far > bound(values.size, FALSE_ALARM / judged)).tolist())
    return out
