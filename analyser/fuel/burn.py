"""One tank's burn over one flight as smoothed from its source: volumes between instants and how sure they are."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from scipy import ndimage

from analyser.core.burn_curve import BurnCurve, fit_burn_curve
from analyser.core.figures import Z95, Figure, FloatArray, Method, Trace
from analyser.core.findings import Text, say
from analyser.core.phases import Phases, idle_speed
from analyser.core.statistics.smoothing import Smoothed, local_polynomial, longest_step_s, smooth_total
from analyser.core.telemetry import Telemetry
from analyser.fuel.codes import FuelCode
from analyser.fuel.scale import SensorScale
from analyser.fuel.sources import ALIGHT_SHARE, BurnTotal, Source, added_by

CIRCUIT_S = 91
"""Fuel may lean one way for as long as a circuit or two, s (common practice, no source)."""
UNSEEN_S = 10.0
"""Ends of a sensor's record may lie so far inside an asked span; further, and the span was not seen."""
ROLL_S, LEAN_ON_WHEELS = 20.0, 0.25
"""So long before lift-off and after touch-down an aircraft speeds up or brakes; beyond, it taxies or stands, and its
fuel leans by such a share of what it does in flight (common practice, no source)."""


class BurnRecord(Struct, frozen=True, eq=False):
    """A tank's burn over a flight as its sensor tells it.

    Parameters
    ----------
    time_s, burned_ml, burned_half_ml, rate_ml_per_min, added_ml : ndarray, shape (n,)
        Grid; what was burned since its first instant and half its 95 % interval; the burn; what refuels had added.
    rate_half_ml_per_min : float
        Half the 95 % interval of one value of the burn.
    window_s : int
        Length of the local line that the burn is the slope of.
    """

    time_s: FloatArray
    burned_ml: FloatArray
    burned_half_ml: FloatArray
    rate_ml_per_min: FloatArray
    rate_half_ml_per_min: float
    window_s: int
    added_ml: FloatArray

    def rate_trace(self, tank: str, scale: SensorScale, how: Text) -> Trace:
        """Burn over the flight, set right, with its band: noise and the doubt of the scale."""
        k, rate = scale.value, self.rate_ml_per_min
        half = np.hypot(k * self.rate_half_ml_per_min, scale.factor.half_width * rate)
        said = say(FuelCode.LOCAL_LINE, how=scale.how(how), seconds=self.window_s)
        label = say(FuelCode.BURN_TRACE, tank=tank)
        return Trace(
            label, "mL/min", self.time_s, k * rate, low=np.maximum(k * rate - half, 0.0), high=k * rate + half, how=said
        )

    def left_trace(self, tank: str, scale: SensorScale, start: Figure, how: Text) -> Trace | None:
        """What was left over the flight: the volume at start less what was burned, set right."""
        if start.value is None:
            return None
        k = scale.value
        left = start.value - k * self.burned_ml + self.added_ml
        noise = np.hypot(start.half_width, k * self.burned_half_ml)
        half = np.hypot(noise, scale.factor.half_width * self.burned_ml)
        label = say(FuelCode.LEFT_TRACE, tank=tank)
        return Trace(
            label, "mL", self.time_s, left, low=left - half, high=left + half, method=Method.ESTIMATED, how=how
        )


def _lean(total: BurnTotal, smooth: Smoothed) -> float:
    """Standard error of leaning fuel: how far a gauge's total wavers about a parabola over a circuit's length.

    What the engine's own changes of power add to that cannot be told from it and is left in.
    """
    if total.kind is not Source.CONTENTS:
        return 0.0
    n = min(CIRCUIT_S, smooth.total.size if smooth.total.size % 2 else smooth.total.size - 1)
    if n < 2 * smooth.window:
        return 0.0
    return float(np.std(smooth.total - local_polynomial(smooth.total, n, 2)))


def _reaching(figure: Figure, reach: tuple[float, float]) -> Figure:
    """The same figure, as much wider as it moves while the instants it rests on are moved within theirs."""
    value, half = figure.value or 0.0, figure.half_width
    low, high = value - float(np.hypot(half, reach[0])), value + float(np.hypot(half, reach[1]))
    return figure.set_to(figure.value, low, high)


