"""A third simulator, marched step by step: forces move the aircraft, charge moves in the cells, packets carry the log.

Written before reading the other two or the analyser's estimators, with other habits throughout:

* motion and turbine by :mod:`tests.simulators.stepwise_motion`: nothing is drawn as a curve, a pilot closes the loop;
* fuel flow by a power of shaft speed that is no cube, richer while the shaft accelerates; meters that read less at low
  flow, floats that follow a sloshing surface in a tank whose shape they do not know;
* cells as two wells of charge joined by a valve (Manwell and McGowan 1993, the kinetic battery model) behind an ohmic
  and a relaxing resistance; the rest curve is a table of common values for lithium polymer (from memory), bent a little
  from cell type to cell type; two packs on one bus are solved at every step;
* radio with the wave's polarisation: what an antenna hears depends on how it leans, not on direction alone; a ground
  ray whose reflection falls with the angle;
* a log in which every row is one packet of one sensor in turn, bunched after stalls and lost where the link is poor; an
  altimeter with lag, drift and an error that grows with airspeed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
from msgspec import Struct
from scipy import interpolate

from tests.simulators.flight import (
    Aircraft,
    Antenna,
    AntennaLayout,
    Condition,
    Engine,
    FlightContext,
    FloatArray,
    Fuel,
    FuelNote,
    Pack,
    PackNote,
    Reserve,
    Simulated,
    Tank,
    Truth,
    tabulate,
)
from tests.simulators.stepwise_motion import DT, Frame, Motion, march, slosh

name = "stepwise"
ROLES = ("rx1", "rx2")
LATITUDE, LONGITUDE, FIELD_M = 51.3, 7.9, 180.0
CHARGE = (0.0, 0.03, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
REST_V = (3.0, 3.42, 3.63, 3.71, 3.755, 3.79, 3.83, 3.885, 3.955, 4.03, 4.105, 4.19)
SHARES = 2_000
KELVIN, GAS = 273.15, 8.314
Gain = Callable[[FloatArray, FloatArray], FloatArray]


class Battery(Struct, frozen=True, eq=False):
    """One pack: ``ohm`` and ``slow_ohm`` of the whole pack at 25 °C and half charge, ``near`` the share of charge in
    the well at hand, ``valve`` how fast the other follows, 1/s.

    The slow part is such that resistance grows by 1 to 10 % from half a second to a second; the pulses of
    ``tests/reference/data/measured_pulses.csv`` grow by 2 to 8 %.
    """

    mah: float
    rated: float
    cells: int
    rest: list[float]
    ohm: float
    slow_ohm: float
    slow_s: float
    near: float
    valve: float
    j_per_mol: float
    drop_v: float
    lead_ohm: float

    def one_second(self) -> float:
        """Resistance one second after a step, as shares of ``ohm``'s state, ohm at the reference."""
        return self.ohm + self.slow_ohm * (1.0 - math.exp(-1.0 / self.slow_s))


class Build(Struct, frozen=True, eq=False):
    """One aircraft with its sensors and their errors."""

    aircraft: Aircraft
    packs: dict[str, Pack]
    batteries: dict[str, Battery]
    frame: Frame
    sides: tuple[str, ...]
    tank_ml: float
    full_flow: float
    power: float
    sensor: str
    scale: dict[str, float]
    low_flow: dict[str, float]
    shape: dict[str, float]
    slosh: float
    rate_hz: float
    attitude: bool
    airspeed: bool
    barometer: bool
    warmth_logged: bool
    current_gain: dict[str, float]
    gps_late_s: float
    static_error: float
    exponent: float
    gain: dict[str, Gain]
    axes: dict[str, FloatArray]
    slim: bool


