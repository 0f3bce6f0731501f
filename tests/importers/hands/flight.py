"""A short invented flight by plain rules of our own: what a logger would have seen, in canonical units.

Sources, where a rule has one: the International Standard Atmosphere (ISO 2533) for pressure over height; free-space
path loss (ITU-R P.525) for signal strength over distance. All else is common practice, no source: a turbine that idles
near 33,000 rpm, a pack that sags by its resistance, fuel that burns with thrust.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field
from scipy.signal import lfilter

Floats = npt.NDArray[np.float64]

EARTH_M = 6_371_000.0
SIDES = ("left", "right")


def _folded(way: Floats) -> Floats:
    """A way that turns back wherever it would leave the field."""
    edge = 460.0
    return np.asarray(edge - np.abs((way + edge) % (4.0 * edge) - 2.0 * edge))


class Flight(Struct, dict=True):
    """One flight of an invented aircraft.

    ``series`` holds every signal by its name: canonical channels with the hand's own instance
    (``pack.rx1.voltage_v``, ``link.rx1.antenna:B.rssi_dbm``) and what is no channel under ``other.``. They are made on
    demand, so that a hand may own any pack, tank or antenna.
    """

    rng: np.random.Generator
    rows: int
    step_s: float
    series: dict[str, Floats] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._command()
        self._turbine("main")
        self._path()

    @cached_property
    def t(self) -> Floats:
        return np.arange(self.rows, dtype=np.float64) * self.step_s

    def get(self, name: str) -> Floats:
        """The signal of that name, made when first asked for."""
        if name not in self.series:
            subject, *middle, quantity = name.split(".")
            make = getattr(self, f"_{subject}")
            make(".".join(middle), quantity)
        return self.series[name]

    def _noise(self, size: float) -> Floats:
        return self.rng.normal(0.0, size, self.rows)

    def _lag(self, x: Floats, tau: float) -> Floats:
        """First-order lag."""
        k = min(1.0, self.step_s / tau)
        settled = np.array([(1.0 - k) * float(x[0])])
        out: Floats = lfilter([k], [1.0, k - 1.0], x, zi=settled)[0]
        return out

    def _wander(self, period_s: float, low: float, high: float) -> Floats:
        """Smooth random movement between two bounds."""
        knots = max(4, int(self.t[-1] / period_s) + 2)
        at = np.linspace(0.0, self.t[-1], knots)
        out: Floats = np.interp(self.t, at, self.rng.uniform(low, high, knots))
        return out

    def _command(self) -> None:
        part = self.t / self.t[-1]
        flying = (part > 0.08) & (part < 0.92)
        throttle = np.where(flying, self._wander(6.0, 35.0, 95.0), 0.0)
        throttle = np.where((part > 0.08) & (part < 0.16), 100.0, throttle)
        self.flying = flying
        self.series["control.throttle_percent"] = np.clip(self._lag(throttle, 0.8), 0.0, 100.0)
        for stick, size in (("aileron", 55.0), ("elevator", 35.0), ("rudder", 20.0)):
            self.series[f"control.{stick}_percent"] = np.where(
                flying, self._wander(2.0, -size, size), 0.0
            ) + self._noise(0.3)
        self.series["control.flap_percent"] = np.where(part < 0.15, 50.0, np.where(part > 0.85, 100.0, 0.0))
        self.series["control.brake_percent"] = np.where(part > 0.95, 80.0, 0.0)
        self.series["control.gear"] = np.where((part < 0.14) | (part > 0.86), 1.0, 0.0)

    def _turbine(self, who: str) -> None:
        throttle = self.series["control.throttle_percent"]
        trim = self.rng.uniform(0.98, 1.02)
        idle, full = 33_000.0, self.rng.uniform(98_000.0, 126_000.0)
        speed = trim * (idle + (full - idle) * self._lag(throttle / 100.0, 1.6) ** 0.7) + self._noise(150.0)
        warm = 470.0 + 210.0 * self._lag(throttle / 100.0, 2.5) * trim + 25.0 * np.gradient(speed) / 3000.0
        name = f"engine.{who}."
        self.series[name + "speed_rpm"] = speed
        self.series[name + "egt_c"] = warm + self._noise(1.5)
        self.series[name + "pump_v"] = 0.9 + 3.4 * throttle / 100.0 * trim + self._noise(0.02)
        self.series[name + "pump_percent"] = np.clip(12.0 + 62.0 * throttle / 100.0 * trim + self._noise(0.3), 0, 100)
        self.series[name + "throttle_percent"] = np.clip(throttle + self._noise(0.2), 0, 100)

    def _engine(self, who: str, quantity: str) -> None:
        self._turbine(who)

    def _fuel(self, who: str, quantity: str) -> None:
        size = float(self.rng.choice([1500.0, 2400.0, 3200.0, 4800.0]))
        flow = (110.0 + 540.0 * self._lag(self.series["control.throttle_percent"] / 100.0, 1.0)) * self.rng.uniform(
            0.8, 1
        )
        flow = flow + self._noise(2.0)
        used = np.cumsum(flow) * self.step_s / 60.0
        used -= used[0]
        scale = min(1.0, 0.85 * size / used[-1])
        used, flow = used * scale, flow * scale
        name = f"fuel.{who}."
        self.series[name + "flow_ml_per_min"] = flow
        self.series[name + "used_ml"] = used
        self.series[name + "remaining_ml"] = size - used
        self.series[name + "remaining_percent"] = 100.0 * (size - used) / size
        self.series[f"other.{who}_tank_size_ml"] = np.full(self.rows, size)

    def _pack(self, who: str, quantity: str) -> None:
        cells = 7 if "main" in who else (3 if "ecu" in who else 2)
        base = 0.5 if "ecu" not in who else 1.2
        work = np.abs(self.series["control.aileron_percent"]) / 55.0
        if "ecu" in who:
            work = self.series["control.throttle_percent"] / 100.0
        current = (
            base + (2.4 if "ecu" not in who else 4.5) * work * self.rng.uniform(0.8, 1.2) + np.abs(self._noise(0.08))
        )
        used = np.cumsum(current) * self.step_s / 3.6
        rest = cells * (self.rng.uniform(4.05, 4.16) - 0.25 * used / max(used[-1], 1.0) * self.rng.uniform(0.4, 1.0))
        volts = rest - current * 0.028 * cells / 2.0 + self._noise(0.006)
        name = f"pack.{who}."
        self.series[name + "current_a"] = current
        self.series[name + "used_mah"] = used
        self.series[name + "voltage_v"] = volts
        for i in range(1, cells + 1):
            self.series[f"{name}cell{i}_v"] = volts / cells + self.rng.uniform(-0.012, 0.012) + self._noise(0.003)
        self.series[name + "temperature_c"] = 24.0 + 9.0 * used / max(used[-1], 1.0) + self._noise(0.1)

    def _bus(self, who: str, quantity: str) -> None:
        self.get(f"pack.{who}.voltage_v")
        level = float(self.rng.choice([6.0, 7.4]))
        current = self.series[f"pack.{who}.current_a"]
        self.series[f"bus.{who}.voltage_v"] = level - 0.03 * current + self._noise(0.01)
        self.series[f"bus.{who}.current_a"] = current

    def _loss(self) -> Floats:
        """Free-space loss over the distance from the pilot, ITU-R P.525: 20 log10(d)."""
        loss: Floats = -38.0 - 20.0 * np.log10(np.maximum(self.distance, 8.0) / 8.0)
        return loss

    def _link(self, who: str, quantity: str) -> None:
        strength = self._loss() + self._wander(1.5, -7.0, 3.0) + self._noise(1.0)
        receiver, _, antenna = who.partition(".antenna:")
        if antenna:
            name = f"link.{who}."
            self.series[name + "rssi_dbm"] = strength
            self.series[name + "signal_percent"] = np.clip(2.0 * (strength + 110.0), 1.0, 100.0)
            self.series[name + "signal_counts"] = np.clip(900.0 + 9.0 * strength, 1.0, None)
            self.series[name + "lost"] = np.cumsum(self.rng.random(self.rows) < 0.15).astype(float)
            return
        name = f"link.{receiver}."
        self.series[name + "rssi_dbm"] = strength
        self.series[name + "signal_percent"] = np.clip(2.0 * (strength + 110.0), 1.0, 100.0)
        self.series[name + "signal_counts"] = np.clip(900.0 + 9.0 * strength, 1.0, None)
        self.series[name + "link_quality_percent"] = np.clip(
            100.0 - np.abs(self._noise(2.0)) * (strength < -72), 0, 100
        )
        self.series[name + "lost_frames"] = np.cumsum(self.rng.random(self.rows) < 0.1).astype(float)
        self.series[name + "failsafe"] = np.zeros(self.rows)

    def _downlink(self, who: str, quantity: str) -> None:
        strength = self._loss() - 4.0 + self._wander(2.0, -4.0, 4.0) + self._noise(1.0)
        self.series[f"downlink.{who}.rssi_dbm"] = strength
        self.series[f"downlink.{who}.signal_percent"] = np.clip(2.0 * (strength + 112.0), 1.0, 100.0)

    def _path(self) -> None:
        speed = np.where(self.flying, self._wander(8.0, 34.0, 78.0), 0.0)
        speed = np.maximum(self._lag(speed, 3.0), 0.0)
        turn = np.where(self.flying, self._wander(7.0, -24.0, 30.0), 0.0)
        start = self.rng.uniform(0.0, 360.0)
        track = start + np.cumsum(turn) * self.step_s
        east = np.cumsum(speed * np.sin(np.radians(track))) * self.step_s
        north = np.cumsum(speed * np.cos(np.radians(track))) * self.step_s
        east, north = _folded(east), _folded(north)  # back from the edge of the field, each step as long as it was
        track = np.where(speed > 0.0, np.degrees(np.arctan2(np.gradient(east), np.gradient(north))), track)
        site = self.rng.uniform((-44.0, -75.0), (55.0, 150.0))
        if abs(site[0]) < 8.0:
            site[0] = 31.5
        if abs(site[1]) < 3.0:
            site[1] = -4.2
        s = self.series
        s["position.latitude_deg"] = site[0] + np.degrees(north / EARTH_M)
        s["position.longitude_deg"] = site[1] + np.degrees(east / (EARTH_M * np.cos(np.radians(site[0]))))
        height = np.where(self.flying, self._wander(9.0, 25.0, 190.0), 0.0)
        height = np.maximum(self._lag(height, 3.5), 0.0)
        ground = float(self.rng.uniform(40.0, 620.0))
        s["position.height_m"] = height + self._noise(0.15)
        s["position.altitude_m"] = height + ground + self._noise(0.4)
        s["position.ground_speed_m_s"] = np.maximum(speed + self._noise(0.15), 0.0)
        s["position.track_deg"] = np.mod(track, 360.0)
        s["position.satellites"] = np.round(self._wander(20.0, 10.6, 19.4))
        s["attitude.roll_deg"] = np.clip(turn * 2.1, -75, 75) + self._noise(0.6)
        s["attitude.pitch_deg"] = np.clip(np.gradient(height, self.step_s) * 1.6, -50, 50) + self._noise(0.5)
        s["attitude.heading_deg"] = np.mod(track + self._noise(1.0), 360.0)
        s["motion.airspeed_m_s"] = np.maximum(s["position.ground_speed_m_s"] + self._wander(15.0, -4.0, 4.0), 0.0)
        s["motion.vario_m_s"] = np.gradient(height, self.step_s) + self._noise(0.1)
        s["motion.accel_x_m_s2"] = np.gradient(speed, self.step_s) + self._noise(0.3)
        s["motion.accel_y_m_s2"] = self._noise(0.8)
        s["motion.accel_z_m_s2"] = -9.81 / np.cos(np.radians(np.clip(turn * 2.1, -75, 75))) + self._noise(0.5)
        s["motion.pressure_altitude_m"] = height + ground + self._noise(0.3)
        # ISO 2533, troposphere: p = p0 (1 − 0.0065 h / T0)^5.2559
        s["air.pressure_pa"] = 101_325.0 * (1.0 - 0.0065 * (height + ground) / 288.15) ** 5.2559 + self._noise(2.0)
        s["air.temperature_c"] = 21.0 - 0.0065 * height + self._wander(30.0, -0.4, 0.4)
        self.distance = np.hypot(east, north) + height

    def _other(self, who: str, quantity: str) -> None:
        """What a logger also writes and no channel is meant for."""
        work = np.abs(self.series["control.aileron_percent"]) / 55.0
        flat = np.ones(self.rows)
        throttle = self.series["control.throttle_percent"]
        speed = self.series["engine.main.speed_rpm"]
        warm = self.series["engine.main.egt_c"]
        made: dict[str, Floats] = {
            "servo_a": 0.2 + 1.1 * work + np.abs(self._noise(0.03)),
            "servo_v": 6.0 - 0.1 * work + self._noise(0.01),
            "servo_us": 1500.0 + 380.0 * self.series["control.aileron_percent"] / 100.0,
            "servo_c": 26.0 + 10.0 * self.t / self.t[-1] + self._noise(0.1),
            "gyro_gain": 65.0 * flat,
            "gyro_dps": self.series["attitude.roll_deg"] * 1.4 + self._noise(2.0),
            "glow_v": 1.42 + self._noise(0.01),
            "glow_a": np.where(self.t < self.t[-1] * 0.05, 2.9, 0.0) + np.abs(self._noise(0.01)),
            "starter_a": np.where(self.t < self.t[-1] * 0.05, 14.0, 0.0) + np.abs(self._noise(0.02)),
            "starter_v": 7.9 - np.where(self.t < self.t[-1] * 0.05, 0.8, 0.0) + self._noise(0.01),
            "ground_v": 12.4 - 0.2 * self.t / self.t[-1] + self._noise(0.01),
            "ground_a": 0.8 + self._noise(0.03),
            "video_dbm": -52.0 - 20.0 * np.log10(np.maximum(self.distance, 8.0) / 8.0) + self._noise(1.5),
            "video_percent": np.clip(98.0 - self.distance / 30.0 + self._noise(1.0), 0, 100),
            "video_v": 11.6 + self._noise(0.02),
            "video_c": 48.0 + 9.0 * self.t / self.t[-1] + self._noise(0.3),
            "smoke_v": np.where(throttle > 70.0, 5.1, 0.0) + np.abs(self._noise(0.01)),
            "smoke_ml": 500.0 - 300.0 * self.t / self.t[-1],
            "smoke_percent": np.where(throttle > 70.0, 80.0, 0.0),
            "bay_c": 25.0 + 12.0 * self.t / self.t[-1] + self._noise(0.1),
            "inlet_c": 20.0 + 2.0 * throttle / 100.0 + self._noise(0.2),
            "rpm_limit": np.full(self.rows, float(np.round(speed.max(), -3) + 4000.0)),
            "rpm_target": 33_000.0 + 85_000.0 * throttle / 100.0,
            "rpm_max": np.maximum.accumulate(speed),
            "egt_limit": 780.0 * flat,
            "egt_max": np.maximum.accumulate(warm),
            "egt_mean": np.cumsum(warm) / np.arange(1, self.rows + 1),
            "egt_alarm": 0.0 * flat,
            "volt_alarm": 7.2 * flat,
            "volt_min": 7.9 - 0.3 * self.t / self.t[-1],
            "fuel_alarm_ml": 400.0 * flat,
            "fuel_alarm": np.where(self.t > self.t[-1] * 0.9, 1.0, 0.0),
            "tank_ml": 3200.0 * flat,
            "capacity_mah": 2600.0 * flat,
            "rssi_min": np.minimum.accumulate(self._loss()),
            "rssi_warning": -90.0 * flat,
            "height_max": np.maximum.accumulate(self.series["position.height_m"]),
            "speed_max_ms": np.maximum.accumulate(self.series["position.ground_speed_m_s"]),
            "row": np.arange(1.0, self.rows + 1.0),
            "cpu_percent": np.clip(31.0 + self._noise(3.0), 0, 100),
            "cpu_c": 44.0 + self._noise(0.4),
            "memory_kb": 182.0 * flat,
            "loop_hz": 50.0 + self._noise(0.2),
            "rate_hz": 10.0 * flat,
            "packet": np.arange(1.0, self.rows + 1.0) % 256,
            "checksum": np.floor(self.rng.uniform(0, 65_536, self.rows)),
            "hdop": 0.8 + np.abs(self._noise(0.04)),
            "fix": 3.0 * flat,
            "oil_kpa": 210.0 + 60.0 * throttle / 100.0 + self._noise(1.0),
            "air_bar": 6.5 - 0.9 * self.t / self.t[-1] + self._noise(0.01),
            "case_kpa": 101.0 + 90.0 * (throttle / 100.0) ** 1.5 + self._noise(0.4),
            "thrust_n": 8.0 + 150.0 * (throttle / 100.0) ** 1.4 + self._noise(0.5),
            "humidity": 46.0 + self._noise(0.3),
            "light": 700.0 + self._noise(8.0),
            "sound_db": 88.0 + 20.0 * throttle / 100.0 + self._noise(0.6),
            "state": np.where(self.flying, 5.0, 2.0),
            "error": 0.0 * flat,
            "vibration_g": 0.4 + 1.1 * throttle / 100.0 + np.abs(self._noise(0.05)),
            "derivative": np.gradient(speed, self.step_s),
            "distance_m": self.distance,
            "tx_v": 8.1 - 0.1 * self.t / self.t[-1] + self._noise(0.005),
            "spare": self._wander(4.0, 0.0, 5.0),
            "runtime_s": np.floor(np.maximum(self.t - 4.0, 0.0)) + 31.0,
            "wind_ms": 5.2 + self._wander(10.0, -1.5, 1.5),
            "wind_deg": 240.0 + self._wander(10.0, -15.0, 15.0),
            "countdown": np.round(600.0 - self.t),
            "height_limit": 120.0 * flat,
            "stall_kmh": 62.0 * flat,
            "cell_v": 4.08 - 0.15 * self.t / self.t[-1] - 0.03 * work,
            "cell_mv": 9.0 + np.abs(self._noise(3.0)),
            "energy_wh": 3.1 * self.t / self.t[-1],
            "ohm": 14.0 + self._noise(0.4),
            "rpm_mean": np.cumsum(speed) / np.arange(1, self.rows + 1),
            "charge_left_mah": 2600.0 - 700.0 * self.t / self.t[-1],
            "power_w": 14.0 + 20.0 * work + self._noise(0.2),
            "positive_dbm": np.round(-self._loss() + self._noise(1.0)),
        }  # fmt: skip
        self.series |= {f"other.{k}": v for k, v in made.items() if f"other.{k}" not in self.series}
        if f"other.{quantity}" not in self.series:
            raise KeyError(f"no signal other.{quantity}")
