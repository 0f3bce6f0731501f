"""Fuel over many flights of one aircraft: sensor scale, burn trend, imbalance, how long next time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.aircraft import Aircraft, Tank
from analyser.core.burn_curve import LearnedCurve
from analyser.core.figures import Z95, Figure, FloatArray, Method, values_of
from analyser.core.findings import Text, say
from analyser.core.levels import COMMON_PRACTICE, Level, Limits
from analyser.core.statistics.trends import FEWEST, Step, robust_trend, widened
from analyser.fuel.codes import FuelCode
from analyser.fuel.remaining import reserve_volume
from analyser.fuel.scale import SensorScale
from analyser.fuel.tank import TankResult
from analyser.record import FlightRecord
from analyser.season.fuel.codes import SeasonFuelCode
from analyser.season.fuel.learned_burn import (
    STEP_P,
    common_speed,
    last_change,
    learn_curves,
    spread_figure,
    step_of,
)
from analyser.season.fuel.sensor_scale import scales_by_flight
from analyser.season.fuel.timer import (
    PastFlights,
    TimerCurve,
    TimerTable,
    first_to_reserve,
    timer_curve,
    timer_table,
)

STARTS = 5
"""So many last flights tell what the owner usually has on board at start."""
FULL_SHARE = 0.97
"""A start above this share of what the tank holds is called full."""
SMALLEST_IMBALANCE_STEP = 1.5
"""Percent below which a change of imbalance is not stated, however sure."""
SMALLEST_IMBALANCE = 2.0
"""Percent below which two engines are said to burn alike, however sure."""


class BurnHistory(Struct, frozen=True):
    """One tank's burn over flights: its trend, its one step, what to say, and how bad it is."""

    trend: Figure
    step: Figure
    level: Level
    verdict: Text


class TankHistory(Struct, frozen=True):
    """One tank over flights; ``rates`` are the flights' own burns in flight and run parallel to ``flight_ids``.

    ``normalised_rates`` are by each flight's burn curve at one common shaft speed, so that a day of hard flying does
    not look like a worn pump. ``scale`` is the sensor's scale as noted volumes taught it. ``curve`` is the burn curve
    learned over flights, set right by that scale; it serves flights that log shaft speed alone, and those, being told
    by it, are left out of all but ``rates``.
    """

    name: str
    engine: str
    scale: SensorScale | None
    flight_ids: tuple[str, ...]
    rates: tuple[Figure, ...]
    normalised_rates: tuple[Figure, ...]
    burn: BurnHistory
    curve: LearnedCurve | None
    curve_spread: Figure


class ImbalanceHistory(Struct, frozen=True):
    """Two tanks' imbalance over flights; ``values``, the flights' own, run parallel to ``flight_ids``.

    ``since`` is the id of the flight from which on the imbalance is another one, '' where it never changed.
    """

    flight_ids: tuple[str, ...]
    values: tuple[Figure, ...]
    trend: Figure
    step: Figure
    since: str
    level: Level
    verdict: Text


class FuelHistory(Struct, frozen=True):
    """Fuel of one aircraft over its flights; ``timer_missing`` says why there is no timer.

    ``tables`` hold each tank's odds for a page that answers for other volumes and times by itself.
    """

    tanks: tuple[TankHistory, ...]
    imbalance: ImbalanceHistory
    timer: TimerCurve | None
    timer_missing: Text
    tables: tuple[TimerTable, ...] = ()


def fuel_history(flights: Sequence[FlightRecord], limits: Limits = COMMON_PRACTICE) -> FuelHistory:
    """Follow one aircraft's fuel over its flights, oldest first.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Set right by each other's noted volumes (:func:`analyser.season.fuel.sensor_scale.correct_burn`): a sensor that
        reads 4 % high looks just like an engine that burns 4 % more.
    limits : Limits
        What a change of burn or of balance deserves.
    """
    names = dict.fromkeys(t.name for f in flights for t in f.result.fuel.tanks)
    scales = scales_by_flight(flights)
    learned = learn_curves(flights, scales=scales)
    tanks = tuple(_tank(name, flights, scales, learned.get(name), limits) for name in names)
    timer, tables, missing = _timer(flights, scales, tanks)
    return FuelHistory(tanks, _imbalance(tanks, flights, limits), timer, missing, tables)


