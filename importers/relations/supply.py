"""Laws of what is carried and used: packs and their cells, fuel, engines and their pumps."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.core.statistics.robust import quantiles
from importers.relations.courses import correlation, follows
from importers.relations.opinion import LEAST, FloatArray, Opinion, Opinions, near, of_size, whole_rows

_STEADY = 0.15
"""A pack's voltage keeps within this share of its middle, its current does not: common practice, no source."""
_STILL_RPM, _WARM_C, _FEW = 200.0, 120.0, 5
"""No shaft turns below; an exhaust that cools from the flight before falls by more than a few degrees in as many rows:
common practice, no source."""
_IDLE_RPM, _HOT_C = 15_000.0, 350.0
"""A model turbine whose exhaust stays as hot as this burns, and idles no slower: common practice, no source."""
_FAST_RPM, _SIPS_ML_PER_MIN = 60_000.0, 45.0
"""The smallest turbine burns more than this at such a speed of its shaft: common practice, no source."""


def sag(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A pack's voltage falls where its current rises."""
    volts, amps = some
    r = correlation(np.diff(volts), np.diff(amps))
    if r is None:
        return ()
    if _steady(amps) and not _steady(volts, 4 * _STEADY):
        return (Opinion(0.0, -1),)  # what sags by a few in a hundred is the voltage
    return (Opinion(max(-r, 0.0), 1 if r < -0.3 else -1 if r > 0.6 else 0),)


def grows(some: Sequence[FloatArray], seconds: FloatArray | None, factor: float) -> Opinions:
    """A total grows by its rate over time."""
    rows = whole_rows(some, seconds) if seconds is not None else None
    if rows is None:
        return ()
    t, total, rate = rows
    made = float(np.trapezoid(rate, t)) * factor
    return of_size(float(total[-1] - total[0]), made, float(np.abs(total).max()) * 0.02)


def one_total(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """What is used is gone from what remains."""
    used, gone = some[0], some[1][np.isfinite(some[1])]
    burnt = float(np.nanmax(used) - np.nanmin(used))
    return of_size(float(gone[0] - gone[-1]), burnt, 0.02 * float(np.abs(gone).max()))


def cells(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A pack's voltage is the sum of its cells."""
    volts, *cells = some
    if len(cells) < 2:
        return ()
    whole = float(np.nanmedian(sum(cells)))
    ratio = float(np.nanmedian(volts)) / whole if whole else np.inf
    bears = 1 if 0.93 < ratio < 1.07 else 0 if 0.45 < ratio < 8.0 else -1
    return (Opinion(near(ratio, 0.1), bears, scale=True, blamed=(0,)),)


def cold(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """An exhaust that keeps its temperature before the shaft has turned is as warm as the air."""
    shaft, exhaust = some
    turns = np.flatnonzero(shaft > _STILL_RPM)
    before = exhaust[: turns[0] if turns.size else 0]
    before = before[np.isfinite(before)]
    if before.size > _FEW and np.ptp(before) < 8.0 and float(np.median(before)) > _WARM_C:
        return (Opinion(0.0, -1, scale=True, blamed=(1,)),)
    return ()


def burns(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A shaft whose exhaust stays hot turns at idle at least."""
    shaft, exhaust = some
    good = np.isfinite(shaft) & np.isfinite(exhaust)
    hot = good & (exhaust > _HOT_C)
    if hot.sum() > max(LEAST, 0.3 * good.sum()) and quantiles(shaft[hot], 0.98)[0] < _IDLE_RPM:
        return (Opinion(0.0, -1, scale=True, blamed=(0,)),)
    return ()


def sips(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A fast shaft burns more than the smallest turbine does."""
    flow, shaft = some
    fast = np.isfinite(flow) & np.isfinite(shaft) & (shaft > _FAST_RPM)
    if fast.sum() >= LEAST and quantiles(flow[fast], 0.98)[0] < _SIPS_ML_PER_MIN:
        return (Opinion(0.0, -1, scale=True, blamed=(0,)),)
    return ()


def pumps(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A pump drives whatever fuel a shaft turns on: never at nought while it turns, and more the faster it does."""
    pump, shaft = some
    turns = np.isfinite(pump) & np.isfinite(shaft) & (shaft > _IDLE_RPM)
    (said,) = follows((shaft, pump)) or (None,)
    if turns.sum() < LEAST or said is None:
        return (said,) if said else ()
    if (pump[turns] <= 0.02 * np.nanmax(pump)).mean() > 0.05:
        return (Opinion(0.0, said.bears if said.bears < 0 else 0),)
    varied = np.ptp(shaft[turns]) > 0.3 * float(np.max(shaft[turns]))
    r = correlation(pump[turns], shaft[turns])
    if varied and r is not None and r < 0.2:
        return (Opinion(0.0, -1, blamed=(0,)),)
    return (said,)


def _steady(x: FloatArray, share: float = _STEADY) -> bool:
    """Whether values keep within a small share of their middle, all but the outermost."""
    low, middle, high = quantiles(x[~np.isnan(x)], 0.02, 0.5, 0.98)
    return high - low < share * abs(middle)
