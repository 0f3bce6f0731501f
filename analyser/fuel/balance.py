"""Two tanks side by side: which burns more, which is dry first, and whether they are swapped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method
from analyser.core.telemetry import Telemetry
from analyser.fuel.tank import TankResult


def imbalance_percent(first: float, second: float) -> float:
    """Difference of two burns as a share of their mean, percent; positive where the first burns more."""
    return 100.0 * (first - second) / ((first + second) / 2.0)


def imbalance_of(label: str, first: Figure, second: Figure, how: str) -> Figure:
    """Imbalance of two burns that have values, percent, with its interval and their doubts."""
    a, b = first.value or 0.0, second.value or 0.0
    value = imbalance_percent(a, b)
    # By the derivative of 200 (a − b) / (a + b) in each of the two.
    half = 400.0 * float(np.hypot(b * first.half_width, a * second.half_width)) / (a + b) ** 2
    figure = Figure(label, value, "%", Method.ESTIMATED, value - half, value + half, how=how)
    return figure.with_doubt(*first.doubts, *second.doubts)


def imbalance(tanks: Sequence[TankResult]) -> tuple[Figure, str]:
    """Imbalance of two tanks in flight, by their sensors, and a sentence; '' where there is none to tell."""
    label = "Imbalance in flight"
    if len(tanks) != 2:
        return Figure.unavailable(label, "%", "an imbalance needs exactly two tanks in the log"), ""
    if curved := next((t for t in tanks if not t.measured), None):
        why = f"the burn of tank {curved.name} is estimated from shaft speed, which can't show an imbalance"
        return Figure.unavailable(label, "%", why), ""
    first, second = tanks
    a, b = first.airborne_rate_ml_per_min, second.airborne_rate_ml_per_min
    if a.value is None or b.value is None or a.value + b.value <= 0:
        return Figure.unavailable(label, "%", a.missing or b.missing or "nothing was burned in flight"), ""
    label = f"{label}, {first.name} over {second.name}"
    figure = imbalance_of(label, a, b, "difference over mean of the two burns")
    value, half = figure.value or 0.0, figure.half_width
    if abs(value) <= half:
        split = f"The split between {first.name} and {second.name}"
        return figure, f"{split} is within what the sensors resolve (±{half:.1f} %)."
    more, less = (first.name, second.name) if value > 0 else (second.name, first.name)
    burned = f"The {more} side burned {abs(value):.1f} % more than the {less} side"
    return figure, f"{burned} by its sensors (±{half:.1f} %)."


def first_dry(tanks: Sequence[TankResult]) -> Figure:
    """Flight time to the first dry tank, of those for which it is known."""
    label = "Flight time to the first dry tank"
    known = [t for t in tanks if t.dry_after_min.value is not None]
    if not known:
        why = tanks[0].dry_after_min.missing if tanks else "no fuel in this log"
        return Figure.unavailable(label, "min", why)
    first = min(known, key=lambda t: t.dry_after_min.value or np.inf)
    figure = replace(first.dry_after_min, label=f"{label} ({first.name})")
    unknown = [t.name for t in tanks if t.dry_after_min.value is None]
    return figure.with_doubt(f"not known for tank {', '.join(unknown)}") if unknown else figure


def swapped(telemetry: Telemetry, tanks: Sequence[TankResult]) -> tuple[Event, ...]:
    """Two tanks whose burn follows the *other* engine's speed: sensors or tanks are swapped side for side."""
    if len(tanks) != 2:
        return ()
    a, b = tanks
    names = [f"engine.{t.engine}.speed_rpm" for t in tanks]
    if a.burn_rate is None or b.burn_rate is None or not telemetry.has(*names) or a.engine == b.engine:
        return ()
    grid = a.burn_rate.time_s
    speed_a, speed_b = (np.maximum(np.nan_to_num(telemetry.at(n, grid, max_gap_s=5.0)), 0.0) for n in names)
    other = np.interp(grid, b.burn_rate.time_s, b.burn_rate.values)
    # Only where the engines run apart can the pairing be told at all.
    split = (speed_a / max(float(speed_a.max()), 1.0)) ** 3 - (speed_b / max(float(speed_b.max()), 1.0)) ** 3
    apart = np.abs(split) > 0.15
    if apart.sum() < 20:
        return ()
    ahead, burn = split[apart], a.burn_rate.values[apart] - other[apart]
    if np.ptp(burn) <= 0 or np.ptp(ahead) <= 0 or float(np.corrcoef(ahead, burn)[0, 1]) > -0.6:
        return ()
    text = (
        f"Tank {a.name} follows engine {b.engine} and tank {b.name} follows engine {a.engine}: tanks or sensors look "
        "swapped side for side; check before trusting left and right."
    )
    return (Event("fuel_data", f"fuel.{a.name}", float(grid[0]), float(grid[-1]), Level.WATCH, text),)
