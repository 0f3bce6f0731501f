"""One tank over one flight: burn, correction by what was put in, what was left, and what is doubtful about it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from analyser.core.aircraft import Aircraft, FlightContext, Fuel, Tank
from analyser.core.burn_curve import BurnCurve
from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method, Missing, Trace
from analyser.core.findings import Text
from analyser.core.phases import Phases
from analyser.core.smoothing import Z95
from analyser.core.telemetry import Telemetry
from analyser.fuel.burn import UNSEEN_S, TankBurn
from analyser.fuel.mass import as_mass
from analyser.fuel.remaining import (
    FILLING_SE,
    dry_after,
    left_at_landing,
    left_corrected,
    margin_of,
    on_board_at_start,
    remaining_trace,
    reserve_events,
    reserve_of,
    start_events,
)
from analyser.fuel.shares import RUNNING, PhaseBurn, band_burns, phase_burns
from analyser.fuel.sources import Source, engine_of, find_burn

BELIEVABLE = (0.4, 2.5)
"""Volume put in over volume burned outside this was not put in to the same mark: no scale of any sensor."""


@dataclass(frozen=True, slots=True)
class TankResult:
    """One tank over one flight. ``name`` is the tank's instance in the log, ``source`` what told its burn.

    ``burned_ml`` is what the sensor says over the whole log, ``burned_corrected_ml`` the same set right by what
    was put in afterwards; ``correction`` is their ratio. ``burned_before_take_off_ml`` and ``burned_airborne_ml`` are
    by the sensor; the one runs from the log's first row to lift-off, the other from there to touch-down.
    ``bands_by`` says what the bands are of: ``shaft speed``, ``throttle`` or ``pump drive``.
    """

    name: str
    engine: str
    burned_ml: Figure
    burned_corrected_ml: Figure
    put_in_ml: Figure
    correction: Figure
    burned_before_take_off_ml: Figure
    burned_airborne_ml: Figure
    airborne_rate_ml_per_min: Figure
    airborne_rate_g_per_min: Figure
    on_board_at_start_ml: Figure
    left_at_landing_ml: Figure
    left_at_landing_corrected_ml: Figure
    reserve_ml: Figure
    margin_ml: Figure
    dry_after_min: Figure
    phases: tuple[PhaseBurn, ...]
    bands: tuple[PhaseBurn, ...]
    curve: BurnCurve | None
    burn_rate: Trace | None
    remaining: Trace | None
    source: str = ""
    bands_by: str = ""

    @property
    def measured(self) -> bool:
        """Whether a sensor told the burn; what a curve says of it teaches nothing about engine or sensor."""
        return self.source != Source.SPEED

    @property
    def best_burned_ml(self) -> Figure:
        """What was burned: by what was put in where that is known, else by the sensor."""
        return self.burned_corrected_ml if self.burned_corrected_ml.value is not None else self.burned_ml

    def doubted(self, *doubts: Text) -> TankResult:
        """Mark every figure that rests on the sensor; what the owner entered stands."""
        if not doubts:
            return self

        def mark(figure: Figure) -> Figure:
            return figure if figure.method is Method.ENTERED else figure.with_doubt(*doubts)

        own: dict[str, Any] = {f.name: mark(v) for f in fields(self) if isinstance(v := getattr(self, f.name), Figure)}
        own |= {name: tuple(p.marked(mark) for p in getattr(self, name)) for name in ("phases", "bands")}
        return replace(self, **own)


@dataclass(frozen=True, slots=True)
class TankFindings:
    """One tank's result (``None`` where the log says nothing of it), what happened and what is missing."""

    result: TankResult | None
    events: tuple[Event, ...] = ()
    missing: tuple[Missing, ...] = ()


