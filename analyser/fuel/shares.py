"""A tank's burn shared out: by phase of the flight, and by band of power."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from analyser.core.aircraft import Engine
from analyser.core.figures import Figure, FloatArray, Method, Missing
from analyser.core.phases import Phase, PhaseName
from analyser.core.smoothing import Z95
from analyser.core.telemetry import Telemetry
from analyser.fuel.burn import TankBurn

EDGES_PERCENT = (0.0, 20.0, 40.0, 60.0, 80.0, 101.0)
SHORTEST_BAND_S = 5
RUNNING = tuple(p for p in PhaseName if p not in (PhaseName.BEFORE_START, PhaseName.COOL_DOWN, PhaseName.AFTER))


@dataclass(frozen=True, slots=True)
class PhaseBurn:
    """Burn of one tank in one phase, or in one band of shaft speed, throttle or pump drive."""

    name: str
    minutes: Figure
    burned_ml: Figure
    rate_ml_per_min: Figure

    def marked(self, mark: Callable[[Figure], Figure]) -> PhaseBurn:
        """The same with every figure that rests on the fuel sensor passed through ``mark``."""
        return replace(self, burned_ml=mark(self.burned_ml), rate_ml_per_min=mark(self.rate_ml_per_min))


def phase_burns(burn: TankBurn, phases: tuple[Phase, ...]) -> Iterable[PhaseBurn]:
    """One tank's burn in every phase that the flight has."""
    for phase in PhaseName:
        spans = [(p.start_s, p.end_s) for p in phases if p.name is phase]
        if spans:
            minutes = sum(b - a for a, b in spans) / 60.0
            half = float(np.sqrt(sum(burn.half(a, b) ** 2 for a, b in spans)))
            yield _burn(phase.value, burn, minutes, sum(burn.volume(a, b) for a, b in spans), half, burn.total.method)


def band_burns(
    burn: TankBurn, engine: str, described: Engine | None, telemetry: Telemetry, phases: tuple[Phase, ...]
) -> tuple[tuple[PhaseBurn, ...], str, Missing | None]:
    """One tank's burn by band of power, over the time in which its engine ran.

    Returns
    -------
    tuple of PhaseBurn
        Bands in which the engine spent at least five seconds.
    str
        What the bands are of: ``shaft speed``, ``throttle`` or ``pump drive``; '' where none is logged.
    Missing or None
        What would supply them.
    """
    smooth = burn.smooth
    share, what, by = _power(engine, described, telemetry, burn)
    if share is None:
        lacking = Missing(
            f"fuel.{burn.name}", "shaft speed, throttle or pump drive", f"burn of tank {burn.name} by band of power",
            "log one of them",
        )  # fmt: skip
        return (), "", lacking
    runs = np.zeros(share.size, bool)
    for p in phases:
        if p.name in RUNNING:
            runs |= (smooth.time_s >= p.start_s) & (smooth.time_s <= p.end_s)
    out = []
    whole = max(burn.volume(smooth.time_s[0], smooth.time_s[-1]), 1e-9)
    common = Z95 * burn.common_se(smooth.time_s[0], smooth.time_s[-1]) / whole
    for low, high in itertools.pairwise(EDGES_PERCENT):
        inside = runs & (share >= low) & (share < high)
        seconds = int(inside.sum())
        if seconds < SHORTEST_BAND_S:
            continue
        volume = float(smooth.rate_per_s[inside].sum())
        # Rates within a window share their error: of so many seconds, one in a window's length is independent.
        half = float(np.hypot(Z95 * smooth.rate_se * np.sqrt(seconds * smooth.window), common * volume))
        out.append(
            _burn(f"{low:.0f}–{min(high, 100):.0f} % {what}", burn, seconds / 60.0, volume, half, Method.ESTIMATED)
        )
    return tuple(out), by, None


def _power(
    engine: str, described: Engine | None, telemetry: Telemetry, burn: TankBurn
) -> tuple[FloatArray | None, str, str]:
    """Power as percent on the burn's grid, averaged as the burn is; what it is a percent of; and its name."""
    smooth = burn.smooth
    if speed := telemetry.series(f"engine.{engine}.speed_rpm"):
        top = (described.max_rpm if described else None) or float(speed.values.max())
        if top > 0:
            of = "of full speed" if described and described.max_rpm else "of the highest speed in this flight"
            return 100.0 * burn.mean_speed(telemetry, engine) / top, of, "shaft speed"
    for channel, name in (
        (f"engine.{engine}.throttle_percent", "throttle"),
        ("control.throttle_percent", "throttle"),
        (f"engine.{engine}.pump_percent", "pump drive"),
    ):
        if telemetry.has(channel):
            share = smooth.alike(np.clip(telemetry.at(channel, smooth.time_s, max_gap_s=5.0), 0.0, 100.0))
            return np.clip(share, 0.0, 100.0), name, name
    return None, "", ""


def _burn(what: str, burn: TankBurn, minutes: float, volume: float, half: float, method: Method) -> PhaseBurn:
    label = f"Burn, {burn.name}, {what}"
    low, high, how = max(volume - half, 0.0), volume + half, burn.total.how
    rate = (
        Figure(label, volume / minutes, "mL/min", method, low / minutes, high / minutes, how=how)
        if minutes > 0.05
        else Figure.unavailable(label, "mL/min", "too short for a rate")
    )
    return PhaseBurn(
        what,
        Figure(f"Time, {what}", minutes, "min", Method.MEASURED, how="from the log's clock", digits=2),
        Figure(f"Burned, {burn.name}, {what}", volume, "mL", method, low, high, how=how, digits=0),
        rate,
    )
