"""Fuel over many flights of one aircraft: sensor correction, burn trend, imbalance, how long next time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.core.aircraft import Aircraft, Tank
from analyser.core.burn_curve import LearnedCurve
from analyser.core.events import Level
from analyser.core.figures import Figure, FloatArray, Method, values_of
from analyser.core.findings import Text
from analyser.core.smoothing import Z95
from analyser.core.trends import Step, find_step, robust_trend
from analyser.fuel.balance import imbalance_of
from analyser.fuel.remaining import reserve_volume
from analyser.fuel.tank import TankResult
from analyser.record import FlightRecord
from analyser.season.fuel.learned_burn import (
    STEP_P,
    common_speed,
    corrected,
    learn_curves,
    sensor_corrections,
    since_change,
    spread_figure,
)
from analyser.season.fuel.timer import TimerCurve, timer_curve

STARTS = 5
"""So many last flights tell what the owner usually has on board at start."""
FULL_SHARE = 0.97
"""A start above this share of what the tank holds is a full tank."""


@dataclass(frozen=True, slots=True)
class TankHistory:
    """One tank over flights; ``rates`` are corrected burns in flight and run parallel to ``flight_ids``.

    ``normalised_rates`` are the same at one common shaft speed by each flight's burn curve, so that a day of hard
    flying does not look like a worn pump. ``curve`` is the burn curve learned over flights, set right by the sensor's
    correction; it serves flights that log shaft speed alone, and those, being told by it, are left out of all but
    ``rates``.
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
    curve: LearnedCurve | None
    curve_spread_percent: Figure


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
    timer_missing: Text


def fuel_history(flights: Sequence[FlightRecord]) -> FuelHistory:
    """Follow one aircraft's fuel over its flights, oldest first.

    Each tank's sensor gets a correction factor over flights: the median of (volume put in afterwards) over
    (volume the sensor says was burned), with an interval by resampling flights. Rates and imbalance are given
    with that factor applied, since a sensor that reads 4 % high looks just like an engine that burns 4 % more.
    """
    names = dict.fromkeys(t.name for f in flights for t in f.result.fuel.tanks)
    learned = learn_curves(flights)
    tanks = tuple(_tank(name, flights, learned.get(name)) for name in names)
    measured = {f.flight_id: all(t.measured for t in f.result.fuel.tanks) for f in flights}
    at, values = _imbalances(tanks, measured)
    labels = [t.name for t in tanks]
    order = _numbers(flights, at)
    trend = robust_trend(order, values_of(values), "%", "Trend of imbalance")
    step = find_step(values_of(values)) if len(values) >= 6 and np.isfinite(values_of(values)).all() else None
    figure, level, sentence, since = _imbalance_story(labels, flights, at, values, step)
    timer, missing = _timer(flights, tanks)
    return FuelHistory(tanks, at, values, trend, figure, since, level, sentence, timer, missing)


def _tank(name: str, flights: Sequence[FlightRecord], curve: LearnedCurve | None) -> TankHistory:
    pairs = [(f, t) for f in flights for t in f.result.fuel.tanks if t.name == name]
    tanks = [t for _, t in pairs]
    corrections = sensor_corrections(name, tanks)
    rates = tuple(corrected(t.airborne_rate_ml_per_min, corrections.get(t.source)) for t in tanks)
    normalised = _normalised(name, tanks, corrections)
    basis, what = (
        (rates, "") if sum(f.value is not None for f in normalised) < 4 else (normalised, " at the same shaft speed")
    )
    order = np.array([f.number for f, _ in pairs], float)
    values = np.where([t.measured for t in tanks], values_of(basis), np.nan)
    trend = robust_trend(order, values, "mL/min", f"Trend of burn, {name}")
    seen = np.flatnonzero(np.isfinite(values))
    step = find_step(values[seen]) if seen.size >= 6 else None
    figure = _step_figure(f"Change of burn, {name}", "mL/min", step, what.strip())
    level = Level.FINE
    if changed := since_change(values):
        before = values[:changed][np.isfinite(values[:changed])]
        size = step.size if step else 0.0
        way = "more" if size > 0 else "less"
        level = Level.WATCH
        sentence = (
            f"Tank {name} burns {100.0 * abs(size) / float(np.median(before)):.1f} % {way} from flight "
            f"{pairs[changed][0].number} on than before{what}."
        )
    elif trend.value is not None and trend.low is not None and trend.high is not None and trend.low * trend.high > 0:
        span = f"{trend.low:+.1f} to {trend.high:+.1f}"
        level = Level.NOTE
        sentence = f"Tank {name} burns {trend.value:+.1f} mL/min with each flight ({span})."
    else:
        sentence = f"Tank {name} shows no change of burn over {seen.size} flights beyond chance."
    usual = max(corrections, key=lambda kind: sum(t.source == kind for t in tanks), default="")
    none = Figure.unavailable(f"Sensor correction over flights, {name}", "×", "no flight's fuel was told by a sensor")
    return TankHistory(
        name=name,
        engine=tanks[-1].engine,
        correction=corrections.get(usual, none),
        flight_ids=tuple(f.flight_id for f, _ in pairs),
        rates=rates,
        normalised_rates=normalised,
        rate_trend=trend,
        step=figure,
        level=level,
        sentence=sentence,
        curve=curve,
        curve_spread_percent=spread_figure(name, curve),
    )