def _tank(
    name: str, flights: Sequence[FlightRecord], scales: Sequence[dict[str, SensorScale]], curve: LearnedCurve | None,
    limits: Limits,
) -> TankHistory:  # fmt: skip
    found = [(f, t, s.get(name)) for f, s in zip(flights, scales, strict=True)
             for t in f.result.fuel.tanks if t.name == name]  # fmt: skip
    tanks = [t for _, t, _ in found]
    rates = tuple(t.rate for t in tanks)
    normalised = _normalised(name, tanks, [s for _, _, s in found])
    return TankHistory(
        name=name,
        engine=tanks[-1].engine,
        scale=next((s for _, _, s in reversed(found) if s is not None), None),
        flight_ids=tuple(f.flight_id for f, _, _ in found),
        rates=rates,
        normalised_rates=normalised,
        burn=_burn(name, [f for f, _, _ in found], tanks, normalised, limits),
        curve=curve,
        curve_spread=spread_figure(name, curve),
    )


def _burn(
    name: str, flights: Sequence[FlightRecord], tanks: Sequence[TankResult], normalised: Sequence[Figure],
    limits: Limits,
) -> BurnHistory:  # fmt: skip
    common = sum(f.value is not None for f in normalised) >= 4
    basis = normalised if common else [t.rate for t in tanks]
    values = np.where([t.measured for t in tanks], values_of(basis), np.nan)
    order = np.array([f.number for f in flights], float)
    trend = _trend_by_day(flights, order, values, say(SeasonFuelCode.RATE_TREND, tank=name))
    step = step_of(values)
    seen = np.flatnonzero(np.isfinite(values)).tolist()
    days = len(np.unique(_days([flights[i] for i in seen])))
    # A day's flights are alike: of so many flights, only their days are independent.
    wider = float(np.sqrt(len(seen) / max(days, 1)))
    figure = _step_figure(say(SeasonFuelCode.RATE_STEP, tank=name), "mL/min", step, common, wider=wider)
    if changed := last_change(values):
        before = values[:changed][np.isfinite(values[:changed])]
        size = step.size if step else 0.0
        verdict = say(
            SeasonFuelCode.BURN_CHANGED, tank=name, percent=100.0 * abs(size) / float(np.median(before)),
            more=size > 0, flight=flights[changed].number, common=common,
        )  # fmt: skip
        return BurnHistory(trend, figure, limits.matter("burn_step"), verdict)
    if trend.value is not None and trend.low is not None and trend.high is not None and trend.low * trend.high > 0:
        verdict = say(SeasonFuelCode.BURN_DRIFTS, tank=name, by=trend.value, low=trend.low, high=trend.high)
        return BurnHistory(trend, figure, limits.matter("burn_drift"), verdict)
    n = int(np.isfinite(values).sum())
    if trend.low is None or trend.high is None:
        return BurnHistory(trend, figure, Level.FINE, say(SeasonFuelCode.BURN_UNTOLD, tank=name, n=n, fewest=FEWEST))
    verdict = say(SeasonFuelCode.BURN_STEADY, tank=name, n=n, low=trend.low, high=trend.high)
    return BurnHistory(trend, figure, Level.FINE, verdict)


def _trend_by_day(flights: Sequence[FlightRecord], order: FloatArray, values: FloatArray, label: Text) -> Figure:
    """Trend over flights, with a day's flights as one draw: they share weather, fuel and hands.

    With fewer days than a trend needs, the flights' own trend stands, widened as if each day were one flight.
    """
    good = np.flatnonzero(np.isfinite(values))
    _, day = np.unique(_days([flights[i] for i in good.tolist()]), return_inverse=True)
    days = int(day.max()) + 1 if good.size else 0
    if days in (good.size, 0):
        return robust_trend(order, values, "mL/min", label)
    if days >= FEWEST:
        x, y = (np.array([np.median(v[good][day == d]) for d in range(days)]) for v in (order, values))
        return robust_trend(x, y, "mL/min", label)
    trend = robust_trend(order, values, "mL/min", label)
    return widened(trend, trend.half_width * float(np.sqrt(good.size / days - 1.0)))


def _normalised(name: str, tanks: Sequence[TankResult], scales: Sequence[SensorScale | None]) -> tuple[Figure, ...]:
    """Burn at one common shaft speed, from each flight's curve: the median of the flights' own mean working speeds."""
    label = say(SeasonFuelCode.COMMON_RATE, tank=name)
    curves = [t.curve for t in tanks if t.curve is not None]
    if len(curves) < 4:
        why = say(SeasonFuelCode.FOUR_WITH_SPEED)
        return tuple(Figure.unavailable(label, "mL/min", why) for _ in tanks)
    common = common_speed(curves)
    out = []
    for t, scale in zip(tanks, scales, strict=True):
        if t.curve is None or scale is None:
            out.append(Figure.unavailable(label, "mL/min", say(SeasonFuelCode.NO_SPEED)))
            continue
        at = float(t.curve.at(np.array([common]))[0])
        half = Z95 * t.curve.scatter_ml_per_min / float(np.sqrt(max(t.curve.seconds / 15.0, 1.0)))
        how = say(SeasonFuelCode.COMMON_RATE_HOW, speed=common)
        # The scale is common to all flights: it moves them together and is no part of how they differ.
        out.append(Figure.within(label, scale.value * at, scale.value * half, "mL/min", how=how))
    return tuple(out)