class TankBurn(Struct, frozen=True, eq=False):
    """A tank's running total, smoothed. Volumes in mL, instants in seconds from the flight's first row.

    ``lean_se`` is the standard error that fuel leaning to one side for longer than the smoothing adds to a contents
    gauge, mL; ``flown`` the span in which it leans so, ``None`` where nobody knows.
    """

    name: str
    total: BurnTotal
    smooth: Smoothed
    lean_se: float = 0.0
    flown: tuple[float, float] | None = None

    @classmethod
    def of(cls, name: str, total: BurnTotal, flown: tuple[float, float] | None = None) -> TankBurn | None:
        """Smooth a total; ``None`` with less than ten seconds of samples."""
        smooth = smooth_total(total.time_s, total.burned_ml, walk_per_s=total.walk_per_s)
        return None if smooth is None else cls(name, total, smooth, _lean(total, smooth), flown)

    def volume(self, start_s: float, end_s: float) -> float:
        """What was burned between two instants."""
        return float(self.smooth.between(start_s, end_s))

    def common_se(self, start_s: float, end_s: float) -> float:
        """Standard error of what a whole flight has in common (a learned curve, holes)."""
        return self.total.doubt.se(start_s, end_s) if self.total.doubt else 0.0

    def half(self, start_s: float, end_s: float) -> float:
        """Half the 95 % interval of :meth:`volume`."""
        return float(self.halves(np.array([start_s]), np.array([end_s]))[0])

    def halves(self, start_s: FloatArray, end_s: FloatArray) -> FloatArray:
        """The same of each span, arrays of shape (n,)."""
        ends = np.stack((start_s, end_s))
        noise = Z95 * self.smooth.between_se(ends)
        if self.total.doubt:
            common = [self.common_se(a, b) for a, b in zip(start_s.tolist(), end_s.tolist(), strict=True)]
            noise = np.hypot(noise, Z95 * np.array(common))
        return np.asarray(np.sqrt(noise**2 + (self._blur(ends) ** 2 + (Z95 * self._lean_at(ends)) ** 2).sum(axis=0)))

    def _blur(self, at_s: FloatArray) -> FloatArray:
        """How far smoothing may shift the total where the burn jumps.

        A local line of length W lies J W / 8 off the corner of two straight pieces whose slopes differ by J, a parabola
        J 3 W / 64; half the former is taken, since a jump is spread over some seconds.
        """
        t, half = self.smooth.time_s, 0.5 * self.smooth.window
        before, after = (np.interp(at, t, self.smooth.rate_per_s) for at in (at_s - half, at_s + half))
        inside = (t[0] + 1.0 < at_s) & (at_s < t[-1] - 1.0)
        return np.where(inside, np.abs(after - before) * self.smooth.window / 16.0, 0.0)

    def _lean_at(self, at_s: FloatArray) -> FloatArray:
        """Error of a gauge for leaning fuel at each instant: none at the ends of the log, where the aircraft stands."""
        t = self.smooth.time_s
        lean = np.full(at_s.shape, self.lean_se)
        if self.flown is not None:
            rolls = (at_s <= self.flown[0] - ROLL_S) | (at_s >= self.flown[1] + ROLL_S)
            lean[rolls] *= LEAN_ON_WHEELS
        lean[(at_s <= t[0] + UNSEEN_S) | (at_s >= t[-1] - UNSEEN_S)] = 0.0
        return lean

    def sees(self, start_s: float, end_s: float) -> bool:
        """Whether the sensor reported over the whole span."""
        t = self.smooth.time_s
        return bool(t[0] <= start_s + UNSEEN_S and t[-1] >= end_s - UNSEEN_S)

    def figure(self, label: Text, start_s: float, end_s: float) -> Figure:
        """What was burned between two instants by the sensor, with its interval."""
        value, half = self.volume(start_s, end_s), self.half(start_s, end_s)
        return Figure(
            label, value, "mL", self.total.method, low=value - half, high=value + half, how=self.total.how, digits=0
        )  # fmt: skip

    def before_take_off(self, phases: Phases) -> Figure:
        """Burned on the ground from the log's first row to lift-off."""
        label = say(FuelCode.BURNED_BEFORE_TAKE_OFF, tank=self.name)
        lifted = phases.take_off_s
        if lifted is None:
            return Figure.unavailable(label, "mL", say(FuelCode.NO_TAKE_OFF))
        if not self.sees(lifted, lifted):
            return Figure.unavailable(label, "mL", say(FuelCode.SILENT_AT_TAKE_OFF))
        return _reaching(self.figure(label, 0.0, lifted), phases.reach(lambda a, _: self.smooth.between(0.0, a)))

    def around_landing(self, phases: Phases) -> tuple[Figure, Figure]:
        """Burned from the log's first row to the last touch-down, and from there to its end."""
        labels = say(FuelCode.BURNED_TO_LANDING, tank=self.name), say(FuelCode.BURNED_AFTER_LANDING, tank=self.name)
        at, end = phases.touch_down_s, float(self.smooth.time_s[-1])
        if at is None or not self.sees(at, at):
            why = say(FuelCode.NO_LANDING if at is None else FuelCode.SILENT_AT_LANDING)
            return Figure.unavailable(labels[0], "mL", why), Figure.unavailable(labels[1], "mL", why)
        to_landing = _reaching(self.figure(labels[0], 0.0, at), phases.reach(lambda _, b: self.smooth.between(0.0, b)))
        after = _reaching(self.figure(labels[1], at, end), phases.reach(lambda _, b: self.smooth.between(b, end)))
        return to_landing, after

    def airborne(self, phases: Phases) -> tuple[Figure, Figure]:
        """Burned in flight, mL, and burn in flight, mL/min; both wider where lift-off or touch-down is unsure."""
        labels = say(FuelCode.BURNED_IN_FLIGHT, tank=self.name), say(FuelCode.RATE, tank=self.name)
        span = phases.airborne_span
        why: Text = say(FuelCode.NO_FLIGHT) if span is None else ""
        if span and not self.sees(*span):
            t = self.smooth.time_s
            why = say(FuelCode.SENSOR_SHORTER, start_s=float(t[0]), end_s=float(t[-1]))
        if span is None or why:
            return Figure.unavailable(labels[0], "mL", why), Figure.unavailable(labels[1], "mL/min", why)
        minutes = max(span[1] - span[0], 1e-9) / 60.0
        volume = self.figure(labels[0], *span)
        rate = replace(volume.times(1.0 / minutes, labels[1], "mL/min", how=volume.how, digits=1), method=volume.method)
        per_minute = phases.reach(lambda a, b: 60.0 * self.smooth.between(a, b) / np.maximum(b - a, 1e-9))
        return _reaching(volume, phases.reach(self.smooth.between)), _reaching(rate, per_minute)

    def record(self) -> BurnRecord:
        """The burn over the flight by the sensor."""
        smooth = self.smooth
        ends = np.linspace(0, smooth.time_s.size - 1, min(smooth.time_s.size, 20)).astype(np.intp)
        at = smooth.time_s[ends]
        half = np.interp(smooth.time_s, at, self.halves(np.full(at.size, at[0]), at))
        return BurnRecord(
            smooth.time_s, smooth.total - smooth.total[0], half, 60.0 * smooth.rate_per_s,
            60.0 * Z95 * smooth.rate_se, window_s=smooth.window, added_ml=added_by(smooth.time_s, self.total.refuels),
        )  # fmt: skip

    def averaged(self, speed: FloatArray) -> FloatArray:
        """A speed on the burn's grid, averaged as the burn rate is: its cube, because it is that the burn follows."""
        return np.asarray(np.cbrt(np.maximum(self.smooth.alike(np.maximum(speed, 0.0) ** 3), 0.0)), float)

    def curve(self, telemetry: Telemetry, engine: str) -> BurnCurve | None:
        """The engine's burn curve as this flight shows it; ``None`` where the burn itself was told by a curve."""
        shaft = telemetry.series(f"engine.{engine}.speed_rpm")
        if not shaft or self.total.kind is Source.SPEED:
            return None
        instant = self.speed(telemetry, engine)
        # Spinning up and running down burn nothing at speeds that otherwise burn: no part of the curve.
        sustained = np.nan_to_num(instant) > ALIGHT_SHARE * idle_speed(shaft.values)
        sustained = ndimage.binary_erosion(sustained, np.ones(self.smooth.window, bool))
        speed = np.where(sustained, self.averaged(instant), np.nan)
        return fit_burn_curve(engine, speed, 60.0 * self.smooth.rate_per_s)

    def speed(self, telemetry: Telemetry, engine: str, longest_hole_s: float | None = None) -> FloatArray:
        """Shaft speed on the burn's grid, NaN across holes: longer than usual steps, or than so long."""
        channel = f"engine.{engine}.speed_rpm"
        gap = longest_hole_s or longest_step_s(telemetry.series(channel).time_s)
        return telemetry.at(channel, self.smooth.time_s, max_gap_s=gap)
