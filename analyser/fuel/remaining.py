"""What was on board: at the start, at landing, and against the owner's reserve."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, FlightContext, Reserve, Tank
from analyser.core.events import Event, happened
from analyser.core.figures import Z95, Figure, FloatArray, Method, Trace
from analyser.core.findings import Finding, Part, Text, say
from analyser.core.statistics.robust import median
from analyser.fuel.burn import TankBurn
from analyser.fuel.codes import FuelCode
from analyser.fuel.scale import FILLING_SE, SensorScale
from analyser.fuel.sources import added_by

SUGGESTED_RESERVE_PERCENT = 20.0
"""Suggested where the owner states no reserve (common practice, no source)."""
START_DIFFERS = 0.1
"""A gauge that differs from the noted start by more than this share of it is said to."""
RESERVE_EVENTS = ("reserve_reached", "reserve_near")
"""Kinds of event that tell of the reserve."""
FULL_LEAST = 0.95
"""A tank that nobody noted as filled, but is taken for full, holds at least so much of its capacity: air stays in it,
and a start-up at the pits or a short top-up is seldom made good (common practice, no source)."""
MOST_OF_CAPACITY = 1.05
"""A tank filled to the brim, by a sensor within its errors, shows no more than this share of what it holds (common
practice, no source)."""


def volume_before(context: FlightContext, tank: str) -> float | None:
    """What the owner noted as being in a tank before the flight, mL."""
    note = context.fuel_notes.get(tank)
    return note.before_ml if note else None


def on_board_at_start(burn: TankBurn, tank: Tank, before_ml: float | None) -> Figure:
    """Volume on board when the log begins: as noted, by the gauge, as the owner usually fills, else a full tank."""
    label = say(FuelCode.START, tank=burn.name)
    if before_ml is not None:
        return _filled(label, before_ml, Method.ENTERED, say(FuelCode.NOTED_BEFORE))
    if burn.total.content_ml is not None:
        how = say(FuelCode.GAUGE, channel=Part(burn.total.channel))
        return Figure.within(label, _by_gauge(burn), Z95 * burn.smooth.total_se, "mL", how=how, digits=0)
    if tank.usual_fill_ml is not None:
        return _filled(label, tank.usual_fill_ml, Method.ASSUMED, say(FuelCode.USUAL_FILL))
    if tank.capacity_ml is not None:
        taken = _filled(label, tank.capacity_ml, Method.ASSUMED, say(FuelCode.TAKEN_FULL))
        # As full as it goes is a bound, not a volume that somebody filled in: less may be in it, hardly more.
        return replace(taken, low=FULL_LEAST * tank.capacity_ml)
    return Figure.unavailable(label, "mL", say(FuelCode.NO_START))


def _filled(label: Text, volume: float, method: Method, how: Text) -> Figure:
    return replace(Figure.within(label, volume, Z95 * FILLING_SE * volume, "mL", how=how, digits=0), method=method)


def _by_gauge(burn: TankBurn) -> float:
    """The gauge's content at the start: the median over the log of what it shows plus what had been burned.

    So one sloshing first sample does not shift it all, and a refuel in mid-log is no part of it.
    """
    total = burn.total
    assert total.content_ml is not None
    burned = np.interp(total.time_s, burn.smooth.time_s, burn.smooth.total)
    return median(total.content_ml - added_by(total.time_s, total.refuels) + burned) - float(burn.smooth.total[0])


def start_under(start: Figure, scale: SensorScale, tank: Tank) -> Figure:
    """The volume at start with the doubt of a gauge's scale: nobody knows whether it is right when full or when empty.

    A gauge whose millilitre is off reads right either at the mark it was set to, the start, or when empty; then the
    start is off by the scale as well. The interval holds both, but no more than the tank does.
    """
    if start.value is None or not _by_its_scale(start):
        return start
    value, noise = start.value, start.half_width
    ends = [value, *(value * (scale.value + s * scale.factor.half_width) for s in (-1.0, 1.0))]
    low, high = min(ends) - noise, max(ends) + noise
    if tank.capacity_ml is not None:
        high = max(min(high, tank.capacity_ml * (1.0 + Z95 * FILLING_SE)), value + noise)
    how = start.how if scale.checked else say(FuelCode.GAUGE_UNCHECKED, how=start.how)
    return replace(start, low=low, high=high, how=how)


def start_events(burn: TankBurn, tank: Tank, before_ml: float | None) -> Iterable[Event]:
    """The gauge against the volume noted before the flight."""
    if before_ml is None or burn.total.content_ml is None:
        return
    shown = _by_gauge(burn)
    if abs(shown - before_ml) > START_DIFFERS * max(before_ml, tank.capacity_ml or 0.0):
        said = say(FuelCode.START_DIFFERS, tank=burn.name, noted=before_ml, shown=shown)
        yield happened("fuel_data", f"fuel.{burn.name}", (0.0, 0.0), said)


def holding_events(burn: TankBurn, tank: Tank) -> Iterable[Event]:
    """More in a tank, or more burned from it, than it holds: a wrong scale, unit or capacity."""
    if tank.capacity_ml is None:
        return
    gauge = burn.total.content_ml is not None
    told = _by_gauge(burn) if gauge else float(burn.smooth.total[-1] - burn.smooth.total[0])
    if told > MOST_OF_CAPACITY * tank.capacity_ml:
        said = say(FuelCode.MORE_THAN_HOLDS, tank=burn.name, gauge=gauge, told=told, holds=tank.capacity_ml)
        span = (float(burn.total.time_s[0]), float(burn.total.time_s[-1]))
        yield happened("fuel_data", f"fuel.{burn.name}", span, said)


def whole(figure: Figure) -> Figure:
    """The figure rounded to what is printed, so that printed rows add up; its interval stays."""
    return figure if figure.value is None else replace(figure, value=round(figure.value, figure.digits))


def left_at_landing(
    tank: str, start: Figure, to_landing: Figure, scale: SensorScale, added_ml: float, *, shown: Figure
) -> Figure:
    """Start volume less what was burned until the last touch-down, set right by the sensor's scale.

    Parameters
    ----------
    start, shown : Figure
        Volume at start as :func:`start_under` gives it, and before it was set right, mL.
    to_landing : Figure
        Burned until the last touch-down by the sensor, mL.
    """
    label = say(FuelCode.LEFT, tank=tank)
    burned = to_landing.times(scale.factor, to_landing.label, "mL", how=scale.how(to_landing.how))
    left = _left(label, start, burned, added_ml, say(FuelCode.LESS_BURNED, start=start.how, burned=burned.how))
    if left.value is None or not _by_its_scale(start) or shown.value is None or to_landing.value is None:
        return left
    # One gauge tells both: its scale is off in start and burn together, and right at the start mark or at empty.
    noise = float(np.hypot(shown.half_width, scale.value * to_landing.half_width))
    factors = [scale.value + s * scale.factor.half_width for s in (-1.0, 1.0)]
    ends = [left.value - added_ml]
    ends += [x for k in factors for x in (shown.value - k * to_landing.value, k * (shown.value - to_landing.value))]
    return replace(left, low=min(ends) + added_ml - noise, high=max(ends) + added_ml + noise)


def _by_its_scale(start: Figure) -> bool:
    """Whether a gauge told the volume at start, so that its scale is in it."""
    return start.method is Method.ESTIMATED


def left_by_volume(tank: str, start: Figure, filled: Figure, after_landing: Figure, factor: Figure) -> Figure:
    """What was left where the volume put in afterwards is all that was burned.

    Start volume less that volume, but for what was burned after landing: of the sensor's own errors only that part's
    is left.
    """
    label = say(FuelCode.LEFT, tank=tank)
    later = after_landing.times(factor, after_landing.label, "mL")
    return _left(label, start, filled.minus(later, label), 0.0, say(FuelCode.LEFT_BY_VOLUME, start=start.how))


def _left(label: Text, start: Figure, burned: Figure, added_ml: float, how: Text) -> Figure:
    left = start.minus(burned, label, how=how)
    if left.value is None:
        return left
    low, high = (None if v is None else v + added_ml for v in (left.low, left.high))
    return whole(replace(left, value=left.value + added_ml, low=low, high=high, method=Method.ESTIMATED, digits=0))


def reserve_of(tank: Tank, aircraft: Aircraft | None, rate: Figure) -> Figure:
    """The reserve the owner states for a tank, or for every tank of the aircraft."""
    label = say(FuelCode.RESERVE, tank=tank.name)
    rule = tank.reserve or (aircraft.reserve if aircraft else None)
    if rule is None:
        return Figure.unavailable(label, "mL", say(FuelCode.NO_RESERVE, percent=SUGGESTED_RESERVE_PERCENT))
    return reserve_volume(label, rule, tank, rate)


def reserve_volume(label: Text, rule: Reserve, tank: Tank, rate: Figure) -> Figure:
    """The owner's reserve rule as a volume of one tank, mL."""
    if rule.ml is not None:
        return whole(Figure(label, rule.ml, "mL", Method.ENTERED, how=say(FuelCode.STATED_RESERVE), digits=0))
    if rule.percent is not None:
        if tank.capacity_ml is None:
            return Figure.unavailable(label, "mL", say(FuelCode.NO_CAPACITY, percent=rule.percent))
        volume = rule.percent / 100.0 * tank.capacity_ml
        how = say(FuelCode.RESERVE_PERCENT, percent=rule.percent)
        return whole(Figure(label, volume, "mL", Method.ENTERED, how=how, digits=0))
    minutes = rule.minutes or 0.0
    if rate.value is None:
        return Figure.unavailable(label, "mL", say(FuelCode.NO_RATE_FOR_RESERVE, minutes=minutes))
    how = say(FuelCode.RESERVE_MINUTES, minutes=minutes)
    return whole(replace(rate.times(minutes, label, "mL", how=how, digits=0), method=Method.ESTIMATED))


