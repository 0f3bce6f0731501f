"""Simulator B: a chain of states with steps between them, table look-ups, wild tails, 1/f noise and bursts of loss.

Nothing is smooth: corners are flown in steps of bank, the engine follows a table, loads switch on and off, counters
wrap round, the altimeter wanders as 1/f, packets are lost in bursts (Gilbert and Elliott), and a pack's cells are
unequal and relax over a ladder of many time constants instead of two.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from msgspec import Struct
from scipy import integrate, ndimage

from tests.simulators.cells import (
    CHEMISTRY,
    Cells,
    Discharge,
    alone_now,
    alone_throughout,
    discharge,
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
from tests.simulators.noise import bursts, heavy, lag, pink
from tests.simulators.radio import exponent_loss_db, seen_from_body, to_degrees

NAME = name = "event"
DT = 0.1
MHZ = 915.0
MAX_RPM = 98_000.0
FILL_SD = 0.007
TABLE_SHARE = np.array([0.0, 0.2, 0.33, 0.45, 0.55, 0.65, 0.75, 0.85, 0.93, 1.0])
TABLE_ML_MIN = np.array([0.0, 45.0, 92.0, 120.0, 150.0, 205.0, 300.0, 415.0, 520.0, 640.0])
Gain = Callable[[FloatArray, FloatArray], FloatArray]


class Build(Struct, frozen=True, eq=False):
    """An aircraft and its sensors as one season has them."""

    aircraft: Aircraft
    sides: tuple[str, ...]
    tank_ml: float
    table: dict[str, FloatArray]
    gauge: str
    scale: dict[str, float]
    slosh: float
    roles: tuple[str, ...]
    packs: dict[str, Pack]
    cells: dict[str, Cells]
    current_gain: dict[str, float]
    path_ohm: tuple[float, float]
    diode_v: tuple[float, float]
    gain: dict[str, Gain]
    exponent: float
    rate_hz: float
    drift_m: float
    attitude: bool
    speed_by: str
    slim: bool
    lat0: float = -33.1
    lon0: float = 151.2


def build(rng: np.random.Generator, **wanted: Any) -> Build:
    """Draw an aircraft; ``wanted`` overrides single draws, ``slim`` leaves out all but fuel, speed and height."""
    twin = bool(wanted.get("twin", rng.random() < 0.5))
    sides = ("port", "starboard") if twin else ("main",)
    tank_ml = float(rng.uniform(2_800.0, 4_500.0))
    bend = np.r_[0.0, 0.0, np.cumsum(rng.normal(0.0, 0.02, TABLE_SHARE.size - 2))]
    table = {s: np.maximum.accumulate(TABLE_ML_MIN * float(rng.normal(1.0, 0.02)) * (1.0 + bend)) for s in sides}
    pair = bool(wanted.get("pair", rng.random() < 0.5))
    roles = ("rx1", "rx2") if pair else ("rx1",)
    make = str(wanted.get("curve", rng.choice(["polymer", "pouch", "cylinder_b"])))
    rated = float(rng.choice([900.0, 1_500.0]))
    ladder = tuple((float(rng.uniform(0.12, 0.2)), tau) for tau in (1.2, 4.0, 13.0, 45.0))
    ohm, energy = float(rng.uniform(0.012, 0.03)), float(rng.uniform(10_000.0, 35_000.0))
    cells = {
        r: Cells(
            make, tuple(rated * rng.uniform(0.88, 1.0, 2)), tuple(ohm * rng.uniform(0.85, 1.2, 2)), ladder, energy,
            float(rng.uniform(0.4, 1.5)),
        )
        for r in roles
    }  # fmt: skip
    packs = {r: Pack(f"pack of {r}", CHEMISTRY[make], 2, rated, r, brown_out_v=5.5) for r in roles}  # type: ignore[arg-type]
    antennas = tuple(
        Antenna("main", n, (0.2 * n, 0.0, 0.0), axis) for n, axis in ((1, (1.0, 0.0, 0.0)), (2, (0.0, 1.0, 0.0)))
    )
    layouts = (
        AntennaLayout("before", antennas),
        AntennaLayout("after", tuple(Antenna("main", a.number, (0.5, 0.1, 0.0), a.axis) for a in antennas)),
    )
    aircraft = Aircraft(
        "Steps",
        engines=tuple(Engine(s, tank=s, max_rpm=MAX_RPM) for s in sides),
        tanks=tuple(Tank(s, capacity_ml=tank_ml, engine=s, reserve=Reserve(percent=20.0)) for s in sides),
        layouts=layouts,
        fuel=Fuel(),
        radio_mhz=MHZ,
        brown_out_v=5.5,
    )
    shared = float(rng.normal(1.0, 0.05))
    scale = wanted.get("scale", {s: shared * float(rng.normal(1.0, 0.012)) for s in sides})
    if not isinstance(scale, dict):
        scale = dict.fromkeys(sides, float(scale))
    return Build(
        aircraft,
        sides,
        tank_ml,
        table,
        str(wanted.get("gauge", rng.choice(["used", "contents", "percent", "flow"]))),
        scale,
        float(rng.normal(0.0, 0.015)),
        roles,
        packs,
        cells,
        {r: float(rng.normal(1.0, wanted.get("current_sd", 0.02))) for r in roles},
        (float(rng.uniform(0.01, 0.03)), float(rng.uniform(0.01, 0.03))),
        (0.3, 0.3),
        {f"main.antenna{n}": _lumpy(rng) for n in (1, 2)},
        float(wanted.get("exponent", rng.uniform(1.8, 2.6))),
        float(wanted.get("rate_hz", rng.choice([1.0, 2.0, 5.0]))),
        float(wanted.get("drift_m", rng.uniform(0.0, 3.5))),
        bool(wanted.get("attitude", rng.random() < 0.5)),
        str(wanted.get("speed_by", rng.choice(["ground", "air"]))),
        bool(wanted.get("slim", False)),
    )


def _lumpy(rng: np.random.Generator) -> Gain:
    """A pattern of a few lobes and dents (low spherical waves), as an antenna inside a fuselage has."""
    weight = rng.normal(0.0, [2.0, 2.5, 2.0, 2.0, 1.5, 1.5])

    def gain(azimuth: FloatArray, elevation: FloatArray) -> FloatArray:
        a, e = np.radians(azimuth), np.radians(elevation)
        c = np.cos(e)
        waves = [
            c * np.cos(a),
            c * np.sin(a),
            np.sin(e),
            c**2 * np.cos(2 * a),
            c**2 * np.sin(2 * a),
            3 * np.sin(e) ** 2 - 1,
        ]
        return np.asarray(sum(w * v for w, v in zip(weight, waves, strict=True)), float)

    return gain


class _Course(Struct, frozen=True, eq=False):
    t: FloatArray
    x: FloatArray
    y: FloatArray
    h: FloatArray
    speed: FloatArray
    heading: FloatArray
    roll: FloatArray
    pitch: FloatArray
    share: FloatArray
    take_off_s: float
    touch_down_s: float
    lit_s: float
    cut_s: float


def _course(minutes: float, hard: float, rng: np.random.Generator) -> _Course:
    """States one after the other: stand, light, idle, roll, legs and corners, approach, roll out, cool, off."""
    lit, idle = rng.uniform(8.0, 14.0), rng.uniform(20.0, 45.0)
    pull = rng.uniform(3.0, 4.5)
    v_up = rng.uniform(22.0, 28.0)
    roll_s = v_up / pull
    legs = max(4, 4 * round(minutes * 60.0 / 48.0))
    long, wide = rng.uniform(420.0, 600.0), rng.uniform(160.0, 260.0)
    length = np.tile([long, wide, long, wide], legs // 4)
    v = rng.uniform(34.0, 70.0, legs)
    leg_s = length / v
    height = np.r_[rng.uniform(30.0, 60.0), rng.uniform(20.0, 140.0, legs - 1)]
    t_up = lit + 25.0 + idle + roll_s
    climb_s, final_s, sink = 9.0, rng.uniform(10.0, 16.0), rng.uniform(1.5, 2.6)
    corners_t = t_up + climb_s + np.r_[0.0, np.cumsum(leg_s)]
    x0 = 0.5 * pull * roll_s**2
    x1 = x0 + 30.0 * climb_s
    turn = np.array([[long, 0.0], [0.0, wide], [-long, 0.0], [0.0, -wide]])
    corners = np.array([x1, 0.0]) + np.r_[np.zeros((1, 2)), np.cumsum(np.tile(turn, (legs // 4, 1)), axis=0)]
    back_t = corners_t[-1] + (x1 + 150.0) / 45.0
    t_down = back_t + 6.0 + final_s
    stop = t_down + rng.uniform(8.0, 14.0)
    end = stop + rng.uniform(45.0, 70.0)
    t = np.arange(0.0, end, DT)
    knots_t = np.r_[0.0, t_up - roll_s, t_up, corners_t, back_t, t_down, stop, end]
    knots_x = np.r_[0.0, 0.0, x0, corners[:, 0], -150.0, 0.0, 90.0, 90.0]
    knots_y = np.r_[0.0, 0.0, 0.0, corners[:, 1], 0.0, 0.0, 0.0, 0.0]
    knots_h = np.r_[0.0, 0.0, 0.0, height[0], height, sink * (t_down - back_t), 0.0, 0.0, 0.0]
    x, y = (ndimage.gaussian_filter1d(np.interp(t, knots_t, k), 0.8 / DT) for k in (knots_x, knots_y))
    rolling = (t > t_up - roll_s) & (t < t_up)
    x = np.where(t < t_up, np.where(rolling, 0.5 * pull * (t - t_up + roll_s) ** 2, 0.0), x)
    h = np.interp(t, knots_t, knots_h)
    speed = np.interp(t, np.r_[0.0, t_up - roll_s, t_up, t_up + 5.0], np.r_[0.0, 0.0, v_up, v_up + 6.0])
    state = np.clip(np.searchsorted(corners_t, t) - 1, -1, legs)
    flying_leg = (state >= 0) & (state < legs)
    speed = np.where(flying_leg, lag(np.where(flying_leg, v[np.clip(state, 0, legs - 1)], v_up + 6.0), DT, 1.5), speed)
    down = t >= corners_t[-1]
    speed = np.where(
        down, np.interp(t, [corners_t[-1], back_t, t_down, stop, stop + 0.1], [45.0, 32.0, 25.0, 3.0, 0.0]), speed
    )
    heading = np.degrees(np.unwrap(np.arctan2(np.gradient(x), np.gradient(y) + 1e-12)))
    heading = np.where(speed < 2.0, 90.0, heading)
    near = np.abs(t[:, None] - corners_t[1:-1]).min(axis=1)
    bank = np.where((near < 1.6) & flying_leg, -rng.uniform(35.0, 60.0), 0.0)
    share = np.select(
        [
            t < lit,
            t < lit + 25.0,
            t < t_up - roll_s - 1.0,
            t < t_up + climb_s,
            flying_leg,
            t < back_t,
            t < t_down,
            t < end,
        ],
        [0.0, 0.33, 0.33, 0.97, 0.0, 0.55, 0.45, 0.33],
    )
    leg_share = np.clip(0.45 + 0.5 * (v / 75.0) ** 1.5 * (1.0 + hard), 0.4, 1.0)
    share = np.where(flying_leg, leg_share[np.clip(state, 0, legs - 1)], share)
    lit_up = np.clip((t - lit + 8.0) / 30.0, 0.0, 1.0)
    cut = end - rng.uniform(18.0, 28.0)
    share = np.where(lit_up < 1.0, 0.33 * lit_up, lag(share, DT, 0.9))
    share = np.where(t > cut, 0.33 * np.exp(-(t - cut) / 5.0), share)
    return _Course(
        t, x, y, h, speed, heading, lag(bank, DT, 0.3) + pink(t.size, 3.0, rng) * (h > 0),
        np.degrees(np.arctan2(np.gradient(h, DT), np.maximum(speed, 5.0))) + 3.0 * (h > 0), share,
        float(t_up), float(t_down), float(lit), float(cut),
    )  # fmt: skip


def fly(b: Build, condition: Condition, rng: np.random.Generator) -> Simulated:
    """Fly once."""
    c = _course(condition.minutes, condition.hard, rng)
    t, n = c.t, c.t.size
    rows = uneven_rows(float(t[-1]), b.rate_hz, rng, shape=2.5, holes_per_min=0.6)
    writer = Writer(t, rows, rng)
    columns, log = writer.columns, writer.log
    figures: dict[str, float] = {}
    state: dict[str, float] = {}

    drift = pink(n, b.drift_m, rng)
    log("position.height_m", c.h + drift - drift[0] + heavy(n, 0.3, rng), 0.5, step=0.1)
    if b.speed_by == "ground":
        log("position.ground_speed_m_s", np.abs(c.speed + heavy(n, 0.3, rng)), 1.0, late=0.9, step=0.1)
    else:
        wind = rng.uniform(0.0, 6.0)
        read = np.hypot(c.speed - wind * np.cos(np.radians(c.heading)), 1.0) + heavy(n, 0.8, rng)
        log("motion.airspeed_m_s", np.maximum(read, 0.0), 0.2, step=0.5)

    burned: dict[str, tuple[FloatArray, FloatArray]] = {}
    speeds: dict[str, tuple[FloatArray, FloatArray]] = {}
    notes: dict[str, FuelNote] = {}
    air = (c.take_off_s, c.touch_down_s)
    minutes = (air[1] - air[0]) / 60.0
    rates: list[float] = []
    for k, side in enumerate(b.sides):
        share = np.clip(c.share * (1.0 + pink(n, 0.008, rng)), 0.0, 1.05)
        lit = (t > c.lit_s) & (t < c.cut_s)
        flow = np.interp(share, TABLE_SHARE, b.table[side]) * lit * condition.burn.get(side, 1.0) * condition.day
        total = np.asarray(integrate.cumulative_trapezoid(flow / 60.0, dx=DT, initial=0.0), float)
        burned[side] = t, total
        speeds[side] = t, share * MAX_RPM
        log(f"engine.{side}.speed_rpm", share * MAX_RPM, 0.5, step=100.0)
        filled = b.tank_ml * float(rng.normal(1.0, FILL_SD))
        read = total * b.scale[side]
        leans = b.slosh * b.tank_ml * np.sin(np.radians(c.roll)) * (1 - 2 * k)
        noise = (heavy(n, 0.006, rng) + pink(n, 0.003, rng)) * b.tank_ml * (c.h > 0)
        if b.gauge == "used":
            log(f"fuel.{side}.used_ml", read, 1.0, step=1.0)
            at, counted = columns[f"fuel.{side}.used_ml"]
            columns[f"fuel.{side}.used_ml"] = at, counted % 1_000.0
        elif b.gauge == "flow":
            shown = flow * b.scale[side] * (1.0 + pink(n, 0.01, rng)) + heavy(n, 8.0, rng) * (flow > 0)
            log(f"fuel.{side}.flow_ml_per_min", np.maximum(shown, 0.0), 1.0, step=1.0)
        elif b.gauge == "percent":
            shown = 100.0 * (filled - read + leans + noise) / b.tank_ml
            log(f"fuel.{side}.remaining_percent", np.clip(shown, 0.0, 104.0), 1.0, step=1.0)
        else:
            log(f"fuel.{side}.remaining_ml", filled - read + leans + noise, 1.0, step=10.0)
        whole = float(total[-1])
        up, down = np.interp(air, t, total)
        if condition.noted:
            notes[side] = FuelNote(filled * float(rng.normal(1, FILL_SD)), whole * float(rng.normal(1, FILL_SD)))
        rates.append(float(down - up) / minutes)
        left, stem = filled - float(down), f"fuel.tanks.{side}"
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
        state |= {
            f"tank.{side}.scale": b.scale[side],
            f"tank.{side}.burn": condition.burn.get(side, 1.0),
            f"tank.{side}.need_ml": float(up),
            f"tank.{side}.rate": rates[-1],
            f"tank.{side}.filled_ml": filled,
        }
    if len(rates) == 2:
        figures["fuel.imbalance"] = 200.0 * (rates[0] - rates[1]) / (rates[0] + rates[1])
    figures["fuel.burned"] = sum(float(v[1][-1]) for v in burned.values())
    figures["fuel.rate"] = sum(rates)
    figures["fuel.endurance"] = min(figures[f"fuel.tanks.{s}.content.endurance"] for s in b.sides)
    figures |= {"phases.take_off_s": air[0], "phases.touch_down_s": air[1], "phases.airborne_min": minutes}

    charge: dict[str, tuple[FloatArray, FloatArray]] = {}
    pack_notes: dict[str, PackNote] = {}
    gains: dict[str, Gain] = {}
    if not b.slim:
        charge, pack_notes = _packs(b, c, condition, rng, writer, figures, state)
        gains = _radio(b, c, condition, rng, rows, columns, figures, drift)
    context = FlightContext(
        flight_id=f"{NAME}-{condition.number:03d}",
        aircraft=b.aircraft,
        packs=b.packs if not b.slim else {},
        layout=condition.layout or b.aircraft.layouts[0],
        fuel_notes=notes,
        pack_notes=pack_notes,
        air_temperature_c=condition.air_c if condition.temperature_noted else None,
    )
    truth = Truth(air[0], air[1], figures, burned, charge, speeds, state, gains)
    return Simulated(writer.telemetry(), context, truth)


def _steps(c: _Course, rng: np.random.Generator) -> FloatArray:
    """Loads that switch: each of Poisson-many holds its amplitude for a while; gear and brakes hold longest."""
    t = c.t
    count = rng.poisson((c.touch_down_s - c.take_off_s) * 0.5)
    at = rng.uniform(c.take_off_s, c.touch_down_s, count)
    held, size = rng.exponential(0.9, count) + 0.2, rng.gamma(2.0, 1.1, count)
    at = np.r_[at, c.take_off_s + 6.0, c.touch_down_s - 22.0, c.touch_down_s]
    held, size = np.r_[held, 3.5, 3.5, 8.0], np.r_[size, 5.0, 5.0, 1.5]
    change = np.zeros(t.size + 1)
    np.add.at(change, np.searchsorted(t, at), size)
    np.add.at(change, np.searchsorted(t, at + held), -size)
    base = np.where(c.h > 0, 1.8, 0.7)
    return np.asarray(np.maximum(base + np.cumsum(change[:-1]) + 0.25 * np.abs(pink(t.size, 1.0, rng)), 0.1), float)


def _worn(cells: Cells, role: str, condition: Condition) -> Cells:
    ohm, mah = condition.resistance.get(role, 1.0), condition.capacity.get(role, 1.0)
    # The weaker cell wears twice as fast as the better one.
    worn = np.where(np.array(cells.capacity_mah) == min(cells.capacity_mah), mah, np.sqrt(mah))
    return Cells(
        cells.curve, tuple(np.array(cells.capacity_mah) * worn), tuple(r * ohm for r in cells.ohm), cells.pairs,
        cells.j_per_mol, cells.knee,
    )  # fmt: skip


def _packs(
    b: Build, c: _Course, condition: Condition, rng: np.random.Generator, writer: Writer, figures: dict[str, float],
    state: dict[str, float],
) -> tuple[dict[str, tuple[FloatArray, FloatArray]], dict[str, PackNote]]:  # fmt: skip
    n, log = c.t.size, writer.log
    celsius = np.full(n, condition.air_c + rng.uniform(2.0, 8.0))
    load = _steps(c, rng)
    cells = tuple(_worn(b.cells[r], r, condition) for r in b.roles)
    full = rng.uniform(0.98, 1.0, 2)
    flown: tuple[Discharge, ...]
    if len(cells) == 2:
        one, two, bus = share_load((cells[0], cells[1]), load, DT, celsius, b.path_ohm, b.diode_v, (full[0], full[1]))
        flown = (one, two)
        log("bus.main.voltage_v", bus + heavy(n, 0.01, rng), 0.5, step=0.01)
    else:
        flown = (discharge(cells[0], load, DT, celsius, full[0]),)
    charge, notes = {}, {}
    late = c.touch_down_s - (c.touch_down_s - c.take_off_s) / 3.0
    minutes = (c.touch_down_s - c.take_off_s) / 60.0
    off = rng.normal(0.0, 0.01)
    for k, role in enumerate(b.roles):
        d, p = flown[k], cells[k]
        period = max(0.2, 1.0 / b.rate_hz)
        log(f"pack.{role}.voltage_v", d.volts + heavy(n, 0.008, rng), period, step=0.02)
        log(f"pack.{role}.current_a", d.current_a * b.current_gain[role] + off + heavy(n, 0.05, rng), period, step=0.1)
        log(f"pack.{role}.used_mah", (d.given_mah * b.current_gain[role]), 1.0, step=1.0)
        for number, volts in enumerate(d.cell_v, 1):
            log(f"pack.{role}.cell{number}_v", volts + heavy(n, 0.004, rng), 1.0, step=0.01)
        charge[role] = c.t, d.given_mah
        whole = float(d.given_mah[-1])
        if condition.noted:
            notes[role] = PackNote(
                charged_mah=(whole + float(1.0 - full[k]) * p.usable_mah) * float(rng.normal(1.005, 0.01)),
                temperature_c=float(celsius[0] + rng.normal(0.0, 1.2)) if condition.temperature_noted else None,
            )
        sag = d.rest_v - d.volts
        mohm = 1000.0 * weighted_ohm(one_second_ohm(p, d), d.current_a)
        reference = 1000.0 * sum(p.ohm) * p.waited(1.0)
        left = [full[k] - whole / mah for mah in p.capacity_mah]
        stem = f"packs.packs.{role}"
        up, down = np.interp([c.take_off_s, c.touch_down_s], c.t, d.given_mah)
        figures |= {
            f"{stem}.charge.used_mah": whole,
            f"{stem}.charge.airborne_mah_per_min": float(down - up) / minutes,
            f"{stem}.voltage.rest_before_v": float(d.rest_v[0]),
            f"{stem}.voltage.rest_after_v": float(d.rest_v[-1]),
            f"{stem}.state.before_percent": 100.0 * float(full[k]),
            f"{stem}.state.after_percent": 100.0 * float(np.mean(left)),
            f"{stem}.capacity.by_discharge_mah": p.usable_mah,
            f"{stem}.capacity.by_charge_mah": p.usable_mah,
            f"{stem}.resistance.as_read_mohm": mohm,
            f"{stem}.resistance.by_steps_mohm": mohm,
            f"{stem}.resistance.value_mohm": reference,
            f"{stem}.voltage.deepest_sag_v": float(sag.max()),
            f"{stem}.resistance.sag_at_load_v": mohm / 100.0,
            f"{stem}.state.temperature_c": float(celsius.mean()),
        }
        for number, ohm in enumerate(d.cell_ohm):
            figures[f"{stem}.resistance.cells_mohm.{number}"] = 1000.0 * weighted_ohm(ohm * p.waited(1.0), d.current_a)
        if len(cells) == 2:
            # The receivers see the bus: behind its own leads and diode the survivor carries the whole load.
            path_v = b.diode_v[k] + b.path_ohm[k] * load
            now = alone_now(p, d, flown[1 - k].current_a, DT) - path_v
            throughout = alone_throughout(p, load, DT, celsius, full[k]) - path_v
            figures |= {
                f"packs.buses.receivers.alone.{role}.failed_now_v": float(now.min()),
                f"packs.buses.receivers.alone.{role}.failed_before_v": float(throughout.min()),
                f"packs.buses.receivers.path_resistance_mohm.{role}": 1000.0 * b.path_ohm[k],
                f"packs.buses.receivers.path_drop_v.{role}": b.diode_v[k],
                f"{stem}.resistance.leads_mohm": 1000.0 * b.path_ohm[k],
            }
        state |= {
            f"pack.{role}.capacity_mah": p.usable_mah,
            f"pack.{role}.reference_mohm": reference,
            f"pack.{role}.kj_per_mol": p.j_per_mol / 1000.0,
            f"pack.{role}.depth": whole / p.usable_mah,
            f"pack.{role}.more_flights": (full[k] - whole / p.usable_mah - 0.3) * p.usable_mah / whole,
            f"pack.{role}.spread_v": float(
                np.median(np.ptp(d.cell_v[:, (c.t > late) & (c.t < c.touch_down_s)], axis=0))
            ),
        }
    return charge, notes


def _radio(
    b: Build, c: _Course, condition: Condition, rng: np.random.Generator, rows: FloatArray, columns: dict[str, Any],
    figures: dict[str, float], drift: FloatArray,
) -> dict[str, Gain]:  # fmt: skip
    n = c.t.size
    fixes = take_rows(rows, 1.0, rng)
    lat, lon = to_degrees(c.x + pink(n, 1.5, rng), c.y + pink(n, 1.5, rng), b.lat0, b.lon0)
    columns["position.latitude_deg"] = fixes, np.round(np.interp(rows[fixes] - 0.9, c.t, lat), 6)
    columns["position.longitude_deg"] = fixes, np.round(np.interp(rows[fixes] - 0.9, c.t, lon), 6)
    if b.attitude:
        for name_, values in (("roll", c.roll), ("pitch", c.pitch), ("heading", c.heading % 360.0)):
            at = take_rows(rows, 0.2, rng)
            read = np.interp(rows[at], c.t, values) + heavy(at.size, 1.5, rng)
            columns[f"attitude.{name_}_deg"] = at, np.round(read % 360.0 if name_ == "heading" else read, 0)
    at = take_rows(rows, 0.5, rng)
    t = rows[at]
    # The pilot walks off to the side of where the aircraft stood.
    stand_x, stand_y = rng.normal(0.0, 8.0, 2)
    x, y, h = (np.interp(t, c.t, v) for v in (c.x - stand_x, c.y - stand_y, c.h + 0.3))
    heading, pitch, roll = (np.interp(t, c.t, v) for v in (c.heading, c.pitch, c.roll))
    azimuth, elevation = seen_from_body(-x, -y, 1.6 - h, heading, pitch, roll)
    range_m = np.sqrt(x**2 + y**2 + (h - 1.6) ** 2)
    figures["link.max_range_m"] = float(range_m[(t > c.take_off_s) & (t < c.touch_down_s)].max())
    loss = exponent_loss_db(range_m, MHZ, b.exponent)
    for name_, gain in b.gain.items():
        lift = condition.antenna_db.get(name_, 0.0)
        day = rng.normal(0.0, 0.7)
        power = 14.0 - loss + gain(azimuth, elevation) + lift + day + heavy(t.size, 2.0, rng) + pink(t.size, 1.5, rng)
        columns[f"link.{name_}_rssi_dbm"] = at, np.round(power)
        bad = bursts(t.size, 0.4, 0.01, rng)
        lost = rng.poisson(np.where(bad > 0, 3.0, 0.02)) + (power < -92.0) * 3
        columns[f"link.{name_}_lost"] = at, (np.cumsum(lost) % 256).astype(float)
        figures[f"link.receivers.main.antennas.{name_}.distance_exponent"] = b.exponent
    return dict(b.gain)
