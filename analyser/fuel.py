"""Fuel: what was burned, how fast, from which tank, and what was left against the reserve.

One estimator serves every sensor (:mod:`analyser.smoothing`): whatever the log holds is first made a running
total of millilitres burned, then smoothed with a band. The source is chosen in this order: used volume, flow,
remaining volume, remaining percent of a known capacity, pump drive with a known delivery, shaft speed by a learned
burn curve.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from scipy import ndimage

from analyser.aircraft import Aircraft, FlightContext, Reserve, Tank
from analyser.burn_curve import BurnCurve, fit_burn_curve
from analyser.events import Event, Level, runs_of
from analyser.figures import Figure, FloatArray, Method, Missing, Trace
from analyser.jet_fuel import mixture_kg_per_l
from analyser.phases import Phase, PhaseName, Phases, idle_speed
from analyser.smoothing import Z95, Smoothed, bin_means, integrate, smooth_total, unwrap_counter, walk_of
from analyser.telemetry import Telemetry

FILLING_SE = 0.01
"""Relative standard error of a volume put in with a marked can or pump counter (common practice, no source)."""
REFUEL_SHARE = 0.05
"""A lasting rise by more than this share of the content is a refuel, not slosh."""
SUGGESTED_RESERVE_PERCENT = 20.0
"""Suggested where the owner states no reserve (common practice, no source)."""
BAND_EDGES_PERCENT = (0.0, 40.0, 60.0, 80.0, 101.0)


@dataclass(frozen=True, slots=True)
class PhaseBurn:
    """Burn of one tank in one phase (or one throttle or speed band)."""

    name: str
    minutes: Figure
    burned_ml: Figure
    rate_ml_per_min: Figure


@dataclass(frozen=True, slots=True)
class TankResult:
    """One tank over one flight. ``name`` is the tank's instance in the log.

    ``burned_ml`` is what the sensor says over the whole log, ``burned_corrected_ml`` the same set right by what
    was put in afterwards; ``correction`` is their ratio. ``burned_airborne_ml`` runs from lift-off to touch-down.
    """

    name: str
    engine: str
    burned_ml: Figure
    burned_corrected_ml: Figure
    put_in_ml: Figure
    correction: Figure
    burned_airborne_ml: Figure
    airborne_rate_ml_per_min: Figure
    airborne_rate_g_per_min: Figure
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


@dataclass(frozen=True, slots=True)
class FuelResult:
    """Fuel of one flight. ``imbalance_percent`` is the first tank over the second, as a share of their mean."""

    tanks: tuple[TankResult, ...]
    burned_ml: Figure
    burned_kg: Figure
    airborne_rate_ml_per_min: Figure
    imbalance_percent: Figure
    imbalance_sentence: str
    first_dry_min: Figure
    balance_shift_mm: Figure
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Source:
    """A running total of mL burned, how it came about, and the content it was read from (if it was)."""

    time_s: FloatArray
    burned_ml: FloatArray
    how: str
    method: Method
    channel: str
    content_ml: FloatArray | None
    walk_per_s: float = 0.0
    scale_se: float = 0.0


def analyse_fuel(telemetry: Telemetry, phases: Phases, context: FlightContext) -> FuelResult:
    """Work out one flight's fuel.

    Parameters
    ----------
    telemetry : Telemetry
        Screened.
    phases : Phases
        Of the same telemetry.
    context : FlightContext
        Tanks (capacity, unusable, reserve), volumes noted before and afterwards, air temperature, fuel density.

    Returns
    -------
    FuelResult
        A tank for every ``fuel.*`` instance and every tank the owner described that the log can say anything of.
    """
    aircraft = context.aircraft
    names = list(telemetry.instances("fuel"))
    if aircraft:
        names += [t.name for t in aircraft.tanks if t.name not in names]
    tanks: list[TankResult] = []
    events: list[Event] = []
    missing: list[Missing] = []
    for name in names:
        result, found, lacking = _tank(name, telemetry, phases, context)
        missing.extend(lacking)
        if result is not None:
            tanks.append(result)
            events.extend(found)
    if not names:
        missing.append(
            Missing(
                "fuel",
                "any fuel channel",
                "burn, remaining fuel and imbalance",
                "log tank contents, fuel flow, or pump drive",
            )
        )
    swapped = _swapped(telemetry, tanks)
    events.extend(swapped)
    tanks = [_doubted(t, tuple(e.summary for e in swapped)) for t in tanks]
    imbalance, sentence = _imbalance(tanks)
    return FuelResult(
        tanks=tuple(tanks),
        burned_ml=_sum("Burned, all tanks", [t.burned_ml for t in tanks], "mL"),
        burned_kg=_mass(tanks, context),
        airborne_rate_ml_per_min=_sum(
            "Burn in flight, all tanks", [t.airborne_rate_ml_per_min for t in tanks], "mL/min"
        ),
        imbalance_percent=imbalance,
        imbalance_sentence=sentence,
        first_dry_min=_first_dry(tanks),
        balance_shift_mm=_balance_shift(tanks, context),
        events=tuple(events),
        missing=tuple(missing),
    )


def _tank(
    name: str, telemetry: Telemetry, phases: Phases, context: FlightContext
) -> tuple[TankResult | None, list[Event], list[Missing]]:
    aircraft = context.aircraft
    tank = (aircraft.tank(name) if aircraft else None) or Tank(name)
    engine = _engine_of(tank, aircraft, telemetry)
    note = context.fuel_notes.get(name)
    source, lacking = _source(name, tank, engine, telemetry, aircraft)
    if source is None:
        return None, [], lacking
    smooth = smooth_total(source.time_s, source.burned_ml, walk_per_s=source.walk_per_s)
    if smooth is None:
        lacking.append(Missing(f"fuel.{name}", "ten seconds of fuel samples", f"everything about tank {name}", ""))
        return None, [], lacking
    events = _data_events(name, source, smooth, telemetry)
    doubts = tuple(e.summary for e in events)
    doubts += tuple(s.note for s in telemetry.suspects if s.channel == source.channel and s.kind != "reset")

    def rise(label: str, a: float, b: float, digits: int = 0) -> Figure:
        value, half = smooth.between(a, b), Z95 * smooth.between_se(a, b)
        half = float(np.hypot(half, Z95 * source.scale_se * value))
        return Figure(label, value, "mL", source.method, value - half, value + half, how=source.how, digits=digits)

    end = telemetry.duration_s
    burned = rise(f"Burned, {name} (sensor)", 0.0, end)
    put_in = (
        Figure(
            f"Put in afterwards, {name}", note.put_in_ml, "mL", Method.ENTERED, how="noted after the flight", digits=0
        )
        if note and note.put_in_ml is not None
        else Figure.unavailable(f"Put in afterwards, {name}", "mL", "not noted; note the volume that refills the tank")
    )
    correction, corrected = _correct(name, burned, put_in)
    if put_in.value is not None and burned.value is not None and put_in.value < 0.8 * burned.value:
        text = (
            f"Tank {name}: {put_in.value:.0f} mL were put in afterwards but the sensor says {burned.value:.0f} mL were "
            "burned; was the tank refilled to the same mark, or is the sensor's scale off?"
        )
        events.append(Event("fuel_data", f"fuel.{name}", end, end, Level.WATCH, text))
        doubts += (text,)
    air = phases.airborne_span
    if air:
        airborne = rise(f"Burned in flight, {name}", *air)
        minutes = max(air[1] - air[0], 1e-9) / 60.0
        rate = replace(
            airborne,
            label=f"Burn in flight, {name}",
            unit="mL/min",
            value=_div(airborne.value, minutes),
            low=_div(airborne.low, minutes),
            high=_div(airborne.high, minutes),
            digits=1,
        )
    else:
        why = "take-off and landing can't be told from this log"
        airborne = Figure.unavailable(f"Burned in flight, {name}", "mL", why)
        rate = Figure.unavailable(f"Burn in flight, {name}", "mL/min", why)
    remaining = _remaining(name, source, smooth, tank, note.before_ml if note else None)
    landing = _left(name, remaining, phases, smooth)
    reserve = _reserve(name, tank, aircraft, rate)
    landing_corrected = _left_corrected(name, remaining, smooth, correction, phases)
    best = landing_corrected if landing_corrected.value is not None else landing
    margin = _difference(f"Above the reserve at landing, {name}", best, reserve)
    dry = _dry_after(name, best, _times(rate, correction), tank, air)
    events.extend(_reserve_events(name, margin, remaining, reserve, phases))
    trace = Trace(
        f"Burn, {name}",
        "mL/min",
        smooth.time_s,
        60.0 * smooth.rate_per_s,
        np.maximum(60.0 * (smooth.rate_per_s - Z95 * smooth.rate_se), 0.0),
        60.0 * (smooth.rate_per_s + Z95 * smooth.rate_se),
        how=f"{source.how}; local line over 15 s",
    )
    speed_name = f"engine.{engine}.speed_rpm"
    curve: BurnCurve | None = None
    bands: tuple[PhaseBurn, ...] = ()
    if shaft := telemetry.series(speed_name):
        instant = telemetry.at(speed_name, smooth.time_s, max_gap_s=5.0)
        # The cube is averaged, because it is the cube that the burn follows.
        speed = np.cbrt(np.maximum(smooth.alike(instant**3), 0.0))
        # Spinning up and running down burn nothing at speeds that otherwise burn: no part of the curve.
        sustained = np.nan_to_num(instant) > 0.85 * idle_speed(shaft.values)
        sustained = ndimage.binary_erosion(sustained, np.ones(smooth.window, bool))
        curve = fit_burn_curve(engine, np.where(sustained, speed, np.nan), trace.values)
        bands = _bands(name, speed, trace, smooth)
    kg_per_l = mixture_kg_per_l(aircraft.fuel, _temperature(context)[0]) if aircraft else None
    return (
        _doubted(
            TankResult(
                name=name,
                engine=engine,
                burned_ml=burned,
                burned_corrected_ml=corrected,
                put_in_ml=put_in,
                correction=correction,
                burned_airborne_ml=airborne,
                airborne_rate_ml_per_min=rate,
                airborne_rate_g_per_min=_as_mass(f"Burn in flight, {name}", rate, kg_per_l, context),
                left_at_landing_ml=landing,
                left_at_landing_corrected_ml=landing_corrected,
                reserve_ml=reserve,
                margin_ml=margin,
                dry_after_min=dry,
                phases=tuple(_phase_burns(name, phases.phases, smooth, source)),
                bands=bands,
                curve=curve,
                burn_rate=trace,
                remaining=remaining,
            ),
            doubts,
        ),
        events,
        lacking,
    )


def _doubted(tank: TankResult, doubts: tuple[str, ...]) -> TankResult:
    """Mark every figure that rests on the sensor; what the owner entered stands."""
    if not doubts:
        return tank

    def mark(figure: Figure) -> Figure:
        return figure if figure.method is Method.ENTERED else figure.with_doubt(*doubts)

    def burns(parts: tuple[PhaseBurn, ...]) -> tuple[PhaseBurn, ...]:
        return tuple(replace(p, burned_ml=mark(p.burned_ml), rate_ml_per_min=mark(p.rate_ml_per_min)) for p in parts)

    own: dict[str, Any] = {f.name: mark(v) for f in fields(tank) if isinstance(v := getattr(tank, f.name), Figure)}
    return replace(tank, phases=burns(tank.phases), bands=burns(tank.bands), **own)


def _engine_of(tank: Tank, aircraft: Aircraft | None, telemetry: Telemetry) -> str:
    if tank.engine:
        return tank.engine
    if aircraft:
        named = next((e.name for e in aircraft.engines if e.tank == tank.name), "")
        if named:
            return named
    engines = telemetry.instances("engine")
    if tank.name in engines:
        return tank.name
    return engines[0] if len(engines) == 1 else tank.name


def _source(
    name: str, tank: Tank, engine: str, telemetry: Telemetry, aircraft: Aircraft | None
) -> tuple[_Source | None, list[Missing]]:
    prefix = f"fuel.{name}"
    missing: list[Missing] = []
    if used := telemetry.series(f"{prefix}.used_ml"):
        counted = unwrap_counter(used.values)
        how = f"from {prefix}.used_ml, a running count"
        return (_Source(used.time_s, counted - counted[0], how, Method.INTEGRATED, f"{prefix}.used_ml", None), missing)
    if flow := telemetry.series(f"{prefix}.flow_ml_per_min"):
        total = integrate(flow.time_s, flow.values / 60.0)
        how = f"from {prefix}.flow_ml_per_min, trapezoid"
        walk = walk_of(flow.time_s, flow.values / 60.0)
        channel = f"{prefix}.flow_ml_per_min"
        return _Source(flow.time_s, total, how, Method.INTEGRATED, channel, None, walk), missing
    content = telemetry.series(f"{prefix}.remaining_ml")
    channel = f"{prefix}.remaining_ml"
    how = f"from the fall of {channel}"
    if not content and (percent := telemetry.series(f"{prefix}.remaining_percent")):
        channel = f"{prefix}.remaining_percent"
        if tank.capacity_ml is None:
            missing.append(
                Missing(prefix, "the tank's capacity", f"millilitres of tank {name}: the log gives only percent",
                        "state capacity_ml in the aircraft file")
            )  # fmt: skip
            return None, missing
        content = percent._replace(values=percent.values * tank.capacity_ml / 100.0)
        how = f"from the fall of {channel} of {tank.capacity_ml:.0f} mL"
    if content:
        burned = content.values[0] - _without_refuels(content.time_s, content.values)
        return _Source(content.time_s, burned, how, Method.ESTIMATED, channel, content.values), missing
    described = aircraft.engine(engine) if aircraft else None
    delivery = described.pump_ml_per_min_at_full if described else None
    pump = telemetry.series(f"engine.{engine}.pump_percent")
    if pump and delivery:
        total = integrate(pump.time_s, pump.values / 100.0 * delivery / 60.0)
        how = f"from pump drive and {delivery:.0f} mL/min at full drive"
        return _Source(pump.time_s, total, how, Method.ESTIMATED, f"engine.{engine}.pump_percent", None), missing
    speed = telemetry.series(f"engine.{engine}.speed_rpm")
    if speed and described and described.max_rpm and None not in (
        described.burn_floor_ml_per_min, described.burn_cubic_ml_per_min
    ):  # fmt: skip
        floor, cubic = described.burn_floor_ml_per_min or 0.0, described.burn_cubic_ml_per_min or 0.0
        learned = BurnCurve(engine, floor, cubic, described.max_rpm, 0.0, 0.0)
        total = integrate(speed.time_s, learned.at(speed.values) / 60.0)
        channel = f"engine.{engine}.speed_rpm"
        how = f"from {channel} by the burn curve learned before (± {described.burn_spread_percent:g} % a flight)"
        # The stated spread is one standard deviation over flights, common to the whole flight.
        spread = described.burn_spread_percent / 100.0
        return _Source(speed.time_s, total, how, Method.ESTIMATED, channel, None, 0.0, spread), missing
    missing.append(
        Missing(prefix, "a fuel sensor" + ("" if not pump else " or the pump's delivery at full drive"),
                f"burn and remaining fuel of tank {name}",
                "log contents, flow or pump drive, and state pump_ml_per_min_at_full")
    )  # fmt: skip
    return None, missing


def _without_refuels(time_s: FloatArray, content: FloatArray) -> FloatArray:
    """Content with lasting rises taken out, so that a refuel in mid-log does not cancel what was burned."""
    rises = _refuels(time_s, content)
    if not rises:
        return content
    out = content.copy()
    for at, size in rises:
        out[time_s >= at] -= size
    return out


def _refuels(time_s: FloatArray, content: FloatArray) -> list[tuple[float, float]]:
    """Lasting rises of the content: (time, size) where the median 10 s after exceeds that 10 s before."""
    t, v = bin_means(time_s, content, 5.0)
    if v.size < 6:
        return []
    before = np.lib.stride_tricks.sliding_window_view(v, 2)[:-3].mean(axis=1)
    after = np.lib.stride_tricks.sliding_window_view(v, 2)[3:].mean(axis=1)
    jump = after - before
    limit = REFUEL_SHARE * float(np.ptp(v) + abs(v).max())
    out: list[tuple[float, float]] = []
    for head, tail in runs_of(jump > limit):
        k = int(np.argmax(jump[head:tail])) + head
        later = float(np.median(v[min(k + 3, v.size - 1) :][:12]))
        size = later - float(before[k])
        if size > limit:
            out.append((float(t[min(k + 2, t.size - 1)]), size))
    return out


def _data_events(name: str, source: _Source, smooth: Smoothed, telemetry: Telemetry) -> list[Event]:
    subject = f"fuel.{name}"
    out: list[Event] = []
    if source.content_ml is not None:
        for at, size in _refuels(source.time_s, source.content_ml):
            text = f"Tank {name} rose by about {size:.0f} mL in mid-log: taken as a refuel; burn is counted around it."
            out.append(Event("refuel", subject, at, at, Level.NOTE, text))
    # Only what the falls can't explain as slosh: more than a tenth of the whole burn handed back.
    if smooth.raw_falls > 0.1 and not out:
        text = f"Tank {name}: the burned total fell back by {smooth.raw_falls:.0%} of its rise; the sensor is in doubt."
        out.append(Event("fuel_data", subject, 0.0, telemetry.duration_s, Level.WATCH, text))
    out.extend(
        Event("fuel_data", subject, s.start_s, s.end_s, Level.WATCH, s.note)
        for s in telemetry.suspects
        if s.channel == source.channel and s.kind == "stuck"
    )
    return out


def _swapped(telemetry: Telemetry, tanks: list[TankResult]) -> list[Event]:
    """Two tanks whose burn follows the *other* engine's speed: sensors or tanks are swapped side for side."""
    if len(tanks) != 2:
        return []
    a, b = tanks
    names = [f"engine.{t.engine}.speed_rpm" for t in tanks]
    if a.burn_rate is None or b.burn_rate is None or not telemetry.has(*names) or a.engine == b.engine:
        return []
    grid = a.burn_rate.time_s
    speed_a, speed_b = (np.nan_to_num(telemetry.at(n, grid, max_gap_s=5.0)) for n in names)
    other = np.interp(grid, b.burn_rate.time_s, b.burn_rate.values)
    # Only where the engines run apart can the pairing be told at all.
    split = speed_a**3 / max(float(speed_a.max()), 1.0) ** 3 - speed_b**3 / max(float(speed_b.max()), 1.0) ** 3
    apart = np.abs(split) > 0.15
    if apart.sum() < 20:
        return []
    burn = a.burn_rate.values[apart] - other[apart]
    agreement = float(np.corrcoef(split[apart], burn)[0, 1]) if np.ptp(burn) > 0 else 0.0
    if agreement > -0.6:
        return []
    text = (
        f"Tank {a.name} follows engine {b.engine} and tank {b.name} follows engine {a.engine}: tanks or sensors look "
        "swapped side for side; check before trusting left and right."
    )
    return [Event("fuel_data", f"fuel.{a.name}", float(grid[0]), float(grid[-1]), Level.WATCH, text)]


