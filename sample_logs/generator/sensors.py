"""What the sensors made of it: noise, slosh, scale errors and resolution, one column a quantity."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pymap3d
from msgspec import Struct
from msgspec.structs import replace
from scipy.ndimage import gaussian_filter1d

from sample_logs.generator.path import STEP_HZ, euler_deg
from sample_logs.generator.scenario import (
    CAPACITY_ML,
    GROUND_M,
    LATITUDE_DEG,
    LONGITUDE_DEG,
    SENSOR_SCALE,
    Sortie,
)
from sample_logs.generator.session import Session

FloatArray = npt.NDArray[np.float64]


class Column(Struct, frozen=True):
    """One logged quantity on the model's grid: English and German heading, unit, rate in Hz, decimals."""

    english: str
    german: str
    unit: str
    rate_hz: float
    decimals: int
    values: FloatArray


SIDES = {"left": ("Left", "links"), "right": ("Right", "rechts"), "main": ("Main", "Haupt")}


def record(sortie: Sortie, session: Session) -> list[Column]:
    """Everything this aircraft's sensors logged in this flight."""
    rng = np.random.default_rng(sortie.plan.seed + 7)
    columns = [
        *_position(sortie, session, rng),
        *_controls(session),
        *_receivers(sortie, session),
        *_receiver_packs(session, rng),
        *_engines(session, rng),
        *_tanks(sortie, session, rng),
    ]
    if sortie.dialect == "fast":
        wanted = ("Rx1 Pack Voltage", "Rx1 Pack Current", "Acceleration Z", "Throttle", "Main Engine Speed")
        columns = [c for c in columns if c.english in wanted]
        quick = ("Rx1 Pack Voltage", "Rx1 Pack Current")
        columns = [replace(c, rate_hz=STEP_HZ) if c.english in quick else c for c in columns]
    return columns


def _noise(rng: np.random.Generator, n: int, size: float, seconds: float = 0.0) -> FloatArray:
    w = rng.standard_normal(n)
    if seconds:
        w = gaussian_filter1d(w, seconds * STEP_HZ)
        w /= w.std()
    return np.asarray(size * w)