def build(rng: np.random.Generator, **wanted: Any) -> Build:
    """Draw an aircraft."""
    twin = bool(wanted.get("twin", rng.random() < 0.6))
    sides = ("left", "right") if twin else ("main",)
    frame = Frame(
        thrust_g=float(rng.uniform(0.7, 1.2)),
        top=float(rng.uniform(68.0, 95.0)),
        stall=float(rng.uniform(16.0, 22.0)),
        spool_s=float(rng.uniform(0.6, 1.3)),
        idle=float(rng.uniform(0.26, 0.34)),
        start_s=float(rng.uniform(14.0, 30.0)),
    )
    full_flow = float(rng.uniform(280.0, 620.0))
    tank = round(full_flow * float(rng.uniform(4.2, 5.2)) / 50.0) * 50.0
    scales = {s: float(wanted.get("scale", rng.normal(1.0, 0.045))) for s in sides}
    max_rpm = round(float(rng.uniform(95_000, 160_000)), -3)
    axes = {
        f"rx.antenna{k}": a / np.linalg.norm(a)
        for k, a in ((1, rng.normal(size=3) * (1.0, 1.0, 0.4)), (2, rng.normal(size=3) * (0.4, 0.4, 1.0)))
    }
    antennas = tuple(
        Antenna("rx", k, (0.3 * k, 0.1, 0.0), tuple(float(v) for v in axes[f"rx.antenna{k}"]))  # type: ignore[arg-type]
        for k in (1, 2)
    )
    layouts = (
        AntennaLayout("first", antennas, date(2031, 1, 1)),
        AntennaLayout("second", antennas, date(2031, 6, 1)),
    )
    aircraft = Aircraft(
        "Stepwise",
        mass_kg=float(rng.uniform(14.0, 26.0)),
        engines=tuple(
            Engine(s, tank=s, idle_rpm=round(frame.idle * max_rpm, -2), max_rpm=max_rpm, max_egt_c=760.0) for s in sides
        ),
        tanks=tuple(Tank(s, capacity_ml=tank, engine=s, reserve=Reserve(percent=20.0), x_m=-0.1) for s in sides),
        layouts=layouts,
        fuel=Fuel(density_15c_kg_m3=800.0),
        radio_mhz=2_440.0,
        brown_out_v=5.5,
    )
    batteries, packs = {}, {}
    rated = float(rng.choice([1_100.0, 1_500.0, 2_200.0]))
    bend = 0.012 * rng.normal(size=3)
    ends = np.linspace(0.0, 1.0, SHARES + 1)
    curve = interpolate.PchipInterpolator(CHARGE, REST_V)(ends)
    curve = curve + sum(b * np.sin((i + 1) * np.pi * ends) for i, b in enumerate(bend))
    for role in ROLES:
        ohm = 0.001 * float(rng.uniform(14.0, 34.0)) * 1_800.0 / rated
        batteries[role] = Battery(
            mah=rated * float(rng.uniform(0.86, 1.0)),
            rated=rated,
            cells=2,
            rest=(2.0 * np.maximum.accumulate(curve)).tolist(),
            ohm=ohm,
            slow_ohm=ohm * float(rng.uniform(0.1, 0.4)),
            slow_s=float(rng.uniform(0.4, 2.5)),
            near=float(rng.uniform(0.7, 0.9)),
            valve=float(rng.uniform(0.004, 0.015)),
            j_per_mol=1_000.0 * float(rng.uniform(16.0, 30.0)),
            drop_v=float(rng.uniform(0.25, 0.42)),
            lead_ohm=float(rng.uniform(0.006, 0.02)),
        )
        packs[role] = Pack(f"{role} pack", "lipo", 2, rated, role, brown_out_v=5.5, use="receiver")
    return Build(
        aircraft=aircraft,
        packs=packs,
        batteries=batteries,
        frame=frame,
        sides=sides,
        tank_ml=tank,
        full_flow=full_flow,
        power=float(rng.uniform(2.4, 3.2)),
        sensor=str(wanted.get("sensor", rng.choice(["meter", "float", "percent"]))),
        scale=scales,
        low_flow={s: float(rng.normal(0.0, 0.02)) for s in sides},
        shape={s: float(rng.normal(0.0, 0.008)) for s in sides},
        slosh=float(rng.uniform(0.01, 0.06)),
        rate_hz=float(wanted.get("rate_hz", rng.choice([2.0, 5.0, 10.0]))),
        attitude=bool(wanted.get("attitude", rng.random() < 0.5)),
        airspeed=bool(rng.random() < 0.3),
        barometer=bool(rng.random() < 0.6),
        warmth_logged=bool(rng.random() < 0.5),
        current_gain={r: float(rng.normal(1.0, 0.018)) for r in ROLES},
        gps_late_s=float(rng.uniform(0.1, 0.8)),
        static_error=float(rng.normal(0.0, 0.012)),
        exponent=float(rng.uniform(1.9, 2.4)),
        gain={a: _pattern(axis, rng) for a, axis in axes.items()},
        axes=axes,
        slim=bool(wanted.get("slim", False)),
    )


def _towards(azimuth: FloatArray, elevation: FloatArray) -> FloatArray:
    """Unit vectors in body axes (x forward, y right, z down), shape (n, 3)."""
    a, e = np.radians(azimuth), np.radians(elevation)
    return np.column_stack([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), -np.sin(e)])


def leaning_db(axis: FloatArray, to: FloatArray, up: FloatArray) -> FloatArray:
    """How well a wire hears an upright wave: the angle between both fields across the ray, blurred by scatter, dB."""
    wire = axis - to * (to @ axis if axis.ndim == 1 else (to * axis).sum(axis=1))[:, None]
    wave = up - to * (to * up).sum(axis=1)[:, None]
    size = np.linalg.norm(wire, axis=1) * np.linalg.norm(wave, axis=1)
    match = (wire * wave).sum(axis=1) / np.maximum(size, 1e-6)
    return np.asarray(10.0 * np.log10((match**2 + 0.4) / 1.4), float)


