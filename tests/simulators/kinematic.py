"""Simulator A: a path of splines flown in wind, a spool that lags, two-pair cells, and a radio with a ground ray.

Everything follows from the path: speed along it, turn rate, bank, load; thrust from drag and climb, shaft speed from
thrust, burn from shaft speed and ram. Sensors are uneven, late, scaled and drifting; the fuel gauge leans with bank.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from msgspec import Struct, field
from scipy import integrate, interpolate, ndimage

from tests.simulators.cells import (
    CHEMISTRY,
    Cells,
    Discharge,
    alone_now,
    alone_throughout,
    one_second_ohm,
    share_load,
    weighted_ohm,
)
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
    Writer,
    take_rows,
    uneven_rows,
)
from tests.simulators.noise import lag, random_walk, smooth_wander
from tests.simulators.radio import (
    exponent_loss_db,
    ground_ray_db,
    installed_dipole,
    rician_db,
    seen_from_body,
    to_degrees,
)

NAME = "kinematic"
DT = 0.05
G = 9.81
SIDES = ("left", "right")
ROLES = ("rx1", "rx2")
EYE_M = 1.6
MHZ = 2_440.0
FILL_SD = 0.007
"""How repeatably the owner fills and refills, relative; the analyser assumes one hundredth."""
IDLE_RPM, MAX_RPM = 33_000.0, 112_000.0
Gain = Callable[[FloatArray, FloatArray], FloatArray]


class Build(Struct, frozen=True, eq=False):
    """An aircraft and its sensors as one season has them."""

    aircraft: Aircraft
    tank_ml: float
    idle_ml_min: dict[str, float]
    full_ml_min: dict[str, float]
    power: float
    gauge: str
    scale: dict[str, float]
    slosh: float
    packs: dict[str, Pack]
    cells: dict[str, Cells]
    current_gain: dict[str, float]
    volt_gain: dict[str, float]
    path_ohm: tuple[float, float]
    diode_v: tuple[float, float]
    gain: dict[str, Gain]
    exponent: float
    reflection: float
    rate_hz: float
    drift_m: float
    attitude: bool
    hand: float
    lat0: float = 47.25
    lon0: float = 9.5
    field_m: float = 420.0
    extra: dict[str, float] = field(default_factory=dict)


name = NAME


def build(rng: np.random.Generator, **wanted: Any) -> Build:
    """Draw an aircraft; ``wanted`` overrides single draws (``gauge``, ``scale``, ``checked`` …)."""
    tank_ml = float(rng.uniform(2_700.0, 3_600.0))
    make = str(wanted.get("curve", rng.choice(["polymer", "pouch", "cylinder_a"])))
    rated = float(rng.choice([1_200.0, 2_000.0]))
    ohm = float(rng.uniform(0.008, 0.02)) * 1_600.0 / rated
    pairs = ((float(rng.uniform(0.25, 0.6)), float(rng.uniform(2.0, 6.0))),
             (float(rng.uniform(0.3, 0.7)), float(rng.uniform(18.0, 50.0))))  # fmt: skip
    energy, kept = float(rng.uniform(12_000.0, 34_000.0)), float(rng.uniform(0.9, 1.02))
    cells = {
        role: Cells(
            make,
            tuple(rated * kept * rng.normal(1.0, 0.01, 2)),
            tuple(ohm * rng.normal(1.0, 0.05, 2)),
            pairs,
            energy,
            float(rng.uniform(0.3, 1.2)),
        )
        for role in ROLES
    }
    packs = {
        role: Pack(f"{role} pack", CHEMISTRY[make], 2, rated, role, brown_out_v=6.0)  # type: ignore[arg-type]
        for role in ROLES
    }
    axes = {1: (0.2, 1.0, 0.1), 2: (0.1, -0.1, 1.0)}
    antennas = tuple(Antenna("rx", n, (0.3, 0.1 * n, 0.0), axis) for n, axis in axes.items())
    first = AntennaLayout("first", antennas)
    second = AntennaLayout("second", tuple(Antenna("rx", a.number, (0.1, *a.position_m[1:]), a.axis) for a in antennas))
    sides = SIDES
    aircraft = Aircraft(
        "Spline",
        mass_kg=23.0,
        engines=tuple(Engine(s, tank=s, idle_rpm=IDLE_RPM, max_rpm=MAX_RPM) for s in sides),
        tanks=tuple(Tank(s, capacity_ml=tank_ml, engine=s, reserve=Reserve(percent=20.0), x_m=0.15) for s in sides),
        layouts=(first, second),
        fuel=Fuel(density_15c_kg_m3=800.0),
        radio_mhz=MHZ,
        brown_out_v=6.0,
    )
    shared = float(rng.normal(1.0, 0.04))
    scale = wanted.get("scale", {s: shared * float(rng.normal(1.0, 0.01)) for s in sides})
    uneven = float(rng.normal(0.0, 0.04))
    # The circuit is mostly flown one way round, so the gauge leans one way for most of the flight.
    return Build(
        aircraft,
        tank_ml,
        {s: 78.0 * float(rng.normal(1.0, 0.03)) for s in sides},
        {s: 520.0 * (1.0 + (uneven if s == "left" else -uneven) / 2.0) for s in sides},
        float(rng.uniform(2.0, 2.7)),
        str(wanted.get("gauge", rng.choice(["contents", "flow", "used"]))),
        dict(scale),
        float(rng.normal(0.0, 0.012)),
        packs,
        cells,
        {r: float(rng.normal(1.0, wanted.get("current_sd", 0.015))) for r in ROLES},
        {r: float(rng.normal(1.0, 0.002)) for r in ROLES},
        (float(rng.uniform(0.006, 0.02)), float(rng.uniform(0.006, 0.02))),
        (float(rng.uniform(0.2, 0.4)), float(rng.uniform(0.2, 0.4))),
        {
            f"rx.antenna{n}": installed_dipole(
                axis, float(rng.uniform(-16.0, -9.0)),
                (*(float(rng.uniform(-m, m)) for m in (180.0, 40.0)), 25.0, float(rng.uniform(3.0, 12.0))),
            )
            for n, axis in axes.items()
        },
        float(wanted.get("exponent", rng.uniform(1.9, 2.4))),
        -float(rng.uniform(0.2, 0.8)),
        float(wanted.get("rate_hz", rng.choice([4.0, 10.0, 20.0]))),
        float(wanted.get("drift_m", rng.uniform(0.0, 4.0))),
        bool(wanted.get("attitude", rng.random() < 0.7)),
        float(rng.choice([-1.0, 1.0])),
    )  # fmt: skip


class Path(Struct, frozen=True, eq=False):
    """The flight on an even time grid; metres, m/s, degrees. ``hold`` spans are the aircraft standing."""

    t: FloatArray
    x: FloatArray
    y: FloatArray
    h: FloatArray
    speed: FloatArray
    airspeed: FloatArray
    climb: FloatArray
    heading: FloatArray
    pitch: FloatArray
    roll: FloatArray
    accel: FloatArray
    take_off_s: float
    touch_down_s: float
    lit_s: float
    cut_s: float


def _path(minutes: float, hand: float, rng: np.random.Generator) -> Path:
    along = rng.uniform(0.0, 2.0 * np.pi)
    cruise = rng.uniform(48.0, 62.0)
    lap_m = 2.0 * (rng.uniform(380.0, 520.0) + rng.uniform(120.0, 200.0))
    laps = max(2, round(minutes * 60.0 * cruise / lap_m))
    n = 12 * laps
    psi = np.linspace(np.radians(50.0), 2.0 * np.pi * laps - np.radians(70.0), n)
    a = interpolate.PchipInterpolator(np.linspace(psi[0], psi[-1], laps + 2), rng.uniform(170.0, 300.0, laps + 2))(psi)
    b = interpolate.PchipInterpolator(np.linspace(psi[0], psi[-1], laps + 2), rng.uniform(55.0, 115.0, laps + 2))(psi)
    high = interpolate.PchipInterpolator(np.linspace(psi[0], psi[-1], 3 * laps), rng.uniform(25.0, 130.0, 3 * laps))(
        psi
    )
    lap_x, lap_y = a * np.sin(psi), rng.uniform(5.0, 35.0) + b * (1.0 - np.cos(psi))
    before_x, after_x = np.arange(-190.0, 101.0, 58.0), np.arange(-230.0, 131.0, 60.0)
    px, py = np.r_[before_x, lap_x, after_x], np.r_[np.zeros(6), lap_y, np.zeros(7)]
    chord = np.r_[0.0, np.cumsum(np.hypot(np.diff(px), np.diff(py)))]
    fine = np.linspace(0.0, chord[-1], int(chord[-1] / 0.5))
    spline = interpolate.CubicSpline(chord, np.column_stack([px, py]))
    xy = spline(fine)
    s = np.r_[0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T))]

    def at(chord_m: float) -> float:
        return float(np.interp(chord_m, fine, s))

    s_up, s_end = at(chord[3]) + rng.uniform(-15.0, 25.0), s[-1]
    s_down = at(chord[-3]) + rng.uniform(-40.0, 25.0)
    legs = np.array([at(c) for c in chord[9 : 6 + n - 3 : 3]])
    v_up, v_down = rng.uniform(24.0, 30.0), rng.uniform(22.0, 27.0)
    kin = np.r_[0.3, 9.0, v_up**2, (v_up + 8.0) ** 2, rng.uniform(36.0, 78.0, legs.size) ** 2, (v_down + 7.0) ** 2,
                v_down**2, 12.0, 0.3]  # fmt: skip
    where = np.r_[0.0, 25.0, s_up, s_up + 90.0, legs, s_down - 160.0, s_down, s_down + 70.0, s_end]
    order = np.r_[True, np.diff(np.maximum.accumulate(where)) > 3.0]
    grid_s = np.arange(0.0, s_end, 0.25)
    v = np.sqrt(np.maximum(interpolate.PchipInterpolator(where[order], kin[order])(grid_s), 0.15))
    rolling_t = integrate.cumulative_trapezoid(1.0 / v, grid_s, initial=0.0)
    lap_s = np.array([at(c) for c in chord[6 : 6 + n]])
    inside = (lap_s > s_up + 300.0) & (lap_s < s_down - 420.0)
    hs = np.r_[0.0, s_up, s_up + 30.0, s_up + 120.0, lap_s[inside], s_down - 330.0, s_down - 120.0, s_down - 30.0,
               s_down, s_end]  # fmt: skip
    hh = np.r_[0.0, 0.0, rng.uniform(0.5, 1.5), rng.uniform(8.0, 14.0), high[inside], rng.uniform(20.0, 30.0),
               rng.uniform(4.5, 7.0), rng.uniform(0.5, 1.0), 0.0, 0.0]  # fmt: skip
    height = np.maximum(interpolate.PchipInterpolator(hs, hh)(grid_s), 0.0)
    # Standing: engines start before the roll, cool after it.
    wait, cool = rng.uniform(55.0, 80.0), rng.uniform(50.0, 70.0)
    end = wait + rolling_t[-1] + cool
    t = np.arange(0.0, end, DT)
    st = np.interp(t - wait, rolling_t, grid_s)
    x, y = hand * np.interp(st, s, xy[:, 0]), np.interp(st, s, xy[:, 1])
    h = np.interp(st, grid_s, height)
    smooth = 0.15 / DT
    vx, vy, vh = (ndimage.gaussian_filter1d(np.gradient(q, DT), smooth) for q in (x, y, h))
    speed = np.hypot(vx, vy)
    wind, blows = rng.uniform(0.0, 6.0), rng.uniform(0.0, 2.0 * np.pi)
    ax, ay = vx - wind * np.cos(blows), vy - wind * np.sin(blows)
    flies = h > 0.05
    airspeed = np.where(speed > 1.0, np.hypot(ax, ay), wind)
    track = np.unwrap(np.arctan2(np.where(flies, ay, vy), np.where(flies, ax, vx) + 1e-9))
    track = ndimage.gaussian_filter1d(track, 0.2 / DT)
    turn = ndimage.gaussian_filter1d(np.gradient(track, DT), 0.3 / DT) * flies
    bank = np.degrees(np.arctan(np.clip(airspeed * turn / G, -2.6, 2.6)))
    bank = lag(bank, DT, 0.25) + smooth_wander(t.size, DT, 2.5, 1.5, rng) * flies
    rolls = rng.uniform(wait + 60.0, wait + rolling_t[-1] - 70.0, rng.integers(0, 5))
    turns = np.clip((t[:, None] - rolls) / 1.8, 0.0, 1.0)
    bank += (360.0 * (turns - np.sin(2.0 * np.pi * turns) / (2.0 * np.pi))).sum(axis=1)
    climb = np.degrees(np.arctan2(vh, np.maximum(speed, 1.0)))
    pitch = climb + np.where(flies, 2.0 + 4.0 * (35.0 / np.maximum(airspeed, 20.0)) ** 2, 0.0)
    # Runway frame to the compass: the track is mathematical, the heading clockwise from north. A turn to the left is a
    # positive turn rate and a negative bank.
    return Path(
        t,
        x * np.cos(along) - y * np.sin(along),
        x * np.sin(along) + y * np.cos(along),
        h,
        speed,
        airspeed,
        vh,
        90.0 - np.degrees(track + along),
        pitch,
        -bank,
        ndimage.gaussian_filter1d(np.gradient(speed, DT), 0.3 / DT),
        wait + float(np.interp(s_up, grid_s, rolling_t)),
        wait + float(np.interp(s_down, grid_s, rolling_t)),
        float(rng.uniform(10.0, 16.0)),
        end - float(rng.uniform(20.0, 30.0)),
    )


def _shaft(p: Path, hard: float, rng: np.random.Generator) -> FloatArray:
    """Shaft speed: thrust that drag, climb and acceleration ask for, through two lags; a run-up and a run-down."""
    ask = 0.05 + 0.62 * (p.airspeed / 78.0) ** 2 + np.clip(p.climb / np.maximum(p.speed, 5.0), -0.4, 0.8) + p.accel / G
    ask = np.where(p.t < p.take_off_s, np.where(p.accel > 0.4, 0.9, 0.05), ask) * (1.0 + hard)
    ask = ndimage.gaussian_filter1d(np.clip(ask, 0.0, 1.0), 0.5 / DT) + smooth_wander(p.t.size, DT, 0.02, 4.0, rng)
    wanted = IDLE_RPM + (MAX_RPM - IDLE_RPM) * np.clip(ask, 0.0, 1.0) ** 0.55
    n = lag(lag(wanted, DT, 0.6), DT, 0.35)
    up = np.clip((p.t - p.lit_s + 6.0) / 28.0, 0.0, 1.0)
    n = np.where(up < 1.0, IDLE_RPM * up**1.4, n)
    down = np.maximum(p.t - p.cut_s, 0.0)
    return np.asarray(np.where(down > 0, IDLE_RPM * np.exp(-down / 4.0), n) + (up > 0.05) * rng.normal(0, 60, n.size))


def _burn(b: Build, side: str, n: FloatArray, p: Path, condition: Condition) -> FloatArray:
    """Fuel flow, mL/min: idle flow, a power of the speed above idle, less ram; nothing unlit."""
    share = np.clip((n - IDLE_RPM) / (MAX_RPM - IDLE_RPM), 0.0, 1.1)
    flow = b.idle_ml_min[side] + (b.full_ml_min[side] - b.idle_ml_min[side]) * share**b.power
    flow = flow * (1.0 - 0.05 * np.clip(p.airspeed / 80.0, 0.0, 1.0)) * np.minimum(n / IDLE_RPM, 1.0) ** 1.2
    lit = (p.t > p.lit_s) & (p.t < p.cut_s)
    return np.asarray(flow * lit * condition.burn.get(side, 1.0) * condition.day, float)


def _load(p: Path, rng: np.random.Generator) -> FloatArray:
    """Current of receivers and surfaces: moving and loaded surfaces draw, gear and brakes step."""
    quick = np.abs(ndimage.gaussian_filter1d(np.gradient(p.roll, DT), 0.1 / DT)) / 40.0
    lift = 1.0 / np.maximum(np.cos(np.radians(np.clip(p.roll, -75, 75))), 0.3) - 1.0
    flies = p.h > 0.1
    jitter = np.abs(smooth_wander(p.t.size, DT, 1.0, 0.4, rng))
    busy = np.clip(quick, 0, 4) + 0.8 * lift + 1.3 * jitter * (p.airspeed / 55.0) ** 2
    load = 0.6 + flies * float(rng.uniform(1.2, 3.5)) * (0.4 + busy)
    gear = [p.take_off_s + rng.uniform(5.0, 9.0), p.touch_down_s - rng.uniform(18.0, 30.0)]
    size, length = rng.uniform(3.0, 6.0), rng.uniform(2.5, 4.5)
    for at in gear:
        load = load + size * ((p.t > at) & (p.t < at + length))
    return np.asarray(load + 1.2 * ((p.t > p.touch_down_s) & (p.t < p.touch_down_s + 9.0)), float)


def fly(b: Build, condition: Condition, rng: np.random.Generator) -> Simulated:
    """Fly once."""
    p = _path(condition.minutes, b.hand, rng)
    t, n = p.t, p.t.size
    rows = uneven_rows(float(t[-1]), b.rate_hz, rng)
    writer = Writer(t, rows, rng)
    columns, log = writer.columns, writer.log
    figures: dict[str, float] = {}
    state: dict[str, float] = {}

    late = rng.uniform(0.2, 0.7)
    east0, north0 = rng.normal(0.0, 2.0, 2)
    lat, lon = to_degrees(
        p.x + east0 + smooth_wander(n, DT, 1.2, 60.0, rng),
        p.y + north0 + smooth_wander(n, DT, 1.2, 60.0, rng),
        b.lat0,
        b.lon0,
    )
    gps = 0.2 if b.rate_hz >= 10 else 0.5
    fixes = take_rows(rows, gps, rng)
    columns["position.latitude_deg"] = fixes, np.round(np.interp(rows[fixes] - late, t, lat), 7)
    columns["position.longitude_deg"] = fixes, np.round(np.interp(rows[fixes] - late, t, lon), 7)
    over_ground = np.interp(rows[fixes] - late, t, p.speed) + rng.normal(0, 0.2, fixes.size)
    columns["position.ground_speed_m_s"] = fixes, np.abs(np.round(over_ground, 1))
    drift = random_walk(n, DT, b.drift_m / np.sqrt(300.0), rng)
    log("position.altitude_m", b.field_m + p.h + drift + rng.normal(0, 0.25, n), gps, late=0.15, step=0.1)
    if b.attitude:
        lean = rng.normal(0.0, 1.5, 3)
        log("attitude.roll_deg", (p.roll + lean[0] + 180.0) % 360.0 - 180.0, 1.0 / b.rate_hz, step=0.1)
        log("attitude.pitch_deg", np.clip(p.pitch + lean[1], -89, 89), 1.0 / b.rate_hz, step=0.1)
        heading = np.interp(rows, t, p.heading + lean[2] + smooth_wander(n, DT, 2.0, 40.0, rng))
        columns["attitude.heading_deg"] = np.arange(rows.size), np.round(heading % 360.0, 1)

    burned: dict[str, tuple[FloatArray, FloatArray]] = {}
    speeds: dict[str, tuple[FloatArray, FloatArray]] = {}
    notes: dict[str, FuelNote] = {}
    air = (p.take_off_s, p.touch_down_s)
    minutes = (air[1] - air[0]) / 60.0
    rates: list[float] = []
    shaft = _shaft(p, condition.hard, rng)
    for side in SIDES:
        speed = np.maximum(shaft * (1.0 + rng.normal(0.0, 0.002)), 0.0)
        flow = _burn(b, side, speed, p, condition)
        total = np.asarray(integrate.cumulative_trapezoid(flow / 60.0, dx=DT, initial=0.0), float)
        burned[side] = t, total
        speeds[side] = t, speed
        log(f"engine.{side}.speed_rpm", speed, max(0.2, 1 / b.rate_hz), step=100.0)
        filled = b.tank_ml * float(rng.normal(1.0, FILL_SD))
        read = total * b.scale[side]
        if b.gauge == "contents":
            leans = b.slosh * b.tank_ml * lag(np.sin(np.radians(p.roll)), DT, 0.6) * (1 if side == "left" else -1)
            wobble = smooth_wander(n, DT, 0.004 * b.tank_ml, 0.8, rng) * (p.h > 0)
            log(f"fuel.{side}.remaining_ml", filled - read + leans + wobble, 0.5, step=5.0)
        elif b.gauge == "flow":
            shown = flow * b.scale[side] + rng.normal(0, 6.0, n) * (flow > 0)
            log(f"fuel.{side}.flow_ml_per_min", np.maximum(shown, 0.0), 0.25, step=1.0)
        else:
            log(f"fuel.{side}.used_ml", read, 0.5, step=2.0)
        whole = float(total[-1])
        up, down = np.interp(air, t, total)
        if condition.noted:
            notes[side] = FuelNote(filled * float(rng.normal(1, FILL_SD)), whole * float(rng.normal(1, FILL_SD)))
        stem = f"fuel.tanks.{side}"
        rates.append(float(down - up) / minutes)
        left = filled - float(down)
        figures |= {
            f"{stem}.burn.burned": whole,
            f"{stem}.scale.put_in": whole,
            f"{stem}.scale.own": 1.0 / b.scale[side],
            f"{stem}.burn.before_take_off": float(up),
            f"{stem}.burn.airborne": float(down - up),
            f"{stem}.burn.rate": rates[-1],
            f"{stem}.content.start": filled,
            f"{stem}.content.left": left,
            f"{stem}.content.margin": left - 0.2 * b.tank_ml,
            f"{stem}.content.endurance": minutes + max(left, 0.0) / rates[-1],
        }
        state |= {f"tank.{side}.scale": b.scale[side], f"tank.{side}.burn": condition.burn.get(side, 1.0)}
    figures["fuel.imbalance"] = 200.0 * (rates[0] - rates[1]) / (rates[0] + rates[1])
    # The owner states no density, so a usual one is assumed; the drum holds another.
    kg_per_l = 1e-3 * float(rng.normal(803.0, 8.0)) * (1.0 - 9.2e-4 * (condition.air_c - 15.0))
    whole_kg = 1e-3 * kg_per_l * sum(float(v[1][-1]) for v in burned.values())
    figures["fuel.mass"] = whole_kg
    figures["fuel.balance_shift"] = 1000.0 * 0.15 * whole_kg / (23.0 - whole_kg)
    for side, rate in zip(SIDES, rates, strict=True):
        figures[f"fuel.tanks.{side}.burn.mass_rate"] = rate * kg_per_l
    figures["fuel.burned"] = sum(float(v[1][-1]) for v in burned.values())
    figures["fuel.rate"] = sum(rates)
    figures["fuel.endurance"] = min(figures[f"fuel.tanks.{s}.content.endurance"] for s in SIDES)
    figures |= {"phases.take_off_s": air[0], "phases.touch_down_s": air[1], "phases.airborne_min": minutes}

    charge, pack_notes = _packs(b, p, condition, rng, writer, figures, state)
    gains = _radio(b, p, condition, rng, rows, columns, figures)
    context = FlightContext(
        flight_id=f"{NAME}-{condition.number:03d}",
        aircraft=b.aircraft,
        packs=b.packs,
        layout=condition.layout or b.aircraft.layouts[0],
        fuel_notes=notes,
        pack_notes=pack_notes,
        air_temperature_c=condition.air_c if condition.temperature_noted else None,
        pilot_latitude_deg=to_degrees(np.zeros(1), np.zeros(1), b.lat0, b.lon0)[0][0],
        pilot_longitude_deg=b.lon0,
        pilot_altitude_m=b.field_m,
    )
    truth = Truth(air[0], air[1], figures, burned, charge, speeds, state, gains)
    return Simulated(writer.telemetry(), context, truth)


def _worn(cells: Cells, role: str, condition: Condition) -> Cells:
    ohm, mah = condition.resistance.get(role, 1.0), condition.capacity.get(role, 1.0)
    return Cells(
        cells.curve, tuple(c * mah for c in cells.capacity_mah), tuple(r * ohm for r in cells.ohm), cells.pairs,
        cells.j_per_mol, cells.knee,
    )  # fmt: skip


def _packs(
    b: Build, p: Path, condition: Condition, rng: np.random.Generator, writer: Writer, figures: dict[str, float],
    state: dict[str, float],
) -> tuple[dict[str, tuple[FloatArray, FloatArray]], dict[str, PackNote]]:  # fmt: skip
    n, log = p.t.size, writer.log
    celsius = condition.air_c + 4.0 + 3.0 * p.t / p.t[-1]
    load = _load(p, rng)
    full = (float(rng.uniform(0.985, 1.0)), float(rng.uniform(0.985, 1.0)))
    cells = tuple(_worn(b.cells[r], r, condition) for r in ROLES)
    one, two, bus = share_load((cells[0], cells[1]), load, DT, celsius, b.path_ohm, b.diode_v, full)
    log("bus.main.voltage_v", bus + rng.normal(0, 0.006, n), 0.2, step=0.01)
    charge, notes = {}, {}
    minutes = (p.touch_down_s - p.take_off_s) / 60.0
    flown: tuple[Discharge, Discharge] = (one, two)
    for k, role in enumerate(ROLES):
        d, c, other = flown[k], cells[k], flown[1 - k]
        log(f"pack.{role}.voltage_v", d.volts * b.volt_gain[role] + rng.normal(0, 0.006, n), 0.2, step=0.01)
        log(f"pack.{role}.current_a", d.current_a * b.current_gain[role] + rng.normal(0, 0.03, n), 0.2, step=0.05)
        log(f"pack.{role}.temperature_c", celsius + rng.normal(0, 0.8) * np.ones(n), 2.0, step=1.0)
        charge[role] = p.t, d.given_mah
        whole = float(d.given_mah[-1])
        if condition.noted:
            lost = float((1.0 - full[k]) * c.usable_mah)
            notes[role] = PackNote(charged_mah=(whole + lost) * float(rng.normal(1.0, 0.01)))
        # The receivers see the bus: behind its own leads and diode the survivor carries the whole load.
        path_v = b.diode_v[k] + b.path_ohm[k] * load
        sag, now = d.rest_v - d.volts, alone_now(c, d, other.current_a, DT) - path_v
        throughout = alone_throughout(c, load, DT, celsius, full[k]) - path_v
        r1 = one_second_ohm(c, d)
        mohm = 1000.0 * weighted_ohm(r1, d.current_a)
        reference = 1000.0 * sum(c.ohm) * c.waited(1.0)
        charged = [full[k] - np.array([0.0, whole]) / mah for mah in c.capacity_mah]
        before, after = (100.0 * float(np.mean([x[i] for x in charged])) for i in (0, 1))
        stem = f"packs.packs.{role}"
        up, down = np.interp([p.take_off_s, p.touch_down_s], p.t, d.given_mah)
        figures |= {
            f"{stem}.charge.used_mah": whole,
            f"{stem}.charge.airborne_mah_per_min": float(down - up) / minutes,
            f"{stem}.voltage.rest_before_v": float(d.rest_v[0]),
            f"{stem}.voltage.rest_after_v": float(d.rest_v[-1]),
            f"{stem}.state.before_percent": before,
            f"{stem}.state.after_percent": after,
            f"{stem}.capacity.by_discharge_mah": c.usable_mah,
            f"{stem}.capacity.by_charge_mah": c.usable_mah,
            f"{stem}.resistance.as_read_mohm": mohm,
            f"{stem}.resistance.by_steps_mohm": mohm,
            f"{stem}.resistance.value_mohm": reference,
            f"{stem}.voltage.deepest_sag_v": float(sag.max()),
            f"{stem}.resistance.sag_at_load_v": mohm / 100.0,
            f"{stem}.state.temperature_c": float(celsius.mean()),
            f"packs.buses.receivers.alone.{role}.failed_now_v": float(now.min()),
            f"packs.buses.receivers.alone.{role}.failed_before_v": float(throughout.min()),
            f"packs.buses.receivers.path_resistance_mohm.{role}": 1000.0 * b.path_ohm[k],
            f"packs.buses.receivers.path_drop_v.{role}": b.diode_v[k],
        }
        figures[f"{stem}.resistance.leads_mohm"] = 1000.0 * b.path_ohm[k]
        state |= {
            f"pack.{role}.capacity_mah": c.usable_mah,
            f"pack.{role}.reference_mohm": reference,
            f"pack.{role}.kj_per_mol": c.j_per_mol / 1000.0,
            f"pack.{role}.depth": whole / c.usable_mah,
            f"pack.{role}.more_flights": (full[k] - whole / c.usable_mah - 0.3) * c.usable_mah / whole,
        }
    return charge, notes


def _radio(
    b: Build, p: Path, condition: Condition, rng: np.random.Generator, rows: FloatArray, columns: dict[str, Any],
    figures: dict[str, float],
) -> dict[str, Gain]:  # fmt: skip
    at = take_rows(rows, 0.1 if b.rate_hz >= 10 else 0.25, rng)
    t = rows[at]
    # The pilot stands where the origin is, near enough.
    stand = rng.normal(0.0, 2.0, 2)
    east, north, h = (np.interp(t, p.t, v) for v in (p.x - stand[0], p.y - stand[1], p.h + 0.4))
    heading, pitch, roll = (np.interp(t, p.t, v) for v in (p.heading, p.pitch, p.roll))
    azimuth, elevation = seen_from_body(-east, -north, EYE_M - h, heading, pitch, roll)
    ground = np.hypot(east, north)
    range_m = np.hypot(ground, h - EYE_M)
    figures["link.max_range_m"] = float(range_m[(t > p.take_off_s) & (t < p.touch_down_s)].max())
    loss = exponent_loss_db(range_m, MHZ, b.exponent)
    bounce = ground_ray_db(ground, h, EYE_M, MHZ, b.reflection)
    moved = np.interp(t, p.t, np.r_[0.0, np.cumsum(p.speed[1:] * DT)])
    gains: dict[str, Gain] = {}
    for name_, gain in b.gain.items():
        lift = condition.antenna_db.get(name_, 0.0)
        gains[name_] = gain
        keep = np.exp(-np.diff(moved, prepend=moved[:1]) / 45.0)
        shade = _log_normal(keep, 2.5, rng)
        k_db = 4.0 + 6.0 * np.clip(np.degrees(np.arctan2(h, ground)) / 30.0, 0.0, 1.0)
        power = 16.0 - loss + gain(azimuth, elevation) + lift + bounce + shade + rician_db(k_db, 4, rng)
        number = int(name_[-1])
        columns[f"link.rx.antenna{number}_rssi_dbm"] = at, np.round(power)
        missed = 1.0 / (1.0 + np.exp((power + 88.0) / 2.0))
        lost = rng.binomial(5, np.clip(missed, 0.0, 1.0))
        columns[f"link.rx.antenna{number}_lost"] = at, np.cumsum(lost).astype(float)
        figures[f"link.receivers.rx.antennas.{name_}.distance_exponent"] = b.exponent
    return gains


def _log_normal(keep: FloatArray, sd: float, rng: np.random.Generator) -> FloatArray:
    """Shadowing in dB, correlated over the way flown: Gauss–Markov on an even grid of ways, read at each sample."""
    way = -np.cumsum(np.log(np.clip(keep, 1e-9, 1.0)))
    grid = np.arange(0.0, way[-1] + 0.2, 0.1)
    return np.asarray(np.interp(way, grid, smooth_wander(grid.size, 0.1, sd, 1.0, rng)), float)
