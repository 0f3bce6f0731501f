"""Fuel over many flights of one aircraft: sensor correction, burn trend, imbalance, how long next time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyser.aircraft import Aircraft, Tank
from analyser.burn_curve import BurnCurve
from analyser.events import Level
from analyser.figures import Figure, FloatArray, Method, values_of
from analyser.fuel import TankResult, imbalance_percent, reserve_volume
from analyser.record import FlightRecord
from analyser.smoothing import Z95
from analyser.timer import TimerCurve, timer_curve
from analyser.trends import Step, bootstrap_by_flight, find_step, robust_trend

STEP_P = 0.02
"""Chance level below which a change of level is stated."""


@dataclass(frozen=True, slots=True)
class TankHistory:
    """One tank over flights; ``rates`` are corrected burns in flight and run parallel to ``flight_ids``.

    ``normalised_rates`` are the same at one common shaft speed by each flight's burn curve, so that a day of hard
    flying does not look like a worn pump. ``curve`` is the burn curve learned over flights, set right by the sensor's
    correction; stated in the aircraft file it serves flights that log shaft speed alone.
    """

    name: str
    engine: str
    correction: Figure
    flight_ids: tuple[str, ...]
    rates: tuple[Figure, ...]
    normalised_rates: tuple[Figure, ...]
    rate_trend: Figure
    step: Figure
    level: Level
    sentence: str
    curve: BurnCurve | None = None
    curve_spread_percent: Figure | None = None


@dataclass(frozen=True, slots=True)
class FuelHistory:
    """Fuel of one aircraft over its flights; ``imbalance`` runs parallel to ``imbalance_flights``.

    ``imbalance_since`` is the id of the flight from which on the imbalance is another one, '' where it never changed.
    """

    tanks: tuple[TankHistory, ...]
    imbalance_flights: tuple[str, ...]
    imbalance: tuple[Figure, ...]
    imbalance_trend: Figure
    imbalance_step: Figure
    imbalance_since: str
    imbalance_level: Level
    imbalance_sentence: str
    timer: TimerCurve | None
    timer_missing: str


def fuel_history(flights: Sequence[FlightRecord]) -> FuelHistory:
    """Follow one aircraft's fuel over its flights, oldest first.

    Each tank's sensor gets a correction factor over flights: the median of (volume put in afterwards) over
    (volume the sensor says was burned), with an interval by resampling flights. Rates and imbalance are given
    with that factor applied, since a sensor that reads 4 % high looks just like an engine that burns 4 % more.
    """
    names = dict.fromkeys(t.name for f in flights for t in f.result.fuel.tanks)
    tanks = tuple(_tank(name, flights) for name in names)
    at, values = _imbalances(tanks)
    labels = [t.name for t in tanks]
    order = _numbers(flights, at)
    trend = robust_trend(order, values_of(values), "%", "Trend of imbalance")
    step = find_step(values_of(values)) if len(values) >= 6 and np.isfinite(values_of(values)).all() else None
    figure, level, sentence, since = _imbalance_story(labels, flights, at, values, step)
    timer, missing = _timer(flights, tanks)
    return FuelHistory(tanks, at, values, trend, figure, since, level, sentence, timer, missing)


def _tank(name: str, flights: Sequence[FlightRecord]) -> TankHistory:
    pairs = [(f, t) for f in flights for t in f.result.fuel.tanks if t.name == name]
    correction = _correction(name, [t for _, t in pairs])
    ids = tuple(f.flight_id for f, _ in pairs)
    rates = tuple(_corrected(t.airborne_rate_ml_per_min, correction) for _, t in pairs)
    normalised = _normalised(name, [t for _, t in pairs], correction)
    basis = normalised if sum(f.value is not None for f in normalised) >= 4 else rates
    order = np.array([f.number for f, _ in pairs], float)
    values = values_of(basis)
    trend = robust_trend(order, values, "mL/min", f"Trend of burn, {name}")
    seen = np.flatnonzero(np.isfinite(values))
    step = find_step(values[seen]) if seen.size >= 6 else None
    figure = _step_figure(f"Change of burn, {name}", "mL/min", step, "at the same shaft speed")
    level = Level.FINE
    if step is not None and step.p_value < STEP_P and abs(step.size) > 0.02 * float(np.median(values[seen])):
        number = pairs[int(seen[step.index])][0].number
        share = 100.0 * step.size / float(np.median(values[seen][: step.index]))
        way = "higher" if step.size > 0 else "lower"
        level = Level.WATCH
        sentence = (
            f"Tank {name}: from flight {number} on the burn is {abs(share):.1f} % {way} than before at the same shaft "
            "speed."
        )
    elif trend.value is not None and trend.low is not None and trend.high is not None and trend.low * trend.high > 0:
        span = f"{trend.low:+.1f} to {trend.high:+.1f}"
        level = Level.NOTE
        sentence = f"Tank {name}: the burn changes by {trend.value:+.1f} mL/min a flight ({span})."
    else:
        sentence = f"Tank {name}: no change of burn over {len(pairs)} flights beyond chance."
    curve, spread = _learned_curve(name, [t for _, t in pairs], correction)
    return TankHistory(
        name, pairs[-1][1].engine, correction, ids, rates, normalised, trend, figure, level, sentence, curve, spread
    )


def _learned_curve(
    name: str, tanks: Sequence[TankResult], correction: Figure
) -> tuple[BurnCurve | None, Figure | None]:
    """Medians of the flights' constants, brought to one full speed, and their spread at three quarters of it."""
    curves = [t.curve for t in tanks if t.curve is not None]
    if len(curves) < 3:
        return None, None
    top = float(np.median([c.max_rpm for c in curves]))
    k = correction.value or 1.0
    floor = k * float(np.median([c.floor_ml_per_min for c in curves]))
    cubic = k * float(np.median([c.cubic_ml_per_min * (top / c.max_rpm) ** 3 for c in curves]))
    at = np.array([float(c.at(np.array([0.75 * top]))[0]) for c in curves])
    spread = 100.0 * 1.4826 * float(np.median(np.abs(at - np.median(at)))) / float(np.median(at))
    curve = BurnCurve(
        curves[-1].engine, floor, cubic, top, curves[-1].scatter_ml_per_min, sum(c.seconds for c in curves)
    )
    how = f"median deviation at 75 % of full speed over {len(curves)} flights"
    return curve, Figure(f"Spread of the burn curve over flights, {name}", spread, "%", Method.ESTIMATED, how=how)