def _body_db(axis: FloatArray, rng: np.random.Generator) -> Callable[[FloatArray], FloatArray]:
    """A wire's doughnut with the airframe's own unevenness: quadratic and cubic forms of the direction."""
    square, lean, cubic = rng.normal(0.0, 1.6, (3, 3)), rng.normal(0.0, 1.2, 3), rng.normal(0.0, 2.0, 3)
    floor = 10.0 ** (rng.uniform(-14.0, -9.0) / 10.0)

    def body(to: FloatArray) -> FloatArray:
        doughnut = 10.0 * np.log10(1.5 * (1.0 - (to @ axis) ** 2) + floor)
        uneven = np.einsum("ni,ij,nj->n", to, square, to) + to @ lean + (to**3) @ cubic
        return np.asarray(doughnut + uneven, float)

    return body


class _Pattern:
    """Installed gain by direction in level flight, the wave's lean included; ``body`` is the part without it."""

    def __init__(self, axis: FloatArray, rng: np.random.Generator) -> None:
        self.axis, self.body = axis, _body_db(axis, rng)

    def __call__(self, azimuth: FloatArray, elevation: FloatArray) -> FloatArray:
        to = _towards(azimuth, elevation)
        up = np.tile([0.0, 0.0, -1.0], (to.shape[0], 1))
        return np.asarray(self.body(to) + leaning_db(self.axis, to, up), float)


def _pattern(axis: FloatArray, rng: np.random.Generator) -> Gain:
    return _Pattern(axis, rng)


def fly(b: Build, condition: Condition, rng: np.random.Generator) -> Simulated:
    """Fly one flight."""
    m = march(b.frame, condition.minutes, condition.hard, rng)
    packets = _Packets(m, b, rng)
    figures: dict[str, float] = {}
    state: dict[str, float] = {}
    minutes = (m.touch_down_s - m.take_off_s) / 60.0
    figures |= {
        "phases.airborne_min": minutes,
        "phases.take_off_s": m.take_off_s,
        "phases.touch_down_s": m.touch_down_s,
    }
    _air_data(b, m, packets, rng)
    burned, speeds, fuel_notes = _fuel(b, m, condition, packets, figures, state, minutes, rng)
    charge: dict[str, tuple[FloatArray, FloatArray]] = {}
    pack_notes: dict[str, PackNote] = {}
    gains: dict[str, Gain] = {}
    if not b.slim:
        charge, pack_notes = _electric(b, m, condition, packets, figures, state, minutes, rng)
        gains = _radio(b, m, condition, packets, figures, rng)
    context = FlightContext(
        flight_id=f"{name}-{condition.number:03d}",
        aircraft=b.aircraft,
        packs={} if b.slim else b.packs,
        layout=condition.layout or b.aircraft.layouts[0],
        fuel_notes=fuel_notes,
        pack_notes=pack_notes,
        air_temperature_c=condition.air_c if condition.temperature_noted else None,
        pilot_latitude_deg=LATITUDE,
        pilot_longitude_deg=LONGITUDE,
        pilot_altitude_m=FIELD_M if b.barometer is False else None,
    )
    truth = Truth(m.take_off_s, m.touch_down_s, figures, burned, charge, speeds, state, gains)
    return Simulated(packets.telemetry(), context, truth)


class _Packets:
    """The log: one row a packet, one sensor a packet, in turn; stalls bunch them, poor reception loses them."""

    ORDER = ("air", "packs", "air", "place", "air", "link", "air", "fuel")

    def __init__(self, m: Motion, b: Build, rng: np.random.Generator) -> None:
        every = 1.0 / (2.0 * b.rate_hz)
        due = np.arange(0.0, m.t[-1], every) + rng.exponential(0.1 * every)
        due = due + rng.gamma(2.0, 0.08 * every, due.size)
        stalls = np.r_[-9.0, np.sort(rng.uniform(0.0, m.t[-1], rng.poisson(m.t[-1] / 12.0)))]
        until = stalls + rng.exponential(0.25, stalls.size)
        at = np.searchsorted(stalls, due) - 1
        held = due < until[at]
        sent = np.where(held, until[at] + 0.004 * (due - stalls[at]), due)
        order = np.argsort(sent, kind="stable")
        self.rows = np.maximum.accumulate(sent[order]) + 1e-5 * np.arange(sent.size)
        self.kind = np.array(self.ORDER)[np.arange(due.size)[order] % len(self.ORDER)]
        far = np.interp(self.rows, m.t, np.hypot(m.of["east"], m.of["north"]))
        bank = np.abs(np.interp(self.rows, m.t, m.of["bank"]))
        holes = np.r_[-9.0, np.sort(rng.uniform(0.0, m.t[-1], rng.poisson(m.t[-1] / 90.0)))]
        hole = np.searchsorted(holes, self.rows) - 1
        dead = (self.rows < holes[hole] + 2.5) & (far > 120.0)
        lost = rng.random(self.rows.size) < 0.01 + 0.05 * (far > 350.0) * (bank > 0.7)
        keep = ~(dead | lost)
        keep[:: max(self.rows.size - 1, 1)] = True
        self.rows, self.kind = self.rows[keep], self.kind[keep]
        self.rows = self.rows - self.rows[0]
        self.offset = float(sent[order][keep][0])
        self.m = m
        self.columns: dict[str, tuple[Any, FloatArray]] = {}

    def at(self, kind: str) -> Any:
        """Rows of the packets of that sensor."""
        return np.flatnonzero(self.kind == kind)

    def when(self, kind: str) -> FloatArray:
        """The same as instants of the march."""
        return np.asarray(self.rows[self.at(kind)] + self.offset, float)

    def put(self, kind: str, channel: str, values: FloatArray, step: float = 0.0, late: float = 0.0) -> None:
        """Sample a quantity given on the even grid."""
        self.give(kind, channel, np.interp(self.when(kind) - late, self.m.t, values), step)

    def give(self, kind: str, channel: str, values: FloatArray, step: float = 0.0) -> None:
        """Store samples taken already."""
        self.columns[channel] = self.at(kind), np.round(values / step) * step if step else values

    def telemetry(self) -> Any:
        """The log."""
        return tabulate(self.rows, self.columns)