def margin_of(tank: str, left: Figure, reserve: Figure) -> Figure:
    """What was left above the reserve.

    A reserve by minutes grows with the very error by which what was left shrinks, so that the half-widths add
    (JCGM 100:2008, 5.2.2 with r = −1).
    """
    label, how = say(FuelCode.MARGIN, tank=tank), say(FuelCode.OVER_RESERVE, left=left.how, reserve=reserve.how)
    against = reserve.times(-1.0, label, "mL")
    margin = left.plus(against, label, how=how, correlated=True)
    return margin if margin.value is None else replace(margin, method=Method.ESTIMATED)


def endurance_of(
    tank: Tank, start: Figure, left: Figure, rate: Figure, span: tuple[float, float] | None, *, scale: SensorScale,
    by_sensor: tuple[Figure, Figure, Figure],
) -> Figure:  # fmt: skip
    """Flight time after which the tank would have been dry, min: time flown, and what was left over the burn in flight.

    A sensor that reads low leaves too much and lets it burn too slowly: the error of its scale counts once, on all that
    was on board. The error of the volume at start is another; the sensor's own scatter moves what was left and the burn
    together (JCGM 100:2008, 5.1.2 and 5.2.2).

    Parameters
    ----------
    start, left, rate : Figure
        On board at start without the error of a gauge's scale, and at landing, mL; burn in flight, mL/min.
    span : (float, float) or None
        Lift-off and touch-down, s.
    by_sensor : (Figure, Figure, Figure)
        Burned until landing, what of the sensor's scatter is in what was left, mL, and burn in flight, by the sensor.
    """
    label = say(FuelCode.ENDURANCE, tank=tank.name)
    to_landing, scatter, shown = by_sensor
    if left.value is None or not rate.value or not shown.value or span is None or rate.value <= 0:
        return Figure.unavailable(label, "min", left.missing or rate.missing or say(FuelCode.NO_BURN))
    flown = (span[1] - span[0]) / 60.0
    minutes = max(left.value - tank.unusable_ml, 0.0) / rate.value
    on_board = minutes + scale.value * (to_landing.value or 0.0) / rate.value
    spread = scale.value * scatter.half_width / rate.value
    ends = []
    # A burn whose interval reaches down to nothing says nothing of how late the tank is dry.
    for side, reach in ((-1.0, _reach(start)[0]), (1.0, _reach(start)[1])):
        scaled, slower = (
            1.0 / max(1.0 - side * half, 0.05) - 1.0
            for half in (scale.factor.half_width / scale.value, shown.half_width / shown.value)
        )
        parts = [reach / rate.value, on_board * scaled, spread + minutes * abs(slower)]
        ends.append(flown + max(minutes + side * float(np.linalg.norm(parts)), 0.0))
    how = say(FuelCode.FLOWN_PLUS_LEFT)
    figure = Figure(label, flown + minutes, "min", Method.ESTIMATED, low=ends[0], high=ends[1], how=how)
    return figure.with_doubt(*left.doubts, *rate.doubts)