def analyse_tank(tank: Tank, telemetry: Telemetry, phases: Phases, context: FlightContext) -> TankFindings:
    """Work out one tank of one flight; parameters as for :func:`analyser.fuel.analysis.analyse_fuel`."""
    aircraft, name = context.aircraft, tank.name
    engine = engine_of(tank, aircraft, telemetry.channels)
    note = context.fuel_notes.get(name)
    before_ml, put_in_ml = (note.before_ml, note.put_in_ml) if note else (None, None)
    total, missing = find_burn(tank, engine, telemetry, aircraft, context.learned_burn)
    burn = TankBurn.of(name, total) if total else None
    if total and burn is None:
        missing.append(Missing(f"fuel.{name}", "ten seconds of fuel samples", f"everything about tank {name}", ""))
    if burn is None:
        return TankFindings(None, (), tuple(missing))
    events = [*_sensor_events(burn, telemetry, phases), *start_events(burn, tank, before_ml)]
    end = telemetry.duration_s
    told = "by the burn curve" if burn.total.kind is Source.SPEED else "sensor"
    burned = burn.figure(f"Burned, {name} ({told})", 0.0, end)
    put_in = _put_in(name, put_in_ml)
    correction, corrected = _correct(burn, burned, put_in)
    if put_in.value is not None and put_in.value < 0.8 * (burned.value or 0.0):
        text = (
            f"Tank {name}: {put_in.value:.0f} mL were put in afterwards but the {burn.total.kind} says "
            f"{burned.value:.0f} mL were burned; was the tank refilled to the same mark, or is the scale off?"
        )
        events.append(Event("fuel_data", f"fuel.{name}", end, end, Level.WATCH, text))
    airborne, rate = burn.airborne(phases)
    start = on_board_at_start(burn, tank, before_ml)
    remaining = remaining_trace(burn, start)
    landing = left_at_landing(burn, remaining, phases)
    landing_corrected = left_corrected(burn, start, landing, correction, phases)
    best = landing_corrected if landing_corrected.value is not None else landing
    reserve = reserve_of(tank, aircraft, rate)
    margin = margin_of(name, best, reserve)
    described = aircraft.engine(engine) if aircraft else None
    bands, bands_by, no_bands = band_burns(burn, engine, described, telemetry, phases.phases)
    doubts = [e.summary for e in events]
    doubts += [s.note for s in telemetry.suspects if s.channel == burn.total.channel and s.kind != "reset"]
    events += reserve_events(name, margin, remaining, reserve, phases)
    result = TankResult(
        name=name,
        engine=engine,
        burned_ml=burned,
        burned_corrected_ml=corrected,
        put_in_ml=put_in,
        correction=correction,
        burned_before_take_off_ml=burn.before_take_off(phases),
        burned_airborne_ml=airborne,
        airborne_rate_ml_per_min=rate,
        airborne_rate_g_per_min=as_mass(f"Burn in flight, {name}", rate, _fuel(aircraft), context.air_temperature_c),
        on_board_at_start_ml=start,
        left_at_landing_ml=landing,
        left_at_landing_corrected_ml=landing_corrected,
        reserve_ml=reserve,
        margin_ml=margin,
        dry_after_min=dry_after(name, best, _times(rate, correction), tank, phases.airborne_span),
        phases=tuple(phase_burns(burn, phases.phases)),
        bands=bands,
        curve=burn.curve(telemetry, engine),
        burn_rate=burn.trace(),
        remaining=remaining,
        source=burn.total.kind.value,
        bands_by=bands_by,
    )
    missing += [no_bands] if no_bands else []
    return TankFindings(result.doubted(*doubts), tuple(events), tuple(missing))


def _fuel(aircraft: Aircraft | None) -> Fuel | None:
    return aircraft.fuel if aircraft else None