def _lagged(values: FloatArray, seconds: float) -> FloatArray:
    """First-order lag by marching (the trapezium rule)."""
    c = DT / (2.0 * seconds)
    a, g = (1.0 - c) / (1.0 + c), c / (1.0 + c)
    now, before, out = float(values[0]), float(values[0]), []
    for v in values.tolist():
        now = a * now + g * (v + before)
        before = v
        out.append(now)
    return np.array(out)


def _air_data(b: Build, m: Motion, packets: _Packets, rng: np.random.Generator) -> None:
    """Place, height, speed and attitude, each with its instrument's fault."""
    of, n = m.of, m.t.size
    place = packets.when("place") - b.gps_late_s
    wander = np.cumsum(rng.normal(0.0, 0.03, (place.size, 2)), axis=0)
    east = np.interp(place, m.t, of["east"]) + wander[:, 0]
    north = np.interp(place, m.t, of["north"]) + wander[:, 1]
    # A sphere of the earth's mean radius is near enough at a field's size; the analyser's ellipsoid differs by 0.3 %.
    packets.give("place", "position.latitude_deg", LATITUDE + np.degrees(north / 6_378_600.0), 1e-7)
    wide = 6_391_100.0 * math.cos(math.radians(LATITUDE))
    packets.give("place", "position.longitude_deg", LONGITUDE + np.degrees(east / wide), 1e-7)
    ground = np.interp(place, m.t, of["speed"] * 0.0 + of["speed"]) + rng.normal(0.0, 0.15, place.size)
    packets.give("place", "position.ground_speed_m_s", np.abs(ground), float(rng.choice([0.1, 1.0 / 3.6])))
    drift = float(rng.normal(0.0, 1.5)) * m.t / 300.0 + np.cumsum(rng.normal(0.0, 0.01, n))
    if b.barometer:
        airflow = np.hypot(of["speed"], 0.0) ** 2 / (2.0 * 9.81)
        shown = _lagged(of["height"] + b.static_error * airflow + drift, float(rng.uniform(0.3, 1.2)))
        packets.put("air", "position.height_m", shown + rng.normal(0.0, 0.2, n), float(rng.choice([0.1, 1.0])))
    else:
        slow = _lagged(np.cumsum(rng.normal(0.0, 0.02, n)), 3.0)
        packets.put("place", "position.altitude_m", FIELD_M + of["height"] + drift + slow, 0.1, b.gps_late_s)
    if b.airspeed:
        packets.put("air", "motion.airspeed_m_s", of["speed"] * float(rng.normal(1.0, 0.03)), 0.5)
    if b.attitude:
        # A strap-down filter creeps in long turns.
        creep = _lagged(0.06 * of["bank"], 6.0)
        when = packets.when("air")
        # A growing heading angle turns left here, and a bank to the left is a negative roll.
        packets.put("air", "attitude.roll_deg", -np.degrees(of["bank"] - creep), 0.5)
        packets.put("air", "attitude.pitch_deg", np.degrees(of["pitch"]) + float(rng.normal(0.0, 1.0)), 0.5)
        heading = 90.0 - np.degrees(np.interp(when, m.t, np.unwrap(of["heading"]))) + float(rng.normal(0.0, 3.0))
        packets.give("air", "attitude.heading_deg", np.mod(np.round(heading), 360.0))