def _correct(name: str, burned: Figure, put_in: Figure) -> tuple[Figure, Figure]:
    label = f"Sensor correction, {name}"
    corrected_label = f"Burned, {name} (by what was put in)"
    if put_in.value is None or not burned.value:
        why = "the volume put in afterwards was not noted"
        return Figure.unavailable(label, "×", why), Figure.unavailable(corrected_label, "mL", why)
    ratio = put_in.value / burned.value
    sensor_se = ((burned.high or burned.value) - (burned.low or burned.value)) / (2 * Z95) / burned.value
    half = Z95 * ratio * float(np.hypot(sensor_se, FILLING_SE))
    how = "volume put in afterwards over what the sensor says"
    correction = Figure(label, ratio, "×", Method.ESTIMATED, ratio - half, ratio + half, how=how, digits=3)
    spread = Z95 * FILLING_SE * put_in.value
    corrected = Figure(
        corrected_label,
        put_in.value,
        "mL",
        Method.ESTIMATED,
        put_in.value - spread,
        put_in.value + spread,
        how="volume put in afterwards, filling repeatable to 1 % (assumed)",
        digits=0,
    )
    return correction, corrected


def _remaining(name: str, source: _Source, smooth: Smoothed, tank: Tank, before_ml: float | None) -> Trace | None:
    if source.content_ml is not None:
        # The smoothed fall, hung on the mean content so that one sloshing first sample does not shift it all.
        raw_burned = source.content_ml + np.interp(source.time_s, smooth.time_s, smooth.total)
        full, how, method = float(np.median(raw_burned)), f"{source.how}, smoothed", Method.ESTIMATED
    elif before_ml is not None:
        full, how, method = before_ml, "filled volume as noted less what was burned", Method.ESTIMATED
    elif tank.capacity_ml is not None:
        full, how, method = tank.capacity_ml, "tank assumed full at start, less what was burned", Method.ASSUMED
    else:
        return None
    left = full - smooth.total
    half = Z95 * smooth.total_se
    return Trace(f"Fuel left, {name}", "mL", smooth.time_s, left, left - half, left + half, method, how)