def _sensor_events(burn: TankBurn, telemetry: Telemetry, phases: Phases) -> Iterator[Event]:
    """What is wrong with the sensor's record itself, by name."""
    name, total, smooth = burn.name, burn.total, burn.smooth
    subject = f"fuel.{name}"
    for at, size in total.refuels:
        text = f"Tank {name} rose by about {size:.0f} mL in mid-log: taken as a refuel; burn is counted around it."
        yield Event("refuel", subject, at, at, Level.NOTE, text)
    # Only what the falls can't explain as slosh: more than a tenth of the whole burn handed back.
    if smooth.raw_falls > 0.1 and not total.refuels:
        fallen = 100 * smooth.raw_falls
        text = f"Tank {name}: the burned total fell back by {fallen:.0f} % of its rise; the sensor is in doubt."
        yield Event("fuel_data", subject, 0.0, telemetry.duration_s, Level.WATCH, text)
    if total.filled_ml > 0.02 * max(float(np.ptp(total.burned_ml)), 1.0):
        text = (
            f"Tank {name}: {total.channel} was silent while about {total.filled_ml:.0f} mL were burned; that is read "
            "off the samples around the holes."
        )
        yield Event("fuel_data", subject, 0.0, telemetry.duration_s, Level.WATCH, text)
    runs = phases.spans(*RUNNING)
    first, last = float(smooth.time_s[0]), float(smooth.time_s[-1])
    unseen = sum(max(min(b, first) - a, 0.0) + max(b - max(a, last), 0.0) for a, b in runs)
    if unseen > UNSEEN_S:
        text = (
            f"Tank {name}: the sensor reported from {first:.0f} to {last:.0f} s only; what was burned in the other "
            f"{unseen:.0f} s of the engine's run is not counted."
        )
        yield Event("fuel_data", subject, first, last, Level.WATCH, text)
    for s in telemetry.suspects:
        if s.channel == total.channel and s.kind == "stuck":
            yield Event("fuel_data", subject, s.start_s, s.end_s, Level.WATCH, s.note)


def _put_in(name: str, put_in_ml: float | None) -> Figure:
    label = f"Put in afterwards, {name}"
    if put_in_ml is None:
        return Figure.unavailable(label, "mL", "not noted; note the volume that refills the tank")
    return Figure(label, put_in_ml, "mL", Method.ENTERED, how="noted after the flight", digits=0)


def _correct(burn: TankBurn, burned: Figure, put_in: Figure) -> tuple[Figure, Figure]:
    """The ratio of what was put in to what was told, and the burn set right by it."""
    by_curve = burn.total.kind is Source.SPEED
    label = f"Correction of the {'estimate' if by_curve else 'sensor'}, {burn.name}"
    corrected_label = f"Burned, {burn.name} (by what was put in)"
    why = ""
    if put_in.value is None or not burned.value:
        why = "the volume put in afterwards was not noted"
    elif burn.total.refuels:
        why = "the tank was refuelled in mid-log, so what was put in afterwards is not all that was burned"
    if why or put_in.value is None or not burned.value:
        return Figure.unavailable(label, "×", why), Figure.unavailable(corrected_label, "mL", why)
    spread = Z95 * FILLING_SE * put_in.value
    corrected = Figure(
        corrected_label, put_in.value, "mL", Method.ESTIMATED, put_in.value - spread, put_in.value + spread,
        how="volume put in afterwards, filling repeatable to 1 % (assumed)", digits=0,
    )  # fmt: skip
    ratio = put_in.value / burned.value
    if not BELIEVABLE[0] <= ratio <= BELIEVABLE[1]:
        why = f"{put_in.value:.0f} mL put in against {burned.value:.0f} mL burned is no matter of the sensor's scale"
        return Figure.unavailable(label, "×", why), corrected
    half = ratio * float(np.hypot(burned.half_width / burned.value, Z95 * FILLING_SE))
    how = f"volume put in afterwards over what {'the curve' if by_curve else 'the sensor'} says"
    return Figure(label, ratio, "×", Method.ESTIMATED, ratio - half, ratio + half, how=how, digits=3), corrected


def _times(rate: Figure, correction: Figure) -> Figure:
    """A rate set right by this flight's correction, where there is one."""
    if rate.value is None or correction.value is None:
        return rate
    value = rate.value * correction.value
    half = float(np.hypot(rate.half_width * correction.value, rate.value * correction.half_width))
    return replace(rate, value=value, low=value - half, high=value + half)
