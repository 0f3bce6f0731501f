"""Something that happened: a span of the flight, how bad, and what else happened in the same moment.

The detector is the dip rule of IEC 61000-4-30 (5.4, voltage dip detection), borrowed for pack sag and
signal fade alike: an event begins when the quantity falls below a threshold and ends when it has risen to
or above the threshold *plus* a hysteresis; its depth is threshold-reference minus the lowest value, its
duration the time between the two crossings.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from analyser.core.figures import Figure, FloatArray
from analyser.core.findings import Text
from analyser.core.levels import COMMON_PRACTICE, Level, Limit

__all__ = ["Attention", "Dips", "Event", "Level", "find_dips", "happened", "runs_of"]


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened.

    Parameters
    ----------
    kind : str
        Snake-case kind: ``sag``, ``brown_out``, ``fade``, ``lost_frames``, ``failsafe``, ``downlink_gap``,
        ``flame_out``, ``hot_start``, ``failed_start``, ``cool_down_cut``, ``reserve_reached`` …
    subject : str
        Channel prefix it belongs to: ``pack.rx2``, ``link.rx1.antenna2``, ``engine.left``, ``fuel.left``.
    start_s, end_s : float
        Seconds from the flight's first row.
    level : Level
        How much attention it deserves.
    summary : Text
        What happened, with the figures in it.
    depth : Figure or None
        How far, where the kind has a depth.
    causes : tuple of Text
        What happened in the same half second (``gear``, ``brake``, ``engine start`` …).
    size : float or None
        What its limit is held against, in the limit's unit: how deep, how long or how many, by its kind.
    limit : str
        Name of the limit that was passed, where that is what happened.
    mark : str
        What a person said of it: ``real``, ``nuisance`` or ``sensor``; '' where nobody did.
    """

    kind: str
    subject: str
    start_s: float
    end_s: float
    level: Level
    summary: Text
    depth: Figure | None = None
    causes: tuple[Text, ...] = ()
    size: float | None = None
    limit: str = ""
    mark: str = ""

    @property
    def duration_s(self) -> float:
        """Length of the event, s."""
        return self.end_s - self.start_s


def happened(
    kind: str, subject: str, span: tuple[float, float], summary: Text, *, size: float | None = None,
    depth: Figure | None = None, causes: tuple[Text, ...] = (),
) -> Event:  # fmt: skip
    """Make an event; common practice says what it deserves until the aircraft's own limits judge it.

    Parameters
    ----------
    span : (float, float)
        First and last second.
    size : float or None
        What its limit is held against.
    """
    limit = _practice(kind)
    level = limit.judge(size) if limit else Level.FINE
    return Event(kind, subject, *span, level, summary, depth, causes, size)


@cache
def _practice(kind: str) -> Limit | None:
    """Common practice sets no limit on a single part, so the kind alone finds it; a flight has thousands of events."""
    return COMMON_PRACTICE.find("event", kind)