def _correction(name: str, tanks: Sequence[TankResult]) -> Figure:
    label = f"Sensor correction over flights, {name}"
    ratios = np.array([t.correction.value for t in tanks if t.correction.value is not None], float)
    if ratios.size == 0:
        why = "no volume put in afterwards was noted; note it and the sensor's scale is learned"
        return Figure.unavailable(label, "×", why)
    value = float(np.median(ratios))
    if ratios.size < 3:
        first = next(t.correction for t in tanks if t.correction.value is not None)
        return replace(first, label=label, how=f"volume put in over sensor, {ratios.size} flight(s)")
    draws = bootstrap_by_flight(lambda rows: float(np.median(ratios[rows])), ratios.size)
    # The median of few flights can come out too sure of itself; the sign-free spread keeps a floor under it.
    floor = Z95 * 1.2533 * 1.4826 * float(np.median(np.abs(ratios - value))) / np.sqrt(ratios.size)
    low, high = np.quantile(draws, [0.025, 0.975])
    how = f"median of volume put in over sensor, {ratios.size} flights"
    return Figure(
        label,
        value,
        "×",
        Method.ESTIMATED,
        min(float(low), value - floor),
        max(float(high), value + floor),
        how=how,
        digits=3,
    )


def _corrected(figure: Figure, correction: Figure) -> Figure:
    if figure.value is None or correction.value is None:
        return figure
    k = correction.value
    k_half = ((correction.high or k) - (correction.low or k)) / 2.0
    half = float(np.hypot(figure.half_width * k, figure.value * k_half))
    value = figure.value * k
    return replace(
        figure, value=value, low=value - half, high=value + half, method=Method.ESTIMATED,
        how=f"{figure.how}; sensor corrected × {k:.3f}",
    )  # fmt: skip


