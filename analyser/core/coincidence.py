"""What else happened in the same moment: gear, brakes, flaps, surfaces, an engine start, g."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from scipy.constants import g

from analyser.core.codes import CoreCode
from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, say
from analyser.core.phases import PhaseName, Phases
from analyser.core.telemetry import Series, Telemetry

CAUSE_S = 0.5
"""What happens this long before or after an instant is named with it."""
GEAR_S = 1.0 + CAUSE_S
"""A gear switch is thrown before its motors meet their full load."""
BRAKES_ON_PERCENT = 20.0
FLAPS_MOVED_PERCENT = 10.0
HARD_WORK_PERCENT = 80.0
"""Travel of all surfaces together within the moment."""
HIGH_G_M_S2 = 30.0
SURFACES = ("aileron", "elevator", "rudder")
CONTROLS = ("control.gear", "control.brake_percent", "control.flap_percent", "motion.accel_z_m_s2")


class Causes(Struct, frozen=True, eq=False):
    """The channels that tell what went on, read once for a flight and asked at as many instants as there are events."""

    channels: dict[str, Series]
    starts: tuple[tuple[float, float], ...]

    @classmethod
    def of(cls, telemetry: Telemetry, phases: Phases) -> Causes:
        """Read them; nothing logged names nothing."""
        names = (*CONTROLS, *(f"control.{s}_percent" for s in SURFACES))
        return cls({n: telemetry.series(n) for n in names}, phases.spans(PhaseName.START))

    def near(self, at_s: float) -> tuple[Finding, ...]:
        """What happened within half a second of an instant."""
        out: list[Finding] = []
        gear = self._around("control.gear", at_s, GEAR_S)
        if gear.size and np.ptp(gear) > 0:
            out.append(say(CoreCode.GEAR_DOWN if gear[-1] > gear[0] else CoreCode.GEAR_UP))
        brake = self._around("control.brake_percent", at_s)
        if brake.size and brake.max() > BRAKES_ON_PERCENT:
            out.append(say(CoreCode.BRAKES_ON))
        flap = self._around("control.flap_percent", at_s)
        if flap.size and np.ptp(flap) > FLAPS_MOVED_PERCENT:
            out.append(say(CoreCode.FLAPS_MOVING))
        surfaces = [self._around(f"control.{s}_percent", at_s) for s in SURFACES]
        if sum(float(np.ptp(w)) for w in surfaces if w.size) > HARD_WORK_PERCENT:
            out.append(say(CoreCode.SURFACES_WORKING))
        if any(a - CAUSE_S <= at_s <= b + CAUSE_S for a, b in self.starts):
            out.append(say(CoreCode.ENGINE_START))
        load = self._around("motion.accel_z_m_s2", at_s)
        if load.size and np.abs(load).max() > HIGH_G_M_S2:
            out.append(say(CoreCode.LOAD, g=float(np.abs(load).max() / g)))
        return tuple(out)

    def _around(self, name: str, at_s: float, margin_s: float = CAUSE_S) -> FloatArray:
        """Samples within the margin and the one on either side of it."""
        t, v = self.channels[name]
        a, b = np.searchsorted(t, [at_s - margin_s, at_s + margin_s])
        return v[max(a - 1, 0) : b + 1]
