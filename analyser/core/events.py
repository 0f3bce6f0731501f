"""Something that happened: a span of the flight, how bad, and what else happened in the same moment.

The detector is the dip rule of IEC 61000-4-30 (5.4, voltage dip detection), borrowed for pack sag and
signal fade alike: an event begins when the quantity falls below a threshold and ends when it has risen to
or above the threshold *plus* a hysteresis; its depth is threshold-reference minus the lowest value, its
duration the time between the two crossings.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.figures import Figure, FloatArray
from analyser.core.findings import Text
from analyser.core.levels import COMMON_PRACTICE, Level, Limit

__all__ = ["Attention", "Dips", "Event", "Level", "find_dips", "happened", "runs_of"]


class Event(Struct, frozen=True):
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


class Attention(Struct, frozen=True):
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


class Dips(Struct, frozen=True, eq=False):
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
    below = values - threshold
    lowest = below.min(initial=0.0)
    if np.isnan(lowest):
        raise ValueError("values and threshold must hold no NaN")
    if not lowest < 0:
        return _NO_DIPS
    n = values.size
    # A dip lasts from a sample below the threshold to the next that has come back, or that follows a hole: a value in
    # the hysteresis band right after a hole says nothing of a dip.
    leaves = below >= hysteresis
    leaves[1:] |= time_s[1:] - time_s[:-1] > max_gap_s
    under = np.flatnonzero(below < 0)
    stops = np.append(np.flatnonzero(leaves), n)
    stop = stops[np.searchsorted(stops, under, "right")]
    head = np.ones(under.size, bool)
    np.not_equal(stop[1:], stop[:-1], out=head[1:])
    start, stop = under[head], stop[head]
    # A dip that the trace or a hole cuts short ends at its last seen sample.
    after = np.minimum(stop, n - 1)
    cut = (stop == n) | (time_s[after] - time_s[stop - 1] > max_gap_s)
    end_s = time_s[np.where(cut, stop - 1, after)]
    spans = np.column_stack((start, stop)).ravel()[: -1 if stop[-1] == n else None]
    depth, residual = (np.minimum.reduceat(x, spans)[::2] for x in (below, values))
    dip = np.cumsum(head) - 1
    deepest = np.flatnonzero(below[under] == depth[dip])
    deepest = deepest[np.searchsorted(dip[deepest], np.arange(start.size))]
    found = Dips(time_s[start], end_s, start, stop, residual, -depth, under[deepest])
    keep = end_s - found.start_s >= min_duration_s
    if keep.all():
        return found
    return Dips(*(getattr(found, name)[keep] for name in Dips.__struct_fields__))
