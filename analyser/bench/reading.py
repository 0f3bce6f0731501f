"""Readings of a procedure taken from the log that was recorded meanwhile."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analyser.bench.codes import BenchCode
from analyser.bench.procedures import PROCEDURES, BenchTrace, Of, Procedure
from analyser.core.aircraft import Aircraft, FlightContext, Tank
from analyser.core.channels import parse
from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, Part, say
from analyser.core.phases import find_phases
from analyser.core.statistics.smoothing import integrate, unwrap_counter
from analyser.core.telemetry import Series, Telemetry
from analyser.engines.analysis import EngineResult, analyse_turbines
from analyser.fuel.sources import engine_of, find_burn

MOVES = 0.05
"""Share of its greatest reading by which a channel must rise to have moved."""
HOLD_S = 1.0
"""Reading of a load: the mean of its last second, but of the second load its first (IEC 61960-3)."""
POINTS = 240
"""Points of a channel that are kept to be looked at."""
MOST_TRACES = 8
_SHOWN: Mapping[Of, tuple[str, ...]] = {
    Of.TANK: ("fuel", "engine"), Of.PACK: ("pack", "bus"), Of.AIRCRAFT: ("bus", "pack"),
    Of.ENGINE: ("engine", "fuel", "pack"),
}  # fmt: skip
ACCELERATED = 0.95
"""Share of full speed at which an acceleration ends."""

Readings = Mapping[str, tuple[float, ...]]


def read_log(
    procedure: Procedure, subject: str, telemetry: Telemetry, aircraft: Aircraft | None
) -> tuple[dict[str, tuple[float, ...]], tuple[str, ...], tuple[Finding, ...]]:
    """Take what a procedure needs from a log.

    Parameters
    ----------
    procedure : Procedure
        What was done while it was recorded.
    subject : str
        The tank, engine, or place of the pack, as the log names it; '' for the whole aircraft.
    telemetry : Telemetry
        The log.
    aircraft : Aircraft or None
        As registered.

    Returns
    -------
    readings : dict of str to tuple of float
        By name, as :data:`~analyser.bench.procedures.PROCEDURES` lists them; those the log does not hold are left out.
    others : tuple of str
        Other engines whose channels moved, for :attr:`Procedure.PLUGS`.
    missing : tuple of Finding
        What was looked for and not found.
    """
    match procedure:
        case Procedure.FLOW:
            return _flow(subject, telemetry, aircraft)
        case Procedure.LOAD:
            return _load(subject, telemetry)
        case Procedure.CAPACITY:
            return _capacity(subject, telemetry)
        case Procedure.SUPPLY | Procedure.PULLED:
            return _supply(subject if procedure is Procedure.PULLED else "", telemetry)
        case Procedure.PLUGS:
            return _plugs(subject, telemetry)
        case Procedure.GROUND_RUN:
            return _ground_run(subject, telemetry, aircraft)
        case _:
            return {}, (), ()


def thin_traces(procedure: Procedure, telemetry: Telemetry) -> tuple[BenchTrace, ...]:
    """What the log of a procedure showed, thinned to :data:`POINTS` points a channel that keep its peaks.

    Parameters
    ----------
    procedure : Procedure
        Which channels are of interest.
    telemetry : Telemetry
        The log.
    """
    wanted = _SHOWN[PROCEDURES[procedure].of]
    out: list[BenchTrace] = []
    for name in telemetry.channels:
        known = parse(name)
        if known is None or known.channel.subject not in wanted or len(out) == MOST_TRACES:
            continue
        series = telemetry.series(name)
        if series.values.size < 2 or np.ptp(series.values) == 0.0:
            continue
        kept = _thinned(series)
        out.append(
            BenchTrace(name, known.channel.unit, tuple(kept.time_s.round(3).tolist()),
                       tuple(float(f"{v:.6g}") for v in kept.values))
        )  # fmt: skip
    return tuple(out)


def _thinned(series: Series) -> Series:
    """The lowest and the highest of each of equal groups of samples, in their order."""
    from tsdownsample import MinMaxDownsampler

    if series.values.size <= POINTS:
        return series
    chosen = MinMaxDownsampler().downsample(series.values, n_out=POINTS)  # type: ignore[no-untyped-call]
    return Series(series.time_s[chosen], series.values[chosen])


Found = tuple[dict[str, tuple[float, ...]], tuple[str, ...], tuple[Finding, ...]]


def _flow(subject: str, telemetry: Telemetry, aircraft: Aircraft | None) -> Found:
    tank = (aircraft.tank(subject) if aircraft else None) or Tank(subject)
    engine = engine_of(tank, aircraft, telemetry.channels)
    out: dict[str, tuple[float, ...]] = {}
    burn, _ = find_burn(tank, engine, telemetry, aircraft, {})
    if burn is not None and burn.channel.startswith("fuel.") and burn.burned_ml[-1] > 0.0:
        out["sensor_ml"] = (float(burn.burned_ml[-1]),)
    drive = telemetry.series(f"engine.{engine}.pump_percent")
    if drive and drive.time_s.size > 1 and (total := float(integrate(*drive)[-1]) / 60.0) > 0.0:
        out["pump_percent_min"] = (total,)
    if out:
        return out, (), ()
    return {}, (), (say(BenchCode.NO_CHANNEL, channel=Part(f"fuel.{subject}.used_ml")),)


def _load(subject: str, telemetry: Telemetry) -> Found:
    """Two loads: the greatest lasting rise of the current; before it ten seconds of the first, after it one second."""
    volts, amps = telemetry.series(f"pack.{subject}.voltage_v"), telemetry.series(f"pack.{subject}.current_a")
    if not volts or not amps:
        channel = "current_a" if volts else "voltage_v"
        return {}, (), (say(BenchCode.NO_CHANNEL, channel=Part(f"pack.{subject}.{channel}")),)
    at = _rise(amps)
    if at is None:
        return {}, (), (say(BenchCode.NO_STEPS),)
    before, after = (at - HOLD_S, at - 0.02), (at + 0.85 * HOLD_S, at + 1.15 * HOLD_S)
    out = {
        "first_a": _mean(amps, *before), "first_v": _mean(volts, *before),
        "second_a": _mean(amps, *after), "second_v": _mean(volts, *after),
    }  # fmt: skip
    cells = [telemetry.series(f"pack.{subject}.cell{n}_v") for n in telemetry.numbers("pack", subject, "cell<n>_v")]
    readings: dict[str, tuple[float, ...]] = {n: (value,) for n, value in out.items() if np.isfinite(value)}
    if cells and all(cells):
        for name, span in (("first_cells_v", before), ("second_cells_v", after)):
            values = tuple(_mean(c, *span) for c in cells)
            if np.isfinite(values).all():
                readings[name] = values
    warm = telemetry.series(f"pack.{subject}.temperature_c")
    if warm:
        readings["temperature_c"] = (float(np.median(warm.values)),)
    return (readings, (), ()) if len(readings) >= 4 else ({}, (), (say(BenchCode.NO_STEPS),))


def _rise(amps: Series) -> float | None:
    """When the current rises most, by its means over a second on either side; ``None`` where it never does by half."""
    t, a = amps
    if t.size < 6 or t[-1] - t[0] < 4.0 * HOLD_S:
        return None
    total = np.r_[0.0, np.cumsum(0.5 * (a[1:] + a[:-1]) * np.diff(t))]
    inner = t[(t > t[0] + 2 * HOLD_S) & (t < t[-1] - 2 * HOLD_S)]
    if not inner.size:
        return None

    def mean(begin: FloatArray, end: FloatArray) -> FloatArray:
        return np.asarray((np.interp(end, t, total) - np.interp(begin, t, total)) / (end - begin), float)

    step = mean(inner + 0.1, inner + 0.1 + HOLD_S) - mean(inner - HOLD_S - 0.1, inner - 0.1)
    k = int(step.argmax())
    if step[k] <= 0.5 * max(float(np.median(np.abs(a))), 0.1):
        return None
    near = np.flatnonzero(np.abs(t[1:] - inner[k]) <= 0.5 * HOLD_S)
    return float(t[1 + near[int(np.diff(a)[near].argmax())]]) if near.size else float(inner[k])


def _mean(series: Series, begin: float, end: float) -> float:
    inside = (series.time_s >= begin) & (series.time_s <= end)
    if inside.any():
        return float(series.values[inside].mean())
    return float(np.interp(0.5 * (begin + end), *series))


def _capacity(subject: str, telemetry: Telemetry) -> Found:
    amps, used = telemetry.series(f"pack.{subject}.current_a"), telemetry.series(f"pack.{subject}.used_mah")
    volts = telemetry.series(f"pack.{subject}.voltage_v")
    out: dict[str, tuple[float, ...]] = {}
    if amps:
        out["discharged_mah"] = (float(integrate(*amps)[-1]) / 3.6,)
        out["current_a"] = (float(np.median(amps.values)),)
    elif used:
        count = unwrap_counter(used.values)
        out["discharged_mah"] = (float(count[-1] - count[0]),)
    else:
        return {}, (), (say(BenchCode.NO_CHANNEL, channel=Part(f"pack.{subject}.current_a")),)
    if volts:
        out["end_v"] = (float(np.median(volts.values[volts.time_s >= volts.time_s[-1] - 2.0])),)
    return out, (), ()


def _supply(pulled: str, telemetry: Telemetry) -> Found:
    """Lowest voltage of the bus where it is logged, else of the packs that stayed in; the greatest sum of currents."""
    places = [p for p in telemetry.instances("pack") if p != pulled]
    buses = [telemetry.series(f"bus.{b}.voltage_v") for b in telemetry.instances("bus")]
    volts = [b for b in buses if b] or [v for p in places if (v := telemetry.series(f"pack.{p}.voltage_v"))]
    if not volts:
        return {}, (), (say(BenchCode.NO_CHANNEL, channel=Part("pack.rx1.voltage_v")),)
    t = volts[0].time_s
    out: dict[str, tuple[float, ...]] = {
        "lowest_v": (float(min(v.values.min() for v in volts)),),
        "seconds": (max(float(t[-1] - t[0]), 1.0),),
    }  # fmt: skip
    amps = [a for p in places if (a := telemetry.series(f"pack.{p}.current_a"))]
    if amps:
        out["highest_a"] = (float(np.sum([np.interp(amps[0].time_s, *a) for a in amps], axis=0).max()),)
    given = {p: float(integrate(*a)[-1]) for p in places if (a := telemetry.series(f"pack.{p}.current_a"))}
    if pulled or len(given) < 2 or sum(given.values()) <= 0.0:
        return out, (), ()
    out["shares_percent"] = tuple(100.0 * max(charge, 0.0) / sum(given.values()) for charge in given.values())
    return out, tuple(f"pack.{p}" for p in given), ()


def _plugs(subject: str, telemetry: Telemetry) -> Found:
    """Which engines' own channels moved: shaft speed or temperature rising from rest, fuel flowing, pump driven."""
    moved = []
    for engine in telemetry.instances("engine"):
        named = [f"engine.{engine}.{q}" for q in ("speed_rpm", "egt_c", "pump_percent")]
        if any(_moved(telemetry.series(c)) for c in named if telemetry.has(c)):
            moved.append(engine)
    if not telemetry.instances("engine"):
        return {}, (), (say(BenchCode.NO_CHANNEL, channel=Part(f"engine.{subject}.speed_rpm")),)
    tanks = [
        t for t in telemetry.instances("fuel")
        if any(_moved(telemetry.series(f"fuel.{t}.{q}")) for q in ("used_ml", "flow_ml_per_min"))
    ]  # fmt: skip
    packs = [
        p for p in telemetry.instances("pack")
        if subject in p or any(e in p for e in telemetry.instances("engine"))
        if _moved(telemetry.series(f"pack.{p}.current_a"))
    ]  # fmt: skip
    named = [f"engine.{e}" for e in moved] + [f"fuel.{t}" for t in tanks] + [f"pack.{p}" for p in packs]
    others = tuple(n for n in named if subject not in n.split(".", 1)[1])
    return {}, others if moved or others else ("",), ()