def _left(name: str, remaining: Trace | None, phases: Phases, smooth: Smoothed) -> Figure:
    label = f"Left at landing, {name}"
    if remaining is None:
        return Figure.unavailable(label, "mL", "neither contents, nor filled volume, nor tank capacity is known")
    at = phases.touch_down_s
    if at is None:
        return Figure.unavailable(label, "mL", "the landing can't be told from this log")
    value = float(np.interp(at, remaining.time_s, remaining.values))
    half = Z95 * smooth.total_se
    return Figure(label, value, "mL", remaining.method, value - half, value + half, how=remaining.how, digits=0)


def _left_corrected(name: str, remaining: Trace | None, smooth: Smoothed, correction: Figure, phases: Phases) -> Figure:
    """What was left if this flight's burn was really what was put in afterwards: start volume less corrected burn."""
    label = f"Left at landing, {name} (by what was put in)"
    at = phases.touch_down_s
    if remaining is None or at is None:
        return Figure.unavailable(label, "mL", "needs the volume at start and the time of landing")
    if correction.value is None:
        return Figure.unavailable(label, "mL", correction.missing)
    start = float(remaining.values[0] + smooth.total[0])
    burned = float(np.interp(at, smooth.time_s, smooth.total))
    value = start - correction.value * burned
    half = float(np.hypot(Z95 * smooth.total_se, correction.half_width * burned))
    how = "volume at start less the burn, corrected by what was put in afterwards"
    return Figure(label, value, "mL", Method.ESTIMATED, value - half, value + half, how=how, digits=0)


