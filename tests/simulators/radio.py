"""Radio of the simulators: where the body sees the pilot, patterns of installed dipoles, ground ray and fading."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.spatial.transform import Rotation

from tests.simulators.flight import FloatArray

WGS84_A, WGS84_E2 = 6_378_137.0, 6.694_379_990_14e-3
LIGHT = 299_792_458.0


def to_degrees(east: FloatArray, north: FloatArray, lat0: float, lon0: float) -> tuple[FloatArray, FloatArray]:
    """Latitude and longitude of points near an origin, by the ellipsoid's two radii of curvature there."""
    w = np.sqrt(1.0 - WGS84_E2 * np.sin(np.radians(lat0)) ** 2)
    meridian, normal = WGS84_A * (1.0 - WGS84_E2) / w**3, WGS84_A / w
    return lat0 + np.degrees(north / meridian), lon0 + np.degrees(east / (normal * np.cos(np.radians(lat0))))


def seen_from_body(
    east: FloatArray, north: FloatArray, up: FloatArray, heading: FloatArray, pitch: FloatArray, roll: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Body azimuth and elevation, degrees, of a point given relative to the aircraft (rotations by scipy)."""
    body = Rotation.from_euler("ZYX", np.column_stack([heading, pitch, roll]), degrees=True)
    x, y, z = body.inv().apply(np.column_stack([north, east, -up])).T
    return np.degrees(np.arctan2(y, x)), np.degrees(np.arctan2(-z, np.hypot(x, y)))


def installed_dipole(
    axis: tuple[float, float, float], floor_db: float, shadow: tuple[float, float, float, float]
) -> Callable[[FloatArray, FloatArray], FloatArray]:
    """Gain by body direction: a short dipole's sine, filled by scatter, less the airframe's soft shadow.

    ``shadow`` is azimuth, elevation, width (degrees) and depth (dB) of a Gaussian dent.
    """
    along = np.array(axis) / np.linalg.norm(axis)
    az, el, width, depth = shadow
    centre = np.array(_unit(np.array([az]), np.array([el]))[0])

    def gain(azimuth: FloatArray, elevation: FloatArray) -> FloatArray:
        to = _unit(azimuth, elevation)
        sine2 = 1.0 - (to @ along) ** 2
        off = np.degrees(np.arccos(np.clip(to @ centre, -1.0, 1.0)))
        power = 1.5 * sine2 + 10.0 ** (floor_db / 10.0)
        return np.asarray(10.0 * np.log10(power) - depth * np.exp(-0.5 * (off / width) ** 2), float)

    return gain


def _unit(azimuth: FloatArray, elevation: FloatArray) -> FloatArray:
    a, e = np.radians(azimuth), np.radians(elevation)
    return np.stack([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), -np.sin(e)], axis=-1)


def ground_ray_db(ground: FloatArray, height: FloatArray, eye_m: float, mhz: float, reflection: float) -> FloatArray:
    """Direct and ground-reflected ray as a sum of phasors, over the direct ray alone."""
    direct, bounced = np.hypot(ground, height - eye_m), np.hypot(ground, height + eye_m)
    k = 2.0 * np.pi * mhz * 1e6 / LIGHT
    field = 1.0 + reflection * direct / bounced * np.exp(-1j * k * (bounced - direct))
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(field), 1e-3)), float)


def rician_db(k_db: FloatArray, looks: int, rng: np.random.Generator) -> FloatArray:
    """Fading about a mean of one: power of a steady and a scattered part, averaged over independent looks."""
    k = 10.0 ** (np.asarray(k_db, float) / 10.0)[:, None]
    scatter = rng.normal(size=(k.size, looks)) + 1j * rng.normal(size=(k.size, looks))
    h = np.sqrt(k / (k + 1.0)) + scatter * np.sqrt(0.5 / (k + 1.0))
    return np.asarray(10.0 * np.log10((np.abs(h) ** 2).mean(axis=1)), float)


def exponent_loss_db(range_m: FloatArray, mhz: float, exponent: float) -> FloatArray:
    """Free space to one metre, then a fall by ``exponent``."""
    wave = LIGHT / (mhz * 1e6)
    return np.asarray(20.0 * np.log10(4.0 * np.pi / wave) + 10.0 * exponent * np.log10(np.maximum(range_m, 1.0)), float)
