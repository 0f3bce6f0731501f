"""A made-up flight with known burn, start, lift-off, touch-down and shutdown, for tests. Everything is invented."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
from msgspec import Struct

from analyser.core.figures import FloatArray
from analyser.core.telemetry import Telemetry

TAKE_OFF_S = 90.0
TOUCH_DOWN_S = 450.0
SPIN_S, LIT_S, STOP_S, END_S = 10.0, 35.0, 480.0, 600.0
IDLE_RPM, FULL_RPM = 38_000.0, 120_000.0
FLOOR, CUBIC = 60.0, 440.0


class Truth(Struct, frozen=True):
    """What really happened: time, shaft speed, burn in mL/min and burned mL, all shape (n,)."""

    time_s: FloatArray
    speed_rpm: FloatArray
    burn_ml_per_min: FloatArray
    burned_ml: FloatArray

    def between(self, a: float, b: float) -> float:
        x, y = np.interp([a, b], self.time_s, self.burned_ml)
        return float(y - x)

    @property
    def airborne_rate(self) -> float:
        return self.between(TAKE_OFF_S, TOUCH_DOWN_S) / (TOUCH_DOWN_S - TAKE_OFF_S) * 60.0


def truth(hz: float = 10.0, *, factor: float = 1.0, seed: int = 0) -> Truth:
    """One engine: start, idle, flight with changing power, idle, shutdown."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, END_S + 0.5 / hz, 1.0 / hz)
    wave = 0.8 + 0.12 * np.sin(2 * np.pi * t / 37.0 + rng.uniform(0, 6)) + 0.07 * np.sin(2 * np.pi * t / 11.0)
    share = np.interp(t, [0, SPIN_S, LIT_S, 1e9], [0, 0, IDLE_RPM / FULL_RPM, IDLE_RPM / FULL_RPM])
    high = np.interp(t, [75, 80, TOUCH_DOWN_S - 6, TOUCH_DOWN_S], [0, 1, 1, 0])
    share = np.maximum(share, high * np.minimum(wave, 1.0))
    share = np.where(t > STOP_S, share * np.exp(-(t - STOP_S) / 4.0), share)
    alight = (t > 0.5 * (SPIN_S + LIT_S)) & (t < STOP_S)
    burn = factor * np.where(alight, FLOOR + CUBIC * share**3, 0.0)
    burned = np.r_[0.0, np.cumsum(0.5 * (burn[1:] + burn[:-1]) * np.diff(t) / 60.0)]
    return Truth(t, share * FULL_RPM, burn, burned)


def motion(t: FloatArray) -> dict[str, FloatArray]:
    """Ground speed and height with lift-off and touch-down at the stated instants."""
    speed = np.interp(t, [0, 78, 90, 100, 430, 450, 460, 465], [0, 0, 22, 45, 45, 20, 5, 0])
    height = np.interp(t, [0, TAKE_OFF_S, 110, 420, TOUCH_DOWN_S, END_S], [0, 0, 80, 80, 0, 0])
    return {"position.ground_speed_m_s": speed, "position.height_m": height}


def egt(t: FloatArray, *, peak: float = 720.0) -> FloatArray:
    """Exhaust temperature: a peak in the start, settled running, a slow fall after shutdown."""
    return np.interp(t, [0, 18, 24, 40, 90, STOP_S, STOP_S + 70, END_S], [20, 20, peak, 480, 600, 500, 80, 60])


def telemetry(t: FloatArray, **columns: FloatArray) -> Telemetry:
    """Telemetry from arrays; ``__`` in a name stands for a dot; NaN becomes null."""
    table = {"time_s": pa.array(t)}
    for name, values in columns.items():
        table[name.replace("__", ".")] = pa.array(np.asarray(values, float), from_pandas=True)
    return Telemetry(pa.table(table))


def slosh(t: FloatArray, size_ml: float, seed: int = 0) -> FloatArray:
    """A swaying reading: a 0.4 Hz sway and white noise."""
    rng = np.random.default_rng(seed)
    return size_ml * (np.sin(2 * np.pi * 0.4 * t + rng.uniform(0, 6)) + 0.5 * rng.normal(size=t.size))
