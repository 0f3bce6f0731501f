"""How long may the timer be: the odds that a flight of a given length lands above the reserve.

Each flight gives one number, its burn per minute airborne; the fuel used on the ground before lift-off is a second.
Both are taken as draws from this aircraft's own habit. For a next flight of ``m`` minutes the fuel left is
``start − ground − m · rate``; its distribution over *flights* (not over the mean) is the normal predictive one with
unknown mean and spread, a Student t with ``n − 1`` degrees of freedom and scale ``s √(1 + 1/n)`` (any text on Bayesian
or prediction intervals, e.g. Hahn & Meeker, Statistical Intervals, from memory). Working per flight on the volume
``ground + m · rate`` keeps what the two have in common. Few flights make a fat-tailed t, hence cautious times. How well
the sensor's scale is known is an error that all flights share; it adds to the scale in quadrature.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analyser.core.figures import Figure, FloatArray, Method

FEWEST = 3
PROMISE = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class TimerCurve:
    """Flight time against the odds of keeping the reserve, from this aircraft's own flights.

    ``minutes`` and ``odds`` have shape (n,); odds are probabilities 0 … 1. ``advised_min`` is the longest airborne
    time that keeps the reserve with the odds in its ``confidence``; its upper end is the time with even odds.
    ``start_ml`` is the volume at start that all of it holds for, ``minutes_per_100_ml`` what more or less changes.
    """

    minutes: FloatArray
    odds: FloatArray
    advised_min: Figure
    flights: int
    tank: str
    sentence: str
    start_ml: Figure
    minutes_per_100_ml: Figure


def odds_of_keeping(
    minutes: FloatArray,
    rate_ml_per_min: FloatArray,
    ground_ml: FloatArray,
    usable_ml: float,
    *,
    shared_se: float = 0.0,
) -> FloatArray:
    """Probability that a flight of each length burns no more than ``usable_ml`` (start less reserve).

    Parameters
    ----------
    minutes : ndarray, shape (m,)
        Airborne times asked about.
    rate_ml_per_min, ground_ml : ndarray, shape (n,)
        One pair a past flight, n ≥ 2.
    usable_ml : float
        Volume at start less what must be left at landing.
    shared_se : float
        Relative standard error that all flights share: that of the sensor's scale.

    Returns
    -------
    ndarray, shape (m,)
        Predictive probabilities, falling with time.
    """
    need = ground_ml[:, None] + rate_ml_per_min[:, None] * np.asarray(minutes, float)[None, :]
    n = need.shape[0]
    mean = need.mean(axis=0)
    spread = need.std(axis=0, ddof=1)
    # Identical flights to the last digit are a rounding artefact, not certainty.
    spread = np.maximum(spread, 0.002 * mean + 1e-9)
    scale = np.hypot(spread * np.sqrt(1.0 + 1.0 / n), shared_se * mean)
    odds = stats.t.cdf((usable_ml - mean) / scale, df=n - 1)
    return np.minimum.accumulate(np.asarray(odds, float))


def timer_curve(
    rate_ml_per_min: FloatArray,
    ground_ml: FloatArray,
    start: Figure,
    reserve_ml: float,
    tank: str,
    *,
    promise: float = PROMISE,
    shared_se: float = 0.0,
) -> TimerCurve | None:
    """Odds curve for one tank filled to ``start``; ``None`` with fewer than three flights or no start."""
    rate, ground = np.asarray(rate_ml_per_min, float), np.asarray(ground_ml, float)
    good = np.isfinite(rate) & np.isfinite(ground) & (rate > 0)
    rate, ground = rate[good], ground[good]
    if rate.size < FEWEST or start.value is None:
        return None
    usable = start.value - reserve_ml
    longest = max((usable - float(ground.mean())) / float(rate.mean()), 0.0)
    minutes = np.linspace(0.0, max(1.5 * longest, 1.0), 301)
    odds = odds_of_keeping(minutes, rate, ground, usable, shared_se=shared_se)
    kept = np.flatnonzero(odds >= promise)
    advised = float(minutes[kept[-1]]) if kept.size else 0.0
    even = float(np.interp(-0.5, -odds, minutes))
    how = f"predictive distribution over {rate.size} flights, tank {tank}, {start.value:.0f} mL at start ({start.how})"
    figure = Figure(
        f"Longest flight that keeps the reserve ({100 * promise:.0f} % odds)",
        advised,
        "min",
        Method.ESTIMATED,
        advised,
        max(even, advised),
        confidence=promise,
        how=how + "; the upper end has even odds",
    )
    each = 100.0 / float(rate.mean())
    per_100 = Figure(
        "Timer for each 100 mL more or less at start", each, "min", Method.ESTIMATED, how="mean burn in flight"
    )
    few = " Few flights, so the odds are wide." if rate.size < 8 else ""
    held = f"with {start.value:.0f} mL at start ({start.how})"
    odds_words = f"with {100 * promise:.0f} % odds, {held}"
    what = f"the {reserve_ml:.0f} mL reserve in tank {tank}"
    if kept.size:
        sentence = f"{advised:.1f} min airborne keeps {what} {odds_words}; even odds are at {even:.1f} min."
    else:
        sentence = f"no flight, however short, keeps {what} {odds_words}."
    sentence = f"By {rate.size} flights, {sentence}{few}"
    return TimerCurve(minutes, odds, figure, int(rate.size), tank, sentence, start, per_100)
