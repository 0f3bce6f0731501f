"""An airframe of flat plates around the antennas of an aircraft's file, for ``airframe.js`` to turn.

The file tells where antennas and tanks sit, not the outline; the outline is a plain jet large enough to hold them.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from analyser.core.aircraft import Aircraft, AntennaLayout

_LEAST_HALF_M = 0.8
_ROOM_M = 0.12

_Points = list[tuple[float, float, float]]


def _mirrored(points: _Points) -> _Points:
    return [(x, -y, z) for x, y, z in points]


def plates(aircraft: Aircraft, layouts: tuple[AntennaLayout, ...]) -> list[list[list[float]]]:
    """Corners of every plate in body axes (x forward, y right, z down), m.

    Returns
    -------
    list of plates, each a list of ``[x, y, z]``
    """
    placed = np.array([a.position_m for lay in layouts for a in lay.antennas] or [(0.0, 0.0, 0.0)], float)
    front = max(_LEAST_HALF_M, float(placed[:, 0].max()) + _ROOM_M)
    back = min(-_LEAST_HALF_M, float(placed[:, 0].min()) - _ROOM_M)
    length = front - back
    span = max(0.42 * length, float(np.abs(placed[:, 1]).max()) + _ROOM_M)
    top = max(0.2 * length, -float(placed[:, 2].min()) + _ROOM_M / 2)
    wide, tall = 0.055 * length, 0.06 * length
    middle = (front + back) / 2
    above: _Points = [
        (front, 0, 0), (front - 0.2 * length, wide, 0), (back + 0.1 * length, wide, 0), (back, 0.6 * wide, 0),
        (back, -0.6 * wide, 0), (back + 0.1 * length, -wide, 0), (front - 0.2 * length, -wide, 0),
    ]  # fmt: skip
    beside: _Points = [
        (front, 0, 0), (front - 0.25 * length, 0, -tall), (back, 0, -0.7 * tall), (back, 0, 0.5 * tall),
        (front - 0.2 * length, 0, 0.8 * tall),
    ]  # fmt: skip
    wing: _Points = [
        (middle + 0.12 * length, wide, 0), (middle - 0.08 * length, span, 0), (middle - 0.2 * length, span, 0),
        (middle - 0.2 * length, wide, 0),
    ]  # fmt: skip
    tail: _Points = [
        (back + 0.17 * length, wide, 0), (back + 0.04 * length, 0.45 * span, 0), (back - 0.02 * length, 0.45 * span, 0),
        (back + 0.02 * length, wide, 0),
    ]  # fmt: skip
    fin: _Points = [
        (back + 0.26 * length, 0, -tall), (back + 0.05 * length, 0, -top), (back - 0.02 * length, 0, -top),
        (back + 0.02 * length, 0, -0.7 * tall),
    ]  # fmt: skip
    found = [above, beside, wing, _mirrored(wing), tail, _mirrored(tail), fin]
    if len(aircraft.engines) > 1:  # a pod on either side of the tail
        pod: _Points = [
            (back + 0.32 * length, 1.2 * wide, -0.4 * tall), (back + 0.32 * length, 2.2 * wide, -0.4 * tall),
            (back + 0.1 * length, 2.0 * wide, -0.4 * tall), (back + 0.1 * length, 1.2 * wide, -0.4 * tall),
        ]  # fmt: skip
        found += [pod, _mirrored(pod)]
    return [[[round(v, 3) for v in point] for point in plate] for plate in found]


def places(layout: AntennaLayout | None) -> dict[str, list[float]]:
    """Where each antenna of a layout sits, and which way its axis points: ``[x, y, z, ax, ay, az]``, m and a unit."""
    out: dict[str, list[float]] = {}
    for a in layout.antennas if layout else ():
        axis = np.asarray(a.axis, float) / np.linalg.norm(a.axis)
        out[f"{a.receiver}.antenna{a.number}"] = [round(float(v), 3) for v in (*a.position_m, *axis)]
    return out


def numbers(values: Any) -> list[int | None]:
    """A map's values in tenths, azimuth major; ``None`` where nothing was seen."""
    flat = np.asarray(values, float).ravel()
    return [None if not np.isfinite(v) else round(10 * float(v)) for v in flat]
