"""What an aircraft's measured flights teach of its fuel sensors and of its engines' burn.

Only a flight whose burn a sensor told teaches: one that was itself told by a curve would teach the curve to itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from scipy import stats

from analyser.core.burn_curve import BurnCurve, LearnedCurve
from analyser.core.figures import Figure, Method
from analyser.core.robust import MEDIAN_SE, robust_sd
from analyser.core.smoothing import Z95
from analyser.core.trends import bootstrap_by_flight, find_step
from analyser.fuel.tank import TankResult
from analyser.record import FlightRecord

FEWEST = 3
"""Flights below which no curve is learned."""
STEP_P = 0.02
"""Chance level below which a change of level is stated."""
COMMON_SHARE = 0.75
"""Share of full speed at which flights are compared."""


def sensor_corrections(name: str, tanks: Sequence[TankResult]) -> dict[str, Figure]:
    """Correction factor of each sensor that told one tank's burn over flights, by its :class:`Source`.

    The median of (volume put in afterwards) over (volume the sensor says was burned), with an interval by resampling
    flights. A curve is no sensor and has none.
    """
    kinds = dict.fromkeys(t.source for t in tanks if t.measured)
    return {kind: _correction(name, [t.correction for t in tanks if t.source == kind]) for kind in kinds}


def _correction(name: str, noted: Iterable[Figure]) -> Figure:
    label = f"Sensor correction over flights, {name}"
    known = [c for c in noted if c.value is not None]
    if not known:
        why = "no volume put in afterwards was noted; note it and the sensor's scale is learned"
        return Figure.unavailable(label, "×", why)
    ratios = np.array([c.value for c in known], float)
    value = float(np.median(ratios))
    how = f"median of volume put in over sensor, {ratios.size} flights"
    if ratios.size < FEWEST:
        # Of one or two flights each has its own interval; two that disagree are no surer than their distance.
        half = max(float(np.mean([c.half_width for c in known])) / np.sqrt(ratios.size), float(np.ptp(ratios)))
        how = f"volume put in over sensor, {ratios.size} flight{'s' if ratios.size > 1 else ''}"
        return Figure(label, value, "×", Method.ESTIMATED, value - half, value + half, how=how, digits=3)
    draws = bootstrap_by_flight(lambda rows: float(np.median(ratios[rows])), ratios.size)
    # The median of few flights can come out too sure of itself; the sign-free spread keeps a floor under it.
    floor = Z95 * MEDIAN_SE * robust_sd(ratios - value) / np.sqrt(ratios.size)
    low, high = np.quantile(draws, [0.025, 0.975])
    low, high = min(float(low), value - floor), max(float(high), value + floor)
    return Figure(label, value, "×", Method.ESTIMATED, low, high, how=how, digits=3)


def common_speed(curves: Sequence[BurnCurve]) -> float:
    """The one shaft speed, rpm, at which flights of an engine are compared."""
    return COMMON_SHARE * float(np.median([c.max_rpm for c in curves]))


def since_change(values: np.ndarray) -> int:
    """Position of the flight from which on a burn is another one; 0 where it never changed beyond chance.

    ``values`` has shape (flights,); NaN where a flight has none.
    """
    seen = np.flatnonzero(np.isfinite(values))
    step = find_step(values[seen]) if seen.size >= 6 else None
    if step is None or step.p_value >= STEP_P or abs(step.size) <= 0.02 * float(np.median(values[seen])):
        return 0
    return int(seen[step.index])


def learn_curves(flights: Sequence[FlightRecord], number: int | None = None) -> dict[str, LearnedCurve]:
    """Burn curve of each tank's engine from the measured flights of one aircraft.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Of one aircraft, oldest first; those that cannot teach are passed over.
    number : int or None
        Of the flight that is to use the curve: where the engine's burn changed, the flights on its side of the change
        teach. ``None`` means as the engine is now.

    Returns
    -------
    dict of str to LearnedCurve
        By tank; empty with fewer than three flights that teach it.
    """
    names = dict.fromkeys(t.name for f in flights for t in f.result.fuel.tanks)
    found = {name: _learn(name, flights, number) for name in names}
    return {name: curve for name, curve in found.items() if curve}


def _learn(name: str, flights: Sequence[FlightRecord], number: int | None) -> LearnedCurve | None:
    tanks = [(f.number, t) for f in flights for t in f.result.fuel.tanks if t.name == name and t.measured]
    corrections = sensor_corrections(name, [t for _, t in tanks])
    # A sensor in doubt does not teach.
    taught = [(n, t, t.curve) for n, t in tanks if t.curve is not None and not t.burned_ml.doubts]
    if len(taught) < FEWEST:
        return None
    common = common_speed([c for _, _, c in taught])
    factors = [corrections[t.source].value or 1.0 for _, t, _ in taught]
    burns = [k * float(c.at(np.array([common]))[0]) for k, (_, _, c) in zip(factors, taught, strict=True)]
    change = since_change(np.array(burns))
    if change:
        later = number is None or number >= taught[change][0]
        side = slice(change, None) if later else slice(0, change)
        taught, factors = taught[side], factors[side]
    top = float(np.median([c.max_rpm for _, _, c in taught]))
    points = np.array([c.referred_to(top, k) for k, (_, _, c) in zip(factors, taught, strict=True)])
    mean = points.mean(axis=0)
    n = len(taught)
    # One more flight's curve: the spread of flights' own and the doubt of their mean, by Student's t.
    widen = (float(stats.t.ppf(0.975, n - 1)) / Z95) ** 2
    covariance = np.cov(points.T, ddof=1) * (1.0 + 1.0 / n) * widen
    scale = corrections[taught[-1][1].source]
    if scale.value:
        covariance += np.outer(mean, mean) * (scale.half_width / Z95 / scale.value) ** 2
    return LearnedCurve(
        engine=taught[-1][1].engine,
        floor_ml_per_min=float(mean[0]),
        cubic_ml_per_min=float(mean[1]),
        max_rpm=top,
        flights=n,
        variance=(float(covariance[0, 0]), float(covariance[0, 1]), float(covariance[1, 1])),
        checked=scale.value is not None,
    )


def spread_figure(name: str, curve: LearnedCurve | None) -> Figure:
    """How far one flight's burn at the common speed may lie from the learned curve, percent."""
    label = f"95 % of flights lie this near the burn curve, {name}"
    if curve is None:
        return Figure.unavailable(label, "%", "needs shaft speed beside fuel in at least three flights")
    how = f"at {100 * COMMON_SHARE:.0f} % of full speed, over {curve.flights} flights"
    how += "" if curve.checked else "; the sensor's scale was never checked by what was put in"
    return Figure(label, curve.half_percent(COMMON_SHARE), "%", Method.ESTIMATED, how=how)


def corrected(figure: Figure, correction: Figure | None) -> Figure:
    """A burn set right by its sensor's correction over flights, where there is one."""
    if figure.value is None or correction is None or correction.value is None:
        return figure
    k = correction.value
    half = float(np.hypot(figure.half_width * k, figure.value * correction.half_width))
    value = figure.value * k
    how = f"{figure.how}; sensor corrected × {k:.3f}"
    return replace(figure, value=value, low=value - half, high=value + half, method=Method.ESTIMATED, how=how)
