"""Any trace of flow, level, count, pump or speed gives finite figures or says why not: no exception, no warning."""

from __future__ import annotations

import math
import warnings

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.core.aircraft import Aircraft, Engine, FlightContext, FuelNote, Reserve, Tank
from analyser.core.burn_curve import LearnedCurve
from analyser.core.figures import FloatArray, figures_of
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.engines.analysis import analyse_turbines
from analyser.flight import FlightResult
from analyser.fuel.analysis import analyse_fuel
from analyser.record import FlightRecord
from analyser.season.fuel.history import fuel_history
from analyser.season.fuel.sensor_scale import correct_burn
from tests.analyser import flown
from tests.reports.invented import make

RANGES = {
    "fuel.left.used_ml": (0.0, 5e3),
    "fuel.left.flow_ml_per_min": (-50.0, 2e3),
    "fuel.left.remaining_ml": (-200.0, 5e3),
    "fuel.left.remaining_percent": (-5.0, 105.0),
    "fuel.right.remaining_ml": (-200.0, 5e3),
    "engine.left.pump_percent": (-5.0, 105.0),
    "engine.left.speed_rpm": (-500.0, 2e5),
    "engine.right.speed_rpm": (-500.0, 2e5),
    "engine.left.egt_c": (-40.0, 900.0),
    "engine.left.throttle_percent": (-25.0, 125.0),
    "control.throttle_percent": (-25.0, 125.0),
    "position.ground_speed_m_s": (-5.0, 100.0),
    "position.height_m": (-50.0, 300.0),
    "pack.ecu_left.used_mah": (0.0, 2e3),
}
SHAPES = ("still", "noise", "ramp", "fall", "steps", "session", "gone")
CURVE = LearnedCurve("left", 60.0, 440.0, 120_000.0, 4, (9.0, -5.0, 40.0))


def _trace(t: FloatArray, shape: str, low: float, high: float, rng: np.random.Generator) -> FloatArray:
    whole = max(float(t[-1]), 1e-3)
    unit = {
        "still": np.full(t.size, rng.uniform()),
        "noise": rng.uniform(size=t.size),
        "ramp": t / whole,
        "fall": 1.0 - t / whole,
        "steps": np.floor(rng.integers(1, 9) * t / whole) / 9.0,
        "session": np.interp(
            t / whole, [0.05, 0.1, 0.2, 0.25, 0.8, 0.85, 0.95, 1.0], [0, 0.3, 0.3, 1, 0.8, 0.3, 0.3, 0]
        ),
        "gone": np.full(t.size, np.nan),
    }[shape]
    out = low + (high - low) * unit
    out[rng.uniform(size=t.size) < rng.choice([0.0, 0.1, 0.9])] = np.nan
    a, b = np.sort(rng.uniform(0.0, whole, 2))
    if rng.uniform() < 0.3:
        out[(t > a) & (t < b)] = np.nan
    return out


@st.composite
def _sessions(draw: st.DrawFn) -> tuple[FloatArray, dict[str, FloatArray], FlightContext]:
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    rows = draw(st.sampled_from([1, 2, 3, 10, 60, 400]))
    step = draw(st.sampled_from([0.02, 0.5, 1.0, 5.0, 30.0]))
    t = np.cumsum(np.r_[0.0, step * rng.choice([1.0, 1.0, 1.0, 0.3, 4.0, 20.0], rows - 1)])
    some = st.lists(st.sampled_from(sorted(RANGES)), min_size=1, max_size=6)
    names = dict.fromkeys([draw(st.sampled_from([n for n in RANGES if ".left." in n])), *draw(some)])
    columns = {n: _trace(t, draw(st.sampled_from(SHAPES)), *RANGES[n], rng) for n in names}
    tank = draw(st.sampled_from([None, Tank("left"), Tank("left", 4000.0, 50.0), Tank("left", usual_fill_ml=2000.0)]))
    engine = Engine("left", tank="left", pump_ml_per_min_at_full=draw(st.sampled_from([None, 900.0])))
    aircraft = Aircraft(
        "Tern", mass_kg=draw(st.sampled_from([None, 0.5, 24.0])), engines=(engine,), tanks=(tank,) if tank else (),
        reserve=draw(st.sampled_from([None, Reserve(percent=20.0), Reserve(ml=500.0), Reserve(minutes=2.0)])),
    )  # fmt: skip
    note = FuelNote(draw(st.sampled_from([None, 0.0, 3000.0])), draw(st.sampled_from([None, 0.0, 1500.0])))
    curves = draw(st.sampled_from([{}, {"left": CURVE}]))
    who = draw(st.sampled_from([None, aircraft]))
    return t, columns, FlightContext(aircraft=who, fuel_notes={"left": note}, learned_burn=curves)


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_sessions())
def test_any_session_gives_finite_figures_or_says_why_not(
    session: tuple[FloatArray, dict[str, FloatArray], FlightContext],
) -> None:
    t, columns, context = session
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        tele = screen(flown.telemetry(t, **columns))
        phases = find_phases(tele)
        fuel = analyse_fuel(tele, phases, context)
        turbine = analyse_turbines(tele, phases, context)
        result = make(FlightResult, fuel=fuel, phases=phases)
        records = [FlightRecord(f"f{n}", n, None, context, result) for n in range(1, 8)]
        over = fuel_history(correct_burn(records))
    figures = [*figures_of(fuel), *figures_of(turbine), *figures_of(over), ("airborne", phases.airborne_min)]
    for path, figure in figures:
        if figure.value is None:
            assert figure.missing, path
            continue
        assert math.isfinite(figure.value), path
        if figure.low is not None and figure.high is not None:
            assert figure.low <= figure.value + 1e-9, path
            assert figure.value - 1e-9 <= figure.high, path
            assert math.isfinite(figure.low), path
            assert math.isfinite(figure.high), path
    for tank in fuel.tanks:
        for trace in (tank.burn_rate, tank.remaining):
            assert trace is None or np.isfinite(trace.values).all()
    assert all(a.end_s <= b.start_s + 1e-9 for a, b in zip(phases.phases, phases.phases[1:], strict=False))
