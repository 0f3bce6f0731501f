"""One tank over one flight: burn, correction by what was put in, what was left, and what is doubtful about it.

A tank is read once (:func:`analyse_tank`) and set right by its sensor's scale (:func:`set_scale`), as often as more is
learned of that scale. All figures but those under ``by_sensor`` are set right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, TypeVar

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext, Fuel, Tank
from analyser.core.burn_curve import BurnCurve
from analyser.core.events import Event, happened
from analyser.core.figures import Z95, Figure, Method, Missing, Trace
from analyser.core.findings import Part, Text, say
from analyser.core.phases import Phases
from analyser.core.tables import Tabular
from analyser.core.telemetry import Telemetry
from analyser.fuel.burn import UNSEEN_S, BurnRecord, TankBurn
from analyser.fuel.codes import FuelCode
from analyser.fuel.mass import as_mass
from analyser.fuel.remaining import (
    endurance_of,
    holding_events,
    left_at_landing,
    left_by_volume,
    margin_of,
    on_board_at_start,
    reserve_events,
    reserve_of,
    start_events,
    start_under,
    volume_before,
    whole,
)
from analyser.fuel.scale import BELIEVABLE, FILLING_SE, ScaleBasis, SensorScale, curve_scale, unchecked_scale
from analyser.fuel.shares import RUNNING, PhaseBurn, band_burns, phase_burns
from analyser.fuel.sources import Source, added_by, engine_of, find_burn


class BurnFigures(Struct, frozen=True):
    """What a tank's engine burned: over the log, before lift-off, in flight, per minute in flight (mL and g)."""

    burned: Figure
    before_take_off: Figure
    airborne: Figure
    rate: Figure
    mass_rate: Figure


class ContentFigures(Struct, frozen=True):
    """What a tank held: at start, at landing, the reserve, left less reserve, and flight time until it were dry."""

    start: Figure
    left: Figure
    reserve: Figure
    margin: Figure
    endurance: Figure


class ScaleFigures(Struct, frozen=True):
    """What was put in afterwards, its ratio to what the sensor said, and the scale that set the figures right."""

    put_in: Figure
    own: Figure
    applied: SensorScale


class SensorFigures(Struct, frozen=True):
    """The same as the sensor (or the burn curve) alone tells it; what scales them is not applied.

    ``start`` is the volume at start before any doubt of the scale; ``added_ml`` what refuels had added by landing;
    ``how`` where the burn comes from.
    """

    burned: Figure
    before_take_off: Figure
    airborne: Figure
    rate: Figure
    to_landing: Figure
    after_landing: Figure
    start: Figure
    added_ml: float
    how: Text


G = TypeVar("G", BurnFigures, ContentFigures, SensorFigures)


class TankResult(Tabular, Struct, frozen=True):
    """One tank over one flight. ``name`` is the tank's instance in the log, ``source`` what told its burn.

    ``burn``, ``content``, ``phases``, ``bands`` and the traces are the best there is: by the volume put in after this
    flight where that was noted, else by the sensor times the scale that other flights taught, else by a sensor never
    checked. ``by_sensor`` is what the sensor says as it stands; ``curve`` is by the sensor too.
    """

    name: str
    engine: str
    source: str
    burn: BurnFigures
    content: ContentFigures
    scale: ScaleFigures
    phases: tuple[PhaseBurn, ...]
    bands: tuple[PhaseBurn, ...]
    burn_rate: Trace | None
    remaining: Trace | None
    by_sensor: SensorFigures
    curve: BurnCurve | None
    record: BurnRecord

    @property
    def measured(self) -> bool:
        """Whether a sensor told the burn; what a curve says of it teaches nothing about engine or sensor."""
        return self.source != Source.SPEED

    @property
    def burned(self) -> Figure:
        """What was burned over the whole log, mL."""
        return self.burn.burned

    @property
    def rate(self) -> Figure:
        """Burn in flight, mL/min."""
        return self.burn.rate

    @property
    def left(self) -> Figure:
        """What was left at landing, mL."""
        return self.content.left

    @property
    def margin(self) -> Figure:
        """What was left above the reserve, mL."""
        return self.content.margin

    def doubted(self, *doubts: Text) -> TankResult:
        """Mark every figure that rests on the sensor; what the owner entered stands."""
        if not doubts:
            return self

        def mark(figure: Figure) -> Figure:
            return figure if figure.method is Method.ENTERED else figure.with_doubt(*doubts)

        return replace(
            self,
            burn=_marked(self.burn, mark),
            content=_marked(self.content, mark),
            scale=replace(self.scale, own=mark(self.scale.own)),
            by_sensor=_marked(self.by_sensor, mark),
            phases=tuple(p.marked(mark) for p in self.phases),
            bands=tuple(p.marked(mark) for p in self.bands),
        )


