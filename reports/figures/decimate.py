"""Fewer points, same envelope: nothing that went up or down is lost between two of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray


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
    from tsdownsample import MinMaxDownsampler

    chosen = MinMaxDownsampler().downsample(  # type: ignore[no-untyped-call]
        np.ascontiguousarray(time_s), np.ascontiguousarray(values), n_out=max(4, points - points % 2)
    )
    extra = [0, n - 1]
    starts, ends = np.array(spans, float).reshape(-1, 2).T
    firsts = np.searchsorted(time_s, starts, side="left").tolist()
    for a, b in zip(firsts, np.searchsorted(time_s, ends, side="right").tolist(), strict=True):
        if b > a:
            inside = values[a:b]
            extra += [a, b - 1, a + int(inside.argmin()), a + int(inside.argmax())]
    there = np.zeros(n, bool)
    there[chosen] = True
    there[extra] = True
    return np.flatnonzero(there)


def with_gaps(time_s: FloatArray, values: FloatArray, chosen: npt.NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Take the chosen samples and break the line wherever the sensor fell silent.

    Silent means: longer than two seconds and than eight times its usual spacing.
    """
    t, v = time_s[chosen], values[chosen]
    if time_s.size < 3:
        return t, v
    step = np.diff(time_s)
    holes = np.flatnonzero(step > max(2.0, 8.0 * float(np.median(step))))
    if holes.size == 0:
        return t, v
    starts = time_s[holes] + 0.001
    where = np.searchsorted(t, starts)
    return np.insert(t, where, starts), np.insert(v, where, np.nan)
