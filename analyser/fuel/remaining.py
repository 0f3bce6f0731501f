"""What was on board: at the start, over the flight, at landing, and against the owner's reserve."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from analyser.core.aircraft import Aircraft, Reserve, Tank
from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method, Trace
from analyser.core.phases import Phases
from analyser.core.smoothing import Z95
from analyser.fuel.burn import TankBurn
from analyser.fuel.sources import added_by

FILLING_SE = 0.01
"""Relative standard error of a volume put in with a marked can or pump counter (common practice, no source)."""
SUGGESTED_RESERVE_PERCENT = 20.0
"""Suggested where the owner states no reserve (common practice, no source)."""
START_DIFFERS = 0.1
"""A gauge that differs from the noted start by more than this share of it is said to."""


def on_board_at_start(burn: TankBurn, tank: Tank, before_ml: float | None) -> Figure:
    """Volume on board when the log begins: as noted, by the gauge, as the owner usually fills, else a full tank."""
    label = f"On board at start, {burn.name}"
    if before_ml is not None:
        return _filled(label, before_ml, Method.ENTERED, "noted before the flight")
    if burn.total.content_ml is not None:
        start, half = _by_gauge(burn), Z95 * burn.smooth.total_se
        how = f"from {burn.total.channel}, smoothed"
        return Figure(label, start, "mL", Method.ESTIMATED, start - half, start + half, how=how, digits=0)
    if tank.usual_fill_ml is not None:
        return _filled(label, tank.usual_fill_ml, Method.ASSUMED, "the owner's usual fill, assumed for this flight")
    if tank.capacity_ml is not None:
        return _filled(label, tank.capacity_ml, Method.ASSUMED, "tank assumed full at start")
    why = "neither contents, nor the volume before the flight, nor the tank's capacity is known"
    return Figure.unavailable(label, "mL", why)


def _filled(label: str, volume: float, method: Method, how: str) -> Figure:
    half = Z95 * FILLING_SE * volume
    return Figure(label, volume, "mL", method, volume - half, volume + half, how=how, digits=0)


def _by_gauge(burn: TankBurn) -> float:
    """The gauge's content at the start: the median over the log of what it shows plus what had been burned.

    So one sloshing first sample does not shift it all, and a refuel in mid-log is no part of it.
    """
    total = burn.total
    assert total.content_ml is not None
    burned = np.interp(total.time_s, burn.smooth.time_s, burn.smooth.total)
    return float(np.median(total.content_ml - added_by(total.time_s, total.refuels) + burned)) - float(
        burn.smooth.total[0]
    )


def start_events(burn: TankBurn, tank: Tank, before_ml: float | None) -> Iterable[Event]:
    """The gauge against the volume noted before the flight."""
    if before_ml is None or burn.total.content_ml is None:
        return
    shown = _by_gauge(burn)
    if abs(shown - before_ml) > START_DIFFERS * max(before_ml, tank.capacity_ml or 0.0):
        text = f"Tank {burn.name}: {before_ml:.0f} mL were noted before the flight, the gauge shows {shown:.0f} mL."
        yield Event("fuel_data", f"fuel.{burn.name}", 0.0, 0.0, Level.WATCH, text)


def remaining_trace(burn: TankBurn, start: Figure) -> Trace | None:
    """Content over the flight: the gauge's, smoothed, else the volume at start less what was burned."""
    if start.value is None:
        return None
    smooth = burn.smooth
    if burn.total.content_ml is not None:
        full, how, method = _by_gauge(burn), f"from {burn.total.channel}, smoothed", Method.ESTIMATED
        half = np.full(smooth.time_s.size, Z95 * smooth.total_se)
    else:
        full, how, method = start.value, f"{start.how}, less what was burned", start.method
        ends = np.linspace(0, smooth.time_s.size - 1, min(smooth.time_s.size, 60)).astype(np.intp)
        at = smooth.time_s[ends]
        grown = np.hypot(start.half_width, [burn.half(float(at[0]), float(t)) for t in at])
        half = np.interp(smooth.time_s, at, grown)
    left = full + float(smooth.total[0]) - smooth.total + added_by(smooth.time_s, burn.total.refuels)
    return Trace(f"Fuel left, {burn.name}", "mL", smooth.time_s, left, left - half, left + half, method, how)


def left_at_landing(burn: TankBurn, remaining: Trace | None, phases: Phases) -> Figure:
    """Content at the last touch-down, by the sensor as it stands."""
    label = f"Left at landing, {burn.name}"
    if remaining is None:
        why = "neither contents, nor the volume before the flight, nor the tank's capacity is known"
        return Figure.unavailable(label, "mL", why)
    at = phases.touch_down_s
    if at is None or remaining.low is None:
        return Figure.unavailable(label, "mL", "the landing can't be told from this log")
    if not burn.sees(at, at):
        return Figure.unavailable(label, "mL", "the fuel sensor did not report at landing")
    value = float(np.interp(at, remaining.time_s, remaining.values))
    half = value - float(np.interp(at, remaining.time_s, remaining.low))
    down, up = phases.reach(lambda _, b: float(np.interp(b, remaining.time_s, remaining.values)))
    low, high = value - float(np.hypot(half, down)), value + float(np.hypot(half, up))
    return Figure(label, value, "mL", remaining.method, low, high, how=remaining.how, digits=0)