class TankFindings(Struct, frozen=True):
    """One tank's result (``None`` where the log says nothing of it), what happened and what is missing."""

    result: TankResult | None
    events: tuple[Event, ...] = ()
    missing: tuple[Missing, ...] = ()


def analyse_tank(tank: Tank, telemetry: Telemetry, phases: Phases, context: FlightContext) -> TankFindings:
    """Work out one tank of one flight; parameters as for :func:`analyser.fuel.analysis.analyse_fuel`."""
    aircraft, name = context.aircraft, tank.name
    engine = engine_of(tank, aircraft, telemetry.channels)
    total, missing = find_burn(tank, engine, telemetry, aircraft, context.learned_burn)
    burn = TankBurn.of(name, total, phases.airborne_span) if total else None
    if total and burn is None:
        missing.append(
            Missing(f"fuel.{name}", say(FuelCode.TEN_SECONDS), say(FuelCode.ALL_OF_TANK, tank=name), "")
        )  # fmt: skip
    if burn is None:
        return TankFindings(None, (), tuple(missing))
    note = context.fuel_notes.get(name)
    before = volume_before(context, name)
    events = [*_sensor_events(burn, telemetry, phases), *start_events(burn, tank, before)]
    events += holding_events(burn, tank)
    described = aircraft.engine(engine) if aircraft else None
    bands, no_bands = band_burns(burn, engine, described, telemetry, phases.phases)
    by_sensor = _read(burn, tank, phases, telemetry.duration_s, before)
    put_in = _put_in(name, note.put_in_ml if note else None)
    if put_in.value is not None and put_in.value < 0.8 * (by_sensor.burned.value or 0.0):
        said = say(
            FuelCode.LESS_PUT_IN, tank=name, put_in=put_in, burned=by_sensor.burned,
            by_curve=burn.total.kind is Source.SPEED,
        )  # fmt: skip
        end = telemetry.duration_s
        events.append(happened("fuel_data", f"fuel.{name}", (end, end), said))
    doubts = [e.summary for e in events]
    doubts += [s.note for s in telemetry.suspects if s.channel == burn.total.channel and s.kind != "reset"]
    blank = Figure.unavailable("", "mL", say(FuelCode.NO_FUEL))
    raw = TankResult(
        name=name,
        engine=engine,
        source=burn.total.kind.value,
        burn=BurnFigures(blank, blank, blank, blank, blank),
        content=ContentFigures(blank, blank, blank, blank, blank),
        scale=ScaleFigures(
            put_in, _own_scale(burn, by_sensor.burned, put_in).with_doubt(*doubts), unchecked_scale(name, None)
        ),
        phases=tuple(phase_burns(burn, phases)),
        bands=bands,
        burn_rate=None,
        remaining=None,
        by_sensor=by_sensor,
        curve=burn.curve(telemetry, engine),
        record=burn.record(),
    ).doubted(*doubts)
    prior = (
        curve_scale(name) if burn.total.kind is Source.SPEED
        else unchecked_scale(name, tank.sensor_scale_percent, on_bench(context, name, burn.total.kind))
    )  # fmt: skip
    result = set_scale(raw, prior, tank, phases, context).doubted(*doubts)
    missing += [no_bands] if no_bands else []
    return TankFindings(result, (*events, *events_of_reserve(result, phases)), tuple(missing))


def on_bench(context: FlightContext, tank: str, source: str) -> Figure | None:
    """The scale that a calibration on the bench gave to what tells this tank's burn, ×."""
    return (context.pump_scales if source == Source.PUMP else context.sensor_scales).get(tank)