def _fuel(
    b: Build,
    m: Motion,
    condition: Condition,
    packets: _Packets,
    figures: dict[str, float],
    state: dict[str, float],
    minutes: float,
    rng: np.random.Generator,
) -> tuple[dict[str, tuple[FloatArray, FloatArray]], dict[str, tuple[FloatArray, FloatArray]], dict[str, FuelNote]]:
    of, n = m.of, m.t.size
    burned, speeds, notes, rates, wholes = {}, {}, {}, [], []
    span = m.take_off_s, m.touch_down_s
    max_rpm = b.aircraft.engines[0].max_rpm or 1.0
    side_g = 0.3 * np.sin(of["bank"]) * (of["height"] > 0)
    lean = slosh(np.arctan2(of["along"], 9.81) * 0.7, 0.9, 0.12) + slosh(np.arctan(side_g), 1.3, 0.1)
    for k, side in enumerate(b.sides):
        shaft = of["shaft"] * float(rng.normal(1.0, 0.003))
        fed = (m.t >= m.light_s) & (m.t < m.shut_s)
        steady = 0.07 + 0.16 * shaft + 0.77 * shaft**b.power
        steady = np.where(of["lit"] < 1.0, 0.04 + 0.5 * steady, steady)
        flow = b.full_flow * condition.burn.get(side, 1.0) * condition.day * fed
        flow = flow * (steady + 0.25 * np.maximum(of["rising"], 0.0) * shaft) * (1.0 - of["height"] / 12_000.0)
        total = np.concatenate([[0.0], np.cumsum(0.5 * (flow[1:] + flow[:-1])) * DT / 60.0])
        whole = float(total[-1])
        burned[side], speeds[side] = (m.t, total), (m.t, shaft * max_rpm)
        packets.put("air", f"engine.{side}.speed_rpm", shaft * max_rpm, 100.0)
        hot = 480.0 + 320.0 * (shaft - 0.5) ** 2 + 70.0 * shaft + 900.0 * np.maximum(of["rising"], 0.0) * shaft
        hot = np.where(fed & (shaft > 0.02), hot, condition.air_c)
        packets.put("air", f"engine.{side}.egt_c", _lagged(hot, 1.8), 2.0)
        filled = b.tank_ml * float(rng.uniform(0.97, 1.0))
        seen = total * b.scale[side]
        if b.sensor == "meter":
            # A paddle wheel slips at low flow.
            metered = flow * b.scale[side] * (1.0 + b.low_flow[side] * np.exp(-flow / (0.15 * b.full_flow)))
            seen = np.cumsum(metered) * DT / 60.0
            packets.put("fuel", f"fuel.{side}.used_ml", seen, 1.0)
            packets.put("fuel", f"fuel.{side}.flow_ml_per_min", _lagged(metered, 0.7), 2.0)
        else:
            level = np.clip((filled - seen) / b.tank_ml, 0.0, 1.0)
            bulge = b.shape[side] * np.sin(2.0 * np.pi * level)
            moved = b.slosh * lean * (1.0 if k == 0 else -1.0) * 4.0 * level * (1.0 - level)
            gauge = level + bulge + moved + rng.normal(0.0, 0.002, n)
            seen = -b.tank_ml * (level + bulge)
            if b.sensor == "float":
                packets.put("fuel", f"fuel.{side}.remaining_ml", b.tank_ml * gauge, 5.0)
            else:
                packets.put("fuel", f"fuel.{side}.remaining_percent", 100.0 * gauge, 0.5)
        if condition.noted:
            before = round(filled * float(rng.normal(1.0, 0.008)) / 10.0) * 10.0
            notes[side] = FuelNote(before, round(whole * float(rng.normal(1.0, 0.008)) / 10.0) * 10.0)
        up, down = np.interp(span, m.t, total)
        rates.append(float(down - up) / minutes)
        wholes.append(whole)
        left = filled - float(down)
        stem = f"fuel.tanks.{side}"
        figures |= {
            f"{stem}.burn.burned": whole,
            f"{stem}.scale.put_in": whole,
            f"{stem}.scale.own": whole / max(float(seen[-1] - seen[0]), 1e-6),
            f"{stem}.burn.before_take_off": float(up),
            f"{stem}.burn.airborne": float(down - up),
            f"{stem}.burn.rate": rates[-1],
            f"{stem}.content.start": filled,
            f"{stem}.content.left": left,
            f"{stem}.content.margin": left - 0.2 * b.tank_ml,
            f"{stem}.content.endurance": minutes + max(left, 0.0) / rates[-1],
        }
        state |= {
            # What a sensor's scale comes to over this burn, its shape's and low flow's part included.
            f"tank.{side}.scale": max(float(seen[-1] - seen[0]), 1e-6) / whole,
            f"tank.{side}.burn": condition.burn.get(side, 1.0),
            f"tank.{side}.need_ml": float(up),
            f"tank.{side}.rate": rates[-1],
            f"tank.{side}.filled_ml": filled,
        }
    kg_per_l = 1e-3 * float(rng.normal(803.0, 8.0)) * (1.0 - 9.0e-4 * (condition.air_c - 15.0))
    figures["fuel.mass"] = 1e-3 * kg_per_l * sum(wholes)
    for side, rate in zip(b.sides, rates, strict=True):
        figures[f"fuel.tanks.{side}.burn.mass_rate"] = rate * kg_per_l
    if len(b.sides) == 2:
        figures["fuel.imbalance"] = 200.0 * (rates[0] - rates[1]) / (rates[0] + rates[1])
    figures["fuel.burned"], figures["fuel.rate"] = sum(wholes), sum(rates)
    figures["fuel.endurance"] = min(figures[f"fuel.tanks.{s}.content.endurance"] for s in b.sides)
    return burned, speeds, notes


