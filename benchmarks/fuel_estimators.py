"""Bias and coverage of the burn estimator for every kind of fuel sensor, on made-up flights with known burn.

Run ``python -m benchmarks.fuel_estimators``. Each line is one sensor at one rate over many invented flights: the mean
error of the airborne burn and of the whole volume, and how often the 95 % interval holds the truth.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyser.core.figures import Z95, FloatArray
from analyser.core.statistics.smoothing import integrate, smooth_total, walk_of

FULL_ML = 4000.0
START_S, END_S = 60.0, 420.0


class Row(Struct, frozen=True):
    """One line of the table."""

    sensor: str
    rate_hz: float
    bias_percent: float
    spread_percent: float
    coverage: float
    rate_coverage: float


def flight(hz: float, rng: np.random.Generator) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time, true burn in mL/min and true burned mL of one invented flight; power wanders over tens of seconds."""
    t = np.arange(0.0, 480.0, 1.0 / hz)
    knots = np.arange(-20.0, 520.0, 12.0)
    power = np.interp(t, knots, rng.uniform(0.35, 1.0, knots.size))
    burn = 60.0 + 440.0 * power**3
    burned = integrate(t, burn / 60.0)
    return t, burn, burned


def readings(
    kind: str, t: FloatArray, burn: FloatArray, burned: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, float]:
    """A running total of burned mL as this kind of sensor would have it, and what its noise adds each second."""
    sway = 30.0 * np.sin(2 * np.pi * 0.4 * t + rng.uniform(0, 6)) + 10.0 * rng.normal(size=t.size)
    if kind == "remaining mL, sloshing":
        return burned + sway, 0.0
    if kind == "remaining, whole percent":
        return FULL_ML - np.round((FULL_ML - burned + sway) / FULL_ML * 100.0) * FULL_ML / 100.0, 0.0
    if kind == "used mL, whole":
        return np.round(burned), 0.0
    if kind == "flow, noisy":
        flow = np.maximum(burn + rng.normal(0.0, 25.0, t.size), 0.0) / 60.0
        return integrate(t, flow), walk_of(t, flow)
    drive = np.round(burn / 9.0) * 9.0 / 60.0  # whole percent of 900 mL/min
    return integrate(t, drive), walk_of(t, drive)


SENSORS = (
    "remaining mL, sloshing",
    "remaining, whole percent",
    "used mL, whole",
    "flow, noisy",
    "pump drive, whole percent",
)


def table(flights: int = 100, rates: tuple[float, ...] = (2.0, 10.0), seed: int = 1) -> list[Row]:
    """Work the table out."""
    rng = np.random.default_rng(seed)
    out = []
    for kind in SENSORS:
        for hz in rates:
            error, inside, within = [], [], []
            for _ in range(flights):
                t, burn, burned = flight(hz, rng)
                total, walk = readings(kind, t, burn, burned, rng)
                smooth = smooth_total(t, total, walk_per_s=walk)
                if smooth is None:
                    continue
                truth = float(np.interp(END_S, t, burned) - np.interp(START_S, t, burned))
                miss = smooth.between(START_S, END_S) - truth
                error.append(100.0 * miss / truth)
                inside.append(abs(miss) <= Z95 * smooth.between_se(np.array([START_S, END_S])))
                target = smooth.alike(np.interp(smooth.time_s, t, burn) / 60.0)
                middle = slice(20, -20)
                within.append(np.mean(np.abs(smooth.rate_per_s - target)[middle] <= Z95 * smooth.rate_se))
            out.append(
                Row(kind, hz, float(np.mean(error)), float(np.std(error)), float(np.mean(inside)),
                    float(np.mean(within)))
            )  # fmt: skip
    return out


def main() -> None:
    """Print the table."""
    print(f"{'sensor':28}{'Hz':>5}{'bias %':>9}{'spread %':>10}{'volume in 95 %':>16}{'rate in 95 %':>14}")
    for r in table():
        print(
            f"{r.sensor:28}{r.rate_hz:5.0f}{r.bias_percent:9.2f}{r.spread_percent:10.2f}"
            f"{r.coverage:16.0%}{r.rate_coverage:14.0%}"
        )


if __name__ == "__main__":
    main()
