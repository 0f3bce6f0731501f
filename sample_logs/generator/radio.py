"""What each antenna hears: free-space loss, dipole pattern, shadowing, diffuse scatter and fading, frame by frame."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct

FloatArray = npt.NDArray[np.float64]

DIPOLE_DIRECTIVITY = 1.6409
"""Half-wave dipole, linear (Balanis; 2.15 dBi)."""


class ShadowCone(Struct, frozen=True):
    """A cone of body directions that loses ``loss_db``; over the last ``taper_deg`` outside it the loss fades to 0."""

    what: str
    azimuth_deg: float
    elevation_deg: float
    half_width_deg: float
    loss_db: float
    taper_deg: float = 8.0


class Aerial(Struct, frozen=True):
    """One installed antenna: axis and position in body axes (x forward, y right, z down)."""

    receiver: str
    number: int
    name: str
    position_m: tuple[float, float, float]
    axis: tuple[float, float, float]
    shadows: tuple[ShadowCone, ...] = ()


class Link(Struct, frozen=True):
    """The radio's constants; ``installation_db`` is what fitting it in an airframe costs in every direction."""

    mhz: float = 2440.0
    transmit_dbm: float = 20.0
    installation_db: float = 11.0
    diffuse_db: float = -15.0
    sensitivity_dbm: float = -94.0
    softness_db: float = 1.0
    frame_rate_hz: float = 45.0


def free_space_loss_db(mhz: float, range_m: FloatArray) -> FloatArray:
    """Free-space basic transmission loss, ITU-R P.525: 32.4 + 20 log f(MHz) + 20 log d(km)."""
    return np.asarray(32.4 + 20 * np.log10(mhz) + 20 * np.log10(np.maximum(range_m, 3.0) / 1000.0))


def dipole_gain(cos_to_axis: FloatArray) -> FloatArray:
    """Half-wave dipole gain, linear, against the cosine of the angle to its axis (Balanis)."""
    c = np.clip(cos_to_axis, -1 + 1e-9, 1 - 1e-9)
    return np.asarray(DIPOLE_DIRECTIVITY * (np.cos(np.pi / 2 * c) / np.sqrt(1 - c * c)) ** 2)


def direction(azimuth_deg: float, elevation_deg: float) -> FloatArray:
    """Unit vector in body axes of a body azimuth (0 nose, 90 right wing) and elevation (up positive)."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), -np.sin(e)])


def direct_gain(aerial: Aerial, seen: FloatArray) -> FloatArray:
    """Gain of the direct wave, linear, pattern and shadows, for unit directions ``seen`` (n, 3) in body axes."""
    axis = np.array(aerial.axis) / np.linalg.norm(aerial.axis)
    gain = dipole_gain(seen @ axis)
    for shadow in aerial.shadows:
        off = np.degrees(np.arccos(np.clip(seen @ direction(shadow.azimuth_deg, shadow.elevation_deg), -1, 1)))
        depth = np.clip((shadow.half_width_deg + shadow.taper_deg - off) / shadow.taper_deg, 0, 1)
        gain = gain * 10 ** (-shadow.loss_db * depth / 10)
    return gain


class Heard(Struct, frozen=True):
    """Per frame: one antenna's signal strength, dBm, and whether the frame was lost on it."""

    rssi_dbm: FloatArray
    lost: npt.NDArray[np.bool_]


def hear(
    aerial: Aerial,
    link: Link,
    seen: FloatArray,
    range_m: FloatArray,
    noise_rise_db: FloatArray,
    rng: np.random.Generator,
) -> Heard:
    """Play the link for one antenna over the frames (n,)."""
    diffuse = 10 ** (link.diffuse_db / 10)
    n = len(range_m)
    scatter = (rng.standard_normal(n) + 1j * rng.standard_normal(n)) * np.sqrt(diffuse / 2)
    amplitude = np.sqrt(direct_gain(aerial, seen)) + scatter
    power = 10 * np.log10(np.maximum(np.abs(amplitude) ** 2, 1e-9))
    budget = link.transmit_dbm - link.installation_db - free_space_loss_db(link.mhz, range_m)
    rssi = budget + power
    margin = rssi - link.sensitivity_dbm - noise_rise_db
    lost = rng.random(n) > 1 / (1 + np.exp(-margin / link.softness_db))
    return Heard(rssi, lost)