def _imbalance(tanks: Sequence[TankHistory], flights: Sequence[FlightRecord], limits: Limits) -> ImbalanceHistory:
    label = say(SeasonFuelCode.IMBALANCE_STEP)
    held = [f for f in flights if f.result.fuel.imbalance.value is not None] if len(tanks) == 2 else []
    values = tuple(f.result.fuel.imbalance for f in held)
    shares = values_of(values)
    order = np.array([f.number for f in held], float)
    trend = robust_trend(order, shares, "%", say(SeasonFuelCode.IMBALANCE_TREND))
    if not held:
        none = Figure.unavailable(label, "%", say(SeasonFuelCode.NO_PAIR))
        return ImbalanceHistory((), (), trend, none, "", level=Level.FINE, verdict="")
    first, second = tanks[0].name, tanks[1].name
    step = step_of(shares)
    figure = _step_figure(label, "%", step, False)
    ids = tuple(f.flight_id for f in held)

    def made(since: str, level: Level, verdict: Text) -> ImbalanceHistory:
        return ImbalanceHistory(ids, values, trend, figure, since, level=level, verdict=verdict)

    if step is not None and step.p_value < STEP_P and abs(step.size) > SMALLEST_IMBALANCE_STEP:
        before, after = float(np.median(shares[: step.index])), float(np.median(shares[step.index :]))
        more, less = (first, second) if after > 0 else (second, first)
        verdict = say(
            SeasonFuelCode.BURNS_MORE_SINCE, more=more, less=less, percent=abs(after),
            flight=held[step.index].number, before=abs(before), same=before * after > 0,
        )  # fmt: skip
        return made(ids[step.index], limits.matter("imbalance_step"), verdict)
    now = float(np.median(shares))
    typical = float(np.median([v.half_width for v in values]))
    more, less = (first, second) if now > 0 else (second, first)
    if any(t.scale is None or not t.scale.checked for t in tanks) and abs(now) > SMALLEST_IMBALANCE:
        # The scale's error does not average out over flights, and no engine is to blame for it.
        return made(
            "", Level.FINE, say(SeasonFuelCode.READS_MORE, more=more, less=less, percent=abs(now), within=typical)
        )
    shared = 100.0 * float(np.linalg.norm([t.scale.relative_se if t.scale else 0.0 for t in tanks]))
    within = float(np.hypot(typical / np.sqrt(len(values)), Z95 * shared))
    if abs(now) > max(SMALLEST_IMBALANCE, within):
        verdict = say(SeasonFuelCode.BURNS_MORE, more=more, less=less, percent=abs(now), within=within)
        return made("", limits.matter("imbalance"), verdict)
    return made("", Level.FINE, say(SeasonFuelCode.ALIKE, first=first, second=second, within=max(abs(now), within)))


def _step_figure(label: Text, unit: str, step: Step | None, common: bool, *, wider: float = 1.0) -> Figure:
    if step is None:
        return Figure.unavailable(label, unit, say(SeasonFuelCode.SIX_FLIGHTS))
    how = say(SeasonFuelCode.STEP_HOW, common=common, chance=step.p_value)
    low, high = (step.size + wider * (end - step.size) for end in (step.low, step.high))
    if step.p_value >= STEP_P:
        # The split that looks best looks better than it is: what chance may do is no change (the test, inverted).
        low, high = min(low, 0.0, -abs(step.size)), max(high, 0.0, abs(step.size))
    return Figure(label, step.size, unit, Method.ESTIMATED, low=low, high=high, how=how)


def _timer(
    flights: Sequence[FlightRecord], scales: Sequence[dict[str, SensorScale]], tanks: tuple[TankHistory, ...]
) -> tuple[TimerCurve | None, tuple[TimerTable, ...], Text]:
    """The first tank to reach its reserve decides; one of which nothing is known may be that tank."""
    aircraft = flights[-1].context.aircraft if flights else None
    if aircraft is None or not tanks:
        return None, (), say(SeasonFuelCode.NO_FUEL)
    seen = {t.name for t in tanks}
    if unseen := tuple(t.name for t in aircraft.tanks if t.name not in seen):
        return None, (), say(SeasonFuelCode.TANK_NOT_MEASURED, tanks=unseen)
    curves, tables = [], []
    for history in tanks:
        curve, table, why = _tank_timer(history, aircraft, flights, scales)
        if curve is None:
            return None, (), why
        curves.append(curve)
        if table is not None:
            tables.append(table)
    return first_to_reserve(curves), tuple(tables) if len(tables) == len(curves) else (), ""