def _normalised(name: str, tanks: Sequence[TankResult], correction: Figure) -> tuple[Figure, ...]:
    """Burn at one common shaft speed, from each flight's curve: the median of the flights' own mean working speeds."""
    label = f"Burn at the common speed, {name}"
    curves = [t.curve for t in tanks if t.curve is not None]
    if len(curves) < 4:
        why = "needs shaft speed beside fuel in at least four flights"
        return tuple(Figure.unavailable(label, "mL/min", why) for _ in tanks)
    common = 0.75 * float(np.median([c.max_rpm for c in curves]))
    k = correction.value or 1.0
    out = []
    for t in tanks:
        if t.curve is None:
            out.append(Figure.unavailable(label, "mL/min", "no shaft speed beside fuel in this flight"))
            continue
        value = k * float(t.curve.at(np.array([common]))[0])
        half = Z95 * k * t.curve.scatter_ml_per_min / np.sqrt(max(t.curve.seconds / 15.0, 1.0))
        how = f"burn curve of this flight at {common:,.0f} rpm"
        out.append(Figure(label, value, "mL/min", Method.ESTIMATED, value - half, value + half, how=how))
    return tuple(out)


def _imbalances(tanks: tuple[TankHistory, ...]) -> tuple[tuple[str, ...], tuple[Figure, ...]]:
    if len(tanks) != 2:
        return (), ()
    first, second = (dict(zip(t.flight_ids, t.rates, strict=True)) for t in tanks)
    ids: list[str] = []
    out: list[Figure] = []
    for flight_id, a in first.items():
        b = second.get(flight_id)
        if b is None or a.value is None or b.value is None:
            continue
        value = imbalance_percent(a.value, b.value)
        half = 100.0 * float(np.hypot(a.half_width, b.half_width)) / ((a.value + b.value) / 2.0)
        how = "difference over mean of the two corrected burns in flight"
        label = f"Imbalance, {tanks[0].name} over {tanks[1].name}"
        ids.append(flight_id)
        out.append(Figure(label, value, "%", Method.ESTIMATED, value - half, value + half, how=how))
    return tuple(ids), tuple(out)


def _imbalance_story(
    names: list[str],
    flights: Sequence[FlightRecord],
    at: tuple[str, ...],
    values: tuple[Figure, ...],
    step: Step | None,
) -> tuple[Figure, Level, str, str]:
    label = "Change of imbalance"
    if len(names) != 2 or not values:
        why = "an imbalance needs two tanks with burn in the same flights"
        return Figure.unavailable(label, "%", why), Level.FINE, "", ""
    figure = _step_figure(label, "%", step, "of the imbalance")
    numbers = {f.flight_id: f.number for f in flights}
    shares = values_of(values)
    if step is not None and step.p_value < STEP_P and abs(step.size) > 1.5:
        after = float(np.median(shares[step.index :]))
        more, less = (names[0], names[1]) if after > 0 else (names[1], names[0])
        before = float(np.median(shares[: step.index]))
        way = "alike" if abs(before) < 1.0 else f"{abs(before):.1f} % " + ("more" if before * after > 0 else "less")
        sentence = (
            f"The {more} engine burns {abs(after):.1f} % more than the {less} one since flight "
            f"{numbers[at[step.index]]} (before that {way})."
        )
        return figure, Level.WATCH, sentence, at[step.index]
    now = float(np.median(shares))
    typical = float(np.median([v.half_width for v in values])) / np.sqrt(len(values))
    if abs(now) > max(2.0, Z95 * typical):
        more, less = (names[0], names[1]) if now > 0 else (names[1], names[0])
        return figure, Level.NOTE, f"The {more} engine burns {abs(now):.1f} % more than the {less} one, steadily.", ""
    return (
        figure,
        Level.FINE,
        f"{names[0].capitalize()} and {names[1]} burn alike within {max(abs(now), typical):.1f} %.",
        "",
    )


