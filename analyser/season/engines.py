"""One engine over many flights: hours and starts since service, start and running trends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.core.aircraft import Engine
from analyser.core.events import Level
from analyser.core.figures import Figure, Method, values_of
from analyser.core.trends import robust_trend
from analyser.engines.analysis import EngineResult
from analyser.record import FlightRecord


@dataclass(frozen=True, slots=True)
class EngineHistory:
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
    sentence: str


def turbine_history(flights: Sequence[FlightRecord]) -> tuple[EngineHistory, ...]:
    """Follow one aircraft's engines over its flights, oldest first.

    Hours and starts count from the engine's ``last_service`` where it lies within the log, else from
    ``hours_before_log`` and ``starts_before_log``.
    """
    names = dict.fromkeys(e.name for f in flights for e in f.result.turbine.engines)
    return tuple(_engine(name, flights) for name in names)


def _engine(name: str, flights: Sequence[FlightRecord]) -> EngineHistory:
    pairs = [(f, e) for f in flights for e in f.result.turbine.engines if e.name == name]
    aircraft = pairs[-1][0].context.aircraft
    described = (aircraft.engine(name) if aircraft else None) or Engine(name)
    since = [(f, e) for f, e in pairs if _after_service(f, described)]
    restarted = len(since) < len(pairs)
    hours = (0.0 if restarted else described.hours_before_log) + sum(e.run_min.value or 0.0 for _, e in since) / 60.0
    starts = (0 if restarted else described.starts_before_log) + sum(s.succeeded for _, e in since for s in e.starts)
    failed = sum(not s.succeeded for _, e in pairs for s in e.starts)
    durations = tuple(_first_start(e, "duration_s") for _, e in pairs)
    peaks = tuple(_first_start(e, "peak_egt_c") for _, e in pairs)
    order = np.array([f.number for f, _ in pairs], float)
    to_go, level = _to_service(name, described, hours)
    origin = "logged running time" if restarted else "stated hours before the log plus logged running time"
    sentence = f"Engine {name}: {hours:.1f} h and {starts} starts since service"
    sentence += (
        f", {to_go.value:.1f} h to the service interval."
        if to_go.value is not None
        else "; no service interval stated."
    )
    return EngineHistory(
        name=name,
        hours_since_service=Figure(f"Hours since service, {name}", hours, "h", Method.INTEGRATED, how=origin, digits=2),
        hours_to_service=to_go,
        starts_since_service=Figure(
            f"Starts since service, {name}",
            float(starts),
            "",
            Method.MEASURED,
            how="completed starts counted",
            digits=0,
        ),
        failed_starts=Figure(
            f"Failed starts, {name}",
            float(failed),
            "",
            Method.MEASURED,
            how="attempts that did not reach idle",
            digits=0,
        ),
        flight_ids=tuple(f.flight_id for f, _ in pairs),
        start_durations=durations,
        start_peaks=peaks,
        start_duration_trend=robust_trend(order, values_of(durations), "s", f"Trend of start duration, {name}"),
        start_peak_trend=robust_trend(order, values_of(peaks), "°C", f"Trend of peak start temperature, {name}"),
        level=level,
        sentence=sentence,
    )


def _after_service(flight: FlightRecord, engine: Engine) -> bool:
    return engine.last_service is None or flight.utc_start is None or flight.utc_start.date() >= engine.last_service


def _first_start(engine: EngineResult, field: str) -> Figure:
    good = next((s for s in engine.starts if s.succeeded), None)
    if good is None:
        return Figure.unavailable(f"Start, {engine.name}", "", "no completed start in this log")
    figure: Figure = getattr(good, field)
    return figure


def _to_service(name: str, engine: Engine, hours: float) -> tuple[Figure, Level]:
    label = f"Hours to service, {name}"
    if engine.service_interval_h is None:
        return Figure.unavailable(label, "h", "no service interval is stated (service_interval_h)"), Level.FINE
    left = engine.service_interval_h - hours
    level = Level.ACT if left <= 0 else Level.WATCH if left < 0.1 * engine.service_interval_h else Level.FINE
    how = f"stated interval of {engine.service_interval_h:g} h less hours since service"
    return Figure(label, left, "h", Method.INTEGRATED, how=how, digits=1), level
