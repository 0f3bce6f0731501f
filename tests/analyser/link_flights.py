"""Simulated flights for the link's checks: a path with known attitude, antennas with known patterns, known fading.

Independent of the analyser: rotations are scipy's, positions geographiclib-free flat-earth at a made-up field.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
from msgspec import Struct
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

from analyser.core.aircraft import Aircraft, Antenna, AntennaLayout, FlightContext
from analyser.core.telemetry import Telemetry

LAT0, LON0, MHZ = 51.0, 0.5, 2440.0
M_PER_DEG = 111_240.0
G = 9.80665


class Sim(Struct, frozen=True):
    """A telemetry with the truth it came from."""

    telemetry: Telemetry
    azimuth_deg: np.ndarray
    elevation_deg: np.ndarray
    range_m: np.ndarray


def fly(
    gains: dict[str, object],
    *,
    seed: int,
    seconds: float = 300.0,
    rate_hz: float = 10.0,
    attitude: bool = True,
    unit: str = "dBm",
    counters: bool = False,
    day_db: float = 0.5,
    noise_db: float = 2.0,
    base_dbm: float = 10.0,
    two_ray: bool = False,
    crab_deg: float = 0.0,
    away_m: float = 150.0,
    height_m: float = 60.0,
) -> Sim:
    """Fly curves round the pilot for ``seconds`` after 20 s at rest.

    ``gains`` maps ``rx1.antenna1`` to a function of (azimuth_deg, elevation_deg) giving dB; ``crab_deg`` turns the
    nose off the track.
    """
    rng = np.random.default_rng(seed)
    dt = 1 / rate_hz
    n_rest, n = round(20 / dt), round(seconds / dt)
    # Turn rate wanders between left and right turns; a pull home keeps the aircraft within some 400 m.
    wander = gaussian_filter1d(rng.standard_normal(n), 4.0 / dt) * np.sqrt(4.0 / dt) * 0.9
    speed = 35.0
    x, y, psi = np.zeros(n), np.zeros(n), np.zeros(n)
    px, py, head = 0.0, 60.0, rng.uniform(0, 2 * np.pi)
    for i in range(n):  # a simulation of a path, not an analysis: one step depends on the last
        away = np.hypot(px, py)
        home = np.arctan2(-px, -py)
        off = (home - head + np.pi) % (2 * np.pi) - np.pi
        rate = 0.25 * wander[i] + (0.35 * np.sin(off) if away > away_m else 0.0) * min(away / (away_m + 100), 2.0)
        head += np.clip(rate, -0.7, 0.7) * dt
        px, py = px + speed * np.sin(head) * dt, py + speed * np.cos(head) * dt
        x[i], y[i], psi[i] = px, py, head
    psi = gaussian_filter1d(psi, 0.3 / dt)
    turn = np.gradient(psi, dt)
    z = height_m * (1 + 0.58 * np.sin(2 * np.pi * np.arange(n) * dt / 23 + rng.uniform(0, 6)))
    z[: round(5 / dt)] *= np.linspace(0, 1, round(5 / dt))
    climb = np.arctan2(np.gradient(z, dt), speed)
    bank = np.arctan(speed * turn / G)
    rest = np.zeros(n_rest)
    x, y, z = np.r_[rest, x], np.r_[rest, y], np.r_[rest, z]
    psi, climb, bank = np.r_[rest + psi[0], psi], np.r_[rest, climb], np.r_[rest, bank]
    v = np.r_[rest, np.full(n, speed)]
    t = np.arange(n_rest + n) * dt
    # Body to north-east-down, then the pilot (1.3 m up) seen from the aircraft in body axes.
    to_ned = Rotation.from_euler("ZYX", np.column_stack([psi + np.radians(crab_deg), climb, bank]))
    offset = np.column_stack([-y, -x, -(1.3 - z)])
    body = to_ned.inv().apply(offset)
    distance = np.linalg.norm(body, axis=1)
    azimuth = np.degrees(np.arctan2(body[:, 1], body[:, 0]))
    elevation = np.degrees(np.arcsin(-body[:, 2] / distance))
    columns: dict[str, np.ndarray] = {
        "time_s": t,
        "position.latitude_deg": LAT0 + y / M_PER_DEG,
        "position.longitude_deg": LON0 + x / (111_320.0 * np.cos(np.radians(LAT0)) * 1.00113),
        "position.altitude_m": 80.0 + z,
        "position.ground_speed_m_s": v,
    }
    if attitude:
        columns["attitude.roll_deg"] = np.degrees(bank)
        columns["attitude.pitch_deg"] = np.degrees(climb)
        columns["attitude.heading_deg"] = np.degrees(psi + np.radians(crab_deg)) % 360
    loss = 32.4 + 20 * np.log10(MHZ) + 20 * np.log10(np.maximum(distance, 3) / 1000)
    if two_ray:
        # Image method: the ground mirrors the transmitter; −0.9 for the ground.
        over = np.hypot(x, y)
        path = np.hypot(over, z + 1.3) - np.hypot(over, z - 1.3)
        wave = 1 - 0.9 * np.exp(-2j * np.pi * path * MHZ * 1e6 / 299_792_458.0)
        loss = loss - 20 * np.log10(np.abs(wave))
    for name, gain in gains.items():
        level = base_dbm + gain(azimuth, elevation) + rng.normal(0, day_db)  # type: ignore[operator]
        # Fading that resembles itself over some half second, unit variance.
        slow = gaussian_filter1d(rng.standard_normal(t.size), 0.2 / dt)
        rssi = level - loss + noise_db * slow / slow.std()
        receiver, antenna = name.split(".")
        if unit == "dBm":
            columns[f"link.{receiver}.{antenna}_rssi_dbm"] = np.round(rssi)
        elif unit == "percent":
            columns[f"link.{receiver}.{antenna}_signal_percent"] = np.clip(np.round((rssi + 105) * 1.6), 0, 100)
        if counters:
            rate = 6.0 / (1 + np.exp((rssi + 86) / 3))  # packets a second, bursts through the slow fading
            columns[f"link.{receiver}.{antenna}_lost"] = np.cumsum(rng.poisson(rate * dt)).astype(float)
    return Sim(Telemetry(pa.table(columns)), azimuth, elevation, distance)


def tail_null(depth_db: float, half_width_deg: float = 50.0) -> object:
    """A gain with a hole astern."""

    def gain(azimuth_deg: np.ndarray, elevation_deg: np.ndarray) -> np.ndarray:
        c = -np.cos(np.radians(azimuth_deg)) * np.cos(np.radians(elevation_deg))
        return -depth_db * (np.degrees(np.arccos(np.clip(c, -1, 1))) < half_width_deg)

    return gain


def level(azimuth_deg: np.ndarray, elevation_deg: np.ndarray) -> np.ndarray:
    """A gain alike in all directions."""
    return np.zeros_like(azimuth_deg)


def aircraft() -> tuple[Aircraft, AntennaLayout, AntennaLayout]:
    """An invented aircraft with two layouts that differ in the fin antenna's place and axis."""
    belly = Antenna("rx1", 1, (0.3, 0.0, 0.1), (0.0, 1.0, 0.0), name="belly")
    old = AntennaLayout("first", (belly, Antenna("rx1", 2, (-1.2, 0.0, -0.4), (1.0, 0.0, 0.0), name="fin")))
    new = AntennaLayout("moved", (belly, Antenna("rx1", 2, (-1.0, 0.0, -0.5), (0.0, 0.0, 1.0), name="fin")))
    return Aircraft("Tern", layouts=(old, new), radio_mhz=MHZ), old, new


def context(layout: AntennaLayout | None, of: Aircraft, flight_id: str = "") -> FlightContext:
    """Context with the pilot where the simulation puts him."""
    return FlightContext(
        flight_id=flight_id, aircraft=of, layout=layout, pilot_latitude_deg=LAT0, pilot_longitude_deg=LON0,
        pilot_altitude_m=80.0,
    )  # fmt: skip
