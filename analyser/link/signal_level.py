"""One antenna's signal as a level against what distance lets expect, at its own samples.

Free-space loss is ITU-R P.525; what is left after it is what the installation does.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import cast

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace
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
    Distances,
    bulk,
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


class SignalLevel(Struct, frozen=True, eq=False):
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
    heard = seen.once("heard", lambda seen: _Heard.of(t, seen, mhz)) if unit == "dBm" else None
    fit = _fit(level[heard.ok], heard) if heard is not None else None
    if heard is not None and fit is not None and fit.two_ray_shows:
        level = level - min(fit.two_ray_gain, 1.0) * heard.ground_db(fit.height_error_m)
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


class _Heard(Struct, frozen=True, eq=False, dict=True):
    """What every antenna heard at the same instants is set against: distance, ground, and what places may be off.

    ``ok``, shape (m,), are the samples that tell, ``distances`` the ranges there and ``grounds`` the same beside the
    two-ray prediction for each of :data:`HEIGHT_ERRORS_M` that can be told from distance. ``flattening`` is the share
    by which noise in the distance flattens a slope.
    """

    time_s: FloatArray
    seen: Seen
    mhz: float
    ok: npt.NDArray[np.intp]
    alike: Alike
    distances: Distances
    flattening: float

    @cached_property
    def _ground_db(self) -> dict[float, FloatArray]:
        return {}

    @cached_property
    def _moved(self) -> dict[float | None, tuple[Distances | None, ...]]:
        return {}

    @classmethod
    def of(cls, time_s: FloatArray, seen: Seen, mhz: float) -> _Heard | None:
        """Lay it out; ``None`` where too little was heard from too alike distances."""
        ok = np.flatnonzero(np.isfinite(seen.range_m) & np.isfinite(seen.body_azimuth_deg))
        if ok.size < 200:
            return None
        # Neighbouring samples repeat each other: a few thousand tell the slope as well as all of them.
        ok = ok[:: max(1, ok.size // FIT_SAMPLES)]
        where = np.unique(bin_of(seen.body_azimuth_deg[ok], seen.body_elevation_deg[ok]), return_inverse=True)[1]
        alike = Alike.of(where, (time_s[ok] // BLOCK_S).astype(np.intp))
        range_m = np.maximum(seen.range_m[ok], NEAREST_M)
        distances = Distances.of(range_m, alike)
        if distances is None:
            return None
        # Of two axes' radius of 95 %, one axis' standard deviation is the 2.45th part (Rayleigh).
        off_m = float(np.hypot(POSITION_SE_M, seen.pilot_error_m / 2.45))
        share = 10.0 / np.log(10.0) * np.minimum(off_m / range_m, 1.0)
        flattening = float(np.mean(share**2)) / max(float(np.mean(distances.x[0] ** 2)), 1e-9)
        return cls(time_s, seen, mhz, ok, alike, distances, flattening)

    def ground_db(self, height_error_m: float) -> FloatArray:
        """The two-ray prediction at every instant, dB; nought where the place is not known."""
        if height_error_m not in self._ground_db:
            self._ground_db[height_error_m] = np.nan_to_num(self._two_ray(height_error_m, slice(None)))
        return self._ground_db[height_error_m]

    def _two_ray(self, height_error_m: float, at: npt.NDArray[np.intp] | slice) -> FloatArray:
        ground, height = self.seen.ground_range_m[at], self.seen.height_m[at] + EYE_HEIGHT_M
        return two_ray_gain_db(ground, height, EYE_HEIGHT_M, self.mhz, height_error_m=height_error_m)

    @cached_property
    def grounds(self) -> dict[float, Distances]:
        """Distance and ground together, by how well the height may be known."""
        range_m = self.seen.range_m[self.ok]
        every = {e: Distances.of(range_m, self.alike, self._two_ray(e, self.ok)) for e in HEIGHT_ERRORS_M}
        return {e: found for e, found in every.items() if found is not None}

    @cached_property
    def _elsewhere(self) -> tuple[tuple[FloatArray, FloatArray], ...]:
        """Ranges had the pilot stood to the east, west, north or south, and had positions come late; what each adds."""
        seen, ok, here = self.seen, self.ok, self.seen.range_m[self.ok]
        # A radius of 95 % of places is 0.8 of it along one axis.
        away = 0.8 * seen.pilot_error_m
        moved = [seen.range_from(*by, ok) for by in ((away, 0.0), (-away, 0.0), (0.0, away), (0.0, -away))]
        late = np.interp(self.time_s[ok] + LATE_S, self.time_s, seen.range_m)
        moved.append(np.where(np.isfinite(late), late, here))
        return tuple((m, 20.0 * np.log10(np.maximum(m, NEAREST_M) / np.maximum(here, NEAREST_M))) for m in moved)

    def moved(self, height_error_m: float | None) -> Iterator[tuple[Distances | None, FloatArray]]:
        """For each of the other places what a level is set against there, and what it rises by, dB, shape (m,).

        ``height_error_m`` is of the ground that shows, None where none does.
        """
        known = self._moved.get(height_error_m)
        if known is None:
            ground = None if height_error_m is None else self._two_ray(height_error_m, self.ok)
            known = tuple(Distances.of(range_m, self.alike, ground) for range_m, _ in self._elsewhere)
            self._moved[height_error_m] = known
        return zip(known, (db for _, db in self._elsewhere), strict=True)


def _fit(level: FloatArray, heard: _Heard) -> DistanceFit | None:
    """How the level, shape (m,) at the samples that tell, falls with distance.

    A fit is set right for noise and lateness of positions, and widened by what a pilot who stood elsewhere would do.
    Noise in the distance flattens every slope by its share of the spread within directions (the covariance stays while
    the regressor's variance grows by the noise's), which is put back; positions come anything from at once to
    :data:`LATE_S` late, so half of that is taken. Each correction is as unsure as it is large.
    """
    here = heard.alike.within(bulk(level))
    # How well the height is known is not: the prediction that leaves least is taken, if the ground shows in it at all.
    tried = [
        replace(fit, height_error_m=error_m)
        for error_m, ground in heard.grounds.items()
        if (fit := ground.fit(here)) is not None
    ]
    fit = min(tried, key=lambda fit: fit.left_db) if tried else heard.distances.fit(here)
    if fit is None:
        return None
    *shifts, late = (
        0.0 if place is None else place.exponent(bulk(level + rise)) - fit.exponent
        for place, rise in heard.moved(fit.height_error_m if fit.two_ray_shows else None)
    )
    east, north = (max(abs(shift) for shift in pair) for pair in (shifts[:2], shifts[2:]))
    flattened = fit.exponent * heard.flattening
    value = fit.exponent + late / 2.0 + flattened
    half = float(np.linalg.norm([(fit.high - fit.low) / 2.0, east, north, late / 2.0, flattened]))
    return replace(fit, exponent=value, low=value - half, high=value + half)
