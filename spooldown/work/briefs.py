"""A flight's brief as it is kept: the maps of its antennas apart, which only a layout's newest flights are asked for.

They are two thirds of it. Each is a line of its own behind the brief, and is unpacked when somebody reads it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from msgspec.structs import replace

from analyser.flight import FlightResult
from analyser.link.directions import DirectionBins
from spooldown.logbook.codec import from_json, to_json
from spooldown.work import kept

_NONE = np.empty(0)
_ELSEWHERE = DirectionBins(
    _NONE, _NONE, _NONE, np.empty(0, np.int32), _NONE, _NONE,
    range_edges_m=_NONE, seconds_by_range=_NONE, lost_by_range=_NONE,
)  # fmt: skip
"""Stands in the brief where an antenna has a map."""


def encode(brief: FlightResult) -> bytes:
    """Write a brief, to be kept."""
    maps: list[DirectionBins] = []

    def apart(bins: DirectionBins) -> DirectionBins:
        maps.append(bins)
        return _ELSEWHERE

    return b"\n".join(map(to_json, (_with_maps(brief, apart), *maps)))


def load(folder: Path, flight_id: str, key: str) -> FlightResult | None:
    """A kept brief; ``None`` where there is none under this key."""
    lines = kept.lines(folder, flight_id + kept.BRIEF, key)
    try:
        brief = None if lines is None else from_json(lines[0], FlightResult)
    except Exception:  # whatever is wrong with it, it is made again
        return None
    if brief is None or lines is None:
        return None
    maps = (from_json(lines[at], DirectionBins) for at in range(1, len(lines)))
    return _with_maps(brief, lambda _: next(maps))


def _with_maps(brief: FlightResult, change: Callable[[DirectionBins], DirectionBins]) -> FlightResult:
    """The same with another map where an antenna has one, in their order."""
    receivers = tuple(
        replace(
            r,
            antennas=tuple(a if a.bins is None else replace(a, bins=change(a.bins)) for a in r.antennas),
        )
        for r in brief.link.receivers
    )
    return replace(brief, link=replace(brief.link, receivers=receivers))
