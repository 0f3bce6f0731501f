"""What an aircraft's measured flights teach of its engines' burn.

Only a flight whose burn a sensor told teaches: one that was itself told by a curve would teach the curve to itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct

from analyser.core.burn_curve import BurnCurve, LearnedCurve
from analyser.core.figures import Z95, Figure, FloatArray, Method
from analyser.core.findings import say
from analyser.core.statistics.distributions import student_quantile
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
    step = _found(np.asarray(values[seen], float).tobytes()) if seen.size >= 6 else None
    if step is None:
        return None
    return Step(int(seen[step.index]), step.size, step.low, step.high, step.p_value, p_by_order=step.p_by_order)


@lru_cache(maxsize=32)
def _found(values: bytes) -> Step | None:
    """A burn's verdict, its learned curve and the timer ask the same."""
    return find_step(np.frombuffer(values))


def last_change(values: FloatArray) -> int:
    """Position of the flight from which on a burn is another one; 0 where it never changed beyond chance.

    ``values`` has shape (flights,); NaN where a flight has none.
    """
    step = step_of(values)
    if step is None or step.p_value >= STEP_P or abs(step.size) <= SMALLEST_STEP * float(np.nanmedian(values)):
        return 0
    return step.index


def learn_curves(
    flights: Sequence[FlightRecord],
    number: int | None = None,
    scales: Sequence[Mapping[str, SensorScale]] | None = None,
) -> dict[str, LearnedCurve]:
    """Burn curve of each tank's engine from the measured flights of one aircraft.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Of one aircraft, oldest first; those that cannot teach are passed over.
    number : int or None
        Of the flight that is to use the curve: where the engine's burn changed, the flights on its side of the change
        teach. ``None`` means as the engine is now.
    scales : sequence of mapping, optional
        From :func:`~analyser.season.fuel.sensor_scale.scales_by_flight`, where they are at hand.

    Returns
    -------
    dict of str to LearnedCurve
        By tank; empty with fewer than three flights that teach it.
    """
    return learn_curves_for(flights, [number], scales)[0]


def learn_curves_for(
    flights: Sequence[FlightRecord],
    numbers: Sequence[int | None],
    scales: Sequence[Mapping[str, SensorScale]] | None = None,
) -> list[dict[str, LearnedCurve]]:
    """The curves that each of many flights of one aircraft is to use, as :func:`learn_curves` says them for one.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Of one aircraft, oldest first.
    numbers : sequence of int or None
        Of the flights that are to use the curves.
    scales : sequence of mapping, optional
        From :func:`~analyser.season.fuel.sensor_scale.scales_by_flight`, where they are at hand.

    Returns
    -------
    list of dict
        Parallel to ``numbers``. Each curve is fitted once, however many flights use it.
    """
    names = dict.fromkeys(t.name for f in flights for t in f.result.fuel.tanks)
    if scales is None:
        scales = scales_by_flight(flights)
    found: list[dict[str, LearnedCurve]] = [{} for _ in numbers]
    for name in names:
        taught = _lessons(name, flights, scales)
        if len(taught) < FEWEST:
            continue
        change = _change(taught)
        before, after = (_fit(taught[:change]) if change else None), _fit(taught[change:])
        for curves, number in zip(found, numbers, strict=True):
            curves[name] = after if before is None or number is None or number >= taught[change].number else before
    return found


class _Lesson(Struct, frozen=True):
    """One measured flight's curve of one tank, and the scale of the sensor that measured it."""

    number: int
    engine: str
    curve: BurnCurve
    scale: SensorScale


def _lessons(name: str, flights: Sequence[FlightRecord], scales: Sequence[Mapping[str, SensorScale]]) -> list[_Lesson]:
    # A sensor in doubt does not teach.
    return [
        _Lesson(flight.number, tank.engine, tank.curve, scale[name])
        for flight, scale in zip(flights, scales, strict=True)
        for tank in flight.result.fuel.tanks
        if tank.name == name and name in scale and tank.curve is not None and not tank.by_sensor.burned.doubts
    ]


def _change(taught: Sequence[_Lesson]) -> int:
    common = common_speed([t.curve for t in taught])
    return last_change(np.array([t.scale.value * float(t.curve.at(np.array([common]))[0]) for t in taught]))


def _fit(taught: Sequence[_Lesson]) -> LearnedCurve:
    top = float(np.median([t.curve.max_rpm for t in taught]))
    points = np.array([t.curve.referred_to(top, t.scale.value) for t in taught])
    mean = points.mean(axis=0)
    n = len(taught)
    # One more flight's curve: the spread of flights' own and the doubt of their mean, by Student's t.
    widen = (float(student_quantile(0.975, n - 1)) / Z95) ** 2
    covariance = np.cov(points.T, ddof=1) * (1.0 + 1.0 / n) * widen
    scale = taught[-1].scale
    covariance += np.outer(mean, mean) * scale.relative_se**2
    return LearnedCurve(
        engine=taught[-1].engine,
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