def _times(rate: Figure, correction: Figure) -> Figure:
    """A rate set right by this flight's sensor correction, where there is one."""
    if rate.value is None or correction.value is None:
        return rate
    value = rate.value * correction.value
    half = float(np.hypot(rate.half_width * correction.value, rate.value * correction.half_width))
    return replace(rate, value=value, low=value - half, high=value + half)


def _reserve(name: str, tank: Tank, aircraft: Aircraft | None, rate: Figure) -> Figure:
    label = f"Reserve, {name}"
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
    if rate.value is None:
        return Figure.unavailable(label, "mL", f"{rule.minutes:g} minutes at a burn that is not known")
    minutes = rule.minutes or 0.0
    return Figure(
        label,
        minutes * rate.value,
        "mL",
        Method.ESTIMATED,
        None if rate.low is None else minutes * rate.low,
        None if rate.high is None else minutes * rate.high,
        how=f"{minutes:g} min at this flight's burn",
        digits=0,
    )


def _difference(label: str, a: Figure, b: Figure) -> Figure:
    if a.value is None or b.value is None:
        return Figure.unavailable(label, a.unit, a.missing or b.missing)
    value = a.value - b.value
    half = float(np.hypot(a.half_width, b.half_width))
    return Figure(
        label, value, a.unit, Method.ESTIMATED, value - half, value + half, how=f"{a.how}; {b.how}", digits=a.digits
    )


