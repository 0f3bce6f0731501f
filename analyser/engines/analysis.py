"""Turbines: starts, running, flame-outs and cool-downs.

Temperature limits come from the engine's maker through the aircraft file; nothing is assumed where they are absent.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from scipy import ndimage

from analyser.core.aircraft import Engine, FlightContext
from analyser.core.events import Event, happened, runs_of
from analyser.core.figures import Figure, FloatArray, Method, Missing
from analyser.core.findings import Part, Text, say
from analyser.core.phases import COLD_EGT_C, PhaseName, Phases, idle_speed
from analyser.core.statistics.robust import median, quantiles
from analyser.core.statistics.smoothing import integrate, unwrap_counter
from analyser.core.tables import Tabular
from analyser.core.telemetry import Telemetry
from analyser.engines.codes import EngineCode

STEP_S = 0.2
FULL_SHARE = 0.95
SHORTEST_RUN_S = 5.0
LONGEST_START_S = 120.0
OVERSPEED = 1.25
"""No shaft outlives more than this times its highest speed (common practice, no source)."""
COLLAPSE_SHARE = 0.75
"""Below this share of idle an engine no longer sustains itself (common practice, no source)."""


class Start(Struct, frozen=True):
    """One start attempt of one engine; ``duration_s`` from first turning to idle."""

    start_s: float
    succeeded: bool
    duration_s: Figure
    peak_egt_c: Figure
    hot: bool


class EngineResult(Struct, frozen=True):
    """One engine over one flight. The spreads are the 5th to 95th percentile range while settled."""

    name: str
    starts: tuple[Start, ...]
    run_min: Figure
    idle_rpm: Figure
    idle_spread_rpm: Figure
    max_rpm: Figure
    max_rpm_spread_rpm: Figure
    max_egt_c: Figure
    cool_down_s: Figure
    mah_per_start: Figure
    events: tuple[Event, ...]


class TurbineResult(Tabular, Struct, frozen=True):
    """All engines of one flight."""

    engines: tuple[EngineResult, ...]
    missing: tuple[Missing, ...]


class _Run(Struct, frozen=True, eq=False):
    """Shaft speed on the grid, from its first sample to its last, and the spans in which the engine sustained itself.

    ``seen`` are the instants of the samples themselves: between them, across a hole, speed is drawn as a line.
    """

    grid: FloatArray
    speed: FloatArray
    idle: float
    top: float
    runs: tuple[tuple[float, float], ...]
    seen: FloatArray


def analyse_turbines(telemetry: Telemetry, phases: Phases, context: FlightContext) -> TurbineResult:
    """Work out one flight's engine story.

    Returns
    -------
    TurbineResult
        One entry per ``engine.*`` instance with shaft speed; engines without it are listed as missing.
    """
    engines: list[EngineResult] = []
    missing: list[Missing] = []
    names = telemetry.instances("engine")
    for name in names:
        if not telemetry.has(f"engine.{name}.speed_rpm"):
            missing.append(
                Missing(
                    f"engine.{name}", say(EngineCode.SHAFT_SPEED), say(EngineCode.STARTS_AND_RUNNING, engine=name),
                    say(EngineCode.LOG_SHAFT_SPEED),
                )
            )  # fmt: skip
            continue
        described = context.aircraft.engine(name) if context.aircraft else None
        engines.append(_engine(name, described or Engine(name), telemetry, phases))
        if described is None or described.max_start_egt_c is None:
            missing.append(
                Missing(
                    f"engine.{name}", say(EngineCode.START_LIMIT), say(EngineCode.WHETHER_HOT, engine=name),
                    say(EngineCode.STATE_LIMIT),
                )
            )  # fmt: skip
    if not names:
        missing.append(
            Missing("engines", say(EngineCode.ANY_CHANNEL), say(EngineCode.ALL_OF_ENGINES), say(EngineCode.LOG_ENGINES))
        )
    return TurbineResult(tuple(engines), tuple(missing))


def _engine(name: str, engine: Engine, telemetry: Telemetry, phases: Phases) -> EngineResult:
    run = _running(name, engine, telemetry)
    egt = telemetry.series(f"engine.{name}.egt_c")
    starts = _starts(name, engine, telemetry, run)
    events = [*_start_events(name, engine, starts), *_flame_outs(name, telemetry, run, phases)]
    cool, cut = _cool_down(name, telemetry, run)
    if cut:
        events.append(cut)
    change = np.abs(np.diff(run.speed, append=run.speed[-1:])) / STEP_S
    settled = ndimage.uniform_filter1d(change, round(2 / STEP_S)) < 0.005 * max(run.top, 1)
    idle = settled & (run.speed > 0.85 * run.idle) & (run.speed < 1.25 * run.idle)
    full = (run.speed > FULL_SHARE * run.top) & settled
    minutes = sum(b - a for a, b in run.runs) / 60.0
    fast = _too_fast(engine, run.top)
    hottest = float(egt.values.max()) if egt else None
    hot = _highest(say(EngineCode.HIGHEST_EGT, engine=name), hottest, "°C", say(EngineCode.NO_EGT))
    if engine.max_egt_c is not None and hot.value is not None and hot.value > engine.max_egt_c:
        at = float(egt.time_s[int(egt.values.argmax())])
        said = say(EngineCode.OVER_TEMPERATURE, engine=name, reached=hot, limit=engine.max_egt_c)
        events.append(happened("over_temperature", f"engine.{name}", (at, at), said, depth=hot))
    return EngineResult(
        name=name,
        starts=starts,
        run_min=Figure(
            say(EngineCode.RUN, engine=name),
            minutes,
            "min",
            Method.INTEGRATED,
            how=say(EngineCode.SELF_SUSTAINING, channel=Part(f"engine.{name}.speed_rpm")),
        ),
        idle_rpm=_settled(say(EngineCode.IDLE, engine=name), run.speed[idle]).with_doubt(*fast),
        idle_spread_rpm=_spread(say(EngineCode.IDLE_SPREAD, engine=name), run.speed[idle]).with_doubt(*fast),
        max_rpm=_highest(
            say(EngineCode.HIGHEST_SPEED, engine=name),
            run.top if run.top > 0 else None,
            "rpm",
            say(EngineCode.NEVER_TURNED),
        ).with_doubt(*fast),
        max_rpm_spread_rpm=_spread(say(EngineCode.FULL_SPREAD, engine=name), run.speed[full]).with_doubt(*fast),
        max_egt_c=hot,
        cool_down_s=cool,
        mah_per_start=_charge_per_start(name, engine, telemetry, starts),
        events=tuple(sorted(events, key=lambda e: e.start_s)),
    )


def _too_fast(engine: Engine, top: float) -> tuple[Text, ...]:
    """A doubt where the shaft is said to turn faster than any engine survives."""
    if engine.max_rpm is None or top <= OVERSPEED * engine.max_rpm:
        return ()
    return (say(EngineCode.TOO_FAST, engine=engine.name, reached=top, limit=engine.max_rpm),)


def _running(name: str, engine: Engine, telemetry: Telemetry) -> _Run:
    channel = f"engine.{name}.speed_rpm"
    t, values = telemetry.series(channel)
    # Nobody saw the engine before the channel's first sample or after its last; a hole between says nothing either.
    first, last = (float(t[0]), float(t[-1])) if t.size else (0.0, 0.0)
    grid = np.arange(first, last + STEP_S / 2, STEP_S)
    speed = np.interp(grid, t, values) if t.size else np.zeros(grid.size)
    top = float(values.max(initial=0.0))
    idle = engine.idle_rpm or (idle_speed(values) if top > 5_000 else float("inf"))
    alight = ndimage.binary_opening(speed > 0.85 * idle, iterations=max(1, round(SHORTEST_RUN_S / STEP_S / 2)))
    # Once running, an engine counts as running until it falls clearly below idle.
    alight = ndimage.binary_closing(alight, iterations=round(1.0 / STEP_S))
    runs = tuple((float(grid[a]), float(grid[min(b, grid.size - 1)])) for a, b in runs_of(alight))
    return _Run(grid, speed, idle, top, runs, seen=t)


def _starts(name: str, engine: Engine, telemetry: Telemetry, run: _Run) -> tuple[Start, ...]:
    """Attempts: spans of turning that begin from rest. One that reaches idle within two minutes succeeded."""
    egt = telemetry.series(f"engine.{name}.egt_c")
    if not np.isfinite(run.idle):
        return ()
    turning = np.asarray(ndimage.binary_closing(run.speed > 0.04 * run.idle, iterations=round(2 / STEP_S)), bool)
    out = []
    for head, tail in runs_of(turning):
        begin, end = float(run.grid[head]), float(run.grid[min(tail, run.grid.size - 1)])
        if head == 0:
            continue  # the log began with the engine already turning: nobody saw the start
        lit = next((a for a, b in run.runs if begin <= a <= min(end, begin + LONGEST_START_S)), None)
        if lit is None and run.speed[head:tail].max() < 0.15 * run.idle:
            continue  # a cooling spin or wind-milling, not an attempt
        if lit is None and any(b <= begin <= b + 300.0 for _, b in run.runs) and not _lights_up(egt, begin, end):
            continue  # a cooling spin after shutdown
        until = lit + 2.0 if lit is not None else end
        inside = (egt.time_s >= begin) & (egt.time_s <= until)
        peak = float(egt.values[inside].max()) if inside.any() else None
        hot = peak is not None and engine.max_start_egt_c is not None and peak > engine.max_start_egt_c
        label = say(EngineCode.START_TIME, engine=name)
        duration = (
            Figure(label, lit - begin, "s", Method.INTEGRATED, how=say(EngineCode.FROM_SHAFT_SPEED))
            if lit is not None
            else Figure.unavailable(label, "s", say(EngineCode.NO_IDLE))
        )
        peak_figure = _highest(say(EngineCode.START_PEAK, engine=name), peak, "°C", say(EngineCode.NO_EGT))
        out.append(Start(begin, lit is not None, duration, peak_figure, hot))
    return tuple(out)


def _lights_up(egt: tuple[FloatArray, FloatArray], begin: float, end: float) -> bool:
    """Whether exhaust temperature rises by 100 °C within the span: a flame, not a cooling spin."""
    t, v = egt
    inside = (t >= begin) & (t <= end)
    if inside.sum() < 2:
        return False
    w = v[inside]
    return bool((w - np.minimum.accumulate(w)).max() > 100.0)


def _start_events(name: str, engine: Engine, starts: tuple[Start, ...]) -> list[Event]:
    out = []
    for s in starts:
        end = s.start_s + (s.duration_s.value or 0.0)
        if not s.succeeded:
            said = say(EngineCode.FAILED_START, engine=name)
            out.append(happened("failed_start", f"engine.{name}", (s.start_s, end), said))
        if s.hot and s.peak_egt_c.value is not None and engine.max_start_egt_c is not None:
            said = say(EngineCode.HOT_START, engine=name, peak=s.peak_egt_c, limit=engine.max_start_egt_c)
            out.append(happened("hot_start", f"engine.{name}", (s.start_s, end), said, depth=s.peak_egt_c))
    return out


def _flame_outs(name: str, telemetry: Telemetry, run: _Run, phases: Phases) -> list[Event]:
    """The end of a run while airborne, or while throttle or fuel still asked for power: nobody meant to stop."""
    out = []
    air = phases.spans(PhaseName.FLIGHT, PhaseName.TAKE_OFF)
    asked_by = next(
        (
            c
            for c in (f"engine.{name}.throttle_percent", "control.throttle_percent", f"engine.{name}.pump_percent")
            if telemetry.has(c)
        ),
        None,
    )
    for _, stop in run.runs:
        if stop >= run.grid[-1] - 2 * STEP_S:
            continue
        # Four seconds on, or as soon after a hole as it was seen again.
        again = run.seen[min(int(np.searchsorted(run.seen, stop)), run.seen.size - 1)]
        after = (run.grid >= stop) & (run.grid <= max(stop + 4.0, float(again)))
        if run.speed[after].size and run.speed[after].min() > COLLAPSE_SHARE * run.idle:
            continue
        airborne = any(a <= stop <= b for a, b in air)
        asked = False
        if asked_by:
            wanted = telemetry.at(asked_by, np.array([stop - 1.0, stop, stop + 1.0]), max_gap_s=5.0)
            asked = bool(np.nanmin(wanted) > 15.0) if np.isfinite(wanted).any() else False
        if airborne or asked:
            said = say(EngineCode.FLAME_OUT, engine=name, airborne=airborne, at_s=stop)
            out.append(happened("flame_out", f"engine.{name}", (stop, min(stop + 4.0, float(run.grid[-1]))), said))
    return out


def _cool_down(name: str, telemetry: Telemetry, run: _Run) -> tuple[Figure, Event | None]:
    label = say(EngineCode.COOL_DOWN, engine=name)
    egt = telemetry.series(f"engine.{name}.egt_c")
    if not run.runs:
        return Figure.unavailable(label, "s", say(EngineCode.NEVER_RAN)), None
    stop, end = run.runs[-1][1], float(run.grid[-1])
    if stop >= end - 1.0:
        return Figure.unavailable(label, "s", say(EngineCode.NOT_TO_SHUTDOWN)), None
    if not egt:
        return Figure.unavailable(label, "s", say(EngineCode.NO_EGT)), None
    after = egt.time_s > stop
    cold = after & (egt.values < COLD_EGT_C)
    if cold.any():
        value = float(egt.time_s[cold][0]) - stop
        how = say(EngineCode.UNTIL_COLD, cold=COLD_EGT_C)
        return Figure(label, value, "s", Method.INTEGRATED, how=how, digits=0), None
    if not after.any():
        return Figure.unavailable(label, "s", say(EngineCode.NO_EGT_AFTER)), None
    last = float(egt.values[after][-1])
    said = say(EngineCode.COOL_DOWN_CUT, engine=name, after_s=end - stop, temperature=last)
    figure = Figure.unavailable(label, "s", say(EngineCode.STILL_HOT, temperature=last, after_s=end - stop))
    return figure, happened("cool_down_cut", f"engine.{name}", (stop, end), said)


def _charge_per_start(name: str, engine: Engine, telemetry: Telemetry, starts: tuple[Start, ...]) -> Figure:
    label = say(EngineCode.CHARGE_PER_START, engine=name)
    role = engine.pack_role or next(
        (r for r in telemetry.instances("pack") if r in (f"ecu_{name}", f"engine_{name}", "ecu", name)), ""
    )
    good = [s for s in starts if s.succeeded and s.duration_s.value is not None]
    if not good:
        return Figure.unavailable(label, "mAh", say(EngineCode.NO_START))
    current = telemetry.series(f"pack.{role}.current_a")
    used = telemetry.series(f"pack.{role}.used_mah")
    if current:
        t, total = current.time_s, integrate(current.time_s, current.values) / 3.6
        how = say(EngineCode.CHARGE_FROM_CURRENT, channel=Part(f"pack.{role}.current_a"), n=len(good))
    elif used:
        t, total = used.time_s, unwrap_counter(used.values)
        how = say(EngineCode.CHARGE_FROM_COUNT, channel=Part(f"pack.{role}.used_mah"), n=len(good))
    else:
        return Figure.unavailable(label, "mAh", say(EngineCode.NO_CHARGE))
    spent = [
        float(np.interp(s.start_s + (s.duration_s.value or 0.0), t, total) - np.interp(s.start_s, t, total))
        for s in good
    ]
    value = float(np.mean(spent))
    if value < 0.0:
        return Figure.unavailable(label, "mAh", say(EngineCode.START_BELOW_NOUGHT, mah=value))
    doubts = (s.note for s in telemetry.suspects if s.channel.startswith(f"pack.{role}."))
    return Figure(label, value, "mAh", Method.INTEGRATED, how=how).with_doubt(*doubts)


def _highest(label: Text, value: float | None, unit: str, missing: Text) -> Figure:
    """The highest sample: what the sensor showed as it stands."""
    if value is None:
        return Figure.unavailable(label, unit, missing)
    return Figure(label, value, unit, Method.MEASURED, how=say(EngineCode.HIGHEST_SAMPLE), digits=0)


def _settled(label: Text, values: FloatArray) -> Figure:
    if values.size < 5 / STEP_S:
        return Figure.unavailable(label, "rpm", say(EngineCode.NOT_SETTLED))
    how = say(EngineCode.SETTLED_MEDIAN)
    return Figure(label, median(values), "rpm", Method.INTEGRATED, how=how, digits=0)


def _spread(label: Text, values: FloatArray) -> Figure:
    if values.size < 5 / STEP_S:
        return Figure.unavailable(label, "rpm", say(EngineCode.NOT_SETTLED))
    low, high = quantiles(values, 0.05, 0.95)
    how = say(EngineCode.SETTLED_SPREAD)
    return Figure(label, float(high - low), "rpm", Method.INTEGRATED, how=how, digits=0)
