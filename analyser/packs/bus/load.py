"""What a shared bus drew at every moment, from every sample of every pack that feeds it.

Packs are seldom read at the same instant, and a load peak is over before the next one is read: the sum of two
interpolated currents shows less than either pack saw. Packs on one bus share a load by their resistances, so that one
pack's current tells the whole load wherever it was read: a straight line over the load (Kirchhoff), that may drift.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy import linalg

from analyser.core.figures import FloatArray
from analyser.core.statistics.robust import median
from analyser.core.telemetry import Series

GRID_S = 0.1
QUICKEST_S = 0.2
"""A peak of load lasts at least so long: what servos do is not over sooner (common practice, no source)."""
LEAST_PART = 0.15
"""A pack that takes a smaller part of a growing load does not tell it."""
LEAST_TOLD = 0.7
"""Share of a current's variance that the line over the load must explain, or nothing is told by it."""


class BusLoad(Struct, frozen=True, eq=False):
    """The packs' currents and their sum on an even grid of :data:`GRID_S`.

    ``amps`` maps a pack's place to its current, A, shape (n,) as ``time_s`` and ``total_a``; ``read`` marks the
    instants at which some pack was read.
    """

    time_s: FloatArray
    amps: dict[str, FloatArray]
    total_a: FloatArray
    read: npt.NDArray[np.bool_]


def bus_load(currents: Mapping[str, Series], start_s: float, stop_s: float) -> BusLoad | None:
    """Add up the packs' currents between two instants; ``None`` with less than a second.

    Parameters
    ----------
    currents : mapping of place to Series
        Discharge positive, each at its own instants.
    """
    grid = np.arange(start_s, stop_s, GRID_S)
    if grid.size < 10:
        return None
    even = {r: np.interp(grid, *s) for r, s in currents.items()}
    total: FloatArray = np.sum(list(even.values()), axis=0)
    lines = dict(zip(even, _lines(grid, np.stack(list(even.values()), axis=1), total), strict=True))
    read = {r: (s.time_s >= start_s) & (s.time_s < stop_s) for r, s in currents.items()}
    at = np.concatenate([s.time_s[read[r]] for r, s in currents.items()])
    loads = np.concatenate([_told(s.time_s[read[r]], s.values[read[r]], currents, r, lines[r])
                            for r, s in currents.items()])  # fmt: skip
    order, nearest = np.argsort(at, kind="stable"), _nearest(grid, at)

    def kept(values: FloatArray) -> FloatArray:
        """Samples on the grid: interpolated, each kept whole at the grid's nearest instant; of several the largest."""
        out = np.interp(grid, at[order], values[order])
        np.maximum.at(out, nearest, values)
        return np.asarray(out, float)

    total, amps = kept(loads), {}
    for r, s in currents.items():  # a loop over packs
        own, line = np.interp(at, *s), lines[r]
        if line is not None:
            own = np.where(_read_at(s.time_s, at), own, np.clip(_along(line, at, loads), 0.0, loads))
        amps[r] = kept(own)
    some = np.zeros(grid.size, bool)
    some[nearest] = True
    return BusLoad(grid, amps, total, some)


def _lines(t: FloatArray, own: FloatArray, total: FloatArray) -> Iterator[FloatArray | None]:
    """Each pack's current as a line over the load, drifting with time: constant, per second, share; else ``None``.

    ``own`` has shape (n, packs). The upper half of the loads: under small ones a pack of higher voltage may carry
    all of them behind its diode.
    """
    heavy = total >= median(total)
    t, own, total = t[heavy], own[heavy], total[heavy]
    a = np.column_stack([np.ones(t.size), t, total])
    p = linalg.lstsq(a, own)[0]
    told = 1.0 - ((own - a @ p) ** 2).sum(axis=0) / np.maximum(own.var(axis=0) * t.size, 1e-12)
    for line, share in zip(p.T, told.tolist(), strict=True):
        yield line if line[2] >= LEAST_PART and share >= LEAST_TOLD else None


def _along(line: FloatArray, t: FloatArray, total: FloatArray) -> FloatArray:
    return np.asarray(line[0] + line[1] * t + line[2] * total, float)


def _told(
    t: FloatArray, own: FloatArray, currents: Mapping[str, Series], role: str, line: FloatArray | None
) -> FloatArray:
    """The whole load at one pack's samples: the sum where all were read at once, else by its line over the load."""
    others = [s for r, s in currents.items() if r != role]
    added = own + np.sum([np.interp(t, *s) for s in others], axis=0)
    if line is None:
        return np.asarray(added, float)
    together = np.all([_read_at(s.time_s, t) for s in others], axis=0)
    return np.asarray(np.where(together, added, np.maximum((own - line[0] - line[1] * t) / line[2], own)), float)


def _read_at(samples: FloatArray, t: FloatArray) -> npt.NDArray[np.bool_]:
    """Whether a sample lies within half a step of the grid of each instant."""
    near = np.clip(np.searchsorted(samples, t), 1, samples.size - 1)
    away = np.minimum(np.abs(samples[near] - t), np.abs(samples[near - 1] - t))
    return np.asarray(away <= GRID_S / 2.0, np.bool_)


def _nearest(grid: FloatArray, at: FloatArray) -> npt.NDArray[np.intp]:
    return np.asarray(np.clip(np.rint((at - grid[0]) / GRID_S), 0, grid.size - 1), np.intp)