def _dry_after(name: str, left: Figure, rate: Figure, tank: Tank, air: tuple[float, float] | None) -> Figure:
    label = f"Flight time to a dry tank, {name}"
    if left.value is None or rate.value is None or air is None or rate.value <= 0:
        return Figure.unavailable(label, "min", left.missing or rate.missing or "no burn in flight")
    flown = (air[1] - air[0]) / 60.0

    def at(volume: float, burn: float) -> float:
        return flown + max(volume - tank.unusable_ml, 0.0) / burn

    low = at(left.low if left.low is not None else left.value, rate.high or rate.value)
    high = at(left.high if left.high is not None else left.value, max(rate.low or rate.value, 1e-6))
    how = "flown time plus usable fuel left over this flight's burn"
    return Figure(label, at(left.value, rate.value), "min", Method.ESTIMATED, low, high, how=how)


def _reserve_events(
    name: str, margin: Figure, remaining: Trace | None, reserve: Figure, phases: Phases
) -> Iterable[Event]:
    if margin.value is None or remaining is None or reserve.value is None or phases.touch_down_s is None:
        return
    subject = f"fuel.{name}"
    below = np.flatnonzero(remaining.values < reserve.value)
    if margin.value < 0:
        at = float(remaining.time_s[below[0]]) if below.size else phases.touch_down_s
        text = f"Tank {name} landed {-margin.value:.0f} mL below the {reserve.value:.0f} mL reserve."
        yield Event(
            "reserve_reached", subject, min(at, phases.touch_down_s), phases.touch_down_s, Level.ACT, text, margin
        )
    elif margin.low is not None and margin.low < 0:
        text = f"Tank {name} landed {margin.value:.0f} mL above the reserve: within what sensor and filling resolve."
        yield Event("reserve_near", subject, phases.touch_down_s, phases.touch_down_s, Level.WATCH, text, margin)