@dataclass(frozen=True, slots=True)
class Attention:
    """One fault that its owner should look at: what, why, how bad, where to look, and what else points at it.

    Parameters
    ----------
    level : Level
        How much attention it deserves.
    subject : Text
        The thing, as its owner knows it: a part of the aircraft, or a named pack.
    reason : Text
        Why it is listed.
    figure : Figure or None
        The figure behind the reason.
    flight_id : str
    at_s : float or None
        The flight, and the moment in it, to look at; '' where the matter stands for several flights.
    page : str
        Kind and name of the page that tells more (``packs/R2``, ``aircraft/Tern``, ``antennas/Tern``).
    aircraft : str
        The aircraft concerned, '' for a pack or an unassigned flight.
    witnesses : tuple of Attention
        Further lines about the same fault, worst first; they have no witnesses of their own.
    """

    level: Level
    subject: Text
    reason: Text
    figure: Figure | None = None
    flight_id: str = ""
    at_s: float | None = None
    page: str = ""
    aircraft: str = ""
    witnesses: tuple[Attention, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Dips:
    """Every dip of one trace.

    Parameters
    ----------
    start_s, end_s : ndarray, shape (n,)
        First sample below the threshold; first sample at or above threshold + hysteresis (or the last sample).
    start_index, end_index : ndarray of int, shape (n,)
        The same as positions in the input (``end_index`` exclusive).
    residual : ndarray, shape (n,)
        Lowest value in the dip.
    depth : ndarray, shape (n,)
        Largest (threshold − value) in the dip, in the input's unit.
    lowest_index : ndarray of int, shape (n,)
        Where the depth was reached.
    """

    start_s: FloatArray
    end_s: FloatArray
    start_index: npt.NDArray[np.intp]
    end_index: npt.NDArray[np.intp]
    residual: FloatArray
    depth: FloatArray
    lowest_index: npt.NDArray[np.intp]

    def __len__(self) -> int:
        return int(self.start_s.size)


_NONE, _NOWHERE = np.empty(0), np.empty(0, np.intp)
_NO_DIPS = Dips(_NONE, _NONE, _NOWHERE, _NOWHERE, _NONE, _NONE, _NOWHERE)


def runs_of(mask: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Spans where a mask is true, as (first, one past last) positions, in order."""
    held = np.zeros(mask.size + 2, bool)
    held[1:-1] = mask
    edges = np.flatnonzero(held[1:] != held[:-1]).tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))


def _one_before(mask: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Whether it was so one sample before; not so before the first."""
    out = np.zeros(mask.size, bool)
    out[1:] = mask[:-1]
    return out


def _one_after(mask: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Whether it is so one sample later; not so after the last."""
    out = np.zeros(mask.size, bool)
    out[:-1] = mask[1:]
    return out


def find_dips(
    time_s: FloatArray,
    values: FloatArray,
    threshold: float | FloatArray,
    hysteresis: float,
    *,
    min_duration_s: float = 0.0,
    max_gap_s: float = np.inf,
) -> Dips:
    """Find every span in which ``values`` dips below ``threshold`` (IEC 61000-4-30, dip rule with hysteresis).

    Parameters
    ----------
    time_s, values : ndarray, shape (n,)
        Strictly increasing time and the trace, without NaN.
    threshold : float or ndarray, shape (n,)
        Level that starts a dip, in the unit of ``values``; an array follows a moving reference.
    hysteresis : float
        How far above the threshold the value must rise to end the dip; ≥ 0.
    min_duration_s : float
        Shorter dips are dropped.
    max_gap_s : float
        A hole between samples longer than this ends a dip at its last sample: nobody saw what happened there.
        After the hole the rule starts afresh: only a value below the threshold begins a dip.

    Raises
    ------
    ValueError
        If the shapes differ, ``hysteresis`` is negative, or there is NaN.
    """
    time_s, values = np.asarray(time_s, float), np.asarray(values, float)
    if time_s.shape != values.shape or time_s.ndim != 1:
        raise ValueError(f"time_s and values must be one shape, got {time_s.shape} and {values.shape}")
    if hysteresis < 0:
        raise ValueError(f"hysteresis must not be negative, got {hysteresis}")
    level = np.broadcast_to(np.asarray(threshold, float), values.shape)
    if np.isnan(values).any() or np.isnan(level).any():
        raise ValueError("values and threshold must hold no NaN")
    n = values.size
    below = values - level
    if not (below < 0).any():
        return _NO_DIPS
    hole_after = np.zeros(n, bool)
    if n > 1:
        hole_after[:-1] = np.diff(time_s) > max_gap_s
    # +1 enters, −1 leaves, 0 keeps the state of the last decided sample: the hysteresis, without a loop.
    # A hole forgets the state: a value in the hysteresis band right after it says nothing of a dip.
    vote = np.where(below < 0, 1, np.where(below >= hysteresis, -1, 0))
    position = np.arange(n)
    after_hole = _one_before(hole_after)
    last = np.maximum.accumulate(np.where((vote != 0) | after_hole, position, 0))
    inside = vote[last] == 1
    begins = inside & ~_one_before(inside & ~hole_after)
    finishes = inside & (~_one_after(inside) | hole_after)
    start = np.flatnonzero(begins)
    stop = np.flatnonzero(finishes) + 1
    # A dip that the trace or a hole cuts short ends at its last seen sample.
    cut = (stop >= n) | hole_after[np.minimum(stop, n) - 1]
    end_s = time_s[np.where(cut, stop - 1, np.minimum(stop, n - 1))]
    keep = (end_s - time_s[start]) >= min_duration_s
    start, stop, end_s = start[keep], stop[keep], end_s[keep]
    if start.size == 0:
        return _NO_DIPS
    # reduceat needs segment heads; each dip's tail is masked out instead
    segment = np.repeat(np.arange(start.size), np.diff(start, append=n))
    position = np.arange(start[0], n)
    in_dip = position < stop[segment]
    deep = np.where(in_dip, -below[start[0] :], -np.inf)
    depth = np.maximum.reduceat(deep, start - start[0])
    is_lowest = in_dip & (deep == depth[segment])
    _, first = np.unique(segment[is_lowest], return_index=True)
    lowest = position[is_lowest][first]
    residual = np.minimum.reduceat(np.where(in_dip, values[start[0] :], np.inf), start - start[0])
    return Dips(time_s[start], end_s, start, stop, residual, depth, lowest)
