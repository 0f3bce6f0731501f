"""Fewer points, same envelope: nothing that went up or down is lost between two of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray
from analyser.core.statistics.sampling import longest_pause_s, usual_step_s


def keep(
    time_s: FloatArray, values: FloatArray, points: int, spans: Sequence[tuple[float, float]] = ()
) -> npt.NDArray[np.intp]:
    """Choose which samples of a curve a plot must carry.

    The lowest and the highest sample of each of ``points / 2`` equal steps of time stay (M4-style envelope, by
    tsdownsample), the first and last sample, and of every span in ``spans`` its first, last, lowest and highest sample.

    Parameters
    ----------
    time_s, values : ndarray, shape (n,)
        Ascending times and the curve, without NaN.
    points : int
        About how many samples may stay besides the events' own.
    spans : sequence of (start_s, end_s)
        Events that must be seen whole.

    Returns
    -------
    ndarray of int
        Ascending positions.
    """
    n = values.size
    if n <= points:
        return np.arange(n)
    envelope = _envelope(time_s.dtype, values.dtype)
    chosen = envelope(np.ascontiguousarray(time_s), np.ascontiguousarray(values), max(4, points - points % 2))
    extra = [0, n - 1]
    if spans:
        starts, ends = np.array(spans, float).T
        firsts = time_s.searchsorted(starts, side="left").tolist()
        for a, b in zip(firsts, time_s.searchsorted(ends, side="right").tolist(), strict=True):
            if b > a:
                inside = values[a:b]
                extra += [a, b - 1, a + int(inside.argmin()), a + int(inside.argmax())]
    there = np.zeros(n, bool)
    there[chosen] = True
    there[extra] = True
    return np.flatnonzero(there)


@cache
def _envelope(*kinds: np.dtype[Any]) -> Callable[..., npt.NDArray[Any]]:
    """The library's function for times and values of these types: to look for it takes longer than a curve does."""
    from tsdownsample import MinMaxDownsampler

    made = MinMaxDownsampler()  # type: ignore[no-untyped-call]
    name = "_".join(["downsample", *(f"{kind.kind}{8 * kind.itemsize}" for kind in kinds)])
    found: Callable[..., npt.NDArray[Any]] = getattr(made.mod_single_core, name)
    return found


def silences(time_s: FloatArray) -> FloatArray:
    """When a sensor fell silent: a moment after each sample that was followed by none for long.

    Long is: longer than two seconds and than eight times its usual spacing.
    """
    if time_s.size < 3 or longest_pause_s(time_s) <= 2.0:
        return np.empty(0)
    holes = np.flatnonzero(time_s[1:] - time_s[:-1] > max(2.0, 8.0 * usual_step_s(time_s)))
    return time_s[holes] + 0.001


def with_gaps(time_s: FloatArray, values: FloatArray, silent: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Break the line of some samples wherever the sensor fell silent, as :func:`silences` tells."""
    if silent.size == 0:
        return time_s, values
    where = time_s.searchsorted(silent)
    return np.insert(time_s, where, silent), np.insert(values, where, np.nan)
