"""The flight of the second pool: its values come from no rule of the importer, nor of the other hands.

A twin (or single) turbine model jet starts, taxies, flies circuits, lands and cools down. Every signal is a plain array
in the channel's own unit; what is no channel has a name that begins with ``x_``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]


def lag(x: Values, tau: float, step: float) -> Values:
    """First-order lag with time constant ``tau`` seconds, as a convolution (no loop)."""
    n = min(len(x), max(2, int(6 * tau / step)))
    kernel = np.exp(-np.arange(n) * step / tau)
    padded = np.concatenate([np.full(n, x[0]), x])
    return np.convolve(padded, kernel / kernel.sum())[n : n + len(x)]


def wander(rng: np.random.Generator, n: int, tau: float, step: float, size: float) -> Values:
    """Slow noise of standard deviation near ``size``."""
    made = lag(rng.normal(size=n), tau, step)
    return made * size / (made.std() + 1e-12)


class Flight:
    """One flight's signals by channel name, instances left out; side 0 is left or first, side 1 right or second."""

    def __init__(self, seed: int, rate: float = 5.0, seconds: float = 280.0) -> None:
        rng = self.rng = np.random.default_rng(seed)
        step = 1 / rate
        t = self.t = np.arange(0, seconds, step)
        n = len(t)
        start, off, land, cut = 12.0, 62.0, seconds - 55, seconds - 25
        flying = (t > off) & (t < land)
        knots = np.arange(off, land, 7.0)
        wish = np.interp(
            t, knots, rng.choice([0.25, 0.4, 0.55, 0.8, 1.0], len(knots)) * rng.uniform(0.85, 1, len(knots))
        )
        stick = np.where(flying, wish, 0.0)
        stick = np.where((t > off - 9) & (t < off + 9), 1.0, stick)
        stick = np.where((t > start + 25) & (t < off - 9), 0.06 + 0.1 * (np.sin(t / 3) > 0.4), stick)
        stick = lag(stick, 0.35, step)
        running = (t > start + 9) & (t < cut)
        self.data: dict[str, tuple[Values, Values]] = {}
        self.one: dict[str, Values] = {}
        top = rng.choice([98_000, 118_000, 128_000, 154_000])
        idle = top * rng.uniform(0.26, 0.32)
        used_all, flow_all = [], []
        for side in (0, 1):
            own = 1 + 0.012 * side + rng.normal(0, 0.004)
            goal = np.where(running, idle + (top * own - idle) * stick**0.8, 0.0)
            goal = np.where((t > start) & (t <= start + 9), 0.12 * top, goal)
            rpm = lag(goal, 1.1 + 0.25 * side, step)
            rpm = np.maximum(0, rpm + np.where(rpm > 2000, rng.normal(0, 90, n), 0))
            rpm = np.where(rpm < 400, 0, rpm)
            heat = (
                22 + 440 * (rpm > idle * 0.5) + 190 * (rpm / top) ** 2 + 0.004 * np.gradient(rpm, step).clip(0, 40_000)
            )
            heat = heat + np.where((t > start + 4) & (t < start + 12), 240, 0)
            egt = lag(heat, 2.2 + 0.4 * side, step) + rng.normal(0, 1.5, n) + 8 * side
            flow = np.where(rpm > idle * 0.5, 95 + 560 * own**6 * (rpm / top) ** 2.6, 0) + np.where(
                rpm > idle * 0.5, rng.normal(0, 3, n), 0
            )
            flow = np.maximum(flow, 0)
            used = np.cumsum(flow) * step / 60
            size = rng.choice([2600, 3200, 4100])
            slosh = wander(rng, n, 2, step, 6)
            pump = np.where(flow > 0, 0.55 + flow / 260, 0) + np.where(flow > 0, rng.normal(0, 0.02, n), 0)
            self._put("engine.speed_rpm", side, rpm)
            self._put("engine.egt_c", side, egt)
            self._put("engine.pump_v", side, pump)
            self._put("engine.pump_percent", side, np.clip(pump * 19, 0, 100))
            self._put("engine.throttle_percent", side, np.clip(100 * lag(stick, 0.15, step) + 0.4 * side, 0, 100))
            self._put("fuel.flow_ml_per_min", side, flow)
            self._put("fuel.used_ml", side, used)
            self._put("fuel.remaining_ml", side, size - used + slosh)
            self._put("fuel.remaining_percent", side, np.clip(100 * (size - used) / size, 0, 100))
            used_all.append(used)
            flow_all.append(flow)
            self._put("x_state", side, np.select([t < start, t < start + 9, t < start + 25, t < cut], [0, 2, 4, 7], 9))
            self._put("x_shaft_power", side, 0.0006 * rpm)
            self._put("x_case_temp", side, lag(20 + 0.12 * egt, 40, step))
        sat = np.clip(stick, 0, 1)
        # The path: circuits of a racetrack, seen from a field with an invented position.
        speed = np.where(flying, 24 + 38 * lag(sat, 4, step), 0) + np.where((t > off - 9) & (t < land + 10), 6, 0)
        speed = lag(speed, 1.5, step)
        speed = np.where(speed < 0.4, 0, speed)
        turn = np.where(flying, 0.16 * (np.sin(t / 6.3 + rng.uniform(0, 3)) > 0.1) * (1 + 0.3 * np.sin(t / 31)), 0)
        turn = lag(turn, 0.8, step)
        course = np.cumsum(turn) * step + rng.uniform(0, 6.28)
        north = np.cumsum(speed * np.cos(course)) * step
        east = np.cumsum(speed * np.sin(course)) * step
        north, east = north - 0.9 * np.linspace(0, north[-1], n), east - 0.9 * np.linspace(0, east[-1], n)
        lat0, lon0 = (
            rng.choice([51.3274, 47.9183, 44.6127, 40.2261, 52.8842]),
            rng.choice([8.7741, 3.1127, 11.4063, -3.7719, -0.8823]),
        )
        height = lag(np.where(flying, 45 + 40 * np.sin(t / 13) + 20 * np.sin(t / 5.1), 0), 3, step)
        field = rng.choice([84.0, 231.0, 412.0, 655.0])
        vario = np.gradient(height, step)
        wind = np.array([rng.uniform(1, 5), rng.uniform(0, 6.28)])
        air = np.hypot(
            speed * np.cos(course) + wind[0] * np.cos(wind[1]), speed * np.sin(course) + wind[0] * np.sin(wind[1])
        )
        roll = np.degrees(np.arctan(speed * turn / 9.81)) + wander(rng, n, 0.7, step, 4) * flying
        pitch = np.degrees(np.arctan2(vario, np.maximum(speed, 8))) + wander(rng, n, 0.8, step, 2) * flying + 2
        course_deg = np.degrees(course) % 360
        put = self.one.__setitem__
        put("position.latitude_deg", lat0 + north / 111_320)
        put("position.longitude_deg", lon0 + east / (111_320 * np.cos(np.radians(lat0))))
        put("position.altitude_m", field + height + wander(rng, n, 20, step, 1.5))
        put("position.height_m", height + wander(rng, n, 15, step, 0.4))
        put("position.ground_speed_m_s", np.abs(speed + rng.normal(0, 0.1, n)))
        put("position.track_deg", course_deg)
        put("position.satellites", np.round(13 + wander(rng, n, 15, step, 1.6)).clip(5, 24))
        put("attitude.roll_deg", roll)
        put("attitude.pitch_deg", pitch)
        put("attitude.heading_deg", (course_deg + wander(rng, n, 3, step, 2)) % 360)
        put("motion.airspeed_m_s", np.abs(air + rng.normal(0, 0.4, n)))
        put("motion.vario_m_s", vario + rng.normal(0, 0.15, n))
        put("motion.accel_x_m_s2", np.gradient(speed, step) + rng.normal(0, 0.6, n))
        put("motion.accel_y_m_s2", rng.normal(0, 0.7, n) + 0.02 * roll)
        put("motion.accel_z_m_s2", -9.81 / np.cos(np.radians(np.clip(roll, -75, 75))) + rng.normal(0, 0.8, n))
        put("motion.pressure_altitude_m", field + 37 + height + wander(rng, n, 15, step, 0.4))
        put("air.temperature_c", 19 - 0.0065 * height + wander(rng, n, 30, step, 0.4))
        put("air.pressure_pa", 101_325 * (1 - 2.2558e-5 * (field + height)) ** 5.2559 + rng.normal(0, 3, n))
        aileron = wander(rng, n, 0.3, step, 22) * flying + wander(rng, n, 0.3, step, 3)
        elevator = wander(rng, n, 0.4, step, 14) * flying + 3
        put("control.throttle_percent", np.clip(100 * stick, 0, 100))
        put("control.aileron_percent", np.clip(aileron, -100, 100))
        put("control.elevator_percent", np.clip(elevator, -100, 100))
        put("control.rudder_percent", np.clip(wander(rng, n, 0.5, step, 9), -100, 100))
        put(
            "control.flap_percent",
            lag(np.where(((t > off - 12) & (t < off + 14)) | (t > land - 20), 60.0, 0.0), 0.8, step),
        )
        put("control.brake_percent", np.where((t > land + 4) & (t < land + 14), 70 + 5 * np.sin(t), 0.0).clip(0, 100))
        gear = ~((t > off + 7) & (t < land - 18))
        put("control.gear", gear.astype(float))
        # Packs: two receiver packs, two pump packs.
        work = np.abs(np.gradient(aileron, step)) / 60 + np.abs(np.gradient(elevator, step)) / 60
        moving = np.abs(np.gradient(gear.astype(float))) > 0
        amps = 0.7 + lag(work, 0.15, step) * 1.6 + lag(moving * 14.0, 0.6, step) + np.abs(rng.normal(0, 0.05, n))
        for side in (0, 1):
            share = (0.54, 0.46)[side]
            current = amps * share
            charge = np.cumsum(current) * step / 3.6
            volts = (
                (8.32 - 0.02 * side) - 0.00032 * charge - 0.055 * (1 + 0.2 * side) * current + rng.normal(0, 0.006, n)
            )
            self._put("rx.current_a", side, current)
            self._put("rx.used_mah", side, charge)
            self._put("rx.voltage_v", side, volts)
            self._put("rx.temperature_c", side, lag(21 + 0.9 * current, 60, step) + 0.01 * t)
            self._put("rx.cell1_v", side, volts / 2 + 0.011)
            self._put("rx.cell2_v", side, volts / 2 - 0.011)
            flow = flow_all[side]
            pumping = (
                0.25 + flow / 190 + np.where((t > start) & (t < start + 9), 6.5, 0) + np.abs(rng.normal(0, 0.03, n))
            )
            drawn = np.cumsum(pumping) * step / 3.6
            ecu = 12.45 - 0.0006 * drawn - 0.04 * pumping + rng.normal(0, 0.008, n)
            self._put("ecu.current_a", side, pumping)
            self._put("ecu.used_mah", side, drawn)
            self._put("ecu.voltage_v", side, ecu)
            self._put("ecu.temperature_c", side, lag(22 + 0.6 * pumping, 50, step))
            for cell, shift in ((1, 0.013), (2, -0.006), (3, -0.007)):
                self._put(f"ecu.cell{cell}_v", side, ecu / 3 + shift)
            self._put("bus.voltage_v", side, 7.4 - 0.012 * amps + rng.normal(0, 0.004, n))
            self._put("bus.current_a", side, amps)
            # Link: distance, pattern, fading; two antennas a receiver.
            away = np.hypot(north + 40, east + 25) + 15
            loss = -38 - 20 * np.log10(away / 10)
            antennas = []
            for k in (0, 1):
                pattern = 7 * np.cos(course - 1.1 * k + side) - 3 * k
                rssi = loss + pattern + rng.normal(0, 2.2, n) - 2 * side
                antennas.append(rssi)
                self._put(f"link.antenna{k + 1}_rssi_dbm", side, np.round(rssi))
                self._put(f"link.antenna{k + 1}_signal_percent", side, np.clip(np.round(1.45 * (rssi + 105)), 0, 100))
                self._put(
                    f"link.antenna{k + 1}_lost",
                    side,
                    np.cumsum(rng.poisson(np.clip((-62 - rssi) / 25, 0, 3) * 0.25)).astype(float),
                )
            best = np.maximum(*antennas)
            self._put("link.rssi_dbm", side, np.round(best))
            self._put("link.signal_percent", side, np.clip(np.round(1.45 * (best + 105)), 0, 100))
            self._put(
                "link.link_quality_percent",
                side,
                np.clip(np.round(100 - np.clip(-70 - best, 0, 40) - rng.poisson(0.3, n)), 0, 100),
            )
            self._put(
                "link.lost_frames", side, np.cumsum(rng.poisson(np.clip((-66 - best) / 25, 0, 3) * 0.2)).astype(float)
            )
            hold = np.zeros(n)
            if rng.random() < 0.4:
                at = int(rng.uniform(0.4, 0.7) * n)
                hold[at : at + 4] = 1
            self._put("link.failsafe", side, hold)
        put("downlink.rssi_dbm", np.round(lag(self.get("link.rssi_dbm", 0) - 6, 0.4, step)))
        put("downlink.signal_percent", np.clip(np.round(1.3 * (self.one["downlink.rssi_dbm"] + 108)), 0, 100))
        # What is no channel of ours.
        put("x_bay_temp", lag(24 + 0.03 * self.get("engine.egt_c", 0) * running, 45, step))
        put("x_inlet_temp", 19 + wander(rng, n, 8, step, 0.5))
        put("x_servo_current", 0.2 + lag(work, 0.15, step) * 0.5 + np.abs(rng.normal(0, 0.04, n)))
        put("x_servo_pos", 1500 + 4 * np.clip(aileron, -100, 100))
        put("x_gyro", np.gradient(roll, step))
        put("x_gyro_gain", np.full(n, 45.0))
        put("x_mag", 220 * np.cos(course) + rng.normal(0, 4, n))
        put("x_wind_speed", np.abs(wind[0] + wander(rng, n, 12, step, 0.5)))
        put("x_wind_dir", (np.degrees(wind[1]) + wander(rng, n, 12, step, 8)) % 360)
        put("x_glow", np.where((t > start) & (t < start + 11), 1.9, 0.0))
        put("x_starter", np.where((t > start) & (t < start + 14), 7.8, 0.0))
        put("x_smoke", np.where(flying & (np.sin(t / 9) > 0.6), 3.4, 0.0))
        put("x_air_tank", 7.8 - 0.9 * np.cumsum(moving) - 0.002 * t)
        put("x_brake_temp", 22 + lag(np.where((t > land + 4) & (t < land + 14), 90.0, 0), 6, step))
        put("x_hdop", np.round(0.9 + np.abs(wander(rng, n, 15, step, 0.12)), 2))
        put("x_fix", np.where(t < 6, 2.0, 3.0))
        put("x_tx_batt", 7.9 - 0.0006 * t + rng.normal(0, 0.004, n))
        put("x_ground_batt", 12.6 - 0.0004 * t + rng.normal(0, 0.004, n))
        put("x_video", np.clip(np.round(78 - 0.06 * np.hypot(north, east) + rng.normal(0, 2, n)), 0, 100))
        put("x_distance", np.hypot(north, east))
        put("x_bearing", np.degrees(np.arctan2(east, north)) % 360)
        put("x_cpu", np.clip(31 + wander(rng, n, 5, step, 4), 0, 100))
        put("x_row", np.arange(n) + 1.0)
        put("x_mode", np.where(flying, 2.0, 0.0))
        put("x_g", np.hypot(self.one["motion.accel_z_m_s2"], self.one["motion.accel_x_m_s2"]) / 9.81)
        put("x_thrust", 180 * (self.get("engine.speed_rpm", 0) / top) ** 2)
        put("x_loop_us", 4000 + np.abs(rng.normal(0, 30, n)))
        put("x_humidity", 54 + wander(rng, n, 60, step, 1.2))
        put("x_power_w", self.get("rx.voltage_v", 0) * self.get("rx.current_a", 0))
        put("x_resistance", 48 + wander(rng, n, 30, step, 0.7))
        put("x_oil", np.where(running, 2.1, 0) + wander(rng, n, 5, step, 0.05))
        put("x_vib", np.abs(rng.normal(0, 0.4, n)) * (1 + 3 * sat))
        put("x_total_used", used_all[0] + used_all[1])
        for name, value in (
            ("x_limit_rpm", top * 1.02),
            ("x_limit_egt", 720.0),
            ("x_tank_size", 3200.0),
            ("x_alarm_ml", 500.0),
            ("x_alarm_v", 7.2),
            ("x_cells", 2.0),
            ("x_capacity", 3300.0),
            ("x_rssi_alarm", -90.0),
        ):
            put(name, np.full(n, value))
        put("x_max_egt", np.maximum.accumulate(self.get("engine.egt_c", 0)))
        put("x_max_rpm", np.maximum.accumulate(self.get("engine.speed_rpm", 0)))
        put("x_max_speed", np.maximum.accumulate(self.one["position.ground_speed_m_s"]))
        put("x_max_height", np.maximum.accumulate(height))
        put("x_min_v", np.minimum.accumulate(self.get("rx.voltage_v", 0)))
        put("x_max_amp", np.maximum.accumulate(self.get("rx.current_a", 0)))
        put("x_rpm_goal", idle + (top - idle) * stick**0.8)
        put("x_speed_goal", np.where(flying, 42.0, 0))
        put("x_height_goal", np.where(flying, 80.0, 0))

    def _put(self, name: str, side: int, values: Values) -> None:
        pair = self.data.get(name, (values, values))
        self.data[name] = (values, pair[1]) if side == 0 else (pair[0], values)

    def get(self, name: str, side: int = 0) -> Values:
        return self.data[name][side] if name in self.data else self.one[name]

    def of(self, channel: str) -> Values:
        """The values of a channel as the truth writes it: ``engine.left.egt_c``, ``pack.rx2.voltage_v``, ``x_hdop``."""
        parts = channel.split(".")
        if len(parts) == 3:
            subject, who, quantity = parts
            side = int(any(who.endswith(end) for end in ("right", "2", "_b", "backup", "second")) or who in ("b", "r"))
            if subject == "pack":
                subject = "ecu" if who.startswith(("ecu", "pump", "turbine", "engine")) else "rx"
            if f"{subject}.{quantity}" in self.data:
                return self.get(f"{subject}.{quantity}", side)
            return self.get(f"{subject}.{quantity}")
        if len(parts) == 2 and parts[0].startswith("x_"):
            return self.get(parts[0], int(parts[1]))
        return self.get(channel)