def set_scale(
    tank: TankResult, scale: SensorScale, described: Tank, phases: Phases, context: FlightContext
) -> TankResult:
    """Set all figures of a tank right by its sensor's scale; its own volume, where one was noted, comes first.

    Parameters
    ----------
    tank : TankResult
        As read, or as set right before: what ``by_sensor`` holds is all that is used.
    scale : SensorScale
        What is known of the sensor without this flight's own volume.
    described : Tank
        As the owner described it.
    phases : Phases
        Of the same flight.
    context : FlightContext
        Of the same flight.
    """
    name, sensor = tank.name, tank.by_sensor
    own = tank.scale.own
    if own.value is not None:
        scale = SensorScale(ScaleBasis.VOLUME, own.named(say(FuelCode.SCALE, tank=name)), 1)
    k, how = scale.factor, scale.how(sensor.how)
    start = start_under(sensor.start, scale, described).named(say(FuelCode.START, tank=name))
    filled = _filled(name, tank.scale.put_in)
    if own.value is not None:
        burned = filled.with_doubt(*own.doubts)
        left = left_by_volume(name, start, burned, sensor.after_landing, k)
    else:
        burned = sensor.burned.times(k, say(FuelCode.BURNED, tank=name), "mL", how=how, digits=0)
        left = left_at_landing(name, start, sensor.to_landing, scale, sensor.added_ml, shown=sensor.start)
    rate = whole(sensor.rate.times(k, say(FuelCode.RATE, tank=name), "mL/min", how=how, digits=1))
    reserve = reserve_of(described, context.aircraft, rate)
    fuel: Fuel | None = context.aircraft.fuel if context.aircraft else None
    scatter = sensor.to_landing if own.value is None else sensor.after_landing
    by_sensor = sensor.to_landing, scatter, sensor.rate
    return replace(
        tank,
        scale=replace(tank.scale, applied=scale),
        burn=BurnFigures(
            burned=whole(burned),
            before_take_off=sensor.before_take_off.times(
                k, say(FuelCode.BURNED_BEFORE_TAKE_OFF, tank=name), "mL", how=how, digits=0
            ),
            airborne=sensor.airborne.times(k, say(FuelCode.BURNED_IN_FLIGHT, tank=name), "mL", how=how, digits=0),
            rate=rate,
            mass_rate=as_mass(say(FuelCode.MASS_RATE, tank=name), rate, fuel, context.air_temperature_c),
        ),
        content=ContentFigures(
            start=start,
            left=left,
            reserve=reserve,
            margin=margin_of(name, left, reserve),
            endurance=endurance_of(
                described, sensor.start, left, rate, phases.airborne_span, scale=scale, by_sensor=by_sensor
            ),
        ),
        phases=tuple(p.scaled(k, how) for p in tank.phases),
        bands=tuple(p.scaled(k, how) for p in tank.bands),
        burn_rate=tank.record.rate_trace(name, scale, sensor.how),
        remaining=tank.record.left_trace(name, scale, start, left.how or how),
    )


def events_of_reserve(tank: TankResult, phases: Phases) -> Iterator[Event]:
    """What there is to say of one tank's reserve."""
    content = tank.content
    yield from reserve_events(tank.name, content.margin, tank.remaining, content.reserve, phases.touch_down_s)


def _read(burn: TankBurn, tank: Tank, phases: Phases, end_s: float, before_ml: float | None) -> SensorFigures:
    """What the sensor (or the curve) says."""
    name, by_curve = burn.name, burn.total.kind is Source.SPEED

    def by_sensor(figure: Figure) -> Figure:
        return replace(figure, label=say(FuelCode.SENSOR_LABEL, what=figure.label, by_curve=by_curve))

    airborne, rate = burn.airborne(phases)
    to_landing, after = burn.around_landing(phases)
    landed = phases.touch_down_s
    added = float(added_by(np.array([landed]), burn.total.refuels)[0]) if landed is not None else 0.0
    start = on_board_at_start(burn, tank, before_ml)
    return SensorFigures(
        burned=by_sensor(burn.figure(say(FuelCode.BURNED, tank=name), 0.0, end_s)),
        before_take_off=by_sensor(burn.before_take_off(phases)),
        airborne=by_sensor(airborne),
        rate=by_sensor(rate),
        to_landing=by_sensor(to_landing),
        after_landing=by_sensor(after),
        start=by_sensor(start) if start.method is Method.ESTIMATED else start,
        added_ml=added,
        how=burn.total.how,
    )