def _load(m: Motion, rng: np.random.Generator) -> FloatArray:
    """What receivers and servos draw, A: by the air's pressure and the stick, in kicks, and the wheels."""
    of, n = m.of, m.t.size
    stick = np.abs(np.gradient(of["bank"], DT)) + 0.5 * np.abs(of["factor"] - 1.0)
    pressure = (of["speed"] / 50.0) ** 2
    kicks = np.zeros(n)
    many = rng.poisson(m.t[-1] * 1.5)
    at, length = rng.integers(0, n - 40, many), 1 + rng.geometric(0.25, many)
    for a, size, long in zip(at.tolist(), rng.exponential(1.3, many).tolist(), length.tolist(), strict=True):
        kicks[a : a + long] += size * (0.3 + min(pressure[a], 2.0))
    wheels = np.zeros(n)
    for when in (m.take_off_s + 4.0, m.touch_down_s - 18.0):
        first = int(when / DT)
        wheels[first : first + int(rng.uniform(2.0, 4.0) / DT)] = float(rng.uniform(2.5, 6.0))
    # Servos stall: together they draw no more than so much.
    stall = float(rng.uniform(6.0, 20.0))
    servos = stall * (1.0 - np.exp(-(0.8 * stick * (0.2 + pressure) + kicks) / stall))
    return np.asarray(float(rng.uniform(1.0, 2.5)) + servos + wheels, float)


class Given(Struct, frozen=True, eq=False):
    volts: FloatArray
    amps: FloatArray
    rest: FloatArray
    ohm: FloatArray
    slow: FloatArray
    given_mah: FloatArray
    celsius: FloatArray
    mean_charge: FloatArray


def share(packs: list[Battery], load: FloatArray, full: list[float], start_c: list[float], air_c: float) -> list[Given]:
    """March one or two packs on a bus behind diodes; a diode whose pack is too low carries nothing."""
    near = [p.near * f for p, f in zip(packs, full, strict=True)]
    deep = [(1.0 - p.near) * f for p, f in zip(packs, full, strict=True)]
    slow, gone, warm = [0.0] * len(packs), [0.0] * len(packs), list(start_c)
    rows: list[list[tuple[float, ...]]] = [[] for _ in packs]
    both = len(packs) == 2
    keep = [math.exp(-DT / p.slow_s) for p in packs]
    for amps in load.tolist():
        v, r = [], []
        for k, p in enumerate(packs):
            at = min(max(near[k] / p.near, 0.0), 1.0) * SHARES
            low = min(int(at), SHARES - 1)
            rest = p.rest[low] + (at - low) * (p.rest[low + 1] - p.rest[low])
            z = near[k] + deep[k]
            state = (1.0 + 1.2 * ((1.0 - z) ** 4 - 0.0625)) * math.exp(
                p.j_per_mol / GAS * (1.0 / (warm[k] + KELVIN) - 1.0 / 298.15)
            )
            v.append(rest - slow[k] * state)
            r.append(p.ohm * state)
        if both:
            p, q = packs
            ra, rb = r[0] + p.lead_ohm, r[1] + q.lead_ohm
            a = (v[0] - p.drop_v - v[1] + q.drop_v + rb * amps) / (ra + rb)
            a = min(max(a, 0.0), amps)
            currents = (a, amps - a)
        else:
            currents = (amps,)
        for k, p in enumerate(packs):
            i = currents[k]
            state = r[k] / p.ohm
            whole = near[k] + deep[k]
            at = min(max(whole, 0.0), 1.0) * SHARES
            low = min(int(at), SHARES - 1)
            settled = p.rest[low] + (at - low) * (p.rest[low + 1] - p.rest[low])
            rows[k].append((v[k] - r[k] * i, i, settled, r[k], slow[k] * state, gone[k], warm[k], whole))
            used = i * DT / 3.6
            flows = p.valve * (deep[k] / (1.0 - p.near) - near[k] / p.near) * DT
            near[k] += flows - used / p.mah
            deep[k] -= flows
            gone[k] += used
            slow[k] = slow[k] * keep[k] + p.slow_ohm * i * (1.0 - keep[k])
            heat = i * i * (r[k] + p.slow_ohm * state)
            warm[k] += DT * (heat / (0.045 * p.rated) - (warm[k] - air_c) / 1_500.0)
    return [Given(*np.array(one).T) for one in rows]


