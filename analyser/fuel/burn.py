"""One tank's burn over one flight as smoothed from its source: volumes between instants and how sure they are."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from analyser.core.burn_curve import BurnCurve, fit_burn_curve
from analyser.core.figures import Figure, FloatArray, Trace
from analyser.core.phases import Phases, idle_speed
from analyser.core.smoothing import Z95, Smoothed, longest_step_s, smooth_total
from analyser.core.telemetry import Telemetry
from analyser.fuel.sources import ALIGHT_SHARE, BurnTotal, Source

UNSEEN_S = 10.0
"""Ends of a sensor's record may lie so far inside an asked span; further, and the span was not seen."""


@dataclass(frozen=True, slots=True, eq=False)
class TankBurn:
    """A tank's running total, smoothed. Volumes in mL, instants in seconds from the flight's first row."""

    name: str
    total: BurnTotal
    smooth: Smoothed

    @classmethod
    def of(cls, name: str, total: BurnTotal) -> TankBurn | None:
        """Smooth a total; ``None`` with less than ten seconds of samples."""
        smooth = smooth_total(total.time_s, total.burned_ml, walk_per_s=total.walk_per_s)
        return None if smooth is None else cls(name, total, smooth)

    def volume(self, start_s: float, end_s: float) -> float:
        """What was burned between two instants."""
        return self.smooth.between(start_s, end_s)

    def common_se(self, start_s: float, end_s: float) -> float:
        """Standard error of what a whole flight has in common (a learned curve, holes)."""
        return self.total.doubt.se(start_s, end_s) if self.total.doubt else 0.0

    def half(self, start_s: float, end_s: float) -> float:
        """Half the 95 % interval of :meth:`volume`."""
        return Z95 * float(np.hypot(self.smooth.between_se(start_s, end_s), self.common_se(start_s, end_s)))

    def sees(self, start_s: float, end_s: float) -> bool:
        """Whether the sensor reported over the whole span."""
        t = self.smooth.time_s
        return bool(t[0] <= start_s + UNSEEN_S and t[-1] >= end_s - UNSEEN_S)

    def figure(self, label: str, start_s: float, end_s: float) -> Figure:
        """What was burned between two instants, with its interval."""
        value, half = self.volume(start_s, end_s), self.half(start_s, end_s)
        return Figure(label, value, "mL", self.total.method, value - half, value + half, how=self.total.how, digits=0)

    def before_take_off(self, phases: Phases) -> Figure:
        """Burned on the ground from the log's first row to lift-off."""
        label = f"Burned before take-off, {self.name}"
        lifted = phases.take_off_s
        if lifted is None:
            return Figure.unavailable(label, "mL", "take-off can't be told from this log")
        if not self.sees(lifted, lifted):
            return Figure.unavailable(label, "mL", "the fuel sensor did not report at take-off")
        figure = self.figure(label, 0.0, lifted)
        down, up = phases.reach(lambda a, _: self.volume(0.0, a))
        value, half = figure.value or 0.0, figure.half_width
        return replace(figure, low=value - float(np.hypot(half, down)), high=value + float(np.hypot(half, up)))

    def airborne(self, phases: Phases) -> tuple[Figure, Figure]:
        """Burned in flight, mL, and burn in flight, mL/min; both wider where lift-off or touch-down is unsure."""
        labels = f"Burned in flight, {self.name}", f"Burn in flight, {self.name}"
        span = phases.airborne_span
        why = "take-off and landing can't be told from this log" if span is None else ""
        if span and not self.sees(*span):
            t = self.smooth.time_s
            why = f"the fuel sensor reported from {t[0]:.0f} to {t[-1]:.0f} s only, the flight is longer"
        if span is None or why:
            return Figure.unavailable(labels[0], "mL", why), Figure.unavailable(labels[1], "mL/min", why)
        minutes = max(span[1] - span[0], 1e-9) / 60.0
        half = self.half(*span)

        def figure(label: str, unit: str, value: float, half: float, reach: tuple[float, float], digits: int) -> Figure:
            low, high = value - float(np.hypot(half, reach[0])), value + float(np.hypot(half, reach[1]))
            return Figure(label, value, unit, self.total.method, low, high, how=self.total.how, digits=digits)

        volume = self.volume(*span)
        per_minute = phases.reach(lambda a, b: 60.0 * self.volume(a, b) / max(b - a, 1e-9))
        return (
            figure(labels[0], "mL", volume, half, phases.reach(self.volume), 0),
            figure(labels[1], "mL/min", volume / minutes, half / minutes, per_minute, 1),
        )

    def trace(self) -> Trace:
        """Burn rate over the flight, with its band."""
        rate, half = 60.0 * self.smooth.rate_per_s, 60.0 * Z95 * self.smooth.rate_se
        how = f"{self.total.how}; local line over {self.smooth.window:.0f} s"
        t = self.smooth.time_s
        return Trace(f"Burn, {self.name}", "mL/min", t, rate, np.maximum(rate - half, 0.0), rate + half, how=how)

    def mean_speed(self, telemetry: Telemetry, engine: str) -> FloatArray:
        """Shaft speed on the burn's grid, averaged as the burn rate is.

        The cube is averaged, because it is the cube that the burn follows.
        """
        instant = self._speed(telemetry, engine)
        return np.asarray(np.cbrt(np.maximum(self.smooth.alike(np.maximum(instant, 0.0) ** 3), 0.0)), float)

    def curve(self, telemetry: Telemetry, engine: str) -> BurnCurve | None:
        """The engine's burn curve as this flight shows it; ``None`` where the burn itself was told by a curve."""
        shaft = telemetry.series(f"engine.{engine}.speed_rpm")
        if not shaft or self.total.kind is Source.SPEED:
            return None
        instant = self._speed(telemetry, engine)
        # Spinning up and running down burn nothing at speeds that otherwise burn: no part of the curve.
        sustained = np.nan_to_num(instant) > ALIGHT_SHARE * idle_speed(shaft.values)
        sustained = ndimage.binary_erosion(sustained, np.ones(self.smooth.window, bool))
        speed = np.where(sustained, self.mean_speed(telemetry, engine), np.nan)
        return fit_burn_curve(engine, speed, 60.0 * self.smooth.rate_per_s)

    def _speed(self, telemetry: Telemetry, engine: str) -> FloatArray:
        channel = f"engine.{engine}.speed_rpm"
        gap = longest_step_s(telemetry.series(channel).time_s)
        return telemetry.at(channel, self.smooth.time_s, max_gap_s=gap)
