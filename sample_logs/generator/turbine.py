"""The turbines: start, spool lag, exhaust temperature, fuel flow against shaft speed, shut-down and cool-down."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy.ndimage import gaussian_filter1d
from scipy.signal import lfilter

FloatArray = npt.NDArray[np.float64]


class EngineState(Struct, frozen=True):
    """One turbine on the day. Fuel flow is ``base + rise·(n/n_max)³`` mL/min, times ``burn_factor``."""

    name: str
    idle_rpm: float
    max_rpm: float
    base_ml_per_min: float
    rise_ml_per_min: float
    burn_factor: float
    start_peak_c: float
    start_s: float
    """Offset of this engine's start from the session's."""
    run_up_s: float = 34.0


class EngineTrace(Struct, frozen=True):
    """One turbine over the session."""

    speed_rpm: FloatArray
    egt_c: FloatArray
    flow_ml_per_min: FloatArray
    burned_ml: FloatArray
    pump_v: FloatArray
    pack_current_a: FloatArray


def _lag(target: FloatArray, tau_s: float, step_s: float) -> FloatArray:
    keep = np.exp(-step_s / tau_s)
    return np.asarray(lfilter([1 - keep], [1, -keep], target, zi=[keep * target[0]])[0])


def run(
    engine: EngineState,
    time_s: FloatArray,
    throttle: FloatArray,
    start_at_s: float,
    shut_down_s: float,
    air_c: float,
    rng: np.random.Generator,
) -> EngineTrace:
    """Run one turbine through its session."""
    step = float(time_s[1] - time_s[0])
    t0 = start_at_s + engine.start_s
    since = time_s - t0
    running = (since >= engine.run_up_s) & (time_s < shut_down_s)
    # Starter to 7000 rpm, light-off at 6 s, then the run-up to idle.
    start_rpm = np.interp(
        since, [0, 5, 9, engine.run_up_s - 4, engine.run_up_s], [0, 5500, 7000, 0.9 * engine.idle_rpm, engine.idle_rpm]
    )
    start_rpm = np.where(since < 0, 0.0, start_rpm)
    want = engine.idle_rpm + (engine.max_rpm - engine.idle_rpm) * np.sqrt(np.clip(throttle, 0, 1)) ** 1.15
    spooled = _lag(want, 0.75, step)
    speed = np.where(running, spooled, start_rpm)
    after = time_s - shut_down_s
    coast = engine.idle_rpm * np.exp(-np.maximum(after, 0) / 2.6)
    # The starter blows cooling air in bursts until the exhaust is below 100 °C.
    burst = (after > 9) & ((after % 14.0) > 8.0)
    fan = _lag(np.where(burst, 5200.0, 0.0), 1.2, step)
    speed = np.where(after >= 0, np.where(coast > 300, coast, 0) + fan, speed)
    speed = speed + rng.standard_normal(len(speed)) * np.where(speed > 10_000, 60.0, 0.0)
    x = speed / engine.max_rpm
    lit = (since > 6.0) & (time_s < shut_down_s)
    steady = (engine.base_ml_per_min + engine.rise_ml_per_min * x**3) * engine.burn_factor
    warming = np.interp(since, [6, 12, engine.run_up_s], [0.35, 0.5, 1.0])
    flow = np.where(lit, steady * np.where(running, 1.0, warming), 0.0)
    burned = np.cumsum(flow) * step / 60.0
    # Exhaust temperature: light-off peak, then a curve of speed, then cooling.
    hot = 455.0 + 175.0 * x**2 + 25.0 * np.exp(-(((x - 0.33) / 0.08) ** 2))
    light_off = np.interp(
        since,
        [0, 6, 9, 13, 20, engine.run_up_s, engine.run_up_s + 8],
        [air_c, air_c + 5, 420, engine.start_peak_c + 18, engine.start_peak_c * 0.86, 560, 510],
    )
    target = np.where(since < engine.run_up_s + 6, np.where(since < 0, air_c, light_off), hot)
    egt = _lag(target, 1.0, step)
    down = int(np.searchsorted(time_s, shut_down_s))
    if down < len(time_s):
        rate = np.where(fan[down:] > 800, 1 / 13.0, 1 / 62.0)
        egt[down:] = air_c + 8 + (egt[down - 1] - air_c - 8) * np.exp(-np.cumsum(rate) * step)
    cold = (egt < 100) & (after > 0)
    speed = np.where(cold, 0.0, speed)
    egt = egt + gaussian_filter1d(rng.standard_normal(len(egt)), 12) * 6.0
    pump = np.where(lit, 0.55 + flow / 190.0, 0.0)
    # What the engine's pack gives: controller, glow or burner, starter, pump, cooling bursts.
    starter = 11.0 * np.exp(-np.maximum(since, 0) / 14) * ((since > 0) & (since < 18))
    burner = 5.5 * ((since > 2.0) & (since < 14.0))
    cooling = np.where((fan > 800) & ~cold & (after > 0), 6.5, 0.0)
    current = 0.35 + starter + burner + cooling + np.where(lit, 0.5 + (flow / 430.0) ** 1.4 * 2.6, 0.0)
    current = current * (1 + 0.03 * gaussian_filter1d(rng.standard_normal(len(current)), 5) * 3)
    return EngineTrace(speed, egt, flow, burned, pump, np.maximum(current, 0.05))