def _tank_timer(
    history: TankHistory, aircraft: Aircraft, flights: Sequence[FlightRecord], scales: Sequence[dict[str, SensorScale]]
) -> tuple[TimerCurve | None, TimerTable | None, Text]:
    name = history.name
    found = [(f, t, s.get(name)) for f, s in zip(flights, scales, strict=True)
             for t in f.result.fuel.tanks if t.name == name]  # fmt: skip
    # Only flights of the engine as it is now: after a change of burn the older ones mislead.
    values = values_of(history.normalised_rates)
    now = last_change(values if np.isfinite(values).any() else values_of(history.rates))
    used = [(f, t, s) for f, t, s in found[now:] if s is not None]
    tank = aircraft.tank(name)
    start = _usual_start(name, tank, [t for _, t, _ in found])
    if start.value is None:
        return None, None, start.missing
    rule = (tank.reserve if tank else None) or aircraft.reserve
    if rule is None:
        return None, None, say(SeasonFuelCode.NO_RESERVE)
    latest = next((t.rate for _, t, _ in reversed(used) if t.rate.value is not None), None)
    if latest is None:
        return None, None, say(SeasonFuelCode.NO_RATE, tank=name)
    reserve = reserve_volume(say(FuelCode.RESERVE, tank=name), rule, tank or Tank(name), latest)
    if reserve.value is None:
        return None, None, say(SeasonFuelCode.NO_RESERVE_VOLUME, why=reserve.missing)
    scale = used[-1][2]
    assert scale is not None
    # One scale for all: a flight's own volume put in would add a filling's scatter that the burn does not have.
    past = PastFlights(
        scale.value * values_of(t.by_sensor.rate for _, t, _ in used),
        scale.value * values_of(t.by_sensor.before_take_off for _, t, _ in used),
        np.array([f.result.phases.airborne_s / 60.0 for f, _, _ in used]),
        _days([f for f, _, _ in used]),
        scale.relative_se,
    )
    curve = timer_curve(past, start, reserve.value, name)
    table = timer_table(past, start, reserve.value, name, most_ml=tank.capacity_ml if tank else None)
    return curve, table, "" if curve else say(SeasonFuelCode.TOO_FEW, tank=name)


def _days(flights: Sequence[FlightRecord]) -> npt.NDArray[np.intp]:
    """A number for each flight's day; a flight without a date has a day of its own."""
    days = [f.utc_start.date() if f.utc_start else f.flight_id for f in flights]
    numbers = {d: n for n, d in enumerate(dict.fromkeys(days))}
    return np.array([numbers[d] for d in days], np.intp)


def _usual_start(name: str, tank: Tank | None, tanks: Sequence[TankResult]) -> Figure:
    """What is on board at start: as the owner states, as the last flights had it, else a full tank."""
    label = say(SeasonFuelCode.USUAL_START, tank=name)
    full = tank.capacity_ml if tank else None
    if tank and tank.usual_fill_ml is not None:
        how = say(SeasonFuelCode.STATED_FILL)
        return Figure(label, tank.usual_fill_ml, "mL", Method.ENTERED, how=how, digits=0)
    known = [t.content.start for t in tanks if t.content.start.method is not Method.ASSUMED]
    starts = values_of(f for f in known if f.value is not None)[-STARTS:]
    if starts.size:
        value, low, high = float(np.median(starts)), float(starts.min()), float(starts.max())
        n = int(starts.size)
        if full is None or value < FULL_SHARE * full:
            how = say(SeasonFuelCode.LAST_STARTS, n=n, low=low, high=high, apart=high - low > 0.05 * value)
            return Figure(label, value, "mL", Method.ESTIMATED, low=low, high=high, how=how, digits=0)
        # A tank called full was not filled to its last millilitre: the timer counts on what was there.
        how = say(SeasonFuelCode.LAST_FULL, n=n)
        return Figure(label, min(value, full), "mL", Method.ESTIMATED, how=how, digits=0)
    if full is None:
        return Figure.unavailable(label, "mL", say(SeasonFuelCode.NO_CAPACITY, tank=name))
    return Figure(label, full, "mL", Method.ASSUMED, how=say(SeasonFuelCode.TAKEN_FULL), digits=0)
