"""The directions around an airframe, in bins of equal area.

Equal steps of azimuth by equal steps of the sine of elevation make equal areas (Archimedes). Body axes: x forward,
y right, z down; azimuth 0° is the nose and 90° the right wing, elevation is positive above.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray
from analyser.core.geometry import Seen

AZIMUTHS, ELEVATIONS = 24, 8
EDGES_AZIMUTH_DEG: FloatArray = np.linspace(-180.0, 180.0, AZIMUTHS + 1)
EDGES_SIN_ELEVATION: FloatArray = np.linspace(-1.0, 1.0, ELEVATIONS + 1)
SHARP_DEG = 7.5
"""Half a bin: a direction known this well is not spread over its neighbours."""


def unit_vector(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> FloatArray:
    """Unit vectors in body axes (x forward, y right, z down), shape (..., 3)."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.stack([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), -np.sin(e)], axis=-1)


@cache
def bin_centres() -> tuple[FloatArray, FloatArray]:
    """Azimuth and elevation of every bin's centre, both of shape (a, e), degrees."""
    azimuth = (EDGES_AZIMUTH_DEG[:-1] + EDGES_AZIMUTH_DEG[1:]) / 2
    elevation = np.degrees(np.arcsin((EDGES_SIN_ELEVATION[:-1] + EDGES_SIN_ELEVATION[1:]) / 2))
    a, e = np.meshgrid(azimuth, elevation, indexing="ij")
    return a, e


@cache
def bin_vectors() -> FloatArray:
    """Unit vectors to the bins' centres, shape (bins, 3)."""
    return unit_vector(*bin_centres()).reshape(-1, 3)


@cache
def bin_angles() -> FloatArray:
    """Angles between every two bins' centres, degrees, shape (bins, bins)."""
    where = bin_vectors()
    return np.asarray(np.degrees(np.arccos(np.clip(where @ where.T, -1, 1))))


def bin_of(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> npt.NDArray[np.intp]:
    """Flat bin number (azimuth major) of each direction, shape (n,); the input must hold no NaN."""
    a = np.clip(((azimuth_deg + 180.0) / 360.0 * AZIMUTHS).astype(np.intp), 0, AZIMUTHS - 1)
    s = np.sin(np.radians(elevation_deg))
    e = np.clip(((s + 1.0) / 2.0 * ELEVATIONS).astype(np.intp), 0, ELEVATIONS - 1)
    return np.asarray(a * ELEVATIONS + e, np.intp)


def bins_of(seen: Seen) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.intp]]:
    """Which instants have a direction, and the flat bin number of each of those."""
    return seen.once("bins", _bins)


def _bins(seen: Seen) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.intp]]:
    told = np.isfinite(seen.body_azimuth_deg)
    return told, bin_of(seen.body_azimuth_deg[told], seen.body_elevation_deg[told])


def sub_directions() -> FloatArray:
    """3 × 3 directions in every bin, shape (a, e, 9, 3): a bin's gain is the mean power over it."""
    step = np.array([-1 / 3, 0.0, 1 / 3])
    da, ds = 360.0 / AZIMUTHS, 2.0 / ELEVATIONS
    a, e = bin_centres()
    az = a[..., None] + np.repeat(step, 3) * da
    el = np.degrees(np.arcsin(np.sin(np.radians(e))[..., None] + np.tile(step, 3) * ds))
    return unit_vector(az, el)


@cache
def neighbours(uncertainty_deg: float) -> FloatArray:
    """Which bins to pool for a direction known to ``uncertainty_deg``: weights, shape (bins, bins).

    A bin counts fully itself and its neighbours by a Gaussian of the angle; a sharp direction pools almost nothing.
    """
    if uncertainty_deg <= SHARP_DEG:
        return np.eye(AZIMUTHS * ELEVATIONS)
    weights = np.exp(-0.5 * (bin_angles() / uncertainty_deg) ** 2)
    return np.where(weights > 0.3, weights, 0.0)
