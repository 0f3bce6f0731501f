"""Names of the sides of an airframe."""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, say
from analyser.link.codes import Direction

_SIDES = (
    Direction.NOSE, Direction.RIGHT_OF_NOSE, Direction.RIGHT, Direction.RIGHT_OF_TAIL, Direction.TAIL,
    Direction.LEFT_OF_TAIL, Direction.LEFT, Direction.LEFT_OF_NOSE,
)  # fmt: skip
STRAIGHT_DEG, LEVEL_DEG = 65.0, 25.0
"""Elevations from which a direction is called straight, and up to which it is called level."""
SECTORS = (Direction.NOSE, Direction.RIGHT, Direction.TAIL, Direction.LEFT, Direction.ABOVE, Direction.BELOW)
STEEP_DEG = 30.0
"""Beyond this elevation (half of the sphere) a direction is above or below rather than of a side."""


def name_direction(azimuth_deg: float, elevation_deg: float) -> Finding:
    """Name a body direction: *tail-on*, *left wing, from below*, *straight from below*.

    Examples
    --------
    >>> name_direction(180.0, 0.0)
    Finding(direction.tail)
    """
    return name_directions(np.array([azimuth_deg]), np.array([elevation_deg]))[0]


def name_directions(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> list[Finding]:
    """Name many body directions at once, both of shape (n,); the input must hold no NaN."""
    sides = np.round((azimuth_deg % 360.0) / 45.0).astype(int) % 8
    away = np.abs(elevation_deg)
    steep = np.where(away > STRAIGHT_DEG, 2, np.where(away < LEVEL_DEG, 0, 1))
    return list(map(_named, sides.tolist(), steep.tolist(), (elevation_deg > 0).tolist()))


@cache
def _named(side: int, steep: int, above: bool) -> Finding:
    """The few names there are, each made once: a flight may have thousands of fades."""
    if steep == 2:
        return say(Direction.STRAIGHT_ABOVE if above else Direction.STRAIGHT_BELOW)
    named = say(_SIDES[side])
    if steep == 0:
        return named
    return say(Direction.SIDE_FROM_ABOVE if above else Direction.SIDE_FROM_BELOW, side=named)


def sector_of(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> npt.NDArray[np.intp]:
    """Which of :data:`SECTORS` each direction belongs to, shape as the input; no NaN."""
    side = (np.round((azimuth_deg % 360.0) / 90.0) % 4).astype(np.intp)
    return np.where(np.abs(elevation_deg) > STEEP_DEG, np.where(elevation_deg > 0, 4, 5), side)
