"""One small invented flight, from rules of its own: what the sensors of a turbine model would have said.

`fly(seed, engines, receivers)` gives a dictionary of signal name to values in canonical units, one value per sample.
Names are dotted: `speed.0` is the shaft speed of the first engine, `pack_v.1` the voltage of the second receiver pack,
`antenna.0.1` the second antenna of the first receiver. Nothing here knows the importer.
"""

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]
RATE = 2.0
"Samples in a second."


def lag(wanted: Values, seconds: float) -> Values:
    """Follow `wanted` with a first-order delay, by a kernel (no loop over samples)."""
    span = np.arange(0.0, 6.0 * seconds, 1.0 / RATE)
    kernel = np.exp(-span / seconds)
    kernel /= kernel.sum()
    padded = np.concatenate([np.full(len(span) - 1, wanted[0]), wanted])
    return np.convolve(padded, kernel, mode="valid")


def wander(rng: np.random.Generator, size: int, seconds: float) -> Values:
    """Smooth noise of about unit size."""
    raw = lag(rng.normal(0.0, 1.0, size), seconds)
    return raw / (float(np.std(raw)) + 1e-9)


def fly(seed: int, engines: int = 1, receivers: int = 1, cells: int = 2) -> dict[str, Values]:
    """Make one flight of about four minutes."""
    rng = np.random.default_rng(seed)
    aloft = float(rng.uniform(95.0, 150.0))
    marks = np.cumsum([6.0, 18.0, 5.0, 14.0, 14.0, 12.0, aloft, 16.0, 14.0, 14.0])
    on, lit, idle, taxi, roll_out, away, back, down, off, end = marks
    t = np.arange(0.0, end, 1.0 / RATE)
    size = len(t)
    out: dict[str, Values] = {"time": t}

    turns = np.interp(t, [away, away + 4.0, back, back + 8.0], [0.0, 1.0, 1.0, 0.0]) * (t < down)
    stick = np.interp(
        t,
        [0.0, idle, taxi, roll_out, roll_out + 2.0, back - 4.0, back, down, down + 3.0, end],
        [0.0, 0.0, 8.0, 12.0, 100.0, 62.0, 30.0, 16.0, 0.0, 0.0],
    )
    stick = np.clip(stick + 24.0 * turns * wander(rng, size, 4.0), 0.0, 100.0)
    out["throttle"] = stick

    air = lag(np.where((t > roll_out) & (t < down), 22.0 + 0.42 * stick, np.where(t > taxi, 3.0, 0.0)), 3.0)
    air = np.where((t < taxi) | (t > off), 0.0, air)
    out["airspeed"] = np.clip(air + 0.4 * rng.normal(size=size) * (air > 2.0), 0.0, None)
    bank = np.where(np.sin(2 * np.pi * (t - away) / 23.0) > -0.35, 1.0, -0.8) * turns
    roll = lag(bank * 48.0, 0.8) + 2.0 * turns * rng.normal(size=size)
    out["roll"] = roll + 0.4
    rate = np.degrees(9.81 * np.tan(np.radians(np.clip(roll, -60, 60))) / np.clip(air, 12.0, None)) * (air > 12.0)
    start = float(rng.uniform(20.0, 340.0))
    track = start + np.cumsum(rate) / RATE
    out["track"] = np.mod(track, 360.0)
    out["heading"] = np.mod(track + 3.0 * np.sin(np.radians(track)) + 0.6 * rng.normal(size=size), 360.0)
    wind, from_deg = float(rng.uniform(1.5, 5.0)), float(rng.uniform(0.0, 360.0))
    north = air * np.cos(np.radians(track)) - wind * np.cos(np.radians(from_deg)) * (air > 12.0)
    east = air * np.sin(np.radians(track)) - wind * np.sin(np.radians(from_deg)) * (air > 12.0)
    out["ground_speed"] = np.hypot(north, east)
    y, x = np.cumsum(north) / RATE, np.cumsum(east) / RATE
    latitude, longitude = float(rng.uniform(38.0, 54.0)), float(rng.choice([-3.4, 1.7, 7.9, 11.6]))
    out["latitude"] = latitude + y / 111_200.0
    out["longitude"] = longitude + x / (111_200.0 * np.cos(np.radians(latitude)))
    height = np.interp(t, [roll_out + 4.0, away + 6.0, back, down], [0.0, 90.0, 70.0, 0.0])
    height = height + turns * 34.0 * np.clip(wander(rng, size, 5.0), -1.6, 2.5)
    height = np.where((t < roll_out + 3.0) | (t > down), 0.0, np.clip(lag(np.clip(height, 0.0, None), 1.5), 0.0, None))
    field = float(rng.uniform(35.0, 560.0))
    out["height"] = height + 0.15 * rng.normal(size=size)
    out["altitude"] = field + height + 0.6 * rng.normal(size=size)
    out["vario"] = np.gradient(height, 1.0 / RATE) + 0.1 * rng.normal(size=size)
    out["pitch"] = np.degrees(np.arctan2(out["vario"], np.clip(air, 14.0, None))) + 2.2 + 0.5 * rng.normal(size=size)
    load = 1.0 / np.cos(np.radians(np.clip(roll, -65, 65)))
    out["accel_x"] = np.gradient(air, 1.0 / RATE) + 0.5 * rng.normal(size=size)
    out["accel_y"] = 0.6 * rng.normal(size=size) + 0.02 * roll
    out["accel_z"] = -9.81 * load + 0.8 * rng.normal(size=size) * (t > lit)
    out["satellites"] = np.clip(np.round(np.interp(t, [0, 20, 60], [9, 12, 15]) + 0.6 * rng.normal(size=size)), 7, 18)
    ground_t = float(rng.uniform(9.0, 27.0))
    out["air_temperature"] = ground_t - 0.0065 * height + 0.1 * rng.normal(size=size)
    # Pressure against height: the ISA troposphere (ISO 2533), from memory.
    out["air_pressure"] = 101_325.0 * (1.0 - 2.25577e-5 * (field + height)) ** 5.25588 + 3.0 * rng.normal(size=size)

    busy = 0.3 + turns
    out["aileron"] = np.clip(np.gradient(roll, 1.0 / RATE) * 1.1 + 6.0 * busy * rng.normal(size=size), -100, 100)
    out["elevator"] = np.clip(10.0 * (load - 1.0) + 7.0 * busy * rng.normal(size=size) + 1.5, -100, 100)
    out["rudder"] = np.clip(0.1 * roll + 5.0 * busy * wander(rng, size, 1.0), -100, 100)
    out["flap"] = np.select([t < away, t < back, t < off], [40.0, 0.0, 85.0], 0.0)
    out["brake"] = np.where((t < taxi) | (t > off), 60.0, np.where(t > down, 45.0, 0.0))
    gear = (t < away + 3.0) | (t > back - 3.0)
    out["gear"] = gear.astype(np.float64)

    moving = np.abs(np.gradient(out["aileron"])) + np.abs(np.gradient(out["elevator"]))
    for n in range(receivers):
        rated = float(rng.choice([2600.0, 3200.0, 5000.0]))
        amps = 0.85 + 0.02 * moving + 5.0 * np.abs(np.gradient(out["gear"])) + 0.05 * rng.random(size)
        amps = amps * float(rng.uniform(0.8, 1.2))
        used = np.cumsum(amps) / RATE / 3.6
        full = float(rng.uniform(4.05, 4.18)) if cells != 5 else 1.42
        fall = 0.9 if cells != 5 else 0.15
        open_v = full - fall * (used + 40.0 * n) / rated
        each = open_v - 0.018 * amps + 0.002 * rng.normal(size=size)
        offsets = rng.normal(0.0, 0.008, cells)
        for c in range(cells):
            out[f"cell.{n}.{c}"] = each + offsets[c]
        out[f"pack_v.{n}"] = cells * each + float(offsets.sum())
        out[f"pack_a.{n}"] = amps
        out[f"pack_mah.{n}"] = used
        out[f"pack_t.{n}"] = ground_t + 1.5 + 0.02 * used + 0.15 * rng.normal(size=size)
        out[f"bus_v.{n}"] = out[f"pack_v.{n}"] - 0.12 * amps
        away_m = np.sqrt(x**2 + y**2 + height**2) + 12.0
        base = -34.0 - 20.0 * np.log10(away_m / 12.0)
        both = []
        for a in range(2):
            pattern = 5.0 * np.cos(np.radians(track + 70.0 * a + 40.0 * n)) - 2.0 * a
            both.append(base + pattern + 2.0 * rng.normal(size=size))
            out[f"antenna.{n}.{a}"] = both[a]
            fails = rng.random(size) < np.clip((-both[a] - 62.0) / 60.0, 0.002, 0.5)
            out[f"antenna_lost.{n}.{a}"] = np.cumsum(fails * rng.integers(1, 4, size)).astype(np.float64)
        best = np.maximum(both[0], both[1])
        out[f"rssi.{n}"] = best
        out[f"signal.{n}"] = np.clip(np.round(100.0 + 0.9 * (best + 40.0)), 5.0, 100.0)
        out[f"quality.{n}"] = np.clip(
            np.round(100.0 - np.clip(-best - 58.0, 0, None) * 1.1 - rng.random(size)), 40, 100
        )
        missed = rng.random(size) < np.clip((-best - 60.0) / 40.0, 0.004, 0.6)
        out[f"lost.{n}"] = np.cumsum(missed * rng.integers(1, 4, size)).astype(np.float64)
        out[f"failsafe.{n}"] = np.zeros(size)
        out[f"down.{n}"] = best - 7.0 + 1.5 * rng.normal(size=size)
    for n in range(engines):
        idle_n, top_n = float(rng.uniform(31e3, 37e3)), float(rng.uniform(98e3, 124e3))
        wanted = np.where((t < on) | (t > off), 0.0, idle_n + (top_n - idle_n) * (stick / 100.0) ** 0.7)
        wanted = np.where((t >= on) & (t < lit), np.interp(t, [on, lit], [1500.0, idle_n]), wanted)
        shaft = np.clip(lag(wanted, 1.8) + 60.0 * rng.normal(size=size) * (t > on), 0.0, None)
        out[f"speed.{n}"] = shaft
        heat = np.where((t < on) | (t > off), ground_t, 455.0 + 170.0 * (shaft / top_n) ** 2)
        heat = heat + 150.0 * np.exp(-(((t - on - 9.0) / 4.0) ** 2))
        out[f"egt.{n}"] = lag(heat, 3.0 + 0.3 * n) + 1.5 * rng.normal(size=size)
        flow = np.where(shaft > 5e3, 75.0 + float(rng.uniform(330, 460)) * (shaft / top_n) ** 2.4, 0.0)
        out[f"flow.{n}"] = flow + 2.0 * rng.normal(size=size) * (flow > 1.0)
        burnt = np.cumsum(flow) / RATE / 60.0
        tank = float(rng.choice([2500.0, 3200.0, 4000.0]))
        out[f"fuel_used.{n}"] = burnt
        out[f"fuel_left.{n}"] = tank - burnt
        out[f"fuel_percent.{n}"] = 100.0 * (tank - burnt) / tank
        out[f"pump_v.{n}"] = np.where(flow > 1.0, 0.6 + 4.4 * flow / 560.0, 0.0) + 0.02 * np.abs(rng.normal(size=size))
        out[f"pump_percent.{n}"] = np.clip(100.0 * out[f"pump_v.{n}"] / 8.0, 0.0, 100.0)
        out[f"engine_throttle.{n}"] = np.where(t < on, 0.0, np.clip(stick + 0.5 * rng.normal(size=size), 0.0, 100.0))
        draw = 0.12 + 0.35 * out[f"pump_v.{n}"] + np.where((t >= on) & (t < lit), 3.5, 0.0)
        draw = draw + 0.02 * rng.random(size)
        used = np.cumsum(draw) / RATE / 3.6
        out[f"ecu_v.{n}"] = 9.9 - 0.9 * used / 1450.0 - 0.035 * draw + 0.004 * rng.normal(size=size)
        out[f"ecu_a.{n}"] = draw
        out[f"ecu_mah.{n}"] = used
        out[f"ecu_t.{n}"] = ground_t + 4.0 + 0.01 * used + 0.1 * rng.normal(size=size)
        out[f"state.{n}"] = np.select([t < on, t < lit, t < idle, t < off], [0.0, 1.0, 2.0, 3.0], 4.0)
    out["servo_a"] = 0.1 + 0.004 * moving + 0.02 * rng.random(size)
    out["board_t"] = ground_t + 9.0 + 0.01 * t + 0.1 * rng.normal(size=size)
    out["hdop"] = np.clip(0.8 + 0.1 * rng.normal(size=size), 0.5, 2.0)
    out["vibration"] = 0.2 + 3.0 * out["speed.0"] / 1.2e5 + 0.1 * rng.random(size)
    out["row"] = np.arange(1, size + 1, dtype=np.float64)
    out["fix"] = np.full(size, 3.0)
    return out