def geodetic(x: FloatArray, y: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Latitude and longitude in °, altitude in m (WGS-84), of places in the field frame, m."""
    found = pymap3d.enu2geodetic(x, y, z, LATITUDE_DEG, LONGITUDE_DEG, GROUND_M)
    return np.asarray(found[0]), np.asarray(found[1]), np.asarray(found[2])


def _position(sortie: Sortie, s: Session, rng: np.random.Generator) -> list[Column]:
    m = s.motion
    n = len(m.time_s)
    x, y, z = (m.position_m[:, i] + _noise(rng, n, 0.35, 4.0) for i in range(3))
    lat, lon, alt = geodetic(x, y, z)
    speed = np.maximum(np.hypot(m.velocity_m_s[:, 0], m.velocity_m_s[:, 1]) + _noise(rng, n, 0.12), 0.0)
    track = np.degrees(np.arctan2(m.velocity_m_s[:, 0], m.velocity_m_s[:, 1])) % 360.0
    out = [
        Column("Latitude", "Breite", "°", 2, 6, lat),
        Column("Longitude", "Länge", "°", 2, 6, lon),
        Column("GPS Altitude", "GPS Höhe", "m", 2, 1, alt + _noise(rng, n, 0.5, 6.0)),
        Column("Ground Speed", "Geschwindigkeit über Grund", "m/s", 4, 1, speed),
        Column("Track", "Kurs über Grund", "°", 4, 0, track),
    ]
    if sortie.attitude:
        roll, pitch, heading = euler_deg(m.body)
        out += [
            Column("Roll", "Querneigung", "°", 4, 0, roll + _noise(rng, n, 0.8, 2.0)),
            Column("Pitch", "Längsneigung", "°", 4, 0, np.clip(pitch + _noise(rng, n, 0.6, 2.0), -90, 90)),
            Column("Heading", "Steuerkurs", "°", 4, 0, (heading + _noise(rng, n, 1.5, 5.0)) % 360.0),
        ]
    vertical = 9.80665 * m.load_factor + _noise(rng, n, 0.6)
    return [*out, Column("Acceleration Z", "Beschleunigung Z", "m/s²", 2, 1, -vertical)]


def _controls(s: Session) -> list[Column]:
    m = s.motion
    return [
        Column("Throttle", "Gas", "%", 4, 0, 100 * m.throttle),
        Column("Aileron", "Querruder", "%", 2, 0, s.surfaces["aileron"]),
        Column("Elevator", "Höhenruder", "%", 2, 0, s.surfaces["elevator"]),
        Column("Brake", "Bremse", "%", 2, 0, np.maximum(100 * m.brake, 0)),
        Column("Flap", "Klappen", "%", 2, 0, 100 * m.flap),
        Column("Gear Down", "Fahrwerk ausgefahren", "", 4, 0, m.gear_down.astype(float)),
    ]


def _receivers(sortie: Sortie, s: Session) -> list[Column]:
    out: list[Column] = []
    if sortie.signal == "none":
        return out
    for receiver in s.lost:
        name = receiver.capitalize()
        for (r, number), heard in s.heard.items():
            if r != receiver:
                continue
            # A sensor reports the mean of the last few frames, and a count of those it lost.
            level = gaussian_filter1d(heard.rssi_dbm, 3.0)[s.frame_of]
            lost = np.cumsum(heard.lost).astype(float)[s.frame_of]
            if sortie.signal == "dbm":
                out.append(Column(f"{name} Antenna {number} RSSI", f"{name} Antenne {number} RSSI", "dBm", 4, 0, level))
            elif sortie.signal == "percent":
                percent = np.clip(100.0 * (level + 100.0) / 60.0, 0, 100)
                out.append(
                    Column(f"{name} Antenna {number} Signal", f"{name} Antenne {number} Signal", "%", 2, 0, percent)
                )
            out.append(Column(f"{name} Antenna {number} Lost", f"{name} Antenne {number} verloren", "", 2, 0, lost))
        out.append(Column(f"{name} Lost Frames", f"{name} verlorene Rahmen", "", 2, 0, s.lost[receiver][s.frame_of]))
        safe = s.failsafe[receiver][s.frame_of].astype(float)
        out.append(Column(f"{name} Failsafe", f"{name} Failsafe", "", 2, 0, safe))
    return out


def _receiver_packs(s: Session, rng: np.random.Generator) -> list[Column]:
    out = [Column("Bus Voltage", "Bus Spannung", "V", 4, 2, s.bus_v)]
    for role, pack in s.packs.items():
        if not role.startswith("rx"):
            continue
        name, n = role.capitalize(), len(pack.voltage_v)
        out += [
            Column(f"{name} Pack Voltage", f"{name} Akku Spannung", "V", 4, 2, pack.voltage_v + _noise(rng, n, 0.006)),
            Column(
                f"{name} Pack Current",
                f"{name} Akku Strom",
                "A",
                4,
                1,
                np.maximum(pack.current_a + _noise(rng, n, 0.05), 0),
            ),
        ]
        for k, cell in enumerate(pack.cells_v, 1):
            out.append(
                Column(f"{name} Pack Cell {k}", f"{name} Akku Zelle {k}", "V", 1, 3, cell + _noise(rng, n, 0.003))
            )
        out.append(Column(f"{name} Pack Temperature", f"{name} Akku Temperatur", "°C", 0.2, 0, pack.temperature_c))
    return out


def _engines(s: Session, rng: np.random.Generator) -> list[Column]:
    out = []
    for side, e in s.engines.items():
        en, de = SIDES[side]
        n = len(e.speed_rpm)
        role = "ecu" if side == "main" else f"ecu_{side}"
        pack = s.packs[role]
        pack_en = "ECU Pack" if side == "main" else f"ECU {en} Pack"
        pack_de = "ECU Akku" if side == "main" else f"ECU {de} Akku"
        out += [
            Column(f"{en} Engine Speed", f"Drehzahl {de}", "rpm", 2, -2, e.speed_rpm),
            Column(f"{en} Engine EGT", f"Abgastemperatur {de}", "°C", 2, 0, e.egt_c),
            Column(f"{en} Pump Voltage", f"Pumpe {de} Spannung", "V", 1, 2, e.pump_v + _noise(rng, n, 0.01)),
            Column(f"{pack_en} Voltage", f"{pack_de} Spannung", "V", 2, 2, pack.voltage_v + _noise(rng, n, 0.008)),
            Column(
                f"{pack_en} Current",
                f"{pack_de} Strom",
                "A",
                2,
                1,
                np.maximum(pack.current_a + _noise(rng, n, 0.04), 0),
            ),
        ]
    return out


def _tanks(sortie: Sortie, s: Session, rng: np.random.Generator) -> list[Column]:
    out = []
    for side, e in s.engines.items():
        en, de = SIDES[side]
        n = len(e.burned_ml)
        slosh = _noise(rng, n, 14.0, 1.6) * np.clip(np.abs(s.motion.load_factor - 1) + 0.15, 0, 1.5)
        left = CAPACITY_ML[side] - SENSOR_SCALE[side] * e.burned_ml + slosh
        if sortie.aircraft == "Plover" and sortie.number == 4:
            share = np.clip(100.0 * left / CAPACITY_ML[side], 0, 100)
            out.append(Column(f"{en} Tank Fuel", f"Tank {de} Rest", "%", 1, 0, share))
        else:
            out.append(Column(f"{en} Tank Fuel", f"Tank {de} Rest", "mL", 1, -1, np.clip(left, 0, CAPACITY_ML[side])))
    return out


def rounded(column: Column) -> FloatArray:
    """Values at the sensor's resolution."""
    return np.round(column.values, column.decimals) + 0.0


def rate_of(column: Column) -> float:
    """Rate in Hz, never above the model's own."""
    return min(column.rate_hz, STEP_HZ)