def _reach(figure: Figure) -> tuple[float, float]:
    """How far an interval reaches below and above its value."""
    value = figure.value or 0.0
    return value - (value if figure.low is None else figure.low), (figure.high or value) - value


def reserve_events(
    name: str, margin: Figure, remaining: Trace | None, reserve: Figure, landed: float | None
) -> Iterable[Event]:
    """A landing below the reserve, or too near it to tell; nothing where more is told than the tank holds."""
    if margin.value is None or remaining is None or reserve.value is None or landed is None:
        return
    if any(isinstance(d, Finding) and d.code == FuelCode.MORE_THAN_HOLDS for d in margin.doubts):
        return
    subject = f"fuel.{name}"
    if margin.value < 0:
        at = min(_first_below(remaining.time_s, remaining.values, reserve.value, landed), landed)
        said = say(FuelCode.LANDED_BELOW, tank=name, margin=margin, reserve=reserve)
        yield happened("reserve_reached", subject, (at, landed), said, depth=margin)
    elif margin.low is not None and margin.low < 0:
        said = say(FuelCode.LANDED_NEAR, tank=name, margin=margin)
        yield happened("reserve_near", subject, (landed, landed), said, depth=margin)


def _first_below(time_s: FloatArray, values: FloatArray, level: float, otherwise: float) -> float:
    below = np.flatnonzero(values < level)
    return float(time_s[below[0]]) if below.size else otherwise