def _electric(
    b: Build,
    m: Motion,
    condition: Condition,
    packets: _Packets,
    figures: dict[str, float],
    state: dict[str, float],
    minutes: float,
    rng: np.random.Generator,
) -> tuple[dict[str, tuple[FloatArray, FloatArray]], dict[str, PackNote]]:
    load, n = _load(m, rng), m.t.size
    worn = [_worn(b.batteries[r], r, condition) for r in ROLES]
    full = [float(rng.uniform(0.96, 1.0)) for _ in ROLES]
    start_c = [condition.air_c + float(rng.uniform(0.0, 6.0)) for _ in ROLES]
    flown = share(worn, load, full, start_c, condition.air_c)
    bus = np.max([g.volts - p.drop_v - p.lead_ohm * g.amps for g, p in zip(flown, worn, strict=True)], axis=0)
    packets.put("packs", "bus.main.voltage_v", bus + rng.normal(0.0, 0.004, n), 0.01)
    charge: dict[str, tuple[FloatArray, FloatArray]] = {}
    notes: dict[str, PackNote] = {}
    for k, role in enumerate(ROLES):
        g, p, other = flown[k], worn[k], flown[1 - k]
        slip = float(rng.uniform(0.0, 0.03))
        packets.put("packs", f"pack.{role}.voltage_v", g.volts + rng.normal(0.0, 0.004, n), 0.01)
        shown = g.amps * b.current_gain[role] + float(rng.normal(0.0, 0.02)) + rng.normal(0.0, 0.02, n)
        packets.put("packs", f"pack.{role}.current_a", shown, 0.02, slip)
        if b.warmth_logged:
            packets.put("packs", f"pack.{role}.temperature_c", _lagged(g.celsius, 30.0), 1.0)
        whole = float(g.given_mah[-1])
        charge[role] = m.t, g.given_mah
        if condition.noted:
            put_back = (whole + (1.0 - full[k]) * p.mah) * float(rng.normal(1.0, 0.01))
            notes[role] = PackNote(charged_mah=round(put_back))
        alone = share([p], load, [full[k]], [start_c[k]], condition.air_c)[0]
        path = p.drop_v + p.lead_ohm * load
        now = _failed_now(p, g, other.amps) - path
        step_ohm = g.ohm / p.ohm * p.one_second()
        moves = np.diff(g.amps, prepend=g.amps[:1]) ** 2
        mohm = 1_000.0 * float(np.average(step_ohm, weights=moves + 1e-12))
        stem = f"packs.packs.{role}"
        up, down = np.interp([m.take_off_s, m.touch_down_s], m.t, g.given_mah)
        depth = whole / p.mah
        reference = 1_000.0 * p.one_second()
        figures |= {
            f"{stem}.charge.used_mah": whole,
            f"{stem}.charge.airborne_mah_per_min": float(down - up) / minutes,
            f"{stem}.voltage.rest_before_v": float(g.rest[0]),
            f"{stem}.voltage.rest_after_v": float(g.rest[-1]),
            f"{stem}.state.before_percent": 100.0 * full[k],
            f"{stem}.state.after_percent": 100.0 * float(g.mean_charge[-1]),
            f"{stem}.state.temperature_c": float(g.celsius.mean()),
            f"{stem}.capacity.by_discharge_mah": p.mah,
            f"{stem}.capacity.by_charge_mah": p.mah,
            f"{stem}.resistance.as_read_mohm": mohm,
            f"{stem}.resistance.by_steps_mohm": mohm,
            f"{stem}.resistance.value_mohm": reference,
            f"{stem}.resistance.sag_at_load_v": mohm / 100.0,
            f"{stem}.resistance.leads_mohm": 1_000.0 * p.lead_ohm,
            f"{stem}.voltage.deepest_sag_v": float((g.rest - g.volts).max()),
            f"packs.buses.receivers.alone.{role}.failed_now_v": float(now.min()),
            f"packs.buses.receivers.alone.{role}.failed_before_v": float((alone.volts - path).min()),
            f"packs.buses.receivers.path_resistance_mohm.{role}": 1_000.0 * p.lead_ohm,
            f"packs.buses.receivers.path_drop_v.{role}": p.drop_v,
        }
        state |= {
            f"pack.{role}.capacity_mah": p.mah,
            f"pack.{role}.reference_mohm": reference,
            f"pack.{role}.kj_per_mol": p.j_per_mol / 1_000.0,
            f"pack.{role}.depth": depth,
            f"pack.{role}.more_flights": (full[k] - depth - 0.3) / depth,
        }
    return charge, notes