def _normalised(name: str, tanks: Sequence[TankResult], corrections: dict[str, Figure]) -> tuple[Figure, ...]:
    """Burn at one common shaft speed, from each flight's curve: the median of the flights' own mean working speeds."""
    label = f"Burn at the common speed, {name}"
    curves = [t.curve for t in tanks if t.curve is not None]
    if len(curves) < 4:
        why = "needs shaft speed beside fuel in at least four flights"
        return tuple(Figure.unavailable(label, "mL/min", why) for _ in tanks)
    common = common_speed(curves)
    out = []
    for t in tanks:
        if t.curve is None:
            out.append(Figure.unavailable(label, "mL/min", "no shaft speed beside fuel in this flight"))
            continue
        k = corrections[t.source].value or 1.0
        value = k * float(t.curve.at(np.array([common]))[0])
        half = Z95 * k * t.curve.scatter_ml_per_min / np.sqrt(max(t.curve.seconds / 15.0, 1.0))
        how = f"burn curve of this flight at {common:,.0f} rpm"
        out.append(Figure(label, value, "mL/min", Method.ESTIMATED, value - half, value + half, how=how))
    return tuple(out)


def _imbalances(
    tanks: tuple[TankHistory, ...], measured: dict[str, bool]
) -> tuple[tuple[str, ...], tuple[Figure, ...]]:
    if len(tanks) != 2:
        return (), ()
    first, second = (dict(zip(t.flight_ids, t.rates, strict=True)) for t in tanks)
    label = f"Imbalance, {tanks[0].name} over {tanks[1].name}"
    out: dict[str, Figure] = {}
    for flight_id, a in first.items():
        b = second.get(flight_id)
        if b is not None and a.value and b.value and a.value + b.value > 0 and measured[flight_id]:
            out[flight_id] = imbalance_of(label, a, b, "difference over mean of the two corrected burns in flight")
    return tuple(out), tuple(out.values())


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


def _timer(flights: Sequence[FlightRecord], tanks: tuple[TankHistory, ...]) -> tuple[TimerCurve | None, Text]:
    """The tank that gives out first decides."""
    aircraft = flights[-1].context.aircraft if flights else None
    if aircraft is None or not tanks:
        return None, "no fuel has been logged for this aircraft"
    curves = []
    lacking: Text = ""
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
) -> tuple[TimerCurve | None, Text]:
    pairs = [(f, t) for f in flights for t in f.result.fuel.tanks if t.name == history.name]
    # Only flights of the engine as it is now: after a change of burn the older ones mislead.
    now = since_change(values_of(history.normalised_rates))
    used = [(f, t, r) for (f, t), r in list(zip(pairs, history.rates, strict=True))[now:] if t.measured]
    start = _usual_start(history.name, tank, [t for _, t in pairs])
    if start.value is None:
        return None, start.missing
    rule = (tank.reserve if tank else None) or aircraft.reserve
    if rule is None:
        return None, "no reserve is stated; 20 % of the tank is a suggestion (common practice, no source)"
    latest = next((r for _, _, r in reversed(used) if r.value is not None), None)
    if latest is None:
        return None, f"no flight of tank {history.name} has a burn rate by a sensor"
    reserve = reserve_volume("Reserve", rule, tank or Tank(history.name), latest)
    if reserve.value is None:
        return None, f"the reserve can't be worked out as a volume: {reserve.missing}"
    k, known = history.correction.value or 1.0, history.correction.value is not None
    ground = [k * v if (v := t.burned_before_take_off_ml.value) is not None else np.nan for _, t, _ in used]
    curve = timer_curve(
        values_of(r for _, _, r in used),
        np.array(ground),
        start,
        reserve.value,
        history.name,
        shared_se=history.correction.half_width / Z95 / k if known else 0.0,
    )
    return curve, "" if curve else "the odds need at least three flights with burn and airborne time"


def _usual_start(name: str, tank: Tank | None, tanks: Sequence[TankResult]) -> Figure:
    """What is on board at start: as the owner states, as the last flights had it, else a full tank."""
    label = f"Usually on board at start, {name}"
    full = tank.capacity_ml if tank else None
    if tank and tank.usual_fill_ml is not None:
        how = "the usual fill stated in the aircraft file"
        return Figure(label, tank.usual_fill_ml, "mL", Method.ENTERED, how=how, digits=0)
    known = [t.on_board_at_start_ml for t in tanks if t.on_board_at_start_ml.method is not Method.ASSUMED]
    starts = values_of(f for f in known if f.value is not None)[-STARTS:]
    if starts.size:
        value, low, high = float(np.median(starts)), float(starts.min()), float(starts.max())
        of = f"the last {starts.size} flights" if starts.size > 1 else "the last flight"
        if full is None or value < FULL_SHARE * full:
            how = f"the usual of {of}" + (f", {low:.0f} to {high:.0f} mL" if high - low > 0.05 * value else "")
            return Figure(label, value, "mL", Method.ESTIMATED, low, high, how=how, digits=0)
        return Figure(label, full, "mL", Method.ESTIMATED, how=f"full, as in {of}", digits=0)
    if full is None:
        return Figure.unavailable(label, "mL", f"the capacity of tank {name} is not stated")
    return Figure(label, full, "mL", Method.ASSUMED, how="tank assumed full", digits=0)


def _numbers(flights: Sequence[FlightRecord], ids: tuple[str, ...]) -> FloatArray:
    number = {f.flight_id: float(f.number) for f in flights}
    return np.array([number[i] for i in ids], float)