def _marked(group: G, mark: Callable[[Figure], Figure]) -> G:
    """A group of figures with each passed through ``mark``."""
    given: dict[str, Any] = {n: mark(v) for n in group.__struct_fields__ if isinstance(v := getattr(group, n), Figure)}
    return replace(group, **given)


def _sensor_events(burn: TankBurn, telemetry: Telemetry, phases: Phases) -> Iterator[Event]:
    """What is wrong with the sensor's record itself, by name."""
    name, total, smooth = burn.name, burn.total, burn.smooth
    subject, end = f"fuel.{name}", telemetry.duration_s
    for at, size in total.refuels:
        yield happened("refuel", subject, (at, at), say(FuelCode.REFUEL, tank=name, size=size))
    # Only what the falls can't explain as slosh: more than a tenth of the whole burn handed back.
    if smooth.raw_falls > 0.1 and not total.refuels:
        said = say(FuelCode.FELL_BACK, tank=name, share=100.0 * smooth.raw_falls)
        yield happened("fuel_data", subject, (0.0, end), said)
    if total.filled_ml > 0.02 * max(float(np.ptp(total.burned_ml)), 1.0):
        said = say(FuelCode.SILENT, tank=name, channel=Part(total.channel), volume=total.filled_ml)
        yield happened("fuel_data", subject, (0.0, end), said)
    runs = phases.spans(*RUNNING)
    first, last = float(smooth.time_s[0]), float(smooth.time_s[-1])
    unseen = sum(max(min(b, first) - a, 0.0) + max(b - max(a, last), 0.0) for a, b in runs)
    if unseen > UNSEEN_S:
        said = say(FuelCode.UNSEEN, tank=name, start_s=first, end_s=last, unseen_s=unseen)
        yield happened("fuel_data", subject, (first, last), said)
    for s in telemetry.suspects:
        if s.channel == total.channel and s.kind == "stuck":
            yield happened("fuel_data", subject, (s.start_s, s.end_s), s.note)


def _put_in(name: str, put_in_ml: float | None) -> Figure:
    label = say(FuelCode.PUT_IN, tank=name)
    if put_in_ml is None:
        return Figure.unavailable(label, "mL", say(FuelCode.NOT_NOTED))
    return Figure(label, put_in_ml, "mL", Method.ENTERED, how=say(FuelCode.NOTED_AFTER), digits=0)


def _filled(name: str, put_in: Figure) -> Figure:
    """The burn by what was put in, as well as a filling repeats."""
    label = say(FuelCode.BURNED, tank=name)
    if put_in.value is None:
        return Figure.unavailable(label, "mL", put_in.missing)
    return Figure.within(
        label, put_in.value, Z95 * FILLING_SE * put_in.value, "mL", how=say(FuelCode.BY_VOLUME), digits=0
    )  # fmt: skip


def _own_scale(burn: TankBurn, burned: Figure, put_in: Figure) -> Figure:
    """The ratio of what was put in to what was told."""
    by_curve = burn.total.kind is Source.SPEED
    label = say(FuelCode.OWN_SCALE, tank=burn.name, by_curve=by_curve)
    if put_in.value is None or not burned.value:
        return Figure.unavailable(label, "×", say(FuelCode.VOLUME_NOT_NOTED))
    if burn.total.refuels:
        return Figure.unavailable(label, "×", say(FuelCode.REFUELLED))
    if not BELIEVABLE[0] <= put_in.value / burned.value <= BELIEVABLE[1]:
        return Figure.unavailable(label, "×", say(FuelCode.NO_SCALE_MATTER, put_in=put_in, burned=burned))
    how = say(FuelCode.OWN_RATIO_CURVE if by_curve else FuelCode.OWN_RATIO)
    filled = _filled(burn.name, put_in)
    # The sensor's noise is small against the whole burn, so that first order will do even where it reaches nought.
    half = (
        put_in.value
        / burned.value
        * float(np.hypot(burned.half_width / burned.value, filled.half_width / put_in.value))
    )
    return Figure.within(label, put_in.value / burned.value, half, "×", how=how, digits=3)
