"""What one antenna sees from which side of the airframe, and where it sees little."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from scipy import ndimage

from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, Text, say
from analyser.link.codes import LinkCode
from analyser.link.sides import name_direction
from analyser.link.sphere import ELEVATIONS, bin_centres, unit_vector

NULL_DB = 6.0
BEST = "best"
"""Name of the map of the best antenna in each direction."""


class AntennaMap(Struct, frozen=True, eq=False):
    """What one antenna sees from each body direction, measured over flights or planned from a layout.

    ``gain_db``, ``low_db``, ``high_db``, ``count`` have shape (a, e) on the bins of :class:`DirectionBins`; NaN where
    nothing was seen. ``unit`` is ``dB`` or, for counter-only logs, ``lost/s``.
    ``fade_azimuth_deg`` and ``fade_elevation_deg``, shape (fades,), are the directions of single fades, where measured.
    """

    antenna: str
    layout: str
    unit: str
    edges_azimuth_deg: FloatArray
    edges_sin_elevation: FloatArray
    gain_db: FloatArray
    low_db: FloatArray
    high_db: FloatArray
    count: FloatArray
    nulls: tuple[Finding, ...]
    sentence: Text
    fade_azimuth_deg: FloatArray | None = None
    fade_elevation_deg: FloatArray | None = None


def antenna_key(receiver: str, number: int) -> str:
    """Name of an antenna as results carry it; number 0 is a receiver that reports one signal for all."""
    return f"{receiver}.antenna{number}" if number else receiver


def exposed_null_db(seen: AntennaMap, share: float = 0.05) -> float | None:
    """How far below the antenna's median the worst ``share`` of the time seen lies, dB; ``None`` without levels.

    A hole nobody looks into does not count, one that flights point at the pilot does.
    """
    if seen.unit != "dB":
        return None
    good = np.isfinite(seen.gain_db) & (seen.count > 0)
    if not good.any():
        return None
    depth = float(np.median(seen.gain_db[good])) - seen.gain_db[good]
    order = np.argsort(-depth)
    time = np.cumsum(seen.count[good][order])
    return float(depth[order][int(np.searchsorted(time, share * time[-1]))])


def find_nulls(
    gain_db: FloatArray,
    seconds: FloatArray,
    *,
    worse_is_high: bool = False,
    most: int = 4,
    low_db: FloatArray | None = None,
    high_db: FloatArray | None = None,
) -> tuple[Finding, ...]:
    """Find connected directions well below the antenna's median, worst first.

    Ranked by depth times the square root of the share of time flights point it at the pilot: a hole nobody looks into
    matters less, but it is still told. With an interval of the gain, a direction counts only where its upper end is
    half as deep as well, and the depth is told with it.
    """
    seen = np.isfinite(gain_db)
    if not seen.any() or worse_is_high:
        return ()
    middle = float(np.median(gain_db[seen]))
    low = seen & (np.nan_to_num(gain_db, nan=np.inf) < middle - NULL_DB)
    if high_db is not None:
        low &= np.nan_to_num(high_db, nan=np.inf) < middle - NULL_DB / 2
    labels, _ = ndimage.label(low, structure=np.ones((3, 3)))
    for e0 in range(ELEVATIONS):
        for e1 in range(max(e0 - 1, 0), min(e0 + 2, ELEVATIONS)):
            first, last = labels[0, e0], labels[-1, e1]
            if first and last and first != last:
                labels[labels == last] = first
    a, e = bin_centres()
    total = float(seconds[seen].sum()) or 1.0
    found = []
    for k in set(np.unique(labels[labels > 0]).tolist()):
        inside = labels == k
        weight = np.where(inside, middle - np.nan_to_num(gain_db, nan=middle), 0.0)
        centre = (unit_vector(a, e) * weight[..., None]).sum(axis=(0, 1))
        azimuth = float(np.degrees(np.arctan2(centre[1], centre[0])))
        elevation = float(np.degrees(np.arctan2(-centre[2], np.hypot(centre[0], centre[1]))))
        deepest = np.unravel_index(int(np.argmin(np.where(inside, gain_db, np.inf))), gain_db.shape)
        depth = middle - float(gain_db[deepest])
        share = float(seconds[inside].sum()) / total
        known = low_db is not None and high_db is not None
        null = say(
            LinkCode.NULL,
            where=name_direction(azimuth, elevation),
            depth=depth,
            low=middle - float(high_db[deepest]) if known and high_db is not None else float("nan"),
            high=middle - float(low_db[deepest]) if known and low_db is not None else float("nan"),
            share=share if not np.all(seconds == seconds.flat[0]) else float("nan"),
            azimuth_deg=azimuth,
            elevation_deg=elevation,
        )
        found.append((depth * share**0.5, k, null))
    return tuple(null for _, _, null in sorted(found, key=lambda one: (-one[0], one[1]))[:most])
