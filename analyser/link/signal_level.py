"""One antenna's signal as a level against what distance lets expect, at its own samples.

Free-space loss is ITU-R P.525; what is left after it is what the installation does.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analyser.core.figures import FloatArray
from analyser.core.findings import Text, say
from analyser.core.geometry import EYE_HEIGHT_M, Seen
from analyser.core.statistics.robust import median
from analyser.core.statistics.sampling import usual_step_s
from analyser.core.telemetry import Series
from analyser.link.codes import LinkCode
from analyser.link.propagation import (
    NEAREST_M,
    Alike,
    DistanceFit,
    Fall,
    free_space_loss_db,
    two_ray_gain_db,
)
from analyser.link.signal_scale import Calibration, learn_scale
from analyser.link.sphere import bin_of

MAX_GAP_S = 2.0
RUNNING_MEDIAN_S = 30.0
RUNNING_STEP_S = 0.2
BLOCK_S = 10.0
FIT_SAMPLES = 3000
FEWEST_LOCATED = 50
FAINTEST_USUAL = 0.01
"""Of the strongest signal: below that the median is no usual signal but the lack of one."""
LATE_S = 0.8
"""Positions come up to this late (common practice, no source)."""
POSITION_SE_M = 2.5
"""How far a satellite position is off (common practice, no source)."""
HEIGHT_ERRORS_M = (0.3, 1.0, 3.0)
"""A satellite or barometric height over a flight is good to about this (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class SignalLevel:
    """One antenna's signal turned into a level against expectation, at its own samples.

    ``level_db`` (n,) is the signal plus free-space loss (NaN without range); ``residual`` (n,) what is left against
    expectation, in dB or, where no dB can be had, percent of the usual; NaN where nothing can be expected.
    """

    time_s: FloatArray
    values: FloatArray
    unit: str
    level_db: FloatArray
    residual: FloatArray
    residual_unit: str
    how: Text
    seen: Seen | None
    calibration: Calibration | None
    fit: DistanceFit | None


def hole_s(time_s: FloatArray) -> float:
    """How long without a sample is a hole: two seconds, or longer for a sensor that is slower than that."""
    return max(MAX_GAP_S, 2.5 * usual_step_s(time_s)) if time_s.size > 1 else MAX_GAP_S


def slim(values: FloatArray, digits: int) -> FloatArray:
    """Round a curve that is only drawn, and keep it in half the bytes."""
    return cast(FloatArray, np.round(values, digits).astype(np.float32))


def level_of(signal: Series, unit: str, seen: Seen | None, mhz: float) -> SignalLevel:
    """Turn a signal into a level against expectation.

    Parameters
    ----------
    signal : Series, of two samples or more
    unit : str
        ``dBm``, ``%`` or ``counts``; the latter two become dB only through a calibration learned from distance.
    seen : Seen or None
        The geometry at the signal's samples, where there is one.
    mhz : float
    """
    if seen is not None and np.isfinite(seen.range_m).sum() > FEWEST_LOCATED:
        found = _by_distance(signal, unit, seen, mhz)
        if found is not None:
            return found
    t, v = signal
    nowhere = np.full(t.size, np.nan)
    if unit == "dBm":
        how = say(LinkCode.LEVEL_BY_MEDIAN)
        return SignalLevel(t, v, unit, nowhere, v - _running_median(t, v), "dB", how, seen, None, None)
    usual = median(v)
    if usual > FAINTEST_USUAL * float(v.max()):
        how = say(LinkCode.LEVEL_SHARE, unit=unit)
        return SignalLevel(t, v, unit, nowhere, 100.0 * v / usual, "% of usual", how, seen, None, None)
    how = say(LinkCode.LEVEL_NONE, unit=unit)
    return SignalLevel(t, v, unit, nowhere, nowhere, "% of usual", how, seen, None, None)


def _by_distance(signal: Series, unit: str, seen: Seen, mhz: float) -> SignalLevel | None:
    """The level with distance taken off; ``None`` where percent or counts do not fall with distance."""
    t, v = signal
    known = np.isfinite(seen.range_m)
    distance = np.where(known, seen.range_m, 100.0)
    loss = free_space_loss_db(distance, mhz)
    calibration = None if unit == "dBm" else learn_scale(v[known], loss[known])
    if unit != "dBm" and calibration is None:
        return None
    level = np.where(known, (calibration.to_db(v) if calibration else v) + loss, np.nan)
    fit = _fit(t, level, seen, mhz) if unit == "dBm" else None
    if fit is not None and fit.two_ray_shows:
        level = level - min(fit.two_ray_gain, 1.0) * np.nan_to_num(_two_ray(seen, mhz, fit.height_error_m))
    how = say(
        LinkCode.LEVEL_BY_DISTANCE,
        exponent=fit.exponent if fit is not None else float("nan"),
        two_ray=fit is not None and fit.two_ray_shows,
        calibrated=calibration is not None,
    )
    slope = np.zeros(t.size)
    if fit is not None and not fit.low <= 2.0 <= fit.high and 1.0 < fit.exponent < 5.0:
        slope = 10 * (2.0 - fit.exponent) * np.log10(np.maximum(distance, NEAREST_M))
    residual = level - slope
    usual = median(residual[np.isfinite(residual)])
    return SignalLevel(t, v, unit, level, residual - usual, "dB", how, seen, calibration, fit)


def _running_median(time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Median over :data:`RUNNING_MEDIAN_S`; quick sensors are thinned, since neighbours repeat each other."""
    step = usual_step_s(time_s)
    every = max(1, round(RUNNING_STEP_S / max(step, 1e-6)))
    width = max(3, round(RUNNING_MEDIAN_S / (step * every)) | 1)
    usual = ndimage.median_filter(values[::every], size=width, mode="nearest")
    return np.asarray(np.interp(time_s, time_s[::every], usual))


def _two_ray(
    seen: Seen, mhz: float, height_error_m: float, at: npt.NDArray[np.intp] | slice = slice(None)
) -> FloatArray:
    ground, height = seen.ground_range_m[at], seen.height_m[at] + EYE_HEIGHT_M
    return two_ray_gain_db(ground, height, EYE_HEIGHT_M, mhz, height_error_m=height_error_m)


def _fit(t: FloatArray, level: FloatArray, seen: Seen, mhz: float) -> DistanceFit | None:
    ok = np.flatnonzero(np.isfinite(level) & np.isfinite(seen.body_azimuth_deg))
    if ok.size < 200:
        return None
    # Neighbouring samples repeat each other: a few thousand tell the slope as well as all of them.
    ok = ok[:: max(1, ok.size // FIT_SAMPLES)]
    where = np.unique(bin_of(seen.body_azimuth_deg[ok], seen.body_elevation_deg[ok]), return_inverse=True)[1]
    alike = Alike.of(where, (t[ok] // BLOCK_S).astype(np.intp))
    here = seen.range_m[ok]
    fall = Fall.of(level[ok], here, alike)
    if fall is None:
        return None
    # How well the height is known is not: the prediction that leaves least is taken, if the ground shows in it at all.
    tried = [
        replace(fit, height_error_m=error_m)
        for error_m in HEIGHT_ERRORS_M
        if (fit := fall.fit(_two_ray(seen, mhz, error_m, ok))) is not None
    ]
    best = min(tried, key=lambda fit: fit.left_db) if tried else fall.fit()
    if best is None:
        return None
    ground = _two_ray(seen, mhz, best.height_error_m, ok) if best.two_ray_shows else None

    def exponent(range_m: FloatArray) -> float:
        moved = np.where(np.isfinite(range_m), range_m, here)
        shifted = level[ok] + 20.0 * np.log10(np.maximum(moved, NEAREST_M) / np.maximum(here, NEAREST_M))
        again = Fall.of(shifted, moved, alike)
        found = again.exponent(ground) if again is not None else None
        return best.exponent if found is None else found

    return _placed(best, exponent, t, seen, ok, where)


def _placed(
    fit: DistanceFit, exponent: Callable[[FloatArray], float], t: FloatArray, seen: Seen, ok: npt.NDArray[np.intp],
    direction: npt.NDArray[np.intp],
) -> DistanceFit:  # fmt: skip
    """Set a fit right for noise and lateness of positions, and widen it by what a pilot who stood elsewhere would do.

    Noise in the distance flattens every slope by its share of the spread within directions (the covariance stays while
    the regressor's variance grows by the noise's), which is put back; positions come anything from at once to
    :data:`LATE_S` late, so half of that is taken. Each correction is as unsure as it is large.
    """
    # A radius of 95 % of places is 0.8 of it along one axis.
    away = 0.8 * seen.pilot_error_m
    east, north = ((away, 0.0), (-away, 0.0)), ((0.0, away), (0.0, -away))
    shifts = [max(abs(exponent(seen.range_from(*at, ok)) - fit.exponent) for at in pair) for pair in (east, north)]
    late = (exponent(np.interp(t[ok] + LATE_S, t, seen.range_m)) - fit.exponent) / 2.0
    # Of two axes' radius of 95 %, one axis' standard deviation is the 2.45th part (Rayleigh).
    off_m = float(np.hypot(POSITION_SE_M, seen.pilot_error_m / 2.45))
    range_m = seen.range_m[ok]
    share = 10.0 / np.log(10.0) * np.minimum(off_m / np.maximum(range_m, NEAREST_M), 1.0)
    log_d = 10.0 * np.log10(np.maximum(range_m, NEAREST_M))
    count = np.bincount(direction)
    spread = float(np.mean((log_d - (np.bincount(direction, log_d) / np.maximum(count, 1))[direction]) ** 2))
    flattened = fit.exponent * float(np.mean(share**2)) / max(spread, 1e-9)
    value = fit.exponent + late + flattened
    half = float(np.linalg.norm([(fit.high - fit.low) / 2.0, *shifts, late, flattened]))
    return replace(fit, exponent=value, low=value - half, high=value + half)
