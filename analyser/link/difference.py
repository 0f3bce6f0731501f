"""One map of body directions less another: an antenna before and after it was moved, or as seen and as planned."""

from __future__ import annotations

import numpy as np

from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, Text, say
from analyser.link.codes import LinkCode
from analyser.link.maps import AntennaMap
from analyser.link.sides import name_direction
from analyser.link.sphere import bin_centres


def map_difference(one: AntennaMap, other: AntennaMap, *, level: bool = False) -> AntennaMap | None:
    """Take one map from another of the same unit, direction by direction: ``one`` − ``other``.

    Parameters
    ----------
    level : bool
        Take out the median difference first: a plan knows an antenna's shape, but not what the transmitter radiates.

    Returns
    -------
    AntennaMap or None
        Known where both were seen, with an interval where both have one: their ends combined in quadrature, as for
        independent errors (JCGM 100:2008, 5.1.2). ``nulls`` is where it surely became worst, at most one direction.
        ``None`` where the two have no direction in common, or count in other units.
    """
    if one.unit != other.unit:
        return None
    gain = one.gain_db - other.gain_db
    seen = np.isfinite(gain)
    if not seen.any():
        return None
    if level:
        gain = gain - float(np.median(gain[seen]))
    down = np.hypot(one.gain_db - one.low_db, other.high_db - other.gain_db)
    up = np.hypot(one.high_db - one.gain_db, other.gain_db - other.low_db)
    low, high = gain - down, gain + up
    count = np.minimum(one.count, other.count)
    worst = _worst(one.unit, gain, low, high)
    text: Text = worst[0] if worst else say(LinkCode.NOWHERE_WORSE)
    return AntennaMap(
        one.antenna,
        one.layout,
        one.unit,
        one.edges_azimuth_deg,
        one.edges_sin_elevation,
        gain,
        low,
        high,
        count,
        worst,
        text,
    )


def _worst(unit: str, gain: FloatArray, low: FloatArray, high: FloatArray) -> tuple[Finding, ...]:
    """The direction that surely changed most for the worse, if any; without intervals none is sure."""
    loss, sure = (gain, low > 0) if unit != "dB" else (-gain, high < 0)
    ranked = np.where(sure & np.isfinite(gain), loss, -np.inf)
    at = np.unravel_index(int(np.argmax(ranked)), ranked.shape)
    if not np.isfinite(ranked[at]) or ranked.shape != bin_centres()[0].shape:
        return ()
    azimuth, elevation = (float(part[at]) for part in bin_centres())
    return (
        say(
            LinkCode.SURELY_WORSE,
            where=name_direction(azimuth, elevation),
            by=float(ranked[at]),
            unit=unit,
            azimuth_deg=azimuth,
            elevation_deg=elevation,
        ),
    )