def _phase_burns(name: str, phases: tuple[Phase, ...], smooth: Smoothed, source: _Source) -> Iterable[PhaseBurn]:
    for phase in PhaseName:
        spans = [(p.start_s, p.end_s) for p in phases if p.name is phase]
        if not spans:
            continue
        minutes = sum(b - a for a, b in spans) / 60.0
        volume = sum(smooth.between(a, b) for a, b in spans)
        half = Z95 * np.sqrt(sum(smooth.between_se(a, b) ** 2 for a, b in spans))
        half = np.hypot(half, Z95 * source.scale_se * volume)
        yield _burn(phase.value, name, minutes, volume, float(half), source.method, source.how)


def _bands(name: str, speed: FloatArray, trace: Trace, smooth: Smoothed) -> tuple[PhaseBurn, ...]:
    top = float(np.nanmax(speed)) if np.isfinite(speed).any() else 0.0
    if top <= 0:
        return ()
    share = 100.0 * speed / top
    out = []
    for low, high in itertools.pairwise(BAND_EDGES_PERCENT):
        inside = (share >= max(low, 2.0)) & (share < high)
        seconds = int(inside.sum())
        if seconds < 5:
            continue
        volume = float(trace.values[inside].sum() / 60.0)
        half = Z95 * smooth.rate_se * float(np.sqrt(seconds * 15.0))
        text = f"{low:.0f}–{min(high, 100):.0f} % of full speed"
        out.append(_burn(text, name, seconds / 60.0, volume, half, Method.ESTIMATED, trace.how))
    return tuple(out)


