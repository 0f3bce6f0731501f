"""An engine's ground run beside its maker's limits."""

from __future__ import annotations

from analyser.bench.codes import BenchCode
from analyser.bench.procedures import PROCEDURES, BenchRecord
from analyser.core.aircraft import Engine
from analyser.core.figures import Figure
from analyser.core.findings import Finding, say
from analyser.core.levels import Level, Limits

_DIGITS = {"start_s": 1, "acceleration_s": 1}


def ground_run(
    record: BenchRecord, engine: Engine | None, limits: Limits
) -> tuple[Level, tuple[Figure, ...], tuple[Finding, ...]]:
    """What the run gave, and which of the limits entered in the aircraft's file it passed."""
    figures, found = [], []
    for reading in PROCEDURES[record.procedure].readings:
        value = record.value(reading.name)
        if value is None:
            continue
        label = say(BenchCode.READING, name=reading.name)
        figure = Figure(label, value, reading.unit, record.method(reading.name), digits=_DIGITS.get(reading.name, 0))
        figures.append(figure)
        limit = _limit(reading.name, engine)
        if limit is not None and value > limit:
            found.append(say(BenchCode.OVER_LIMIT, name=reading.name, reached=figure, limit=limit))
    return limits.matter("bench_over_limit") if found else Level.FINE, tuple(figures), tuple(found)


def _limit(name: str, engine: Engine | None) -> float | None:
    if engine is None:
        return None
    return {
        "start_egt_c": engine.max_start_egt_c, "full_egt_c": engine.max_egt_c, "full_rpm": engine.max_rpm,
    }.get(name)  # fmt: skip
