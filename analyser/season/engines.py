"""One engine over many flights: hours and starts since service, start and running trends."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.aircraft import Engine
from analyser.core.figures import Figure, FloatArray, Method, values_of
from analyser.core.findings import Text, say
from analyser.core.levels import COMMON_PRACTICE, Level, Limits
from analyser.core.statistics.trends import grain, robust_trend, widened
from analyser.engines.analysis import EngineResult
from analyser.engines.codes import EngineCode
from analyser.record import FlightRecord
from analyser.season.counts import DAY_S, EPOCH, EngineTotal, FlightTotals, Totals, laid_out, start_s

BoolArray = npt.NDArray[np.bool_]


def engine_totals(flight: FlightRecord) -> tuple[EngineTotal, ...]:
    """Take from one flight what counts over its engines' lives."""
    return tuple(
        (
            e.name,
            float(e.run_min.value or 0.0),
            sum(s.succeeded for s in e.starts),
            sum(not s.succeeded for s in e.starts),
        )
        for e in flight.result.turbine.engines
    )


class EngineHistory(Struct, frozen=True):
    """One engine over its flights; tuples run parallel to ``flight_ids``."""

    name: str
    hours_since_service: Figure
    hours_to_service: Figure
    starts_since_service: Figure
    failed_starts: Figure
    flight_ids: tuple[str, ...]
    start_durations: tuple[Figure, ...]
    start_peaks: tuple[Figure, ...]
    start_duration_trend: Figure
    start_peak_trend: Figure
    level: Level
    verdict: Text


def turbine_history(
    flights: Sequence[FlightRecord], limits: Limits = COMMON_PRACTICE, *, totals: Totals | None = None
) -> tuple[EngineHistory, ...]:
    """Follow one aircraft's engines over its flights, oldest first.

    Trends rest on ``flights``; ``totals`` count over every flight, over those given where ``None``.

    Hours and starts count from the engine's ``last_service`` where it lies within the log, else from
    ``hours_before_log`` and ``starts_before_log``; where only the hours before the log are stated, starts since service
    are not known.
    """
    if totals is None:
        counts = [FlightTotals(f.flight_id, start_s(f), None, engine_totals(f), (), ()) for f in flights]
        totals = laid_out(counts)
    names = dict.fromkeys(e.name for f in flights for e in f.result.turbine.engines)
    return tuple(_engine(name, flights, totals, limits) for name in names)


def _engine(name: str, flights: Sequence[FlightRecord], totals: Totals, limits: Limits) -> EngineHistory:
    pairs = [(f, e) for f in flights for e in f.result.turbine.engines if e.name == name]
    aircraft = pairs[-1][0].context.aircraft
    described = (aircraft.engine(name) if aircraft else None) or Engine(name)
    at, runs = totals.engines.of(name)
    counted = np.column_stack([totals.start_s[at], runs])
    since = counted[_after_service(counted[:, 0], described)]
    restarted = len(since) < len(counted)
    before_h = 0.0 if restarted else described.hours_before_log
    hours = before_h + float(since[:, 1].sum()) / 60.0
    logged = int(since[:, 2].sum())
    before = 0 if restarted else described.starts_before_log
    # Hours that reach back before the log beside starts that do not would be two things under one name.
    starts_known = before is not None or before_h == 0.0
    label = say(EngineCode.STARTS, engine=name)
    starts = (
        _count(label, (before or 0) + logged, say(EngineCode.COUNTED_STARTS))
        if starts_known
        else Figure.unavailable(label, "", say(EngineCode.STARTS_BEFORE_UNKNOWN, logged=logged))
    )
    failed = int(counted[:, 3].sum())
    durations = tuple(_first_start(e, "duration_s") for _, e in pairs)
    peaks = tuple(_first_start(e, "peak_egt_c") for _, e in pairs)
    order = np.array([f.number for f, _ in pairs], float)
    to_go, level = _to_service(name, described, hours, limits)
    origin = (
        say(EngineCode.SINCE_SERVICE)
        if restarted
        else say(EngineCode.STATED_PLUS_LOGGED, before=before_h)
        if before_h
        else say(EngineCode.SINCE_LOG)
    )
    ran = Figure(say(EngineCode.HOURS, engine=name), hours, "h", Method.INTEGRATED, how=origin, digits=2)
    verdict = say(
        EngineCode.SERVICE, engine=name, hours=hours, starts=(before or 0) + logged,
        starts_known=starts_known, to_go=to_go, interval=to_go.value is not None,
    )  # fmt: skip
    return EngineHistory(
        name=name,
        hours_since_service=ran,
        hours_to_service=to_go,
        starts_since_service=starts,
        failed_starts=_count(say(EngineCode.FAILED_STARTS, engine=name), failed, say(EngineCode.COUNTED_FAILED)),
        flight_ids=tuple(f.flight_id for f, _ in pairs),
        start_durations=durations,
        start_peaks=peaks,
        start_duration_trend=_trend(order, durations, "s", say(EngineCode.START_TIME_TREND, engine=name)),
        start_peak_trend=_trend(order, peaks, "°C", say(EngineCode.START_PEAK_TREND, engine=name)),
        level=level,
        verdict=verdict,
    )


def _trend(order: FloatArray, figures: tuple[Figure, ...], unit: str, label: Text) -> Figure:
    """A trend over flights of what is timed or read in steps: it may have moved by one, unseen, from end to end."""
    values = values_of(figures)
    step = grain(values) or max(
        (f.high - f.low for f in figures if f.low is not None and f.high is not None), default=0.0
    )
    return widened(robust_trend(order, values, unit, label), step / max(float(np.ptp(order)), 1.0))


def _count(label: Text, count: int, how: Text) -> Figure:
    return Figure(label, float(count), "", Method.INTEGRATED, how=how, digits=0)


def _after_service(start_s: FloatArray, engine: Engine) -> BoolArray:
    """Which flights count since the last service: from its day on, and those without a date."""
    if engine.last_service is None:
        return np.ones(start_s.size, bool)
    return np.asarray(~(start_s < (engine.last_service.toordinal() - EPOCH) * DAY_S), bool)


def _first_start(engine: EngineResult, field: str) -> Figure:
    good = next((s for s in engine.starts if s.succeeded), None)
    if good is None:
        return Figure.unavailable(say(EngineCode.START, engine=engine.name), "", say(EngineCode.NO_START))
    figure: Figure = getattr(good, field)
    return figure


def _to_service(name: str, engine: Engine, hours: float, limits: Limits) -> tuple[Figure, Level]:
    label = say(EngineCode.HOURS_TO_SERVICE, engine=name)
    if engine.service_interval_h is None:
        return Figure.unavailable(label, "h", say(EngineCode.NO_INTERVAL)), Level.FINE
    left = engine.service_interval_h - hours
    level = limits.matter("service_left", 100.0 * left / engine.service_interval_h)
    how = say(EngineCode.INTERVAL_LESS_HOURS, interval=engine.service_interval_h)
    return Figure(label, left, "h", Method.INTEGRATED, how=how, digits=1), level