def _burn(what: str, name: str, minutes: float, volume: float, half: float, method: Method, how: str) -> PhaseBurn:
    rate = (
        Figure(f"Burn, {name}, {what}", volume / minutes, "mL/min", method,
               max(volume - half, 0.0) / minutes, (volume + half) / minutes, how=how)
        if minutes > 0.05
        else Figure.unavailable(f"Burn, {name}, {what}", "mL/min", "the phase is too short for a rate")
    )  # fmt: skip
    return PhaseBurn(
        what,
        Figure(f"Time, {what}", minutes, "min", Method.MEASURED, how="from the log's clock", digits=2),
        Figure(
            f"Burned, {name}, {what}", volume, "mL", method, max(volume - half, 0.0), volume + half, how=how, digits=0
        ),
        rate,
    )


def _imbalance(tanks: list[TankResult]) -> tuple[Figure, str]:
    label = "Imbalance in flight"
    if len(tanks) != 2:
        why = "an imbalance needs exactly two tanks in the log"
        return Figure.unavailable(label, "%", why), ""
    a, b = (t.airborne_rate_ml_per_min for t in tanks)
    if a.value is None or b.value is None or a.value + b.value <= 0:
        return Figure.unavailable(label, "%", a.missing or b.missing or "nothing was burned in flight"), ""
    value = imbalance_percent(a.value, b.value)
    half = 100.0 * float(np.hypot(a.half_width, b.half_width)) / ((a.value + b.value) / 2.0)
    label = f"Imbalance in flight, {tanks[0].name} over {tanks[1].name}"
    figure = Figure(
        label, value, "%", Method.ESTIMATED, value - half, value + half, how="difference over mean of the two burns"
    ).with_doubt(*a.doubts, *b.doubts)
    more, less = (tanks[0].name, tanks[1].name) if value > 0 else (tanks[1].name, tanks[0].name)
    if abs(value) <= half:
        sentence = (
            f"The split between {tanks[0].name} and {tanks[1].name} is within what the sensors resolve (±{half:.1f} %)."
        )
    else:
        sentence = (
            f"The {more} side burned {abs(value):.1f} % more than the {less} side by its sensors (±{half:.1f} %)."
        )
    return figure, sentence


def imbalance_percent(first: float, second: float) -> float:
    """Difference of two burns as a share of their mean, percent; positive where the first burns more."""
    return 100.0 * (first - second) / ((first + second) / 2.0)


