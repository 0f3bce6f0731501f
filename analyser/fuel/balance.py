"""Two tanks side by side: which burns more, which is dry first, and whether they are swapped."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace

from analyser.core.events import Event, happened
from analyser.core.figures import Figure, Method
from analyser.core.findings import Text, say
from analyser.core.telemetry import Telemetry
from analyser.fuel.codes import FuelCode
from analyser.fuel.tank import TankResult


def imbalance_percent(first: float, second: float) -> float:
    """Difference of two burns as a share of their mean, percent; positive where the first burns more."""
    return 100.0 * (first - second) / ((first + second) / 2.0)


def imbalance(tanks: Sequence[TankResult]) -> tuple[Figure, Text]:
    """Imbalance of two tanks in flight, and what to say of it; '' where there is none to tell."""
    label = say(FuelCode.IMBALANCE)
    if len(tanks) != 2:
        return Figure.unavailable(label, "%", say(FuelCode.TWO_TANKS)), ""
    if curved := next((t for t in tanks if not t.measured), None):
        return Figure.unavailable(label, "%", say(FuelCode.CURVE_SHOWS_NONE, tank=curved.name)), ""
    first, second = tanks
    a, b = first.rate, second.rate
    if a.value is None or b.value is None or a.value + b.value <= 0:
        return Figure.unavailable(label, "%", a.missing or b.missing or say(FuelCode.NOTHING_BURNED)), ""
    value = imbalance_percent(a.value, b.value)
    # By the derivative of 200 (a − b) / (a + b) in each of the two (JCGM 100:2008, 5.1.2).
    half = 400.0 * float(np.hypot(b.value * a.half_width, a.value * b.half_width)) / (a.value + b.value) ** 2
    label = say(FuelCode.IMBALANCE_OF, first=first.name, second=second.name)
    figure = Figure(
        label, value, "%", Method.ESTIMATED, low=value - half, high=value + half, how=say(FuelCode.OVER_MEAN)
    )
    figure = figure.with_doubt(*a.doubts, *b.doubts)
    more, less = (first.name, second.name) if value > 0 else (second.name, first.name)
    if not (first.scale.applied.checked and second.scale.applied.checked):
        # One sensor's scale may be off by as much: no engine is to blame.
        if round(abs(value), 1) == 0.0:
            return figure, say(FuelCode.BURN_ALIKE, first=first.name, second=second.name, within=half)
        return figure, say(FuelCode.READS_MORE, more=more, less=less, by=figure, within=half)
    if abs(value) <= half:
        return figure, say(FuelCode.BURN_ALIKE, first=first.name, second=second.name, within=half)
    return figure, say(FuelCode.BURNED_MORE, more=more, less=less, by=figure, within=half)


def first_endurance(tanks: Sequence[TankResult]) -> Figure:
    """Flight time to the first dry tank, of those for which it is known."""
    label = say(FuelCode.FIRST_ENDURANCE, tank="")
    known = [t for t in tanks if t.content.endurance.value is not None]
    if not known:
        why = tanks[0].content.endurance.missing if tanks else say(FuelCode.NO_FUEL)
        return Figure.unavailable(label, "min", why)
    first = min(known, key=lambda t: t.content.endurance.value or np.inf)
    figure = replace(first.content.endurance, label=say(FuelCode.FIRST_ENDURANCE, tank=first.name))
    unknown = tuple(t.name for t in tanks if t.content.endurance.value is None)
    return figure.with_doubt(say(FuelCode.UNKNOWN_FOR, tanks=unknown)) if unknown else figure


def find_swapped(telemetry: Telemetry, tanks: Sequence[TankResult]) -> tuple[Event, ...]:
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
    faster, burn = split[apart], a.burn_rate.values[apart] - other[apart]
    if np.ptp(burn) <= 0 or np.ptp(faster) <= 0 or float(np.corrcoef(faster, burn)[0, 1]) > -0.6:
        return ()
    said = say(FuelCode.SWAPPED, a=a.name, b=b.name, engine_a=a.engine, engine_b=b.engine)
    return (happened("fuel_data", f"fuel.{a.name}", (float(grid[0]), float(grid[-1])), said),)