def _step_figure(label: str, unit: str, step: Step | None, what: str) -> Figure:
    if step is None:
        return Figure.unavailable(label, unit, "needs six flights or more")
    how = f"difference of medians {what}; chance level {step.p_value:.3f} by permutation of flights"
    return Figure(label, step.size, unit, Method.ESTIMATED, step.low, step.high, how=how)


def _timer(flights: Sequence[FlightRecord], tanks: tuple[TankHistory, ...]) -> tuple[TimerCurve | None, str]:
    """The tank that gives out first decides."""
    aircraft = flights[-1].context.aircraft if flights else None
    if aircraft is None or not tanks:
        return None, "no fuel has been logged for this aircraft"
    curves = []
    lacking = ""
    for history in tanks:
        tank = aircraft.tank(history.name)
        curve, why = _tank_timer(history, tank, aircraft, flights)
        if curve is None:
            lacking = lacking or why
        else:
            curves.append(curve)
    if not curves:
        return None, lacking
    return min(curves, key=lambda c: c.advised_min.value or 0.0), ""


def _tank_timer(
    history: TankHistory, tank: Tank | None, aircraft: Aircraft, flights: Sequence[FlightRecord]
) -> tuple[TimerCurve | None, str]:
    if tank is None or tank.capacity_ml is None:
        return None, f"the capacity of tank {history.name} is not stated"
    rule = tank.reserve or aircraft.reserve
    if rule is None:
        return None, "no reserve is stated; 20 % of the tank is a suggestion (common practice, no source)"
    latest = next((r for r in reversed(history.rates) if r.value is not None), None)
    if latest is None:
        return None, f"no flight of tank {history.name} has a burn rate"
    reserve = reserve_volume("Reserve", rule, tank, latest).value
    if reserve is None:
        return None, "the reserve can't be worked out as a volume"
    k = history.correction.value or 1.0
    rates, ground = [], []
    for f, rate in zip((f for f in flights if f.flight_id in history.flight_ids), history.rates, strict=True):
        result = next(t for t in f.result.fuel.tanks if t.name == history.name)
        rates.append(np.nan if rate.value is None else rate.value)
        ground.append(k * _before_lift_off(result))
    # Only flights of the engine as it is now: after a change of burn the older ones mislead.
    first = _since_change(history)
    curve = timer_curve(np.array(rates)[first:], np.array(ground)[first:], tank.capacity_ml, reserve, history.name)
    return curve, "" if curve else "the odds need at least three flights with burn and airborne time"


def _since_change(history: TankHistory) -> int:
    values = values_of(history.normalised_rates)
    seen = np.flatnonzero(np.isfinite(values))
    step = find_step(values[seen]) if seen.size >= 6 else None
    changed = step is not None and step.p_value < STEP_P and abs(step.size) > 0.02 * float(np.median(values[seen]))
    return int(seen[step.index]) if step is not None and changed else 0


def _before_lift_off(tank: TankResult) -> float:
    """Burned on the ground before the flight, mL by the sensor."""
    ground = ("before start", "start", "idle", "taxi", "take-off")
    return sum(p.burned_ml.value or 0.0 for p in tank.phases if p.name in ground)


def _numbers(flights: Sequence[FlightRecord], ids: tuple[str, ...]) -> FloatArray:
    number = {f.flight_id: float(f.number) for f in flights}
    return np.array([number[i] for i in ids], float)
