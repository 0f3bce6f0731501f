"""A simple flight whose quantities hang together, in SI, at any instants: the truth behind every strange log."""

from __future__ import annotations

import numpy as np
import pandas as pd

NORTH_M = 111_320.0  # metres in a degree of latitude, from memory


def fly(rng: np.random.Generator, time_s: np.ndarray) -> pd.DataFrame:
    """Quantities of one flight at ``time_s`` (from 0): start, take-off, circuits, landing, engine off."""
    end = float(time_s[-1])
    fine = np.arange(0.0, end + 0.1, 0.05)
    run = np.interp(fine / end, [0, 0.04, 0.08, 0.93, 0.955, 1], [0, 0.25, 0.3, 0.3, 0.2, 0])
    wave = 0.35 + 0.25 * np.sin(2 * np.pi * fine / rng.uniform(31, 57)) * np.sin(2 * np.pi * fine / rng.uniform(17, 23))
    air = np.interp(fine / end, [0, 0.12, 0.16, 0.85, 0.9, 1], [0, 0, 1, 1, 0, 0])
    stick = np.clip(run * 0.4 + air * wave + (air > 0.5) * 0.05, 0, 1)
    lit = np.interp(fine / end, [0, 0.03, 0.06, 0.94, 0.96, 1], [0, 0, 1, 1, 0, 0])
    rpm = _lag(lit * (36_000 + 84_000 * np.sqrt(stick)), 1.2)
    egt = 24 + _lag(lit * (440 + 200 * stick), 4.0)
    flow = _lag(lit * (95 + 520 * stick**1.3), 0.5)  # mL/min
    used = np.cumsum(flow) * 0.05 / 60
    speed = _lag(air * (38 + 34 * stick), 2.0)
    turn = 2 * np.pi / rng.uniform(32, 45) * air
    course = rng.uniform(0, 2 * np.pi) + np.cumsum(turn) * 0.05
    north, east = np.cumsum(speed * np.cos(course)) * 0.05, np.cumsum(speed * np.sin(course)) * 0.05
    height = _lag(air * (70 + 40 * np.sin(2 * np.pi * fine / rng.uniform(26, 37))), 3.0)
    amp = 0.6 + 1.9 * air * (0.5 + 0.5 * np.abs(np.sin(2 * np.pi * fine / 3.7))) + rng.gamma(2.0, 0.12, fine.size)
    charge = np.cumsum(amp) * 0.05 / 3.6
    volt = 8.36 - charge * 0.0006 - amp * 0.045
    where = rng.uniform([44, 6], [53, 14])
    reach = np.hypot(np.hypot(north - 80, east), height + 20)
    fine_table = {
        "volt": volt, "amp": amp, "charge": charge, "rpm": rpm, "egt": egt, "flow": flow, "used": used,
        "left": 2600 - used, "speed": speed, "height": height, "throttle": 100 * stick, "north": north,
        "east": east, "reach": reach,
        "course": course, "roll": np.degrees(np.arctan(speed * turn / 9.81)),
    }  # fmt: skip
    at = {name: np.interp(time_s, fine, values) for name, values in fine_table.items()}
    n = time_s.size
    return pd.DataFrame(
        {
            "time": time_s,
            "volt": at["volt"] + rng.normal(0, 0.008, n),
            "amp": at["amp"] + rng.normal(0, 0.02, n),
            "charge": at["charge"],
            "rpm": np.maximum(at["rpm"] + rng.normal(0, 60, n), 0),
            "egt": at["egt"] + rng.normal(0, 1.2, n),
            "flow": at["flow"],
            "left": at["left"],
            "used": at["used"],
            "speed": np.maximum(at["speed"] + rng.normal(0, 0.15, n), 0),
            "alt": 412.0 + at["height"] + rng.normal(0, 0.25, n),
            "lat": where[0] + at["north"] / NORTH_M,
            "lon": where[1] + at["east"] / (NORTH_M * np.cos(np.radians(where[0]))),
            "track": np.degrees(at["course"]) % 360,
            "rssi": -42 - 20 * np.log10(np.maximum(at["reach"], 10) / 30) + rng.normal(0, 2.5, n),
            "throttle": at["throttle"],
            "roll": at["roll"] + rng.normal(0, 0.8, n),
        }
    )


def _lag(values: np.ndarray, seconds: float) -> np.ndarray:
    from scipy.signal import lfilter, lfiltic

    a = 0.05 / seconds
    out, _ = lfilter([a], [1, a - 1], values, zi=lfiltic([a], [1, a - 1], [values[0]]))
    return np.asarray(out)


def even(seconds: float, hz: float) -> np.ndarray:
    """Instants at an even rate, in whole microseconds."""
    return np.round(np.arange(0, seconds, 1 / hz), 6)


def uneven(
    rng: np.random.Generator, seconds: float, hz: float, share: float = 0.4, resolution: float = 0.001
) -> np.ndarray:
    """Instants whose steps differ by up to ``share`` of the usual one, on a clock of this resolution, all different."""
    steps = (1 + rng.uniform(-share, share, int(seconds * hz))) / hz
    times = np.concatenate([[0.0], np.cumsum(np.maximum(np.round(steps / resolution), 1))]) * resolution
    return np.asarray(np.round(times, 6))
