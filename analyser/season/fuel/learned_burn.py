"""What an aircraft's measured flights teach of its engines' burn.

Only a flight whose burn a sensor told teaches: one that was itself told by a curve would teach the curve to itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import stats

from analyser.core.burn_curve import BurnCurve, LearnedCurve
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import say
from analyser.core.statistics.smoothing import Z95
from analyser.core.statistics.trends import Step, find_step
from analyser.fuel.scale import SensorScale
from analyser.record import FlightRecord
from analyser.season.fuel.codes import SeasonFuelCode
from analyser.season.fuel.sensor_scale import scales_by_flight

FEWEST = 3
"""Flights below which no curve is learned."""
STEP_P = 0.02
"""Chance level below which a change of level is stated."""
SMALLEST_STEP = 0.02
"""Share of a burn below which a change is not stated, however sure."""
COMMON_SHARE = 0.75
"""Share of full speed at which flights are compared."""


def common_speed(curves: Sequence[BurnCurve]) -> float:
    """The one shaft speed, rpm, at which flights of an engine are compared."""
    return COMMON_SHARE * float(np.median([c.max_rpm for c in curves]))


def step_of(values: FloatArray) -> Step | None:
    """The step that best splits flights; ``None`` with fewer than six. ``values`` has shape (flights,), NaN for none.

    Its index counts all flights, those without a value included.
    """
    seen = np.flatnonzero(np.isfinite(values))
    step = find_step(values[seen]) if seen.size >= 6 else None
    if step is None:
        return None
    return Step(int(seen[step.index]), step.size, step.low, step.high, step.p_value, p_by_order=step.p_by_order)


def last_change(values: FloatArray) -> int:
    """Position of the flight from which on a burn is another one; 0 where it never changed beyond chance.

    ``values`` has shape (flights,); NaN where a flight has none.
    """
    step = step_of(values)
    if step is None or step.p_value >= STEP_P or abs(step.size) <= SMALLEST_STEP * float(np.nanmedian(values)):
        return 0
    return step.index


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
    scales = scales_by_flight(flights)
    found = {name: _learn(name, flights, [s.get(name) for s in scales], number) for name in names}
    return {name: curve for name, curve in found.items() if curve}


def _learn(
    name: str, flights: Sequence[FlightRecord], scales: Sequence[SensorScale | None], number: int | None
) -> LearnedCurve | None:
    # A sensor in doubt does not teach.
    taught = [
        (f.number, t, t.curve, scale)
        for f, scale in zip(flights, scales, strict=True)
        for t in f.result.fuel.tanks
        if t.name == name and scale is not None and t.curve is not None and not t.by_sensor.burned.doubts
    ]
    if len(taught) < FEWEST:
        return None
    common = common_speed([c for _, _, c, _ in taught])
    burns = [s.value * float(c.at(np.array([common]))[0]) for _, _, c, s in taught]
    if change := last_change(np.array(burns)):
        later = number is None or number >= taught[change][0]
        taught = taught[change:] if later else taught[:change]
    top = float(np.median([c.max_rpm for _, _, c, _ in taught]))
    points = np.array([c.referred_to(top, s.value) for _, _, c, s in taught])
    mean = points.mean(axis=0)
    n = len(taught)
    # One more flight's curve: the spread of flights' own and the doubt of their mean, by Student's t.
    widen = (float(stats.t.ppf(0.975, n - 1)) / Z95) ** 2
    covariance = np.cov(points.T, ddof=1) * (1.0 + 1.0 / n) * widen
    scale = taught[-1][3]
    covariance += np.outer(mean, mean) * scale.relative_se**2
    return LearnedCurve(
        engine=taught[-1][1].engine,
        floor_ml_per_min=float(mean[0]),
        cubic_ml_per_min=float(mean[1]),
        max_rpm=top,
        flights=n,
        variance=(float(covariance[0, 0]), float(covariance[0, 1]), float(covariance[1, 1])),
        checked=scale.checked,
    )


def spread_figure(name: str, curve: LearnedCurve | None) -> Figure:
    """How far one flight's burn at the common speed may lie from the learned curve, percent."""
    label = say(SeasonFuelCode.CURVE_SPREAD, tank=name)
    if curve is None:
        return Figure.unavailable(label, "%", say(SeasonFuelCode.THREE_WITH_SPEED))
    how = say(SeasonFuelCode.CURVE_SPREAD_HOW, share=100.0 * COMMON_SHARE, n=curve.flights, checked=curve.checked)
    return Figure(label, curve.half_percent(COMMON_SHARE), "%", Method.ESTIMATED, how=how)