def _moved(series: Series) -> bool:
    if series.values.size < 3:
        return False
    top = float(np.quantile(series.values, 0.98))
    rest = float(np.quantile(series.values, 0.02))
    return top > 0.0 and top - rest > max(MOVES * abs(top), 1e-9) and top > 1.5 * abs(rest)


def _ground_run(subject: str, telemetry: Telemetry, aircraft: Aircraft | None) -> Found:
    found = analyse_turbines(telemetry, find_phases(telemetry), FlightContext(aircraft=aircraft)).engines
    engine = next((e for e in found if e.name == subject), None)
    if engine is None:
        return {}, (), (say(BenchCode.NO_CHANNEL, channel=Part(f"engine.{subject}.speed_rpm")),)
    start = next((s for s in engine.starts if s.succeeded), None)
    values = {
        "start_s": start.duration_s.value if start else None,
        "start_egt_c": start.peak_egt_c.value if start else None,
        "idle_rpm": engine.idle_rpm.value,
        "full_rpm": engine.max_rpm.value,
        "full_egt_c": engine.max_egt_c.value,
        "cool_down_s": engine.cool_down_s.value,
        "acceleration_s": _acceleration_s(engine, telemetry),
    }
    steps = PROCEDURES[Procedure.GROUND_RUN]
    out: dict[str, tuple[float, ...]] = {}
    for name, value in values.items():
        reading = steps.reading(name)
        if value is not None and reading is not None and reading.low <= value <= reading.high:
            out[name] = (value,)
    return out, (), ()


def _acceleration_s(engine: EngineResult, telemetry: Telemetry) -> float | None:
    """Quickest time from idle to nearly full speed, s; ``None`` where it never went there from idle."""
    idle, top = engine.idle_rpm.value, engine.max_rpm.value
    if idle is None or top is None or top < 1.5 * idle:
        return None
    t, speed = telemetry.series(f"engine.{engine.name}.speed_rpm")
    low, high = speed <= 1.1 * idle, speed >= ACCELERATED * top
    last_low = np.maximum.accumulate(np.where(low, np.arange(t.size), -1))
    first_high = np.flatnonzero(high & ~np.r_[False, high[:-1]])
    took = [float(t[k] - t[last_low[k]]) for k in first_high if last_low[k] >= 0]
    return min(took, default=None)