def _worn(p: Battery, role: str, condition: Condition) -> Battery:
    more, less = condition.resistance.get(role, 1.0), condition.capacity.get(role, 1.0)
    kept = {k: getattr(p, k) for k in Battery.__struct_fields__}
    return Battery(**(kept | {"ohm": p.ohm * more, "slow_ohm": p.slow_ohm * more, "mah": p.mah * less}))


def _failed_now(p: Battery, g: Given, other: FloatArray) -> FloatArray:
    """The pack's voltage had the other failed one second before: its current of that second comes on top, V."""
    delay = round(1.0 / DT)
    keep = math.exp(-DT / p.slow_s)
    weights = (1.0 - keep) * keep ** np.arange(delay)
    last_second = np.convolve(other, weights)[: other.size]
    return np.asarray(g.volts - g.ohm * other - p.slow_ohm * g.ohm / p.ohm * last_second, float)


def _radio(
    b: Build, m: Motion, condition: Condition, packets: _Packets, figures: dict[str, float], rng: np.random.Generator
) -> dict[str, Gain]:
    """Signal of both antennas and what they miss; the pilot stands at the origin."""
    of = m.of
    # Body axes in the world (east, north, up); heading is the mathematical angle.
    cosine, sine = np.cos, np.sin
    h, p, r = of["heading"], of["pitch"], of["bank"]
    forward = np.column_stack([cosine(p) * cosine(h), cosine(p) * sine(h), sine(p)])
    level_right = np.column_stack([sine(h), -cosine(h), 0.0 * h])
    lid = np.cross(level_right, forward)
    # A bank that turns the heading to the left (growing angle) lowers the left wing.
    right = level_right * cosine(r)[:, None] + lid * sine(r)[:, None]
    down = np.cross(forward, right)
    ray = np.column_stack([-of["east"], -of["north"], 1.7 - of["height"] - 0.4])
    away = np.linalg.norm(ray, axis=1)
    ray = ray / away[:, None]
    axes = np.stack([forward, right, down], axis=2)
    to = np.einsum("nij,ni->nj", axes, ray)
    up = np.einsum("nij,i->nj", axes, np.array([0.0, 0.0, 1.0]))
    ground = np.hypot(of["east"], of["north"])
    grazing = np.arctan2(of["height"] + 2.1, np.maximum(ground, 1.0))
    reflected = 0.7 * np.exp(-grazing / 0.12)
    further = np.hypot(ground, of["height"] + 0.4 + 1.7) - np.hypot(ground, of["height"] + 0.4 - 1.7)
    turn = 2.0 * np.pi * further * b.aircraft.radio_mhz * 1e6 / 2.998e8 if b.aircraft.radio_mhz else 0.0 * further
    two_rays = 20.0 * np.log10(np.abs(1.0 - reflected * np.exp(-1j * turn)) + 1e-3)
    loss = 40.2 + 10.0 * b.exponent * np.log10(np.maximum(away, 1.0))
    when = packets.when("link")
    gains: dict[str, Gain] = {}
    missed_both = np.ones(when.size)
    spans = np.diff(when, prepend=when[:1])
    for k, antenna in enumerate(b.gain, start=1):
        pattern = b.gain[antenna]
        assert isinstance(pattern, _Pattern)
        gains[antenna] = pattern
        heard = pattern.body(to) + leaning_db(pattern.axis, to, up)
        clean = 17.0 - loss + heard + two_rays + condition.antenna_db.get(antenna, 0.0)
        scatter = rng.normal(size=(2, when.size, 6)) * math.sqrt(0.5 * 10.0 ** (-float(rng.uniform(6.0, 10.0)) / 10.0))
        fading = 10.0 * np.log10(((1.0 + scatter[0]) ** 2 + scatter[1] ** 2).mean(axis=1))
        slow = _lagged(rng.normal(0.0, 12.0, m.t.size), 4.0)
        level = np.interp(when, m.t, clean + slow) + fading
        packets.give("link", f"link.rx.antenna{k}_rssi_dbm", np.clip(level, -110.0, 0.0), 1.0)
        fail = 1.0 / (1.0 + np.exp((level + 94.0) / 1.2))
        frames = rng.poisson(np.maximum(90.0 * spans, 0.0))
        packets.give("link", f"link.rx.antenna{k}_lost", np.cumsum(rng.binomial(frames, fail)).astype(float))
        missed_both = missed_both * fail
        figures[f"link.receivers.rx.antennas.{antenna}.distance_exponent"] = b.exponent
    lost = rng.binomial(rng.poisson(np.maximum(90.0 * spans, 0.0)), missed_both)
    packets.give("link", "link.rx.lost_frames", np.cumsum(lost).astype(float))
    flying = (m.t >= m.take_off_s) & (m.t <= m.touch_down_s)
    figures["link.max_range_m"] = float(away[flying].max())
    return gains