def _first_dry(tanks: list[TankResult]) -> Figure:
    known = [t.dry_after_min for t in tanks if t.dry_after_min.value is not None]
    if not known:
        why = tanks[0].dry_after_min.missing if tanks else "no fuel in this log"
        return Figure.unavailable("Flight time to the first dry tank", "min", why)
    first = min(known, key=lambda f: f.value if f.value is not None else np.inf)
    return replace(first, label=f"Flight time to the first dry tank ({first.label.rpartition(', ')[2]})")


def _temperature(context: FlightContext) -> tuple[float, bool]:
    return (15.0, True) if context.air_temperature_c is None else (context.air_temperature_c, False)


def _as_mass(label: str, volume: Figure, kg_per_l: float | None, context: FlightContext) -> Figure:
    unit = volume.unit.replace("mL", "g")
    if volume.value is None or kg_per_l is None:
        return Figure.unavailable(label, unit, volume.missing or "the aircraft (and its fuel) is not described")
    assumed = _temperature(context)[1]
    how = f"{volume.how}; {kg_per_l:.3f} kg/L" + (
        ", fuel at an assumed 15 °C" if assumed else ", fuel at air temperature"
    )
    return replace(
        volume,
        label=label,
        unit=unit,
        value=volume.value * kg_per_l,
        low=None if volume.low is None else volume.low * kg_per_l,
        high=None if volume.high is None else volume.high * kg_per_l,
        how=how,
        digits=1,
    )


def _mass(tanks: list[TankResult], context: FlightContext) -> Figure:
    total = _sum("Burned, all tanks", [_best(t) for t in tanks], "mL")
    if total.value is None or context.aircraft is None:
        return Figure.unavailable("Burned, all tanks, as mass", "kg", total.missing or "the aircraft is not described")
    grams = _as_mass(
        "Burned, all tanks, as mass", total, mixture_kg_per_l(context.aircraft.fuel, _temperature(context)[0]), context
    )
    return replace(
        grams,
        unit="kg",
        value=_div(grams.value, 1000.0),
        low=_div(grams.low, 1000.0),
        high=_div(grams.high, 1000.0),
        digits=2,
    )


def _best(tank: TankResult) -> Figure:
    return tank.burned_corrected_ml if tank.burned_corrected_ml.value is not None else tank.burned_ml


def _balance_shift(tanks: list[TankResult], context: FlightContext) -> Figure:
    label = "Balance moved by burned fuel (aft is positive)"
    aircraft = context.aircraft
    if aircraft is None or not aircraft.mass_kg:
        return Figure.unavailable(label, "mm", "the aircraft's mass is not stated (mass_kg)")
    kg_per_l = mixture_kg_per_l(aircraft.fuel, _temperature(context)[0])
    moment, burned, spread = 0.0, 0.0, 0.0
    for result in tanks:
        described = aircraft.tank(result.name)
        best = _best(result)
        volume = best.value
        if described is None or described.x_m is None or volume is None:
            return Figure.unavailable(label, "mm", f"tank {result.name} has no position (x_m) or no burned volume")
        mass = volume / 1000.0 * kg_per_l
        moment += mass * described.x_m
        burned += mass
        spread = float(np.hypot(spread, best.half_width / 1000.0 * kg_per_l * described.x_m))
    if not burned:
        return Figure.unavailable(label, "mm", "nothing was burned")
    # x is measured forward from the balance point at mass_kg: burning fuel ahead of it moves the balance aft.
    shift = 1000.0 * moment / (aircraft.mass_kg - burned)
    half = 1000.0 * spread / (aircraft.mass_kg - burned)
    how = "burned mass at the tanks' x_m, measured from the balance point with full tanks; x_m taken as exact"
    return Figure(label, shift, "mm", Method.ESTIMATED, shift - half, shift + half, how=how)


def _sum(label: str, parts: list[Figure], unit: str) -> Figure:
    if not parts:
        return Figure.unavailable(label, unit, "no fuel in this log")
    lacking = next((p.missing for p in parts if p.value is None), "")
    if lacking:
        return Figure.unavailable(label, unit, lacking)
    value = sum(p.value for p in parts if p.value is not None)
    half = float(np.sqrt(sum(p.half_width**2 for p in parts)))
    digits = max(p.digits for p in parts)
    total = Figure(label, value, unit, parts[0].method, value - half, value + half, how="sum over tanks", digits=digits)
    return total.with_doubt(*(d for p in parts for d in p.doubts))


def _div(value: float | None, by: float) -> float | None:
    return None if value is None else value / by