def left_corrected(burn: TankBurn, start: Figure, by_sensor: Figure, correction: Figure, phases: Phases) -> Figure:
    """What was left if this flight's burn was really what was put in afterwards: start volume less corrected burn."""
    label = f"Left at landing, {burn.name} (by what was put in)"
    at = phases.touch_down_s
    if start.value is None or at is None:
        return Figure.unavailable(label, "mL", "needs the volume at start and the time of landing")
    if correction.value is None or by_sensor.value is None:
        return Figure.unavailable(label, "mL", correction.missing or by_sensor.missing)
    k = correction.value

    def left(_: float, b: float) -> float:
        return (start.value or 0.0) - k * burn.volume(0.0, b)

    value, burned = left(0.0, at), burn.volume(0.0, at)
    # What was put in is k times the whole burn: of the sensor's own errors only those after landing are left.
    half = np.sqrt(start.half_width**2 + (correction.half_width * burned) ** 2 + (k * Z95 * burn.smooth.total_se) ** 2)
    down, up = phases.reach(left)
    how = f"volume at start ({start.how}) less the burn, corrected by what was put in afterwards"
    low, high = value - float(np.hypot(half, down)), value + float(np.hypot(half, up))
    return Figure(label, value, "mL", Method.ESTIMATED, low, high, how=how, digits=0)


def reserve_of(tank: Tank, aircraft: Aircraft | None, rate: Figure) -> Figure:
    """The reserve the owner states for a tank, or for every tank of the aircraft."""
    label = f"Reserve, {tank.name}"
    rule = tank.reserve or (aircraft.reserve if aircraft else None)
    if rule is None:
        why = (
            f"no reserve is stated; a suggestion is {SUGGESTED_RESERVE_PERCENT:.0f} % of the tank "
            "(common practice, no source)"
        )
        return Figure.unavailable(label, "mL", why)
    return reserve_volume(label, rule, tank, rate)


def reserve_volume(label: str, rule: Reserve, tank: Tank, rate: Figure) -> Figure:
    """The owner's reserve rule as a volume of one tank, mL."""
    if rule.ml is not None:
        return Figure(label, rule.ml, "mL", Method.ENTERED, how="stated by the owner", digits=0)
    if rule.percent is not None:
        if tank.capacity_ml is None:
            return Figure.unavailable(label, "mL", f"{rule.percent:g} % of a tank whose capacity is not stated")
        volume = rule.percent / 100.0 * tank.capacity_ml
        return Figure(label, volume, "mL", Method.ENTERED, how=f"{rule.percent:g} % of the tank", digits=0)
    minutes = rule.minutes or 0.0
    if rate.value is None:
        return Figure.unavailable(label, "mL", f"{minutes:g} minutes at a burn that is not known")
    low, high = (None if v is None else minutes * v for v in (rate.low, rate.high))
    how = f"{minutes:g} min at this flight's burn"
    return Figure(label, minutes * rate.value, "mL", Method.ESTIMATED, low, high, how=how, digits=0)


def margin_of(name: str, left: Figure, reserve: Figure) -> Figure:
    """What was left above the reserve."""
    label = f"Above the reserve at landing, {name}"
    if left.value is None or reserve.value is None:
        return Figure.unavailable(label, "mL", left.missing or reserve.missing)
    value = left.value - reserve.value
    half = float(np.hypot(left.half_width, reserve.half_width))
    how = f"{left.how}; reserve {reserve.how}"
    return Figure(label, value, "mL", Method.ESTIMATED, value - half, value + half, how=how, digits=0)


def dry_after(name: str, left: Figure, rate: Figure, tank: Tank, span: tuple[float, float] | None) -> Figure:
    """Flight time after which the tank would have been dry, min."""
    label = f"Flight time to a dry tank, {name}"
    if left.value is None or rate.value is None or span is None or rate.value <= 0:
        return Figure.unavailable(label, "min", left.missing or rate.missing or "no burn in flight")
    flown = (span[1] - span[0]) / 60.0

    def at(volume: float, burn: float) -> float:
        return flown + max(volume - tank.unusable_ml, 0.0) / burn

    low = at(left.low if left.low is not None else left.value, rate.high or rate.value)
    # A burn whose interval reaches down to nothing says nothing of how late the tank is dry.
    high = at(left.high if left.high is not None else left.value, max(rate.low or rate.value, 0.05 * rate.value))
    how = "flown time plus usable fuel left over this flight's burn"
    return Figure(label, at(left.value, rate.value), "min", Method.ESTIMATED, low, high, how=how)


def reserve_events(
    name: str, margin: Figure, remaining: Trace | None, reserve: Figure, phases: Phases
) -> Iterable[Event]:
    """A landing below the reserve, or too near it to tell."""
    landed = phases.touch_down_s
    if margin.value is None or remaining is None or reserve.value is None or landed is None:
        return
    subject = f"fuel.{name}"
    if margin.value < 0:
        below = np.flatnonzero(remaining.values < reserve.value)
        at = float(remaining.time_s[below[0]]) if below.size else landed
        text = f"Tank {name} landed {-margin.value:.0f} mL below the {reserve.value:.0f} mL reserve."
        yield Event("reserve_reached", subject, min(at, landed), landed, Level.ACT, text, margin)
    elif margin.low is not None and margin.low < 0:
        text = f"Tank {name} landed {margin.value:.0f} mL above the reserve: within what sensor and filling resolve."
        yield Event("reserve_near", subject, landed, landed, Level.WATCH, text, margin)
