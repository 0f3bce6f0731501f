"""What a pack gave in one flight: charge, energy, charge a minute, and how the routes to its charge agree."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method
from analyser.core.phases import PhaseName
from analyser.core.smoothing import integrate
from analyser.packs.readings import PackLog

DISAGREE = 0.15
"""Two routes to one charge that differ by more than this share are named."""
LEAST_MAH = 1.0
"""Less than this is no charge to divide by."""
SHORTEST_MIN = 0.05
"""A phase below three seconds has no rate."""


@dataclass(frozen=True, slots=True)
class PhaseCharge:
    """Charge one pack gave in one phase."""

    name: str
    used_mah: Figure
    rate_mah_per_min: Figure


def charge_put_back(log: PackLog) -> Figure:
    """What the charger put back, as the owner noted it."""
    label = f"Put back by the charger, {log.role}"
    if log.note.charged_mah is None:
        return Figure.unavailable(label, "mAh", "not noted")
    return Figure(label, log.note.charged_mah, "mAh", Method.ENTERED, how="noted", digits=0)


def charge_used(log: PackLog, put_back: Figure) -> Figure:
    """By integrated current, else the running count, else what the charger put back."""
    label = f"Charge used, {log.role}"
    if log.used:
        return Figure(label, _total(log), "mAh", log.used_method, how=log.used_how, digits=0).with_doubt(*log.doubts)
    if put_back.value is not None:
        return replace(put_back, label=label, how="the charge put back; no current was logged").with_doubt(*log.doubts)
    return Figure.unavailable(label, "mAh", "neither current nor used charge is logged, and no put-back is noted")


def _total(log: PackLog) -> float:
    return float(log.used.values[-1] - log.used.values[0])


def charge_counted(log: PackLog) -> Figure:
    """The sensor's own running count."""
    label = f"Charge by the sensor's own count, {log.role}"
    if log.counted_mah is None:
        return Figure.unavailable(label, "mAh", "no running count is logged")
    return Figure(label, log.counted_mah, "mAh", Method.MEASURED, how=f"from pack.{log.role}.used_mah", digits=0)


def energy_used(log: PackLog) -> Figure:
    """Integrated power."""
    label = f"Energy used, {log.role}"
    if not log.current or not log.voltage:
        return Figure.unavailable(label, "Wh", "needs voltage and current")
    t = log.current.time_s
    power = log.current.values * np.interp(t, *log.voltage)
    how = "voltage times current, trapezoid"
    return Figure(label, float(integrate(t, power)[-1] / 3600.0), "Wh", Method.INTEGRATED, how=how, digits=2)


def airborne_rate(log: PackLog) -> Figure:
    """Charge a minute between take-off and touch-down."""
    label = f"Charge in flight, {log.role}"
    air = log.phases.airborne_span
    if not log.used:
        return Figure.unavailable(label, "mAh/min", "neither current nor used charge is logged")
    if air is None:
        return Figure.unavailable(label, "mAh/min", "take-off and landing can't be told from this log")
    rate = _rate(label, log, [air])
    if rate.value is None:
        return rate
    down, up = log.phases.reach(lambda a, b: 60.0 * _given(log, [(a, b)]) / max(b - a, 1e-9))
    how = f"{rate.how}; interval from how sharply take-off and landing are told"
    return replace(rate, low=rate.value - down, high=rate.value + up, how=how)


def phase_charges(log: PackLog) -> tuple[PhaseCharge, ...]:
    """Charge and charge a minute of every phase the flight had."""
    if not log.used:
        return ()
    out = []
    for phase in PhaseName:
        spans = list(log.phases.spans(phase))
        if not spans:
            continue
        label = f"Charge, {log.role}, {phase}"
        given = Figure(label, _given(log, spans), "mAh", log.used_method, how=log.used_how, digits=1)
        out.append(PhaseCharge(phase.value, given, _rate(f"Charge a minute, {log.role}, {phase}", log, spans)))
    return tuple(out)


def _given(log: PackLog, spans: Iterable[tuple[float, float]]) -> float:
    ends = np.interp(np.array(list(spans)).ravel(), *log.used).reshape(-1, 2)
    return float((ends[:, 1] - ends[:, 0]).sum())


def _rate(label: str, log: PackLog, spans: list[tuple[float, float]]) -> Figure:
    minutes = sum(b - a for a, b in spans) / 60.0
    if minutes <= SHORTEST_MIN:
        return Figure.unavailable(label, "mAh/min", "the phase is too short for a rate")
    return Figure(label, _given(log, spans) / minutes, "mAh/min", log.used_method, how=log.used_how)


def compare_routes(log: PackLog, put_back: Figure, started_full: bool | None) -> tuple[Figure, tuple[Event, ...]]:
    """Set the integrated current against the sensor's own count and the charge put back; name the larger difference."""
    label = f"Disagreement of the charge routes, {log.role}"
    if not log.current:
        return Figure.unavailable(label, "%", "needs logged current and a second route to the charge"), ()
    integrated = _total(log)
    routes: list[tuple[str, float]] = []
    if log.counted_mah is not None and log.counted_mah >= LEAST_MAH:
        routes.append(("the sensor's own count", log.counted_mah))
    charged = put_back.value
    if charged is not None and charged >= LEAST_MAH and not (charged > integrated and started_full is False):
        routes.append(("the charge put back", charged))
    if not routes:
        why = "neither a running count nor a put-back noted"
        if charged:
            why = "the pack did not start full, so more was put back than this flight used"
        return Figure.unavailable(label, "%", f"needs a second route to the charge: {why}"), ()
    what, other = max(routes, key=lambda r: abs(integrated - r[1]))
    percent = 100.0 * (integrated - other) / other
    how = f"integrated {integrated:.0f} mAh less {other:.0f} mAh by {what}, over the latter"
    figure = Figure(label, percent, "%", Method.INTEGRATED, how=how, digits=0)
    if abs(integrated - other) <= DISAGREE * max(other, integrated):
        return figure, ()
    seconds = max(float(log.current.time_s[-1] - log.current.time_s[0]), 1.0)
    offset = 3.6 * (integrated - other) / seconds
    quiet = log.quiet_a
    text = (
        f"The integrated current of {log.role} gives {integrated:.0f} mAh but {what} gives {other:.0f} mAh: "
        f"a constant offset of {offset:+.2f} A would explain it"
    )
    if offset > 0 and quiet < 0.7 * offset:
        text += f", but the quietest ten seconds read only {quiet:.2f} A, so rather a scale error or a wrong note."
    else:
        text += f" (the quietest ten seconds read {quiet:.2f} A), or something not logged."
    return figure, (log.remark(Level.WATCH, text),)
